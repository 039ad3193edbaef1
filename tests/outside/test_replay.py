"""Every plan replayed forward by an independent, simpler program (``tests/replay.py``)."""

from __future__ import annotations

import pathlib
import random
from collections.abc import Callable
from dataclasses import replace

import pytest

from kdkit.plan import make_plan
from kdkit.plan.plan import Operation, OperationKind, Plan, Posture
from tests.boxes import (
    Made,
    board,
    bookcase,
    cabinet_with_grooved_back,
    make,
    pinwheel,
)
from tests.gallery.tooled import TOOLED
from tests.product_files import made_of, results_of
from tests.replay import Replay, ReplayError, replay

EXAMPLES = pathlib.Path(__file__).parents[2] / "examples"


def random_carcass(rng: random.Random) -> Made:
    """A case with dividers and shelves between them, in a random way of joining."""
    t, deep = 18.0, rng.choice((250.0, 300.0, 400.0))
    bays, bay, high = rng.randint(1, 3), rng.choice((300.0, 450.0)), rng.choice((700.0, 1600.0))
    wide = bays * bay + (bays + 1) * t
    how = rng.choice(("cams", "dowels", "capped-screws", ("cams", "dowels"), "shop-dowels"))
    inner = rng.choice(("cams", "dowels", "capped-screws"))
    uprights_outside = rng.random() < 0.5
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {}
    x0, x1, z0, z1 = (t, wide - t, 0.0, high) if uprights_outside else (0.0, wide, t, high - t)
    parts = [
        board("bottom", (x0, 0, 0), (x1, deep, t)),
        board("top", (x0, 0, high - t), (x1, deep, high)),
        board("left", (0, 0, z0), (t, deep, z1)),
        board("right", (wide - t, 0, z0), (wide, deep, z1)),
    ]
    for lying in ("bottom", "top"):
        for side in ("left", "right"):
            joints[lying, side] = how
    walls = ["left"]
    for n in range(1, bays):
        x = n * (bay + t)
        walls.append(f"divider_{n}")
        parts.append(board(walls[-1], (x, 0, t), (x + t, deep, high - t)))
        joints[walls[-1], "bottom"] = joints[walls[-1], "top"] = inner
    walls.append("right")
    for n in range(bays):
        for row in range(rng.randint(0, 2)):
            x, z = n * (bay + t) + t, t + (high - 2 * t) * (row + 1) / 3 + 40 * n
            parts.append(board(f"shelf_{n}{row}", (x, 0, z), (x + bay, deep, z + t)))
            joints[f"shelf_{n}{row}", walls[n]] = inner
            joints[f"shelf_{n}{row}", walls[n + 1]] = inner
    if rng.random() < 0.6:
        parts.append(board("back", (1, deep, 1), (wide - 1, deep + 3, high - 1)))
        for name in [p.name for p in parts[:-1]]:
            joints[name, "back"] = "nails"
    rng.shuffle(parts)
    return make(parts, joints)


@pytest.mark.parametrize("seed", range(25))
def test_plans_of_random_carcasses_replay(seed: int) -> None:
    made = random_carcass(random.Random(seed))
    plan, _ = make_plan(*made)
    if isinstance(plan, Plan):  # a refusal is checked against all orders elsewhere
        assert replay(made, plan) >= 3


def test_most_random_carcasses_can_be_built() -> None:
    plans = [make_plan(*random_carcass(random.Random(seed)))[0] for seed in range(25)]
    assert sum(isinstance(p, Plan) for p in plans) >= 15


@pytest.mark.parametrize("number", range(4))
def test_known_products_replay(number: int) -> None:
    made = (
        bookcase(loose=2),
        cabinet_with_grooved_back(),
        cabinet_with_grooved_back(("cams", "dowels")),
        make(*pinwheel()),
    )[number]
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    assert replay(made, plan) >= 3


@pytest.mark.parametrize("name", ["bookcase", "low-cabinet", "hall-bench", "wardrobe"])
def test_the_examples_replay(name: str) -> None:
    assert replay(made_of(name), results_of(name).plan) >= 5


