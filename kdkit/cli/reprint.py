"""The commands that give back what was issued, and tell its history."""

from __future__ import annotations

import pathlib
import sys
from collections.abc import Mapping, Sequence
from typing import Any

import click

from kdkit.archive import (
    Archive,
    Batch,
    Found,
    Revision,
    Superseded,
    batches_of,
    find,
    in_force,
    sent_for,
    superseded,
)
from kdkit.cli import show
from kdkit.cli.archived import (
    find_one,
    leave,
    of_an_archive,
    opened,
    quietly_debug,
    tell,
    unknown,
    which_revision,
)
from kdkit.cli.definition_command import into_folder
from kdkit.cli.width import fitted
from kdkit.diagnostics import has_errors
from kdkit.reprinting import changes_since, record_of, write_reprint

__all__ = ["history_command", "reprint_command"]


@click.command("reprint")
@which_revision
@of_an_archive
@into_folder(
    "Folder for the files as issued; made, or replaced if an earlier reprint wrote it.",
    required=False,
)
@click.option(
    "--only",
    multiple=True,
    metavar="NAME",
    help="With --out: only these files, as in manual.pdf or '*.csv'; may be given several times.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the hardware list as JSON to stdout.")
@quietly_debug
def reprint_command(
    words: tuple[str, ...],
    revision: str | None,
    variant: str | None,
    batch: str | None,
    archive: str,
    folder: pathlib.Path | None,
    only: tuple[str, ...],
    as_json: bool,
) -> None:
    """Print the hardware list of a revision or batch as it was issued, and what is sent today
    instead of items that are no longer to be had; with --out, give its files back byte for byte.

    \b
    Examples:
      kdkit reprint LN-204 --archive workshop.sqlite
      kdkit reprint Shoe rack --revision B --archive workshop.sqlite
      kdkit reprint LN-204 --archive workshop.sqlite --out for-the-caller --only manual.pdf
    """
    if only and folder is None:
        raise click.BadParameter("name the folder too: --out FOLDER", param_hint="--only")
    with opened(archive) as there:
        meant, number = find_one(there, words, revision, variant, batch)
        today = in_force(superseded(there))
        if folder is None:
            record = record_of(there, meant)
        else:
            written, problems = write_reprint(there, number or meant, folder, only)
            if has_errors(problems):
                leave(problems, "nothing was written")
            tell(problems)
            for file in written:
                click.echo(show.inline(file))
            return
    if as_json:
        told = {"revision": _said(meant), "batch": number.batch if number else "", **record}
        items = [line["item"] for line in record["hardware"]]
        told["today"] = {
            item: {
                "item": today[item].instead,
                "title": today[item].title,
                "since": today[item].since,
            }
            for item in items
            if item in today
        }
        click.echo(show.json_text(told))
    else:
        text = _hardware_text(meant, number, record) + _today_text(record, today)
        click.echo(fitted(text, sys.stdout))


def _said(revision: Revision) -> dict[str, str]:
    return {
        "product": revision.product,
        "revision": revision.revision,
        "variant": revision.variant,
        "issued": revision.issued,
        "written_by": revision.written_by,
        "seal": revision.seal,
    }


def _hardware_text(revision: Revision, batch: Batch | None, record: Mapping[str, Any]) -> str:
    """Return the hardware list as lines with columns."""
    head = f"{revision.title}{f', batch {batch.batch}' if batch else ''}"
    lines = [
        show.inline(head),
        f"issued {revision.issued[:10]} by {show.inline(revision.written_by)}",
    ]
    rows = [("pieces", "bag", "item", "what it is")]
    for line in record["hardware"]:
        what = f"{line['title']} {line['size']}".strip()
        if not line["supplied"]:
            what += " (not supplied)"
        elif line["fitted"]:
            what += f" ({line['fitted']} come fitted)"
        rows.append((str(line["quantity"]), line["bag"] or "-", line["item"], what))
    wide = [max(len(row[n]) for row in rows) for n in range(3)]
    for count, bag, item, what in rows:
        lines.append(
            f"{count:>{wide[0]}}  {show.inline(bag):{wide[1]}}  {show.inline(item):{wide[2]}}  "
            f"{show.inline(what)}".rstrip()
        )
    if len(rows) == 1:
        lines.append("It has no hardware.")
    return "\n".join(lines)


