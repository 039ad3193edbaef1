"""A no in words: which parts hold each other, in every direction, and what to change."""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.diagnostics import Path, Problem, error
from kdkit.joinery.placed import Joinery
from kdkit.plan.motion.directions import direction_words
from kdkit.plan.plan import Impossible

__all__ = ["explain_stuck", "loop_lines"]


def explain_stuck(proof: Impossible, titles: Mapping[str, str], joinery: Joinery) -> Problem:
    """Return the error that says why there is no assembly order."""
    named = ", ".join(p if titles[p] == p else f"{titles[p]} ({p})" for p in proof.parts)
    path: Path = ("joints",)
    for joint in joinery.joints:
        if joint.butting in proof.parts and joint.receiving in proof.parts:
            path = joint.path
            break
    return error(
        "no-assembly-order",
        f"{len(proof.parts)} parts hold each other, so none of them can be put on last: {named}",
        path,
        where="\n  ".join(
            (
                *loop_lines(proof),
                f"(looked at: {proof.motion_class})",
            )
        ),
        help=(
            "free one of these parts along one direction: take the pins out of one joint of the "
            "ring, use a fitting that is driven in after the parts have met, or open a groove"
        ),
    )


def loop_lines(proof: Impossible) -> list[str]:
    """Return a line for each direction: the loop of parts, each with its reason."""
    lines = []
    for direction, blocks in proof.loops:
        reasons = "; ".join(dict.fromkeys(block.reason for block in blocks))
        lines.append(f"{direction_words(direction)}: {reasons}")
    return lines
