"""Numbers as lists have them: marks, thousands, fractions, units."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kdkit.imports.numbers import IN_MM, Mark, NumberError, decimal_mark, read_count, read_length


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("764", 764),
        ("764.5", 764.5),
        ("764,5", 764.5),
        ("1.200,5", 1200.5),
        ("1,200.5", 1200.5),
        ("1 200", 1200),
        ("1\u202f200,25", 1200.25),
        ("1'200.5", 1200.5),
        ("2,400,000", 2_400_000),
        ("0,125", 0.125),
        ("60 cm", 600),
        ("1.2m", 1200),
        ('30"', 762),
        ("23 5/8 in", 23.625 * 25.4),
        ('23-5/8"', 23.625 * 25.4),
        ("3/4 inch", 19.05),
    ],
)
def test_a_length_is_read_as_it_is_meant(text: str, mm: float) -> None:
    assert read_length(text, "mm", None) == pytest.approx(mm)


@pytest.mark.parametrize(
    "text",
    [
        *("", "-", "wide", "12 ft", "1,2,3", "1.2.3", "12..5", "1/0", "1,20.5,0", "=A1", "1e3"),
        *("9" * 50, "12 34", "nan", "inf", "0x10", "½", "1,234"),
    ],
)
def test_what_is_no_length_or_two_is_refused(text: str) -> None:
    with pytest.raises(NumberError):
        read_length(text, "mm", None)


def test_what_stands_between_thousands_is_learnt_from_the_other_numbers() -> None:
    assert decimal_mark(["1,234", "764,5"]) == ","
    assert decimal_mark(["1,234", "764.5"]) == "."
    assert decimal_mark(["1,234", "1.234"]) is None
    assert decimal_mark(["764,5", "764.5"]) is None
    assert decimal_mark(["1.234.567"]) == ","
    assert read_length("1,234", "mm", ",") == 1.234
    assert read_length("1,234", "mm", ".") == 1234


@given(
    st.integers(0, 10**8),
    st.integers(0, 3),
    st.sampled_from([".", ","]),
    st.booleans(),
    st.sampled_from(sorted(IN_MM)),
)
def test_a_number_written_in_any_way_is_read_back(
    digits: int, decimals: int, mark: Mark, grouped: bool, unit: str
) -> None:
    value = digits / 10**decimals
    other = "." if mark == "," else ","
    text = f"{value:,.{decimals}f}" if grouped else f"{value:.{decimals}f}"
    text = text.translate(str.maketrans({".": mark, ",": other}))
    assert read_length(f"{text} {unit}", "mm", mark) == pytest.approx(value * IN_MM[unit])
    assert read_length(text, unit, mark) == pytest.approx(value * IN_MM[unit])


@given(st.text(max_size=60))
def test_any_text_is_a_number_or_refused(text: str) -> None:
    decimal_mark([text])
    with contextlib.suppress(NumberError):
        read_length(text, "mm", None)
    with contextlib.suppress(NumberError):
        read_count(text)


@pytest.mark.parametrize(
    ("text", "count"), [("2", 2), ("2x", 2), ("3 ×", 3), ("4 pcs", 4), ("2.0", 2), ("0", 0)]
)
def test_a_count_is_read(text: str, count: int) -> None:
    assert read_count(text) == count


@pytest.mark.parametrize("text", ["", "two", "1.5", "-1", "2 3", "1234567"])
def test_no_count_is_made_up(text: str) -> None:
    with pytest.raises(NumberError):
        read_count(text)
