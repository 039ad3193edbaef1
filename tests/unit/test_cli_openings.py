"""The command line on boards with openings and notches round a post, and on round parts."""

from __future__ import annotations

import json
import pathlib

import pytest
from click.testing import CliRunner, Result

from kdkit.cli.commands import group

POST = "  post: {board: p, x: [200, 245], y: {from: 200}, z: [18, 400], grain: z}\n"
ROUND = (
    "  post: {shape: cylinder, x: [202.5, 242.5], y: [202.5, 242.5], z: [18, 400],"
    " along: z, mass: 1}"
)
SQUARE = "x: [100, 345], y: [100, 345]"
AROUND = SQUARE + ", cutouts: [{x: [200, 245], y: [200, 245]}]"
PACKED = "workshop: true, fittings: [dowel-8x35-glued]"


def product(plate: str, joint: str, post: str = POST) -> str:
    """A plate that lies on the foot of a post, under its head."""
    bought = "" if post == POST else f"bought:\n{post}\n"
    return f"""\
kdkit: 1
product: Post
kind: shelf
boards: {{b: {{material: mdf, thickness: 18}}, p: {{material: pine, thickness: 45}}}}
panels:
{post if post == POST else ""}\
  foot: {{board: b, x: [0, 445], y: [0, 445], z: {{from: 0}}}}
  plate: {{board: b, z: {{from: 18}}, loose: true, {plate}}}
  head: {{board: b, x: [0, 445], y: [0, 445], z: {{from: 400}}}}
{bought}\
joints:
  - {{join: post, to: [foot, head], {joint}}}
"""


def asked(folder: pathlib.Path, command: str, *args: str) -> Result:
    file = folder / "post.yaml"
    file.write_text(product(*args), encoding="utf-8")
    return CliRunner().invoke(group, [command, str(file), *(["--json"] * (command == "plan"))])


def ways_of_the_plate(result: Result) -> list[list[float]]:
    """The directions of each move by which it goes on."""
    assert result.exit_code == 0, result.output
    (mate,) = (
        o
        for o in json.loads(result.stdout)["operations"]
        if o["kind"] == "load" and o["parts"] == ["plate"] and "post" in o["onto"]
    )
    moves = [m["way"] for m in mate["moves"]] if mate.get("moves") else [mate["direction"]]
    return [[float(c) for c in way] for way in moves]


OFF_TO_THE_LEFT = SQUARE + ", notches: [{at: [right], x: 145, y: [200, 245]}]"
# The mouth of the notch is behind, its inner end beside it: an L.
ROUND_A_CORNER = (
    "outline: [[100, 100], [345, 100], [345, 345], [300, 345], [300, 200], [200, 200],"
    " [200, 245], [255, 245], [255, 345], [100, 345]]"
)


@pytest.mark.parametrize(
    ("plate", "ways"),
    [
        (OFF_TO_THE_LEFT, [[1, 0, 0]]),
        (ROUND_A_CORNER, [[0, 1, 0], [1, 0, 0]]),
    ],
)
def test_a_notch_lets_a_plate_on_by_its_mouth_alone(
    tmp_path: pathlib.Path, plate: str, ways: list[list[float]]
) -> None:
    """Head and foot are glued to the post: over its end there is no way."""
    assert ways_of_the_plate(asked(tmp_path, "plan", plate, PACKED)) == ways


def test_a_ring_goes_on_before_the_head(tmp_path: pathlib.Path) -> None:
    loose = asked(tmp_path, "plan", AROUND, "fittings: [dowel-8x35]")
    assert loose.exit_code == 0, loose.output


@pytest.mark.parametrize(
    "opening",
    [
        "{x: 222.5, y: 222.5, diameter: 40}",
        "{x: [202.5, 302.5], y: [202.5, 242.5], corner_radius: 20}",
        "{x: [202.5, 302.5], y: [202.5, 302.5], corner_radius: 20}",
    ],
)
def test_a_rod_that_fits_a_round_or_rounded_opening_does_not_overlap_it(
    tmp_path: pathlib.Path, opening: str
) -> None:
    plate = f"{SQUARE}, cutouts: [{opening}]"
    found = asked(tmp_path, "plan", plate, "fittings: [bare]", ROUND)
    assert found.exit_code == 0, found.output


SCREWED = """\
kdkit: 1
product: Plate on one screw
kind: shelf
boards:
  b: {{material: mdf, thickness: 18}}
  f: {{material: mdf, thickness: 12}}
  q: {{material: mdf, thickness: 25}}
  p: {{material: pine, thickness: 45}}
panels:
  foot: {{board: f, x: [0, 445], y: [0, 445], z: {{from: 6}}}}
  plate: {{board: q, z: {{from: 18}}, x: [100, 345], y: [100, 345], cutouts: [{opening}]}}
  {post}
joints:
  - {{join: post, to: foot, fittings: [glued]}}
  - {{join: plate, to: foot, fittings: [{{fitting: screw-3.5x30, at: [30]}}]}}
"""


@pytest.mark.parametrize(
    ("post", "opening", "turns"),
    [
        (POST.strip(), "{x: [200, 245], y: [200, 245]}", False),
        (POST.strip(), "{x: [190, 255], y: [190, 255]}", True),
        (f"\nbought:\n{ROUND}", "{x: 222.5, y: 222.5, diameter: 40}", False),
        (f"\nbought:\n{ROUND}", "{x: [202.5, 242.5], y: [202.5, 242.5]}", False),
        (f"\nbought:\n{ROUND}", "{x: 222.5, y: 222.5, diameter: 60}", True),
    ],
)
def test_the_walls_of_an_opening_keep_a_plate_from_turning_about_its_screw(
    tmp_path: pathlib.Path, post: str, opening: str, turns: bool
) -> None:
    file = tmp_path / "plate.yaml"
    file.write_text(SCREWED.format(post=post, opening=opening), encoding="utf-8")
    said = CliRunner().invoke(group, ["check", str(file)]).output
    assert "error" not in said, said
    assert ("plate turns about an axis upright" in said) is turns


def test_a_joint_on_the_wall_of_an_opening_is_refused_as_such(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "plate.yaml"
    text = SCREWED.format(post=POST.strip(), opening="{x: [200, 245], y: [200, 245]}")
    file.write_text(text + "  - {join: plate, to: post, fittings: [glued]}\n", encoding="utf-8")
    said = CliRunner().invoke(group, ["check", str(file)]).output
    assert "plate and post touch only on the wall of an opening" in said
