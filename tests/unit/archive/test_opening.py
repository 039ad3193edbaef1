"""Which files are archives, and what is said of others."""

from __future__ import annotations

import pathlib
import sqlite3

import pytest

from kdkit.archive import new_archive, open_archive
from tests.unit.archive.conftest import opened


def test_a_new_archive_is_never_made_over_a_file(tmp_path: pathlib.Path) -> None:
    (tmp_path / "there").write_text("mine")
    assert [p.code for p in new_archive(str(tmp_path / "there"))] == ["output-there"]
    assert (tmp_path / "there").read_text() == "mine"
    assert [p.code for p in new_archive(str(tmp_path / "no" / "x"))] == ["output-not-written"]
    assert [p.name for p in tmp_path.iterdir()] == ["there"]


def _foreign(file: pathlib.Path) -> None:
    connection = sqlite3.connect(file)
    connection.execute("CREATE TABLE revision (id)")
    connection.commit()
    connection.close()


@pytest.mark.parametrize(
    ("make", "code"),
    [
        (lambda f: None, "archive-missing"),
        (lambda f: f.mkdir(), "archive-missing"),
        (lambda f: f.write_bytes(b""), "archive-not-ours"),
        (lambda f: f.write_text("kdkit: 1\n"), "archive-not-ours"),
        (_foreign, "archive-not-ours"),
    ],
)
def test_other_files_are_no_archives(make: object, code: str, tmp_path: pathlib.Path) -> None:
    file = tmp_path / "x"
    make(file)  # type: ignore[operator]
    before = file.read_bytes() if file.is_file() else None
    archive, problems = open_archive(str(file))
    assert archive is None
    assert [p.code for p in problems] == [code]
    assert (file.read_bytes() if file.is_file() else None) == before


@pytest.mark.parametrize(
    "address",
    ["sqlite:///x.db", "mysql://a:secret@b/c", "://", "postgresql+nothing://a:secret@b/c", "x://"],
)
def test_addresses_that_cannot_be_used(address: str) -> None:
    archive, problems = open_archive(address)
    assert archive is None
    assert [p.code for p in problems] == ["archive-address"]
    assert "secret" not in problems[0].message + problems[0].help


def test_an_archive_of_a_newer_kdkit_is_left_alone(file: pathlib.Path) -> None:
    connection = sqlite3.connect(file)
    connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.commit()
    connection.close()
    before = file.read_bytes()
    archive, problems = open_archive(str(file))
    assert archive is None
    assert [p.code for p in problems] == ["archive-newer"]
    assert file.read_bytes() == before


def test_the_migrations_make_the_tables_that_are_used(file: pathlib.Path) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    from kdkit.archive.tables import NEWEST, TABLES

    archive = opened(file)
    with archive.reading() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, TABLES) == []
        assert context.get_current_revision() == NEWEST
    archive.close()


def test_a_read_only_archive_can_be_read(file: pathlib.Path) -> None:
    import os

    file.chmod(0o444)
    if os.geteuid() == 0:
        pytest.skip("root may write anything")
    opened(file).close()
