"""Balloons with the letters of the parts that are new in a step, and their leaders."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.frames import Vec2
from kdkit.illustrate.figure import Area, Circle, Line, Primitive, Text
from kdkit.illustrate.hidden import Drawing
from kdkit.illustrate.labels import Label, PlacedLabel, place_labels, text_width, visible_point
from kdkit.illustrate.paper import silhouette

__all__ = ["BALL", "Named", "draw_letters"]

BALL = 3.6
"""Radius of a letter's balloon, mm."""

LETTER = 3.5
"""Height of a letter, mm. Source: ISO 3098-1 row 1.8 2.5 3.5 5 7 10."""


@dataclass(frozen=True, kw_only=True)
class Named:
    """A part in a drawing, its letter, and how many like it the picture stands for."""

    part: str
    letter: str
    times: int = 1


def draw_letters(
    named: Iterable[tuple[Named, Drawing]], shapes: Sequence[Primitive]
) -> list[Primitive]:
    """Return balloons and leaders; parts of which nothing is seen are left out.

    Args:
        named: each part with the drawing in which it stands.
        shapes: everything that is on the paper already.
    """
    labels: list[Label] = []
    words: dict[str, tuple[str, str]] = {}
    inks: list[BaseGeometry] = []
    seen: set[int] = set()
    covered = silhouette(
        p for p in shapes
        if isinstance(p, Circle) or (isinstance(p, Area) and p.tone in ("arrow", "glue"))
    )
    for number, (one, drawing) in enumerate(named):
        key = f"{number:03}"
        if id(drawing) not in seen:
            seen.add(id(drawing))
            inks += [shapely.linestrings(s.points) for s in drawing.strokes if len(s.points) > 1]
        point = visible_point(_visible(drawing, one.part).difference(covered))
        if point is None:
            continue
        before = f"{one.times} ×" if one.times > 1 else ""
        width = 2 * BALL + (text_width(before, LETTER) + 1.0 if before else 0.0)
        words[key] = (before, one.letter)
        labels.append(
            Label(
                key=key, anchors=(point,), width=width, height=2 * BALL,
                radius=0.0 if before else BALL,
            )
        )
    if not labels:
        return []
    placed = place_labels(labels, silhouette(shapes), ink=shapely.union_all(inks))
    result: list[Primitive] = []
    for label in placed:
        result += _balloon(label, *words[label.key])
    return result


def _visible(drawing: Drawing, part: str) -> BaseGeometry:
    areas: list[BaseGeometry] = [
        Polygon(region.outer, region.holes).buffer(0)
        for region in drawing.regions
        if region.body == part and not region.is_mark
    ]
    return shapely.union_all(areas)


def _balloon(label: PlacedLabel, before: str, letter: str) -> list[Primitive]:
    shapes: list[Primitive] = []
    centre: Vec2 = (label.box[2] - BALL, label.centre[1])
    if label.leader:
        dx, dy = label.anchor[0] - centre[0], label.anchor[1] - centre[1]
        share = BALL / (math.hypot(dx, dy) or 1.0)
        start = (centre[0] + dx * share, centre[1] + dy * share)
        shapes.append(Line(points=(start, label.anchor), pen="leader"))
        shapes.append(Circle(centre=label.anchor, radius=0.5, pen="leader", tone="arrow"))
    base = centre[1] + LETTER / 2
    if before:
        shapes.append(
            Text(at=(label.box[0], base), text=before, size=LETTER, anchor="start", bold=True)
        )
    shapes.append(Circle(centre=centre, radius=BALL, pen="label", tone="label"))
    shapes.append(Text(at=(centre[0], base), text=letter, size=LETTER, bold=True))
    return shapes


