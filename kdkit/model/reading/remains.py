"""A definition's data from which faulty entries can be taken without losing places.

An entry that is left out of a list moves the ones behind it, and a misspelt key may be
read as the one that was meant; every path of what is left still leads back to where it
was written.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from kdkit.diagnostics import Path

__all__ = ["Remains", "is_open_question", "open_questions", "remains_of"]

_MARK = "?"


@dataclass
class Remains:
    """One value; its entries with the steps under which they were written."""

    scalar: Any = None
    items: list[tuple[int, Remains]] | None = None
    entries: dict[str, tuple[str, Remains]] | None = None

    def plain(self) -> Any:
        """Return the data that is left."""
        if self.entries is not None:
            return {key: value.plain() for key, (_, value) in self.entries.items()}
        if self.items is not None:
            return [value.plain() for _, value in self.items]
        return self.scalar

    def child(self, step: str | int) -> Remains | None:
        """Return what stands under a step of what is left."""
        if self.entries is not None and str(step) in self.entries:
            return self.entries[str(step)][1]
        if self.items is not None and isinstance(step, int) and 0 <= step < len(self.items):
            return self.items[step][1]
        return None

    def at(self, path: Path) -> Remains | None:
        """Return what stands at a path of what is left."""
        here: Remains | None = self
        for step in path:
            here = None if here is None else here.child(step)
        return here

    def written(self, path: Path) -> Path:
        """Return where a path of what is left was written."""
        found: list[str | int] = []
        here: Remains | None = self
        for step in path:
            if here is not None and here.entries is not None and str(step) in here.entries:
                found.append(here.entries[str(step)][0])
            elif (
                here is not None
                and here.items is not None
                and isinstance(step, int)
                and 0 <= step < len(here.items)
            ):
                found.append(here.items[step][0])
            else:
                found.append(step)
            here = None if here is None else here.child(step)
        return tuple(found)

    def drop(self, path: Path) -> bool:
        """Take out what stands at a path; False if nothing does."""
        holder = self.at(path[:-1])
        if holder is None or not path or holder.child(path[-1]) is None:
            return False
        if holder.entries is not None:
            del holder.entries[str(path[-1])]
        elif holder.items is not None and isinstance(path[-1], int):
            del holder.items[path[-1]]
        return True

    def rename(self, path: Path, name: str) -> bool:
        """Read a key as another one; False if that is there already."""
        holder = self.at(path[:-1])
        if holder is None or holder.entries is None or name in holder.entries:
            return False
        found = holder.entries.pop(str(path[-1]), None)
        if found is None:
            return False
        holder.entries[name] = found
        return True

    def put(self, path: Path, value: Any) -> None:
        """Set a plain value under a key that is missing, or as a list's only item."""
        holder = self.at(path[:-1])
        if holder is None:
            return
        if holder.entries is not None:
            holder.entries[str(path[-1])] = (str(path[-1]), remains_of(value))
        elif holder.items is not None:
            holder.items.append((0, remains_of(value)))


def remains_of(value: Any) -> Remains:
    """Return plain data as something that entries can be taken from."""
    if isinstance(value, dict):
        return Remains(
            entries={str(key): (str(key), remains_of(inner)) for key, inner in value.items()}
        )
    if isinstance(value, list | tuple):
        return Remains(items=[(n, remains_of(inner)) for n, inner in enumerate(value)])
    return Remains(scalar=value)


def is_open_question(value: Any) -> bool:
    """Tell whether a value only asks: ``?``, or a text that begins with ``? ``."""
    return isinstance(value, str) and (value == _MARK or value.startswith(f"{_MARK} "))


def open_questions(data: Any) -> list[tuple[Path, str]]:
    """Return the place and the text of every open question in a definition's data.

    Texts of the manual may begin as they like.
    """
    found: list[tuple[Path, str]] = []
    pending: list[tuple[Path, Any]] = [((), data)]
    while pending:
        path, value = pending.pop()
        if is_open_question(value):
            found.append((path, value[1:].strip()))
        elif isinstance(value, dict):
            pending += [
                ((*path, key), inner)
                for key, inner in value.items()
                if not (key == "texts" and not path)
            ]
        elif isinstance(value, list):
            pending += [((*path, n), inner) for n, inner in enumerate(value)]
    return sorted(found, key=lambda each: [str(step) for step in each[0]])
