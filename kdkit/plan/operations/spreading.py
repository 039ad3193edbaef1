"""What is done wet before a joint is closed: glue on both members, then the pins into it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kdkit.plan.blocking import members
from kdkit.plan.blocking.hardware import Work
from kdkit.plan.operations.gluing import GluedJoint, is_glued_pin
from kdkit.plan.order.build import Build, Mating, Scene, Worked, sum_items
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["Spreading"]

_Halves = tuple[frozenset[str], frozenset[str]]


@dataclass(frozen=True)
class Spreading:
    """Writes the spreading of glue.

    Args:
        glued: the joints that are closed with glue.
        late: (part, part it aims at) → matings that its hardware would hinder.
        halves: for two parts what comes and what is there when they meet.
    """

    scene: Scene
    worked: Worked
    glued: Mapping[str, GluedJoint]
    late: Mapping[tuple[str, str], Sequence[str]]
    halves: Mapping[frozenset[str], _Halves]

    @classmethod
    def of(
        cls,
        scene: Scene,
        worked: Worked,
        glued: Mapping[str, GluedJoint],
        late: Mapping[tuple[str, str], Sequence[str]],
        walk: Iterable[tuple[Mating, int]],
    ) -> Spreading:
        """Return the writer; ``walk``: every mating with what is there before it."""
        names = scene.blocking.names
        found: dict[frozenset[str], _Halves] = {}
        for mating, there in walk if glued else ():
            coming = frozenset(names[p] for p in members(mating.parts))
            present = frozenset(names[p] for p in members(there))
            for a in coming:
                for b in present:
                    found.setdefault(frozenset((a, b)), (coming, present))
        return cls(scene, worked, glued, late, found)

    def goes_in_wet(self, work: Work) -> bool:
        """Whether it is put in when its joint is glued: it has room among what is there then.

        Pins that have none are glued into one member beforehand.
        """
        pair = frozenset((work.part or "", work.against or ""))
        halves = self.halves.get(pair)
        if halves is None or not is_glued_pin(work, self.scene.joinery.fittings):
            return False
        own = next(half for half in halves if work.part in half)
        rooms = self.scene.rooms.get((work.fastener.id, work.rank), ())
        return all(room.is_clear(own) for room in rooms)

    def write(
        self,
        build: Build,
        mating: Mating,
        works: Sequence[Work],
        joints: Sequence[str],
    ) -> list[str]:
        """Write what is done wet before a mating: glue on both members, then the pins in it."""
        scene, worked = self.scene, self.worked
        glued = [self.glued[name] for name in joints if name in self.glued]
        if not glued:
            return []
        spreading = [w for w in works if w.kind is OperationKind.GLUE]
        moving = [scene.blocking.names[p] for p in members(mating.parts)]
        head = "+".join(moving)
        ends = {end for one in glued for end in one.ends}
        spread = worked.add(
            Operation(
                id=f"glue/{head}",
                kind=OperationKind.GLUE,
                parts=(*(p for p in moving if p in ends), *sorted(ends - set(moving))),
                fasteners=tuple(w.fastener.id for w in spreading),
                items={},
                tool=next((one.glue for one in glued if one.glue), None),
                joints=tuple(one.name for one in glued),
                minutes=sum(one.spread for one in glued),
                subassembly=build.name,
                posture=mating.posture,
            )
        )
        made = [spread]
        pins: dict[tuple[str, str], list[Work]] = {}
        for work in works:
            if work.kind is OperationKind.FIT and self.goes_in_wet(work):
                pins.setdefault((work.part or "", work.item), []).append(work)
        for (name, item), some in pins.items():
            number = sum(o.id.startswith(f"fit/{name}/{item}/glued") for o in worked.operations)
            pin = Operation(
                id=f"fit/{name}/{item}/glued{'' if number == 0 else f'-{number + 1}'}",
                kind=OperationKind.FIT,
                parts=(name,),
                fasteners=tuple(w.fastener.id for w in some),
                items=sum_items(some),
                tool=scene.tool_for(some, (name,)),
                joints=tuple(dict.fromkeys(w.fastener.joint for w in some)),
                subassembly=build.name,
                posture=mating.posture,
                minutes=sum(w.minutes for w in some),
            )
            made.append(worked.add(pin))
            worked.closed[pin.id] = scene.closed_off(some)
            worked.before([spread], pin.id, "the glue goes into the bores before the pins")
            for work in some:
                worked.before(
                    self.late.get((name, work.against or ""), ()),
                    pin.id,
                    "fitted earlier, it would stand in the way there",
                )
        return made
