"""Panels as slabs in product coordinates, before their turns, and from slabs to parts.

Everything about a panel is first worked out where the maker wrote it: in product
coordinates. Mirroring happens here, where it is a change of sign; the panel frame
comes last, by one rule, so that it is right-handed for a panel and for its mirror
image alike.

So frames stay rigid everywhere; the drilling schedule measures from a named corner, and both
of a pair show the same numbers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from kdkit.diagnostics import Path
from kdkit.frames import Frame, Vec2, Vec3, add, cross, sub
from kdkit.model.resolved import HandBoreSpec, Part, RoundCutOut

__all__ = [
    "AXIS_NAMES",
    "BoreSaid",
    "Motion",
    "Slab",
    "mirror_slab",
    "part_from_slab",
    "side_name",
    "turn_frame",
]

AXIS_NAMES = ("x", "y", "z")
_SIDES = (("left", "right"), ("front", "back"), ("bottom", "top"))
_SAME = 1e-6


@dataclass(frozen=True)
class Motion:
    """A turn: angle about an axis (0, 1, 2) through a point; degrees, right-handed."""

    axis: int
    angle_deg: float
    about: Vec3


@dataclass(frozen=True, kw_only=True)
class BoreSaid:
    """A bore that the maker typed: mouth and direction in product coordinates."""

    mouth: Vec3
    into: Vec3
    diameter: float
    depth: float
    through: bool
    purpose: str
    mate: str | None
    path: Path


@dataclass(frozen=True, kw_only=True)
class Slab:
    """A panel as written, in product coordinates before its turns.

    Args:
        axis: the thickness axis, 0 to 2; ``plane`` the two others in order.
        low, high: its ends on the thickness axis; ``thickness`` between them is the
            board's own figure, not their difference, which the arithmetic blurs.
        face: +1 or −1, where the face looks along the thickness axis.
        length_axis: the axis of the grain.
        outline: corners on ``plane``; notches are cut already.
        notched: for each segment, whether a notch made it.
        bands: edge band thickness by side.
        bevels: degrees by side (or ``all``); above 0 the long point is on the face.
        cutouts, round_cutouts: openings on ``plane``.
    """

    axis: int
    low: float
    high: float
    thickness: float
    face: int
    length_axis: int
    outline: tuple[Vec2, ...]
    notched: tuple[bool, ...]
    bands: Mapping[str, float]
    bevels: Mapping[str, float] = field(default_factory=dict)
    cutouts: tuple[tuple[Vec2, ...], ...] = ()
    round_cutouts: tuple[tuple[Vec2, float], ...] = ()
    bores: tuple[BoreSaid, ...] = ()
    turns: tuple[Motion, ...] = ()
    smooth: bool = False

    @property
    def plane(self) -> tuple[int, int]:
        """The two axes in the plane of the panel, in the order x, y, z."""
        return ((1, 2), (0, 2), (0, 1))[self.axis]

    def box(self) -> tuple[Vec2, Vec2]:
        """Return the least and the largest corner of the outline's box on ``plane``."""
        us = [p[0] for p in self.outline]
        vs = [p[1] for p in self.outline]
        return (min(us), min(vs)), (max(us), max(vs))


def side_name(axis: int, positive: bool) -> str:
    """Return the side that looks along an axis: (0, False) is left."""
    return _SIDES[axis][1 if positive else 0]


