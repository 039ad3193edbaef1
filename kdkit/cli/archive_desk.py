"""The commands that say what is sent instead of an item, and who may use a shared desk."""

from __future__ import annotations

import datetime
import pathlib
import sys
from typing import TextIO

import click

from kdkit.archive import Archive, Superseded, in_force, superseded
from kdkit.archive.accounts import (
    LEAST_PASSWORD,
    MOST_PASSWORD,
    accounts,
    remove_account,
    set_account,
)
from kdkit.archive.instead import what_does_not_fit
from kdkit.archive.superseding import before_it, record_superseded
from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.cli import show
from kdkit.cli.archived import leave, of_an_archive, opened, quietly_debug
from kdkit.cli.width import fitted
from kdkit.definition.formula import near_names
from kdkit.definition.gate import Refused, check_title
from kdkit.diagnostics import Problem, error, has_errors
from kdkit.issuing import frozen_catalogues

__all__ = ["account_command", "supersede_command"]

_OLD = click.Path(exists=True, dir_okay=False, path_type=pathlib.Path)


@click.command("supersede")
@click.argument("item", required=False)
@click.argument("instead", required=False)
@of_an_archive
@click.option(
    "--since",
    type=click.DateTime(["%Y-%m-%d"]),
    default=None,
    metavar="YYYY-MM-DD",
    help="The first day on which it holds; today if it is left out.",
)
@click.option("--because", "why", default="", metavar="WORDS", help="Why, in your own words.")
@click.option("--again", is_flag=True, help="ITEM itself is sent again; name no other.")
@click.option(
    "--catalogue",
    "catalogues",
    type=_OLD,
    multiple=True,
    help="A catalogue file of yours with these items; may be given several times.",
)
@quietly_debug
def supersede_command(
    item: str | None,
    instead: str | None,
    archive: str,
    since: datetime.datetime | None,
    why: str,
    again: bool,
    catalogues: tuple[pathlib.Path, ...],
) -> None:
    """Say that ITEM is no longer to be had and that INSTEAD is sent for it; list all, if none
    is named.

    ITEM is read from the catalogues that were frozen with each revision that uses it, INSTEAD from
    those of today. It is refused unless it goes into the same bores: length, size across and
    surface all along, drive, thread, and the bores of the fittings that use either. Lists that
    were issued stay as they are; `reprint`, `replace` and the desk say what is sent today.

    \b
    Examples:
      kdkit archive supersede --archive w.sqlite
      kdkit archive supersede cam-lock-15 zinc-cam-15 --catalogue ours.yaml --archive w.sqlite
      kdkit archive supersede cam-lock-15 --again --since 2027-09-01 --archive w.sqlite
    """
    if item is None:
        with opened(archive) as there:
            click.echo(fitted(_list_text(superseded(there)), sys.stdout))
        return
    if again is (instead is not None):
        raise click.UsageError("name what is sent instead, or say --again")
    try:
        why = why.strip() and check_title(why.strip())
    except Refused as fault:
        raise click.BadParameter(fault.message, param_hint="--because") from None
    day = (since or datetime.datetime.now(datetime.UTC)).date().isoformat()
    with opened(archive) as there:
        title = ""
        if instead is not None:
            catalogue, problems = load_catalogue(catalogues)
            if catalogue is None or has_errors(problems):
                leave(problems, "nothing was recorded")
            problems = _refused(there, catalogue, item, instead)
            if problems:
                leave(problems, "nothing was recorded")
            new = catalogue.items[instead]  # it is known: else it was refused
            title = f"{new.title} {new.size}".strip()
        elif item not in in_force(superseded(there), "9999-12-31"):
            told = f"nothing is sent instead of {item[:80]!r}"
            leave([error("item-not-superseded", told, help="name none to list all")])
        record_superseded(
            there, Superseded(item=item, instead=instead or "", title=title, since=day, why=why)
        )
    what = "it is sent itself again" if instead is None else f"{show.inline(title)} is sent"
    click.echo(f"{show.inline(item)}: from {day} on {what}")


