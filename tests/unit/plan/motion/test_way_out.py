from __future__ import annotations

from kdkit.frames import PRODUCT, Vec3
from kdkit.plan.motion.bodies import Body, part_polytopes
from kdkit.plan.motion.sweep import prism
from kdkit.plan.motion.way_out import Hand, enclosures
from tests.boxes import board

WALLS = {
    "left": ((0, 0, 0), (10, 300, 300)),
    "right": ((290, 0, 0), (300, 300, 300)),
    "front": ((10, 0, 0), (290, 10, 300)),
    "rear": ((10, 290, 0), (290, 300, 300)),
    "floor": ((10, 10, 0), (290, 290, 10)),
    "lid": ((10, 10, 290), (290, 290, 300)),
}


def bodies(*without: str, **more: tuple[Vec3, Vec3]) -> list[Body]:
    found = []
    for name, (low, high) in {**WALLS, **more}.items():
        if name not in without:
            for shape in part_polytopes(board(name, low, high), ()):
                found.append(Body(part=name, shape=shape))
    return found


def hand(*members: str, at: Vec3 = (150.0, 150.0, 150.0)) -> Hand:
    x, y, z = at
    ring = ((x - 16, y - 16), (x + 16, y - 16), (x + 16, y + 16), (x - 16, y + 16))
    return Hand(prism(PRODUCT, ring, z - 16, z + 16), members)


def test_a_closed_box_shuts_a_hand_in() -> None:
    assert enclosures([hand("left", "lid")], bodies()) == [
        (frozenset({"right", "front", "rear", "floor"}),)
    ]


def test_any_open_side_lets_it_out() -> None:
    for name in WALLS:
        assert enclosures([hand()], bodies(name)) == [()]


def test_of_two_walls_one_behind_the_other_either_will_do() -> None:
    found = enclosures([hand("left", "lid")], bodies(outer=((-20, -20, -20), (320, 320, -10))))[0]
    assert found == (
        frozenset({"right", "front", "rear", "floor"}),
        frozenset({"right", "front", "rear", "outer"}),
    )


def test_a_gap_that_takes_the_handle_is_a_way_out() -> None:
    low = {"lid": ((10.0, 10.0, 290.0), (230.0, 290.0, 300.0))}
    at = (250.0, 150.0, 150.0)
    assert enclosures([hand(at=at)], bodies(**low)) == [()]
    assert enclosures([hand(at=at)], bodies())[0] != ()


def test_hands_are_told_apart() -> None:
    found = enclosures([hand(), hand(at=(600.0, 0.0, 0.0))], bodies())
    assert found[0]
    assert found[1] == ()
