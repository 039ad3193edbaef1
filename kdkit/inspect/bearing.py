"""What bears which load: found from the geometry and the kind of furniture, not typed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from kdkit.catalogue.kinds import Load
from kdkit.diagnostics import Path
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.drawers import find_drawers
from kdkit.inspect.furniture import kinds_of, loads_said
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.rails import rail_holds
from kdkit.inspect.spans import free_span
from kdkit.model.resolved import Part
from kdkit.parts.size import face_area

__all__ = ["Borne", "find_borne", "large_levels"]

_LYING = 0.95  # steepness of a face from which a part lies: about 18 degrees, a shelf for shoes
_LEVEL = 25.0  # mm in height within which parts are of one level: a seat slopes a little
_LARGE = 0.5  # of the largest level's area


@dataclass(frozen=True, kw_only=True)
class Borne:
    """One load and what bears it.

    Args:
        load: its key; mass: kg.
        said: the maker stated it; else it is what such furniture usually bears.
        kind: the maker said what kind of furniture it is.
        parts: with the share of the load that each takes: 1 where each bears all of it.
        path: where it is said, or would be.
    """

    load: str
    entry: Load
    mass: float
    said: bool
    kind: bool
    parts: tuple[tuple[Part, float], ...]
    path: Path


def find_borne(inspection: Inspection) -> tuple[Borne, ...]:
    """Return every load that is stated, or that such furniture carries, with what bears it.

    A product without a kind carries what is said of it; what looks like a shelf in it carries
    what a shelf usually does.
    """
    said = loads_said(inspection.resolved.said)
    kinds = kinds_of(inspection.resolved.said, inspection.catalogue)
    carried = dict.fromkeys(key for kind in kinds.values() for key in kind.carries)
    expected = carried if kinds else {"shelf": None}
    found = []
    taken: set[str] = set()
    keys = dict.fromkeys((*said, *expected))
    # what bears as a seat or a top is no shelf
    for key in sorted(keys, key=lambda key: _is_shelves(inspection, key)):
        entry = inspection.catalogue.loads.get(key)
        if entry is None or (kinds and key not in carried):
            continue
        mass, path = said.get(key, (entry.usual, ("safety", "loads", key)))
        parts = _bearers(inspection, entry.on)
        if entry.on == "shelves":
            parts = tuple(each for each in parts if each[0].name not in taken)
        elif key in said:
            taken |= {part.name for part, _ in parts}
        found.append(
            Borne(
                load=key,
                entry=entry,
                mass=mass,
                said=key in said,
                kind=bool(kinds),
                parts=parts,
                path=path,
            )
        )
    return tuple(found)


def _is_shelves(inspection: Inspection, key: str) -> bool:
    entry = inspection.catalogue.loads.get(key)
    return entry is not None and entry.on == "shelves"


def large_levels(parts: Iterable[Part]) -> list[list[Part]]:
    """Return the parts that lie, by level, lowest first; small levels are left out.

    A level is small below half the area of the largest.
    """
    lying = [part for part in parts if abs(part.frame.k[2]) > _LYING and not part.smooth]
    levels: list[list[Part]] = []
    for part in sorted(lying, key=_top):
        if levels and _top(part) - _top(levels[-1][0]) <= _LEVEL:
            levels[-1].append(part)
        else:
            levels.append([part])
    areas = [sum(map(face_area, level)) for level in levels]
    return [level for level, area in zip(levels, areas, strict=True) if area >= _LARGE * max(areas)]


def _top(part: Part) -> float:
    return float(part_box(part)[5])


def _bearers(inspection: Inspection, on: str) -> tuple[tuple[Part, float], ...]:
    parts = inspection.assembly.parts
    if on == "drawers":
        return tuple((part, 1.0) for part in _floors(inspection))
    if on == "rails":
        return tuple((inspection.part(name), 1.0) for name in rail_holds(inspection))
    if on == "shelves":
        boxed = {name for drawer in find_drawers(inspection) for name in drawer.parts}
        return tuple(
            (part, 1.0)
            for part in parts
            if part.name not in boxed and free_span(inspection, part) is not None
        )
    levels = large_levels(parts)
    if on == "top":
        levels = [max(levels, key=lambda level: _top(level[-1]))] if levels else []
    elif on == "level":
        levels = levels[-1:]
    return tuple(share for level in levels for share in _shared(level))


def _shared(level: list[Part]) -> Iterator[tuple[Part, float]]:
    """Share a load among the parts of a level by their areas."""
    whole = sum(map(face_area, level))
    for part in level:
        yield part, face_area(part) / whole


def _floors(inspection: Inspection) -> Iterator[Part]:
    """Give the floor of each drawer."""
    for drawer in find_drawers(inspection):
        lying = [p for p in map(inspection.part, drawer.parts) if abs(p.frame.k[2]) > _LYING]
        if lying:
            yield max(lying, key=face_area)
