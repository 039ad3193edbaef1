"""The steps as the manual shows them: title, picture, hardware, lines, cautions, result."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from kdkit.parts.postures import steepness
from kdkit.parts.size import part_size
from kdkit.plan.plan import LOW_ROOM, Operation, OperationKind, Posture, Step, WhyTwo
from kdkit.publish.manual.bags import tell_opening
from kdkit.publish.manual.loose_cams import falling_out
from kdkit.publish.manual.right_way import RightWay
from kdkit.publish.manual.sentences import Sentences
from kdkit.publish.results import Results
from kdkit.publish.typesetting.pictures import Picture
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.naming import Names
from kdkit.units import mm_text

__all__ = ["Caution", "StepContent", "StepItem", "write_steps"]


@dataclass(frozen=True)
class Caution:
    """A safety sentence; ``level``: danger, warning, caution or notice.

    Source: meanings of the signal words after ANSI Z535.4 and Z535.6.
    """

    level: str
    text: Markup


@dataclass(frozen=True)
class StepItem:
    """Hardware used in a step."""

    number: int
    title: str
    size: str
    quantity: int
    picture: Picture | None


@dataclass(frozen=True)
class StepContent:
    """One step, in words.

    ``narrow``: the picture for a narrow screen; ``ways``: which way round its new parts
    go; ``begins_page``: it is the first on its printed page; ``loop``: how it is repeated
    for subassemblies alike, of which the rest shows one.
    """

    number: int
    title: Markup
    subassembly: str
    picture: Picture | None
    narrow: Picture | None
    items: tuple[StepItem, ...]
    tools: tuple[str, ...]
    persons: int
    minutes: int
    wait: int
    lines: tuple[Markup, ...]
    cautions: tuple[Caution, ...]
    result: Markup
    loop: Markup
    ways: tuple[Markup, ...] = ()
    begins_page: bool = False


_TURNS = (OperationKind.TURN, OperationKind.STAND)
_RANK = (
    OperationKind.MATE,
    OperationKind.REMOVE,
    OperationKind.SECURE,
    OperationKind.LOAD,
    OperationKind.FIXTURE,
    OperationKind.FASTEN,
    OperationKind.GLUE,
    OperationKind.FIT,
    OperationKind.CAP,
    OperationKind.UNDO,
    OperationKind.SQUARE,
    OperationKind.STAND,
    OperationKind.TURN,
    OperationKind.WAIT,
)
"""Which of a step's operations gives it its title."""

_FEW = 2
_STOOL = 1500.0  # mm over the floor, from which work takes a stool: common practice, no source


def write_steps(
    results: Results,
    names: Names,
    messages: Messages,
    picture: Callable[[str, str], Picture | None],
    *,
    from_parts: bool = False,
) -> tuple[StepContent, ...]:
    """Return every step of the plan.

    Args:
        picture: gives the figure of a key with its alternative text, if it is there.
        from_parts: the plan begins with single parts and closed bags, so that it must be said
            how the first of them lies, and when which bag is opened.
    """
    hung = "wall_hung" in {w for f in results.joinery.fittings.values() for w in f.cautions}
    writer = Sentences(results.joinery, names, messages, results.assembly.parts, hung=hung)
    right_way = RightWay(results, names, messages)
    first: dict[str, int] = {}
    for step in results.plan.steps if from_parts else ():
        if any(results.plan.operation(id).kind is OperationKind.MATE for id in step.shown):
            first.setdefault(step.subassembly, step.number)
    begins = frozenset(first.values())
    written = tuple(
        _write_step(
            step, results, names, messages, writer, right_way, picture, step.number in begins
        )
        for step in results.plan.steps
    )
    if not from_parts:
        return written
    return tuple(
        replace(
            step, lines=(*tell_opening(results.schedules.bags, step.number, messages), *step.lines)
        )
        for step in written
    )


