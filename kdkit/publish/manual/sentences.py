"""What is done in a step, as sentences made from its operations.

Each operation's sentences follow from its fittings' actions in the catalogue: those
before the members are brought together, or those after.

Longer than most modules: each kind of operation has its sentence here and nowhere else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from kdkit.catalogue.entries import Action, Fitting
from kdkit.frames import dot
from kdkit.geometry.assembly import Contact, ContactKind
from kdkit.joinery.placed import Fastener, Joinery
from kdkit.model.resolved import Part
from kdkit.parts.postures import steepness
from kdkit.plan.plan import Operation, OperationKind
from kdkit.publish.manual.detours import tell_moves
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.naming import Names

__all__ = ["Deed", "Sentences", "told_once"]

_MATING = ("mate", "slide-in", "lay-on", "hang", "run-in")
_PRESSING = (OperationKind.WAIT, OperationKind.SQUARE)
_STEEP = 0.7
_INTO = ("insert", "insert_glued", "screw-in", "press", "fix")
"""Doings whose words name the parts, so that "each" or "in all" must be said of several."""
_SLANT = (0.35, 0.9)  # sines of the rise between which a way is neither level nor upright


@dataclass(frozen=True)
class Deed:
    """One action on some items of some parts; equal deeds on several parts are told once."""

    do: str
    items: tuple[tuple[str, int], ...]
    parts: tuple[str, ...]
    minutes: float = 0.0
    hint: str = ""


class Sentences:
    """Writes the lines of steps."""

    def __init__(
        self,
        joinery: Joinery,
        names: Names,
        messages: Messages,
        parts: Sequence[Part] = (),
        *,
        hung: bool = False,
    ) -> None:
        """Start writing.

        Args:
            parts: all of the product, for what takes more than one move.
            hung: the product hangs on the wall, and stands nowhere.
        """
        self._shapes = {part.name: part for part in parts}
        self._hung = hung
        self._fasteners = {fastener.id: fastener for fastener in joinery.fasteners}
        self._fittings = joinery.fittings
        self._joints = {joint.name: joint for joint in joinery.joints}
        self._names = names
        self._say = messages

    def lines(self, operations: Sequence[Operation]) -> tuple[Markup, ...]:
        """Return the sentences of a step's operations, in their order.

        Like parts that are put on one after another, each with the same doings after
        it, are told once.
        """
        pressing = [o for o in operations if o.glue_up and o.kind in _PRESSING]
        rest = [o for o in operations if o not in pressing]
        operations = _fixings_together(_loads_together(rest))
        first = next(
            (n for n, o in enumerate(operations) if o.kind is OperationKind.MATE), len(operations)
        )
        lines = self._in_order(operations[:first])
        matings = _split_at_matings(operations[first:])
        plain = not any(o.moves for mating in matings for o in mating)
        if plain and len(matings) > 1 and len({self._likeness(mating) for mating in matings}) == 1:
            parts = [part for mating in matings for part in mating[0].parts]
            onto = [p for m in matings for p in self._met_by(m[0]) if p not in parts]
            mates = self._names.parts(parts), self._names.parts(list(dict.fromkeys(onto)))
            way = self._way(matings[0][0])
            follows = self._in_order(matings[0][1:], self._say.text("each.it"))
            if follows:
                it = self._say.text("each.it")
                lines.append(self._say.text("each.do", parts=self._names.letters(parts)))
                lines.append(self._say.text(f"mate.{way}", parts=it, onto=mates[1]))
                lines.extend(follows)
            else:
                lines.append(self._say.text(f"mate.{way}_each", parts=mates[0], onto=mates[1]))
        else:
            lines.extend(self._in_order(operations[first:]))
        return (*lines, *self._pressed(pressing), *self._fronts_set(operations))

    def _fronts_set(self, operations: Iterable[Operation]) -> Iterator[Markup]:
        """Yield the setting of fronts that can be shifted, once their drawers are in."""
        run_in = [
            part
            for o in operations
            if o.kind is OperationKind.MATE and self.is_way_of_mating(o, "run-in")
            for part in o.parts
        ]
        fronts = [
            joint.butting
            for joint in self._joints.values()
            if joint.butting in run_in
            and any("adjust" in self._fittings[key].options for key in joint.fittings)
        ]
        if fronts:
            yield self._say.text(
                "operation.fronts_set", parts=self._names.parts(list(dict.fromkeys(fronts)))
            )

    def _pressed(self, pressing: Sequence[Operation]) -> Iterator[Markup]:
        """Yield how a glue-up is pressed, measured and left."""
        clamped = next((o for o in pressing if o.tool is not None), None)
        for operation in pressing:
            if operation.kind is OperationKind.SQUARE:
                yield self._say.text("do.square_wet")
                yield self._say.text("do.flat_wet")
            elif operation is not clamped:
                key = "do.wait_in_clamps" if clamped is not None else "do.wait"
                yield self._say.count(key, round(operation.minutes))
            else:
                banded = operation.tool == "band-clamp"
                boards = "do.clamp_boards" if self._lays_boards(operation) else "do.clamp"
                yield self._say.text("do.clamp_band" if banded else boards)
                if operation.no_room:
                    yield self._say.text("do.clamp_no_room")

    def _lays_boards(self, operation: Operation) -> bool:
        """Tell whether boards are pressed together edge to edge, to a larger one."""
        contacts = [self._joints[name].contact for name in operation.joints]
        return bool(contacts) and all(
            contact.kind is ContactKind.EDGE_EDGE and self._lie_flush(contact)
            for contact in contacts
        )

    def _lie_flush(self, contact: Contact) -> bool:
        """Tell whether the two parts of a contact lie in one plane, their grain one way."""
        ends = [self._shapes.get(name) for name in (contact.butting, contact.receiving)]
        one, other = (part.frame if part is not None else None for part in ends)
        if one is None or other is None:
            return False
        return abs(dot(one.k, other.k)) > 0.99 and abs(dot(one.i, other.i)) > 0.99

    def _likeness(self, mating: Sequence[Operation]) -> tuple[object, ...]:
        deeds = tuple((d.do, d.items) for o in mating[1:] for d in self.deeds(o))
        return (self._way(mating[0]), tuple(o.kind for o in mating), deeds)

    def _in_order(
        self, operations: Sequence[Operation], done_to: Markup | None = None
    ) -> list[Markup]:
        """Return the sentences; ``done_to`` stands for the parts, where it is known which."""
        lines: list[Markup] = []
        waiting: list[Deed] = []
        for operation in operations:
            deeds = self.deeds(operation)
            if operation.open_minutes:
                lines.append(self._say.count("do.dry_run", round(operation.open_minutes)))
            waiting.extend(deeds)
            if not deeds:
                lines.extend(self._tell(waiting, done_to))
                waiting = []
                lines.extend(line for line in self._sentences(operation) if line)
        lines.extend(self._tell(waiting, done_to))
        return lines

    def undone(
        self, operations: Sequence[Operation]
    ) -> tuple[tuple[Markup, ...], Mapping[str, int]]:
        """Return how the fastening of the operations is undone, the last of it first.

        What was only pushed in holds nothing: it can stay, and is returned as counts.
        """
        left: Counter[str] = Counter()
        counts: dict[str, Counter[str]] = {}
        parts: dict[str, dict[str, None]] = {}
        for operation in reversed(operations):
            if operation.kind in (OperationKind.FASTEN, OperationKind.CAP):
                for deed in reversed(self.deeds(operation)):
                    if deed.do == "insert":
                        left.update(dict(deed.items))
                    elif deed.do not in ("clamp", "adjust") and deed.items:
                        counts.setdefault(deed.do, Counter()).update(dict(deed.items))
                        parts.setdefault(deed.do, {}).update(dict.fromkeys(deed.parts))
        told = tuple(
            self._say.text(
                f"do.undo_{do}" if f"do.undo_{do}" in self._say else "do.undo_other",
                items=self._names.items(counts[do]),
                parts=self._names.parts(list(parts[do])),
            )
            for do in counts
        )
        return told, left

    def is_glued(self, operation: Operation) -> bool:
        """Tell whether glue holds a joint, or a fastener, of the operation."""
        keys = [self._fasteners[id].fitting for id in operation.fasteners]
        for name in operation.joints:
            keys += self._joints[name].fittings if name in self._joints else ()
        return any(action.do == "glue" for key in keys for action in self._fittings[key].actions)

    def hangs(self, operation: Operation) -> bool:
        """Tell whether an operation hangs the product on the wall by itself."""
        keys = {self._fasteners[id].fitting for id in operation.fasteners}
        return any("wall_hung" in self._fittings[key].cautions for key in keys)

    def is_way_of_mating(self, operation: Operation, way: str) -> bool:
        """Tell whether all joints of a mating are made by that action ("slide-in")."""
        ways = [
            action.do
            for name in operation.joints
            if name in self._joints
            for key in self._joints[name].fittings
            for action in self._fittings[key].actions
            if action.do in _MATING
        ]
        return bool(ways) and all(each == way for each in ways)

    def faces_only(self, operation: Operation) -> bool:
        """Tell whether all joints of a mating bridge a gap: nothing touches along them."""
        kinds = [
            kind
            for name in operation.joints
            if name in self._joints
            for key in self._joints[name].fittings
            for kind in self._fittings[key].contact
        ]
        return bool(kinds) and all(kind == "facing" for kind in kinds)

    def fixtures(self, operations: Iterable[Operation]) -> Markup:
        """Return what is fitted by operations on fixtures, as the buyer calls it."""
        ids = (id for operation in operations for id in operation.fasteners)
        counts = Counter(self._fasteners[id].fitting for id in dict.fromkeys(ids))
        titles = (self.called(key, n) for key, n in counts.items())
        return self._say.listed(list(dict.fromkeys(titles)))

    def called(self, key: str, n: int) -> str:
        """Return what the buyer calls n of a fitting, inside a sentence."""
        return self._names.fitting(key, self._fittings[key], n)

    def deeds_done(self, operations: Iterable[Operation]) -> frozenset[str]:
        """Return the names of the actions that the operations do with their fasteners."""
        return frozenset(deed.do for operation in operations for deed in self.deeds(operation))

    def deeds(self, operation: Operation) -> list[Deed]:
        """Return the actions that an operation does, with their items and parts."""
        by_fitting: dict[str, list[Fastener]] = {}
        for id in operation.fasteners:
            fastener = self._fasteners[id]
            by_fitting.setdefault(fastener.fitting, []).append(fastener)
        deeds: list[Deed] = []
        for key, fasteners in by_fitting.items():
            counts = Counter(placed.item for f in fasteners for placed in f.items)
            undone = "undo_" if operation.kind is OperationKind.UNDO else ""
            for action in _actions(operation, self._fittings[key]):
                items = _used(operation, action, counts)
                if action.item is None or items:
                    deeds.append(
                        Deed(
                            "insert_glued" if "glue" in operation.does else undone + action.do,
                            items,
                            self._worked_on(operation, fasteners),
                            action.minutes,
                            "" if undone else action.hint,
                        )
                    )
        return _summed(deeds)

    def _worked_on(self, operation: Operation, fasteners: Iterable[Fastener]) -> tuple[str, ...]:
        if operation.parts:
            return operation.parts
        return tuple(dict.fromkeys(f.butting or f.receiving for f in fasteners))

    def _tell(self, deeds: Sequence[Deed], done_to: Markup | None) -> list[Markup]:
        """Return the deeds as sentences; the same deed on several parts becomes one."""
        lines = []
        for told, groups in told_once(deeds):
            do, items = told.do, told.items
            parts = self._names.parts(
                list(dict.fromkeys(part for group in groups for part in group))
            )
            counts = dict(items)
            if done_to is not None:
                parts = done_to
            elif len(groups) > 1 and all(len(group) == 1 for group in groups):
                parts = self._say.text("each.parts", parts=parts)
            elif len(groups) > 1:
                counts = {item: n * len(groups) for item, n in items}
            if do == "wait":
                lines.append(self._say.count("do.wait", round(told.minutes)))
                continue
            other = "do.undo_other" if do.startswith("undo_") else "do.other"
            key = f"do.{do}" if f"do.{do}" in self._say else other
            if do == "screw-in" and all(self._names.has_collar(item) for item in counts):
                key = "do.screw-in_collar"
            said = self._names.items(counts)
            several = len({part for group in groups for part in group}) > 1
            if several and done_to is None and any(len(group) > 1 for group in groups):
                said = self._say.text("each.all", items=said) if do in _INTO else said
            line = self._say.text(key, items=said, parts=parts)
            if told.hint:
                line += Markup(" ") + self._say.name("hints", told.hint, told.hint)
            lines.append(line)
        return lines

    def _sentences(self, operation: Operation) -> tuple[Markup, ...]:
        kind = operation.kind
        if kind is OperationKind.MATE:
            return (self._mating(operation),)
        if kind is OperationKind.GLUE and not operation.fasteners:
            return (self._say.text("do.glue_bare", parts=self._names.parts(operation.parts)),)
        if kind is OperationKind.REMOVE:
            return (self._removal(operation),)
        if kind is OperationKind.TURN:
            return (self._say.text(f"operation.turn_{operation.posture.value}"),)
        if kind is OperationKind.WAIT:
            return (self._say.count("do.wait", round(operation.minutes)),)
        if kind is OperationKind.LOAD and operation.moves:
            return (self._by_moves(operation, self._met_by(operation)),)
        if kind is OperationKind.LOAD:
            return (self._say.text("operation.load", parts=self._names.parts(operation.parts)),)
        if kind is OperationKind.STAND and self._hung and not operation.subassembly:
            return (self._say.text("operation.stand_hung"),)
        if kind in (OperationKind.SQUARE, OperationKind.STAND):
            return (self._say.text(f"operation.{kind.value}"),)
        if kind is OperationKind.SECURE:
            items = self._names.items(operation.items)
            if self.hangs(operation):
                return (
                    self._say.text("operation.hang_mark"),
                    self._say.text("operation.hang_fix", items=items),
                    self._say.text("operation.hang_join"),
                )
            fix = "operation.secure_fix_items" if items else "operation.secure_fix"
            return (
                self._say.count("operation.secure_mark", len(operation.fasteners)),
                self._say.text(fix, items=items),
                self._say.count("operation.secure_join", len(operation.fasteners)),
            )
        if operation.items:
            return (
                self._say.text(
                    "do.other",
                    items=self._names.items(operation.items),
                    parts=self._names.parts(operation.parts),
                ),
            )
        return ()

    def _mating(self, operation: Operation) -> Markup:
        parts = self._names.parts(operation.parts)
        met = self._met_by(operation)
        if not met:
            return self._say.text("mate.alone", parts=parts)
        if operation.moves:
            return self._by_moves(operation, met)
        return self._say.text(
            f"mate.{self._way(operation)}", parts=parts, onto=self._names.parts(met)
        )

    def _by_moves(self, operation: Operation, met: Sequence[str]) -> Markup:
        names = (self._names.parts(operation.parts), self._names.parts(met))
        return tell_moves(operation, self._shapes, names, self._say)

    def _removal(self, operation: Operation) -> Markup:
        parts = self._names.parts(operation.parts)
        if not operation.joints:
            return self._say.text("remove.loose", parts=parts)
        if operation.moves:
            return self._by_moves(operation, self._met_by(operation))
        way = _way(operation)
        for how, word in (("slide-in", "slide"), ("hang", "hang"), ("run-in", "run")):
            if self.is_way_of_mating(operation, how):
                way = word
        met = self._names.parts(self._met_by(operation))
        return self._say.text(f"remove.{way}", parts=parts, onto=met)

    def _met_by(self, operation: Operation) -> list[str]:
        """Return the parts that the moving ones are joined to, else all that are there."""
        moving = set(operation.parts)
        met = [
            part
            for name in operation.joints
            if name in self._joints
            for part in (self._joints[name].receiving, self._joints[name].butting)
            if part not in moving
        ]
        return list(dict.fromkeys(met)) or list(operation.onto)

    def _way(self, operation: Operation) -> str:
        if self.is_way_of_mating(operation, "slide-in"):
            return "slide"
        if self.is_way_of_mating(operation, "lay-on"):
            return "lay"
        if self.is_way_of_mating(operation, "hang"):
            return "hang"
        if self.is_way_of_mating(operation, "run-in"):
            return "run"
        return _way(operation)


def _loads_together(operations: Sequence[Operation]) -> list[Operation]:
    """Return the operations with parts that are laid in one after another as one."""
    merged: list[Operation] = []
    for operation in operations:
        last = merged[-1] if merged else None
        loads = last is not None and last.kind is operation.kind is OperationKind.LOAD
        if last is not None and loads and not (last.moves or operation.moves):
            merged[-1] = replace(last, parts=last.parts + operation.parts)
        else:
            merged.append(operation)
    return merged


def _fixings_together(operations: Sequence[Operation]) -> list[Operation]:
    """Return the operations with all fixings to the wall as one: one marking, one drilling."""
    merged: list[Operation] = []
    for operation in operations:
        last = merged[-1] if merged else None
        if last is not None and last.kind is operation.kind is OperationKind.SECURE:
            items = Counter(last.items) + Counter(operation.items)
            merged[-1] = replace(
                last, fasteners=last.fasteners + operation.fasteners, items=dict(items)
            )
        else:
            merged.append(operation)
    return merged


def _split_at_matings(operations: Sequence[Operation]) -> list[list[Operation]]:
    """Return runs of operations, each beginning with a mating."""
    runs: list[list[Operation]] = []
    for operation in operations:
        if operation.kind is OperationKind.MATE:
            runs.append([])
        runs[-1].append(operation)
    return runs


def _way(operation: Operation) -> str:
    """Return how the moving parts travel, as the product lies: down, up, slant or sideways."""
    if operation.direction is None:
        return "sideways"
    rise = steepness(operation.direction, operation.posture)
    if _SLANT[0] < abs(rise) < _SLANT[1]:
        return "slant"
    return "up" if rise > _STEEP else "down" if rise < -_STEEP else "sideways"


def _actions(operation: Operation, fitting: Fitting) -> list[Action]:
    """Return the actions at home that an operation of its kind does, in order."""
    home = [action for action in fitting.actions if action.stage == "home"]
    mating = next((n for n, a in enumerate(home) if a.do in _MATING), None)
    before = home[:mating] if mating is not None else []
    after = home[mating + 1 :] if mating is not None else home
    kind = operation.kind
    if kind is OperationKind.UNDO:
        turned = not operation.items
        return [
            a
            for a in (*reversed(after), *before)
            if a.do not in ("glue", "clamp", "wait", "adjust") and (a.do == "turn") is turned
        ]
    if kind is OperationKind.FIT:
        return [a for a in (before or home) if a.do != "glue"]
    if kind is OperationKind.GLUE:
        return [a for a in home if a.do == "glue"]
    if kind is OperationKind.FASTEN:
        return [
            a
            for a in after
            if a.do not in ("wait", "cap") and (not operation.does or a.do in operation.does)
        ]
    if kind is OperationKind.CAP:
        return [a for a in home if a.do == "cap"]
    if kind is OperationKind.WAIT:
        return []
    if kind is OperationKind.FIXTURE:
        return [a for a in home if a.do not in _MATING]
    return []


def _used(
    operation: Operation, action: Action, counts: Mapping[str, int]
) -> tuple[tuple[str, int], ...]:
    """Return the item and how many of it the action is done to, nothing if none of it."""
    key = action.item
    if key is None or key not in counts:
        return ()
    uses_up = action.do not in ("turn", "clamp", "adjust")
    if uses_up and key not in operation.items:
        return ()
    n = min(counts[key], operation.items[key]) if key in operation.items else counts[key]
    return ((key, n),)


def told_once(deeds: Sequence[Deed]) -> list[tuple[Deed, list[tuple[str, ...]]]]:
    """Return each deed without its parts, and on which parts it is done.

    What is done again to a part with nothing else done to it in between is summed. The same
    deed on several parts is told once, when all that comes before it on each of them is told.
    """
    summed: list[Deed] = []
    last: dict[tuple[str, ...], int] = {}
    for deed in deeds:
        before = last.get(deed.parts)
        if before is not None and len(_summed((summed[before], deed))) == 1:
            summed[before] = _summed((summed[before], deed))[0]
            continue
        last[deed.parts] = len(summed)
        summed.append(deed)
    together: dict[Deed, list[int]] = {}
    for n, deed in enumerate(summed):
        together.setdefault(replace(deed, parts=()), []).append(n)
    for at in (0, -1):  # as early as its first part, else as late as its last
        told = sorted(together.items(), key=lambda one: one[1][at])
        place = {n: row for row, (_, some) in enumerate(told) for n in some}
        of_part: dict[tuple[str, ...], list[int]] = {}
        for n, deed in enumerate(summed):
            of_part.setdefault(deed.parts, []).append(place[n])
        if all(places == sorted(places) for places in of_part.values()):
            return [(deed, [summed[n].parts for n in some]) for deed, some in told]
    return [(replace(deed, parts=()), [deed.parts]) for deed in summed]


def _summed(deeds: Sequence[Deed]) -> list[Deed]:
    """Join the deeds of one operation that differ only in the fitting they come from."""
    sums: dict[tuple[str, tuple[str, ...], tuple[str, ...]], Deed] = {}
    for deed in deeds:
        key = (deed.do, tuple(item for item, _ in deed.items), deed.parts)
        earlier = sums.get(key)
        if earlier is None:
            sums[key] = deed
        else:
            items = tuple(
                (item, n + m) for (item, n), (_, m) in zip(earlier.items, deed.items, strict=True)
            )
            minutes = max(deed.minutes, earlier.minutes)
            sums[key] = Deed(deed.do, items, deed.parts, minutes, earlier.hint or deed.hint)
    return list(sums.values())
