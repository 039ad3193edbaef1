"""What a file of a production run may say."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from kdkit.definition.trade_numbers import DOMAIN
from kdkit.model.says import Said
from kdkit.model.words import Gtin, LinkAddress, Name, Number, Text, Title

__all__ = ["MOST_PRODUCTS", "MOST_QUANTITY", "ProductionRun", "Purchase", "RunLine"]

MOST_PRODUCTS = 50
MOST_QUANTITY = 1000


class RunLine(Said):
    """One product: its definition beside the run's file, and how many of it are made."""

    file: Text
    quantity: Annotated[int, Field(strict=True, ge=1, le=MOST_QUANTITY)]
    variant: Text | None = None
    set: dict[Name, Number] = Field(default={})
    gtin: Gtin = ""


class Purchase(Said):
    """How an article is sold: so many (or so many metres) in a pack, at a price."""

    pack: Annotated[Number, Field(gt=0)] = 1.0
    price: Annotated[Number, Field(ge=0)] | None = None


class ProductionRun(Said):
    """The whole file.

    ``spares``: per cent of every kind of hardware that the workshop takes beyond what goes into
    bags, rounded up to whole pieces. ``stock``: a list
    (CSV or XLSX) with the columns article and amount. ``most_mass``: kg, of a packed carton.
    """

    run: Title = Field(min_length=1)
    batch: Title = ""
    language: Text = "en"
    products: tuple[RunLine, ...] = Field(min_length=1, max_length=MOST_PRODUCTS)
    spares: Annotated[Number, Field(ge=0, le=100)] = 0.0
    stock: Text | None = None
    buy: dict[Text, Purchase] = Field(default={}, max_length=2000)
    currency: Title = ""
    link: LinkAddress = DOMAIN
    most_mass: Annotated[Number, Field(ge=1, le=1000)] | None = None
