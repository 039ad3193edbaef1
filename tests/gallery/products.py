"""The products of the gallery; ``gallery.toml`` says of each what must come of it and why."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

from kdkit.frames import Frame, Vec2, Vec3
from kdkit.geometry import contact_between
from kdkit.joinery.placed import PlacedJoint
from kdkit.model.resolved import OrderSaid, Part, PutOn, UnitUse
from tests.boxes import (
    Made,
    board,
    bookcase,
    corner_ring,
    make,
    pinwheel,
)
from tests.panels import panel

__all__ = ["PRODUCTS"]

Joints = dict[tuple[str, str], str | tuple[str, ...]]
Parts = list[Part]
T = 18.0
SIDES = ("left", "right", "bottom", "top")


def shaped(
    name: str, outline: Sequence[Vec2], frame: Frame, thickness: float, **more: object
) -> Part:
    """A board with an outline of its own; its face lies in z = 0 of the frame."""
    ring: dict[str, object] = {
        "outline": tuple(outline),
        "bands": (0.0,) * len(outline),
        "edge_sides": ("",) * len(outline),
    }
    return panel(name, frame, (1.0, 1.0), thickness, **{**ring, **more})


def in_row(made: Made, *entries: str) -> Made:
    """The product with the author's whole order; parts with + between them go on as one."""
    row = tuple(
        PutOn(parts=tuple(entry.split("+")), said=entry, path=("order", n))
        for n, entry in enumerate(entries)
    )
    pairs = tuple(OrderSaid(first=a.parts, later=b.parts, path=b.path) for a, b in pairwise(row))
    return replace(made[0], sequence=row, order=pairs), *made[1:]


def upright(x: float, y: float, z: float) -> Frame:
    """A board that stands across: its length runs right, its width up, its face looks forward."""
    return Frame((x, y, z), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))


def facing_right(x: float, y: float, z: float) -> Frame:
    """A board that stands along: its length runs back, its width up, its face looks right."""
    return Frame((x, y, z), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))


# -- pin-wheels ---------------------------------------------------------------------------


def wheel(*, cross: Sequence[str] = (), floor: Sequence[str] = (), how: str = "dowels") -> Made:
    """A pin-wheel, bars across it, a floor under it."""
    parts, joints = pinwheel(how=how)
    if "bar" in cross:
        parts.append(board("bar", (18, 200, 80), (582, 218, 160)))
        joints |= {("bar", "b"): how, ("bar", "d"): how}
    if "post" in cross:
        parts.append(board("post", (200, 18, 20), (218, 582, 70)))
        joints |= {("post", "a"): how, ("post", "c"): how}
    if floor:
        parts.append(board("floor", (0, 0, -18), (600, 600, 0)))
        joints |= {(side, "floor"): how for side in floor}
    return make(parts, joints)


def small_wheel(at: Vec3, side: float) -> tuple[Parts, Joints]:
    """A pin-wheel of any size; its parts are called ia to id."""
    x, y, z = at
    s, t = side, T
    parts = [
        board("ia", (x, y, z), (x + s - t, y + t, z + 100)),
        board("ib", (x + s - t, y, z), (x + s, y + s - t, z + 100)),
        board("ic", (x + t, y + s - t, z), (x + s, y + s, z + 100)),
        board("id", (x, y + t, z), (x + t, y + s, z + 100)),
    ]
    ring = ("ia", "ib", "ic", "id")
    return parts, dict.fromkeys(zip(ring, (*ring[1:], "ia"), strict=True), "dowels")


def nested(*, bars: bool) -> Made:
    """A pin-wheel in a pin-wheel, free in it or held by a bar on either side."""
    parts, joints = pinwheel()
    inner, inner_joints = small_wheel((150, 150, 20), 300)
    parts, joints = [*parts, *inner], {**joints, **inner_joints}
    if bars:
        parts += [
            board("near", (18, 250, 40), (150, 268, 100)),
            board("far", (450, 250, 40), (582, 268, 100)),
        ]
        joints |= {
            ("near", "d"): "dowels",
            ("near", "id"): "dowels",
            ("far", "ib"): "dowels",
            ("far", "b"): "dowels",
        }
    return make(parts, joints)


