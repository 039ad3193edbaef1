"""What only pins hold, or a housing: parts that come off each other although every joint is made.

Every part, or group of parts that something draws together, may move by a little any way it
likes: shift and turn. Nothing may go into what it touches, a pin keeps its line, a part in a
groove keeps between its walls. A linear program over all these motions at once tells which
pins can be drawn out by some of them. Weight is left out: a lid may be lifted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kdkit.catalogue.work import has_mating, pulls_together
from kdkit.diagnostics import Path, Problem, warning
from kdkit.frames import Vec3, add, cross, dot, scaled
from kdkit.geometry.assembly import Contact
from kdkit.geometry.meetings import MEETINGS
from kdkit.inspect.inspection import Inspection

__all__ = ["check_pulled_apart"]

_METRE = 1000.0  # mm; turns are weighed against shifts over so much
_ALONG = 10.0  # mm between the two points of a pin that keep its line
_COMES = 0.5  # of 1, which the program gives to every pin that can come out
_SUNK = 1e-6
_ROUNDING = 1e-9  # of numbers of the size of 1
_NAMED = 4


@dataclass(frozen=True)
class _Pull:
    """What could come out: of ``butting``, along ``out`` at ``at``, in the product."""

    joint: str
    path: Path
    butting: str
    receiving: str
    at: Vec3
    out: Vec3


_Row = list[tuple[int, float]]
"""The numbers of a condition that are not nought, with their columns."""


@dataclass
class _Motions:
    """The conditions on small motions of the groups, row by row.

    A group's motion is a shift and a turn about the origin (in metres): six numbers; the last
    group has none, so that the product as a whole stays where it is.
    """

    number: dict[str, int]  # of a part's group
    groups: int
    at_least: list[_Row] = field(default_factory=list)  # row · motion ≥ 0
    nought: list[_Row] = field(default_factory=list)

    def row(self, one: str, other: str, at: Vec3, way: Vec3) -> _Row:
        """Return the row that gives how fast ``one`` moves off ``other`` along a way."""
        x, y, z = cross(scaled(at, 1 / _METRE), way)
        found = []
        for part, sign in ((one, 1.0), (other, -1.0)):
            if self.number[part] < self.groups - 1:
                first = 6 * self.number[part]
                found += [(first + n, sign * v) for n, v in enumerate((*way, x, y, z)) if v]
        return found

    def touch(self, contact: Contact, slab: Vec3) -> None:
        """Keep two parts out of each other, and one that stands in a groove in its walls."""
        frame, butting, receiving = contact.frame, contact.butting, contact.receiving
        for x, y in contact.polygon:
            at = frame.point_to_outer((x, y, 0.0))
            self.at_least.append(self.row(butting, receiving, at, frame.k))
        if contact.sunk <= _SUNK:
            return
        flat = abs(dot(slab, frame.k)) < 0.5
        walls = (slab,) if flat else (frame.i, frame.j)  # a rod's end stands in a bore
        for x in (min(p[0] for p in contact.polygon), max(p[0] for p in contact.polygon)):
            for deep in (0.0, -contact.sunk):
                at = frame.point_to_outer((x, 0.0, deep))
                self.nought += [self.row(butting, receiving, at, wall) for wall in walls]

    def pin(self, pull: _Pull, across: tuple[Vec3, Vec3]) -> None:
        """Keep a pin on its line, which it can only leave outwards."""
        for along in (0.0, _ALONG):
            at = add(pull.at, scaled(pull.out, along))
            self.nought += [self.row(pull.butting, pull.receiving, at, way) for way in across]
        self.at_least.append(self.row(pull.butting, pull.receiving, pull.at, pull.out))

    def all_held(self, pulls: Sequence[_Pull]) -> bool:
        """Tell whether what holds to both sides keeps every pull, without a linear program.

        So it is for a shelf between two sides. A pull stays if its row is a sum of rows that
        are nought: those of pins and walls, and those that stand there with both signs.
        """
        known = {_rounded(row) for row in self.at_least}
        both = [row for row in self.at_least if _rounded((n, -v) for n, v in row) in known]
        width = 6 * (self.groups - 1)
        nought = _dense([*self.nought, *both], width)
        wanted = _dense([self.row(p.butting, p.receiving, p.at, p.out) for p in pulls], width)
        weights = np.linalg.lstsq(nought.T, wanted.T, rcond=None)[0]
        return bool(np.abs(nought.T @ weights - wanted.T).max() < _ROUNDING)

    def coming_out(self, pulls: Sequence[_Pull]) -> list[bool]:
        """Tell of each pull whether some motion draws it out.

        Two motions that may be may both be, one after the other, so one program finds all: it
        makes each pull's speed as large as it goes, up to 1.
        """
        if self.all_held(pulls):
            return [False] * len(pulls)
        from scipy.optimize import linprog  # type: ignore[import-untyped]  # late, seldom needed

        free, count = 6 * (self.groups - 1), len(pulls)
        at_most: list[_Row] = [
            [*((n, -v) for n, v in self.row(p.butting, p.receiving, p.at, p.out)), (free + n, 1.0)]
            for n, p in enumerate(pulls)
        ]  # no faster than it comes out
        at_most += [[(n, -v) for n, v in row] for row in self.at_least]
        found = linprog(
            [0.0] * free + [-1.0] * count,
            A_ub=_matrix(at_most, free + count),
            b_ub=[0.0] * len(at_most),
            A_eq=_matrix(self.nought, free + count) if self.nought else None,
            b_eq=[0.0] * len(self.nought) if self.nought else None,
            bounds=[(None, None)] * free + [(0.0, 1.0)] * count,
            method="highs",
        )
        if not found.success:  # not to be decided: then nothing is said
            return [False] * count
        return [bool(value > _COMES) for value in found.x[free:]]


def _rounded(row: Iterable[tuple[int, float]]) -> tuple[tuple[int, float], ...]:
    """Return a row in a form by which it is found, whatever the last digits are."""
    return tuple((n, round(v, 9)) for n, v in row if abs(v) > _ROUNDING)


def _dense(rows: Sequence[_Row], width: int) -> NDArray[np.float64]:
    found = np.zeros((len(rows), width))
    for at, row in zip(found, rows, strict=True):
        for column, value in row:
            at[column] = value
    return found


def _matrix(rows: Sequence[_Row], width: int) -> object:
    """Return rows as a matrix in which the noughts take no room."""
    from scipy.sparse import csr_matrix  # type: ignore[import-untyped]

    filled = [(n, column, v) for n, row in enumerate(rows) for column, v in row]
    lines, columns, values = zip(*filled, strict=True) if filled else ((), (), ())
    return csr_matrix((values, (lines, columns)), shape=(len(rows), width))


def check_pulled_apart(inspection: Inspection) -> Iterable[Problem]:
    """Something draws each part to the rest: glue, screws, cams; pins alone do not.

    Source:
        Small motions of rigid bodies with one-sided contacts, as a linear program: computed.
    """
    names = [part.name for part in inspection.assembly.parts]
    held = _united(names, _drawn_together(inspection))
    pulls = [pull for pull, _ in _pulls(inspection) if held[pull.butting] != held[pull.receiving]]
    if not pulls:
        return
    heaviest = _heaviest(inspection, held)
    order = sorted(set(held.values()), key=lambda group: (group == heaviest, group))
    number = {name: order.index(held[name]) for name in names}
    motions = _Motions(number, len(order))
    for contact in inspection.assembly.contacts:
        if held[contact.butting] != held[contact.receiving]:
            motions.touch(contact, inspection.part(contact.butting).frame.k)
    for pull, across in _pulls(inspection):
        if held[pull.butting] != held[pull.receiving] and across is not None:
            motions.pin(pull, across)
    out = motions.coming_out(pulls)
    staying = [(p.butting, p.receiving) for p, comes in zip(pulls, out, strict=True) if not comes]
    pieces = _united(names, [*_drawn_together(inspection), *staying])
    yield from _told(inspection, pieces, [p for p, comes in zip(pulls, out, strict=True) if comes])


def _told(
    inspection: Inspection, pieces: dict[str, str], loose: Sequence[_Pull]
) -> Iterator[Problem]:
    """Tell of the pieces that come off, once for each entry of ``joints`` that puts them there.

    The heaviest piece stays, all others come off.
    """
    heaviest = _heaviest(inspection, pieces)
    told: dict[str, list[tuple[_Pull, str, str]]] = {}
    for pull in loose:
        for mine, other in ((pull.butting, pull.receiving), (pull.receiving, pull.butting)):
            if pieces[mine] != heaviest and pieces[mine] != pieces[other]:
                told.setdefault(pieces[mine], []).append((pull, mine, other))
    entries: dict[Path, list[list[tuple[_Pull, str, str]]]] = {}
    for found in told.values():
        entries.setdefault(found[0][0].path[:2], []).append(found)
    for together in entries.values():
        first, mine, other = together[0][0]
        ours = list(dict.fromkeys(m for found in together for _, m, _ in found))
        others = list(dict.fromkeys(o for _, _, o in together[0]))
        off = (
            "each be pulled off again" if len(together) > 1 else f"be pulled off {_listed(others)}"
        )
        yield warning(
            "pulls-apart",
            f"{_listed(ours)} can {off}: they are only put into each other, nothing draws them"
            " together",
            first.path,
            where=f"{mine} to {other}",
            help="add glue, or a fitting that draws them together (a cam, a screw, a bolt);"
            " weight is not counted on",
        )


def _drawn_together(inspection: Inspection) -> list[tuple[str, str]]:
    """Return the pairs of parts that some fitting between them holds to each other.

    A door on its hinges and a drawer on its runners are looked at where they hang and run.
    """
    return [
        (joint.butting, joint.receiving)
        for joint in inspection.joinery.joints
        if any(
            fitting is None or pulls_together(fitting)
            for fitting in map(inspection.fitting, joint.fittings)
        )
    ]


def _pulls(inspection: Inspection) -> Iterator[tuple[_Pull, tuple[Vec3, Vec3] | None]]:
    """Give what is only put into each other; for a pin, the two ways across it."""
    for joint in inspection.joinery.joints:
        if joint.contact.kind in MEETINGS:
            continue
        ends = (joint.butting, joint.receiving)
        for id in joint.fasteners:
            fastener = inspection.fasteners[id]
            fitting = inspection.fitting(fastener.fitting)
            if fitting is not None and fitting.holds == "pinned":
                frame = fastener.frame
                pull = _Pull(joint.name, fastener.path, *ends, frame.origin, frame.k)
                yield pull, (frame.i, frame.j)
        if not joint.fasteners and any(_is_let_in(inspection, key) for key in joint.fittings):
            frame = joint.contact.frame
            middle = frame.point_to_outer((joint.contact.run / 2, 0.0, 0.0))
            yield _Pull(joint.name, joint.path, *ends, middle, frame.k), None


def _is_let_in(inspection: Inspection, key: str) -> bool:
    """Tell whether a fitting lets one part stand in the other and holds it by nothing else.

    A back that slides into its groove is held by what the groove is in.
    """
    fitting = inspection.fitting(key)
    return fitting is not None and fitting.holds == "captured" and has_mating(fitting)


def _united(names: Sequence[str], pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Return for each name the first of those that pairs connect it with."""
    leader = {name: name for name in names}

    def find(name: str) -> str:
        while leader[name] != name:
            leader[name] = leader[leader[name]]
            name = leader[name]
        return name

    rank = {name: n for n, name in enumerate(names)}
    for one, other in pairs:
        first, second = sorted((find(one), find(other)), key=rank.__getitem__)
        leader[second] = first
    return {name: find(name) for name in names}


def _heaviest(inspection: Inspection, groups: dict[str, str]) -> str:
    weights: dict[str, float] = {}
    for name, group in groups.items():
        weights[group] = weights.get(group, 0.0) + inspection.masses.parts[name]
    return max(weights, key=lambda group: weights[group])


def _listed(names: Sequence[str]) -> str:
    rest = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {rest} more" if rest > 0 else "")
