"""Legs of one's own on hanger bolts: a post of timber and a rod that is bought."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.diagnostics import Severity
from kdkit.inspect import inspect_product
from kdkit.plan import make_plan
from kdkit.plan.plan import Plan
from tests.bore_axes import bore_axis
from tests.boxes import Made
from tests.products import made
from tests.replay import replay

BENCH = """\
kdkit: 1
product: Bench on legs
boards:
  seat: {material: particleboard-p2, thickness: 22}
  wood: {material: beech, thickness: 45}
panels:
  seat: {board: seat, title: Seat, x: [0, 600], y: [0, 400], z: {from: 300}}
  post: {board: wood, title: Front leg, x: [40, 85], y: {from: 40}, z: [0, seat.z0]}
  other: {board: wood, title: Front leg, x: [515, 560], y: {from: 40}, z: [0, seat.z0]}
bought:
  rod:
    title: Rear leg
    shape: cylinder
    x: [277, 323]
    y: [320, 366]
    z: [0, seat.z0]
    mass: 0.36
joints:
  - {join: [post, other, rod], to: seat, fittings: [leg-with-hanger-bolt-m8]}
"""


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(tmp_path_factory.mktemp("bench"), BENCH)


def test_a_leg_takes_one_bolt_in_the_middle_of_its_end(bench: Made) -> None:
    _, assembly, joinery, _ = bench
    found = {}
    for bore in joinery.bores:
        mouth, bottom = bore_axis(bore, assembly.part(bore.part).frame)
        found[bore.part, bore.fastener] = tuple(round(c, 3) for c in mouth)
        assert abs(bottom[2] - mouth[2]) == pytest.approx(bore.depth)
    assert sorted(m for (part, _), m in found.items() if part == "seat") == [
        (62.5, 62.5, 300.0),
        (300.0, 343.0, 300.0),
        (537.5, 62.5, 300.0),
    ]
    for (part, fastener), mouth in found.items():
        assert mouth == found["seat", fastener], part


def test_the_bolt_stands_in_leg_and_insert(bench: Made) -> None:
    _, _, joinery, catalogue = bench
    for fastener in joinery.fasteners:
        reach = {
            item.item: [
                item.frame.point_to_outer((0.0, 0.0, z))[2]
                for p in catalogue.items[item.item].pieces
                for z in (p.z0, p.z1)
            ]
            for item in fastener.items
        }
        bolt, insert = reach["hanger-bolt-m8x53"], reach["threaded-insert-m8x15"]
        assert (min(bolt), max(bolt)) == pytest.approx((262.0, 315.0))
        assert (min(insert), max(insert)) == pytest.approx((300.0, 315.0))


def test_it_can_be_built(bench: Made) -> None:
    found = inspect_product(*bench)
    assert [p for p in found if p.severity is not Severity.ADVICE] == []
    plan, problems = make_plan(*bench)
    assert isinstance(plan, Plan), problems
    assert replay(bench, plan) == 3
    assert {"leg-with-hanger-bolt-m8"} == {joinery.fitting for joinery in bench[2].fasteners}


def test_a_thin_seat_is_told(tmp_path: pathlib.Path) -> None:
    found = inspect_product(*made(tmp_path, BENCH.replace("thickness: 22", "thickness: 18")))
    assert {p.code for p in found} >= {"fitting-thickness"}
