"""An archive that several desks share, in a real PostgreSQL from the distribution.

The server is made for the test in a folder of its own, listens on a socket in it and nowhere
else, and ends with the test. Source of the commands: PostgreSQL 15, "Server Applications"
(initdb, pg_ctl), from memory.
"""

from __future__ import annotations

import os
import pathlib
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DatabaseError

from kdkit.archive import (
    Sent,
    files_of,
    find,
    log_sent,
    new_archive,
    open_archive,
    sent_for,
    store_revision,
    verify_archive,
)
from kdkit.archive.issued import IssuedFile
from tests.unit.archive.conftest import content

CLERKS, NOTES = 20, 5


def _programs() -> pathlib.Path | None:
    found = sorted(pathlib.Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return pathlib.Path(on_path).parent if on_path else None


def _as_server(command: list[str]) -> None:
    """Run as another than root, whom the server refuses."""
    user = ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups"]
    whole = [*(user if os.geteuid() == 0 else []), *command]
    subprocess.run(whole, check=True, stdout=subprocess.DEVNULL, timeout=120)


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    programs = _programs()
    if programs is None:
        pytest.skip("no PostgreSQL here; tests/run.sh installs it")
    with tempfile.TemporaryDirectory(prefix="kdkit-pg-") as folder:
        top = pathlib.Path(folder)
        if os.geteuid() == 0:
            shutil.chown(top, "postgres", "postgres")
        data = top / "data"
        _as_server([str(programs / "initdb"), "-D", str(data), "-U", "clerk", "-A", "trust",
                    "-E", "UTF8", "--no-sync"])  # fmt: skip
        options = f"-c listen_addresses='' -c unix_socket_directories='{top}' -c fsync=off"
        control = [str(programs / "pg_ctl"), "-D", str(data), "-w", "-l", str(top / "log")]
        _as_server([*control, "-o", options, "start"])
        try:
            yield f"postgresql+psycopg://clerk@/postgres?host={top}"
        finally:
            _as_server([*control, "-m", "immediate", "stop"])


def test_an_archive_in_postgresql(address: str) -> None:
    archive, problems = open_archive(address)
    assert archive is None
    assert [p.code for p in problems] == ["archive-not-ours"]
    assert new_archive(address) == ()
    assert [p.code for p in new_archive(address)] == ["output-there"]
    archive, problems = open_archive(address)
    assert problems == ()
    assert archive is not None
    revision, files = content("Shoe rack", "A")
    there, problems = store_revision(archive, revision, files)
    assert problems == ()
    assert there is not None
    assert sorted(files_of(archive, there), key=str) == sorted(files, key=str)
    assert find(archive, "shoe").revisions == (there,)
    assert find(archive, "shoo rack").near == ("Shoe rack",)
    other = [*files[:-1], IssuedFile(kind="manual", path="x", data=b"y")]
    assert [p.code for p in store_revision(archive, revision, other)[1]] == ["revision-issued"]
    with (
        pytest.raises(DatabaseError, match="what is issued never changes"),
        archive.engine.begin() as connection,
    ):
        connection.execute(sa.text("UPDATE revision SET product = 'x'"))
    assert verify_archive(archive) == (1, ())
    archive.close()


def test_twenty_clerks_lose_no_note(address: str) -> None:
    new_archive(address)  # refused if the test before made it
    first, _ = open_archive(address)
    assert first is not None
    revision, _ = store_revision(first, *content("Bench", "A"))
    assert revision is not None
    there = revision

    def clerk(number: int) -> None:
        archive, _ = open_archive(address)
        assert archive is not None
        for note in range(NOTES):
            assert find(archive, "bench").revisions
            sent = Sent(
                number=0, at="", revision="", batch="", item=f"item-{number}", title="Cam",
                quantity=note + 1, why="missing", reference="",
            )  # fmt: skip
            log_sent(archive, there, None, [sent])
        archive.close()

    with ThreadPoolExecutor(CLERKS) as pool:
        list(pool.map(clerk, range(CLERKS)))
    noted = sent_for(first, there)
    assert sorted((s.item, s.quantity) for s in noted) == sorted(
        (f"item-{c}", n + 1) for c in range(CLERKS) for n in range(NOTES)
    )
    first.close()
