"""The small types that the definition is made of: lengths, names, titles.

Each refuses what does not fit with a sentence that a maker understands; the
sentence travels in the error (``PydanticCustomError``), its type is the problem code.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, Discriminator, Field, Tag
from pydantic_core import PydanticCustomError

from kdkit.definition.gate import (
    LONGEST_LINES,
    LONGEST_TITLE,
    Refused,
    check_lines,
    check_name,
    check_number,
    check_title,
    shown,
)
from kdkit.model.gtin import check_gtin

__all__ = [
    "LARGEST_LENGTH",
    "Axis",
    "Band",
    "BoreFace",
    "Facing",
    "FixtureFace",
    "Gtin",
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
    "mapping_or_one",
]

LARGEST_LENGTH = 100_000.0
"""mm; nothing in a product is longer than 100 m."""


def _gated(check: Callable[[Any], Any]) -> BeforeValidator:
    """Return what lets a value in by a rule of the gate; a refusal becomes pydantic's."""

    def checked(value: Any) -> Any:
        try:
            return check(value)
        except Refused as fault:
            # Braces would be taken for places to fill in.
            text = fault.message.replace("{", "(").replace("}", ")")
            raise PydanticCustomError(
                fault.code,
                "{text}",
                {"text": text, "help": fault.help},
            ) from None

    return BeforeValidator(checked)


def _check_length(value: Any) -> float | str:
    if isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Refused(
            "wrong-type",
            f"expected a length, found {shown(value)}",
            "write a number of mm, or a formula such as `width - 36`",
        )
    return check_number(value, most=LARGEST_LENGTH, what="a length", unit=" mm")


def _check_option(value: Any) -> float | str:
    return check_title(value) if isinstance(value, str) else check_number(value)


def _list_or_one(value: Any) -> str:
    return "@list" if isinstance(value, list | tuple) else "@one"


def mapping_or_one(value: Any) -> str:
    """Return the tag of what was written: a mapping, or one value in its place."""
    return "@mapping" if isinstance(value, Mapping | BaseModel) else "@one"


def _not_empty(value: tuple[Any, ...]) -> tuple[Any, ...]:
    if not value:
        raise PydanticCustomError(
            "empty-list",
            "{text}",
            {"text": "the list is empty", "help": "name at least one"},
        )
    return value


Length = Annotated[
    float | str,
    _gated(_check_length),
    Field(
        description="mm, or a formula over parameters and sides: left_side.x1 + 2; "
        "in quotes if it holds a comma; sin, cos, tan, asin, acos, atan are in degrees"
    ),
]
Number = Annotated[float, _gated(check_number)]
Option = Annotated[float | str, _gated(_check_option)]
Name = Annotated[str, _gated(check_name)]
Text = Annotated[str, _gated(check_title)]
Gtin = Annotated[str, _gated(check_gtin)]
Title = Annotated[
    str,
    _gated(check_title),
    Field(description="plain text of one line", max_length=LONGEST_TITLE),
]
Markdown = Annotated[
    str,
    _gated(check_lines),
    Field(description="Markdown", max_length=LONGEST_LINES),
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
