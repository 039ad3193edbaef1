"""What a panel is for, from its name alone; names for the definition."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container

from kdkit.definition.scalars import read_scalar
from kdkit.imports.headings import plain_words, words_of

__all__ = ["free_name", "material_of", "role_of"]

_LONGEST = 28
_LONG_WORD = 5


def role_of(name: str) -> str:
    """Return a role of ``words.toml``, or "" if the name says none.

    A long word counts at the end of another too, as German joins words.
    """
    words = plain_words(name)
    for role, known in words_of("roles").items():
        if any(_holds(words, word) for word in known):
            if role == "side":
                for hand, hands in words_of("sides").items():
                    if any(word in words.split() for word in hands):
                        return hand
            return role
    return ""


def material_of(text: str) -> str:
    """Return the catalogue's board that a name says, or ""; the longest name counts."""
    words = plain_words(text)
    found = [
        (len(word), board)
        for board, known in words_of("materials").items()
        for word in known
        if _holds(words, word)
    ]
    return max(found)[1] if found else ""


def _holds(words: str, word: str) -> bool:
    if f" {word} " in f" {words} ":
        return True
    return len(word) >= _LONG_WORD and any(each.endswith(word) for each in words.split())


def free_name(text: str, taken: Container[str], otherwise: str) -> str:
    """Return a name for the definition that is like a text and not taken yet."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    plain = re.sub(r"[\W_]+", "_", plain).strip("_")[:_LONGEST].rstrip("_")
    if not plain or not plain.isidentifier() or not unicodedata.is_normalized("NFKC", plain):
        plain = f"{otherwise}_{plain}".rstrip("_")
        if not plain.isidentifier():
            plain = otherwise
    if not isinstance(read_scalar(plain, plain=True), str):  # `null`, `true`: no text in YAML
        plain = f"{otherwise}_{plain}"
    name, n = plain, 1
    while name in taken:
        n += 1
        name = f"{plain}_{n}"
    return name
