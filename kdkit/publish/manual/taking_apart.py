"""How the product is taken apart: the manual's short account, the steps backwards.

Each kind of hardware goes its own way: what was pressed or glued in stays, what is
screwed is unscrewed, and the wall lets go last of all but before anything moves.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from kdkit.plan.plan import Operation, OperationKind
from kdkit.publish.manual.sentences import Sentences
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.naming import Names

__all__ = ["has_connectors", "is_all_glued", "tell_fixed_joints", "write_taking_apart"]

_STAYS = ("press",)
"""Actions whose items stay where they are: out and in again they would not hold."""

_LOOSENED_FIRST = ("cap", "adjust", "turn", "drive", "screw-on", "screw-in")
"""The order in which a fixture's fastening is undone; the rest follows, pressed in last."""

_NOT_UNDONE = ("glue", "clamp", "wait", "drill", "trim", "adjust")


def write_taking_apart(results: Results, names: Names, messages: Messages) -> tuple[Markup, ...]:
    """Return the steps backwards; hardware that was fitted into single parts comes last."""
    writer = Sentences(results.joinery, names, messages, results.assembly.parts)
    lines: list[Markup] = []
    rest: Counter[str] = Counter()
    glued = False
    alike: _Alike | None = None
    for step in reversed(results.plan.steps):
        operations = [results.plan.operation(id) for id in step.operations]
        loads = [p for o in operations if o.kind is OperationKind.LOAD for p in o.parts]
        matings = [o for o in operations if o.kind is OperationKind.MATE and o.onto]
        mates = [p for o in matings if not writer.is_glued(o) for p in o.parts]
        kept = [p for o in matings if writer.is_glued(o) for p in o.parts]
        sentences, left = writer.undone(operations)
        undo = Markup(" ").join(sentences)
        rest.update(left)
        way = "loose" if loads else _way(matings, writer)
        if undo and way == "step":
            way = "undo_step"
        for key, parts in ((way, loads or mates), ("kept", kept)):
            if not parts:
                continue
            if alike and alike.key == key and key in _MERGED:
                lines.pop()
                alike = _Alike(key, (*alike.steps, step.number), (*alike.parts, tuple(parts)))
            else:
                alike = _Alike(key, (step.number,), (tuple(parts),))
            lines.append(alike.text(names, messages, undo))
        if kept and not glued:
            lines[-1] += Markup(" ") + messages.text("after.apart_glued")
            glued = True
        if loads or matings:
            continue
        alike = None
        kinds = {o.kind for o in operations}
        if OperationKind.SECURE in kinds:
            items = names.items(step.items) or messages.text("after.apart_fixing")
            if any(writer.hangs(o) for o in operations):
                lines.append(messages.count("after.apart_hung", step.persons, step=step.number))
            else:
                lines.append(messages.text("after.apart_secure", n=step.number, items=items))
            continue
        if OperationKind.FIXTURE in kinds:
            fixtures = Markup(" ").join(_without_fixtures(operations, writer, names, messages))
            if fixtures:
                lines.append(messages.text("after.apart_undo", n=step.number, undo=fixtures))
            continue
        if all(o.kind in _ON_SINGLE_PARTS for o in operations):
            for operation in operations:
                if not writer.is_glued(operation):
                    stays = [d for d in writer.deeds(operation) if d.do in _STAYS]
                    rest.update(operation.items)
                    rest.subtract({item: n for deed in stays for item, n in deed.items})
        elif undo:
            lines.append(messages.text("after.apart_undo", n=step.number, undo=undo))
        elif step.items:
            lines.append(
                messages.text("after.apart_hardware", n=step.number, items=names.items(step.items))
            )
    if any(n > 0 for n in rest.values()):
        in_order = {
            line.item: rest[line.item] for line in results.schedules.hardware if rest[line.item] > 0
        }
        lines.append(messages.text("after.apart_last", items=names.items(in_order)))
    return tuple(lines)


_LOOSENS = ("drive", "turn", "screw-on", "screw-in")
"""Doings whose hardware may work loose."""


