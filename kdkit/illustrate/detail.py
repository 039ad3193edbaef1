"""Magnified details: one round window for each kind of hardware that a step handles.

A detail is a drawing of its own by the same kernel, from the same bodies, in the same
view; only the scale differs and the window cuts it off.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Point, Polygon

from kdkit.frames import Vec2, Vec3, add, dot, scaled
from kdkit.illustrate.arrows import line_arrow
from kdkit.illustrate.build_state import StepState, action_of
from kdkit.illustrate.choose_view import LOOKS, sees
from kdkit.illustrate.detail_arrows import push_arrow, round_path
from kdkit.illustrate.explode import Apart, item_frame
from kdkit.illustrate.figure import Circle, Line, Primitive, Text
from kdkit.illustrate.hidden import draw_bodies
from kdkit.illustrate.layout import text_width
from kdkit.illustrate.paper import clipped, moved
from kdkit.illustrate.plates import Plate, together
from kdkit.illustrate.scene import Workshop, scene_bodies, scene_wires
from kdkit.illustrate.solids import Body
from kdkit.illustrate.view import View, Viewpoint
from kdkit.illustrate.wall import wall_bodies
from kdkit.plan.plan import OperationKind

__all__ = [
    "CAPTION",
    "Detail",
    "Window",
    "caption_width",
    "draw_caption",
    "draw_detail",
    "pick_details",
    "ring",
    "ring_radius",
    "spot",
]

SCALES = (2.0, 1.0, 0.5, 0.2, 0.1)
"""Magnifications and reductions of ISO 5455, as far as a detail needs them."""

LARGEST, SMALLEST = 17.0, 11.0
"""Radius of a detail's window on paper, mm."""

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

CAPTION = 7.0
"""Height of the line over or under a detail's window, mm."""

CROWDED = 45.0
"""Pieces nearer than this to another detail's are not taken if others are as well seen; mm."""

BETWEEN = 2.5
"""White between two items in a caption, mm."""

COUNTER = 2.6
"""Radius of the ring round an item's number, mm."""

ROUND = frozenset({"turn", "screw-in", "drive"})
"""Done by turning; the rest is pushed or knocked in along the axis."""


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


@dataclass(frozen=True, kw_only=True)
class Window:
    """A detail as it is drawn, round (0, 0).

    ``hidden``: its pieces cannot be seen in the main drawing.
    """

    shapes: tuple[Primitive, ...]
    radius: float
    scale: float
    hidden: bool


def pick_details(plates: Sequence[Plate], shop: Workshop) -> tuple[Detail, ...]:
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
                *_ease(row, plates[n], shop, turned, taken.get(n, ())),
                -row[0],
            )
            for n, row in places
        }
        number, members = max(places, key=ranks.__getitem__)
        taken.setdefault(number, []).append(_place(members, plates[number], shop))
        plate = plates[number]
        view = _open_view(members, plate, shop, turned)
        shown, ringed, centre, reach = _neighbourhood(members, plate, shop, turned, view)
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
            whole = plates[0].state.step.items.get(name, 0)
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


def _ends(n: int, plate: Plate, apart: Apart, shop: Workshop) -> tuple[Vec3, Vec3, Vec3]:
    """Return the mouth, the lower and the upper end of a piece in its places."""
    one = plate.state.items[n]
    frame = item_frame(one, apart.items[n])
    piece = shop.catalogue.items[one.item.item]
    origin = add(one.item.frame.origin, apart.parts[one.host])
    mouth = add(origin, scaled(frame.k, apart.mouths[n]))
    low, high = min(p.z0 for p in piece.pieces), max(p.z1 for p in piece.pieces)
    if not one.new:
        low, high = apart.mouths[n], max(high, apart.mouths[n])
    return mouth, frame.point_to_outer((0, 0, low)), frame.point_to_outer((0, 0, high))


