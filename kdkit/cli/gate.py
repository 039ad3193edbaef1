"""The one gate before the terminal: what a text holds does nothing there but be read."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO, cast

from kdkit.visible import printable

__all__ = ["gated_streams"]


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
