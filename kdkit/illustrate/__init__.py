"""Row: illustrate. Views, hidden-line drawings and the figures composed of them.

Takes the product with its plan and schedules, gives sketches that know which heights
they can use; with the room that the pages leave, gives figures as flat primitives in
millimetres on paper, and their SVG.

Data flow one way, package by package:

1. ``paper``: what a figure is made of, and free places on it;
2. ``bodies``: parts and hardware as bodies to draw;
3. ``hidden_lines``: bodies and a view turned into a drawing;
4. ``staging``: what a step shows, how far apart, from where;
5. ``annotation``: letters, arrows, rings, details and insets beside a drawing;
6. ``composition``: all of it set into the room that a page gives;
7. ``figures``: the figures of a product, first as sketches, then drawn;
8. ``in_the_round``: the steps as solids that move, out of the sketches;
9. ``no_plan``: pictures of a product without a plan, from 1 to 5 alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kdkit.lazy import lazy_names

if TYPE_CHECKING:
    from kdkit.illustrate.figures.scores import FigureScore, judge_scores
    from kdkit.illustrate.figures.sketches import Sketches, draw_figures, sketch_figures
    from kdkit.illustrate.in_the_round.scenes import Round, draw_round
    from kdkit.illustrate.no_plan.no_plan_figures import draw_no_plan
    from kdkit.illustrate.paper.figure_box import FigureBox, FigureWish

__all__ = [
    "FigureBox",
    "FigureScore",
    "FigureWish",
    "Round",
    "Sketches",
    "draw_figures",
    "draw_no_plan",
    "draw_round",
    "judge_scores",
    "sketch_figures",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = lazy_names(
        __name__,
        {
            "FigureBox": "kdkit.illustrate.paper.figure_box",
            "FigureScore": "kdkit.illustrate.figures.scores",
            "FigureWish": "kdkit.illustrate.paper.figure_box",
            "Round": "kdkit.illustrate.in_the_round.scenes",
            "Sketches": "kdkit.illustrate.figures.sketches",
            "draw_figures": "kdkit.illustrate.figures.sketches",
            "draw_no_plan": "kdkit.illustrate.no_plan.no_plan_figures",
            "draw_round": "kdkit.illustrate.in_the_round.scenes",
            "judge_scores": "kdkit.illustrate.figures.scores",
            "sketch_figures": "kdkit.illustrate.figures.sketches",
        },
    )
