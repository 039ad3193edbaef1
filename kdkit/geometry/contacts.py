"""Where parts touch: opposing flat surfaces in one plane, and edges sunk in another part.

Takes the parts in their places, gives every contact in a fixed order (by the names of
the two parts, then by surface and place). Only parts whose boxes meet are compared, so
the work grows as n log n with the number of parts while each touches a few others.

A mitre is a kind of contact of its own. What a square edge takes (a dowel 23 deep) comes out
of a bevel; a fitting must have been thought out for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import shared
from kdkit.diagnostics import Problem, error, has_errors
from kdkit.frames import Frame, Vec2, Vec3, add, cross, dot, scaled, sub
from kdkit.geometry.assembly import Assembly, Contact, ContactKind
from kdkit.geometry.boxes import near_pairs
from kdkit.geometry.solids import Prism, overlap_of_prisms, part_prisms
from kdkit.geometry.surfaces import Surface, corners_of, part_box, surfaces_of
from kdkit.model.panels.bevels import section_ring
from kdkit.model.resolved import Part, Resolved
from kdkit.units import TOLERANCE

__all__ = [
    "CONTACT_GAP",
    "assemble",
    "opposed_surfaces",
    "run_direction",
    "shared_region",
]

CONTACT_GAP = TOLERANCE + 1e-6
"""Surfaces no further apart than this touch. The margin over ``TOLERANCE`` is for the
rounding of a chain of turns, so that a gap of exactly 0.01 mm counts in every posture."""

LEAST_WIDTH = 5 * TOLERANCE
"""A strip narrower than this is two edges that meet, not a contact."""

_PARALLEL = 1e-9  # 1 − cos of the angle between two surfaces that may touch
_SLANT = 1e-6  # sine of the angle off square above which an edge is a bevel
_SLAB_ERROR = 1e-3  # relative; an edge that stands in another part fills a slab


@dataclass(frozen=True)
class _Body:
    """A part with what the search looks at."""

    part: Part
    surfaces: tuple[Surface, ...]
    normals: NDArray[np.float64]
    origins: NDArray[np.float64]


def assemble(resolved: Resolved) -> tuple[Assembly | None, tuple[Problem, ...]]:
    """Put every part in its place and find every contact between two of them.

    Returns:
        The assembly and no errors, or None and all of them: an outline or an opening
        that crosses itself has no surface that could touch anything.
    """
    problems = tuple(p for part in resolved.parts for p in _check_outlines(part))
    if has_errors(problems):
        return None, problems
    bodies = [_body(part) for part in sorted(resolved.parts, key=lambda p: p.name)]
    boxes = np.array([part_box(body.part) for body in bodies]).reshape(-1, 6)
    prisms: dict[str, tuple[Prism, ...]] = {}
    contacts: list[Contact] = []
    for n, m in near_pairs(boxes, CONTACT_GAP):
        contacts += _touching(bodies[n], bodies[m])
        shared = np.minimum(boxes[n, 3:], boxes[m, 3:]) - np.maximum(boxes[n, :3], boxes[m, :3])
        if (shared > TOLERANCE).all():
            contacts += _sunk(bodies[n], bodies[m], prisms)
    return Assembly(parts=resolved.parts, contacts=tuple(contacts)), problems


def opposed_surfaces(a: Part, b: Part) -> tuple[tuple[Surface, Surface, float], ...]:
    """Return the pairs of surfaces that look at each other, b's plane in front of a's.

    The third is the distance between the two planes; nothing is said about whether the
    surfaces lie opposite each other.
    """
    return tuple(_opposed(_body(a), _body(b), -TOLERANCE, math.inf))


def _check_outlines(part: Part) -> Iterable[Problem]:
    for at, ring in enumerate((part.outline, *part.cutouts)):
        if len(ring) < 3 or not Polygon(ring).is_valid or Polygon(ring).area < LEAST_WIDTH**2:
            what = "outline" if at == 0 else f"cut-out {at}"
            yield error(
                "outline-crosses-itself",
                f"the {what} crosses itself or encloses nothing",
                part.path,
                where=part.name,
                help="list its corners in order, once round",
            )


def _body(part: Part) -> _Body:
    surfaces = surfaces_of(part)
    normals = np.array([s.frame.k for s in surfaces])
    return _Body(part, surfaces, normals, np.array([s.frame.origin for s in surfaces]))


def _opposed(a: _Body, b: _Body, low: float, high: float) -> list[tuple[Surface, Surface, float]]:
    """Return surface pairs that look at each other, b's plane ``low`` to ``high`` outside a's."""
    parallel = a.normals @ b.normals.T < _PARALLEL - 1.0
    between = b.origins[None, :, :] - a.origins[:, None, :]
    gaps = np.einsum("nmk,nk->nm", between, a.normals)
    found = []
    for n, m in np.argwhere(parallel & (gaps >= low) & (gaps <= high)):
        found.append((a.surfaces[n], b.surfaces[m], float(gaps[n, m])))
    return found


def _touching(a: _Body, b: _Body) -> list[Contact]:
    """Return the contacts of two parts whose names are in order."""
    slack = 0.1  # planes are compared at their origins; the polygons decide below
    contacts: list[Contact] = []
    for one, other, _ in _opposed(a, b, -slack, slack):
        if one.is_edge == other.is_edge:
            kind = ContactKind.EDGE_EDGE if one.is_edge else ContactKind.FACE_FACE
            if one.is_edge and _is_bevelled(a, one) and _is_bevelled(b, other):
                kind = ContactKind.MITRE
        else:
            kind = ContactKind.EDGE_FACE
        butting, receiving = (a, one), (b, other)
        if kind is ContactKind.EDGE_FACE and other.is_edge:
            butting, receiving = receiving, butting
        for region in _polygons(shared_region(butting[1], receiving[1])):
            if _greatest_gap(region, butting[1].frame, receiving[1].frame) <= CONTACT_GAP:
                contacts.append(
                    _contact(
                        butting[0].part, butting[1], receiving[0].part, receiving[1], region, kind
                    )
                )
    return sorted(contacts, key=_order)


def _is_bevelled(body: _Body, edge: Surface) -> bool:
    return bool(body.part.bevels) and abs(dot(edge.frame.k, body.part.frame.k)) > _SLANT


def _sunk(a: _Body, b: _Body, prisms: dict[str, tuple[Prism, ...]]) -> list[Contact]:
    """Return the contacts of an edge that stands in the other part, if that is all they share.

    The common volume must be the slabs between the receiving surface and the
    butting edges; anything else is an overlap, which is not a contact. Where either
    could stand in the other, the one does that goes in with its whole thickness.
    """
    for body in (a, b):
        if body.part.name not in prisms:
            prisms[body.part.name] = part_prisms(body.part)
    overlap = overlap_of_prisms(prisms[a.part.name], prisms[b.part.name])
    if overlap.depth <= TOLERANCE:
        return []
    entries: dict[tuple[int, str, str], list[Contact]] = {}
    for butting, receiving in ((a, b), (b, a)):
        for one, other, gap in _opposed(butting, receiving, -math.inf, -TOLERANCE):
            if other.is_edge and -gap >= _depth_behind(receiving.part, other) - TOLERANCE:
                continue  # right through from edge to edge: crossing, not entering
            rank = (not one.is_edge) + 2 * other.is_edge
            wide = _to_long_points(receiving.part, other)
            for region in _polygons(shared_region(one, wide)):
                contact = _contact(
                    butting.part, one, receiving.part, wide, region, ContactKind.SUNK, -gap
                )
                key = (rank, butting.part.name, other.name)
                entries.setdefault(key, []).append(contact)
    fits = []
    thickness = {body.part.name: body.part.thickness for body in (a, b)}
    for key, found in entries.items():
        standing = a if key[1] == b.part.name else b
        slabs = sum(_slab(c, standing.part) for c in found)
        if abs(slabs - overlap.volume) <= _SLAB_ERROR * overlap.volume:
            deepest = round(max(c.sunk for c in found), 3)
            whole = all(c.width >= thickness[c.butting] - TOLERANCE for c in found)
            fits.append((key[0], not whole, deepest, key[1:], found))
    if not fits:
        return []
    return sorted(min(fits, key=lambda fit: fit[:4])[4], key=_order)


def _to_long_points(part: Part, surface: Surface) -> Surface:
    """Return a broad side as wide as the long points of the bevels round it.

    What goes in beside a bevel is in the wood only from some depth on.
    """
    if surface.is_edge or not part.bevels:
        return surface
    turned = 1.0 if surface.name == "face" else -1.0
    return replace(surface, polygon=Polygon([(x, turned * y) for x, y in part.outline]))


def _slab(contact: Contact, receiving: Part) -> float:
    """Return what the sunk part displaces: its contact as deep as it stands in the wood."""
    upright = contact.receiving_surface.startswith("edge:") or not receiving.bevels
    if upright or contact.sunk > receiving.thickness + TOLERANCE:
        return contact.area * contact.sunk
    plan = [
        receiving.frame.point_to_inner(contact.frame.point_to_outer((x, y, 0.0)))[:2]
        for x, y in contact.polygon
    ]
    region, t, steps = Polygon(plan), receiving.thickness, 32
    found = 0.0
    for n in range(steps):
        depth = contact.sunk * (n + 0.5) / steps
        level = depth if contact.receiving_surface == "face" else t - depth
        ring = section_ring(receiving.outline, receiving.bevels, t, level)
        found += shared(region, Polygon(ring)).area * contact.sunk / steps
    return found


def _depth_behind(part: Part, surface: Surface) -> float:
    """Return how far the part reaches behind the plane of one of its surfaces."""
    normal, origin = np.array(surface.frame.k), np.array(surface.frame.origin)
    return float(-((corners_of(part) - origin) @ normal).min())


def _order(contact: Contact) -> tuple[str, str, str, str, Vec3]:
    x, y, z = (round(c, 3) for c in contact.frame.origin)
    return (
        contact.butting,
        contact.receiving,
        contact.butting_surface,
        contact.receiving_surface,
        (x, y, z),
    )


def shared_region(butting: Surface, receiving: Surface) -> BaseGeometry:
    """Return what both surfaces cover, in (i, j) of the receiving surface."""
    there, here = butting.frame, receiving.frame
    shift = sub(there.origin, here.origin)
    moved = affinity.affine_transform(
        butting.polygon,
        [
            dot(there.i, here.i),
            dot(there.j, here.i),
            dot(there.i, here.j),
            dot(there.j, here.j),
            dot(shift, here.i),
            dot(shift, here.j),
        ],
    )
    return shared(moved, receiving.polygon)


def _polygons(region: BaseGeometry) -> list[Polygon]:
    """Return the polygons without holes that make up a region, slivers left out."""
    found: list[Polygon] = []
    for piece in getattr(region, "geoms", [region]):
        if not isinstance(piece, Polygon) or piece.is_empty:
            continue
        if piece.interiors:
            found += _polygons(_cut_through_hole(piece))
            continue
        clean = piece.simplify(TOLERANCE / 10)
        if isinstance(clean, Polygon) and not clean.buffer(-LEAST_WIDTH / 2).is_empty:
            found.append(clean)
    return found


def _cut_through_hole(piece: Polygon) -> BaseGeometry:
    """Return a polygon cut in two across its longer side, through its first hole."""
    x0, y0, x1, y1 = piece.bounds
    middle = Polygon(min(piece.interiors, key=lambda ring: ring.bounds)).centroid
    if x1 - x0 >= y1 - y0:
        halves = shapely.box(x0, y0, middle.x, y1), shapely.box(middle.x, y0, x1, y1)
    else:
        halves = shapely.box(x0, y0, x1, middle.y), shapely.box(x0, middle.y, x1, y1)
    return shapely.GeometryCollection(
        [part for half in halves for part in _parts(shared(piece, half))]
    )


def _parts(region: BaseGeometry) -> Sequence[BaseGeometry]:
    return list(getattr(region, "geoms", [region]))


def _greatest_gap(region: Polygon, butting: Frame, receiving: Frame) -> float:
    """Return how far the region's corners, in the receiving surface, lie off the butting one."""
    return max(
        abs(dot(sub(receiving.point_to_outer((x, y, 0.0)), butting.origin), butting.k))
        for x, y in region.exterior.coords
    )


