"""Where the fasteners of one fitting stand along a contact.

Positions are measured from the start of the run: from the front for a run to the
back, from the bottom for one that goes up, from the left for one to the right. Both
sides of a carcass start at the front, so a mirrored pair stays a pair.

The fittings of a joint are spread in the order in which they are written. One that
is spread by the rule leaves out the places that an earlier one of the joint has taken.
"""

from __future__ import annotations

import bisect
import itertools
import math
from collections.abc import Sequence

from kdkit.catalogue.entries import Fitting
from kdkit.diagnostics import Problem, error, warning
from kdkit.frames import Vec2
from kdkit.model.resolved import FittingPlacement
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "CLEAR",
    "MOST_PER_RUN",
    "clear_of",
    "crowded",
    "spread_along",
    "spread_by_count",
    "spread_by_rule",
    "stretches_at",
]

MOST_PER_RUN = 2000
"""More fasteners than this on one run is a slip of the pen."""

CLEAR = 32.0
"""Least distance from a cam to a dowel. Common practice, no source."""

_ROUNDING = 1e-6


def spread_by_rule(run: float, ends: float, pitch: float) -> tuple[float, ...]:
    """Return evenly spread positions, ``ends`` from both ends, at most ``pitch`` apart.

    There are n = ⌈(run − 2·ends)/pitch⌉ + 1 of them, or one in the middle when the
    two end ones would pass each other. Two that would stand nearer to each other than to
    the ends stand in the middle of their halves instead.

    Args:
        run, ends, pitch: mm, pitch above zero.

    Source:
        Even spacing under a largest pitch, common practice, no source.
    """
    inner = run - 2 * ends
    if inner < TOLERANCE:
        return (run / 2,)
    if inner < min(ends, pitch):
        return (run / 4, run * 3 / 4)
    gaps = max(1, math.ceil(inner / pitch - _ROUNDING))
    return tuple(ends + inner * n / gaps for n in range(gaps + 1))


def spread_by_count(run: float, ends: float, count: int) -> tuple[float, ...]:
    """Return ``count`` evenly spread positions.

    The outer two keep ``ends`` from the ends of the run; where that would bring them
    nearer to each other than to the ends, each stands in the middle of its share instead.
    """
    if count == 1:
        return (run / 2,)
    if (run - 2 * ends) / (count - 1) < min(ends, run / count):
        ends = run / (2 * count)
    return tuple(ends + (run - 2 * ends) * n / (count - 1) for n in range(count))


def clear_of(
    positions: Sequence[float], taken: Sequence[float], clear: float = CLEAR
) -> tuple[float, ...]:
    """Return the positions that keep a distance to every one taken; all, if none does.

    Args:
        taken: along the same run, sorted.
    """
    kept = []
    for position in positions:
        after = bisect.bisect_left(taken, position)
        near = [abs(position - t) for t in taken[max(0, after - 1) : after + 1]]
        if not near or min(near) >= clear - TOLERANCE:
            kept.append(position)
    return tuple(kept or positions)


def stretches_at(polygon: Sequence[Vec2], across: float) -> tuple[Vec2, ...]:
    """Return where a line along the run, at a height across it, lies in a polygon.

    Returns:
        (from, to) along the run, in order; () when the line misses the polygon.
    """
    crossings = []
    for (ax, ay), (bx, by) in zip(polygon, (*polygon[1:], polygon[0]), strict=True):
        if (ay > across) != (by > across):
            crossings.append(ax + (across - ay) * (bx - ax) / (by - ay))
    crossings.sort()
    return tuple(
        (a, b) for a, b in zip(crossings[::2], crossings[1::2], strict=True) if b - a > TOLERANCE
    )


