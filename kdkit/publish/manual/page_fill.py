"""The pages of the steps, laid out before any step is drawn.

The words of every step are measured on an endless page; then the pages are chosen and
what they leave is shared among the figures, each of which says which heights it can use.
No step is split, and nothing is scaled afterwards: a figure is composed for its room.

Pages are filled by figures and lists, never by type. Step figures take the height that is
left; the parts list gets the columns that let the hardware share its page, or else larger
pictures; sections follow on the same page where they fit whole.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kdkit.diagnostics import Problem, has_errors
from kdkit.illustrate import FigureBox, FigureWish
from kdkit.illustrate.paper.style import load_style
from kdkit.model.says import Product
from kdkit.publish.manual.content import Manual, write_manual
from kdkit.publish.manual.manual import render_lists_trial, render_manual
from kdkit.publish.manual.parts_page import COLUMNS, PartsPage, set_parts
from kdkit.publish.results import Pages, Results
from kdkit.publish.typesetting.pdf import PAPERS, measure_heights, page_area
from kdkit.publish.wording.messages import Messages, find_wording

__all__ = ["Block", "lay_out", "share_from", "share_pages"]

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
    area = page_area(paper)
    words = _measure(manual, results, messages, paper, style)
    parts, roomy = _set_lists(manual, messages, words, paper, style)
    blocks = []
    for step in manual.steps:
        height = words[f"step-{step.number}"]
        wish = wishes.get(f"step-{step.number}")
        if wish is None:
            blocks.append(Block(height, 0.0, 0.0))
        else:
            blocks.append(Block(height + AROUND, wish.least, wish.most))
    ending = words["final"] + words["after"]
    if ending > area[1] - SPARE:
        ending = words["final"]
    blocks.append(Block(ending, 0.0, 0.0))
    last = words["hardware"] if manual.hardware else 0.0
    if parts.shared:
        last += parts.height
    shared, follows = share_from(blocks, area[1] - SPARE, words["lead"], last or parts.height)
    boxes = {"part": parts.room}
    for step, (figure, _) in zip(manual.steps, shared, strict=False):
        boxes[f"step-{step.number}"] = FigureBox(width=area[0], height=figure)
    firsts = [first for _, first in shared]
    sections = {
        "before": True,
        "parts": True,
        "hardware": not parts.shared,
        "steps": not follows,
        "final": firsts[-1],
    }
    return Pages(
        paper=paper,
        boxes=boxes,
        begins=tuple(s.number for s, first in zip(manual.steps, firsts, strict=False) if first),
        sections=tuple(name for name, begins in sections.items() if begins),
        part_columns=parts.columns,
        roomy=roomy and not parts.shared and not follows,
    ), ()


def _measure(
    manual: Manual, results: Results, messages: Messages, paper: str, style: str
) -> Mapping[str, float]:
    """Return the heights of the sections and steps without figures, mm, by their ids;
    ``lead`` is that of the heading over the steps."""
    html = render_manual(manual, messages, style=style)
    names = [
        *(("hardware",) if manual.hardware else ()),
        "steps",
        *(f"step-{step.number}" for step in manual.steps),
        "final",
        "after",
        "end",
    ]
    tops = measure_heights(html, paper, names)
    heights = {
        name: below - top for name, top, below in zip(names[:-1], tops[:-1], tops[1:], strict=True)
    }
    heights["lead"] = heights["steps"]
    return heights


def _set_lists(
    manual: Manual, messages: Messages, words: Mapping[str, float], paper: str, style: str
) -> tuple[PartsPage, bool]:
    """Return how the parts are set, and whether the roomy hardware fits on a page."""
    trial = render_lists_trial(manual, messages, tuple(COLUMNS), style=style)
    names = [*(f"columns-{n}" for n in COLUMNS), "roomy", "end"]
    tops = measure_heights(trial, paper, names)
    heights = {n: below - top for n, top, below in zip(COLUMNS, tops, tops[1:], strict=False)}
    room = page_area(paper)[1] - SPARE
    parts = set_parts(manual, heights, words.get("hardware", 0.0), room)
    return parts, tops[-1] - tops[-2] <= room


def share_from(
    blocks: Sequence[Block], height: float, lead: float, last: float
) -> tuple[list[tuple[float, bool]], bool]:
    """Share pages among the blocks, the first of which may follow on the page before.

    Args:
        last: what is taken of the page before, mm.

    Returns:
        As from ``share_pages``, and whether the first block follows on that page.
    """
    white = max(0.0, height - last) / height
    anew, cost = _share(blocks, height, lead)
    if height - last - lead - blocks[0].words >= blocks[0].least:
        following, cost_following = _share(blocks, height, lead + last)
        if cost_following - 1.0 < cost + WHITE * white**2:
            return following, True
    return anew, False


def share_pages(blocks: Sequence[Block], height: float, lead: float) -> list[tuple[float, bool]]:
    """Return for each block the height of its figure, and whether it begins a further page.

    The cheapest division into pages: white at the foot counts by its square, a figure
    kept below its best height counts, and so does each page.

    Args:
        height: of the page's area, mm.
        lead: taken by the heading on the first page.
    """
    return _share(blocks, height, lead)[0]


def _share(
    blocks: Sequence[Block], height: float, lead: float
) -> tuple[list[tuple[float, bool]], float]:
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
    return placed, best[-1][0]


WHITE = 4.0
"""What a page's white at its foot costs, by the square of its share; a page costs 1."""

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
    return 1.0 + WHITE * white**2 + 0.6 * strain, heights