def _contact(
    butting: Part,
    one: Surface,
    receiving: Part,
    other: Surface,
    region: Polygon,
    kind: ContactKind,
    sunk: float = 0.0,
) -> Contact:
    """Return the contact of two surfaces over a region given in the receiving one's frame."""
    here = other.frame
    corners = [here.point_to_outer((x, y, 0.0)) for x, y in region.exterior.coords[:-1]]
    along = _run_direction(one, other, corners)
    across = cross(here.k, along)
    run = [dot(p, along) for p in corners]
    side = [dot(p, across) for p in corners]
    middle = (min(side) + max(side)) / 2
    origin = add(
        add(scaled(along, min(run)), scaled(across, middle)),
        scaled(here.k, dot(corners[0], here.k)),
    )
    ring = [(x - min(run), y - middle) for x, y in zip(run, side, strict=True)]
    return Contact(
        butting=butting.name,
        receiving=receiving.name,
        kind=kind,
        frame=Frame(origin, along, across, here.k),
        polygon=_settled(ring),
        butting_surface=one.name,
        receiving_surface=other.name,
        area=float(region.area),
        sunk=sunk,
    )


def _run_direction(one: Surface, other: Surface, corners: Sequence[Vec3]) -> Vec3:
    """Return the direction of the run, in the receiving plane, looking right, back or up."""
    if one.is_edge:
        along = one.frame.i
    elif other.is_edge:
        along = other.frame.i
    else:

        def extent(axis: Vec3) -> float:
            reach = [dot(p, axis) for p in corners]
            return max(reach) - min(reach)

        i, j = other.frame.i, other.frame.j
        along = i if extent(i) >= extent(j) - TOLERANCE else j
    return run_direction(sub(along, scaled(other.frame.k, dot(along, other.frame.k))))


def run_direction(along: Vec3) -> Vec3:
    """Return a direction or its opposite as a unit vector, looking right, back or up."""
    along = scaled(along, 1.0 / math.sqrt(dot(along, along)))
    size = max(abs(c) for c in along)
    leading = next(c for c in along if abs(c) >= size - 1e-6)
    return along if leading > 0 else scaled(along, -1.0)


def _settled(ring: Sequence[Vec2]) -> tuple[Vec2, ...]:
    """Return a ring counter-clockwise, from its leftmost, then lowest corner."""
    doubled = sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
    )
    turned = list(ring) if doubled > 0 else list(reversed(ring))
    start = min(range(len(turned)), key=lambda n: (round(turned[n][0], 6), round(turned[n][1], 6)))
    return tuple(turned[start:] + turned[:start])
