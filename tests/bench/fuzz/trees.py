"""Trees that can hold what YAML can say wrongly, and their text.

A mapping is a list of pairs, so that a key may stand twice; ``Raw`` is a scalar that is
written as it is.
"""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from typing import Any

__all__ = ["Pairs", "Raw", "emit", "keys_of", "places", "plain", "set_at", "to_tree"]

Tree = Any

_PLAIN = re.compile(r"[A-Za-z_][A-Za-z0-9_./()*-]*( [-+*/A-Za-z0-9_.()]+)*")
_WORDS_THAT_ARE_NOT_TEXT = {"true", "false", "null", "yes", "no", "on", "off", "~"}
DEEPEST = 60


class Pairs(list[Any]):
    """A mapping: ``[key, value]`` pairs in order; keys may repeat."""

    def get(self, key: str) -> Tree:
        """Return the first value of a key, or None."""
        return next((pair[1] for pair in self if pair[0] == key), None)

    def put(self, key: str, value: Tree) -> None:
        """Set the first value of a key, or add the key."""
        for pair in self:
            if pair[0] == key:
                pair[1] = value
                return
        self.append([key, value])


class Raw(str):
    """A scalar as it is to be written."""


def to_tree(value: Any) -> Tree:
    """Return plain data as a tree that can be changed."""
    if isinstance(value, dict):
        return Pairs([str(key), to_tree(inner)] for key, inner in value.items())
    if isinstance(value, list | tuple):
        return [to_tree(inner) for inner in value]
    return value


def plain(tree: Tree) -> Any:
    """Return a tree as plain data; of a key that stands twice, the last."""
    if isinstance(tree, Pairs):
        return {pair[0]: plain(pair[1]) for pair in tree}
    if isinstance(tree, list):
        return [plain(inner) for inner in tree]
    return str(tree) if isinstance(tree, Raw) else tree


def keys_of(tree: Tree) -> list[str]:
    """Return the keys of a mapping; none of anything else."""
    return [str(pair[0]) for pair in tree] if isinstance(tree, Pairs) else []


def places(
    tree: Tree, path: tuple[Any, ...] = ()
) -> Iterator[tuple[list[Any], int, tuple[Any, ...]]]:
    """Return every place for a value: the list that holds it, its index there, its path.

    In a mapping the list is the pair, and the index 1.
    """
    if len(path) > DEEPEST:
        return
    if isinstance(tree, Pairs):
        for pair in tree:
            here = (*path, pair[0])
            yield pair, 1, here
            yield from places(pair[1], here)
    elif isinstance(tree, list):
        for n, inner in enumerate(tree):
            yield tree, n, (*path, n)
            yield from places(inner, (*path, n))


def set_at(tree: Tree, path: tuple[Any, ...], value: Tree) -> None:
    """Put a value at a path, where the path exists."""
    for holder, index, here in places(tree):
        if here == path:
            holder[index] = value
            return


def emit(tree: Tree, rng: random.Random | None = None) -> str:
    """Return a tree as YAML; with ``rng`` in one of several manners."""
    flow_from = 2 if rng is None else rng.choice((0, 1, 2, 2, 2, 3, 9))
    if not isinstance(tree, Pairs | list) or not tree or flow_from == 0:
        return _flow(tree) + "\n"
    return "\n".join(_block(tree, 0, flow_from)) + "\n"


def _block(tree: Tree, depth: int, flow_from: int) -> list[str]:
    lines = []
    entries = tree if isinstance(tree, Pairs) else [[None, inner] for inner in tree]
    for key, value in entries:
        head = f"{_key(key)}:" if isinstance(tree, Pairs) else "-"
        if isinstance(value, Pairs | list) and value and depth + 1 < flow_from:
            lines.append("  " * depth + head)
            lines += _block(value, depth + 1, flow_from)
        else:
            lines.append("  " * depth + f"{head} {_flow(value)}")
    return lines


def _flow(tree: Tree, depth: int = 0) -> str:
    if depth > DEEPEST:
        return "deep"
    if isinstance(tree, Pairs):
        return "{" + ", ".join(f"{_key(k)}: {_flow(v, depth + 1)}" for k, v in tree) + "}"
    if isinstance(tree, list):
        return "[" + ", ".join(_flow(inner, depth + 1) for inner in tree) + "]"
    if isinstance(tree, Raw):
        return str(tree)
    if tree is None:
        return "null"
    if isinstance(tree, bool):
        return "true" if tree else "false"
    if isinstance(tree, int | float):
        return repr(tree)
    return _text(str(tree))


def _key(key: Any) -> str:
    return str(key) if isinstance(key, Raw) else _text(str(key))


def _text(text: str) -> str:
    if _PLAIN.fullmatch(text) and text.lower() not in _WORDS_THAT_ARE_NOT_TEXT:
        return text
    return json.dumps(text, ensure_ascii=not text.isprintable())
