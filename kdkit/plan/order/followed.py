"""Whether a build brings the author's entries together one after the other, as written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kdkit.diagnostics import Problem, warning
from kdkit.model.resolved import PutOn
from kdkit.plan.order.build import Build

__all__ = ["warn_of_departure"]


def warn_of_departure(
    build: Build, row: Sequence[PutOn], masks: Sequence[int], titles: Mapping[str, str]
) -> tuple[Problem, ...]:
    """Return a warning at the first entry that does not join one growing work in its turn.

    Other parts may come in between, and the work may begin with them; but an entry comes by
    itself, to all that was named before it and to nothing that is named later.

    Args:
        masks: the parts of each entry of the row.
    """
    found = _first_astray(build, masks)
    if found is None:
        return ()
    put = row[found]
    named = " and ".join(titles[name] for name in put.parts)
    return (
        warning(
            "order-kept-in-part",
            f"entry {found + 1} of the order: {named} does not come by itself to what is named "
            "before it; the plan keeps the order only as far as what goes on before what",
            put.path,
            help="name the parts between them too, or put what is put together first in a list "
            "of its own, or say under `put_before` what must only be on before what",
        ),
    )


def _first_astray(build: Build, masks: Sequence[int]) -> int | None:
    """The number of the first entry that a build does not put on as written."""
    named = sum(masks)
    while build.base_build is not None and build.base & named == named:
        build = build.base_build
    arrivals = [build.base, *(m.parts for m in (*build.matings, *build.loads))]
    if any(named & parts == named for parts in arrivals[1:]):
        inner = (m.build for m in (*build.matings, *build.loads) if m.parts & named == named)
        within = next(inner)
        return None if within is None else _first_astray(within, masks)
    following = 0
    for parts in arrivals:
        inside = parts & named
        if not inside:
            continue
        by_itself = parts == inside or parts == build.base
        if inside != masks[following] or not by_itself:
            return min(n for n, mask in enumerate(masks) if mask & inside and n >= following)
        following += 1
    return None
