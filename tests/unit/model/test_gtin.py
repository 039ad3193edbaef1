"""A product's GTIN: what a maker reads of a wrong one."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from kdkit.model.says import Product


def test_a_right_one_is_kept() -> None:
    """Source: GS1, published example of a check digit."""
    assert Product.model_validate({"product": "Box", "gtin": "6291041500213"}).gtin == (
        "6291041500213"
    )
    assert Product.model_validate({"product": "Box"}).gtin == ""


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("6291041500214", "by the other digits it is 3"),
        ("629104150021", "by the other digits it is 4"),
        ("62910415002", "8, 12, 13 or 14"),
        ("629104150021x", "8, 12, 13 or 14"),
        ("６２９１０４１５", "8, 12, 13 or 14"),
        (6291041500213, "written in quotes"),
    ],
)
def test_wrong_numbers(said: object, told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        Product.model_validate({"product": "Box", "gtin": said})
