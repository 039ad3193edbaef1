"""Verified, copied, damaged: what is wrong is named."""

from __future__ import annotations

import os
import pathlib
import sqlite3
import zipfile
import zlib

import pytest
from sqlalchemy import event

from kdkit.archive import (
    Archive,
    back_up,
    export_revision,
    files_of,
    find,
    import_revision,
    new_archive,
    open_archive,
    store_revision,
    verify_archive,
)
from kdkit.archive.opening import ArchiveFailed
from tests.unit.archive.conftest import content, opened

UNLOCK = "DROP TRIGGER content_no_update; DROP TRIGGER revision_no_update; " + (
    "DROP TRIGGER revision_file_no_delete; DROP TRIGGER batch_no_update;"
)


def test_an_archive_verifies_and_so_does_its_copy(archive: Archive, tmp_path: pathlib.Path) -> None:
    assert verify_archive(archive) == (3, ())
    copy = tmp_path / "copy.sqlite"
    assert back_up(archive, copy) == ()
    other = opened(copy)
    assert verify_archive(other) == (3, ())
    other.close()
    assert [p.code for p in back_up(archive, copy)] == ["output-there"]


@pytest.mark.parametrize(
    ("deed", "told"),
    [
        ("UPDATE content SET packed = x'00' WHERE size = 300", "figures/step-1.svg is damaged"),
        ("UPDATE revision SET product = 'Boot rack' WHERE id = 1", "its seal does not fit"),
        ("DELETE FROM revision_file WHERE path = 'manual.pdf'", "its seal does not fit"),
        ("UPDATE batch SET count = 41", "batch LN-204: its seal"),
    ],
)
def test_what_is_damaged_is_named(deed: str, told: str, file: pathlib.Path) -> None:
    connection = sqlite3.connect(file)
    connection.executescript(UNLOCK + deed)
    connection.close()
    archive = opened(file)
    _, problems = verify_archive(archive)
    archive.close()
    assert problems
    assert {p.code for p in problems} == {"archive-damaged"}
    assert any(told in p.message for p in problems)


def test_a_file_that_was_swapped_is_never_given_out(file: pathlib.Path) -> None:
    connection = sqlite3.connect(file)
    connection.executescript(UNLOCK)
    connection.execute("UPDATE content SET packed = ?", [zlib.compress(b"another")])
    connection.commit()
    connection.close()
    archive = opened(file)
    (revision,) = find(archive, "shoe", revision="A").revisions
    with pytest.raises(ArchiveFailed, match="is damaged"):
        files_of(archive, revision)
    archive.close()


@pytest.mark.parametrize("part", range(16))
def test_bytes_broken_anywhere_are_told_or_do_no_harm(part: int, file: pathlib.Path) -> None:
    """What lies in no row may be broken; whatever else is, is told."""
    data = bytearray(file.read_bytes())
    at = len(data) * part // 16
    for n in range(at, at + 64):
        data[n] ^= 0xFF
    file.write_bytes(bytes(data))
    archive, problems = open_archive(str(file))
    if archive is not None:
        _, problems = verify_archive(archive)
        if not problems:
            assert all_files(archive) == all_files_of_the_fixture()
        archive.close()
    assert all(p.code.startswith("archive-") for p in problems)


def all_files(archive: Archive) -> list[tuple[str, str, bytes]]:
    found = find(archive, "")
    return sorted((f.kind, f.path, f.data) for r in found.revisions for f in files_of(archive, r))


def all_files_of_the_fixture() -> list[tuple[str, str, bytes]]:
    both = [*content("Shoe rack", "A")[1], *content("Shoe rack", "B")[1]]
    return sorted((f.kind, f.path, f.data) for f in both)


