"""What all entries of a catalogue have in common: their limits, and that they are frozen."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

from kdkit.model.limits import BOARD_THICKNESS, LONGEST_SIDE
from kdkit.model.words import Number, Text

__all__ = [
    "Count",
    "Density",
    "Entry",
    "Grams",
    "Minutes",
    "Place",
    "Range",
    "SheetSide",
    "Size",
    "Stress",
    "Thickness",
    "Words",
]

# What hardware, boards and work come to, at most: wide enough for all that is sold, narrow
# enough to catch a slip of unit. Common practice, no source.
Place = Annotated[Number, Field(ge=-10_000, le=10_000)]  # mm
Size = Annotated[Number, Field(ge=0, le=10_000)]  # mm
Grams = Annotated[Number, Field(ge=0, le=200_000)]
Minutes = Annotated[Number, Field(ge=0, le=10_080)]  # a week: the longest that a finish cures
Thickness = Annotated[Number, Field(ge=BOARD_THICKNESS[0], le=BOARD_THICKNESS[1])]
Density = Annotated[Number, Field(ge=20, le=5_000)]  # kg/m³, foam to heavy glass
Stress = Annotated[Number, Field(gt=0, le=500_000)]  # N/mm², beyond steel's 210 000
SheetSide = Annotated[Number, Field(ge=50, le=LONGEST_SIDE)]  # mm
Words = Annotated[Text, Field(min_length=1)]
Count = Annotated[int, Field(strict=True, ge=1, le=500)]


def _rising(pair: tuple[float, float]) -> tuple[float, float]:
    if pair[0] > pair[1]:
        text = f"{pair[0]:g} is larger than {pair[1]:g}"
        raise PydanticCustomError(
            "out-of-range", "{text}", {"text": text, "help": "write [least, greatest]"}
        )
    return pair


Range = Annotated[tuple[Size, Size], AfterValidator(_rising)]


class Entry(BaseModel):
    """A frozen model that refuses unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