def doubled(held: Sequence[str], *, strap: bool = False) -> Made:
    """A pin-wheel on a pin-wheel, dowelled at some of the four boards."""
    low, low_joints = pinwheel("l")
    high, high_joints = pinwheel("u", (0, 0, 200))
    joints: Joints = {**low_joints, **high_joints}
    joints |= {(f"l{n}", f"u{n}"): "dowels" for n in held}
    parts = [*low, *high]
    if strap:
        parts.append(board("strap", (600, 100, 20), (618, 400, 380)))
        joints |= {("strap", "lb"): "dowels", ("strap", "ub"): "dowels"}
    return make(parts, joints)


def wheel_with_panel() -> Made:
    """A pin-wheel with a panel in grooves of all four boards."""
    parts, joints = pinwheel()
    g = 7.0
    parts.append(board("panel", (18 - g, 18 - g, 100), (582 + g, 582 + g, 103)))
    return make(parts, {**joints, **{("panel", n): "groove" for n in "abcd"}})


# -- rings --------------------------------------------------------------------------------


def ring(*hows: str, lid: bool = False) -> Made:
    """Three boards in a corner, each edge on the next one's face."""
    parts = list(corner_ring()[1].parts)
    pairs = (("floor", "left"), ("left", "rear"), ("rear", "floor"))
    joints: Joints = dict(zip(pairs, hows, strict=True))
    if lid:
        parts.append(board("lid", (0, 0, 300), (300, 18, 318)))
        joints["lid", "rear"] = "dowels"
    return make(parts, joints)


def rolled_cube() -> Made:
    """Six boards: the sides lap the fronts, the fronts lap the ends, the ends lap the sides."""
    s, t = 300.0, T
    parts, joints = [], {}
    for n, x in ((0, 0.0), (1, s - t)):
        parts += [
            board(f"side_{n}", (x, 0, t), (x + t, s, s - t)),
            board(f"front_{n}", (t, x, 0), (s - t, x + t, s)),
            board(f"end_{n}", (0, t, x), (s, s - t, x + t)),
        ]
    for n in (0, 1):
        for m in (0, 1):
            joints[f"front_{n}", f"side_{m}"] = "pin"
            joints[f"end_{n}", f"front_{m}"] = "pin"
            joints[f"side_{n}", f"end_{m}"] = "pin"
    return make(parts, joints)


# -- cases with backs in grooves -------------------------------------------------------------


def case(
    *,
    caught: Sequence[str] = SIDES,
    lapped: Sequence[str] = (),
    short: Sequence[str] = (),
    row: str = "",
) -> Made:
    """A case with a back of 3 in grooves of the boards caught.

    Args:
        lapped: of bottom and top, those that go over the sides' ends.
        short: boards that stop in front of the back, so that it passes behind them.
        row: the author's whole order.
    """
    wide, high, deep, g, y = 600.0, 720.0, 400.0, 7.0, 380.0
    z0, z1 = (T if "bottom" in lapped else 0.0), (high - T if "top" in lapped else high)
    far = {n: y if n in short else deep for n in SIDES}
    x = {n: (0.0, wide) if n in lapped else (T, wide - T) for n in ("bottom", "top")}
    reach = {n: (g if n in caught else T if n in short else 0.0) for n in SIDES}
    parts = [
        board("left", (0, 0, z0), (T, far["left"], z1)),
        board("right", (wide - T, 0, z0), (wide, far["right"], z1)),
        board("bottom", (x["bottom"][0], 0, 0), (x["bottom"][1], far["bottom"], T)),
        board("top", (x["top"][0], 0, high - T), (x["top"][1], far["top"], high)),
        board(
            "back",
            (T - reach["left"], y, T - reach["bottom"]),
            (wide - T + reach["right"], y + 3, high - T + reach["top"]),
        ),
    ]
    joints: Joints = {(n, s): "dowels" for n in ("bottom", "top") for s in ("left", "right")}
    joints |= {("back", n): "groove" for n in caught}
    made = make(parts, joints)
    return in_row(made, *row.split()) if row else made


