"""``kdkit pack`` as a packer uses it."""

from __future__ import annotations

import csv
import hashlib
import pathlib

import pypdf
import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.publish.packing.carton_labels import qr_rows
from tests.every_output import CORNER


@pytest.fixture
def corner(tmp_path: pathlib.Path) -> pathlib.Path:
    file = tmp_path / "corner.yaml"
    file.write_text(CORNER.replace("kdkit: 1", "kdkit: 1\nbatch: LN-204"), encoding="utf-8")
    return file


def ran(*arguments: object, code: int = 0) -> str:
    result = CliRunner().invoke(group, [str(a) for a in arguments])
    assert result.exit_code == code, result.output
    return result.output


def test_the_packer_s_files(corner: pathlib.Path, tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    ran("pack", corner, "--out", out, "--gtin", "6291041500213", "--most-mass", 2)
    with (out / "packing.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["Parts"] for row in rows if row["Parts"]]
    assert {row["Carton"] for row in rows} == {"1", "2"}
    sheets = "\n".join(page.extract_text() for page in pypdf.PdfReader(out / "packing.pdf").pages)
    for words in ("Carton 1 of 2", "Carton 2 of 2", "Check: carton 1 of 2", "Cam lock"):
        assert words in sheets
    (labels,) = pypdf.PdfReader(out / "carton-labels.pdf").pages
    text = labels.extract_text()
    assert "(8006)062910415002130102 (10)LN-204" in text
    assert "Open this one first" in text
    before = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in out.iterdir()}
    ran("pack", corner, "--out", out, "--gtin", "6291041500213", "--most-mass", 2)
    after = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in out.iterdir()}
    assert after == before


def test_a_wrong_gtin_is_told_before_any_work(corner: pathlib.Path, tmp_path: pathlib.Path) -> None:
    said = ran("pack", corner, "--out", tmp_path / "out", "--gtin", "6291041500214", code=2)
    assert "by the other digits it is 3" in " ".join(said.split())
    assert not (tmp_path / "out").exists()


def test_a_batch_that_no_code_holds_is_told(corner: pathlib.Path, tmp_path: pathlib.Path) -> None:
    corner.write_text(corner.read_text("utf-8").replace("LN-204", "week 49"), encoding="utf-8")
    said = ran("pack", corner, "--out", tmp_path / "out", "--gtin", "6291041500213", code=1)
    assert "corner.yaml:2:8" in said
    assert "bad-trade-number" in said


def test_a_code_has_the_three_corners_of_a_qr_code() -> None:
    rows = qr_rows("https://id.gs1.org/01/06291041500213")
    size = len(rows)
    eye = [[1] * 7, [1, 0, 0, 0, 0, 0, 1], [1, 0, 1, 1, 1, 0, 1]]
    # Finder patterns: ISO/IEC 18004, 6.3.3.1, from memory.
    for x, y in ((0, 0), (size - 7, 0), (0, size - 7)):
        assert [list(rows[y + n][x : x + 7]) for n in range(3)] == eye
