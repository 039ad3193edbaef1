"""Small products round one fitting: two boards that it joins, or a part that carries it.

``JOINTS`` has one maker for each kind of contact; a new kind needs one entry there.

Longer than most modules: it is a list of small products, one after the other.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from kdkit.catalogue import Catalogue, Fitting
from kdkit.model import (
    Bevel,
    Board,
    Bought,
    FittingUse,
    Fixture,
    Joint,
    OneEnd,
    Panel,
    Product,
    Rows,
)
from kdkit.samples.boards import Pair, Stock, sample_pair, stock_for

__all__ = [
    "BUTTING",
    "JOINTS",
    "RECEIVING",
    "fixture_product",
    "joint_product",
    "sample_product",
]

BUTTING, RECEIVING = "shelf", "side"
"""Names of the two members."""

HIGH, LONG = 200.0, 180.0
"""How high the receiving member is and how far the butting one reaches, mm."""

WIDE, DEEP = 300.0, 200.0
"""Size of a part that carries a fixture, mm."""

ROWS_WIDE, ROWS_HIGH = 400.0, 340.0
"""Size of a case whose sides have rows of bores, mm."""

CORNER_WIDE = 150.0
"""How wide the members of a frame's corner are, mm."""

DRAWN = 520.0
"""How deep a sample's drawer is, mm."""

_BOARD = 200.0  # mm; what may stand in more wood than this goes into the edge of a board

_TITLES: Mapping[str, tuple[str, str]] = {
    "edge-face": ("Shelf", "Side"),
    "edge-edge": ("Rail", "Post"),
    "mitre": ("Top", "Side"),
    "face-face": ("Inner board", "Outer board"),
    "sunk": ("Shelf", "Side"),
    "hung": ("Door", "Side"),
    "facing": ("Drawer side", "Side"),
}
"""What the butting and the receiving member are called."""

Panels = dict[str, Panel]


def _starts(at: float) -> OneEnd:
    return OneEnd.model_validate({"from": at})


def _ends(at: float | str) -> OneEnd:
    return OneEnd(to=at)


def joint_product(
    pair: Pair, uses: Sequence[FittingUse], *, at_end: bool = False, title: str = "Sample"
) -> Product:
    """Return two boards that meet as a pair says, joined by fittings.

    Args:
        uses: fittings of the joint, in their order.
        at_end: one stands in the other at its end (a rebate), not in its middle.
    """
    boards = {
        "butting": _board(pair.butting),
        "receiving": _board(pair.receiving),
    }
    return Product(
        product=title,
        boards=boards,
        panels=_titled(JOINTS[pair.contact](pair, at_end), pair.contact),
        joints=(Joint(join=BUTTING, to=RECEIVING, fittings=tuple(uses)),),
    )


def sample_product(
    catalogue: Catalogue, key: str, pair: Pair | None = None, *, seen: bool = False
) -> Product:
    """Return the sample of a joint or a fixture.

    Args:
        pair: other boards than the usual ones.
        seen: for a picture: what is worked from a side of a shelf is on the upper one, and
            the butting member is put on the receiving one.
    """
    fitting = catalogue.fittings[key]
    if fitting.kind == "fixture":
        return fixture_product(catalogue, key)
    pair = pair or sample_pair(catalogue, fitting)
    if fitting.limits.span is not None:
        return _rail_product(fitting, key, pair)
    use = FittingUse(fitting=key)
    if seen and pair.contact == "edge-face":
        use = FittingUse(fitting=key, opens="face")
    if seen and pair.contact == "edge-edge" and _goes_round_a_corner(fitting):
        return _frame_corner(fitting, use, pair)
    product = joint_product(
        pair,
        (use,),
        at_end=stands_at_end(fitting),
        title=fitting.title,
    )
    if seen and all(action.do != "lay-on" for action in fitting.actions):
        return product.model_copy(update={"order": (RECEIVING, BUTTING)})
    return product


def _goes_round_a_corner(fitting: Fitting) -> bool:
    """Tell whether a joint is a frame's corner: a band clamp is laid round the whole."""
    return any(action.tool == "band-clamp" for action in fitting.actions)


def _frame_corner(fitting: Fitting, use: FittingUse, pair: Pair) -> Product:
    """Return the mitred corner of a flat frame: an upright and a rail over it."""
    w, high, long = CORNER_WIDE, CORNER_WIDE + HIGH / 2, CORNER_WIDE + LONG / 2
    post = ((0.0, 0.0), (w, 0.0), (w, high - w), (0.0, high))
    rail = ((0.0, high), (w, high - w), (long, high - w), (long, high))
    return Product(
        product=fitting.title,
        boards={"frame": _board(pair.butting)},
        panels={
            RECEIVING: Panel(
                board="frame", title="Upright", y=_starts(0), outline=post, face="-y", grain="z"
            ),
            BUTTING: Panel(
                board="frame", title="Rail", y=_starts(0), outline=rail, face="-y", grain="x"
            ),
        },
        joints=(Joint(join=BUTTING, to=RECEIVING, fittings=(use,)),),
        order=(RECEIVING, BUTTING),
    )


