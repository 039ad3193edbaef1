"""The whole program: one definition in, everything that is derived from it out.

``check`` takes a definition as far as its schedules, ``build`` goes on to the
pictures and the printed matter, ``take_apart`` undoes what was planned. A stage gives
a value or None, and problems; the first stage with errors ends the run with *all* its
problems.
"""

from __future__ import annotations

import pathlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import ParamSpec, TypeVar

from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.definition import Definition, load_definition
from kdkit.diagnostics import Problem, has_errors, locate_problems
from kdkit.frames import Vec3
from kdkit.geometry import Assembly, assemble
from kdkit.illustrate import draw_figures, draw_no_plan, sketch_figures
from kdkit.inspect import inspect_product, inspect_risks
from kdkit.joinery import Joinery, place_fittings
from kdkit.joinery.names import check_catalogue_names
from kdkit.model import Product, Resolved, resolve
from kdkit.model.reading import Reading, read_definition
from kdkit.model.resolve import resolve_rest
from kdkit.model.unsure import LeftOut
from kdkit.plan import make_plan
from kdkit.plan.no_plan import NoPlan, study_no_plan, tell_cures
from kdkit.plan.order.dead_ends import advise_dead_ends
from kdkit.plan.plan import Impossible, Plan
from kdkit.plan.taking_apart import TakenApart, divide_product, replace_part
from kdkit.plan.verify import verify_impossible
from kdkit.plan.why import Explanation, explain_order
from kdkit.publish import check_texts, lay_out, publish
from kdkit.publish.apart_manual import publish_apart
from kdkit.publish.catalogue_page import publish_catalogue
from kdkit.publish.no_plan import load_certificate, publish_no_plan
from kdkit.publish.results import Results
from kdkit.publish.workshop import publish_workshop
from kdkit.samples import Pair
from kdkit.samples.choose import Chosen, choose_between_boards, choose_in_product, find_pair
from kdkit.schedule import make_schedules
from kdkit.schedule.sheets import Saw

__all__ = [
    "Outcome",
    "Request",
    "build",
    "check",
    "choose",
    "choose_boards",
    "explain",
    "take_apart",
    "verify",
    "workshop",
    "write_catalogue",
    "write_no_plan",
]

Progress = Callable[[str], None]
P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class Request:
    """What is asked of one definition.

    Args:
        file: the definition, unless a product is given.
        product: a product made in Python.
        catalogues: catalogue files of such a product; a definition names its own.
        variant: one of its ``variants``, or None.
        parameters: values set for this run; they win over the variant's.
    """

    file: pathlib.Path | None = None
    product: Product | None = None
    catalogues: tuple[pathlib.Path, ...] = ()
    variant: str | None = None
    parameters: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """How far a run came and what it found.

    Args:
        problems: located, errors first.
        complete: the run reached its end.
        definition: the text and its places, if it could be read.
        impossible: the proof that the product cannot be put together, if that is so.
        no_plan: the same, or why the author's order fails, with its check and cures.
        results: every stage's value, if all stages went well; no figures from ``check``.
        apart: how the product comes apart, from ``take_apart``.
        why: why one thing comes before another, from ``explain``.
        chosen: every joint that could be between two parts, from ``choose``.
        files: what ``build`` wrote, in the order of their names.
    """

    problems: tuple[Problem, ...]
    complete: bool
    definition: Definition | None = None
    impossible: Impossible | None = None
    no_plan: NoPlan | None = None
    results: Results | None = None
    apart: TakenApart | None = None
    why: Explanation | None = None
    chosen: Chosen | None = None
    files: tuple[pathlib.Path, ...] = ()


def check(request: Request, progress: Progress = lambda _: None, *, risks: bool = True) -> Outcome:
    """Take a definition through every stage that needs no pictures; write nothing.

    ``risks``: also advise of what people may get wrong when they put it together.
    """
    run = _Run(request, progress)
    try:
        run.results = results = _derive(run)
        if risks:
            known = (results.assembly, results.joinery, results.catalogue)
            progress("looking for what can go wrong")
            run.judge((*inspect_risks(results.resolved, *known), *advise_dead_ends(*known)))
    except _RunEnded:
        return run.outcome(complete=False)
    return run.outcome(complete=True)


