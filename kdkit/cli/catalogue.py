"""The command that writes the page of every joint and fixture."""

from __future__ import annotations

import pathlib
import sys

import click

from kdkit.cli import show
from kdkit.cli.definition_command import (
    FINE,
    PROBLEMS,
    into_folder,
    on_paper,
    show_problems,
    show_progress,
)
from kdkit.joint_choice import write_catalogue

__all__ = ["catalogue_command"]


@click.command("catalogue")
@click.argument(
    "files", nargs=-1, type=click.Path(exists=True, dir_okay=False, path_type=pathlib.Path)
)
@into_folder("Folder for the page; made, or replaced if an earlier run wrote it.")
@on_paper("Sheet size of the PDF.")
@click.option("--no-pdf", is_flag=True, help="Write the web page alone.")
@click.option(
    "--debug",
    is_flag=True,
    expose_value=False,
    help="Show where it happened if kdkit itself fails.",
)
def catalogue_command(
    files: tuple[pathlib.Path, ...], folder: pathlib.Path, paper: str, no_pdf: bool
) -> None:
    """Write a page with every joint and fixture of the catalogue: a figure, the bores in
    its members, the hardware, the steps, limits and sources, each made from a sample.

    FILES are catalogue files of your own, read over the one that comes with kdkit.

    \b
    Examples:
      kdkit catalogue --out joints
      kdkit catalogue my-fittings.yaml --out joints --no-pdf
    """
    outcome = write_catalogue(files, folder, paper=paper, pdf=not no_pdf, progress=show_progress())
    show_problems(outcome)
    for written in outcome.files:
        click.echo(show.inline(written))
    sys.exit(FINE if outcome.complete else PROBLEMS)
