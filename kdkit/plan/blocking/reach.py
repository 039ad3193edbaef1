"""Room for hands and tools: what stands in the space in which a fastener is worked.

The space is a straight cylinder on the item's axis, from the mouth outwards: a thin one
for the blade, a wide one for the hand behind it, longer by the travel of an item that
is driven in. It is looked at as an eight-sided prism around that cylinder, so it asks
for up to 8 % more than its radius and errs towards saying no; what reaches into it by
no more than a millimetre is let by. A tool that comes in several lengths, or that can be
held in several ways, is tried with each of them.

The hand must also have a way out of there: see ``way_out``. It is asked for where
nothing stands in its space in the finished product.

An item sunk below a surface is worked through the bore above it: the part that its
mouth lies in counts only from where the axis leaves it, and for the blade not at all
where the axis leaves at a slant, because the bore itself guides it there. A blade shorter
than that bore is deep does not reach: its handle does not go in.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from kdkit.catalogue.entries import Action, Catalogue, FreeSpace
from kdkit.frames import Frame, add, cross, scaled
from kdkit.joinery.placed import Fastener, Joinery, PlacedJoint
from kdkit.plan.blocking.hardware import Work, work_of
from kdkit.plan.blocking.room import AROUND, GIVE, Hit, Lack, Space, measure
from kdkit.plan.motion.bodies import Body
from kdkit.plan.motion.sweep import Polytope, overlaps
from kdkit.plan.motion.way_out import Hand, enclosures
from kdkit.plan.plan import OperationKind
from kdkit.units import mm_text

__all__ = ["Reach", "ToolWay", "find_reach", "rooms_of"]

Array = NDArray[np.float64]

_FREE = ("clamp", "adjust")
"""What needs no room here: clamps are looked at by themselves, and a door or a drawer is
adjusted while it is open."""

_SQUARE = 0.99  # cosine; an axis that leaves a surface flatter than this is slanted
_MOST_SETS = 64
_MOST_TOLD = 3  # ways of working of which a refusal tells what room they lack


@dataclass(frozen=True, kw_only=True)
class ToolWay:
    """One way of working: a tool (None: by hand) and what is in its way.

    Args:
        short: (its blade, how deep the bore is), mm, of a tool that does not reach the item.
        obstacles: each a set of parts in whose company the space is not clear; an
            empty one means that it never is.
        called: the tool in words: "the short screwdriver", "the hand".
        hits: what stands in the space, and in whose company.
        shut_in: sets of parts that leave the hand no way out.
    """

    tool: str | None
    obstacles: tuple[frozenset[str], ...]
    called: str = "the hand"
    hits: tuple[Hit, ...] = ()
    shut_in: tuple[frozenset[str], ...] = ()
    short: tuple[float, float] | None = None

    def is_clear(self, present: Collection[str]) -> bool:
        """Tell whether the space is clear while some parts are there."""
        return not any(obstacle <= set(present) for obstacle in self.obstacles)

    def lack(self, others: frozenset[str]) -> Lack | None:
        """Return what it lacks most of while some parts are there; None: only a way out."""
        lacks = [measure(hit) for hit in self.hits if hit.others <= others]
        return max(lacks, key=lambda lack: (lack.missing, lack.part), default=None)


@dataclass(frozen=True, kw_only=True)
class Reach:
    """One piece of work and its ways, the comfortable one first.

    Args:
        work: key of the work (fastener, rank of the action); a clamp round a joint has the
            joint's name and rank −1.
        members: the parts that are there while it is done.
        blocked: the least sets of further parts in whose company no way is clear.
        what: the thing worked, in words: "the cam lock between Shelf and Left side".
        tool_words: the last way's tool: "the short screwdriver".
    """

    work: tuple[str, int]
    kind: OperationKind
    item: str
    members: tuple[str, ...]
    ways: tuple[ToolWay, ...]
    blocked: tuple[frozenset[str], ...]
    what: str
    tool_words: str

    @property
    def is_clamp(self) -> bool:
        """Whether it is the room of a clamp, for which a caul, a band or a wedge can do."""
        return self.work[1] < 0

    def is_clear(self, present: Collection[str]) -> bool:
        """Tell whether there is a way with some parts there."""
        return any(way.is_clear(present) for way in self.ways)

    def tool(self, present: Collection[str]) -> str | None:
        """Return the first tool whose space is clear; the last one if none is."""
        return next((w.tool for w in self.ways if w.is_clear(present)), self.ways[-1].tool)

    def reason(self, others: Iterable[str], titles: Mapping[str, str]) -> str:
        """Return why it cannot be done while some parts are there; none: not at all."""
        named = [titles[name] for name in sorted(others)]
        if not named:
            return f"{self.tool_words} can never reach {self.what}: its parts are in the way"
        verb = "are" if len(named) > 1 else "is"
        return (
            f"{self.tool_words} cannot reach {self.what} while {' and '.join(named)} {verb} there"
        )

    def room_words(self, others: frozenset[str], titles: Mapping[str, str]) -> str:
        """Return what room there is for each way of working and what it needs, in mm."""
        told: dict[str, float] = {}
        for way in self.ways:
            if way.short is not None:
                blade, deep = (mm_text(size, 0) for size in way.short)
                words = f"{way.called} has a blade of {blade} mm, and the bore is {deep} mm deep"
                told.setdefault(words, way.short[1] - way.short[0])
                continue
            lack = way.lack(others)
            if lack is not None:
                told.setdefault(_lack_words(way, lack, titles), lack.missing)
            elif any(shut <= others for shut in way.shut_in):
                told.setdefault(f"a hand on {way.called} has no way out", 0.0)
        nearest = sorted(told, key=lambda words: told[words])[:_MOST_TOLD]
        return "; ".join(nearest)


def _lack_words(way: ToolWay, lack: Lack, titles: Mapping[str, str]) -> str:
    """What one way of working needs and finds, and at which part."""
    name = titles.get(lack.part, lack.part)
    needed, free = mm_text(lack.needed, 0), mm_text(lack.free, 0)
    if lack.in_line:
        return f"{way.called} needs {needed} mm in line with it, and {name} leaves {free} mm"
    words = f"{way.called} needs {needed} mm beside its axis, and {name} leaves {free} mm"
    if lack.beyond is not None:
        words += f" (its handle would be past {name} {mm_text(lack.beyond, 0)} mm out)"
    return words


@dataclass(frozen=True, kw_only=True)
class _Case:
    work: tuple[str, int]
    kind: OperationKind
    item: str
    fastener: str
    members: tuple[str, ...]
    ways: tuple[tuple[str | None, tuple[Space, ...]], ...]
    guides: str | None  # a member that the axis leaves at a slant
    what: str
    short: tuple[tuple[float, float] | None, ...] = ()  # of each way, as in ``ToolWay``


def rooms_of(action: Action, catalogue: Catalogue) -> tuple[tuple[str | None, FreeSpace], ...]:
    """Return (tool, space) for each way of doing an action, the comfortable one first.

    The space is the tool's own where the catalogue gives it, else the action's.
    """
    tool = catalogue.tools.get(action.tool) if action.tool is not None else None
    found: list[tuple[str | None, FreeSpace]] = []
    if tool is not None and tool.room:
        found += [(action.tool, room) for room in tool.room]
    elif action.free is not None:
        found.append((action.tool, action.free))
    else:
        return ()
    for key in _standing_in(action.tool, catalogue):
        found += [(key, room) for room in catalogue.tools[key].room]
    return tuple(found)


def _standing_in(tool: str | None, catalogue: Catalogue) -> list[str]:
    """The tools that stand in for one, shorter and longer ones: the longest first."""
    keys = [k for k in sorted(catalogue.tools) if tool and catalogue.tools[k].instead_of == tool]
    return sorted(keys, key=lambda k: -max((r.length for r in catalogue.tools[k].room), default=0))


def find_reach(
    bodies: Sequence[Body], joinery: Joinery, catalogue: Catalogue, titles: Mapping[str, str]
) -> tuple[Reach, ...]:
    """Return all work that something could keep a hand or tool from, with what does.

    Work whose every way is clear even in the finished product is left out, unless it
    has more than one way.

    Args:
        bodies: everything that could stand in the way, in the product frame.
    """
    cases = list(_cases(bodies, joinery, catalogue))
    if not cases:
        return ()
    spaces = [space for case in cases for _, some in case.ways for space in some]
    pairs = _obstructed(spaces, [b.shape for b in bodies])
    inside: list[list[Body]] = [[] for _ in spaces]
    for n, m in pairs:
        inside[n].append(bodies[m])
    lasts = [some[-1] for case in cases for _, some in case.ways]
    owners = [case for case in cases for _ in case.ways]
    clear = {id(space) for space, bodies_in in zip(spaces, inside, strict=True) if not bodies_in}
    asked = [n for n, space in enumerate(lasts) if id(space) in clear]
    hands = [Hand(lasts[n].handle(), owners[n].members) for n in asked]
    shut_in = dict(zip(asked, enclosures(hands, bodies), strict=True))
    way_number = 0
    found = []
    at = 0
    for case in cases:
        ways = []
        shorts = case.short or (None,) * len(case.ways)
        for (tool, some), short in zip(case.ways, shorts, strict=True):
            shut = shut_in.get(way_number, ())
            way_number += 1
            hits: list[Hit] = []
            for space in some:
                hits += _obstacles(case, space, inside[at])
                at += 1
            ways.append(
                ToolWay(
                    tool=tool,
                    obstacles=_minimal((*shut, *(hit.others for hit in hits)))
                    if short is None
                    else (frozenset(),),
                    called=_called(tool, catalogue),
                    hits=tuple(hits),
                    shut_in=tuple(shut),
                    short=short,
                )
            )
        blocked = _least_sets([way.obstacles for way in ways])
        if not blocked and not ways[0].obstacles:
            continue
        found.append(
            Reach(
                work=case.work,
                kind=case.kind,
                item=case.item,
                members=case.members,
                ways=tuple(ways),
                blocked=blocked,
                what=_what(case, catalogue, titles),
                tool_words=ways[-1].called,
            )
        )
    return tuple(found)


def _called(tool: str | None, catalogue: Catalogue) -> str:
    entry = catalogue.tools.get(tool or "")
    return f"the {entry.title.lower()}" if entry is not None else "the hand"


def _what(case: _Case, catalogue: Catalogue, titles: Mapping[str, str]) -> str:
    named = [titles.get(name, name) for name in case.members]
    item = catalogue.items.get(case.item)
    thing = item.title.lower() if item is not None else case.what
    place = f"between {named[0]} and {named[1]}" if len(named) > 1 else f"on {named[0]}"
    return f"the {thing} {place}"


# -- the spaces --------------------------------------------------------------------


def _cases(bodies: Sequence[Body], joinery: Joinery, catalogue: Catalogue) -> Iterable[_Case]:
    wood: dict[str, list[Polytope]] = {}
    for body in bodies:
        if body.fastener is None:
            wood.setdefault(body.part, []).append(body.shape)
    for fastener in joinery.fasteners:
        fitting = joinery.fittings.get(fastener.fitting)
        if fitting is None:
            continue
        done: set[int] = set()
        for work in work_of([fastener], joinery, catalogue):
            if work.rank >= len(fitting.actions) or work.do in _FREE or work.at_wall:
                continue
            action = fitting.actions[work.rank]
            rooms = rooms_of(action, catalogue)
            if rooms and work.rank not in done:
                done.add(work.rank)
                yield from _of_work(work, action, rooms, fastener, wood, catalogue)
    for joint in joinery.joints:
        yield from _of_clamp(joint, joinery, wood, catalogue)


def _of_work(
    work: Work,
    action: Action,
    rooms: Sequence[tuple[str | None, FreeSpace]],
    fastener: Fastener,
    wood: Mapping[str, Sequence[Polytope]],
    catalogue: Catalogue,
) -> Iterable[_Case]:
    members: tuple[str, ...] = tuple(p for p in (fastener.butting, fastener.receiving) if p)
    if work.part is not None:
        members = (work.part,)
    travel = 0.0
    item = catalogue.items.get(action.item or "")
    if item is not None and action.do in ("drive", "nail", "screw-in"):
        travel = max(0.0, -min(piece.z0 for piece in item.pieces))
    for placed in fastener.items:
        if placed.item != action.item:
            continue
        start, guides = _mouth(placed.frame, members, wood)
        yield _Case(
            work=(fastener.id, work.rank),
            kind=work.kind,
            item=work.item,
            fastener=fastener.id,
            members=members,
            ways=tuple((tool, _spaces(placed.frame, room, start, travel)) for tool, room in rooms),
            guides=guides,
            what=work.item,
            short=tuple(
                (room.blade, start) if 0 < room.blade < start - GIVE else None for _, room in rooms
            ),
        )


def _spaces(frame: Frame, room: FreeSpace, start: float, travel: float) -> tuple[Space, ...]:
    """The blade's space and the hand's, of a tool that moves ``travel`` while it drives."""
    found = []
    thin = room.blade_diameter / 2
    begin, end = max(room.blade, start), room.length + travel
    if room.blade > 0 and room.blade + travel > start:
        found.append(Space(frame, start, room.blade + travel, thin, True, thin, end))
    nearest = room.blade <= 0
    found.append(
        Space(
            frame,
            min(begin, end - 1.0),
            end,
            room.diameter / 2,
            nearest,
            min(thin, room.diameter / 2),
            end,
        )
    )
    return tuple(found)


def _moved(frame: Frame, along: float) -> Frame:
    return Frame(add(frame.origin, scaled(frame.k, along)), frame.i, frame.j, frame.k)


def _of_clamp(
    joint: PlacedJoint,
    joinery: Joinery,
    wood: Mapping[str, Sequence[Polytope]],
    catalogue: Catalogue,
) -> Iterable[_Case]:
    """A clamp's jaw stands on the far side of the receiving member.

    Or on the far side of what lies against that side, and of what lies against that: it
    presses through them.
    """
    for key in joint.fittings:
        fitting = joinery.fittings.get(key)
        for action in fitting.actions if fitting is not None else ():
            rooms = rooms_of(action, catalogue) if action.do == "clamp" else ()
            if not rooms or joint.receiving not in wood:
                continue
            xs, ys = zip(*joint.contact.polygon, strict=True)
            centre = joint.contact.frame.point_to_outer(
                ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, 0.0)
            )
            k = scaled(joint.contact.frame.k, -1.0)
            cut = max((g.depth for g in joinery.grooves if g.joint == joint.name), default=0.0)
            centre = add(centre, scaled(k, cut))  # in the wood under a housing
            j = joint.contact.frame.j
            frame = Frame(centre, cross(j, k), j, k)
            others = [name for name in sorted(wood) if name != joint.butting]
            starts = _surfaces(frame, joint.receiving, others, wood)
            yield _Case(
                work=(joint.name, -1),
                kind=OperationKind.WAIT,
                item="",
                fastener="",
                members=(joint.butting, joint.receiving),
                ways=tuple(
                    (tool, _spaces(_moved(frame, start), room, 0.0, 0.0))
                    for start in starts
                    for tool, room in rooms
                ),
                guides=None,
                what="glued joint",
            )
            return


def _surfaces(
    frame: Frame, first: str, others: Sequence[str], wood: Mapping[str, Sequence[Polytope]]
) -> list[float]:
    """Where the axis leaves a part, and then what lies against it, and so on."""
    start, _ = _mouth(frame, (first,), wood)
    found = [start]
    left = [name for name in others if name != first]
    while True:
        beyond = _moved(frame, found[-1])
        for name in left:
            through, _ = _mouth(beyond, (name,), wood)
            if through > 0.0:
                found.append(found[-1] + through)
                left.remove(name)
                break
        else:
            return found


def _mouth(
    frame: Frame, members: Iterable[str], wood: Mapping[str, Sequence[Polytope]]
) -> tuple[float, str | None]:
    """Where the axis leaves the member that holds the mouth, and that member if at a slant."""
    for name in members:
        z, slant, inside = 0.0, 1.0, True
        while inside:
            inside = False
            point = np.asarray(add(frame.origin, scaled(frame.k, z + 0.05)))
            for shape in wood.get(name, ()):
                out = _leaves(shape, point, np.asarray(frame.k))
                if out is not None:
                    z, slant, inside = z + 0.05 + out[0], out[1], True
                    break
        if z > 0.0:
            return z, name if slant < _SQUARE else None
        point = np.asarray(add(frame.origin, scaled(frame.k, -0.05)))
        for shape in wood.get(name, ()):  # a head on the surface, driven in at a slant
            out = _leaves(shape, point, np.asarray(frame.k))
            if out is not None and out[1] < _SQUARE:
                return 0.0, name
    return 0.0, None


def _leaves(shape: Polytope, point: Array, along: Array) -> tuple[float, float] | None:
    """How far a point inside a body is from where a ray leaves it, and that face's cosine."""
    far = (shape.normals @ shape.vertices.T).max(axis=1)
    room = far - shape.normals @ point
    if (room < -1e-6).any():
        return None
    towards = shape.normals @ along
    ahead = towards > 1e-9
    if not ahead.any():
        return None
    steps = np.where(ahead, room / np.where(ahead, towards, 1.0), np.inf)
    n = int(np.argmin(steps))
    return float(max(steps[n], 0.0)), float(towards[n])


