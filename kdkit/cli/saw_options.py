"""What commands that lay sheets out ask of the saw."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from kdkit.cli.number import Number
from kdkit.schedule.sheets import KERF, TRIM

__all__ = ["with_saw"]

Command = TypeVar("Command", bound=Callable[..., Any])


def with_saw(command: Command) -> Command:
    """Give a command ``--kerf`` and ``--trim``, both mm."""
    options = (
        ("--kerf", 20, KERF, "Width of the saw's cut in mm, for the sheets to order."),
        ("--trim", 100, TRIM, "What is sawn off every side of a sheet first, in mm."),
    )
    for name, most, usual, help in reversed(options):
        kind = Number(0, most)
        command = click.option(name, type=kind, default=usual, show_default=True, help=help)(
            command
        )
    return command
