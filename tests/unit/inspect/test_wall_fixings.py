"""Screws into the wall: reached, bored through what they pass, two or more; as the command says."""

from __future__ import annotations

import pathlib

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

CASE = """\
kdkit: 1
product: Wall rack
boards:
  carcass: {{material: particleboard-p2, thickness: 18}}
  back: {{material: hardboard, thickness: 4}}
panels:
  left: {{board: carcass, x: {{from: 0}}, y: [0, 200], z: [0, 320], face: +x}}
  right: {{mirror: left, x: {{to: 600}}}}
  rail: {{board: carcass, x: [18, 582], y: {{to: {rail}}}, z: [220, 320], face: -y}}
  back:
    board: back
    x: [18, 582]
    y: {{to: {back}}}
    z: [0, 320]
    let_in: {{left: 8, right: 8}}
    face: -y
    bores: [{bores}]
joints:
  - {{join: rail, to: [left, right], fittings: [connecting-screw-7x50]}}
  - {{join: back, to: [left, right], fittings: [back-in-groove]}}
fixtures:
  - {{fitting: wall-screw-through-rail, on: rail, face: back, at: {at}}}
safety: {{wall_restraint: none}}
"""
TWO = "[[110, {y}, 270], [490, {y}, 270]]"
BORE = "{{face: face, x: {}, z: 270, diameter: 8, depth: through}}"
BORES = ", ".join(BORE.format(x) for x in (110, 490))


def told(folder: pathlib.Path, rail: int, back: int, bores: str = "", at: str = TWO) -> str:
    file = folder / "rack.yaml"
    text = CASE.format(rail=rail, back=back, bores=bores, at=at.format(y=rail))
    file.write_text(text, encoding="utf-8")
    run = CliRunner(catch_exceptions=False).invoke(group, ["check", str(file)])
    return " ".join(run.stderr.split())


@pytest.mark.parametrize(
    ("rail", "back", "said"),
    [
        (200, 182, "cannot be driven: back stands right before it"),
        (200, 150, "cannot be driven: back stands 32 mm before it"),
        (180, 186, "goes through back, which lies between rail and the wall and has no bore"),
    ],
)
def test_a_rail_that_the_back_covers(
    rail: int, back: int, said: str, tmp_path: pathlib.Path
) -> None:
    text = told(tmp_path, rail, back)
    assert "[wall-screw-covered]" in text
    assert said in text
    assert "(`bores: [{face: face, x: 110, z: 270, diameter: 8, depth: through}]`)" in text


def test_a_back_that_is_bored_as_the_help_says(tmp_path: pathlib.Path) -> None:
    text = told(tmp_path, 200, 182, BORES)
    assert "wall-screw-covered" not in text
    assert "wall-screws-few" not in text


def test_one_screw_lets_it_turn(tmp_path: pathlib.Path) -> None:
    text = told(tmp_path, 200, 182, BORES, "[[110, {y}, 270]]")
    assert "[wall-screws-few]" in text