def write_no_plan(
    request: Request, folder: pathlib.Path, *, progress: Progress = lambda _: None
) -> Outcome:
    """Check, and if there is no plan, write why: text, data, a sheet and a web page.

    Args:
        request: the definition and what is asked of it.
        folder: is made, or replaced if an earlier run wrote it; left alone if there is a
            plan.
        progress: is told the name of each stage as it starts.
    """
    run = _Run(request, progress)
    try:
        run.results = _derive(run)
    except _RunEnded:
        if run.no_plan is None:
            return run.outcome(complete=False)
    else:
        return run.outcome(complete=True)
    try:
        progress("drawing the figures")
        figures = draw_no_plan(run.no_plan)
        run.files = run.stage("writing the reasons", publish_no_plan, run.no_plan, figures, folder)
    except _RunEnded:
        pass
    return run.outcome(complete=False)


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
        progress("sketching the figures")
        sketches = sketch_figures(
            results.resolved,
            results.assembly,
            results.joinery,
            results.catalogue,
            results.plan,
            results.schedules,
        )
        results = replace(results, figures=sketches.fixed)
        pages = run.stage("laying out the pages", lay_out, results, sketches.wishes, paper)
        progress("drawing the figures")
        figures = draw_figures(sketches, pages.boxes)
        run.results = replace(results, figures=figures, pages=pages)
        run.files = run.stage("setting the manual", publish, run.results, folder, paper=paper)
    except _RunEnded:
        return run.outcome(complete=False)
    return run.outcome(complete=True)


def workshop(
    request: Request,
    folder: pathlib.Path,
    *,
    outputs: Sequence[str] = (),
    paper: str = "a4",
    saw: Saw = Saw(),  # noqa: B008 - it cannot be changed
    progress: Progress = lambda _: None,
) -> Outcome:
    """Take a definition to the drawings and files from which its parts are made.

    Nothing is written unless every stage before went well; the folder is moved in whole.

    Args:
        request: the definition and what is asked of it.
        folder: is made, or replaced if an earlier run wrote it.
        outputs: names out of ``kdkit.publish.workshop.OUTPUTS``; none stands for all
            that need not be asked for.
        paper: ``a4``, ``a3`` or ``letter``.
        saw: kerf and trim for the sheets to order.
        progress: is told the name of each stage as it starts.
    """
    run = _Run(request, progress)
    try:
        run.results = _derive(run)
        run.files = run.stage(
            "writing the workshop's files",
            publish_workshop,
            run.results,
            folder,
            outputs,
            paper,
            saw,
        )
    except _RunEnded:
        return run.outcome(complete=False)
    return run.outcome(complete=True)


def take_apart(
    request: Request,
    *,
    part: str | None = None,
    largest: Vec3 | None = None,
    folder: pathlib.Path | None = None,
    paper: str = "A4",
    progress: Progress = lambda _: None,
) -> Outcome:
    """Find out how the finished product comes apart again, and back.

    Args:
        request: the definition and what is asked of it.
        part: the part to be replaced; None: the whole is taken apart to be carried.
        largest: mm; then no piece may be larger, laid as it fits, if it can be helped.
        folder: for a short manual; is made, or replaced if an earlier run wrote it.
        paper: ``A4`` or ``letter``.
        progress: is told the name of each stage as it starts.
    """
    run = _Run(request, progress)
    try:
        run.results = results = _derive(run)
        known = (results.resolved, results.assembly, results.joinery, results.catalogue)
        if part is not None:
            run.apart = run.stage("taking it apart", replace_part, *known, part)
        else:
            run.apart = run.stage("taking it apart", divide_product, *known, largest)
        if folder is not None:
            run.files = run.stage(
                "setting the manual", publish_apart, results, run.apart, folder, paper
            )
    except _RunEnded:
        return run.outcome(complete=False)
    return run.outcome(complete=True)


def explain(
    request: Request, first: str, later: str, progress: Progress = lambda _: None
) -> Outcome:
    """Find out why one part or operation comes before another in the plan."""
    run = _Run(request, progress)
    try:
        run.results = results = _derive(run)
        run.why = run.stage(
            "looking at the other order",
            explain_order,
            results.resolved,
            results.assembly,
            results.joinery,
            results.catalogue,
            results.plan,
            first,
            later,
        )
    except _RunEnded:
        return run.outcome(complete=False)
    return run.outcome(complete=True)