def _write_step(
    step: Step,
    results: Results,
    names: Names,
    messages: Messages,
    writer: Sentences,
    right_way: RightWay,
    picture: Callable[[str, str], Picture | None],
    begins: bool,
) -> StepContent:
    """Return a step; ``begins`` tells that it is the first that joins what it joins."""
    operations = [results.plan.operation(id) for id in step.shown]
    main = min(operations, key=lambda o: _RANK.index(o.kind)) if operations else None
    unit = names.of_unit(step.subassembly)
    title = Markup("") if main is None else _title(main, operations, names, messages, writer)
    lines = writer.lines(operations)
    turned = 1 if operations and operations[0].kind in _TURNS else 0
    taped = falling_out(results.plan, results.joinery).get(step.number, ())
    shown = messages.plain(
        "picture.step",
        n=step.number,
        title=title.striptags(),
        lies=messages.plain(f"picture.{step.posture.value}"),
    )
    return StepContent(
        number=step.number,
        title=title,
        subassembly=unit,
        picture=picture(f"step-{step.number}", shown),
        narrow=picture(f"narrow-{step.number}", shown),
        items=tuple(
            StepItem(
                number=line.number,
                title=names.item(line.item),
                size=names.size(line.item, line.size),
                quantity=step.items[line.item] // step.times,
                picture=picture(f"small-{line.item}", names.item(line.item)),
            )
            for line in results.schedules.hardware
            if step.items.get(line.item, 0) > 0
        ),
        tools=(
            *(names.tool(tool) for tool in step.tools),
            *(
                (messages.plain("with.stool"),)
                if any(o.height > _STOOL for o in operations)
                else ()
            ),
        ),
        persons=step.persons,
        minutes=math.ceil(step.minutes / step.times),
        wait=math.ceil(step.wait_minutes / step.times),
        loop=_loop(step, results.plan.steps, messages),
        lines=(
            *(_begin(step, operations, results, names, messages) if begins else ()),
            *_room(operations, messages),
            *lines[:turned],
            *_strips(operations, names, messages),
            *_handling(operations, names, messages),
            *_taped(taped, names, messages),
            *lines[turned:],
        ),
        cautions=_cautions(step, operations, results, names, messages, writer),
        result=(
            Markup("")
            if main is None
            else messages.text(f"result.{_result(main, operations, results, writer)}")
        ),
        ways=right_way.lines(step.new, step.others, step.posture),
    )


_LEVEL = 0.5  # a face that looks within 30 degrees of level
_NARROW = 2.0  # a post or lath lies as well on one side as on the other


def _loop(step: Step, steps: Sequence[Step], messages: Messages) -> Markup:
    """Return how often a step is done: a unit is built whole, and then the next one alike."""
    if step.times == 1:
        return Markup("")
    first = last = step.number
    while first > 1 and _go_on(steps[first - 2], step):
        first -= 1
    while last < len(steps) and _go_on(steps[last], step):
        last += 1
    if first == last:
        told = messages.text("steps.times", n=step.times)
    elif first < step.number:
        return messages.text("steps.build_one", n=step.times, first=first)
    else:
        told = messages.text("steps.build_times", n=step.times, first=first, last=last)
    return Markup("<strong>{}</strong> {}").format(told, messages.text("steps.times_shown"))


def _go_on(other: Step, step: Step) -> bool:
    return other.subassembly == step.subassembly and other.times == step.times


def _begin(
    step: Step,
    operations: Sequence[Operation],
    results: Results,
    names: Names,
    messages: Messages,
) -> tuple[Markup, ...]:
    """Return how the work lies that is begun, where it does not stand as it will in use.

    A panel whose faces look sideways then stands on an edge, and is told to be stood there.
    """
    mate = next(o for o in operations if o.kind is OperationKind.MATE)
    turned = any(o.kind in (OperationKind.TURN, OperationKind.STAND) for o in operations)
    if step.posture is Posture.STANDING or turned or len(mate.onto) != 1:
        return ()
    part = results.resolved.part(mate.onto[0])
    level = abs(steepness(part.frame.k, step.posture)) < _LEVEL
    on_edge = part.kind == "panel" and level and part_size(part)[1] >= _NARROW * part.thickness
    key = f"operation.begin_{'edge_' if on_edge else ''}{step.posture.value}"
    return (messages.text(key, parts=names.parts(mate.onto)),)


def _strips(operations: Sequence[Operation], names: Names, messages: Messages) -> Iterator[Markup]:
    """Yield what is put under the work, so that it does not lie on its own hardware."""
    said: dict[tuple[int, tuple[str, ...]], list[str]] = {}
    for operation in operations:
        if operation.strips:
            lies = operation.onto or operation.parts
            key = math.ceil(operation.strips), operation.clear_of
            said.setdefault(key, []).extend(lies)
    for (height, items), parts in said.items():
        text = "operation.strips" if len(parts) <= _FEW else "operation.strips_work"
        yield messages.text(text, height=height, parts=names.parts(parts), items=names.kinds(items))


