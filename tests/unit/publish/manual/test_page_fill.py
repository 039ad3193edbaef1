"""Sharing pages among steps."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kdkit.publish.manual.page_fill import SMALLEST, Block, share_from, share_pages

HEIGHT, LEAD = 260.0, 12.0

BLOCKS = st.lists(
    st.builds(
        lambda words, most, share: Block(words=words, least=most * share, most=most),
        words=st.floats(20, 120),
        most=st.floats(40, 165),
        share=st.floats(0.3, 1.0),
    ),
    min_size=1,
    max_size=15,
)


def pages(blocks: list[Block]) -> list[list[tuple[Block, float]]]:
    shared: list[list[tuple[Block, float]]] = [[]]
    placed = share_pages(blocks, HEIGHT, LEAD)
    for block, (height, begins) in zip(blocks, placed, strict=True):
        if begins:
            shared.append([])
        shared[-1].append((block, height))
    return shared


@given(BLOCKS)
def test_pages_hold_what_they_are_given(blocks: list[Block]) -> None:
    """Σ words + figures ≤ page; each figure between the least and the most it can use."""
    shared = pages(blocks)
    assert [block for page in shared for block, _ in page] == blocks
    assert all(shared)
    for n, page in enumerate(shared):
        room = HEIGHT - (LEAD if n == 0 else 0)
        used = sum(block.words + height for block, height in page)
        for block, height in page:
            assert height <= block.most + 1e-9
            if len(page) > 1 or used < room - 1e-6:
                assert height >= block.least - 1e-9
            assert height >= min(SMALLEST, block.least) - 1e-9
        if len(page) > 1 or page[0][1] > SMALLEST + 1e-6:
            assert used <= room + 1e-6


def test_figures_grow_until_the_page_is_full() -> None:
    (page,) = pages([Block(words=50, least=60, most=120), Block(words=50, least=60, most=90)])
    assert sum(block.words + height for block, height in page) == pytest.approx(HEIGHT - LEAD)


def test_two_short_steps_share_a_page() -> None:
    block = Block(words=40, least=60, most=90)
    assert [len(page) for page in pages([block] * 4)] == [2, 2]


def test_a_long_step_stands_alone() -> None:
    long = Block(words=110, least=100, most=120)
    short = Block(words=60, least=80, most=130)
    assert [len(page) for page in pages([short, long, short])] == [1, 1, 1]


def test_a_step_without_a_figure_gets_no_room_for_one() -> None:
    ((_, height),) = pages([Block(words=300, least=0, most=0)])[0]
    assert height == 0


def test_steps_follow_the_lists_where_they_fit() -> None:
    block = Block(words=40, least=60, most=90)
    shared, follows = share_from([block] * 3, HEIGHT, LEAD, last=130)
    assert follows
    assert [begins for _, begins in shared] == [False, True, False]
    assert shared[0][1] <= HEIGHT - 130 - LEAD - block.words


@given(BLOCKS, st.floats(0, HEIGHT))
def test_no_page_before_takes_more_than_it_has(blocks: list[Block], last: float) -> None:
    shared, follows = share_from(blocks, HEIGHT, LEAD, last)
    if follows:
        used = last + LEAD
        for n, (block, (height, begins)) in enumerate(zip(blocks, shared, strict=True)):
            if begins:
                break
            assert n > 0 or height >= block.least - 1e-9
            used += block.words + height
        assert used <= HEIGHT + 1e-6
