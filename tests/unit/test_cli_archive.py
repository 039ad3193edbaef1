"""From a definition to a reprint years later, as a maker and a clerk type it."""

from __future__ import annotations

import csv
import json
import pathlib
import re
import shutil
from collections.abc import Callable

import pypdf
import pytest
from click.testing import CliRunner, Result

from kdkit.cli.group import group

Run = Callable[..., Result]

DEFINITION = """\
kdkit: 1
product: Peg shelf
revision: A
batch: not printed
catalogues: [own/cat.yaml]
boards:
  carcass: {material: particleboard-p2, thickness: 18}
unit_definitions: {}
panels:
  side: {board: carcass, x: {from: 0}, y: [0, 190], z: [0, 240], face: +x}
  floor: {board: carcass, x: [side.x1, 320], y: [0, 190], z: {from: 0}, face: +z}
joints:
  - {join: floor, to: side, fittings: [{fitting: dowel-8x35}, {fitting: cam-and-bolt, ends: 60}]}
safety: {wall_restraint: none}
"""


def _write(file: pathlib.Path, text: str) -> None:
    file.write_text(text, encoding="utf-8", newline="\n")


def call(*args: object) -> Result:
    return CliRunner().invoke(group, [str(a) for a in args])


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    """Return a folder with a definition and an archive that holds revisions A and B of it."""
    folder = tmp_path_factory.mktemp("desk")
    (folder / "own").mkdir()
    _write(folder / "own" / "cat.yaml", "items: {}\n")
    _write(folder / "shelf.yaml", DEFINITION)
    assert call("archive", "new", folder / "w.sqlite").exit_code == 0
    first = call("issue", folder / "shelf.yaml", "--archive", folder / "w.sqlite")
    assert first.exit_code == 0, first.stderr
    assert first.stdout == f"Peg shelf, revision A: issued in {folder / 'w.sqlite'}\n"
    text = DEFINITION.replace("revision: A", "revision: B").replace("320", "350")
    _write(folder / "shelf.yaml", text.replace("ends: 60", "ends: 60, count: 1"))
    assert call("issue", folder / "shelf.yaml", "--archive", folder / "w.sqlite").exit_code == 0
    made = call(
        "batch", "PG-31", "Peg", "shelf", "--revision", "B", "--count", "12",
        "--archive", folder / "w.sqlite",
    )  # fmt: skip
    assert made.exit_code == 0, made.stderr
    return folder


@pytest.fixture
def run(desk: pathlib.Path, tmp_path: pathlib.Path) -> Run:
    shutil.copy(desk / "w.sqlite", tmp_path / "w.sqlite")

    def at(*args: object) -> Result:
        return call(*args, "--archive", tmp_path / "w.sqlite")

    return at


def test_a_clerk_reprints_the_list_of_a_label(run: Run) -> None:
    result = run("reprint", "pg-31")
    assert result.exit_code == 0
    assert result.stdout.splitlines()[0] == "Peg shelf, revision B, batch PG-31"
    assert "     1  A    cam-bolt-34  Cam bolt 47 long, for setback 34" in result.stdout
    told = json.loads(run("reprint", "pg-31", "--json").stdout)
    assert {line["item"]: line["quantity"] for line in told["hardware"]} == {
        "cam-bolt-34": 1,
        "cam-lock-15": 1,
        "dowel-8x35": 2,
    }