def _ease(
    members: Sequence[int], plate: Plate, shop: Workshop, turned: bool, taken: Sequence[Vec2]
) -> tuple[float, float]:
    """Return how well pieces are seen, apart and in the detail, then how near they are.

    Args:
        taken: where other details of the plate have their places, at scale 1.
    """
    seen = _seen(members, plate, plate.apart, shop, plate.view)
    closed = detail_apart(plate, turned)
    best = 0.0
    for n, view in enumerate(_views(plate)):
        if 1.0 - 0.05 * n <= best:
            break
        best = max(best, _seen(members, plate, closed, shop, view) - 0.05 * n)
    here = _place(members, plate, shop)
    crowded = any(math.dist(here, other) < CROWDED for other in taken)
    near = sum(dot(_ends(n, plate, plate.apart, shop)[0], plate.view.toward) for n in members)
    return round(seen + best - (0.3 if crowded else 0.0), 3), round(near, 3)


def _place(members: Sequence[int], plate: Plate, shop: Workshop) -> Vec2:
    """Return where pieces lie in the main drawing, at scale 1."""
    ends = _ends(members[0], plate, plate.apart, shop)
    x, y, _ = plate.view.at_scale(1.0).project(scaled(add(ends[0], ends[2]), 0.5))
    return (x, y)


def _views(plate: Plate) -> list[View]:
    """Return the plate's view, lower ones from the same side, then from other sides."""
    look = plate.view.viewpoint
    looks = [look, *(Viewpoint(look.azimuth_deg, e) for e in LOWER)]
    looks += [one for one in LOOKS if one != look]
    return [replace(plate.view, viewpoint=one) for one in looks]


def _open_view(members: Sequence[int], plate: Plate, shop: Workshop, turned: bool) -> View:
    """Return the view that shows the pieces in their detail, the plate's if it can."""
    apart = detail_apart(plate, turned)
    views = _views(plate)
    best, found = -1.0, views[0]
    for n, view in enumerate(views):
        if 1.0 - 0.02 * n <= best:
            break
        seen = round(_seen(members, plate, apart, shop, view) - 0.02 * n, 4)
        if seen > best:
            best, found = seen, view
    return found


def _seen(members: Sequence[int], plate: Plate, apart: Apart, shop: Workshop, view: View) -> float:
    """Return the share of mouths and heads that nothing hides, 0 to 1."""
    parts = tuple(replace(one, shift=apart.parts[one.part.name]) for one in plate.shown.parts)
    points = []
    for n in members:
        mouth, _, top = _ends(n, plate, apart, shop)
        one = plate.state.items[n]
        frame = one.item.frame
        points += [add(mouth, scaled(frame.k, 1.0)), add(top, scaled(frame.k, 1.0))]
        rim = max(max(p.d0, p.d1 or 0.0) for p in shop.catalogue.items[one.item.item].pieces) / 2
        for side in (frame.i, frame.j):
            for r in (rim, -rim):
                points.append(add(top, add(scaled(frame.k, 1.0), scaled(side, r))))
    return float(sum(sees(points, view.toward, parts))) / len(points)


def _neighbourhood(
    members: Sequence[int], plate: Plate, shop: Workshop, turned: bool, view: View
) -> tuple[tuple[int, ...], int, Vec3, float]:
    """Return the pieces that a detail shows, which of them is ringed, its middle and radius.

    All of them, or where they lie too far from each other to be made out on paper, what
    is round the one that goes in last.
    """
    centre, reach = _round(members, plate, shop, turned, view)
    if len(members) == 1 or reach * LEGIBLE <= LARGEST_ROW:
        return tuple(members), members[0], centre, reach
    last = _last(members, plate)
    centre, reach = _round((last,), plate, shop, turned, view)
    if len({plate.state.items[n].item.item for n in members}) == 1:
        return (last,), last, centre, reach
    return tuple(members), last, centre, max(reach, WITH_ITS_END)


def _last(members: Sequence[int], plate: Plate) -> int:
    """Return the piece that goes in last, the first of several."""
    return max(members, key=lambda n: (plate.state.items[n].turn, -n))


