"""The command that starts a definition from a list of panels."""

from __future__ import annotations

import pathlib
import sys

import click

from kdkit.catalogue import load_catalogue
from kdkit.cli import show
from kdkit.cli.definition_command import FINE, PROBLEMS, show_new_file
from kdkit.cli.number import Number
from kdkit.definition.gate import Refused, check_title
from kdkit.delivery import refuse_file, write_new_file
from kdkit.diagnostics import locate_problems
from kdkit.imports.numbers import IN_MM
from kdkit.imports.panel_list import load_panel_list
from kdkit.imports.starting import QUESTION, Start, render_start
from kdkit.interrupts import may_write

__all__ = ["start_command"]


@click.command("start")
@click.argument(
    "panels",
    metavar="LIST",
    type=click.Path(exists=True, dir_okay=False, path_type=pathlib.Path),
)
@click.argument("file", required=False, type=click.Path(dir_okay=False, path_type=pathlib.Path))
@click.option("--sheet", metavar="NAME", help="The sheet of a workbook, if several hold something.")
@click.option(
    "--unit",
    type=click.Choice(list(IN_MM)),
    help="Unit of the sizes; without it what the headings say, else mm.",
)
@click.option(
    "--band",
    type=Number(0.1, 20),
    help="Thickness in mm of edge bands that the list only marks.",
)
@click.option("--product", metavar="NAME", help="Name of the product; else that of LIST.")
@click.option(
    "--debug",
    is_flag=True,
    expose_value=False,
    help="Show where it happened if kdkit itself fails.",
)
def start_command(
    panels: pathlib.Path,
    file: pathlib.Path | None,
    sheet: str | None,
    unit: str | None,
    band: float | None,
    product: str | None,
) -> None:
    """Start a definition from LIST, a table of panels as CSV or XLSX, and write it to FILE.

    The list has a row of headings (name, quantity, length, width, thickness, board, edge
    bands, in several spellings) and a row for each panel. What it does not say is left in
    FILE as numbered questions, and listed here; `kdkit check FILE` points at those that are
    still open. FILE is LIST's name with .yaml in this folder if it is left out; a file that
    is there already is never overwritten.

    \b
    Examples:
      kdkit start panels.csv
      kdkit start panels.xlsx low-case.yaml --sheet Carcass --band 1
      kdkit start panels.csv --unit cm --product "Low case"
    """
    target = file or pathlib.Path(f"{panels.stem}.yaml")
    try:
        product = check_title(product or panels.stem)
    except Refused as fault:
        named = repr((product or panels.stem)[:40])
        raise click.BadParameter(
            f"{named} cannot be the product's name: {fault.message}", param_hint="'--product'"
        ) from None
    show_new_file(target, refuse_file(target))
    listed, problems = load_panel_list(panels, sheet=sheet, unit=unit)
    if listed is None:
        click.echo(show.problems_text(locate_problems(problems, None), None), err=True)
        told = f"{show.inline(panels)}: {show.tally(problems)}; nothing was written"
        click.echo(told, err=True)
        sys.exit(PROBLEMS)
    catalogue, problems = load_catalogue()
    if catalogue is None:
        raise RuntimeError("the catalogue that comes with kdkit cannot be read")
    start = render_start(listed, catalogue, product=product, band=band)
    may_write(target)
    show_new_file(target, write_new_file(target, start.text))
    click.echo(_account(show.inline(target), start))
    sys.exit(FINE)


def _account(name: str, start: Start) -> str:
    """Return what was written and what is to be answered."""
    lines = [f"{name}: {start.panels} panels, {len(start.questions)} questions"]
    lines += [f"{name}: not taken over: {show.inline(skipped)}" for skipped in start.skipped]
    for q in start.questions:
        lines.append(f"{name}:{q.line}: {QUESTION} {q.number}: {show.inline(q.text)}")
    return "\n".join(lines)
