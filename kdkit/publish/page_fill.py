"""The pages of the steps, laid out before any step is drawn.

The words of every step are measured on an endless page; then the pages are chosen and
what they leave is shared among the figures, each of which says which heights it can use.
No step is split, and nothing is scaled afterwards: a figure is composed for its room.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kdkit.diagnostics import Problem, has_errors
from kdkit.illustrate import FigureBox, FigureWish
from kdkit.illustrate.style import load_style
from kdkit.model.says import Product
from kdkit.publish.content import write_manual
from kdkit.publish.manual import render_manual
from kdkit.publish.messages import find_wording
from kdkit.publish.pdf import PAPERS, measure_heights, page_area
from kdkit.publish.results import Pages, Results

__all__ = ["Block", "lay_out", "share_pages"]

CARDS_IN_A_ROW = 3
SAVED_BY_DENSE = 10.0
"""How the style sheet sets parts: cards in a row, and mm saved a row when dense."""

PART_ROOM = FigureBox(width=50.0, height=30.0)
DENSE_PART_ROOM = FigureBox(width=50.0, height=20.0)
"""What the style sheet leaves for a part's picture, mm."""

AROUND = 5.0
"""White above and below a figure, mm, as the style sheet has it."""

SPARE = 4.0
"""White left at the foot of a page, mm, against rounding in the page engine."""


@dataclass(frozen=True)
class Block:
    """One step: height of its words, and the heights its figure can use; mm."""

    words: float
    least: float
    most: float


def lay_out(
    results: Results,
    wishes: Mapping[str, FigureWish],
    paper: str = "A4",
    *,
    style: str = "plain",
) -> tuple[Pages | None, tuple[Problem, ...]]:
    """Return the room of every figure and where pages begin.

    Args:
        results: with the figures whose size no page changes.
        wishes: the heights that each step's figure can use, by the figure's name.
        paper: ``A4`` or ``letter``, in any case of letters.

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
    manual, problems = write_manual(results, messages, look)
    if has_errors(problems):
        return None, problems
    words_alone = render_manual(manual, results, messages, style=style)
    names = ["parts", "steps", *(f"step-{step.number}" for step in manual.steps), "final"]
    lists, *tops = measure_heights(words_alone, paper, names)
    width, height = page_area(paper)
    over = tops[0] - lists - height
    rows = math.ceil(len(manual.parts) / CARDS_IN_A_ROW)
    dense = 0 < over <= rows * SAVED_BY_DENSE
    boxes = {"part": DENSE_PART_ROOM if dense else PART_ROOM}
    blocks = []
    for n, step in enumerate(manual.steps):
        words = tops[n + 2] - tops[n + 1]
        wish = wishes.get(f"step-{step.number}")
        blocks.append(
            Block(words, 0.0, 0.0) if wish is None else Block(words + AROUND, wish.least, wish.most)
        )
    begins = []
    shared = share_pages(blocks, height - SPARE, tops[1] - tops[0]) if blocks else []
    for step, (figure, first) in zip(manual.steps, shared, strict=True):
        boxes[f"step-{step.number}"] = FigureBox(width=width, height=figure)
        if first:
            begins.append(step.number)
    return Pages(paper=paper, boxes=boxes, begins=tuple(begins), dense_parts=dense), ()


def share_pages(blocks: Sequence[Block], height: float, lead: float) -> list[tuple[float, bool]]:
    """Return for each block the height of its figure, and whether it begins a further page.

    The cheapest division into pages: white at the foot counts by its square, a figure
    kept below its best height counts, and so does each page.

    Args:
        height: of the page's area, mm.
        lead: taken by the heading on the first page.
    """
    best: list[tuple[float, int, tuple[float, ...]]] = [(0.0, 0, ())]
    for end in range(1, len(blocks) + 1):
        choices = []
        for start in range(end - 1, -1, -1):
            room = height - (lead if start == 0 else 0.0)
            page = _page(blocks[start:end], room)
            if page is None:
                break
            cost, heights = page
            choices.append((best[start][0] + cost, -start, heights))
        cost, start, heights = min(choices)
        best.append((cost, -start, heights))
    placed: list[tuple[float, bool]] = []
    end = len(blocks)
    while end > 0:
        _, start, heights = best[end]
        placed[:0] = [(h, n == 0 and start > 0) for n, h in enumerate(heights)]
        end = start
    return placed


SMALLEST = 30.0
"""What a figure gets at least, also beside very many words, mm."""


def _page(blocks: Sequence[Block], room: float) -> tuple[float, tuple[float, ...]] | None:
    """Return the cost of a page of these blocks and their heights; None if they do not fit."""
    free = room - sum(block.words for block in blocks)
    least, most = sum(b.least for b in blocks), sum(b.most for b in blocks)
    if free < least and len(blocks) > 1:
        return None
    if free < least:
        return 3.0, (max(SMALLEST, free) if blocks[0].most else 0.0,)
    share = min(1.0, (free - least) / (most - least)) if most > least else 1.0
    heights = tuple(b.least + share * (b.most - b.least) for b in blocks)
    white = max(0.0, free - sum(heights)) / room
    strain = sum((1 - h / b.most) ** 2 for h, b in zip(heights, blocks, strict=True) if b.most)
    return 1.0 + 4 * white**2 + 0.6 * strain, heights
