"""What goes into a step's figure before its size is settled."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec2
from kdkit.illustrate.annotation.detail import Window
from kdkit.illustrate.annotation.detail_choice import Detail
from kdkit.illustrate.annotation.letters import Named, find_anchors
from kdkit.illustrate.hidden_lines.drawing import Drawing
from kdkit.illustrate.paper.figure import Primitive
from kdkit.illustrate.paper.ground import Sides, sides_of
from kdkit.illustrate.staging.plates import Plate

__all__ = ["PlateLines", "Unplaced"]

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class PlateLines:
    """A plate's drawing as straight sides about the product's origin, at scale 1.

    Args:
        areas: borders of everything drawn; new_areas: of the parts that come in.
        strokes: all lines.
        bounds: ``(x0, y0, x1, y1)``.
    """

    areas: Sides
    new_areas: Sides
    strokes: Sides
    bounds: tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class Unplaced:
    """Everything that goes into a step's figure.

    Args:
        plates, drawings: the drawings, all at ``drawn_at``; they may be shrunk and grown.
        largest: scale that is not passed.
        details, windows: magnified details and their drawings round (0, 0).
        insets: small pictures of fixed size.
        named: the parts to be lettered, each with the number of its plate.
        numbers: of the items, for captions.
    """

    plates: tuple[Plate, ...]
    drawings: tuple[Drawing, ...]
    drawn_at: float
    largest: float
    details: tuple[Detail, ...]
    windows: tuple[Window, ...]
    insets: tuple[tuple[Primitive, ...], ...]
    named: tuple[tuple[Named, int], ...]
    numbers: dict[str, int]

    @cached_property
    def lines(self) -> tuple[PlateLines, ...]:
        """Every plate's drawing as arrays."""
        return tuple(_plate_lines(d, self.drawn_at) for d in self.drawings)

    @cached_property
    def anchors(self) -> tuple[tuple[Vec2, ...], ...]:
        """For each named part where its leader may end, in its drawing."""
        return tuple(find_anchors(self.drawings[n], one.part) for one, n in self.named)


def _plate_lines(drawing: Drawing, scale: float) -> PlateLines:
    def borders(*, only_new: bool) -> Sides:
        return _scaled(
            (
                loop
                for region in drawing.regions
                if not region.is_mark and (region.role == "new" or not only_new)
                for loop in (region.outer, *region.holes)
            ),
            scale,
        )

    x0, y0, x1, y1 = drawing.bounds()
    lines = (s.points + (s.points[:1] if s.closed else ()) for s in drawing.strokes)
    return PlateLines(
        areas=borders(only_new=False),
        new_areas=borders(only_new=True),
        strokes=_scaled(lines, scale, closed=False),
        bounds=(x0 / scale, y0 / scale, x1 / scale, y1 / scale),
    )


def _scaled(lines: Iterable[tuple[Vec2, ...]], scale: float, *, closed: bool = True) -> Sides:
    starts, ends = sides_of(lines, closed=closed)
    return starts / scale, ends / scale
