"""Every piece of hardware has room: it lies in a bore of its own fastener, or in the open."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from kdkit.catalogue import Fitting, Piece
from kdkit.catalogue.formulas import with_items
from kdkit.frames import Frame
from kdkit.joinery.placed import Fastener, Joinery, Slot
from kdkit.model.resolved import Part
from tests.bore_axes import bore_axis
from tests.boxes import board
from tests.cabinets import built_in, fixture, joint, place, use
from tests.samples import make_boards

CATALOGUE = built_in()
SELF_MADE = ("nail-1.4x25", "nail-2.5x55", "wall-anchor")  # they make their own way
JOINTS = sorted(n for n, f in CATALOGUE.fittings.items() if f.kind == "joint" and f.items)
FIXTURES = sorted(n for n, f in CATALOGUE.fittings.items() if f.kind == "fixture")


def thickness(limits: tuple[float, float] | None, at: float) -> float:
    """A thickness within the limits: the least, or 18 if that is allowed."""
    low, high = limits or (18.0, 18.0)
    return low if at == 0 else min(max(18.0, low), high)


def inside(part: Part, p: NDArray[np.float64]) -> bool:
    """Tell whether a point of the product lies in a rectangular board."""
    x, y, z = part.frame.point_to_inner((float(p[0]), float(p[1]), float(p[2])))
    length, width = (max(c) for c in zip(*part.outline, strict=True))
    low = 1e-6
    return low < x < length - low and low < y < width - low and -part.thickness + low < z < -low


def in_a_bore(joinery: Joinery, parts: dict[str, Part], p: NDArray[np.float64]) -> bool:
    for bore in joinery.bores:
        start, end = (np.array(e) for e in bore_axis(bore, parts[bore.part].frame))
        along = (end - start) / bore.depth
        way = float((p - start) @ along)
        off = float(np.linalg.norm(p - start - way * along))
        if -1e-6 <= way <= bore.depth + 1e-6 and off <= bore.diameter / 2 + 1e-6:
            return True
    return False


def rim(piece: Piece, frame: Frame) -> list[NDArray[np.float64]]:
    """Points on the rim of a piece, at both ends and between."""
    points = []
    for n in range(9):
        z = piece.z0 + (piece.z1 - piece.z0) * n / 8
        d1 = piece.d0 if piece.d1 is None else piece.d1
        radius = (piece.d0 + (d1 - piece.d0) * n / 8) / 2
        for angle in np.linspace(0, 2 * np.pi, 12, endpoint=False):
            p = (radius * np.cos(angle), radius * np.sin(angle), z)
            points.append(np.array(frame.point_to_outer(p)))
    return points


def check_room(joinery: Joinery, parts: dict[str, Part], fastener: Fastener) -> int:
    checked = 0
    for placed in fastener.items:
        if placed.item in SELF_MADE:
            continue
        for piece in CATALOGUE.items[placed.item].pieces:
            if piece.kind == "lens" or (piece.kind == "box" and joinery.slots):
                checked += check_slot_room(joinery, parts, fastener, piece, placed.frame)
                continue
            if piece.surface == "thread" or piece.kind in ("box", "hexagon"):
                continue  # a thread cuts its way into a smaller pilot
            tip = piece.kind == "cone" and piece.d0 < 4 and piece.z1 < -5
            if tip:
                continue
            for p in rim(piece, placed.frame):
                if any(inside(part, p) for part in parts.values()):
                    assert in_a_bore(joinery, parts, p), (placed.item, piece, p)
                    checked += 1
    return checked


def check_slot_room(
    joinery: Joinery, parts: dict[str, Part], fastener: Fastener, piece: Piece, frame: Frame
) -> int:
    """Points on the outline of a flat piece lie in the slots of its fastener."""
    checked = 0
    for x, z in outline(piece):
        for y in (-(piece.d1 or 0.0) / 2, (piece.d1 or 0.0) / 2):
            p = np.array(frame.point_to_outer((x, y, z)))
            if not any(inside(part, p) for part in parts.values()):
                continue
            assert any(
                in_slot(slot, parts[slot.part].frame.point_to_inner((p[0], p[1], p[2])))
                for slot in joinery.slots
                if slot.fastener == fastener.id
            ), (piece, p)
            checked += 1
    return checked


def outline(piece: Piece) -> list[tuple[float, float]]:
    """Points on a flat piece's outline, in (x, z)."""
    middle, rise, half = (piece.z0 + piece.z1) / 2, (piece.z1 - piece.z0) / 2, piece.d0 / 2
    if piece.kind == "box":
        return [(a * half, middle + b * rise) for a in (-1, 0, 1) for b in (-1, 0.5, 1)]
    radius = (half**2 + rise**2) / (2 * rise)
    xs = np.linspace(-half, half, 21)
    heights = np.sqrt(radius**2 - xs**2) - (radius - rise)
    return [(float(x), middle + s * float(h)) for x, h in zip(xs, heights, strict=True)
            for s in (-1, 1)]  # fmt: skip


