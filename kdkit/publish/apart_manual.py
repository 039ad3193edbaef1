"""The short manual of taking apart: the steps out, then the steps back.

Takes the results of the product and how it is taken apart; writes a folder with the
manual, printed and on screen, and both plans for programs.
"""

from __future__ import annotations

import json
import pathlib
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import jinja2
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup

from kdkit.delivery import APART, Claim, write_folder
from kdkit.diagnostics import Problem
from kdkit.illustrate import FigureBox, Sketches, draw_figures, sketch_figures
from kdkit.illustrate.paper.figure import Figure
from kdkit.illustrate.paper.style import Style, load_style, style_folder
from kdkit.inspect.furniture import restraint_wanted
from kdkit.model.says import Product, Texts
from kdkit.plan.plan import OperationKind, Plan
from kdkit.plan.taking_apart import TakenApart
from kdkit.publish.files.plan_json import plan_data
from kdkit.publish.manual.content import time_text
from kdkit.publish.manual.page_fill import Block, share_pages
from kdkit.publish.manual.steps import StepContent, write_steps
from kdkit.publish.results import Pages, Results, whose
from kdkit.publish.typesetting.pdf import PAPERS, make_pdf, measure_heights, page_area
from kdkit.publish.typesetting.pictures import Picture, set_picture
from kdkit.publish.typesetting.web_page import with_fonts
from kdkit.publish.wording.messages import Messages, find_wording
from kdkit.publish.wording.naming import Names
from kdkit.publish.wording.plain_text import writable

__all__ = ["apart_data", "publish_apart"]


AROUND, SPARE = 5.0, 4.0
"""White round a figure, as the style sheet has it, and at the foot of a page; mm."""


@dataclass(frozen=True)
class ApartManual:
    """Everything that the short manual says, in its order."""

    language: str
    title: str
    subtitle: Markup
    revision: str
    cover: Picture | None
    told: tuple[Markup, ...]
    notes: tuple[Markup, ...]
    over: Markup
    persons: int
    tools: tuple[str, ...]
    time: Markup
    out: tuple[StepContent, ...]
    back: tuple[StepContent, ...]
    final: tuple[Markup, ...]
    maker: tuple[str, ...]


def publish_apart(
    results: Results,
    apart: TakenApart,
    folder: pathlib.Path | Claim,
    paper: str = "a4",
    *,
    style: str = "plain",
) -> tuple[tuple[pathlib.Path, ...] | None, tuple[Problem, ...]]:
    """Write the short manual into a folder that is moved in whole.

    Args:
        results: of the finished product; its figures are not used.
        folder: claimed, or to be claimed here: new, empty, or written by an earlier run
            and unchanged.
        paper: ``a4`` or ``letter``, in any case of letters.

    Returns:
        The written files, sorted, or None; and the problems met.

    Raises:
        ValueError: an unknown paper (the command line offers only the known).
    """
    paper = paper.lower()
    if paper not in PAPERS:
        raise ValueError(f"unknown paper {paper!r}")
    said = results.resolved.said
    assert isinstance(said, Product)
    messages, problems = find_wording(said.language)
    look, found = load_style(style)
    if messages is None or look is None:
        return None, (*problems, *found)
    home = style_folder(style)
    assert home is not None  # it has just been loaded from there
    back = _numbered(apart.back, len(apart.out.steps))
    drawings = {"out": _sketch(results, apart.out, look), "back": _sketch(results, back, look)}
    words = _write(results, apart, back, messages, look, {})
    pages = _lay_out(words, drawings, messages, home, paper)
    figures = {
        name: figure
        for plan in ("back", "out")  # the cover without new parts
        for name, figure in draw_figures(drawings[plan], pages.boxes).items()
    }
    manual = _write(results, apart, back, messages, look, figures)
    html = _render(_paged(manual, pages.begins), messages, home)
    heads = (home / "pages.css").read_text(encoding="utf-8")
    data = json.dumps(apart_data(apart), ensure_ascii=False, indent=2) + "\n"

    def write(fresh: pathlib.Path) -> None:
        page = with_fonts(html)
        (fresh / "manual.html").write_text(page, encoding="utf-8", newline="")
        (fresh / "manual.pdf").write_bytes(make_pdf(html, paper, heads))
        (fresh / "plan.json").write_text(writable(data), encoding="utf-8", newline="")

    return write_folder(folder, APART, write, whose(results.resolved))


