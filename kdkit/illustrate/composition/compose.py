"""Setting a figure into the room that its page gives it.

Takes drawings of which only the size is open, things of fixed size that belong to them
(details, insets, letters) and a room; gives the largest figure that has everything in
its place. Details are drawn at a scale of ISO 5455, so they never grow or shrink here.
"""

from __future__ import annotations

from kdkit.frames import Vec2
from kdkit.illustrate.composition.attempt import Attempt, Composed
from kdkit.illustrate.composition.set_out import fitting_scale, rows_of
from kdkit.illustrate.composition.unplaced import Unplaced
from kdkit.illustrate.paper.figure_box import FigureBox
from kdkit.illustrate.staging.subject import Subject

__all__ = ["compose", "is_clear", "largest", "measure"]

SMALLER = 0.94
"""From one try to the next the drawing shrinks by this factor."""

TRIES = 26
PATIENCE = 4
"""How often it is made smaller only to be rid of flaws."""


def compose(subject: Subject, unplaced: Unplaced, room: FigureBox, margin: float) -> Composed:
    """Return the largest figure that fits the room; a last try that does not is kept.

    Args:
        room: with the margin on all sides.
    """
    return largest(subject, unplaced, room, margin).finish()


def is_clear(
    subject: Subject, unplaced: Unplaced, room: FigureBox, margin: float, scale: float = 0.0
) -> bool:
    """Tell whether a clear figure fits the room, letters of parts there already left out.

    Args:
        scale: its drawing is no smaller than at this scale.
    """
    limit = _limit(room, margin)
    best = _search(subject, unplaced, limit, only_new=True, faultless=True, least=scale)
    return best is not None and best.clear


def measure(
    subject: Subject, unplaced: Unplaced, room: FigureBox, margin: float
) -> tuple[Vec2, bool, float]:
    """Return the size of the largest figure, whether it is clear, and its drawing's scale.

    Letters of parts that are there already are left out.
    """
    found = largest(subject, unplaced, room, margin, only_new=True)
    return found.size(), found.clear, found.scale


def _limit(room: FigureBox, margin: float) -> Vec2:
    return (room.width - 2 * margin, room.height - 2 * margin)


def largest(
    subject: Subject,
    unplaced: Unplaced,
    room: FigureBox,
    margin: float,
    *,
    only_new: bool = False,
) -> Attempt:
    """Return the largest try in which everything has its place, or the best there is."""
    limit = _limit(room, margin)
    best = _search(subject, unplaced, limit, only_new=only_new)
    if best is None:
        row = rows_of(unplaced)[0]
        scale = _scales(unplaced, limit)[-1]
        best = Attempt(subject, unplaced, scale, row, limit, only_new=only_new)
        best.set_all()
    return best


def _search(
    subject: Subject,
    unplaced: Unplaced,
    limit: Vec2,
    *,
    only_new: bool,
    faultless: bool = False,
    least: float = 0.0,
) -> Attempt | None:
    """Return the first try without a fault or flaw, or else the best one, if any fits.

    Args:
        only_new: leave out the letters of parts that are there already.
        faultless: tries in which something has no place are not looked at further.
        least: smaller scales than this are not tried.
    """
    best: Attempt | None = None
    patience = PATIENCE
    for scale in _scales(unplaced, limit)[:-1]:
        if scale < least:
            break
        for row in rows_of(unplaced):
            tried = Attempt(subject, unplaced, scale, row, limit, only_new=only_new)
            if not (tried.fits() and tried.set_all(best, faultless=faultless)):
                continue
            if best is None or (tried.faults, tried.flaws) < (best.faults, best.flaws):
                best = tried
            if tried.clear:
                return tried
        patience -= best is not None and not best.faults
        if not patience:
            break
    return best


def _scales(unplaced: Unplaced, limit: Vec2) -> list[float]:
    """Return the scales that are tried, and the one that is taken when nothing fits at all."""
    rows = rows_of(unplaced)
    start = max(round(fitting_scale(unplaced.lines, unplaced, row, limit), 9) for row in rows)
    scales = [start]
    for _ in range(TRIES):
        scales.append(scales[-1] * SMALLER)
    return scales
