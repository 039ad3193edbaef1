"""All figures of a product: cover, parts, hardware at true size, steps."""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.catalogue.entries import Catalogue
from kdkit.geometry.assembly import Assembly
from kdkit.illustrate.build_state import step_state
from kdkit.illustrate.cover_figure import draw_cover
from kdkit.illustrate.figure import Figure
from kdkit.illustrate.item_figure import draw_item
from kdkit.illustrate.part_figure import draw_parts
from kdkit.illustrate.scene import Workshop
from kdkit.illustrate.step_figure import draw_step
from kdkit.illustrate.style import Style, load_style
from kdkit.illustrate.view import Viewpoint
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.plan import Plan, Posture, Step
from kdkit.schedule.schedules import Schedules

__all__ = ["draw_figures"]


def draw_figures(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    plan: Plan,
    schedules: Schedules,
    style: Style | None = None,
) -> Mapping[str, Figure]:
    """Return every figure by name, in a stable order.

    Without a style the plain one is taken. Names: ``cover``; ``part-<letter>`` for each
    distinct part; ``item-<key>`` for each piece of hardware; ``step-<number>`` for each
    step.

    Raises:
        RuntimeError: the plain style is missing (a faulty installation).
    """
    if style is None:
        style, problems = load_style()
        if style is None:
            raise RuntimeError("; ".join(p.message for p in problems))
    shop = Workshop(assembly=assembly, joinery=joinery, catalogue=catalogue)
    whole = tuple(part.name for part in assembly.parts)
    nothing = Step(
        number=0, operations=(), present=whole, new=(), posture=Posture.STANDING, items={},
        tools=(), persons=1,
    )
    last = plan.steps[-1] if plan.steps else nothing
    finished = step_state(last, plan, joinery, schedules)
    figures: dict[str, Figure] = {"cover": draw_cover(shop, resolved, finished, style)}
    for letter, figure in draw_parts(shop, schedules, style).items():
        figures[f"part-{letter}"] = figure
    turned = {
        action.item
        for fitting in joinery.fittings.values()
        for action in fitting.actions
        if action.do == "turn"
    }
    for line in schedules.hardware:
        figures[f"item-{line.item}"] = draw_item(
            catalogue.items[line.item], turned=line.item in turned
        )
    looks: dict[str, Viewpoint] = {}
    lying: dict[str, Posture] = {}
    for step in plan.steps:
        state = step_state(step, plan, joinery, schedules)
        key = "bench" if state.bench else step.subassembly
        picture = draw_step(
            shop, state, schedules, style, looks.get(key),
            None if state.bench else lying.get(step.subassembly),
        )
        looks[key] = picture.plates[0].view.viewpoint
        if not state.bench:
            lying[step.subassembly] = step.posture
        figures[f"step-{step.number}"] = picture.figure
    return figures