def apart_data(apart: TakenApart) -> dict[str, object]:
    """Return how a product comes apart as plain data."""
    return {
        "kdkit": 1,
        "replace": apart.wanted,
        "comes_with": list(apart.comes_with),
        "undone": list(apart.undone),
        "not_undone": list(apart.fixed),
        "pieces": [list(piece) for piece in apart.pieces],
        "search": apart.search,
        "out": plan_data(apart.out),
        "back": plan_data(apart.back),
    }


def _render(manual: ApartManual, messages: Messages, home: pathlib.Path) -> str:
    environment = ImmutableSandboxedEnvironment(
        loader=jinja2.PackageLoader("kdkit.publish"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
    )
    return environment.get_template("apart.html.j2").render(
        m=manual,
        t=messages,
        css=Markup((home / "manual.css").read_text(encoding="utf-8")),
        page_number=Markup('<span class="page-number"></span>'),
        page_count=Markup('<span class="page-count"></span>'),
    )


def _write(
    results: Results,
    apart: TakenApart,
    back: Plan,
    messages: Messages,
    style: Style,
    figures: Mapping[str, Figure],
) -> ApartManual:
    said = results.resolved.said
    assert isinstance(said, Product)
    texts = said.texts.get(messages.language, Texts())
    names = Names(results.resolved, results.catalogue, results.schedules, messages, texts.parts)

    def picture(key: str, alternative: str) -> Picture | None:
        figure = figures.get(key)
        return None if figure is None else set_picture(figure, style, alternative=alternative)

    out_steps, back_steps = (
        write_steps(replace(results, plan=plan), names, messages, picture)
        for plan in (apart.out, back)
    )
    out_steps = tuple(replace(step, ways=()) for step in out_steps)
    title = texts.title or said.product
    restrained = restraint_wanted(said, results.catalogue) != "none"
    steps = (*apart.out.steps, *back.steps)
    return ApartManual(
        language=messages.language,
        title=title,
        subtitle=messages.text(
            "apart.move_subtitle" if apart.wanted is None else "apart.replace_subtitle"
        ),
        revision=said.revision,
        cover=picture("cover", messages.plain("picture.cover", title=title)),
        told=tuple(_told(results, apart, names, messages)),
        notes=tuple(_notes(apart, restrained, messages)),
        over=_hardware_over(apart, names, messages),
        persons=max((step.persons for step in steps), default=1),
        tools=tuple(dict.fromkeys(names.tool(tool) for step in steps for tool in step.tools)),
        time=time_text(apart.out.minutes + apart.back.minutes, messages),
        out=out_steps,
        back=back_steps,
        final=tuple(
            messages.text(f"final.{key}")
            for key in ("flush", "leftover", "square") + (("restraint",) if restrained else ())
        ),
        maker=tuple(
            line for line in (said.maker.name, said.maker.address, said.maker.contact) if line
        ),
    )


def _numbered(plan: Plan, after: int) -> Plan:
    """The plan with its steps numbered on after others."""
    steps = tuple(replace(step, number=step.number + after) for step in plan.steps)
    return replace(plan, steps=steps)


def _sketch(results: Results, plan: Plan, style: Style) -> Sketches:
    return sketch_figures(
        results.resolved,
        results.assembly,
        results.joinery,
        results.catalogue,
        plan,
        results.schedules,
        style,
    )


def _lay_out(
    words: ApartManual,
    drawings: Mapping[str, Sketches],
    messages: Messages,
    home: pathlib.Path,
    paper: str,
) -> Pages:
    """The room of every figure, and the steps that begin a further page."""
    width, height = page_area(paper)
    html = _render(words, messages, home)
    boxes: dict[str, FigureBox] = {}
    begins: list[int] = []
    for plan, steps, end in (("out", words.out, "back"), ("back", words.back, "final")):
        if not steps:
            continue
        marks = [plan, *(f"step-{step.number}" for step in steps), end]
        tops = measure_heights(html, paper, marks)
        wishes = [drawings[plan].wishes[f"step-{step.number}"] for step in steps]
        blocks = [
            Block(below - top + AROUND, wish.least, wish.most)
            for top, below, wish in zip(tops[1:-1], tops[2:], wishes, strict=True)
        ]
        shared = share_pages(blocks, height - SPARE, tops[1] - tops[0])
        for step, (figure, first) in zip(steps, shared, strict=True):
            boxes[f"step-{step.number}"] = FigureBox(width=width, height=figure)
            if first:
                begins.append(step.number)
    return Pages(paper=paper, boxes=boxes, begins=tuple(begins), sections=(), part_columns=3)


def _paged(manual: ApartManual, begins: tuple[int, ...]) -> ApartManual:
    out, back = (
        tuple(replace(step, begins_page=step.number in begins) for step in steps)
        for steps in (manual.out, manual.back)
    )
    return replace(manual, out=out, back=back)


def _told(
    results: Results, apart: TakenApart, names: Names, messages: Messages
) -> Iterable[Markup]:
    if apart.wanted is not None:
        yield messages.text("apart.replace", parts=names.parts([apart.wanted]))
        if apart.comes_with:
            yield messages.text("apart.with", parts=names.parts(apart.comes_with))
    else:
        yield messages.text("apart.move")
    pairs = {j.name: (j.butting, j.receiving) for j in results.joinery.joints}
    if not apart.out.steps:
        yield messages.text("apart.as_it_is")
        return
    if apart.wanted is None:
        yield messages.count("apart.pieces", len(apart.pieces))
    if apart.search.startswith("exact"):
        yield messages.text("apart.fewest")
    if apart.undone:
        joints = _joints([pairs[name] for name in apart.undone], names, messages)
        yield messages.text("apart.undone", joints=joints)
    else:
        yield messages.text("apart.undone_none")
    if apart.fixed:
        joints = _joints([pairs[name] for name in apart.fixed], names, messages)
        yield messages.text("apart.kept", joints=joints)


def _joints(pairs: Iterable[tuple[str, str]], names: Names, messages: Messages) -> Markup:
    """Joints in a sentence, those of one part told together."""
    pairs = tuple(pairs)
    uses = Counter(part for pair in pairs for part in pair)
    together: dict[str, list[str]] = {}
    for one, other in pairs:
        part, partner = (one, other) if uses[one] >= uses[other] else (other, one)
        together.setdefault(part, []).append(partner)
    return messages.listed(
        [
            messages.text(
                "apart.joint",
                part=names.parts([part]),
                to=names.parts(list(dict.fromkeys(partners))),
            )
            for part, partners in together.items()
        ]
    )


def _notes(apart: TakenApart, restrained: bool, messages: Messages) -> Iterable[Markup]:
    if not apart.out.steps:
        return
    keys = ["apart.empty"]
    if restrained:
        keys.append("apart.wall")
    if any(step.items for step in apart.out.steps):
        keys.append("apart.label")
    if apart.undone:
        keys.append("apart.marks")
    for key in keys:
        yield messages.text(key)


def _hardware_over(apart: TakenApart, names: Names, messages: Messages) -> Markup:
    """What has to be moved from the old part into the new one."""
    kinds = (OperationKind.FIT, OperationKind.FIXTURE)
    items: Counter[str] = Counter()
    for operation in apart.back.operations:
        if apart.wanted is not None and operation.kind in kinds:
            items.update(operation.items)
    return messages.text("apart.over", items=names.items(dict(items))) if items else Markup("")
