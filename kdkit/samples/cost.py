"""What one fitting costs in one joint, counted off the joint as it is drilled and planned.

Times are data and estimates. They serve to compare joints; an action's own minutes win, then
the catalogue's entry for the action, then its ``other``.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from kdkit.catalogue import Catalogue
from kdkit.geometry import Assembly
from kdkit.joinery import Joinery
from kdkit.joinery.placed import PlacedJoint
from kdkit.model import Resolved
from kdkit.plan import make_plan
from kdkit.plan.plan import OperationKind, Plan

__all__ = ["Cost", "cost_of"]

_OF_THE_PRODUCT = (OperationKind.TURN, OperationKind.STAND, OperationKind.SQUARE)
"""What belongs to handling a whole product, not to one joint."""


@dataclass(frozen=True, kw_only=True)
class Cost:
    """What a joint takes.

    Args:
        fasteners: how many stand along the run.
        bores, slots, grooves: how many, by member: ``butting``, ``receiving``.
        surfaces: worked ones, by member: each is a set-up in the workshop.
        items: pieces by item key.
        tools: catalogue keys, what the workshop needs included.
        workshop_minutes, home_minutes: hands at work, an estimate.
        wait_minutes: until glue has set.
        glue: there is glue in it.
        reversible: it comes apart again without damage.
        visible: what stays in sight.
    """

    fasteners: int
    bores: Mapping[str, int]
    slots: Mapping[str, int]
    grooves: Mapping[str, int]
    surfaces: Mapping[str, tuple[str, ...]]
    items: Mapping[str, int]
    tools: tuple[str, ...]
    workshop_minutes: float
    home_minutes: float
    wait_minutes: float
    glue: bool
    reversible: bool
    visible: str

    @property
    def pieces(self) -> int:
        """How many pieces of hardware there are."""
        return sum(self.items.values())

    @property
    def minutes(self) -> float:
        """Hands at work, in the workshop and at home."""
        return self.workshop_minutes + self.home_minutes


def cost_of(
    resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> Cost | None:
    """Return what the joints between the two parts of a product cost; None without a plan.

    Args:
        resolved: a product of the two parts alone.
    """
    plan, _ = make_plan(resolved, assembly, joinery, catalogue)
    if not isinstance(plan, Plan) or not joinery.joints:
        return None
    first = joinery.joints[0]
    members = {first.butting: "butting", first.receiving: "receiving"}
    fittings = [joinery.fittings[key] for joint in joinery.joints for key in joint.fittings]
    items: Counter[str] = Counter(i.item for f in joinery.fasteners for i in f.items)
    actions = [action for fitting in fittings for action in fitting.actions]
    tools = [a.tool for a in actions if a.stage == "workshop"]
    tools += [tool for step in plan.steps for tool in step.tools]
    home = wait = 0.0
    for operation in plan.operations:
        if operation.sets:
            wait = max(wait, operation.minutes)
        elif operation.kind not in _OF_THE_PRODUCT:
            home += operation.minutes
    return Cost(
        fasteners=len(joinery.fasteners),
        bores=_count(members, [b.part for b in joinery.bores if not b.spare]),
        slots=_count(members, [s.part for s in joinery.slots]),
        grooves=_count(members, [g.part for g in joinery.grooves]),
        surfaces=_surfaces(members, joinery),
        items=dict(sorted(items.items())),
        tools=tuple(dict.fromkeys(t for t in tools if t is not None)),
        workshop_minutes=_workshop_minutes(joinery, catalogue, items),
        home_minutes=home,
        wait_minutes=wait,
        glue=any(a.do == "glue" for a in actions),
        reversible=all(f.reversible for f in fittings),
        visible=_visible(joinery.joints, joinery),
    )


def _count(members: Mapping[str, str], parts: list[str]) -> dict[str, int]:
    found = dict.fromkeys(("butting", "receiving"), 0)
    for part in parts:
        found[members[part]] += 1
    return found


def _surfaces(members: Mapping[str, str], joinery: Joinery) -> dict[str, tuple[str, ...]]:
    """Return the surfaces that the workshop works, by member, each once."""
    worked = [(b.part, b.surface) for b in joinery.bores if b.stage == "workshop"]
    worked += [(s.part, s.surface) for s in joinery.slots if s.stage == "workshop"]
    worked += [(g.part, g.surface) for g in joinery.grooves]
    found: dict[str, tuple[str, ...]] = {"butting": (), "receiving": ()}
    for part, surface in dict.fromkeys(worked):
        found[members[part]] += (surface,)
    return found


def _workshop_minutes(joinery: Joinery, catalogue: Catalogue, items: Mapping[str, int]) -> float:
    """Return the time for set-ups, machining and what comes fitted."""
    worked = {(b.part, b.surface) for b in joinery.bores if b.stage == "workshop"}
    worked |= {(s.part, s.surface) for s in joinery.slots if s.stage == "workshop"}
    worked |= {(g.part, g.surface) for g in joinery.grooves}
    minutes = [len(worked) * catalogue.minutes_for("set-up")]
    minutes += [catalogue.minutes_for("bore") for b in joinery.bores if b.stage == "workshop"]
    minutes += [catalogue.minutes_for("slot") for s in joinery.slots if s.stage == "workshop"]
    minutes += [catalogue.minutes_for("groove") for _ in joinery.grooves]
    for joint in joinery.joints:
        for key in joint.fittings:
            for action in joinery.fittings[key].actions:
                if action.stage == "workshop":
                    each = action.minutes or catalogue.minutes_for(action.do)
                    minutes.append(each * max(1, items.get(action.item or "", 0)))
    return math.fsum(minutes)


def _visible(joints: tuple[PlacedJoint, ...], joinery: Joinery) -> str:
    said = [joinery.fittings[key].visible for joint in joints for key in joint.fittings]
    seen = [words for words in dict.fromkeys(said) if words != "nothing"]
    return ", ".join(seen) or "nothing"
