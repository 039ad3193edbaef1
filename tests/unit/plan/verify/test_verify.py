"""The verifier accepts what the planner proves and rejects what is not so."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from kdkit.frames import Vec3
from kdkit.plan import make_plan
from kdkit.plan.blocking import find_blocking
from kdkit.plan.blocking.apart import prove_stuck
from kdkit.plan.plan import EVERY_DIRECTION, NAMED_DIRECTIONS, Block, Impossible
from kdkit.plan.verify import Bodies, verify_impossible
from tests.boxes import (
    Made,
    board,
    bookcase,
    cabinet_with_grooved_back,
    corner_ring,
    make,
    pinwheel,
)
from tests.gallery.leaning import closed_slot, peg_in_slot
from tests.unit.plan.blocking.test_reach import (
    covered_foot,
    lid_fastened_from_inside,
    three_shelves,
    with_tools,
)

RIGHT: Vec3 = (1.0, 0.0, 0.0)


def proved(made: Made) -> Impossible:
    no, _ = make_plan(*made)
    assert isinstance(no, Impossible)
    return no


def burr() -> Made:
    """A board wrapped by four others whose corners are pinned both ways round."""
    _, assembly, joinery, _ = corner_ring()
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (j.butting, j.receiving): "dowels" for j in joinery.joints
    }
    lid = board("lid", (0, 0, 300), (300, 18, 318))
    return make([*assembly.parts, lid], {**joints, ("lid", "rear"): "dowels"})


@pytest.mark.parametrize(
    "made",
    [
        corner_ring(),
        corner_ring(700),
        burr(),
        with_tools(three_shelves(60)),
        with_tools(three_shelves(150), short=False),
        lid_fastened_from_inside(64),
        closed_slot(45),
        closed_slot(37.3),
    ],
    ids=[
        "ring",
        "large ring",
        "ring and lid",
        "close shelves",
        "long driver",
        "inner cams",
        "closed slot",
        "odd slot",
    ],
)
def test_accepts_what_the_planner_proves(made: Made) -> None:
    assert verify_impossible(proved(made), *made[1:]) == ()


def test_agrees_with_every_edge_of_the_blocking_graphs() -> None:
    for made in (
        corner_ring(),
        corner_ring(how="capped-screws"),
        bookcase(1),
        cabinet_with_grooved_back(),
        make(*pinwheel()),
        with_tools(three_shelves(60)),
        with_tools(three_shelves(300)),
        lid_fastened_from_inside(64),
        covered_foot(),
    ):
        _, assembly, joinery, catalogue = made
        names = [part.name for part in assembly.parts]
        blocking = find_blocking(names, assembly, joinery, catalogue)
        bodies = Bodies(assembly, joinery, catalogue, set(names))
        for d, v in enumerate(blocking.directions):
            for n, part in enumerate(names):
                mask = blocking.blockers(d, n, blocking.everything)
                for m, by in enumerate(names):
                    if n != m:
                        assert bodies.holds(part, by, v) == bool(mask >> m & 1), (part, by, v)


def tampered(no: Impossible, direction: int, walk: tuple[Block, ...]) -> Impossible:
    loops = list(no.loops)
    loops[direction] = (loops[direction][0], walk)
    return replace(no, loops=tuple(loops))


def test_rejects_a_direction_left_out_where_only_named_ones_are_claimed() -> None:
    made = corner_ring()
    no = replace(proved(made), motion_class=NAMED_DIRECTIONS)
    assert verify_impossible(no, *made[1:]) == ()
    for n in range(6):
        short = replace(no, loops=(*no.loops[:n], *no.loops[n + 1 :]))
        (fault,) = verify_impossible(short, *made[1:])
        assert "nothing is said about the direction" in fault


def test_walks_that_leave_a_direction_open_prove_nothing_of_every_direction() -> None:
    """A walk round the ring holds but along three ways in which a board comes off its dowels.

    The walk the other way round holds along these, so two of the six are enough.
    """
    made = corner_ring()
    no = proved(made)
    assert no.motion_class == EVERY_DIRECTION
    rounds = {walk[0].by: (v, walk) for v, walk in no.loops if len(walk) == 3}
    assert len(rounds) == 2
    for one in rounds.values():
        (fault,) = verify_impossible(replace(no, loops=(one,)), *made[1:])
        assert "nothing is said about the direction" in fault
        assert "claims too much" in fault
    assert verify_impossible(replace(no, loops=tuple(rounds.values())), *made[1:]) == ()


def test_named_directions_do_not_prove_that_a_slanted_slot_is_closed() -> None:
    """The peg's slot is open along (1, 0, 1) alone; along the axes it is held."""
    made = peg_in_slot(45)
    names = [part.name for part in made[1].parts]
    blocking = find_blocking(names, *made[1:])
    peg = 1 << names.index("peg")
    body = " + ".join(name for name in names if name != "peg")
    merged = blocking.merged([peg, blocking.everything & ~peg], ["peg", body])
    forged = prove_stuck(merged, 3)
    assert verify_impossible(forged, *made[1:]) == ()
    (fault,) = verify_impossible(replace(forged, motion_class=EVERY_DIRECTION), *made[1:])
    numbers = [float(n) for n in re.findall(r"-?[0-9.]+(?:e-[0-9]+)?", fault.partition("(")[2])]
    assert [abs(n) for n in numbers[:3]] == pytest.approx([0.7071, 0, 0.7071], abs=1e-3)
    assert numbers[0] * numbers[2] > 0


