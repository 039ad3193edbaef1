from __future__ import annotations

from kdkit.plan.blocking import Blocking, find_blocking, members
from kdkit.plan.blocking.apart import (
    closed_sets,
    comes_apart,
    find_stuck,
    free_parts,
    prove_stuck,
    smallest_stuck,
)
from kdkit.plan.motion.directions import canonical_directions, direction_words
from tests.boxes import (
    Made,
    board,
    bookcase,
    cabinet_with_grooved_back,
    corner_ring,
    make,
    pinwheel,
)


def graphs(made: Made) -> Blocking:
    return find_blocking([p.name for p in made[1].parts], *made[1:])


def at(blocking: Blocking, *names: str) -> int:
    return sum(1 << blocking.names.index(n) for n in names)


def test_directions_come_in_opposite_pairs_axes_first() -> None:
    directions = canonical_directions(*bookcase()[1:3])
    assert directions[:2] == ((1.0, 0.0, 0.0), (-1.0, 0.0, 0.0))
    assert len(directions) == 6
    for d in range(0, 6, 2):
        assert all(a == -b for a, b in zip(directions[d], directions[d + 1], strict=True))


def test_directions_in_words() -> None:
    assert direction_words((0.0, 0.0, -1.0)) == "downwards"
    assert direction_words((0.6, 0.0, 0.8)).startswith("slanting to the right and upwards")


def test_dowelled_shelf_leaves_along_its_dowels_only() -> None:
    made = bookcase(1, back=False, how="dowels")
    blocking = graphs(made)
    left, shelf = (blocking.names.index(n) for n in ("left_side", "shelf_1"))
    for d, v in enumerate(blocking.directions):
        held = blocking.blockers(d, left, blocking.everything) >> shelf & 1
        assert bool(held) is (v != (-1.0, 0.0, 0.0))
    reason = blocking.reason(0, left, shelf, blocking.everything)
    assert "dowels" in reason
    assert "to the left only" in reason


def test_back_in_a_groove_leaves_along_it_and_says_why() -> None:
    made = cabinet_with_grooved_back()
    blocking = graphs(made)
    back, bottom = (blocking.names.index(n) for n in ("back", "bottom"))
    pair = at(blocking, "back", "bottom")
    free = {v for d, v in enumerate(blocking.directions) if not blocking.blockers(d, back, pair)}
    assert free == {(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)}
    d = blocking.directions.index((0.0, 1.0, 0.0))
    assert "stands in the groove of Bottom" in blocking.reason(d, back, bottom, pair)
    assert "holds Back in its groove" in blocking.reason(d, bottom, back, pair)


def test_home_hardware_counts_only_while_its_mate_is_there() -> None:
    """A dowel for the stop stands up in the base: it stops the tray once the stop is there."""
    parts = [
        board("base", (0, 0, 0), (400, 400, 18)),
        board("stop", (50, 40, 18), (350, 58, 218)),
        board("tray", (50, 100, 18), (350, 382, 36)),
    ]
    for how, needs_stop in (("dowels", True), ("shop-dowels", False)):
        blocking = graphs(make(parts, {("stop", "base"): how}))
        tray, base = blocking.names.index("tray"), blocking.names.index("base")
        d = blocking.directions.index((0.0, -1.0, 0.0))
        without = blocking.blockers(d, tray, at(blocking, "tray", "base"))
        assert bool(without >> base & 1) is not needs_stop
        everything = blocking.blockers(d, tray, blocking.everything)
        assert everything >> base & 1
        words = blocking.reason(d, tray, base, blocking.everything)
        assert "the dowel in Base" in words


def test_graph_has_a_reason_on_every_edge() -> None:
    blocking = graphs(bookcase())
    for d in range(len(blocking.directions)):
        graph = blocking.graph(d, blocking.everything)
        assert all(data["reason"] for _, _, data in graph.edges(data=True))


def test_merged_bodies_block_as_their_parts_do() -> None:
    parts, joints = pinwheel()
    blocking = graphs(make(parts, joints))
    pairs = [at(blocking, "a", "b"), at(blocking, "c", "d")]
    merged = blocking.merged(pairs, ["ab", "cd"])
    assert comes_apart(merged, merged.everything)
    other = blocking.merged([at(blocking, "a", "c"), at(blocking, "b", "d")], ["ac", "bd"])
    assert find_stuck(other, other.everything) == other.everything


def test_pinwheel_has_no_free_part_but_closed_pairs() -> None:
    blocking = graphs(make(*pinwheel()))
    assert free_parts(blocking, blocking.everything) == []
    moves = closed_sets(blocking, blocking.everything)
    assert {m.parts.bit_count() for m in moves} == {2}
    assert find_stuck(blocking, blocking.everything) is None


def test_every_subset_of_what_comes_apart_comes_apart() -> None:
    made = bookcase(1)
    blocking = graphs(made)
    assert all(comes_apart(blocking, some) for some in range(1, blocking.everything + 1))


def test_certificate_is_a_closed_walk_over_real_blocks() -> None:
    blocking = graphs(corner_ring())
    stuck = smallest_stuck(blocking, blocking.everything)
    proof = prove_stuck(blocking, stuck)
    assert set(proof.parts) == {blocking.names[p] for p in members(stuck)}
    for direction, loop in proof.loops:
        d = blocking.directions.index(direction)
        for block in loop:
            part, by = blocking.names.index(block.part), blocking.names.index(block.by)
            assert blocking.blockers(d, part, stuck) >> by & 1


def test_smallest_stuck_spares_what_is_not_needed() -> None:
    ring = corner_ring()
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {
        (j.butting, j.receiving): "pin" for j in ring[2].joints
    }
    # a second ring beside the first, joined to nothing of it
    other = corner_ring()
    far = [
        board(
            f"far_{p.name}",
            *extents_moved(p.name, 1000.0),
        )
        for p in other[1].parts
    ]
    joints |= {(f"far_{a}", f"far_{b}"): "pin" for a, b in list(joints)}
    blocking = graphs(make([*ring[1].parts, *far], joints))
    assert smallest_stuck(blocking, blocking.everything).bit_count() == 3


def extents_moved(
    name: str, dx: float
) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    t, s = 18.0, 300.0
    low, high = {
        "floor": ((t, 0.0, 0.0), (s, s, t)),
        "left": ((0.0, t, 0.0), (t, s, s)),
        "rear": ((0.0, 0.0, t), (s, t, s)),
    }[name]
    return (low[0] + dx, low[1], low[2]), (high[0] + dx, high[1], high[2])
