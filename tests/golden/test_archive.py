"""An archive that an earlier kdkit wrote: a reprint gives the same bytes whatever came since.

``tests/golden/archive`` holds an archive for each state of the tables that was released. They
are never written anew: a new state adds one. Each must open, verify, and give back what its
own list of sums says, which was read when it was made.
"""

from __future__ import annotations

import pathlib
import shutil

import pytest
from click.testing import CliRunner

from kdkit.archive import files_of, find, open_archive, sent_for, verify_archive
from kdkit.cli.group import group

HERE = pathlib.Path(__file__).parent / "archive"
SEALS = {
    "first": {
        "REVISION": "5fab4c8e3968ced80527d6d4699419e89716a364dd8b17f228574decb3cc3f39",
        "BATCH": "b311b6bbbbd3f84918f9b3e0cc229a00e70b67fe08c7bc75677b74462595e25b",
    },
}


@pytest.mark.parametrize("name", SEALS)
def test_an_old_archive_gives_back_what_was_issued(name: str, tmp_path: pathlib.Path) -> None:
    file = tmp_path / "old.sqlite"
    shutil.copy(HERE / f"{name}.sqlite", file)
    file.chmod(0o644)
    archive, problems = open_archive(str(file))
    assert archive is not None
    assert {p.code for p in problems} <= {"archive-updated"}
    assert verify_archive(archive) == (2, ())
    found = find(archive, "PG-31")
    (batch,) = found.batches
    assert batch.seal == SEALS[name]["BATCH"]
    assert batch.revision.seal == SEALS[name]["REVISION"]
    assert (batch.count, batch.made) == (12, "week 7")
    issued = {f"{f.kind}/{f.path}": f.data for f in files_of(archive, batch)}
    (note,) = sent_for(archive)
    assert (note.item, note.quantity, note.batch) == ("cam-lock-15", 2, "PG-31")
    archive.close()
    folder = tmp_path / "r"
    arguments = ["reprint", "PG-31", "--archive", str(file), "--out", str(folder)]
    assert CliRunner().invoke(group, arguments).exit_code == 0
    again = {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()
    }
    again.pop("kdkit-files.json")
    assert again == issued
    assert again["manual/manual.pdf"].startswith(b"%PDF-")


def test_every_state_of_the_tables_is_kept() -> None:
    assert {p.stem for p in HERE.glob("*.sqlite")} == set(SEALS)


@pytest.mark.parametrize("name", SEALS)
def test_an_old_list_can_still_be_read(name: str, tmp_path: pathlib.Path) -> None:
    file = tmp_path / "old.sqlite"
    shutil.copy(HERE / f"{name}.sqlite", file)
    result = CliRunner().invoke(group, ["reprint", "PG-31", "--archive", str(file)])
    assert result.exit_code == 0
    assert result.stdout.splitlines()[0] == "Peg shelf, revision A, batch PG-31"