def _round(
    members: Sequence[int], plate: Plate, shop: Workshop, turned: bool, view: View
) -> tuple[Vec3, float]:
    apart = detail_apart(plate, turned)
    view = view.at_scale(1.0)
    points: list[Vec3] = []
    wide = 0.0
    for n in members:
        points += _ends(n, plate, apart, shop)
        piece = shop.catalogue.items[plate.state.items[n].item.item]
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


def spot(detail: Detail, plate: Plate, shop: Workshop) -> Vec3:
    """Return the place in the main drawing that a detail magnifies."""
    ends = _ends(detail.ringed, plate, plate.apart, shop)
    return scaled(add(ends[0], ends[2]), 0.5)


def draw_detail(detail: Detail, plate: Plate, shop: Workshop) -> Window:
    """Return a detail round (0, 0), without its caption."""
    largest = LARGEST_ROW if len(detail.states) > 1 else LARGEST
    if largest < detail.reach * LEGIBLE <= LARGEST_ROW:
        largest = LARGEST_ROW
    scale = next((s for s in SCALES if detail.reach * s <= largest), SCALES[-1])
    radius = min(largest, max(SMALLEST, detail.reach * scale))
    close = detail.view.at_scale(scale)
    x, y, _ = close.project(detail.centre)
    apart = detail_apart(plate, detail.turned)
    bodies = scene_bodies(
        shop,
        plate.state,
        apart,
        scale=scale,
        near=(detail.centre, 1.7 * radius / scale + 20),
        handled="hardware",
    )
    bodies = tuple(
        _lines_near(body, close, (x, y), radius + 1)
        for body in (*bodies, *wall_bodies(shop, plate.state))
        if _touches(close.bounds(body.corners()), (x, y), radius)
    )
    drawing = draw_bodies(bodies, close, scene_wires(apart))
    window = Point(0.0, 0.0).buffer(radius, quad_segs=24)
    assert isinstance(window, Polygon)
    shapes: list[Primitive] = [Circle(centre=(0.0, 0.0), radius=radius, pen="frame", tone="paper")]
    shapes += clipped(moved(drawing.primitives(), (-x, -y)), window)
    shapes += _doing(detail, plate, shop, apart, close, (x, y), radius)
    shapes.append(Circle(centre=(0.0, 0.0), radius=radius, pen="frame"))
    return Window(
        shapes=tuple(shapes),
        radius=radius,
        scale=scale,
        hidden=is_hidden(detail, plate, shop),
    )


def ring_radius(window: Window, scale: float) -> float:
    """Return the radius of the ring in a drawing of that scale: what the window shows of it."""
    return min(4.5, max(1.8, 0.8 * window.radius / window.scale * scale))


def _lines_near(body: Body, view: View, centre: Vec2, reach: float) -> Body:
    """Return a body without the edges and marks that come no nearer to a place on paper."""
    form = body.form
    edges = range(form.edges_at, form.edges_at + 2 * len(form.edges), 2)
    starts = [*edges, *(span.start for span in form.mark_spans)]
    if not starts:
        return body
    off = view.project_many(body.points)[:, :2] - np.array(centre)
    near = (np.minimum.reduceat(off, starts) < reach).all(axis=1)
    near &= (np.maximum.reduceat(off, starts) > -reach).all(axis=1)
    return replace(body, drawn=np.asarray(near, dtype=bool))


def _touches(bounds: tuple[float, float, float, float], centre: Vec2, radius: float) -> bool:
    """Tell whether a box on paper comes near a window: what does not cannot hide anything."""
    x0, y0, x1, y1 = bounds
    x, y = centre
    return (
        x0 < x + radius + 1
        and x1 > x - radius - 1
        and (y0 < y + radius + 1 and y1 > y - radius - 1)
    )


def caption_width(detail: Detail) -> float:
    """Return the width of a detail's caption, mm."""
    pairs = [text_width(f"{c} ×", 3.5) + 9.0 for c in detail.counts.values()]
    return sum(pairs) + BETWEEN * (len(pairs) - 1) + 12.0


