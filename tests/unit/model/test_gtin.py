"""The article's number: outside check digits, and what a maker reads of a wrong one."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from kdkit.model.gtin import check_digit
from kdkit.model.says import Product


@pytest.mark.parametrize(
    ("digits", "last"), [("629104150021", "3"), ("730001100001", "7"), ("890400021003", "7")]
)
def test_check_digits(digits: str, last: str) -> None:
    """Source: GS1, published examples of check digits."""
    assert check_digit(digits) == last
    assert Product.model_validate({"product": "Box", "gtin": digits + last}).gtin == digits + last


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("6291041500214", "should be 3"),
        ("629104150021", "should be 4"),
        ("62910415002", "no GTIN of 8, 12, 13 or 14"),
        ("629104150021x", "no GTIN of 8, 12, 13 or 14"),
        ("６２９１０４１５", "no GTIN of 8, 12, 13 or 14"),
        (6291041500213, "is a text"),
    ],
)
def test_wrong_numbers(said: object, told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        Product.model_validate({"product": "Box", "gtin": said})


def test_none() -> None:
    assert Product.model_validate({"product": "Box"}).gtin == ""
