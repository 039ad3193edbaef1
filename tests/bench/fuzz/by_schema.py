"""Values that the definition's own JSON Schema allows at a place, so that every word is tried."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

from kdkit.model import definition_schema
from tests.bench.fuzz import values
from tests.bench.fuzz.trees import Pairs

__all__ = ["Words", "kind_at", "missing_key", "value_of"]

_SCHEMA = definition_schema()
_DEFS: dict[str, Any] = _SCHEMA["$defs"]
_DEEPEST = 7


@dataclass(frozen=True)
class Words:
    """What a value may name: parts, parameters and the like, and the catalogue's entries."""

    parts: list[str]
    lengths: list[str]
    boards: list[str]
    fittings: list[str]
    materials: list[str]
    items: list[str] = field(default_factory=list)


def _resolved(schema: Any) -> Any:
    while isinstance(schema, dict) and "$ref" in schema:
        schema = _DEFS[schema["$ref"].rsplit("/", 1)[1]]
    return schema


def _choices(schema: Any) -> list[Any]:
    schema = _resolved(schema)
    if not isinstance(schema, dict):
        return [{}]
    found = []
    for word in ("anyOf", "oneOf"):
        for inner in schema.get(word, ()):
            found += _choices(inner)
    return found or [schema]


def kind_at(path: tuple[Any, ...]) -> list[Any]:
    """Return the schemas that hold at a path of a definition."""
    found = _choices({"$ref": "#/$defs/Product"})
    for step in path:
        inner: list[Any] = []
        for schema in found:
            if isinstance(step, int):
                prefix = schema.get("prefixItems")
                if prefix and step < len(prefix):
                    inner += _choices(prefix[step])
                elif isinstance(schema.get("items"), dict):
                    inner += _choices(schema["items"])
            elif step in schema.get("properties", {}):
                inner += _choices(schema["properties"][step])
            elif isinstance(schema.get("additionalProperties"), dict):
                inner += _choices(schema["additionalProperties"])
        found = inner
    return found


def missing_key(
    rng: random.Random, path: tuple[Any, ...], present: list[str], words: Words
) -> tuple[str, Any] | None:
    """Return a key that a mapping has not and may have, with a value; or None."""
    open_keys = [
        (key, schema)
        for kind in kind_at(path)
        for key, schema in kind.get("properties", {}).items()
        if key not in present
    ]
    if not open_keys:
        return None
    key, schema = rng.choice(open_keys)
    return key, value_of(rng, schema, words, key)


def value_of(rng: random.Random, schema: Any, words: Words, key: str = "", depth: int = 0) -> Any:
    """Return a value of a schema; names are mostly those that the product has."""
    schema = rng.choice(_choices(schema))
    if "const" in schema:
        return schema["const"]
    if "enum" in schema:
        return rng.choice(schema["enum"])
    kind = schema.get("type")
    if depth > _DEEPEST:
        return 1
    if kind == "object":
        return _mapping(rng, schema, words, depth)
    if kind == "array":
        return _list(rng, schema, words, key, depth)
    if kind == "boolean":
        return rng.random() < 0.5
    if kind in ("number", "integer"):
        least, most = schema.get("minimum", -50), schema.get("maximum", 400)
        if rng.random() < 0.15:
            return values.number(rng)
        drawn = rng.uniform(least, most)
        return round(drawn) if kind == "integer" or rng.random() < 0.7 else round(drawn, 3)
    if kind == "string":
        return _name(rng, words, key)
    return None


def _mapping(rng: random.Random, schema: Any, words: Words, depth: int) -> Pairs:
    found = Pairs()
    required = schema.get("required", ())
    for key, inner in schema.get("properties", {}).items():
        if key in required or rng.random() < (0.45 if depth < 3 else 0.2):
            found.append([key, value_of(rng, inner, words, key, depth + 1)])
    more = schema.get("additionalProperties")
    if isinstance(more, dict):
        sides = ("left", "right", "front", "back", "top", "bottom", "all")
        for _ in range(rng.randint(0, 3)):
            key = rng.choice((rng.choice(sides), _name(rng, words, ""), rng.choice(words.parts)))
            found.append([key, value_of(rng, more, words, key, depth + 1)])
    return found


def _list(rng: random.Random, schema: Any, words: Words, key: str, depth: int) -> list[Any]:
    prefix = schema.get("prefixItems")
    if prefix:
        return [value_of(rng, inner, words, key, depth + 1) for inner in prefix]
    least = schema.get("minItems", 0)
    count = rng.randint(least, max(least, min(schema.get("maxItems", 5), 5)))
    return [value_of(rng, schema.get("items", {}), words, key, depth + 1) for _ in range(count)]


def _name(rng: random.Random, words: Words, key: str) -> str:
    pick = rng.random()
    if pick < 0.06:
        return values.any_text(rng)
    if key == "fitting":
        return rng.choice(words.fittings)
    if key == "material":
        return rng.choice(words.materials)
    if key == "board":
        return rng.choice(words.boards or words.materials)
    if key in ("title", "name", "purpose", "introduction", "use", "care", "revision"):
        return values.any_text(rng)
    if key in ("join", "to", "on", "carries", "mirror", "before", "after", "fronts", "order"):
        return rng.choice(words.parts)
    if pick < 0.75:
        return values.formula(rng, words.lengths)
    return rng.choice(words.parts + words.boards + words.items)
