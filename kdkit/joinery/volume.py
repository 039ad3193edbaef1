"""The volume of a drilled and grooved panel, to better than one part in 10⁹. Lengths in mm.

What is taken out is the union of flat-bottomed cylinders and groove prisms inside the
panel; a slot is a disc that reaches in from outside, or a prism with a cylinder at either
end. A bore that meets nothing has its closed formula; bores and grooves that meet
each other or a surface (a cam's housing and its edge bore, a bore through a groove, a
slanted bore) are integrated slice by slice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.frames import Frame, Vec3, add, cross, dot, scaled, unit
from kdkit.geometry.boxes import Boxes, near_pairs
from kdkit.geometry.clipping import piece_hull
from kdkit.geometry.convex import ConvexPiece, convex_pieces, part_pieces
from kdkit.geometry.surfaces import surface_frame
from kdkit.joinery.placed import Bore, Groove, Slot
from kdkit.joinery.quadrature import NOISE, Values, integrate
from kdkit.model.bevels import bevel_planes, section_ring
from kdkit.model.resolved import Part

__all__ = ["drilled_volume", "prism_volume"]

_SQUARE = 1e-12  # 1 − cos of an angle taken as none
_INSIDE = 1e-7
_SHARE = 1e-11  # absolute error of one integral, in volumes of the panel
_LOOSER = 50.0  # for the double integral of slanted bores


@dataclass(frozen=True)
class _Cylinder:
    """A flat-bottomed cylinder, panel frame: from ``start`` along ``axis`` for ``length``."""

    start: Vec3
    axis: Vec3
    radius: float
    length: float

    def box(self) -> Values:
        axis = np.array(self.axis)
        reach = self.radius * np.sqrt(np.clip(1.0 - axis * axis, 0.0, 1.0))
        ends = np.array([self.start, np.array(self.start) + axis * self.length])
        return np.concatenate([ends.min(axis=0) - reach, ends.max(axis=0) + reach])

    def along_lines(self, points: Values, direction: Values) -> tuple[Values, Values]:
        axis, start = np.array(self.axis), np.array(self.start)
        w = points - start
        d_axis, w_axis = float(direction @ axis), w @ axis
        d_across, w_across = direction - d_axis * axis, w - w_axis[:, None] * axis
        low, high = _slab(w_axis, d_axis, 0.0, self.length)
        a, b = float(d_across @ d_across), w_across @ d_across
        c = np.einsum("ij,ij->i", w_across, w_across) - self.radius**2
        if a < _SQUARE:
            return np.where(c <= 0, low, 1.0), np.where(c <= 0, high, 0.0)
        root = b * b - a * c
        span = np.sqrt(np.maximum(root, 0.0))
        low, high = np.maximum(low, (-b - span) / a), np.minimum(high, (-b + span) / a)
        return np.where(root > 0, low, 1.0), np.where(root > 0, high, 0.0)


@dataclass(frozen=True)
class _Prism:
    """A convex piece, panel frame: its planes, its corners and its edges' ends by number."""

    normals: Values
    offsets: Values
    corners: Values
    edges: NDArray[np.intp]

    def box(self) -> Values:
        return np.concatenate([self.corners.min(axis=0), self.corners.max(axis=0)])

    def along_lines(self, points: Values, direction: Values) -> tuple[Values, Values]:
        low = np.full(len(points), -1e9)
        high = np.full(len(points), 1e9)
        for normal, offset in zip(self.normals, self.offsets, strict=True):
            room, rise = offset - points @ normal, float(direction @ normal)
            if abs(rise) < 1e-12:
                high = np.where(room < 0, -1e9, high)
            elif rise > 0:
                high = np.minimum(high, room / rise)
            else:
                low = np.maximum(low, room / rise)
        return low, high


_Body = _Cylinder | _Prism


def prism_volume(part: Part) -> float:
    """Return the volume of a part before drilling, in mm³: mean section × thickness.

    Round openings count with their exact area where they stand clear of the outline
    and of other openings.

    Source:
        Simpson's rule, which is exact here: between two bevels the area of a section is
        a quadratic function of its depth.
    """
    region = _region(part)
    area = float(region.area)
    if part.bevels:
        t = part.thickness
        levels = (section_ring(part.outline, part.bevels, t, d) for d in (0.0, t / 2, t))
        face, middle, back = (Polygon(ring).area for ring in levels)
        area += (face + 4 * middle + back) / 6 - Polygon(part.outline).area
    for opening in part.round_cutouts:
        disc = shapely.Point(opening.centre).buffer(opening.diameter / 2, quad_segs=256)
        clear = region.buffer(_INSIDE).covers(disc)
        area -= math.pi * opening.diameter**2 / 4 if clear else region.intersection(disc).area
    return area * part.thickness


