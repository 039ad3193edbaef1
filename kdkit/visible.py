"""Row 1: texts of anybody's as they may stand on a terminal: they do nothing there but be read."""

from __future__ import annotations

import unicodedata

__all__ = ["inline", "is_seen", "printable"]


def printable(text: str) -> str:
    """Return text made safe for a terminal: what cannot be seen is shown by its number.

    Nothing is left that moves the cursor, turns the text round, hides in it or is no
    character at all; lines, tabs and blanks of every width stay.
    """
    return "".join(c if is_seen(c) else _number_of(c) for c in text)


def inline(text: object) -> str:
    """Return a name or a path made safe, in one line: it cannot look like a further message."""
    return "".join(c if is_seen(c) and c not in "\n\t" else _number_of(c) for c in str(text))


def is_seen(c: str) -> bool:
    """Tell if a character shows and does nothing else."""
    return c.isprintable() or c in "\n\t" or unicodedata.category(c) == "Zs"


def _number_of(c: str) -> str:
    n = ord(c)
    return f"\\x{n:02x}" if n < 0x100 else f"\\u{n:04x}" if n < 0x10000 else f"\\U{n:08x}"
