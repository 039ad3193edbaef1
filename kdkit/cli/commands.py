"""The commands: each parses its request, calls the pipeline and shows the outcome."""

from __future__ import annotations

import importlib.resources
import json
import math
import pathlib
import sys
from typing import NoReturn

import click

from kdkit import __version__
from kdkit.cli import show
from kdkit.cli.catalogue import catalogue_command
from kdkit.cli.choose import choose_command
from kdkit.cli.definition_command import (
    FINE,
    PROBLEMS,
    make_request,
    of_a_definition,
    problems_data,
    show_problems,
    show_progress,
)
from kdkit.cli.number import Number
from kdkit.cli.outline import outline_command
from kdkit.cli.show_apart import apart_text
from kdkit.cli.show_why import why_data, why_text
from kdkit.cli.start import start_command
from kdkit.diagnostics import Severity
from kdkit.model import definition_schema
from kdkit.pipeline import Outcome, build, check, write_no_plan
from kdkit.plan_questions import explain, take_apart, verify
from kdkit.publish.apart_manual import apart_data
from kdkit.publish.plan_json import render_plan_json
from kdkit.publish.workshop import OUTPUTS
from kdkit.schedule.sheets import KERF, TRIM, Saw
from kdkit.workshop import workshop

__all__ = ["STARTERS", "group"]

STARTERS = {
    "open-case": "two sides, top, bottom, plinth, laid-on back, an adjustable shelf",
    "cabinet": "a top over the sides, a divider, a back in a groove",
    "frame": "four posts and their rails under a top",
}


@click.group(
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Start with:  kdkit new open-case shelf.yaml",
)
@click.version_option(__version__, prog_name="kdkit")
def group() -> None:
    """Cut list, drilling, hardware, a proved assembly order and an illustrated manual
    for knockdown furniture, all from one definition.
    """


group.add_command(choose_command)
group.add_command(catalogue_command)
group.add_command(start_command)
group.add_command(outline_command)


@group.command("check", short_help="Look for problems in a definition.")
@of_a_definition
@click.option("--json", "as_json", is_flag=True, help="Print the problems as JSON to stdout.")
@click.option("--strict", is_flag=True, help="Let warnings count as errors do.")
def check_command(
    file: pathlib.Path,
    variant: str | None,
    settings: dict[str, float],
    as_json: bool,
    strict: bool,
) -> None:
    """Look for problems in a definition, up to whether it can be put together at all.

    \b
    Examples:
      kdkit check shelf.yaml
      kdkit check shelf.yaml --variant narrow --strict
      kdkit check shelf.yaml --set width=640 --json
    """
    outcome = check(make_request(file, variant, settings), show_progress())
    warned = any(p.severity is Severity.WARNING for p in outcome.problems)
    fine = outcome.complete and not (strict and warned)
    if as_json:
        click.echo(show.json_text(problems_data(file, outcome, fine)))
    else:
        show_problems(outcome)
        click.echo(f"{file}: {show.tally(outcome.problems)}")
    sys.exit(FINE if fine else PROBLEMS)