def _today_text(record: Mapping[str, Any], today: Mapping[str, Superseded]) -> str:
    """Return what is sent today instead of items of the list, "" if all are sent themselves."""
    lines = []
    for item in dict.fromkeys(line["item"] for line in record["hardware"]):
        if item in today:
            one = today[item]
            lines.append(
                f"\n  {show.inline(item)}: since {one.since} {show.inline(one.title)} "
                f"[{show.inline(one.instead)}]"
            )
    return "".join(("\nsent today instead:", *lines)) if lines else ""


@click.command("history")
@which_revision
@of_an_archive
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON to stdout.")
@quietly_debug
def history_command(
    words: tuple[str, ...],
    revision: str | None,
    variant: str | None,
    batch: str | None,
    archive: str,
    as_json: bool,
) -> None:
    """Show what was issued of a product: revisions with what changed in each, batches, and
    what was sent to callers. Without a product, list all.

    \b
    Examples:
      kdkit history --archive workshop.sqlite
      kdkit history Shoe rack --archive workshop.sqlite
    """
    with opened(archive) as there:
        found = find(there, " ".join(words), revision=revision, variant=variant, batch=batch)
        if not found.revisions and (words or revision or variant or batch):
            leave([unknown(found, " ".join(words) or batch or "")])
        told = _history(there, found, bool(words or batch))
    if as_json:
        click.echo(show.json_text({"revisions": told}))
    elif not told:
        click.echo("Nothing is issued yet.")
    else:
        click.echo(fitted("\n\n".join(map(_revision_text, told)), sys.stdout))


def _history(archive: Archive, found: Found, with_changes: bool) -> list[dict[str, Any]]:
    """Return revisions, newest first, each with what changed since the one before it."""
    told = []
    for revision in found.revisions:
        before = _before(archive, revision) if with_changes else None
        changes = changes_since(archive, before, revision) if before is not None else ()
        told.append(
            {
                **_said(revision),
                "batches": [
                    {"batch": b.batch, "count": b.count, "made": b.made, "recorded": b.recorded}
                    for b in batches_of(archive, revision)
                ],
                "since": before.revision if before is not None else "",
                "changes": [{"kind": c.kind, "what": c.what, "how": c.told} for c in changes],
                "sent": [
                    {"at": s.at, "batch": s.batch, "item": s.item, "what": s.title,
                     "quantity": s.quantity, "why": s.why}
                    for s in sent_for(archive, revision)
                ],
            }
        )  # fmt: skip
    return told


def _before(archive: Archive, revision: Revision) -> Revision | None:
    """Return the revision of the same product and variant that was issued last before it."""
    same = find(archive, revision.product, variant=revision.variant).revisions
    older = [r for r in same if r.product == revision.product and r.number < revision.number]
    return max(older, key=lambda r: r.number, default=None)


def _revision_text(told: Mapping[str, Any]) -> str:
    variant = f", {told['variant']}" if told["variant"] else ""
    head = f"{told['product']}{variant}, revision {told['revision']}"
    lines = [
        f"{show.inline(head)}: issued {told['issued'][:10]} by {show.inline(told['written_by'])}"
    ]
    for batch in told["batches"]:
        count = f", {batch['count']} made" if batch["count"] else ""
        made = f", {batch['made']}" if batch["made"] else ""
        lines.append(f"  batch {show.inline(batch['batch'] + made)}{count}")
    if told["since"]:
        lines.append(f"  since revision {show.inline(told['since'])}:")
        lines += [f"    {show.inline(c['what'])}: {show.inline(c['how'])}" for c in told["changes"]]
        if not told["changes"]:
            lines.append("    no part, hardware or step changed")
    lines += _sent_lines(told["sent"])
    return "\n".join(lines)


def _sent_lines(sent: Sequence[Mapping[str, Any]]) -> list[str]:
    lines = []
    for one in sent:
        batch = f" for batch {one['batch']}" if one["batch"] else ""
        what = f"{one['quantity']} × {one['what']}, {one['why']}{batch}"
        lines.append(f"  sent {one['at'][:10]}: {show.inline(what)}")
    return lines
