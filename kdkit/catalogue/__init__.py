"""Row 4: boards, items, tools, fittings and times as data.

Takes the catalogue files that come with kdkit and the maker's own, gives one
``Catalogue``. Every formula has been read and every reference found; what a fitting
says about bores and items is final, only the numbers of the joint are missing.
"""

from kdkit.catalogue.entries import (
    Action,
    BoardMaterial,
    BoreRule,
    Catalogue,
    Fitting,
    FreeSpace,
    Item,
    ItemRule,
    Lean,
    Limits,
    Piece,
    SlotRule,
    Strength,
    Time,
    Tool,
)
from kdkit.catalogue.formulas import BoreNumbers, FittingNumbers, fitting_numbers
from kdkit.catalogue.load import load_catalogue
from kdkit.catalogue.shipped import built_in_files
from kdkit.catalogue.work import works_of

__all__ = [
    "Action",
    "BoardMaterial",
    "BoreNumbers",
    "BoreRule",
    "Catalogue",
    "Fitting",
    "FittingNumbers",
    "FreeSpace",
    "Item",
    "ItemRule",
    "Lean",
    "Limits",
    "Piece",
    "SlotRule",
    "Strength",
    "Time",
    "Tool",
    "built_in_files",
    "fitting_numbers",
    "load_catalogue",
    "works_of",
]
