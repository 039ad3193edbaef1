"""One change to a product, carried out, and what all kinds of changes are made with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kdkit.model.resolved import Part, Resolved

__all__ = ["Change", "listed", "name_parts", "with_parts"]


@dataclass(frozen=True, kw_only=True)
class Change:
    """One change, with the product as it is after it.

    Args:
        kind: one of ``changes.KINDS``.
        parts: what it is done to: a pair, all pairs of one line of the definition, a part,
            or all that was packed as one for ``at-home``.
        words: what to do: "let Left run over the end of Rear …".
        means: what else it comes to, in a sentence without a full stop.
        instead: a fitting's key that comes into the joint, or "".
        mm: by how much a part is moved, made shorter or cut away; 0 where nothing is.
        way: which way, as far as that tells it from another change.
        rank: 0 for the first choice of its kind in its place, 1 for the next.
    """

    kind: str
    parts: tuple[str, ...]
    words: str
    means: str
    product: Resolved
    instead: str = ""
    mm: float = 0.0
    way: str = ""
    rank: int = 0

    @property
    def key(self) -> tuple[str, ...]:
        """What makes it the same change as another."""
        return (self.kind, *sorted(self.parts), self.instead, self.way, f"{self.mm:09.1f}")


def name_parts(parts: Sequence[Part]) -> dict[str, str]:
    """Return what to call each part: its title, with its name where titles are alike."""
    titles = [part.title or part.name for part in parts]
    return {
        part.name: title if titles.count(title) == 1 else f"{title} ({part.name})"
        for part, title in zip(parts, titles, strict=True)
    }


def listed(names: Sequence[str]) -> str:
    """Return names as people list them: "A, B and C"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def with_parts(resolved: Resolved, *changed: Part) -> Resolved:
    """Return the product with some parts in place of those of their names."""
    by_name = {part.name: part for part in changed}
    return replace(resolved, parts=tuple(by_name.get(p.name, p) for p in resolved.parts))
