"""Row 6: fittings in their places.

Takes the resolved product, its assembly and the catalogue, gives a ``Joinery``: every
bore in its panel frame, every groove, every piece of hardware in the product, and which
part carries it before the joint is made. After this row nobody works out a position of
a fitting again.
"""

from kdkit.joinery.axes import Protrusion, protrusions
from kdkit.joinery.packed import made_in_workshop, packed_groups
from kdkit.joinery.place import place_fittings
from kdkit.joinery.placed import (
    Bore,
    Fastener,
    Groove,
    Joinery,
    PlacedFixture,
    PlacedItem,
    PlacedJoint,
    Slot,
)

__all__ = [
    "Bore",
    "Fastener",
    "Groove",
    "Joinery",
    "PlacedFixture",
    "PlacedItem",
    "PlacedJoint",
    "Protrusion",
    "Slot",
    "made_in_workshop",
    "packed_groups",
    "place_fittings",
    "protrusions",
]
