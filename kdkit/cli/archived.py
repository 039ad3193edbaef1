"""What commands over an archive share: its option, opening it, finding in it, telling."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator, Sequence
from typing import Any, NoReturn, TypeVar

import click

from kdkit.archive import Archive, Batch, Found, Revision, find, find_said, open_archive
from kdkit.archive.opening import ArchiveFailed
from kdkit.cli import show
from kdkit.cli.definition_command import PROBLEMS
from kdkit.cli.width import fitted
from kdkit.diagnostics import Problem, error, has_errors

__all__ = [
    "find_one",
    "leave",
    "of_an_archive",
    "opened",
    "quietly_debug",
    "which_revision",
]

Command = TypeVar("Command", bound=Callable[..., Any])

quietly_debug = click.option(
    "--debug",
    is_flag=True,
    expose_value=False,
    help="Show where it happened if kdkit itself fails.",
)

of_an_archive = click.option(
    "--archive",
    "archive",
    required=True,
    envvar="KDKIT_ARCHIVE",
    show_envvar=True,
    metavar="FILE",
    help="The archive's file, or the address of a PostgreSQL database.",
)


def which_revision(command: Command) -> Command:
    """Add what narrows a search."""
    for decorate in (
        click.option("--batch", metavar="NUMBER", help="Only what is of this batch."),
        click.option("--variant", metavar="NAME", help="Only this variant."),
        click.option("--revision", metavar="NAME", help="Only this revision."),
        click.argument("words", nargs=-1, metavar="[PRODUCT OR BATCH]..."),
    ):
        command = decorate(command)
    return command


@contextlib.contextmanager
def opened(name: str) -> Iterator[Archive]:
    """Open an archive for a command; whatever it refuses ends the command with a message."""
    archive, problems = open_archive(name)
    tell(problems)
    if archive is None:
        sys.exit(PROBLEMS)
    try:
        yield archive
    except ArchiveFailed as failed:
        leave([failed.problem])
    finally:
        archive.close()


def tell(problems: Sequence[Problem]) -> None:
    """Show problems that belong to no definition."""
    if problems:
        click.echo(fitted(show.problems_text(problems, None), sys.stderr), err=True)


def leave(problems: Sequence[Problem], nothing: str = "") -> NoReturn:
    """Show problems and leave with the status that they ask for."""
    tell(problems)
    if nothing:
        click.echo(nothing, err=True)
    sys.exit(PROBLEMS if has_errors(problems) else 0)


def find_one(
    archive: Archive,
    words: Sequence[str],
    revision: str | None,
    variant: str | None,
    batch: str | None,
) -> tuple[Revision, Batch | None]:
    """Return the one revision, and the batch, that is meant; tell and leave if it is not one.

    Of several revisions of one product the newest is no guess that a clerk may make: all are
    told.
    """
    text = " ".join(words)
    if revision is variant is batch is None:
        found = find_said(archive, text)  # a label's code too
    else:
        found = find(archive, text, revision=revision, variant=variant, batch=batch)
    if len(found.batches) == 1:
        return found.batches[0].revision, found.batches[0]
    if not found.batches and len(found.revisions) == 1:
        return found.revisions[0], None
    leave([several(found) if found.revisions else unknown(found, text or batch or "")])


def several(found: Found) -> Problem:
    """Tell which are meant."""
    if found.batches:
        lines = [f"batch {b.batch} of {b.revision.title}" for b in found.batches]
    else:
        lines = [f"{r.title}, issued {r.issued[:10]}" for r in found.revisions]
    told = "; ".join(lines[:12]) + ("; …" if len(lines) > 12 else "")
    return error(
        "revision-several",
        f"{len(lines)} are meant: {told}",
        help="narrow it with --revision, --variant or --batch",
    )


def unknown(found: Found, text: str) -> Problem:
    """Tell that nothing has that name, and what is written alike."""
    near = f"; is it {' or '.join(found.near[:3])}?" if found.near else ""
    return error(
        "revision-unknown",
        f"nothing issued is called {text[:80]!r}{near}",
        help="`kdkit history` lists all that is issued",
    )
