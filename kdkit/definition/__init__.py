"""Row 2: YAML text → plain data, every key and value with its place; formulas.

Promises: nothing in a file can construct an object, read outside the file's
folder, or keep the program busy; whatever is wrong comes back as problems with
line and column. The YAML library is used here and nowhere else.
"""

from __future__ import annotations

from kdkit.definition.formula import (
    Formula,
    FormulaFault,
    evaluate,
    names,
    parse_formula,
)
from kdkit.definition.source import Definition, load_definition, load_document

__all__ = [
    "Definition",
    "Formula",
    "FormulaFault",
    "evaluate",
    "load_definition",
    "load_document",
    "names",
    "parse_formula",
]
