"""The whole program: one definition in, everything that is derived from it out.

``check`` takes a definition as far as its schedules, ``build`` goes on to the
pictures and the printed matter. A stage gives a value or None, and problems; the
first stage without a value ends the run with *all* its problems.
"""

from __future__ import annotations

import pathlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, ParamSpec, TypeVar

from kdkit.catalogue import load_catalogue
from kdkit.catalogue.entries import Catalogue
from kdkit.definition import Definition, load_definition
from kdkit.diagnostics import Problem, Severity, has_errors, locate_problems
from kdkit.geometry import assemble
from kdkit.geometry.assembly import Assembly
from kdkit.illustrate import draw_figures
from kdkit.illustrate.figure import Figure
from kdkit.inspect import inspect_product
from kdkit.joinery import place_fittings
from kdkit.joinery.placed import Joinery
from kdkit.model import read_product, resolve
from kdkit.model.resolved import Resolved
from kdkit.model.says import Product
from kdkit.plan import make_plan
from kdkit.plan.plan import Impossible, Plan
from kdkit.publish import publish
from kdkit.publish.results import Results
from kdkit.schedule import make_schedules
from kdkit.schedule.schedules import Schedules

__all__ = ["Outcome", "Request", "build", "check"]

Progress = Callable[[str], None]
P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class Request:
    """What is asked of one definition.

    Args:
        file: the definition.
        variant: one of its ``variants``, or None.
        parameters: values set for this run, mm; they win over the variant's.
        strict: warnings end the run as errors do.
    """

    file: pathlib.Path
    variant: str | None = None
    parameters: Mapping[str, float] = field(default_factory=dict)
    strict: bool = False


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """How far a run came: the value of every stage that gave one, and all problems.

    Args:
        problems: located, errors first.
        complete: the run reached its end.
        impossible: the planner's proof that the product cannot be put together.
        files: what ``build`` wrote, in the order of their names.
    """

    problems: tuple[Problem, ...]
    complete: bool
    definition: Definition | None = None
    product: Product | None = None
    resolved: Resolved | None = None
    catalogue: Catalogue | None = None
    assembly: Assembly | None = None
    joinery: Joinery | None = None
    plan: Plan | None = None
    impossible: Impossible | None = None
    schedules: Schedules | None = None
    figures: Mapping[str, Figure] = field(default_factory=dict)
    files: tuple[pathlib.Path, ...] = ()


def check(request: Request, progress: Progress = lambda _: None) -> Outcome:
    """Take a definition through every stage that needs no pictures; write nothing."""
    run = _Run(request, progress)
    try:
        _derive(run)
    except _RunEnded:
        return run.outcome(complete=False)
    return run.outcome(complete=True)


def build(
    request: Request,
    folder: pathlib.Path,
    *,
    paper: str = "A4",
    progress: Progress = lambda _: None,
) -> Outcome:
    """Take a definition to the printed manual and its tables in ``folder``.

    Nothing is written unless every stage before went well; the folder is moved in
    whole, so that a build that fails leaves what was there as it was.

    Args:
        request: the definition and what is asked of it.
        folder: is made, or replaced if an earlier build wrote it.
        paper: ``A4`` or ``letter``.
        progress: is told the name of each stage as it starts.
    """
    run = _Run(request, progress)
    try:
        results = _derive(run)
        progress("drawing the figures")
        figures = draw_figures(
            results.resolved,
            results.assembly,
            results.joinery,
            results.catalogue,
            results.plan,
            results.schedules,
        )
        run.keep(figures=figures)
        progress("setting the manual")
        files, problems = publish(replace(results, figures=figures), folder, paper=paper)
        run.keep(files=files)
        run.judge(files, problems)
    except _RunEnded:
        return run.outcome(complete=False)
    return run.outcome(complete=True)


def _derive(run: _Run) -> Results:
    """Follow one definition from its text to its schedules, stage by stage."""
    request = run.request
    definition = run.stage("reading the definition", load_definition, request.file)
    run.keep(definition=definition)
    product = run.stage("reading the product", read_product, definition)
    run.keep(product=product)
    resolved = run.stage(
        "working out the sizes",
        resolve,
        product,
        variant=request.variant,
        parameters=request.parameters,
    )
    run.keep(resolved=resolved)
    catalogue = run.stage("opening the catalogue", load_catalogue, product.catalogues)
    run.keep(catalogue=catalogue)
    assembly = run.stage("placing the parts", assemble, resolved)
    run.keep(assembly=assembly)
    joinery = run.stage("placing the fittings", place_fittings, resolved, assembly, catalogue)
    run.keep(joinery=joinery)
    run.progress("inspecting")
    run.judge((), inspect_product(resolved, assembly, joinery, catalogue))
    plan = run.stage("planning the assembly", make_plan, resolved, assembly, joinery, catalogue)
    if isinstance(plan, Impossible):
        run.keep(impossible=plan)
        raise _RunEnded
    run.keep(plan=plan)
    run.progress("counting and cutting")
    schedules = make_schedules(resolved, assembly, joinery, catalogue, plan)
    run.keep(schedules=schedules)
    return Results(
        resolved=resolved,
        catalogue=catalogue,
        assembly=assembly,
        joinery=joinery,
        plan=plan,
        schedules=schedules,
        figures={},
    )


class _RunEnded(Exception):
    """A stage reported errors; they are with the run."""


class _Run:
    """Gathers what the stages of one run give and find."""

    def __init__(self, request: Request, progress: Progress) -> None:
        self.request = request
        self.progress = progress
        self.values: dict[str, Any] = {}
        self.problems: list[Problem] = []

    def stage(
        self,
        title: str,
        work: Callable[P, tuple[T | None, Sequence[Problem]]],
        *args: P.args,
        **kwargs: P.kwargs,
    ) -> T:
        """Do one stage's work; go on with its value or end the run."""
        self.progress(title)
        value, problems = work(*args, **kwargs)
        return self.judge(value, problems)

    def judge(self, value: T | None, problems: Sequence[Problem]) -> T:
        """Keep the problems; end the run if they, or the want of a value, say so."""
        self.problems.extend(problems)
        fatal = has_errors(problems) or (
            self.request.strict and any(p.severity is Severity.WARNING for p in problems)
        )
        if value is None or fatal:
            raise _RunEnded
        return value

    def keep(self, **values: Any) -> None:
        """Keep a stage's value for the outcome, under the outcome's name for it."""
        self.values.update(values)

    def outcome(self, *, complete: bool) -> Outcome:
        """Return what was gathered, problems located in the definition's file."""
        sources = self.values.get("definition")
        return Outcome(
            problems=locate_problems(self.problems, sources), complete=complete, **self.values
        )