def in_slot(slot: Slot, p: tuple[float, float, float]) -> bool:
    """Tell whether a point of the panel lies in a slot, straight from its numbers."""
    offset = np.array(p) - np.array(slot.mouth)
    along, deep = float(offset @ np.array(slot.along)), float(offset @ np.array(slot.into))
    across = float(np.linalg.norm(
        offset - along * np.array(slot.along) - deep * np.array(slot.into)
    ))  # fmt: skip
    if across > slot.width / 2 + 1e-6 or deep < -1e-6:
        return False
    if slot.disc is not None:
        return bool(np.hypot(along, deep - slot.depth + slot.disc / 2) <= slot.disc / 2 + 1e-6)
    return deep <= slot.depth + 1e-6 and abs(along) <= (slot.length - slot.width) / 2 + 1e-6


@pytest.mark.parametrize("at", [0, 1])
@pytest.mark.parametrize("key", JOINTS)
def test_joint_hardware_has_room(key: str, at: int) -> None:
    limits = CATALOGUE.fittings[key].limits
    t_butting = thickness(limits.butting_thickness, at)
    t_receiving = thickness(limits.receiving_thickness, at)
    boards = make_boards(key, t_butting, t_receiving)
    joinery, assembly = place(boards, [joint("shelf", "side", use(key, count=1))])
    parts = {p.name: p for p in assembly.parts}
    (fastener,) = joinery.fasteners
    checked = check_room(joinery, parts, fastener)
    rules = with_items(CATALOGUE.fittings[key])
    if any(i.item not in SELF_MADE and _has_plain_inside(i.item) for i in rules.items):
        assert checked > 20
    _check_depths(rules, joinery, parts)


def _has_plain_inside(item: str) -> bool:
    return any(
        p.surface != "thread" and p.kind == "cylinder" and p.z0 < -1
        for p in CATALOGUE.items[item].pieces
    )


def _check_depths(fitting: Fitting, joinery: Joinery, parts: dict[str, Part]) -> None:
    """No blind bore leaves less than the fitting's own skin."""
    for bore in joinery.bores:
        if bore.through or abs(bore.into[2]) < 0.5:
            continue
        skin = parts[bore.part].thickness - bore.depth
        assert skin >= fitting.limits.skin - 1e-6, (bore.purpose, skin)


@pytest.mark.parametrize("key", FIXTURES)
def test_fixture_hardware_has_room(key: str) -> None:
    limits = CATALOGUE.fittings[key].limits
    t = 40.0 if key == "levelling-foot" else thickness(limits.receiving_thickness, 0)
    plate = board("plate", (0, 0, 100), (600, 400, 100 + t))
    upright = board("plate", (0, 0, 0), (600, t, 400))
    part = (
        upright if key.startswith(("handle-", "knob-", "shelf-support", "glass-support")) else plate
    )
    at = ((300.0, 0.0, 200.0),) if part is upright else None
    joinery, assembly = place([part], (), [fixture(key, "plate", at=at)])
    parts = {p.name: p for p in assembly.parts}
    assert joinery.fasteners
    for fastener in joinery.fasteners:
        check_room(joinery, parts, fastener)
    _check_depths(CATALOGUE.fittings[key], joinery, parts)


@pytest.mark.parametrize("key", JOINTS)
def test_hardware_does_not_come_out_of_the_far_side(key: str) -> None:
    """Nothing reaches past the middle third of a board that it is not driven through."""
    limits = CATALOGUE.fittings[key].limits
    t_receiving = thickness(limits.receiving_thickness, 0)
    t_butting = thickness(limits.butting_thickness, 1)
    boards = make_boards(key, t_butting, t_receiving)
    joinery, _ = place(boards, [joint("shelf", "side", use(key, count=1))])
    for placed in joinery.fasteners[0].items:
        if placed.carrier != "side":
            continue
        deepest = min(p.z0 for p in CATALOGUE.items[placed.item].pieces)
        assert -deepest < t_receiving
