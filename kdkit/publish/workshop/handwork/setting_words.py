"""Words for what is set on a drill, a jig or a saw: bits, depths, fences, stops, sides."""

from __future__ import annotations

from collections.abc import Sequence

from kdkit.publish.files.tables import surface_words
from kdkit.publish.wording.messages import Messages
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.datum import OPPOSITE
from kdkit.schedule.fence_rows import FenceRow
from kdkit.schedule.jig_rows import run_towards
from kdkit.units import mm_text

__all__ = [
    "bit_words",
    "depth_words",
    "end_words",
    "fence_words",
    "part_words",
    "place_words",
    "side_end",
]


def part_words(job: WorkshopJob, row: FenceRow) -> str:
    """Return the part and how many of it there are."""
    cut = row.panel.cut
    return job.messages.plain(
        "workshop.hand_part", letter=cut.letter, title=cut.title, n=cut.quantity
    )


def bit_words(messages: Messages, row: FenceRow) -> str:
    """Return the bit: its diameter, or the countersink's."""
    key = "workshop.hand_sink" if row.kind[3] else "workshop.hand_bit"
    return messages.plain(key, d=mm_text(row.kind[0], 2))


def depth_words(messages: Messages, row: FenceRow) -> str:
    """Return the depth stop, or that the bore goes through."""
    if row.kind[2]:
        return messages.plain("workshop.hand_through")
    if row.kind[3]:
        return messages.plain("workshop.hand_sink_depth", depth=mm_text(row.kind[1], 2))
    return messages.plain("workshop.hand_depth", depth=mm_text(row.kind[1], 2))


def fence_words(messages: Messages, row: FenceRow) -> str:
    """Return what lies against the fence."""
    if row.fence == "face":
        return messages.plain("workshop.hand_face")
    side = OPPOSITE.get(run_towards(row.panel, row.view.surface, 0 if row.fence == "x" else 1), "")
    return (
        surface_words(messages, f"edge:{side}") if side else messages.plain("workshop.hand_datum")
    )


def end_words(messages: Messages, row: FenceRow) -> str:
    """Return the end that meets the stop."""
    axis = 1 if row.fence == "x" else 0
    return side_end(messages, OPPOSITE.get(run_towards(row.panel, row.view.surface, axis), ""))


def side_end(messages: Messages, side: str) -> str:
    """Return an end by the side of the product where it is."""
    if not side:
        return messages.plain("workshop.hand_near_end")
    return messages.plain("workshop.hand_end", side=messages.plain(f"sides.{side}"))


def place_words(positions: Sequence[float]) -> str:
    """Return places along a fence."""
    return " · ".join(mm_text(p, 2) for p in positions)
