"""The small types that the definition is made of: lengths, names, titles.

Each refuses what does not fit with a sentence that a maker understands; the
sentence travels in the error (``PydanticCustomError``), its type is the problem code.
"""

from __future__ import annotations

import math
import re
import unicodedata
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Discriminator, Field, Tag
from pydantic_core import PydanticCustomError

__all__ = [
    "LARGEST_LENGTH",
    "Axis",
    "Band",
    "BoreFace",
    "Facing",
    "FixtureFace",
    "Length",
    "Markdown",
    "Name",
    "NameOrNames",
    "Number",
    "Opening",
    "Option",
    "Side",
    "SizeOrSpan",
    "Text",
    "Title",
]

LARGEST_LENGTH = 100_000.0
"""mm; nothing in a product is longer than 100 m."""

_LONGEST_TITLE = 120
_LONGEST_MARKDOWN = 20_000
_LONGEST_NAME = 40
# Marks that turn the direction of the text after them: a label could be made to
# read as another one.
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c")


def _fault(code: str, message: str, help: str = "") -> PydanticCustomError:
    # Braces would be taken for places to fill in.
    text = message.replace("{", "(").replace("}", ")")
    return PydanticCustomError(code, "{text}", {"text": text, "help": help})


def shown(value: Any) -> str:
    """Return a value as a message may quote it: short, in words a maker knows."""
    if value is None:
        return "nothing"
    if value is True or value is False:
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a mapping (name: value)"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, str):
        return f"the text {value[:40]!r}"
    if isinstance(value, int | float):
        return f"the number {value:g}" if abs(value) < 1e15 else "a very large number"
    return "something else"


def _check_length(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise _fault(
            "wrong-type",
            f"expected a length, found {shown(value)}",
            "write a number of mm, or a formula such as `width - 36`",
        )
    if isinstance(value, str):
        return value
    if not math.isfinite(value):
        raise _fault("number-not-finite", "a length must be a plain number")
    if abs(value) > LARGEST_LENGTH:
        raise _fault(
            "out-of-range", f"{value:g} mm is more than {LARGEST_LENGTH:g} mm", "lengths are in mm"
        )
    return float(value)


def _check_number(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _fault("wrong-type", f"expected a number, found {shown(value)}", _as_number(value))
    if not math.isfinite(value) or abs(value) > 1e9:
        raise _fault("number-not-finite", "expected a plain number below 1e9")
    return float(value)


_IN_MM = {"": 1.0, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, '"': 25.4}
_WITH_UNIT = re.compile(r"\s*([+-]?\d{1,9}(?:[.,]\d{1,9})?)\s*(mm|cm|m|in|\"|)\s*")


def _as_number(value: Any) -> str:
    """Return advice for a text that was meant as a number: without unit, with a point."""
    read = _WITH_UNIT.fullmatch(value) if isinstance(value, str) else None
    if read is None:
        return "write a plain number, without quotes or unit"
    plain = f"{float(read[1].replace(',', '.')) * _IN_MM[read[2]]:.10g}"
    if read[2]:
        return f"lengths are in mm and have no unit: {plain}"
    return f"write it without quotes and with a decimal point: {plain}"


def _check_option(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise _fault("wrong-type", f"expected a number or a text, found {shown(value)}")
    return _check_title(value) if isinstance(value, str) else _check_number(value)


def _check_name(value: Any) -> Any:
    if not isinstance(value, str):
        raise _fault("wrong-type", f"expected a name, found {shown(value)}")
    if "-" in value:
        raise _fault(
            "bad-name",
            f"the name {value[:60]!r} has a hyphen, which a formula would read as minus",
            f"write {value[:60].replace('-', '_')}",
        )
    if not value.isidentifier() or "__" in value or value.startswith("_"):
        raise _fault(
            "bad-name",
            f"{value[:60]!r} cannot be a name",
            "use letters, digits and _, a letter first: left_side",
        )
    if len(value) > _LONGEST_NAME:
        raise _fault("bad-name", f"a name has at most {_LONGEST_NAME} characters")
    if value == "boards":
        raise _fault("bad-name", "'boards' is a word of the formulas", "choose another name")
    return value


def _check_text(value: Any) -> Any:
    if not isinstance(value, str):
        raise _fault(
            "wrong-type", f"expected a text, found {shown(value)}", 'put it in quotes: "…"'
        )
    return value


def _check_title(value: Any) -> Any:
    text = _check_text(value)
    if len(text) > _LONGEST_TITLE:
        raise _fault(
            "text-too-long",
            f"the text has {len(text)} characters, at most {_LONGEST_TITLE} fit here",
            "longer texts belong under `texts`",
        )
    for character in text:
        if unicodedata.category(character) in ("Cc", "Cs", "Co") or character in _TURNING:
            raise _fault(
                "bad-text",
                f"the character U+{ord(character):04X} cannot be printed in one line of text",
                "delete it",
            )
    return text


def _check_markdown(value: Any) -> Any:
    text = _check_text(value)
    if len(text) > _LONGEST_MARKDOWN:
        raise _fault(
            "text-too-long",
            f"the text has {len(text)} characters, at most {_LONGEST_MARKDOWN} fit here",
        )
    for character in text:
        if character in "\n\t":
            continue
        if unicodedata.category(character) in ("Cc", "Cs", "Co") or character in _TURNING:
            raise _fault("bad-text", f"the character U+{ord(character):04X} cannot be printed")
    return text


def _list_or_one(value: Any) -> str:
    return "@list" if isinstance(value, list | tuple) else "@one"


def _not_empty(value: tuple[Any, ...]) -> tuple[Any, ...]:
    if not value:
        raise _fault("empty-list", "the list is empty", "name at least one")
    return value


Length = Annotated[
    float | str,
    BeforeValidator(_check_length),
    Field(
        description="mm, or a formula over parameters and sides: left_side.x1 + 2; "
        "in quotes if it holds a comma"
    ),
]
Number = Annotated[float, BeforeValidator(_check_number)]
Option = Annotated[float | str, BeforeValidator(_check_option)]
Name = Annotated[str, BeforeValidator(_check_name)]
Text = Annotated[str, BeforeValidator(_check_title)]
Title = Annotated[
    str,
    BeforeValidator(_check_title),
    Field(description="plain text of one line", max_length=_LONGEST_TITLE),
]
Markdown = Annotated[
    str,
    BeforeValidator(_check_markdown),
    Field(description="Markdown", max_length=_LONGEST_MARKDOWN),
]
NameOrNames = Annotated[
    Annotated[Text, Tag("@one")]
    | Annotated[tuple[Text, ...], AfterValidator(_not_empty), Tag("@list")],
    Discriminator(_list_or_one),
]
SizeOrSpan = Annotated[
    Annotated[Length, Tag("@one")] | Annotated[tuple[Length, Length], Tag("@list")],
    Discriminator(_list_or_one),
]

Axis = Literal["x", "y", "z"]
Side = Literal["front", "back", "left", "right", "top", "bottom"]
Facing = Literal["+x", "-x", "+y", "-y", "+z", "-z"]
BoreFace = Literal["face", "back", "front", "back edge", "left", "right", "top", "bottom"]
"""``face`` and ``back`` are the board's broad sides; the others its edges."""
FixtureFace = BoreFace
Opening = Literal["face", "back", "+x", "-x", "+y", "-y", "+z", "-z"]
Band = Literal["front", "back", "left", "right", "top", "bottom", "all"]
