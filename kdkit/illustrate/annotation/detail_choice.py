"""Which details a step's picture has, and what each of them shows.

One for each kind of hardware that is handled: where its pieces are best in sight, in the
view that shows them, and no more of a long fitting than can be made out on paper.

A long fitting is shown by its end and one screw. Whole it would need 1 : 10; details stay at
1 : 2 or larger wherever something smaller than the fitting tells the way.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from kdkit.frames import Vec2, Vec3, add, dot, scaled
from kdkit.illustrate.hidden_lines.view import View, Viewpoint
from kdkit.illustrate.staging.build_state import StepState
from kdkit.illustrate.staging.choose_view import LOOKS, sees
from kdkit.illustrate.staging.explode import Apart, item_frame
from kdkit.illustrate.staging.plates import Plate, together
from kdkit.illustrate.staging.subject import Subject

__all__ = [
    "LARGEST_ROW",
    "LEGIBLE",
    "Detail",
    "detail_apart",
    "ends_of",
    "outermost",
    "pick_details",
    "share_seen",
]

LARGEST_ROW = 30.0
"""The same where several pieces stand behind each other, or one would come out too small."""

LEGIBLE = 0.5
"""Below this scale a screw is hard to make out: a larger window or fewer pieces do better."""

WITH_ITS_END = 48.0
"""What a detail shows round one piece of a row that is too long to be shown whole; mm."""

LONG = 100.0
"""A piece wider than this has no more round it than it needs, mm."""

LOWER = (14.0, -14.0)
"""Elevations from which a detail looks under what hides its piece, degrees."""

CROWDED = 45.0
"""Pieces nearer than this to another detail's are not taken if others are as well seen; mm."""

Kind = tuple[str, bool, tuple[str, ...]]
"""What is handled alike: the fitting, whether it is locked, its items in order."""


@dataclass(frozen=True, kw_only=True)
class Detail:
    """What a detail shows.

    Args:
        plate: number of the plate it is taken from.
        states: indices in that plate's ``StepState.items`` of the pieces shown.
        counts: item → how many of it the whole step handles.
        turned: the pieces are there already and are locked now: drawn put together.
        view: the plate's, or a lower one where something hides the pieces.
        ringed: the piece at which the ring in the main drawing lies, an index as in states.
        centre: middle of the neighbourhood, in the detail's places.
        reach: radius of the neighbourhood, mm of product.
    """

    plate: int
    states: tuple[int, ...]
    counts: Mapping[str, int]
    turned: bool
    view: View
    ringed: int
    centre: Vec3
    reach: float


def pick_details(plates: Sequence[Plate], subject: Subject) -> tuple[Detail, ...]:
    """Return one detail for each kind of hardware handled, the best visible pieces each.

    Pieces of one fastener that go in one behind the other share a detail.
    """
    kinds: dict[Kind, list[tuple[int, tuple[int, ...]]]] = {}
    for number, plate in enumerate(plates):
        for (_, locked, _), row in _rows(plate.state).items():
            # Its options change where it sits, not how it is done.
            fitting = plate.state.items[row[0]].fastener.fitting.partition("[")[0]
            items = tuple(dict.fromkeys(plate.state.items[n].item.item for n in row))
            kinds.setdefault((fitting, locked, items), []).append((number, tuple(row)))
    counts = _counts(kinds, plates)
    details = []
    taken: dict[int, list[Vec2]] = {}
    for kind, places in kinds.items():
        turned = kind[1]
        ranks: dict[tuple[int, tuple[int, ...]], tuple[float, ...]] = {
            (n, row): (
                -n,
                *_ease(row, plates[n], subject, turned, taken.get(n, ())),
                -row[0],
            )
            for n, row in places
        }
        number, members = max(places, key=ranks.__getitem__)
        taken.setdefault(number, []).append(_place(members, plates[number], subject))
        plate = plates[number]
        view = _open_view(members, plate, subject, turned)
        shown, ringed, centre, reach = _neighbourhood(members, plate, subject, turned, view)
        details.append(
            Detail(
                plate=number,
                states=shown,
                counts=counts[kind],
                turned=turned,
                view=view,
                ringed=ringed,
                centre=centre,
                reach=reach,
            )
        )
    return tuple(details)