def spread_along(
    placement: FittingPlacement, fitting: Fitting, stretches: Sequence[Vec2], where: str
) -> tuple[tuple[float, ...], tuple[Problem, ...]]:
    """Return positions along the run, and what is wrong with what was asked for.

    ``at`` and ``count`` are taken over the whole run, from the start of the first
    stretch to the end of the last; the rule is laid on each stretch by itself.

    Args:
        stretches: (from, to) along the run, in order; at least one.
        where: the joint, for messages.
    """
    start, end = stretches[0][0], stretches[-1][1]
    run = end - start
    problem = _bad_numbers(placement, fitting, run, where)
    if problem is not None:
        return (), (problem,)
    ends = placement.ends if placement.ends is not None else fitting.ends or 0.0
    pitch = placement.pitch if placement.pitch is not None else fitting.pitch or run
    problems: list[Problem] = []
    if placement.at is not None:
        wanted = [(start + a if a >= 0 else end + a) for a in placement.at]
        kept = []
        for n, position in enumerate(wanted):
            if _on(stretches, position):
                kept.append(position)
            else:
                problems.append(_off(placement, n, stretches, where))
        return tuple(sorted(kept)), tuple(problems)
    if placement.count is not None:
        found = [start + p for p in spread_by_count(run, ends, placement.count)]
    else:
        found = []
        for a, b in stretches:
            if placement.ends is not None and 2 * ends > b - a + TOLERANCE:
                problems.append(
                    warning(
                        "fitting-position",
                        f"ends of {mm_text(ends)} mm do not go into {mm_text(b - a)} mm:"
                        " one stands in the middle",
                        (*placement.path, "ends"),
                        where=where,
                        help=f"make ends at most {mm_text(math.floor((b - a) / 2))}",
                    )
                )
            found += [a + p for p in spread_by_rule(b - a, ends, pitch)]
    if placement.grid is not None:
        found = [start + round((p - start) / placement.grid) * placement.grid for p in found]
    kept = [p for p in dict.fromkeys(found) if _on(stretches, p)]
    if len(kept) < len(set(found)):
        problems.append(
            error(
                "fitting-position",
                f"{len(set(found)) - len(kept)} of {len(set(found))} positions fall off the"
                f" contact, which is {mm_text(run)} mm long",
                placement.path,
                where=where,
                help="give exact positions with `at`",
            )
        )
    return tuple(kept), tuple(problems)


def crowded(
    positions: Sequence[float],
    earlier: Sequence[float],
    least: float,
    name: str,
    placement: FittingPlacement,
    run: float,
    where: str,
) -> Problem | None:
    """Return what is to be said when fasteners of one line stand in each other, once for all.

    Args:
        earlier: where those of the same fitting stand that the joint asked for before.
        least: how near their middles may come; none may stand on another even at 0.
    """
    line = sorted([*positions, *earlier])
    gap, at = min(((b - a, a) for a, b in itertools.pairwise(line)), default=(math.inf, 0.0))
    if gap > max(least - TOLERANCE, TOLERANCE):
        return None
    place = "on" if gap <= TOLERANCE else f"{mm_text(gap, 2)} mm from"
    bores = f"; what is drilled for it is {mm_text(least)} mm wide" if least else ""
    most = f": at most {math.floor(run / least)} have room on {mm_text(run)} mm" if least else ""
    return error(
        "pitch-too-small",
        f"{name} stands {place} its neighbour{bores}",
        placement.path,
        where=f"{where}, at {mm_text(at)}",
        help=f"ask for fewer, or move them apart{most}",
    )


def _on(stretches: Sequence[Vec2], position: float) -> bool:
    return any(a - TOLERANCE <= position <= b + TOLERANCE for a, b in stretches)


def _off(placement: FittingPlacement, n: int, stretches: Sequence[Vec2], where: str) -> Problem:
    assert placement.at is not None
    start = stretches[0][0]
    spans = " and ".join(f"{mm_text(a - start)} to {mm_text(b - start)}" for a, b in stretches)
    return error(
        "fitting-position",
        f"position {mm_text(placement.at[n])} lies off the contact",
        (*placement.path, "at", n),
        where=where,
        help=f"the parts touch from {spans} mm; a negative position counts from the far end",
    )


def _bad_numbers(
    placement: FittingPlacement, fitting: Fitting, run: float, where: str
) -> Problem | None:
    path = placement.path
    if placement.count is not None and not 1 <= placement.count <= MOST_PER_RUN:
        return error(
            "fitting-position",
            f"count is {placement.count}",
            (*path, "count"),
            where=where,
            help=f"give 1 to {MOST_PER_RUN}",
        )
    if placement.pitch is not None and placement.pitch * MOST_PER_RUN < max(run, 1.0):
        return error(
            "fitting-position",
            f"a pitch of {placement.pitch:g} mm is too small for a run of {mm_text(run)} mm",
            (*path, "pitch"),
            where=where,
            help=f"the fitting's own pitch is {mm_text(fitting.pitch or 200)} mm",
        )
    if placement.ends is not None and placement.ends < 0:
        return error(
            "fitting-position",
            f"ends of {mm_text(placement.ends)} mm lie off the contact",
            (*path, "ends"),
            where=where,
            help="give a length from 0 up",
        )
    if placement.grid is not None and placement.grid <= 0:
        return error(
            "fitting-position",
            f"a grid of {placement.grid:g} mm",
            (*path, "grid"),
            where=where,
            help="give a length above 0, such as 32",
        )
    if placement.at is not None and len(placement.at) > MOST_PER_RUN:
        return error(
            "fitting-position", f"{len(placement.at)} positions", (*path, "at"), where=where
        )
    return None
