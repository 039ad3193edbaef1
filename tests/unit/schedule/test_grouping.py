"""Which parts share a letter, also where their sizes round to different whole numbers."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from kdkit.model.resolved import HandBoreSpec, Part
from kdkit.parts.sameness import is_same_piece, read_workpiece
from kdkit.schedule.grouping import Group, group_parts
from tests.boxes import board
from tests.cabinets import built_in, resolved


def groups_of(parts: Sequence[Part]) -> tuple[Group, ...]:
    """The lettered groups of some boards that nothing joins."""
    product = resolved(parts)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    return group_parts(product, joinery, None)


@pytest.mark.parametrize(
    ("shorter", "letters"),
    [
        (0.0, 1),
        (0.01, 1),  # 499.99 and 500 round down to different numbers
        (0.019, 1),
        (0.03, 2),
        (1.0, 2),
    ],
)
def test_sizes_on_both_sides_of_a_whole_number(shorter: float, letters: int) -> None:
    first = board("first", (0, 0, 0), (500, 300, 18))
    second = board("second", (0, 0, 100), (500 - shorter, 300, 118))
    groups = groups_of([first, second])
    assert len(groups) == letters
    same = is_same_piece(read_workpiece(first, (), ()), read_workpiece(second, (), ()))
    assert same == (letters == 1)


def test_equal_sums_of_different_sides_are_different_pieces() -> None:
    parts = [
        board("first", (0, 0, 0), (500, 300, 18)),
        board("second", (0, 0, 99), (450, 350, 117)),
    ]
    assert [len(group.pieces) for group in groups_of(parts)] == [1, 1]


def bored(name: str, at: float, y: float) -> Part:
    """An upright board with one bore in its face."""
    bore = HandBoreSpec(
        mouth=(y, 70.0, 0.0),
        into=(0.0, 0.0, -1.0),
        diameter=8.0,
        depth=10.0,
        through=False,
        purpose="cable",
        mate=None,
        path=("panels", name, "bores", 0),
    )
    return board(name, (at, 0, 0), (at + 18, 300, 600), bores=(bore,))


def test_a_pair_has_letters_that_follow_each_other() -> None:
    other = board("middle", (250, 0, 0), (268, 300, 600))
    groups = groups_of([bored("left", 0, 40.0), other, bored("right", 500, 260.0)])
    assert [(group.letter, group.part.name, group.pair) for group in groups] == [
        ("A", "left", "B"),
        ("B", "right", "A"),
        ("C", "middle", None),
    ]


def test_many_alike_and_many_different() -> None:
    parts = []
    for n in range(30):
        parts.append(board(f"shelf_{n:02d}", (0, 0, 40.0 * n), (500, 300, 40.0 * n + 18)))
        parts.append(board(f"lid_{n:02d}", (0, 400, 40.0 * n), (300 + n, 700, 40.0 * n + 18)))
    groups = groups_of(parts)
    assert sorted(len(group.pieces) for group in groups) == [1] * 30 + [30]
