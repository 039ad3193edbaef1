"""Numbers by which trade identifies what is sold: GTIN, lot, and the web address of both.

Source:
    GS1 General Specifications, from memory: check digit (section 7.9), application identifiers
    01 (GTIN), 10 (batch or lot) and 8006 (one piece of a trade item of several), the characters
    of table 7.11-1. GS1 Digital Link standard, URI syntax, from memory: key and qualifiers as
    pairs of path segments, a GTIN always with 14 digits.
"""

from __future__ import annotations

import re
import urllib.parse
from typing import Any

from kdkit.definition.gate import Refused, shown

__all__ = [
    "DOMAIN",
    "check_digit",
    "check_domain",
    "check_gtin",
    "check_lot",
    "digital_link",
    "element_text",
]

DOMAIN = "https://id.gs1.org"
"""Where a link leads if the maker has no domain that answers such addresses."""

_LENGTHS = (8, 12, 13, 14)
_LOT = re.compile(r"[!\"%&'()*+,\-./0-9:;<=>?A-Z_a-z]{1,20}")
_LABEL = r"[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?"
_DOMAIN = re.compile(rf"https://{_LABEL}(?:\.{_LABEL})+(?:/[A-Za-z0-9._~-]+)*")
_LONGEST_DOMAIN = 100
_MOST_PIECES = 99


def check_digit(digits: str) -> int:
    """Return the last digit of a number of which all others are given.

    From the right, digits count three times and once in turn; the check digit makes the sum a
    multiple of ten.

    >>> check_digit("629104150021")
    3
    """
    weighed = (int(d) * (3 if n % 2 == 0 else 1) for n, d in enumerate(reversed(digits)))
    return -sum(weighed) % 10


def check_gtin(value: Any) -> str:
    """Return a GTIN as its digits alone.

    Raises:
        Refused: it is none, or its check digit is wrong.
    """
    if isinstance(value, int) and not isinstance(value, bool):
        raise Refused("wrong-type", "a GTIN is written in quotes", f'write "{str(value)[:14]}"')
    if not isinstance(value, str):
        raise Refused("wrong-type", f"expected a GTIN, found {shown(value)}")
    digits = value.replace(" ", "").replace("-", "")
    if not (digits.isascii() and digits.isdigit()) or len(digits) not in _LENGTHS:
        raise Refused(
            "bad-trade-number",
            f"{value[:40]!r} is no GTIN: it has 8, 12, 13 or 14 digits",
            "write all its digits, the check digit with them",
        )
    right = check_digit(digits[:-1])
    if int(digits[-1]) != right:
        raise Refused(
            "bad-trade-number",
            f"the check digit of {digits} is {digits[-1]}, by the other digits it is {right}",
            "compare the number with the one that was assigned",
        )
    return digits


def check_lot(value: str) -> str:
    """Return a batch's number as a code can hold it.

    Raises:
        Refused: it is longer or has other characters.
    """
    if _LOT.fullmatch(value) is None:
        raise Refused(
            "bad-trade-number",
            f"the batch {value[:40]!r} cannot stand in a code: it takes up to 20 letters A to Z, "
            "digits and plain marks, no spaces",
            "write it shorter or plainer, or leave out the GTIN",
        )
    return value


def check_domain(value: Any) -> str:
    """Return the address before a link's numbers, without a slash at its end.

    Raises:
        Refused: it is no https address of a domain.
    """
    text = value.strip().rstrip("/") if isinstance(value, str) else ""
    if len(text) > _LONGEST_DOMAIN or _DOMAIN.fullmatch(text) is None:
        raise Refused(
            "bad-trade-number",
            f"{shown(value)} is no address that a link can begin with",
            f"write https:// and a domain in small letters, as in {DOMAIN}",
        )
    return text


def digital_link(
    gtin: str, lot: str = "", piece: int = 1, pieces: int = 1, domain: str = DOMAIN
) -> str:
    """Return the web address of a trade item, or of one of several pieces that are sold as one.

    >>> digital_link("6291041500213", "LN 4")
    'https://id.gs1.org/01/06291041500213/10/LN%204'
    >>> digital_link("6291041500213", "", 1, 2)
    'https://id.gs1.org/8006/062910415002130102'
    """
    whole = gtin.zfill(14)
    several = 1 < pieces <= _MOST_PIECES
    path = f"/8006/{whole}{piece:02d}{pieces:02d}" if several else f"/01/{whole}"
    return domain + path + (f"/10/{urllib.parse.quote(lot, safe='')}" if lot else "")


def element_text(gtin: str, lot: str = "", piece: int = 1, pieces: int = 1) -> str:
    """Return the same for people: the identifiers in brackets, as under a code."""
    whole = gtin.zfill(14)
    several = 1 < pieces <= _MOST_PIECES
    said = f"(8006){whole}{piece:02d}{pieces:02d}" if several else f"(01){whole}"
    return said + (f" (10){lot}" if lot else "")
