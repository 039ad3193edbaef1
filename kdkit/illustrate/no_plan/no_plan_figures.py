"""All pictures of a product without a plan."""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.illustrate.no_plan.clash_figure import draw_clashes
from kdkit.illustrate.no_plan.no_figure import draw_no
from kdkit.illustrate.paper.figure import Figure
from kdkit.illustrate.paper.style import Style, load_style
from kdkit.illustrate.staging.subject import Subject
from kdkit.plan.no_plan import NoPlan
from kdkit.plan.plan import Impossible

__all__ = ["draw_no_plan"]


def draw_no_plan(no: NoPlan, style: Style | None = None) -> Mapping[str, Figure]:
    """Return the pictures by name; without a style the plain one is taken.

    Raises:
        RuntimeError: the plain style is missing (a faulty installation).
    """
    if style is None:
        style, problems = load_style()
        if style is None:
            raise RuntimeError("; ".join(p.message for p in problems))
    subject = Subject(assembly=no.assembly, joinery=no.joinery, catalogue=no.catalogue)
    if isinstance(no.verdict, Impossible):
        return draw_no(subject, no.verdict, no.letters, style)
    return draw_clashes(subject, no.verdict, no.letters, style)
