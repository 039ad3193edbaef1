"""Row 1: names of a package whose modules are imported when they are first used.

A package that few commands need gives its names this way (PEP 562), so that a check does
not wait for the page engine. For type checkers it imports them under ``TYPE_CHECKING``.
"""

from __future__ import annotations

import importlib
import sys

TYPE_CHECKING = False  # the module that has it takes long to import
if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

__all__ = ["lazy_names"]


def lazy_names(
    package: str, homes: Mapping[str, str]
) -> tuple[Callable[[str], object], Callable[[], list[str]]]:
    """Return the ``__getattr__`` and ``__dir__`` of a package.

    Args:
        package: its ``__name__``.
        homes: the module in which each name is, by the name.
    """

    def get(name: str) -> object:
        home = homes.get(name)
        if home is None:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        value = getattr(importlib.import_module(home), name)
        setattr(sys.modules[package], name, value)  # the next time it is simply there
        return value

    def names() -> list[str]:
        return sorted({*vars(sys.modules[package]), *homes})

    return get, names