def _rail_product(fitting: Fitting, key: str, pair: Pair) -> Product:
    """Return a side from which a rail stands out, in a socket."""
    t, radius = pair.receiving.thickness, fitting.options.get("diameter", 25.0) / 2
    y, z = DEEP / 2, HIGH / 2
    return Product(
        product=fitting.title,
        boards={"receiving": _board(pair.receiving)},
        panels={
            RECEIVING: Panel(
                board="receiving", title="Side", x=_starts(0), y=(0, DEEP), z=(0, HIGH), face="+x"
            )
        },
        bought={
            BUTTING: Bought(
                title="Hanging rail",
                shape="tube",
                x=(t + pair.gap, t + pair.gap + LONG),
                y=(y - radius, y + radius),
                z=(z - radius, z + radius),
                wall=1.5,
                mass=0.3,
            )
        },
        joints=(Joint(join=BUTTING, to=RECEIVING, fittings=(FittingUse(fitting=key),)),),
    )


def stands_at_end(fitting: Fitting) -> bool:
    """Tell whether a joint in which one part stands in the other belongs at its end.

    A groove with no play is a rebate: it is open to the end of the member.
    """
    return fitting.groove_width is not None and fitting.options.get("play") == 0.0


def _board(stock: Stock) -> Board:
    return Board(material=stock.material, thickness=stock.thickness)


def _titled(panels: Panels, contact: str) -> Panels:
    butting, receiving = _TITLES.get(contact, ("", ""))
    titles = {BUTTING: butting, RECEIVING: receiving}
    return {
        name: panel.model_copy(update={"title": titles[name]}) if titles.get(name) else panel
        for name, panel in panels.items()
    }


def _on_face(pair: Pair, at_end: bool) -> Panels:
    """An edge stands on a face: a shelf between the ends of a side."""
    t = pair.receiving.thickness
    return {
        RECEIVING: Panel(board="receiving", x=_starts(0), y=(0, pair.run), z=(0, HIGH), face="+x"),
        BUTTING: Panel(
            board="butting",
            x=(t, t + LONG),
            y=(0, pair.run),
            z=_starts(HIGH / 2),
            face="+z",
        ),
    }


def _edge_to_edge(pair: Pair, at_end: bool) -> Panels:
    """Two edges meet: a rail against a post, flush at the front."""
    low = max(60.0, HIGH / 2 - pair.run / 2)
    high = max(HIGH, low + pair.run + 60.0)
    return {
        RECEIVING: Panel(
            board="receiving", x=(0, pair.width), y=_starts(0), z=(0, high), face="-y"
        ),
        BUTTING: Panel(
            board="butting",
            x=(pair.width, pair.width + LONG),
            y=_starts(0),
            z=(low, low + pair.run),
            face="-y",
        ),
    }


def _mitred(pair: Pair, at_end: bool) -> Panels:
    """Two bevelled edges make a corner: a top on a side, the long points outside."""
    outside = Bevel(angle=45, long="face")
    return {
        RECEIVING: Panel(
            board="receiving",
            x=_starts(0),
            y=(0, pair.run),
            z=(0, HIGH),
            face="-x",
            bevels={"top": outside},
        ),
        BUTTING: Panel(
            board="butting",
            x=(0, LONG),
            y=(0, pair.run),
            z=_ends(HIGH),
            face="+z",
            bevels={"left": outside},
        ),
    }


def _face_to_face(pair: Pair, at_end: bool) -> Panels:
    """Two faces lie on each other: a batten along a side, or a double side."""
    t = pair.receiving.thickness
    return {
        RECEIVING: Panel(board="receiving", x=_starts(0), y=(0, pair.run), z=(0, HIGH), face="+x"),
        BUTTING: Panel(board="butting", x=_starts(t), y=(0, pair.run), z=(100, HIGH), face="+x"),
    }


def _let_in(pair: Pair, at_end: bool) -> Panels:
    """One part stands in the other: a housing, a groove or, at the end, a rebate."""
    t = pair.receiving.thickness
    deep = pair.sunk or (t * 2 / 3 if at_end else min(6.0, t / 3))
    z = _ends(HIGH) if at_end else _starts(HIGH / 2)
    return {
        RECEIVING: Panel(board="receiving", x=_starts(0), y=(0, pair.run), z=(0, HIGH), face="+x"),
        BUTTING: Panel(board="butting", x=(t - deep, t + LONG), y=(0, pair.run), z=z, face="+z"),
    }


def _hung(pair: Pair, at_end: bool) -> Panels:
    """A door on the front edge of a side, or before its inner face when it is inset."""
    t, edge = pair.receiving.thickness, pair.receiving.thickness - pair.overlay
    y = _ends(0) if pair.overlay > 0 else _starts(0)
    return {
        RECEIVING: Panel(
            board="receiving", x=_starts(0), y=(0, DEEP), z=(0, pair.run + 4), face="+x"
        ),
        BUTTING: Panel(board="butting", x=(edge, t + WIDE), y=y, z=(2, pair.run + 2), face="-y"),
    }


