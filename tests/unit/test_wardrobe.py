"""The wardrobe: nine drawers, two doors, more than sixty parts, from definition to programs."""

from __future__ import annotations

import itertools
import pathlib
from collections import Counter

import pytest

from kdkit.frames import distance, dot, scaled
from kdkit.plan.plan import OperationKind
from kdkit.publish.results import Results
from tests.product_files import results_of
from tests.replay import replay

FILE = pathlib.Path(__file__).parent.parent.parent / "examples" / "wardrobe.yaml"


@pytest.fixture(scope="module")
def results() -> Results:
    return results_of("wardrobe")


def test_it_has_nine_drawers_two_doors_and_more_than_sixty_parts(results: Results) -> None:
    assert len(results.resolved.parts) > 60
    units = Counter(unit.title for unit in results.resolved.units)
    assert units == {"Drawer": 9, "Drawer box": 9}
    assert Counter(p.title for p in results.resolved.parts)["Door"] == 2


def test_hardware_adds_up(results: Results) -> None:
    placed = Counter(i.item for f in results.joinery.fasteners for i in f.items)
    listed = {line.item: line.quantity for line in results.schedules.hardware}
    assert listed == placed
    over_steps: Counter[str] = Counter()
    for step in results.plan.steps:
        over_steps.update(step.items)
    assert over_steps == placed
    assert placed["drawer-profile-500"] == placed["carcass-profile-500"] == 2 * 9
    # Source: hinges by door height, 3 up to 1600: common practice, no source.
    assert placed["cup-hinge-overlay-35"] == placed["mounting-plate-h2"] == 2 * 3


def test_drawers_are_told_once_and_go_in_after_the_wall_is_fixed(results: Results) -> None:
    plan = results.plan
    assert len(plan.steps) < 45
    assert {s.times for s in plan.steps if s.subassembly.startswith("Drawer box")} == {9}
    rank = {id: n for n, id in enumerate(plan.order)}
    assert all(rank[p.before] < rank[p.after] for p in plan.precedences)
    (secure,) = (o for o in plan.operations if o.kind is OperationKind.SECURE)
    moved = [
        o
        for o in plan.operations
        if o.kind is OperationKind.MATE
        and not o.subassembly
        and any("." in part or part.endswith("door") for part in o.parts)
    ]
    assert len(moved) == 9 + 2
    assert all(rank[o.id] > rank[secure.id] for o in moved)


def test_the_plan_replays(results: Results) -> None:
    made = (results.resolved, results.assembly, results.joinery, results.catalogue)
    assert replay(made, results.plan) > 60


def test_fronts_lie_on_the_grid_with_even_gaps(results: Results) -> None:
    """Heights 32n less the gap; common practice, no source."""
    spans = {}
    for part in results.resolved.parts:
        if part.title in ("Drawer front", "Door"):
            zs = [
                part.frame.point_to_outer((x, y, z))[2]
                for x, y in part.outline
                for z in (0.0, -part.thickness)
            ]
            spans[part.name] = (min(zs), max(zs))
    assert len(spans) == 9 + 2
    for low, high in spans.values():
        assert (high - low + 3) % 32 == pytest.approx(0, abs=1e-6)
    for bay in ("left", "middle", "right"):
        column = [spans[f"{bay}_{n}.front"] for n in (1, 2, 3)] + [spans["left_door"]]
        for below, above in itertools.pairwise(column):
            assert above[0] - below[1] == pytest.approx(3)


def test_every_bore_with_a_mate_meets_it(results: Results) -> None:
    """In product coordinates: the bores of one fastener with one mate word share a line."""
    lines: dict[tuple[str, str], list[tuple[object, object]]] = {}
    parts = {p.name: p for p in results.resolved.parts}
    for bore in results.joinery.bores:
        if bore.fastener is None or bore.mate is None:
            continue
        frame = parts[bore.part].frame
        lines.setdefault((bore.fastener, bore.mate), []).append(
            (frame.point_to_outer(bore.mouth), frame.vector_to_outer(bore.into))
        )
    several = [found for found in lines.values() if len(found) > 1]
    assert len(several) > 150
    for (p, u), *rest in several:
        for q, v in rest:
            between = tuple(b - a for a, b in zip(p, q, strict=True))  # type: ignore[call-overload]
            along = dot(between, u)  # type: ignore[arg-type]
            off = distance(between, scaled(u, along))  # type: ignore[arg-type]
            assert off < 0.01
            assert abs(dot(u, v)) == pytest.approx(1.0, abs=1e-9)  # type: ignore[arg-type]


def test_runners_lie_level_opposite_each_other(results: Results) -> None:
    """Both profiles of a pair at one height, 12.5 to 13 apart: common practice, no source."""
    frames = {
        (f.id, i.item.split("-")[0]): i.frame
        for f in results.joinery.fasteners
        for i in f.items
        if i.item in ("carcass-profile-500", "drawer-profile-500")
    }
    pairs = {id for id, _ in frames}
    assert len(pairs) == 18
    for id in pairs:
        carcass, drawer = frames[id, "carcass"], frames[id, "drawer"]
        assert carcass.origin[2] == pytest.approx(drawer.origin[2])
        assert carcass.origin[1] == pytest.approx(drawer.origin[1])
        assert 12.5 <= abs(carcass.origin[0] - drawer.origin[0]) <= 13
        assert dot(carcass.k, drawer.k) == pytest.approx(-1)
