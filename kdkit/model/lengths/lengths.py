"""Formulas over parameters and sides, evaluated in the order in which they need each other.

A *quantity* is anything that a formula may name: a parameter, a side of a part
(``shelf.x0``), a thickness. Each knows which others it needs; one walk over them,
without recursion, gives every value and finds every ring.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from kdkit.definition.formula import (
    Formula,
    FormulaFault,
    evaluate,
    name_fault,
    names,
    near_names,
    parse_formula,
)
from kdkit.diagnostics import Path, Problem, Related, error
from kdkit.model.words import LARGEST_LENGTH

__all__ = ["SIDE_NAMES", "Lengths", "Quantity"]

SIDE_NAMES = ("x0", "x1", "y0", "y1", "z0", "z1", "thickness", "length", "width")

_MOST_HELPED = 100


@dataclass(frozen=True)
class Quantity:
    """Something with a value that others may need.

    Args:
        path: where it is written.
        needs: keys of the quantities it is computed from, in the order of ``compute``.
        compute: from their values to its own, or the fault of a formula.
        shown: how a message writes what it comes from.
    """

    path: Path
    needs: tuple[str, ...]
    compute: Callable[[Mapping[str, float]], float | FormulaFault]
    shown: str = ""


class Lengths:
    """The values of one product's (or unit's) scope; problems gather in ``problems``."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = problems
        self.values: dict[str, float] = {}
        self.parameters: tuple[str, ...] = ()
        self.owners: dict[str, tuple[str, ...]] = {}
        self._quantities: dict[str, Quantity] = {}
        self._failed: set[str] = set()
        self.may_be_left_out: Callable[[str], bool] = lambda name: False
        self._unknown_names = 0
        self._formulas: dict[str, Formula | FormulaFault] = {}

    def set_value(self, key: str, value: float) -> None:
        """Give a quantity that needs nothing."""
        self.values[key] = value

    def set_failed(self, key: str) -> None:
        """Give a quantity whose own problem was reported: what needs it stays silent."""
        self._failed.add(key)

    def has_failed(self, key: str) -> bool:
        """Tell whether a quantity has a problem that was reported."""
        return key in self._failed

    def set_derived(
        self, key: str, path: Path, needs: tuple[str, ...], compute: Callable[..., float]
    ) -> None:
        """Give a quantity that follows from others by plain arithmetic."""
        self._quantities[key] = Quantity(
            path, needs, lambda values: compute(*(values[need] for need in needs))
        )

    def set_length(self, key: str, length: float | str, path: Path) -> None:
        """Give a quantity that a maker wrote, as a number or a formula."""
        if not isinstance(length, str):
            self.values[key] = length
            return
        formula = self._parse(length, path)
        if formula is None:
            self._failed.add(key)
            return
        # Its names can only be looked up once all quantities were given: evaluate_all does.
        self._quantities[key] = Quantity(path, (), lambda values: 0.0, length)

    def evaluate_all(self) -> None:
        """Give every quantity its value; report loops, unknown names, bad arithmetic."""
        for key, quantity in list(self._quantities.items()):
            if quantity.shown:
                self._link(key, quantity)
        for key in sorted(self._quantities):
            if key not in self.values and key not in self._failed:
                self._walk_from(key)

    def number(self, length: float | str, path: Path) -> float | None:
        """Return a length's value, None after its problem was reported."""
        if not isinstance(length, str):
            return length
        formula = self._parse(length, path)
        if formula is None:
            return None
        needs = self._keys_of(formula, path)
        if needs is None or any(need not in self.values for need in needs.values()):
            return None
        value = evaluate(formula, {name: self.values[key] for name, key in needs.items()})
        return self._checked(value, path)

    def numbers(self, lengths: Iterable[float | str], path: Path) -> tuple[float, ...] | None:
        """Return the values of a list of lengths, None if one has none."""
        found = [self.number(length, (*path, n)) for n, length in enumerate(lengths)]
        if any(value is None for value in found):
            return None
        return tuple(value for value in found if value is not None)

    def get(self, key: str) -> float | None:
        """Return the value of a quantity, None if it failed."""
        return self.values.get(key)

    def _parse(self, text: str, path: Path) -> Formula | None:
        if text not in self._formulas:
            self._formulas[text] = parse_formula(text)
        formula = self._formulas[text]
        if isinstance(formula, FormulaFault):
            self.problems.append(formula.problem(path))
            return None
        return formula

    def _link(self, key: str, quantity: Quantity) -> None:
        formula = self._formulas[quantity.shown]
        assert isinstance(formula, Formula)  # set_length kept no other
        needs = self._keys_of(formula, quantity.path)
        if needs is None:
            self._failed.add(key)
            return
        by_name = dict(needs)

        def compute(values: Mapping[str, float]) -> float | FormulaFault:
            return evaluate(formula, {name: values[need] for name, need in by_name.items()})

        self._quantities[key] = Quantity(
            quantity.path, tuple(dict.fromkeys(needs.values())), compute, quantity.shown
        )

    def _keys_of(self, formula: Formula, path: Path) -> dict[str, str] | None:
        """Return quantity keys by name in the formula; report the unknown ones."""
        found: dict[str, str] = {}
        unknown = False
        for name, start, end in names(formula):
            key = name
            if name.startswith("boards."):
                key = f"board {name.removeprefix('boards.')}"
            elif not self._is_known(name):
                key = f"board {name}"
            if self._is_known(key):
                found[name] = key
                continue
            unknown = True
            if not self.may_be_left_out(name):
                self.problems.append(self._unknown(name, start, end).problem(path))
        return None if unknown else found

    def _is_known(self, key: str) -> bool:
        return key in self.values or key in self._quantities or key in self._failed

    def _unknown(self, name: str, start: int, end: int) -> FormulaFault:
        self._unknown_names += 1
        if self._unknown_names > _MOST_HELPED:
            # A file with so many was not written by hand: save the search for near names.
            return name_fault(name, start, end, ())
        owner, dot, rest = name.partition(".")
        if dot and owner in self.owners:
            attributes = self.owners[owner]
            near = near_names(rest, attributes)
            return FormulaFault(
                code="formula-name",
                message=f"{owner} has no {rest[:60]!r}",
                start=start,
                end=end,
                help=f"did you mean {owner}.{near[0]}?"
                if near
                else f"use {', '.join(attributes)}"
                if attributes
                else "a formula cannot look into a unit: give both the same parameter",
            )
        if dot:
            boards = [
                key.removeprefix("board ").removesuffix(".thickness")
                for key in self.values
                if key.startswith("board ")
            ]
            near = near_names(owner, [*self.owners, *boards])
            if near:
                help = f"did you mean {near[0]}.{rest}?"
                return FormulaFault(
                    code="formula-name",
                    message=f"nothing is called {owner[:60]!r}",
                    start=start,
                    end=start + len(owner),
                    help=help,
                )
            return name_fault(name, start, end, ())
        if name in self.owners:
            return FormulaFault(
                code="formula-name",
                message=f"{name} is not a length, but has lengths",
                start=start,
                end=end,
                help=f"use {', '.join(f'{name}.{a}' for a in self.owners[name][:6])}",
            )
        return name_fault(name, start, end, self.parameters)

    def _walk_from(self, first: str) -> None:
        """Depth first from one quantity: values of what it needs, then its own."""
        stack = [first]
        entered: dict[str, int] = {}
        while stack:
            key = stack[-1]
            if key in self.values or key in self._failed:
                stack.pop()
                entered.pop(key, None)
                continue
            quantity = self._quantities[key]
            entered.setdefault(key, len(stack) - 1)
            waiting = None
            for need in quantity.needs:
                if need in self.values or need in self._failed:
                    continue
                if need in entered:
                    self._report_loop(stack[entered[need] :])
                    waiting = need
                    break
                waiting = need
                stack.append(need)
                break
            if waiting is not None:
                continue
            stack.pop()
            entered.pop(key, None)
            if any(need in self._failed for need in quantity.needs):
                self._failed.add(key)
                continue
            value = self._checked(quantity.compute(self.values), quantity.path)
            if value is None:
                self._failed.add(key)
            else:
                self.values[key] = value

    def _report_loop(self, members: list[str]) -> None:
        self._failed.update(members)
        least = members.index(min(members))
        ring = [*members[least:], *members[:least]]
        written = [key for key in ring if self._quantities[key].shown] or ring
        chain = " → ".join([*ring, ring[0]]) if len(ring) <= 12 else f"{len(ring)} lengths"
        related = tuple(
            Related(
                message=f"{key.removeprefix('board ')} = {self._quantities[key].shown}",
                path=self._quantities[key].path,
            )
            for key in written[:20]
        )
        self.problems.append(
            Problem(
                code="formula-loop",
                message=f"these lengths need each other: {chain}",
                path=self._quantities[written[0]].path,
                help="give one of them a number or a parameter",
                related=related,
            )
        )

    def _checked(self, value: float | FormulaFault, path: Path) -> float | None:
        if isinstance(value, FormulaFault):
            self.problems.append(value.problem(path))
            return None
        if not abs(value) <= LARGEST_LENGTH:
            self.problems.append(
                error(
                    "out-of-range",
                    f"the formula comes to {value:g} mm, more than {LARGEST_LENGTH:g} mm",
                    path,
                    help="lengths are in mm",
                )
            )
            return None
        return value
