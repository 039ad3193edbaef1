"""The command that reads a panel's shape from a drawing."""

from __future__ import annotations

import math
import pathlib
import sys

import click

from kdkit.cli import show
from kdkit.cli.definition_command import FINE, PROBLEMS
from kdkit.cli.number import Number
from kdkit.diagnostics import locate_problems
from kdkit.imports.drawing import FINEST, load_outline
from kdkit.imports.numbers import IN_MM
from kdkit.imports.outline_text import FACES, place_shape, render_outline

__all__ = ["outline_command"]

_FARTHEST = 100_000.0


def _read_place(
    ctx: click.Context, param: click.Parameter, value: str | None
) -> tuple[float, float]:
    """Take two lengths with a comma between them."""
    if value is None:
        return 0.0, 0.0
    try:
        place = [float(text) for text in value.split(",")]
    except ValueError:
        place = []
    if len(place) != 2 or not all(math.isfinite(p) and abs(p) <= _FARTHEST for p in place):
        raise click.BadParameter(f"{value!r} is not two lengths in mm, as in 18,80", ctx, param)
    return place[0], place[1]


@click.command("outline")
@click.argument("drawing", type=click.Path(exists=True, dir_okay=False, path_type=pathlib.Path))
@click.option(
    "--face",
    type=click.Choice(FACES),
    default="+z",
    show_default=True,
    help="Where the panel's face looks; the drawing shows it from outside.",
)
@click.option(
    "--at",
    "place",
    callback=_read_place,
    metavar="U,V",
    help="Where the corner with the least coordinates stands in the panel's plane, mm.",
)
@click.option(
    "--turn",
    type=click.Choice(["0", "90", "180", "270"]),
    default="0",
    show_default=True,
    help="Turn the drawing first, in degrees against the clock.",
)
@click.option(
    "--layer", "layers", multiple=True, metavar="NAME", help="Read this layer; may be repeated."
)
@click.option(
    "--unit", type=click.Choice(list(IN_MM)), help="Unit of the drawing; else what it says."
)
@click.option(
    "--tolerance",
    type=Number(FINEST, 2),
    default=0.1,
    show_default=True,
    help="How far a side may leave the arc that it stands for, mm.",
)
@click.option(
    "--debug",
    is_flag=True,
    expose_value=False,
    help="Show where it happened if kdkit itself fails.",
)
def outline_command(
    drawing: pathlib.Path,
    face: str,
    place: tuple[float, float],
    turn: str,
    layers: tuple[str, ...],
    unit: str | None,
    tolerance: float,
) -> None:
    """Read the outline and the openings of one panel from DRAWING, a DXF file, and print
    them as lines that belong under the panel in a definition.

    Closed polylines count, and lines and arcs that meet end to end; circles and closed
    lines within the largest one are openings. Blocks are opened. The files that
    `kdkit workshop` writes can be read again.

    \b
    Examples:
      kdkit outline arch.dxf
      kdkit outline arch.dxf --face -y --at 18,80 --unit cm
      kdkit outline arch.dxf --layer CUT --layer HOLES --tolerance 0.05
    """
    drawn, problems = load_outline(drawing, layers=layers, unit=unit, tolerance=tolerance)
    if problems:
        click.echo(show.problems_text(locate_problems(problems, None), None) + "\n", err=True)
    if drawn is None:
        click.echo(f"{show.inline(drawing)}: {show.tally(problems)}; nothing was read", err=True)
        sys.exit(PROBLEMS)
    shape = place_shape(drawn.shape, face=face, quarter_turns=int(turn) // 90, at=place)
    text = render_outline(drawn, shape, face=face, tolerance=tolerance)
    click.echo(show.printable(text), nl=False)
    sys.exit(FINE)
