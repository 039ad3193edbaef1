"""The command that says which joints are possible between two boards."""

from __future__ import annotations

import math
import pathlib
import sys

import click

from kdkit.cli import show
from kdkit.cli.definition_command import (
    FINE,
    PROBLEMS,
    make_request,
    read_settings,
    show_problems,
    show_progress,
)
from kdkit.cli.show_choice import choice_data, choice_rows, choice_text
from kdkit.geometry.meetings import MEETINGS
from kdkit.joint_choice import choose, choose_boards
from kdkit.publish.files.tables import render_rows
from kdkit.run import Outcome
from kdkit.samples import Pair, Stock
from kdkit.samples.products import JOINTS

__all__ = ["choose_command"]

LONGEST = 5000.0
"""No board is longer than this, mm."""

LONGEST_NAME = 120
"""No material's key has more characters."""


def _number(text: str, ctx: click.Context, param: click.Parameter) -> float:
    """Return a number of mm above zero."""
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not 0 < number <= LONGEST:
        raise click.BadParameter(
            f"{text!r} is not a number of mm above 0, at most {LONGEST:g}", ctx, param
        )
    return number


def _read_length(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    return None if value is None else _number(value, ctx, param)


def _read_board(ctx: click.Context, param: click.Parameter, value: str | None) -> Stock | None:
    """Read a material of the catalogue and a thickness: ``particleboard-p2:18``."""
    if value is None:
        return None
    material, colon, thickness = value.rpartition(":")
    if not colon or not material or not material.isprintable() or len(material) > LONGEST_NAME:
        raise click.BadParameter(
            f"{value!r} is not a material, ':' and a thickness, as in particleboard-p2:18",
            ctx,
            param,
        )
    return Stock(material=material, thickness=_number(thickness, ctx, param))


@click.command("choose")
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=pathlib.Path)
)
@click.argument("names", nargs=-1, metavar="[PART PART | JOINT]")
@click.option(
    "--butting",
    callback=_read_board,
    metavar="MATERIAL:MM",
    help="The board whose edge or face is put on.",
)
@click.option(
    "--receiving",
    callback=_read_board,
    metavar="MATERIAL:MM",
    help="The other board; the same one if left out.",
)
@click.option(
    "--contact",
    type=click.Choice([kind for kind in JOINTS if kind not in MEETINGS]),
    default="edge-face",
    show_default=True,
    help="How the two boards meet; sunk: one stands in the other.",
)
@click.option(
    "--length",
    callback=_read_length,
    metavar="MM",
    default="300",
    show_default=True,
    help="Length of the joint.",
)
@click.option(
    "--width",
    callback=_read_length,
    metavar="MM",
    default="60",
    show_default=True,
    help="Edge to edge: of the receiver.",
)
@click.option(
    "--depth", callback=_read_length, metavar="MM", help="Sunk: how deep one stands in the other."
)
@click.option(
    "--catalogue",
    "catalogues",
    multiple=True,
    type=click.Path(exists=True, dir_okay=False, path_type=pathlib.Path),
    help="A catalogue file of your own; may be given several times.",
)
@click.option("--variant", metavar="NAME", help="One of the definition's variants.")
@click.option(
    "--set",
    "settings",
    multiple=True,
    callback=read_settings,
    metavar="NAME=NUMBER",
    help="Give a parameter of the definition another value; may be given several times.",
)
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON to stdout.")
@click.option("--csv", "as_csv", is_flag=True, help="Print it as CSV to stdout.")
@click.option(
    "--debug",
    is_flag=True,
    expose_value=False,
    help="Show where it happened if kdkit itself fails.",
)
def choose_command(
    file: pathlib.Path | None,
    names: tuple[str, ...],
    butting: Stock | None,
    receiving: Stock | None,
    contact: str,
    length: float,
    width: float,
    depth: float | None,
    catalogues: tuple[pathlib.Path, ...],
    variant: str | None,
    settings: dict[str, float],
    as_json: bool,
    as_csv: bool,
) -> None:
    """Show which joints of the catalogue are possible between two boards, what each costs in
    bores, pieces, tools and minutes, and why the others are ruled out.

    Give two boards, or a definition FILE and two of its parts (or one of its joints): then
    the boards, the way they meet and the length are those of the parts, and the rest of the
    product stays as it is.

    \b
    Examples:
      kdkit choose --butting particleboard-p2:18
      kdkit choose --butting oak:27 --receiving oak:27 --contact edge-edge --length 90
      kdkit choose shelf.yaml top left_side
      kdkit choose shelf.yaml top left_side --csv > joints.csv
    """
    if as_json and as_csv:
        raise click.UsageError("--json and --csv exclude each other")
    if file is None:
        if butting is None:
            raise click.UsageError("name a FILE with two of its parts, or give --butting")
        outcome = _between_boards(butting, receiving, contact, length, width, depth, catalogues)
    else:
        if butting is not None or receiving is not None or catalogues:
            raise click.UsageError("with a FILE its own boards and catalogues count")
        if not 1 <= len(names) <= 2:
            raise click.UsageError("name two parts of FILE, or one of its joints")
        request = make_request(file, variant, settings)
        outcome = choose(request, names, show_progress())
    _show(outcome, as_json, as_csv)
    sys.exit(FINE if outcome.complete else PROBLEMS)


def _between_boards(
    butting: Stock,
    receiving: Stock | None,
    contact: str,
    length: float,
    width: float,
    depth: float | None,
    catalogues: tuple[pathlib.Path, ...],
) -> Outcome:
    other = receiving or butting
    if contact == "edge-edge" and other.thickness != butting.thickness:
        raise click.UsageError("boards that meet edge to edge are of one thickness here")
    if depth is not None and contact != "sunk":
        raise click.UsageError("--depth belongs to --contact sunk")
    if depth is not None and depth >= other.thickness:
        raise click.UsageError(
            f"--depth {depth:g} goes through the receiving board of {other.thickness:g} mm"
        )
    pair = Pair(
        butting=butting,
        receiving=other,
        contact=contact,
        run=length,
        width=width,
        sunk=depth or 0.0,
    )
    return choose_boards(pair, catalogues, show_progress())


def _show(outcome: Outcome, as_json: bool, as_csv: bool) -> None:
    chosen = outcome.chosen
    if as_json:
        data = {
            "fine": outcome.complete,
            "problems": [show.problem_data(p) for p in outcome.problems],
        }
        if chosen is not None:
            data |= choice_data(chosen)
        click.echo(show.json_text(data))
        return
    show_problems(outcome)
    if chosen is not None and as_csv:
        click.echo(render_rows(choice_rows(chosen)), nl=False)
    elif chosen is not None:
        click.echo(choice_text(chosen))
