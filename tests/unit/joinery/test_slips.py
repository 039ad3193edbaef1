"""A slip in one number is told once, where it stands, and what follows from it is not."""

from __future__ import annotations

import pathlib

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

DESK = """\
kdkit: 1
product: Slope
parameters: {{slope: 80, angle: {angle}, width: {{value: {width}, min: 500, max: 900}}}}
boards: {{pine: {{material: pine, thickness: {side}}}, top: {{material: {top}}}}}
panels:
  left:
    board: pine
    x: {{from: 0}}
    y: [20, 500]
    z: [0, 560]
    outline: [[20, 0], [500, 0], [500, 560], [20, 560 - slope]]
    face: +x
    grain: z
  right: {{mirror: left, x: {{to: width}}}}
  top:
    board: top
    x: [-20, width + 20]
    y: [0, 500]
    z: {{from: 560}}
    turns: [{{axis: x, angle: angle, about: [0, 500, 560]}}]
    grain: x
joints:
  - {{join: top, to: [left, right], fittings: [{{fitting: screw-4x50, ends: 60, pitch: 150}}]}}
"""


def told(tmp_path: pathlib.Path, **slip: object) -> str:
    said = {"angle": "atan(slope / 480)", "width": 690, "side": 28, "top": "pine, thickness: 20"}
    (tmp_path / "it.yaml").write_text(DESK.format(**{**said, **slip}))
    run = CliRunner(catch_exceptions=False).invoke(group, ["check", str(tmp_path / "it.yaml")])
    return run.output


def test_without_a_slip_there_is_no_error(tmp_path: pathlib.Path) -> None:
    assert "error" not in told(tmp_path)


@pytest.mark.parametrize(
    ("slip", "message", "help"),
    [
        ({"side": 2.8}, "pine is not made in 2.8 mm", "did you mean 28?"),
        ({"top": "pine, thickness: 250"}, "pine is not made in 250 mm", "did you mean 25?"),
        ({"top": "mdf, thickness: 1.6"}, "mdf is not made in 1.6 mm", "did you mean 16?"),
        ({"top": "mdf, thickness: 1"}, "mdf is not made in 1 mm", "did you mean 10?"),
        ({"width": 7000}, "width is 7000, it must be at most 900", "change the limits under"),
    ],
    ids=lambda value: str(value) if isinstance(value, dict) else "",
)
def test_one_slip_is_one_message(
    slip: dict[str, object], message: str, help: str, tmp_path: pathlib.Path
) -> None:
    output = told(tmp_path, **slip)
    assert message in output
    assert help in output
    assert output.count(": error: ") == 1
    assert ": warning: " not in output
    assert ": advice: " not in output


def test_surfaces_that_nearly_lie_on_each_other_say_their_angle(tmp_path: pathlib.Path) -> None:
    """By hand: the slope of 80 in 480 is 9.462 degrees, so 9 is 0.46 off."""
    output = told(tmp_path, angle=9)
    assert "top and left meet only in a line or a point: their surfaces lean by 0.46°" in output
    assert "atan(rise / run)" in output
