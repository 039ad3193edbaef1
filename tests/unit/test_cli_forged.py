"""Archives and exported revisions that were changed past kdkit, as a maker meets them."""

from __future__ import annotations

import contextlib
import hashlib
import json
import pathlib
import shutil
import sqlite3
import zipfile
import zlib
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from click.testing import CliRunner, Result
from flask.testing import FlaskClient

from kdkit.archive import open_archive
from kdkit.cli.group import group
from kdkit.desk.app import make_app
from kdkit.desk.shared import Desk

ISSUED = pathlib.Path(__file__).parents[1] / "golden" / "archive" / "first.sqlite"
Said = dict[str, Any]
Forge = Callable[[Said, dict[str, bytes]], None]


def run(*args: object) -> Result:
    done = CliRunner().invoke(group, [*map(str, args)])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done


@pytest.fixture
def file(tmp_path: pathlib.Path) -> pathlib.Path:
    """Return an archive with ``Peg shelf`` A and its batch PG-31."""
    shutil.copy(ISSUED, tmp_path / "w.sqlite")
    (tmp_path / "w.sqlite").chmod(0o644)
    return tmp_path / "w.sqlite"


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> tuple[Said, dict[str, bytes]]:
    """Return what is said of that revision, and its files by their sums."""
    folder = tmp_path_factory.mktemp("exported")
    shutil.copy(ISSUED, folder / "w.sqlite")
    out = folder / "a.zip"
    run("archive", "export", "Peg shelf", "--to", out, "--archive", folder / "w.sqlite")
    with zipfile.ZipFile(out) as packed:
        contents = {name: packed.read(name) for name in packed.namelist()}
    return json.loads(contents.pop("revision.json")), contents


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    there = tmp_path_factory.mktemp("empty") / "new.sqlite"
    run("archive", "new", there)
    return there


def _put(contents: dict[str, bytes], data: bytes) -> str:
    name = hashlib.sha256(data).hexdigest()
    contents[f"files/{name}"] = data
    return name


def _of(**said: object) -> Forge:
    return lambda told, _: told.update(said)


def _file(kind: str, path: str) -> Forge:
    def forge(said: Said, contents: dict[str, bytes]) -> None:
        said["files"].append({"kind": kind, "path": path, "sum": _put(contents, b"x")})

    return forge


def _record(edit: Callable[[Said], object]) -> Forge:
    def forge(said: Said, contents: dict[str, bytes]) -> None:
        entry = next(one for one in said["files"] if one["kind"] == "record")
        told = json.loads(contents[f"files/{entry['sum']}"])
        other = edit(told)
        data = other if isinstance(other, bytes) else json.dumps(told).encode()
        entry["sum"] = _put(contents, data)

    return forge


@pytest.mark.parametrize(
    ("forge", "told"),
    [
        (_record(lambda r: r.clear()), "of form None"),
        (_record(lambda r: b"[]"), "it is no record"),
        (_record(lambda r: b"[" * 100_000), "nested too deep"),
        (_record(lambda r: r.pop("hardware")), "hardware"),
        (_record(lambda r: r["hardware"][0].update(quantity="many")), "hardware.0.quantity"),
        (_record(lambda r: r["hardware"][0].update(quantity=-1)), "hardware.0.quantity"),
        (_record(lambda r: r["hardware"][0].update(steps={"x": 1})), "hardware.0.steps"),
        (_record(lambda r: r["hardware"][0].update(item="../../evil")), "hardware.0.item"),
        (_record(lambda r: r["hardware"][0].update(title="x" * 10_000)), "hardware.0.title"),
        (_record(lambda r: r["parts"][0].update(letter="A/../../../evil")), "parts.0.letter"),
        (_record(lambda r: r["parts"][0].update(size=[float("nan")])), "parts.0.size"),
        (_record(lambda r: r["parts"][0].update(names=[])), "parts.0.names"),
        (
            _record(
                lambda r: r.update(
                    bags=[{"name": "A", "items": [{"item": "cam", "needed": 1, "spares": 0}]}]
                )
            ),
            "bag A holds 'cam'",
        ),
        (lambda said, _: said.update(files=[f for f in said["files"] if f["kind"] != "record"]),
         "0 records"),
        (_file("record", "second.json"), "2 records"),
        (_of(definition="../../secret.yaml"), "is not in it"),
        (_of(product=""), "its product has no name"),
        (_of(revision=" "), "shows nothing"),
        (_of(issued="::::"), "isoformat"),
        (_of(settings={"set": 5}), "its settings are none"),
        (_of(settings={"set": {"width": float("nan")}}), "number"),
        (_of(settings={"set": {}, "paper": "wall"}), "its settings are none"),
        (_file("manual", "manual.pdf/x"), "lies in a file"),
        (_file("manual", "a\x85b"), "U+0085"),
        (_file("manual", "a\u202eb"), "U+202E"),
        (_file("manual", "a/../../b"), "leads out"),
    ],
)  # fmt: skip
def test_a_forged_revision_is_refused_whole(
    forge: Forge,
    told: str,
    exported: tuple[Said, dict[str, bytes]],
    empty: pathlib.Path,
    tmp_path: pathlib.Path,
) -> None:
    said, contents = json.loads(json.dumps(exported[0])), dict(exported[1])
    forge(said, contents)
    with zipfile.ZipFile(tmp_path / "f.zip", "w") as packed:
        packed.writestr("revision.json", json.dumps(said))
        for name, data in contents.items():
            packed.writestr(name, data)
    done = run("archive", "import", tmp_path / "f.zip", "--archive", empty)
    assert done.exit_code == 1
    assert "[archive-not-read]" in done.stderr
    assert told in " ".join(done.stderr.split())
    assert run("history", "--archive", empty).stdout == "Nothing is issued yet.\n"


