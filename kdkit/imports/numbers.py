"""Numbers as people type them in lists: 764, 764,5, 1.200,5, 23 5/8", 60 cm."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Literal

__all__ = [
    "IN_MM",
    "Mark",
    "NumberError",
    "decimal_mark",
    "read_amount",
    "read_count",
    "read_length",
]

Mark = Literal[".", ","]

IN_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
"""Source: the inch is 25.4 mm exactly, international yard and pound agreement of 1959."""

_UNITS = {
    "": "",
    "mm": "mm",
    "cm": "cm",
    "m": "m",
    "in": "in",
    "in.": "in",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "″": "in",
    "''": "in",
}
_LONGEST = 40
_SPACES = "\u00a0\u2007\u2009\u202f"
_WITH_UNIT = re.compile(r"(?P<number>[-+]?[0-9][0-9., '’/-]*?)\s*(?P<unit>[a-z]*\.?|\"|″|'')")
_FRACTION = re.compile(r"(?:(?P<whole>[0-9]+)[ -])?(?P<above>[0-9]+)/(?P<below>[0-9]+)")
_AMOUNT = re.compile(r"[-+]?[0-9][0-9., '’]*")
_GROUPED = re.compile(r"[0-9]{1,3}(?:[ '’][0-9]{3})+(?=[.,]|$)")


class NumberError(ValueError):
    """A text that is no number here; ``help`` says what to write."""

    def __init__(self, message: str, help: str) -> None:
        super().__init__(message)
        self.message = message
        self.help = help


def decimal_mark(texts: Iterable[str]) -> Mark | None:
    """Return the mark that stands before decimals in a list, None if no number tells.

    A mark tells when it cannot be one between thousands: ``764,5`` and ``1.200,5`` say
    comma, ``1,200`` says nothing. Where numbers disagree there is no answer either.
    """
    found: set[Mark] = set()
    for text in texts:
        marks = _marks(text)
        if marks is None:
            continue
        if len(set(marks)) == 2:
            found.add(marks[-1])
        elif len(marks) > 1:
            found.add("." if marks[0] == "," else ",")
        elif marks and not _looks_like_thousands(text):
            found.add(marks[0])
    return found.pop() if len(found) == 1 else None


def read_length(text: str, unit: str, mark: Mark | None) -> float:
    """Return a length in mm.

    Args:
        text: as it stands in the list; it may carry a unit of its own.
        unit: of numbers without one, a key of ``IN_MM``.
        mark: what stands before decimals in this list, if that is known.

    Raises:
        NumberError: the text is no length, or may be read in two ways.
    """
    cleaned = _cleaned(text)
    match = _WITH_UNIT.fullmatch(cleaned.lower()) if len(cleaned) <= _LONGEST else None
    if match is None or match["unit"] not in _UNITS:
        raise NumberError(f"{text[:_LONGEST]!r} is not a length", "write a number, as in 764.5")
    value = _number(match["number"].strip(), text, mark)
    return value * IN_MM[_UNITS[match["unit"]] or unit]


def read_amount(text: str, mark: Mark | None) -> float:
    """Return a number without a unit: ``5.5``, ``5,5``, ``1 200``.

    Args:
        text: as it stands in the list.
        mark: what stands before decimals in this list, if that is known.

    Raises:
        NumberError: the text is no number, or may be read in two ways.
    """
    cleaned = _cleaned(text)
    if len(cleaned) > _LONGEST or not _AMOUNT.fullmatch(cleaned):
        raise NumberError(f"{text[:_LONGEST]!r} is not a number", "write a number, as in 12.5")
    return _number(cleaned, text, mark)


def read_count(text: str) -> int:
    """Return how many of something there are; "2", "2x", "2 pcs" and "2.0" are two.

    Raises:
        NumberError: the text is no whole number from 0 on.
    """
    match = re.fullmatch(r"([0-9]{1,6})(?:[.,]0{1,3})?\s*(?:[x×]|[a-zäöüéè]{1,6}\.?)?", _low(text))
    if match is None:
        raise NumberError(
            f"{text[:_LONGEST]!r} is not a number of pieces", "write a whole number, as in 2"
        )
    return int(match[1])


def _low(text: str) -> str:
    return _cleaned(text).lower()


def _cleaned(text: str) -> str:
    for space in _SPACES:
        text = text.replace(space, " ")
    return text.strip()


def _marks(text: str) -> list[Mark] | None:
    """Return the commas and points of a number in their order; None if it is none."""
    cleaned = _cleaned(text).lower()
    match = _WITH_UNIT.fullmatch(cleaned) if len(cleaned) <= _LONGEST else None
    if match is None or match["unit"] not in _UNITS or "/" in cleaned:
        return None
    marks: list[Mark] = []
    for character in match["number"]:
        if character == ",":
            marks.append(",")
        elif character == ".":
            marks.append(".")
    return marks


def _looks_like_thousands(text: str) -> bool:
    """Tell whether the one mark in a number may as well stand between thousands."""
    number = re.match(r"\s*[-+]?([0-9]+)[.,]([0-9]+)", _cleaned(text))
    if number is None:
        return False
    return len(number[2]) == 3 and len(number[1]) <= 3 and not number[1].startswith("0")


def _number(number: str, text: str, mark: Mark | None) -> float:
    sign = -1.0 if number.startswith("-") else 1.0
    number = number.lstrip("+-").strip()
    fraction = _FRACTION.fullmatch(number)
    if fraction is not None:
        if int(fraction["below"]) == 0:
            raise NumberError(f"{text[:_LONGEST]!r} divides by zero", "")
        return sign * (
            int(fraction["whole"] or 0) + int(fraction["above"]) / int(fraction["below"])
        )
    grouped = _GROUPED.match(number)
    if grouped is not None:
        number = re.sub("[ '’]", "", grouped.group()) + number[grouped.end() :]
    marks = [c for c in number if c in ".,"]
    if len(set(marks)) == 2:
        mark = "," if marks[-1] == "," else "."
    elif len(marks) > 1:
        mark = "." if marks[0] == "," else ","
    elif marks and _looks_like_thousands(number):
        if mark is None:
            plain = number.replace(marks[0], "")
            raise NumberError(
                f"{text[:_LONGEST]!r} can be read as {plain} or as {number.replace(',', '.')}",
                f"write {plain}, or another number of decimals",
            )
    elif marks:
        mark = "," if marks[0] == "," else "."
    other = "." if mark == "," else ","
    whole, _, decimals = number.partition(mark or ".")
    groups = whole.split(other)
    fine = (
        all(re.fullmatch("[0-9]+", group) for group in groups)
        and all(len(group) == 3 for group in groups[1:])
        and (len(groups) == 1 or 1 <= len(groups[0]) <= 3)
        and re.fullmatch("[0-9]*", decimals) is not None
    )
    if not fine:
        raise NumberError(f"{text[:_LONGEST]!r} is not a number", "write it plainly: 1200.5")
    value = float(f"{''.join(groups)}.{decimals or '0'}")
    if not math.isfinite(value):
        raise NumberError(f"{text[:_LONGEST]!r} is too large", "")
    return sign * value
