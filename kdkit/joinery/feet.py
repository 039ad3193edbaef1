"""The feet of a product: hardware under it on which it stands."""

from __future__ import annotations

from collections.abc import Iterator

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec3
from kdkit.joinery.placed import Fastener, Joinery

__all__ = ["feet_under", "foot_end", "foot_points"]

_DOWN = -0.7  # cosine towards z below which something points down


def foot_points(joinery: Joinery, catalogue: Catalogue) -> list[Vec3]:
    """Return the middle of each foot at its lower end, in the product, mm.

    A foot is an item of a fixture that stands out downwards from a mouth that looks down.
    """
    return [point for foot in feet_under(joinery) for point in foot_end(foot, catalogue)]


def feet_under(joinery: Joinery, part: str | None = None) -> Iterator[Fastener]:
    """Yield the fasteners of feet under a part; None: under any."""
    fasteners = {fastener.id: fastener for fastener in joinery.fasteners}
    for fixture in joinery.fixtures:
        for fastener in (fasteners[id] for id in fixture.fasteners):
            if part is not None and fastener.receiving != part:
                continue
            if fastener.frame.k[2] > _DOWN:
                continue
            if any(placed.frame.k[2] < _DOWN for placed in fastener.items):
                yield fastener


def foot_end(foot: Fastener, catalogue: Catalogue) -> Iterator[Vec3]:
    """Yield the lower end of each item of a foot that points down, in the product, mm."""
    for placed in foot.items:
        if placed.frame.k[2] < _DOWN:
            x, y, z = placed.frame.origin
            pieces = catalogue.items[placed.item].pieces
            yield x, y, z - max(piece.z1 for piece in pieces)
