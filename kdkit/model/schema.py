"""The JSON Schema of a definition, for editors that complete and check while typing."""

from __future__ import annotations

from typing import Any

from kdkit.model.says import Product

__all__ = ["definition_schema"]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_FILLED_IN = "unit_files"
_LIMITS = {
    "ge": "minimum",
    "gt": "exclusiveMinimum",
    "le": "maximum",
    "lt": "exclusiveMaximum",
}


def definition_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a definition.

    It checks keys, kinds of values and lists of words; formulas and names it only
    knows to be text.
    """
    schema = Product.model_json_schema(by_alias=True)
    product = schema["$defs"]["Product"]
    del product["properties"][_FILLED_IN]
    return {
        "$schema": _DIALECT,
        "title": "kdkit definition",
        "description": "One knockdown product: panels, joints, and what its manual says.",
        **{
            key: _tidy(value)
            for key, value in schema.items()
            if key not in ("title", "description")
        },
    }


def _tidy(schema: Any) -> Any:
    """Write limits in the schema's own words; drop titles that only repeat a key."""
    if isinstance(schema, list):
        return [_tidy(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    tidy = {_LIMITS.get(key, key): _tidy(value) for key, value in schema.items()}
    if isinstance(tidy.get("title"), str):
        del tidy["title"]
    return tidy
