"""Laws of contacts: rigid motion, the order of parts, and how large they can be."""

from __future__ import annotations

import math
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from kdkit.frames import Frame, Vec3, cross, dot, unit
from kdkit.geometry import Assembly, assemble, contact_between
from kdkit.geometry.surfaces import surfaces_of
from kdkit.model.resolved import Part
from tests.boxes import board
from tests.cabinets import carcass, resolved

coordinate = st.integers(-6, 6).map(lambda n: n * 20.0)
size = st.integers(1, 6).map(lambda n: n * 20.0)
boxes = st.tuples(coordinate, coordinate, coordinate, size, size, size)
angle = st.floats(-math.pi, math.pi)
motions = st.tuples(angle, angle, angle, st.tuples(*[st.floats(-2000, 2000)] * 3))


def parts_of(drawn: list[tuple[float, ...]]) -> tuple[Part, ...]:
    found = []
    for n, (x, y, z, a, b, c) in enumerate(drawn):
        found.append(board(f"part{n}", (x, y, z), (x + a, y + b, z + c)))
    return tuple(found)


def frame_of(motion: tuple[float, float, float, Vec3]) -> Frame:
    yaw, pitch, roll, origin = motion
    i = (math.cos(yaw) * math.cos(pitch), math.sin(yaw) * math.cos(pitch), math.sin(pitch))
    flat = (-math.sin(yaw), math.cos(yaw), 0.0)
    up = cross(i, flat)
    c, s = math.cos(roll), math.sin(roll)
    j = unit(tuple(c * a + s * b for a, b in zip(flat, up, strict=True)))  # type: ignore[arg-type]
    i = unit(i)
    j = unit(tuple(b - dot(i, j) * a for a, b in zip(i, j, strict=True)))  # type: ignore[arg-type]
    return Frame(origin, i, j, cross(i, j))


def assembled(parts: tuple[Part, ...]) -> Assembly:
    assembly, problems = assemble(resolved(parts))
    assert assembly is not None, problems
    return assembly


def essence(assembly: Assembly) -> list[tuple[object, ...]]:
    """What does not change when the whole product is moved."""
    return sorted(
        (c.butting, c.butting_surface, c.receiving, c.receiving_surface, c.kind.value,
         round(c.area, 2) + 0.0, round(c.sunk, 3) + 0.0, round(c.run, 3), round(c.width, 3))
        for c in assembly.contacts
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(boxes, min_size=2, max_size=6), motions)
def test_moving_the_product_moves_its_contacts(
    drawn: list[tuple[float, ...]], motion: tuple[float, float, float, Vec3]
) -> None:
    parts, frame = parts_of(drawn), frame_of(motion)
    moved = tuple(replace(p, frame=frame.frame_to_outer(p.frame)) for p in parts)
    still, turned = assembled(parts), assembled(moved)
    assert essence(still) == essence(turned)
    places = [frame.vector_to_outer(c.frame.k) for c in still.contacts]
    for k, contact in zip(places, turned.contacts, strict=True):
        found = contact_between(turned, contact.butting, contact.receiving)
        assert any(abs(dot(k, other.frame.k)) > 1 - 1e-6 for other in found)


@settings(max_examples=60, deadline=None)
@given(st.lists(boxes, min_size=2, max_size=6), st.randoms(use_true_random=False))
def test_the_order_of_parts_changes_nothing(drawn: list[tuple[float, ...]], rng: object) -> None:
    parts = list(parts_of(drawn))
    first = assembled(tuple(parts)).contacts
    rng.shuffle(parts)  # type: ignore[attr-defined]
    assert assembled(tuple(parts)).contacts == first


@settings(max_examples=60, deadline=None)
@given(st.lists(boxes, min_size=2, max_size=6))
def test_a_contact_is_no_larger_than_either_surface(drawn: list[tuple[float, ...]]) -> None:
    assembly = assembled(parts_of(drawn))
    for contact in assembly.contacts:
        for name, surface in (
            (contact.butting, contact.butting_surface),
            (contact.receiving, contact.receiving_surface),
        ):
            (whole,) = [s for s in surfaces_of(assembly.part(name)) if s.name == surface]
            assert contact.area <= whole.polygon.area * (1 + 1e-9)


@settings(max_examples=25, deadline=None)
@given(motions)
def test_a_carcass_keeps_its_contacts_in_any_posture(
    motion: tuple[float, float, float, Vec3],
) -> None:
    still = assembled(carcass())
    frame = frame_of(motion)
    moved = tuple(replace(p, frame=frame.frame_to_outer(p.frame)) for p in carcass())
    assert essence(assembled(moved)) == essence(still)
    assert len(still.contacts) == 8