def frame_and_panel() -> Made:
    """Two stiles, two rails dowelled between them, a panel in grooves of all four."""
    return make(
        [
            board("left", (0, 0, 0), (60, 20, 600)),
            board("right", (340, 0, 0), (400, 20, 600)),
            board("bottom", (60, 0, 0), (340, 20, 60)),
            board("top", (60, 0, 540), (340, 20, 600)),
            board("panel", (52, 8, 52), (348, 12, 548)),
        ],
        {
            **{(n, s): "dowels" for n in ("bottom", "top") for s in ("left", "right")},
            **{("panel", n): "groove" for n in SIDES},
        },
    )


def housed_shelf(row: str = "") -> Made:
    """A shelf in closed housings of two sides; top and bottom dowelled between them."""
    parts = [
        board("left", (0, 0, 0), (T, 300, 700)),
        board("right", (582, 0, 0), (600, 300, 700)),
        board("bottom", (T, 0, 0), (582, 300, T)),
        board("top", (T, 0, 682), (582, 300, 700)),
        board("shelf", (12, 10, 340), (588, 290, 358)),
    ]
    joints: Joints = {(n, s): "dowels" for n in ("bottom", "top") for s in ("left", "right")}
    joints |= {("shelf", "left"): "groove", ("shelf", "right"): "groove"}
    made = make(parts, joints)
    return in_row(made, *row.split()) if row else made


# -- dividers, drawers, windows ----------------------------------------------------------------


def between_dividers(how: str, *, fixed: bool) -> Made:
    """A shelf between two dividers of a case; ``fixed``: the case is built first."""
    parts = [
        board("bottom", (0, 0, 0), (900, 300, T)),
        board("top", (0, 0, 682), (900, 300, 700)),
        board("one", (200, 0, T), (218, 300, 682)),
        board("two", (682, 0, T), (700, 300, 682)),
        board("shelf", (218, 0, 300), (682, 300, 318)),
    ]
    joints: Joints = {(d, n): "dowels" for d in ("one", "two") for n in ("bottom", "top")}
    joints |= {("shelf", "one"): how, ("shelf", "two"): how}
    made = make(parts, joints)
    return in_row(made, "bottom", "one", "two", "top", "shelf") if fixed else made


def between_fixed(how: str) -> Made:
    """A shelf between two dividers that come glued to a floor, as one rigid piece."""
    outline = (
        (0.0, 0.0), (600.0, 0.0), (600.0, 400.0), (582.0, 400.0), (582.0, 18.0), (18.0, 18.0),
        (18.0, 400.0), (0.0, 400.0),
    )  # fmt: skip
    parts = [
        shaped("dividers", outline, upright(0.0, 0.0, 0.0), 300.0),
        board("shelf", (T, 0, 200), (582, 300, 218)),
    ]
    resolved, assembly, joinery, stock = make(parts, {})
    contacts = contact_between(assembly, "shelf", "dividers")
    joints = tuple(
        PlacedJoint(
            name=f"shelf to dividers, end {n}",
            butting=contact.butting,
            receiving=contact.receiving,
            contact=contact,
            fittings=(how,),
            fasteners=(),
            path=("joints", n),
        )
        for n, contact in enumerate(contacts)
    )
    return resolved, assembly, replace(joinery, joints=joints), stock


def drawer_case(opening: float, *, last: bool) -> Made:
    """A drawer of 400 in a case with a front frame; the order may want it in last."""
    wide, high, deep = 500.0, 300.0, 400.0
    half = (wide - opening) / 2
    frame = board(
        "frame",
        (0, -T, 0),
        (wide, 0, high),
    )
    flat = [frame.frame.point_to_inner((x, 0.0, z)) for x, z in (
        (half, 40.0), (wide - half, 40.0), (wide - half, 260.0), (half, 260.0))]  # fmt: skip
    window = tuple((p[0], p[1]) for p in flat)
    frame = board("frame", (0, -T, 0), (wide, 0, high), cutouts=(window,))
    x, y, z = 50.0, 20.0, 60.0
    drawer = [
        board("d_left", (x, y, z), (x + 12, y + 350, z + 150)),
        board("d_right", (x + 388, y, z), (x + 400, y + 350, z + 150)),
        board("d_front", (x + 12, y, z), (x + 388, y + 12, z + 150)),
        board("d_rear", (x + 12, y + 338, z), (x + 388, y + 350, z + 150)),
        board("d_floor", (x + 12, y + 12, z), (x + 388, y + 338, z + 9)),
    ]
    parts = [
        board("left", (0, 0, 0), (T, deep, high)),
        board("right", (wide - T, 0, 0), (wide, deep, high)),
        board("bottom", (T, 0, 0), (wide - T, deep, T)),
        board("top", (T, 0, high - T), (wide - T, deep, high)),
        board("rear", (0, deep, 0), (wide, deep + T, high)),
        frame,
        *drawer,
    ]
    joints: Joints = {(n, s): "dowels" for n in ("bottom", "top") for s in ("left", "right")}
    joints |= {(n, w): "dowels" for n in ("left", "right") for w in ("rear", "frame")}
    joints |= {(f"d_{n}", f"d_{s}"): "dowels" for n in ("front", "rear") for s in ("left", "right")}
    joints |= {("d_floor", f"d_{s}"): "capped-screws" for s in ("left", "right")}
    names = tuple(p.name for p in drawer)
    made = make(parts, joints, units=[UnitUse(name="drawer", parts=names, title="Drawer")])
    around = ("left", "bottom", "top", "right", "rear", "frame")
    return in_row(made, *around, "+".join(names)) if last else made


