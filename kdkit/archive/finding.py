"""Out of the archive: what a caller's label or words mean, and the files of it, checked.

A name is found whole, then by its beginning, then misspelt (``difflib``: Ratcliff and
Obershelp's likeness, from 0.6). Numbers of batches come first: they are what a label shows.
"""

from __future__ import annotations

import difflib
import hashlib
import json
import zlib
from dataclasses import dataclass

import sqlalchemy as sa

from kdkit.archive.issued import Batch, IssuedFile, Revision, key_of
from kdkit.archive.opening import Archive, ArchiveFailed
from kdkit.archive.tables import BATCH, BATCH_FILE, CONTENT, REVISION, REVISION_FILE
from kdkit.diagnostics import error

__all__ = [
    "Found",
    "all_revisions",
    "batch_row",
    "batches_of",
    "files_of",
    "find",
    "of_number",
    "sums_of",
    "unpack",
]

_NEAR, _LIKE = 5, 0.6


@dataclass(frozen=True, kw_only=True)
class Found:
    """What was found for some words.

    Args:
        revisions: newest first.
        batches: those whose number was meant; their revisions are among ``revisions``.
        near: names and numbers that are written alike, if nothing was found.
    """

    revisions: tuple[Revision, ...] = ()
    batches: tuple[Batch, ...] = ()
    near: tuple[str, ...] = ()


def find(
    archive: Archive,
    words: str,
    *,
    revision: str | None = None,
    variant: str | None = None,
    batch: str | None = None,
) -> Found:
    """Return what words from a caller or a label may mean.

    Args:
        words: a product's name or its beginning, or a batch's number; "" for all.
        revision: only this one; None for any. The same for the others.

    Raises:
        ArchiveFailed: the archive could not be read.
    """
    key = key_of(words)
    with archive.reading() as connection:
        wanted = key if batch is None else key_of(batch)
        batches = _batches(connection, wanted) if wanted else ()
        if batch is not None and key:
            batches = tuple(b for b in batches if key_of(b.revision.product).startswith(key))
        batches = tuple(b for b in batches if _fits(b.revision, revision, variant))
        if batches or batch is not None:
            revisions = tuple({b.revision.number: b.revision for b in batches}.values())
            near = () if batches else _near(connection, wanted)
            return Found(revisions=revisions, batches=batches, near=near)
        named = _revisions(connection, REVISION.c.product_key == key)
        if not named:
            begins = REVISION.c.product_key.startswith(key, autoescape=True)
            named = _revisions(connection, begins)
        fitting = tuple(r for r in named if _fits(r, revision, variant))
        near = ()
        if not fitting:
            near = tuple(r.title for r in named[:_NEAR]) or _near(connection, key)
        return Found(revisions=fitting, near=near)


def _fits(found: Revision, revision: str | None, variant: str | None) -> bool:
    return (revision is None or key_of(found.revision) == key_of(revision)) and (
        variant is None or key_of(found.variant) == key_of(variant)
    )


def _near(connection: sa.Connection, key: str) -> tuple[str, ...]:
    """Return names that are written alike, whole or in as many of their first words."""
    names = dict(
        connection.execute(sa.select(REVISION.c.product_key, REVISION.c.product).distinct()).all()
    )
    names.update(connection.execute(sa.select(BATCH.c.batch_key, BATCH.c.batch)).all())
    words = key.count(" ") + 1
    begins: dict[str, str] = {}
    for name in names:
        begins.setdefault(" ".join(name.split(" ")[:words]), name)
    near = difflib.get_close_matches(key, names, _NEAR, _LIKE)
    near += [begins[b] for b in difflib.get_close_matches(key, begins, _NEAR, _LIKE)]
    return tuple(names[name] for name in dict.fromkeys(near))[:_NEAR]


def all_revisions(archive: Archive) -> tuple[Revision, ...]:
    """Return every issued revision, newest first."""
    with archive.reading() as connection:
        return _revisions(connection, sa.true())


