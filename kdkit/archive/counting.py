"""What goes missing most: the notes of what was sent, counted by product, batch and item.

The database adds each note to its sums as it is noted, so that a million notes are not read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa

from kdkit.archive.issued import Revision
from kdkit.archive.opening import Archive
from kdkit.archive.tables import BATCH, REVISION, SENT, SENT_SUM

__all__ = ["SentCount", "count_sent"]


@dataclass(frozen=True, kw_only=True)
class SentCount:
    """How much of one item was sent for one batch, or for a revision without one.

    Args:
        pieces, notes: their sum, and in how many notes.
        whys: pieces by reason.
        made: how many products the batch says it has; 0 if nobody said.
    """

    product: str
    revision: str
    variant: str
    batch: str
    item: str
    title: str
    pieces: int
    notes: int
    whys: dict[str, int]
    made: int

    @property
    def per_hundred(self) -> float | None:
        """Notes for each hundred products made; None where the batch says no quantity."""
        return 100 * self.notes / self.made if self.made else None


def count_sent(
    archive: Archive, revisions: Sequence[Revision] | None = None, most: int = 200
) -> tuple[SentCount, ...]:
    """Return what was sent most, by batch and item: the most for each hundred made first.

    Args:
        revisions: only of these; None for all.
        most: rows at most.

    Raises:
        ArchiveFailed: the archive could not be read.
    """
    counts = sa.select(SENT_SUM)
    if revisions is not None:
        counts = counts.where(SENT_SUM.c.revision_id.in_([r.number for r in revisions]))
    with archive.reading() as connection:
        found: dict[tuple[int, int | None, str], list[tuple[str, int, int, int]]] = {}
        for row in connection.execute(counts):
            at = (row.revision_id, row.batch_id or None, row.item)
            found.setdefault(at, []).append((row.why, row.pieces, row.notes, row.last))
        asked = sa.select(BATCH.c.id, BATCH.c.batch, BATCH.c["count"].label("made"))
        if revisions is not None:
            asked = asked.where(BATCH.c.revision_id.in_([r.number for r in revisions]))
        batches = {b.id: (b.batch, b.made) for b in connection.execute(asked)}

        def order(at: tuple[int, int | None, str]) -> tuple[float, int]:
            notes = sum(n for _, _, n, _ in found[at])
            made = batches[at[1]][1] if at[1] is not None else 0
            return (-notes / made if made else 0.0, -notes)

        chosen = sorted(found, key=order)[:most]
        named = {
            r.id: r
            for r in connection.execute(
                sa.select(REVISION).where(REVISION.c.id.in_({at[0] for at in chosen}))
            )
        }
        lasts = {at: max(last for _, _, _, last in found[at]) for at in chosen}
        titles = {
            row.id: row.title
            for row in connection.execute(
                sa.select(SENT.c.id, SENT.c.title).where(SENT.c.id.in_(set(lasts.values())))
            )
        }
        told = []
        for number, batch, item in chosen:
            rows = found[number, batch, item]
            said, made = batches[batch] if batch is not None else ("", 0)
            told.append(
                SentCount(
                    product=named[number].product,
                    revision=named[number].revision,
                    variant=named[number].variant,
                    batch=said,
                    item=item,
                    title=titles[lasts[number, batch, item]],
                    pieces=sum(pieces for _, pieces, _, _ in rows),
                    notes=sum(notes for _, _, notes, _ in rows),
                    whys={why: pieces for why, pieces, _, _ in rows},
                    made=made,
                )
            )
    return tuple(told)
