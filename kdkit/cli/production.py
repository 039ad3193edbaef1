"""The command for a production run."""

from __future__ import annotations

import pathlib

import click

from kdkit.cli.definition_command import into_folder, on_paper, show_progress, show_written
from kdkit.cli.saw_options import with_saw
from kdkit.producing import produce
from kdkit.schedule.saw import Saw

__all__ = ["run_command"]


@click.command("run")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=pathlib.Path))
@click.option(
    "--debug",
    is_flag=True,
    expose_value=False,
    help="Show where it happened if kdkit itself fails.",
)
@into_folder("Folder for the files; made, or replaced if an earlier run wrote it.")
@on_paper("Sheet size of what is printed.", sizes=("a4", "a3", "letter"))
@with_saw
def run_command(
    file: pathlib.Path,
    folder: pathlib.Path,
    paper: str,
    kerf: float,
    trim: float,
    end_trim: float,
    keep: float,
    lengths: tuple[float, ...],
) -> None:
    """Add up what several products and quantities need: sheets, timber, bands, hardware.

    \b
    A run's file, beside the definitions:
      run: Week 49
      products:
        - {file: shelf.yaml, quantity: 12, variant: narrow}
        - {file: bench.yaml, quantity: 4, set: {width: 900}, gtin: "6291041500213"}
      spares: 2                # per cent of the hardware
      stock: stock.csv         # two columns: article, amount
      buy: {cam-lock-15: {pack: 100, price: 9.5}}

    \b
    Examples:
      kdkit run week.yaml --out week
      kdkit run week.yaml --out week --kerf 3.2 --trim 0
    """
    saw = Saw(kerf=kerf, trim=trim, end_trim=end_trim, lengths=lengths, keep=keep)
    outcome = produce(file, folder, saw=saw, paper=paper, progress=show_progress())
    show_written(file, outcome)
