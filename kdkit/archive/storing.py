"""Into the archive: a revision, a batch, a note of what was sent; whole or not at all."""

from __future__ import annotations

import datetime
import json
import zlib
from collections.abc import Collection, Iterable, Sequence

import sqlalchemy as sa

from kdkit.archive.finding import batch_row, damaged, of_number, sums_of, text_in
from kdkit.archive.issued import (
    Batch,
    IssuedFile,
    Revision,
    Sent,
    key_of,
    seal_of,
    words_of_batch,
    words_of_revision,
)
from kdkit.archive.opening import Archive, ArchiveFailed
from kdkit.archive.tables import BATCH, BATCH_FILE, CONTENT, REVISION, REVISION_FILE, SENT
from kdkit.definition.gate import Refused, check_title
from kdkit.diagnostics import Problem, advice, error

__all__ = ["forget_reference", "log_sent", "now", "sent_for", "store_batch", "store_revision"]

_TOLD = 6  # files that a message names


def now() -> str:
    """Return the time in UTC, ISO 8601, to the second."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")


def store_revision(
    archive: Archive, revision: Revision, files: Sequence[IssuedFile], *, issued: str = ""
) -> tuple[Revision | None, tuple[Problem, ...]]:
    """Freeze a revision; what is issued already is left as it is.

    Args:
        issued: when it was, for one that comes from another archive; "" for now.

    Returns:
        The revision as it stands in the archive, or None and why not.

    Raises:
        ArchiveFailed: the database refused; nothing of the revision is in it.
    """
    sums = {(f.kind, f.path): f.sum for f in files}
    seal = seal_of(words_of_revision(revision), ((*at, s) for at, s in sums.items()))
    keys = {
        "product_key": key_of(revision.product),
        "revision_key": key_of(revision.revision),
        "variant_key": key_of(revision.variant),
    }
    with archive.writing() as connection:
        same = [REVISION.c[name] == value for name, value in keys.items()]
        row = connection.execute(sa.select(REVISION).where(*same)).one_or_none()
        if row is not None:
            there = of_number(connection, row.id)
            if there.seal == seal:
                return there, (advice("revision-there", f"{there.title} is issued already"),)
            return None, (_another(there, revision, sums_of(connection, there), sums),)
        _store_contents(connection, files)
        made = connection.execute(
            REVISION.insert().values(
                **keys,
                product=revision.product,
                revision=revision.revision,
                variant=revision.variant,
                settings=json.dumps(dict(revision.settings), sort_keys=True),
                definition=revision.definition,
                written_by=revision.written_by,
                issued=issued or now(),
                seal=seal,
            )
        )
        assert made.inserted_primary_key is not None
        number = int(made.inserted_primary_key[0])
        rows = [
            {"revision_id": number, "kind": k, "path": p, "sum": s} for (k, p), s in sums.items()
        ]
        connection.execute(REVISION_FILE.insert(), rows)
        return of_number(connection, number), ()


def _store_contents(connection: sa.Connection, files: Iterable[IssuedFile]) -> None:
    data = {f.sum: f.data for f in files}
    known = set(connection.scalars(sa.select(CONTENT.c.sum).where(CONTENT.c.sum.in_(list(data)))))
    rows = [
        {"sum": name, "size": len(content), "packed": zlib.compress(content)}
        for name, content in sorted(data.items())
        if name not in known
    ]
    if rows:
        connection.execute(CONTENT.insert(), rows)


def _another(
    there: Revision,
    wanted: Revision,
    old: dict[tuple[str, str], str],
    new: dict[tuple[str, str], str],
) -> Problem:
    """Say that a revision is issued with another content, and where it differs."""
    differ = sorted(at for at in {*old, *new} if old.get(at) != new.get(at))
    told = ", ".join(f"{kind}/{path}" for kind, path in differ[:_TOLD])
    more = f" and {len(differ) - _TOLD} more" if len(differ) > _TOLD else ""
    if not differ:
        told, more = "what was asked of the run", ""
    made = "" if there.written_by == wanted.written_by else f", by {there.written_by}"
    return error(
        "revision-issued",
        f"{there.title} was issued on {there.issued[:10]}{made} with another content: {told}{more}",
        help="what is issued never changes: give the definition another `revision`",
    )


def store_batch(
    archive: Archive, batch: Batch, files: Sequence[IssuedFile], *, recorded: str = ""
) -> tuple[Batch | None, tuple[Problem, ...]]:
    """Record a batch of an issued revision with its own manual and labels.

    Raises:
        ArchiveFailed: the database refused; nothing of the batch is in it.
    """
    sums = {(f.kind, f.path): f.sum for f in files}
    words = words_of_batch(batch, batch.revision.seal)
    seal = seal_of(words, ((*at, s) for at, s in sums.items()))
    keys = {"product_key": key_of(batch.revision.product), "batch_key": key_of(batch.batch)}
    with archive.writing() as connection:
        same = [BATCH.c[name] == value for name, value in keys.items()]
        row = connection.execute(sa.select(BATCH).where(*same)).one_or_none()
        if row is not None:
            whose = of_number(connection, row.revision_id)
            if row.seal == seal:
                said = f"batch {row.batch} of {whose.title} is recorded already"
                return batch_row(row, whose), (advice("batch-there", said),)
            return None, (
                error(
                    "batch-recorded",
                    f"batch {row.batch} was recorded on {row.recorded[:10]}, of {whose.title}, "
                    "with another content",
                    help="what is recorded never changes: give this batch another number",
                ),
            )
        _store_contents(connection, files)
        made = connection.execute(
            BATCH.insert().values(
                **keys,
                revision_id=batch.revision.number,
                batch=batch.batch,
                count=batch.count,
                made=batch.made,
                own=batch.own,
                recorded=recorded or now(),
                seal=seal,
            )
        )
        assert made.inserted_primary_key is not None
        number = int(made.inserted_primary_key[0])
        if sums:
            rows = [
                {"batch_id": number, "kind": k, "path": p, "sum": s} for (k, p), s in sums.items()
            ]
            connection.execute(BATCH_FILE.insert(), rows)
        row = connection.execute(sa.select(BATCH).where(BATCH.c.id == number)).one()
        return batch_row(row, batch.revision), ()


def log_sent(
    archive: Archive, revision: Revision, batch: Batch | None, sent: Sequence[Sent]
) -> tuple[int, ...]:
    """Note what was sent for a revision, or for one of its batches; return the notes' numbers.

    Args:
        sent: their numbers and times are given here.

    Raises:
        ArchiveFailed: nothing was noted.
    """
    at = now()
    rows = [
        {
            "at": at,
            "revision_id": revision.number,
            "batch_id": batch.number if batch is not None else None,
            "item": s.item,
            "title": s.title,
            "quantity": s.quantity,
            "why": s.why,
            "reference": s.reference or None,
            "instead": s.instead,
            "bag": s.bag,
        }
        for s in sent
    ]
    # The sums are locked in one order, so that no two clerks wait for each other for ever.
    order = sorted(range(len(rows)), key=lambda n: (sent[n].item, sent[n].why, n))
    numbers = [0] * len(rows)
    with archive.writing() as connection:
        for n in order:
            noted = connection.execute(SENT.insert().values(**rows[n]))
            assert noted.inserted_primary_key is not None
            numbers[n] = int(noted.inserted_primary_key[0])
    return tuple(numbers)


def sent_for(
    archive: Archive,
    revision: Revision | None = None,
    newest: int = 1000,
    *,
    numbers: Collection[int] | None = None,
) -> tuple[Sent, ...]:
    """Return what was sent, newest first, for one revision or for all.

    Args:
        numbers: only these notes.
    """
    chosen = (
        sa.select(SENT, REVISION.c.revision, REVISION.c.product, BATCH.c.batch)
        .join(REVISION, REVISION.c.id == SENT.c.revision_id)
        .outerjoin(BATCH, BATCH.c.id == SENT.c.batch_id)
        .order_by(SENT.c.id.desc())
        .limit(newest)
    )
    if revision is not None:
        chosen = chosen.where(SENT.c.revision_id == revision.number)
    if numbers is not None:
        chosen = chosen.where(SENT.c.id.in_(list(numbers)))
    with archive.reading() as connection:
        return tuple(_note(row) for row in connection.execute(chosen))


def _note(row: sa.Row[tuple[object, ...]]) -> Sent:
    said = {
        name: text_in(row, name, "sent")
        for name in ("at", "item", "title", "why", "instead", "bag")
    }
    if not isinstance(row.quantity, int):
        raise ArchiveFailed(damaged(f"the quantity of note {row.id} cannot be read"))
    return Sent(
        **said,
        number=row.id,
        revision=f"{row.product} {row.revision}",
        batch=str(row.batch or ""),
        quantity=row.quantity,
        reference=str(row.reference or ""),
        product=str(row.product),
        revision_number=row.revision_id,
    )


def forget_reference(archive: Archive, reference: str) -> int:
    """Take an order's reference out of all notes; what was sent stays. Return how many.

    It is read as it was when it was noted, whatever form its letters have here.

    Raises:
        ArchiveFailed: nothing was changed.
    """
    try:
        reference = check_title(reference)
    except Refused:  # no note bears what cannot be noted
        return 0
    with archive.writing() as connection:
        done = connection.execute(
            SENT.update().where(SENT.c.reference == reference).values(reference=None)
        )
        return int(done.rowcount)
