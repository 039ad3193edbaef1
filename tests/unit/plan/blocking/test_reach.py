"""Room for hands and tools: small cabinets whose fasteners face something."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kdkit.catalogue.entries import Action, Catalogue, FreeSpace, Tool
from kdkit.frames import Frame
from kdkit.plan import make_plan
from kdkit.plan.blocking import find_blocking
from kdkit.plan.blocking.reach import rooms_of
from kdkit.plan.plan import Impossible, OperationKind, Plan
from kdkit.plan.verify import Bodies, verify_impossible
from tests.boxes import Made, board, make

LONG = FreeSpace(diameter=32, length=200, blade=100)
SHORT = FreeSpace(diameter=32, length=95, blade=25)


def with_tools(made: Made, *, short: bool = True) -> Made:
    """Give the drivers their lengths, the caps a hand's room."""
    resolved, assembly, joinery, stock = made
    tools = {"screwdriver": Tool(title="Screwdriver", room=(LONG,))}
    if short:
        tools["stubby"] = Tool(title="Short screwdriver", room=(SHORT,), instead_of="screwdriver")
    cap = Action(do="cap", item="cap", free=FreeSpace(diameter=30, length=40))
    foot = Action(do="press", item="foot", free=FreeSpace(diameter=60, length=80))
    changed = {
        "capped-screws": stock.fittings["capped-screws"].model_copy(
            update={"actions": (*stock.fittings["capped-screws"].actions[:-1], cap)}
        ),
        "feet": stock.fittings["feet"].model_copy(update={"actions": (foot,)}),
    }
    fittings = {**stock.fittings, **changed}
    stock = stock.model_copy(update={"tools": tools, "fittings": fittings})
    return resolved, assembly, replace(joinery, fittings=fittings), stock


def three_shelves(gap: float) -> Made:
    """Three shelves between two sides; the middle one's cams look up and down, one each."""
    t = 18.0
    parts = [
        board("left", (0, 0, 0), (t, 300, 1300)),
        board("right", (600, 0, 0), (600 + t, 300, 1300)),
    ]
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {}
    for name, z, how in (
        ("under", 600 - gap - t, "pin"),
        ("middle", 600.0, "cams"),
        ("over", 600 + t + gap, "pin"),
    ):
        parts.append(board(name, (t, 0, z), (600, 300, z + t)))
        joints[name, "left"] = joints[name, "right"] = how
    return make(parts, joints)


def planned(made: Made) -> Plan:
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    return plan


def refused(made: Made) -> list[str]:
    """The reasons on the loops of a product that cannot be built."""
    no, problems = make_plan(*made)
    assert isinstance(no, Impossible)
    assert [p.code for p in problems] == ["no-assembly-order"]
    assert verify_impossible(no, *made[1:]) == ()
    return [block.reason for _, loop in no.loops for block in loop]


def driven_with(plan: Plan) -> set[str | None]:
    return {o.tool for o in plan.operations if o.kind is OperationKind.FASTEN}


@pytest.mark.parametrize(
    ("gap", "tools"), [(300.0, {"screwdriver"}), (150.0, {"screwdriver", "stubby"})]
)
def test_the_driver_that_is_needed_is_named(gap: float, tools: set[str]) -> None:
    """300 is longer than the ordinary driver's 200; 150 only takes the short one's 95."""
    assert driven_with(planned(with_tools(three_shelves(gap)))) == tools


def test_cams_that_face_a_neighbour_closer_than_any_driver() -> None:
    """Each side must be closed over all three shelves at once: 60 takes no driver of 95."""
    reasons = refused(with_tools(three_shelves(60)))
    assert any(
        r == "the short screwdriver cannot reach the cam lock between Middle and Right "
        "while Under is there: the short screwdriver needs 95 mm in line with it, and Under "
        "leaves 60 mm; the screwdriver needs 200 mm in line with it, and Under leaves 60 mm"
        for r in reasons
    )


def test_a_handle_that_finds_no_room_beside_is_told_by_how_much() -> None:
    """A cam's axis 12 mm in front of a cover: past any blade, beside any handle of 32."""
    made = make(
        [
            board("left", (0, 0, 0), (18, 300, 400)),
            board("right", (600, 0, 0), (618, 300, 400)),
            board("shelf", (18, 0, 200), (600, 300, 218)),
            board("wall", (18, 112, 20), (600, 130, 180)),
        ],
        {(n, s): h for n, h in (("shelf", "cams"), ("wall", "pin")) for s in ("left", "right")},
    )
    drivers = with_tools(made, short=False)
    blocking = find_blocking([p.name for p in made[1].parts], *drivers[1:])
    (words,) = {
        one.room_words(others, {})
        for one in blocking.reach
        for others in one.blocked
        if "wall" in others
    }
    assert words == (
        "the screwdriver needs 16 mm beside its axis, and wall leaves 12 mm "
        "(its handle would be past wall 180 mm out)"
    )


