"""Which panels a board's sheets have room for: one rule for the order and for ``check``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Problem, Severity
from kdkit.model.resolved import Resolved
from kdkit.schedule.schedules import CutLine
from kdkit.units import mm_text

__all__ = ["TRIM", "advise_on_sheets", "fits_on", "tell_too_large", "tell_too_long"]

TRIM = 10.0
"""Taken off every side of a sheet first. Common practice, no source."""

_NEAR = 1e-6


def fits_on(line: CutLine, sheet: tuple[float, float], trim: float) -> bool:
    """Tell whether a panel can be cut from a sheet; grained, its length lies along it."""
    a, b = line.cut
    long, wide = sheet[0] - 2 * trim + _NEAR, sheet[1] - 2 * trim + _NEAR
    return (a <= long and b <= wide) or (line.grain == "none" and b <= long and a <= wide)


def advise_on_sheets(
    lines: Iterable[CutLine], resolved: Resolved, catalogue: Catalogue
) -> tuple[Problem, ...]:
    """Advise of every panel that is larger than all sheets its board is sold in."""
    found = []
    for line in lines:
        board = catalogue.boards.get(line.material)
        if board is None or not board.sheets:
            continue
        if not any(fits_on(line, sheet, TRIM) for sheet in board.sheets):
            found.append(tell_too_large(line, resolved, Severity.ADVICE))
    return tuple(found)


def tell_too_large(line: CutLine, resolved: Resolved, severity: Severity) -> Problem:
    """Return the problem of a panel that no sheet of its board has room for."""
    size = f"{mm_text(line.cut[0])} × {mm_text(line.cut[1])}"
    return Problem(
        code="no-sheet-fits",
        message=f"{line.letter} is cut {size} mm, larger than every sheet of its board",
        severity=severity,
        path=resolved.part(line.parts[0]).path,
        where=", ".join(line.parts),
        help="join it from narrower panels, or give the board larger sheets in a catalogue",
    )


def tell_too_long(line: CutLine, stocks: Sequence[float], resolved: Resolved) -> Problem:
    """Return the warning of a piece that is longer than every bar of timber."""
    return Problem(
        code="no-length-fits",
        message=f"{line.letter} is cut {mm_text(line.cut[0])} mm long, longer than every stock "
        f"length gives: the longest is {mm_text(max(stocks))}",
        severity=Severity.WARNING,
        path=resolved.part(line.parts[0]).path,
        where=", ".join(line.parts),
        help="join it from shorter pieces, name longer stock with --lengths, or give the board "
        "longer `lengths` in a catalogue",
    )
