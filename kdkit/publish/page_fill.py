"""How large each step's figure is printed, and which steps share a page.

The words of every step are measured on an endless page; then the pages are chosen and
the figures scaled so that no step is split, no page is left half empty, and no figure
is smaller or larger than it should be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from kdkit.illustrate.style import Style
from kdkit.publish.content import Manual
from kdkit.publish.pdf import measure_heights, page_area
from kdkit.publish.pictures import set_picture
from kdkit.publish.results import Results

__all__ = ["Block", "fill_pages", "share_pages", "without_step_pictures"]

SMALLEST = 0.72
"""Lettering of 2.5 mm is then 1.8, the least of ISO 3098-1."""

LARGEST = 1.5
CARDS_IN_A_ROW = 3
SAVED_BY_DENSE = 10.0
"""How the style sheet sets parts: cards in a row, and mm saved a row when dense."""

SPARE = 4.0
"""White left at the foot of a page, mm, against rounding in the page engine."""


@dataclass(frozen=True)
class Block:
    """One step: height of its words and size of its figure as drawn, mm."""

    words: float
    width: float
    height: float


def without_step_pictures(manual: Manual) -> Manual:
    """Return the manual with the steps' words alone, each on the same endless page."""
    return replace(manual, steps=tuple(replace(step, picture=None) for step in manual.steps))


def fill_pages(
    manual: Manual, words_alone: str, results: Results, style: Style, paper: str
) -> Manual:
    """Return the manual with the steps' figures scaled and the pages begun where chosen.

    Args:
        words_alone: the HTML of ``without_step_pictures(manual)``.
    """
    names = ["parts", "steps", *(f"step-{step.number}" for step in manual.steps), "final"]
    lists, *tops = measure_heights(words_alone, paper, names)
    figures = [results.figures.get(f"step-{step.number}") for step in manual.steps]
    blocks = []
    for n, figure in enumerate(figures):
        words = tops[n + 2] - tops[n + 1]
        blocks.append(
            Block(words + _AROUND, figure.width, figure.height)
            if figure is not None
            else Block(words, 0.0, 0.0)
        )
    width, height = page_area(paper)
    over = tops[0] - lists - height
    rows = math.ceil(len(manual.parts) / CARDS_IN_A_ROW)
    manual = replace(manual, dense_parts=0 < over <= rows * SAVED_BY_DENSE)
    if not blocks:
        return manual
    lead = tops[1] - tops[0]
    steps = []
    for step, figure, (scale, begins) in zip(
        manual.steps, figures, share_pages(blocks, width, height - SPARE, lead), strict=True
    ):
        picture = None if figure is None else set_picture(figure, style, scale=scale)
        steps.append(replace(step, picture=picture, begins_page=begins))
    return replace(manual, steps=tuple(steps))


_AROUND = 5.0
"""White above and below a figure, mm, as the style sheet has it."""


def share_pages(
    blocks: Sequence[Block], width: float, height: float, lead: float
) -> list[tuple[float, bool]]:
    """Return for each block the scale of its figure, and whether it begins a further page.

    The cheapest division into pages: white at the foot counts by its square, a figure
    drawn smaller or larger than it is counts, and so does each page.

    Args:
        width, height: of the page's area, mm.
        lead: taken by the heading on the first page.
    """
    best: list[tuple[float, int, tuple[float, ...]]] = [(0.0, 0, ())]
    for end in range(1, len(blocks) + 1):
        choices = []
        for start in range(end - 1, -1, -1):
            room = height - (lead if start == 0 else 0.0)
            page = _page(blocks[start:end], width, room)
            if page is None:
                break
            cost, scales = page
            choices.append((best[start][0] + cost, -start, scales))
        cost, start, scales = min(choices)
        best.append((cost, -start, scales))
    placed: list[tuple[float, bool]] = []
    end = len(blocks)
    while end > 0:
        _, start, scales = best[end]
        placed[:0] = [(scale, n == 0 and start > 0) for n, scale in enumerate(scales)]
        end = start
    return placed


def _page(
    blocks: Sequence[Block], width: float, room: float
) -> tuple[float, tuple[float, ...]] | None:
    """Return the cost of a page of these blocks and their scales; None if they do not fit."""
    free = room - sum(block.words for block in blocks)
    drawn = sum(block.height for block in blocks)
    caps = [min(LARGEST, width / block.width) if block.width else 1.0 for block in blocks]
    common = LARGEST if drawn <= 0 else free / drawn
    if common < SMALLEST and len(blocks) > 1:
        return None
    common = max(common, 0.3)
    scales = tuple(min(cap, common) for cap in caps)
    used = sum(scale * block.height for scale, block in zip(scales, blocks, strict=True))
    white = max(0.0, free - used) / room
    strain = sum((1 - scale) ** 2 if scale < 1 else (scale - 1) ** 2 / 2 for scale in scales)
    return 1.0 + 4 * white**2 + 2 * strain, scales