def test_a_longer_driver_stands_in_as_a_shorter_one_does() -> None:
    tools = {
        "screwdriver": Tool(title="Screwdriver", room=(LONG,)),
        "stubby": Tool(title="Short", room=(SHORT,), instead_of="screwdriver"),
        "lengthy": Tool(
            title="Long",
            room=(FreeSpace(diameter=32, length=250, blade=150),),
            instead_of="screwdriver",
        ),
    }
    found = rooms_of(Action(do="drive", tool="screwdriver"), Catalogue(tools=tools))
    assert [tool for tool, _ in found] == ["screwdriver", "lengthy", "stubby"]


def test_without_a_short_driver_a_middling_gap_is_too_narrow() -> None:
    assert any("the screwdriver cannot" in r for r in refused(
        with_tools(three_shelves(150), short=False)
    ))  # fmt: skip


def shelf_and_cover(how: str = "bare") -> Made:
    """A shelf with cams on both sides, and a board right above it that slides in level."""
    return make(
        [
            board("left", (0, 0, 0), (18, 300, 400)),
            board("right", (600, 0, 0), (618, 300, 400)),
            board("shelf", (18, 0, 200), (600, 300, 218)),
            board("over", (18, 0, 260), (600, 300, 278)),
            board("under", (18, 0, 140), (600, 300, 158)),
        ],
        {
            ("shelf", "left"): "cams",
            ("shelf", "right"): "cams",
            ("over", "left"): how,
            ("over", "right"): how,
            ("under", "left"): how,
            ("under", "right"): how,
        },
    )


def test_cams_are_turned_before_what_covers_them() -> None:
    plan = planned(with_tools(shelf_and_cover()))
    at = {id: n for n, id in enumerate(plan.order)}
    turns = [o for o in plan.operations if "turn-cam" in o.id]
    assert len({f for o in turns for f in o.fasteners}) == 4
    covers = [
        o
        for o in plan.operations
        if o.kind is OperationKind.MATE and {"over", "under"} & set(o.parts)
    ]
    assert covers
    edges = {(p.before, p.after): p.reason for p in plan.precedences}
    for turn in turns:
        later = [c for c in covers if (turn.id, c.id) in edges]
        assert later
        for cover in later:
            assert at[turn.id] < at[cover.id]
            assert "cannot reach the cam lock" in edges[turn.id, cover.id]


def lid_fastened_from_inside(inside: float) -> Made:
    """A channel whose lid comes down last, held by cams in the left wall that look inwards."""
    t = 18.0
    wide = inside + 2 * t
    made = make(
        [
            board("left", (0, 0, 0), (t, 300, 400)),
            board("right", (wide - t, 0, 0), (wide, 300, 400)),
            board("floor", (t, 0, 0), (wide - t, 300, t)),
            board("lid", (0, 0, 400), (wide, 300, 400 + t)),
        ],
        {
            ("floor", "left"): "dowels",
            ("floor", "right"): "dowels",
            ("left", "lid"): "cams",
            ("right", "lid"): "dowels",
        },
    )
    cam = next(p for f in made[2].fasteners for p in f.items if p.item == "cam")
    if cam.frame.k[0] < 0:  # the contact's frame is free to look either way
        parts = [replace(p, name={"left": "right", "right": "left"}.get(p.name, p.name))
                 for p in made[0].parts]  # fmt: skip
        joints = {("floor", "left"): "dowels", ("floor", "right"): "dowels",
                  ("left", "lid"): "cams", ("right", "lid"): "dowels"}  # fmt: skip
        made = make(parts, joints)
    return with_tools(made)


def test_a_lid_held_only_from_inside_needs_room_inside() -> None:
    plan = planned(lid_fastened_from_inside(300))
    assert driven_with(plan) == {"screwdriver"}
    assert any("cannot reach the cam lock" in r for r in refused(lid_fastened_from_inside(64)))


def test_members_that_are_in_their_own_way_can_never_be_joined() -> None:
    """A screw through one leg of a notched part, 30 from the other leg."""
    outline = ((0.0, 0.0), (200.0, 0.0), (200.0, 18.0), (18.0, 18.0), (18.0, 48.0),
               (200.0, 48.0), (200.0, 66.0), (0.0, 66.0))  # fmt: skip
    fork = board("fork", (0, 0, 0), (200, 66, 18.5), outline=outline)
    made = make(
        [fork, board("rail", (150, 66, 0), (168, 266, 18.5))],
        {("rail", "fork"): "capped-screws"},
        each=1,
    )
    reasons = refused(with_tools(made))
    assert any("can never reach the screw between" in r for r in reasons)


def test_rooms_of_an_action_come_from_the_tool_then_from_the_fitting() -> None:
    stock = with_tools(three_shelves(300))[3]
    turn = next(a for a in stock.fittings["cams"].actions if a.do == "turn")
    assert rooms_of(turn, stock) == (("screwdriver", LONG), ("stubby", SHORT))
    own = FreeSpace(diameter=80, length=250)
    nail = Action(do="nail", item="nail", tool="hammer", free=own)
    assert rooms_of(nail, stock) == (("hammer", own),)
    assert rooms_of(Action(do="mate"), stock) == ()
    assert rooms_of(Action(do="nail", tool="hammer"), Catalogue()) == ()