def bar_through_window(*, solid: bool) -> Made:
    """A bar through a board's window with a head at either end, in one piece or dowelled on."""
    window = ((140.0, 140.0), (160.0, 140.0), (160.0, 160.0), (140.0, 160.0))
    plate = shaped(
        "plate",
        ((0, 0), (300, 0), (300, 300), (0, 300)),
        facing_right(109.0, -150.0, -150.0),
        18.0,
        cutouts=(window,),
    )
    if solid:
        outline = (
            (0.0, -60.0), (30.0, -60.0), (30.0, -8.0), (170.0, -8.0), (170.0, -60.0),
            (200.0, -60.0), (200.0, 60.0), (170.0, 60.0), (170.0, 8.0), (30.0, 8.0),
            (30.0, 60.0), (0.0, 60.0),
        )  # fmt: skip
        return make([plate, shaped("bar", outline, upright(0.0, -8.0, 0.0), 16.0)], {})
    parts = [
        plate,
        board("bar", (0, -8, -8.5), (200, 8, 8.5)),
        board("near", (-18, -40, -41), (0, 40, 41)),
        board("far", (200, -40, -41), (218, 40, 41)),
    ]
    return make(parts, {("bar", "near"): "dowels", ("bar", "far"): "dowels"}, each=1)


def egg_crate(frame: str) -> Made:
    """Two boards halved over each other in a frame: none, square or pin-wheel."""
    wide, mid, h = 564.0, 291.0, 164.0

    def halved(up: bool) -> tuple[Vec2, ...]:
        a, b = mid - 9, mid + 9
        a, b = a - 9, b - 9  # from the board's own end
        if up:
            return ((0, 0), (wide, 0), (wide, h), (b, h), (b, h / 2), (a, h / 2), (a, h), (0, h))
        return ((0, 0), (a, 0), (a, h / 2), (b, h / 2), (b, 0), (wide, 0), (wide, h), (0, h))

    along = shaped("along", halved(True), upright(18.0, mid, 18.0), 18.0)
    across = shaped("across", halved(False), facing_right(mid + 18, 18.0, 18.0), 18.0)
    parts: Parts = [along, across]
    joints: Joints = {}
    if frame == "pin-wheel":
        more, joints = pinwheel()
        parts += more
        joints |= {("along", n): "dowels" for n in "bd"}
        joints |= {("across", n): "dowels" for n in "ac"}
    elif frame == "square":
        parts += [
            board("a", (0, 0, 0), (600, T, 200)),
            board("c", (0, 582, 0), (600, 600, 200)),
            board("b", (582, T, 0), (600, 582, 200)),
            board("d", (0, T, 0), (T, 582, 200)),
        ]
        joints = {(s, n): "dowels" for s in "bd" for n in "ac"}
        joints |= {("along", n): "dowels" for n in "bd"}
        joints |= {("across", n): "dowels" for n in "ac"}
    return make(parts, joints)


# -- sloping ---------------------------------------------------------------------------------


