"""Kinds of hole: what one tool at one depth makes has one letter on every paper of a product."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import count, islice

from kdkit.schedule.schedules import DrillLine
from kdkit.schedule.views import PanelViews

__all__ = ["HoleKind", "hole_kind", "name_kinds"]

HoleKind = tuple[float, float, bool, bool, float, str]
"""Diameter, depth (0 of a through bore), through, sloped, degrees to the surface, stage."""

_LETTERS = "abcdefghjkmnpqrstuvwxyz"
"""Small, as capitals are the panels'; without i, l and o, which are read as 1 and 0."""


def hole_kind(bore: DrillLine) -> HoleKind:
    """Return the kind of a bore.

    How deep a through bore is follows from the board, so all of a diameter are one kind.
    """
    return (
        round(bore.diameter, 3),
        0.0 if bore.through else round(bore.depth, 3),
        bore.through,
        bore.sloped,
        round(bore.angle_deg, 3),
        bore.stage,
    )


def name_kinds(panels: Iterable[PanelViews]) -> Mapping[HoleKind, str]:
    """Return the letter of every kind: narrow before wide, shallow before deep."""
    kinds = {hole_kind(bore) for panel in panels for view in panel.views for bore in view.bores}
    names = (
        _LETTERS[n % len(_LETTERS)] * (n // len(_LETTERS) + 1) for n in islice(count(), len(kinds))
    )
    return dict(zip(sorted(kinds), names, strict=True))
