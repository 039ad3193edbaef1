"""From splits to work: the steps out, which undo and take off, and the steps back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from kdkit.catalogue.entries import Catalogue
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.masses import Masses
from kdkit.joinery.placed import Joinery, PlacedJoint
from kdkit.model.resolved import Part, Resolved
from kdkit.parts.postures import POSTURES
from kdkit.parts.sameness import of_one_size
from kdkit.parts.size import part_size
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.blocking.apart import Move
from kdkit.plan.blocking.hardware import Work, work_of
from kdkit.plan.choice.costs import Costs, PartFacts, turn_cost
from kdkit.plan.choice.facts import part_facts
from kdkit.plan.operations import list_operations
from kdkit.plan.operations.persons import man_removal, man_tilt
from kdkit.plan.operations.steps import group_steps
from kdkit.plan.order.build import Build, Mating, Scene, sum_items
from kdkit.plan.plan import (
    FOUND_DIRECTIONS,
    MORE_MOVES,
    Operation,
    OperationKind,
    Plan,
    Posture,
    Step,
)
from kdkit.plan.taking_apart.undoing import Split

__all__ = ["Workpiece", "plan_back", "plan_out"]

_REMOVE_MINUTES = 1.5  # common practice, no source; so is the other time here
_TURN_MINUTES = 1.0
_HEAVY = 15.0  # kg, from which two persons lift: common practice, compare ISO 11228-1


@dataclass(frozen=True, kw_only=True, eq=False)
class Workpiece:
    """A finished product and what is known of its parts."""

    scene: Scene
    facts: tuple[PartFacts, ...]
    alike: Mapping[str, object]
    masses: Masses
    loose: int
    doors: int
    heavy: float

    @classmethod
    def of(
        cls,
        resolved: Resolved,
        parts: Sequence[Part],
        joinery: Joinery,
        catalogue: Catalogue,
        blocking: Blocking,
        assembly: Assembly,
    ) -> Workpiece:
        """Gather it; parts are numbered as in the blocking graphs."""
        mass = Masses.of(parts, joinery, catalogue)
        facts = part_facts(parts, joinery, catalogue, assembly, mass.parts)
        alike = {part.name: of_one_size(part) for part in parts}
        heavy = getattr(getattr(resolved.said, "safety", None), "heavy_part", _HEAVY)
        scene = Scene(
            blocking=blocking,
            joinery=joinery,
            catalogue=catalogue,
            titles={part.name: part.title or part.name for part in parts},
            facts=facts,
            laid=frozenset(parts[n].name for n, f in enumerate(facts) if f.laid),
            alike=alike,
            masses=mass,
            spans={p.name: max(part_size(p)) for p in parts},
            heavy=heavy,
        )
        return cls(
            scene=scene,
            facts=facts,
            alike=alike,
            masses=mass,
            loose=sum(1 << n for n, fact in enumerate(facts) if fact.loose),
            doors=sum(1 << n for n, fact in enumerate(facts) if fact.door),
            heavy=heavy,
        )

    def names(self, mask: int) -> tuple[str, ...]:
        """The parts of a mask."""
        return tuple(self.scene.blocking.names[p] for p in members(mask))

    def mass(self, names: Sequence[str]) -> float:
        """What some parts weigh together, kg."""
        return self.masses.together(names)

    @cached_property
    def costs(self) -> Costs:
        """What a maker dislikes about bringing parts together, or taking them apart."""
        return Costs(self.scene.blocking, self.facts)

    def trouble(self, parts: int, rest: int, direction: int) -> float:
        """What taking parts off the rest costs, lying as is best for it."""
        move = Move(parts, direction)
        return min(self.costs.step(move, rest, q) for q in range(len(POSTURES)))

    def posture(self, split: Split, now: Posture) -> Posture:
        """How the work best lies for a split, turning it over counted."""
        if split.moving & ~self.loose == 0:
            return now
        costs = self.costs
        move = Move(split.moving, split.direction)
        return min(
            POSTURES,
            key=lambda q: (
                round(costs.step(move, split.staying, POSTURES.index(q)) + turn_cost(now, q), 6),
                POSTURES.index(q),
            ),
        )


# -- back --------------------------------------------------------------------------------


def plan_back(workpiece: Workpiece, tree: Split | None, fresh: frozenset[str], search: str) -> Plan:
    """Return the plan that closes all splits again.

    Args:
        fresh: names of the parts that are new, into which hardware has to be fitted.
    """
    undone = _crossing(workpiece.scene.joinery, workpiece, tree)
    scene = replace(workpiece.scene, joinery=_only(workpiece.scene.joinery, undone, fresh))
    if tree is None:
        return _plan((), (), search)
    build = _as_build(workpiece, tree, Posture.STANDING)
    operations, precedences = list_operations(scene, replace(build, stands=True))
    gone = {
        o.id
        for o in operations
        if o.kind is OperationKind.FIT
        and not set(o.parts) & fresh
        and not any(p.after == o.id for p in precedences)
    }
    operations = [o for o in operations if o.id not in gone]
    precedences = [p for p in precedences if not {p.before, p.after} & gone]
    order = tuple(o.id for o in operations)
    steps = tuple(
        _seen(step, {o.id: o for o in operations})
        for step in group_steps(operations, order, workpiece.alike)
    )
    plan = _plan(tuple(operations), steps, search)
    return replace(plan, order=order, precedences=tuple(precedences))


def _as_build(workpiece: Workpiece, tree: Split, now: Posture) -> Build:
    """A tree of splits read backwards."""
    chain: list[tuple[Split, Posture]] = []
    split: Split | None = tree
    while split is not None:
        now = workpiece.posture(split, now)
        chain.append((split, now))
        staying = split.staying
        split = next((s for s in split.then if s.parts == staying), None)
    matings, loads = [], []
    last_on: set[int] = set()  # loose parts, and the doors that shut them in
    for split, _ in chain:
        one_door = split.moving.bit_count() == 1 and split.moving & workpiece.doors
        if split.moving & ~workpiece.loose and not one_door:
            break
        last_on.add(split.moving)
    for split, posture in reversed(chain):
        half = next((s for s in split.then if s.parts == split.moving), None)
        mating = Mating(
            parts=split.moving,
            leaving=split.direction,
            posture=posture,
            build=None if half is None else _half(workpiece, half, posture),
            hangs=split.moving in last_on and not split.moving & workpiece.loose,
        )
        if split.moving & ~workpiece.loose == 0 or split.moving in last_on:
            loads.append(mating)
        else:
            matings.append(mating)
    last = chain[-1][0]
    return Build(
        name="",
        base=last.staying,
        posture=matings[0].posture if matings else Posture.STANDING,
        matings=tuple(matings),
        loads=tuple(loads),
    )


def _half(workpiece: Workpiece, half: Split, now: Posture) -> Build:
    first = workpiece.scene.titles[workpiece.names(half.parts)[0]]
    return replace(
        _as_build(workpiece, half, now), name=f"half of {half.parts.bit_count()} with {first}"
    )


def _crossing(joinery: Joinery, workpiece: Workpiece, tree: Split | None) -> frozenset[str]:
    """Names of the joints that some split undoes."""
    found: set[str] = set()
    waiting = [tree] if tree is not None else []
    while waiting:
        split = waiting.pop()
        waiting += split.then
        sides = set(workpiece.names(split.moving)), set(workpiece.names(split.staying))
        found |= {j.name for j in _between(joinery, *sides)}
    return frozenset(found)


def _between(joinery: Joinery, some: set[str], others: set[str]) -> list[PlacedJoint]:
    return [
        joint
        for joint in joinery.joints
        if (joint.butting in some and joint.receiving in others)
        or (joint.receiving in some and joint.butting in others)
    ]


def _only(joinery: Joinery, joints: frozenset[str], fresh: frozenset[str]) -> Joinery:
    """The joinery of the joints undone, and of the fixtures on new parts."""
    kept = tuple(j for j in joinery.joints if j.name in joints)
    receiving = {f.id: f.receiving for f in joinery.fasteners}
    fixtures = []
    for fixture in joinery.fixtures:
        mine = tuple(f for f in fixture.fasteners if receiving[f] in fresh)
        if mine:
            on = tuple(p for p in fixture.on if p in fresh)
            fixtures.append(replace(fixture, fasteners=mine, on=on))
    names = {f for j in kept for f in j.fasteners} | {f for x in fixtures for f in x.fasteners}
    return replace(
        joinery,
        joints=kept,
        fixtures=tuple(fixtures),
        fasteners=tuple(f for f in joinery.fasteners if f.id in names),
    )


def _seen(step: Step, by_id: Mapping[str, Operation]) -> Step:
    """A step in which only what moves is new: the rest stood there before."""
    kinds = (OperationKind.MATE, OperationKind.LOAD)
    moved = {p for o in step.operations if by_id[o].kind in kinds for p in by_id[o].parts}
    together = dict.fromkeys((*step.present, *step.new))
    return replace(
        step,
        present=tuple(p for p in together if p not in moved),
        new=tuple(p for p in together if p in moved),
    )


# -- out -----------------------------------------------------------------------------------


def plan_out(workpiece: Workpiece, splits: Sequence[Split], back: Plan, search: str) -> Plan:
    """Return the plan that undoes the splits in their order.

    Args:
        back: the plan back; hardware that it fits late is taken out early here.
    """
    late = [o for o in back.operations if o.kind is OperationKind.FIT and "/later" in o.id]
    lying: dict[int, Posture] = {}
    operations: list[Operation] = []
    steps: list[Step] = []
    for split in splits:
        now = lying.get(split.parts, Posture.STANDING)
        posture = workpiece.posture(split, now)
        lying[split.moving] = lying[split.staying] = posture
        done = _undo(workpiece, split, posture, now, len(steps) + 1, late)
        operations += done
        steps.append(_step(workpiece, split, done, posture, len(steps) + 1))
    return _plan(tuple(operations), tuple(steps), search)


def _undo(
    workpiece: Workpiece,
    split: Split,
    posture: Posture,
    now: Posture,
    number: int,
    late: Sequence[Operation],
) -> list[Operation]:
    """The operations of one step: turn it, undo what holds, take off, pull out pins."""
    scene = workpiece.scene
    moving, staying = workpiece.names(split.moving), workpiece.names(split.staying)
    together = (*moving, *staying)
    joints = _between(scene.joinery, set(moving), set(staying))
    ids = {f for joint in joints for f in joint.fasteners}
    fasteners = [f for f in scene.joinery.fasteners if f.id in ids]
    done: list[Operation] = []
    if posture is not now:
        turn = Operation(
            id=f"turn/{number}",
            kind=OperationKind.TURN,
            parts=together,
            items={},
            posture=posture,
            minutes=_TURN_MINUTES,
            mass=workpiece.mass(together),
        )
        done.append(man_tilt(scene, turn, now))
    after = (OperationKind.FASTEN, OperationKind.CAP)
    groups: dict[tuple[int, str, int, str, str], list[Work]] = {}
    for work in work_of(fasteners, scene.joinery, scene.catalogue):
        if work.kind in after and work.do not in ("glue", "adjust"):
            cap = 0 if work.kind is OperationKind.CAP else 1
            key = (cap, work.fastener.fitting, -work.rank, work.do, work.item)
            groups.setdefault(key, []).append(work)
    for (_, fitting, rank, do, item), works in sorted(groups.items()):
        done.append(
            Operation(
                id=f"undo/{number}/{fitting}/{-rank}-{do}{'-' + item if item else ''}",
                kind=OperationKind.UNDO,
                parts=tuple(
                    dict.fromkeys(
                        p for w in works for p in (w.fastener.butting, w.fastener.receiving) if p
                    )
                ),
                fasteners=tuple(w.fastener.id for w in works),
                items=sum_items(works),
                tool=scene.tool_for(works, together),
                joints=tuple(dict.fromkeys(w.fastener.joint for w in works)),
                posture=posture,
                minutes=sum(w.minutes for w in works),
            )
        )
    removal = Operation(
        id=f"remove/{number}/" + "+".join(moving),
        kind=OperationKind.REMOVE,
        parts=moving,
        onto=staying,
        direction=scene.blocking.directions[split.direction],
        moves=scene.blocking.moves.get(split.direction, ()),
        items={},
        joints=tuple(joint.name for joint in joints),
        posture=posture,
        minutes=_REMOVE_MINUTES,
    )
    done.append(man_removal(scene, removal))
    for fit in late:
        mine = tuple(f for f in fit.fasteners if f in ids)
        if mine:
            done.append(
                replace(fit, id=f"undo/{number}/{fit.id}", kind=OperationKind.UNDO, posture=posture)
            )
    return done


def _step(
    workpiece: Workpiece, split: Split, done: Sequence[Operation], posture: Posture, number: int
) -> Step:
    items: dict[str, int] = {}
    for operation in done:
        for item, count in operation.items.items():
            items[item] = items.get(item, 0) + count
    return Step(
        number=number,
        operations=tuple(o.id for o in done),
        present=workpiece.names(split.staying),
        new=workpiece.names(split.moving),
        posture=posture,
        items=dict(sorted(items.items())),
        tools=tuple(dict.fromkeys(o.tool for o in done if o.tool)),
        persons=max((o.persons for o in done), default=1),
        minutes=sum(o.minutes for o in done),
    )


def _plan(operations: tuple[Operation, ...], steps: tuple[Step, ...], search: str) -> Plan:
    return Plan(
        operations=operations,
        precedences=(),
        order=tuple(o.id for o in operations),
        steps=steps,
        motion_class=MORE_MOVES if any(o.moves for o in operations) else FOUND_DIRECTIONS,
        search=search,
        persons=max((s.persons for s in steps), default=1),
        minutes=sum(s.minutes for s in steps),
    )
