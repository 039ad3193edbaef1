"""What the earlier stages came to, as one value for the writers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from kdkit.catalogue.entries import Catalogue
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.plan import Plan
from kdkit.schedule.schedules import Schedules

if TYPE_CHECKING:  # a check draws nothing
    from kdkit.illustrate.figures.scores import FigureScore
    from kdkit.illustrate.in_the_round.scenes import Round
    from kdkit.illustrate.paper.figure import Figure
    from kdkit.illustrate.paper.figure_box import FigureBox

__all__ = ["Pages", "Results", "board_title", "whose"]


def whose(resolved: Resolved) -> str:
    """Return the product that results are of, with its variant."""
    title = str(getattr(resolved.said, "product", ""))
    return f"{title}, {resolved.variant}" if resolved.variant else title


@dataclass(frozen=True, kw_only=True)
class Pages:
    """How the manual's pages are shared out.

    Args:
        paper: ``a4`` or ``letter``.
        boxes: the room of each step's figure, and under ``part`` that of all parts'.
        begins: numbers of the steps that begin a further page.
        sections: ids of the sections that begin one.
        part_columns: of the parts list.
        roomy: the hardware list has a page to itself.
    """

    paper: str
    boxes: Mapping[str, FigureBox]
    begins: tuple[int, ...]
    sections: tuple[str, ...]
    part_columns: int
    roomy: bool = False


@dataclass(frozen=True, kw_only=True)
class Results:
    """One product, worked out. ``figures``: ``cover``, ``part-A``, ``item-<key>``, ``small-<key>``,
    ``step-1``…; ``pages``: None when they were not laid out; ``scores``: of the steps' figures,
    by their names; ``solids``: the steps for a reader who turns them."""

    resolved: Resolved
    catalogue: Catalogue
    assembly: Assembly
    joinery: Joinery
    plan: Plan
    schedules: Schedules
    figures: Mapping[str, Figure]
    pages: Pages | None = None
    scores: Mapping[str, FigureScore] = field(default_factory=dict)
    solids: Round | None = None


def board_title(results: Results, board: str, material: str) -> str:
    """Return what a board is called in words: as the maker says, or as the catalogue does."""
    said = results.resolved.boards.get(board)
    entry = results.catalogue.boards.get(material)
    return (said.title if said is not None else "") or (entry.title if entry else material)
