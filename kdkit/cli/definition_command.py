"""What commands that read a definition share: options, the request, what they show.

The options are shared so that a maker learns ``--variant`` and ``--set`` once.
"""

from __future__ import annotations

import contextlib
import pathlib
import sys
import time
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, TypeVar

import click

from kdkit.cli import show
from kdkit.cli.width import fitted, width_of
from kdkit.definition.gate import Refused
from kdkit.definition.scalars import read_number
from kdkit.diagnostics import Problem, has_errors
from kdkit.interrupts import may_write
from kdkit.publish import no_plan
from kdkit.run import Outcome, Request

__all__ = [
    "FINE",
    "PROBLEMS",
    "into_folder",
    "make_request",
    "of_a_definition",
    "on_paper",
    "problems_data",
    "read_settings",
    "show_new_file",
    "show_problems",
    "show_progress",
    "show_written",
]

FINE, PROBLEMS = 0, 1
_NO_TERMINAL = 92  # letters in a line of an account for a file or a pipe
QUIET_SECONDS = 2.0
"""A run shorter than this says nothing of its progress unless somebody watches."""

Command = TypeVar("Command", bound=Callable[..., Any])


def read_settings(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> dict[str, float]:
    """Take every ``NAME=NUMBER`` apart."""
    settings = {}
    for value in values:
        name, equals, text = value.partition("=")
        name = unicodedata.normalize("NFC", name.strip())
        if not equals or not name:
            raise click.BadParameter(
                f"{value[:80]!r} is not a name, '=' and a number, as in width=900", ctx, param
            )
        if name in settings:
            raise click.BadParameter(f"{name[:80]} is given twice; keep one of them", ctx, param)
        try:
            settings[name] = read_number(text)
        except Refused as fault:
            help = f"; {fault.help}" if fault.help else ""
            raise click.BadParameter(f"{name[:80]}: {fault.message}{help}", ctx, param) from None
    return settings


def of_a_definition(command: Command) -> Command:
    """Add what every command that reads a definition takes."""
    for decorate in (
        click.option(
            "--debug",
            is_flag=True,
            expose_value=False,
            help="Show where it happened if kdkit itself fails.",
        ),
        click.option(
            "--set",
            "settings",
            multiple=True,
            callback=read_settings,
            metavar="NAME=NUMBER",
            help="Give a parameter another value; may be given several times.",
        ),
        click.option("--variant", metavar="NAME", help="One of the definition's variants."),
        click.argument(
            "file", type=click.Path(exists=True, dir_okay=False, path_type=pathlib.Path)
        ),
    ):
        command = decorate(command)
    return command


def into_folder(help: str, *, required: bool = True) -> Callable[[Command], Command]:
    """Return what adds the option for the folder that a command writes."""

    def remember(
        ctx: click.Context, param: click.Parameter, folder: pathlib.Path | None
    ) -> pathlib.Path | None:
        if folder is not None:
            may_write(folder)
        return folder

    return click.option(
        "--out",
        "folder",
        required=required,
        type=click.Path(file_okay=False, path_type=pathlib.Path),
        callback=remember,
        help=help,
    )


def on_paper(help: str, sizes: tuple[str, ...] = ("a4", "letter")) -> Callable[[Command], Command]:
    """Return what adds the option for the size of paper, which arrives in small letters."""
    return click.option(
        "--paper",
        type=click.Choice(list(sizes), case_sensitive=False),
        default="a4",
        show_default=True,
        callback=lambda ctx, param, value: value.lower(),
        help=help,
    )


def make_request(file: pathlib.Path, variant: str | None, settings: dict[str, float]) -> Request:
    return Request(file=file, variant=variant, parameters=settings)


def problems_data(file: pathlib.Path, outcome: Outcome, fine: bool) -> dict[str, Any]:
    data: dict[str, Any] = {
        "file": str(file),
        "fine": fine,
        "problems": [show.problem_data(p) for p in outcome.problems],
    }
    if outcome.no_plan is not None:
        data["no_plan"] = no_plan.no_plan_data(outcome.no_plan)
    return data


def show_problems(outcome: Outcome, page_of: pathlib.Path | None = None) -> None:
    """Print problems, and the account of an impossible product, to stderr.

    Args:
        page_of: print a page of the account alone, and say how to get at all of it for
            that definition.
    """
    if outcome.problems:
        told = show.problems_text(outcome.problems, outcome.definition)
        click.echo(fitted(told, sys.stderr) + "\n", err=True)
    if outcome.impossible is None or outcome.no_plan is None:
        return
    account = no_plan.give_account(outcome.no_plan, no_plan.messages_for(outcome.no_plan))
    width = width_of(sys.stderr) or _NO_TERMINAL
    if page_of is None:
        text = no_plan.no_plan_text(account, width)
    else:
        rest = (
            f"All of it: kdkit plan {show.inline(page_of)}, with the same options; with pictures:"
            " add --out FOLDER."
        )
        text = no_plan.no_plan_page(account, rest, width)
    click.echo(show.printable(text), err=True)


def show_new_file(file: pathlib.Path, problems: Sequence[Problem]) -> None:
    """Show what was met in making a file; leave if it cannot be made."""
    if problems:
        click.echo(show.problems_text(problems, None) + "\n", err=True)
    if has_errors(problems):
        click.echo(f"{file}: {show.tally(problems)}; nothing was written", err=True)
        sys.exit(PROBLEMS)


def show_progress() -> Callable[[str], None]:
    """Return what tells a watcher, or the log of a long run, which stage is being done."""
    started = time.monotonic()

    def tell(stage: str) -> None:
        if sys.stderr.isatty() or time.monotonic() - started > QUIET_SECONDS:
            with contextlib.suppress(OSError):  # a watcher who left misses no result
                click.echo(f"{stage} …", err=True)

    return tell


def show_written(file: pathlib.Path, outcome: Outcome) -> None:
    """Show problems and the files that were written; leave with the exit status."""
    last = [p for p in outcome.problems if p.code == "output-replaced"]
    problems = tuple(p for p in outcome.problems if p not in last)
    show_problems(replace(outcome, problems=problems), page_of=file)
    if not outcome.complete:
        told = f"{show.inline(file)}: {show.tally(outcome.problems)}; nothing was written"
        click.echo(told, err=True)
        sys.exit(PROBLEMS)
    for written in outcome.files:
        click.echo(show.inline(written))
    if last:  # what there was is gone: the last that is read says so
        click.echo(fitted(show.problems_text(last, outcome.definition), sys.stderr), err=True)
    sys.exit(FINE)
