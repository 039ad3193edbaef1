"""What is sent today, a panel's papers, accounts and the desk, as a maker types it."""

from __future__ import annotations

import contextlib
import http.client
import io
import json
import pathlib
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable

import pypdf
import pytest
from click.testing import CliRunner, Result

from kdkit.archive import accounts as kept
from kdkit.cli.group import group

ISSUED = pathlib.Path(__file__).parents[1] / "golden" / "archive" / "first.sqlite"
Run = Callable[..., Result]


@pytest.fixture
def file(tmp_path: pathlib.Path) -> pathlib.Path:
    shutil.copy(ISSUED, tmp_path / "w.sqlite")
    (tmp_path / "w.sqlite").chmod(0o644)
    (tmp_path / "own.yaml").write_text(
        "items:\n  zinc-cam: {like: cam-lock-15, title: Zinc cam lock}\n"
        "  brass-cam: {like: cam-lock-15, title: Brass cam lock}\n",
        encoding="utf-8",
    )
    return tmp_path / "w.sqlite"


@pytest.fixture
def run(file: pathlib.Path) -> Run:
    def at(*args: object, said: str = "") -> Result:
        return CliRunner().invoke(group, [*map(str, args), "--archive", str(file)], input=said)

    return at


def test_a_reprint_shows_the_list_as_issued_and_what_is_sent_today(
    run: Run, file: pathlib.Path
) -> None:
    before = run("reprint", "PG-31").stdout
    own = ("--catalogue", file.parent / "own.yaml")
    done = run("archive", "supersede", "cam-lock-15", "zinc-cam", "--since", "2026-01-02", *own)
    assert done.stdout == "cam-lock-15: from 2026-01-02 on Zinc cam lock Ø15 is sent\n"
    assert run("reprint", "PG-31").stdout == before + (
        "sent today instead:\n  cam-lock-15: since 2026-01-02 Zinc cam lock Ø15 [zinc-cam]\n"
    )
    assert json.loads(run("reprint", "PG-31", "--json").stdout)["today"] == {
        "cam-lock-15": {"item": "zinc-cam", "title": "Zinc cam lock Ø15", "since": "2026-01-02"}
    }
    slip = run("replace", "PG-31", "--send", "cam-lock-15=2", "--because", "missing").stdout
    assert "  2 × Zinc cam lock Ø15 [zinc-cam, instead of cam-lock-15], used in step 2" in slip
    assert run("archive", "supersede", "zinc-cam", "brass-cam", *own).exit_code == 0
    assert "Brass cam lock" in run("reprint", "PG-31").stdout
    assert run("archive", "supersede").stdout.count("\n") == 2
    ring = run("archive", "supersede", "brass-cam", "cam-lock-15", *own)
    assert ring.exit_code == 1
    assert "brass-cam is itself sent instead of cam-lock-15" in ring.stderr
    assert run("archive", "supersede", "cam-lock-15", "--again").exit_code == 0
    assert run("reprint", "PG-31").stdout == before


def test_what_does_not_fit_is_refused_with_the_reason(run: Run, file: pathlib.Path) -> None:
    wrong = run("archive", "supersede", "cam-lock-15", "cam-lock-12")
    assert wrong.exit_code == 1
    assert "cam-lock-12 does not go in place of cam-lock-15 of Peg shelf, " in wrong.stderr
    assert "revision A: it is 9 mm long" in " ".join(wrong.stderr.split())
    assert "nothing was recorded" in wrong.stderr
    unknown = run("archive", "supersede", "cam-lok-15", "cam-lock-12")
    assert "did you mean cam-lock-15?" in unknown.stderr
    assert "--catalogue FILE" in unknown.stderr
    assert run("archive", "supersede", "dowel-8x35", "--again").exit_code == 1
    assert run("archive", "supersede", "dowel-8x35").exit_code == 2
    assert run("archive", "supersede", "a", "b", "--since", "tomorrow").exit_code == 2
    assert run("archive", "supersede").stdout == "Every item is sent itself.\n"


def test_what_is_superseded_is_read_as_it_was_frozen(run: Run, file: pathlib.Path) -> None:
    """A maker's own item, sold with a catalogue that no file of today has."""
    shelf = file.parent / "shelf.yaml"
    shelf.write_text(
        "kdkit: 1\nproduct: Nook\nrevision: A\ncatalogues: [old.yaml]\n"
        "boards: {carcass: {material: particleboard-p2, thickness: 18}}\n"
        "panels:\n"
        "  side: {board: carcass, x: {from: 0}, y: [0, 150], z: [0, 150], face: +x}\n"
        "  floor: {board: carcass, x: [18, 200], y: [0, 150], z: {from: 0}, face: +z}\n"
        "joints: [{join: floor, to: side, fittings: [old-peg]}]\n"
        "safety: {wall_restraint: none}\n",
        encoding="utf-8",
    )
    (file.parent / "old.yaml").write_text(
        "items:\n  peg-of-old: {like: dowel-8x35, title: Peg of old}\n"
        "fittings:\n  old-peg: {like: dowel-8x35, items: "
        "[{item: peg-of-old, at: [0, 0, 0], out: -k, carried_by: butting}], "
        "actions: [{do: insert, item: peg-of-old}, {do: mate}]}\n",
        encoding="utf-8",
    )
    issued = run("issue", shelf)
    assert issued.exit_code == 0, issued.stderr
    for name in ("old.yaml", "shelf.yaml"):
        (file.parent / name).unlink()
    wrong = run("archive", "supersede", "peg-of-old", "cam-lock-15")
    assert "does not go in place of peg-of-old of Nook, revision A" in wrong.stderr
    right = run("archive", "supersede", "peg-of-old", "dowel-8x35")
    assert right.exit_code == 0, right.stderr


