"""Panels that go on wrongly and take the hardware all the same.

A panel is looked at in every way in which its outline fits its own place or that of
another panel of the board: turned end for end, face for back, or both at once. A wrong
way looks right when every bore and groove that a joint needs there meets one of the
panel's own. It is no risk if nothing at all is different then.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from kdkit.diagnostics import Problem, advice
from kdkit.frames import Vec2, Vec3
from kdkit.geometry.surfaces import surface_frame
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import Bore, Groove
from kdkit.model.panels.bevels import back_ring, face_ring
from kdkit.model.resolved import Part
from kdkit.parts.cut_boxes import groove_plan
from kdkit.parts.size import part_size
from kdkit.parts.words import edge_side

__all__ = ["check_panels_fit_wrongly"]

_FITS = 0.5  # mm; outlines that differ by less look the same. Common practice, no source.
_MEETS = 1.0  # mm by which a bore may miss and still take its pin: common practice, no source

_TURNS = (
    ("", (1, 1, 1)),
    ("end for end", (-1, -1, 1)),
    ("face for back about its length", (1, -1, -1)),
    ("face for back about its width", (-1, 1, -1)),
)
"""The ways a rectangular board fits its own outline: signs of x, y and z about its middle."""


@dataclass(frozen=True)
class _Way:
    """A panel set in some panel's place: a half turn about an axis through the middle."""

    words: str
    signs: tuple[int, int, int]
    part: Part
    place: Part

    def point(self, p: Vec3) -> Vec3:
        middle, target = _middle(self.part), _middle(self.place)
        x, y, z = (
            s * (c - m) + t for s, c, m, t in zip(self.signs, p, middle, target, strict=True)
        )
        return (x, y, z)

    def vector(self, v: Vec3) -> Vec3:
        x, y, z = (s * c for s, c in zip(self.signs, v, strict=True))
        return (x, y, z)


@dataclass(frozen=True)
class _Hole:
    """What a bore takes out: its mouth, the way in, diameter and depth."""

    mouth: Vec3
    into: Vec3
    diameter: float
    depth: float
    through: bool

    @classmethod
    def of(cls, bore: Bore, way: _Way | None = None) -> _Hole:
        mouth, into = bore.mouth, bore.into
        if way is not None:
            mouth, into = way.point(mouth), way.vector(into)
        return cls(mouth, into, bore.diameter, bore.depth, bore.through)

    def takes(self, needed: _Hole) -> bool:
        """Tell whether what goes into the needed hole goes into this one as well."""
        if abs(self.diameter - needed.diameter) > 0.5:
            return False
        if self.through and needed.through:
            far = _along(needed.mouth, needed.into, needed.depth)
            return _near(self.mouth, needed.mouth) or _near(self.mouth, far)
        deep = self.depth >= needed.depth - _MEETS
        return deep and _near(self.mouth, needed.mouth) and _near(self.into, needed.into, 0.02)


def check_panels_fit_wrongly(inspection: Inspection) -> Iterable[Problem]:
    """A panel that takes the hardware in a wrong place or the wrong way round."""
    slotted = {slot.part for slot in inspection.joinery.slots}  # a biscuit finds its place
    panels = [
        part
        for part in inspection.assembly.parts
        if part.kind == "panel" and part.name not in slotted and _joint_cuts(inspection, part)
    ]
    numbers: dict[object, int] = {}
    kinds = {
        part.name: numbers.setdefault(_kind(inspection, part), len(numbers)) for part in panels
    }
    flips: dict[tuple[str, tuple[str, ...]], list[Part]] = {}
    sound: set[int] = set()
    for part in panels:
        if kinds[part.name] in sound:
            continue
        risk = next(_risks(inspection, part, part), None)
        if risk is not None:
            flips.setdefault(risk, []).append(part)
        else:
            sound.add(kinds[part.name])
    for (turn, wrong), parts in flips.items():
        names = " and ".join(part.name for part in parts)
        yield advice(
            "panel-fits-wrongly",
            f"{names} can also be put in turned {turn}, and every joint still closes",
            parts[0].path,
            where=f"then {'; '.join(wrong)}",
            help=_cure(inspection, parts[0]),
        )
    for parts, wrong in _swapped(inspection, panels, kinds):
        names = f"{', '.join(part.name for part in parts[:-1])} and {parts[-1].name}"
        yield advice(
            "panel-fits-wrongly",
            f"{names} fit in each other's place, and every joint still closes",
            parts[0].path,
            where=f"then {'; '.join(wrong)}",
            help=f"mark them with their letters; or {_shift(inspection, parts[0])} in one of "
            "them only",
        )