def choose(request: Request, names: Sequence[str], progress: Progress = lambda _: None) -> Outcome:
    """Try every joint of the catalogue between two parts of a product.

    Args:
        names: the two parts, or the name of their joint alone.
    """
    run = _Run(request, progress)
    try:
        resolved, catalogue = _size(run)
        pair = run.stage("looking for the parts", find_pair, resolved, names)
        assembly = run.stage("placing the parts", assemble, resolved)
        known = (resolved, assembly, catalogue)
        run.chosen = run.stage("trying every joint", choose_in_product, *known, *pair)
    except _RunEnded:
        return run.outcome(complete=False)
    return run.outcome(complete=True)


def choose_boards(
    pair: Pair, catalogues: Sequence[pathlib.Path] = (), progress: Progress = lambda _: None
) -> Outcome:
    """Try every joint of the catalogue, and of a maker's own files, between two boards."""
    run = _Run(Request(), progress)
    try:
        catalogue = run.stage("opening the catalogue", load_catalogue, catalogues)
        run.chosen = run.stage("trying every joint", choose_between_boards, pair, catalogue)
    except _RunEnded:
        return run.outcome(complete=False)
    return run.outcome(complete=True)


def write_catalogue(
    catalogues: Sequence[pathlib.Path],
    folder: pathlib.Path,
    *,
    paper: str = "a4",
    pdf: bool = True,
    progress: Progress = lambda _: None,
) -> Outcome:
    """Write the page of every joint and fixture of the catalogue, each with a sample.

    Args:
        catalogues: a maker's own files, read over the catalogue that comes with kdkit.
        folder: is made, or replaced if an earlier run wrote it.
        paper: ``a4`` or ``letter``.
        pdf: also write the page for print.
        progress: is told what is being done.
    """
    run = _Run(Request(), progress)
    try:
        catalogue = run.stage("opening the catalogue", load_catalogue, catalogues)
        run.files = run.stage(
            "making the samples",
            publish_catalogue,
            catalogue,
            folder,
            paper=paper,
            pdf=pdf,
            progress=progress,
        )
    except _RunEnded:
        return run.outcome(complete=False)
    return run.outcome(complete=True)


def verify(
    request: Request, certificate: pathlib.Path, progress: Progress = lambda _: None
) -> tuple[Outcome, tuple[str, ...]]:
    """Check a certificate of impossibility from a file against a product.

    Returns:
        the outcome, complete if the check was made; and what it does not confirm.
    """
    run = _Run(request, progress)
    try:
        placed = _place(run)
        proof = run.stage("reading the certificate", load_certificate, certificate)
        progress("checking it")
        faults = verify_impossible(proof, placed.assembly, placed.joinery, placed.catalogue)
    except _RunEnded:
        return run.outcome(complete=False), ()
    return run.outcome(complete=True), faults


@dataclass(frozen=True)
class _Placed:
    """A product as far as the planner takes it."""

    resolved: Resolved
    assembly: Assembly
    joinery: Joinery
    catalogue: Catalogue


def _size(run: _Run) -> tuple[Resolved, Catalogue]:
    """Follow one definition from its text to its sizes; open its catalogue."""
    request = run.request
    product, catalogues = request.product, request.catalogues
    if product is None:
        if request.file is None:
            raise ValueError("a request needs a file or a product")
        definition = run.stage("reading the definition", load_definition, request.file)
        run.definition = definition
        run.progress("reading the product")
        catalogues = _own_catalogues(definition)
        reading = read_definition(definition)
        run.problems.extend(reading.problems)
        if reading.product is None:
            _look_further(run, reading, catalogues)
            raise _RunEnded
        product = reading.product
    run.progress("working out the sizes")
    resolved, problems = resolve(product, variant=request.variant, parameters=request.parameters)
    run.problems.extend(problems)
    if resolved is None:
        run.problems.extend(_check_names(product, {}, catalogues))
        raise _RunEnded
    return resolved, run.stage("opening the catalogue", load_catalogue, catalogues)