def test_a_panel_is_replaced_with_its_order_and_drawing(run: Run, file: pathlib.Path) -> None:
    folder = file.parent / "papers"
    args = ("replace", "PG-31", "--send", "part B", "--because", "damaged", "--order", "1187")
    done = run(*args, "--out", folder)
    assert done.exit_code == 0, done.stderr
    slip = (folder / "slip.html").read_text(encoding="utf-8")
    assert "Peg shelf, revision A" in slip
    assert "1187" in slip
    order = (folder / "part-B" / "order.html").read_text(encoding="utf-8")
    assert "302 × 190 × 18 mm" in order
    assert "bore of 15.00, 13.40 deep" in order
    names = {p.name for p in (folder / "part-B").iterdir()}
    assert {"drawing.pdf", "panel-B.dxf", "B-back-t23.nc", "part-B.svg"} <= names
    assert not any("A-" in name or name == "panel-A.dxf" for name in names)
    pages = pypdf.PdfReader(io.BytesIO((folder / "part-B" / "drawing.pdf").read_bytes())).pages
    assert all("B Floor" in page.extract_text() for page in pages)
    again = run("reprint", "PG-31", "--out", file.parent / "r")
    assert again.exit_code == 0
    dxf = (file.parent / "r/workshop/dxf/panel-B.dxf").read_bytes()
    assert (folder / "part-B" / "panel-B.dxf").read_bytes() == dxf
    history = run("history", "PG-31").stdout
    (folder / "mine.txt").write_text("x")
    refused = run(*args, "--out", folder)
    assert refused.exit_code == 1
    assert "nothing was noted" in refused.stderr
    assert run("history", "PG-31").stdout == history


def test_a_labels_code_names_the_batch(run: Run) -> None:
    assert run("reprint", "Peg shelf|A|PG-31|1").stdout.startswith(
        "Peg shelf, revision A, batch PG-31\n"
    )


def test_accounts_are_made_and_taken_away(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "_COST", (1 << 10, 8, 1))
    typed = "some words together\n"
    made = run("archive", "account", "counter", "--password-from", "-", said=typed)
    assert made.stdout == "counter: made\n"
    asked = run("archive", "account", "counter", said="other words there\nother words there\n")
    assert "counter: has another password" in asked.stdout
    assert "other words" not in asked.output
    short = run("archive", "account", "second", "--password-from", "-", said="short\n")
    assert short.exit_code == 1
    assert "a password has 12 to 200 signs" in short.stderr
    assert run("archive", "account").stdout == "counter\n"
    assert run("archive", "account", "counter", "--remove").exit_code == 0
    assert run("archive", "account", "counter", "--remove").exit_code == 1


def test_the_desk_refuses_other_machines_while_it_has_no_accounts(file: pathlib.Path) -> None:
    def call(*args: str) -> Result:
        return CliRunner().invoke(group, ["desk", *args])

    for host in ("0.0.0.0", "192.168.7.20", "desk.test"):
        refused = call(str(file), "--host", host)
        assert refused.exit_code == 2
        assert "[desk-not-bound]" in refused.stderr
    assert "kdkit archive account" in call(str(file), "--host", "0.0.0.0").stderr
    assert call(str(file.parent / "no.sqlite")).exit_code == 1
    assert call(str(file), "--port", "99999").exit_code == 2
    assert call(str(file), "--name", "a b").exit_code == 2
    assert call().exit_code == 2


def test_the_desk_answers_until_it_is_ended_and_leaves_nothing(file: pathlib.Path) -> None:
    before = sorted(p.name for p in file.parent.iterdir())
    command = [sys.executable, "-m", "kdkit", "desk", str(file), "--port", "0"]
    with (
        subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as running,
        contextlib.ExitStack() as at_last,
    ):
        at_last.callback(running.kill)  # also if something fails before it is ended
        assert running.stdout is not None
        told = running.stdout.readline().decode()
        port = re.search(r"http://127\.0\.0\.1:(\d+)/;", told)
        assert port, told
        asking = http.client.HTTPConnection("127.0.0.1", int(port[1]), timeout=20)
        with contextlib.closing(asking):
            asking.request("GET", "/batch/1")
            answer = asking.getresponse()
            assert answer.status == 200
            assert b"Peg shelf" in answer.read()
            assert answer.getheader("Server") in (None, "")
            asking.request("GET", "/", headers={"Host": "evil.test"})
            refused = asking.getresponse()
            assert refused.status == 421
            refused.read()
        running.send_signal(signal.SIGINT)
        assert running.wait(20) == 130
    assert sorted(p.name for p in file.parent.iterdir()) == before