@group.command("plan")
@of_a_definition
@click.option("--json", "as_json", is_flag=True, help="Print plan or problems as JSON to stdout.")
@click.option(
    "--why",
    "pair",
    nargs=2,
    metavar="B A",
    help="Say why B comes before A: two parts, or two operations of the plan.",
)
@click.option(
    "--out",
    "folder",
    type=click.Path(file_okay=False, path_type=pathlib.Path),
    help="If there is no plan: folder for the reasons with pictures; made, or replaced if "
    "an earlier run wrote it.",
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
        _show_why(file, explain(request, *pair, show_progress()), as_json)
    if folder is None:
        outcome = check(request, show_progress(), risks=False)
    else:
        outcome = write_no_plan(request, folder, progress=show_progress())
    if as_json:
        if outcome.results is not None:
            click.echo(render_plan_json(outcome.results), nl=False)
        else:
            click.echo(show.json_text(problems_data(file, outcome, False)))
    else:
        show_problems(outcome)
        if outcome.results is not None:
            click.echo(show.plan_text(outcome.results.plan))
        for written in outcome.files:
            click.echo(str(written))
    sys.exit(FINE if outcome.complete else PROBLEMS)


@group.command("verify", short_help="Check a proof that a product cannot be put together.")
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
    values that were set for the proof must be set here too.

    \b
    Examples:
      kdkit verify shelf.yaml why-not/impossible.json
    """
    outcome, faults = verify(make_request(file, variant, settings), certificate, show_progress())
    show_problems(outcome)
    if not outcome.complete:
        sys.exit(PROBLEMS)
    for fault in faults:
        click.echo(show.printable(fault))
    click.echo(
        f"{certificate}: "
        + ("the proof does not hold" if faults else "the proof holds; there is no order")
    )
    sys.exit(PROBLEMS if faults else FINE)


@group.command("build")
@of_a_definition
@click.option(
    "--out",
    "folder",
    required=True,
    type=click.Path(file_okay=False, path_type=pathlib.Path),
    help="Folder for the results; made, or replaced if an earlier build wrote it.",
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"], case_sensitive=False),
    default="a4",
    show_default=True,
    help="Sheet size of the manual.",
)
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
        make_request(file, variant, settings), folder, paper=paper.lower(), progress=show_progress()
    )
    _show_written(file, outcome)


def _read_outputs(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[str, ...]:
    """Take names with commas between them; the option may also be given several times."""
    known = [output.name for output in OUTPUTS]
    names = [name.strip().lower() for value in values for name in value.split(",") if name.strip()]
    for name in names:
        if name not in known:
            raise click.BadParameter(f"{name!r} is none of {', '.join(known)}", ctx, param)
    return tuple(dict.fromkeys(names))


@group.command(
    "workshop",
    short_help="Make drawings and machine files for the workshop.",
    epilog="\b\nFiles:\n"
    + "\n".join(f"  {o.name:<10} {o.what}{' (only if named)' if o.asked else ''}" for o in OUTPUTS),
)
@of_a_definition
@click.option(
    "--out",
    "folder",
    required=True,
    type=click.Path(file_okay=False, path_type=pathlib.Path),
    help="Folder for the files; made, or replaced if an earlier run wrote it.",
)
@click.option(
    "--files",
    "outputs",
    multiple=True,
    callback=_read_outputs,
    metavar="NAME,...",
    help="Which of the files below; without it all that need not be named.",
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "a3", "letter"], case_sensitive=False),
    default="a4",
    show_default=True,
    help="Sheet size of what is printed.",
)
@click.option(
    "--kerf",
    type=Number(0, 20),
    default=KERF,
    show_default=True,
    help="Width of the saw's cut in mm, for the sheets to order.",
)
@click.option(
    "--trim",
    type=Number(0, 100),
    default=TRIM,
    show_default=True,
    help="What is sawn off every side of a sheet first, in mm.",
)
def workshop_command(
    file: pathlib.Path,
    variant: str | None,
    settings: dict[str, float],
    folder: pathlib.Path,
    outputs: tuple[str, ...],
    paper: str,
    kerf: float,
    trim: float,
) -> None:
    """Make drawings, machine files and orders from which the parts are made.

    \b
    Examples:
      kdkit workshop shelf.yaml --out shelf-shop
      kdkit workshop shelf.yaml --out shelf-shop --files dxf,xlsx
      kdkit workshop shelf.yaml --out shelf-shop --paper a3 --variant narrow
      kdkit workshop shelf.yaml --out shelf-shop --files order --kerf 3.2 --trim 0
    """
    outcome = workshop(
        make_request(file, variant, settings),
        folder,
        outputs=outputs,
        paper=paper.lower(),
        saw=Saw(kerf=kerf, trim=trim),
        progress=show_progress(),
    )
    _show_written(file, outcome)


def _show_written(file: pathlib.Path, outcome: Outcome) -> None:
    """Show problems and the files that were written; leave with the exit status."""
    show_problems(outcome)
    if not outcome.complete:
        click.echo(f"{file}: {show.tally(outcome.problems)}; nothing was written", err=True)
        sys.exit(PROBLEMS)
    for written in outcome.files:
        click.echo(str(written))
    sys.exit(FINE)


def _read_box(
    ctx: click.Context, param: click.Parameter, value: str | None
) -> tuple[float, float, float] | None:
    """Take three lengths with × or x between them."""
    if value is None:
        return None
    try:
        sides = [float(side) for side in value.lower().replace("×", "x").split("x")]
    except ValueError:
        sides = []
    if len(sides) != 3 or not all(math.isfinite(side) and side > 0 for side in sides):
        raise click.BadParameter(
            f"{value!r} is not three lengths in mm, as in 1900x800x600", ctx, param
        )
    return sides[0], sides[1], sides[2]


@group.command("apart", short_help="Show how the finished product comes apart again.")
@of_a_definition
@click.option("--part", metavar="NAME", help="Take this part out, to replace it.")
@click.option(
    "--to-carry", is_flag=True, help="Take the whole apart: every joint that comes apart."
)
@click.option(
    "--largest",
    callback=_read_box,
    metavar="AxBxC",
    help="With --to-carry: only until no piece is larger than this, mm.",
)
@click.option(
    "--out",
    "folder",
    type=click.Path(file_okay=False, path_type=pathlib.Path),
    help="Folder for a short manual, out and back; made, or replaced if an earlier run wrote it.",
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"], case_sensitive=False),
    default="a4",
    show_default=True,
    help="Sheet size of the short manual.",
)
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON to stdout.")
def apart_command(
    file: pathlib.Path,
    variant: str | None,
    settings: dict[str, float],
    part: str | None,
    to_carry: bool,
    largest: tuple[float, float, float] | None,
    folder: pathlib.Path | None,
    paper: str,
    as_json: bool,
) -> None:
    """Show how the finished product comes apart, with the fewest moves, and back again.

    Joints that are glued or nailed stay closed; what they hold comes out as one piece,
    or not at all, and then it is said why.

    \b
    Examples:
      kdkit apart shelf.yaml --part top
      kdkit apart shelf.yaml --part top --out new-top
      kdkit apart shelf.yaml --to-carry --largest 1900x800x600
    """
    if (part is not None) is to_carry:
        raise click.UsageError("name either --part NAME or --to-carry")
    if largest is not None and not to_carry:
        raise click.UsageError("--largest belongs to --to-carry")
    outcome = take_apart(
        make_request(file, variant, settings),
        part=part,
        largest=largest,
        folder=folder,
        paper=paper.lower(),
        progress=show_progress(),
    )
    if as_json:
        data = problems_data(file, outcome, outcome.complete)
        if outcome.apart is not None:
            data |= apart_data(outcome.apart)
        click.echo(show.json_text(data))
        sys.exit(FINE if outcome.complete else PROBLEMS)
    show_problems(outcome)
    if outcome.apart is not None:
        click.echo(apart_text(outcome.apart))
    for written in outcome.files:
        click.echo(str(written))
    sys.exit(FINE if outcome.complete else PROBLEMS)


@group.command(
    "new",
    short_help="Write a commented starter definition.",
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
    target = file or pathlib.Path(f"{kind}.yaml")
    starter = importlib.resources.files("kdkit.cli").joinpath("starters", f"{kind}.yaml")
    try:
        with target.open("x", encoding="utf-8", newline="\n") as out:
            out.write(starter.read_text(encoding="utf-8"))
    except FileExistsError:
        raise click.ClickException(f"{target} is there already; name another file") from None
    click.echo(str(target))


@group.command("schema", short_help="Print the JSON Schema of a definition.")
def schema_command() -> None:
    """Print the JSON Schema of a definition, for editors that check while you type.

    \b
    Examples:
      kdkit schema > kdkit.schema.json
    """
    click.echo(json.dumps(definition_schema(), indent=2, ensure_ascii=False))


def _show_why(file: pathlib.Path, outcome: Outcome, as_json: bool) -> NoReturn:
    """Show why one thing comes before another; leave with the exit status."""
    if as_json:
        data = problems_data(file, outcome, outcome.complete)
        if outcome.why is not None:
            data["why"] = why_data(outcome.why)
        click.echo(show.json_text(data))
    else:
        show_problems(outcome)
        if outcome.why is not None:
            click.echo(why_text(outcome.why))
    sys.exit(FINE if outcome.complete else PROBLEMS)