def _title(
    main: Operation,
    operations: Sequence[Operation],
    names: Names,
    messages: Messages,
    writer: Sentences,
) -> Markup:
    same = [o for o in operations if o.kind is main.kind]
    parts = list(dict.fromkeys(part for o in same for part in o.parts))
    key = main.kind.value
    glued = next((o for o in operations if o.glue_up and o.kind is OperationKind.GLUE), None)
    if main.kind is OperationKind.MATE and glued is not None:
        there = set(main.onto) if len(main.onto) > 1 else set()
        if there & set(glued.parts):
            told = names.parts if len(parts) <= _FEW or names.is_units(parts) else names.letters
            return messages.text("title.glue_on", parts=told(parts))
        told = names.parts if len(glued.parts) <= _FEW else names.letters
        return messages.text("title.glue_up", parts=told(list(glued.parts)))
    if main.kind is OperationKind.MATE:
        if len(main.parts) > _FEW and not names.is_units(parts):
            return messages.text("title.mate_many", parts=names.letters(parts))
        if writer.is_way_of_mating(main, "slide-in"):
            key = "slide"
        elif writer.is_way_of_mating(main, "lay-on"):
            key = "lay"
        elif writer.is_way_of_mating(main, "hang"):
            key = "hang"
        elif writer.is_way_of_mating(main, "run-in"):
            key = "run" if len(same) == 1 else "run_each"
    elif main.kind is OperationKind.FIT and len(parts) > _FEW:
        return messages.text("title.fit_many", parts=names.letters(parts))
    if main.kind is OperationKind.REMOVE and not main.joints:
        key = "remove_loose"
    items = {item: sum(o.items.get(item, 0) for o in same) for o in same for item in o.items}
    if main.kind is OperationKind.FIXTURE:
        return messages.text("title.fixture", fixtures=writer.fixtures(same))
    return messages.text(f"title.{key}", parts=names.parts(parts), items=names.items(items))


_HANGS = (OperationKind.MATE, OperationKind.REMOVE)

_RESULTS = {OperationKind.GLUE: "mate", OperationKind.TURN: "stand"}
"""Operations that are checked as another kind is; the rest each have their own line."""


def _result(
    main: Operation, operations: Sequence[Operation], results: Results, writer: Sentences
) -> str:
    """Return the key of what can be seen or felt when the step went well."""
    if any(o.glue_up for o in operations):
        return "glue_up"
    if main.kind is OperationKind.MATE:
        if writer.is_way_of_mating(main, "slide-in"):
            return "slide"
        if writer.is_way_of_mating(main, "hang"):
            return "hang"
        if writer.is_way_of_mating(main, "run-in"):
            return "run"
        if writer.faces_only(main):
            return "sits"
        if "nail" in writer.deeds_done(operations):
            return "nailed"
        if any(o.kind is OperationKind.FASTEN for o in operations):
            return "fastened"
    if main.kind is OperationKind.FIXTURE:
        rows = {fixture.name for fixture in results.resolved.fixtures if fixture.rows is not None}
        if main.fixture in rows:
            return "supports"
        if "drive" not in writer.deeds_done(operations):
            return "pushed"
    return _RESULTS.get(main.kind, main.kind.value)


def _cautions(
    step: Step,
    operations: Sequence[Operation],
    results: Results,
    names: Names,
    messages: Messages,
    writer: Sentences,
) -> tuple[Caution, ...]:
    kinds = {operation.kind for operation in operations}
    deeds = writer.deeds_done(operations)
    cautions = []
    if OperationKind.SECURE in kinds:
        hung = any(writer.hangs(operation) for operation in operations)
        key = "caution.wall_hung_step" if hung else "caution.tip_step"
        cautions.append(Caution("warning", messages.text(key)))
        cautions.append(Caution("warning", messages.text("caution.wall")))
        if OperationKind.STAND in kinds and not hung:
            cautions.append(Caution("warning", messages.text("caution.free")))
    turned = bool(kinds & {OperationKind.TURN, OperationKind.STAND})
    text = _why_many(step, operations, names, messages) if step.persons > 1 else Markup("")
    if text:
        cautions.append(Caution("caution", text))
    if turned:
        cautions.append(Caution("notice", messages.text("caution.turn")))
    if "nail" in deeds:
        cautions.append(Caution("caution", messages.text("caution.hammer")))
    if OperationKind.GLUE in kinds or "glue" in deeds:
        cautions.append(Caution("caution", messages.text("caution.glue")))
    if OperationKind.LOAD in kinds and _loads_glass(operations, results):
        cautions.append(Caution("caution", messages.text("caution.glass_step")))
    if any(writer.is_way_of_mating(o, "hang") for o in operations if o.kind in _HANGS):
        cautions.append(Caution("caution", messages.text("caution.fingers")))
    if any(o.kind is OperationKind.SQUARE and not o.glue_up for o in operations):
        cautions.append(Caution("notice", messages.text("caution.square")))
    return tuple(cautions)


