"""The one gate before the terminal: what a text holds does nothing there but be read."""

from __future__ import annotations

import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO, cast

__all__ = ["gated_streams", "inline", "is_seen", "printable"]


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


class _Gate:
    """A stream of text on which nothing arrives that a terminal would act on.

    CSV for a file keeps its mark and its line ends. There is no ``buffer``: bytes would
    go round it.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self.encoding = stream.encoding
        self.errors = stream.errors

    def write(self, text: str) -> int:
        if not isinstance(text, str):
            raise TypeError(f"text is written here, not {type(text).__name__}")
        mark = text[:1] if text[:1] == "\ufeff" else ""
        lines = text[len(mark) :].split("\r\n")
        self._stream.write(mark + "\r\n".join(printable(line) for line in lines))
        return len(text)

    def flush(self) -> None:
        self._stream.flush()

    def isatty(self) -> bool:
        return self._stream.isatty()

    def fileno(self) -> int:
        return self._stream.fileno()


@contextmanager
def gated_streams() -> Iterator[None]:
    """Let everything that goes to stdout and stderr through ``printable``, also what the
    library for commands says about arguments."""
    streams = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = (cast("TextIO", _Gate(stream)) for stream in streams)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = streams
