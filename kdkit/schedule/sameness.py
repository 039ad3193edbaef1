"""Which parts are the same piece of board, and which are mirror images.

Two parts are the same when a rigid motion lays one on the other so that outline,
bands, cut-outs, bores and grooves coincide: as it lies, turned half round in its
plane, or turned over (then every bore of the face must be matched by one of the
back, so a drilled panel turned over is the same only if its drilling says so). A
square board without grain may also be turned by a quarter. Two parts are mirror
images when only a reflection does it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from kdkit.frames import Vec2, Vec3, add, scaled
from kdkit.joinery.placed import Bore, Groove, Slot
from kdkit.model.bevels import back_ring, face_ring
from kdkit.model.resolved import Part

__all__ = [
    "Motion",
    "Piece",
    "asymmetric_turns",
    "find_mirror",
    "is_same_piece",
    "part_size",
    "read_piece",
]

_NEAR = 0.02
"""Coordinates closer than this (mm) are the same: twice the stages' tolerance."""


def part_size(part: Part) -> tuple[float, float]:
    """Return length and width of the outline's bounding rectangle."""
    return (max(p[0] for p in part.outline), max(p[1] for p in part.outline))


@dataclass(frozen=True)
class Motion:
    """A symmetry of the box 0…length × 0…width × −thickness…0.

    First x and y change places (``swap``), then each axis may be reversed.
    """

    swap: bool
    flip_x: bool
    flip_y: bool
    flip_z: bool

    @property
    def is_rigid(self) -> bool:
        """True for a turn, False for a reflection."""
        return (self.swap + self.flip_x + self.flip_y + self.flip_z) % 2 == 0

    def point(self, p: Vec3, size: tuple[float, float, float]) -> Vec3:
        """Return where a point of the box goes; ``size`` is length, width, thickness."""
        x, y, z = (p[1], p[0], p[2]) if self.swap else p
        return (
            size[0] - x if self.flip_x else x,
            size[1] - y if self.flip_y else y,
            -size[2] - z if self.flip_z else z,
        )


_MOTIONS = tuple(
    Motion(swap, x, y, z)
    for swap, z, x, y in product((False, True), (False, True), (False, True), (False, True))
)
"""Unswapped and face-up ones first, so that the plainest match is found first."""


@dataclass(frozen=True)
class _Feature:
    """Something made in a part: a kind with figures, at points (in order or not)."""

    kind: str
    figures: tuple[float, ...]
    points: tuple[Vec3, ...]
    in_order: bool = False


@dataclass(frozen=True)
class Piece:
    """What the saw and the drill make of one part, ready to be compared."""

    part: Part
    size: tuple[float, float, float]
    stuff: tuple[str, str | None, str | None, float]
    features: tuple[_Feature, ...]

    def near_keys(self) -> tuple[object, ...]:
        """Return keys to look the piece up by: two pieces of one shape share at least one.

        What shares none differs in stuff, in the kinds of what is made in it, or in length
        plus width, and need not be compared at all.
        """
        kinds = tuple(feature.kind for feature in self.features)
        cell = math.floor(self.size[0] + self.size[1])
        return tuple((self.stuff, kinds, near) for near in (cell - 1, cell, cell + 1))

    @property
    def key(self) -> object:
        """Return the key that the piece is kept under."""
        return self.near_keys()[1]


def read_piece(
    part: Part, bores: Sequence[Bore], grooves: Sequence[Groove], slots: Sequence[Slot] = ()
) -> Piece:
    """Return the comparable form of a part with its own bores, grooves and slots."""
    length, width = part_size(part)
    features = [*_outline_features(part), *(_bore_feature(b) for b in bores)]
    features += [_groove_feature(part, groove) for groove in grooves]
    features += [_slot_feature(slot) for slot in slots]
    return Piece(
        part=part,
        size=(length, width, part.thickness),
        stuff=(part.kind, part.board, part.material, part.mass or 0.0),
        features=tuple(sorted(features, key=lambda f: (f.kind, f.figures, f.points))),
    )


def is_same_piece(one: Piece, other: Piece) -> bool:
    """Tell whether a turn lays one part on the other."""
    return _find_motion(one, other, rigid=True) is not None


def find_mirror(one: Piece, other: Piece) -> Motion | None:
    """Return the reflection that lays one part on the other, if there is one."""
    return _find_motion(one, other, rigid=False)


def asymmetric_turns(piece: Piece) -> tuple[Motion, ...]:
    """Return the turns that keep the box of a part in its place but change the part.

    In each of them it would fill its place and yet be put in wrongly.
    """
    length, width, thickness = piece.size
    return tuple(
        motion
        for motion in _MOTIONS
        if motion.is_rigid
        and motion != _AS_IT_LIES
        and (not motion.swap or abs(length - width) < _NEAR)
        and not _matches(piece, piece, motion, (length, width, thickness))
    )


_AS_IT_LIES = Motion(False, False, False, False)


