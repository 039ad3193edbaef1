"""Choosing a joint: what is offered and what is ruled out agrees with the whole program."""

from __future__ import annotations

import pathlib
from dataclasses import replace
from functools import lru_cache

import pytest

from kdkit.catalogue import load_catalogue
from kdkit.definition import load_definition
from kdkit.diagnostics import Severity
from kdkit.joinery.spread import spread_by_rule
from kdkit.joint_choice import choose
from kdkit.model import FittingUse, read_product, resolve
from kdkit.model.resolved import Resolved
from kdkit.model.says import SystemRows
from kdkit.pipeline import Request, check
from kdkit.samples import Pair, Stock, sample_product
from kdkit.samples.choose import Choice, Chosen, choose_between_boards, find_pair
from kdkit.samples.products import joint_product
from tests.cabinets import built_in

ROOT = pathlib.Path(__file__).parent.parent.parent.parent
CATALOGUE = built_in()
BOARD = Stock(material="particleboard-p2", thickness=18)
CORNER = Pair(butting=BOARD, receiving=BOARD, contact="edge-face")


@lru_cache(maxsize=8)
def chosen(pair: Pair = CORNER) -> Chosen:
    found, problems = choose_between_boards(pair, CATALOGUE)
    assert found is not None, problems
    return found


def by_name(found: Chosen) -> dict[str, Choice]:
    return {choice.fitting: choice for choice in found.choices}


def codes(choice: Choice) -> set[str]:
    return {problem.code for problem in choice.reasons}


@pytest.mark.parametrize(
    ("contact", "run"),
    [("edge-face", 300), ("edge-face", 80), ("edge-edge", 300), ("face-face", 90)],
)
def test_the_choice_says_what_a_check_says(contact: str, run: float) -> None:
    pair = replace(CORNER, contact=contact, run=run)
    for choice in chosen(pair).choices:
        if choice.fitting.startswith("flat-mitre"):
            assert choice.cost is None  # no fault, but nobody who joins square wants it
            continue
        use = FittingUse(fitting=choice.fitting, count=choice.count)
        product = joint_product(pair, (use,))
        outcome = check(Request(product=product), risks=False)
        bad = [
            p
            for p in outcome.problems
            if p.severity is not Severity.ADVICE and p.path[:1] == ("joints",)
        ]
        assert (choice.cost is not None) is (outcome.complete and not bad), choice.fitting
        if choice.cost is None:
            assert codes(choice) >= {p.code for p in bad}
            continue
        results = outcome.results
        assert results is not None
        drilled = sum(len(panel.bores) for panel in results.schedules.drilling)
        assert sum(choice.cost.bores.values()) == drilled
        assert choice.cost.items == {
            line.item: line.quantity
            for line in sorted(results.schedules.hardware, key=lambda line: line.item)
        }


def test_every_joint_of_the_catalogue_is_told_once() -> None:
    joints = sorted(
        key
        for key, f in CATALOGUE.fittings.items()
        if f.kind == "joint" and not set(f.contact) <= {"facing", "hung"}
    )
    found = chosen()
    assert sorted(c.fitting for c in found.choices) == joints
    assert all((c.cost is None) is bool(c.reasons) for c in found.choices)
    minutes = [c.cost.minutes for c in found.choices if c.cost is not None]
    assert minutes == sorted(minutes)


def test_all_reasons_are_given_at_once() -> None:
    found = by_name(chosen())
    assert codes(found["tee-nut-m6x30"]) == {"fitting-contact", "fitting-thickness"}
    assert {"fitting-thickness", "fitting-family"} <= codes(found["threaded-insert-m6x30"])
    assert codes(found["dowel-10x40"]) >= {"fitting-thickness", "dowel-too-thick"}


def test_a_short_joint_is_too_short_for_some() -> None:
    short = by_name(chosen(replace(CORNER, run=80)))
    assert "end-distance-small" in codes(short["biscuit-20"])
    assert short["cam-and-bolt-34"].cost is not None
    assert short["cam-and-bolt-34"].cost.fasteners == 1


def test_one_alone_is_offered_where_two_stand_too_close() -> None:
    short = by_name(chosen(replace(CORNER, run=80)))
    screw = short["pocket-screw-4x32-carcass"]
    assert screw.count == 1
    assert screw.cost is not None
    assert screw.cost.fasteners == 1
    assert short["cam-and-bolt-34"].count is None
    assert by_name(chosen())["pocket-screw-4x32-carcass"].count is None


def test_two_of_a_short_joint_stand_in_its_quarters() -> None:
    """By hand: 80 long with 30 at the ends leaves 20 between; they stand at 20 and 60."""
    short = by_name(chosen(replace(CORNER, run=80)))["dowel-8x30"]
    assert short.cost is not None
    assert (short.count, short.cost.fasteners) == (None, 2)
    assert spread_by_rule(80, 30, 200) == (20, 60)


