"""What commands that lay sheets out ask of the saw."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from kdkit.cli.number import Number
from kdkit.model.limits import LONGEST_SIDE
from kdkit.schedule.saw import END_TRIM, KEEP, KERF
from kdkit.schedule.sheet_room import TRIM

__all__ = ["with_saw"]

Command = TypeVar("Command", bound=Callable[..., Any])

_SHORTEST = 50
_MOST_LENGTHS = 20


def _read_lengths(
    ctx: click.Context, param: click.Parameter, value: str | None
) -> tuple[float, ...]:
    """Read stock lengths with commas between them, mm."""
    if value is None:
        return ()
    kind = Number(_SHORTEST, LONGEST_SIDE)
    lengths = [kind.convert(text.strip(), param, ctx) for text in value.split(",")]
    if len(lengths) > _MOST_LENGTHS:
        raise click.BadParameter(f"give at most {_MOST_LENGTHS} lengths", ctx, param)
    return tuple(sorted(set(lengths)))


def with_saw(command: Command) -> Command:
    """Give a command what its saw takes, mm, and what timber is bought in."""
    options = (
        ("--kerf", 20, KERF, "Width of the saw's cut in mm, for the sheets to order."),
        ("--trim", 100, TRIM, "What is sawn off every side of a sheet first, in mm."),
        ("--end-trim", 200, END_TRIM, "What is cut off either end of a bar of timber, in mm."),
        ("--keep", LONGEST_SIDE, KEEP, "Offcuts of timber as long as this are listed, in mm."),
    )
    command = click.option(
        "--lengths",
        callback=_read_lengths,
        metavar="MM,...",
        help="What timber is bought in, instead of the catalogue's lengths: 2400,3000.",
    )(command)
    for name, most, usual, help in reversed(options):
        kind = Number(0, most)
        command = click.option(name, type=kind, default=usual, show_default=True, help=help)(
            command
        )
    return command
