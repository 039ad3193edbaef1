"""Plain data → ``Product``; whatever does not fit becomes a problem in plain words.

What is left when the faulty entries are taken out is remains, so that its names and
formulas can be looked at in the same round.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from kdkit.definition import Definition
from kdkit.diagnostics import Path, Problem, locate_problems
from kdkit.model.left_out import PART_SECTIONS, LeftOut
from kdkit.model.reading.faults import (
    FILLED_IN,
    fault_path,
    fault_problem,
    follows_from_items,
    nearest_key,
    without_misspelt_twice,
)
from kdkit.model.reading.remains import Remains, open_questions, remains_of
from kdkit.model.says import Product

__all__ = ["Reading", "read_definition", "read_product"]

_ROUNDS = 60
_PLACEHOLDER = "?"
_OF_NAMES = frozenset(
    {
        "fitting-kind",
        "fitting-unknown",
        "formula-arithmetic",
        "formula-loop",
        "formula-name",
        "formula-syntax",
        "formula-too-long",
        "material-unknown",
        "unknown-board",
        "unknown-parameter",
        "unknown-part",
        "unknown-unit",
        "unknown-variant",
    }
)
_NAMED_SECTIONS = (*PART_SECTIONS, "boards", "parameters", "variants", "unit_definitions")


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What a definition says, as far as it can be read.

    Args:
        product: all of it, if nothing was wrong.
        problems: with their places.
        rest: without what could not be read, which it knows; None if too little is left.
        damaged: paths of entries that are left out or not whole, as written.
        written: from a path in the rest to where it was written.
    """

    product: Product | None
    problems: tuple[Problem, ...]
    rest: Product | None = None
    damaged: frozenset[Path] = frozenset()
    written: Callable[[Path], Path] = lambda path: path

    def place(self, problems: Iterable[Problem]) -> tuple[Problem, ...]:
        """Return problems of the rest where they were written.

        Of an entry that is not whole only wrong names and formulas are told: what else
        is found there may follow from what was left out.
        """
        found = []
        for problem in problems:
            path = self.written(problem.path)
            whole = not any(path[: len(each)] == each for each in self.damaged)
            if whole or problem.code in _OF_NAMES:
                related = tuple(replace(r, path=self.written(r.path)) for r in problem.related)
                found.append(replace(problem, path=path, related=related))
        return tuple(found)


def read_product(definition: Definition) -> tuple[Product | None, tuple[Problem, ...]]:
    """Return what a definition says, its unit files included, or every problem in it.

    The problems carry their places; formulas are not looked at yet.
    """
    reading = read_definition(definition)
    return reading.product, reading.problems


def read_definition(definition: Definition) -> Reading:
    """Return what a definition says, and what is left of it if something is wrong."""
    data = dict(definition.data)
    problems: list[Problem] = []
    if FILLED_IN in data:
        del data[FILLED_IN]
        problems.append(
            Problem(
                code="unknown-key",
                message=f"{FILLED_IN!r} cannot be written",
                path=(FILLED_IN,),
                help="say `units: {name: {file: NAME}}`",
                on_key=True,
            )
        )
    inner = {text: read_definition(unit) for text, unit in sorted(definition.units.items())}
    below = [problem for reading in inner.values() for problem in reading.problems]
    asked = open_questions(data)
    if not (problems or below or asked):
        files = {text: reading.product for text, reading in inner.items()}
        try:
            product = Product.model_validate({**data, FILLED_IN: files})
        except ValidationError:
            pass
        else:
            return Reading(product=product, problems=())
    left = _Leaving(remains_of(data), problems, inner)
    for path, text in asked:
        problems.append(_question(path, text))
    left.take_out([path for path, _ in asked])
    rest = left.read()
    if rest is None:
        return Reading(product=None, problems=(*below, *locate_problems(problems, definition)))
    return Reading(
        product=None,
        problems=(*below, *locate_problems(problems, definition)),
        rest=left.leaving_out(rest),
        damaged=left.all_damaged(rest),
        written=left.written,
    )


def _question(path: Path, text: str) -> Problem:
    return Problem(
        code="open-question",
        message=f"an open question: {text[:200]}" if text else "an open question",
        path=path,
        help='write the answer in place of the text that begins with "?"',
    )


