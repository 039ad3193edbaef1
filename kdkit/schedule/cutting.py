"""The cut list: finished and cut sizes, banding, grain, mass and area."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from kdkit.model.panels.bevels import back_ring, face_ring, is_bevelled
from kdkit.model.resolved import Part, Resolved
from kdkit.parts.size import face_area, part_size, ring_area
from kdkit.parts.words import edge_side, edges_at
from kdkit.schedule.datum import side_at
from kdkit.schedule.grouping import Group
from kdkit.schedule.schedules import BevelLine, BoughtLine, CutLine

__all__ = [
    "cut_size",
    "list_bevels",
    "list_bought",
    "list_cuts",
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

    def added(axis: int, far: bool) -> float:
        band = _band_at(part, axis, far)
        return pre_mill - band if band > 0 else 0.0

    return (
        length + added(0, False) + added(0, True),
        width + added(1, False) + added(1, True),
    )


def _band_at(part: Part, axis: int, far: bool) -> float:
    return max((part.bands[n] for n in edges_at(part, axis, far) if part.bands), default=0.0)


def _bands_by_side(part: Part) -> dict[str, float]:
    bands: dict[str, float] = {}
    for n, band in enumerate(part.bands):
        if band > 0:
            side = edge_side(part, n) or "other"
            bands[side] = max(bands.get(side, 0.0), band)
    return bands


def list_bevels(part: Part) -> tuple[BevelLine, ...]:
    """Return the bevelled edges of a part, each side once."""
    found = [
        BevelLine(
            side=edge_side(part, n) or "other",
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
        abs(ring_area(part.outline) - length * width) > 0.01
    )


def list_cuts(groups: Sequence[Group], masses: Mapping[str, float]) -> tuple[CutLine, ...]:
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
            mass_kg=masses[group.part.name],
            area=face_area(group.part),
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


def list_bought(groups: Sequence[Group], masses: Mapping[str, float]) -> tuple[BoughtLine, ...]:
    """Return one line for each group of bought parts."""
    return tuple(
        BoughtLine(
            letter=group.letter,
            title=group.title,
            parts=tuple(piece.part.name for piece in group.pieces),
            quantity=len(group.pieces),
            size=(*part_size(group.part), group.part.thickness),
            mass_kg=masses[group.part.name],
        )
        for group in groups
        if group.part.kind != "panel"
    )
