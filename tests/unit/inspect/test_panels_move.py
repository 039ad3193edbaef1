"""Solid wood that several joints fix across its grain, as the command tells it."""

from __future__ import annotations

import pathlib

from click.testing import CliRunner

from kdkit.cli.commands import group

TOP = """\
kdkit: 1
product: Table frame
kind: table
boards: {{oak: {{material: oak, thickness: 20}}}}
panels:
  top: {{board: oak, x: [0, 900], y: [0, 520], z: {{to: 720}}, face: +z, grain: x}}
  left: {{board: oak, x: {{from: 40}}, y: [40, 480], z: [620, 700], face: -x, grain: y}}
  front: {{board: oak, x: [60, 840], y: {{from: 40}}, z: [620, 700], face: -y, grain: x}}
  back: {{board: oak, x: [60, 840], y: {{to: 480}}, z: [620, 700], face: +y, grain: x}}
joints:
  - {{join: [front, back], to: left, fittings: [connecting-screw-7x50]}}
  - {{join: {held}, to: top, fittings: [glued]}}
"""


def told(folder: pathlib.Path, held: str) -> str:
    file = folder / "frame.yaml"
    file.write_text(TOP.format(held=held), encoding="utf-8")
    run = CliRunner(catch_exceptions=False).invoke(group, ["check", str(file)])
    return " ".join(run.stderr.split())


def test_a_top_glued_to_both_aprons_cannot_move(tmp_path: pathlib.Path) -> None:
    """By hand: white oak, held at y 50 and 470 by the side rail: 420 · 4 · 0.00365 = 6.1 mm.

    No single joint spans more than the 20 mm of an apron.
    """
    text = told(tmp_path, "[front, back]")
    assert "[wood-cannot-move]" in text
    assert "top is fixed by 2 joints over 420 mm" in text
    assert "wants to move by 6.1 mm" in text


def test_a_top_glued_to_one_apron_may_move(tmp_path: pathlib.Path) -> None:
    assert "wood-cannot-move" not in told(tmp_path, "front")


LATHS = """\
kdkit: 1
product: Bench top
boards: {{lath: {{material: beech, thickness: 40}}, batten: {{material: beech, thickness: 24}}}}
panels:
{laths}
  batten: {{board: batten, x: [100, 180], y: [0, {wide}], z: {{to: 0}}, face: -z, grain: y}}
joints:
{joints}
"""


def lath_top(folder: pathlib.Path, count: int, *, one_panel: bool) -> str:
    laths = "\n".join(
        f"  lath_{n}: {{board: lath, x: [0, 900], y: [{60 * n}, {60 * n + 60}], z: {{from: 0}},"
        " face: +z, grain: x}"
        for n in range(count)
    )
    joints = [f"  - {{join: batten, to: lath_{n}, fittings: [screw-5x60]}}" for n in range(count)]
    if one_panel:
        joints += [
            f"  - {{join: lath_{n}, to: lath_{n + 1}, fittings: [glued]}}" for n in range(count - 1)
        ]
    text = LATHS.format(laths=laths, joints="\n".join(joints), wide=60 * count)
    file = folder / "top.yaml"
    file.write_text(text, encoding="utf-8")
    run = CliRunner(catch_exceptions=False).invoke(group, ["check", str(file)])
    return " ".join(run.stderr.split())


def test_laths_glued_to_a_panel_add_up_over_a_batten(tmp_path: pathlib.Path) -> None:
    """Six laths of 60, screwed in their middles: 300 mm from the first to the last."""
    text = lath_top(tmp_path, 6, one_panel=True)
    assert "[wood-cannot-move]" in text
    assert "is fixed by 6 joints over 300 mm across its grain to batten" in text


def test_laths_that_nothing_joins_move_one_by_one(tmp_path: pathlib.Path) -> None:
    assert "wood-cannot-move" not in lath_top(tmp_path, 6, one_panel=False)
