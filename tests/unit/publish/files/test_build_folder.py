"""What a build promises is there, or nothing happens."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.delivery import LIST
from kdkit.publish import publish
from kdkit.publish.files import writers as writers_module
from tests import handmade


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
        LIST,
    }
    assert {p.stem for p in (published / "figures").iterdir()} == set(handmade.figures())
