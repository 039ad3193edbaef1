"""Numbers on the command line."""

from __future__ import annotations

import math
from typing import Any

import click

__all__ = ["Number"]


class Number(click.FloatRange):
    """A number within limits; "nan" passes click's own comparison, but not this one."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the number; fail if it is none or outside its limits."""
        found = super().convert(value, param, ctx)
        if isinstance(found, float) and not math.isfinite(found):
            self.fail(f"{value} is not a number to measure with", param, ctx)
        return found
