"""A product on feet: its middle well over them, told through the command line."""

from __future__ import annotations

import pathlib
import re

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

CASE = """\
kdkit: 1
product: Long box
kind: cabinet
boards: {{carcass: {{material: particleboard-p2, thickness: 18}}}}
panels:
  left: {{board: carcass, x: {{from: 0}}, y: [0, 320], z: [20, 420], face: +x}}
  right: {{mirror: left, x: {{to: 1000}}}}
  top: {{board: carcass, x: [18, 982], y: [0, 320], z: {{to: 420}}, face: -z}}
  bottom: {{board: carcass, x: [18, 982], y: [0, 320], z: {{from: 20}}, face: +z}}
joints:
  - {{join: [top, bottom], to: [left, right], fittings: [cam-and-bolt, dowel-8x35]}}
fixtures:
  - {{fitting: screw-on-foot, on: bottom, face: bottom, at: {at}}}
safety: {{wall_restraint: none}}
"""


def told(folder: pathlib.Path, at: str) -> str:
    file = folder / "box.yaml"
    file.write_text(CASE.format(at=at), encoding="utf-8")
    run = CliRunner(catch_exceptions=False).invoke(group, ["check", str(file)])
    return " ".join(run.stderr.split())


CORNERS = "[[60, 60, 20], [900, 60, 20], [60, 260, 20], [900, 260, 20]]"


@pytest.mark.parametrize(
    ("at", "said"),
    [
        # The middle of four like boards lies at y 160; the feet in front at y 60.
        ("[[60, 60, 20], [900, 60, 20]]", r"lies 100 mm outside its feet: it falls over"),
        ("[[482, 160, 20]]", r"outside its feet|lies 0 mm"),
        # 20 mm inside, 200 mm up from the floor: atan(20 / 220) is 5.2 degrees.
        (
            "[[110, 140, 20], [850, 140, 20], [482, 230, 20]]",
            r"mm inside its feet: it leans by [4-9][.0-9]*°",
        ),
    ],
)
def test_feet_that_let_it_fall(at: str, said: str, tmp_path: pathlib.Path) -> None:
    text = told(tmp_path, at)
    assert "[stands-badly]" in text, text
    assert re.search(said, text), text


def test_feet_under_the_corners(tmp_path: pathlib.Path) -> None:
    assert "stands-badly" not in told(tmp_path, CORNERS)
