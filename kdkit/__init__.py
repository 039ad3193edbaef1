"""kdkit: assembly instructions and hardware schedules for knockdown furniture.

The words of a definition, for products built in Python::

    from kdkit import Board, Joint, OneEnd, Panel, Product, resolve
"""

from __future__ import annotations

from kdkit.lazy import lazy_names

TYPE_CHECKING = False  # the module that has it takes long to import

if TYPE_CHECKING:
    from kdkit.model import (
        Bevel,
        Board,
        Bought,
        CutOut,
        FittingUse,
        Fixture,
        HandBore,
        Joint,
        Maker,
        Notch,
        OneEnd,
        Panel,
        Parameter,
        Product,
        Resolved,
        Rows,
        Safety,
        SystemRows,
        Texts,
        Turn,
        Unit,
        resolve,
    )

__all__ = [
    "Bevel",
    "Board",
    "Bought",
    "CutOut",
    "FittingUse",
    "Fixture",
    "HandBore",
    "Joint",
    "Maker",
    "Notch",
    "OneEnd",
    "Panel",
    "Parameter",
    "Product",
    "Resolved",
    "Rows",
    "Safety",
    "SystemRows",
    "Texts",
    "Turn",
    "Unit",
    "__version__",
    "resolve",
]

__version__ = "0.1.0"

if not TYPE_CHECKING:
    __getattr__, __dir__ = lazy_names(
        __name__,
        {name: "kdkit.model" for name in __all__ if name != "__version__"},
    )