def drilled_volume(
    part: Part,
    bores: Sequence[Bore],
    grooves: Sequence[Groove] = (),
    slots: Sequence[Slot] = (),
) -> float:
    """Return what is left of a part after drilling, grooving and slotting, in mm³.

    Args:
        part: the panel.
        bores: of this part; those of other parts are an error in the caller.
        grooves, slots: of this part.

    Source:
        Volume by slices (Cavalieri); the overlap of a housing and its edge bore has no
        elementary formula.
    """
    whole = prism_volume(part)
    bodies: list[_Body] = [_cylinder(part, bore) for bore in bores]
    bodies += [prism for groove in grooves for prism in _groove_prisms(part, groove)]
    bodies += [body for slot in slots for body in _slot_bodies(slot)]
    if not bodies:
        return whole
    region = _region(part)
    for opening in part.round_cutouts:
        disc = shapely.Point(opening.centre).buffer(opening.diameter / 2, quad_segs=64)
        region = region.difference(disc)
    panel = [_panel_piece(piece) for piece in part_pieces(part)]
    taken = 0.0
    for cluster in _clusters(bodies):
        alone = cluster[0]
        if len(cluster) == 1 and isinstance(alone, _Cylinder) and _inside(alone, part, region):
            taken += math.pi * alone.radius**2 * alone.length
        else:
            taken += _union_volume(cluster, panel, whole * _SHARE)
    return whole - taken


def _region(part: Part) -> BaseGeometry:
    region: BaseGeometry = Polygon(part.outline)
    if part.cutouts:
        region = region.difference(shapely.union_all([Polygon(c) for c in part.cutouts]))
    return region


def _cylinder(part: Part, bore: Bore) -> _Cylinder:
    """Return a bore's cylinder, drawn out past a slanted mouth so that it cuts it whole."""
    into = unit(bore.into)
    outward = surface_frame(part, bore.surface).k
    steep = min(1.0, abs(dot(into, outward)))
    extra = 0.0
    if 1.0 - steep > _SQUARE and steep > 1e-6:
        extra = bore.diameter / 2 * math.sqrt(1.0 - steep * steep) / steep
    start = add(bore.mouth, scaled(into, -extra))
    length = bore.depth + extra * (2 if bore.through else 1)
    return _Cylinder(start, into, bore.diameter / 2, length)


def _groove_prisms(part: Part, groove: Groove) -> list[_Prism]:
    """Return a groove's convex prisms: its plan is (x, y) of the panel, of an edge (i, j)."""
    if groove.surface == "face":
        z0, z1, frame = -groove.depth, 0.0, None
    elif groove.surface == "back":
        z0, z1, frame = -part.thickness, groove.depth - part.thickness, None
    else:
        z0, z1, frame = -groove.depth, 0.0, surface_frame(part, groove.surface)
    return [_prism_between(piece.polygon, z0, z1, frame) for piece in convex_pieces(groove.polygon)]


def _slot_bodies(slot: Slot) -> list[_Body]:
    axis = unit(cross(slot.into, slot.along))
    half = slot.width / 2
    if slot.disc is not None:
        radius = slot.disc / 2
        centre = add(slot.mouth, scaled(slot.into, slot.depth - radius))
        return [_Cylinder(add(centre, scaled(axis, -half)), axis, radius, slot.width)]
    reach = slot.length / 2 - half
    frame = Frame(
        slot.mouth, slot.along, cross(scaled(slot.into, -1.0), slot.along), scaled(slot.into, -1.0)
    )
    plan = ((-reach, -half), (reach, -half), (reach, half), (-reach, half))
    ends = (add(slot.mouth, scaled(slot.along, side * reach)) for side in (-1.0, 1.0))
    return [
        _prism_between(plan, -slot.depth, 0.0, frame),
        *(_Cylinder(end, unit(slot.into), half, slot.depth) for end in ends),
    ]