def _loads_glass(operations: Sequence[Operation], results: Results) -> bool:
    glass = {key for key, board in results.catalogue.boards.items() if board.family == "glass"}
    moved = {name for o in operations if o.kind is OperationKind.LOAD for name in o.parts}
    return any(p.name in moved and p.material in glass for p in results.assembly.parts)


def _why_many(
    step: Step, operations: Sequence[Operation], names: Names, messages: Messages
) -> Markup:
    """Return why several persons are needed: what is heavy, would fall, is to be fixed first."""
    said: dict[WhyTwo, Markup] = {}
    who = messages.text(f"who.{step.persons}")
    for operation in sorted(operations, key=lambda o: -o.hands):
        mass, hands = mm_text(operation.mass, 0), mm_text(operation.hands, 0)
        for why in operation.why_two:
            if why is WhyTwo.HELD:
                held = names.parts(operation.held)
                text = messages.text("caution.many_held", parts=held)
            elif why is WhyTwo.HUNG:
                text = messages.text("caution.many_hung", mass=mass)
            elif why is WhyTwo.FREE:
                text = messages.text("caution.many_free")
            elif why is WhyTwo.PINS:
                continue
            elif why is WhyTwo.HEAVY and len(operation.lifted or operation.parts) == 1:
                lifted = names.parts(operation.lifted or operation.parts)
                text = messages.text("caution.many_for_part", parts=lifted, mass=mass)
            elif why is WhyTwo.TURNED and operation.hands:
                text = messages.text("caution.many_turned", mass=mass, hands=hands)
            else:
                text = messages.text("caution.many_for_work", mass=mass)
            said.setdefault(why, text)
    reasons = [said[why] for why in WhyTwo if why in said]
    lines = []
    if reasons:
        told = messages.text("caution.more").join(reasons)
        lines.append(messages.text("caution.many", who=who, why=told))
    aided = [o for o in operations if o.aid]
    if aided:
        hands = mm_text(max(o.hands for o in aided), 0)
        persons = messages.in_sentence(str(who))
        lines.append(messages.text("caution.aid", hands=hands, who=persons))
    return Markup(" ").join(lines)


def _room(operations: Sequence[Operation], messages: Messages) -> Iterator[Markup]:
    """Yield how high the work reaches while it is turned, where a room may be too low."""
    room = max((o.room for o in operations), default=0.0)
    if room > LOW_ROOM:
        yield messages.text("operation.room", height=10 * math.ceil(room / 10))


def _taped(parts: Sequence[str], names: Names, messages: Messages) -> Iterator[Markup]:
    """Yield what keeps loose hardware in parts that come to lie on it."""
    if parts:
        yield messages.text("operation.tape", parts=names.parts(parts))


def _handling(
    operations: Sequence[Operation], names: Names, messages: Messages
) -> Iterator[Markup]:
    """Yield what is to be known before the hands are put on: strips, pins, what is kept hold of."""
    pack = max((o.pack for o in operations), default=0.0)
    if pack:
        yield messages.text("operation.pack", height=mm_text(pack, 0))
    for operation in operations:
        if WhyTwo.PINS in operation.why_two:
            yield messages.text(
                "operation.pins", parts=names.parts(operation.parts), n=operation.pins
            )
    if any(o.braced for o in operations):
        yield messages.text("operation.braced")
    kept = list(dict.fromkeys(part for o in operations for part in o.in_hand))
    if kept:
        yield messages.text("operation.in_hand", parts=names.parts(kept))
