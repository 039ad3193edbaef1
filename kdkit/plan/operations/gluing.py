"""Glue: put on before a joint is closed, clamped and left to set afterwards."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kdkit.plan.blocking import members
from kdkit.plan.blocking.hardware import Work
from kdkit.plan.order.build import Build, Mating, Scene, Worked, mate_id, sum_items
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["Gluing", "Setting", "worked_when_set"]


@dataclass(frozen=True)
class Setting:
    """Glue in one joint: what is done about it after its mating, ``clamp`` or ``wait``."""

    mate: str
    do: str
    tool: str | None
    minutes: float
    parts: tuple[str, ...]
    joint: str


@dataclass(frozen=True)
class Gluing:
    """Writes what is glued in a build, and what it waits for.

    Args:
        joints: the joints between two parts, by name.
        bare: the fittings between two parts that have no hardware.
    """

    scene: Scene
    worked: Worked
    joints: Mapping[frozenset[str], Sequence[str]]
    bare: Mapping[frozenset[str], Sequence[str]]

    def put_on(
        self,
        pairs: Sequence[frozenset[str]],
        works: Sequence[Work],
        head: str,
        build: Build,
        mating: Mating,
    ) -> list[str]:
        """One operation of gluing for a mating, if any of its joints is glued."""
        glued = [w for w in works if w.kind is OperationKind.GLUE]
        entries = self.scene.joinery.fittings
        bare = [
            action
            for pair in pairs
            for fitting in self.bare.get(pair, ())
            if fitting in entries
            for action in entries[fitting].actions
            if action.do == "glue"
        ]
        if not glued and not bare:
            return []
        tools = [w.tool for w in glued] + [a.tool for a in bare]
        return [
            self.worked.add(
                Operation(
                    id=f"glue/{head}",
                    kind=OperationKind.GLUE,
                    parts=tuple(self.scene.blocking.names[p] for p in members(mating.parts)),
                    fasteners=tuple(w.fastener.id for w in glued),
                    items=sum_items(glued),
                    tool=next((t for t in tools if t), None),
                    joints=tuple(j for pair in pairs for j in self.joints[pair]),
                    minutes=sum(w.minutes for w in glued) + sum(a.minutes or 1 for a in bare),
                    subassembly=build.name,
                    posture=mating.posture,
                )
            )
        ]

    def setting(
        self, works: Sequence[Work], pairs: Sequence[frozenset[str]], mate: str
    ) -> list[Setting]:
        """The glue in the joints of a mating, with or without fasteners."""
        entries = self.scene.joinery.fittings
        found: dict[tuple[str, str], Setting] = {}

        def note(
            do: str, tool: str | None, minutes: float, parts: Sequence[str], joint: str
        ) -> None:
            found.setdefault((do, joint), Setting(mate, do, tool, minutes, tuple(parts), joint))

        apart = worked_when_set(works)
        for work in works:
            if work.kind is OperationKind.WAIT and work.fastener.fitting not in apart:
                ends = [p for p in (work.fastener.butting, work.fastener.receiving) if p]
                note(work.do, work.tool, work.minutes, ends, work.fastener.joint)
        for pair in pairs:
            for fitting in self.bare.get(pair, ()):
                for action in entries[fitting].actions if fitting in entries else ():
                    if action.do in ("clamp", "wait"):
                        for joint in self.joints[pair]:
                            note(action.do, action.tool, action.minutes, sorted(pair), joint)
        return list(found.values())

    def closes_clamps(self, setting: Sequence[Setting], there: int, coming: int) -> bool:
        """Tell whether parts that come next take the room of clamps that have it now."""
        names = self.scene.blocking.names
        now = {names[p] for p in members(there)}
        then = now | {names[p] for p in members(coming)}
        rooms = [r for s in setting for r in self.scene.rooms.get((s.joint, -1), ())]
        return any(room.is_clear(now) and not room.is_clear(then) for room in rooms)

    def let_set(self, setting: Sequence[Setting], build: Build, mating: Mating) -> list[str]:
        """Clamp what is glued in one step, then wait once for all of it."""
        head = mate_id(self.scene, mating).removeprefix("mate/")
        mates = list(dict.fromkeys(s.mate for s in setting))
        made: list[str] = []
        for do in ("clamp", "wait"):
            some = [s for s in setting if s.do == do]
            if not some:
                continue
            labour = sum(max((s.minutes for s in some if s.mate == m), default=0.0) for m in mates)
            operation = Operation(
                id=f"wait/{head}{'/clamp' if do == 'clamp' else ''}",
                kind=OperationKind.WAIT,
                parts=tuple(dict.fromkeys(p for s in some for p in s.parts)),
                items={},
                tool=next((s.tool for s in some if s.tool), None),
                joints=tuple(dict.fromkeys(s.joint for s in some)),
                minutes=labour if do == "clamp" else max(s.minutes for s in some),
                subassembly=build.name,
                posture=mating.posture,
            )
            self.worked.add(operation)
            self.worked.before(mates, operation.id, "the glue sets once the joint is closed")
            self.worked.before(made, operation.id, "it sets in the clamps")
            if do == "clamp":
                self.worked.closed[operation.id] = self.scene.clamps_closed_off(operation.joints)
            made.append(operation.id)
        return made


def worked_when_set(works: Sequence[Work]) -> frozenset[str]:
    """Return the fittings of which something is still to be done once their glue has set."""
    waits = {w.fastener.fitting: w.rank for w in works if w.do == "wait"}
    return frozenset(
        w.fastener.fitting
        for w in works
        if w.kind is OperationKind.FASTEN and w.rank > waits.get(w.fastener.fitting, w.rank)
    )