# -- what is in them ---------------------------------------------------------------


def _obstructed(spaces: Sequence[Space], shapes: Sequence[Polytope]) -> list[tuple[int, int]]:
    """Return (space, shape) of all that overlap; boxes around them are compared first."""
    if not shapes:
        return []
    starts = np.array([s.frame.point_to_outer((0.0, 0.0, s.start)) for s in spaces])
    ends = np.array([s.frame.point_to_outer((0.0, 0.0, s.end)) for s in spaces])
    axes = np.array([s.frame.k for s in spaces])
    wide = np.array([s.radius * AROUND for s in spaces])[:, None]
    margin = wide * np.sqrt(np.clip(1.0 - axes**2, 0.0, 1.0)) - GIVE
    low_s, high_s = np.minimum(starts, ends) - margin, np.maximum(starts, ends) + margin
    low_b = np.array([s.vertices.min(axis=0) for s in shapes])
    high_b = np.array([s.vertices.max(axis=0) for s in shapes])
    near = np.ones((len(spaces), len(shapes)), dtype=np.bool_)
    for axis in range(3):
        near &= low_s[:, None, axis] < high_b[None, :, axis]
        near &= low_b[None, :, axis] < high_s[:, None, axis]
    rows, columns = np.nonzero(near)
    if not len(rows):
        return []
    made = {int(n): spaces[int(n)].shape() for n in np.unique(rows)}
    hit = overlaps([made[int(n)] for n in rows], [shapes[int(m)] for m in columns], GIVE)
    return [(int(n), int(m)) for n, m in zip(rows[hit], columns[hit], strict=True)]


def _obstacles(case: _Case, space: Space, bodies: Iterable[Body]) -> list[Hit]:
    found: list[Hit] = []
    for body in bodies:
        if body.fastener is not None and body.fastener == case.fastener:
            continue
        if space.nearest and body.part == case.guides and body.fastener is None:
            continue
        others = frozenset((body.part, *body.needs)) - set(case.members)
        found.append(Hit(others, space, body))
    return found


def _minimal(sets: Iterable[frozenset[str]]) -> tuple[frozenset[str], ...]:
    kept: list[frozenset[str]] = []
    for one in sorted(set(sets), key=lambda s: (len(s), sorted(s))):
        if not any(other <= one for other in kept):
            kept.append(one)
    return tuple(kept)


def _least_sets(ways: Sequence[Sequence[frozenset[str]]]) -> tuple[frozenset[str], ...]:
    """The least sets of parts that stand in every way at once.

    Beyond ``_MOST_SETS`` only the last way is looked at, which errs towards saying no.
    """
    sets: tuple[frozenset[str], ...] = (frozenset(),)
    for obstacles in sorted(ways, key=len):
        sets = _minimal(a | b for a, b in product(sets, obstacles))
        if len(sets) > _MOST_SETS:
            return tuple(ways[-1])
    return sets
