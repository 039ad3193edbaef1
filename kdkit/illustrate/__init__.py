"""Row: illustrate. Views, hidden-line drawings and the figures composed of them.

Takes the product with its plan and schedules, gives sketches that know which heights
they can use; with the room that the pages leave, gives figures as flat primitives in
millimetres on paper, and their SVG.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kdkit.lazy import lazy_names

if TYPE_CHECKING:
    from kdkit.illustrate.boxes import FigureBox, FigureWish
    from kdkit.illustrate.figures import Sketches, draw_figures, sketch_figures
    from kdkit.illustrate.no_plan_figures import draw_no_plan

__all__ = [
    "FigureBox",
    "FigureWish",
    "Sketches",
    "draw_figures",
    "draw_no_plan",
    "sketch_figures",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = lazy_names(
        __name__,
        {
            "FigureBox": "kdkit.illustrate.boxes",
            "FigureWish": "kdkit.illustrate.boxes",
            "Sketches": "kdkit.illustrate.figures",
            "draw_figures": "kdkit.illustrate.figures",
            "draw_no_plan": "kdkit.illustrate.no_plan_figures",
            "sketch_figures": "kdkit.illustrate.figures",
        },
    )
