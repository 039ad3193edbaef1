"""The names of a product's parts, while it is resolved."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from kdkit.model.left_out import LeftOut

__all__ = ["KnownParts"]


class KnownParts:
    """Names of parts in the order in which they were said, and what was left out beside them."""

    def __init__(self, names: Iterable[str], left_out: LeftOut) -> None:
        self._names = dict.fromkeys(names)
        self._left_out = left_out

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def add(self, name: str) -> None:
        """Make a name known."""
        self._names[name] = None

    def may_be(self, name: str) -> bool:
        """Tell whether a part has the name, or one that could not be read may have it."""
        return name in self._names or self._left_out.may_be_part(name)
