"""Row 5: parts as prisms in rigid frames, and where they touch.

Takes ``Resolved``, gives an ``Assembly``: every part in its place and every
contact between two of them as polygons in frames that joints are drilled from.
After this row nobody asks again whether two parts meet.
"""

from kdkit.geometry.assembly import Assembly, Contact, ContactKind, contact_between
from kdkit.geometry.contacts import assemble
from kdkit.geometry.convex import ConvexPiece, convex_pieces, part_pieces
from kdkit.geometry.solids import Overlap, gap_between, overlap_between

__all__ = [
    "Assembly",
    "Contact",
    "ContactKind",
    "ConvexPiece",
    "Overlap",
    "assemble",
    "contact_between",
    "convex_pieces",
    "gap_between",
    "overlap_between",
    "part_pieces",
]
