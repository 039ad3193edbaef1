"""Row: illustrate. Views, hidden-line drawings and the figures composed of them.

Takes the product with its plan and schedules, gives sketches that know which heights
they can use; with the room that the pages leave, gives figures as flat primitives in
millimetres on paper, and their SVG.
"""

from __future__ import annotations

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