def _prism_between(
    polygon: Sequence[tuple[float, float]], z0: float, z1: float, frame: Frame | None = None
) -> _Prism:
    """Return a convex prism; the polygon is counter-clockwise in the frame (default: panel)."""
    plan = np.asarray(polygon, dtype=np.float64)
    n = len(plan)
    along = np.roll(plan, -1, axis=0) - plan
    along /= np.linalg.norm(along, axis=1)[:, None]
    normals = np.zeros((n + 2, 3))
    normals[:n, 0], normals[:n, 1] = along[:, 1], -along[:, 0]
    normals[n, 2], normals[n + 1, 2] = 1.0, -1.0
    corners = np.zeros((2 * n, 3))
    corners[:n, :2], corners[n:, :2] = plan, plan
    corners[:n, 2], corners[n:, 2] = z1, z0
    if frame is not None:
        axes = np.array([frame.i, frame.j, frame.k])
        corners, normals = corners @ axes + np.array(frame.origin), normals @ axes
    on_plane = np.vstack([corners[:n], corners[:1], corners[n : n + 1]])
    ring = np.arange(n)
    starts = np.concatenate([ring, ring + n, ring])
    ends = np.concatenate([(ring + 1) % n, (ring + 1) % n + n, ring + n])
    edges = np.column_stack([starts, ends])
    return _Prism(normals, np.einsum("ij,ij->i", normals, on_plane), corners, edges)


def _panel_piece(piece: ConvexPiece) -> _Prism:
    """Return a piece of a panel, with its bevels."""
    if not piece.cuts:
        return _prism_between(piece.polygon, piece.z0, piece.z1)
    corners, normals, offsets, edges = piece_hull(piece)
    return _Prism(normals, offsets, corners, edges)


def _inside(body: _Cylinder, part: Part, region: BaseGeometry) -> bool:
    """Tell whether a bore square or parallel to the face or to a bevel lies wholly in the panel.

    Of slanted bores only those are known to that are square to their bevel.
    """
    start = np.array(body.start)
    end = start + np.array(body.axis) * body.length
    square_to_bevel = False
    for _, normal, offset in bevel_planes(part):
        steep = float(np.array(body.axis) @ np.array(normal))
        rim = body.radius * math.sqrt(max(0.0, 1.0 - steep * steep))
        highest = max(float(start @ np.array(normal)), float(end @ np.array(normal)))
        if highest + rim > offset + _INSIDE:
            return False
        square_to_bevel = square_to_bevel or 1.0 - abs(steep) <= _SQUARE
    if square_to_bevel:
        reach = body.radius * math.sqrt(max(0.0, 1.0 - body.axis[2] ** 2))
        if min(start[2], end[2]) - reach < -part.thickness - _INSIDE:
            return False
        if max(start[2], end[2]) + reach > _INSIDE:
            return False
        shadow = LineString([start[:2], end[:2]]).buffer(body.radius * 1.01)
        return bool(region.covers(shadow))
    low, high = min(start[2], end[2]), max(start[2], end[2])
    if 1.0 - abs(body.axis[2]) <= _SQUARE:
        clear = region.boundary.distance(shapely.Point(start[:2])) >= body.radius - _INSIDE
        within = bool(region.covers(shapely.Point(start[:2])))
        return clear and within and low >= -part.thickness - _INSIDE and high <= _INSIDE
    if abs(body.axis[2]) > _INSIDE:
        return False
    if low - body.radius < -part.thickness - _INSIDE or high + body.radius > _INSIDE:
        return False
    side = np.array([-body.axis[1], body.axis[0]]) * body.radius
    corners = [start[:2] - side, end[:2] - side, end[:2] + side, start[:2] + side]
    return bool(region.buffer(_INSIDE).covers(Polygon(corners)))


def _clusters(bodies: Sequence[_Body]) -> list[list[_Body]]:
    """Return the bodies in groups whose boxes meet, each group in the order given."""
    leader = list(range(len(bodies)))

    def find(n: int) -> int:
        while leader[n] != n:
            leader[n] = leader[leader[n]]
            n = leader[n]
        return n

    boxes: Boxes = np.array([body.box() for body in bodies])
    for n, m in near_pairs(boxes):
        leader[max(find(n), find(m))] = min(find(n), find(m))
    groups: dict[int, list[_Body]] = {}
    for n, body in enumerate(bodies):
        groups.setdefault(find(n), []).append(body)
    return list(groups.values())