def test_costs_of_cam_and_bolt() -> None:
    cost = by_name(chosen())["cam-and-bolt-34"].cost
    assert cost is not None
    assert cost.bores == {"butting": 4, "receiving": 2}  # per fastener: cam, channel; bolt
    assert [len(s) for s in cost.surfaces.values()] == [2, 1]
    assert cost.workshop_minutes == pytest.approx(3 * 2 + 6 * 0.15)
    assert (cost.pieces, cost.reversible, cost.glue, cost.visible) == (4, True, False, "cam face")
    assert cost.tools == ("screwdriver-h2",)


def test_glue_means_waiting() -> None:
    cost = by_name(chosen())["dowel-8x30-glued"].cost
    assert cost is not None
    assert (cost.glue, cost.wait_minutes, cost.reversible) == (True, 60, False)
    dry = by_name(chosen())["dowel-8x30"].cost
    assert dry is not None
    assert dry.wait_minutes == 0
    assert dry.home_minutes < cost.home_minutes


def test_a_maker_sets_the_times(tmp_path: pathlib.Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(
        "times:\n  set-up: {title: a fast machine, minutes: 0.5, sources: [measured]}\n", "utf-8"
    )
    catalogue, problems = load_catalogue([own])
    assert catalogue is not None, problems
    found, _ = choose_between_boards(CORNER, catalogue)
    assert found is not None
    cost = by_name(found)["cam-and-bolt-34"].cost
    assert cost is not None
    assert cost.workshop_minutes == pytest.approx(3 * 0.5 + 6 * 0.15)


def test_times_are_checked(tmp_path: pathlib.Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text("times:\n  setup: {title: x, minutes: -1, sources: []}\n", "utf-8")
    catalogue, problems = load_catalogue([own])
    assert catalogue is None
    assert sorted(p.code for p in problems) == ["catalogue-name", "catalogue-value"]
    assert all(p.source is not None for p in problems)


def test_boards_that_nobody_has() -> None:
    found, problems = choose_between_boards(
        replace(CORNER, butting=Stock(material="oaks", thickness=18)), CATALOGUE
    )
    assert found is None
    assert [p.code for p in problems] == ["material-unknown"]
    assert "oak" in problems[0].help


def bookcase() -> Resolved:
    definition, problems = load_definition(ROOT / "examples" / "bookcase.yaml")
    assert definition is not None, problems
    product, problems = read_product(definition)
    assert product is not None, problems
    resolved, problems = resolve(product)
    assert resolved is not None, problems
    return resolved


@pytest.mark.parametrize("part", ["top", "plinth"])  # the plinth's dowels have their places
def test_what_a_product_has_is_possible_there(part: str) -> None:
    request = Request(file=ROOT / "examples" / "bookcase.yaml")
    outcome = choose(request, [part, "left_side"])
    assert outcome.complete
    assert outcome.chosen is not None
    assert outcome.chosen.contact == "edge-face"
    found = by_name(outcome.chosen)
    assert outcome.chosen.in_use
    assert all(found[key].cost is not None for key in outcome.chosen.in_use)


@pytest.mark.parametrize(
    ("key", "contact"), [("cup-hinge-overlay", "hung"), ("side-runner", "facing")]
)
def test_doors_and_drawers_have_a_choice_of_their_own(key: str, contact: str) -> None:
    request = Request(product=sample_product(CATALOGUE, key))
    outcome = choose(request, ["shelf", "side"])
    assert outcome.problems == ()
    assert outcome.chosen is not None
    assert (outcome.chosen.contact, outcome.chosen.in_use) == (contact, (key,))
    found = by_name(outcome.chosen)
    assert found[key].cost is not None
    assert "dowel-8x30" not in found


def test_parts_that_do_not_meet() -> None:
    request = Request(file=ROOT / "examples" / "bookcase.yaml")
    outcome = choose(request, ["left_side", "right_side"])
    assert [p.code for p in outcome.problems] == ["parts-apart"]


def test_names_of_parts_and_joints() -> None:
    resolved = bookcase()
    assert find_pair(resolved, ["top", "left_side"])[0] == ("top", "left_side")
    for names, code in (
        (["topp", "left_side"], "unknown-part"),
        (["top", "top"], "same-part-twice"),
        (["nothing"], "unknown-joint"),
    ):
        found, problems = find_pair(resolved, names)
        assert found is None
        assert [p.code for p in problems] == [code]
    joint = resolved.joints[0]
    assert find_pair(resolved, [joint.name])[0] == (joint.joined, joint.to)


def test_system_rows_of_other_parts_are_left_alone() -> None:
    product = sample_product(CATALOGUE, "shelf-support-5")
    rows = SystemRows(on=("left_side", "right_side"))
    product = product.model_copy(update={"system_rows": (rows,), "fixtures": (), "panels": {
        name: panel for name, panel in product.panels.items() if name != "shelf"
    }})  # fmt: skip
    outcome = choose(Request(product=product), ["bottom", "left_side"])
    assert outcome.chosen is not None, outcome.problems
    found = by_name(outcome.chosen)
    assert found["dowel-8x30"].cost is not None
