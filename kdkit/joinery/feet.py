"""The feet of a product: hardware under it on which it stands."""

from __future__ import annotations

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec3
from kdkit.joinery.placed import Joinery

__all__ = ["foot_points"]

_DOWN = -0.7  # cosine towards z below which something points down


def foot_points(joinery: Joinery, catalogue: Catalogue) -> list[Vec3]:
    """Return the middle of each foot at its lower end, in the product, mm.

    A foot is an item of a fixture that stands out downwards from a mouth that looks down.
    """
    fasteners = {fastener.id: fastener for fastener in joinery.fasteners}
    found: list[Vec3] = []
    for fixture in joinery.fixtures:
        for fastener in (fasteners[id] for id in fixture.fasteners):
            if fastener.frame.k[2] > _DOWN:
                continue
            for placed in fastener.items:
                if placed.frame.k[2] < _DOWN:
                    x, y, z = placed.frame.origin
                    pieces = catalogue.items[placed.item].pieces
                    found.append((x, y, z - max(piece.z1 for piece in pieces)))
    return found
