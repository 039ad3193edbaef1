"""What does not hold together, although every joint is made: it comes off, slides or turns.

Every part, or group of parts that something holds stiff, may move by a little any way it
likes: shift and turn. Nothing may go into what it touches, be it the wall of an opening or a
round part, a pin keeps its line, a part in a groove keeps between its walls, what one screw
alone holds may turn about it. ``small_motions``
tells which groups some motion moves. Weight is left out: a lid may be lifted; what says that
it lies loose, or that nothing holds it, is not looked at. A drawer's box is looked at by
itself, since its runners let it go.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from kdkit.catalogue.work import has_mating, pulls_together
from kdkit.diagnostics import Path, Problem, warning
from kdkit.frames import Vec3, add, cross, dot, norm, scaled, sub
from kdkit.geometry.assembly import Contact
from kdkit.geometry.meetings import MEETINGS
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.drawers import is_runner
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.small_motions import Motions, Twist
from kdkit.joinery.placed import Fastener, PlacedJoint
from kdkit.units import mm_text

__all__ = ["check_pulled_apart", "twist_words"]

_ALONG = 10.0  # mm between the two points of a pin that keep its line
_SUNK = 1e-6
_NAMED = 4
_ON_LINE = 1.0  # mm off one line within which screws are as one
_MOST_BODIES = 150  # that are looked at together: the work grows with their cube
_DRIVEN = {"drive", "turn", "screw-in", "nail"}


@dataclass(frozen=True)
class _Pull:
    """What could come out: of ``butting``, along ``out`` at ``at``, in the product."""

    joint: str
    path: Path
    butting: str
    receiving: str
    at: Vec3
    out: Vec3


@dataclass(frozen=True)
class _Bodies:
    """What moves as one in a piece that runners or nothing connect with the rest."""

    number: dict[str, int]  # of a part's group; the heaviest group has the last one
    names: tuple[tuple[str, ...], ...]


def check_pulled_apart(inspection: Inspection) -> Iterable[Problem]:
    """Something holds each part to the rest: glue, screws, cams; pins alone do not.

    Source:
        Small motions of rigid bodies with one-sided contacts, as linear programs: computed.
    """
    names = [part.name for part in inspection.assembly.parts]
    pieces = _united(names, [(j.butting, j.receiving) for j in _joints(inspection)])
    held = _united(names, _held_stiff(inspection))
    for piece in dict.fromkeys(pieces.values()):
        within = [name for name in names if pieces[name] == piece]
        yield from _look_at(inspection, within, {name: held[name] for name in within})


def _look_at(
    inspection: Inspection, within: Sequence[str], held: dict[str, str]
) -> Iterator[Problem]:
    """Look at one piece: the bodies in it, and what moves them."""
    masses = inspection.masses.parts
    groups: dict[str, list[str]] = {}
    for name in within:
        groups.setdefault(held[name], []).append(name)
    if not 1 < len(groups) <= _MOST_BODIES:
        return
    # the heaviest stays where it is; of two alike, the first
    order = sorted(groups.values(), key=lambda g: -sum(masses[name] for name in g))[::-1]
    bodies = _Bodies(
        {name: n for n, group in enumerate(order) for name in group},
        tuple(tuple(group) for group in order),
    )
    motions = Motions(len(order))
    pulls = _add_conditions(inspection, bodies, motions)
    moving = set(motions.moving())
    if not moving:
        return
    told = set()
    comes = [pull for n, pull in pulls if motions.opening[n]]
    if comes:
        staying = [(p.butting, p.receiving) for n, p in pulls if not motions.opening[n]]
        pieces = _united(within, [*held.items(), *staying])
        for problem, off in _told(inspection, pieces, comes):
            told |= {bodies.number[name] for name in off}
            first = bodies.number[off[0]]
            yield replace(
                problem, message=problem.message + _how(inspection, bodies, motions, first)
            )
    yield from _loose(inspection, bodies, motions, sorted(moving - told))


def _add_conditions(
    inspection: Inspection, bodies: _Bodies, motions: Motions
) -> list[tuple[int, _Pull]]:
    """Write down what touches, pins and single screws allow; return what could be pulled out.

    Each pull comes with its row among those that may open.
    """
    number = bodies.number
    for contact in inspection.assembly.contacts:
        one, other = number.get(contact.butting), number.get(contact.receiving)
        if one is not None and other is not None and one != other:
            _touch(motions, contact, one, other, inspection.part(contact.butting).frame.k)
    for touch in inspection.inner_touches:
        one, other = number.get(touch.one), number.get(touch.other)
        if one is not None and other is not None and one != other:
            motions.at_least += [motions.row(one, other, at, touch.way) for at in touch.points]
    found = []
    for pull, across in _pulls(inspection):
        one, other = number.get(pull.butting), number.get(pull.receiving)
        if one is None or other is None or one == other:
            continue
        for along in (0.0, _ALONG) if across else ():
            at = add(pull.at, scaled(pull.out, along))
            motions.nought += [motions.row(one, other, at, way) for way in across or ()]
        found.append((len(motions.at_least), pull))
        motions.at_least.append(motions.row(one, other, pull.at, pull.out))
    for joint in _joints(inspection):
        one, other = number.get(joint.butting), number.get(joint.receiving)
        driven = _driven(inspection, joint)
        if one is None or other is None or one == other or not driven:
            continue
        frame = driven[0].frame
        still = (0.0, 0.0, 0.0)
        motions.nought += [
            motions.row(one, other, frame.origin, w) for w in (frame.i, frame.j, frame.k)
        ]
        motions.nought += [
            motions.row(one, other, frame.origin, still, turn=w) for w in (frame.i, frame.j)
        ]
    return found


def _touch(motions: Motions, contact: Contact, one: int, other: int, slab: Vec3) -> None:
    """Keep two parts out of each other, and one that stands in a groove in its walls."""
    frame = contact.frame
    for x, y in contact.polygon:
        at = frame.point_to_outer((x, y, 0.0))
        motions.at_least.append(motions.row(one, other, at, frame.k))
    if contact.sunk <= _SUNK:
        return
    flat = abs(dot(slab, frame.k)) < 0.5
    walls = (slab,) if flat else (frame.i, frame.j)  # a rod's end stands in a bore
    for x in (min(p[0] for p in contact.polygon), max(p[0] for p in contact.polygon)):
        for deep in (0.0, -contact.sunk):
            at = frame.point_to_outer((x, 0.0, deep))
            motions.nought += [motions.row(one, other, at, wall) for wall in walls]


def _loose(
    inspection: Inspection, bodies: _Bodies, motions: Motions, moving: Sequence[int]
) -> Iterator[Problem]:
    """Tell of groups that slide or turn though no pin comes out."""
    for body in moving:
        names = bodies.names[body]
        how = _how(inspection, bodies, motions, body)
        joint = next(
            (j for j in _joints(inspection) if {j.butting, j.receiving} & set(names)), None
        )
        if how and joint is not None:
            yield warning(
                "moves-freely",
                f"{_listed(names)} can move although every joint is made{how}",
                joint.path,
                where=f"{joint.butting} to {joint.receiving}",
                help="add glue, a second screw, or a pin beside the screw; close the groove at its"
                " end. What only lies there says `loose: true`",
            )


def _how(inspection: Inspection, bodies: _Bodies, motions: Motions, body: int) -> str:
    """Return how a body moves, as a sentence goes on: ": it comes off upwards"."""
    twist = motions.twist(body) if body < motions.bodies - 1 else None
    if twist is None:
        return ""
    return f"; {bodies.names[body][0]} {twist_words(twist, inspection, bodies.names[body])}"


_WAYS = ("to the right", "to the back", "upwards", "to the left", "to the front", "downwards")
_EDGES = (("left", "right"), ("front", "back"), ("bottom", "top"))


def twist_words(twist: Twist, inspection: Inspection, names: Sequence[str]) -> str:
    """Return a motion in words: "comes off upwards", "turns about its front edge"."""
    axis = twist.axis
    if axis is None:
        return f"comes off {_way_words(twist.shift)}"
    most = max(range(3), key=lambda n: abs(axis[n]))
    x, y, z = (mm_text(c, 0) for c in twist.point)
    if abs(axis[most]) < 0.999:
        return f"turns about a slanting axis through ({x}, {y}, {z})"
    boxes = [part_box(inspection.part(name)) for name in names]
    low = [min(float(b[n]) for b in boxes) for n in range(3)]
    high = [max(float(b[n + 3]) for b in boxes) for n in range(3)]
    others = [n for n in range(3) if n != most]
    near = []
    for n in others:
        for side, at in enumerate((low[n], high[n])):
            if abs(twist.point[n] - at) < 0.1 * (high[n] - low[n]) + 0.5:
                near.append(_EDGES[n][side])
    through = ", ".join(f"{'xyz'[n]} = {mm_text(twist.point[n], 0)}" for n in others)
    if len(near) == 2:
        return f"turns about its {near[1]} {near[0]} edge ({through})"
    run = ("from left to right", "from front to back", "upright")[most]
    return f"turns about an axis {run} ({through})"


def _way_words(way: Vec3) -> str:
    most = max(range(3), key=lambda n: abs(way[n]))
    return _WAYS[most + (0 if way[most] > 0 else 3)]


def _told(
    inspection: Inspection, pieces: dict[str, str], loose: Sequence[_Pull]
) -> Iterator[tuple[Problem, list[str]]]:
    """Tell of the pieces that come off, once for each entry of ``joints`` that puts them there.

    The heaviest piece stays, all others come off; each problem comes with the parts that do.
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
        problem = warning(
            "pulls-apart",
            f"{_listed(ours)} can {off}: they are only put into each other, nothing draws them"
            " together",
            first.path,
            where=f"{mine} to {other}",
            help="add glue, or a fitting that draws them together (a cam, a screw, a bolt);"
            " weight is not counted on",
        )
        off_now = {pieces[m] for found in together for _, m, _ in found}
        yield problem, [*ours, *(name for name, piece in pieces.items() if piece in off_now)]