def _refused(
    archive: Archive, catalogue: Catalogue, item: str, instead: str
) -> tuple[Problem, ...]:
    """Return why an item cannot be sent for another, and for all that the other is sent for."""
    if instead not in catalogue.items:
        return (_unknown(instead, catalogue),)
    if item == instead:
        return (error("item-does-not-fit", f"{item} is the item itself", help="say --again"),)
    rows = superseded(archive)
    if instead in before_it(rows, item):
        said = f"{item} is itself sent instead of {instead}"
        return (error("item-does-not-fit", said, help=f"say {instead} --again first"),)
    every = (item, *before_it(rows, item))
    sold = frozen_catalogues(archive, every)
    for one in every:
        # As it was sold; one that no revision uses, as it is today.
        asked = [(revision.title, frozen) for revision, frozen in sold if one in frozen.items]
        if not asked and one not in catalogue.items:
            return (_unknown(one, catalogue),)
        for title, frozen in asked or [("", catalogue)]:
            found = what_does_not_fit(frozen, one, instead, catalogue)
            if found:
                of = f" of {title}" if title else ""
                return (
                    error(
                        "item-does-not-fit",
                        f"{instead} does not go in place of {one}{of}: {'; '.join(found)}",
                        help="name one that fits its bores, or issue a new revision that uses it",
                    ),
                )
    return ()


def _unknown(name: str, catalogue: Catalogue) -> Problem:
    near = near_names(name, catalogue.items)
    told = f"did you mean {near[0]}? " if near else ""
    return error(
        "item-unknown",
        f"no catalogue has an item {name[:80]!r}",
        help=f"{told}name the file that has it: --catalogue FILE",
    )


def _list_text(rows: tuple[Superseded, ...]) -> str:
    if not rows:
        return "Every item is sent itself."
    lines = []
    for row in rows:
        what = f"{row.title} [{row.instead}]" if row.instead else "it is sent itself again"
        because = f" ({row.why})" if row.why else ""
        lines.append(show.inline(f"{row.since}  {row.item}: {what}{because}"))
    return "\n".join(lines)


@click.command("account")
@click.argument("name", required=False)
@of_an_archive
@click.option("--remove", is_flag=True, help="Take the account away.")
@click.option(
    "--password-from",
    "source",
    type=click.File(encoding="utf-8"),
    default=None,
    metavar="FILE",
    help="Read the password from the first line of a file, - for stdin; else it is asked for.",
)
@quietly_debug
def account_command(name: str | None, archive: str, remove: bool, source: TextIO | None) -> None:
    """Make an account for the desk, give one another password, or list all.

    As soon as there is one, `kdkit desk` asks everybody to sign in.

    \b
    Examples:
      kdkit archive account --archive w.sqlite
      kdkit archive account counter --archive w.sqlite
      kdkit archive account counter --remove --archive w.sqlite
    """
    if name is None:
        if remove:
            raise click.UsageError("name the account that is taken away")
        with opened(archive) as there:
            for one in accounts(there):
                click.echo(show.inline(one))
        return
    try:
        name = check_title(name)
    except Refused as fault:
        raise click.BadParameter(fault.message, param_hint="NAME") from None
    with opened(archive) as there:
        if remove:
            if not remove_account(there, name):
                leave([error("account-unknown", f"there is no account {name!r}")])
            click.echo(f"{show.inline(name)}: taken away")
            return
        if source is not None:
            try:
                password = source.readline(MOST_PASSWORD + 2).rstrip("\r\n")
            except UnicodeDecodeError:
                said = "the file of the password is no text in UTF-8"
                leave([error("account-password", said, help="write it with a text editor")])
        else:
            password = click.prompt("Password", hide_input=True, confirmation_prompt=True)
        if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
            said = f"a password has {LEAST_PASSWORD} to {MOST_PASSWORD} signs"
            leave([error("account-password", said, help="a few words together will do")])
        new = set_account(there, name, password)
    click.echo(f"{show.inline(name)}: {'made' if new else 'has another password'}")
