"""A no in words: which parts hold each other, in every direction, and what to change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kdkit.diagnostics import Path, Problem, error
from kdkit.joinery.placed import Joinery
from kdkit.plan.motion.directions import direction_words
from kdkit.plan.plan import Impossible

__all__ = ["explain_stuck", "loop_lines"]


def explain_stuck(proof: Impossible, titles: Mapping[str, str], joinery: Joinery) -> Problem:
    """Return the error that says why there is no assembly order, every reason of it."""
    groups = [_group_words(one, titles) for one in proof.reasons]
    message = (
        f"{len(proof.parts)} parts hold each other, so none of them can be put on last: {groups[0]}"
    )
    if proof.more:
        message = (
            f"{len(groups)} groups of parts hold each other, each for reasons of its own, so "
            f"none of them can be put on last: "
            + "; ".join(f"({n}) {words}" for n, words in enumerate(groups, start=1))
        )
    lines: list[str] = []
    for n, one in enumerate(proof.reasons, start=1):
        lines += [f"({n}) {line}" if proof.more else line for line in loop_lines(one)]
    inside = {part: name for name, body in proof.every_body.items() for part in body}
    path: Path = ("joints",)
    for joint in joinery.joints:
        pair = (inside.get(joint.butting), inside.get(joint.receiving))
        if None not in pair and pair[0] != pair[1]:
            path = joint.path
            break
    return error(
        "no-assembly-order",
        message,
        path,
        where="\n  ".join(
            (
                *lines,
                _looked_at(proof),
            )
        ),
        help=f"free one {'of these parts' if not proof.more else 'part of each group'} "
        f"along one direction: {_ways_out(inside, joinery)}",
    )


def _looked_at(proof: Impossible) -> str:
    if not proof.tried:
        return f"(looked at: {proof.motion_class}; not tilting, nor two moves in a row)"
    return (
        f"(no order by single straight moves: {proof.motion_class}. Tried too, and did not help: "
        f"{proof.tried}. Other motions were not looked at)"
    )


def _group_words(proof: Impossible, titles: Mapping[str, str]) -> str:
    packed = any(len(body) > 1 for body in proof.bodies.values())
    between = "; " if packed else ", "
    return between.join(_body_words(body, titles) for body in proof.bodies.values())


def _ways_out(inside: Mapping[str, str], joinery: Joinery) -> str:
    """Return what would free a part, of what there is between the parts."""
    here = [
        joint
        for joint in joinery.joints
        if {joint.butting, joint.receiving} <= set(inside)
        and inside[joint.butting] != inside[joint.receiving]
    ]
    holds = {joinery.fittings[f].holds for j in here for f in j.fittings if f in joinery.fittings}
    ways = []
    if "pinned" in holds:
        ways.append(
            "take the pins out of one joint of the ring, or use a fitting that is driven"
            " in after the parts have met"
        )
    if "captured" in holds or any(joint.contact.sunk > 0 for joint in here):
        ways.append("let a groove run out at one end, or make it shallower")
    if not ways:
        ways.append("make one shorter or narrower, or let it stand clear of the next")
    return "; ".join(ways)


def _body_words(body: Sequence[str], titles: Mapping[str, str]) -> str:
    """One part, or several as what they are packed as."""
    named = [p if titles[p] == p else f"{titles[p]} ({p})" for p in body]
    if len(named) == 1:
        return named[0]
    return f"{', '.join(named[:-1])} and {named[-1]}, packed as one"


def loop_lines(proof: Impossible) -> list[str]:
    """Return a line for each direction: the loop of parts, each with its reason."""
    lines = []
    for direction, blocks in proof.loops:
        reasons = "; ".join(dict.fromkeys(block.reason for block in blocks))
        lines.append(f"{direction_words(direction)}: {reasons}")
    return lines