def draw_caption(
    detail: Detail, numbers: Mapping[str, int], at: Vec2, scale: float
) -> list[Primitive]:
    """Return the line beside a window: how many of which item, and the scale.

    Args:
        at: middle of the line, on the letters' foot.
    """
    ratio = f"{scale:g} : 1" if scale >= 1 else f"1 : {1 / scale:g}"
    pieces: list[tuple[str, int | None, float]] = []
    total = 0.0
    for item, count in detail.counts.items():
        number = numbers.get(item)
        if pieces:
            total += BETWEEN
        width = text_width(f"{count} ×", 3.5) + 1.0
        pieces.append((f"{count} ×", number, width))
        total += width + 2 * COUNTER + 2.0
    total += 1.0 + text_width(ratio, 2.5)
    x, y = at[0] - total / 2, at[1]
    shapes: list[Primitive] = []
    for n, (text, number, width) in enumerate(pieces):
        x += BETWEEN if n else 0.0
        shapes.append(Text(at=(x, y), text=text, size=3.5, anchor="start", bold=True))
        x += width + COUNTER
        if number is not None:
            shapes.append(Circle(centre=(x, y - 1.75), radius=COUNTER, pen="label", tone="label"))
            shapes.append(Text(at=(x, y - 0.5), text=str(number), size=2.5))
        x += COUNTER + 2.0
    shapes.append(Text(at=(x + 1.0, y), text=ratio, size=2.5, anchor="start"))
    return shapes


def _doing(
    detail: Detail,
    plate: Plate,
    shop: Workshop,
    apart: Apart,
    view: View,
    middle: Vec2,
    radius: float,
) -> list[Primitive]:
    """Return the arrow that says how the outermost piece goes in or is locked."""
    last = _last(detail.states, plate)
    one = plate.state.items[last]
    item = shop.catalogue.items[one.item.item]
    if one.adjusted:
        return []
    action = action_of(shop.joinery, one.fastener, one.item.item)
    out = one.operation is not None and one.operation.kind is OperationKind.UNDO
    frame = item_frame(one, apart.items[last])
    top = max(p.z1 for p in item.pieces)
    if not one.new:
        top = max(top, apart.mouths[last])
    doing = "turn" if one.turned else action.do if action is not None else "insert"
    if doing == "turn" and one.new:
        doing = "insert"
    head = max((p for p in item.pieces), key=lambda p: p.z1)
    wide = max(head.d0, head.d1 or 0.0)

    def on_paper(p: Vec3) -> Vec2:
        x, y, _ = view.project(p)
        return (x - middle[0], y - middle[1])

    if doing in ROUND:
        path = round_path(frame, top, max(0.85 * wide, 4.5 / view.scale), view)
        return line_arrow([on_paper(p) for p in (reversed(path) if out else path)])
    others = []
    for n in detail.states:
        if n != last:
            _, foot, tip = _ends(n, plate, apart, shop)
            others.append((on_paper(foot), on_paper(tip)))
    upper = on_paper(frame.point_to_outer((0.0, 0.0, top)))
    return push_arrow(frame, wide, view, upper, radius, others, out=out)


def is_hidden(detail: Detail, plate: Plate, shop: Workshop) -> bool:
    """Tell whether the pieces of a detail cannot be seen in the main drawing."""
    return _seen(detail.states, plate, plate.apart, shop, plate.view) < 0.2


def ring(
    centre: Vec2, radius: float, window: Vec2, window_radius: float, *, hidden: bool
) -> Sequence[Primitive]:
    """Return the ring round the place in the drawing and the leader to its window.

    A place that lies behind something gets a dashed ring.
    """
    dx, dy = window[0] - centre[0], window[1] - centre[1]
    size = math.hypot(dx, dy) or 1.0
    ux, uy = dx / size, dy / size
    return (
        Circle(centre=centre, radius=radius, pen="hidden" if hidden else "leader"),
        Line(
            points=(
                (centre[0] + ux * radius, centre[1] + uy * radius),
                (window[0] - ux * window_radius, window[1] - uy * window_radius),
            ),
            pen="leader",
        ),
    )