def _kind(inspection: Inspection, part: Part) -> object:
    """What tells a panel from others when it is put in: shape, bands, bores and grooves.

    Panels of one kind fit in each other's place and are right there.
    """
    bores = sorted(
        (
            tuple(round(c, 3) for c in (*b.mouth, *b.into, b.diameter, b.depth)),
            b.through,
            _is_of_joint(inspection, b),
        )
        for b in inspection.bores.get(part.name, ())
    )
    grooves = sorted(
        (g.surface, round(g.depth, 3), tuple((round(x, 3), round(y, 3)) for x, y in g.polygon))
        for g in inspection.grooves.get(part.name, ())
    )
    shape = (part.board, part.thickness, part.outline, part.bevels, part.bands, part.edge_sides)
    return (shape, part.cutouts, part.round_cutouts, tuple(bores), tuple(grooves))


def _pairs(panels: Sequence[Part]) -> Iterator[tuple[Part, Part]]:
    """Every two panels of one board and about one length, in the order of trying them all."""
    cells: dict[tuple[str | None, int], list[int]] = {}
    for n, part in enumerate(panels):
        cells.setdefault((part.board, math.floor(_size(part)[0])), []).append(n)
    for n, a in enumerate(panels):
        cell = math.floor(_size(a)[0])
        near = (m for near in (-1, 0, 1) for m in cells.get((a.board, cell + near), ()) if m > n)
        for m in sorted(near):
            yield a, panels[m]


def _swapped(
    inspection: Inspection, panels: Sequence[Part], kinds: Mapping[str, int]
) -> list[tuple[list[Part], tuple[str, ...]]]:
    """Panels that fit in each other's place and are wrong there, those wrong alike together."""
    groups: list[tuple[list[Part], tuple[str, ...]]] = []
    no_risk: set[tuple[int, int]] = set()
    for a, b in _pairs(panels):
        kind = (kinds[a.name], kinds[b.name])
        if kind[0] == kind[1] or kind in no_risk:
            continue
        if not _same_outline_size(a, b):
            no_risk.add(kind)
            continue
        there, back = list(_fits(inspection, a, b)), list(_fits(inspection, b, a))
        found = [_differences(inspection, way) for way in (*there, *back)]
        if not there or not back or not all(found):
            no_risk.add(kind)  # one of the ways is right, or one of the two does not go in
            continue
        fewest = min(found, key=lambda wrong: len(wrong))
        for parts, wrong in groups:
            if wrong == fewest and (a in parts or b in parts):
                parts += [part for part in (a, b) if part not in parts]
                break
        else:
            groups.append(([a, b], fewest))
    return groups


def _risks(
    inspection: Inspection, part: Part, place: Part
) -> Iterator[tuple[str, tuple[str, ...]]]:
    for way in _fits(inspection, part, place):
        wrong = _differences(inspection, way)
        if wrong:
            yield way.words, wrong


