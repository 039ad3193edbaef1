"""Texts made such that every file can hold them: what no writer can write is shown as U+FFFD.

A definition's texts are checked when it is read. Products made in Python and texts of
catalogues come this way too, and a file is written whole or not at all.
"""

from __future__ import annotations

import re

__all__ = ["one_line", "writable"]

_PLANES = "".join(chr(plane << 16 | low) for plane in range(1, 17) for low in (0xFFFE, 0xFFFF))
_UNWRITABLE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff" + _PLANES + "]"
)
"""Controls, lone surrogates, noncharacters. Source: XML 1.0, 2.2 and its note on what to avoid;
RFC 3629, section 3, on surrogates in UTF-8."""

_BREAKS = re.compile("[\t\n\x0b\x0c\r\x1c-\x1f\x85\u2028\u2029]+")
_TURNING = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Marks that turn the direction of what follows: a name could be made to read as another."""


def writable(text: str) -> str:
    """Return a text that UTF-8 and XML can hold; lines and tabs stay."""
    return _UNWRITABLE.sub("\ufffd", text)


def one_line(text: str, longest: int | None = None) -> str:
    """Return a text as a name in a file: one line, nothing that turns it round.

    Args:
        longest: so many characters are kept, the last of them an ellipsis if some are lost.
    """
    line = _TURNING.sub("", writable(_BREAKS.sub(" ", text))).strip()
    if longest is not None and len(line) > longest:
        return line[: longest - 1].rstrip() + "…"
    return line
