"""Row 3: what a maker may say, and what it comes to.

Promises: ``read_product`` turns plain data into a ``Product`` or into problems in
plain words; ``resolve`` gives every formula its number, opens units, mirrors and
places every part. The same product can be built in Python with the same names.

Data flow one way: ``says`` (the definition's words, within ``limits``), ``reading``
(plain data checked against them), ``lengths`` (formulas), ``panels`` (parts as slabs),
``resolving`` (units opened, all of it in place) and what comes of it, ``resolved``.
"""

from __future__ import annotations

from kdkit.model.reading.reading import read_product
from kdkit.model.resolved import Part, Resolved
from kdkit.model.resolving.resolve import resolve
from kdkit.model.says import (
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
    Rows,
    Safety,
    SystemRows,
    Texts,
    Turn,
    Unit,
)
from kdkit.model.schema import definition_schema

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
    "Part",
    "Product",
    "Resolved",
    "Rows",
    "Safety",
    "SystemRows",
    "Texts",
    "Turn",
    "Unit",
    "definition_schema",
    "read_product",
    "resolve",
]
