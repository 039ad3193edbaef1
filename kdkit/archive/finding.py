"""Out of the archive: what a caller's label or words mean, and the files of it, checked.

A name is found whole, then by its beginning, then misspelt (``difflib``: Ratcliff and
Obershelp's likeness, from 0.6). Numbers of batches come first: they are what a label shows.
"""

from __future__ import annotations

import difflib
import hashlib
import heapq
import json
import zlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import sqlalchemy as sa

from kdkit.archive.issued import (
    Batch,
    IssuedFile,
    Revision,
    key_of,
    leads_out,
    seal_of,
    words_of_batch,
    words_of_revision,
)
from kdkit.archive.opening import Archive, ArchiveFailed
from kdkit.archive.tables import BATCH, BATCH_FILE, CONTENT, REVISION, REVISION_FILE
from kdkit.diagnostics import Problem, error

__all__ = [
    "Found",
    "Listed",
    "all_revisions",
    "batch_numbered",
    "batch_row",
    "batches_of",
    "damaged",
    "file_of_sum",
    "files_of",
    "find",
    "is_sealed",
    "list_files",
    "of_number",
    "revision_numbered",
    "sums_of",
    "text_in",
    "unpack",
]

_NEAR, _LIKE, _COMPARED = 5, 0.6, 400
_LARGEST = 1 << 30  # bytes of one file


