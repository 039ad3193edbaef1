"""Products of the gallery that are glued with clamps, and products with parts packed as one."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

from kdkit.frames import Frame
from kdkit.model.resolved import Part
from tests.boxes import Made, board, corner_ring, make, pinwheel
from tests.cabinets import joint, use
from tests.gallery.products import shaped
from tests.gallery.tooled import placed

__all__ = ["GLUED", "comb", "joined_panel", "laths", "raked_leg"]

BOARDS = ("one", "two", "three")


def joined_panel(pairs: Sequence[tuple[str, str]], fitting: str = "glued") -> Made:
    """Three like boards edge to edge, their joints written in one of the ways."""
    parts = [
        board(name, (0, 70.0 * n, 0), (600, 70.0 * (n + 1), 20)) for n, name in enumerate(BOARDS)
    ]
    return placed(parts, [joint(*pair, use(fitting)) for pair in pairs])


def laminated(pairs: Sequence[tuple[str, str]]) -> Made:
    """Three like boards face to face."""
    parts = [
        board(name, (0, 0, 20.0 * n), (600, 100, 20.0 * (n + 1))) for n, name in enumerate(BOARDS)
    ]
    return placed(parts, [joint(*pair, use("glued")) for pair in pairs])


def raked_leg() -> Made:
    """A rail glued to a front leg and to a rear leg whose back edge leans where it is glued."""
    outline = ((0.0, 0.0), (40.0, 0.0), (40.0, 90.0), (140.0, 700.0), (100.0, 700.0), (0.0, 110.0))
    sideways = Frame((30.0, 400.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
    parts: list[Part] = [
        board("front_leg", (0, -40, 0), (30, 0, 400)),
        shaped("rear_leg", outline, sideways, 30.0),
        board("rail", (5, 0, 60), (25, 400, 140)),
    ]
    return placed(parts, [joint("rail", leg, use("glued")) for leg in ("front_leg", "rear_leg")])


def laths(pairs: int = 11) -> Made:
    """A workbench top of laths on edge, one more of them than joints."""
    parts = [
        board(f"lath{n:02d}", (0, 40.0 * n, 0), (1400, 40.0 * (n + 1), 80))
        for n in range(pairs + 1)
    ]
    return placed(
        parts,
        [joint(f"lath{n:02d}", f"lath{n + 1:02d}", use("glued")) for n in range(pairs)],
    )


def comb() -> Made:
    """Nine rails glued between two posts: the second post closes nine joints at once."""
    parts = [
        board("post", (0, 0, 0), (60, 60, 1000)),
        board("other", (460, 0, 0), (520, 60, 1000)),
        *(board(f"rail{n}", (60, 20, 40 + 100 * n), (460, 40, 90 + 100 * n)) for n in range(9)),
    ]
    return placed(
        parts,
        [
            joint(f"rail{n}", end, use("dowel-8x35-glued"))
            for n in range(9)
            for end in ("post", "other")
        ],
    )


def packed_ring() -> Made:
    """The corner of three boards with two of them packed as one."""
    ring = corner_ring()
    joints = {(j.butting, j.receiving): "dowels" for j in ring[2].joints}
    return make(list(ring[1].parts), dict(joints), workshop=(("floor", "left"),))


def packed_case(*, left: bool) -> Made:
    """A case whose back stands in grooves all round, packed with all its sides or all but one."""
    t, g = 18.0, 7.0
    parts = [
        board("left", (0, 0, 0), (t, 400, 720)),
        board("right", (582, 0, 0), (600, 400, 720)),
        board("bottom", (t, 0, 0), (582, 400, t)),
        board("top", (t, 0, 702), (582, 400, 720)),
        board("back", (t - g, 380, t - g), (582 + g, 383, 702 + g)),
    ]
    lying = list(itertools.product(("bottom", "top"), ("left", "right")))
    joints: dict[tuple[str, str], str | tuple[str, ...]] = dict.fromkeys(lying, "dowels")
    joints |= {("back", name): "groove" for name in ("left", "right", "bottom", "top")}
    return make(parts, joints, workshop=[p for p in lying if left or p[1] == "right"])


def packed_wheel() -> Made:
    """A pin-wheel, which comes from two halves, with three of its boards packed as one."""
    parts, joints = pinwheel()
    return make(parts, joints, workshop=(("a", "b"), ("b", "c")))


GLUED: dict[str, Callable[[], Made]] = {
    "three boards glued in a row": lambda: joined_panel((("one", "two"), ("two", "three"))),
    "three boards glued to the middle one": lambda: joined_panel(
        (("one", "two"), ("three", "two"))
    ),
    "three boards glued from the middle one": lambda: joined_panel(
        (("two", "one"), ("two", "three"))
    ),
    "three boards with biscuits": lambda: joined_panel(
        (("one", "two"), ("three", "two")), "biscuit-20"
    ),
    "three boards on glued dowels": lambda: joined_panel(
        (("one", "two"), ("two", "three")), "dowel-8x35-glued"
    ),
    "twelve laths, more than the glue stays open for": laths,
    "nine rails between two posts, glued": comb,
    "three boards laminated": lambda: laminated((("one", "two"), ("three", "two"))),
    "a rail glued to a raked leg": raked_leg,
    "corner of three boards, two packed as one": packed_ring,
    "pin-wheel, three packed as one": packed_wheel,
    "case packed as one, its back apart": lambda: packed_case(left=True),
    "case packed as one but for a side": lambda: packed_case(left=False),
}
