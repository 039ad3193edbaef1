"""Bores on one line of a panel, bored once.

A system row's bore that a fitting's bore falls on is not drilled twice: the fitting's bore
stays, as deep as the deeper of the two.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from kdkit.frames import Vec3, dot
from kdkit.joinery.members import Member
from kdkit.joinery.placed import Bore

__all__ = ["SHARED", "WALL", "mouths_apart", "share_bores"]

SHARED = 0.1
"""Bores nearer to each other than this are one: half the tolerance hole to hole of ±0.2.
Common practice, no source."""


WALL = 1.0  # wood between a row's bore and anything else


def share_bores(bores: Sequence[Bore], members: Mapping[str, Member]) -> tuple[Bore, ...]:
    """Return the bores in which what stands on one line of a panel is bored once.

    A spare bore gives way to the bore of a fitting or one typed by hand, which is then as
    deep as the deeper of the two if both are equally wide, and goes through if the spare
    one does and no other fitting has a bore on that line. Bores of two fittings on one line
    are left as they are: the checks tell of them.
    """
    lines: dict[tuple[str, int], list[int]] = {}
    cells: dict[tuple[str, int, int], list[tuple[Vec3, int]]] = {}
    for n, bore in enumerate(bores):
        if abs(bore.into[2]) < 1 - 1e-6:
            continue
        x, y = math.floor(bore.mouth[0]), math.floor(bore.mouth[1])
        near = (
            found
            for dx in (-1, 0, 1)
            for dy in (-1, 0, 1)
            for found in cells.get((bore.part, x + dx, y + dy), ())
        )
        line = next((m for at, m in near if mouths_apart(at, bore.mouth) < SHARED), None)
        if line is None:
            line = n
            cells.setdefault((bore.part, x, y), []).append((bore.mouth, n))
        lines.setdefault((bore.part, line), []).append(n)
    kept: dict[int, Bore] = dict(enumerate(bores))
    for (part, _), numbers in lines.items():
        if len(numbers) > 1 and any(bores[n].spare for n in numbers):
            _share_line(kept, numbers, members[part].part.thickness)
    return tuple(kept[n] for n in sorted(kept))


def _share_line(kept: dict[int, Bore], numbers: Sequence[int], thick: float) -> None:
    held = [n for n in numbers if not kept[n].spare]
    fittings = len(held)
    for n in sorted(
        (n for n in numbers if kept[n].spare),
        key=lambda n: (not kept[n].through, -kept[n].depth, n),
    ):
        spare = kept[n]
        meets = [
            m
            for m in held
            if dot(kept[m].into, spare.into) > 0
            or spare.through
            or kept[m].through
            or kept[m].depth + spare.depth > thick - WALL
        ]
        if not meets:
            held.append(n)
            continue
        del kept[n]
        for m in meets:
            other = kept[m]
            if abs(other.diameter - spare.diameter) >= SHARED:
                continue
            if spare.through and fittings < 2:
                kept[m] = replace(other, depth=thick, through=True)
            elif dot(other.into, spare.into) > 0 and not (spare.through or other.through):
                kept[m] = replace(other, depth=max(other.depth, spare.depth))


def mouths_apart(a: Vec3, b: Vec3) -> float:
    """Return how far two mouths on one surface are apart, mm; panel coordinates."""
    return math.hypot(a[0] - b[0], a[1] - b[1])
