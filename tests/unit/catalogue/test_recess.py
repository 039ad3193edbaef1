"""A recess within a recess: a plate let in, with a deeper pocket in its middle."""

from __future__ import annotations

import pathlib

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

CATALOGUE = """\
items:
  sunk-pull:
    title: Sunk pull
    material: steel
    pieces: [{kind: box, z0: -3, z1: 0, d0: 90, d1: 20}]
    sources: ["our own: common practice, no source"]
fittings:
  sunk-pull:
    title: Sunk pull
    kind: fixture
    contact: [surface]
    place: middle
    items: [{item: sunk-pull, out: +k}]
    slots:
      - {member: receiving, into: -k, along: +i, width: 20, length: 90, depth: 3,
         purpose: plate recess}
      - {member: receiving, into: -k, along: +i, width: 12, length: 60, depth: 11,
         purpose: finger recess, meets: [plate recess]}
    actions: [{do: press, item: sunk-pull, tool: hammer}]
    reversible: true
    sources: ["our own: common practice, no source"]
"""
PRODUCT = """\
kdkit: 1
product: Sliding lid
catalogues: [own.yaml]
boards: {lid: {material: mdf, thickness: 18}}
panels:
  lid: {board: lid, x: [0, 400], y: [0, 200], z: {from: 0}, face: +z}
fixtures:
  - {fitting: sunk-pull, on: lid}
"""


def check(folder: pathlib.Path, catalogue: str) -> tuple[int, str]:
    (folder / "own.yaml").write_text(catalogue, encoding="utf-8")
    file = folder / "lid.yaml"
    file.write_text(PRODUCT, encoding="utf-8")
    result = CliRunner().invoke(group, ["check", str(file)])
    return result.exit_code, result.output


def test_a_recess_within_a_recess_can_be_said(tmp_path: pathlib.Path) -> None:
    code, output = check(tmp_path, CATALOGUE)
    assert code == 0, output
    assert "slot-crosses" not in output


def test_one_that_is_not_said_is_still_told(tmp_path: pathlib.Path) -> None:
    code, output = check(tmp_path, CATALOGUE.replace(", meets: [plate recess]", ""))
    assert code == 1
    assert "[slot-crosses]" in output


@pytest.mark.parametrize(("named", "told"), [("plate reces", "plate recess"), ("nothing", "slots")])
def test_what_it_meets_is_looked_up(tmp_path: pathlib.Path, named: str, told: str) -> None:
    code, output = check(tmp_path, CATALOGUE.replace("meets: [plate recess]", f"meets: [{named}]"))
    assert code == 1
    assert told in output
