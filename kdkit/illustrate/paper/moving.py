"""Primitives on paper moved, scaled and cut, and how far they reach."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TypeVar

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import shared
from kdkit.frames import Vec2
from kdkit.illustrate.paper.figure import Area, Circle, Line, Primitive
from kdkit.illustrate.paper.layout import text_width

__all__ = ["clipped", "extent", "moved"]


G = TypeVar("G", bound=BaseGeometry)


def moved(primitives: Iterable[Primitive], by: Vec2, factor: float = 1.0) -> tuple[Primitive, ...]:
    """Return the primitives scaled about (0, 0), then shifted; text keeps its size."""

    dx, dy = by

    def at(points: Sequence[Vec2]) -> tuple[Vec2, ...]:
        return tuple([(x * factor + dx, y * factor + dy) for x, y in points])

    result: list[Primitive] = []
    for shape in primitives:
        if isinstance(shape, Area):
            holes = tuple(at(hole) for hole in shape.holes)
            result.append(Area(outer=at(shape.outer), holes=holes, tone=shape.tone))
        elif isinstance(shape, Line):
            result.append(Line(points=at(shape.points), pen=shape.pen, closed=shape.closed))
        elif isinstance(shape, Circle):
            (centre,) = at((shape.centre,))
            result.append(replace(shape, centre=centre, radius=shape.radius * factor))
        else:
            result.append(replace(shape, at=at((shape.at,))[0]))
    return tuple(result)


def clipped(primitives: Iterable[Primitive], window: Polygon) -> tuple[Primitive, ...]:
    """Return what of areas and lines lies in a window; other primitives are dropped."""
    shapely.prepare(window)
    result: list[Primitive] = []
    for shape in primitives:
        if isinstance(shape, Area):
            polygon = shapely.make_valid(Polygon(shape.outer, shape.holes))
            for piece in _pieces(shared(polygon, window), Polygon):
                outer, *holes = (
                    tuple((float(x), float(y)) for x, y in ring.coords[:-1])
                    for ring in (piece.exterior, *piece.interiors)
                )
                result.append(Area(outer=outer, holes=tuple(holes), tone=shape.tone))
        elif isinstance(shape, Line):
            points = shape.points + (shape.points[:1] if shape.closed else ())
            for run in _pieces(shared(LineString(points), window), LineString):
                path = tuple((float(c[0]), float(c[1])) for c in run.coords)
                result.append(Line(points=path, pen=shape.pen))
    return tuple(result)


def _pieces(geometry: BaseGeometry, kind: type[G]) -> Iterator[G]:
    for piece in shapely.get_parts(geometry).tolist():
        if isinstance(piece, kind) and not piece.is_empty:
            yield piece


def extent(primitives: Sequence[Primitive]) -> tuple[float, float, float, float]:
    """Return ``(x0, y0, x1, y1)`` round everything, letters included; zeros for nothing."""
    xs: list[float] = []
    ys: list[float] = []
    for shape in primitives:
        if isinstance(shape, Area):
            xs += [p[0] for p in shape.outer]
            ys += [p[1] for p in shape.outer]
        elif isinstance(shape, Line):
            xs += [p[0] for p in shape.points]
            ys += [p[1] for p in shape.points]
        elif isinstance(shape, Circle):
            (x, y), r = shape.centre, shape.radius
            xs += [x - r, x + r]
            ys += [y - r, y + r]
        else:
            width = text_width(shape.text, shape.size)
            left = {"start": 0.0, "middle": -width / 2, "end": -width}[shape.anchor]
            xs += [shape.at[0] + left, shape.at[0] + left + width]
            ys += [shape.at[1] - shape.size, shape.at[1] + 0.3 * shape.size]
    if not xs:
        return (0.0, 0.0, 0.0, 0.0)
    return (min(xs), min(ys), max(xs), max(ys))
