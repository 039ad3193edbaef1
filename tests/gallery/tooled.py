"""Products of the gallery with fittings of the catalogue, for the sake of their tools."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Part, ResolvedJoint
from tests.boxes import Made, board
from tests.cabinets import built_in, joint, resolved, use
from tests.gallery.products import in_row

__all__ = ["TOOLED"]

T = 18.0
INWARDS = {"left": "+x", "right": "-x", "floor": "+z", "front": "+y", "rear": "-y"}
OUTWARDS = {"left": "-x", "right": "+x", "floor": "-z", "front": "-y", "rear": "+y"}


def placed(parts: Sequence[Part], joints: Sequence[ResolvedJoint]) -> Made:
    """The parts with their fittings in place."""
    product = resolved(parts, joints)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    return product, assembly, joinery, built_in()


def box(*, lid_opens: dict[str, str], front: bool = True) -> Made:
    """A box of six whose lid comes down on dowels and bolts; cams in the walls under it."""
    parts = [
        board("left", (0, 0, 0), (T, 500, 482)),
        board("right", (582, 0, 0), (600, 500, 482)),
        board("floor", (T, T, 0), (582, 482, T)),
        board("rear", (T, 482, 0), (582, 500, 482)),
        board("lid", (0, 0, 482), (600, 500, 500)),
    ]
    between = ["floor", "rear"]
    if front:
        parts.append(board("front", (T, 0, 0), (582, T, 482)))
        between.append("front")
    joints = [
        joint(part, side, use("cam-and-bolt", opens=INWARDS[part]))
        for part in between
        for side in ("left", "right")
    ]
    joints += [
        joint(side, "lid", use("cam-and-bolt", opens=lid_opens[side])) for side in ("left", "right")
    ]
    return placed(parts, joints)


def facing_cams(gap: float) -> Made:
    """Two shelves between two sides; the cams of the lower look up, of the upper down."""
    parts = [
        board("left", (0, 0, 0), (T, 300, 900)),
        board("right", (600, 0, 0), (600 + T, 300, 900)),
        board("lower", (T, 0, 300), (600, 300, 300 + T)),
        board("upper", (T, 0, 300 + T + gap), (600, 300, 300 + 2 * T + gap)),
    ]
    joints = [
        joint(shelf, side, use("cam-and-bolt", opens=opens, ends=ends))
        for shelf, opens, ends in (("lower", "+z", 60.0), ("upper", "-z", 90.0))
        for side in ("left", "right")
    ]
    return placed(parts, joints)


def covered_screws() -> Made:
    """Screws through a side into a shelf, and a cladding that lies on their heads."""
    parts = [
        board("side", (0, 0, 0), (T, 300, 700)),
        board("shelf", (T, 0, 300), (500, 300, 318)),
        board("cladding", (-12, 0, 0), (0, 300, 700)),
    ]
    joints = [
        joint("shelf", "side", use("screw-4x50")),
        joint("cladding", "side", use("bare")),
    ]
    return placed(parts, joints)


def plinth_from_below() -> Made:
    """A bottom 80 above the floor between two sides, its cams in the underside; a plinth."""
    parts = [
        board("left", (0, 0, 0), (T, 400, 600)),
        board("right", (782, 0, 0), (800, 400, 600)),
        board("bottom", (T, 0, 80), (782, 400, 98)),
        board("top", (T, 0, 582), (782, 400, 600)),
        board("plinth", (T, 40, 0), (782, 58, 80)),
        board("rear_plinth", (T, 342, 0), (782, 360, 80)),
    ]
    joints = [
        joint(part, side, use("cam-and-bolt", opens=opens))
        for part, opens in (("bottom", "-z"), ("top", "-z"))
        for side in ("left", "right")
    ]
    joints += [
        joint(part, side, use("dowel-8x30", count=1))
        for part in ("plinth", "rear_plinth")
        for side in ("left", "right")
    ]
    return placed(parts, joints)


TOOLED: dict[str, Callable[[], Made]] = {
    "closed box, lid fastened from inside": lambda: box(lid_opens=INWARDS),
    "closed box, lid fastened from outside": lambda: box(lid_opens=OUTWARDS),
    "box without a front, lid fastened from inside": lambda: box(lid_opens=INWARDS, front=False),
    "cams face to face, 60 apart": lambda: facing_cams(60.0),
    "cams face to face, 150 apart": lambda: facing_cams(150.0),
    "cams face to face, 300 apart": lambda: facing_cams(300.0),
    "screws under a cladding": covered_screws,
    "screws under a cladding that comes first": lambda: in_row(
        covered_screws(), "side", "cladding", "shelf"
    ),
    "plinth with cams in the underside": plinth_from_below,
}