def mirror_slab(slab: Slab, sum_x: float, shift: Vec3) -> Slab:
    """Return the mirror image across the plane x = sum_x / 2, then shifted.

    Every x becomes ``sum_x − x``. A turn keeps its sense about the x axis and
    changes it about y and z; its centre is mirrored with the panel.

    Source:
        For a reflection M and a rotation R about a through c, M·R·M is the rotation
        about M·c whose axis vector is −M·a (an axis is a pseudo-vector).
    """

    def mirrored(p: Vec3) -> Vec3:
        return add((sum_x - p[0], p[1], p[2]), shift)

    u, v = slab.plane
    u_flipped = u == 0

    def mirrored2(p: Vec2) -> Vec2:
        return ((sum_x - p[0] if u_flipped else p[0]) + shift[u], p[1] + shift[v])

    low, high = slab.low, slab.high
    face = slab.face
    if slab.axis == 0:
        low, high, face = sum_x - high, sum_x - low, -face
    swap = {"left": "right", "right": "left"}
    return replace(
        slab,
        low=low + shift[slab.axis],
        high=high + shift[slab.axis],
        face=face,
        outline=tuple(mirrored2(p) for p in slab.outline),
        bands={swap.get(side, side): band for side, band in slab.bands.items()},
        bevels={swap.get(side, side): angle for side, angle in slab.bevels.items()},
        cutouts=tuple(tuple(mirrored2(p) for p in hole) for hole in slab.cutouts),
        round_cutouts=tuple((mirrored2(p), d) for p, d in slab.round_cutouts),
        bores=tuple(
            replace(b, mouth=mirrored(b.mouth), into=(-b.into[0] + 0.0, b.into[1], b.into[2]))
            for b in slab.bores
        ),
        turns=tuple(
            Motion(t.axis, t.angle_deg if t.axis == 0 else -t.angle_deg, mirrored(t.about))
            for t in slab.turns
        ),
    )


def turn_frame(motion: Motion) -> Frame:
    """Return a turn as the frame to which it takes the product frame.

    Multiples of 90° are exact.
    """
    quarter, rest = divmod(motion.angle_deg, 90.0)
    if rest == 0:
        c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    else:
        c, s = (f(math.radians(motion.angle_deg)) for f in (math.cos, math.sin))
    if motion.axis == 0:
        i, j, k = (1.0, 0.0, 0.0), (0.0, c, s), (0.0, -s, c)
    elif motion.axis == 1:
        i, j, k = (c, 0.0, -s), (0.0, 1.0, 0.0), (s, 0.0, c)
    else:
        i, j, k = (c, s, 0.0), (-s, c, 0.0), (0.0, 0.0, 1.0)
    rotation = Frame((0.0, 0.0, 0.0), _plus_zero(i), _plus_zero(j), _plus_zero(k))
    origin = sub(motion.about, rotation.vector_to_outer(motion.about))
    return Frame(_plus_zero(origin), rotation.i, rotation.j, rotation.k)


def part_from_slab(slab: Slab, *, name: str, title: str, kind: str, path: Path) -> Part:
    """Return the slab as a part in its panel frame; board and the like are set by the caller.

    The frame: z out of the face; x along the length axis, in its positive direction;
    y = z × x; origin where the outline's box has its least x and y, on the face.
    """
    k = _axis_vector(slab.axis, slab.face)
    i = _axis_vector(slab.length_axis, 1)
    j = cross(k, i)
    width_axis = next(a for a in slab.plane if a != slab.length_axis)
    width_sign = 1 if j[width_axis] > 0 else -1
    least, largest = (dict(zip(slab.plane, corner, strict=True)) for corner in slab.box())
    corner = [0.0, 0.0, 0.0]
    corner[slab.axis] = slab.high if slab.face > 0 else slab.low
    corner[slab.length_axis] = least[slab.length_axis]
    corner[width_axis] = (least if width_sign > 0 else largest)[width_axis]
    frame = Frame((corner[0], corner[1], corner[2]), i, _plus_zero(j), k)
    length_first = slab.plane[0] == slab.length_axis

    def to_panel(p: Vec2) -> Vec2:
        along, across = p if length_first else (p[1], p[0])
        y = width_sign * (across - corner[width_axis])
        return (along - corner[slab.length_axis] + 0.0, y + 0.0)

    points, flags = list(slab.outline), list(slab.notched)
    outline = [to_panel(p) for p in points]
    if _area(outline) < 0:
        # Segment n runs from corner n to n + 1: turned round, it comes before its corner.
        points.reverse()
        outline.reverse()
        flags = [*flags[-2::-1], flags[-1]]
    first = min(range(len(outline)), key=lambda n: (sum(outline[n]), outline[n][1]))
    outline = [*outline[first:], *outline[:first]]
    points = [*points[first:], *points[:first]]
    flags = [*flags[first:], *flags[:first]]
    sides, bands, bevels = _label_segments(slab, points, flags)
    placed = frame
    for turn in slab.turns:
        placed = turn_frame(turn).frame_to_outer(placed)
    return Part(
        name=name,
        title=title,
        kind=kind,
        path=path,
        frame=_clean(placed),
        outline=tuple(outline),
        thickness=slab.thickness,
        edge_sides=sides,
        bands=bands,
        bevels=bevels,
        cutouts=tuple(tuple(to_panel(p) for p in hole) for hole in slab.cutouts),
        round_cutouts=tuple(
            RoundCutOut(centre=to_panel(p), diameter=d) for p, d in slab.round_cutouts
        ),
        bores=tuple(_bore_spec(b, frame) for b in slab.bores),
        smooth=slab.smooth,
    )


