"""Products of plain boards, jointed by hand, for the planner's tests."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from kdkit.catalogue.entries import (
    Action,
    BoardMaterial,
    Catalogue,
    Fitting,
    Item,
    ItemRule,
    Piece,
    Strength,
)
from kdkit.frames import PRODUCT, Frame, Vec3, add, scaled
from kdkit.geometry import Contact, assemble, contact_between
from kdkit.geometry.assembly import Assembly
from kdkit.geometry.surfaces import surface_frame
from kdkit.joinery.packed import made_in_workshop
from kdkit.joinery.placed import (
    Fastener,
    Groove,
    Joinery,
    PlacedFixture,
    PlacedItem,
    PlacedJoint,
)
from kdkit.model.resolved import OrderSaid, Part, Resolved, UnitUse
from kdkit.model.says import Product
from tests.panels import panel, rod

Box = tuple[Vec3, Vec3]
Made = tuple[Resolved, Assembly, Joinery, Catalogue]

_SOURCE = ("common practice, no source",)
_X, _Y, _Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def board(name: str, low: Vec3, high: Vec3, *, at: Frame = PRODUCT, **more: object) -> Part:
    """A board that fills a box of a frame; its thickness is the shortest side."""
    size = [h - w for w, h in zip(low, high, strict=True)]
    thin = size.index(min(size))
    frame = {
        0: Frame((high[0], low[1], low[2]), _Y, _Z, _X),
        1: Frame((low[0], high[1], low[2]), _Z, _X, _Y),
        2: Frame((low[0], low[1], high[2]), _X, _Y, _Z),
    }[thin]
    length, width = {0: (1, 2), 1: (2, 0), 2: (0, 1)}[thin]
    run, across = size[length], size[width]
    placed = at.frame_to_outer(frame)
    return panel(name, placed, (run, across), size[thin], **more)


_BOARD = BoardMaterial(
    title="Particleboard P2",
    family="particleboard",
    thicknesses=(18.0,),
    strength=(Strength(thickness=(1.0, 100.0), density=650.0),),
    grained=False,
    sources=_SOURCE,
)


def catalogue() -> Catalogue:
    """Dowels, cams, screws, nails, grooves, supports, feet and a restraint."""

    def item(title: str, *pieces: Piece, **more: object) -> Item:
        return Item(title=title, mass=2.0, pieces=pieces, sources=_SOURCE, **more)  # type: ignore[arg-type]

    def fitting(title: str, holds: str, items: Sequence[ItemRule], *acts: Action) -> Fitting:
        return Fitting(
            title=title,
            kind="joint",
            contact=("edge-face", "edge-edge", "face-face", "sunk"),
            items=tuple(items),
            actions=acts,
            holds=holds,  # type: ignore[arg-type]
            reversible=True,
            sources=_SOURCE,
        )

    def fixture(title: str, items: Sequence[ItemRule], *acts: Action) -> Fitting:
        return Fitting(
            title=title,
            kind="fixture",
            contact=("surface",),
            items=tuple(items),
            actions=acts,
            reversible=True,
            sources=_SOURCE,
        )

    mate = Action(do="mate")
    return Catalogue(
        boards={"particleboard-p2": _BOARD},
        items={
            "dowel": item("Dowel", rod(8, -12, 23)),
            "bolt": item("Cam bolt", rod(6, -11, 34)),
            "cam": item("Cam lock", rod(15, -12, 0)),
            "screw": item("Screw", rod(4, -45, 0)),
            "nail": item("Nail", rod(1.4, -25, 0)),
            "support": item("Shelf support", rod(5, -10, 9)),
            "foot": item("Foot", rod(30, -20, 15)),
            "strap": item("Strap", rod(20, 0, 2)),
            "anchor": item("Wall anchor", rod(8, -40, 0), supplied=False),
            "cap": item("Cap", rod(12, 0, 1)),
        },
        fittings={
            "dowels": fitting(
                "Dowels",
                "pinned",
                [ItemRule(item="dowel", out="+k", carried_by="receiving")],
                Action(do="insert", item="dowel"),
                mate,
            ),
            "shop-dowels": fitting(
                "Dowels",
                "pinned",
                [ItemRule(item="dowel", out="+k", carried_by="receiving")],
                Action(do="insert", item="dowel", stage="workshop"),
                mate,
            ),
            "cams": fitting(
                "Cam and bolt",
                "pinned",
                [
                    ItemRule(item="bolt", out="+k", carried_by="receiving"),
                    ItemRule(item="cam", at=(0, 9, 34), out="+j", carried_by="butting"),
                ],
                Action(do="screw-in", item="bolt", tool="screwdriver"),
                Action(do="insert", item="cam"),
                mate,
                Action(do="turn", item="cam", tool="screwdriver"),
            ),
            "pin": fitting("Pins", "pinned", [], mate),
            "bare": fitting("Nothing", "free", [], mate),
            "capped-screws": fitting(
                "Counterbored screws",
                "free",
                [
                    ItemRule(item="screw", at=(0, 0, -18), out="-k"),
                    ItemRule(item="cap", at=(0, 0, -18), out="-k"),
                ],
                mate,
                Action(do="drive", item="screw", tool="screwdriver"),
                Action(do="cap", item="cap"),
            ),
            "nails": fitting(
                "Nails",
                "free",
                [ItemRule(item="nail", at=(0, 0, -3), out="-k")],
                Action(do="lay-on"),
                Action(do="nail", item="nail", tool="hammer"),
            ),
            "glue": fitting(
                "Glue",
                "free",
                [],
                Action(do="glue"),
                mate,
                Action(do="clamp", tool="clamps"),
                Action(do="wait", minutes=60),
            ),
            "groove": fitting("Groove", "captured", [], Action(do="slide-in")),
            "supports": fixture(
                "Shelf supports",
                [ItemRule(item="support", out="+k", carried_by="receiving")],
                Action(do="insert", item="support"),
            ),
            "feet": fixture(
                "Feet",
                [ItemRule(item="foot", out="+k", carried_by="receiving")],
                Action(do="press", item="foot", tool="hammer"),
            ),
            "restraint": fixture(
                "Tip restraint",
                [ItemRule(item="strap", out="+k"), ItemRule(item="anchor", out="-k")],
                Action(do="fix", item="strap"),
                Action(do="fix", item="anchor", tool="drill"),
            ),
        },
    )


def make(
    parts: Iterable[Part],
    joints: Mapping[tuple[str, str], str | tuple[str, ...]],
    *,
    fixtures: Sequence[tuple[str, str, tuple[str, ...], Sequence[Frame], tuple[str, ...]]] = (),
    order: Sequence[tuple[str, str]] = (),
    units: Sequence[UnitUse] = (),
    each: int = 2,
    workshop: Iterable[tuple[str, str]] = (),
) -> Made:
    """Join boards; ``each`` fasteners on every contact.

    Args:
        joints: (part, part) → fittings; which one butts follows from the contact.
        fixtures: (name, fitting, on, fastener frames, carries).
        order: (first, later).
        workshop: pairs whose joint is made before packing.
    """
    stock = catalogue()
    resolved = Resolved(
        said=Product(product="Boards"),
        variant=None,
        parameters={},
        parts=tuple(parts),
        joints=(),
        fixtures=(),
        units=tuple(units),
        order=tuple(
            OrderSaid(first=(a,), later=(b,), path=("order", n)) for n, (a, b) in enumerate(order)
        ),
    )
    assembly, problems = assemble(resolved)
    assert assembly is not None, problems
    placed, fasteners, grooves = [], [], []
    for (a, b), said in joints.items():
        contact = contact_between(assembly, a, b)[0]
        fittings = (said,) if isinstance(said, str) else said
        name = f"{contact.butting} to {contact.receiving}"
        path = ("joints", len(placed))
        mine = [
            _fastener(stock.fittings[f], f, name, contact, along, path)
            for f in fittings
            if stock.fittings[f].items
            for along in [contact.run * (n + 1) / (each + 1) for n in range(each)]
        ]
        if contact.sunk > 0:
            grooves.append(_groove(assembly.part(contact.receiving), contact, name, path))
        fasteners += mine
        placed.append(
            PlacedJoint(
                name=name,
                butting=contact.butting,
                receiving=contact.receiving,
                contact=contact,
                fittings=fittings,
                fasteners=tuple(f.id for f in mine),
                path=path,
                workshop=(a, b) in set(workshop),
            )
        )
    placed_fixtures = []
    for name, fitting, on, frames, carries in fixtures:
        mine = [
            Fastener(
                id=f"{name}/{n}",
                joint=name,
                fitting=fitting,
                frame=frame,
                butting=None,
                receiving=on[n % len(on)],
                items=placed_items(stock.fittings[fitting], frame, None, on[n % len(on)]),
                path=("fixtures", name),
            )
            for n, frame in enumerate(frames)
        ]
        fasteners += mine
        placed_fixtures.append(
            PlacedFixture(
                name=name,
                fitting=fitting,
                on=on,
                fasteners=tuple(f.id for f in mine),
                carries=carries,
                path=("fixtures", name),
            )
        )
    joinery = Joinery(
        joints=tuple(placed),
        fixtures=tuple(placed_fixtures),
        bores=(),
        grooves=tuple(grooves),
        fasteners=tuple(fasteners),
        fittings=stock.fittings,
    )
    return resolved, assembly, made_in_workshop(joinery), stock


def _fastener(
    fitting: Fitting,
    key: str,
    joint: str,
    contact: Contact,
    along: float,
    path: tuple[str | int, ...],
) -> Fastener:
    start = min(p[0] for p in contact.polygon)
    frame = Frame(
        add(contact.frame.origin, scaled(contact.frame.i, start + along)),
        contact.frame.i,
        contact.frame.j,
        contact.frame.k,
    )
    return Fastener(
        id=f"{joint}/{key}/{along:.0f}",
        joint=joint,
        fitting=key,
        frame=frame,
        butting=contact.butting,
        receiving=contact.receiving,
        items=placed_items(fitting, frame, contact.butting, contact.receiving),
        path=path,
    )


def placed_items(
    fitting: Fitting, frame: Frame, butting: str | None, receiving: str
) -> tuple[PlacedItem, ...]:
    ways = {
        "+k": Frame((0, 0, 0), (1.0, 0, 0), (0, 1.0, 0), (0, 0, 1.0)),
        "-k": Frame((0, 0, 0), (1.0, 0, 0), (0, -1.0, 0), (0, 0, -1.0)),
        "+j": Frame((0, 0, 0), (1.0, 0, 0), (0, 0, -1.0), (0, 1.0, 0)),
    }
    placed = []
    for n, rule in enumerate(fitting.items):
        at = tuple(float(v) for v in rule.at)
        way = ways[rule.out]
        inner = Frame((at[0], at[1], at[2]), way.i, way.j, way.k)
        carrier = {None: None, "butting": butting, "receiving": receiving}[rule.carried_by]
        placed.append(
            PlacedItem(item=rule.item, frame=frame.frame_to_outer(inner), carrier=carrier, index=n)
        )
    return tuple(placed)


def _groove(part: Part, contact: Contact, joint: str, path: tuple[str | int, ...]) -> Groove:
    """A groove around the sunk edge, 0.3 wider and 1 deeper, as long as the contact."""
    us = [p[0] for p in contact.polygon]
    vs = [p[1] for p in contact.polygon]
    corners = [
        contact.frame.point_to_outer((u, v, 0.0))
        for u, v in (
            (min(us) - 1, min(vs) - 0.15),
            (max(us) + 1, min(vs) - 0.15),
            (max(us) + 1, max(vs) + 0.15),
            (min(us) - 1, max(vs) + 0.15),
        )
    ]
    frame = part.frame
    if contact.receiving_surface.startswith("edge:"):
        frame = frame.frame_to_outer(surface_frame(part, contact.receiving_surface))
    flat = [frame.point_to_inner(c) for c in corners]
    return Groove(
        part=part.name,
        surface=contact.receiving_surface,
        polygon=tuple((p[0], p[1]) for p in flat),
        depth=contact.sunk + 1,
        path=path,
        joint=joint,
    )


def bookcase(
    shelves: int = 2,
    *,
    back: bool = True,
    loose: int = 0,
    how: str | tuple[str, ...] = "cams",
    high: float = 1800.0,
) -> Made:
    """800 × 300, 1800 high: two sides, bottom, top, shelves, a nailed back, loose shelves."""
    t, wide, deep = 18.0, 800.0, 300.0
    parts = [
        board("left_side", (0, 0, 0), (t, deep, high)),
        board("right_side", (wide - t, 0, 0), (wide, deep, high), mirror_of="left_side"),
    ]
    levels = {"bottom": 60.0, "top": high - t}
    for n in range(shelves):
        levels[f"shelf_{n + 1}"] = 60 + (high - t - 60) * (n + 1) / (shelves + 1)
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {}
    for name, z in levels.items():
        parts.append(board(name, (t, 0, z), (wide - t, deep, z + t)))
        joints[name, "left_side"] = how
        joints[name, "right_side"] = how
    if back:
        parts.append(board("back", (2, deep, 62), (wide - 2, deep + 3, high - 2)))
        for name in ("left_side", "right_side", *levels):
            joints[name, "back"] = "nails"
    fixtures = []
    for n in range(loose):
        z = 150.0 + 40 * n
        name = f"loose_{n + 1}"
        parts.append(
            board(name, (t + 1, 5, z + 2.5), (wide - t - 1, deep - 2, z + 2.5 + t), loose=True)
        )
        frames = [
            Frame((x, y, z), (0.0, 1.0, 0.0), (0.0, 0.0, k), (k, 0.0, 0.0))
            for x, k in ((t, 1.0), (wide - t, -1.0))
            for y in (37.0, 263.0)
        ]
        fixtures.append(
            (
                f"supports_{n + 1}",
                "supports",
                ("left_side", "left_side", "right_side", "right_side"),
                frames,
                (name,),
            )
        )
    return make(parts, joints, fixtures=fixtures)


def pinwheel(
    prefix: str = "", low: Vec3 = (0, 0, 0), how: str = "dowels"
) -> tuple[list[Part], dict[tuple[str, str], str | tuple[str, ...]]]:
    """Four boards in a square, each end on the next one's face: 600 × 600 × 200."""
    x, y, z = low
    a, b, c, d = (prefix + n for n in ("a", "b", "c", "d"))
    parts = [
        board(a, (x, y, z), (x + 582, y + 18, z + 200)),
        board(b, (x + 582, y, z), (x + 600, y + 582, z + 200)),
        board(c, (x + 18, y + 582, z), (x + 600, y + 600, z + 200)),
        board(d, (x, y + 18, z), (x + 18, y + 600, z + 200)),
    ]
    return parts, {(a, b): how, (b, c): how, (c, d): how, (d, a): how}


