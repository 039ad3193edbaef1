"""Glue is refused where it cannot hold, and what does instead is told."""

from __future__ import annotations

import pathlib

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

FACED = """\
boards:
  faced-board:
    title: Faced board
    family: particleboard
    thicknesses: [18]
    strength: [{thickness: [10, 30], density: 650}]
    grained: false
    faced: true
    sources: ["common practice, no source"]
"""
BOX = """\
kdkit: 1
product: Two boards
catalogues: [own.yaml]
boards: {{b: {{material: {0}, thickness: {1}}}, oak: {{material: oak, thickness: 18}}}}
panels:
  side: {{board: b, x: {{from: 0}}, y: [0, 300], z: [0, 400]}}
  shelf: {{board: oak, x: [{1}, 400], y: [0, 300], z: {{from: 200}}}}
joints:
  - {{join: shelf, to: side, fittings: [{2}]}}
"""


@pytest.mark.parametrize(
    ("material", "thickness", "fitting", "refused"),
    [
        ("faced-board", 18, "glued", "the face of side is faced"),
        ("faced-board", 18, "dowel-8x30-glued", ""),
        ("glass", 8, "glued", "side is glass, and no glue for wood holds on glass"),
        ("oak", 18, "glued", ""),
    ],
)
def test_what_glue_does_not_hold_on_is_refused(
    tmp_path: pathlib.Path, material: str, thickness: int, fitting: str, refused: str
) -> None:
    (tmp_path / "own.yaml").write_text(FACED, encoding="utf-8")
    file = tmp_path / "box.yaml"
    file.write_text(BOX.format(material, thickness, fitting), encoding="utf-8")
    result = CliRunner().invoke(group, ["check", str(file)])
    assert ("[cannot-be-glued]" in result.output) is bool(refused), result.output
    assert refused.replace("the face", "the") in result.output.replace("the face", "the").replace(
        "the back", "the"
    )
    if refused:
        assert result.exit_code == 1
