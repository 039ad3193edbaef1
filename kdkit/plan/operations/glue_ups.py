"""Glue-ups: what is glued together sets together.

Takes the operations with the reasons for their order, finds the order of doing, and lets
matings with glue that follow each other be one glue-up: spread, put the pins in, close,
press, measure, wait, take the clamps off. A glue-up ends where the work is turned, where
clamps would press another way, where something takes their room, and where the glue would
have lain open too long. All is cut from an order that is already found, and what is added
comes after what is there: so nothing can come to wait for itself.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from kdkit.diagnostics import Problem, warning
from kdkit.frames import Vec3, distance, dot
from kdkit.geometry.assembly import ContactKind
from kdkit.joinery.placed import PlacedJoint
from kdkit.plan.operations.gluing import GluedJoint, glued_joints
from kdkit.plan.operations.steps import order_operations
from kdkit.plan.order.build import Scene, Worked
from kdkit.plan.plan import Operation, OperationKind, Precedence

__all__ = ["form_glue_ups", "warn_of_open_time"]

_CLOSE = 0.5
"""Minutes to lay a spread part in its place: common practice, no source."""

_SQUARE_MINUTES = 2.0  # common practice, no source

_ONE_WAY = 0.9
"""Cosine from which clamps side by side press two joints: about 25 degrees, common practice, no
source. A wedge takes up the rest."""

_WITHIN = (OperationKind.FASTEN, OperationKind.FIT, OperationKind.SQUARE)
"""What may be done between two matings of a glue-up."""

_AFTERWARDS = (
    OperationKind.TURN,
    OperationKind.STAND,
    OperationKind.LOAD,
    OperationKind.FIXTURE,
    OperationKind.SECURE,
)


@dataclass
class _GlueUp:
    """A glue-up as it grows.

    Args:
        done: its operations but spreading and pins, up to the last glued mating; ``dry``:
            what came after that, and is part of it only if glue follows.
        later: what must wait until the glue has set.
    """

    subassembly: str
    done: list[Operation] = field(default_factory=list)
    dry: list[Operation] = field(default_factory=list)
    later: list[Operation] = field(default_factory=list)
    joints: list[GluedJoint] = field(default_factory=list)
    takes: float = 0.0


def form_glue_ups(scene: Scene, worked: Worked) -> None:
    """Put the operations into the order of doing, with their glue-ups."""
    edges = [Precedence(before=a, after=b, reason=r) for (a, b), r in worked.precedences.items()]
    order = order_operations(worked.operations, edges)
    by_id = {o.id: o for o in worked.operations}
    glue = glued_joints(scene)
    if not worked.prepare and not worked.when_set:
        worked.operations[:] = [by_id[id] for id in order]
        return
    worked.operations[:] = _Walk(scene, worked, glue, by_id).through([by_id[id] for id in order])


class _Walk:
    def __init__(
        self,
        scene: Scene,
        worked: Worked,
        glue: dict[str, GluedJoint],
        by_id: dict[str, Operation],
    ) -> None:
        self.scene, self.worked, self.glue, self.by_id = scene, worked, glue, by_id
        self.before: dict[str, set[str]] = {}
        self.after: dict[str, set[str]] = {}
        for a, b in worked.precedences:
            self.before.setdefault(b, set()).add(a)
            self.after.setdefault(a, set()).add(b)
        self.mate_of = {id: mate for mate, ids in worked.prepare.items() for id in ids}
        self.place: dict[str, int] = {}
        self.out: list[Operation] = []
        self.last_wait: dict[str, str] = {}

    def through(self, order: Sequence[Operation]) -> list[Operation]:
        """Return the operations with the glue-ups in them."""
        self.place = {o.id: n for n, o in enumerate(order)}
        now: _GlueUp | None = None
        for operation in order:
            if operation.id in self.mate_of:
                if not self._comes_beforehand(operation):
                    continue  # it is done with its mating
                operation = replace(operation, does=("glue", "insert"))
            if now is not None and not self._takes_in(now, operation):
                self._close(now)
                now = None
            if now is None:
                glued = self._glued(operation)
                if not glued:
                    self.out.append(operation)
                    continue
                now = _GlueUp(operation.subassembly)
                self._join(now, operation)
        if now is not None:
            self._close(now)
        return self.out

    # -- what belongs to one ------------------------------------------------------

    def _glued(self, operation: Operation) -> list[GluedJoint]:
        if operation.kind is not OperationKind.MATE:
            return []
        return [self.glue[name] for name in operation.joints if name in self.glue]

    def _comes_beforehand(self, operation: Operation) -> bool:
        """Whether a pin must be in before something that comes before its joint is closed.

        It is glued into its own bore then, by itself.
        """
        if operation.kind is not OperationKind.FIT:
            return False
        mate = self.mate_of[operation.id]
        at = self.place[mate]
        if all(self.place[id] >= at for id in self.after.get(operation.id, ())):
            return False
        for id in self.worked.prepare[mate]:
            self.worked.precedences.pop((id, operation.id), None)
        self.mate_of.pop(operation.id)
        self.worked.prepare[mate].remove(operation.id)
        return True

    def _takes_in(self, now: _GlueUp, operation: Operation) -> bool:
        """Take an operation into a glue-up, or to what waits for it, if it may be."""
        if operation.id in self.worked.when_set:
            now.later.append(operation)
            return True
        waits = self.before.get(operation.id, set()) & {o.id for o in now.later}
        alike = operation.subassembly == now.subassembly and not waits
        if not alike or operation.posture is not now.done[0].posture:
            return False
        if operation.kind in _WITHIN:
            in_core = self.before.get(operation.id, set()) & {o.id for o in now.done}
            late = now.dry or not in_core
            (now.dry if late else now.done).append(operation)
            now.takes += 0.0 if late else operation.minutes
            return True
        if operation.kind is not OperationKind.MATE:
            return False
        glued = self._glued(operation)
        if not glued:
            now.dry.append(operation)
            return True
        if not self._fits(now, operation, glued):
            return False
        self._join(now, operation)
        return True

    def _fits(self, now: _GlueUp, operation: Operation, glued: Sequence[GluedJoint]) -> bool:
        if {one.glue for one in glued} != {one.glue for one in now.joints}:
            return False
        if not _press_alike(now.joints, glued):
            return False
        there = {p for o in (*now.done, *now.dry) for p in (*o.parts, *o.onto)}
        rooms = [r for one in now.joints for r in self.scene.rooms.get((one.name, -1), ())]
        then = there | set(operation.parts)
        if any(room.is_clear(there) and not room.is_clear(then) for room in rooms):
            return False
        limit = self._open(now.joints)
        return not limit or now.takes + self._dry(now) + self._time(operation) <= limit

    def _join(self, now: _GlueUp, operation: Operation) -> None:
        now.takes += self._dry(now) + self._time(operation)
        now.done += [*now.dry, operation]
        now.dry.clear()
        now.joints += self._glued(operation)

    def _time(self, mating: Operation) -> float:
        """Minutes from the first glue in a mating's joints until they are closed."""
        wet = [self.by_id[id] for id in self.worked.prepare.get(mating.id, ())]
        return sum(o.minutes for o in wet) + _CLOSE

    def _dry(self, now: _GlueUp) -> float:
        return sum(_CLOSE if o.kind is OperationKind.MATE else o.minutes for o in now.dry)

    def _open(self, joints: Iterable[GluedJoint]) -> float:
        tools = self.scene.catalogue.tools
        times = [tools[j.glue].open_minutes for j in joints if j.glue in tools]
        return min((t for t in times if t), default=0.0)

    # -- what is written ----------------------------------------------------------

    def _close(self, now: _GlueUp) -> None:
        """Write a glue-up, and then what came after its last mating."""
        worked, mates = self.worked, [o for o in now.done if self._glued(o)]
        head = mates[-1].id.removeprefix("mate/")
        name = f"glue-up/{head}"
        wet = [self.by_id[i] for o in mates for i in worked.prepare.get(o.id, ())]
        spreads = [o for o in wet if o.kind is OperationKind.GLUE]
        spread = self._merge(spreads, now)
        placed = {o.id for o in self.out}
        pins = [o for o in wet if o.kind is OperationKind.FIT and o.id not in placed]
        inside = {o.id for o in now.done}
        first = [o for o in pins if not self.before.get(o.id, set()) & inside]
        own: list[Operation] = [spread, *first]
        for operation in now.done:
            mine = worked.prepare.get(operation.id, ())
            own += [o for o in pins if o.id in mine and o not in first]
            own.append(operation)
        own += self._pressing(now, mates, head)
        own = [replace(o, glue_up=name) for o in own]
        self._reasons(now, own)
        self.out += [*own, *now.later, *now.dry]

    def _merge(self, spreads: Sequence[Operation], now: _GlueUp) -> Operation:
        """All spreading of a glue-up as one operation."""
        worked = self.worked
        merged = replace(
            spreads[0],
            parts=tuple(dict.fromkeys(p for o in spreads for p in o.parts)),
            fasteners=tuple(f for o in spreads for f in o.fasteners),
            joints=tuple(j for o in spreads for j in o.joints),
            minutes=sum(o.minutes for o in spreads),
            open_minutes=self._open(now.joints),
            takes=now.takes,
        )
        gone = {o.id for o in spreads[1:]}
        for (a, b), reason in list(worked.precedences.items()):
            if a in gone or b in gone:
                del worked.precedences[a, b]
                one, other = (merged.id if id in gone else id for id in (a, b))
                worked.before([one], other, reason)
        return merged

    def _pressing(self, now: _GlueUp, mates: Sequence[Operation], head: str) -> Iterator[Operation]:
        """Clamp, measure, wait."""
        parts = tuple(dict.fromkeys(p for j in now.joints for p in sorted(j.ends)))
        common = replace(
            mates[-1],
            kind=OperationKind.WAIT,
            onto=(),
            direction=None,
            mass=0.0,
            held=(),
            pins=0,
            why_two=(),
            lifted=(),
            strips=0.0,
            clear_of=(),
            rests=False,
        )
        clamped = sorted((j for j in now.joints if j.clamp is not None), key=lambda j: j.captured)
        if clamped:
            yield replace(
                common,
                id=f"wait/{head}/clamp",
                parts=parts,
                tool=clamped[0].clamp,
                joints=tuple(j.name for j in clamped),
                minutes=sum(
                    max(j.clamping for j in some)
                    for some in ([j for j in clamped if j.name in m.joints] for m in mates)
                    if some
                ),
            )
        square = self._rectangle(now)
        if square:
            yield replace(
                common,
                id=f"square/{head}",
                kind=OperationKind.SQUARE,
                parts=square,
                joints=(),
                minutes=_SQUARE_MINUTES,
            )
        yield replace(
            common,
            id=f"wait/{head}",
            parts=parts,
            joints=tuple(j.name for j in now.joints),
            minutes=max(j.sets for j in now.joints),
        )

    def _rectangle(self, now: _GlueUp) -> tuple[str, ...]:
        """The parts round the largest opening that is closed now; () if there is none.

        Two that do not meet, with two between them that do not meet either: first, one
        between, second, the other between. Where no four parts are so, what is joined already
        counts as one: two frames of a stool, with the rails between them.
        """
        there = {p for o in now.done for p in (*o.parts, *o.onto)}
        joints = [j for j in self.scene.joinery.joints if {j.butting, j.receiving} <= there]
        closed = {j.name for j in now.joints}
        alone = {name: name for name in there}
        found = _ring(joints, closed, alone)
        if found:
            return found
        whole = dict(alone)
        for joint in joints:
            one, other = whole[joint.butting], whole[joint.receiving]
            if joint.name not in closed and one != other:
                whole = {name: one if head == other else head for name, head in whole.items()}
        middles = {
            n: self.scene.facts[k].poise.middle for k, n in enumerate(self.scene.blocking.names)
        }
        return _in_the_middle(_ring(joints, closed, whole), whole, middles)

    def _reasons(self, now: _GlueUp, own: Sequence[Operation]) -> None:
        worked = self.worked
        inside = {o.id for o in own}
        pressing = [o for o in own if o.kind is OperationKind.WAIT]
        spread, wait = own[0].id, own[-1].id
        squares = [o.id for o in own if o.id == f"square/{wait.removeprefix('wait/')}"]
        mates = [o.id for o in own if o.kind is OperationKind.MATE]
        clamp = [o.id for o in pressing[:-1]]
        first = self.last_wait.get(now.subassembly)
        if first is not None:
            worked.before([first], spread, "one clamping sets before the next is begun")
        self.last_wait[now.subassembly] = wait
        worked.before([spread], mates[0], "the glue goes on before the joint is closed")
        for one in (*clamp, *squares, wait):
            worked.before(mates, one, "the glue sets once the joint is closed")
        worked.before(clamp, wait, "it sets in the clamps")
        for square in squares:
            worked.before(clamp, square, "the diagonals are measured in the clamps")
            worked.before([square], wait, "once the glue has set nothing can be squared")
        for later in now.later:
            worked.before([wait], later.id, "it is worked once the glue has set")
        for a, b in list(worked.precedences):
            if a in inside and b in self.by_id and b not in inside:
                other = self.by_id[b]
                if other.kind in _AFTERWARDS or other.subassembly != now.subassembly:
                    worked.before([wait], b, "the glue must have set before that")


