"""What goes missing most: counted by batch and item, for each hundred that were made."""

from __future__ import annotations

from kdkit.archive import Archive, Batch, Sent, count_sent, find, log_sent, store_batch


def sent(item: str, quantity: int, why: str) -> Sent:
    return Sent(
        number=0, at="", revision="", batch="", item=item, title=item.title(),
        quantity=quantity, why=why, reference="",
    )  # fmt: skip


def test_the_worst_of_a_hundred_comes_first_and_no_note_is_lost(archive: Archive) -> None:
    first, second = reversed(find(archive, "Shoe rack").revisions)
    (forty,) = find(archive, "LN-204").batches
    ten, _ = store_batch(archive, Batch(batch="LN-205", revision=second, count=10), [])
    unknown, _ = store_batch(archive, Batch(batch="LN-206", revision=second), [])
    for batch, what in (
        (forty, sent("cam", 2, "missing")), (forty, sent("cam", 1, "lost")),
        (forty, sent("dowel", 4, "missing")), (ten, sent("cam", 1, "missing")),
        (unknown, sent("cam", 9, "missing")),
    ):  # fmt: skip
        log_sent(archive, second, batch, [what])
    log_sent(archive, first, None, [sent("cam", 1, "other")])
    counts = count_sent(archive)
    told = [(c.batch, c.item, c.notes, c.pieces, c.per_hundred) for c in counts]
    assert told[:3] == [
        ("LN-205", "cam", 1, 1, 10.0), ("LN-204", "cam", 2, 3, 5.0), ("LN-204", "dowel", 1, 4, 2.5),
    ]  # fmt: skip
    assert sorted(told[3:]) == [("", "cam", 1, 1, None), ("LN-206", "cam", 1, 9, None)]
    assert counts[1].whys == {"missing": 2, "lost": 1}
    assert sum(c.pieces for c in counts) == 18
    assert [c.revision for c in count_sent(archive, [first])] == ["A"]
    assert len(count_sent(archive, None, 2)) == 2


def test_notes_have_the_numbers_that_were_told(archive: Archive) -> None:
    revision = find(archive, "Shoe rack").revisions[0]
    numbers = log_sent(archive, revision, None, [sent("cam", 1, "lost"), sent("dowel", 2, "lost")])
    assert numbers == (1, 2)
    assert log_sent(archive, revision, None, [sent("cam", 1, "lost")]) == (3,)
