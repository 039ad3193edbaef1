"""Hardware that sticks out of what carries it."""

from __future__ import annotations

from kdkit.catalogue import Item, Piece
from kdkit.joinery import protrusions
from tests.boxes import board
from tests.cabinets import built_in, joint, place, use


def test_what_sticks_out() -> None:
    side = board("side", (0, 0, 0), (18, 300, 800))
    shelf = board("shelf", (18, 0, 400), (600, 300, 418))
    uses = use("cam-and-bolt-34", at=(64.0,)), use("dowel-8x35", at=(150.0,))
    screwed = use("screw-4x50", at=(250.0,))
    joinery, _ = place([side, shelf], [joint("shelf", "side", *uses, screwed)])
    found = {p.item: p for p in protrusions(joinery, built_in())}
    assert set(found) == {"cam-bolt-34", "dowel-8x35"}  # the cam is flush, the screw comes later
    assert found["cam-bolt-34"].part == "side"
    assert found["dowel-8x35"].part == "shelf"
    assert all(piece.z0 >= 0 for p in found.values() for piece in p.pieces)
    assert found["cam-bolt-34"].pieces[-1].z1 == 36
    assert found["dowel-8x35"].pieces[-1].z1 == 11


def test_a_cone_is_cut_at_the_surface() -> None:
    side = board("side", (0, 0, 0), (18, 300, 800))
    shelf = board("shelf", (18, 0, 400), (600, 300, 418))
    joinery, _ = place([side, shelf], [joint("shelf", "side", use("dowel-8x35", at=(150.0,)))])
    catalogue = built_in()
    cone = Item(
        title="Cone",
        mass=1,
        pieces=(Piece(kind="cone", z0=-10, z1=10, d0=4, d1=12),),
        sources=("made up",),
    )
    other = catalogue.model_copy(update={"items": {**catalogue.items, "dowel-8x35": cone}})
    (found,) = protrusions(joinery, other)
    (piece,) = found.pieces
    assert (piece.z0, piece.z1, piece.d0, piece.d1) == (0, 10, 8, 12)
