"""What of a panel is in the way: the stretch that others sweep over, or a tool's room fills.

A certificate says which part holds which along a direction, or that a tool finds no room.
Here that becomes a box in the frame of the panel in the way: were it free of the panel,
that block would be gone. All in mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec3, scaled
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Part
from kdkit.plan.blocking.scenery import Scenery
from kdkit.plan.motion.bodies import Body, collect_bodies
from kdkit.plan.motion.sweep import sweep_hits
from kdkit.plan.plan import Impossible
from kdkit.units import TOLERANCE

__all__ = ["Obstacle", "find_obstacles"]

Array = NDArray[np.float64]

_FAR = 20_000.0  # mm; longer than any product


@dataclass(frozen=True, kw_only=True)
class Obstacle:
    """A stretch of a panel that is in the way of something.

    Args:
        part: the panel.
        low, high: corners of the box to be free of it, in the panel frame.
        of: what it is in the way of, in words that follow "so that".
    """

    part: str
    low: Vec3
    high: Vec3
    of: str


def find_obstacles(
    no: Impossible,
    parts: Mapping[str, Part],
    names: Mapping[str, str],
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
) -> tuple[Obstacle, ...]:
    """Return what is in the way in a certificate, each once.

    Args:
        parts: of the product, by name.
        names: what to call them.
    """
    inside = [name for body in no.bodies.values() for name in body]
    of = {name: body for body, group in no.bodies.items() for name in group}
    pinned = {
        frozenset((j.butting, j.receiving))
        for j in joinery.joints
        if any(joinery.fittings[f].holds == "pinned" for f in j.fittings if f in joinery.fittings)
    }
    bodies = [
        body
        for body in collect_bodies(assembly, joinery, catalogue)
        if body.part in of and set(body.needs) <= set(inside)
    ]
    by_part: dict[str, list[Body]] = {}
    for body in bodies:
        by_part.setdefault(body.part, []).append(body)
    found: dict[tuple[object, ...], Obstacle] = {}
    blocks = {(way, b.part, b.by) for way, walk in no.loops for b in walk}
    for way, one, other in sorted(blocks):
        for moving in no.bodies.get(one, ()):
            for standing in no.bodies.get(other, ()):
                if frozenset((moving, standing)) in pinned:
                    continue
                for obstacle in _swept(by_part, moving, standing, way, parts, names):
                    found.setdefault(_key(obstacle), obstacle)
    for obstacle in _in_rooms(Scenery(inside, assembly, joinery, catalogue), of, parts, names):
        found.setdefault(_key(obstacle), obstacle)
    return tuple(found.values())


def _key(obstacle: Obstacle) -> tuple[object, ...]:
    return (obstacle.part, *(round(c, 1) for c in (*obstacle.low, *obstacle.high)))


def _swept(
    by_part: Mapping[str, Sequence[Body]],
    moving: str,
    standing: str,
    way: Vec3,
    parts: Mapping[str, Part],
    names: Mapping[str, str],
) -> Iterator[Obstacle]:
    """What of either part meets the other when the one moves."""
    pairs = [
        (a, b)
        for a in by_part.get(moving, ())
        for b in by_part.get(standing, ())
        if a.mate != standing and b.mate != moving and (a.fastener != b.fastener or not a.fastener)
    ]
    pairs = [(a, b) for a, b in pairs if sweep_hits([a.shape], [b.shape], way).any()]
    if not pairs:
        return
    one, other = names[moving], names[standing]
    for panel, swept, along in (
        (parts[standing], [a for a, b in pairs if b.fastener is None], way),
        (parts[moving], [b for a, b in pairs if a.fastener is None], scaled(way, -1.0)),
    ):
        boxes = [_box_on(panel, _trail(body, along)) for body in swept]
        box = _around([found for found in boxes if found is not None])
        if box is not None:
            passed = one if panel is parts[standing] else other
            yield Obstacle(part=panel.name, low=box[0], high=box[1], of=f"{passed} passes it")


def _trail(body: Body, way: Vec3) -> Array:
    """The corners of all that a body sweeps over."""
    corners = body.shape.vertices
    return np.vstack([corners, corners + _FAR * np.array(way)])


def _in_rooms(
    scenery: Scenery, of: Mapping[str, str], parts: Mapping[str, Part], names: Mapping[str, str]
) -> Iterator[Obstacle]:
    """What stands in the room of a tool, where one part alone keeps a way of working shut."""
    there = set(of)
    for work in scenery.reach:
        members = set(work.members)
        if work.is_clamp or not members <= there or not any(s <= there for s in work.blocked):
            continue
        for way in work.ways:
            hits = [hit for hit in way.hits if hit.others <= there and hit.body.fastener is None]
            for name in sorted({hit.body.part for hit in hits}):
                boxes = [
                    _box_on(parts[name], hit.space.shape().vertices)
                    for hit in hits
                    if hit.body.part == name
                ]
                box = _around([found for found in boxes if found is not None])
                if box is not None:
                    reached = f"{way.called} reaches {work.what}"
                    yield Obstacle(part=name, low=box[0], high=box[1], of=reached)


def _around(boxes: Sequence[tuple[Vec3, Vec3]]) -> tuple[Vec3, Vec3] | None:
    if not boxes:
        return None
    lows, highs = zip(*boxes, strict=True)
    low = [min(c) for c in zip(*lows, strict=True)]
    high = [max(c) for c in zip(*highs, strict=True)]
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _box_on(panel: Part, corners: Array) -> tuple[Vec3, Vec3] | None:
    """The box round what a convex body shares with the box round a panel, in its frame."""
    axes = np.array([panel.frame.i, panel.frame.j, panel.frame.k])
    points = (corners - np.array(panel.frame.origin)) @ axes.T
    flat = np.array(panel.outline)
    (x0, y0), (x1, y1) = flat.min(axis=0), flat.max(axis=0)
    for axis, low, high in ((2, -panel.thickness, 0.0), (0, x0, x1), (1, y0, y1)):
        points = _clipped(points, axis, low, high)
        if not len(points):
            return None
    least, most = points.min(axis=0), points.max(axis=0)
    if (most - least < TOLERANCE).any():
        return None
    return _vector(least), _vector(most)


def _clipped(points: Array, axis: int, low: float, high: float) -> Array:
    """Corners of what a convex body, given by its corners, has between two planes."""
    others = [n for n in range(3) if n != axis]
    for sign, plane in ((1.0, high), (-1.0, -low)):
        height = sign * points[:, axis] - plane
        above, below = points[height > 1e-9], points[height <= 1e-9]
        if not len(above) or not len(below):
            points = below
            continue
        down, up = plane - sign * below[:, axis], sign * above[:, axis] - plane
        share = down[:, None] / (down[:, None] + up[None])
        cut = below[:, None] + share[:, :, None] * (above[None] - below[:, None])
        hull = shapely.convex_hull(shapely.multipoints(cut.reshape(-1, 3)[:, others]))
        flat = shapely.get_coordinates(hull)
        section = np.empty((len(flat), 3))
        section[:, others], section[:, axis] = flat, sign * plane
        points = np.vstack([below, section])
    return points


def _vector(point: Iterable[float]) -> Vec3:
    x, y, z = point
    return (float(x), float(y), float(z))
