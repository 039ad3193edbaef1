"""What a packed carton must obey, judged from the boxes alone by code that packs nothing."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import pytest

from kdkit.schedule.packing import Carton, Packing, Piece

NEAR = 0.03  # mm; the packing library counts in hundredths
SUPPORTED = 0.85
"""Of a piece's underside: gaps narrower than a filling are left open."""


def broken_rules(packing: Packing, pieces: Sequence[Piece]) -> list[str]:
    """Return in words every rule that some cartons break."""
    found = [said for carton in packing.cartons for said in _of_carton(carton)]
    packed = [p.piece for carton in packing.cartons for p in carton.placed]
    if sorted(map(id, packed)) != sorted(map(id, pieces)):
        found.append("not every piece is packed once")
    if [c.number for c in packing.cartons] != list(range(1, len(packing.cartons) + 1)):
        found.append("the cartons are not numbered in order")
    hardware = [n for n, c in enumerate(packing.cartons) if c.has_hardware]
    if any(piece.is_hardware for piece in pieces) and hardware != [0]:
        found.append("the hardware is not in the first carton")
    return found


def _of_carton(carton: Carton) -> Iterator[str]:
    rules, name = carton.rules, f"carton {carton.number}"
    length, width, height = carton.contents
    boxes = [(p.piece.mark, p.box, False) for p in carton.placed]
    boxes += [("void", v.box, True) for layer in carton.layers for v in layer.voids]
    for mark, box, _ in boxes:
        if min(box[:3]) < -NEAR or any(
            box[n + 3] > most + NEAR for n, most in enumerate((length, width, height))
        ):
            yield f"{name}: {mark} reaches out of the contents"
    for (one, a, _), (other, b, _) in itertools.combinations(boxes, 2):
        if all(a[n] < b[n + 3] - NEAR and b[n] < a[n + 3] - NEAR for n in range(3)):
            yield f"{name}: {one} and {other} fill one place"
    for placed in carton.placed:
        a, sizes = placed.box, sorted(placed.piece.size[:2])
        if sorted((a[3] - a[0], a[4] - a[1])) != pytest.approx(sizes, abs=NEAR):
            yield f"{name}: {placed.piece.mark} has another size than its place"
        if a[5] - a[2] != pytest.approx(placed.piece.size[2]):
            yield f"{name}: {placed.piece.mark} does not lie flat"
        if a[2] < rules.interleaf - 1e-6:
            yield f"{name}: no interleaf under {placed.piece.mark}"
        for other in carton.placed:
            b = other.box
            over = other is not placed and _shared(a, b) > 0 and a[5] > b[5]
            if over and a[2] - b[5] < rules.interleaf - 1e-6:
                yield f"{name}: no interleaf between {placed.piece.mark} and {other.piece.mark}"
        if a[2] > rules.interleaf + NEAR:
            below = [
                box
                for _, box, _ in boxes
                if -NEAR <= a[2] - rules.interleaf - box[5] <= rules.level + NEAR
            ]
            area = (a[3] - a[0]) * (a[4] - a[1])
            borne = sum(_shared(a, box) for box in below)
            bridged = [_wider(box, rules.least_void) for box in below]  # what no void fills
            small = min(a[3] - a[0], a[4] - a[1]) < 10 * rules.least_void
            if small and borne >= area / 2:
                borne = sum(_shared(a, box) for box in bridged)
            if borne < SUPPORTED * area:
                yield f"{name}: {placed.piece.mark} hangs over what is below it"
    if carton.gross_kg > rules.most_mass + 1e-9 and len(carton.placed) > 1:
        yield f"{name}: heavier than was asked"
    yield from _order(carton)


def _order(carton: Carton) -> Iterator[str]:
    name, layers = f"carton {carton.number}", list(carton.layers)
    if carton.has_hardware:
        top = layers.pop()
        if not any(p.piece.is_hardware for p in top.placed):
            yield f"{name}: the hardware is not on top"
    masses = [sum(p.piece.mass_kg for p in layer.placed) for layer in layers]
    needed = [min(p.piece.first for p in layer.placed) for layer in layers]
    heavy = [mass >= max(masses) / 2 for mass in masses]
    if sorted(heavy, reverse=True) != heavy:
        yield f"{name}: a heavy layer lies over a light one"
    for n in range(1, len(layers)):
        if heavy[n] == heavy[n - 1] and needed[n] > needed[n - 1]:
            yield f"{name}: layer {n} is needed before layer {n + 1}, which lies on it"


def _wider(box: Sequence[float], by: float) -> tuple[float, ...]:
    x0, y0, z0, x1, y1, z1 = box
    return x0 - by, y0 - by, z0, x1 + by, y1 + by, z1


def _shared(a: Sequence[float], b: Sequence[float]) -> float:
    wide = min(a[3], b[3]) - max(a[0], b[0])
    deep = min(a[4], b[4]) - max(a[1], b[1])
    return wide * deep if wide > NEAR and deep > NEAR else 0.0
