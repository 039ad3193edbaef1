"""The commands: each parses its request, calls the pipeline and shows the outcome.

What only one of them needs is imported when it runs.
"""

from __future__ import annotations

import importlib.resources
import pathlib
import sys
from typing import NoReturn

import click

from kdkit.cli import show
from kdkit.cli.definition_command import (
    FINE,
    PROBLEMS,
    into_folder,
    make_request,
    of_a_definition,
    on_paper,
    problems_data,
    show_new_file,
    show_problems,
    show_progress,
    show_written,
)
from kdkit.cli.group import group
from kdkit.cli.width import fitted
from kdkit.diagnostics import Severity
from kdkit.interrupts import may_write
from kdkit.pipeline import build, check, write_no_plan
from kdkit.run import Request

__all__ = [
    "STARTERS",
    "build_command",
    "check_command",
    "group",
    "new_command",
    "plan_command",
    "schema_command",
    "verify_command",
]

STARTERS = {
    "open-case": "two sides, top, bottom, plinth, laid-on back, an adjustable shelf",
    "cabinet": "a top over the sides, a divider, a back in a groove",
    "frame": "four posts and their rails under a top",
}


@click.command("check")
@of_a_definition
@click.option("--json", "as_json", is_flag=True, help="Print the problems as JSON to stdout.")
@click.option("--strict", is_flag=True, help="Let warnings count as errors do.")
@click.option(
    "--figures", is_flag=True, help="Draw the steps too, and say what can be made out in each."
)
def check_command(
    file: pathlib.Path,
    variant: str | None,
    settings: dict[str, float],
    as_json: bool,
    strict: bool,
    figures: bool,
) -> None:
    """Look for problems in a definition, up to whether it can be put together at all.

    \b
    Examples:
      kdkit check shelf.yaml
      kdkit check shelf.yaml --variant narrow --strict
      kdkit check shelf.yaml --set width=640 --json
      kdkit check shelf.yaml --figures
    """
    outcome = check(make_request(file, variant, settings), show_progress(), figures=figures)
    scores = outcome.results.scores if outcome.results is not None else {}
    warned = any(p.severity is Severity.WARNING for p in outcome.problems)
    fine = outcome.complete and not (strict and warned)
    if as_json:
        data = problems_data(file, outcome, fine)
        if figures:
            from kdkit.publish.files.plan_json import score_data

            data["figures"] = [score_data(score) for score in scores.values()]
        click.echo(show.json_text(data))
    else:
        show_problems(outcome, page_of=file)
        if scores and outcome.results is not None:
            from kdkit.cli.show_scores import scores_text

            letter_of = outcome.results.schedules.letter_of
            click.echo(scores_text(list(scores.values()), letter_of))
        click.echo(f"{show.inline(file)}: {show.tally(outcome.problems)}")
    sys.exit(FINE if fine else PROBLEMS)


@click.command("plan")
@of_a_definition
@click.option("--json", "as_json", is_flag=True, help="Print plan or problems as JSON to stdout.")
@click.option(
    "--why",
    "pair",
    nargs=2,
    metavar="B A",
    help="Say why B comes before A: two parts, or two operations of the plan.",
)
@into_folder(
    "If there is no plan: folder for the reasons with pictures; made, or replaced if "
    "an earlier run wrote it.",
    required=False,
)
def plan_command(
    file: pathlib.Path,
    variant: str | None,
    settings: dict[str, float],
    as_json: bool,
    pair: tuple[str, str] | None,
    folder: pathlib.Path | None,
) -> None:
    """Show the order of assembly with its reasons, or why there is none.

    \b
    Examples:
      kdkit plan shelf.yaml
      kdkit plan shelf.yaml --json > plan.json
      kdkit plan shelf.yaml --why left_side back
      kdkit plan shelf.yaml --out why-not
    """
    request = make_request(file, variant, settings)
    if pair is not None:
        _show_why(file, request, pair, as_json)
    if folder is None:
        outcome = check(request, show_progress(), risks=False)
    else:
        outcome = write_no_plan(request, folder, progress=show_progress())
    if as_json:
        if outcome.results is not None:
            from kdkit.publish.files.plan_json import render_plan_json

            click.echo(show.seen_json(render_plan_json(outcome.results)), nl=False)
        else:
            click.echo(show.json_text(problems_data(file, outcome, False)))
    else:
        show_problems(outcome)
        if outcome.results is not None:
            click.echo(fitted(show.plan_text(outcome.results.plan), sys.stdout))
        for written in outcome.files:
            click.echo(show.inline(written))
    sys.exit(FINE if outcome.complete else PROBLEMS)


