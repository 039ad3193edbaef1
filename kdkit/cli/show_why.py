"""Why one thing comes before another, in words and as data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from kdkit.cli.show import printable
from kdkit.plan.why import Explanation, OtherWay

__all__ = ["why_data", "why_text"]

_SAME = 0.05  # a difference in cost that nobody sees


def why_text(why: Explanation) -> str:
    """Return the answer in words."""
    return printable("\n".join(_lines(why)))


def _lines(why: Explanation) -> Iterator[str]:
    first, later = why.first, why.later
    if why.together:
        yield f"{first} and {later} come in one move ({why.operations[0]})."
        return
    if why.asked_reversed:
        yield f"It is the other way round: {first} comes before {later}."
    else:
        yield f"{first} comes before {later}."
    if why.operations[0] is None:
        yield f"The work begins with {first}; everything else is put to it."
    if why.chain:
        yield "In this plan it must:"
        for edge in why.chain:
            yield f"  {edge.before} before {edge.after}: {edge.reason}"
    if why.other is not None:
        yield from _other_way(why, why.other)
    elif why.refused:
        yield f"No order has {later} before {first}:"
        yield from (f"  {reason}" for reason in why.refused)
    elif not why.chain:
        yield "No reason: either order works, and this one comes first in the plan's own row."


def _other_way(why: Explanation, other: OtherWay) -> Iterator[str]:
    first, later = why.first, why.later
    over = other.cost - other.here
    if why.chain:
        start = f"Another plan has {later} before {first}"
    elif why.operations[0] is None:
        start = f"It need not: {later} can come before {first}"
    else:
        start = "No reason: either order works"
    if over > _SAME:
        yield (
            f"{start}; this one was preferred because the other costs {over:.1f} more "
            f"({other.here:.1f} here, {other.cost:.1f} there):"
        )
    elif over < -_SAME:
        yield (
            f"{start}; the other costs {-over:.1f} less ({other.here:.1f} here, "
            f"{other.cost:.1f} there), but the guided search did not find it:"
        )
    else:
        yield f"{start}, and both cost the same ({other.here:.1f}); this one was found first."
    for one in other.differences:
        yield f"  {one.what}: {one.here:g} here, {one.there:g} there"
    if abs(over) > _SAME and not other.differences:
        yield "  nothing that is counted here differs; it is the way in which the parts come"


def why_data(why: Explanation) -> dict[str, Any]:
    """Return the answer as plain data."""
    return {
        "first": why.first,
        "later": why.later,
        "asked_reversed": why.asked_reversed,
        "operations": list(why.operations),
        "together": why.together,
        "chain": [{"before": e.before, "after": e.after, "reason": e.reason} for e in why.chain],
        "other_way": None
        if why.other is None
        else {
            "cost": round(why.other.cost, 4),
            "cost_here": round(why.other.here, 4),
            "differences": [
                {"what": d.what, "here": d.here, "there": d.there} for d in why.other.differences
            ],
        },
        "refused": list(why.refused),
    }
