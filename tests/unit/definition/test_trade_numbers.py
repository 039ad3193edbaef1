"""Check digits, batches and web addresses in codes."""

from __future__ import annotations

import urllib.parse

import pytest

from kdkit.definition.gate import Refused
from kdkit.definition.trade_numbers import (
    check_digit,
    check_domain,
    check_gtin,
    check_lot,
    digital_link,
    element_text,
)


# Source: worked examples of check digits for GTIN-13 as published by GS1 and its members
# (the first is the one of the check digit calculator's page), from memory.
@pytest.mark.parametrize(
    ("digits", "last"), [("629104150021", 3), ("730001100001", 7), ("890400021003", 7)]
)
def test_published_check_digits(digits: str, last: int) -> None:
    assert check_digit(digits) == last
    assert check_gtin(f"{digits}{last}") == f"{digits}{last}"


def test_every_wrong_digit_is_found() -> None:
    right = "6291041500213"
    for place in range(13):
        for digit in "0123456789":
            other = right[:place] + digit + right[place + 1 :]
            if other != right:
                with pytest.raises(Refused, match="check digit"):
                    check_gtin(other)


@pytest.mark.parametrize(
    "value",
    ["", "629104150021", "629104150021345", "６291041500213", "629104150021x", "1", 5, None, True,
     6291041500213, 1e12, ["6291041500213"], "6" * 5000],
)  # fmt: skip
def test_what_is_no_gtin_is_refused(value: object) -> None:
    with pytest.raises(Refused) as refused:
        check_gtin(value)
    assert len(refused.value.message) < 200


def test_spaces_between_digits_are_taken_out() -> None:
    assert check_gtin("6 291041 500213") == "6291041500213"


# Source: GS1 Digital Link standard, URI syntax, from memory: /01/ and 14 digits; /10/ the lot,
# what is reserved in a path percent-encoded; /8006/ GTIN, two digits piece, two digits pieces.
def test_links() -> None:
    assert digital_link("6291041500213") == "https://id.gs1.org/01/06291041500213"
    assert (
        digital_link("96385074", "A/1&%", domain="https://ex.example")
        == "https://ex.example/01/00000096385074/10/A%2F1%26%25"
    )
    link = digital_link("6291041500213", "LN-204", 2, 3)
    assert link == "https://id.gs1.org/8006/062910415002130203/10/LN-204"
    assert element_text("6291041500213", "LN-204", 2, 3) == "(8006)062910415002130203 (10)LN-204"
    assert element_text("6291041500213") == "(01)06291041500213"
    # A hundred pieces cannot be numbered in two digits: the number of the whole stands alone.
    assert "/01/" in digital_link("6291041500213", "", 5, 100)


def test_a_link_gives_its_batch_back() -> None:
    lot = "!\"%&'()*+,-./:;<=>?_"
    path = urllib.parse.urlsplit(digital_link("6291041500213", lot)).path
    assert urllib.parse.unquote(path.split("/")[4]) == lot


@pytest.mark.parametrize("lot", ["Ä1", "a b", "x" * 21, "", "a#b"])
def test_batches_that_no_code_holds(lot: str) -> None:
    with pytest.raises(Refused, match="batch"):
        check_lot(lot)


@pytest.mark.parametrize(
    "address",
    ["http://ex.example", "https://", "https://ex", "javascript:alert(1)", "https://a@b.example",
     "https://ex.example/?q=1", "https://ex..example", "https://" + "a." * 80 + "de", 7],
)  # fmt: skip
def test_addresses_that_are_none(address: object) -> None:
    with pytest.raises(Refused):
        check_domain(address)


def test_an_address_loses_its_last_slash() -> None:
    assert check_domain("https://codes.ex.example/t/") == "https://codes.ex.example/t"
