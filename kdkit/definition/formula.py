"""The formula language: lengths as sums over parameters and sides.

Numbers, ``+ - * / ( )``, names with dots (``width``, ``left_side.x1``), and the
functions ``min``, ``max``, ``round_to(value, step)``, ``floor``, ``ceil``, ``abs`` and
``on_grid(limit, end)``: the greatest size 2·end + 32·n within a limit, n a whole number;
``on_grid(limit, end, pitch)`` for another pitch.
``sqrt`` is the square root, ``hypot(a, b)`` the length of a slant with these two sides.
Angles are in degrees: ``sin``, ``cos``, ``tan`` take them, ``asin``, ``acos``, ``atan`` give them.
A formula is parsed once into a postfix program and run on a stack: no recursion,
no access to anything but the numbers it is given.

Faults are values, not exceptions: they carry the characters they mean, so that
the caret stands inside the formula.

Longer than most modules: scanner, parser and machine share one set of steps, and none of
them says anything without the others.
"""

from __future__ import annotations

import difflib
import functools
import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from kdkit.definition.gate import LARGEST
from kdkit.diagnostics import Path, Problem

__all__ = [
    "FUNCTIONS",
    "MAX_LENGTH",
    "Formula",
    "FormulaFault",
    "evaluate",
    "name_fault",
    "names",
    "near_names",
    "parse_formula",
]

MAX_LENGTH = 300
MAX_NESTING = 30

_LONGEST_COMPARED = 80
_MOST_COMPARED = 2000
_WELL_COMPARED = 40
"""Letter by letter; of more names only those with nearly the same letters."""
_GRID = 32.0
"""The pitch of system rows. Common practice, no source."""

_SLACK = 1e-9
"""So that 0.3 / 0.1 counts as 3 when it is rounded down or up."""

FUNCTIONS: dict[str, tuple[int, int]] = {
    "abs": (1, 1),
    "acos": (1, 1),
    "asin": (1, 1),
    "atan": (1, 1),
    "ceil": (1, 1),
    "cos": (1, 1),
    "floor": (1, 1),
    "hypot": (2, 3),
    "max": (2, 20),
    "min": (2, 20),
    "on_grid": (2, 3),
    "round_to": (2, 2),
    "sin": (1, 1),
    "sqrt": (1, 1),
    "tan": (1, 1),
}
"""Function → least and most number of values it takes."""

_TOKEN = re.compile(
    r"\s*(?:(?P<number>(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?)"
    r"|(?P<name>[^\W\d]\w*(?:\.[^\W\d]\w*)*)"
    r"|(?P<mark>[-+*/(),]))"
)
_BINDS = {"+": 1, "-": 1, "*": 2, "/": 2, "negate": 3}


@dataclass(frozen=True, kw_only=True)
class FormulaFault:
    """What is wrong with a formula; ``start`` to ``end`` are characters of its text."""

    code: str
    message: str
    start: int
    end: int
    help: str = ""

    def problem(self, path: Path, where: str = "") -> Problem:
        """Return the fault as a problem of the value at ``path``."""
        return Problem(
            code=self.code,
            message=self.message,
            path=path,
            where=where,
            help=self.help,
            span=(self.start, self.end),
        )


@dataclass(frozen=True)
class Step:
    """One step of the postfix program; ``count``: how many values a function takes."""

    do: str
    start: int
    end: int
    number: float = 0.0
    name: str = ""
    count: int = 0


@dataclass(frozen=True)
class Formula:
    """A parsed formula."""

    text: str
    steps: tuple[Step, ...]


def names(formula: Formula) -> tuple[tuple[str, int, int], ...]:
    """Return each name that the formula uses, with its characters, in order."""
    return tuple((s.name, s.start, s.end) for s in formula.steps if s.do == "name")


def parse_formula(text: str) -> Formula | FormulaFault:
    """Return the formula of a text, or what is wrong with it.

    Source:
        Operator precedence by two stacks (Dijkstra's shunting yard), from memory.
    """
    if len(text) > MAX_LENGTH:
        return FormulaFault(
            code="formula-too-long",
            message=f"a formula of {len(text)} characters is too long",
            start=0,
            end=len(text),
            help=f"write at most {MAX_LENGTH}; name a part of it under `parameters`",
        )
    tokens = _tokens(text)
    if isinstance(tokens, FormulaFault):
        return tokens
    return _Parser(text, tokens).parse()


