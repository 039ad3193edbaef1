"""Which way round a part goes, told where it could go in wrongly."""

from __future__ import annotations

import pathlib
import re

import pytest

from kdkit.pipeline import Request, check
from kdkit.publish.manual.right_way import RightWay
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.wording.naming import Names
from tests.product_files import results_of

EXAMPLES = pathlib.Path(__file__).parents[4] / "examples"


def right_way(results: Results) -> RightWay:
    messages = load_messages("en")
    names = Names(results.resolved, results.catalogue, results.schedules, messages, {})
    return RightWay(results, names, messages)


@pytest.fixture(scope="module")
def bookcase() -> Results:
    return results_of("bookcase")


@pytest.fixture(scope="module")
def bench() -> Results:
    return results_of("hall-bench")


@pytest.mark.parametrize(
    ("part", "phrase"),
    [
        ("left_side", "the banded edges to the front and to the top, the bored side to the inside"),
        (
            "right_side",
            "the banded edges to the front and to the top, the bored side to the inside",
        ),
        ("bottom_shelf", "the banded edge to the front, the bored side to the bottom"),
        # both sides of the top are bored: cams below, the restraint's pilots above
        ("top", "the banded edge to the front, the side with the larger bores to the bottom"),
        # no bores, one band: turned over it is the same
        ("upper_shelf", "the banded edge to the front"),
        # the same from every side
        ("plinth", ""),
        ("back", ""),
    ],
)
def test_bands_and_bores_tell(bookcase: Results, part: str, phrase: str) -> None:
    assert right_way(bookcase).phrase(part) == phrase


def test_a_groove_tells_where_bands_do_not() -> None:
    writer = right_way(results_of("low-cabinet"))
    assert writer.phrase("left_side").startswith("the grooved side to the inside, ")
    assert "the groove near the back" in writer.phrase("left_side")
    assert "the groove near the back" in writer.phrase("top")


def test_a_square_post_is_told_by_its_bores(bench: Results) -> None:
    assert "as drawn" in right_way(bench).phrase("front_left_post")


def test_a_rail_that_is_bored_on_one_side(bench: Results) -> None:
    assert right_way(bench).phrase("front_rail") == "the bored side to the inside"


def test_each_part_is_told_once_and_like_parts_together(bookcase: Results) -> None:
    writer = right_way(bookcase)
    (line,) = writer.lines(["bottom_shelf", "middle_shelf", "plinth"])
    assert re.sub("<[^>]*>", "", line).startswith("2\u00a0×\u00a0D: the banded edge")
    assert writer.lines(["middle_shelf"]) == ()


THROUGH = """\
kdkit: 1
product: Stile
boards: {{pine: {{material: pine, thickness: 28}}, rail: {{material: pine, thickness: 20}}}}
panels:
  post: {{board: pine, x: {{from: 0}}, y: [0, 310], z: [0, 600], face: {face}, grain: z}}
  rail: {{board: rail, x: [28, 500], y: {{to: 290}}, z: [300, 420], face: +y, grain: x}}
joints:
  - {{join: rail, to: post, fittings: [{{fitting: {fitting}, at: [30, -30]}}]}}
"""


@pytest.mark.parametrize(
    ("fitting", "phrase"),
    [
        # through the post and as wide on both sides: there is no side with larger bores
        ("barrel-nut-m6x60", "exactly as drawn; compare the bores"),
        # through too, but a recess for the head is wider on the outside
        ("screw-5x60", "the side with the larger bores to the left, the bores as drawn"),
    ],
)
@pytest.mark.parametrize("face", ["+x", "-x"])
def test_bores_through_look_alike_from_both_sides(
    fitting: str, phrase: str, face: str, tmp_path: pathlib.Path
) -> None:
    (tmp_path / "it.yaml").write_text(THROUGH.format(fitting=fitting, face=face))
    outcome = check(Request(file=tmp_path / "it.yaml"), risks=False)
    assert outcome.results is not None, outcome.problems
    assert right_way(outcome.results).phrase("post") == phrase
