"""Small slips of a maker at the command line and in a definition: said, and said once."""

from __future__ import annotations

import os
import pathlib
import subprocess
import sys

import pytest
from click.testing import CliRunner, Result

from kdkit.cli.commands import group
from kdkit.model import Product
from kdkit.publish.typesetting.check_signs import check_signs
from tests.cabinets import built_in

BOX = """\
kdkit: 1
product: Box
boards: {b: {material: particleboard-p2, thickness: 18}}
parameters: {width: 600}
panels:
  side: {board: b, x: {from: 0}, y: [0, 300], z: [0, 400]}
  shelf: {board: b, x: [side.x1, width], y: [0, 300], z: {from: 0}}
joints: [{join: shelf, to: side, fittings: [{fitting: dowel-8x30}]}]
safety: {wall_restraint: none}
"""
ITEM = """\
items:
  peg:
    title: Peg
    mass: 0
    material: wood
    pieces: [{kind: cylinder, z0: -17, z1: 18, d0: 8}]
    sources: [our own]
"""


def call(*arguments: str) -> Result:
    result = CliRunner().invoke(group, list(arguments))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture
def box(tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> pathlib.Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "box.yaml").write_text(BOX)
    return tmp_path / "box.yaml"


def told(box: pathlib.Path, old: str, new: str) -> str:
    """Return what `check` says of the box with one place changed."""
    assert BOX.count(old) == 1
    box.write_text(BOX.replace(old, new))
    result = call("check", str(box))
    assert result.exit_code == 1
    return result.stderr


def test_a_parameter_is_set_once(box: pathlib.Path) -> None:
    result = call("check", str(box), "--set", "width=640", "--set", " width=650")
    assert result.exit_code == 2
    assert "width is given twice" in result.stderr


@pytest.mark.parametrize("empty", ["", " ", ",", " , "])
def test_an_empty_name_of_a_file_is_not_all_of_them(box: pathlib.Path, empty: str) -> None:
    result = call("workshop", str(box), "--out", "w", "--files", empty)
    assert result.exit_code == 2
    assert "no name is given" in result.stderr
    assert not pathlib.Path("w").exists()


def test_a_dash_is_no_name_for_a_new_file(box: pathlib.Path) -> None:
    pathlib.Path("list.csv").write_text("name,length,width,thickness\nTop,600,300,18\n")
    for command in (["new", "open-case", "-"], ["start", "list.csv", "-"]):
        result = call(*command)
        assert result.exit_code == 1
        assert "'-' is no name for a new file" in result.stderr
        assert not pathlib.Path("-").exists()


def test_too_many_files_are_told_once(tmp_path: pathlib.Path) -> None:
    head = "kdkit: 1\nproduct: x\nunits: "
    for n in range(53):
        used = f"{{a: {{file: c{n + 1}.yaml}}, b: {{file: c{n + 2}.yaml}}}}" if n < 51 else "{}"
        (tmp_path / f"c{n}.yaml").write_text(f"{head}{used}\n")
    result = call("check", str(tmp_path / "c0.yaml"))
    assert result.exit_code == 1
    assert result.stderr.count("are more than 50") == 1


def test_a_size_is_told_in_as_many_digits_as_it_needs(box: pathlib.Path) -> None:
    said = told(box, "y: [0, 300], z: [0, 400]", "y: [0, 0.0001], z: [0, 400]")
    assert "side is 0.0001 mm along y, from 0 to 0.0001" in said


def test_a_board_without_thickness_hides_no_side_of_its_panels(box: pathlib.Path) -> None:
    """The thickness axis cannot be judged, the other two can."""
    box.write_text(BOX.replace("thickness: 18", "thickness: -18").replace("[0, 300]", "[0, 0]"))
    said = call("check", str(box)).stderr
    assert "box.yaml:3:" in said
    assert "side is 0 mm along y, from 0 to 0" in said
    assert "shelf is 0 mm along y, from 0 to 0" in said
    assert said.count("error:") == 3


def test_nothing_weighs_nothing(box: pathlib.Path) -> None:
    bought = "bought: {rod: {shape: box, x: [0, 9], y: [0, 9], z: [0, 9], mass: 0}}\njoints:"
    assert "box.yaml:8:" in told(box, "joints:", bought)
    (box.parent / "own.yaml").write_text(ITEM)
    said = told(box, "joints:", "catalogues: [own.yaml]\njoints:")
    assert "own.yaml:4:11: error: mass: nothing that is supplied weighs 0 g" in said


def test_a_key_that_nothing_reads_is_unknown(box: pathlib.Path) -> None:
    assert "[unknown-key]" in told(box, "safety:", "pack: {nonsense: 2}\nsafety:")


def test_one_place_is_named_once_for_its_signs() -> None:
    pieces = {"key": "\u5e95"}
    peg = built_in().items["dowel-8x35"].model_copy(update={"title": "\u5e95\u677f"})
    own = built_in().model_copy(
        update={"items": {"peg": peg, "pin": peg.model_copy(update={"size": pieces["key"]})}}
    )
    (problem,) = check_signs(Product(product="\u677f"), own)
    assert [r.path for r in problem.related] == [("catalogues",)]


@pytest.mark.skipif(os.name != "posix", reason="elsewhere a folder in use cannot be deleted")
def test_a_folder_that_is_gone_is_told(box: pathlib.Path) -> None:
    gone = "import os, sys; os.mkdir('gone'); os.chdir('gone'); os.rmdir(os.getcwd()); "
    run = "from kdkit.cli import run; sys.exit(run(['check', '../box.yaml']))"
    root = pathlib.Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", gone + run],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(root)},
        timeout=300,
    )
    assert "the folder that you are in is gone" in done.stderr