def _look_further(run: _Run, reading: Reading, catalogues: Sequence[pathlib.Path]) -> None:
    """Also tell what is wrong with the names and formulas of what could be read."""
    if reading.rest is None:
        return
    request, unread = run.request, reading.left_out
    problems = resolve_rest(
        reading.rest, unread, variant=request.variant, parameters=request.parameters
    )
    problems += _check_names(reading.rest, unread, catalogues)
    run.problems.extend(reading.place(problems))


def _check_names(
    product: Product, unread: Mapping[int, LeftOut], catalogues: Sequence[pathlib.Path]
) -> tuple[Problem, ...]:
    """Look up what a product names of the catalogue, though its parts cannot be placed."""
    catalogue, problems = load_catalogue(catalogues)
    if catalogue is None:
        return tuple(problems)
    return check_catalogue_names(product, unread, catalogue)


def _place(run: _Run) -> _Placed:
    """Follow one definition from its text to its parts and fittings, inspected."""
    resolved, catalogue = _size(run)
    assembly = run.stage("placing the parts", assemble, resolved)
    joinery = run.stage("placing the fittings", place_fittings, resolved, assembly, catalogue)
    run.progress("inspecting")
    run.judge(
        (*check_texts(resolved.said), *inspect_product(resolved, assembly, joinery, catalogue))
    )
    return _Placed(resolved, assembly, joinery, catalogue)


def _derive(run: _Run) -> Results:
    """Follow one definition from its text to its schedules, stage by stage."""
    placed = _place(run)
    resolved, assembly = placed.resolved, placed.assembly
    joinery, catalogue = placed.joinery, placed.catalogue
    run.progress("planning the assembly")
    plan, problems = make_plan(resolved, assembly, joinery, catalogue)
    if not isinstance(plan, Plan):
        run.progress("looking for what would change that")
        *others, problem = problems
        run.no_plan = study_no_plan(resolved, assembly, joinery, catalogue, plan, problem)
        run.judge((*others, tell_cures(run.no_plan)))
        raise _RunEnded
    run.judge(problems)
    run.progress("counting and cutting")
    schedules = make_schedules(resolved, assembly, joinery, catalogue, plan)
    return Results(
        resolved=resolved,
        catalogue=catalogue,
        assembly=assembly,
        joinery=joinery,
        plan=plan,
        schedules=schedules,
        figures={},
    )


def _own_catalogues(definition: Definition) -> tuple[pathlib.Path, ...]:
    """Return the maker's catalogue files, those of unit files first, each once."""
    of_units = [f for unit in definition.units.values() for f in _own_catalogues(unit)]
    return tuple(dict.fromkeys([*of_units, *definition.catalogues]))


class _RunEnded(Exception):  # noqa: N818 - no fault, it only ends the run
    """A stage reported errors; they are with the run."""


class _Run:
    """Gathers what the stages of one run give and find."""

    def __init__(self, request: Request, progress: Progress) -> None:
        self.request = request
        self.progress = progress
        self.problems: list[Problem] = []
        self.definition: Definition | None = None
        self.no_plan: NoPlan | None = None
        self.results: Results | None = None
        self.apart: TakenApart | None = None
        self.why: Explanation | None = None
        self.chosen: Chosen | None = None
        self.files: tuple[pathlib.Path, ...] = ()

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
        self.judge(problems)
        if value is None:
            raise _RunEnded
        return value

    def judge(self, problems: Sequence[Problem]) -> None:
        """Keep the problems; end the run if one of them is an error."""
        self.problems.extend(problems)
        if has_errors(problems):
            raise _RunEnded

    def outcome(self, *, complete: bool) -> Outcome:
        """Return what was gathered, problems located in the definition's file."""
        verdict = self.no_plan.verdict if self.no_plan is not None else None
        return Outcome(
            problems=locate_problems(self.problems, self.definition),
            complete=complete,
            definition=self.definition,
            impossible=verdict if isinstance(verdict, Impossible) else None,
            no_plan=self.no_plan,
            results=self.results,
            apart=self.apart,
            why=self.why,
            chosen=self.chosen,
            files=self.files,
        )
