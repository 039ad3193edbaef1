"""Tables and words on drawn sheets: as many pages as they need, heads on each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from kdkit.illustrate.paper.layout import wrap_lines
from kdkit.publish.workshop.drawings.drawing_sheet import DrawingSheet, fitted_text, text_width

__all__ = ["MARGIN", "Group", "SheetWriter", "Table", "fits"]

MARGIN = 12.0
_SMALL, _TEXT, _HEAD = 1.8, 2.5, 3.5
_LINE = 3.9
_TITLE = 12.0

Cells = Sequence[str]


@dataclass(frozen=True)
class Group:
    """Rows under a heading of their own, "" for none."""

    heading: str
    rows: Sequence[Cells]


@dataclass(frozen=True)
class Table:
    """Headings with their shares of the width, and rows in groups."""

    columns: Sequence[tuple[str, float]]
    groups: Sequence[Group]


class SheetWriter:
    """Pages filled from the top; a new one begins where the next thing has no room."""

    def __init__(self, size: tuple[float, float], title: Callable[[], str]) -> None:
        self.size, self.title = size, title
        self.sheets: list[DrawingSheet] = []
        self.y = 0.0

    @property
    def width(self) -> float:
        """The width that can be written on."""
        return self.size[0] - 2 * MARGIN

    @property
    def sheet(self) -> DrawingSheet:
        """The page that is being filled."""
        return self.sheets[-1]

    def new_page(self) -> None:
        """Begin a page with its title."""
        sheet = DrawingSheet(*self.size, self.title())
        sheet.text((MARGIN, MARGIN + 3.5), fitted_text(self.title(), _HEAD, self.width - 25), _HEAD)
        sheet.line((MARGIN, MARGIN + 6), (self.size[0] - MARGIN, MARGIN + 6), "edge")
        self.sheets.append(sheet)
        self.y = MARGIN + _TITLE

    def needs(self, height: float) -> None:
        """Begin a page if so much is not left on this one."""
        if not self.sheets or self.y + height > self.size[1] - MARGIN:
            self.new_page()

    def heading(self, text: str, *, keep: float = 20.0) -> None:
        """Write a heading that stays with what follows it."""
        self.needs(6 + keep)
        self.sheet.text((MARGIN, self.y + 3), fitted_text(text, _TEXT, self.width / 1.12), _TEXT,
                        bold=True)  # fmt: skip
        self.y += 6

    def words(self, text: str) -> None:
        """Write a paragraph."""
        lines = wrap_lines(text, lambda line: text_width(line, _TEXT) <= self.width)
        for line in lines:
            self.needs(4)
            self.sheet.text((MARGIN, self.y + 2.5), line, _TEXT)
            self.y += 4.2
        self.y += 1

    def table(self, table: Table) -> None:
        """Draw a table; its headings stand again on every page."""
        rooms = [share * self.width - 2 for _, share in table.columns]
        self.needs(3 * _LINE + 6)
        self._heads(table)
        for group in table.groups:
            wrapped = [
                [
                    wrap_lines(cell, fits(room, _SMALL))
                    for cell, room in zip(row, rooms, strict=True)
                ]
                for row in group.rows
            ]
            heights = [max(1, *(len(cell) for cell in row)) * 2.9 + 1.4 for row in wrapped]
            first = heights[0] if heights else 0.0
            if group.heading:
                told = wrap_lines(
                    group.heading, lambda line: text_width(line, _TEXT) * 1.12 <= self.width - 2
                )
                self._room(len(told) * _LINE + 1.5 + first, table)
                for line in told:
                    self.sheet.text((MARGIN + 1, self.y + 3.2), line, _TEXT, bold=True)
                    self.y += _LINE
                self.y += 0.8
            for row, height in zip(wrapped, heights, strict=True):
                self._room(height, table)
                x = MARGIN
                for cell, (_, share) in zip(row, table.columns, strict=True):
                    for n, line in enumerate(cell):
                        self.sheet.text((x + 1, self.y + 2.4 + 2.9 * n), line, _SMALL)
                    x += share * self.width
                self.y += height
                self.sheet.line(
                    (MARGIN, self.y - 0.4), (MARGIN + self.width, self.y - 0.4), "dimension"
                )
        self.y += 4

    def _room(self, height: float, table: Table) -> None:
        if self.y + height > self.size[1] - MARGIN:
            self.new_page()
            self._heads(table)

    def _heads(self, table: Table) -> None:
        rooms = [(share * self.width - 2) / 1.12 for _, share in table.columns]
        lines = [
            wrap_lines(head, fits(room, _SMALL))
            for (head, _), room in zip(table.columns, rooms, strict=True)
        ]
        x = MARGIN
        for told, (_, share) in zip(lines, table.columns, strict=True):
            for n, line in enumerate(told):
                self.sheet.text((x + 1, self.y + 2.4 + 2.9 * n), line, _SMALL, bold=True)
            x += share * self.width
        self.y += max(len(told) for told in lines) * 2.9 + 1.2
        self.sheet.line((MARGIN, self.y), (MARGIN + self.width, self.y), "edge")
        self.y += 0.8

    def number_pages(self) -> None:
        """Write on every page which one of how many it is."""
        for n, sheet in enumerate(self.sheets, start=1):
            sheet.text((self.size[0] - MARGIN, MARGIN + 3.5), f"{n} / {len(self.sheets)}", _TEXT,
                       anchor="end")  # fmt: skip


def fits(room: float, size: float) -> Callable[[str], bool]:
    """Return what tells whether a line of letters of a size has room, mm."""
    return lambda line: text_width(line, size) <= room
