"""What was left out of a definition because it could not be read, and what may be meant by it.

The rest of a faulty definition is still looked through, so that a maker reads all that is
wrong at once. Nothing may be said there that follows only from what was left out: its
names stay known, its lengths have no value, and what needs them stays silent.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["NOTHING", "PART_SECTIONS", "LeftOut"]

PART_SECTIONS = ("panels", "bought", "units")


@dataclass(frozen=True)
class LeftOut:
    """What of one product was left out.

    Args:
        entries: by section (``panels``), the names of entries that are left out or not
            whole.
        sections: those of which nothing is known.
    """

    entries: Mapping[str, frozenset[str]] = field(default_factory=dict)
    sections: frozenset[str] = frozenset()

    def has(self, section: str, name: str) -> bool:
        """Tell whether an entry may be there, though it is not to be looked at."""
        return section in self.sections or name in self.entries.get(section, frozenset())

    def names(self, section: str) -> tuple[str, ...]:
        """Return the names that are known to be meant, sorted."""
        return tuple(sorted(self.entries.get(section, frozenset())))

    def may_be_part(self, name: str) -> bool:
        """Tell whether a part of that name, or a unit with it inside, was left out."""
        unit = name.partition(".")[0]
        return (
            any(self.has(section, name) for section in PART_SECTIONS)
            or (unit != name and self.has("units", unit))
            or bool(self.sections.intersection(PART_SECTIONS))
        )

    def may_be_length(self, name: str) -> bool:
        """Tell whether a formula's unknown name may be one that was left out."""
        if self.sections.intersection((*PART_SECTIONS, "boards", "parameters")):
            return True
        head = name.partition(".")[0]
        meant = {n for section in ("panels", "bought", "parameters") for n in self.names(section)}
        # left-side is no name; left and side are what a formula reads of it.
        return head in meant or any(
            head in _formula_names(n) for n in meant if not n.isidentifier()
        )


NOTHING = LeftOut()


def _formula_names(name: str) -> set[str]:
    plain = "".join(c if c.isalnum() or c == "_" else " " for c in name)
    return set(plain.split())