def _ring(
    joints: Iterable[PlacedJoint], closed: Collection[str], whole: Mapping[str, str]
) -> tuple[str, ...]:
    """Return the four bodies round the largest opening; () if there is none.

    Args:
        closed: the joints of which one at least must be in it.
        whole: for each part the name of its body.
    """
    joins: dict[str, dict[str, PlacedJoint]] = {}
    for joint in joints:
        one, other = whole[joint.butting], whole[joint.receiving]
        if one != other:
            joins.setdefault(one, {})[other] = joint
            joins.setdefault(other, {})[one] = joint
    found: list[tuple[float, tuple[str, ...]]] = []
    for a, b in itertools.combinations(sorted(joins), 2):
        if b in joins[a]:
            continue
        between = [c for c in sorted(joins[a].keys() & joins[b]) if _lies_between(joins, c, a, b)]
        for c, d in itertools.combinations(between, 2):
            sides = [joins[x][y] for x, y in ((a, c), (c, b), (b, d), (d, a))]
            if d not in joins[c] and {side.name for side in sides} & set(closed):
                found.append((_size(joins, a, c, b, d), (a, c, b, d)))
    return max(found, key=lambda one: (one[0], one[1]), default=(0.0, ()))[1]


def _in_the_middle(
    bodies: Sequence[str], whole: Mapping[str, str], middles: Mapping[str, Vec3]
) -> tuple[str, ...]:
    """Return for each body of a ring the part of it that lies next to its middle."""
    found = []
    for body in bodies:
        parts = sorted(name for name, head in whole.items() if head == body)
        x, y, z = (sum(middles[name][n] for name in parts) / len(parts) for n in range(3))
        found.append(min(parts, key=lambda name: distance(middles[name], (x, y, z))))
    return tuple(found)


