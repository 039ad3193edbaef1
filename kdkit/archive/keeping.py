"""An archive kept safe: verified from end to end, copied while others use it."""

from __future__ import annotations

import hashlib
import pathlib
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator

import sqlalchemy as sa

from kdkit.archive.finding import batch_row, is_sealed, of_number, sums_of, unpack
from kdkit.archive.issued import Batch, Revision, key_of, leads_out
from kdkit.archive.opening import Archive, ArchiveFailed
from kdkit.archive.tables import BATCH, CONTENT, REVISION
from kdkit.delivery import refuse_file, write_new_file
from kdkit.diagnostics import Problem, error

__all__ = ["back_up", "verify_archive"]


def verify_archive(
    archive: Archive, progress: Callable[[str], None] = lambda _: None
) -> tuple[int, tuple[Problem, ...]]:
    """Read every file of every revision and batch, and recompute every sum and seal.

    Returns:
        How many revisions and batches were read, and what is damaged, by name.
    """
    found: list[Problem] = []
    count = 0
    try:
        with archive.reading() as connection:
            if archive.file is not None:
                found += _pages(connection, archive.name)
            progress("reading the files")
            bad = _damaged_contents(connection)
            progress("comparing the seals")
            for whose, found_by in _named(connection):
                count += 1
                found += _check(connection, whose, found_by, bad)
    except ArchiveFailed as failed:
        found.append(failed.problem)
    except (ValueError, IndexError, UnicodeError) as fault:
        found.append(_damaged(f"a row of {archive.name} cannot be read: {fault}"))
    return count, tuple(found)


def _pages(connection: sa.Connection, name: str) -> Iterator[Problem]:
    rows = [str(row[0]) for row in connection.exec_driver_sql("PRAGMA integrity_check(20)")]
    rows += [
        f"a row of {row[0]} names a row of {row[2]} that is not there"
        for row in connection.exec_driver_sql("PRAGMA foreign_key_check")
    ]
    for said in rows:
        if said != "ok":
            yield _damaged(f"{name}: {said}")


def _damaged_contents(connection: sa.Connection) -> set[str]:
    """Return the sums whose contents are not what they should be; one is read at a time."""
    bad = set()
    for name in connection.scalars(sa.select(CONTENT.c.sum).order_by(CONTENT.c.sum)).all():
        row = connection.execute(
            sa.select(CONTENT.c.packed, CONTENT.c.size).where(CONTENT.c.sum == name)
        ).one()
        data = unpack(row.packed, row.size)
        if data is None or hashlib.sha256(data).hexdigest() != name:
            bad.add(name)
    return bad


def _named(connection: sa.Connection) -> Iterator[tuple[Revision | Batch, tuple[str, ...]]]:
    """Yield every revision and batch, with the names by which it is looked for."""
    for row in connection.execute(sa.select(REVISION).order_by(REVISION.c.id)).all():
        found_by = (row.product_key, row.revision_key, row.variant_key)
        yield of_number(connection, row.id), found_by
    for row in connection.execute(sa.select(BATCH).order_by(BATCH.c.id)).all():
        number = (row.product_key, row.batch_key)
        yield batch_row(row, of_number(connection, row.revision_id)), number


def _check(
    connection: sa.Connection,
    whose: Revision | Batch,
    found_by: tuple[str, ...],
    bad: set[str],
) -> Iterator[Problem]:
    sums = sums_of(connection, whose)
    title = whose.title if isinstance(whose, Revision) else f"batch {whose.batch}"
    for (kind, path), name in sorted(sums.items()):
        if leads_out(kind) or leads_out(path):
            yield _damaged(f"{title}: the path {path[:80]!r} leads out of its folder")
        if name in bad:
            yield _damaged(f"{title}: {kind}/{path} is damaged")
    names = (
        (whose.product, whose.revision, whose.variant)
        if isinstance(whose, Revision)
        else (whose.revision.product, whose.batch)
    )
    if found_by != tuple(map(key_of, names)):
        yield _damaged(f"{title}: it is not found by its name")
    if not is_sealed(whose, sums):
        yield _damaged(f"{title}: its seal does not fit what is said of it or its list of files")


def _damaged(said: str) -> Problem:
    return error("archive-damaged", said, help="take it from a back-up that verifies")


def back_up(archive: Archive, file: pathlib.Path) -> tuple[Problem, ...]:
    """Write a copy of an archive, whole though others write to it, into a new file.

    Returns:
        Why there is none, or what was noticed.
    """
    if archive.file is None:
        said = f"{archive.name} is backed up with its database's own means"
        return (error("archive-address", said, help="pg_dump for PostgreSQL; or export revisions"),)
    refused = refuse_file(file)
    if refused:
        return refused
    try:
        with tempfile.TemporaryDirectory() as folder:
            copy = pathlib.Path(folder) / "copy.sqlite"
            _copy(archive.file, copy)
            with copy.open("rb") as stream:
                return write_new_file(file, lambda out: shutil.copyfileobj(stream, out))
    except sqlite3.Error as fault:
        said = f"the archive {archive.name} could not be copied: {fault}"
        return (error("archive-failed", said, help="look at the place and the free space"),)


def _copy(file: pathlib.Path, copy: pathlib.Path) -> None:
    readable = file.absolute().as_uri().replace("?", "%3f")
    old = sqlite3.connect(f"{readable}?mode=ro", uri=True, timeout=30)
    new = sqlite3.connect(copy)
    try:
        old.backup(new)
    finally:
        old.close()
        new.close()
