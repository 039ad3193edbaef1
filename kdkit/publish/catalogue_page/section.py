"""What the page says of one entry of the catalogue: facts, pictures, hardware, steps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from markupsafe import Markup

from kdkit.catalogue import Catalogue, Fitting, works_of
from kdkit.illustrate.figures.exploded_figure import draw_exploded
from kdkit.illustrate.figures.item_figure import draw_hardware
from kdkit.illustrate.paper.style import Style
from kdkit.illustrate.staging.subject import Subject
from kdkit.plan import make_plan
from kdkit.plan.plan import OperationKind, Plan
from kdkit.publish.catalogue_page.drawing import SmallDrawing, draw_member
from kdkit.publish.manual.steps import StepContent, write_steps
from kdkit.publish.results import Results
from kdkit.publish.typesetting.pictures import Picture, set_picture
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.naming import Names
from kdkit.publish.workshop.folder import MACHINE
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.samples import Sample, place_product, sample_product
from kdkit.samples.cost import Cost, cost_of
from kdkit.schedule import make_schedules
from kdkit.schedule.views import list_views
from kdkit.units import mm_text

__all__ = ["Hardware", "Section", "write_section"]


_ONLY_TURNED = (OperationKind.TURN, OperationKind.STAND)


@dataclass(frozen=True)
class Hardware:
    """One item of the sample; ``fitted``: it comes fitted from the workshop."""

    number: int
    title: str
    size: str
    quantity: int
    fitted: bool
    supplied: bool
    picture: Picture | None


@dataclass(frozen=True)
class Section:
    """One entry of the catalogue, in words and pictures.

    Args:
        facts: name and value, in order.
        figure: the sample pulled apart.
        drawings: the worked surfaces of its members.
        steps: how it goes together.
        troubles: why there is no sample, if so.
    """

    key: str
    title: str
    kind: str
    meets: str
    comes_apart: str
    in_sight: str
    facts: tuple[tuple[Markup, Markup], ...]
    figure: Picture | None
    drawings: tuple[SmallDrawing, ...]
    hardware: tuple[Hardware, ...]
    steps: tuple[StepContent, ...]
    sources: tuple[str, ...]
    troubles: tuple[str, ...] = ()


def write_section(catalogue: Catalogue, key: str, messages: Messages, style: Style) -> Section:
    """Return the section of a joint or a fixture, made from its sample."""
    fitting = catalogue.fittings[key]
    title = messages.name("fittings", key, fitting.title)
    section = Section(
        key=key,
        title=title,
        kind=fitting.kind,
        meets=", ".join(messages.plain(f"joints.meets.{contact}") for contact in fitting.contact),
        comes_apart=messages.plain("joints.yes" if fitting.reversible else "joints.no"),
        in_sight=messages.name("visible", fitting.visible, fitting.visible),
        facts=tuple(_facts(fitting, catalogue, messages)),
        figure=None,
        drawings=(),
        hardware=(),
        steps=(),
        sources=_sources(catalogue, fitting),
    )
    sample, problems = place_product(sample_product(catalogue, key, seen=True), catalogue)
    if sample is None:
        return replace(section, troubles=tuple(p.message for p in problems))
    plan, found = make_plan(sample.resolved, sample.assembly, sample.joinery, catalogue)
    if not isinstance(plan, Plan):
        return replace(section, troubles=tuple(p.message for p in found))
    return _with_sample(section, sample, plan, messages, style)


def _with_sample(
    section: Section, sample: Sample, plan: Plan, messages: Messages, style: Style
) -> Section:
    known = (sample.resolved, sample.assembly, sample.joinery, sample.catalogue)
    results = Results(
        resolved=sample.resolved,
        catalogue=sample.catalogue,
        assembly=sample.assembly,
        joinery=sample.joinery,
        plan=plan,
        schedules=make_schedules(*known, plan),
        figures={},
    )
    figures = draw_hardware(sample.catalogue, sample.joinery, results.schedules)
    names = Names(results.resolved, results.catalogue, results.schedules, messages, {})

    def picture(name: str, alternative: str) -> Picture | None:
        figure = figures.get(name)
        return None if figure is None else set_picture(figure, style, alternative=alternative)

    subject = Subject(assembly=sample.assembly, joinery=sample.joinery, catalogue=sample.catalogue)
    words = messages.plain("joints.figure", title=section.title)
    exploded = draw_exploded(subject, plan, results.schedules, style, title=words)
    job = WorkshopJob(
        results=results,
        panels=list_views(sample.resolved, sample.joinery, plan, results.schedules),
        messages=messages,
        paper="a4",
        machine=sample.catalogue.machines[MACHINE],
    )
    facts = [(messages.text("joints.shown"), _boards(results, messages))]
    if section.kind == "joint":
        cost = cost_of(*known)
        if cost is not None:
            facts += _costs(cost, messages)
    return replace(
        section,
        facts=(*section.facts, *facts),
        figure=None if exploded is None else set_picture(exploded, style, alternative=words),
        drawings=tuple(d for panel in job.panels for d in draw_member(panel, job)),
        hardware=tuple(
            Hardware(
                number=line.number,
                title=names.item(line.item),
                size=line.size,
                quantity=line.quantity,
                fitted=line.workshop > 0,
                supplied=line.supplied,
                picture=picture(f"small-{line.item}", names.item(line.item)),
            )
            for line in results.schedules.hardware
        ),
        steps=_steps(results, names, messages),
    )


def _steps(results: Results, names: Names, messages: Messages) -> tuple[StepContent, ...]:
    """Return the steps but those in which a sample is only turned or stood up."""
    handled = {
        step.number
        for step in results.plan.steps
        if any(results.plan.operation(id).kind not in _ONLY_TURNED for id in step.operations)
    }
    written = write_steps(results, names, messages, lambda name, alternative: None)
    return tuple(step for step in written if step.number in handled)


def _suits(fitting: Fitting, messages: Messages) -> str:
    said = [messages.plain(f"joints.suits.{contact}") for contact in fitting.contact]
    return "; ".join(dict.fromkeys(said))


def _facts(
    fitting: Fitting, catalogue: Catalogue, messages: Messages
) -> Iterator[tuple[Markup, Markup]]:
    say, limits = messages.text, fitting.limits
    yield say("joints.where"), say("joints.as_said", text=_suits(fitting, messages))
    first, second = (
        ("joints.butting", "joints.receiving")
        if fitting.kind == "joint"
        else ("joints.butting", "joints.carrier")
    )
    works = works_of(fitting, catalogue)
    if works:
        used = [messages.plain(f"joints.used_in.{work}") for work in works]
        yield say("joints.used"), messages.listed(used)
    if limits.butting_thickness:
        yield say(first), _span(limits.butting_thickness, messages)
    if limits.receiving_thickness:
        yield say(second), _span(limits.receiving_thickness, messages)
    if limits.gap:
        yield say("joints.gap"), _span(limits.gap, messages)
    if limits.families:
        families = [messages.plain(f"joints.family.{family}") for family in limits.families]
        yield say("joints.boards"), messages.listed(families)
    if fitting.ends is not None and fitting.pitch is not None:
        yield (
            say("joints.spread"),
            say("joints.spread_rule", ends=mm_text(fitting.ends), pitch=mm_text(fitting.pitch)),
        )
    if limits.end_distance is not None:
        yield say("joints.end_distance"), _least(limits.end_distance, messages)
    if limits.edge_distance is not None:
        yield say("joints.edge_distance"), _least(limits.edge_distance, messages)
    if limits.pitch is not None:
        yield say("joints.pitch"), _span(limits.pitch, messages)
    if fitting.options:
        options = [f"{name} {mm_text(value, 2)}" for name, value in fitting.options.items()]
        yield say("joints.options"), say("joints.as_said", text=", ".join(options))
    yield say("joints.apart"), say("joints.yes" if fitting.reversible else "joints.no")
    seen = messages.name("visible", fitting.visible, fitting.visible)
    yield say("joints.in_sight"), say("joints.as_said", text=seen)


def _span(limits: tuple[float, float], messages: Messages) -> Markup:
    low, high = (mm_text(value) for value in limits)
    if low == high:
        return messages.text("joints.mm", n=low)
    return messages.text("joints.from_to", low=low, high=high)


def _least(value: float, messages: Messages) -> Markup:
    return messages.text("joints.least", n=mm_text(value))


def _boards(results: Results, messages: Messages) -> Markup:
    said = []
    for line in results.schedules.cut:
        board = results.catalogue.boards.get(line.material)
        material = messages.name("boards", line.material, board.title if board else line.material)
        said.append(
            messages.plain(
                "joints.board",
                part=line.title,
                letter=line.letter,
                material=messages.in_sentence(material),
                t=mm_text(line.thickness),
            )
        )
    return messages.text("joints.as_said", text="; ".join(said))


def _costs(cost: Cost, messages: Messages) -> list[tuple[Markup, Markup]]:
    worked = sum(len(surfaces) for surfaces in cost.surfaces.values())
    bores, slots, grooves = (
        sum(counts.values()) for counts in (cost.bores, cost.slots, cost.grooves)
    )
    parts = [
        messages.count(f"joints.{name}", n)
        for name, n in (("bores", bores), ("slots", slots), ("grooves", grooves))
        if n
    ]
    parts.append(messages.count("joints.set_ups", worked))
    times = messages.text(
        "joints.minutes",
        workshop=mm_text(cost.workshop_minutes, 1),
        home=mm_text(cost.home_minutes, 1),
    )
    if cost.wait_minutes:
        times += Markup(" ") + messages.text("joints.wait", n=mm_text(cost.wait_minutes))
    return [
        (messages.text("joints.machining"), messages.listed(parts)),
        (messages.text("joints.time"), times),
    ]


def _sources(catalogue: Catalogue, fitting: Fitting) -> tuple[str, ...]:
    """Return the sources of a fitting and of its items, each once."""
    said = list(fitting.sources)
    for rule in fitting.items:
        item = catalogue.items.get(rule.item)
        said += item.sources if item is not None else ()
    return tuple(dict.fromkeys(said))
