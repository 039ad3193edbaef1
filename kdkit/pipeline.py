"""The whole program: one definition in, everything that is derived from it out.

``run_stages`` is all of it. ``check`` takes a definition as far as its schedules, ``build``
goes on to the pictures and the printed matter, ``write_no_plan`` says why there is no plan.

The check command plans too. A product that cannot be put together is a product with a
problem, so the planner belongs to the checks; it writes nothing.
"""

from __future__ import annotations

import pathlib
from contextlib import ExitStack
from dataclasses import replace

# What only printing needs is behind the faces of these, imported when it is used.
from kdkit import delivery, illustrate, publish
from kdkit.catalogue import Catalogue
from kdkit.geometry import Assembly, assemble
from kdkit.inspect import inspect_holding, inspect_product, inspect_risks
from kdkit.joinery import Joinery, place_fittings
from kdkit.model import Resolved
from kdkit.opening import open_product
from kdkit.plan import make_plan
from kdkit.plan.order.dead_ends import advise_dead_ends
from kdkit.plan.plan import Plan
from kdkit.publish import check_texts, no_plan
from kdkit.publish.results import Results
from kdkit.run import Outcome, Progress, Request, Run, RunEnded
from kdkit.schedule import advise_on_bags, advise_on_sheets, make_schedules

__all__ = ["Outcome", "Request", "build", "check", "run_stages", "write_no_plan"]


def run_stages(
    run: Run,
    claim: delivery.Claim | None = None,
    paper: str = "A4",
    *,
    drawn: bool = False,
) -> Results:
    """Follow one definition from its text to its schedules, and on to the printed manual.

    Args:
        run: gathers the problems and the values; its ``results`` are set.
        claim: of the folder for the manual; None: nothing is written.
        paper: ``A4`` or ``letter``.
        drawn: draw the pictures also where nothing is written.

    Raises:
        RunEnded: a stage reported errors.
    """
    resolved, catalogue = open_product(run)
    assembly = run.stage("placing the parts", assemble, resolved)
    joinery = run.stage("placing the fittings", place_fittings, resolved, assembly, catalogue)
    inspect_placed(run, resolved, assembly, joinery, catalogue)
    plan = plan_placed(run, resolved, assembly, joinery, catalogue)
    run.progress("counting and cutting")
    schedules = make_schedules(resolved, assembly, joinery, catalogue, plan)
    results = Results(
        resolved=resolved,
        catalogue=catalogue,
        assembly=assembly,
        joinery=joinery,
        plan=plan,
        schedules=schedules,
        figures={},
    )
    if claim is not None or drawn:
        run.progress("sketching the figures")
        sketches = illustrate.sketch_figures(
            resolved, assembly, joinery, catalogue, plan, schedules
        )
        results = replace(results, figures=sketches.fixed)
        pages = run.stage("laying out the pages", publish.lay_out, results, sketches.wishes, paper)
        run.progress("drawing the figures")
        scores: dict[str, illustrate.FigureScore] = {}
        figures = illustrate.draw_figures(sketches, pages.boxes, scores)
        run.judge(illustrate.judge_scores(scores.values(), schedules.letter_of))
        run.results = results = replace(results, figures=figures, pages=pages, scores=scores)
    if claim is not None:
        results = replace(results, solids=illustrate.draw_round(sketches))
        run.files = run.stage("setting the manual", publish.publish, results, claim, paper=paper)
    run.results = results
    return results


def inspect_placed(
    run: Run, resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> None:
    """Do every check that needs no order, also of the texts."""
    run.progress("inspecting")
    run.judge(
        (
            *check_texts(resolved.said),
            *publish.check_signs(resolved.said, catalogue),
            *inspect_product(resolved, assembly, joinery, catalogue),
        )
    )


def plan_placed(
    run: Run, resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> Plan:
    """Plan the assembly, or find out why there is no plan and end the run."""
    run.progress("planning the assembly")
    plan, problems = make_plan(resolved, assembly, joinery, catalogue)
    if not isinstance(plan, Plan):
        from kdkit.plan.no_plan import study_no_plan, tell_cures  # late, seldom needed

        run.progress("looking for what would change that")
        *others, problem = problems
        run.no_plan = study_no_plan(resolved, assembly, joinery, catalogue, plan, problem)
        run.judge((*others, tell_cures(run.no_plan)))
        raise RunEnded
    run.judge(problems)
    return plan


def check(
    request: Request,
    progress: Progress = lambda _: None,
    *,
    risks: bool = True,
    figures: bool = False,
) -> Outcome:
    """Take a definition through every stage that needs no pictures; write nothing.

    Args:
        request: the definition and what is asked of it.
        progress: is told the name of each stage as it starts.
        risks: also tell what would not stay together, and what people may get wrong when
            they put it together.
        figures: draw the pictures too and judge what can be made out in them.
    """
    with Run(request, progress) as run:
        results = run_stages(run, drawn=figures)
        if risks:
            known = (results.assembly, results.joinery, results.catalogue)
            progress("looking for what can go wrong")
            cut, resolved = results.schedules.cut, results.resolved
            run.judge(inspect_holding(resolved, *known))
            run.judge((*inspect_risks(resolved, *known), *advise_dead_ends(*known)))
            run.judge(advise_on_sheets(cut, resolved, results.catalogue))
            run.judge(advise_on_bags(results.schedules.bags, resolved))
    return run.outcome()


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
    with Run(request, progress) as run, run.claim_folder(folder, delivery.BUILD) as claim:
        run_stages(run, claim, paper)
    return run.outcome()


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
    run = Run(request, progress)
    with ExitStack() as held:
        with run:
            claim = held.enter_context(run.claim_folder(folder, delivery.NO_PLAN))
            run_stages(run)
        if run.no_plan is not None:
            with run:
                progress("drawing the figures")
                figures = illustrate.draw_no_plan(run.no_plan)
                run.files = run.stage(
                    "writing the reasons", no_plan.publish_no_plan, run.no_plan, figures, claim
                )
    return run.outcome()
