"""Loose shelves and units: laid in last, unless their way is closed by then."""

from __future__ import annotations

from kdkit.model.resolved import UnitUse
from kdkit.plan import make_plan
from kdkit.plan.plan import Impossible, Operation, OperationKind, Plan
from tests.boxes import Made, board, make

DRAWER = ("d_front", "d_left", "d_right", "d_rear", "d_floor")


def chest(frame: float, *, workshop: bool = False, titled: str = "Drawer") -> Made:
    """A box with a drawer of 560 × 110 on a shelf, and two stiles before its sides.

    Args:
        frame: width of each stile; the way between them is 564 less twice what they reach
            in beyond the sides of 18.
        workshop: the box with its back and its stiles is packed as one.
    """
    t, wide, deep, high = 18.0, 600.0, 400.0, 400.0
    parts = [
        board("left", (0, t, 0), (t, deep, high)),
        board("right", (wide - t, t, 0), (wide, deep, high)),
        board("bottom", (t, t, 100), (wide - t, deep, 100 + t)),
        board("top", (t, t, high - t), (wide - t, deep, high)),
        board("back", (0, deep, 0), (wide, deep + t, high)),
        board("stile_left", (0, 0, 0), (frame, t, high)),
        board("stile_right", (wide - frame, 0, 0), (wide, t, high)),
        board("d_front", (20, 30, 118), (580, 48, 228)),
        board("d_rear", (38, 340, 118), (562, 358, 228)),
        board("d_left", (20, 48, 118), (38, 358, 228)),
        board("d_right", (562, 48, 118), (580, 358, 228)),
        board("d_floor", (38, 48, 136), (562, 340, 154)),
    ]
    box = {
        ("bottom", "left"): "cams",
        ("bottom", "right"): "cams",
        ("top", "left"): "cams",
        ("top", "right"): "cams",
        ("back", "left"): "capped-screws",
        ("back", "right"): "capped-screws",
        ("stile_left", "left"): "dowels",
        ("stile_right", "right"): "dowels",
    }
    drawer = {
        ("d_front", "d_left"): "capped-screws",
        ("d_front", "d_right"): "capped-screws",
        ("d_rear", "d_left"): "capped-screws",
        ("d_rear", "d_right"): "capped-screws",
        ("d_floor", "d_front"): "capped-screws",
    }
    return make(
        parts,
        {**box, **drawer},  # type: ignore[dict-item]
        units=(UnitUse(name="drawer", title=titled, parts=DRAWER),),
        workshop=tuple(box) if workshop else (),
    )


def planned(made: Made) -> Plan:
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    return plan


def arrival(plan: Plan, *parts: str) -> Operation:
    """The operation that brings exactly these parts."""
    return next(
        o
        for o in plan.operations
        if o.kind in (OperationKind.MATE, OperationKind.LOAD) and set(o.parts) == set(parts)
    )


def test_a_drawer_is_built_on_its_own_and_put_in_when_all_stands() -> None:
    plan = planned(chest(18))
    load = arrival(plan, *DRAWER)
    assert load.kind is OperationKind.LOAD
    assert load.direction == (0.0, 1.0, 0.0)  # from the front
    own = [o for o in plan.operations if o.subassembly == "Drawer"]
    assert sum(o.kind is OperationKind.MATE for o in own) == len(DRAWER) - 1
    at = {id: n for n, id in enumerate(plan.order)}
    assert all(at[o.id] < at[load.id] for o in own)
    before = {p.before for p in plan.precedences if p.after == load.id}
    assert {o.id for o in own} <= before
    stands = [o for o in plan.operations if o.kind is OperationKind.STAND and not o.subassembly]
    assert all(at[o.id] < at[load.id] for o in stands)
    names = {s.subassembly for s in plan.steps}
    assert names == {"", "Drawer"}
    assert set(plan.steps[-1].new) == set(DRAWER)


def test_a_frame_narrower_than_the_drawer_comes_after_it_or_the_back_does() -> None:
    """Stiles of 60 leave 480 for a drawer of 560: it goes in before a stile or the back."""
    plan = planned(chest(60))
    mate = arrival(plan, *DRAWER)
    assert mate.kind is OperationKind.MATE
    at = {id: n for n, id in enumerate(plan.order)}
    later = [
        name
        for name in ("back", "stile_left", "stile_right", "left", "right")
        for o in plan.operations
        if o.kind is OperationKind.MATE and name in o.parts and at[o.id] > at[mate.id]
    ]
    assert later
    reasons = [p.reason for p in plan.precedences if p.before == mate.id]
    assert any("would run into" in r or "cannot" in r for r in reasons)


def test_a_drawer_behind_a_frame_that_is_packed_with_the_box_never_goes_in() -> None:
    assert isinstance(make_plan(*chest(18, workshop=True))[0], Plan)
    no, problems = make_plan(*chest(60, workshop=True))
    assert isinstance(no, Impossible)
    assert [p.code for p in problems] == ["no-assembly-order"]


def test_a_loose_shelf_that_cannot_be_put_in_last_comes_earlier() -> None:
    """Wider than the opening between two stiles, closed behind: it goes in before."""

    def shelf(width: float) -> Made:
        made = [p for p in chest(60)[1].parts if p.name not in DRAWER]
        at = (600 - width) / 2
        made.append(board("shelf", (at, 30, 150), (at + width, 380, 168), loose=True))
        joints: dict[tuple[str, str], str | tuple[str, ...]] = {
            (j.butting, j.receiving): j.fittings
            for j in chest(60)[2].joints
            if j.butting not in DRAWER
        }
        return make(made, joints)

    assert arrival(planned(shelf(470)), "shelf").kind is OperationKind.LOAD
    wide = planned(shelf(560))
    early = arrival(wide, "shelf")
    assert early.kind is OperationKind.MATE
    assert wide.order.index(early.id) < len(wide.order) - 1


def test_what_stands_on_the_floor_or_is_the_larger_half_is_not_laid_in() -> None:
    """A plinth under a box is no drawer, though nothing joins the two."""
    parts = [
        board("p_front", (0, 0, 0), (600, 18, 80)),
        board("p_rear", (0, 382, 0), (600, 400, 80)),
        board("p_left", (0, 18, 0), (18, 382, 80)),
        board("p_right", (582, 18, 0), (600, 382, 80)),
        board("floor", (0, 0, 80), (600, 400, 98)),
        board("wall", (0, 0, 98), (18, 400, 600)),
    ]
    plinth = ("p_front", "p_rear", "p_left", "p_right")
    plan = planned(
        make(
            parts,
            {
                ("p_left", "p_front"): "capped-screws",
                ("p_left", "p_rear"): "capped-screws",
                ("p_right", "p_front"): "capped-screws",
                ("p_right", "p_rear"): "capped-screws",
                ("wall", "floor"): "cams",
            },
            units=(UnitUse(name="plinth", title="Plinth", parts=plinth),),
        )
    )
    assert not any(o.kind is OperationKind.LOAD for o in plan.operations)
    assert "Plinth" in {o.subassembly for o in plan.operations}
