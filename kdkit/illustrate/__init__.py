"""Row: illustrate. Views, hidden-line drawings and the figures composed of them.

Takes the product with its plan and schedules, gives figures as flat primitives in
millimetres on paper, and their SVG.
"""

from __future__ import annotations

from kdkit.illustrate.figures import draw_figures

__all__ = ["draw_figures"]
