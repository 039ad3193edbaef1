"""The commands that keep an archive: make, verify, copy, take revisions in and out."""

from __future__ import annotations

import pathlib
import sys

import click

from kdkit.archive import (
    back_up,
    export_revision,
    forget_reference,
    import_revision,
    new_archive,
    verify_archive,
)
from kdkit.cli import show
from kdkit.cli.archive_desk import account_command, supersede_command
from kdkit.cli.archived import (
    find_one,
    leave,
    of_an_archive,
    opened,
    quietly_debug,
    tell,
    which_revision,
)
from kdkit.cli.definition_command import PROBLEMS, show_progress
from kdkit.diagnostics import has_errors
from kdkit.interrupts import may_write

__all__ = ["archive_command"]

_OLD = click.Path(exists=True, dir_okay=False, path_type=pathlib.Path)
_NEW = click.Path(path_type=pathlib.Path)


@click.group("archive")
def archive_command() -> None:
    """Make, verify and copy an archive: one file with every revision as it was issued.

    \b
    Examples:
      kdkit archive new workshop.sqlite
      kdkit archive verify --archive workshop.sqlite
      kdkit archive back-up copy.sqlite --archive workshop.sqlite
    """


archive_command.add_command(supersede_command)
archive_command.add_command(account_command)


@archive_command.command("new")
@click.argument("place", metavar="FILE")
@quietly_debug
def new_command(place: str) -> None:
    """Make an empty archive: a new FILE, or the tables in an empty PostgreSQL database.

    \b
    Examples:
      kdkit archive new workshop.sqlite
      kdkit archive new postgresql+psycopg://clerk@server/issued
    """
    may_write(place)
    problems = new_archive(place)
    if has_errors(problems):
        leave(problems, f"{show.inline(place)}: nothing was made")
    tell(problems)
    click.echo(show.inline(place) if "://" not in place else "made")


@archive_command.command("verify")
@of_an_archive
@quietly_debug
def verify_command(archive: str) -> None:
    """Read everything that was issued and compare it with its sums; name what is damaged.

    \b
    Example:
      kdkit archive verify --archive workshop.sqlite
    """
    with opened(archive) as there:
        count, problems = verify_archive(there, show_progress())
    tell(problems)
    click.echo(f"{show.inline(archive)}: {count} revisions and batches, {show.tally(problems)}")
    sys.exit(PROBLEMS if problems else 0)


@archive_command.command("back-up")
@click.argument("copy", type=_NEW)
@of_an_archive
@quietly_debug
def back_up_command(copy: pathlib.Path, archive: str) -> None:
    """Copy an archive to the new file COPY, also while others use it.

    \b
    Example:
      kdkit archive back-up 2027-01.sqlite --archive workshop.sqlite
    """
    may_write(copy)
    with opened(archive) as there:
        problems = back_up(there, copy)
    if has_errors(problems):
        leave(problems, f"{show.inline(copy)}: nothing was written")
    tell(problems)
    click.echo(show.inline(copy))


@archive_command.command("export")
@which_revision
@of_an_archive
@click.option("--to", "file", type=_NEW, required=True, help="The new file.")
@quietly_debug
def export_command(
    words: tuple[str, ...],
    revision: str | None,
    variant: str | None,
    batch: str | None,
    archive: str,
    file: pathlib.Path,
) -> None:
    """Write one revision, with its batches, into one file.

    \b
    Example:
      kdkit archive export Shoe rack --revision B --to rack-b.zip --archive workshop.sqlite
    """
    may_write(file)
    with opened(archive) as there:
        meant, _ = find_one(there, words, revision, variant, batch)
        problems = export_revision(there, meant, file)
    if has_errors(problems):
        leave(problems, f"{show.inline(file)}: nothing was written")
    tell(problems)
    click.echo(show.inline(file))


@archive_command.command("import")
@click.argument("file", type=_OLD)
@of_an_archive
@quietly_debug
def import_command(file: pathlib.Path, archive: str) -> None:
    """Take a revision and its batches from a FILE that `kdkit archive export` wrote.

    \b
    Example:
      kdkit archive import rack-b.zip --archive workshop.sqlite
    """
    with opened(archive) as there:
        revision, problems = import_revision(there, file)
    if has_errors(problems) or revision is None:
        leave(problems, f"{show.inline(file)}: not all of it is in the archive")
    tell(problems)
    click.echo(show.inline(revision.title))


@archive_command.command("forget")
@click.argument("reference")
@of_an_archive
@quietly_debug
def forget_command(reference: str, archive: str) -> None:
    """Take an order's REFERENCE out of every note of what was sent; the notes stay.

    \b
    Example:
      kdkit archive forget 2027-0815 --archive workshop.sqlite
    """
    with opened(archive) as there:
        count = forget_reference(there, reference)
    click.echo(f"{count} notes no longer bear that reference")
