"""The manual's content, in one language, ready to be set.

Takes the results; gives every heading's texts, lists and pictures as values. What
follows only places them on pages.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup, escape

from kdkit.diagnostics import Problem
from kdkit.geometry.assembly import ContactKind
from kdkit.geometry.surfaces import part_box
from kdkit.illustrate.paper.style import Style
from kdkit.inspect.furniture import is_outdoors, kinds_of, loads_said, restraint_wanted
from kdkit.joinery.feet import foot_points
from kdkit.model.says import Product, Texts
from kdkit.plan.plan import LOW_ROOM
from kdkit.publish.manual.bags import BagRow, tell_leftovers, write_bags
from kdkit.publish.manual.cautions import write_cautions
from kdkit.publish.manual.steps import Caution, StepContent, write_steps
from kdkit.publish.manual.taking_apart import (
    has_connectors,
    is_all_glued,
    tell_fixed_joints,
    write_taking_apart,
)
from kdkit.publish.results import Results
from kdkit.publish.typesetting.pictures import Picture, set_picture
from kdkit.publish.wording.markdown_text import render_markdown
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.naming import Names
from kdkit.units import mm_text

__all__ = ["HardwareCard", "Manual", "PartCard", "write_manual"]


@dataclass(frozen=True)
class PartCard:
    """One letter of the parts list."""

    letter: str
    title: str
    size: Markup
    quantity: int
    picture: Picture | None
    pair: str | None


@dataclass(frozen=True)
class HardwareCard:
    """One number of the hardware list; ``scale`` is "" at true size, ``bags`` says in which it
    lies."""

    number: int
    title: str
    size: str
    quantity: int
    bags: Markup
    fitted: bool
    supplied: bool
    picture: Picture | None
    scale: str


@dataclass(frozen=True)
class Manual:
    """Everything that the manual says, in its order.

    ``begins``: ids of the sections that begin a printed page; ``part_columns`` and
    ``part_room``: columns of the parts list and height of its pictures, mm; ``roomy``:
    the hardware list has a page to itself. ``use_key``: where it is used, the end of a
    message's key; ``loads``: what it bears, a sentence each; ``rules``: those that its kind has
    of its own. ``alternatives``: what each figure shows, in
    words.
    """

    language: str
    title: str
    product: str
    revision: str
    facts: tuple[tuple[str, str], ...]
    introduction: Markup
    cover: Picture | None
    use_key: str
    loads: tuple[Markup, ...]
    use: Markup
    rules: Markup
    restrained: bool
    cautions: tuple[Caution, ...]
    persons: int
    room: tuple[Markup, ...]
    tools: tuple[str, ...]
    time: Markup
    wait: Markup
    parts: tuple[PartCard, ...]
    bought: tuple[PartCard, ...]
    joined: tuple[Markup, ...]
    hardware: tuple[HardwareCard, ...]
    bags: tuple[BagRow, ...]
    steps: tuple[StepContent, ...]
    final: tuple[Markup, ...]
    care: Markup
    apart: tuple[Markup, ...]
    all_glued: bool
    fixed_joints: Markup
    spares: Markup
    spare_details: str
    disposal: Markup
    materials: str
    maker: tuple[str, ...]
    alternatives: Mapping[str, str]
    begins: tuple[str, ...] = ("before", "parts", "steps")
    part_columns: int = 3
    part_room: float = 30.0
    roomy: bool = False


def write_manual(
    results: Results, messages: Messages, style: Style
) -> tuple[Manual, tuple[Problem, ...]]:
    """Return the manual's content, and what its maker's texts must not hold."""
    said = results.resolved.said
    assert isinstance(said, Product)
    language = messages.language
    texts = said.texts.get(language, Texts())
    names = Names(results.resolved, results.catalogue, results.schedules, messages, texts.parts)
    problems: list[Problem] = []

    def own_text(field: str) -> Markup:
        html, found = render_markdown(getattr(texts, field), ("texts", language, field))
        problems.extend(found)
        return html

    def picture(key: str, alternative: str) -> Picture | None:
        figure = results.figures.get(key)
        if figure is None:
            return None
        alternatives[key] = alternative
        return set_picture(figure, style, alternative=alternative)

    alternatives: dict[str, str] = {}
    steps = write_steps(results, names, messages, picture, from_parts=True)
    tools = dict.fromkeys(names.tool(tool) for step in results.plan.steps for tool in step.tools)
    manual = Manual(
        language=language,
        title=texts.title or said.product,
        product=said.product,
        revision=said.revision,
        facts=_facts(results, said, messages),
        introduction=own_text("introduction"),
        cover=picture("cover", messages.plain("picture.cover", title=texts.title or said.product)),
        use_key="outdoor" if is_outdoors(said, results.catalogue) else said.safety.use,
        loads=_loads(results, said, messages),
        use=own_text("use"),
        rules=_rules(results, said, messages),
        restrained=restraint_wanted(said, results.catalogue) != "none",
        cautions=write_cautions(results, names, messages),
        persons=max((step.persons for step in results.plan.steps), default=1),
        room=_room(results, messages),
        tools=tuple(dict.fromkeys((*tools, *(t for step in steps for t in step.tools)))),
        time=time_text(results.plan.minutes, messages),
        wait=_wait_text(results.plan.wait_minutes, messages),
        parts=tuple(
            PartCard(
                letter=line.letter,
                title=names.group_title(line.parts),
                size=messages.text(
                    "parts.size",
                    length=mm_text(line.finished[0]),
                    width=mm_text(line.finished[1]),
                    thickness=mm_text(line.thickness),
                ),
                quantity=line.quantity,
                picture=picture(
                    f"part-{line.letter}",
                    messages.plain(
                        "picture.part", letter=line.letter, title=names.group_title(line.parts)
                    ),
                ),
                pair=line.pair,
            )
            for line in results.schedules.cut
        ),
        joined=tuple(
            messages.text("parts.joined", parts=names.parts(made.parts))
            for made in results.plan.workshop
        ),
        bought=tuple(
            PartCard(
                letter=line.letter,
                title=names.group_title(line.parts),
                size=messages.text(
                    "parts.size",
                    length=mm_text(size[0]),
                    width=mm_text(size[1]),
                    thickness=mm_text(size[2]),
                ),
                quantity=line.quantity,
                picture=picture(
                    f"part-{line.letter}",
                    messages.plain(
                        "picture.part", letter=line.letter, title=names.group_title(line.parts)
                    ),
                ),
                pair=None,
            )
            for line in results.schedules.bought
            for size in [sorted(line.size, reverse=True)]
        ),
        hardware=_hardware(results, names, messages, picture),
        bags=write_bags(results.schedules.bags, names, messages),
        steps=steps,
        final=_final_checks(results, said, names, messages),
        care=own_text("care")
        or _paragraph(
            messages.text("after.care_text" if has_connectors(results) else "after.care_glued")
        ),
        all_glued=is_all_glued(results),
        apart=write_taking_apart(results, names, messages),
        fixed_joints=tell_fixed_joints(results, names, messages),
        spares=own_text("spares") or _paragraph(messages.text("after.spares_text")),
        spare_details=_spare_details(said, messages),
        disposal=own_text("disposal") or _paragraph(messages.text("after.disposal_text")),
        materials=_materials(results, messages),
        maker=tuple(
            line for line in (said.maker.name, said.maker.address, said.maker.contact) if line
        ),
        alternatives=alternatives,
    )
    return manual, tuple(problems)


def time_text(minutes: float, messages: Messages) -> Markup:
    """Return a time rounded up as people say it: to 5 minutes, from 2 hours to half hours."""
    if minutes > 105:
        halves = math.ceil(minutes / 30)
        if halves % 2 == 0:
            return messages.count("before.time_hours", halves // 2)
        return messages.text("before.time_hours.other", n=f"{halves // 2}½")
    if 55 < minutes <= 60:
        return messages.count("before.time_hours", 1)
    return messages.count("before.time_minutes", max(5, math.ceil(minutes / 5) * 5))


def _wait_text(minutes: float, messages: Messages) -> Markup:
    """Return how long glue sets besides the work, "" if none does."""
    if not minutes:
        return Markup("")
    return messages.text("before.time_waiting", time=time_text(minutes, messages))


def _paragraph(text: Markup) -> Markup:
    return Markup("<p>{}</p>").format(text)


def _room(results: Results, messages: Messages) -> tuple[Markup, ...]:
    """Return how much room the work takes, in full centimetres and no less."""
    long, wide = (_centimetres(length) for length in results.plan.floor)
    lines = []
    if long:
        lines.append(messages.text("before.room_floor", length=long, width=wide))
    height = max((o.room for o in results.plan.operations), default=0.0)
    if height > LOW_ROOM:
        lines.append(messages.text("before.room_height", height=_centimetres(height)))
    return tuple(lines)


def _centimetres(length: float) -> int:
    return 10 * math.ceil(length / 10)


def _extent(results: Results) -> tuple[float, float, float]:
    """Return width, depth and height of the finished product, its feet counted in the height."""
    boxes = np.array([part_box(part) for part in results.assembly.parts])
    width, depth, height = (boxes[:, 3:].max(axis=0) - boxes[:, :3].min(axis=0)).tolist()
    floor = float(boxes[:, 2].min())
    feet = foot_points(results.joinery, results.catalogue)
    return width, depth, height + max([0.0, *(floor - z for _, _, z in feet)])


def _facts(results: Results, said: Product, messages: Messages) -> tuple[tuple[str, str], ...]:
    width, depth, height = (mm_text(v, 0) for v in _extent(results))
    facts = (
        ("product", said.product),
        ("variant", results.resolved.variant or ""),
        ("revision", said.revision),
        ("batch", said.batch),
        ("date", said.date),
        (
            "size",
            messages.plain("cover.size_value", width=width, depth=depth, height=height),
        ),
        (
            "mass",
            messages.plain("cover.mass_value", mass=mm_text(results.schedules.mass_kg)),
        ),
        ("maker", ", ".join(v for v in (said.maker.name, said.maker.address) if v)),
        ("contact", said.maker.contact),
        ("language", messages.plain("cover.language_name")),
    )
    return tuple((messages.plain(f"cover.{key}"), value) for key, value in facts if value)


def _loads(results: Results, said: Product, messages: Messages) -> tuple[Markup, ...]:
    """Return what it bears, as stated; what its kind does not carry is left out."""
    kinds = kinds_of(said, results.catalogue)
    carried = {key for kind in kinds.values() for key in kind.carries}
    sentences = []
    for key, (mass, _) in loads_said(said).items():
        entry = results.catalogue.loads.get(key)
        if entry is not None and (key in carried or not kinds):
            words = escape(messages.name("load_words", key, entry.words))
            sentences.append(Markup(words.replace("{load}", escape(mm_text(mass)))))
    return tuple(sentences)


def _rules(results: Results, said: Product, messages: Messages) -> Markup:
    """Return what rules its kind has of its own, "" for none."""
    lines = []
    for name, kind in kinds_of(said, results.catalogue).items():
        if kind.standards:
            rules = [messages.name("standards", rule, rule) for rule in kind.standards]
            title = messages.name("kinds", name, kind.title)
            lines.append(
                messages.text("before.kind_rules", kind=title, rules=messages.listed(rules))
            )
    return Markup(" ").join(lines)


def _hardware(
    results: Results,
    names: Names,
    messages: Messages,
    picture: Callable[[str, str], Picture | None],
) -> tuple[HardwareCard, ...]:
    cards = []
    for line in results.schedules.hardware:
        figure = results.figures.get(f"item-{line.item}")
        shrunk = figure is not None and 0.0 < figure.scale < 1.0
        scale = f"1 : {round(1 / figure.scale)}" if figure is not None and shrunk else ""
        size = names.size(line.item, line.size)
        words = messages.plain("picture.item", title=names.item(line.item), size=size)
        cards.append(
            HardwareCard(
                number=line.number,
                title=names.item(line.item),
                size=size,
                quantity=line.quantity,
                bags=messages.count(
                    "hardware.bags", len(line.bags), bags=messages.listed(line.bags)
                )
                if line.bags
                else Markup(""),
                fitted=line.workshop == line.quantity,
                supplied=line.supplied,
                picture=picture(f"item-{line.item}", words.strip()),
                scale=scale,
            )
        )
    return tuple(cards)


def _final_checks(
    results: Results, said: Product, names: Names, messages: Messages
) -> tuple[Markup, ...]:
    fittings = results.joinery.fittings
    hung = any("wall_hung" in fittings[f.fitting].cautions for f in results.joinery.fasteners)
    keys = ["hung" if hung else "square"]
    if any(part.loose for part in results.resolved.parts):
        keys.append("loose")
    if any(j.contact.kind is ContactKind.HUNG for j in results.joinery.joints):
        keys.append("doors")
    if restraint_wanted(said, results.catalogue) != "none" and not hung:
        keys.append("restraint")
    keys.append("clean")
    threads = has_connectors(results)
    if threads:
        keys.append("again")
    return (
        messages.text("final.flush" if threads else "final.flush_glued"),
        tell_leftovers(results.schedules.bags, names, messages),
        *(messages.text(f"final.{key}") for key in keys),
    )


def _spare_details(said: Product, messages: Messages) -> str:
    text = messages.plain("after.spares_details", product=said.product, revision=said.revision)
    if said.batch:
        text += messages.plain("list.comma")
        text += messages.plain("after.spares_batch", batch=said.batch)
    return text


def _materials(results: Results, messages: Messages) -> str:
    boards = results.catalogue.boards
    keys: Sequence[str] = list(dict.fromkeys(line.material for line in results.schedules.cut))
    titles = [
        messages.in_sentence(messages.name("boards", key, boards[key].title))
        for key in keys
        if key in boards
    ]
    return str(messages.listed(titles).unescape())
