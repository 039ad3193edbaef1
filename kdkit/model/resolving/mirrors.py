"""What a mirrored panel takes over from its original."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kdkit.model import says
from kdkit.model.resolved import (
    Part,
)

__all__ = ["board_of", "is_loose", "with_mirrored_mates"]


def with_mirrored_mates(part: Part, own: Sequence[Part]) -> Part:
    """Return a mirror image whose bores meet the mirror images of what the original's meet.

    Where the mate has no mirror image, or several, both meet the same part.
    """
    if part.mirror_of is None or part.unit:
        return part
    bores = []
    for bore in part.bores:
        images = [other.name for other in own if bore.mate and other.mirror_of == bore.mate]
        bores.append(replace(bore, mate=images[0]) if len(images) == 1 else bore)
    return replace(part, bores=tuple(bores))


def board_of(name: str, product: says.Product) -> str:
    """Return the board of a panel, through its mirrors; layouts checked that there is one."""
    panel = product.panels[name]
    while panel.mirror is not None:
        panel = product.panels[panel.mirror]
    assert panel.board is not None
    return panel.board


def is_loose(name: str, product: says.Product) -> bool:
    panel = product.panels[name]
    while panel.mirror is not None and "loose" not in panel.model_fields_set:
        panel = product.panels[panel.mirror]
    return panel.loose