def test_rejects_another_class_of_motions() -> None:
    made = corner_ring()
    for said in ("", "any number of moves, turned as one likes"):
        (fault,) = verify_impossible(replace(proved(made), motion_class=said), *made[1:])
        assert fault.startswith("motion_class: this check knows no such class")


def test_rejects_a_walk_that_breaks_off_or_misses_a_part() -> None:
    made = corner_ring()
    no = proved(made)
    way, walk = no.loops[0]
    assert any("breaks off" in f for f in verify_impossible(tampered(no, 0, walk[:-1]), *made[1:]))
    there_and_back = (
        Block(part="left", by="rear", reason="said"),
        Block(part="rear", by="left", reason="said"),
    )
    faults = verify_impossible(tampered(no, 0, there_and_back), *made[1:])
    assert any("does not pass floor" in f for f in faults)
    assert any("does not pass" in f for f in verify_impossible(tampered(no, 0, ()), *made[1:]))
    assert way == no.loops[0][0]


def test_rejects_a_block_that_is_not_so() -> None:
    screwed = corner_ring(how="capped-screws")
    no = proved(corner_ring())
    faults = verify_impossible(no, *screwed[1:])
    assert any("can move along" in fault for fault in faults)


def test_rejects_a_set_from_which_a_part_was_dropped_or_named_twice() -> None:
    made = corner_ring()
    no = proved(made)
    assert verify_impossible(replace(no, parts=no.parts[:2]), *made[1:])
    assert verify_impossible(replace(no, parts=(*no.parts, no.parts[0])), *made[1:])
    assert verify_impossible(replace(no, parts=no.parts[:1], loops=()), *made[1:])
    assert verify_impossible(replace(no, parts=(*no.parts, "ghost")), *made[1:])


def test_rejects_a_direction_that_is_none() -> None:
    made = corner_ring()
    no = proved(made)
    faults = verify_impossible(
        replace(no, loops=(((2.0, 0.0, 0.0), no.loops[0][1]), *no.loops[1:])), *made[1:]
    )
    assert any("is no direction" in fault for fault in faults)


def test_a_board_meets_the_one_in_its_way_and_not_the_one_behind() -> None:
    made = make(
        [
            board("first", (0, 0, 0), (18, 100, 100)),
            board("second", (50, 20, 20), (68, 80, 80)),
            board("aside", (50, 100, 0), (68, 200, 100)),
        ],
        {},
    )
    bodies = Bodies(*made[1:], {"first", "second", "aside"})
    met = bodies.meeting("first", "second", RIGHT)
    assert met is not None
    assert met.hit[0] == pytest.approx(50)
    assert 20 < met.hit[1] < 80
    assert 20 < met.hit[2] < 80
    assert bodies.meeting("second", "first", RIGHT) is None
    assert bodies.meeting("first", "aside", RIGHT) is None