def covered_foot() -> Made:
    """A foot on the underside of a shelf, with a board 42 below it."""
    made = make(
        [
            board("left", (0, 0, 0), (18, 300, 400)),
            board("right", (600, 0, 0), (618, 300, 400)),
            board("shelf", (18, 0, 200), (600, 300, 218)),
            board("base", (18, 0, 140), (600, 300, 158)),
        ],
        {
            ("shelf", "left"): "pin",
            ("shelf", "right"): "pin",
            ("base", "left"): "pin",
            ("base", "right"): "pin",
        },
        fixtures=[
            (
                "bumper",
                "feet",
                ("shelf",),
                [Frame((300, 150, 200), (1.0, 0, 0), (0, -1.0, 0), (0, 0, -1.0))],
                (),
            )
        ],
    )
    return with_tools(made)


def test_a_fixture_goes_on_before_what_covers_it() -> None:
    plan = planned(covered_foot())
    at = {id: n for n, id in enumerate(plan.order)}
    foot = next(o for o in plan.operations if o.kind is OperationKind.FIXTURE)
    together = next(
        o
        for id in plan.order
        for o in [plan.operation(id)]
        if o.kind is OperationKind.MATE and {"shelf", "base"} <= {*o.parts, *o.onto}
    )
    assert at[foot.id] < at[together.id]
    reasons = [p.reason for p in plan.precedences if (p.before, p.after) == (foot.id, together.id)]
    assert any("cannot reach the foot on Shelf while Base is there" in r for r in reasons)


def test_caps_that_something_covers_are_pressed_in_early() -> None:
    made = make(
        [
            board("left", (0, 0, 0), (18, 300, 400)),
            board("shelf", (18, 0, 200), (600, 300, 218)),
            board("cladding", (-46, 0, 0), (-28, 300, 400)),
            board("spacer", (-28, 0, 0), (0, 100, 18)),
        ],
        {
            ("shelf", "left"): "capped-screws",
            ("spacer", "left"): "bare",
            ("spacer", "cladding"): "bare",
        },
    )
    plan = planned(with_tools(made))
    at = {id: n for n, id in enumerate(plan.order)}
    cap = next(o for o in plan.operations if o.kind is OperationKind.CAP)
    closing = next(
        o
        for id in plan.order
        for o in [plan.operation(id)]
        if o.kind is OperationKind.MATE and {"left", "shelf", "cladding"} <= {*o.parts, *o.onto}
    )
    assert at[cap.id] < at[closing.id]
    assert any(
        p.before == cap.id and p.after == closing.id and "Cladding" in p.reason
        for p in plan.precedences
    )


def test_a_certificate_is_refused_where_the_driver_has_room() -> None:
    """The proof for 60 between shelves says nothing about the same with 300."""
    no, _ = make_plan(*with_tools(three_shelves(60)))
    assert isinstance(no, Impossible)
    faults = verify_impossible(no, *with_tools(three_shelves(300))[1:])
    assert any("without" in fault for fault in faults)


@pytest.mark.parametrize(
    "made",
    [
        with_tools(three_shelves(60)),
        with_tools(three_shelves(150)),
        with_tools(shelf_and_cover()),
        lid_fastened_from_inside(64),
        covered_foot(),
    ],
    ids=["60", "150", "cover", "lid", "foot"],
)
def test_the_verifier_agrees_with_every_edge(made: Made) -> None:
    """Other code, other geometry: lines through the room instead of planes between."""
    _, assembly, joinery, stock = made
    names = [part.name for part in assembly.parts]
    blocking = find_blocking(names, assembly, joinery, stock)
    bodies = Bodies(assembly, joinery, stock, set(names))
    for d, v in enumerate(blocking.directions):
        for n, part in enumerate(names):
            mask = blocking.blockers(d, n, blocking.everything)
            for m, by in enumerate(names):
                if n != m:
                    assert bodies.holds(part, by, v) == bool(mask >> m & 1), (part, by, v)


@pytest.mark.parametrize(("blade", "reaches"), [(100.0, True), (30.0, True), (25.0, False)])
def test_a_blade_is_as_long_as_the_bore_above_the_screw(blade: float, reaches: bool) -> None:
    """The heads lie 30 deep in a floor of 48, over a rail on edge."""
    parts = [board("floor", (0, 0, 0), (400, 200, 48)), board("rail", (0, 90, -100), (400, 108, 0))]
    resolved, assembly, joinery, stock = make(parts, {("rail", "floor"): "capped-screws"})
    driver = Tool(title="Screwdriver", room=(FreeSpace(diameter=32, length=200, blade=blade),))
    made = resolved, assembly, joinery, stock.model_copy(update={"tools": {"screwdriver": driver}})
    if reaches:
        planned(made)
        return
    (reason, *_) = refused(made)
    assert "can never reach" in reason
    assert "the screwdriver has a blade of 25 mm, and the bore is 30 mm deep" in reason
