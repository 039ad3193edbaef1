"""Cartons for a product: which part lies where, and who carries it.

``pieces`` says what is packed, ``rules`` what a carton is made of and how heavy it may be,
``layers`` lays pieces out on a footprint, ``cartons`` shares them among cartons. A packing
library proposes places; the rules here choose among its proposals and refuse what breaks one.
Lengths in mm, masses in kg.
"""

from __future__ import annotations

from kdkit.schedule.packing.cartons import pack_product
from kdkit.schedule.packing.layers import Layer, Placed, Void
from kdkit.schedule.packing.packed import Carton, Packing
from kdkit.schedule.packing.pieces import Piece, list_pieces
from kdkit.schedule.packing.rules import MOST_MASS, PackingRules

__all__ = [
    "MOST_MASS",
    "Carton",
    "Layer",
    "Packing",
    "PackingRules",
    "Piece",
    "Placed",
    "Void",
    "list_pieces",
    "pack_product",
]