def _union_volume(bodies: Sequence[_Body], panel: Sequence[_Prism], error: float) -> float:
    """Return the volume of the union of the bodies inside the panel.

    Every slice of a square cylinder or an upright prism is a rectangle if it is taken
    across one axis and along another; then one integral over exact areas will do.
    Otherwise lines are laid along the first slanted bore.
    """
    axes = [np.array(body.axis) for body in bodies if isinstance(body, _Cylinder)]
    flat = [axis for axis in axes if 1.0 - abs(axis[2]) > _SQUARE]
    slanted = [axis for axis in flat if abs(axis[2]) > _SQUARE]
    u = (slanted or flat or [np.array([1.0, 0.0, 0.0])])[0]
    v = np.array(unit((-float(u[1]), float(u[0]), 0.0)))
    w = np.cross(u, v)
    if not slanted:
        for across, one, other in ((v, u, w), (w, u, v)):
            if all(_slices_square(body, one, other) for body in (*bodies, *panel)):
                sides = (across, one, other)

                def area(at: Values, sides: tuple[Values, Values, Values] = sides) -> Values:
                    return _area_of_slices(bodies, panel, sides, at)

                return integrate(area, _breaks(bodies, panel, across), error)
    breaks = _breaks(bodies, panel, v)
    error *= _LOOSER
    finer = error * NOISE / (breaks[-1] - breaks[0])

    def slice_area(x: float) -> float:
        def length(at: Values) -> Values:
            return _union_length(*_clipped(bodies, panel, x * v + at[:, None] * w, u))

        ends = [e for body in (*bodies, *panel) for e in _slice_breaks(body, x, v, w)]
        reach = [e for body in bodies for e in _slice_breaks(body, x, v, w)]
        if len(reach) < 2:
            return 0.0
        return integrate(length, [e for e in ends if min(reach) <= e <= max(reach)], finer)

    return integrate(lambda at: np.array([slice_area(float(x)) for x in at]), breaks, error)


def _slices_square(body: _Body, u: Values, w: Values) -> bool:
    """Tell whether slices in the plane of u and w are rectangles along u and w."""
    if isinstance(body, _Cylinder):
        axis = np.array(body.axis)
        return bool(max(abs(axis @ u), abs(axis @ w)) >= 1.0 - _SQUARE)
    on_u, on_w = np.abs(body.normals @ u), np.abs(body.normals @ w)
    return bool((np.minimum(on_u, on_w) < 1e-12).all())


def _breaks(bodies: Sequence[_Body], panel: Sequence[_Prism], v: Values) -> list[float]:
    """Return where along v the bodies and the panel begin, end and have corners."""
    found: list[float] = []
    for body in bodies:
        if isinstance(body, _Cylinder):
            axis, start = np.array(body.axis), np.array(body.start)
            across = body.radius * math.sqrt(max(0.0, 1.0 - float(axis @ v) ** 2))
            for end in (start, start + axis * body.length):
                found += [float(end @ v) - across, float(end @ v), float(end @ v) + across]
        else:
            found += [float(x) for x in body.corners @ v]
    low, high = min(found), max(found)
    corners = [float(x) for piece in panel for x in piece.corners @ v]
    return sorted({round(x, 9) for x in found + [x for x in corners if low < x < high]})


def _slice_breaks(body: _Body, x: float, v: Values, w: Values) -> list[float]:
    """Return where along w a slice at x begins, ends and has corners."""
    if isinstance(body, _Prism):
        starts, ends = body.edges[:, 0], body.edges[:, 1]
        at, along = body.corners @ v, body.corners @ w
        a, b = at[starts], at[ends]
        crossed = (a < x) != (b < x)
        share = (x - a[crossed]) / (b[crossed] - a[crossed])
        first, last = along[starts][crossed], along[ends][crossed]
        return [float(e) for e in first + share * (last - first)]
    axis, start = np.array(body.axis), np.array(body.start)
    found: list[float] = []
    p = v - float(v @ axis) * axis
    for end in (start, start + axis * body.length):  # the rims
        size, ahead = float(np.linalg.norm(p)), x - float(end @ v)
        if size > 1e-9 and abs(ahead) <= body.radius * size:
            near = p / size
            side = np.cross(axis, near)
            reach = ahead / size
            chord = math.sqrt(max(0.0, body.radius**2 - reach**2))
            middle = float((end + reach * near) @ w)
            found += [middle - chord * float(side @ w), middle + chord * float(side @ w)]
    u = np.cross(v, w)
    across = np.cross(axis, u)
    if np.linalg.norm(across) > 1e-9 and abs(float(across @ w)) > 1e-9:  # where lines graze it
        across /= np.linalg.norm(across)
        offset = float(across @ start) - x * float(across @ v)
        slope = float(across @ w)
        found += [(offset - body.radius) / slope, (offset + body.radius) / slope]
    low = body.box()
    corners = np.array([[low[n], low[m], low[k]] for n in (0, 3) for m in (1, 4) for k in (2, 5)])
    spread = corners @ w
    return [e for e in found if spread.min() <= e <= spread.max()]


