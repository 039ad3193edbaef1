"""Laws of the schedules over random bookcases, from definition to list."""

from __future__ import annotations

from collections import Counter
from itertools import combinations
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kdkit.catalogue import load_catalogue
from kdkit.catalogue.alike import are_lookalikes
from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from kdkit.model import resolve
from kdkit.model.says import Product
from kdkit.plan import make_plan
from kdkit.plan.plan import Plan
from kdkit.publish import Results
from kdkit.schedule import Schedules, make_schedules
from tests.conservation import conserved

FITTINGS = ("cam-and-bolt", "dowel-8x35", "connecting-screw-7x50")


@st.composite
def bookcases(draw: st.DrawFn) -> dict[str, Any]:
    """A carcass with shelves, a fitting for each joint, perhaps a back and a loose shelf."""
    height = draw(st.integers(600, 1400))
    depth = draw(st.integers(220, 380))
    shelves = draw(st.integers(0, 2))
    panels: dict[str, Any] = {
        "left": {
            "board": "carcass",
            "x": {"from": 0},
            "y": [0, depth],
            "z": [0, height],
            "face": "+x",
            "grain": "z",
            "bands": draw(st.sampled_from([{}, {"front": 1}, {"front": 2, "top": 0.4}])),
        },
        "right": {"mirror": "left", "x": {"to": draw(st.integers(400, 900))}},
    }
    levels = {"bottom": 40, "top": height - 18}
    levels |= {f"shelf_{n}": 40 + (n + 1) * (height - 58) // (shelves + 1) for n in range(shelves)}
    for name, level in levels.items():
        panels[name] = {
            "board": "carcass",
            "x": ["left.x1", "right.x0"],
            "y": [0, depth],
            "z": {"from": level},
            "face": "-z",
            "grain": "x",
        }
    chosen = draw(st.lists(st.sampled_from(FITTINGS), min_size=1, max_size=2, unique=True))
    places = {"cam-and-bolt": [60, -60], "dowel-8x35": [105, -105]}
    joints: list[dict[str, Any]] = [
        {
            "join": list(levels),
            "to": ["left", "right"],
            "fittings": [
                {"fitting": key, "at": places.get(key, [60, -60] if len(chosen) == 1 else [150])}
                for key in chosen
            ],
        }
    ]
    if draw(st.booleans()):
        panels["back"] = {
            "board": "back",
            "x": [2, "right.x1 - 2"],
            "y": {"from": depth},
            "z": [42, height - 2],
            "face": "+y",
        }
        joints.append(
            {
                "join": "back",
                "to": ["left", "right", *levels],
                "fittings": [{"fitting": "back-nailed"}],
            }
        )
    return {
        "product": "Random bookcase",
        "boards": {
            "carcass": {"material": "particleboard-p2", "thickness": 18},
            "back": {"material": "hardboard", "thickness": 3},
        },
        "panels": panels,
        "joints": joints,
        "bag_by": draw(st.sampled_from(["stage", "kind"])),
        "bags": draw(st.sampled_from([{}, {"Own": [chosen[0]]}])),
    }


def work_out(data: dict[str, Any]) -> Results:
    catalogue, _ = load_catalogue()
    resolved, problems = resolve(Product.model_validate(data))
    assert resolved is not None, problems
    assembly, problems = assemble(resolved)
    assert assembly is not None, problems
    assert catalogue is not None
    joinery, problems = place_fittings(resolved, assembly, catalogue)
    assert joinery is not None, problems
    plan, problems = make_plan(resolved, assembly, joinery, catalogue)
    assert isinstance(plan, Plan), problems
    made: Schedules = make_schedules(resolved, assembly, joinery, catalogue, plan)
    return Results(
        resolved=resolved,
        catalogue=catalogue,
        assembly=assembly,
        joinery=joinery,
        plan=plan,
        schedules=made,
        figures={},
    )


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(bookcases())
def test_the_schedules_agree_with_the_joints_and_the_steps(data: dict[str, Any]) -> None:
    results = work_out(data)
    made = results.schedules

    # Hardware over joints = over steps and workshop = in the list, item by item.
    placed = Counter(i.item for f in results.joinery.fasteners for i in f.items)
    stepped = Counter[str]()
    for step in results.plan.steps:
        stepped.update(step.items)
    assert {line.item: line.quantity for line in made.hardware} == dict(placed)
    for line in made.hardware:
        assert sum(line.per_joint.values()) == line.quantity
        assert sum(line.per_step.values()) + line.workshop == line.quantity
        assert stepped[line.item] == line.quantity - line.workshop

    # What is bored for is fitted, is taken in steps, lies in bags; lookalikes never in one.
    assert conserved(results) == []
    for bag in made.bags:
        items = [results.catalogue.items[line.item] for line in bag.items]
        assert not any(are_lookalikes(a, b) for a, b in combinations(items, 2))
        assert bag.weighs

    # Every part has one letter, and a letter's quantity is its parts.
    parts = [p for line in (*made.cut, *made.bought) for p in line.parts]
    assert sorted(parts) == sorted(p.name for p in results.resolved.parts)
    assert all(line.quantity == len(line.parts) for line in made.cut)

    # Pairs are mutual, neighbours, of one size, and show the same numbers.
    cuts = {line.letter: line for line in made.cut}
    drilled = {panel.letter: panel for panel in made.drilling}
    letters = list(cuts)
    for line in made.cut:
        if line.pair is not None:
            other = cuts[line.pair]
            assert other.pair == line.letter
            assert abs(letters.index(line.letter) - letters.index(other.letter)) == 1
            numbers = [
                sorted(
                    (round(b.x, 3), round(b.y, 3), b.diameter, round(b.depth, 3), b.stage)
                    for b in drilled[letter].bores
                )
                for letter in (line.letter, other.letter)
            ]
            assert numbers[0] == numbers[1]
    assert {"left", "right"} <= {p for line in made.cut if line.pair for p in line.parts} or (
        "left" in next(line.parts for line in made.cut if "right" in line.parts)
    )

    # All bores of a letter's panel are listed, on the board.
    for panel in made.drilling:
        line = cuts[panel.letter]
        own = [b for b in results.joinery.bores if b.part == line.parts[0]]
        assert len(panel.bores) == len(own)
        for bore in panel.bores:
            along = line.finished if bore.surface in ("face", "back") else None
            if along is not None:
                assert -0.01 <= bore.x <= along[0] + 0.01
                assert -0.01 <= bore.y <= along[1] + 0.01
            else:
                assert 0 <= bore.y <= line.thickness

    # Cut sizes are the finished ones without the bands.
    for line in made.cut:
        off_length = sum(line.bands.get(side, 0.0) for side in line.x_ends)
        off_width = sum(line.bands.get(side, 0.0) for side in line.y_ends)
        assert abs(line.finished[0] - line.cut[0] - off_length) < 1e-9
        assert abs(line.finished[1] - line.cut[1] - off_width) < 1e-9
