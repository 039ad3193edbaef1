"""Feet as long as the gap under them, bottoms that hang between feet, tops that look like seats."""

from __future__ import annotations

import pathlib

from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.geometry import assemble
from kdkit.inspect.seat_height import sat_on
from kdkit.model.says import Product
from tests.boxes import board
from tests.cabinets import built_in, resolved

CASE = """\
kdkit: 1
product: Long box
kind: case
boards: {{carcass: {{material: particleboard-p2, thickness: 18}}}}
panels:
  bottom: {{board: carcass, x: [0, 1300], y: [0, 320], z: {{from: {gap}}}, face: +z}}
  left: {{board: carcass, x: {{from: 0}}, y: [0, 320], z: [{low}, 420], face: +x}}
  right: {{mirror: left, x: {{to: 1300}}}}
  top: {{board: carcass, x: [18, 1282], y: [0, 320], z: {{to: 420}}, face: -z}}
joints:
  - {{join: [left, right], to: bottom, fittings: [cam-and-bolt, dowel-8x35]}}
  - {{join: top, to: [left, right], fittings: [cam-and-bolt, dowel-8x35]}}
fixtures:
  - {{fitting: screw-on-foot, on: bottom, face: bottom, at: {at}}}
safety: {{wall_restraint: none}}
"""
CORNERS = "[[60, 60, {z}], [1240, 60, {z}], [60, 260, {z}], [1240, 260, {z}]]"


def told(folder: pathlib.Path, gap: int, at: str, *, between: bool = False) -> str:
    """What check tells of it; ``between``: the sides go down to 0, the bottom between them."""
    file = folder / "box.yaml"
    text = CASE.format(gap=gap, at=at.format(z=gap), low=0 if between else gap + 18)
    if between:
        text = text.replace("x: [0, 1300]", "x: [18, 1282]")
        text = text.replace("join: [left, right], to: bottom", "join: bottom, to: [left, right]")
    file.write_text(text, encoding="utf-8")
    run = CliRunner(catch_exceptions=False).invoke(group, ["check", str(file)])
    return " ".join(run.stderr.split())


def test_a_bottom_that_stands_on_feet_is_judged_between_them(tmp_path: pathlib.Path) -> None:
    """1180 from foot to foot; one in the middle more leaves 590."""
    text = told(tmp_path, 20, CORNERS)
    assert "bottom would sag" in text
    assert "over 1180 mm" in text
    middle = CORNERS.removesuffix("]") + ", [650, 160, {z}]]"
    assert "bottom would sag" not in told(tmp_path, 20, middle)
    assert "foot-" not in text


def test_feet_shorter_than_the_gap_hang_in_the_air(tmp_path: pathlib.Path) -> None:
    """Feet of 20 under a bottom that lies 35 over the floor, the sides down to it."""
    text = told(tmp_path, 35, CORNERS, between=True)
    assert "[foot-off-floor]" in text
    assert "ends 15 mm above the floor on which the parts stand" in text


def test_one_foot_longer_than_the_gap_carries_it_all(tmp_path: pathlib.Path) -> None:
    """A foot of 20 in the middle, 10 over the floor; the sides end 10 above its end."""
    text = told(tmp_path, 10, "[[650, 160, {z}]]", between=True)
    assert "[foot-too-long]" in text
    assert "ends 10 mm below the lowest part: the product stands on 1 and rocks" in text


def looks_like_a_seat(high: float, *, over: float = 0.0, kind: str = "case") -> bool:
    parts = [
        board("left", (0, 0, 0), (18, 400, high - 18)),
        board("right", (782, 0, 0), (800, 400, high - 18)),
        board("top", (0, 0, high - 18), (800, 400, high)),
    ]
    if over:
        parts.append(board("shelf", (0, 0, high + over), (800, 400, high + over + 18)))
    product = resolved(parts)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    said = product.said.model_copy(update={"kind": (kind,)})
    assert isinstance(said, Product)
    return "top" in sat_on(assembly, said, built_in())


def test_a_low_top_looks_like_a_seat() -> None:
    """Level, 420 high, free above; neither low nor high ones, nor one with a shelf over it."""
    assert looks_like_a_seat(420)
    assert not looks_like_a_seat(280)
    assert not looks_like_a_seat(620)
    assert not looks_like_a_seat(420, over=300)
    assert looks_like_a_seat(420, over=650)
    assert not looks_like_a_seat(420, kind="chair")
