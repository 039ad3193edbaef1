"""Glass: what a workshop for wood leaves alone, and what its maker must see to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from kdkit.diagnostics import Problem, advice, error
from kdkit.inspect.inspection import Inspection
from kdkit.model.resolved import Part
from kdkit.units import mm_text

__all__ = ["check_glass_is_ready", "check_glass_is_whole"]


def check_glass_is_whole(inspection: Inspection) -> Iterable[Problem]:
    """Glass comes cut to size: nothing is bored, grooved, glued or banded on it here.

    Source:
        Common practice, no source.
    """
    cuts = {b.part: b for b in inspection.joinery.bores}
    grooves = {g.part: g for g in inspection.joinery.grooves}
    slots = {s.part: s for s in inspection.joinery.slots}
    for part in _glass(inspection):
        cut = cuts.get(part.name) or grooves.get(part.name) or slots.get(part.name)
        if cut is not None:
            yield error(
                "glass-cut",
                f"{part.name} is glass and cannot be bored or grooved here",
                cut.path,
                where=part.name,
                help="lay it on supports with pads: fitting `glass-support-5` or `glass-ledge-30`",
            )
        if any(part.bands):
            yield error(
                "glass-cut",
                f"{part.name} is glass and takes no edge band",
                (*part.path, "bands"),
                where=part.name,
                help="leave `bands` out; its edges are ground",
            )


def check_glass_is_ready(inspection: Inspection) -> Iterable[Problem]:
    """Tell what to order of each pane.

    Source:
        Ground edges, toughened glass where local rules ask: common practice, no source.
    """
    for part in _glass(inspection):
        yield advice(
            "glass-care",
            f"{part.name} is a pane of glass, {mm_text(part.thickness)} mm: order it with ground"
            " edges, and toughened where local rules ask for it",
            part.path,
            where=part.name,
            help="the manual warns of it; what it may carry is for the glazier to say",
        )


def _glass(inspection: Inspection) -> Iterator[Part]:
    for part in inspection.assembly.parts:
        if inspection.family(part) == "glass":
            yield part
