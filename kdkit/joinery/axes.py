"""Hardware that sticks out of the parts that carry it."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue, Piece
from kdkit.frames import Frame
from kdkit.joinery.placed import Joinery

__all__ = ["Protrusion", "protrusions"]


@dataclass(frozen=True, kw_only=True)
class Protrusion:
    """The part of an item that sticks out of the part that carries it.

    Args:
        part: the carrier; the item moves with it.
        frame: the item frame in the product, z out of the mouth.
        pieces: coaxial pieces, cut off at z = 0, in the item frame.
    """

    part: str
    fastener: str
    item: str
    frame: Frame
    pieces: tuple[Piece, ...]


def protrusions(joinery: Joinery, catalogue: Catalogue) -> tuple[Protrusion, ...]:
    """Return what sticks out of each part once its own hardware is in, before mating.

    In the order of the fasteners; items that go in after mating are left out, and
    items that end flush.
    """
    outside = {
        key: tuple(p for p in (_outside(piece) for piece in item.pieces) if p is not None)
        for key, item in catalogue.items.items()
    }
    return tuple(
        Protrusion(
            part=item.carrier,
            fastener=fastener.id,
            item=item.item,
            frame=item.frame,
            pieces=outside[item.item],
        )
        for fastener in joinery.fasteners
        for item in fastener.items
        if item.carrier is not None and outside[item.item]
    )


def _outside(piece: Piece) -> Piece | None:
    """Return what of a piece lies at z > 0; a cut cone keeps its slope, a lens its box."""
    if piece.z1 <= 0:
        return None
    if piece.z0 >= 0:
        return piece
    cut: dict[str, float | str] = {"z0": 0.0}
    if piece.kind == "lens":
        cut["kind"] = "box"
    if piece.kind == "cone" and piece.d1 is not None:
        cut["d0"] = piece.d0 + (piece.d1 - piece.d0) * -piece.z0 / (piece.z1 - piece.z0)
    return piece.model_copy(update=cut)
