"""Where the plates of a figure stand on paper: in rows, white between them."""

from __future__ import annotations

from collections.abc import Sequence

from kdkit.frames import Vec2
from kdkit.illustrate.composition.unplaced import PlateLines, Unplaced
from kdkit.illustrate.staging.plates import Plate

__all__ = ["OVER", "fitting_scale", "rows_of", "set_out"]

BETWEEN, OVER = 9.0, 15.0
"""White between two plates, and before one that shows a part turned over, mm."""


def rows_of(unplaced: Unplaced) -> tuple[int, ...]:
    """Return how many plates may stand side by side."""
    count = sum(not plate.over for plate in unplaced.plates)
    return tuple(range(count, 0, -1))


def fitting_scale(lines: Sequence[PlateLines], unplaced: Unplaced, row: int, limit: Vec2) -> float:
    """Return the scale at which plates alone fill the room."""
    wide, high = _spread(lines, unplaced.plates, 0.0, row)
    white_w, white_h = _spread(lines, unplaced.plates, 1.0, row)
    return min(
        unplaced.largest,
        max(1e-3, limit[0] - white_w) / max(wide, 1e-9),
        max(1e-3, limit[1] - white_h) / max(high, 1e-9),
    )


def _spread(lines: Sequence[PlateLines], plates: Sequence[Plate], white: float, row: int) -> Vec2:
    """Return width and height of all plates at scale 1, or of the white between them."""
    x = y = high = widest = 0.0
    for plate, (x0, y0, x1, y1), starts in _walk(lines, plates, row):
        if starts and (y or high):
            y, x, high = y + high + white * (OVER if plate.over else BETWEEN), 0.0, 0.0
        elif x:
            x += white * BETWEEN
        x += 0.0 if white else x1 - x0
        high = max(high, 0.0 if white else y1 - y0)
        widest = max(widest, x)
    return widest, y + high


def _walk(
    lines: Sequence[PlateLines], plates: Sequence[Plate], row: int
) -> list[tuple[Plate, tuple[float, float, float, float], bool]]:
    """Return each plate, its bounds at scale 1, and whether it starts a row."""
    result = []
    count = 0
    for plate, one in zip(plates, lines, strict=True):
        starts = plate.over or count % row == 0
        count = 1 if starts else count + 1
        if plate.over:
            count = row
        result.append((plate, one.bounds, starts))
    return result


def set_out(
    lines: Sequence[PlateLines], plates: Sequence[Plate], scale: float, row: int
) -> tuple[Vec2, ...]:
    """Return where the product's origin lies on paper for each plate."""
    offsets: list[Vec2] = []
    x = y = high = 0.0
    for plate, (x0, y0, x1, y1), starts in _walk(lines, plates, row):
        if starts and offsets:
            x, y, high = 0.0, y + high + (OVER if plate.over else BETWEEN), 0.0
        offsets.append((x - x0 * scale, y - y0 * scale))
        x += (x1 - x0) * scale + BETWEEN
        high = max(high, (y1 - y0) * scale)
    return tuple(offsets)