def _lies_between(
    joins: Mapping[str, Mapping[str, PlacedJoint]], part: str, one: str, other: str
) -> bool:
    """Tell whether a part stands between two: its joints look opposite ways, or are mitres."""
    a, b = (joins[part][end].contact for end in (one, other))
    mitres = a.kind is b.kind is ContactKind.MITRE
    return mitres or abs(dot(a.frame.k, b.frame.k)) >= _ONE_WAY


def _size(joins: Mapping[str, Mapping[str, PlacedJoint]], a: str, c: str, b: str, d: str) -> float:
    """Return about how large the opening between four parts is, mm²."""
    corner, across, along = (joins[x][y].contact.frame.origin for x, y in ((a, c), (b, c), (a, d)))
    return distance(corner, across) * distance(corner, along)


def _press_alike(now: Sequence[GluedJoint], more: Sequence[GluedJoint]) -> bool:
    """Tell whether the clamps that press some joints press others as well."""
    pressed = [j for j in now if not j.captured]
    return not pressed or all(
        j.captured
        or any(
            j.is_banded is one.is_banded and abs(dot(j.presses, one.presses)) >= _ONE_WAY
            for one in pressed
        )
        for j in more
    )


def warn_of_open_time(scene: Scene, operations: Sequence[Operation]) -> tuple[Problem, ...]:
    """Return a warning for each closing that takes longer than its glue lies open."""
    joints = {joint.name: joint for joint in scene.joinery.joints}
    found = []
    for operation in operations:
        if not operation.open_minutes or operation.takes <= operation.open_minutes:
            continue
        first = joints[operation.joints[0]]
        glue = scene.catalogue.tools[operation.tool or ""].title
        names = [scene.titles[p] for p in operation.parts]
        found.append(
            warning(
                "glue-open-time",
                f"gluing {names[0]} takes about {round(operation.takes)} minutes until it is "
                f"closed, and {glue.lower()} lies open for {round(operation.open_minutes)}",
                first.path,
                where=operation.id,
                help="take a glue that stays open longer, let two spread, or glue the pins into "
                "one member beforehand; where some of its parts are a unit, that is glued first",
            )
        )
    return tuple(found)
