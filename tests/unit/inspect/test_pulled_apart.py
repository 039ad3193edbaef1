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
from kdkit.inspect.pulled_apart import check_pulled_apart
from kdkit.joinery import place_fittings
from kdkit.model.resolved import FittingPlacement, Part, ResolvedJoint
from kdkit.pipeline import Request, check
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
    return list(check_pulled_apart(Inspection(product, assembly, joinery, built_in())))


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
        joint("post", "base", use("glued")),
        joint("joined", "base", use("glued")),
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
        ("housed", "cam-and-bolt", True),  # it slides out to the front
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


def moves(problems: Sequence[Problem]) -> list[str]:
    assert {p.code for p in problems} <= {"pulls-apart", "moves-freely"}
    return [p.message.rpartition("; ")[2] for p in problems]


class TestMotionsAreNamed:
    def test_a_lid_comes_off_upwards(self) -> None:
        lid = board("lid", (0, 0, 700), (600, 300, 718))
        joints = [*between("bottom", "cam-and-bolt")]
        joints += [joint(side, "lid", use("dowel-8x35")) for side in ("left", "right")]
        assert moves(told([LEFT, RIGHT, BOTTOM, lid], joints)) == ["lid comes off upwards"]

    def test_a_plinth_is_trapped_by_the_sides_connectors(self) -> None:
        plinth = board("plinth", (18, 40, 0), (582, 58, 60))
        base = board("base", (18, 0, 60), (582, 300, 78))
        upright = [joint("plinth", "base", use("dowel-8x35"))]
        held = [joint("base", side, use("cam-and-bolt")) for side in ("left", "right")]
        parts = [LEFT, RIGHT, base, plinth]
        assert moves(told(parts, [*held, *upright])) == ["plinth comes off downwards"]
        sideways = [joint("plinth", side, use("dowel-8x35")) for side in ("left", "right")]
        assert told(parts, [*held, *sideways]) == []

    def test_a_rail_on_one_screw_at_each_end_turns(self) -> None:
        rail = board("rail", (18, 100, 600), (582, 118, 660))
        held = between("bottom", "cam-and-bolt")

        def ends(*uses: FittingPlacement) -> list[ResolvedJoint]:
            return [joint("rail", side, *uses) for side in ("left", "right")]

        parts = [LEFT, RIGHT, BOTTOM, rail]
        (said,) = moves(told(parts, [*held, *ends(use("screw-4x50", count=1))]))
        assert said == "rail turns about an axis from left to right (y = 109, z = 630)"
        assert told(parts, [*held, *ends(use("screw-4x50", at=(15, -15)))]) == []
        assert told(parts, [*held, *ends(use("glued"))]) == []

    def test_a_back_slides_out_of_a_groove_that_is_open_below(self) -> None:
        back = board("back", (10, 280, 0), (590, 284, 690))
        walls = [LEFT, RIGHT, board("top", (18, 0, 682), (582, 300, 700))]
        bottom = board("bottom", (18, 0, 0), (582, 280, 18))
        held = [*between("top", "cam-and-bolt"), *between("bottom", "cam-and-bolt")]
        grooved = [joint("back", name, use("back-in-groove")) for name in ("left", "right", "top")]
        (said,) = moves(told([*walls, bottom, back], [*held, *grooved]))
        assert said == "back comes off downwards"
        deep = board("bottom", (18, 0, 10), (582, 300, 28))
        back = board("back", (10, 280, 20), (590, 284, 690))
        grooved.append(joint("back", "bottom", use("back-in-groove")))
        assert told([*walls, deep, back], [*held, *grooved]) == []


class TestDrawers:
    @pytest.mark.parametrize("held", [False, True])
    def test_runners_do_not_hold_a_box_together(self, held: bool, tmp_path: pathlib.Path) -> None:
        text = pathlib.Path("examples/wardrobe.yaml").read_text(encoding="utf-8")
        assert "to: [left_side, right_side], fittings: [dowel-8x35-glued]" in text
        file = tmp_path / "wardrobe.yaml"
        file.write_text(text if held else text.replace("dowel-8x35-glued", "dowel-8x30", 1))
        outcome = check(Request(file=file), risks=False)
        assert outcome.results is not None, outcome.problems
        made = outcome.results
        inspection = Inspection(made.resolved, made.assembly, made.joinery, made.catalogue)
        found = list(check_pulled_apart(inspection))
        assert bool(found) is not held
