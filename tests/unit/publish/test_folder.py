"""A folder is moved in whole, or nothing happens."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.publish import publish
from kdkit.publish import writers as writers_module
from kdkit.publish.folder import write_folder
from tests import handmade


def fill(text: str):  # type: ignore[no-untyped-def]
    def write(fresh: pathlib.Path) -> None:
        (fresh / "plan.json").write_text(text)

    return write


def test_a_new_folder_and_then_its_successor(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "deep" / "out"
    assert write_folder(out, fill("one")) == ()
    (out / "stale.svg").write_text("from the earlier build")
    assert write_folder(out, fill("two")) == ()
    assert [p.name for p in out.iterdir()] == ["plan.json"]
    assert (out / "plan.json").read_text() == "two"
    assert [p.name for p in out.parent.iterdir()] == ["out"]


def test_a_failed_write_leaves_the_earlier_output(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    write_folder(out, fill("one"))

    def disk_full(fresh: pathlib.Path) -> None:
        (fresh / "plan.json").write_text("half")
        raise OSError(28, "No space left on device")

    (problem,) = write_folder(out, disk_full)
    assert problem.code == "output-not-written"
    assert "No space left" in problem.message
    assert (out / "plan.json").read_text() == "one"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_fault_in_a_writer_leaves_the_earlier_output(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    publish(handmade.results(), out)
    before = {p.name: p.read_bytes() for p in out.iterdir() if p.is_file()}

    def broken(html: str, paper: str, heads: str) -> bytes:
        raise RuntimeError("the page engine fell over")

    monkeypatch.setattr(writers_module, "make_pdf", broken)
    with pytest.raises(RuntimeError, match="fell over"):
        publish(handmade.results(handmade.product(revision="C")), out)
    assert {p.name: p.read_bytes() for p in out.iterdir() if p.is_file()} == before
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize("kind", ["other files", "a file", "a link"])
def test_what_no_build_wrote_is_never_touched(tmp_path: pathlib.Path, kind: str) -> None:
    out = tmp_path / "out"
    if kind == "other files":
        out.mkdir()
        (out / "holiday.txt").write_text("mine")
    elif kind == "a file":
        out.write_text("mine")
    else:
        (tmp_path / "elsewhere").mkdir()
        out.symlink_to(tmp_path / "elsewhere")
    (problem,) = write_folder(out, fill("one"))
    assert problem.code in ("output-not-ours", "output-not-a-folder")
    if kind == "other files":
        assert (out / "holiday.txt").read_text() == "mine"
    elif kind == "a file":
        assert out.read_text() == "mine"
    else:
        assert list((tmp_path / "elsewhere").iterdir()) == []


def test_a_place_that_cannot_be_written_is_a_problem(tmp_path: pathlib.Path) -> None:
    (tmp_path / "file").write_text("")
    (problem,) = write_folder(tmp_path / "file" / "out", fill("one"))
    assert problem.code == "output-not-written"


def test_every_promised_file_is_there(published: pathlib.Path) -> None:
    names = {p.name for p in published.iterdir()}
    assert names == {
        "manual.pdf",
        "manual.html",
        "plan.json",
        "cutlist.csv",
        "drilling.csv",
        "hardware.csv",
        "figures",
    }
    assert {p.stem for p in (published / "figures").iterdir()} == set(handmade.figures())
