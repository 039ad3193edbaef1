"""Hanging rails: sockets round the tube, a hook in the middle of a long one."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.diagnostics import Problem, Severity
from kdkit.inspect import inspect_product
from kdkit.plan import make_plan
from kdkit.plan.plan import Plan
from tests.products import made
from tests.replay import replay

WARDROBE = """\
kdkit: 1
product: Carcass with a hanging rail
boards:
  carcass: {{material: particleboard-p2, thickness: 18}}
panels:
  left: {{board: carcass, title: Left side, x: {{from: 0}}, y: [0, 500], z: [0, 900], face: +x}}
  right: {{mirror: left, title: Right side, x: {{to: {width}}}}}
  top: {{board: carcass, title: Top, x: [left.x1, right.x0], y: [0, 500], z: {{to: 900}}}}
  bottom: {{board: carcass, title: Bottom, x: [left.x1, right.x0], y: [0, 500], z: {{from: 0}}}}
bought:
  rail:
    title: Hanging rail
    shape: tube
    x: [left.x1 + 3, right.x0 - 3]
    y: [250 - {d} / 2, 250 + {d} / 2]
    z: [top.z0 - 60 - {d} / 2, top.z0 - 60 + {d} / 2]
    wall: 1.5
    mass: 1.1
joints:
  - join: [top, bottom]
    to: [left, right]
    fittings: [{{fitting: cam-and-bolt, at: [60, 200, -60]}}, {{fitting: dowel-8x30, ends: 110}}]
  - {{join: rail, to: [left, right], fittings: [{socket}]}}
"""
HOOK = """\
fixtures:
  - {fitting: rail-hook-60, on: top, at: [[618, 250, 882]], carries: rail}
"""
SOCKETS = ("rail-socket-closed-25", "rail-socket-open-25")


def text(socket: str, *, width: float = 1236, d: float = 25, hook: bool = True) -> str:
    return WARDROBE.format(socket=socket, width=width, d=d) + (HOOK if hook else "")


def about_rails(folder: pathlib.Path, said: str) -> list[Problem]:
    return [p for p in inspect_product(*made(folder, said)) if p.code.startswith("rail")]


@pytest.mark.parametrize("socket", SOCKETS)
def test_a_rail_between_sockets_has_no_fault(tmp_path: pathlib.Path, socket: str) -> None:
    problems = inspect_product(*made(tmp_path, text(socket)))
    assert [p for p in problems if p.severity is not Severity.ADVICE] == []


@pytest.mark.parametrize("socket", SOCKETS)
def test_a_long_rail_wants_a_hook(tmp_path: pathlib.Path, socket: str) -> None:
    # Source: from about 1000 a rail wants a support in the middle, common practice.
    (told,) = about_rails(tmp_path, text(socket, hook=False))
    assert told.code == "rail-unsupported"
    assert "1200 mm" in told.message
    assert about_rails(tmp_path, text(socket)) == []
    assert about_rails(tmp_path, text(socket, width=1030, hook=False)) == []


def test_a_rail_of_another_thickness_is_told(tmp_path: pathlib.Path) -> None:
    problems = about_rails(tmp_path, text(SOCKETS[0], d=20))
    assert [(p.code, p.where) for p in problems] == [
        ("rail-diameter", "rail to left, and 1 more like it")
    ]


@pytest.mark.parametrize("socket", SOCKETS)
def test_the_sockets_stand_round_the_rail(tmp_path: pathlib.Path, socket: str) -> None:
    _, assembly, joinery, _ = made(tmp_path, text(socket))
    sockets = [i for f in joinery.fasteners for i in f.items if i.item == socket]
    places = sorted(tuple(round(c, 3) for c in i.frame.origin) for i in sockets)
    assert places == [(18.0, 250.0, 822.0), (1218.0, 250.0, 822.0)]
    pilots = sorted(
        tuple(round(c, 3) for c in assembly.part(b.part).frame.point_to_outer(b.mouth))
        for b in joinery.bores
        if b.purpose == "socket screw pilot"
    )
    assert pilots == [(x, 250.0, z) for x in (18.0, 1218.0) for z in (799.0, 845.0)]


@pytest.mark.parametrize("socket", SOCKETS)
def test_a_closed_socket_takes_the_rail_before_the_carcass_closes(
    tmp_path: pathlib.Path, socket: str
) -> None:
    product = made(tmp_path, text(socket))
    plan, problems = make_plan(*product)
    assert isinstance(plan, Plan), problems
    assert replay(product, plan) == 4
    order = [o for o in plan.order if o.startswith("mate/")]
    rail, right = order.index("mate/rail"), max(order.index("mate/right"), 0)
    assert (rail < right) == (socket == "rail-socket-closed-25")
    items: dict[str, int] = {}
    for step in plan.steps:
        for item, n in step.items.items():
            items[item] = items.get(item, 0) + n
    assert items[socket] == 2
    assert items["rail-hook-60"] == 1
    assert items.get("rail-clip-25", 0) == (2 if socket == "rail-socket-open-25" else 0)
