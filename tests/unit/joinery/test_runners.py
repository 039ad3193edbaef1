"""Side runners: profiles and bores on both sides of the clearance, drawers that run in last."""

from __future__ import annotations

import pathlib

import numpy as np
import pytest

from kdkit.catalogue import load_catalogue
from kdkit.definition import load_definition
from kdkit.diagnostics import Problem, Severity
from kdkit.geometry import assemble
from kdkit.inspect import inspect_product
from kdkit.joinery import place_fittings
from kdkit.model import read_product, resolve
from kdkit.plan import make_plan
from kdkit.plan.plan import OperationKind, Plan
from tests.boxes import Made
from tests.chests import chest
from tests.products import made
from tests.replay import replay


@pytest.fixture(scope="module")
def product(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(tmp_path_factory.mktemp("chest"), chest())


def problems_of(folder: pathlib.Path, text: str) -> tuple[Problem, ...]:
    file = folder / "definition.yaml"
    file.write_text(text, encoding="utf-8")
    definition, found = load_definition(file)
    assert definition is not None, found
    said, found = read_product(definition)
    assert said is not None, found
    resolved, found = resolve(said)
    assert resolved is not None, found
    catalogue, found = load_catalogue()
    assert catalogue is not None, found
    assembly, found = assemble(resolved)
    assert assembly is not None, found
    joinery, found = place_fittings(resolved, assembly, catalogue)
    if joinery is None:
        return found
    return (*found, *inspect_product(resolved, assembly, joinery, catalogue))


def mouths(product: Made, part: str, purpose: str) -> list[tuple[float, float, float]]:
    """Bore mouths in the product, from the bare numbers of frame and bore."""
    _, assembly, joinery, _ = product
    frame = assembly.part(part).frame
    axes = np.array([frame.i, frame.j, frame.k])
    found = []
    for bore in joinery.bores:
        if bore.part == part and bore.purpose == purpose:
            x, y, z = np.array(frame.origin) + np.array(bore.mouth) @ axes
            found.append((round(float(x), 3), round(float(y), 3), round(float(z), 3)))
    return sorted(found, key=lambda p: (p[2], p[1]))


def test_the_chest_has_no_fault(product: Made) -> None:
    found = inspect_product(*product)
    assert [p for p in found if p.severity is not Severity.ADVICE] == []


def test_the_carcass_is_bored_in_the_system_rows(product: Made) -> None:
    # Source: front row 37, rear row a multiple of 32 behind it, common practice, no source.
    heights = [60 + 224 * n / 2 for n in (1, 3, 5)]
    for part, x in (("left_side", 18.0), ("right_side", 582.0)):
        places = mouths(product, part, "runner screw")
        assert places == [(x, y, z) for z in heights for y in (37.0, 37.0 + 11 * 32)]


def test_the_drawer_is_bored_opposite(product: Made) -> None:
    """The drawer's pilots lie at the height of the carcass's bores, across the clearance."""
    for n in (1, 2, 3):
        for side, wall in (("left", "left_side"), ("right", "right_side")):
            here = mouths(product, f"drawer_{n}.{side}", "drawer profile screw pilot")
            there = mouths(product, wall, "runner screw")[2 * n - 2 : 2 * n]
            assert {p[2] for p in here} == {p[2] for p in there}
            assert {round(abs(p[0] - there[0][0]), 3) for p in here} == {12.75}
            assert [p[1] for p in here] == [37.0, 392.0]


def test_profiles_lie_within_the_clearance(product: Made) -> None:
    """Carcass and drawer profile, drawn as they are, neither meet nor leave their gap."""
    _, _, joinery, catalogue = product
    checked = 0
    for fastener in joinery.fasteners:
        boxes = {}
        for placed in fastener.items:
            if "profile" not in placed.item:
                continue
            frame = placed.frame
            points = [
                np.array(frame.point_to_outer((p.at[0] + a * p.d0 / 2, p.at[1] + b * y / 2, z)))
                for p in catalogue.items[placed.item].pieces
                for y in [p.d1 or p.d0]
                for a in (-1, 1)
                for b in (-1, 1)
                for z in (p.z0, p.z1)
            ]
            boxes[placed.item.split("-")[0]] = (np.min(points, axis=0), np.max(points, axis=0))
        if not boxes:
            continue
        checked += 1
        (c0, c1), (d0, d1) = boxes["carcass"], boxes["drawer"]
        low, high = (18.0, 30.75) if c0[0] < 300 else (569.25, 582.0)
        assert min(c0[0], d0[0]) == pytest.approx(low)
        assert max(c1[0], d1[0]) == pytest.approx(high)
        assert c0[1] == d0[1] == pytest.approx(2.0)
        assert c1[1] == d1[1] == pytest.approx(452.0)
        assert c0[2] < d0[2] < d1[2] < c1[2]
    assert checked == 6


def test_drawers_go_in_last_as_one_and_the_replay_agrees(product: Made) -> None:
    plan, problems = make_plan(*product)
    assert isinstance(plan, Plan), problems
    parts = len(product[1].parts)
    assert replay(product, plan) == parts - 1
    mates = [plan.operation(o) for o in plan.order if o.startswith("mate/")]
    last = mates[-3:]
    assert [len(o.parts) for o in last] == [6, 6, 6]
    for operation in last:
        assert operation.direction == (0.0, 1.0, 0.0)
    # profiles go on bare parts, before these meet anything
    for side in ("left_side", "right_side"):
        fit = plan.order.index(f"fit/{side}/carcass-profile-450")
        first = min(
            n
            for n, id in enumerate(plan.order)
            if plan.operation(id).kind is OperationKind.MATE
            and side in (*plan.operation(id).parts, *plan.operation(id).onto)
        )
        assert fit < first


def test_hardware_is_counted_once(product: Made) -> None:
    plan, problems = make_plan(*product)
    assert isinstance(plan, Plan), problems
    used: dict[str, int] = {}
    for step in plan.steps:
        for item, n in step.items.items():
            used[item] = used.get(item, 0) + n
    wanted = {
        "carcass-profile-450": 6,
        "drawer-profile-450": 6,
        "plate-screw-6.3x13": 12,
        "screw-3.5x10-pan": 12,
        "wide-head-screw-3.5x27": 6,
        "handle-128": 3,
    }
    assert {item: used.get(item) for item in wanted} == wanted


def test_a_drawer_too_wide_or_narrow_is_told_its_width(tmp_path: pathlib.Path) -> None:
    # Source: clearance 12.5 to 13 a side, common practice.
    for taken, gap, wanted in (("20", "10", "539"), ("30", "15", "538")):
        text = chest(("- 25.5", f"- {taken}"), ("x1 + 12.75", f"x1 + {gap}"))
        found = [p for p in problems_of(tmp_path, text) if p.code == "fitting-gap"]
        assert found
        assert f"is {gap} mm" in found[0].message
        assert f"it should be {wanted} mm" in found[0].help
        assert found[0].severity is Severity.ERROR


@pytest.mark.parametrize("length", [300, 350, 400, 450, 500])
def test_runner_lengths(tmp_path: pathlib.Path, length: int) -> None:
    text = chest(("[side-runner]", f"[{{fitting: side-runner, options: {{length: {length}}}}}]"))
    found = [p for p in problems_of(tmp_path, text) if p.severity is not Severity.ADVICE]
    if length <= 450:
        assert found == []
    else:
        assert {p.code for p in found} == {"runner-too-long"}
        assert "450" in found[0].help


def test_a_length_that_is_not_made(tmp_path: pathlib.Path) -> None:
    text = chest(("[side-runner]", "[{fitting: side-runner, options: {length: 420}}]"))
    found = problems_of(tmp_path, text)
    assert found[0].code == "fitting-option"
    assert "300, 350, 400, 450, 500" in found[0].help


def test_the_choice_of_parameters_keeps_the_clearance(tmp_path: pathlib.Path) -> None:
    for width in (400, 747, 900):
        text = chest(("width: {value: 600", f"width: {{value: {width}"))
        found = [p for p in problems_of(tmp_path, text) if p.severity is Severity.ERROR]
        assert found == []