def changed(plan: Plan, id: str, **changes: object) -> Plan:
    """The plan with one operation done otherwise."""
    return replace(
        plan,
        operations=tuple(
            replace(o, **changes) if o.id == id else o  # type: ignore[arg-type]
            for o in plan.operations
        ),
    )


def without(plan: Plan, kind: OperationKind) -> Plan:
    """The plan with all operations of a kind left out."""
    gone = {o.id for o in plan.operations if o.kind is kind}
    return replace(
        plan,
        operations=tuple(o for o in plan.operations if o.id not in gone),
        order=tuple(o for o in plan.order if o not in gone),
        steps=tuple(
            replace(s, operations=tuple(o for o in s.operations if o not in gone))
            for s in plan.steps
        ),
    )


def moved_first(plan: Plan, id: str) -> Plan:
    """The plan with one operation done before all others."""
    return replace(plan, order=(id, *(o for o in plan.order if o != id)))


FAULTS: dict[str, tuple[Callable[[Plan], Plan], str]] = {
    "across the pins": (
        lambda p: changed(p, "mate/top", direction=(0.0, 1.0, 0.0)),
        "across the pins",
    ),
    "through what is there": (
        lambda p: changed(p, "mate/back", direction=(0.0, 1.0, 0.0)),
        "back runs into",
    ),
    "on to part of a group": (
        lambda p: changed(p, "mate/back", onto=("left_side",)),
        "not together",
    ),
    "fastened too early": (
        lambda p: moved_first(p, next(o for o in p.order if o.startswith("fasten/"))),
        "not together yet",
    ),
    "hardware after closing": (
        lambda p: replace(
            p,
            order=(
                *(o for o in p.order if o != "fit/left_side/bolt"),
                "fit/left_side/bolt",
            ),
        ),
        "closed already",
    ),
    "hardware forgotten": (lambda p: without(p, OperationKind.FIT), "never used"),
    "left undone": (lambda p: without(p, OperationKind.FASTEN), "is never used|left undone"),
    "a part forgotten": (
        lambda p: replace(p, order=tuple(o for o in p.order if "back" not in o)),
        "not everything is together",
    ),
    "never turned": (lambda p: without(p, OperationKind.TURN), "it lies"),
    "a step with nothing in it": (
        lambda p: replace(p, steps=(*p.steps[:-1], replace(p.steps[-1], operations=()))),
        "do not hold every operation",
    ),
    "lying otherwise": (
        lambda p: changed(p, "mate/top", posture=Posture.UPSIDE_DOWN),
        "it lies",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_the_replay_can_say_no(fault: str) -> None:
    spoil, said = FAULTS[fault]
    made = bookcase()
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    replay(made, plan)
    with pytest.raises(ReplayError, match=said):
        replay(made, spoil(plan))


def test_a_back_cannot_come_last_into_four_grooves() -> None:
    made = cabinet_with_grooved_back()
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    back = next(o for o in plan.operations if o.id == "mate/back")
    everything = tuple(p.name for p in made[1].parts if p.name != "back")
    forced = Operation(
        id="forced", kind=OperationKind.MATE, parts=("back",), onto=everything,
        direction=back.direction, items={}, joints=back.joints,
    )  # fmt: skip
    run = Replay(made, plan)
    for name in everything:
        run.together[name] = frozenset(everything)
    with pytest.raises(ReplayError, match="back runs into"):
        run.move(forced)


def test_pins_of_the_workshop_stand_out_from_the_start() -> None:
    made = bookcase(how="shop-dowels", back=False)
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    pins = [p.name for side in ("left_side", "right_side") for p in Replay(made, plan).pieces[side]]
    assert pins.count("dowel") == 16


def test_a_driver_must_have_room() -> None:
    made = TOOLED["cams face to face, 150 apart"]()
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    assert replay(made, plan) == 3
    turn = next(o for o in plan.operations if o.tool == "screwdriver-h2-short")
    with pytest.raises(ReplayError, match="no room for screwdriver-h2 at"):
        replay(made, changed(plan, turn.id, tool="screwdriver-h2"))
