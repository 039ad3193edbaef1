"""Messages as people meet them: each says what is the matter, and not something near it."""

from __future__ import annotations

import pathlib
import re

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.joinery import Joinery
from kdkit.plan.blocking.refusal import explain_stuck
from kdkit.plan.plan import Impossible
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop.drawings.title_block import thick_board

CASE = """\
kdkit: 1
product: Case with a drawer
boards: {b: {material: plywood-birch, thickness: 18}}
panels:
  left: {board: b, x: {from: 0}, y: [0, DEEP], z: [0, 300], face: +x}
  right: {mirror: left, x: {to: 500}}
  low: {board: b, x: [left.x1, right.x0], y: [0, DEEP], z: {from: 0}}
  drawer_left: {board: b, x: {from: AT}, y: [0, DEEP], z: [60, 200]}
  drawer_right: {board: b, x: {to: 500 - AT}, y: [0, DEEP], z: [60, 200]}
  drawer_back: {board: b, x: [drawer_left.x1, drawer_right.x0], y: {to: DEEP}, z: [60, 200]}
joints:
  - {join: low, to: [left, right], fittings: [dowel-8x35]}
  - {join: drawer_back, to: [drawer_left, drawer_right], fittings: [dowel-8x35]}
  - {join: [drawer_left], to: left, fittings: [RUNNER]}
  - {join: [drawer_right], to: right, fittings: [RUNNER]}
"""

SHELF = """\
kdkit: 1
product: Shelf on a side
boards: {b: {material: particleboard-p2, thickness: 18}, s: {material: BOARD, thickness: THICK}}
panels:
  left: {board: b, x: {from: 0}, y: [0, 300], z: [0, 300], face: +x}
  shelf: {board: s, x: [left.x1, 400], y: [0, 300], z: {from: 100}}
joints:
  - {join: shelf, to: left, fittings: [FITTING]}
"""

POST = """\
kdkit: 1
product: Post and rail
boards: {b: {material: pine, thickness: 45}, r: {material: pine, thickness: 28}}
panels:
  post: {board: b, x: {from: 0}, y: [0, 60], z: [0, 600], face: +x}
  rail: {board: r, x: [post.x1, 500], y: {from: 16}, z: [400, 500]}
joints:
  - {join: rail, to: post, fittings: [barrel-nut-m6x60]}
"""


def told(folder: pathlib.Path, text: str, *command: str) -> str:
    """All that a command says of a definition."""
    source = folder / "product.yaml"
    source.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(group, [*(command or ("check",)), str(source)])
    return result.stderr + result.stdout


def case(at: float, deep: float, runner: str = "side-runner") -> str:
    return CASE.replace("AT", f"{at}").replace("DEEP", f"{deep}").replace("RUNNER", runner)


def test_an_opening_smaller_than_its_drawer(tmp_path: pathlib.Path) -> None:
    said = told(tmp_path, case(10, 520))
    assert "drawer_left reaches 8 mm past the surface of left: the opening is smaller" in said
    assert "degrees" not in said


def test_the_shortest_runner_is_not_told_to_be_shorter(tmp_path: pathlib.Path) -> None:
    said = told(tmp_path, case(30.5, 280, "{fitting: side-runner, options: {length: 300}}"))
    assert "[runner-too-long]" in said
    assert "there is none as short" in said
    assert "take a shorter one" not in said


def test_a_thin_board_is_told_before_where_the_bores_lie(tmp_path: pathlib.Path) -> None:
    thin = SHELF.replace("BOARD", "plywood-birch").replace("THICK", "9")
    said = told(tmp_path, thin.replace("FITTING", "cam-and-bolt"))
    assert "shelf gives 9 mm of board [fitting-thickness]" in said
    assert "begins outside" not in said


def test_a_bolt_in_a_post_that_is_too_thick_for_it(tmp_path: pathlib.Path) -> None:
    said = told(tmp_path, POST)
    assert "post gives 45 mm of board [fitting-thickness]" in said
    assert "begins outside" not in said
    assert "bore bore" not in said


def test_a_cross_bore_is_one_bore(tmp_path: pathlib.Path) -> None:
    thick = POST.replace("thickness: 45", "thickness: 28")
    nut = "{fitting: barrel-nut-m6x60, at: [%s], across: %s}"
    two = f"[{nut % (40, 0)}, {nut % (46, 0.5)}]"  # on two lines, so that the check tells it
    said = told(tmp_path, thick.replace("[barrel-nut-m6x60]", two))
    assert "cross bore" in said
    assert "bore bore" not in said


@pytest.mark.parametrize("entry", ["joints:\n", "joints:  # none yet\n", "joints: \n\n"])
def test_a_key_without_a_value_is_pointed_at_itself(entry: str, tmp_path: pathlib.Path) -> None:
    text = SHELF.partition("joints:")[0].replace("BOARD", "mdf").replace("THICK", "16")
    said = told(tmp_path, f"{text}{entry}fixtures: []\n")
    line = text.count("\n") + 1
    assert f"product.yaml:{line}:1: error: joints: expected a list" in said


def test_one_step_is_one_step(tmp_path: pathlib.Path) -> None:
    text = SHELF.replace("BOARD", "plywood-birch").replace("THICK", "18")
    said = told(tmp_path, text.replace("FITTING", "glued"), "plan")
    assert "\n1 step, " in f"\n{said}"