def _fits(inspection: Inspection, part: Part, place: Part) -> Iterator[_Way]:
    """The ways, other than its own, in which a part takes the joints of a place."""
    for words, signs in _TURNS:
        way = _Way(words, signs, part, place)
        if part is place and not words:
            continue
        if not _same_shape(way):
            continue
        bores = [_Hole.of(bore, way) for bore in inspection.bores.get(part.name, ())]
        needed = [
            _Hole.of(bore)
            for bore in inspection.bores.get(place.name, ())
            if _is_of_joint(inspection, bore)
        ]
        if not all(any(own.takes(hole) for own in bores) for hole in needed):
            continue
        grooves = [_box(part, g, way) for g in inspection.grooves.get(part.name, ())]
        asked = [_box(place, g) for g in inspection.grooves.get(place.name, ())]
        if all(any(_same_box(box, own) for own in grooves) for box in asked):
            yield way


def _differences(inspection: Inspection, way: _Way) -> tuple[str, ...]:
    """What is wrong then, in words; () if nothing is."""
    part, place = way.part, way.place
    found = []
    wrong_band = _wrong_band(way)
    if wrong_band is not None:
        found.append(wrong_band)
    bores = [_Hole.of(bore, way) for bore in inspection.bores.get(part.name, ())]
    missed = [
        bore
        for bore in inspection.bores.get(place.name, ())
        if not any(own.takes(_Hole.of(bore)) for own in bores)
    ]
    if missed:
        purposes = sorted({_purpose(inspection, bore) for bore in missed})
        found.append(f"there are no bores for {', '.join(purposes)}")
    kept = [_Hole.of(bore) for bore in inspection.bores.get(place.name, ())]
    if not missed and any(not any(own.takes(hole) for own in kept) for hole in bores):
        found.append("bores are seen that belong elsewhere")
    grooves = [_box(place, g) for g in inspection.grooves.get(place.name, ())]
    for groove in inspection.grooves.get(part.name, ()):
        if not any(_same_box(_box(part, groove, way), own) for own in grooves):
            found.append("a groove is seen that belongs elsewhere")
            break
    return tuple(found)


def _wrong_band(way: _Way) -> str | None:
    """Which edge would lack its band."""
    part, place = way.part, way.place
    for n, (a, b) in enumerate(_segments(place.outline)):
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, 0.0)
        for m, (c, d) in enumerate(_segments(part.outline)):
            own = way.point(((c[0] + d[0]) / 2, (c[1] + d[1]) / 2, 0.0))
            if abs(own[0] - middle[0]) < _MEETS and abs(own[1] - middle[1]) < _MEETS:
                wanted = place.bands[n] if n < len(place.bands) else 0.0
                has = part.bands[m] if m < len(part.bands) else 0.0
                if wanted > 0 and abs(wanted - has) > 0.05:
                    side = edge_side(place, n)
                    bare = "is bare" if has == 0 else "has the wrong band"
                    return f"the {side} edge {bare}" if side else f"edge {n + 1} {bare}"
    return None


def _cure(inspection: Inspection, part: Part) -> str:
    sides = [
        side for side, band in zip(part.edge_sides, part.bands, strict=False) if band > 0 and side
    ]
    mark = f"mark its {sides[0]} edge" if len(sides) == 1 else "mark its right way up"
    return f"{mark}; or {_shift(inspection, part)}, in both parts of the joint"


def _shift(inspection: Inspection, part: Part) -> str:
    """The hole to move: a pin's, because a pin that misses keeps the joint open."""
    bores = [b for b in inspection.bores.get(part.name, ()) if _is_of_joint(inspection, b)]
    if not bores:
        return "give its groove another distance from one edge"
    pins = [b for b in bores if "dowel" in b.purpose] or bores
    fasteners = inspection.fasteners
    bore = min(pins, key=lambda b: (b.fastener or "", b.mouth))
    fitting = fasteners[bore.fastener or ""].fitting
    return f"move one {fitting.split('[')[0]} 10 mm out of the symmetry"


def _joint_cuts(inspection: Inspection, part: Part) -> bool:
    """Whether some joint has a bore or groove in the part that says where it belongs."""
    return bool(inspection.grooves.get(part.name)) or any(
        _is_of_joint(inspection, bore) for bore in inspection.bores.get(part.name, ())
    )


