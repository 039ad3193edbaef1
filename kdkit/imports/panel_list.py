"""A table of panels, read: every row that is one, with sizes in mm, or all its problems."""

from __future__ import annotations

import pathlib
import re
from collections.abc import Mapping
from dataclasses import dataclass

from kdkit.definition.gate import Refused, check_title
from kdkit.diagnostics import Problem
from kdkit.imports.headings import Headings, find_headings, plain_words, words_of
from kdkit.imports.numbers import IN_MM, Mark, NumberError, decimal_mark, read_count, read_length
from kdkit.imports.row import Row
from kdkit.imports.table import Table, cell_problem, load_table

__all__ = ["MAX_PANELS", "ListedPanel", "PanelList", "load_panel_list"]

MAX_PANELS = 500
LARGEST = 10_000.0
"""mm; a longer panel is a slip. Sheets for furniture are up to 2800 × 2070."""
SMALLEST = 5.0
_DOUBTFUL = 130.0
"""mm; if no panel of a list is longer, its numbers were hardly meant as mm."""
_MOST_PROBLEMS = 100
_IN_NAME = re.compile(r"(?<![\w.,])(\d{1,2}(?:[.,]\d{1,2})?)\s*(mm|cm|in|\")?(?![\w.,]|\s*x)")
_BY = re.compile(r"\s*(?:[x×*]|\bby\b)\s*")


@dataclass(frozen=True, kw_only=True)
class ListedPanel:
    """One row: a panel, or several alike.

    Args:
        line: of the list.
        name: as it stands there.
        quantity: 1 or more.
        length, width: mm.
        thickness: mm; None if neither a column nor the board's name says it.
        board: the board's name as it stands there, or "".
        bands: edges by column of ``BAND_COLUMNS`` → thickness in mm, None if only marked.
        bands_said: what stood in a column for all edges and could not be read.
        notes: anything else that was said of it.
    """

    line: int
    name: str
    quantity: int
    length: float
    width: float
    thickness: float | None
    board: str
    bands: Mapping[str, float | None]
    bands_said: str = ""
    grain: str = ""
    notes: str = ""


@dataclass(frozen=True, kw_only=True)
class PanelList:
    """What a list says; ``inferred`` and ``skipped`` are sentences about the rest."""

    file: str
    panels: tuple[ListedPanel, ...]
    inferred: tuple[str, ...]
    skipped: tuple[str, ...]


def load_panel_list(
    path: pathlib.Path, *, sheet: str | None = None, unit: str | None = None
) -> tuple[PanelList | None, tuple[Problem, ...]]:
    """Read a list of panels from a CSV file or a workbook.

    Args:
        path: the file.
        sheet: of a workbook, if several hold something.
        unit: of numbers that say none, a key of ``IN_MM``; None: what the headings say,
            else mm.
    """
    table, problems = load_table(path, sheet)
    if table is None:
        return None, problems
    headings, problems = find_headings(table)
    if headings is None:
        return None, problems
    return _Reading(table, headings, unit).read()