def _outline_features(part: Part) -> list[_Feature]:
    bands = part.bands or (0.0,) * len(part.outline)
    features: list[_Feature] = []
    if part.bevels:  # an edge is known by its corners on face and back
        front, rear, t = face_ring(part), back_ring(part), part.thickness
        for n in range(len(front)):
            m = (n + 1) % len(front)
            corners = [
                (*p, z) for ring, z in ((front, 0.0), (rear, -t)) for p in (ring[n], ring[m])
            ]
            features.append(_Feature("bevelled edge", (bands[n],), tuple(corners)))
    for n, start in enumerate(part.outline if not part.bevels else ()):
        end = part.outline[(n + 1) % len(part.outline)]
        features.append(_Feature("edge", (bands[n],), (_flat(start), _flat(end))))
    for hole in part.cutouts:
        features.append(_Feature("cut-out", (), tuple(_flat(p) for p in hole)))
    for round_hole in part.round_cutouts:
        features.append(_Feature("round", (round_hole.diameter,), (_flat(round_hole.centre),)))
    middle = -part.thickness / 2
    return [
        f
        if f.kind == "bevelled edge"
        else _Feature(f.kind, f.figures, tuple((p[0], p[1], middle) for p in f.points))
        for f in features
    ]


def _flat(p: Vec2) -> Vec3:
    return (p[0], p[1], 0.0)


def _bore_feature(bore: Bore) -> _Feature:
    end = add(bore.mouth, scaled(bore.into, bore.depth))
    kind = "through" if bore.through else "blind"
    return _Feature(
        f"{kind} {bore.stage}", (bore.diameter,), (bore.mouth, end), in_order=not bore.through
    )


def _slot_feature(slot: Slot) -> _Feature:
    ends = [
        add(slot.mouth, scaled(slot.along, side * (slot.length - slot.width) / 2))
        for side in (-1.0, 1.0)
    ]
    bottom = add(slot.mouth, scaled(slot.into, slot.depth))
    figures = (slot.width, slot.length, slot.disc or 0.0)
    return _Feature(f"slot {slot.stage}", figures, (*ends, bottom))


def _groove_feature(part: Part, groove: Groove) -> _Feature:
    if groove.surface.startswith("edge:"):
        start, along, inward = edge_frame(part, int(groove.surface[5:]))
        mouth = [(start[0] + along[0] * s, start[1] + along[1] * s, z) for s, z in groove.polygon]
        floor = [
            (x + inward[0] * groove.depth, y + inward[1] * groove.depth, z) for x, y, z in mouth
        ]
    else:
        top = 0.0 if groove.surface == "face" else -part.thickness
        deep = -groove.depth if groove.surface == "face" else groove.depth
        mouth = [(x, y, top) for x, y in groove.polygon]
        floor = [(x, y, top + deep) for x, y in groove.polygon]
    return _Feature("groove", (), tuple(mouth + floor))


def edge_frame(part: Part, n: int) -> tuple[Vec2, Vec2, Vec2]:
    """Return start, direction and inward normal of outline segment n, in (x, y)."""
    start = part.outline[n]
    end = part.outline[(n + 1) % len(part.outline)]
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = (dx * dx + dy * dy) ** 0.5
    along = (dx / length, dy / length)
    return start, along, (-along[1], along[0])


def _find_motion(one: Piece, other: Piece, *, rigid: bool) -> Motion | None:
    if one.stuff != other.stuff or len(one.features) != len(other.features):
        return None
    if [f.kind for f in one.features] != [f.kind for f in other.features]:
        return None
    for motion in _MOTIONS:
        if motion.is_rigid is not rigid or (motion.swap and one.part.grain_along_x):
            continue
        a, b, t = one.size
        size = (b, a, t) if motion.swap else (a, b, t)
        if all(abs(m - n) < _NEAR for m, n in zip(size, other.size, strict=True)) and _matches(
            one, other, motion, size
        ):
            return motion
    return None


def _matches(one: Piece, other: Piece, motion: Motion, size: tuple[float, float, float]) -> bool:
    open_features = list(other.features)
    for feature in one.features:
        points = tuple(motion.point(p, size) for p in feature.points)
        for n, candidate in enumerate(open_features):
            if _is_like(feature, points, candidate):
                del open_features[n]
                break
        else:
            return False
    return True


def _is_like(feature: _Feature, points: tuple[Vec3, ...], candidate: _Feature) -> bool:
    if feature.kind != candidate.kind or len(points) != len(candidate.points):
        return False
    if any(abs(a - b) >= _NEAR for a, b in zip(feature.figures, candidate.figures, strict=True)):
        return False
    if feature.in_order:
        return all(_near(p, q) for p, q in zip(points, candidate.points, strict=True))
    return all(any(_near(p, q) for q in candidate.points) for p in points) and all(
        any(_near(p, q) for p in points) for q in candidate.points
    )


def _near(p: Vec3, q: Vec3) -> bool:
    return all(abs(a - b) < _NEAR for a, b in zip(p, q, strict=True))