def _revisions(connection: sa.Connection, which: sa.ColumnElement[bool]) -> tuple[Revision, ...]:
    chosen = (
        sa.select(REVISION).where(which).order_by(REVISION.c.issued.desc(), REVISION.c.id.desc())
    )
    return tuple(_revision_of(row) for row in connection.execute(chosen))


def _revision_of(row: sa.Row[tuple[object, ...]]) -> Revision:
    return Revision(
        product=row.product,
        revision=row.revision,
        variant=row.variant,
        settings=json.loads(row.settings),
        definition=row.definition,
        written_by=row.written_by,
        number=row.id,
        issued=row.issued,
        seal=row.seal,
    )


def of_number(connection: sa.Connection, number: int) -> Revision:
    """Return the revision with that number in the archive."""
    return _revisions(connection, REVISION.c.id == number)[0]


def batch_row(row: sa.Row[tuple[object, ...]], revision: Revision) -> Batch:
    """Return a row of the batches as a value."""
    return Batch(
        batch=row.batch,
        revision=revision,
        count=row._mapping["count"],
        made=row.made,
        own=bool(row.own),
        number=row.id,
        recorded=row.recorded,
        seal=row.seal,
    )


def _batches(connection: sa.Connection, key: str) -> tuple[Batch, ...]:
    chosen = sa.select(BATCH).where(BATCH.c.batch_key == key).order_by(BATCH.c.id.desc())
    rows = connection.execute(chosen).all()
    return tuple(batch_row(row, of_number(connection, row.revision_id)) for row in rows)


def batches_of(archive: Archive, revision: Revision) -> tuple[Batch, ...]:
    """Return the batches of a revision in the order in which they were recorded."""
    with archive.reading() as connection:
        chosen = sa.select(BATCH).where(BATCH.c.revision_id == revision.number)
        rows = connection.execute(chosen.order_by(BATCH.c.id)).all()
        return tuple(batch_row(row, revision) for row in rows)


def sums_of(connection: sa.Connection, whose: Revision | Batch) -> dict[tuple[str, str], str]:
    """Return kind and path of each file, with its sum."""
    table, column = (
        (BATCH_FILE, BATCH_FILE.c.batch_id)
        if isinstance(whose, Batch)
        else (REVISION_FILE, REVISION_FILE.c.revision_id)
    )
    chosen = sa.select(table.c.kind, table.c.path, table.c.sum).where(column == whose.number)
    return {(row.kind, row.path): row.sum for row in connection.execute(chosen)}


def files_of(
    archive: Archive, whose: Revision | Batch, kinds: tuple[str, ...] = ()
) -> tuple[IssuedFile, ...]:
    """Return files as they were issued, each checked against its sum.

    What a batch has not of its own it has of its revision.

    Args:
        kinds: only these; none for all.

    Raises:
        ArchiveFailed: the archive could not be read, or a file is damaged.
    """
    with archive.reading() as connection:
        sums = {}
        if isinstance(whose, Batch):
            sums = sums_of(connection, whose.revision)
        sums.update(sums_of(connection, whose))
        wanted = {at: s for at, s in sums.items() if not kinds or at[0] in kinds}
        return tuple(
            IssuedFile(kind=kind, path=path, data=_content(archive, connection, name, path))
            for (kind, path), name in sorted(wanted.items())
        )


def _content(archive: Archive, connection: sa.Connection, name: str, path: str) -> bytes:
    packed = connection.scalar(sa.select(CONTENT.c.packed).where(CONTENT.c.sum == name))
    data = unpack(packed)
    if data is None or hashlib.sha256(data).hexdigest() != name:
        raise ArchiveFailed(
            error(
                "archive-damaged",
                f"{path} in the archive {archive.name} is damaged",
                help="`kdkit archive verify` says what else is; take it from a back-up",
            )
        )
    return data


def unpack(packed: bytes | None) -> bytes | None:
    """Return the bytes of a packed content, None if they cannot be had."""
    if packed is None:
        return None
    try:
        return zlib.decompress(packed)
    except zlib.error:
        return None