@click.command("verify")
@of_a_definition
@click.argument("certificate", type=click.Path(exists=True, dir_okay=False, path_type=pathlib.Path))
def verify_command(
    file: pathlib.Path,
    variant: str | None,
    settings: dict[str, float],
    certificate: pathlib.Path,
) -> None:
    """Check the proof in CERTIFICATE against the parts and joints of FILE.

    The proof is an impossible.json that `kdkit plan FILE --out FOLDER` wrote. The check
    follows straight lines through the parts; it asks nothing of the planner. A variant or
    values that were set for the proof must be set here too. What it says last is the class
    of motions that the proof is about; a proof that claims more, or other reasons, is
    rejected.

    \b
    Examples:
      kdkit verify shelf.yaml why-not/impossible.json
    """
    from kdkit.plan_questions import verify

    request = make_request(file, variant, settings)
    outcome, faults, motions = verify(request, certificate, show_progress())
    show_problems(outcome)
    if not outcome.complete:
        sys.exit(PROBLEMS)
    for fault in faults:
        click.echo(show.inline(fault))
    held = f"the proof holds; there is no order by {motions}"
    click.echo(f"{show.inline(certificate)}: {'the proof does not hold' if faults else held}")
    sys.exit(PROBLEMS if faults else FINE)


@click.command("build")
@of_a_definition
@into_folder("Folder for the results; made, or replaced if an earlier build wrote it.")
@on_paper("Sheet size of the manual.")
def build_command(
    file: pathlib.Path,
    variant: str | None,
    settings: dict[str, float],
    folder: pathlib.Path,
    paper: str,
) -> None:
    """Make the manual (PDF and HTML), the tables and the figures.

    \b
    Examples:
      kdkit build shelf.yaml --out shelf
      kdkit build shelf.yaml --out shelf-narrow --variant narrow
      kdkit build shelf.yaml --out shelf-us --paper letter --set depth=250
    """
    outcome = build(
        make_request(file, variant, settings), folder, paper=paper, progress=show_progress()
    )
    show_written(file, outcome)


@click.command(
    "new",
    epilog="\b\nKinds:\n" + "\n".join(f"  {kind:<10} {what}" for kind, what in STARTERS.items()),
)
@click.argument("kind", type=click.Choice(list(STARTERS)))
@click.argument("file", required=False, type=click.Path(dir_okay=False, path_type=pathlib.Path))
def new_command(kind: str, file: pathlib.Path | None) -> None:
    """Write a commented starter definition of some KIND of carcass to FILE.

    FILE is KIND.yaml in this folder if it is left out. A file that is there already
    is never overwritten.

    \b
    Examples:
      kdkit new open-case
      kdkit new cabinet sideboard.yaml
    """
    from kdkit.delivery import write_new_file

    target = file or pathlib.Path(f"{kind}.yaml")
    starter = importlib.resources.files("kdkit.cli").joinpath("starters", f"{kind}.yaml")
    may_write(target)
    show_new_file(target, write_new_file(target, starter.read_text(encoding="utf-8")))
    click.echo(show.inline(target))


@click.command("schema")
@click.option(
    "--of",
    "what",
    type=click.Choice(["definition", "run"]),
    default="definition",
    show_default=True,
    help="Of a product's definition, or of the file that `kdkit run` takes.",
)
def schema_command(what: str) -> None:
    """Print the JSON Schema of a definition or of a run's file, for editors that check while
    you type.

    \b
    Examples:
      kdkit schema > kdkit.schema.json
      kdkit schema --of run > run.schema.json
    """
    from kdkit.model.schema import definition_schema
    from kdkit.production.schema import run_schema

    made = {"definition": definition_schema, "run": run_schema}
    click.echo(show.json_text(made[what]()))


def _show_why(
    file: pathlib.Path, request: Request, pair: tuple[str, str], as_json: bool
) -> NoReturn:
    """Show why one thing comes before another; leave with the exit status."""
    from kdkit.cli.show_why import why_data, why_text
    from kdkit.plan_questions import explain

    outcome = explain(request, *pair, show_progress())
    if as_json:
        data = problems_data(file, outcome, outcome.complete)
        if outcome.why is not None:
            data["why"] = why_data(outcome.why)
        click.echo(show.json_text(data))
    else:
        show_problems(outcome)
        if outcome.why is not None:
            click.echo(fitted(why_text(outcome.why), sys.stdout))
    sys.exit(FINE if outcome.complete else PROBLEMS)