def _joints(inspection: Inspection) -> Iterator[PlacedJoint]:
    """Give the joints that connect: a drawer's runners let it go."""
    for joint in inspection.joinery.joints:
        if not any(is_runner(inspection.fitting(key)) for key in joint.fittings):
            yield joint


def _held_stiff(inspection: Inspection) -> list[tuple[str, str]]:
    """Return the pairs of parts that some fitting between them holds stiff to each other.

    Glue does, and so do two screws, a screw and a pin, whatever holds in two places. One screw
    alone does where its member is too wide to turn: not. What says itself that nothing is in it
    is taken as held, and hinged doors are looked at where they hang.
    """
    pairs = []
    for joint in _joints(inspection):
        pair = (joint.butting, joint.receiving)
        fittings = [inspection.fitting(key) for key in joint.fittings]
        if joint.contact.kind in MEETINGS or any(f is None for f in fittings):
            pairs.append(pair)
            continue
        known = [f for f in fittings if f is not None]
        says_nothing = joint.contact.sunk <= _SUNK and not any(
            f.items or f.actions[1:] for f in known
        )
        pulled = any(pulls_together(f) for f in known)
        if says_nothing or (pulled and not _driven(inspection, joint)):
            pairs.append(pair)
    return pairs


def _driven(inspection: Inspection, joint: PlacedJoint) -> list[Fastener]:
    """Return what is driven, where it lies on one line alone, so that a member may turn on it."""
    found = []
    fasteners = [inspection.fasteners[id] for id in joint.fasteners]
    for fastener in fasteners:
        fitting = inspection.fitting(fastener.fitting)
        if fitting is None or any(a.do in ("glue", "screw-on") for a in fitting.actions):
            return []
        if any(a.do in _DRIVEN for a in fitting.actions):
            found.append(fastener)
    for one, other in combinations(fasteners, 2):
        if norm(cross(sub(other.frame.origin, one.frame.origin), one.frame.k)) > _ON_LINE:
            return []
    return found


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
