"""The number of an article (GTIN of GS1), and its check digit."""

from __future__ import annotations

from typing import Any

from kdkit.definition.gate import Refused, check_title

__all__ = ["check_digit", "check_gtin"]

_LENGTHS = (8, 12, 13, 14)


def check_digit(digits: str) -> str:
    """Return the check digit that follows some digits.

    From the right they count 3, 1, 3, 1 …; the sum with the check digit is a multiple of 10.

    Source:
        GS1 General Specifications, check digit calculation.

    >>> [check_digit(d) for d in ("629104150021", "730001100001", "890400021003")]
    ['3', '7', '7']
    """
    total = sum(int(d) * (3, 1)[n % 2] for n, d in enumerate(reversed(digits)))
    return str(-total % 10)


def check_gtin(value: Any) -> str:
    """Return an article's number, "" for none.

    Raises:
        Refused: it is no text, has other signs or another length, or its last digit is wrong.
    """
    if isinstance(value, int) and not isinstance(value, bool):
        said = "write it in quotes: a number loses the noughts that it begins with"
        raise Refused("wrong-type", "an article's number is a text", said)
    number = check_title(value) if value else ""
    if not number:
        return ""
    if not (number.isascii() and number.isdigit()) or len(number) not in _LENGTHS:
        help = "write its digits alone, the check digit last"
        raise Refused("wrong-value", f"{number[:20]!r} is no GTIN of 8, 12, 13 or 14 digits", help)
    right = check_digit(number[:-1])
    if number[-1] != right:
        help = "compare it with the paper that it was given on"
        text = f"the check digit of {number} is {number[-1]} and should be {right}"
        raise Refused("wrong-value", text, help)
    return number
