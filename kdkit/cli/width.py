"""Texts as wide as the terminal that shows them; as they are for anything else.

A script that reads them, a file or a pipe gets every line whole, whatever COLUMNS says.
"""

from __future__ import annotations

import re
import shutil
import textwrap
from typing import TextIO

__all__ = ["fitted", "width_of"]

_LEAST = 40
_EXCERPT = re.compile(r"\s*\d* \| ")
"""A line of the definition, or the caret under it: cut elsewhere, never wrapped."""


def width_of(stream: TextIO) -> int | None:
    """Return how many letters a terminal shows in a line, None where no terminal is."""
    if not stream.isatty():
        return None
    return max(_LEAST, shutil.get_terminal_size().columns)


def fitted(text: str, stream: TextIO) -> str:
    """Return a text with its long lines wrapped between words, if a terminal shows it."""
    width = width_of(stream)
    if width is None:
        return text
    return "\n".join(_wrapped(line, width) for line in text.split("\n"))


def _wrapped(line: str, width: int) -> str:
    if len(line) <= width or _EXCERPT.match(line):
        return line
    indent = line[: len(line) - len(line.lstrip(" "))]
    return textwrap.fill(
        line.strip(" "),
        width,
        initial_indent=indent,
        subsequent_indent=f"{indent}  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
