"""Sharing pages among steps."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kdkit.publish.page_fill import LARGEST, SMALLEST, Block, share_pages

WIDTH, HEIGHT, LEAD = 180.0, 260.0, 12.0

BLOCKS = st.lists(
    st.builds(
        Block,
        words=st.floats(20, 120),
        width=st.floats(40, 178),
        height=st.floats(30, 130),
    ),
    min_size=1,
    max_size=15,
)


def pages(blocks: list[Block]) -> list[list[tuple[Block, float]]]:
    shared: list[list[tuple[Block, float]]] = [[]]
    placed = share_pages(blocks, WIDTH, HEIGHT, LEAD)
    for block, (scale, begins) in zip(blocks, placed, strict=True):
        if begins:
            shared.append([])
        shared[-1].append((block, scale))
    return shared


@given(BLOCKS)
def test_pages_hold_what_they_are_given(blocks: list[Block]) -> None:
    """Σ words + scaled figures ≤ page, no figure wider than the page or too small."""
    shared = pages(blocks)
    assert [block for page in shared for block, _ in page] == blocks
    assert all(shared)
    for n, page in enumerate(shared):
        room = HEIGHT - (LEAD if n == 0 else 0)
        for block, scale in page:
            assert block.width * scale <= WIDTH + 1e-6
            assert scale <= LARGEST + 1e-9
            if len(page) > 1:
                assert scale >= min(SMALLEST, WIDTH / block.width) - 1e-9
        if len(page) > 1:
            assert sum(b.words + s * b.height for b, s in page) <= room + 1e-6


def test_two_short_steps_share_a_page() -> None:
    block = Block(words=40, width=150, height=90)
    assert [len(page) for page in pages([block] * 4)] == [2, 2]


def test_a_long_step_stands_alone() -> None:
    long, short = Block(words=110, width=150, height=120), Block(words=60, width=150, height=100)
    assert [len(page) for page in pages([short, long, short])] == [1, 1, 1]


def test_a_wide_figure_is_narrowed_to_the_page() -> None:
    ((scale, _),) = share_pages([Block(words=30, width=360, height=50)], WIDTH, HEIGHT, LEAD)
    assert scale == pytest.approx(0.5)