def _counts(
    kinds: Mapping[Kind, Sequence[tuple[int, tuple[int, ...]]]], plates: Sequence[Plate]
) -> dict[Kind, dict[str, int]]:
    """Return how many of each item every kind's detail stands for.

    An item that the step handles in several kinds is shared out among them. What a
    picture shows of pieces laid down alike stands for all of them.
    """
    drawn: dict[Kind, dict[str, int]] = {kind: {} for kind in kinds}
    for kind, places in kinds.items():
        for number, row in places:
            for n in row:
                name = plates[number].state.items[n].item.item
                drawn[kind][name] = drawn[kind].get(name, 0) + 1
    new: dict[str, int] = {}
    for (_, turned, _), pieces in drawn.items():
        if not turned:
            for name, count in pieces.items():
                new[name] = new.get(name, 0) + count
    counts: dict[Kind, dict[str, int]] = {}
    for kind, pieces in drawn.items():
        counts[kind] = {}
        for name, count in pieces.items():
            step = plates[0].state.step
            whole = step.items.get(name, 0) // step.times  # as the words: of one
            shared = not kind[1] and whole > 0
            counts[kind][name] = round(count * whole / new[name]) if shared else count
    return counts


def _rows(state: StepState) -> dict[tuple[str, bool, tuple[float, ...]], list[int]]:
    """Return the pieces handled, by fastener and the way they go in."""
    rows: dict[tuple[str, bool, tuple[float, ...]], list[int]] = {}
    for n, one in enumerate(state.items):
        if one.handled:
            k = tuple(round(c, 2) + 0.0 for c in one.item.frame.k)
            rows.setdefault((one.fastener.id, one.turned, k), []).append(n)
    return rows


def detail_apart(plate: Plate, turned: bool) -> Apart:
    """Return how a detail's pieces stand: locked pieces are seen with the parts together."""
    return together(plate.close) if turned else plate.close


def ends_of(n: int, plate: Plate, apart: Apart, subject: Subject) -> tuple[Vec3, Vec3, Vec3]:
    """Return the mouth, the lower and the upper end of a piece in its places."""
    one = plate.state.items[n]
    frame = item_frame(one, apart.items[n])
    piece = subject.catalogue.items[one.item.item]
    origin = add(one.item.frame.origin, apart.parts[one.host])
    mouth = add(origin, scaled(frame.k, apart.mouths[n]))
    low, high = min(p.z0 for p in piece.pieces), max(p.z1 for p in piece.pieces)
    if not one.new:
        low, high = apart.mouths[n], max(high, apart.mouths[n])
    return mouth, frame.point_to_outer((0, 0, low)), frame.point_to_outer((0, 0, high))


def _ease(
    members: Sequence[int], plate: Plate, subject: Subject, turned: bool, taken: Sequence[Vec2]
) -> tuple[float, float]:
    """Return how well pieces are seen, apart and in the detail, then how near they are.

    Args:
        taken: where other details of the plate have their places, at scale 1.
    """
    seen = share_seen(members, plate, plate.apart, subject, plate.view)
    closed = detail_apart(plate, turned)
    best = 0.0
    for n, view in enumerate(_views(plate)):
        if 1.0 - 0.05 * n <= best:
            break
        best = max(best, share_seen(members, plate, closed, subject, view) - 0.05 * n)
    here = _place(members, plate, subject)
    crowded = any(math.dist(here, other) < CROWDED for other in taken)
    near = sum(dot(ends_of(n, plate, plate.apart, subject)[0], plate.view.toward) for n in members)
    return round(seen + best - (0.3 if crowded else 0.0), 3), round(near, 3)


def _place(members: Sequence[int], plate: Plate, subject: Subject) -> Vec2:
    """Return where pieces lie in the main drawing, at scale 1."""
    ends = ends_of(members[0], plate, plate.apart, subject)
    x, y, _ = plate.view.at_scale(1.0).project(scaled(add(ends[0], ends[2]), 0.5))
    return (x, y)


def _views(plate: Plate) -> list[View]:
    """Return the plate's view, lower ones from the same side, then from other sides."""
    look = plate.view.viewpoint
    looks = [look, *(Viewpoint(look.azimuth_deg, e) for e in LOWER)]
    looks += [one for one in LOOKS if one != look]
    return [replace(plate.view, viewpoint=one) for one in looks]


def _open_view(members: Sequence[int], plate: Plate, subject: Subject, turned: bool) -> View:
    """Return the view that shows the pieces in their detail, the plate's if it can."""
    apart = detail_apart(plate, turned)
    views = _views(plate)
    best, found = -1.0, views[0]
    for n, view in enumerate(views):
        if 1.0 - 0.02 * n <= best:
            break
        seen = round(share_seen(members, plate, apart, subject, view) - 0.02 * n, 4)
        if seen > best:
            best, found = seen, view
    return found


