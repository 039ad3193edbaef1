"""The cut list: finished and cut sizes, banding, grain, mass and area."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec2
from kdkit.joinery.volume import prism_volume
from kdkit.model.bevels import back_ring, face_ring, is_bevelled
from kdkit.model.resolved import Part, Resolved
from kdkit.schedule.datum import side_at
from kdkit.schedule.grouping import Group
from kdkit.schedule.sameness import part_size
from kdkit.schedule.schedules import BevelLine, BoughtLine, CutLine

__all__ = [
    "cut_size",
    "list_bevels",
    "list_bought",
    "list_cuts",
    "panel_area",
    "panel_mass",
    "pre_milled",
    "short_size",
]


def cut_size(part: Part, pre_mill: float = 0.0) -> tuple[float, float]:
    """Return length and width to saw, before banding.

    Cut size = finished size − Σ band thickness over the two ends of that axis, + what
    the bander mills off (``pre_mill``, mm) at every end that is banded. A
    shaped panel is sawn from its bounding rectangle, so only bands on that
    rectangle count.

    Source:
        Common practice, no source; 0.5 is usual where a bander pre-mills at all.
    """
    length, width = part_size(part)

    def added(axis: int, level: float) -> float:
        band = _band_at(part, axis, level)
        return pre_mill - band if band > 0 else 0.0

    return (
        length + added(0, 0.0) + added(0, length),
        width + added(1, 0.0) + added(1, width),
    )


def _band_at(part: Part, axis: int, level: float) -> float:
    thickest = 0.0
    for n, band in enumerate(part.bands):
        ends = (part.outline[n], part.outline[(n + 1) % len(part.outline)])
        if all(abs(p[axis] - level) < 0.01 for p in ends):
            thickest = max(thickest, band)
    return thickest


def _polygon_area(points: Sequence[Vec2]) -> float:
    total = 0.0
    for (x0, y0), (x1, y1) in zip(points, (*points[1:], points[0]), strict=True):
        total += x0 * y1 - x1 * y0
    return abs(total) / 2


def panel_area(part: Part) -> float:
    """Return the area of the finished face without its openings, mm²."""
    openings = sum(_polygon_area(hole) for hole in part.cutouts)
    rounds = sum(math.pi / 4 * hole.diameter**2 for hole in part.round_cutouts)
    return _polygon_area(part.outline) - openings - rounds


def panel_mass(part: Part, catalogue: Catalogue) -> float:
    """Return the mass of a part in kg: a bought part's own, else density × volume.

    The density is the board's for that thickness; between two ranges of the table
    the nearer one's. Bores are not taken off.
    """
    if part.mass is not None:
        return part.mass
    if part.material is None:
        return 0.0
    rows = catalogue.boards[part.material].strength
    t = part.thickness
    row = min(rows, key=lambda r: max(r.thickness[0] - t, t - r.thickness[1], 0.0))
    volume = prism_volume(part) if part.bevels else panel_area(part) * t
    return row.density * volume * 1e-9


def _bands_by_side(part: Part) -> dict[str, float]:
    bands: dict[str, float] = {}
    for n, band in enumerate(part.bands):
        if band > 0:
            side = part.edge_sides[n] if n < len(part.edge_sides) else ""
            bands[side or "other"] = max(bands.get(side or "other", 0.0), band)
    return bands


def list_bevels(part: Part) -> tuple[BevelLine, ...]:
    """Return the bevelled edges of a part, each side once."""
    found = [
        BevelLine(
            side=part.edge_sides[n] or "other",
            angle_deg=abs(angle),
            long="face" if angle > 0 else "back",
        )
        for n, angle in enumerate(part.bevels)
        if angle
    ]
    return tuple(dict.fromkeys(found))


def short_size(part: Part) -> tuple[float, float]:
    """Return length and width at the short points: of the smaller of face and back.

    Source:
        Cutting arithmetic of a mitre: 640 at the long points in 16 thick stock, both ends
        at 45°, is 640 − 2 · 16 = 608 at the short ones.
    """
    sizes = [
        (max(x) - min(x), max(y) - min(y))
        for x, y in (zip(*ring, strict=True) for ring in (face_ring(part), back_ring(part)))
    ]
    return (min(s[0] for s in sizes), min(s[1] for s in sizes))


def _is_shaped(part: Part) -> bool:
    length, width = part_size(part)
    return bool(part.cutouts or part.round_cutouts) or (
        abs(_polygon_area(part.outline) - length * width) > 0.01
    )


def list_cuts(groups: Sequence[Group], catalogue: Catalogue) -> tuple[CutLine, ...]:
    """Return one line for each group of panels."""
    return tuple(
        CutLine(
            letter=group.letter,
            title=group.title,
            parts=tuple(piece.part.name for piece in group.pieces),
            quantity=len(group.pieces),
            board=group.part.board or "",
            material=group.part.material or "",
            thickness=group.part.thickness,
            finished=part_size(group.part),
            cut=cut_size(group.part),
            bands=_bands_by_side(group.part),
            grain="length" if group.part.grain_along_x else "none",
            mass_kg=panel_mass(group.part, catalogue),
            area=panel_area(group.part),
            pair=group.pair,
            shaped=_is_shaped(group.part),
            x_ends=(side_at(group.part, 0, False), side_at(group.part, 0, True)),
            y_ends=(side_at(group.part, 1, False), side_at(group.part, 1, True)),
            bevels=list_bevels(group.part),
            short=short_size(group.part) if is_bevelled(group.part) else None,
        )
        for group in groups
        if group.part.kind == "panel"
    )


def pre_milled(
    lines: Sequence[CutLine], resolved: Resolved, pre_mill: float
) -> tuple[CutLine, ...]:
    """Return the lines with the cut sizes for a bander that mills edges first, mm."""
    return tuple(
        replace(line, cut=cut_size(resolved.part(line.parts[0]), pre_mill)) for line in lines
    )


def list_bought(groups: Sequence[Group], catalogue: Catalogue) -> tuple[BoughtLine, ...]:
    """Return one line for each group of bought parts."""
    return tuple(
        BoughtLine(
            letter=group.letter,
            title=group.title,
            parts=tuple(piece.part.name for piece in group.pieces),
            quantity=len(group.pieces),
            size=(*part_size(group.part), group.part.thickness),
            mass_kg=panel_mass(group.part, catalogue),
        )
        for group in groups
        if group.part.kind != "panel"
    )