def test_an_exported_revision_with_broken_bytes_is_refused(
    file: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    """Bytes in the middle of a packed file, which the decompressor itself refuses."""
    out = tmp_path / "a.zip"
    run("archive", "export", "Peg shelf", "--to", out, "--archive", file)
    with zipfile.ZipFile(out) as packed:
        large = max(packed.infolist(), key=lambda entry: entry.compress_size)
    data = bytearray(out.read_bytes())
    start = large.header_offset + 30 + len(large.filename)
    data[start : start + 400] = b"\xff" * 400
    out.write_bytes(data)
    done = run("archive", "import", out, "--archive", file)
    assert (done.exit_code, "[archive-not-read]" in done.stderr) == (1, True)


@contextlib.contextmanager
def changed(file: pathlib.Path) -> Iterator[sqlite3.Connection]:
    """Give a connection with which the rows of an archive can be changed."""
    connection = sqlite3.connect(file)
    triggers = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
    for (name,) in triggers.fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    yield connection
    connection.commit()
    connection.close()


def _blob(table: str, column: str) -> str:
    return f"UPDATE {table} SET {column} = x'ff00'"


OUT_OF_IT = "UPDATE revision_file SET path = '../../../evil' WHERE path = 'manual.pdf'"
SWAPPED = (
    "UPDATE revision_file SET sum = (SELECT sum FROM revision_file WHERE path = 'order.pdf') "
    "WHERE path = 'manual.pdf'"
)


@pytest.mark.parametrize(
    "deed",
    [
        OUT_OF_IT, SWAPPED, "DELETE FROM revision_file", "DELETE FROM content",
        "UPDATE revision SET settings = '[]'", "UPDATE revision SET written_by = 'kdkit 9'",
        "UPDATE content SET packed = zeroblob(9)", "UPDATE batch SET revision_id = 99",
        _blob("revision", "product"), _blob("revision", "product_key"), _blob("batch", "made"),
        _blob("batch", "batch_key"),
    ],
)  # fmt: skip
def test_rows_changed_past_kdkit_are_told_and_nothing_is_given_out(
    deed: str, file: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    with changed(file) as connection:
        connection.execute(deed)
    for words in ("PG-31", "Peg shelf"):
        out = tmp_path / "out"
        done = run("reprint", words, "--only", "manual.pdf", "--out", out, "--archive", file)
        told = done.exit_code, done.stderr
        assert done.exit_code == 0 or done.stderr, told
        if out.exists():  # what was changed has nothing to do with these words
            assert (deed, words) in {(_blob("batch", "made"), "Peg shelf"),
                                     ("UPDATE batch SET revision_id = 99", "Peg shelf"),
                                     (_blob("batch", "batch_key"), "Peg shelf"),
                                     (_blob("revision", "product_key"), "PG-31")}  # fmt: skip
            shutil.rmtree(out)
    assert not (tmp_path / "evil").exists()
    verified = run("archive", "verify", "--archive", file)
    assert (verified.exit_code, "archive-damaged" in verified.stderr) == (1, True)


@pytest.fixture
def desk(file: pathlib.Path, tmp_path: pathlib.Path) -> Iterator[FlaskClient]:
    archive, _ = open_archive(str(file))
    assert archive is not None
    made = Desk(archive=archive, folder=tmp_path)
    yield make_app(made).test_client()
    made.sheets.close()
    archive.close()


@pytest.mark.parametrize(
    "deed",
    [
        "UPDATE batch SET revision_id = 99", "UPDATE sent SET batch_id = 1, item = x'ff'",
        "UPDATE sent SET quantity = 'many'", "UPDATE batch SET count = 'many'",
        _blob("revision", "product"), _blob("batch", "batch"), _blob("revision", "settings"),
        SWAPPED, OUT_OF_IT,
    ],
)  # fmt: skip
def test_the_desk_tells_of_rows_that_were_changed(
    deed: str, desk: FlaskClient, file: pathlib.Path
) -> None:
    with changed(file) as connection:
        connection.execute(deed)
    addresses = ("/", "/?q=PG-31", "/?q=Pgg", "/revision/1", "/batch/1", "/batch/1/send",
                 "/log", "/slip/1", "/order/1")  # fmt: skip
    answers = {address: desk.get(address) for address in addresses}
    assert all(a.status_code in (200, 303, 404, 503) for a in answers.values()), answers
    refused = [a.text for a in answers.values() if a.status_code == 503]
    assert refused
    assert all("The archive said" in text for text in refused)


def test_a_content_unpacks_to_no_more_than_it_says(file: pathlib.Path) -> None:
    """300 MB of zeros in 300 kB: they are not unpacked to be looked at."""
    import tracemalloc

    with changed(file) as connection:
        bomb = zlib.compress(bytes(30_000_000), 9)
        connection.execute("UPDATE content SET packed = ?", [bomb])
    tracemalloc.start()
    try:
        done = run("reprint", "PG-31", "--archive", file)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert (done.exit_code, "is damaged" in done.stderr) == (1, True)
    assert most < 20_000_000


HALF = ['{"product": "\\ud800", "batch": "\\udfff"}',
        '{"product": "Peg shelf", "batch": "PG-31", "bag": "\\ud800"}', "\udcff PG-31"]  # fmt: skip


@pytest.mark.parametrize("said", HALF)
def test_half_a_letter_is_no_name(said: str, desk: FlaskClient, file: pathlib.Path) -> None:
    asked = said.encode("utf-8", "surrogateescape")
    assert desk.get("/", query_string={"q": asked}).status_code == 200
    done = run("reprint", said, "--archive", file)
    assert (done.exit_code, "[revision-unknown]" in done.stderr) == (1, True)


def test_a_definition_whose_name_not_every_machine_can_have_is_not_issued(
    file: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    """It could be issued, and never be taken to another archive."""
    odd = tmp_path / "a:b.yaml"
    odd.write_text("kdkit: 1\nproduct: Peg\nrevision: A\n", encoding="utf-8")
    done = run("issue", odd, "--archive", file)
    assert (done.exit_code, "[issue-file-name]" in done.stderr) == (1, True)


def test_an_orders_number_is_forgotten_however_its_letters_are_typed(file: pathlib.Path) -> None:
    """A number with an é in one form was not found by the other, and stayed."""
    at = ("--archive", file)
    sent = ("--send", "cam-lock-15", "--because", "lost", "--order", "Caf\u00e9-7")
    run("replace", "PG-31", *sent, *at)
    assert run("archive", "forget", "\udcff", *at).stdout.startswith("0 notes")
    assert run("archive", "forget", " Cafe\u0301-7", *at).stdout.startswith("1 notes")


def test_a_password_file_that_is_no_text_is_told(
    file: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    (tmp_path / "pw").write_bytes(b"\xff\xfe\xfb" * 20)
    done = run("archive", "account", "counter", "--password-from", tmp_path / "pw",
               "--archive", file)  # fmt: skip
    assert (done.exit_code, "[account-password]" in done.stderr) == (1, True)


def test_papers_of_what_could_not_be_noted_are_told(
    file: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    with changed(file) as connection:
        connection.execute(
            "CREATE TRIGGER full BEFORE INSERT ON sent "
            "BEGIN SELECT RAISE(ABORT, 'disk is full'); END"
        )
    done = run("replace", "PG-31", "--send", "part A", "--because", "lost", "--out",
               tmp_path / "papers", "--archive", file)  # fmt: skip
    assert (done.exit_code, done.stdout) == (1, "")
    assert "papers are of no note" in " ".join(done.stderr.split())