def share_seen(
    members: Sequence[int], plate: Plate, apart: Apart, subject: Subject, view: View
) -> float:
    """Return the share of mouths and heads that nothing hides, 0 to 1."""
    parts = tuple(replace(one, shift=apart.parts[one.part.name]) for one in plate.shown.parts)
    points = []
    for n in members:
        mouth, _, top = ends_of(n, plate, apart, subject)
        one = plate.state.items[n]
        frame = one.item.frame
        points += [add(mouth, scaled(frame.k, 1.0)), add(top, scaled(frame.k, 1.0))]
        rim = max(max(p.d0, p.d1 or 0.0) for p in subject.catalogue.items[one.item.item].pieces) / 2
        for side in (frame.i, frame.j):
            for r in (rim, -rim):
                points.append(add(top, add(scaled(frame.k, 1.0), scaled(side, r))))
    return float(sum(sees(points, view.toward, parts))) / len(points)


def _neighbourhood(
    members: Sequence[int], plate: Plate, subject: Subject, turned: bool, view: View
) -> tuple[tuple[int, ...], int, Vec3, float]:
    """Return the pieces that a detail shows, which of them is ringed, its middle and radius.

    All of them, or where they lie too far from each other to be made out on paper, what
    is round the one that goes in last.
    """
    centre, reach = _round(members, plate, subject, turned, view)
    if len(members) == 1 or reach * LEGIBLE <= LARGEST_ROW:
        return tuple(members), members[0], centre, reach
    last = outermost(members, plate)
    centre, reach = _round((last,), plate, subject, turned, view)
    if len({plate.state.items[n].item.item for n in members}) == 1:
        return (last,), last, centre, reach
    end = _end_beside(last, members, plate, subject, turned)
    if end is not None and math.dist(end, centre) < 1.8 * WITH_ITS_END:
        centre = scaled(add(centre, end), 0.5)
    return tuple(members), last, centre, max(reach, WITH_ITS_END)


def _end_beside(
    one: int, members: Sequence[int], plate: Plate, subject: Subject, turned: bool
) -> Vec3 | None:
    """Return the end of a long piece that lies nearest to another piece of its row."""
    apart = detail_apart(plate, turned)
    mouth = ends_of(one, plate, apart, subject)[0]
    ends = []
    for n in members:
        state = plate.state.items[n]
        frame = item_frame(state, apart.items[n])
        for piece in subject.catalogue.items[state.item.item].pieces:
            for axis, size in enumerate((piece.d0, piece.d1 or 0.0)):
                if piece.kind == "box" and size > LONG:
                    for half in (-size / 2, size / 2):
                        at = [*piece.at, piece.z0]
                        at[axis] += half
                        ends.append(frame.point_to_outer((at[0], at[1], at[2])))
    return min(ends, key=lambda p: round(math.dist(p, mouth), 3), default=None)


def outermost(members: Sequence[int], plate: Plate) -> int:
    """Return the piece that goes in last, the first of several."""
    return max(members, key=lambda n: (plate.state.items[n].turn, -n))


def _round(
    members: Sequence[int], plate: Plate, subject: Subject, turned: bool, view: View
) -> tuple[Vec3, float]:
    apart = detail_apart(plate, turned)
    view = view.at_scale(1.0)
    points: list[Vec3] = []
    wide = 0.0
    for n in members:
        points += ends_of(n, plate, apart, subject)
        piece = subject.catalogue.items[plate.state.items[n].item.item]
        wide = max(wide, *(max(p.d0, p.d1 or 0.0) for p in piece.pieces))
    flat = [view.project(p) for p in points]
    mx = (min(p[0] for p in flat) + max(p[0] for p in flat)) / 2
    my = (min(p[1] for p in flat) + max(p[1] for p in flat)) / 2
    right, up, _ = view.axes
    x, y, _ = flat[0]
    centre = add(points[0], add(scaled(right, mx - x), scaled(up, y - my)))
    spread = max(math.dist((mx, my), (p[0], p[1])) for p in flat)
    if wide > LONG:
        return centre, max(spread, wide / 2) + 4.0
    return centre, max(spread + 0.4 * wide + 3.0, 1.5 * min(wide, 20.0))
