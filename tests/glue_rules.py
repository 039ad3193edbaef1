"""What a plan must keep where glue is used, judged from the plan and the catalogue alone.

Shares nothing with the planner. Part of a replay (``tests/replay.py``).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from kdkit.catalogue.entries import Action, Catalogue
from kdkit.joinery.placed import Joinery, PlacedJoint
from kdkit.plan.plan import Operation, OperationKind

__all__ = ["GlueError", "check_glue"]

COMES_TOGETHER = ("mate", "lay-on", "slide-in", "hang", "run-in")
A_PART, A_PIN = 0.5, 0.25  # minutes, at least, to lay a part in place and to put a pin in


class GlueError(AssertionError):
    """Glue is asked to do what it cannot."""


def wet_actions(joint: PlacedJoint, joinery: Joinery) -> list[Action]:
    """The spreading of glue that a joint asks for before it is closed."""
    found = []
    for name in joint.fittings:
        for action in joinery.fittings[name].actions:
            if action.do in COMES_TOGETHER:
                break
            if action.do == "glue" and action.stage == "home":
                found.append(action)
    return found


def check_glue(joinery: Joinery, stock: Catalogue, order: Sequence[Operation]) -> None:
    """Judge all that is done, in its order.

    Raises:
        GlueError: with the operation and the rule that it breaks.
    """
    glued = {j.name: j for j in joinery.joints if wet_actions(j, joinery)}
    wet: set[str] = set()
    shut: set[str] = set()
    hard: set[str] = set()
    now = ""
    for operation in order:
        if now and operation.glue_up != now:
            raise GlueError(f"{operation.id}: {now} has not set yet")
        if operation.kind is OperationKind.GLUE:
            now = operation.glue_up
            wet = set(operation.joints)
            shut = set()
        if operation.kind is OperationKind.MATE:
            for name in set(operation.joints) & glued.keys():
                if name not in wet:
                    raise GlueError(f"{operation.id} closes {name} without glue in it")
                shut.add(name)
        if operation.kind is OperationKind.FIT:
            _pins_go_into_glue(operation, joinery, wet if now else set())
        if operation.kind is OperationKind.FASTEN:
            _is_worked_when_hard(operation, joinery, hard)
        if operation.kind is OperationKind.WAIT and operation.tool is None and now:
            if shut != wet or not shut <= set(operation.joints):
                raise GlueError(f"{operation.id}: not all that is spread is closed")
            hard |= shut
            now = ""
    if now:
        raise GlueError(f"{now} is never left to set")
    for name in glued.keys() - hard:
        if any(name in o.joints for o in order if o.kind is OperationKind.MATE):
            raise GlueError(f"the glue of {name} is not left to set")
    groups: dict[str, list[Operation]] = {}
    for operation in order:
        if operation.glue_up:
            groups.setdefault(operation.glue_up, []).append(operation)
    for group in groups.values():
        _is_pressed_and_measured(group, glued, joinery)
        _keeps_open_time(group, glued, joinery, stock)


def _pins_go_into_glue(operation: Operation, joinery: Joinery, wet: Iterable[str]) -> None:
    fasteners = {f.id: f for f in joinery.fasteners}
    for name in operation.fasteners:
        actions = joinery.fittings[fasteners[name].fitting].actions
        glue = [n for n, a in enumerate(actions) if a.do == "glue"]
        put = [n for n, a in enumerate(actions) if a.item in operation.items]
        wants = glue and put and glue[0] < put[0]
        if wants and "glue" not in operation.does and fasteners[name].joint not in wet:
            raise GlueError(f"{operation.id}: {name} goes dry into a bore that wants glue")


def _is_worked_when_hard(operation: Operation, joinery: Joinery, hard: Iterable[str]) -> None:
    fasteners = {f.id: f for f in joinery.fasteners}
    for name in operation.fasteners:
        actions = [a.do for a in joinery.fittings[fasteners[name].fitting].actions]
        late = "wait" in actions and set(operation.does) & set(actions[actions.index("wait") :])
        if late and fasteners[name].joint not in hard:
            raise GlueError(f"{operation.id}: the glue of {name} has not set yet")


def _is_pressed_and_measured(
    group: Sequence[Operation], glued: dict[str, PlacedJoint], joinery: Joinery
) -> None:
    place = {o.id: n for n, o in enumerate(group)}
    mates = [place[o.id] for o in group if o.kind is OperationKind.MATE]
    last = [o for o in group if o.kind is OperationKind.WAIT][-1]
    pressed = Counter(
        name for o in group if o.kind is OperationKind.WAIT and o.tool for name in o.joints
    )
    for joint in (glued[name] for name in last.joints):
        actions = [a.do for f in joint.fittings for a in joinery.fittings[f].actions]
        if "clamp" in actions and not pressed[joint.name]:
            raise GlueError(f"{joint.name} is glued and not pressed")
    for operation in group:
        if operation.kind is OperationKind.SQUARE and not (
            max(mates) < place[operation.id] < place[last.id]
        ):
            raise GlueError(f"{operation.id}: measured before it is closed, or when it is hard")


def _keeps_open_time(
    group: Sequence[Operation],
    glued: dict[str, PlacedJoint],
    joinery: Joinery,
    stock: Catalogue,
) -> None:
    """What is closed in several moves is closed while the glue is open."""
    mates = [o for o in group if o.kind is OperationKind.MATE]
    joints = [glued[name] for o in mates for name in o.joints if name in glued]
    spreads = [wet_actions(joint, joinery) for joint in joints]
    open_for = [stock.tools[a.tool].open_minutes for s in spreads for a in s if a.tool]
    limit = min((t for t in open_for if t), default=0.0)
    takes = sum(max(a.minutes for a in s) for s in spreads) + A_PART * len(mates)
    takes += A_PIN * sum(sum(o.items.values()) for o in group if o.kind is OperationKind.FIT)
    closing = sum(any(name in glued for name in o.joints) for o in mates)
    if limit and closing > 1 and takes > limit + 1e-6:
        raise GlueError(f"{mates[0].id}: {takes:.1f} minutes, the glue is open for {limit:.0f}")
