"""Panels and pieces of hardware that differ so little that people mix them up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations, islice

from kdkit.catalogue.alike import FAR, are_lookalikes, how_far_apart
from kdkit.catalogue.entries import Item
from kdkit.diagnostics import Path, Problem, advice
from kdkit.inspect.inspection import Inspection
from kdkit.model.resolved import Part
from kdkit.parts.size import part_size
from kdkit.units import mm_text

__all__ = ["check_items_nearly_alike", "check_panels_nearly_alike"]

_NEAR = FAR  # mm
_SAME = 0.5  # mm; such panels are the same to everybody

_Sized = tuple[tuple[float, ...], list[Part]]


def check_panels_nearly_alike(inspection: Inspection) -> Iterable[Problem]:
    """Two panels of one board that differ by a few millimetres and carry like cuts."""
    sizes: dict[tuple[float, ...], list[Part]] = {}
    for part in inspection.assembly.parts:
        if part.kind == "panel":
            size = (*(round(s, 1) for s in part_size(part)), round(part.thickness, 1))
            sizes.setdefault(size, []).append(part)
    for (size, some), (other_size, others) in _near_sizes(sorted(sizes.items())):
        gaps = [abs(a - b) for a, b in zip(size, other_size, strict=True)]
        if max(gaps) > _NEAR or max(gaps) <= _SAME or gaps[2] > _SAME:
            continue
        pairs = [
            (a, b) for a in some for b in others if a.board == b.board and _alike(inspection, a, b)
        ]
        if not pairs:
            continue
        a, b = pairs[0]
        named = [" and ".join(dict.fromkeys(p[n].name for p in pairs)) for n in (0, 1)]
        yield advice(
            "panels-nearly-alike",
            f"{named[0]} ({_words(a)}) and {named[1]} ({_words(b)}) differ by "
            f"{mm_text(max(gaps))} mm only",
            b.path,
            help="make them the same size, or mark them with their letters",
        )


def _near_sizes(sizes: Sequence[_Sized]) -> Iterator[tuple[_Sized, _Sized]]:
    """Every two entries whose first lengths are near each other; the entries are sorted."""
    for n, one in enumerate(sizes):
        for other in islice(sizes, n + 1, None):
            if other[0][0] - one[0][0] > _NEAR:
                break
            yield one, other


def _alike(inspection: Inspection, a: Part, b: Part) -> bool:
    """Whether bores and grooves do not tell the two apart at a glance."""
    cuts = []
    for part in (a, b):
        bores = Counter(
            (bore.surface.split(":")[0], round(bore.diameter, 1))
            for bore in inspection.bores.get(part.name, ())
        )
        cuts.append((bores, len(inspection.grooves.get(part.name, ()))))
    return cuts[0] == cuts[1]


def _words(part: Part) -> str:
    length, width = part_size(part)
    return f"{mm_text(length)} × {mm_text(width)}"


def check_items_nearly_alike(inspection: Inspection) -> Iterable[Problem]:
    """Two supplied items of one shape that differ by a few millimetres.

    Nothing is said of what the maker put in two bags: they know of it.
    """
    used: dict[str, Path] = {}
    fittings: dict[str, set[str]] = {}
    for fastener in inspection.joinery.fasteners:
        for placed in fastener.items:
            fittings.setdefault(placed.item, set()).add(fastener.fitting.partition("[")[0])
            if inspection.catalogue.items[placed.item].supplied and not _in_workshop(
                inspection, fastener.fitting, placed.item
            ):
                used.setdefault(placed.item, fastener.path)
    for (a, _), (b, path) in combinations(sorted(used.items()), 2):
        one, other = inspection.catalogue.items[a], inspection.catalogue.items[b]
        if _bag(inspection, a, fittings[a]) != _bag(inspection, b, fittings[b]):
            continue
        gaps = how_far_apart(one, other)
        if gaps is None or max(gaps) <= 0.2 or not are_lookalikes(one, other):
            continue
        length, across = gaps
        what = f"{mm_text(length)} mm in length" if length > 0.2 else f"{mm_text(across)} mm across"
        yield advice(
            "items-nearly-alike",
            f"{_title(one)} and {_title(other)} are mixed up easily: they differ by {what}",
            path,
            where=f"{a} and {b}",
            help="use one of them for both, or lengths that differ by more than 5 mm; kdkit packs "
            "them in bags of their own, which lie open side by side where a step needs both",
        )


def _bag(inspection: Inspection, item: str, fittings: set[str]) -> str | None:
    """The bag that the maker named for an item, or for a fitting that it belongs to."""
    bags: Mapping[str, Sequence[str]] = getattr(inspection.resolved.said, "bags", {})
    return next((bag for bag, keys in bags.items() if {item, *fittings} & set(keys)), None)


def _in_workshop(inspection: Inspection, fitting: str, item: str) -> bool:
    entry = inspection.fitting(fitting)
    return entry is not None and any(
        action.item == item and action.stage == "workshop" for action in entry.actions
    )


def _title(item: Item) -> str:
    return f"{item.title.lower()} {item.size}".strip()
