"""Slots and slanted bores as the workshop reads them, alike on both of a mirrored pair."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kdkit.schedule import make_schedules
from kdkit.schedule.schedules import DrilledPanel, SlotLine
from tests.boxes import board
from tests.cabinets import built_in, joint, place, resolved, use
from tests.samples import make_sample


def panels(key: str, t_butting: float, t_receiving: float) -> dict[str, DrilledPanel]:
    """The machining of a sample, by title."""
    sample = make_sample(key, t_butting, t_receiving)
    made = make_schedules(sample.resolved, sample.assembly, sample.joinery, sample.catalogue, None)
    return {panel.title: panel for panel in made.drilling}


def test_a_biscuit_has_a_slot_line_in_both_boards() -> None:
    found = panels("biscuit-20", 18, 18)
    shelf, side = found["Shelf"].slots, found["Side"].slots
    assert len(shelf) == len(side) == 2
    length = 2 * math.sqrt(12.5 * 87.5)  # the chord of a disc of 100 plunged in by 12.5
    for slot in (*shelf, *side):
        assert (slot.width, slot.depth, slot.disc) == (4, 12.5, 100)
        assert math.dist(slot.start, slot.end) == pytest.approx(length)
        assert (slot.purpose, slot.stage) == ("biscuit slot", "workshop")
    assert all(s.surface.startswith("edge:") for s in shelf)
    assert all(s.surface == "face" for s in side)
    # from the face: the middle of the edge; along it 60 from either end
    assert {(s.start[1], s.end[1]) for s in shelf} == {(9, 9)}
    middles = sorted((s.start[0] + s.end[0]) / 2 for s in shelf)
    assert middles == pytest.approx([60, 240])


def test_doubled_biscuits_lie_a_third_of_the_thickness_apart() -> None:
    found = panels("biscuit-20-doubled", 30, 18)
    assert sorted({s.start[1] for s in found["Shelf"].slots}) == pytest.approx([10, 20])
    assert len(found["Side"].slots) == len(found["Shelf"].slots) == 4


def test_a_mortise_has_no_disc() -> None:
    (slot, *_) = panels("loose-tenon-6x20x40", 18, 18)["Side"].slots
    assert (slot.width, slot.depth, slot.disc) == (6, 14, None)
    assert math.dist(slot.start, slot.end) == pytest.approx(26)


def test_a_pocket_says_its_angle_and_where_it_leans() -> None:
    shelf = panels("pocket-screw-4x32", 18, 60)["Rail"]
    for bore in shelf.bores:
        assert bore.angle_deg == pytest.approx(15)
        assert bore.towards_deg is not None
    pocket = next(b for b in shelf.bores if b.purpose == "pocket")
    pilot = next(b for b in shelf.bores if b.purpose == "screw pilot")
    assert (pocket.x, pocket.y, pocket.surface) == (pilot.x, pilot.y, pilot.surface)
    assert (pocket.diameter, pocket.through, pilot.through) == (9.5, False, True)


def test_sides_with_slots_are_a_mirrored_pair_with_the_same_numbers() -> None:
    left = board("left", (0, 0, 0), (18, 300, 800))
    right = board("right", (582, 0, 0), (600, 300, 800))
    shelf = board("shelf", (18, 0, 200), (582, 300, 218))
    parts = [left, right, shelf]
    joints = [
        joint("shelf", to, use("biscuit-20", at=(80.0, 180.0), opens="-z"))
        for to in ("left", "right")
    ]
    joinery, assembly = place(parts, joints)
    product = resolved(parts, joints)
    made = make_schedules(product, assembly, joinery, built_in(), None)
    lines = {line.parts: line for line in made.cut}
    one, other = lines[("left",)], lines[("right",)]
    assert (one.pair, other.pair) == (other.letter, one.letter)
    drilled = {panel.letter: panel for panel in made.drilling}
    assert _numbers(drilled[one.letter].slots) == _numbers(drilled[other.letter].slots)
    bare = make_schedules(product, assembly, replace(joinery, slots=()), built_in(), None)
    assert ("left", "right") in {line.parts for line in bare.cut}


def _numbers(slots: tuple[SlotLine, ...]) -> list[tuple[float, ...]]:
    return [(*s.start, *s.end, s.width, s.depth) for s in slots]