def is_all_glued(results: Results) -> bool:
    """Tell whether glue alone holds every joint, so that nothing comes apart."""
    used = {key for joint in results.joinery.joints for key in joint.fittings}
    entries = [results.joinery.fittings[key] for key in used if key in results.joinery.fittings]
    free = all(o.kind is not OperationKind.SECURE for o in results.plan.operations)
    return (
        free
        and bool(entries)
        and all(
            not entry.reversible and any(action.do == "glue" for action in entry.actions)
            for entry in entries
        )
    )


def has_connectors(results: Results) -> bool:
    """Tell whether anything in the product can be tightened again."""
    used = {fastener.fitting for fastener in results.joinery.fasteners}
    entries = [results.joinery.fittings[key] for key in used if key in results.joinery.fittings]
    return any(action.do in _LOOSENS for entry in entries for action in entry.actions)


_MERGED = {"run": "run_steps", "step": "steps"}
"""Steps backwards that are told in one line when they follow each other, and its key."""


@dataclass(frozen=True)
class _Alike:
    """Steps undone in one way, one after another: that way's key, numbers, parts of each."""

    key: str
    steps: tuple[int, ...]
    parts: tuple[tuple[str, ...], ...]

    def text(self, names: Names, messages: Messages, undo: Markup) -> Markup:
        key = self.key
        if len(self.steps) > 1:
            key = _MERGED[key]
        elif key == "run" and len({part.partition(".")[0] for part in self.parts[0]}) > 1:
            key = "run_each"
        return messages.text(
            f"after.apart_{key}",
            n=messages.listed([Markup(str(n)) for n in self.steps]),
            parts=messages.listed([names.parts(parts) for parts in self.parts]),
            undo=undo,
        )


def _way(matings: Sequence[Operation], writer: Sentences) -> str:
    """Return the key of how parts come off that were put on in these operations."""
    for way, key in (("run-in", "run"), ("hang", "hang")):
        if matings and all(writer.is_way_of_mating(o, way) for o in matings):
            return key
    return "step"


_ON_SINGLE_PARTS = (OperationKind.FIT, OperationKind.GLUE, OperationKind.WAIT)


def tell_fixed_joints(results: Results, names: Names, messages: Messages) -> Markup:
    """Return the joints that do not come apart; those of one part and fitting as one."""
    pairs: dict[str, list[tuple[str, str]]] = {}
    for joint in results.joinery.joints:
        for key in joint.fittings:
            fitting = results.joinery.fittings[key]
            if not fitting.reversible:
                title = names.fitting(key, fitting, 1)
                pairs.setdefault(title, []).append((joint.butting, joint.receiving))
    told = []
    for title, members in pairs.items():
        together: dict[str, list[str]] = {}
        uses = Counter(part for pair in members for part in pair)
        for one, other in members:
            part, partner = (one, other) if uses[one] >= uses[other] else (other, one)
            together.setdefault(part, []).append(partner)
        told += [
            messages.text(
                "after.apart_joint",
                part=names.parts([part]),
                to=names.parts(list(dict.fromkeys(partners))),
                fitting=title,
            )
            for part, partners in together.items()
        ]
    return messages.listed(list(dict.fromkeys(told)))  # units alike are told of once


def _without_fixtures(
    operations: Sequence[Operation], writer: Sentences, names: Names, messages: Messages
) -> Iterator[Markup]:
    """Yield how fixtures come off, a sentence for each way, and what of them stays."""
    counts: dict[str, Counter[str]] = {}
    parts: dict[str, dict[str, None]] = {}
    for operation in operations:
        if operation.kind is not OperationKind.FIXTURE:
            continue
        for deed in writer.deeds(operation):
            if deed.do not in _NOT_UNDONE and deed.items:
                counts.setdefault(deed.do, Counter()).update(dict(deed.items))
                parts.setdefault(deed.do, {}).update(dict.fromkeys(deed.parts))

    def rank(do: str) -> int:
        if do in _STAYS:
            return len(_LOOSENED_FIRST) + 1
        return _LOOSENED_FIRST.index(do) if do in _LOOSENED_FIRST else len(_LOOSENED_FIRST)

    for do in sorted(counts, key=rank):
        key = f"after.apart_fixture_{do}"
        yield messages.text(
            key if key in messages else "after.apart_fixture_other",
            items=names.items(counts[do]),
            parts=names.parts(list(parts[do])),
        )