def _is_of_joint(inspection: Inspection, bore: Bore) -> bool:
    fastener = inspection.fasteners.get(bore.fastener or "")
    return fastener is not None and fastener.butting is not None


def _purpose(inspection: Inspection, bore: Bore) -> str:
    fastener = inspection.fasteners.get(bore.fastener or "")
    if fastener is None:
        return bore.purpose
    return f"{fastener.joint} ({inspection.joinery.fittings[fastener.fitting].title})"


def _same_outline_size(a: Part, b: Part) -> bool:
    return all(abs(p - q) < _FITS for p, q in zip(_size(a), _size(b), strict=True))


def _same_shape(way: _Way) -> bool:
    """Whether outline and openings of the part, so turned, are those of the place."""
    part, place = way.part, way.place
    if not _same_outline_size(part, place) or len(part.outline) != len(place.outline):
        return False
    if (part.bevels or place.bevels) and not _same_corners(way):
        return False
    rings = [(part.outline, place.outline)]
    if len(part.cutouts) != len(place.cutouts):
        return False
    if len(part.round_cutouts) != len(place.round_cutouts):
        return False
    if not all(_same_ring(way, own, there) for own, there in rings):
        return False
    if not all(any(_same_ring(way, own, there) for there in place.cutouts) for own in part.cutouts):
        return False
    return all(
        any(
            abs(own.diameter - there.diameter) < _FITS
            and _near(way.point((*own.centre, 0.0))[:2], there.centre)
            for there in place.round_cutouts
        )
        for own in part.round_cutouts
    )


def _same_corners(way: _Way) -> bool:
    """Whether face and back of the part, so turned, have the corners of the place."""
    there = [p for ring, z in _broad_sides(way.place) for p in ((x, y, z) for x, y in ring)]
    return all(
        any(math.dist(way.point((x, y, z)), p) < _FITS for p in there)
        for ring, z in _broad_sides(way.part)
        for x, y in ring
    )


def _broad_sides(part: Part) -> tuple[tuple[Sequence[Vec2], float], ...]:
    return ((face_ring(part), 0.0), (back_ring(part), -part.thickness))


def _same_ring(way: _Way, own: Sequence[Vec2], there: Sequence[Vec2]) -> bool:
    turned = [way.point((x, y, 0.0)) for x, y in own]
    return len(own) == len(there) and all(
        any(_near(p[:2], corner) for corner in there) for p in turned
    )


def _size(part: Part) -> Vec3:
    return (*part_size(part), part.thickness)


def _middle(part: Part) -> Vec3:
    length, width, thickness = _size(part)
    return (length / 2, width / 2, -thickness / 2)


def _segments(ring: Sequence[Vec2]) -> Iterator[tuple[Vec2, Vec2]]:
    return zip(ring, (*ring[1:], ring[0]), strict=True)


def _box(part: Part, groove: Groove, way: _Way | None = None) -> tuple[Vec3, Vec3]:
    """The box around what a groove takes out, in the panel frame of the place."""
    frame, plan = surface_frame(part, groove.surface), groove_plan(groove)
    corners = [frame.point_to_outer((x, y, z)) for x, y in plan for z in (0.0, -groove.depth)]
    if way is not None:
        corners = [way.point(c) for c in corners]
    xs, ys, zs = zip(*corners, strict=True)
    return (min(xs), min(ys), min(zs)), (max(xs), max(ys), max(zs))


def _same_box(a: tuple[Vec3, Vec3], b: tuple[Vec3, Vec3]) -> bool:
    return _near(a[0], b[0]) and _near(a[1], b[1])


def _near(a: Sequence[float], b: Sequence[float], gap: float = _MEETS) -> bool:
    return all(abs(p - q) < gap for p, q in zip(a, b, strict=True))


def _along(p: Vec3, way: Vec3, length: float) -> Vec3:
    return (p[0] + way[0] * length, p[1] + way[1] * length, p[2] + way[2] * length)
