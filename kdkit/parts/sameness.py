"""Which parts are the same piece of board, and which are mirror images.

Two parts are the same when a rigid motion lays one on the other so that outline,
bands, cut-outs, bores and grooves coincide: as it lies, turned half round in its
plane, or turned over (then every bore of the face must be matched by one of the
back, so a drilled panel turned over is the same only if its drilling says so). A
square board without grain may also be turned by a quarter. Two parts are mirror
images when only a reflection does it. Parts of one size look the same from afar and are
told in one step; which of them fit in each other's place is a question of the joints, for
the checks (``inspect.wrong_ways``).

Parts are looked up by what is made in them. 1 001 panels with 23 452 bores, no two cabinets
alike, take 5.9 s of one processor from shapes to schedules (contacts 0.7, joinery 1.3, all
checks with the advice on mistakes 3.4, schedules 0.6); from 252 to 2 002 panels time grows as
n^1.05 (``tests/bench/bench_workshop.py``). Comparing each panel with each letter, and each
pair for mistakes, was quadratic.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from kdkit.frames import Vec2, Vec3, add, scaled
from kdkit.geometry.surfaces import surface_frame
from kdkit.model.panels.bevels import back_ring, face_ring
from kdkit.model.resolved import Part
from kdkit.parts.cut_boxes import groove_plan
from kdkit.parts.cuts import Bore, Cuts, Groove, Slot, by_part
from kdkit.parts.size import face_area, part_size

__all__ = [
    "Motion",
    "Workpiece",
    "asymmetric_turns",
    "find_mirror",
    "group_workpieces",
    "is_same_piece",
    "number_pieces",
    "of_one_size",
    "read_workpiece",
]

_NEAR = 0.02
"""Coordinates closer than this (mm) are the same: twice the stages' tolerance."""


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
class Workpiece:
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


def read_workpiece(
    part: Part, bores: Sequence[Bore], grooves: Sequence[Groove], slots: Sequence[Slot] = ()
) -> Workpiece:
    """Return the comparable form of a part with its own bores, grooves and slots."""
    length, width = part_size(part)
    features = [*_outline_features(part), *(_bore_feature(b) for b in bores)]
    features += [_groove_feature(part, groove) for groove in grooves]
    features += [_slot_feature(slot) for slot in slots]
    return Workpiece(
        part=part,
        size=(length, width, part.thickness),
        stuff=(part.kind, part.board, part.material, part.mass or 0.0),
        features=tuple(sorted(features, key=lambda f: (f.kind, f.figures, f.points))),
    )


def group_workpieces(parts: Iterable[Part], cuts: Cuts) -> list[list[Workpiece]]:
    """Return the pieces, the same ones together, each group where its first part comes."""
    bores, grooves, slots = by_part(cuts.bores), by_part(cuts.grooves), by_part(cuts.slots)
    groups: list[list[Workpiece]] = []
    kept: dict[object, list[int]] = {}
    for part in parts:
        name = part.name
        piece = read_workpiece(
            part, bores.get(name, ()), grooves.get(name, ()), slots.get(name, ())
        )
        near = sorted(n for key in piece.near_keys() for n in kept.get(key, ()))
        same = next((n for n in near if is_same_piece(groups[n][0], piece)), None)
        if same is not None:
            groups[same].append(piece)
            continue
        kept.setdefault(piece.key, []).append(len(groups))
        groups.append([piece])
    return groups


def number_pieces(parts: Iterable[Part], cuts: Cuts) -> Mapping[str, int]:
    """Return a number for each part, the same for parts that are the same piece."""
    groups = enumerate(group_workpieces(parts, cuts))
    return {piece.part.name: n for n, group in groups for piece in group}


def of_one_size(part: Part) -> tuple[object, ...]:
    """Return what a part shares with all that look like it from afar, whatever is bored in them.

    Mirror images are among them; a part of a unit and one of none are not alike.
    """
    size = sorted(round(s, 2) for s in part_size(part))
    stuff = (part.kind, part.material or part.title, round(part.thickness, 2))
    return (*stuff, *size, round(face_area(part), 0), part.unit == "")


def is_same_piece(one: Workpiece, other: Workpiece) -> bool:
    """Tell whether a turn lays one part on the other."""
    return _find_motion(one, other, rigid=True) is not None


def find_mirror(one: Workpiece, other: Workpiece) -> Motion | None:
    """Return the reflection that lays one part on the other, if there is one."""
    return _find_motion(one, other, rigid=False)


def asymmetric_turns(piece: Workpiece) -> tuple[Motion, ...]:
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
    frame, plan = surface_frame(part, groove.surface), groove_plan(groove)
    corners = [frame.point_to_outer((x, y, z)) for z in (0.0, -groove.depth) for x, y in plan]
    return _Feature("groove", (), tuple(corners))


def _find_motion(one: Workpiece, other: Workpiece, *, rigid: bool) -> Motion | None:
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


def _matches(
    one: Workpiece, other: Workpiece, motion: Motion, size: tuple[float, float, float]
) -> bool:
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