def _area_of_slices(
    bodies: Sequence[_Body],
    panel: Sequence[_Prism],
    sides: tuple[Values, Values, Values],
    at: Values,
) -> Values:
    """Return, for each place across, the area of the union of rectangles over (u, w)."""
    rows = [_rectangle(body, sides, at) for body in bodies]
    stack = []
    for piece in panel:
        p = _rectangle(piece, sides, at)
        for r in rows:
            low_u, high_u = np.maximum(r[0], p[0]), np.minimum(r[1], p[1])
            stack.append((low_u, high_u, np.maximum(r[2], p[2]), np.minimum(r[3], p[3])))
    u0, u1, w0, w1 = (np.array([row[n] for row in stack]).T for n in range(4))
    empty = (u1 <= u0) | (w1 <= w0)
    bottom = float(np.where(empty, np.inf, w0).min())
    if not math.isfinite(bottom):
        return np.zeros(len(at))
    w0, w1 = np.where(empty, bottom, w0), np.where(empty, bottom, w1)
    levels = np.sort(np.concatenate([w0, w1], axis=1), axis=1)
    area = np.zeros(len(at))
    for n in range(levels.shape[1] - 1):
        below, above = levels[:, n], levels[:, n + 1]
        middle = ((below + above) / 2)[:, None]
        there = (w0 < middle) & (middle < w1)
        area += (above - below) * _union_length(np.where(there, u0, 0.0), np.where(there, u1, 0.0))
    return area


def _rectangle(
    body: _Body, sides: tuple[Values, Values, Values], at: Values
) -> tuple[Values, Values, Values, Values]:
    """Return the slices of a body that ``_slices_square``: u0, u1, w0, w1."""
    v, u, w = sides
    ones = np.ones(len(at))
    if isinstance(body, _Prism):
        middle = body.corners.mean(axis=0)
        points = at[:, None] * v
        low, high = body.along_lines(points + float(middle @ w) * w, u)
        below, above = body.along_lines(points + ((low + high) / 2)[:, None] * u, w)
        return low, high, below, above
    start = np.array(body.start)
    end = start + np.array(body.axis) * body.length
    half = np.sqrt(np.maximum(body.radius**2 - (at - float(start @ v)) ** 2, 0.0))
    spans = []
    for side in (u, w):
        if abs(float(np.array(body.axis) @ side)) > 0.5:
            near, far = sorted((float(start @ side), float(end @ side)))
            spans += [near * ones, far * ones]
        else:
            spans += [float(start @ side) - half, float(start @ side) + half]
    return spans[0], spans[1], spans[2], spans[3]


def _slab(position: Values, rise: float, low: float, high: float) -> tuple[Values, Values]:
    """Return the stretch of each line between two planes; empty ones end before they start."""
    if abs(rise) < 1e-12:
        there = (position >= low) & (position <= high)
        return np.where(there, -1e9, 1.0), np.where(there, 1e9, 0.0)
    a, b = (low - position) / rise, (high - position) / rise
    return np.minimum(a, b), np.maximum(a, b)


def _clipped(
    bodies: Sequence[_Body], panel: Sequence[_Prism], points: Values, u: Values
) -> tuple[Values, Values]:
    """Return every body's stretch of every line inside every piece, shape (lines, n)."""
    pieces = [piece.along_lines(points, u) for piece in panel]
    found = [
        (np.maximum(low, p_low), np.minimum(high, p_high))
        for low, high in (body.along_lines(points, u) for body in bodies)
        for p_low, p_high in pieces
    ]
    return np.array([f[0] for f in found]).T, np.array([f[1] for f in found]).T


def _union_length(low: Values, high: Values) -> Values:
    """Return the length that the stretches of each row cover together."""
    order = np.argsort(low, axis=1, kind="stable")
    low, high = np.take_along_axis(low, order, 1), np.take_along_axis(high, order, 1)
    covered = np.zeros(len(low))
    reached = np.full(len(low), -np.inf)
    for n in range(low.shape[1]):
        start = np.maximum(low[:, n], reached)
        end = high[:, n]
        grows = (end > start) & (end > low[:, n])
        covered += np.where(grows, end - start, 0.0)
        reached = np.where(grows, end, reached)
    return covered
