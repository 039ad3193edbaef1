"""Two moves and tilting at the command line: the plan, its data, and a no with its check."""

from __future__ import annotations

import json
import pathlib
from collections.abc import Callable

import pytest
from click.testing import CliRunner, Result

from kdkit.cli.commands import group

Run = Callable[..., Result]


@pytest.fixture
def run() -> Run:
    def call(*args: object) -> Result:
        return CliRunner().invoke(group, [str(a) for a in args])

    return call


LIP = """kdkit: 1
product: Fenny tray
revision: A
language: en
boards:
  wood: {material: plywood-birch, thickness: 18, title: Birch plywood}
  thin: {material: plywood-birch, thickness: 12, title: Birch plywood 12}
panels:
  floor: {board: wood, x: [18, 508], y: [18, 318], z: {from: 0}, face: +z, grain: x}
  west: {board: wood, x: {from: 0}, y: [0, 336], z: [0, 98], face: +x, grain: y}
  east: {board: wood, x: {to: 526}, y: [0, 336], z: [0, 98], face: -x, grain: y}
  south: {board: wood, x: [18, 508], y: {from: 0}, z: [0, 98], face: +y, grain: x}
  north: {board: wood, x: [18, 508], y: {to: 336}, z: [0, 98], face: -y, grain: x}
  lip: {board: wood, x: [18, 68], y: [18, 318], z: {from: 30}, face: +z, grain: y}
  cover: {board: thin, x: [18, 440], y: [18, 318], z: {from: 18}, face: +z, grain: x}
joints:
  - {join: floor, to: [west, east, south, north], fittings: [{fitting: glued}], workshop: true}
  - {join: south, to: [west, east], fittings: [{fitting: glued}], workshop: true}
  - {join: north, to: [west, east], fittings: [{fitting: glued}], workshop: true}
  - {join: lip, to: [west, south, north], fittings: [{fitting: glued}], workshop: true}
  - {join: cover, to: [floor], fittings: [{fitting: glued}]}
"""


def test_a_cover_goes_in_round_a_corner(run: Run, tmp_path: pathlib.Path) -> None:
    file = tmp_path / "tray.yaml"
    file.write_text(LIP, encoding="utf-8")
    planned = run("plan", file)
    assert planned.exit_code == 0
    assert "mate cover downwards and then 54 mm to the left onto" in planned.stdout
    assert "moves considered: two hands, one straight move at a time, or where none" in (
        planned.stdout
    )
    (mate,) = (
        o
        for o in json.loads(run("plan", file, "--json").stdout)["operations"]
        if o["kind"] == "mate"
    )
    assert mate["direction"] == [-1, 0, 0]
    assert mate["moves"] == [
        {"move": "slide", "way": [0, 0, -1], "length": None},
        {"move": "slide", "way": [-1, 0, 0], "length": 54},
    ]


def test_a_no_says_what_was_tried_and_no_more(run: Run, tmp_path: pathlib.Path) -> None:
    file, folder = tmp_path / "tray.yaml", tmp_path / "out"
    file.write_text(LIP.replace("x: [18, 440]", "x: [18, 470]"), encoding="utf-8")
    refused = run("plan", file, "--out", folder)
    assert refused.exit_code == 1
    text = (folder / "impossible.txt").read_text(encoding="utf-8")
    flat = " ".join(text.split())
    assert "no single straight move takes these parts apart" in flat
    assert "tried on them too, and did not help: two straight moves in a row along 6" in flat
    proof = folder / "impossible.json"
    verified = run("verify", file, proof)
    assert verified.exit_code == 0
    assert "two moves in a row and tilting were tried too, and did not help" in verified.stdout
    said = json.loads(proof.read_text(encoding="utf-8"))
    for change, fault in (
        ({"tried": "every motion"}, "tried: it is not what was tried in vain; that is: two"),
        ({"motion_class": "two hands, two moves in a row"}, "motion_class: this check knows no"),
    ):
        forged = tmp_path / "forged.json"
        forged.write_text(json.dumps({**said, **change}), encoding="utf-8")
        rejected = run("verify", file, forged)
        assert rejected.exit_code == 1
        assert fault in rejected.stdout


@pytest.mark.parametrize("tried", ["", "two straight moves in a row along 6 directions"])
def test_a_proof_that_nothing_helps_is_refuted_by_a_plan(
    run: Run, tmp_path: pathlib.Path, tried: str
) -> None:
    """What it proves of single straight moves holds; what it says of others does not."""
    file, folder = tmp_path / "tray.yaml", tmp_path / "out"
    file.write_text(LIP.replace("x: [18, 440]", "x: [18, 470]"), encoding="utf-8")
    run("plan", file, "--out", folder)
    said = json.loads((folder / "impossible.json").read_text(encoding="utf-8"))
    file.write_text(LIP, encoding="utf-8")
    forged = tmp_path / "forged.json"
    forged.write_text(json.dumps({**said, "tried": tried}), encoding="utf-8")
    checked = run("verify", file, forged)
    assert checked.exit_code == (1 if tried else 0)
    if tried:
        assert "but there is an order with other moves" in checked.stdout


def test_it_comes_out_again_the_same_way_round(run: Run, tmp_path: pathlib.Path) -> None:
    """Along the named directions alone nothing would come out."""
    file = tmp_path / "tray.yaml"
    bare = "{join: cover, to: [floor], fittings: [{fitting: bare}]}"
    file.write_text(
        LIP.replace("{join: cover, to: [floor], fittings: [{fitting: glued}]}", bare),
        encoding="utf-8",
    )
    out = run("apart", file, "--part", "cover", "--out", tmp_path / "apart")
    assert out.exit_code == 0, out.output
    shown = run("apart", file, "--part", "cover").stdout
    assert "54 mm to the right and then upwards" in shown
    assert "downwards and then 54 mm to the left" in shown
    (page,) = (tmp_path / "apart").rglob("*.html")
    text = page.read_text(encoding="utf-8")
    assert "first about 54 mm towards the right side, then straight up." in text
