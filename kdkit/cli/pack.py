"""The command that finds the cartons of a product."""

from __future__ import annotations

import pathlib
from typing import Any

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
from kdkit.definition.gate import Refused
from kdkit.definition.trade_numbers import DOMAIN, check_domain, check_gtin
from kdkit.packing import pack
from kdkit.schedule.packing import MOST_MASS, PackingRules

__all__ = ["pack_command"]

_USUAL = PackingRules()


def _gtin(ctx: click.Context, param: click.Parameter, value: Any) -> str:
    return "" if value is None else _refusing(check_gtin, value, ctx, param)


def _domain(ctx: click.Context, param: click.Parameter, value: Any) -> str:
    return _refusing(check_domain, value, ctx, param)


def _refusing(check: Any, value: Any, ctx: click.Context, param: click.Parameter) -> str:
    try:
        return str(check(value))
    except Refused as fault:
        help = f"; {fault.help}" if fault.help else ""
        raise click.BadParameter(fault.message + help, ctx, param) from None


@click.command("pack")
@of_a_definition
@into_folder("Folder for the files; made, or replaced if an earlier run wrote it.")
@click.option(
    "--most-mass",
    type=Number(1, 1000),
    default=round(MOST_MASS, 3),
    show_default=True,
    help="What a packed carton may weigh, in kg, before the parts go into several: what two "
    "persons may carry by the lifting filter that the planner uses.",
)
@click.option(
    "--cushion",
    type=Number(0, 200),
    default=_USUAL.cushion,
    show_default=True,
    help="Padding between the contents and each wall of the carton, in mm.",
)
@click.option(
    "--interleaf",
    type=Number(0, 20),
    default=_USUAL.interleaf,
    show_default=True,
    help="Thickness of the sheet that lies under every piece, in mm.",
)
@click.option(
    "--gtin",
    callback=_gtin,
    metavar="NUMBER",
    help="The number under which this variant is sold, for a code on the labels.",
)
@click.option(
    "--link",
    "domain",
    default=DOMAIN,
    show_default=True,
    callback=_domain,
    metavar="ADDRESS",
    help="What the web address in that code begins with: a domain of yours that answers it.",
)
@on_paper("Sheet size of what is printed.", sizes=("a4", "a3", "letter"))
def pack_command(
    file: pathlib.Path,
    variant: str | None,
    settings: dict[str, float],
    folder: pathlib.Path,
    most_mass: float,
    cushion: float,
    interleaf: float,
    gtin: str,
    domain: str,
    paper: str,
) -> None:
    """Find the cartons of a product: what lies where, how heavy they are, who carries them.

    Flat and heavy parts lie below, what is needed first above, the hardware on top. The
    masses with packing are estimates: weigh the first carton.

    \b
    Examples:
      kdkit pack shelf.yaml --out shelf-cartons
      kdkit pack shelf.yaml --out shelf-cartons --most-mass 16 --cushion 15
      kdkit pack shelf.yaml --out shelf-cartons --variant narrow --gtin 6291041500213
    """
    outcome = pack(
        make_request(file, variant, settings),
        folder,
        rules=PackingRules(most_mass=most_mass, cushion=cushion, interleaf=interleaf),
        paper=paper,
        gtin=gtin,
        domain=domain,
        progress=show_progress(),
    )
    show_written(file, outcome)
