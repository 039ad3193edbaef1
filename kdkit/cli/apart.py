"""The command that shows how the finished product comes apart again."""

from __future__ import annotations

import math
import pathlib
import sys

import click

from kdkit import publish
from kdkit.cli import show
from kdkit.cli.definition_command import (
    FINE,
    PROBLEMS,
    into_folder,
    make_request,
    of_a_definition,
    on_paper,
    problems_data,
    show_problems,
    show_progress,
)
from kdkit.cli.show_apart import apart_text
from kdkit.plan_questions import take_apart

__all__ = ["apart_command"]


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


@click.command("apart")
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
@into_folder(
    "Folder for a short manual, out and back; made, or replaced if an earlier run wrote it.",
    required=False,
)
@on_paper("Sheet size of the short manual.")
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
        paper=paper,
        progress=show_progress(),
    )
    if as_json:
        data = problems_data(file, outcome, outcome.complete)
        if outcome.apart is not None:
            data |= publish.apart_data(outcome.apart)
        click.echo(show.json_text(data))
        sys.exit(FINE if outcome.complete else PROBLEMS)
    show_problems(outcome)
    if outcome.apart is not None:
        click.echo(apart_text(outcome.apart))
    for written in outcome.files:
        click.echo(show.inline(written))
    sys.exit(FINE if outcome.complete else PROBLEMS)
