"""Items that are no longer to be had: what is sent instead of each, and from which day.

A row is never changed; a later one says otherwise. What was issued stays as it is: this
says only what goes into the parcel today.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import sqlalchemy as sa

from kdkit.archive.opening import Archive
from kdkit.archive.storing import now
from kdkit.archive.tables import SUPERSEDED

__all__ = ["Superseded", "before_it", "in_force", "record_superseded", "superseded"]


@dataclass(frozen=True, kw_only=True)
class Superseded:
    """One item in place of another.

    Args:
        item: its name in the catalogue, as hardware lists have it.
        instead: the item that is sent for it; "" if it is sent itself again.
        title: what that is, with its size.
        since: the first day on which it holds, ISO 8601.
        why: in the maker's words, may be "".
    """

    item: str
    instead: str
    title: str
    since: str
    why: str = ""
    number: int = 0
    recorded: str = ""


def record_superseded(archive: Archive, one: Superseded) -> None:
    """Add a row; that the one fits in place of the other was checked before.

    Raises:
        ArchiveFailed: nothing was recorded.
    """
    with archive.writing() as connection:
        connection.execute(
            SUPERSEDED.insert().values(
                recorded=now(),
                since=one.since,
                item=one.item,
                instead=one.instead,
                title=one.title,
                why=one.why,
            )
        )


def superseded(archive: Archive) -> tuple[Superseded, ...]:
    """Return every row in the order in which they were recorded."""
    with archive.reading() as connection:
        rows = connection.execute(sa.select(SUPERSEDED).order_by(SUPERSEDED.c.id)).all()
    return tuple(
        Superseded(
            item=row.item,
            instead=row.instead,
            title=row.title,
            since=row.since,
            why=row.why,
            number=row.id,
            recorded=row.recorded,
        )
        for row in rows
    )


def in_force(rows: Iterable[Superseded], day: str = "") -> Mapping[str, Superseded]:
    """Return by item what is sent instead of it on a day, followed to the last in the row.

    Args:
        day: ISO 8601; "" for today (UTC).

    Returns:
        Only items of which another is sent; the row is the last that led there.
    """
    day = day or datetime.datetime.now(datetime.UTC).date().isoformat()
    newest: dict[str, Superseded] = {}
    for row in sorted(rows, key=lambda r: (r.since, r.number)):
        if row.since <= day:
            newest[row.item] = row
    found = {}
    for item in newest:
        seen, last = {item}, newest[item]
        while last.instead in newest and last.instead not in seen and newest[last.instead].instead:
            seen.add(last.instead)
            last = newest[last.instead]
        if last.instead and last.instead != item:
            found[item] = last
    return found


def before_it(rows: Iterable[Superseded], item: str) -> tuple[str, ...]:
    """Return the items that lead to an item, whenever they do: it must fit for all of them."""
    rows = tuple(rows)
    found: dict[str, None] = {}
    wanted = [item]
    while wanted:
        last = wanted.pop()
        for row in rows:
            if row.instead == last and row.item != item and row.item not in found:
                found[row.item] = None
                wanted.append(row.item)
    return tuple(found)