def test_a_revision_goes_from_one_archive_to_another(
    archive: Archive, tmp_path: pathlib.Path
) -> None:
    (revision,) = find(archive, "shoe", revision="B").revisions
    out = tmp_path / "b.zip"
    assert export_revision(archive, revision, out) == ()
    assert new_archive(str(tmp_path / "other.sqlite")) == ()
    other = opened(tmp_path / "other.sqlite")
    there, problems = import_revision(other, out)
    assert problems == ()
    assert there is not None
    assert (there.seal, there.issued) == (revision.seal, revision.issued)
    assert files_of(other, there) == files_of(archive, revision)
    (batch,) = find(other, "LN-204").batches
    assert files_of(other, batch) == files_of(archive, find(archive, "LN-204").batches[0])
    assert verify_archive(other) == (2, ())
    again = tmp_path / "again.zip"
    assert export_revision(other, there, again) == ()
    assert again.read_bytes() == out.read_bytes()
    assert [p.code for p in import_revision(other, out)[1]] == ["revision-there", "batch-there"]
    other.close()


def _rewritten(file: pathlib.Path, old: bytes, new: bytes) -> None:
    """Put other bytes into the list of an exported revision."""
    with zipfile.ZipFile(file) as packed:
        contents = {name: packed.read(name) for name in packed.namelist()}
    contents["revision.json"] = contents["revision.json"].replace(old, new)
    with zipfile.ZipFile(file, "w") as packed:
        for name, data in contents.items():
            packed.writestr(name, data)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (b'"manual.pdf"', b'"../manual.pdf"', "leads out of its folder"),
        (b'"manual.pdf"', b'"/etc/passwd"', "leads out of its folder"),
        (b'"manual.pdf"', b'"a\\\\b"', "leads out of its folder"),
        (b'"form": 1', b'"form": 2', "of form 2"),
        (b'"form": 1', b'"form": 1, "more": 1', "more"),
        (b'"kind": "manual"', b'"kind": "virus"', "kind"),
        (b'"product": "Shoe rack"', b'"product": "Shoe\\u001b[2J"', "U+001B"),
        (b"{", b"[", "no exported revision"),
    ],
)
def test_what_comes_in_is_not_trusted(
    old: bytes, new: bytes, told: str, archive: Archive, tmp_path: pathlib.Path
) -> None:
    (revision,) = find(archive, "shoe", revision="A").revisions
    out = tmp_path / "a.zip"
    export_revision(archive, revision, out)
    _rewritten(out, old, new)
    there, problems = import_revision(archive, out)
    assert there is None
    assert [p.code for p in problems] == ["archive-not-read"]
    assert told in problems[0].message


def test_a_forged_copy_of_an_issued_revision_is_refused(
    archive: Archive, tmp_path: pathlib.Path
) -> None:
    assert new_archive(str(tmp_path / "o.sqlite")) == ()
    other = opened(tmp_path / "o.sqlite")
    revision, files = content("Shoe rack", "A", other=True)
    there, _ = store_revision(other, revision, files)
    assert there is not None
    export_revision(other, there, tmp_path / "forged.zip")
    other.close()
    assert [p.code for p in import_revision(archive, tmp_path / "forged.zip")[1]] == [
        "revision-issued"
    ]


def test_a_full_disk_loses_nothing(file: pathlib.Path) -> None:
    """The database may not grow: what was there stays, and the new revision is not in it."""
    archive = opened(file)
    before = verify_archive(archive)
    revision, files = content("Bench", "A")
    with archive.reading() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
    archive.close()
    archive = opened(file)

    @event.listens_for(archive.engine, "connect")
    def no_room(connection: sqlite3.Connection, _: object) -> None:
        connection.execute(f"PRAGMA max_page_count = {pages}")

    archive.engine.dispose()
    big = [*files, type(files[0])(kind="manual", path="big", data=bytes(range(256)) * 999)]
    big.append(type(files[0])(kind="manual", path="noise", data=os.urandom(300_000)))
    with pytest.raises(ArchiveFailed, match="full"):
        store_revision(archive, revision, big)
    archive.close()
    archive = opened(file)
    assert verify_archive(archive) == before
    assert find(archive, "Bench").revisions == ()
    archive.close()
