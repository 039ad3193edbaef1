"""A small interpreter of numerical control programs, written apart from kdkit.

It knows the words that a drilling program needs and gives the moves that a machine would
make. It follows NIST IR 6556, *The NIST RS274/NGC Interpreter*, section 3.5.16 on canned
cycles (from memory of the text; its first example is the one published there), and sections
3.5.3 (arcs: I and J from the present point to the centre), 3.5.10 (G43), 3.5.12 (G53) and
3.6.2 (M6), from memory.

It refuses what endangers somebody: a tool changed while the spindle turns or is not at the
top, a tool moved down whose length the control does not know, travel past the top.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

Point = tuple[float, float, float]

CYCLES = (81, 82, 83)
KNOWN_G = {0, 1, 2, 3, 4, 17, 20, 21, 40, 43, 49, 53, 54, 80, 81, 82, 83, 90, 91, 94, 98, 99}
KNOWN_M = {2, 3, 4, 5, 6, 30}
TOP = 150.0
"""Of the machine over the surface, mm; any height that is above all clamps."""
DELTA = 0.254  # G83 stops this far above the last floor: 0.010 inch


@dataclass(frozen=True)
class Move:
    """``kind``: rapid, feed or dwell (then ``seconds``); where it ends; the tool in use.

    An arc has a ``centre`` in the plane and runs to the ``left`` or not.
    """

    kind: str
    end: Point
    tool: int = 0
    turning: bool = False
    seconds: float = 0.0
    cycle: int | None = None
    centre: tuple[float, float] | None = None
    left: bool = False
    feed: float = 0.0


class ProgramError(Exception):
    """Something that a control would refuse."""


def width_at_the_surface(depth: float, angle: float, tip: float, widest: float) -> float:
    """Return how wide a conical tool opens the surface when its tip is ``depth`` below it.

    A cut through the tool's axis: a line from (tip / 2, -depth) that leans by half the
    ``angle`` (degrees) off the axis meets z = 0 at half the width.
    """
    outwards, upwards = math.sin(math.radians(angle) / 2), math.cos(math.radians(angle) / 2)
    wide = 2 * (tip / 2 + outwards * depth / upwards)
    if wide > widest + 1e-6:
        raise ProgramError("the shank goes in: the recess is no wider than the tool")
    return wide


@dataclass
class Machine:
    """The state of the control."""

    at: Point = (0.0, 0.0, 0.0)
    motion: int = 80
    absolute: bool = True
    old_z: bool = True
    tool: int = 0
    waiting_tool: int = 0
    turning: bool = False
    feed: float = 0.0
    factor: float = 1.0
    sticky: dict[str, float] = field(default_factory=dict)
    ended: bool = False
    length_known: bool = True
    """A person has set zero for the tool that is in, or G43 has taken its length."""

    def run(self, program: str) -> list[Move]:
        """Return every move of a program; percent signs frame it."""
        moves: list[Move] = []
        for number, line in enumerate(program.splitlines(), start=1):
            text = line.strip()
            if not text or text == "%":
                continue
            if self.ended:
                raise ProgramError(f"line {number} stands after the end")
            try:
                moves += self.block(text)
            except (ProgramError, KeyError) as fault:
                raise ProgramError(f"line {number}, {text!r}: {fault}") from fault
        if not self.ended:
            raise ProgramError("no M2 or M30")
        return moves

    def block(self, text: str) -> list[Move]:
        """Do one block."""
        if not text.isascii():
            raise ProgramError("not ASCII")
        text = re.sub(r"\([^()]*\)", "", text)
        if "(" in text or ")" in text:
            raise ProgramError("a comment that does not end, or holds another")
        words = re.findall(r"([A-Z])\s*([+-]?(?:\d+\.?\d*|\.\d+))", text.upper())
        if "".join(a + b for a, b in words) != re.sub(r"\s", "", text.upper()):
            raise ProgramError("not made of words")
        g = [int(v) for a, v in words if a == "G"]
        m = [int(v) for a, v in words if a == "M"]
        rest = {a: float(v) for a, v in words if a not in "GMN"}
        if not set(g) <= KNOWN_G or not set(m) <= KNOWN_M:
            raise ProgramError("an unknown G or M")
        if 53 in g:
            return list(self._to_the_top(rest))
        if 4 in g:
            return [Move("dwell", self.at, self.tool, self.turning, rest["P"])]
        self._set_modes(g, rest)
        if 43 in g:
            if rest.pop("H") != self.tool:
                raise ProgramError("the length of another tool")
            self.length_known = True
        if 6 in m:
            if self.turning or self.at[2] != TOP:
                raise ProgramError("a tool is changed while it turns or stands in the way")
            self.tool, self.length_known = self.waiting_tool, False
        if 3 in m or 4 in m:
            self.turning = True
        if 5 in m:
            self.turning = False
        moves: list[Move] = []
        if set(rest) & set("XYZ"):
            moves = list(self._move(rest))
        if 2 in m or 30 in m:
            self.ended = True
        return moves

    def _to_the_top(self, rest: dict[str, float]) -> Iterator[Move]:
        if rest != {"Z": 0.0}:
            raise ProgramError("only straight up in the machine's own coordinates")
        if self.at[2] != TOP:
            self.at = (*self.at[:2], TOP)
            yield Move("rapid", self.at, self.tool, self.turning)

    def _set_modes(self, g: list[int], rest: dict[str, float]) -> None:
        for code in g:
            if code in (0, 1, 2, 3, 80, *CYCLES):
                if code != self.motion:
                    self.sticky = {}
                self.motion = code
            elif code in (90, 91):
                self.absolute = code == 90
            elif code in (98, 99):
                self.old_z = code == 98
            elif code in (20, 21):
                self.factor = 25.4 if code == 20 else 1.0
        if "F" in rest:
            self.feed = rest["F"]
        if "T" in rest:
            self.waiting_tool = int(rest["T"])

    def _place(self, rest: dict[str, float]) -> Point:
        if self.absolute:
            return tuple(rest.get(a, old) for a, old in zip("XYZ", self.at, strict=True))  # type: ignore[return-value]
        return tuple(old + rest.get(a, 0.0) for a, old in zip("XYZ", self.at, strict=True))  # type: ignore[return-value]

    def _go(self, kind: str, end: Point) -> Iterator[Move]:
        if kind == "feed" and self.feed <= 0:
            raise ProgramError("feeding without F")
        if end[2] != self.at[2] and not self.length_known:
            raise ProgramError("the length of the tool is not known")
        if end[2] > TOP:
            raise ProgramError("past the top")
        if end != self.at:
            self.at = end
            cycle = self.motion if self.motion in CYCLES else None
            yield Move(kind, end, self.tool, self.turning, cycle=cycle, feed=self.feed)

    def _move(self, rest: dict[str, float]) -> Iterator[Move]:
        if self.motion == 80:
            raise ProgramError("axis words while G80 is on")
        if self.motion in (0, 1):
            yield from self._go("rapid" if self.motion == 0 else "feed", self._place(rest))
            return
        if self.motion in (2, 3):
            yield self._arc(rest)
            return
        for letter in "ZRPQ":
            if letter in rest:
                self.sticky[letter] = rest[letter]
        said = self.sticky
        before = self.at[2]
        clear = said["R"] if self.absolute else before + said["R"]
        floor = said["Z"] if self.absolute else clear + said["Z"]
        if floor > clear:
            raise ProgramError("R is below Z")
        back = max(before, clear) if self.old_z else clear
        if self.at[2] < clear:
            yield from self._go("rapid", (self.at[0], self.at[1], clear))
        for _ in range(int(rest.get("L", 1))):
            if self.absolute:
                x, y = rest.get("X", self.at[0]), rest.get("Y", self.at[1])
            else:
                x, y = self.at[0] + rest.get("X", 0.0), self.at[1] + rest.get("Y", 0.0)
            yield from self._go("rapid", (x, y, self.at[2]))
            yield from self._go("rapid", (x, y, clear))
            yield from self._bore(x, y, clear, floor)
            yield from self._go("rapid", (x, y, back))

    def _arc(self, rest: dict[str, float]) -> Move:
        """An arc, or a screw line if Z changes; both radii must agree to some thousandths."""
        if not set(rest) & set("IJ") or "R" in rest or not self.absolute:
            raise ProgramError("an arc needs I and J, and absolute places")
        end, here = self._place(rest), self.at
        centre = (here[0] + rest.get("I", 0.0), here[1] + rest.get("J", 0.0))
        one, two = math.dist(here[:2], centre), math.dist(end[:2], centre)
        if abs(one - two) > 0.005 or one < 0.005:
            raise ProgramError(f"the radii of an arc differ: {one:g} and {two:g}")
        if not self.length_known or self.feed <= 0:
            raise ProgramError("an arc without feed, or with a tool of unknown length")
        self.at = end
        return Move("feed", end, self.tool, self.turning, centre=centre,
                    left=self.motion == 3, feed=self.feed)  # fmt: skip

    def _bore(self, x: float, y: float, clear: float, floor: float) -> Iterator[Move]:
        if self.motion == 83:
            peck, deep = self.sticky["Q"], clear
            if peck <= 0:
                raise ProgramError("Q is not positive")
            while deep > floor:
                if deep < clear:
                    yield from self._go("rapid", (x, y, clear))
                    yield from self._go("rapid", (x, y, min(clear, deep + DELTA)))
                deep = max(floor, deep - peck)
                yield from self._go("feed", (x, y, deep))
            return
        yield from self._go("feed", (x, y, floor))
        if self.motion == 82:
            yield Move("dwell", self.at, self.tool, self.turning, self.sticky["P"], self.motion)
