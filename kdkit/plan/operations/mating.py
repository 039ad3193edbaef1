"""The operations of one build: fit hardware, glue, bring together, fasten, turn over."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from kdkit.frames import dot
from kdkit.joinery.placed import Fastener, PlacedJoint
from kdkit.parts.postures import POSTURES, UP, posture_words
from kdkit.plan.blocking import members
from kdkit.plan.blocking.hardware import Work, work_of
from kdkit.plan.motion.directions import opposite
from kdkit.plan.motion.moves import reversed_moves
from kdkit.plan.operations.gluing import glued_joints, is_glued_pin, when_set
from kdkit.plan.operations.persons import man_mating, man_turn
from kdkit.plan.operations.spreading import Spreading
from kdkit.plan.order.arrival_order import arrival_reasons, liked_order
from kdkit.plan.order.build import (
    Build,
    Mating,
    Scene,
    Worked,
    loaded_elsewhere,
    mate_id,
    sum_items,
)
from kdkit.plan.plan import Operation, OperationKind, Posture

__all__ = ["BuildWriter"]

_MATE_MINUTES = 1.5  # common practice, no source; so are the other times here
_TURN_MINUTES = 1.0
_SQUARE_MINUTES = 2.0


class BuildWriter:
    """Writes the operations of a build and of the builds inside it."""

    def __init__(
        self,
        scene: Scene,
        worked: Worked,
        late: Mapping[tuple[str, str], list[str]],
        loaded: Collection[frozenset[str]],
        walk: Sequence[tuple[Mating, int]],
        within: int | None = None,
    ) -> None:
        """Start writing.

        Args:
            late: (part, part it aims at) → matings that its hardware would hinder.
            loaded: the parts of each thing that is laid in or hung at the end.
            walk: every mating with what is there before it.
            within: write only what is done between these parts (a mask), before
                packing; None for what is done at home.
        """
        self.scene = scene
        self.worked = worked
        self.late = late
        self.loaded = loaded
        names = scene.blocking.names
        inside = {names[p] for p in members(within)} if within is not None else None
        fasteners = {f.id: f for f in scene.joinery.fasteners}
        self.between: dict[frozenset[str], list[Fastener]] = {}
        self.joints: dict[frozenset[str], list[str]] = {}
        for joint in scene.joinery.joints:
            if not _is_done_here(joint, inside):
                continue
            pair = frozenset((joint.butting, joint.receiving))
            self.joints.setdefault(pair, []).append(joint.name)
            self.between.setdefault(pair, []).extend(fasteners[f] for f in joint.fasteners)
        self.glued = glued_joints(scene)
        self.spreading = Spreading.of(scene, worked, self.glued, late, walk)

    def build(self, build: Build) -> list[str]:
        """Write a build; return the ids of all its operations."""
        scene, worked = self.scene, self.worked
        mine: list[str] = []
        inner: dict[int, list[str]] = {}
        for n, part_build in enumerate([build.base_build, *(m.build for m in build.matings)]):
            if part_build is not None and not part_build.workshop:
                inner[n] = self.build(part_build)
                mine += inner[n]
        events = self._events(build)
        mine += self._fit(build, events)
        reasons = arrival_reasons(scene, frozenset(self.joints), events)
        order = liked_order(scene, events, reasons)
        posture = build.posture
        segment: list[str] = []
        turn: str | None = None
        there = build.base
        for n in order:
            mating = events[n][0]
            title = build.name or "the work"
            if mating.posture is not posture:
                turn = self._turn(build, there, mating.posture, segment, len(mine))
                mine.append(turn)
                posture, segment = mating.posture, []
            ids = self._mate(build, mating, there)
            there |= mating.parts
            mate = mate_id(scene, mating)
            if turn is not None:
                for one in ids:
                    worked.before([turn], one, f"{title} must {posture_words(posture)} for it")
            worked.before(
                inner.get(n + 1, []), mate, "a half must be complete before it is joined on"
            )
            worked.before(
                inner.get(0, []), mate, "a half must be complete before anything is joined to it"
            )
            segment += ids
            mine += ids
        for (earlier, later), reason in reasons.items():
            worked.before(
                [mate_id(scene, events[earlier][0])], mate_id(scene, events[later][0]), reason
            )
        if build.stands and posture is not Posture.STANDING:
            mine.append(self._turn(build, there, Posture.STANDING, segment, len(mine)))
        return mine

    def _events(self, build: Build) -> list[tuple[Mating, int]]:
        there, events = build.base, []
        for mating in build.matings:
            events.append((mating, there))
            there |= mating.parts
        return events

    def hang(self, build: Build, mating: Mating, there: int) -> list[str]:
        """Write what hangs a door on the finished work; return the operations' ids."""
        return self._mate(build, mating, there)

    # -- hardware before mating ------------------------------------------------

    def _fit(self, build: Build, events: Sequence[tuple[Mating, int]]) -> list[str]:
        """Fit hardware into every part that first appears in this build."""
        scene, worked = self.scene, self.worked
        own = build.base if _arrives(build.base_build) else 0
        for mating in (*build.matings, *(load for load in build.loads if load.hangs)):
            if _arrives(mating.build):
                own |= mating.parts
        grouped: dict[tuple[str, str, tuple[str, ...], bool, str], list[Work]] = {}
        for name in (scene.blocking.names[p] for p in members(own)):
            fasteners = [f for pair in self.between if name in pair for f in self.between[pair]]
            holds: dict[str, str] = {}  # what a fastener's screws hold goes in before them
            for work in work_of(fasteners, scene.joinery, scene.catalogue):
                if work.kind is not OperationKind.FIT or work.part != name:
                    continue
                if not self.spreading.goes_in_wet(work):
                    late = tuple(self.late.get((name, work.against or ""), ()))
                    held = holds.setdefault(work.fastener.id, work.item)
                    key = (name, work.item, late, is_glued_pin(work, scene.joinery.fittings), held)
                    grouped.setdefault(key, []).append(work)
        classes = list(dict.fromkeys(repr(scene.alike[name]) for name, *_ in grouped))
        made = []
        for (name, item, late, glued, held), works in sorted(
            grouped.items(),
            key=lambda g: (bool(g[0][2]), classes.index(repr(scene.alike[g[0][0]]))),
        ):
            tail = ""
            if late:
                head = f"fit/{name}/{item}{'/beforehand' if glued else ''}/later"
                number = sum(o.id.startswith(head) for o in worked.operations)
                tail = f"/later{'' if number == 0 else f'-{number + 1}'}"
            items = sum_items(works)
            id = f"fit/{name}/{item}{'/beforehand' if glued else ''}{tail}"
            if any(o.id == id for o in worked.operations):
                id += f"/for-{held}"
            operation = Operation(
                id=id,
                kind=OperationKind.FIT,
                parts=(name,),
                fasteners=tuple(w.fastener.id for w in works),
                items=items,
                tool=scene.tool_for(works, (name,)),
                joints=tuple(dict.fromkeys(w.fastener.joint for w in works)),
                subassembly=build.name,
                posture=_face_up(works, build.posture),
                minutes=sum(w.minutes for w in works),
                does=("glue", "insert") if glued else (),
            )
            made.append(worked.add(operation))
            worked.closed[operation.id] = scene.closed_off(works)
            for mate in late:
                worked.before(
                    [mate], operation.id, "fitted earlier, it would stand in the way there"
                )
        return made

    # -- bringing together -----------------------------------------------------

    def _mate(self, build: Build, mating: Mating, there: int) -> list[str]:
        """Write one mating; return its operations' ids."""
        scene, worked = self.scene, self.worked
        names = scene.blocking.names
        moving = [names[p] for p in members(mating.parts)]
        waiting = [names[p] for p in members(there)]
        pairs = [
            frozenset((a, b)) for a in moving for b in waiting if frozenset((a, b)) in self.joints
        ]
        joints = tuple(j for pair in pairs for j in self.joints[pair])
        works = [
            w for pair in pairs for w in work_of(self.between[pair], scene.joinery, scene.catalogue)
        ]
        mate = mate_id(scene, mating)
        head = "+".join(moving)
        made: list[str] = []
        covers = [n for n in moving if n in scene.laid]
        if covers and len(pairs) > 2 and not self._is_glued(waiting):
            square = worked.add(
                Operation(
                    id=f"square/{head}",
                    kind=OperationKind.SQUARE,
                    parts=tuple(waiting),
                    items={},
                    minutes=_SQUARE_MINUTES,
                    subassembly=build.name,
                    posture=mating.posture,
                )
            )
            made.append(square)
            worked.before(
                [square],
                mate,
                f"{self._title(covers[0])} holds the work square, so it is squared first",
            )
            for operation in worked.operations:
                if operation.kind in (OperationKind.MATE, OperationKind.FASTEN) and (
                    operation.subassembly == build.name and set(operation.parts) <= set(waiting)
                ):
                    worked.before(
                        [operation.id], square, "the work is squared once its joints are closed"
                    )
        wet = self.spreading.write(build, mating, works, joints)
        made += wet
        fits = [
            o
            for o in worked.operations
            if o.kind is OperationKind.FIT and set(o.joints) & set(joints)
        ]
        bring = Operation(
            id=mate,
            kind=OperationKind.MATE,
            parts=tuple(moving),
            onto=tuple(waiting),
            direction=opposite(scene.blocking.directions[mating.leaving]),
            moves=reversed_moves(scene.blocking.moves.get(mating.leaving, ())),
            items={},
            joints=joints,
            minutes=_MATE_MINUTES,
            subassembly=build.name,
            posture=mating.posture,
            rests=not joints and self._rests(mating, there),
        )
        worked.add(man_mating(scene, bring, mating, there))
        for fit in fits:
            worked.before([fit.id], mate, "hardware between two parts goes in before they meet")
        made.append(mate)
        if wet:
            worked.prepare[mate] = wet
            worked.before(wet[:1], mate, "the glue goes on before the joint is closed")
        made += self._afterwards(works, mate, (*moving, *waiting), build, mating)
        return made

    def _is_glued(self, names: Sequence[str]) -> bool:
        """Whether glue holds all joints between some parts: squared while they were clamped."""
        inside = [j for pair, some in self.joints.items() if pair <= set(names) for j in some]
        return bool(inside) and all(name in self.glued for name in inside)

    def _rests(self, mating: Mating, there: int) -> bool:
        """Whether it stays where it is put; a loose part lies on its supports."""
        if all(self.scene.facts[part].loose for part in members(mating.parts)):
            return mating.posture is Posture.STANDING
        return self.scene.costs.rests(mating.parts, there, POSTURES.index(mating.posture))

    def _afterwards(
        self,
        works: Sequence[Work],
        mate: str,
        present: Sequence[str],
        build: Build,
        mating: Mating,
    ) -> list[str]:
        """Fasten and cap what has been brought together."""
        worked = self.worked
        groups: dict[tuple[str, int, str, str, bool], list[Work]] = {}
        for work in works:
            if work.kind in (OperationKind.FASTEN, OperationKind.CAP):
                early = work.kind is OperationKind.CAP and self._is_closed_off(work)
                key = (work.fastener.fitting, work.rank, work.do, work.item, early)
                groups.setdefault(key, []).append(work)
        made: list[str] = []
        last = mate
        head = mate.removeprefix("mate/")
        for (fitting, rank, do, item, early), some in groups.items():
            kind = some[0].kind
            tail = f"{'-' + item if item else ''}{'/early' if early else ''}"
            operation = Operation(
                id=f"{kind.value}/{head}/{fitting}/{rank}-{do}{tail}",
                kind=kind,
                parts=tuple(
                    dict.fromkeys(
                        p for w in some for p in (w.fastener.butting, w.fastener.receiving) if p
                    )
                ),
                fasteners=tuple(w.fastener.id for w in some),
                items=sum_items(some),
                tool=self.scene.tool_for(some, present),
                joints=tuple(dict.fromkeys(w.fastener.joint for w in some)),
                minutes=sum(w.minutes for w in some),
                subassembly=build.name,
                posture=mating.posture,
                does=(do,),
            )
            worked.add(operation)
            worked.closed[operation.id] = self.scene.closed_off(some)
            if when_set(some[0], works):
                worked.when_set.add(operation.id)
            if kind is OperationKind.CAP:
                worked.before([last], operation.id, "the cap covers what must be tight first")
                if early:
                    made.append(operation.id)
                continue
            made.append(operation.id)
            worked.before([mate], operation.id, "only parts that are together can be fastened")
            if last != mate:
                worked.before([last], operation.id, "the fitting is worked in this order")
            last = operation.id
        return made

    def _is_closed_off(self, work: Work) -> bool:
        """Whether something comes later, other than what is laid in last, that covers it."""
        ends = (work.fastener.butting, work.fastener.receiving)
        last = loaded_elsewhere(self.loaded, [part for part in ends if part])
        return any(not others <= last for others in self.scene.closed_off([work]))

    def _turn(
        self, build: Build, there: int, posture: Posture, segment: Sequence[str], count: int
    ) -> str:
        title = build.name or "the work"
        stand = posture is Posture.STANDING
        names = self.scene.blocking.names
        operation = Operation(
            id=f"{'stand' if stand else 'turn'}/{build.name + '/' if build.name else ''}"
            f"{posture.value}/{count}",
            kind=OperationKind.STAND if stand else OperationKind.TURN,
            parts=tuple(names[p] for p in members(there)),
            items={},
            subassembly=build.name,
            posture=posture,
            minutes=_TURN_MINUTES,
        )
        turn = self.worked.add(man_turn(self.scene, operation))
        self.worked.before(
            segment, turn, f"done before {title} is turned to {posture_words(posture)}"
        )
        return turn

    def _title(self, name: str) -> str:
        return self.scene.titles[name]


def _is_done_here(joint: PlacedJoint, inside: Collection[str] | None) -> bool:
    if inside is None:
        return not joint.workshop
    return joint.butting in inside and joint.receiving in inside


def _arrives(build: Build | None) -> bool:
    """Whether parts come as they are: a single part, or what is packed as one."""
    return build is None or build.workshop


def _face_up(works: Sequence[Work], default: Posture) -> Posture:
    """The posture in which most of the items go in from above."""
    outs = [p.frame.k for w in works for p in w.fastener.items if p.item == w.item]
    if not outs:
        return default
    scores = {q: sum(dot(out, UP[q]) for out in outs) for q in POSTURES}
    best = max(scores.values())
    return (
        default
        if scores[default] > best - 1e-6
        else next(q for q in POSTURES if scores[q] > best - 1e-6)
    )