class _Reading:
    """Reads the rows below the headings; one instance a table."""

    def __init__(self, table: Table, headings: Headings, unit: str | None) -> None:
        self.table = table
        self.headings = headings
        self.problems: list[Problem] = []
        self.skipped: list[str] = []
        self.inferred = list(headings.inferred)
        said = {headings.units[n] for n in headings.units}
        self.unit_said = unit is not None or bool(said)
        self.unit = unit or (said.pop() if len(said) == 1 else "mm")
        self.asked = unit
        below = [row for row in table.rows if row.line > headings.row.line]
        self.rows = below
        wanted = [
            headings.columns[c] for c in ("length", "width", "thickness") if c in headings.columns
        ]
        cells = [row.cells[n] for row in below for n in wanted if n < len(row.cells)]
        self.mark: Mark | None = decimal_mark(cells) or table.mark

    def read(self) -> tuple[PanelList | None, tuple[Problem, ...]]:
        panels: list[ListedPanel] = []
        for row in self.rows:
            if len(self.problems) >= _MOST_PROBLEMS:
                break
            before = len(self.problems)
            panel = self._panel(row)
            if panel is not None and len(self.problems) == before:
                panels.append(panel)
        if not panels and not self.problems:
            message = "no row below the headings is a panel"
            self._fault("list-empty", message, self.headings.row)
        number = sum(panel.quantity for panel in panels)
        if number > MAX_PANELS:
            message = f"the list comes to {number} panels, at most {MAX_PANELS} are taken"
            self._fault("list-too-long", message, self.headings.row, help="check the quantities")
        self._judge_unit(panels)
        if self.problems:
            return None, tuple(self.problems)
        if self.headings.ignored:
            named = ", ".join(repr(text[:40]) for text in self.headings.ignored[:10])
            self.skipped.append(f"columns that nothing is known of: {named}")
        return (
            PanelList(
                file=self.table.file,
                panels=tuple(panels),
                inferred=tuple(self.inferred),
                skipped=tuple(self.skipped),
            ),
            (),
        )

    def _judge_unit(self, panels: list[ListedPanel]) -> None:
        if self.unit_said or not panels:
            return
        longest = max(max(panel.length, panel.width) for panel in panels)
        if longest < _DOUBTFUL:
            message = f"the longest panel is {longest:g} mm; are the lengths really in mm?"
            help = "say --unit mm, --unit cm or --unit in, or write it into the headings"
            self._fault("list-unit", message, self.headings.row, help=help)
        self.inferred.append("lengths are in mm, because the list names no unit")

    def _fault(
        self, code: str, message: str, row: Row, column: int | None = None, help: str = ""
    ) -> None:
        if column is not None and column >= len(row.cells):
            column = None
        self.problems.append(cell_problem(code, message, self.table, row, column, help))

    def _cell(self, row: Row, column: str) -> str:
        n = self.headings.columns.get(column)
        return row.cells[n] if n is not None and n < len(row.cells) else ""

    def _panel(self, row: Row) -> ListedPanel | None:
        filled = [cell for cell in row.cells if cell]
        if row.cells[0].startswith(("#", "//")) or filled[0].startswith(("#", "//")):
            return self._skip(row, "a comment")
        name = self._cell(row, "name")
        totals = words_of("totals")["words"]
        if any(plain_words(text) in totals for text in (name, filled[0])):
            return self._skip(row, "a total")
        if [c.casefold() for c in row.cells] == [c.casefold() for c in self.headings.row.cells]:
            return self._skip(row, "the headings again")
        sizes = ("length", "width", "size", "thickness", "quantity")
        if not any(self._cell(row, column) for column in sizes):
            return self._skip(row, "no size or quantity")
        if not name:
            self._fault(
                "list-cell", "the panel has no name", row, help="give it one, or delete the row"
            )
        for column in ("name", "board"):
            try:
                check_title(self._cell(row, column))
            except Refused as fault:
                n = self.headings.columns[column]
                self._fault("list-cell", f"the {column}: {fault.message}", row, n, fault.help)
        length, width, thickness = self._sizes(row)
        board = self._cell(row, "board")
        if thickness is None:
            thickness = self._thickness_in(board)
        quantity = self._quantity(row)
        bands, bands_said = self._bands(row)
        if length is None or width is None or quantity is None or not name:
            return None
        if quantity == 0:
            return self._skip(row, "none of it is wanted")
        number = self._cell(row, "number")
        notes = [f"number {number}" if number else "", self._cell(row, "note")]
        return ListedPanel(
            line=row.line,
            name=name,
            quantity=quantity,
            length=length,
            width=width,
            thickness=thickness,
            board=board,
            bands=bands,
            bands_said=bands_said,
            grain=self._cell(row, "grain"),
            notes="; ".join(note for note in notes if note),
        )

    def _skip(self, row: Row, why: str) -> ListedPanel | None:
        self.skipped.append(f"line {row.line} ({row.text[:60]}): {why}")
        return None

    def _quantity(self, row: Row) -> int | None:
        text = self._cell(row, "quantity")
        if "quantity" not in self.headings.columns:
            return 1
        if not text:
            self.inferred.append(f"line {row.line} says no quantity and was taken as one")
            return 1
        try:
            return read_count(text)
        except NumberError as fault:
            self._fault(
                "list-cell", fault.message, row, self.headings.columns["quantity"], fault.help
            )
            return None

    def _sizes(self, row: Row) -> tuple[float | None, float | None, float | None]:
        if "size" not in self.headings.columns:
            length, width = self._length(row, "length"), self._length(row, "width")
            has_thickness = bool(self._cell(row, "thickness"))
            return length, width, self._length(row, "thickness") if has_thickness else None
        column = self.headings.columns["size"]
        texts = [text for text in _BY.split(self._cell(row, "size")) if text]
        if len(texts) not in (2, 3):
            message = "two sizes are needed, or three with the thickness"
            self._fault("list-cell", message, row, column, "write 764 x 300 x 18")
            return None, None, None
        values = [self._value(text, row, column) for text in texts]
        last = values[2] if len(values) == 3 else None
        if last is None and self._cell(row, "thickness"):
            last = self._length(row, "thickness")
        return values[0], values[1], last

    def _length(self, row: Row, column: str) -> float | None:
        n = self.headings.columns[column]
        text = self._cell(row, column)
        if not text:
            self._fault("list-cell", f"the {column} is missing", row, help="type it in")
            return None
        least = 0.3 if column == "thickness" else SMALLEST
        return self._value(text, row, n, least)

    def _value(self, text: str, row: Row, column: int, least: float = SMALLEST) -> float | None:
        unit = self.asked or self.headings.units.get(column, self.unit)
        if text.startswith("="):
            message = "a formula stands here; formulas of a list are not worked out"
            self._fault("list-cell", message, row, column, "type the number")
            return None
        try:
            value = read_length(text, unit, self.mark)
        except NumberError as fault:
            self._fault("list-cell", fault.message, row, column, fault.help)
            return None
        if not least <= value <= LARGEST:
            message = f"{value:g} mm is no size of a panel; it is {least:g} to {LARGEST:g} mm"
            self._fault("list-cell", message, row, column, "check the number and its unit")
            return None
        return round(value, 4)

    def _thickness_in(self, board: str) -> float | None:
        """Return the one thickness that a board's name holds, as in "MDF 18 mm"."""
        found = set()
        for text, unit in _IN_NAME.findall(board.casefold()):
            value = float(text.replace(",", ".")) * IN_MM["in" if unit == '"' else unit or "mm"]
            if 1 <= value <= 100:
                found.add(round(value, 4))
        return found.pop() if len(found) == 1 else None

    def _bands(self, row: Row) -> tuple[dict[str, float | None], str]:
        bands: dict[str, float | None] = {}
        marks = words_of("marks")
        for name, n in self.headings.bands.items():
            text = row.cells[n] if n < len(row.cells) else ""
            if text.casefold() in marks["no"]:
                continue
            bands[name] = None
            if text.casefold() not in marks["yes"]:
                bands[name] = self._band(text, row, n)
        text = self._cell(row, "bands")
        if text.casefold() in marks["no"]:
            return bands, ""
        words = plain_words(text)
        if words in marks["all"]:
            return {**bands, "all": None}, ""
        sides = {
            side: word
            for side, known in words_of("bands").items()
            for word in known
            if word in words.split() and side not in ("long1", "long2", "short1", "short2")
        }
        if sides and len(sides) == len(words.split()):
            return {**bands, **dict.fromkeys(sides)}, ""
        counted = re.fullmatch(r"(?:([12])\s*l)?\s*(?:([12])\s*[wb])?", words)
        if counted is not None and words:
            edges = [f"long{n + 1}" for n in range(int(counted[1] or 0))]
            edges += [f"short{n + 1}" for n in range(int(counted[2] or 0))]
            return {**bands, **dict.fromkeys(edges)}, ""
        return bands, text

    def _band(self, text: str, row: Row, column: int) -> float | None:
        """Return a band's thickness; a name of a band without one is as good as a mark."""
        found = re.search(r"\d+(?:[.,]\d+)?", text)
        if found is None:
            return None
        value = float(found.group().replace(",", "."))
        if not 0 < value <= 20:
            message = f"an edge band is {value:g} mm thick"
            self._fault("list-cell", message, row, column, "0.4 to 3 mm are usual")
            return None
        return value
