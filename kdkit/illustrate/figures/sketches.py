"""All figures of a product: cover, parts, hardware at true size, steps.

In two goes, since pages are shared out between them: ``sketch_figures`` settles what
each figure shows and which heights it can use, ``draw_figures`` composes each for the
room that it got.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue
from kdkit.geometry.assembly import Assembly
from kdkit.illustrate.figures.cover_figure import draw_cover
from kdkit.illustrate.figures.item_figure import draw_hardware
from kdkit.illustrate.figures.part_figure import draw_parts
from kdkit.illustrate.figures.scores import FigureScore, score_step
from kdkit.illustrate.figures.step_figure import (
    HIGHEST,
    WIDEST,
    StepSketch,
    set_step,
    sketch_step,
    wish_of,
)
from kdkit.illustrate.hidden_lines.view import View, Viewpoint
from kdkit.illustrate.paper.figure import Figure
from kdkit.illustrate.paper.figure_box import FigureBox, FigureWish
from kdkit.illustrate.paper.style import Style, load_style
from kdkit.illustrate.staging.build_state import step_state
from kdkit.illustrate.staging.subject import Subject
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.plan import Plan, Posture, Step
from kdkit.schedule.schedules import Schedules

__all__ = ["Sketches", "draw_figures", "sketch_figures"]

NARROW = FigureBox(width=92.0, height=118.0)
"""Room on a telephone of 360 px: its letters are then 13 px high, and it is seen whole."""


@dataclass(frozen=True, kw_only=True)
class Sketches:
    """The figures before their size is known.

    Args:
        fixed: the figures that no page changes: ``cover``, ``item-<key>``,
            ``small-<key>``.
        steps: by name, ``step-1``…
        wishes: the heights that each step's figure can use.
    """

    subject: Subject
    schedules: Schedules
    style: Style
    fixed: Mapping[str, Figure]
    steps: Mapping[str, StepSketch]
    wishes: Mapping[str, FigureWish]


def sketch_figures(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    plan: Plan,
    schedules: Schedules,
    style: Style | None = None,
) -> Sketches:
    """Return what every figure shows; without a style the plain one is taken.

    Raises:
        RuntimeError: the plain style is missing (a faulty installation).
    """
    if style is None:
        style, problems = load_style()
        if style is None:
            raise RuntimeError("; ".join(p.message for p in problems))
    subject = Subject(assembly=assembly, joinery=joinery, catalogue=catalogue)
    whole = tuple(part.name for part in assembly.parts)
    nothing = Step(
        number=0,
        operations=(),
        present=whole,
        new=(),
        posture=Posture.STANDING,
        items={},
        tools=(),
        persons=1,
    )
    last = plan.steps[-1] if plan.steps else nothing
    finished = step_state(last, plan, joinery, schedules)
    fixed: dict[str, Figure] = {"cover": draw_cover(subject, resolved, finished, style)}
    fixed |= draw_hardware(catalogue, joinery, schedules)
    steps: dict[str, StepSketch] = {}
    looks: dict[str, Viewpoint] = {}
    lying: dict[str, Posture] = {}
    for step in plan.steps:
        state = step_state(step, plan, joinery, schedules)
        key = "bench" if state.bench else step.subassembly
        sketch = sketch_step(
            subject,
            state,
            schedules,
            looks.get(key),
            None if state.bench else lying.get(step.subassembly),
        )
        looks[key] = sketch.plates[0].view.viewpoint
        if not state.bench:
            lying[step.subassembly] = step.posture
        steps[sketch.name] = sketch
    return Sketches(
        subject=subject,
        schedules=schedules,
        style=style,
        fixed=fixed,
        steps=steps,
        wishes={name: wish_of(sketch, subject, style) for name, sketch in steps.items()},
    )


def draw_figures(
    sketches: Sketches,
    boxes: Mapping[str, FigureBox] | None = None,
    scores: dict[str, FigureScore] | None = None,
) -> Mapping[str, Figure]:
    """Return every figure by name, in a stable order.

    Names: ``cover``; ``part-<letter>`` for each distinct part; ``item-<key>`` for each
    piece of hardware and ``small-<key>`` for its small picture; ``step-<number>``, and
    ``narrow-<number>``: the same composed for a narrow screen.

    Args:
        boxes: the room of each step's figure, and under ``part`` that of all parts';
            what is missing gets a usual one.
        scores: takes the score of each step's figure, by its name.
    """
    room = boxes or {}
    figures = {"cover": sketches.fixed["cover"]}
    for letter, figure in draw_parts(
        sketches.subject, sketches.schedules, sketches.style, room.get("part")
    ).items():
        figures[f"part-{letter}"] = figure
    figures |= {name: f for name, f in sketches.fixed.items() if name != "cover"}
    usual = FigureBox(width=WIDEST, height=HIGHEST)
    last: dict[str, View] = {}
    for name, sketch in sketches.steps.items():
        box = room.get(name, usual)
        picture = set_step(sketch, box, sketches.subject, sketches.style)
        figures[name] = picture.figure
        narrow = set_step(sketch, NARROW, sketches.subject, sketches.style)
        figures[name.replace("step", "narrow")] = narrow.figure
        if scores is None:
            continue
        work = sketch.state.step.subassembly
        known = None if sketch.state.bench else last.get(work)
        scores[name] = score_step(sketch, picture, box, sketches.subject, sketches.schedules, known)
        if not sketch.state.bench:
            last[work] = sketch.plates[0].view
    return figures