def corner_ring(size: float = 300.0, how: str = "dowels") -> Made:
    """Three boards in a corner, each edge on the next one's face, all the way round."""
    t, s = 18.0, size
    return make(
        [
            board("floor", (t, 0, 0), (s, s, t)),
            board("left", (0, t, 0), (t, s, s)),
            board("rear", (0, 0, t), (s, t, s)),
        ],
        {("floor", "left"): how, ("left", "rear"): how, ("rear", "floor"): how},
    )


def cabinet_with_grooved_back(how: str = "cams") -> Made:
    """600 × 720 × 400 with a back of 3 in grooves of all four boards."""
    t, wide, high, deep, g = 18.0, 600.0, 720.0, 400.0, 7.0
    parts = [
        board("left_side", (0, 0, 0), (t, deep, high)),
        board("right_side", (wide - t, 0, 0), (wide, deep, high), mirror_of="left_side"),
        board("bottom", (t, 0, 0), (wide - t, deep, t)),
        board("top", (t, 0, high - t), (wide - t, deep, high)),
        board("back", (t - g, deep - 20, t - g), (wide - t + g, deep - 17, high - t + g)),
    ]
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (n, s): how for n in ("bottom", "top") for s in ("left_side", "right_side")
    }
    for name in ("left_side", "right_side", "bottom", "top"):
        joints["back", name] = "groove"
    return make(parts, joints)
