"""How the parts list is set."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kdkit.illustrate.paper.style import load_style
from kdkit.publish.manual.content import Manual, write_manual
from kdkit.publish.manual.manual import render_lists_trial
from kdkit.publish.manual.parts_page import COLUMNS, set_parts
from kdkit.publish.typesetting.pdf import measure_heights
from kdkit.publish.wording.messages import load_messages
from tests import handmade

PAGE = 259.0


@pytest.fixture(scope="module")
def manual() -> Manual:
    style, _ = load_style()
    assert style is not None
    content, problems = write_manual(handmade.results(), load_messages("en"), style)
    assert problems == ()
    return content


def words_of(manual: Manual) -> dict[int, float]:
    """Heights as the style sheet sets them: a heading, and 17 mm of words a row."""
    return {n: 25.0 + 17.0 * math.ceil(len(manual.parts) / n) for n in COLUMNS}


@given(count=st.integers(1, 60), hardware=st.floats(0, 250))
def test_the_list_fits_where_it_is_put(manual: Manual, count: int, hardware: float) -> None:
    many = replace(manual, parts=(manual.parts[0],) * count, bought=())
    page = set_parts(many, words_of(many), hardware, PAGE)
    assert page.room.width == COLUMNS[page.columns]
    assert page.room.height >= 17
    if page.shared and page.height + hardware > PAGE:  # several pages: alone it fits on none
        assert words_of(many)[3] + 20.0 * math.ceil(count / 3) > PAGE
        assert page.columns == 4
    elif page.shared:
        assert page.height + hardware <= PAGE
    elif page.columns == 2:
        assert page.height <= PAGE


def test_lists_share_a_page_before_they_get_one_each(manual: Manual) -> None:
    assert set_parts(manual, words_of(manual), 60.0, PAGE).shared
    alone = set_parts(manual, words_of(manual), 240.0, PAGE)
    assert not alone.shared
    assert alone.columns == 2


def test_fewer_columns_make_a_longer_list(manual: Manual) -> None:
    messages = load_messages("en")
    names = [*(f"columns-{n}" for n in COLUMNS), "roomy", "end"]
    many = replace(manual, parts=(manual.parts[0],) * 12)
    tops = measure_heights(render_lists_trial(many, messages, tuple(COLUMNS)), "a4", names)
    two, three, four = (b - a for a, b in pairwise(tops[:4]))
    assert two > three > four
