"""Hinges need room: what they fill behind a door must be empty."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.areas import rest_of, shared
from kdkit.catalogue.entries import Piece
from kdkit.diagnostics import Problem, error
from kdkit.frames import Frame
from kdkit.geometry.assembly import ContactKind
from kdkit.geometry.boxes import BoxTree
from kdkit.geometry.surfaces import part_box
from kdkit.inspect.inspection import Inspection
from kdkit.model.resolved import Part
from kdkit.units import mm_text

__all__ = ["check_hardware_room"]

_LEAST = 0.5  # mm; two bodies that share less only touch


def check_hardware_room(inspection: Inspection) -> Iterable[Problem]:
    """No part stands where a hinge of two other parts is, the door shut.

    Runners are looked at with their drawers: how long they are, and the drawer's way.
    """
    hung = {j.name for j in inspection.joinery.joints if j.contact.kind is ContactKind.HUNG}
    fasteners = [f for f in inspection.joinery.fasteners if f.joint in hung]
    if not fasteners:
        return
    parts = inspection.assembly.parts
    tree = BoxTree(np.array([part_box(part) for part in parts]))
    told: set[tuple[str, str, str]] = set()
    for fastener in fasteners:
        own = {fastener.butting, fastener.receiving}
        for placed in fastener.items:
            entry = inspection.catalogue.items.get(placed.item)
            for piece in entry.pieces if entry is not None else ():
                corners = _corners(piece, placed.frame)
                if corners is None:
                    continue
                box = np.concatenate([corners.min(axis=0), corners.max(axis=0)])
                for n in tree.touching(box):
                    part = parts[n]
                    key = (fastener.joint, placed.item, part.name)
                    if part.name in own or key in told:
                        continue
                    deep = _shared(corners, part)
                    if deep <= _LEAST:
                        continue
                    told.add(key)
                    x, y, z = (mm_text(c) for c in placed.frame.origin)
                    title = f"{entry.title} {entry.size}".strip() if entry is not None else ""
                    yield error(
                        "hardware-in-part",
                        f"{title} at ({x}, {y}, {z}) stands {mm_text(deep)} mm in {part.name}",
                        fastener.path,
                        where=f"{fastener.butting} to {fastener.receiving}",
                        help=f"move it along with `at`, or move or cut away {part.name} there",
                    )


def _corners(piece: Piece, frame: Frame) -> NDArray[np.float64] | None:
    """Return the corners of the box round what of a piece stands out, in the product."""
    low = max(piece.z0, 0.0)
    if piece.z1 <= low + _LEAST:
        return None
    wide = piece.d0 if piece.kind in ("box", "lens") else max(piece.d0, piece.d1 or 0.0)
    deep = (piece.d1 or piece.d0) if piece.kind in ("box", "lens") else wide
    x, y = piece.at
    return np.array(
        [
            frame.point_to_outer((x + a * wide / 2, y + b * deep / 2, z))
            for a in (-1, 1)
            for b in (-1, 1)
            for z in (low, piece.z1)
        ]
    )


def _shared(corners: NDArray[np.float64], part: Part) -> float:
    """Return how deep a box stands in a part, along the direction in which it is least."""
    inner = np.array([part.frame.point_to_inner((x, y, z)) for x, y, z in corners.tolist()])
    along = min(0.0, float(inner[:, 2].max())) - max(-part.thickness, float(inner[:, 2].min()))
    if along <= _LEAST:
        return 0.0
    plan: BaseGeometry = Polygon(part.outline)
    for ring in part.cutouts:
        plan = rest_of(plan, Polygon(ring))
    met = shared(shapely.MultiPoint(inner[:, :2]).convex_hull, plan)
    if met.is_empty:
        return 0.0
    x0, y0, x1, y1 = met.bounds
    return min(along, x1 - x0, y1 - y0)