def evaluate(
    formula: Formula, variables: Mapping[str, float] | Callable[[str], float | None]
) -> float | FormulaFault:
    """Return the formula's value, or what is wrong.

    Args:
        formula: from ``parse_formula``.
        variables: values by name, or a function from a name to its value or None.
    """
    look_up = variables.get if isinstance(variables, Mapping) else variables
    stack: list[float] = []
    for step in formula.steps:
        if step.do == "number":
            stack.append(step.number)
            continue
        if step.do == "name":
            found = look_up(step.name)
            if found is None:
                known = variables if isinstance(variables, Mapping) else ()
                return name_fault(step.name, step.start, step.end, known)
            stack.append(float(found))
            continue
        values = stack[len(stack) - step.count :]
        del stack[len(stack) - step.count :]
        result = _apply(step, values)
        if isinstance(result, FormulaFault):
            return result
        if not abs(result) <= LARGEST:
            return _arithmetic(step, f"the result is beyond {LARGEST:.0e}")
        stack.append(result)
    return stack[0] + 0.0


def near_names(name: str, known: Iterable[str]) -> list[str]:
    """Return up to three known names that look like the name, the nearest first."""
    listed = list(dict.fromkeys(known))[:_MOST_COMPARED]
    if len(name) > _LONGEST_COMPARED:
        return []
    if len(listed) > _WELL_COMPARED:
        mask = _letters(name)
        listed.sort(key=lambda other: (mask ^ _letters(other)).bit_count())
        del listed[_WELL_COMPARED:]
    return difflib.get_close_matches(name, listed, n=3, cutoff=0.6)


@functools.lru_cache(maxsize=2 * _MOST_COMPARED)
def _letters(name: str) -> int:
    """Return a bit for each letter that a name has: names with the same ones may be near."""
    mask = 0
    for letter in name:
        mask |= 1 << ord(letter) % 61
    return mask


def name_fault(name: str, start: int, end: int, known: Iterable[str]) -> FormulaFault:
    """Return the fault of an unknown name, with the nearest known one offered."""
    listed = sorted(known)
    near = near_names(name, listed)
    if "__" in name:
        help = "formulas use parameters and sides of panels only"
    elif near:
        help = f"did you mean {near[0]}?"
    elif listed and len(listed) <= 12:
        help = f"known here: {', '.join(listed)}"
    else:
        help = "use a parameter (width), a side of a panel (shelf.x0) or a board's thickness"
    return FormulaFault(
        code="formula-name",
        message=f"nothing is called {name[:80]!r}",
        start=start,
        end=end,
        help=help,
    )


def _tokens(text: str) -> list[Step] | FormulaFault:
    found: list[Step] = []
    at = 0
    end_of_text = len(text.rstrip())
    while at < end_of_text:
        match = _TOKEN.match(text, at)
        if match is None:
            start = at + len(text[at:]) - len(text[at:].lstrip())
            return _unexpected(text, start, start + 1)
        kind = match.lastgroup or ""
        start, end = match.span(kind)
        word = match.group(kind)
        if kind == "number":
            number = float(word)
            if not abs(number) <= LARGEST:
                return FormulaFault(
                    code="formula-arithmetic",
                    message=f"the number {word[:30]} is beyond {LARGEST:.0e}",
                    start=start,
                    end=end,
                )
            found.append(Step("number", start, end, number=number))
        elif kind == "name":
            found.append(Step("name", start, end, name=word))
        else:
            found.append(Step(word, start, end))
        at = match.end()
    return found


