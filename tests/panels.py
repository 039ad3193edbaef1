"""Panels and pieces of hardware by hand, for builders of whole products in tests."""

from __future__ import annotations

from kdkit.catalogue.entries import Piece
from kdkit.frames import Frame
from kdkit.model.resolved import Part

__all__ = ["panel", "rectangle", "rod"]


def rectangle(length: float, width: float) -> tuple[tuple[float, float], ...]:
    """The outline of a panel with square corners, mm."""
    return ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))


def panel(
    name: str, frame: Frame, size: tuple[float, float], thickness: float = 18.0, **more: object
) -> Part:
    """A panel without bands; ``more`` are other fields of the part."""
    settings: dict[str, object] = {
        "name": name,
        "title": name.replace("_", " ").capitalize(),
        "kind": "panel",
        "path": ("panels", name),
        "frame": frame,
        "outline": rectangle(*size),
        "thickness": thickness,
        "board": "carcass",
        "material": "particleboard-p2",
        "bands": (0.0,) * 4,
        "edge_sides": ("",) * 4,
    }
    return Part(**{**settings, **more})  # type: ignore[arg-type]


def rod(d: float, z0: float, z1: float, surface: str = "plain") -> Piece:
    """A round piece on an item's axis, mm."""
    return Piece(kind="cylinder", z0=z0, z1=z1, d0=d, surface=surface)  # type: ignore[arg-type]