def sloping_side() -> Made:
    """Two upright walls with a slope at one end, a side on the slope and one opposite."""
    run, rise = 180.0, 600.0
    length = math.hypot(run, rise)
    i = (-run / length, 0.0, rise / length)
    out = (rise / length, 0.0, run / length)
    wall = ((0.0, 0.0), (600.0, 0.0), (600.0 - run, rise), (0.0, rise))
    slope = Frame(
        (600.0 + T * out[0], 0.0, T * out[2]), (0.0, 1.0, 0.0), i, (out[0], out[1], out[2])
    )
    # face out: length back, width up the slope
    parts = [
        shaped("front", wall, upright(0.0, 0.0, 0.0), T),
        shaped("rear", wall, upright(0.0, 382.0, 0.0), T),
        shaped("slope", ((0, 0), (400, 0), (400, length), (0, length)), slope, T),
        board("side", (-T, 0, 0), (0, 400, 600)),
        board("rail", (100, T, 100), (160, 382, 118)),
    ]
    joints: Joints = {
        ("front", "slope"): "dowels",
        ("rear", "slope"): "dowels",
        ("front", "side"): "dowels",
        ("rear", "side"): "dowels",
        ("rail", "front"): "dowels",
        ("rail", "rear"): "dowels",
    }
    return make(parts, joints)


def desk_lid() -> Made:
    """A lid on two sides whose upper edges slope, dowelled square to the slope."""
    rise, deep = 120.0, 400.0
    length = math.hypot(rise, deep)
    j = (0.0, deep / length, rise / length)
    out = (0.0, -rise / length, deep / length)
    side = ((0.0, 0.0), (deep, 0.0), (deep, 100.0 + rise), (0.0, 100.0))
    lid = Frame((0.0, T * out[1], 100.0 + T * out[2]), (1.0, 0.0, 0.0), j, out)
    return make(
        [
            shaped("left", side, facing_right(T, 0.0, 0.0), T),
            shaped("right", side, facing_right(600.0, 0.0, 0.0), T),
            shaped("lid", ((0, 0), (600, 0), (600, length), (0, length)), lid, T),
            board("rail", (T, 300, 20), (582, 318, 90)),
        ],
        {
            ("left", "lid"): "dowels",
            ("right", "lid"): "dowels",
            ("rail", "left"): "dowels",
            ("rail", "right"): "dowels",
        },
    )


# -- the author's order, hardware in the way ----------------------------------------------------


def stool(order: Sequence[tuple[str, str]]) -> Made:
    """Two sides, a rail dowelled between them, a seat dowelled on top of both."""
    return make(
        [
            board("left", (0, 0, 0), (T, 300, 400)),
            board("right", (382, 0, 0), (400, 300, 400)),
            board("rail", (T, 100, 100), (382, 118, 200)),
            board("seat", (0, 0, 400), (400, 300, 418)),
        ],
        {
            ("rail", "left"): "dowels",
            ("rail", "right"): "dowels",
            ("left", "seat"): "dowels",
            ("right", "seat"): "dowels",
        },
        order=list(order),
    )


def tray(stop: str) -> Made:
    """A tray that slides along a base on to the rear, where a stop will stand in front of it."""
    return make(
        [
            board("base", (0, 0, 0), (400, 400, T)),
            board("rear", (0, 382, T), (400, 400, 218)),
            board("tray", (50, 100, T), (350, 382, 36)),
            board("stop", (50, 40, T), (350, 58, 218)),
        ],
        {("rear", "base"): "dowels", ("tray", "rear"): "dowels", ("stop", "base"): stop},
        order=[("base", "tray"), ("rear", "tray"), ("tray", "stop"), ("rear", "base")],
    )


def mirrored_pair() -> Made:
    """Two mirrored sides with two shelves between them."""
    return bookcase(0, back=False)


def one_board() -> Made:
    """A board by itself."""
    return make([board("board", (0, 0, 0), (400, 300, T))], {})


def strangers() -> Made:
    """Two boards that have nothing to do with each other."""
    return make(
        [board("one", (0, 0, 0), (400, 300, T)), board("two", (0, 0, 100), (400, 300, 118))], {}
    )