class _Parser:
    """Two stacks: ``out`` is the finished program, ``waiting`` the open operators."""

    def __init__(self, text: str, tokens: list[Step]) -> None:
        self.text = text
        self.tokens = tokens
        self.out: list[Step] = []
        self.waiting: list[Step] = []

    def parse(self) -> Formula | FormulaFault:
        if not self.tokens:
            return FormulaFault(
                code="formula-syntax",
                message="a formula is missing",
                start=0,
                end=max(1, len(self.text)),
                help="write a number of mm or a formula such as `width - 36`",
            )
        wants_value = True
        for index, token in enumerate(self.tokens):
            following = self.tokens[index + 1].do if index + 1 < len(self.tokens) else ""
            fault = (
                self._take_value(token, following) if wants_value else self._take_operator(token)
            )
            if fault is not None:
                return fault
            if len(self.waiting) > 2 * MAX_NESTING:
                return FormulaFault(
                    code="formula-too-long",
                    message=f"the formula is nested more than {MAX_NESTING} deep",
                    start=token.start,
                    end=token.end,
                    help="name a part of it under `parameters`",
                )
            opens_call = wants_value and token.do == "name" and following == "("
            wants_value = opens_call or token.do in ("+", "-", "*", "/", "(", ",")
        if wants_value:
            last = self.tokens[-1]
            return FormulaFault(
                code="formula-syntax",
                message="the formula ends too early",
                start=last.start,
                end=last.end,
                help="a number or a name belongs after this",
            )
        while self.waiting:
            top = self.waiting.pop()
            if top.do in ("(", "call"):
                return FormulaFault(
                    code="formula-syntax",
                    message="this bracket is never closed",
                    start=top.start,
                    end=top.end,
                    help="add `)`",
                )
            self._emit(top)
        return Formula(self.text, tuple(self.out))

    def _take_value(self, token: Step, following: str) -> FormulaFault | None:
        if token.do == "number":
            self.out.append(token)
        elif token.do == "name" and following == "(":
            if token.name not in FUNCTIONS:
                near = near_names(token.name, FUNCTIONS)
                return FormulaFault(
                    code="formula-name",
                    message=f"there is no function {token.name[:80]!r}",
                    start=token.start,
                    end=token.end,
                    help=f"did you mean {near[0]}?" if near else f"use {', '.join(FUNCTIONS)}",
                )
            self.waiting.append(Step("function", token.start, token.end, name=token.name))
        elif token.do == "name":
            self.out.append(token)
        elif token.do == "(":
            called = bool(self.waiting) and self.waiting[-1].do == "function"
            self.waiting.append(Step("call" if called else "(", token.start, token.end, count=1))
        elif token.do == "-":
            self.waiting.append(Step("negate", token.start, token.end))
        elif token.do != "+":
            return _unexpected(self.text, token.start, token.end)
        return None

    def _take_operator(self, token: Step) -> FormulaFault | None:
        if token.do in ("+", "-", "*", "/"):
            while self.waiting and _BINDS.get(self.waiting[-1].do, 0) >= _BINDS[token.do]:
                self._emit(self.waiting.pop())
            self.waiting.append(token)
            return None
        if token.do not in (",", ")"):
            return _unexpected(self.text, token.start, token.end)
        while self.waiting and self.waiting[-1].do not in ("(", "call"):
            self._emit(self.waiting.pop())
        if not self.waiting or (token.do == "," and self.waiting[-1].do == "("):
            return _unexpected(self.text, token.start, token.end)
        opened = self.waiting.pop()
        if token.do == ",":
            self.waiting.append(Step("call", opened.start, opened.end, count=opened.count + 1))
            return None
        if opened.do == "(":
            return None
        function = self.waiting.pop()
        least, most = FUNCTIONS[function.name]
        if not least <= opened.count <= most:
            are = "is" if opened.count == 1 else "are"
            return FormulaFault(
                code="formula-syntax",
                message=f"{function.name} takes {least if least == most else f'{least} to {most}'}"
                f" value{'' if most == 1 else 's'}, here {are} {opened.count}",
                start=function.start,
                end=token.end,
            )
        self.out.append(
            Step("call", function.start, token.end, name=function.name, count=opened.count)
        )
        return None

    def _emit(self, operator: Step) -> None:
        count = 1 if operator.do == "negate" else 2
        self.out.append(Step(operator.do, operator.start, operator.end, count=count))


def _apply(step: Step, values: list[float]) -> float | FormulaFault:
    match step.do:
        case "+":
            return values[0] + values[1]
        case "-":
            return values[0] - values[1]
        case "*":
            return values[0] * values[1]
        case "/":
            if values[1] == 0:
                return _arithmetic(step, "the formula divides by zero")
            return values[0] / values[1]
        case "negate":
            return -values[0]
        case _:
            return _call(step, values)


