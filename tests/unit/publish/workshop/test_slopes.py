"""Bores in slopes: square within what a drill holds, told in degrees beyond it."""

from __future__ import annotations

import csv
import pathlib
import re

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.pipeline import Request, check
from kdkit.publish.files.tables import render_drilling
from kdkit.publish.wording.messages import load_messages
from tests.product_files import product_file

DESK = """\
kdkit: 1
product: Slope
parameters: {{slope: 80, angle: {angle}}}
boards: {{pine: {{material: pine, thickness: {side}}}, top: {{material: pine, thickness: {top}}}}}
panels:
  left:
    board: pine
    x: {{from: 0}}
    y: [20, 500]
    z: [0, 560]
    outline: [[20, 0], [500, 0], [500, 560], [20, 560 - slope]]
    face: +x
    grain: z
  right: {{mirror: left, x: {{to: 690}}}}
  top:
    board: top
    x: [-20, 710]
    y: [0, 500]
    z: {{from: 560}}
    turns: [{{axis: x, angle: angle, about: [0, 500, 560]}}]
    grain: x
joints:
  - {{join: top, to: [left, right], fittings: [{{fitting: {fitting}, ends: 60, pitch: 150}}]}}
"""


def workshop(
    tmp_path: pathlib.Path, angle: str, fitting: str, side: int = 28, top: int = 20
) -> str:
    """Run `workshop` on a desk with a slope; return what was told."""
    (tmp_path / "it.yaml").write_text(DESK.format(angle=angle, fitting=fitting, side=side, top=top))
    run = CliRunner(catch_exceptions=False).invoke(
        group,
        ["workshop", str(tmp_path / "it.yaml"), "--out", str(tmp_path / "w"), "--files",
         "programs,dxf"],
    )  # fmt: skip
    assert run.exit_code == 0, run.output
    return " ".join(run.output.split())


def bores(tmp_path: pathlib.Path) -> list[dict[str, str]]:
    results = check(Request(file=tmp_path / "it.yaml"), risks=False).results
    assert results is not None
    text = render_drilling(results, load_messages("en")).removeprefix("\ufeff")
    return [row for row in csv.DictReader(text.splitlines()) if row["Kind"] == "bore"]


@pytest.mark.parametrize("angle", ["9.462", "atan(slope / 480)"])
def test_a_rounded_slope_keeps_its_bores_in_the_programs(
    angle: str, tmp_path: pathlib.Path
) -> None:
    """9.462 is 0.0003 degrees off the slope of 80 in 480: 0.0003 mm over the deepest bore."""
    told = workshop(tmp_path, angle, "screw-4x50")
    assert "slanted" not in told
    rows = bores(tmp_path)
    assert {row["Angle to the surface (deg)"] for row in rows} == {"90"}
    programs = "".join(p.read_text() for p in (tmp_path / "w").rglob("*.nc"))
    assert "slanted - bores" not in programs
    drawn = "".join(p.read_text() for p in (tmp_path / "w").rglob("*.dxf"))
    assert "bore" in drawn
    assert "degrees to the surface" not in drawn
    pilots = [r for r in rows if r["Purpose"] == "screw pilot"]
    (edge,) = {r["Surface"] for r in pilots}
    number = re.search(r"\d+", edge)
    assert number is not None
    (slanted,) = (tmp_path / "w").rglob(f"*-edge-{number[0]}-*.nc")
    told = " ".join(slanted.read_text().replace(")", "").replace("(", "").split())
    assert "leaning so that the edge lies level" in told
    assert "9.46 degrees - lean of the panel that brings the edge level" in told
    assert "the end of the edge nearer to the" in told


def test_a_square_edge_is_told_nothing_of_slopes(tmp_path: pathlib.Path) -> None:
    text = (product_file("bookcase")).read_text(encoding="utf-8")
    (tmp_path / "it.yaml").write_text(text, encoding="utf-8")
    run = CliRunner(catch_exceptions=False).invoke(
        group,
        ["workshop", str(tmp_path / "it.yaml"), "--out", str(tmp_path / "w"), "--files",
         "programs"],
    )  # fmt: skip
    assert run.exit_code == 0, run.output
    edges = [p.read_text() for p in (tmp_path / "w").rglob("*edge*.nc")]
    assert edges
    assert all("Panel upright." in text for text in edges)
    assert not any(re.search("slant|lean|nearer end", text) for text in edges)


def test_what_is_beyond_says_its_degrees(tmp_path: pathlib.Path) -> None:
    """By hand: a pocket screw goes in at 15 degrees to the face, so 75 off square to it."""
    told = workshop(tmp_path, "9.462", "pocket-screw-4x32", side=20, top=28)
    assert re.search(r"leave out \d+ slanted bores \(75° off square\)", told), told


STEPPED = """\
kdkit: 1
product: Stepped stand
boards: {pine: {material: pine, thickness: 24}}
panels:
  left:
    board: pine
    x: {from: 0}
    y: [0, 310]
    z: [0, 470]
    outline: [[0, 0], [310, 0], [310, 470], [160, 470], [160, 380], [0, 380]]
    face: +x
    grain: z
  right: {mirror: left, x: {to: 640}}
  tread: {board: pine, x: [0, 640], y: [0, 160], z: {from: 380}, face: +z, grain: x}
  top: {board: pine, x: [0, 640], y: [160, 310], z: {from: 470}, face: +z, grain: x}
joints:
  - {join: left, to: [tread, top], fittings: [{fitting: dowel-8x30, ends: 40}]}
  - {join: right, to: [tread, top], fittings: [{fitting: dowel-8x30, ends: 40}]}
safety: {wall_restraint: none}
"""


def test_no_program_travels_over_an_edge_that_the_panel_stands_out_beyond(
    tmp_path: pathlib.Path,
) -> None:
    """By hand: the upper edge is 90 above the lower one, and the spindle travels 20 above the
    edge that it works on: between bores of the lower edge it would run into the upper part."""
    (tmp_path / "it.yaml").write_text(STEPPED)
    run = CliRunner(catch_exceptions=False).invoke(
        group,
        [
            "workshop",
            str(tmp_path / "it.yaml"),
            "--out",
            str(tmp_path / "w"),
            "--files",
            "programs",
        ],
    )
    assert run.exit_code == 0, run.output
    made = sorted(p.name for p in (tmp_path / "w" / "programs").glob("*.nc"))
    edges = [name for name in made if "-edge-" in name]
    assert edges == ["A-edge-top-t14.nc"], made  # the upper one; the lower one is edge 2
    assert "on edges beyond which the panel stands out" in " ".join(run.output.split())