def _bore_spec(bore: BoreSaid, frame: Frame) -> HandBoreSpec:
    return HandBoreSpec(
        mouth=_plus_zero(frame.point_to_inner(bore.mouth)),
        into=_plus_zero(frame.vector_to_inner(bore.into)),
        diameter=bore.diameter,
        depth=bore.depth,
        through=bore.through,
        purpose=bore.purpose,
        mate=bore.mate,
        path=bore.path,
    )


def _label_segments(
    slab: Slab, points: list[Vec2], notched: list[bool]
) -> tuple[tuple[str, ...], tuple[float, ...], tuple[float, ...]]:
    """Return for each segment the side it lies on, its band and its bevel.

    A segment on the outline's box has that side. A slanted or inner one has no
    side; unless a notch made it, it is banded and bevelled as the side that it looks
    to most. A band on ``all`` edges leaves the bevelled ones out.
    """
    least, largest = slab.box()
    sides: list[str] = []
    bands: list[float] = []
    bevels: list[float] = []
    # Outside is to the right of the way round; which way the product's axes turn
    # decides whether that is (+dv, −du) or its opposite.
    turning = 1.0 if _area(points) > 0 else -1.0
    for n, start in enumerate(points):
        end = points[(n + 1) % len(points)]
        normal = (turning * (end[1] - start[1]), -turning * (end[0] - start[0]))
        on = ""
        for index, axis in enumerate(slab.plane):
            for edge, positive in ((least[index], False), (largest[index], True)):
                if abs(start[index] - edge) < _SAME and abs(end[index] - edge) < _SAME:
                    on = side_name(axis, positive)
        index = 0 if abs(normal[0]) >= abs(normal[1]) - _SAME else 1
        looks = on or side_name(slab.plane[index], normal[index] > 0)
        made_by_notch = notched[n] and not on
        bevel = 0.0 if made_by_notch else slab.bevels.get(looks, slab.bevels.get("all", 0.0))
        every = slab.bands.get("all", 0.0) if bevel == 0 else 0.0
        sides.append(on)
        bevels.append(bevel)
        bands.append(0.0 if made_by_notch else slab.bands.get(looks, every))
    return tuple(sides), tuple(bands), tuple(bevels) if any(bevels) else ()


def _axis_vector(axis: int, sign: int) -> Vec3:
    v = [0.0, 0.0, 0.0]
    v[axis] = float(sign)
    return (v[0], v[1], v[2])


def _area(points: list[Vec2]) -> float:
    """Return the signed area: positive when the corners run counter-clockwise."""
    total = 0.0
    for n, (x, y) in enumerate(points):
        x1, y1 = points[(n + 1) % len(points)]
        total += x * y1 - x1 * y
    return total / 2


def _plus_zero(v: Vec3) -> Vec3:
    return (v[0] + 0.0, v[1] + 0.0, v[2] + 0.0)


def _clean(frame: Frame) -> Frame:
    """Return the frame with no −0.0 in it, so that equal frames print alike."""
    return Frame(
        _plus_zero(frame.origin), _plus_zero(frame.i), _plus_zero(frame.j), _plus_zero(frame.k)
    )
