"""The JSON Schema of what a maker writes, for editors that complete and check while typing."""

from __future__ import annotations

from typing import Any

from kdkit.model.says import Product, Said

__all__ = ["definition_schema", "schema_of"]

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
    about = "One knockdown product: panels, joints, and what its manual says."
    return _headed(schema, "kdkit definition", about)


def schema_of(said: type[Said], title: str, about: str) -> dict[str, Any]:
    """Return the JSON Schema of another file that a maker writes.

    Args:
        said: what the file may say.
        title, about: what an editor shows of it.
    """
    return _headed(said.model_json_schema(by_alias=True), title, about)


def _headed(schema: dict[str, Any], title: str, about: str) -> dict[str, Any]:
    return {
        "$schema": _DIALECT,
        "title": title,
        "description": about,
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
