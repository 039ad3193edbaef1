"""One row of a list, whatever file it comes from, and how much of a list is read."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["MAX_CELL", "MAX_COLUMNS", "MAX_ROWS", "Row"]

MAX_ROWS = 2000
MAX_COLUMNS = 60
MAX_CELL = 300

_SHOWN = 200


@dataclass(frozen=True)
class Row:
    """One row: the number of its line, its cells without spaces around them."""

    line: int
    cells: tuple[str, ...]

    @property
    def text(self) -> str:
        """The row in one line, as a message shows it."""
        return " | ".join(self.cells)[:_SHOWN]
