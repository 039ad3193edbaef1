"""The command that says what the name at the end of a message means."""

from __future__ import annotations

import click

from kdkit.cli import show
from kdkit.definition.formula import near_names
from kdkit.diagnostics import CODES

__all__ = ["explain_command"]


@click.command("explain")
@click.argument("codes", nargs=-1, metavar="[CODE]...")
def explain_command(codes: tuple[str, ...]) -> None:
    """Say what the CODE in square brackets behind a message means; without one, list all.

    \b
    Examples:
      kdkit explain fitting-gap
      kdkit explain
    """
    wanted = [code.strip("[] ") for code in codes] or list(CODES)
    unknown = [code for code in wanted if code not in CODES]
    if unknown:
        raise click.BadParameter("; ".join(map(_unknown, unknown)), param_hint="CODE")
    wide = max(map(len, wanted))
    for code in wanted:
        click.echo(f"{code:{wide}}  {CODES[code]}")


def _unknown(code: str) -> str:
    near = near_names(code, CODES)
    told = f"no message has the code {show.inline(code)}"
    return f"{told}, the nearest is {near[0]}" if near else told