def _facing(pair: Pair, at_end: bool) -> Panels:
    """A drawer's side beside a carcass's, with a gap between them."""
    inner = pair.receiving.thickness + pair.gap
    return {
        RECEIVING: Panel(
            board="receiving", x=_starts(0), y=(0, DRAWN + 20), z=(0, HIGH), face="+x"
        ),
        BUTTING: Panel(board="butting", x=_starts(inner), y=(2, DRAWN), z=(120, 240), face="+x"),
    }


JOINTS: Mapping[str, Callable[[Pair, bool], Panels]] = {
    "edge-face": _on_face,
    "edge-edge": _edge_to_edge,
    "mitre": _mitred,
    "face-face": _face_to_face,
    "sunk": _let_in,
    "hung": _hung,
    "facing": _facing,
}
"""For each kind of contact, what makes the panels of a sample: pair, at the end or not."""


def fixture_product(catalogue: Catalogue, key: str) -> Product:
    """Return a product with one fixture on a part on which it makes sense."""
    fitting = catalogue.fittings[key]
    low, high = fitting.limits.receiving_thickness or (18.0, 18.0)
    board = _board(stock_for(catalogue, fitting, min(max(18.0, low), high)))
    if "rest" in fitting.options:
        return _shelf_on_supports(key, fitting, board)
    inset, t = fitting.options.get("inset", 0.0), board.thickness
    place = fitting.place or "middle"
    from_behind = place == "upper-middle" and _holds_from_behind(catalogue, fitting)
    at: tuple[tuple[float, float, float], ...]
    if "drop" in fitting.options:  # it hangs from above
        panel = Panel(
            board="board", title="Top", x=(0, WIDE), y=(0, DEEP), z=_starts(HIGH), face="-z"
        )
        at = ((WIDE / 2, DEEP / 2, HIGH),)
    elif place == "corners" and high > _BOARD:
        panel = Panel(
            board="board", title="Side", x=_starts(0), y=(0, DEEP), z=(0, WIDE), face="+x"
        )
        at = tuple((t / 2, y, 0.0) for y in (inset, DEEP - inset))
    elif place == "middle" or from_behind:
        panel = Panel(
            board="board", title="Front", x=(0, WIDE), y=_starts(0), z=(0, DEEP), face="-y"
        )
        at = ((WIDE / 2, t, DEEP - inset) if from_behind else (WIDE / 2, 0.0, DEEP / 2),)
    else:
        title = "Bottom" if place == "corners" else "Top"
        panel = Panel(board="board", title=title, x=(0, WIDE), y=(0, DEEP), z=_starts(0), face="+z")
        at = ((WIDE / 2, DEEP - inset, t),)
        if place == "corners":
            at = tuple((x, y, 0.0) for x in (inset, WIDE - inset) for y in (inset, DEEP - inset))
    return Product(
        product=fitting.title,
        boards={"board": board},
        panels={"part": panel},
        fixtures=(Fixture(fitting=key, on="part", at=at),),
    )


def _holds_from_behind(catalogue: Catalogue, fitting: Fitting) -> bool:
    """Tell whether what the buyer fixes to a wall lies straight behind the surface."""
    return any(
        not catalogue.items[rule.item].supplied and rule.out == "-k" for rule in fitting.items
    )


def _shelf_on_supports(key: str, fitting: Fitting, board: Board) -> Product:
    """A loose shelf between two sides with rows of bores, and a bottom that holds them."""
    underside = 60.0 + 32.0 * 4 + fitting.options["rest"]
    shelf = Board(material="glass", thickness=8.0) if "glass" in key else board
    return Product(
        product=fitting.title,
        boards={"board": board, "shelf": shelf},
        panels={
            "left_side": Panel(
                board="board", title="Side", x=_starts(0), y=(0, DEEP), z=(0, ROWS_HIGH), face="+x"
            ),
            "right_side": Panel(mirror="left_side", x=_ends(ROWS_WIDE)),
            "bottom": Panel(
                board="board",
                title="Bottom",
                x=("left_side.x1", "right_side.x0"),
                y=(0, DEEP),
                z=_starts(0),
                face="+z",
            ),
            "shelf": Panel(
                board="shelf",
                title="Adjustable shelf",
                x=("left_side.x1 + 1", "right_side.x0 - 1"),
                y=(0, DEEP - 5),
                z=_starts(underside),
                face="+z",
                loose=True,
            ),
        },
        joints=(
            Joint(
                join="bottom",
                to=("left_side", "right_side"),
                fittings=(FittingUse(fitting="dowel-8x30"),),
            ),
        ),
        fixtures=(
            Fixture(
                fitting=key,
                on=("left_side", "right_side"),
                rows=Rows(first=60.0, last=ROWS_HIGH - 60.0),
                carries="shelf",
            ),
        ),
    )
