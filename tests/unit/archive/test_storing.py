"""What is issued stays: the same again is there once, another content is refused."""

from __future__ import annotations

import pathlib
import sqlite3

import pytest

from kdkit.archive import (
    Archive,
    Batch,
    IssuedFile,
    Sent,
    all_revisions,
    files_of,
    find,
    forget_reference,
    log_sent,
    sent_for,
    store_batch,
    store_revision,
)
from kdkit.archive.issued import MANUAL
from tests.unit.archive.conftest import content


def test_the_same_content_is_there_once(archive: Archive) -> None:
    revision, files = content("Shoe rack", "A")
    there, problems = store_revision(archive, revision, list(reversed(files)))
    assert [p.code for p in problems] == ["revision-there"]
    assert there is not None
    assert there.seal == find(archive, "shoe rack", revision="A").revisions[0].seal
    assert len(all_revisions(archive)) == 2


def test_another_content_is_another_revision(archive: Archive) -> None:
    revision, files = content("SHOE  rack", "a")
    files[2] = IssuedFile(kind=MANUAL, path="manual.pdf", data=b"otherwise")
    there, problems = store_revision(archive, revision, files)
    assert there is None
    assert [p.code for p in problems] == ["revision-issued"]
    assert "manual/manual.pdf" in problems[0].message
    assert "figures" not in problems[0].message
    (kept,) = find(archive, "Shoe rack", revision="A").revisions
    assert {f.path: f.data for f in files_of(archive, kept)}["manual.pdf"] != b"otherwise"


def test_a_variant_is_a_revision_of_its_own(archive: Archive) -> None:
    there, problems = store_revision(archive, *content("Shoe rack", "A", variant="narrow"))
    assert problems == ()
    assert there is not None
    assert find(archive, "Shoe rack", revision="A", variant="narrow").revisions == (there,)
    assert len(find(archive, "Shoe rack", revision="A").revisions) == 2


def test_files_come_back_byte_for_byte(archive: Archive) -> None:
    _, files = content("Shoe rack", "B")
    (there,) = find(archive, "Shoe rack", revision="B").revisions
    assert sorted(files_of(archive, there), key=str) == sorted(files, key=str)


def test_a_batch_has_its_own_files_and_its_revisions(archive: Archive) -> None:
    (batch,) = find(archive, "ln-204").batches
    got = {f.path: f.data for f in files_of(archive, batch)}
    assert got["manual.pdf"] == b"pages that say LN-204"
    assert got["figures/step-1.svg"] == b"<svg/>" * 50
    assert (batch.count, batch.made, batch.revision.revision) == (40, "week 7", "B")


def test_a_batchs_number_is_given_once(archive: Archive) -> None:
    (revision,) = find(archive, "Shoe rack", revision="A").revisions
    there, problems = store_batch(archive, Batch(batch="ln-204", revision=revision), [])
    assert there is None
    assert [p.code for p in problems] == ["batch-recorded"]
    (batch,) = find(archive, "LN-204").batches
    again = [IssuedFile(kind=MANUAL, path="manual.pdf", data=b"pages that say LN-204")]
    assert [p.code for p in store_batch(archive, batch, again)[1]] == ["batch-there"]


@pytest.mark.parametrize(
    "deed",
    [
        "UPDATE revision SET revision = 'C'",
        "DELETE FROM revision_file",
        "UPDATE content SET packed = x'00'",
        "DELETE FROM batch",
        "UPDATE batch_file SET path = 'x'",
    ],
)
def test_the_database_itself_lets_nobody_change_what_is_issued(
    deed: str, file: pathlib.Path
) -> None:
    connection = sqlite3.connect(file)
    with pytest.raises(sqlite3.IntegrityError, match="what is issued never changes"):
        connection.execute(deed)
    connection.close()


def test_an_orders_reference_can_be_taken_out_of_the_notes(archive: Archive) -> None:
    (batch,) = find(archive, "LN-204").batches
    sent = Sent(
        number=0, at="", revision="", batch="", item="cam", title="Cam lock", quantity=2,
        why="missing", reference="1187",
    )  # fmt: skip
    log_sent(archive, batch.revision, batch, [sent, sent])
    assert [(s.batch, s.quantity, s.reference) for s in sent_for(archive)] == [
        ("LN-204", 2, "1187"),
        ("LN-204", 2, "1187"),
    ]
    assert forget_reference(archive, "118") == 0
    assert forget_reference(archive, "1187") == 2
    assert {s.reference for s in sent_for(archive, batch.revision)} == {""}
