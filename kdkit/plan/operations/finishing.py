"""What comes on last: feet, caps, fixtures, loose parts, and the wall."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from kdkit.joinery.placed import Fastener, PlacedFixture
from kdkit.plan.blocking import members
from kdkit.plan.blocking.hardware import Work, work_of
from kdkit.plan.motion.directions import opposite
from kdkit.plan.motion.moves import reversed_moves
from kdkit.plan.operations.persons import man_hung, man_load
from kdkit.plan.operations.securing import fix_before_standing, secure_first, secure_to_wall
from kdkit.plan.order.build import (
    Build,
    Mating,
    Scene,
    Worked,
    first_together,
    loaded_after,
    loaded_elsewhere,
    mate_id,
    sum_items,
)
from kdkit.plan.plan import Operation, OperationKind, Posture, WhyTwo

__all__ = ["finish"]

_BEFORE_A_MATING = (
    OperationKind.TURN,
    OperationKind.STAND,
    OperationKind.SQUARE,
    OperationKind.GLUE,
)
_LOAD_MINUTES = 1.0  # common practice, no source


def finish(
    scene: Scene,
    worked: Worked,
    build: Build,
    done: Sequence[str],
    hindered: Mapping[tuple[str, str], Sequence[str]],
    inner: Mapping[int, Sequence[str]],
    hang: Callable[[Build, Mating, int], list[str]],
) -> None:
    """Add everything that is not mated.

    Args:
        done: the ids of the build's operations.
        hindered: (part, part it would be covered by) → matings that a fixture would hinder.
        inner: for the parts of a unit that is laid in, the ids of its operations.
        hang: writes the hanging of a door on what is there.
    """
    fasteners = {f.id: f for f in scene.joinery.fasteners}
    stand = next(
        (
            o.id
            for o in reversed(worked.operations)
            if o.kind is OperationKind.STAND and not o.subassembly
        ),
        None,
    )
    early_caps = set(done)
    caps = [o for o in worked.operations if o.kind is OperationKind.CAP and o.id not in early_caps]
    worked.operations[:] = [o for o in worked.operations if o not in caps]
    loaded = loaded_after(scene, build)
    secure: list[Operation] = []
    supports: dict[str, list[str]] = {}
    early: list[Operation] = []
    late: list[Operation] = []
    restraints: list[Operation] = []
    lifted_last = frozenset[str]().union(*loaded)
    whole = tuple(name for name in scene.blocking.names if name not in lifted_last)
    fixings: dict[str, str] = {}
    for fixture in scene.joinery.fixtures:
        there = _there_for(scene, build, fixture)
        made = _of_fixture(scene, worked, fixture, fasteners, there, whole)
        fixed = next((o.id for o in made if o.kind is OperationKind.SECURE), None)
        for operation in made:
            if operation.kind is OperationKind.SECURE:
                secure.append(operation)
                continue
            if fixed is not None:
                fixings[fixed] = operation.id
            for name in fixture.carries:
                supports.setdefault(name, []).append(operation.id)
            last = loaded_elsewhere(loaded, operation.parts)
            closing = [s for s in worked.closed[operation.id] if not s <= last]
            if closing:
                _place_before(worked, operation, closing, hindered)
                continue
            below = stand is not None and all(
                fasteners[f].frame.k[2] < -0.7 for f in operation.fasteners
            )
            (early if below else late if fixed is None else restraints).append(operation)
    _place_early(worked, early, stand)
    for operation in restraints:
        ways = [fasteners[f].frame.k for f in operation.fasteners]
        if not fix_before_standing(worked, operation, ways, stand):
            late.insert(0, operation)
    built_first = {id for ids in inner.values() for id in ids}
    carcass = [o.id for o in worked.operations if o.id in early_caps and o.id not in built_first]
    for operation in caps:
        worked.operations.append(replace(operation, posture=Posture.STANDING))
        worked.before(done, operation.id, "caps go on when every joint is tight")
    for operation in late:
        worked.operations.append(operation)
        worked.before(
            _arrivals(worked, operation), operation.id, "it goes on when its part is in place"
        )
        if stand is not None:
            worked.before([stand], operation.id, "it is reached when the work stands")
    at_last = [o for o in secure if any(set(o.parts) & load for load in loaded)]
    at_once = [o for o in secure if o not in at_last]
    secure_to_wall(worked, at_once, fixings, carcass, stand)
    _loads(scene, worked, build, supports, stand, inner, hang, [o.id for o in at_once])
    secure_to_wall(worked, at_last, fixings, [o.id for o in worked.operations], stand)


def _place_early(worked: Worked, early: Sequence[Operation], stand: str | None) -> None:
    """Feet go on while the underside can be reached.

    Before the work is stood up, if it lies and the feet's parts are there by then;
    else on the bare part, before it is joined to anything.
    """
    for operation in early:
        places = {o.id: n for n, o in enumerate(worked.operations)}
        arrivals = _arrivals(worked, operation)
        at = places[stand] if stand is not None else -1
        if stand is not None and all(places[mate] < at for mate in arrivals):
            lying = worked.operations[at - 1].posture
            worked.operations.insert(at, replace(operation, posture=lying))
            worked.before(
                [operation.id], stand, "the underside cannot be reached once the work stands on it"
            )
            worked.before(arrivals, operation.id, "it goes on when its part is in place")
            continue
        first = min((places[mate] for mate in arrivals), default=len(worked.operations))
        worked.operations.insert(first, replace(operation, posture=Posture.UPSIDE_DOWN))
        for mate in arrivals:
            worked.before(
                [operation.id], mate, "the underside cannot be reached once its part is in place"
            )


def _arrivals(worked: Worked, operation: Operation) -> list[str]:
    """The matings in which the parts of a fixture come to the work."""
    found = []
    for part in operation.parts:
        for other in worked.operations:
            if other.kind is OperationKind.MATE and part in (*other.parts, *other.onto):
                found.append(other.id)
                break
    return list(dict.fromkeys(found))


def _there_for(scene: Scene, build: Build, fixture: PlacedFixture) -> tuple[str, ...]:
    """What is there when a fixture is put on: its own part of a door, else all but the doors."""
    names = scene.blocking.names
    hung = {names[p] for mating in build.loads if mating.hangs for p in members(mating.parts)}
    if set(fixture.on) <= hung:
        return fixture.on
    return tuple(name for name in names if name not in hung)


def _of_fixture(
    scene: Scene,
    worked: Worked,
    fixture: PlacedFixture,
    fasteners: Mapping[str, Fastener],
    there: Sequence[str],
    carcass: Sequence[str],
) -> list[Operation]:
    """The operations of one fixture: putting it on, and fixing it to the wall."""
    works = work_of([fasteners[f] for f in fixture.fasteners], scene.joinery, scene.catalogue)
    made = []
    entry = scene.joinery.fittings.get(fixture.fitting)
    hangs = entry is not None and "wall_hung" in entry.cautions
    for at_wall in (False, True):
        some = [w for w in works if w.at_wall is at_wall]
        if not some:
            continue
        kind = OperationKind.SECURE if at_wall else OperationKind.FIXTURE
        operation = Operation(
            id=f"{kind.value}/{fixture.name}",
            kind=kind,
            parts=fixture.on,
            fasteners=tuple(dict.fromkeys(w.fastener.id for w in some)),
            items=sum_items(some),
            tool=_tool(scene, some, there),
            fixture=fixture.name,
            posture=Posture.STANDING,
            minutes=sum(w.minutes for w in some),
            why_two=(WhyTwo.HUNG,) if at_wall and hangs else (),
        )
        if at_wall and hangs:
            operation = man_hung(scene, operation, carcass)
        made.append(operation)
        worked.closed[made[-1].id] = scene.closed_off(some)
    return made


def _tool(scene: Scene, works: Sequence[Work], there: Sequence[str]) -> str | None:
    """The first tool named; a short one where what is there asks for it."""
    named = [w for w in works if w.tool]
    key = next((w.tool for w in named), None)
    return scene.tool_for([w for w in named if w.tool == key], there)


def _place_before(
    worked: Worked,
    operation: Operation,
    closing: Sequence[frozenset[str]],
    hindered: Mapping[tuple[str, str], Sequence[str]],
) -> None:
    """A fixture goes on before what covers it, on the bare part if need be."""
    places = {o.id: n for n, o in enumerate(worked.operations)}
    found = [first_together(worked.operations, s | set(operation.parts)) for s in closing]
    at = min((places[o.id] for o in found if o is not None), default=len(worked.operations))
    pins = {id for ids in worked.prepare.values() for id in ids}
    while at and (
        worked.operations[at - 1].kind in _BEFORE_A_MATING or worked.operations[at - 1].id in pins
    ):
        at -= 1
    arrived = [id for id in _arrivals(worked, operation) if places[id] < at]
    posture = worked.operations[at - 1].posture if arrived else Posture.STANDING
    inside = worked.operations[at].subassembly if at < len(worked.operations) else ""
    worked.operations.insert(at, replace(operation, posture=posture, subassembly=inside))
    worked.before(arrived, operation.id, "it goes on when its part is in place")
    for part in operation.parts:
        for others in closing:
            for other in sorted(others):
                worked.before(
                    hindered.get((part, other), ()),
                    operation.id,
                    "put on earlier, it would stand in the way there",
                )


def _loads(
    scene: Scene,
    worked: Worked,
    build: Build,
    supports: Mapping[str, Sequence[str]],
    stand: str | None,
    inner: Mapping[int, Sequence[str]],
    hang: Callable[[Build, Mating, int], list[str]],
    secured: Sequence[str],
) -> None:
    names = scene.blocking.names
    there = build.parts
    for mating in build.loads:
        there &= ~mating.parts
    mates = [o.id for o in worked.operations if o.kind is OperationKind.MATE]
    earlier: list[tuple[Mating, str]] = []
    for mating in build.loads:
        moving = tuple(names[p] for p in members(mating.parts))
        if mating.hangs:
            hung = hang(build, mating, there)
            there |= mating.parts
            door = mate_id(scene, mating)
            worked.before(inner.get(mating.parts, ()), door, "a unit must be complete first")
            worked.before(mates, door, "doors and drawers go on when the rest is complete")
            if stand is not None:
                worked.before([stand], door, "doors and drawers go on when the work stands")
            secure_first(worked, secured, door)
            _keep_out(scene, worked, earlier, mating, there, door)
            earlier.append((mating, hung[0]))
            continue
        operation = Operation(
            id="load/" + "+".join(moving),
            kind=OperationKind.LOAD,
            parts=moving,
            onto=tuple(names[p] for p in members(there)),
            direction=opposite(scene.blocking.directions[mating.leaving]),
            moves=reversed_moves(scene.blocking.moves.get(mating.leaving, ())),
            items={},
            posture=Posture.STANDING,
            minutes=_LOAD_MINUTES,
        )
        load = worked.add(man_load(scene, operation))
        there |= mating.parts
        unit = mating.build.name if mating.build is not None else ""
        caps = [
            o.id
            for o in worked.operations
            if unit and o.kind is OperationKind.CAP and o.subassembly == unit
        ]
        worked.before(
            [*inner.get(mating.parts, ()), *caps],
            load,
            "a unit must be complete before it is put in",
        )
        worked.before(mates, load, "loose parts are laid in when the work is complete")
        if stand is not None:
            worked.before([stand], load, "loose parts would fall out before the work stands")
        for name in moving:
            worked.before(supports.get(name, ()), load, "it lies on its supports")
        secure_first(worked, secured, load)
        _keep_out(scene, worked, earlier, mating, there, load)
        earlier.append((mating, load))


def _keep_out(
    scene: Scene,
    worked: Worked,
    earlier: Sequence[tuple[Mating, str]],
    mating: Mating,
    there: int,
    later: str,
) -> None:
    """What would be shut in by a load or a door goes in before it."""
    for other, id in earlier:
        for part in members(other.parts):
            held = scene.blocking.blockers(other.leaving, part, there) & mating.parts
            if held:
                reason = scene.blocking.reason(other.leaving, part, members(held)[0], there)
                worked.before([id], later, reason)
