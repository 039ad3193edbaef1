"""The commands that freeze: a revision of a definition, a batch of a revision."""

from __future__ import annotations

import pathlib
import sys

import click

from kdkit.cli import show
from kdkit.cli.archived import (
    find_one,
    of_an_archive,
    opened,
    quietly_debug,
    tell,
    which_revision,
)
from kdkit.cli.definition_command import (
    PROBLEMS,
    make_request,
    of_a_definition,
    on_paper,
    show_problems,
    show_progress,
)
from kdkit.definition.gate import Refused, check_title
from kdkit.issuing import Issued, failed, issue, make_batch

__all__ = ["batch_command", "issue_command"]


@click.command("issue")
@of_a_definition
@of_an_archive
@on_paper("Sheet size of the manual.")
def issue_command(
    file: pathlib.Path,
    variant: str | None,
    settings: dict[str, float],
    archive: str,
    paper: str,
) -> None:
    """Freeze a revision: the definition, its own catalogues and units, and every file that
    `build`, `workshop` and `pack` make of it, each with its sum.

    What is issued never changes. The same content may be issued again and again and is
    there once; another content needs another `revision` in the definition. The manual that
    is issued bears no batch's number: `kdkit batch` makes one that does.

    \b
    Examples:
      kdkit archive new workshop.sqlite
      kdkit issue shelf.yaml --archive workshop.sqlite
      kdkit issue shelf.yaml --archive workshop.sqlite --variant narrow
    """
    with opened(archive) as there:
        request = make_request(file, variant, settings)
        issued = issue(there, request, paper=paper, progress=show_progress())
    _show(issued, f"{show.inline(file)}: nothing was issued")
    assert issued.revision is not None
    if not issued.problems:
        click.echo(f"{show.inline(issued.revision.title)}: issued in {show.inline(archive)}")


@click.command("batch")
@click.argument("number", metavar="NUMBER")
@which_revision
@of_an_archive
@click.option(
    "--count", type=click.IntRange(1, 10**6), default=None, help="How many products were made."
)
@click.option("--made", metavar="DATE", default="", help="When, as you write dates.")
@click.option(
    "--as-issued",
    is_flag=True,
    help="Draw nothing: the revision's own files, without a batch's number, hold for it.",
)
@quietly_debug
def batch_command(
    number: str,
    words: tuple[str, ...],
    revision: str | None,
    variant: str | None,
    batch: str | None,
    archive: str,
    count: int | None,
    made: str,
    as_issued: bool,
) -> None:
    """Record batch NUMBER of an issued revision, with manual, tables and labels that bear it.

    They are drawn from the frozen definition, and only if this kdkit still draws the
    revision byte for byte as it was issued.

    \b
    Examples:
      kdkit batch LN-204 Shoe rack --revision B --archive workshop.sqlite
      kdkit batch LN-204 Shoe rack --revision B --archive workshop.sqlite --count 40
    """
    if batch is not None:
        raise click.BadParameter("the batch is named first", param_hint="--batch")
    try:
        number, made = check_title(number.strip()), made.strip() and check_title(made.strip())
    except Refused as fault:
        raise click.BadParameter(fault.message, param_hint="NUMBER") from None
    if not number:
        raise click.BadParameter("a batch needs a number", param_hint="NUMBER")
    with opened(archive) as there:
        meant, _ = find_one(there, words, revision, variant, None)
        issued = make_batch(
            there,
            meant,
            number,
            count=count or 0,
            made=made,
            as_issued=as_issued,
            progress=show_progress(),
        )
    _show(issued, f"batch {show.inline(number)}: nothing was recorded")
    if not issued.problems:
        click.echo(f"batch {show.inline(number)} of {show.inline(meant.title)}: recorded")


def _show(issued: Issued, nothing: str) -> None:
    if issued.outcome is not None:
        show_problems(issued.outcome)
    tell(issued.problems)
    if failed(issued):
        click.echo(nothing, err=True)
        sys.exit(PROBLEMS)
