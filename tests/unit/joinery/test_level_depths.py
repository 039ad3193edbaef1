"""Depths that differ by a hair become one, where skin and neighbours allow."""

from __future__ import annotations

import csv
import pathlib

import pypdf
import pytest
from click.testing import CliRunner

from kdkit.cli.group import group

CASE = """\
kdkit: 1
product: Shelf on pins
boards:
  carcass: {{material: particleboard-p2, thickness: {t}}}
panels:
  left:
    board: carcass
    x: {{from: 0}}
    y: [0, 300]
    z: [0, 600]
    face: +x
    bores: [{{face: face, y: 150, z: 550, diameter: 5, depth: 12.6}}{more}]
  right: {{board: carcass, x: {{to: 600}}, y: [0, 300], z: [0, 600], face: -x}}
  bottom: {{board: carcass, x: [left.x1, right.x0], y: [0, 300], z: {{from: 0}}}}
  shelf:
    {{loose: true, board: carcass, x: [left.x1 + 1, right.x0 - 1], y: [0, 290], z: {{from: 302.5}}}}
joints:
  - {{join: bottom, to: [left, right], fittings: [{{fitting: dowel-8x35, at: [60, -60]}}]}}
fixtures:
  - fitting: shelf-support-5
    on: [left, right]
    rows: {{front: 37, back: 37, first: 236, last: 332, pitch: 32}}
    carries: shelf
"""


def drilled(folder: pathlib.Path, text: str) -> tuple[list[dict[str, str]], pathlib.Path]:
    (folder / "case.yaml").write_text(text, encoding="utf-8")
    out = folder / "w"
    command = ["workshop", str(folder / "case.yaml"), "--out", str(out), "--files", "by-hand,dxf"]
    result = CliRunner().invoke(group, command)
    assert result.exit_code == 0, result.output
    rows = list(csv.DictReader((out / "stops.csv").read_text("utf-8-sig").splitlines()))
    return [row for row in rows if row["Diameter (mm)"] == "5"], out


def depths(rows: list[dict[str, str]]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for row in rows:
        found.setdefault(row["Letter"], set()).add(row["Depth stop (mm)"])
    return found


def test_one_depth_stop_where_the_skin_allows(tmp_path: pathlib.Path) -> None:
    rows, out = drilled(tmp_path, CASE.format(t=16, more=""))
    assert sorted(map(sorted, depths(rows).values())) == [["12"], ["12.6"]]
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(out / "by-hand.pdf").pages)
    assert "Depth 12 would do; bored 12.6" in " ".join(text.split())
    layers = (out / "dxf" / "layers.csv").read_text(encoding="utf-8")
    assert "face bore 5 mm diameter 12.6 mm deep" in layers


def test_no_depth_changes_where_too_little_wood_is_left(tmp_path: pathlib.Path) -> None:
    rows, _ = drilled(tmp_path, CASE.format(t=15, more=""))
    assert sorted(map(sorted, depths(rows).values())) == [["12"], ["12", "12.6"]]


@pytest.mark.parametrize("away", [1.5, 30.0])
def test_no_bore_comes_near_to_another_by_it(tmp_path: pathlib.Path, away: float) -> None:
    """A pin's bore stays short of one from the other side that begins just below it."""
    more = f", {{face: back, y: {37 + 5 + away}, z: 236, diameter: 5, depth: 3.5}}"
    rows, _ = drilled(tmp_path, CASE.format(t=19, more=more))
    wanted = [["12"], ["12", "12.6", "3.5"]] if away < 3 else [["12"], ["12.6", "3.5"]]
    assert sorted(map(sorted, depths(rows).values())) == wanted
