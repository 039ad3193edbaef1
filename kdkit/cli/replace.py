"""The command that notes what is sent to a caller and makes the papers that go with it."""

from __future__ import annotations

import pathlib
import sys
from collections.abc import Mapping, Sequence
from typing import Any

import click

from kdkit.archive import Archive, Batch, Revision, Sent, in_force, log_sent, superseded
from kdkit.archive.opening import ArchiveFailed
from kdkit.cli import show
from kdkit.cli.archived import (
    find_one,
    leave,
    of_an_archive,
    opened,
    quietly_debug,
    tell,
    which_revision,
)
from kdkit.cli.definition_command import into_folder
from kdkit.cli.width import fitted
from kdkit.definition.gate import Refused, check_title
from kdkit.delivery import REPLACE, claim_folder
from kdkit.desk.papers import write_papers
from kdkit.diagnostics import has_errors
from kdkit.reprinting import record_of
from kdkit.sending import MOST, WHY, Asked, choose_sent, steps_of

__all__ = ["replace_command"]


def _read_sent(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[Asked, ...]:
    """Take every ``ITEM=COUNT`` apart; one piece if no count is said."""
    asked = []
    for value in values:
        name, equals, count = value.partition("=")
        if not name.strip() or (equals and not count.strip().isascii()):
            raise click.BadParameter(
                f"{value[:80]!r} is no item and count, as in cam=2", ctx, param
            )
        if equals and not (count.strip().isdigit() and len(count) < 7):
            raise click.BadParameter(f"{value[:80]!r}: {count[:20]!r} is no count", ctx, param)
        number = int(count) if equals else 1
        if not 1 <= number <= MOST:
            raise click.BadParameter(f"{value[:80]!r}: from 1 to {MOST} pieces", ctx, param)
        asked.append(Asked(name.strip(), number))
    return tuple(asked)


@click.command("replace")
@which_revision
@of_an_archive
@click.option(
    "--send",
    "asked",
    multiple=True,
    required=True,
    metavar="ITEM=COUNT",
    callback=_read_sent,
    help="An item of the hardware list, `bag NAME`, or `part LETTER`; several times.",
)
@click.option("--because", "why", type=click.Choice(WHY), required=True, help="Why it is sent.")
@click.option("--order", "reference", default="", metavar="NUMBER", help="The order's number.")
@into_folder(
    "Folder for the papers: the slip, and each panel's order for the workshop with its drawing; "
    "made, or replaced if an earlier run wrote it.",
    required=False,
)
@click.option("--dry-run", is_flag=True, help="Print the slip and note nothing.")
@quietly_debug
def replace_command(
    words: tuple[str, ...],
    revision: str | None,
    variant: str | None,
    batch: str | None,
    archive: str,
    asked: tuple[Asked, ...],
    why: str,
    reference: str,
    folder: pathlib.Path | None,
    dry_run: bool,
) -> None:
    """Note in the archive what is sent to a caller, and print the slip that goes with it.

    Items are checked against the list of the revision that the caller has: what does not
    belong to it is refused, with what is written alike. A bag is all that is in it, spares
    too. No names or addresses are kept; an order's number can be, and can be taken out again
    (`kdkit archive forget`). What is no longer to be had is replaced by what is sent instead
    of it (`kdkit archive supersede`). With --out a panel comes with its order for the workshop:
    sizes, bands, all that is worked in it, drawing and programs, as they were issued.

    \b
    Examples:
      kdkit replace LN-204 --send cam-lock-15=2 --because missing --archive workshop.sqlite
      kdkit replace LN-204 --send "bag B" --because lost --archive workshop.sqlite
      kdkit replace LN-204 --send "part C" --because damaged --archive w.sqlite --out c-again
    """
    try:
        reference = reference.strip() and check_title(reference.strip())
    except Refused as fault:
        raise click.BadParameter(fault.message, param_hint="--order") from None
    with opened(archive) as there:
        meant, number = find_one(there, words, revision, variant, batch)
        record = record_of(there, meant)
        today = in_force(superseded(there))
        lines, problems = choose_sent(record, asked, why, reference, today)
        if problems:
            leave(problems, "nothing was noted")
        if folder is not None:
            _write(there, number or meant, record, lines, folder)
        if not dry_run:
            try:
                log_sent(there, meant, number, lines)
            except ArchiveFailed as failed:
                papers = f"; the papers in {show.inline(folder)} are of no note" if folder else ""
                leave([failed.problem], f"nothing was noted{papers}")
    click.echo(fitted(_slip(meant, number, lines, record, reference), sys.stdout))


def _write(
    archive: Archive,
    whose: Revision | Batch,
    record: Mapping[str, Any],
    lines: Sequence[Sent],
    folder: pathlib.Path,
) -> None:
    """Write the papers before anything is noted; leave if they cannot be."""
    inputs = () if archive.file is None else (archive.file,)
    claim, problems = claim_folder(folder, REPLACE, inputs)
    if claim is None or has_errors(problems):
        leave(problems, "nothing was noted")
    with claim:
        _, more = claim.deliver(lambda place: write_papers(archive, whose, record, lines, place))
    if has_errors(more):
        leave([*problems, *more], "nothing was noted")
    tell([*problems, *more])


def _slip(
    revision: Revision,
    batch: Batch | None,
    lines: Sequence[Sent],
    record: Mapping[str, Any],
    reference: str,
) -> str:
    head = f"For {revision.title}{f', batch {batch.batch}' if batch else ''}"
    text = [show.inline(head)]
    if reference:
        text.append(f"Order {show.inline(reference)}")
    for line in lines:
        steps = steps_of(record, line.item)
        used = (
            f", used in step{'s' * (len(steps) > 1)} {', '.join(map(str, steps))}" if steps else ""
        )
        item = f"{line.instead}, instead of {line.item}" if line.instead else line.item
        bag = f" of bag {show.inline(line.bag)}" if line.bag else ""
        what = f"{show.inline(line.title)} [{show.inline(item)}]"
        text.append(f"  {line.quantity} × {what}{bag}{used}")
    return "\n".join(text)
