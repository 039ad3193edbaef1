"""Machines that drill by a program, as data: a maker enters their own in a catalogue file."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StrictBool
from pydantic_core import PydanticCustomError

from kdkit.catalogue.entry import Entry, Size, Words
from kdkit.model.words import Markdown

__all__ = ["Machine", "MachineTool"]


def _one_spelling(number: Any) -> Any:
    """Refuse a number written otherwise than people read it: two spellings would be two keys."""
    if isinstance(number, str) and not re.fullmatch(r"[1-9][0-9]*", number, re.ASCII):
        text = f"{number[:20]!r} is no tool's number"
        help = "write digits alone, the first not 0: 7"
        raise PydanticCustomError("wrong-type", "{text}", {"text": text, "help": help})
    return number


ToolNumber = Annotated[int, BeforeValidator(_one_spelling), Field(ge=1, le=999)]
Diameter = Annotated[Size, Field(ge=0.5, le=200)]
_ALIKE = 0.05  # mm; drills are sold in tenths


class MachineTool(Entry):
    """What stands under one number, the same for all products.

    Args:
        kind: a ``countersink`` makes what a fitting calls so, a ``drill`` everything else.
        diameter: of a drill; the largest of a countersink, mm.
        reach: how deep it bores, mm.
        speed: turns a minute.
        feed: mm a minute.
        angle: of a countersink's point, degrees.
    """

    kind: Literal["drill", "countersink"] = "drill"
    diameter: Diameter
    reach: Annotated[Size, Field(gt=0)] = 60.0
    speed: Annotated[int, Field(ge=10, le=60_000)]
    feed: Annotated[int, Field(ge=1, le=60_000)]
    angle: Annotated[Size, Field(ge=30, le=150)] = 90.0


class Machine(Entry):
    """A three-axis machine: what it reaches, how it changes tools, what its control knows.

    Args:
        changes_tools: by itself, by T and M6; else each tool gets a program of its own,
            before which a person sets the zero anew.
        canned_cycles: the control knows G81 to G83; else plain moves are written.
        travel: along X and Y, mm; larger panels get no program.
        stands: the tallest panel that is held upright under the spindle, mm.
        top: where it goes up to, by G53, before a tool is changed: Z of the machine's own
            coordinates, mm.
        safe_height: at which it travels over the panel, above clamps, mm.
        near_height: at which feeding begins, mm.
        break_through: how far a through bore goes into the spoil board, mm.
        tools: by number; a bore for which there is none is made otherwise.
    """

    title: Words
    changes_tools: StrictBool = False
    canned_cycles: StrictBool = True
    travel: tuple[Annotated[Size, Field(gt=0)], Annotated[Size, Field(gt=0)]]
    stands: Size
    top: Annotated[float, Field(ge=-10_000, le=10_000)] = 0.0
    safe_height: Annotated[Size, Field(ge=1)] = 30.0
    near_height: Annotated[Size, Field(gt=0)] = 3.0
    break_through: Annotated[Size, Field(gt=0, le=20)] = 1.0
    tools: dict[ToolNumber, MachineTool]
    sources: tuple[Markdown, ...]

    def tool_for(self, diameter: float, *, countersink: bool) -> int | None:
        """Return the number of the tool for a bore of a diameter in mm, or None.

        A countersink makes every recess up to its own diameter.
        """
        for number, tool in sorted(self.tools.items()):
            if countersink != (tool.kind == "countersink"):
                continue
            if countersink and diameter <= tool.diameter + _ALIKE:
                return number
            if not countersink and abs(diameter - tool.diameter) <= _ALIKE:
                return number
        return None
