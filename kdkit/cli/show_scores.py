"""What can be made out in each figure, as a table for the terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from kdkit.cli.show import printable

if TYPE_CHECKING:  # a check without figures imports nothing that draws
    from kdkit.illustrate import FigureScore

__all__ = ["scores_text"]

_HEADS = (
    "step", "part", "in sight", "joints", "with details", "context", "bore", "letter", "turn",
    "kinds", "fill",
)  # fmt: skip
_MEANS = (
    "in sight: of the new part that is seen least; joints: places that are joined or fitted; "
    "context: what is there already\nbore, letter: the smallest on paper, mm; turn: of the view "
    "since the last step, * where it is drawn; fill: of the room"
)


def scores_text(scores: Sequence[FigureScore], letter_of: Callable[[str], str]) -> str:
    """Return a row for each figure, under heads, and what they mean."""
    rows = [_HEADS, *(_row(score, letter_of) for score in scores)]
    widths = [max(len(row[n]) for row in rows) for n in range(len(_HEADS))]
    lines = ["  ".join(c.rjust(w) for c, w in zip(row, widths, strict=True)) for row in rows]
    return printable("\n".join([*lines, _MEANS]))


def _row(score: FigureScore, letter_of: Callable[[str], str]) -> tuple[str, ...]:
    turn = "" if score.turn_deg is None else f"{score.turn_deg:.0f}"
    return (
        str(score.step),
        letter_of(score.part) if score.part else "",
        _share(score.new_seen),
        _share(score.bores_seen),
        _share(score.bores_shown),
        _share(score.context_seen),
        _size(score.smallest_bore),
        _size(score.smallest_letter),
        turn + ("*" if score.turn_drawn else ""),
        str(score.new_kinds),
        _share(score.fill),
    )


def _share(value: float | None) -> str:
    return "" if value is None else f"{value:.0%}"


def _size(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"