@dataclass(frozen=True)
class Listed:
    """A file of a revision or batch without its bytes; ``size`` in bytes."""

    kind: str
    path: str
    sum: str
    size: int


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
    most: int | None = None,
    alike: bool = True,
) -> Found:
    """Return what words from a caller or a label may mean.

    Args:
        words: a product's name or its beginning, or a batch's number; "" for all.
        revision: only this one; None for any. The same for the others.
        most: revisions at most; None for all.
        alike: if nothing has that name, look for what is written alike.

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
            near = _near(connection, wanted) if alike and not batches else ()
            return Found(revisions=revisions, batches=batches, near=near)
        called = REVISION.c.product_key == key
        if not connection.scalar(sa.select(REVISION.c.id).where(called).limit(1)):
            called = REVISION.c.product_key.startswith(key, autoescape=True)
        narrow = [called]
        if revision is not None:
            narrow.append(REVISION.c.revision_key == key_of(revision))
        if variant is not None:
            narrow.append(REVISION.c.variant_key == key_of(variant))
        fitting = _revisions(connection, sa.and_(*narrow), most)
        near = ()
        if alike and not fitting:
            others = _revisions(connection, called, _NEAR)
            near = tuple(r.title for r in others) or _near(connection, key)
        return Found(revisions=fitting, near=near)


def _fits(found: Revision, revision: str | None, variant: str | None) -> bool:
    return (revision is None or key_of(found.revision) == key_of(revision)) and (
        variant is None or key_of(found.variant) == key_of(variant)
    )


def _near(connection: sa.Connection, key: str) -> tuple[str, ...]:
    """Return names that are written alike, whole or in as many of their first words.

    Of many names only those whose letters differ least are compared sign by sign.
    """
    names = dict(
        connection.execute(sa.select(REVISION.c.product_key, REVISION.c.product).distinct()).all()
    )
    names.update(connection.execute(sa.select(BATCH.c.batch_key, BATCH.c.batch)).all())
    words = key.count(" ") + 1
    begins: dict[str, str] = {}
    for name in names:
        begins.setdefault(" ".join(name.split(" ", words)[:words]), name)
    near = difflib.get_close_matches(key, _likely(key, names), _NEAR, _LIKE)
    found = difflib.get_close_matches(key, _likely(key, begins), _NEAR, _LIKE)
    near += [begins[b] for b in found]
    return tuple(str(names[name]) for name in dict.fromkeys(near))[:_NEAR]


def _likely(key: str, names: Collection[str]) -> Collection[str]:
    """Return the names that share most signs with a key, and differ least in length from it."""
    if len(names) <= _COMPARED:
        return names
    signs, long = set(key), len(key)

    def differs(name: str) -> int:
        return len(signs ^ set(name)) + abs(long - len(name))

    return heapq.nsmallest(_COMPARED, names, differs)


def all_revisions(archive: Archive) -> tuple[Revision, ...]:
    """Return every issued revision, newest first."""
    with archive.reading() as connection:
        return _revisions(connection, sa.true())


def _revisions(
    connection: sa.Connection, which: sa.ColumnElement[bool], most: int | None = None
) -> tuple[Revision, ...]:
    chosen = (
        sa.select(REVISION).where(which).order_by(REVISION.c.issued.desc(), REVISION.c.id.desc())
    ).limit(most)
    return tuple(_revision_of(row) for row in connection.execute(chosen))


def _revision_of(row: sa.Row[tuple[object, ...]]) -> Revision:
    texts = {
        name: text_in(row, name, "revision")
        for name in ("product", "revision", "variant", "definition", "written_by", "issued", "seal")
    }
    try:
        settings = json.loads(text_in(row, "settings", "revision"))
    except (ValueError, RecursionError):
        settings = None
    if not isinstance(settings, dict):
        raise ArchiveFailed(damaged(f"the settings of revision {texts['product']} cannot be read"))
    return Revision(**texts, settings=settings, number=row._mapping["id"])


def text_in(row: sa.Row[tuple[object, ...]], name: str, table: str) -> str:
    """Return a text of a row; SQLite lets anything stand in any column."""
    said = row._mapping[name]
    if not isinstance(said, str):
        told = f"the {name} of row {row._mapping['id']} of the table {table} cannot be read"
        raise ArchiveFailed(damaged(told))
    return said


def damaged(said: str) -> Problem:
    """Return a problem of an archive in which something is not what was issued."""
    return error(
        "archive-damaged",
        said,
        help="`kdkit archive verify` says what else is; take it from a back-up that verifies",
    )


def of_number(connection: sa.Connection, number: int) -> Revision:
    """Return the revision with that number in the archive."""
    return _revisions(connection, REVISION.c.id == number)[0]


def revision_numbered(archive: Archive, number: int) -> Revision | None:
    """Return the revision with that number in the archive, None if there is none."""
    with archive.reading() as connection:
        return next(iter(_revisions(connection, REVISION.c.id == number)), None)


def batch_numbered(archive: Archive, number: int) -> Batch | None:
    """Return the batch with that number in the archive, None if there is none."""
    with archive.reading() as connection:
        row = connection.execute(sa.select(BATCH).where(BATCH.c.id == number)).one_or_none()
        return None if row is None else batch_row(row, of_number(connection, row.revision_id))


def batch_row(row: sa.Row[tuple[object, ...]], revision: Revision) -> Batch:
    """Return a row of the batches as a value."""
    texts = {name: text_in(row, name, "batch") for name in ("batch", "made", "recorded", "seal")}
    count = row._mapping["count"]
    if not isinstance(count, int):
        raise ArchiveFailed(damaged(f"the count of batch {texts['batch']} cannot be read"))
    return Batch(**texts, revision=revision, count=count, own=bool(row.own), number=row.id)


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


def _all_sums(connection: sa.Connection, whose: Revision | Batch) -> dict[tuple[str, str], str]:
    """Return the sums of all that holds for a batch: its own files, and its revision's.

    Raises:
        ArchiveFailed: the list is not the one that was sealed, or a path leads elsewhere.
    """
    sums = _all_sums(connection, whose.revision) if isinstance(whose, Batch) else {}
    own = sums_of(connection, whose)
    title = whose.title if isinstance(whose, Revision) else f"batch {whose.batch}"
    if not is_sealed(whose, own):
        told = f"{title}: its seal does not fit what is said of it or its list of files"
        raise ArchiveFailed(damaged(told))
    for kind, path in own:
        if leads_out(kind) or leads_out(path):
            raise ArchiveFailed(damaged(f"{title}: the path {path[:80]!r} leads out of its folder"))
    return {**sums, **own}


def is_sealed(whose: Revision | Batch, sums: Mapping[tuple[str, str], str]) -> bool:
    """Tell whether a revision or batch has the seal that its words and list of files give."""
    words = (
        words_of_revision(whose)
        if isinstance(whose, Revision)
        else words_of_batch(whose, whose.revision.seal)
    )
    return seal_of(words, ((*at, s) for at, s in sums.items())) == whose.seal


def list_files(archive: Archive, whose: Revision | Batch) -> tuple[Listed, ...]:
    """Return what files there are, without reading them."""
    with archive.reading() as connection:
        sums = _all_sums(connection, whose)
        chosen = sa.select(CONTENT.c.sum, CONTENT.c.size).where(
            CONTENT.c.sum.in_(set(sums.values()))
        )
        sizes = {row.sum: row.size for row in connection.execute(chosen)}
    return tuple(Listed(*at, name, sizes.get(name, 0)) for at, name in sorted(sums.items()))


def file_of_sum(archive: Archive, whose: Revision | Batch, name: str) -> IssuedFile | None:
    """Return the file of a revision or batch that has a sum, checked; None if none has it.

    Raises:
        ArchiveFailed: the archive could not be read, or the file is damaged.
    """
    with archive.reading() as connection:
        for (kind, path), its in sorted(_all_sums(connection, whose).items()):
            if its == name:
                data = _content(archive, connection, name, path)
                return IssuedFile(kind=kind, path=path, data=data)
    return None


def files_of(
    archive: Archive,
    whose: Revision | Batch,
    kinds: tuple[str, ...] = (),
    *,
    paths: Collection[str] | None = None,
) -> tuple[IssuedFile, ...]:
    """Return files as they were issued, each checked against its sum.

    What a batch has not of its own it has of its revision.

    Args:
        kinds: only these; none for all.
        paths: only these; None for all.

    Raises:
        ArchiveFailed: the archive could not be read, or a file is damaged.
    """
    with archive.reading() as connection:
        sums = _all_sums(connection, whose)
        wanted = {
            at: s
            for at, s in sums.items()
            if (not kinds or at[0] in kinds) and (paths is None or at[1] in paths)
        }
        return tuple(
            IssuedFile(kind=kind, path=path, data=_content(archive, connection, name, path))
            for (kind, path), name in sorted(wanted.items())
        )


def _content(archive: Archive, connection: sa.Connection, name: str, path: str) -> bytes:
    chosen = sa.select(CONTENT.c.packed, CONTENT.c.size).where(CONTENT.c.sum == name)
    row = connection.execute(chosen).one_or_none()
    data = unpack(row.packed, row.size) if row is not None else None
    if data is None or hashlib.sha256(data).hexdigest() != name:
        raise ArchiveFailed(damaged(f"{path} in the archive {archive.name} is damaged"))
    return data


def unpack(packed: object, size: object) -> bytes | None:
    """Return the bytes of a packed content, None if they cannot be had.

    Args:
        size: no more is ever unpacked, whatever the content makes of itself.
    """
    if not isinstance(packed, bytes) or not isinstance(size, int) or not 0 <= size <= _LARGEST:
        return None
    unpacking = zlib.decompressobj()
    try:
        data = unpacking.decompress(packed, size + 1)
    except zlib.error:
        return None
    return data if len(data) == size and unpacking.eof else None
