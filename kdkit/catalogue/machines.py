"""Machines that drill and cut by a program, as data: a maker enters their own in a file."""

from __future__ import annotations

import math
import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StrictBool, model_validator
from pydantic_core import PydanticCustomError

from kdkit.catalogue.entry import Entry, Size, Words
from kdkit.model.words import Markdown

__all__ = ["Cutting", "Machine", "MachineTool"]


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
_OF_CUTTERS = ("pass_depth", "plunge_feed", "plunges", "stepover", "ramp")
_MUST_BE_SAID = _OF_CUTTERS[:3]


class MachineTool(Entry):
    """What stands under one number, the same for all products.

    Args:
        kind: a ``countersink`` makes what a fitting calls so, a ``cutter`` grooves, slots,
            openings and outlines, a ``drill`` everything else.
        diameter: of a drill or a cutter; the largest of a countersink, mm.
        reach: how deep it goes, mm; of a cutter the length of its cutting edges.
        speed: turns a minute.
        feed: mm a minute.
        angle: included angle of a countersink, degrees.
        tip: diameter of its flat tip, mm; 0 if it ends in a point.
        pass_depth: the most that a cutter takes away in one pass, down, mm.
        plunge_feed: of a cutter straight down or down a ramp, mm a minute.
        plunges: a cutter may go straight down into wood; else it comes in by a ramp.
        stepover: from one lane of a cutter to the next, as a share of its diameter.
        ramp: how steep a ramp goes down, degrees.

    Of angle and tip there is no default: a depth worked out from a guess would make a wrong
    recess. Where a maker says none, no program makes the recess.
    """

    kind: Literal["drill", "countersink", "cutter"] = "drill"
    diameter: Diameter
    reach: Annotated[Size, Field(gt=0)] = 60.0
    speed: Annotated[int, Field(ge=10, le=60_000)]
    feed: Annotated[int, Field(ge=1, le=60_000)]
    angle: Annotated[Size, Field(ge=30, le=150)] | None = None
    tip: Annotated[Size, Field(le=50)] | None = None
    pass_depth: Annotated[Size, Field(ge=0.1, le=100)] | None = None
    plunge_feed: Annotated[int, Field(ge=1, le=60_000)] | None = None
    plunges: StrictBool | None = None
    stepover: Annotated[Size, Field(ge=0.05, le=0.7)] = 0.45
    ramp: Annotated[Size, Field(ge=0.5, le=45)] = 5.0

    @model_validator(mode="after")
    def _says_what_its_kind_needs(self) -> MachineTool:
        """A cutter says how it goes down, of which there is no safe guess; no other tool does."""
        if self.kind == "cutter":
            missing = [name for name in _MUST_BE_SAID if getattr(self, name) is None]
            if missing:
                text = f"a cutter says nothing of {', '.join(missing)}"
                help = "say pass_depth (mm), plunge_feed (mm a minute) and plunges (true or false)"
                raise PydanticCustomError("out-of-range", "{text}", {"text": text, "help": help})
            odd = sorted({"angle", "tip"} & self.model_fields_set)
        else:
            odd = sorted(set(_OF_CUTTERS) & self.model_fields_set)
        if odd:
            text = f"a {self.kind} has no {', '.join(odd)}"
            help = f"delete {', '.join(odd)}, or say another kind"
            raise PydanticCustomError("out-of-range", "{text}", {"text": text, "help": help})
        return self

    @property
    def is_told(self) -> bool:
        """True if how deep it has to go can be worked out."""
        return self.kind != "countersink" or (self.angle is not None and self.tip is not None)

    def sinks(self, diameter: float) -> bool:
        """Tell whether it is a countersink that makes a recess of a diameter in mm.

        The recess lies between the tip and the widest place of its slope.
        """
        told = self.kind == "countersink" and self.is_told
        return told and (self.tip or 0.0) < diameter <= self.diameter + 1e-6

    def sink_depth(self, diameter: float) -> float:
        """Return how deep its tip goes for a recess of a diameter at the surface, mm.

        Half of what the recess is wider than the tip, over the tangent of half the angle.

        Raises:
            ValueError: a fault in kdkit: angle or tip are not known.
        """
        if self.angle is None or self.tip is None:
            raise ValueError("a countersink whose angle or tip is not known")
        return (diameter - self.tip) / 2 / math.tan(math.radians(self.angle / 2))


class Cutting(Entry):
    """How a machine cuts with cutters. All figures: common practice, no source.

    Args:
        arcs: the control knows G2 and G3; else short chords are written.
        chord: how far a chord may leave the arc, mm; a curve within it is written as an arc.
        direction: ``climb``: the work lies on the right of a cutter that turns by M3;
            ``conventional``: on the left.
        run_out: how far the middle of a cutter goes on past an open edge, mm.
        holding: what holds a piece that comes loose: ``tabs``, or a ``skin`` under all of it.
        tab_length, tab_height, tab_pitch: of a tab along the cut, over the underside, and
            how far from one to the next at most, mm.
        skin: thickness of the skin, mm.
    """

    arcs: StrictBool = True
    chord: Annotated[Size, Field(ge=0.005, le=0.5)] = 0.05
    direction: Literal["climb", "conventional"] = "climb"
    run_out: Annotated[Size, Field(ge=0.5, le=100)] = 5.0
    holding: Literal["tabs", "skin"] = "tabs"
    tab_length: Annotated[Size, Field(ge=1, le=100)] = 8.0
    tab_height: Annotated[Size, Field(ge=0.3, le=20)] = 3.0
    tab_pitch: Annotated[Size, Field(ge=20, le=2_000)] = 250.0
    skin: Annotated[Size, Field(ge=0.1, le=5)] = 0.4


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
        break_through: how far a through bore or cut goes into the spoil board, mm.
        cutting: how it cuts with the cutters among its tools.
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
    cutting: Cutting = Cutting()
    tools: dict[ToolNumber, MachineTool]
    sources: tuple[Markdown, ...]

    def tool_for(self, diameter: float, *, countersink: bool) -> int | None:
        """Return the number of the tool for a bore of a diameter in mm, or None.

        A countersink makes every recess that is wider than its tip, up to its own diameter.
        """
        for number, tool in sorted(self.tools.items()):
            alike = tool.kind == "drill" and abs(diameter - tool.diameter) <= _ALIKE
            if tool.sinks(diameter) if countersink else alike:
                return number
        return None

    def has_untold_countersink(self, diameter: float) -> bool:
        """Tell whether a countersink wide enough lacks its angle or its tip."""
        return any(not t.is_told and diameter <= t.diameter + 1e-6 for t in self.tools.values())
