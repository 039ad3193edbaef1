"""Words for hardware: what a caller says, and what the list may call it."""

from __future__ import annotations

import functools
import pathlib
import tomllib
from collections.abc import Iterator

__all__ = ["says"]

_FILE = pathlib.Path(__file__).with_name("words.toml")


@functools.lru_cache(maxsize=1)
def _groups() -> tuple[tuple[str, ...], ...]:
    return tuple(map(tuple, tomllib.loads(_FILE.read_text(encoding="utf-8"))["groups"]))


def says(text: str, word: str) -> bool:
    """Tell whether a text says a word, or another of its group, or either but for an s at its end.

    Args:
        text, word: in small letters.
    """
    return any(meant in text for meant in _meant(word))


def _meant(word: str) -> Iterator[str]:
    singular = word.rstrip("s") or word
    yield from (word, singular)
    for group in _groups():
        if word in group or singular in group:
            yield from group