def _call(step: Step, values: list[float]) -> float | FormulaFault:
    match step.name:
        case "min":
            return min(values)
        case "max":
            return max(values)
        case "abs":
            return abs(values[0])
        case "floor":
            return float(math.floor(values[0] + _SLACK))
        case "ceil":
            return float(math.ceil(values[0] - _SLACK))
        case "hypot":
            return math.hypot(*values)
        case "sqrt":
            return _root(step, values[0])
        case "on_grid":
            return _on_grid(step, *values)
        case "sin":
            return _sine(values[0])
        case "cos":
            return _sine(values[0] + 90.0)
        case "tan":
            below = _sine(values[0] + 90.0)
            if below == 0:
                return _arithmetic(step, f"tan has no value at {values[0]:g} degrees")
            return _sine(values[0]) / below
        case "asin" | "acos":
            return _angle_of(step, values[0])
        case "atan":
            return math.degrees(math.atan(values[0]))
        case _:
            value, size = values
            if size <= 0:
                return _arithmetic(step, f"round_to needs a step above zero, not {size:g}")
            ratio = value / size
            if not abs(ratio) <= LARGEST * LARGEST:
                return _arithmetic(step, "the step of round_to is too small")
            return math.floor(ratio + 0.5 + _SLACK) * size


def _root(step: Step, value: float) -> float | FormulaFault:
    """Return a square root; a rounding below 0 counts as 0."""
    if value < -_SLACK:
        return _arithmetic(
            step,
            f"sqrt takes no number below 0, and this is {value:g}",
            help="for the slanted side of a right angle write hypot(rise, run)",
        )
    return math.sqrt(max(0.0, value))


def _sine(angle_deg: float) -> float:
    """Return a sine, that of whole quarter turns exact."""
    turned = math.fmod(angle_deg, 360.0)
    if turned % 90.0 == 0:
        return (0.0, 1.0, 0.0, -1.0)[int(turned // 90.0) % 4]
    return math.sin(math.radians(turned))


def _angle_of(step: Step, value: float) -> float | FormulaFault:
    """Return the angle of a sine or cosine, degrees; a rounding beyond ±1 counts as ±1."""
    if abs(value) > 1 + _SLACK:
        return _arithmetic(
            step,
            f"{step.name} takes a number from -1 to 1, not {value:g}",
            help="it is the ratio of two lengths; atan takes any: atan(rise / run)",
        )
    ratio = max(-1.0, min(1.0, value))
    return math.degrees(math.asin(ratio) if step.name == "asin" else math.acos(ratio))


def _on_grid(step: Step, limit: float, end: float, pitch: float = _GRID) -> float | FormulaFault:
    """Return 2·end + n·pitch, the greatest within a limit.

    Source:
        A balanced panel of the 32 mm system, H = 2a + 32n: common practice, no source.
    """
    if pitch <= 0:
        return _arithmetic(step, f"on_grid needs a pitch above zero, not {pitch:g}")
    ratio = (limit - 2 * end) / pitch
    if ratio < -_SLACK:
        return _arithmetic(
            step, f"no size on the grid goes into {limit:g}: the least is {2 * end:g}"
        )
    if not ratio <= LARGEST * LARGEST:
        return _arithmetic(step, "the pitch of on_grid is too small")
    return 2 * end + math.floor(ratio + _SLACK) * pitch


def _arithmetic(step: Step, message: str, help: str = "") -> FormulaFault:
    return FormulaFault(
        code="formula-arithmetic", message=message, start=step.start, end=step.end, help=help
    )


def _unexpected(text: str, start: int, end: int) -> FormulaFault:
    word = text[start:end]
    before = text[:start].rstrip()
    help = "write a number of mm or a formula such as `width - 2*carcass.thickness`"
    if word == "," and before and before[-1].isdigit():
        help = "write a decimal point: 12.5"
    elif before and before[-1].isdigit() and text[start : start + 2] in ("mm", "cm"):
        help = "lengths are in mm: leave the unit out"
    elif word in ("^", "%", "<", ">", "=", "[", "]", "{", "}", '"', "'"):
        help = "formulas know + - * / ( ) and " + ", ".join(FUNCTIONS)
    return FormulaFault(
        code="formula-syntax",
        message=f"{word!r} cannot stand here in a formula",
        start=start,
        end=end,
        help=help,
    )