class _Leaving:
    """Takes faulty entries out of one definition until what is left can be read."""

    def __init__(
        self, remains: Remains, problems: list[Problem], inner: Mapping[str, Reading]
    ) -> None:
        self.remains = remains
        self.problems = problems
        self.inner = inner
        self.damaged: set[Path] = set()
        self.dropped: set[Path] = set()
        self.renamed: list[Path] = []
        self.entries: dict[Path, dict[str, set[str]]] = {}
        self.sections: dict[Path, set[str]] = {}

    def take_out(self, paths: list[Path]) -> None:
        """Leave out what stands at some paths."""
        for path in paths:
            self._note(path)
        for path in sorted(paths, key=_in_order, reverse=True):
            self.remains.drop(path)

    def read(self) -> Product | None:
        """Return what is left; problems of the first reading are told."""
        files = {text: r.product or r.rest for text, r in self.inner.items()}
        known = {text: product for text, product in files.items() if product is not None}
        for n in range(_ROUNDS):
            try:
                return Product.model_validate({**self.remains.plain(), FILLED_IN: known})
            except ValidationError as faults:
                told = [f for f in faults.errors(include_url=False) if not follows_from_items(f)]
                self._tell(told, first=n == 0)
                if not self._leave_out(told):
                    return None
        return None

    def written(self, path: Path) -> Path:
        """Return where a path in what is left was written, also inside a unit's file."""
        found = self.remains.written(path)
        for n, step in enumerate(path[:-1]):
            if step == "file" and n >= 2 and path[n - 2] == "units":
                named = self.remains.at(path[: n + 1])
                reading = None if named is None else self.inner.get(str(named.scalar))
                if reading is not None:
                    return (*found[: n + 1], *reading.written(path[n + 1 :]))
        return found

    def all_damaged(self, rest: Product) -> frozenset[Path]:
        """Return every entry that is not whole, also in units' files, as written."""
        found = set(self.damaged)
        for name, unit in rest.units.items():
            reading = self.inner.get(unit.file or "")
            at = self.remains.written(("units", name, "file"))
            found.update((*at, *path) for path in (reading.damaged if reading else ()))
        return frozenset(found)

    def leaving_out(self, rest: Product, scope: Path = ()) -> Product:
        """Return a product of this definition, and those in it, with what was left out of each.

        Args:
            rest: what is left of the product.
            scope: the path that leads to it.
        """
        definitions = {
            name: self.leaving_out(defined, (*scope, "unit_definitions", name))
            for name, defined in rest.unit_definitions.items()
        }
        entries = {section: set(names) for section, names in self.entries.get(scope, {}).items()}
        for name, unit in rest.units.items() if not scope else ():
            reading = self.inner.get(unit.file or "")
            if reading is not None and (reading.product or reading.rest) is None:
                entries.setdefault("units", set()).add(name)
        left_out = LeftOut(
            {section: frozenset(names) for section, names in entries.items()},
            frozenset(self.sections.get(scope, ())),
        )
        return rest.leaving_out(left_out, definitions)

    def _tell(self, faults: list[ErrorDetails], *, first: bool) -> None:
        """Add problems: all that a first reading finds, later those in renamed sections."""
        said = []
        for fault in faults:
            path, _ = fault_path(fault)
            written = self.remains.written(path)
            if self._follows(fault, path, written):
                continue
            if first or any(written[: len(r)] == r for r in self.renamed):
                told = fault_problem(fault)
                above = len(path) - len(told.path)  # what the list around it is told of
                said.append(replace(told, path=written[: len(written) - above]))
        self.problems.extend(without_misspelt_twice(said))

    def _follows(self, fault: ErrorDetails, path: Path, written: Path) -> bool:
        """Tell whether something is missing only because it was left out."""
        if fault["type"] == "missing":
            if isinstance(path[-1], int):
                return any(d[:-1] == written[:-1] for d in self.dropped)
            return written in self.dropped
        if fault["type"] == "too_short":
            return any(d[:-1] == written for d in self.dropped)
        return False

    def _note(self, path: Path) -> None:
        """Remember what is going to be left out, and which entry is not whole after that."""
        self.dropped.add(self.remains.written(path))
        scope = _scope_of(path)
        inside = path[len(scope) :]
        self.damaged.add(self.remains.written(path[: len(scope) + 2]))
        if len(inside) == 1:
            self.sections.setdefault(scope, set()).add(str(inside[0]))
        elif inside:
            self._note_broken(scope, inside)

    def _note_broken(self, scope: Path, inside: Path) -> None:
        """Remember an entry as not whole, also under the name that it should have had."""
        entries = self.entries.setdefault(scope, {}).setdefault(str(inside[0]), set())
        name = str(inside[1])
        entries.update((name, re.sub(r"\W+", "_", name)))

    def _leave_out(self, faults: list[ErrorDetails]) -> bool:
        """Leave out what the faults are in; False if that changes nothing."""
        drops: dict[Path, None] = {}
        changed = False
        for fault in faults:
            path, _ = fault_path(fault)
            if fault["type"] == "missing":
                if path[len(_scope_of(path)) :] == ("product",):
                    self.remains.put(path, _PLACEHOLDER)
                    changed = True
                    continue
                path = path[:-1]
            elif fault["type"] == "extra_forbidden" and self._rename(path):
                changed = True
                continue
            elif fault["type"] == "too_short" and path[-1:] == ("fittings",):
                self.remains.put((*path, 0), _PLACEHOLDER)
                changed = True
                continue
            drops[path] = None
        for path in drops:
            if path:
                self._note(path)
        for path in sorted(drops, key=_in_order, reverse=True):
            changed = self.remains.drop(path) or changed
        return changed

    def _rename(self, path: Path) -> bool:
        """Read an unknown key as the one that it is most like, if that is not there."""
        near = nearest_key(path)
        written = self.remains.written(path)
        scope = _scope_of(path)
        if near is None or not self.remains.rename(path, near):
            if len(path) == len(scope) + 1:
                self._miss_sections(path)
            return False
        self.damaged.add(self.remains.written((*path[:-1], near))[: len(scope) + 2])
        if len(path) == len(scope) + 1:
            self.renamed.append(written)
        elif len(path) > len(scope) + 1:
            self._note_broken(scope, path[len(scope) :])
        return True

    def _miss_sections(self, path: Path) -> None:
        """After an unknown key at the top: a section that is not there may be meant by it."""
        found, holder = self.remains.at(path), self.remains.at(path[:-1])
        if found is None or holder is None:
            return
        meant = _NAMED_SECTIONS if found.entries is not None else ("catalogues",)
        if found.entries is not None or found.items is not None:
            missing = [section for section in meant if holder.child(section) is None]
            self.sections.setdefault(path[:-1], set()).update(missing)


def _scope_of(path: Path) -> Path:
    """Return the part of a path that leads to the product it is in."""
    n = 0
    while len(path) > n + 2 and path[n] == "unit_definitions":
        n += 2
    return path[:n]


def _in_order(path: Path) -> tuple[tuple[int, str, int], ...]:
    """Return a key that sorts paths, a parent before what is in it."""
    return tuple((1, "", step) if isinstance(step, int) else (0, step, 0) for step in path)
