"""What pins alone hold comes off; whether it does is judged by hand for each case."""

from __future__ import annotations

import pathlib
from collections.abc import Sequence

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.diagnostics import Problem
from kdkit.geometry import assemble
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.pulled_apart import _Motions, check_pulled_apart
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Part, ResolvedJoint
from tests.boxes import board
from tests.cabinets import built_in, joint, resolved, use

BOX = """\
kdkit: 1
product: Box on dowels
boards: {carcass: {material: plywood-birch, thickness: 18}}
panels:
  left_side: {board: carcass, x: {from: 0}, y: [0, 250], z: [0, 400], face: +x}
  right_side: {mirror: left_side, x: {to: 600}}
  top: {board: carcass, x: [left_side.x1, right_side.x0], y: [0, 250], z: {to: 400}, face: -z}
  bottom: {board: carcass, x: [left_side.x1, right_side.x0], y: [0, 250], z: {from: 0}, face: +z}
joints:
  - {join: [top, bottom], to: [left_side, right_side], fittings: [dowel-8x35]}
"""


def told(parts: Sequence[Part], joints: Sequence[ResolvedJoint]) -> list[Problem]:
    product = resolved(parts, joints)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    inspection = Inspection(product, assembly, joinery, built_in())
    problems = list(check_pulled_apart(inspection))
    with pytest.MonkeyPatch.context() as patch:  # the linear program alone says the same
        patch.setattr(_Motions, "all_held", lambda *_: False)
        assert list(check_pulled_apart(inspection)) == problems
    return problems


def off(problems: Sequence[Problem]) -> list[str]:
    assert {p.code for p in problems} <= {"pulls-apart"}
    return sorted(p.message.split(":")[0] for p in problems)


LEFT = board("left", (0, 0, 0), (18, 300, 700))
RIGHT = board("right", (582, 0, 0), (600, 300, 700))
TOP = board("top", (18, 0, 682), (582, 300, 700))
BOTTOM = board("bottom", (18, 0, 0), (582, 300, 18))
SHELF = board("shelf", (18, 0, 300), (582, 300, 318))


def between(name: str, fitting: str) -> list[ResolvedJoint]:
    return [joint(name, "left", use(fitting)), joint(name, "right", use(fitting))]


@pytest.mark.parametrize(
    ("top", "shelf", "expected"),
    [
        # the sides go apart, and what stands between them comes off; a heavy one stays
        ("dowel-8x35", "dowel-8x35", True),
        ("dowel-8x35-glued", "dowel-8x35", False),  # the shelf is caught between the sides
        ("cam-and-bolt", "dowel-8x35", False),
        ("dowel-8x35", "cam-and-bolt", False),  # the shelf's cams hold the sides, they the top
        ("screw-4x50", "dowel-8x30", False),
    ],
)
def test_a_carcass_of_two_sides(top: str, shelf: str, expected: bool) -> None:
    parts = [LEFT, RIGHT, TOP, SHELF]
    found = off(told(parts, [*between("top", top), *between("shelf", shelf)]))
    assert found == (["top, right, shelf can each be pulled off again"] if expected else [])


def test_a_lid_on_dowels_lifts_off_whatever_it_weighs() -> None:
    base = [LEFT, RIGHT, BOTTOM]
    lid = board("lid", (0, 0, 700), (600, 300, 760))
    joints = [*between("bottom", "cam-and-bolt")]
    joints += [joint("left", "lid", use("dowel-8x35")), joint("right", "lid", use("dowel-8x35"))]
    assert off(told([*base, lid], joints)) == ["lid can be pulled off left, right"]
    joints[-1] = joint("right", "lid", use("dowel-8x35-glued"))
    assert told([*base, lid], joints) == []  # one glued end holds it: it is stiff


def test_a_board_on_one_side_only_comes_off() -> None:
    parts = [LEFT, SHELF, BOTTOM, RIGHT]
    joints = [*between("bottom", "cam-and-bolt"), joint("shelf", "left", use("dowel-8x35"))]
    short = board("shelf", (18, 0, 300), (500, 300, 318))
    assert off(told([LEFT, short, BOTTOM, RIGHT], joints)) == ["shelf can be pulled off left"]
    # up to the other side there is no room for its dowels to come out
    assert told(parts, joints) == []


def test_dowels_two_ways_round_a_corner_lock_each_other() -> None:
    """A rail dowelled into a post along x and into a rear rail along y, both in one frame."""
    post = board("post", (0, 0, 0), (60, 40, 600))
    rear = board("rear", (60, 240, 560), (360, 280, 600))
    joined = board("joined", (0, 240, 0), (60, 280, 600))
    base = board("base", (0, 0, -20), (360, 280, 0))
    rail = board("rail", (60, 0, 560), (100, 240, 600))
    held = [
        joint("post", "base", use("screw-4x50")),
        joint("joined", "base", use("screw-4x50")),
        joint("rear", "joined", use("dowel-8x35-glued")),
    ]
    one_way = joint("rail", "rear", use("dowel-8x35", count=1))
    assert len(told([post, rear, joined, base, rail], [*held, one_way])) == 1
    two_ways = [one_way, joint("rail", "post", use("dowel-8x30", count=1))]
    assert told([post, rear, joined, base, rail], [*held, *two_ways]) == []


@pytest.mark.parametrize(
    ("housing", "top", "expected"),
    [
        ("housed", "dowel-8x35", True),
        ("housed-glued", "dowel-8x35", False),
        ("housed", "cam-and-bolt", False),
    ],
)
def test_a_housing_holds_as_little_as_pins(housing: str, top: str, expected: bool) -> None:
    shelf = board("shelf", (13, 0, 300), (587, 300, 318))
    joints = [*between("top", top), *between("shelf", housing)]
    assert bool(told([LEFT, RIGHT, TOP, shelf], joints)) is expected


def test_bare_boards_say_themselves_that_nothing_holds_them() -> None:
    assert told([LEFT, RIGHT, BOTTOM], between("bottom", "bare")) == []


def test_a_strict_check_fails_on_a_box_of_dry_dowels(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "box.yaml"
    file.write_text(BOX, encoding="utf-8")
    result = CliRunner().invoke(group, ["check", "--strict", str(file)])
    assert result.exit_code == 1
    assert result.output.count("[pulls-apart]") == 1
    assert "can each be pulled off again: they are only put into each other" in result.output
    assert "weight is not counted on" in result.output
    file.write_text(BOX.replace("dowel-8x35]", "dowel-8x35-glued]"), encoding="utf-8")
    result = CliRunner().invoke(group, ["check", "--strict", str(file)])
    assert "[pulls-apart]" not in result.output