PRODUCTS: dict[str, Callable[[], Made]] = {
    "pin-wheel": wheel,
    "pin-wheel, screwed": lambda: wheel(how="capped-screws"),
    "pin-wheel with a bar across": lambda: wheel(cross=["bar"]),
    "pin-wheel crossed both ways": lambda: wheel(cross=["bar", "post"]),
    "pin-wheel on a floor": lambda: wheel(floor="abcd"),
    "pin-wheel crossed one way, on a floor": lambda: wheel(cross=["post"], floor="ac"),
    "pin-wheel in a pin-wheel": lambda: nested(bars=False),
    "pin-wheel held in a pin-wheel": lambda: nested(bars=True),
    "pin-wheel on a pin-wheel": lambda: doubled("a"),
    "pin-wheel on a pin-wheel, all four": lambda: doubled("abcd"),
    "pin-wheels strapped together": lambda: doubled("abcd", strap=True),
    "pin-wheel with a panel in grooves": wheel_with_panel,
    "ring of three": lambda: ring("dowels", "dowels", "dowels"),
    "ring of three, one joint screwed": lambda: ring("dowels", "capped-screws", "dowels"),
    "ring of three, one joint bare": lambda: ring("bare", "dowels", "dowels"),
    "ring of three with a lid": lambda: ring("dowels", "dowels", "dowels", lid=True),
    "rolled cube": rolled_cube,
    "back in four grooves": case,
    "back in four grooves, left side last": lambda: case(row="right bottom back top left"),
    "back in four grooves, right side last": lambda: case(row="left bottom back top right"),
    "back in four grooves, top between the sides last": lambda: case(
        row="left bottom back right top"
    ),
    "back in four grooves, top over the sides last": lambda: case(
        lapped=["top"], row="left bottom right back top"
    ),
    "back in four grooves, bottom under the sides last": lambda: case(
        lapped=["bottom"], row="left back top right bottom"
    ),
    "back in four grooves, back last": lambda: case(row="left bottom top right back"),
    "back in three grooves, in from above": lambda: case(
        caught=("left", "right", "bottom"), short=["top"], row="left bottom top right back"
    ),
    "back in three grooves, in from below": lambda: case(
        caught=("left", "right", "top"), short=["bottom"], row="left bottom top right back"
    ),
    "back in three grooves, in from the left": lambda: case(
        caught=("right", "bottom", "top"), short=["left"], row="left bottom top right back"
    ),
    "back in three grooves, in from the right": lambda: case(
        caught=("left", "bottom", "top"), short=["right"], row="left bottom top right back"
    ),
    "back in three grooves, top over it": lambda: case(caught=("left", "right", "bottom")),
    "frame and panel": frame_and_panel,
    "housed shelf": housed_shelf,
    "housed shelf last": lambda: housed_shelf("left bottom top right shelf"),
    "shelf dowelled between dividers": lambda: between_dividers("dowels", fixed=False),
    "shelf dowelled between fixed dividers": lambda: between_dividers("dowels", fixed=True),
    "shelf screwed between fixed dividers": lambda: between_dividers("capped-screws", fixed=True),
    "shelf dowelled between dividers of one piece": lambda: between_fixed("pin"),
    "shelf screwed between dividers of one piece": lambda: between_fixed("bare"),
    "drawer behind a narrower frame": lambda: drawer_case(360, last=False),
    "drawer behind a narrower frame, last": lambda: drawer_case(360, last=True),
    "drawer behind a wide frame, last": lambda: drawer_case(440, last=True),
    "bar through a window, heads dowelled on": lambda: bar_through_window(solid=False),
    "bar through a window, in one piece": lambda: bar_through_window(solid=True),
    "egg crate": lambda: egg_crate("none"),
    "egg crate in a square frame": lambda: egg_crate("square"),
    "egg crate in a pin-wheel": lambda: egg_crate("pin-wheel"),
    "sloping side": sloping_side,
    "sloping lid": desk_lid,
    "hints in a loop": lambda: stool([("left", "rail"), ("rail", "seat"), ("seat", "left")]),
    "hint against the pins": lambda: stool([("left", "seat"), ("right", "seat"), ("seat", "rail")]),
    "hint with the pins": lambda: stool([("rail", "seat")]),
    "dowels that can wait": lambda: tray("dowels"),
    "dowels that cannot wait": lambda: tray("shop-dowels"),
    "mirrored pair": mirrored_pair,
    "one board": one_board,
    "strangers": strangers,
}
