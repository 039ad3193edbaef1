"""Numbers on the command line."""

from __future__ import annotations

from typing import Any

import click

from kdkit.definition.gate import Refused
from kdkit.definition.scalars import read_number

__all__ = ["Number"]


class Number(click.FloatRange):
    """A number within limits, written as in a definition."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the number; fail if it is none or outside its limits."""
        if isinstance(value, str):
            try:
                value = read_number(value)
            except Refused as fault:
                self.fail(fault.message + (f"; {fault.help}" if fault.help else ""), param, ctx)
        return super().convert(value, param, ctx)
