"""Blocks beside a drawing: off the drawing, off each other, near what they belong to."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from kdkit.illustrate.layout import Block, place_blocks

sizes = st.tuples(st.floats(15, 40), st.floats(15, 40))


def boxes_of(blocks: list[Block], centres: tuple[tuple[float, float], ...]) -> list[object]:
    return [
        box(x - b.width / 2, y - b.height / 2, x + b.width / 2, y + b.height / 2)
        for b, (x, y) in zip(blocks, centres, strict=True)
    ]


@settings(deadline=None, max_examples=25, derandomize=True)
@given(many=st.lists(sizes, min_size=1, max_size=4))
def test_blocks_touch_neither_the_drawing_nor_each_other(many: list[tuple[float, float]]) -> None:
    drawn = box(0, 0, 80, 60)
    blocks = [
        Block(width=w, height=h, anchor=(20.0 * n, 30.0)) for n, (w, h) in enumerate(many)
    ]
    placed = boxes_of(blocks, place_blocks(blocks, drawn, widest=166, highest=104))
    for n, one in enumerate(placed):
        assert not one.intersects(drawn)  # type: ignore[attr-defined]
        assert not any(one.intersects(other) for other in placed[:n])  # type: ignore[attr-defined]


def test_a_block_stands_on_the_side_of_its_anchor() -> None:
    drawn = box(0, 0, 80, 60)
    block = Block(width=20, height=20, anchor=(78.0, 30.0))
    ((x, _),) = place_blocks([block], drawn, widest=166, highest=104)
    assert x > 80


def test_a_free_bay_inside_the_drawing_is_used() -> None:
    drawn = box(0, 0, 100, 100).difference(box(40, -1, 90, 50))
    block = Block(width=24, height=24, anchor=(60.0, 52.0))
    ((x, y),) = place_blocks([block], drawn, widest=166, highest=104)
    assert 40 < x < 90
    assert 0 < y < 50
