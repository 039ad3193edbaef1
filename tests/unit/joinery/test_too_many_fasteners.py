"""More fasteners than have room on a run, or than one product has: told early, once."""

from __future__ import annotations

import json
import pathlib
from dataclasses import replace

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.joinery.joints import MOST_FASTENERS
from kdkit.model.resolved import FittingPlacement, RowsSpec
from tests.boxes import board
from tests.cabinets import fixture, joint, try_to_place, use

POST = board("post", (0, 0, 0), (18, 300, 1900))
SHELF = board("shelf", (18, 0, 0), (300, 18, 1900))
"""They touch along 1900."""

BOX = """\
kdkit: 1
product: Tall box
boards: {{b: {{material: particleboard-p2, thickness: 18}}}}
panels:
  post: {{board: b, x: {{from: 0}}, y: [0, 300], z: [0, 1900]}}
  shelf: {{board: b, x: [post.x1, 300], y: {{from: 0}}, z: [0, 1900]}}
joints:
  - {{join: shelf, to: post, fittings: [{fittings}]}}
safety: {{wall_restraint: none}}
"""


def told(*fittings: FittingPlacement) -> list[tuple[str, str]]:
    _, problems, _ = try_to_place([POST, SHELF], [joint("shelf", "post", *fittings)])
    return [(p.code, p.help) for p in problems if p.severity == "error"]


@pytest.mark.parametrize(
    "asked",
    [{"count": 300}, {"pitch": 7.0}, {"at": (96.0, 101.0)}, {"at": (96.0, 96.0)}],
)
def test_bores_that_stand_in_each_other_are_told_once(asked: dict[str, object]) -> None:
    # 1900 / 8 = 237.5 bores of 8 side by side
    assert told(use("dowel-8x30", **asked)) == [
        (
            "pitch-too-small",
            "ask for fewer, or move them apart: at most 237 have room on 1900 mm",
        )
    ]


def test_as_many_as_have_room_are_taken() -> None:
    assert told(use("dowel-8x30", at=tuple(8.0 * n for n in range(1, 237)))) == []


def test_what_an_earlier_entry_put_there_counts() -> None:
    once = use("dowel-8x30", count=20)
    assert told(once) == []
    assert [code for code, _ in told(once, once, once)] == ["pitch-too-small"]
    beside = use("dowel-8x30", count=20, across=1.0)
    assert told(once, beside) == []  # another line


def test_the_command_line_names_the_entry(tmp_path: pathlib.Path) -> None:
    made = tmp_path / "box.yaml"
    made.write_text(BOX.format(fittings="{fitting: dowel-8x30, count: 300}"))
    result = CliRunner().invoke(group, ["check", str(made), "--json"])
    assert result.exit_code == 1
    (problem,) = json.loads(result.stdout)["problems"]
    assert (problem["code"], problem["line"]) == ("pitch-too-small", 8)


def test_a_product_has_only_so_many() -> None:
    """Nails have no bores, so that any number finds room; the product's sum ends it."""
    many = [
        joint("shelf", "post", replace(use("back-nailed", count=2000), path=("joints", n)))
        for n in range(20)
    ]
    thin = board("shelf", (18, 0, 0), (300, 4, 1900))
    _, problems, _ = try_to_place([POST, thin], many)
    assert [(p.code, p.path) for p in problems if p.severity == "error"] == [
        ("too-many-parts", ("joints", 10))
    ]
    assert f"more than {MOST_FASTENERS} fasteners" in problems[0].message


def test_bores_of_rows_count_with_them() -> None:
    rows = RowsSpec(first=10.0, last=1800.0, pitch=1.0, front=37.0, back=37.0)
    asked = [
        replace(fixture("shelf-support-5", "post", rows=rows), path=("fixtures", n))
        for n in range(9)
    ]
    _, problems, _ = try_to_place([POST], [], asked)
    over = [p for p in problems if p.code == "too-many-parts"]
    assert [p.path for p in over] == [("fixtures", 5)]  # 2 × 1791 bores each