def test_a_tube_sags_under_whatever_hangs_on_it(tmp_path: pathlib.Path) -> None:
    tube = """\
kdkit: 1
product: Desk with a tube between its legs
boards: {b: {material: plywood-birch, thickness: 18}}
panels:
  left: {board: b, x: {from: 0}, y: [0, 500], z: [0, 700], face: +x}
  right: {mirror: left, x: {to: 1600}}
  top: {board: b, x: [0, 1600], y: [0, 500], z: {from: 700}}
bought:
  tube: {shape: tube, wall: 1.5, x: [21, 1579], y: [300, 325], z: [387, 412], mass: 1}
joints:
  - {join: [left, right], to: top, fittings: [dowel-8x35]}
  - {join: tube, to: [left, right], fittings: [rail-socket-closed-25]}
"""
    said = told(tmp_path, tube)
    assert "[rail-unsupported]" in said
    assert "clothes" not in said.partition("[rail-unsupported]")[0].splitlines()[-1]


@pytest.mark.parametrize(
    ("titles", "shown"),
    [
        (("L-shaped shelf", "Left side"), ("L-shaped shelf", "left side")),
        (("Boden", "Linke Seite"), ("Boden", "Linke Seite")),
    ],
)
def test_titles_keep_the_letters_that_are_large_for_a_reason(
    titles: tuple[str, str], shown: tuple[str, str], tmp_path: pathlib.Path
) -> None:
    text = SHELF.replace("BOARD", "plywood-birch").replace("THICK", "18")
    text = text.replace("shelf: {", f"shelf: {{title: {titles[0]}, ")
    text = text.replace("left: {", f"left: {{title: {titles[1]}, ", 1)
    out = tmp_path / "out"
    told(tmp_path, text.replace("FITTING", "dowel-8x35"), "build", "--out", str(out))
    page = (out / "manual.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    steps = page.partition('id="step-1"')[2] or page.partition("Step 1")[2]
    for title in shown:
        assert title.split()[0] + " " in steps or title.split()[0] + "<" in steps
    assert "l-shaped" not in page
    assert "linke Seite" not in page
    assert "boden" not in page


def test_a_heavy_top_is_not_called_its_light_cheek(tmp_path: pathlib.Path) -> None:
    text = """\
kdkit: 1
product: Bench top on a cheek
boards:
  b: {material: particleboard-p2, thickness: 38}
  c: {material: particleboard-p2, thickness: 18}
panels:
  top: {title: Top, board: b, x: [0, 1400], y: [0, 480], z: {to: 450}, face: +z}
  cheek: {title: Left cheek, board: c, x: {from: 30}, y: [40, 440], z: [0, top.z0], face: +x}
joints:
  - {join: cheek, to: top, fittings: [dowel-8x35]}
"""
    out = tmp_path / "out"
    told(tmp_path, text, "build", "--out", str(out))
    page = (out / "manual.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    said = re.findall(r"are needed:\s+(\w+)\s+\w\s+weighs", re.sub(r"<[^>]*>", " ", page))
    assert said == ["top"]


def test_an_edge_without_a_name_has_no_article(tmp_path: pathlib.Path) -> None:
    text = """\
kdkit: 1
product: Shelf with a cut corner
boards: {b: {material: particleboard-p2, thickness: 18}}
panels:
  shelf:
    board: b
    z: {from: 0}
    outline: [[0, 0], [300, 0], [400, 100], [400, 300], [0, 300]]
    bores: [{face: face, x: 347, y: 55, diameter: 8, depth: 10}]
"""
    said = told(tmp_path, text)
    assert "mm from edge 2" in said
    assert "the edge 2" not in said


def test_a_boards_thickness_is_said_once() -> None:
    messages = load_messages("en")
    assert thick_board(messages, "Oak 30", 30) == thick_board(messages, "Oak", 30) == "Oak, 30 mm"
    assert thick_board(messages, "Oak, 30 mm", 30) == "Oak, 30 mm"
    assert thick_board(messages, "Oak 130", 30) == "Oak 130, 30 mm"


def test_a_refusal_reads_forwards_and_in_lines(tmp_path: pathlib.Path) -> None:
    text = """\
kdkit: 1
product: Case
boards: {b: {material: plywood-birch, thickness: 18}, t: {material: hardboard, thickness: 3}}
panels:
  bottom: {title: Bottom, board: b, x: [18, 582], y: [0, 300], z: {from: 0}}
  right: {title: Right side, board: b, x: {to: 600}, y: [0, 300], z: [0, 600]}
  top: {title: Top, board: b, x: [18, 582], y: [0, 300], z: {to: 600}}
  left: {title: Left side, board: b, x: {from: 0}, y: [0, 300], z: [0, 600]}
  back: {title: Back, board: t, x: [11, 589], y: {from: 280}, z: [11, 589]}
joints:
  - {join: [bottom, top], to: [left, right], fittings: [dowel-8x35]}
  - {join: back, to: [bottom, right, top, left], fittings: [back-in-groove]}
order: [left, bottom, top, right, back]
"""
    said = told(tmp_path, text)
    assert (
        "\n  it cannot come to the left, for it must be able to go back the way it came:"
        " Back stands in the groove of Right side and cannot move to the right\n"
    ) in said
    assert "\\x0a" not in said


def test_help_speaks_of_pins_only_where_there_are_some() -> None:
    """Three bars woven through each other, joined by nothing that holds."""
    proof = Impossible(parts=("a", "b"), loops=(), motion_class="two hands")
    nothing = Joinery(joints=(), fixtures=(), bores=(), grooves=(), fasteners=())
    help = explain_stuck(proof, {"a": "A", "b": "B"}, nothing).help
    assert "pin" not in help
    assert "groove" not in help