def test_a_reprint_is_what_a_build_gave(
    run: Run, desk: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    result = run("reprint", "Peg shelf", "--revision", "B", "--out", tmp_path / "r")
    assert result.exit_code == 0
    text = (desk / "shelf.yaml").read_text(encoding="utf-8")
    assert (tmp_path / "r/definition/shelf.yaml").read_text(encoding="utf-8") == text
    assert (tmp_path / "r/definition/own/cat.yaml").read_text(encoding="utf-8") == "items: {}\n"
    (tmp_path / "own").mkdir()
    _write(tmp_path / "own/cat.yaml", "items: {}\n")
    _write(tmp_path / "no-batch.yaml", text.replace("batch: not printed\n", ""))
    assert call("build", tmp_path / "no-batch.yaml", "--out", tmp_path / "b").exit_code == 0
    built = {p.name: p.read_bytes() for p in (tmp_path / "b").rglob("*") if p.is_file()}
    built.pop("kdkit-files.json")
    again = {p.name: p.read_bytes() for p in (tmp_path / "r/manual").rglob("*") if p.is_file()}
    assert again == built


def test_a_batchs_manual_and_labels_bear_its_number(run: Run, tmp_path: pathlib.Path) -> None:
    assert run("reprint", "PG-31", "--out", tmp_path / "r").exit_code == 0
    assert "PG-31" in (tmp_path / "r/manual/manual.html").read_text(encoding="utf-8")
    assert "PG-31" in (tmp_path / "r/manual/hardware.csv").read_text(encoding="utf-8-sig")
    assert "not printed" not in (tmp_path / "r/manual/manual.html").read_text(encoding="utf-8")
    some = run(
        "reprint", "PG-31", "--out", tmp_path / "s", "--only", "*.csv", "--only", "manual.pdf"
    )
    assert {p.rsplit("/", 1)[-1] for p in some.stdout.split()} >= {"manual.pdf", "cutlist.csv"}
    none = run("reprint", "PG-31", "--out", tmp_path / "t", "--only", "nothing.xyz")
    assert none.exit_code == 1
    assert "no issued file is called nothing.xyz" in none.stderr
    assert not (tmp_path / "t").exists()


def test_a_batchs_cartons_bear_its_number_and_size(run: Run, tmp_path: pathlib.Path) -> None:
    assert run("reprint", "PG-31", "--out", tmp_path / "r").exit_code == 0
    packed = tmp_path / "r/packing"
    assert {p.name for p in packed.iterdir()} == {
        "carton-labels.pdf", "packing.csv", "packing.pdf",
    }  # fmt: skip
    (page,) = pypdf.PdfReader(packed / "carton-labels.pdf").pages
    assert "batch PG-31" in page.extract_text()
    assert re.search(r"outside [0-9.]+ × [0-9.]+ × [0-9.]+ mm", page.extract_text())
    plain = run("reprint", "Peg shelf", "--revision", "B", "--out", tmp_path / "p")
    assert plain.exit_code == 0
    (page,) = pypdf.PdfReader(tmp_path / "p/packing/carton-labels.pdf").pages
    assert "batch" not in page.extract_text()


def test_slip_and_order_say_steps_bag_and_material(run: Run, tmp_path: pathlib.Path) -> None:
    issued = run("reprint", "PG-31", "--out", tmp_path / "r", "--only", "record.json",
                 "--only", "packing.csv")  # fmt: skip
    assert issued.exit_code == 0
    record = json.loads((tmp_path / "r/record/record.json").read_text(encoding="utf-8"))
    cam = next(line for line in record["hardware"] if line["item"] == "cam-lock-15")
    assert len(cam["steps"]) < len(cam["used"])  # it is laid in, and turned in a later step
    dry = ("--because", "lost", "--dry-run")
    told = run("replace", "PG-31", "--send", "cam-lock-15", *dry).stdout
    assert f"used in steps {', '.join(map(str, cam['used']))}" in told
    bag = record["bags"][0]["name"]
    told = run("replace", "PG-31", "--send", f"bag {bag}", *dry).stdout
    assert told.count(f" of bag {bag}") == len(record["bags"][0]["items"])
    with (tmp_path / "r/packing/packing.csv").open(encoding="utf-8-sig", newline="") as stream:
        first = {row["Letter"]: row["First needed in step"] for row in csv.DictReader(stream)}
    for part in record["parts"]:
        assert first[part["letter"]] == str(part["used"][0])
        told = run("replace", "PG-31", "--send", f"part {part['letter']}", *dry).stdout
        assert re.search(rf"used in steps? {part['used'][0]}\b", told)
    run("replace", "PG-31", "--send", "part A", "--because", "lost", "--out", tmp_path / "o")
    order = (tmp_path / "o/part-A/order.html").read_text(encoding="utf-8")
    assert record["parts"][0]["board"] in order
    assert record["parts"][0]["board"] != record["parts"][0]["material"]


def test_another_content_needs_another_revision(
    run: Run, desk: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    shutil.copytree(desk / "own", tmp_path / "own")
    text = (desk / "shelf.yaml").read_text(encoding="utf-8")
    _write(tmp_path / "shelf.yaml", text)
    again = run("issue", tmp_path / "shelf.yaml")
    assert again.exit_code == 0
    assert "is issued already" in again.stderr
    _write(tmp_path / "shelf.yaml", text.replace("350", "351"))
    other = run("issue", tmp_path / "shelf.yaml")
    assert other.exit_code == 1
    assert "was issued on" in other.stderr
    assert "give the definition another `revision`" in other.stderr
    _write(tmp_path / "shelf.yaml", text.replace("panels:", "pannels:"))
    wrong = run("issue", tmp_path / "shelf.yaml")
    assert wrong.exit_code == 1
    assert "nothing was issued" in wrong.stderr
    assert "shelf.yaml:9:1" in wrong.stderr or "shelf.yaml:" in wrong.stderr


def test_history_tells_what_changed(run: Run) -> None:
    result = run("history", "peg shelf")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0].startswith("Peg shelf, revision B: issued ")
    assert "  batch PG-31, 12 made" in lines
    assert "  since revision A:" in lines
    assert "    Floor (B): measures 332 × 190 × 18, was 302 × 190 × 18" in lines
    assert "    Cam lock Ø15: 1 pieces, were 2" in lines
    assert any(line.startswith("Peg shelf, revision A: issued ") for line in lines)


def test_what_is_sent_is_noted_with_its_slip(run: Run) -> None:
    sent = run(
        "replace", "PG-31", "--send", "cam-lock-15=2", "--send", "part B", "--because", "missing",
        "--order", "1187",
    )  # fmt: skip
    assert sent.exit_code == 0
    assert sent.stdout.splitlines()[:2] == [
        "For Peg shelf, revision B, batch PG-31",
        "Order 1187",
    ]
    assert "  2 × Cam lock Ø15 [cam-lock-15], used in step" in sent.stdout
    told = run("history", "PG-31").stdout
    assert "2 × Cam lock Ø15, missing for batch PG-31" in told
    assert "1187" not in told
    assert run("archive", "forget", "1187").stdout == "2 notes no longer bear that reference\n"
    wrong = run("replace", "PG-31", "--send", "cam-lok-15=2", "--because", "missing")
    assert wrong.exit_code == 1
    assert "did you mean cam-lock-15?" in wrong.stderr
    dry = run("replace", "PG-31", "--send", "bag A", "--because", "lost", "--dry-run")
    assert dry.exit_code == 0
    assert ", lost for batch" not in run("history", "PG-31").stdout


@pytest.mark.parametrize(
    "send", ["cam=0", "cam=-1", "cam=1.5", "cam=x", "=2", "cam=9999999", "cam=²"]
)
def test_counts_that_cannot_be_sent(send: str, run: Run) -> None:
    assert run("replace", "PG-31", "--send", send, "--because", "lost").exit_code == 2


def test_several_are_told_and_none_is_guessed(run: Run) -> None:
    result = run("reprint", "peg")
    assert result.exit_code == 1
    assert "2 are meant: Peg shelf, revision B" in result.stderr
    unknown = run("reprint", "Peg shelv")
    assert unknown.exit_code == 1
    assert "is it Peg shelf?" in unknown.stderr


def test_an_archive_goes_out_and_in(run: Run, tmp_path: pathlib.Path) -> None:
    out = tmp_path / "a.zip"
    assert run("archive", "export", "peg", "--revision", "B", "--to", out).exit_code == 0
    assert run("archive", "export", "peg", "--revision", "B", "--to", out).exit_code == 1
    assert call("archive", "new", tmp_path / "o.sqlite").exit_code == 0
    into = call("archive", "import", out, "--archive", tmp_path / "o.sqlite")
    assert into.stdout == "Peg shelf, revision B\n"
    assert run("archive", "back-up", tmp_path / "copy.sqlite").exit_code == 0
    for name in ("o", "copy"):
        verified = call("archive", "verify", "--archive", tmp_path / f"{name}.sqlite")
        assert verified.exit_code == 0
    assert "no problems" in verified.stdout


def test_a_kdkit_that_draws_otherwise_makes_no_batch_in_silence(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As after an update that changed a table: told, and the issued files can stand for it."""
    from kdkit.publish.files import tables

    monkeypatch.setattr(tables, "render_rows", lambda rows: "changed")
    result = run("batch", "PG-32", "peg", "--revision", "B")
    assert result.exit_code == 1
    assert "does not draw Peg shelf, revision B as kdkit" in result.stderr
    assert "manual/cutlist.csv" in result.stderr
    assert run("batch", "PG-32", "peg", "--revision", "B", "--as-issued").exit_code == 0
    assert run("reprint", "PG-32").exit_code == 0


def test_the_archive_is_named_or_the_environment_names_it(
    desk: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert call("history").exit_code == 2
    monkeypatch.setenv("KDKIT_ARCHIVE", str(desk / "w.sqlite"))
    assert call("history").exit_code == 0
    missing = call("history", "--archive", desk / "no.sqlite")
    assert missing.exit_code == 1
    assert "[archive-missing]" in missing.stderr
