"""The command that makes drawings and machine files for the workshop."""

from __future__ import annotations

import pathlib

import click

from kdkit.cli.definition_command import (
    into_folder,
    make_request,
    of_a_definition,
    on_paper,
    show_progress,
    show_written,
)
from kdkit.cli.number import Number
from kdkit.cli.saw_options import with_saw
from kdkit.publish.workshop import MACHINE, OUTPUTS
from kdkit.schedule.batch import MOST_PIECES
from kdkit.schedule.saw import Saw
from kdkit.workshop import workshop

__all__ = ["workshop_command"]


def _read_outputs(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[str, ...]:
    """Take names with commas between them; the option may also be given several times."""
    known = [output.name for output in OUTPUTS]
    names = [name.strip().lower() for value in values for name in value.split(",") if name.strip()]
    if any(not value.strip(", ") for value in values):
        raise click.BadParameter(f"no name is given: write some of {', '.join(known)}", ctx, param)
    for name in names:
        if name not in known:
            raise click.BadParameter(f"{name!r} is none of {', '.join(known)}", ctx, param)
    return tuple(dict.fromkeys(names))


@click.command(
    "workshop",
    epilog="\b\nFiles:\n"
    + "\n".join(f"  {o.name:<10} {o.what}{' (only if named)' if o.asked else ''}" for o in OUTPUTS),
)
@of_a_definition
@into_folder("Folder for the files; made, or replaced if an earlier run wrote it.")
@click.option(
    "--files",
    "outputs",
    multiple=True,
    callback=_read_outputs,
    metavar="NAME,...",
    help="Which of the files below; without it all that need not be named.",
)
@on_paper("Sheet size of what is printed.", sizes=("a4", "a3", "letter"))
@with_saw
@click.option(
    "--pre-mill",
    type=Number(0, 5),
    default=0.0,
    show_default=True,
    help="What the edge bander mills off every edge before banding, in mm; 0.5 is usual.",
)
@click.option(
    "--machine",
    default=MACHINE,
    show_default=True,
    metavar="NAME",
    help="Whose programs are written: a name under `machines` in the catalogue.",
)
@click.option(
    "--label-sheet",
    default="",
    metavar="NAME",
    help="The sheets that bags' labels are printed on: a name under `label_sheets` in the "
    "catalogue; without it those that suit the paper.",
)
@click.option(
    "--count",
    type=click.IntRange(1, MOST_PIECES),
    default=1,
    show_default=True,
    help="How many pieces of the product are made in one go: cut list, hardware, bands, sheets "
    "and timber are those of all of them, laid out together.",
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
    end_trim: float,
    keep: float,
    lengths: tuple[float, ...],
    pre_mill: float,
    machine: str,
    label_sheet: str,
    count: int,
) -> None:
    """Make drawings, machine files and orders from which the parts are made.

    \b
    Examples:
      kdkit workshop shelf.yaml --out shelf-shop
      kdkit workshop shelf.yaml --out shelf-shop --files dxf,xlsx
      kdkit workshop shelf.yaml --out shelf-shop --paper a3 --variant narrow
      kdkit workshop shelf.yaml --out shelf-shop --files order --kerf 3.2 --trim 0
      kdkit workshop shelf.yaml --out shelf-shop --files order,xlsx --pre-mill 0.5
      kdkit workshop shelf.yaml --out shelf-shop --machine router-with-changer
      kdkit workshop shelf.yaml --out shelf-shop --count 20 --lengths 2400,3600
    """
    outcome = workshop(
        make_request(file, variant, settings),
        folder,
        outputs=outputs,
        paper=paper,
        saw=Saw(
            kerf=kerf,
            trim=trim,
            pre_mill=pre_mill,
            end_trim=end_trim,
            lengths=lengths,
            keep=keep,
        ),
        machine=machine,
        label_sheet=label_sheet,
        count=count,
        progress=show_progress(),
    )
    show_written(file, outcome)
