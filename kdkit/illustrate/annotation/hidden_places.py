"""Dashed rings where hardware is handled that cannot be seen in the main drawing."""

from __future__ import annotations

import math
from collections.abc import Sequence

from kdkit.frames import Vec2, add, scaled
from kdkit.illustrate.annotation.detail_choice import Detail
from kdkit.illustrate.hidden_lines.drawing import Drawing
from kdkit.illustrate.hidden_lines.view import View
from kdkit.illustrate.paper.figure import Circle, Primitive
from kdkit.illustrate.staging.plates import Plate
from kdkit.illustrate.staging.subject import Subject, item_name

__all__ = ["hidden_rings"]

RADIUS = 1.6
SEEN = 0.12
"""Share of a piece that must be in sight for it to be found, 0 to 1."""

APART = 3.0
"""Rings nearer than this to each other are one, mm."""


def hidden_rings(
    plate: Plate, view: View, drawing: Drawing, subject: Subject, details: Sequence[Detail]
) -> list[Primitive]:
    """Return a dashed ring for each piece handled that something hides.

    Args:
        view: the plate's, in its place on paper.
        drawing: tells what is seen.
        details: of this plate; the pieces that they magnify have rings already.
    """
    if plate.state.bench:
        return []
    magnified = {n for detail in details for n in detail.states}
    ringed = {plate.state.items[n].fastener.id for n in magnified}
    middles: list[Vec2] = []
    for n, one in enumerate(plate.state.items):
        if not one.handled or one.fastener.id in ringed:
            continue
        if drawing.shown.get(item_name(one), 0.0) > SEEN:
            continue
        k = one.item.frame.k
        at = add(one.item.frame.origin, scaled(k, plate.apart.mouths[n]))
        x, y, _ = view.project(add(at, plate.apart.parts[one.host]))
        if all(math.dist((x, y), other) >= APART for other in middles):
            middles.append((x, y))
    return [Circle(centre=at, radius=RADIUS, pen="hidden") for at in middles]
