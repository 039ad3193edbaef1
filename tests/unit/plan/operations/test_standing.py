"""Nothing stands that would fall over: held, kept in hand, or built another way."""

from __future__ import annotations

import pathlib
from dataclasses import replace

import pytest

from kdkit.plan import make_plan
from kdkit.plan.choice.balance import LEAN
from kdkit.plan.choice.footing import HIGH
from kdkit.plan.plan import OperationKind, Plan, Posture
from tests.boxes import Made, board, bookcase, make
from tests.gallery.products import PRODUCTS
from tests.product_files import made_of, results_of
from tests.products import made as read
from tests.replay import replay
from tests.replay_balance import FallsError

WARDROBE = pathlib.Path(__file__).parents[4] / "examples" / "wardrobe.yaml"


def planned(made: Made) -> Plan:
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    return plan


@pytest.fixture(scope="module")
def wardrobe(tmp_path_factory: pytest.TempPathFactory) -> tuple[Made, Plan]:
    made = read(tmp_path_factory.mktemp("wardrobe"), WARDROBE.read_text(encoding="utf-8"))
    return made, planned(made)


def test_the_wardrobe_is_no_tower(wardrobe: tuple[Made, Plan]) -> None:
    """Its carcass is built lying on its front, stood up once, and fixed to the wall at once."""
    made, plan = wardrobe
    kinds = [plan.operation(id) for id in plan.order]
    stand = next(n for n, o in enumerate(kinds) if o.kind is OperationKind.STAND)
    carcass = [o for o in kinds[:stand] if o.kind is OperationKind.MATE and not o.subassembly]
    assert len(carcass) == 12
    assert {o.posture for o in carcass[2:]} == {Posture.ON_FRONT}
    assert max(o.height for o in carcass) < HIGH
    assert kinds[stand + 1].kind is OperationKind.SECURE
    turned = [o.mass for o in kinds[:stand] if o.kind is OperationKind.TURN and not o.subassembly]
    assert max(turned) < 25.0  # two dividers on the bottom
    later = kinds[stand + 2 :]
    assert {"left_door", "low_shelf"} <= {part for o in later for part in o.parts}
    assert replay(made, plan) > 0


def test_what_stands_has_its_margin(wardrobe: tuple[Made, Plan]) -> None:
    _, plan = wardrobe
    said = [o for o in plan.operations if o.lean is not None]
    assert len(said) > 60
    assert all(o.lean >= LEAN for o in said if o.lean is not None)
    assert all(o.push >= 50.0 for o in said if o.push is not None)


def test_a_plate_on_its_edge_is_held_until_it_is_drawn_tight() -> None:
    """A light one by who works; one of 5 kg and more by a second person."""
    for wide, heavy in ((500.0, False), (1400.0, True)):
        made = make(
            [
                board("side", (0, 0, 0), (18, 500, wide)),
                board("shelf", (18, 0, 300), (18 + wide, 500, 318)),
            ],
            {("shelf", "side"): "cams"},
        )
        plan = planned(made)
        mate, turn = (
            next(o for o in plan.operations if o.kind is kind)
            for kind in (OperationKind.MATE, OperationKind.FASTEN)
        )
        for operation in (mate, turn):
            upright = operation.held if heavy else operation.in_hand
            assert len(upright) == 1
            assert operation.persons == (2 if heavy else 1)


def test_a_narrow_case_that_stands_is_held() -> None:
    """300 deep and 1800 high: atan(150 / 900) = 9.5 degrees; 1500 high stands with 11."""
    for made, held in ((bookcase(2), True), (bookcase(2, high=1500.0), False)):
        (stand,) = (o for o in planned(made).operations if o.kind is OperationKind.STAND)
        assert bool(stand.held) is held


@pytest.mark.parametrize(
    ("id", "changes", "said"),
    [
        ("stand/", {"held": ()}, "leans over at 9"),
        ("mate/top", {"lean": 80.0}, "80.0 said"),
        ("fasten/top", {"push": 10.0}, "10.0 said"),
    ],
)
def test_the_replay_finds_what_falls(id: str, changes: dict[str, object], said: str) -> None:
    made = bookcase(2, back=False)
    plan = planned(made)
    whole = next(o.id for o in plan.operations if o.id.startswith(id))
    spoilt = tuple(
        replace(o, **changes) if o.id == whole else o  # type: ignore[arg-type]
        for o in plan.operations
    )
    with pytest.raises(FallsError, match=said):
        replay(made, replace(plan, operations=spoilt))


def test_the_replay_finds_what_a_push_tips(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.replay_balance.SLIDING", 10.0)  # where nothing slides
    made, plan = made_of("hall-bench"), results_of("hall-bench").plan
    spoilt = tuple(replace(o, braced=False) for o in plan.operations)
    with pytest.raises(FallsError, match="N tip"):
        replay(made, replace(plan, operations=spoilt))


def test_the_replay_finds_what_falls_before_it_is_met() -> None:
    made = PRODUCTS["pin-wheel"]()
    plan = planned(made)
    spoilt = tuple(
        replace(o, held=(), in_hand=()) if o.id == "mate/a+b" else o for o in plan.operations
    )
    with pytest.raises(FallsError, match="falls before it is met"):
        replay(made, replace(plan, operations=spoilt))
