"""What a maker types wrongly, and what is said about it: place, words, advice.

Each row changes a correct definition in one place, as a tired hand does. The message
must stand at that place, name the thing and say what to do.
"""

from __future__ import annotations

import pathlib
from collections.abc import Sequence

import pytest

from kdkit.diagnostics import Problem, Severity, render_problem
from kdkit.pipeline import Request, check

BOOKCASE = (pathlib.Path(__file__).parent.parent / "examples" / "bookcase.yaml").read_text(
    encoding="utf-8"
)
CAM = "{fitting: cam-and-bolt, ends: 60, pitch: 200, opens: -z}"
DOWEL = "{fitting: dowel-8x35, at: [110, -110]}"
PLINTH = "{fitting: dowel-8x35, at: [22, -22]}"
TOP_X = "title: Top\n    board: carcass\n    x: [left_side.x1, right_side.x0]"

# what stands there, what is typed, the code, where the caret stands (text on that line),
# words that must be in the message or the advice
MISTAKES = [
    ("    board: carcass", "    bord: carcass", "unknown-key", "bord", "board"),
    ("joints:\n", "joins:\n", "unknown-key", "joins", "joints"),
    ("    z: [0, height]\n", "   z: [0, height]\n", "yaml-syntax", "z: [0", "same column"),
    ("  - join: plinth", "   - join: plinth", "yaml-syntax", "- join: plinth", "same column"),
    ("    board: carcass\n", "", "missing-key", "left_side:", "back, carcass"),
    ("board: back\n", "board: bak\n", "unknown-board", "bak", "back"),
    ("to: [left_side,", "to: [left_sde,", "unknown-part", "left_sde", "left_side"),
    ("thickness: 18", "thickness: 1.8cm", "wrong-type", "1.8cm", "mm and have no unit: 18"),
    ("thickness: 18", "thickness: 18 mm", "wrong-type", "18 mm", "no unit: 18"),
    ("thickness: 18,", 'thickness: "18,5",', "wrong-type", '"18,5"', "decimal point: 18.5"),
    ("thickness: 18", "thickness: 18,5", "unknown-key", "5,", "18.5"),
    ("x: [2, width - 2]", "x: [2, width - 2 mm]", "formula-syntax", "mm]", "leave the unit out"),
    ("y: [0, depth - 3]", "y: [depth - 3, 0]", "negative-size", "[depth", "larger"),
    ("thickness: 18", "thickness: -18", "out-of-range", "-18", "at least 0.5"),
    ("face: +x", "face: right", "unknown-word", "right", "+x, -x"),
    ("face: +x", "face: +z", "wrong-axis", "+z", "+x or -x"),
    ("cam-and-bolt,", "cam-and-bold,", "fitting-unknown", "cam-and-bold", "cam-and-bolt?"),
    (DOWEL, "shelf-support-5", "fitting-kind", "shelf-support-5", "fixtures"),
    (DOWEL, DOWEL.replace("8x35", "10x40"), "fitting-thickness", "{fitting: dowel-10", "19 to"),
    (TOP_X, TOP_X.replace("x1,", "x1 + 5,"), "parts-apart", "join: [top", "5 mm lie between"),
    (TOP_X, TOP_X.replace("left_side.x1", "0"), "fitting-contact", "cam-and", "only touch"),
    ("  plinth:\n", "  top:\n", "yaml-duplicate-key", "top:", "first on line"),
    ("  - join: plinth", "    join: plinth", "yaml-duplicate-key", "join: plinth", "`- `"),
    ("    title: Top\n", "\ttitle: Top\n", "yaml-tab", "title: Top", "spaces"),
    ("product: Tarn", 'product: "Tarn', "yaml-syntax", "2026-11-25", "quote that is not closed"),
    ("product: Tarn", "product: Tarn:", "yaml-syntax", ": bookcase", "in quotes"),
    (PLINTH, PLINTH[:-1], "yaml-syntax", "- join: back", "`}`"),
    (PLINTH, PLINTH.replace(",", "", 1), "yaml-syntax", ": [22", "comma"),
    ("width - 2]", "width - ]", "formula-syntax", "- ]", "belongs after this"),
    ("width - 2]", "widht - 2]", "formula-name", "widht", "width"),
    ("[0, left_side.y1]", "[0, left_side.back]", "formula-name", "left_side.back", "y0, y1"),
    ("z: {to: height}", "z: {to: middle_shelf.z0 + 9}", "formula-loop", "(bottom", "top.z1"),
    ("{value: 600", "{value: 900", "parameter-limit", "900", "at most 700"),
    ("min: 400, max: 700", "min: 700, max: 400", "parameter-limit", "700", "larger than max"),
    ("x: {from: 0} ", "x: [0, 20] ", "thickness-differs", "[0, 20]", "one end only"),
    ("z: [0, height]\n", "z: [0, height, 2]\n", "wrong-type", "[0, height, 2]", "[from, to]"),
    ("    z: [0, height]\n", "", "missing-key", "left_side:", "z: [from, to]"),
    ("bands: {front: 1,", "bands: {frnt: 1,", "unknown-key", "frnt", "front"),
    ("bands: {front: 1, top", "bands: {left: 1, top", "wrong-axis", "left:", "no edge"),
    (PLINTH, PLINTH.replace("-22", "122"), "fitting-position", "122", "0 to 80 mm"),
    (DOWEL, DOWEL.replace("[110", "[60"), "bore-crosses-bore", "{fitting: cam", "move one"),
    ("particleboard-p2", "particle board", "material-unknown", "particle board", "board-p2"),
    ("loose: true", "loose: yes", "wrong-type", "yes", "true or false"),
    ("mirror: left_side", "mirror: leftside", "unknown-part", "leftside", "left_side"),
    ("carries: lower_shelf", "carries: lower", "unknown-part", "lower", "lower_shelf"),
    ("first: bottom_shelf.z1 + 96, ", "", "missing-key", "{front: 37", "first"),
    ("{width: 450}", "{widht: 450}", "unknown-parameter", "widht", "width"),
    ("wall_restraint: required", "wall_restraint: yes", "unknown-word", "yes", "required"),
    ("batch: QW-2611", "batch: 2611", "wrong-type", "2611", "quotes"),
    ("  - join: back\n", "  - join: back\n    from: top\n", "unknown-key", "from: top", "join, to"),
    (CAM, CAM.replace("-z", "down"), "unknown-word", "down", "face, back"),
    (CAM, CAM.replace("-z", "+x"), "fitting-opens", "+x", "face"),
    ("language: en", "language: english", "language-unknown", "english", "known: en"),
    ("  en:\n", "  eng:\n", "text-not-read", "eng", "`en`"),
    ("tall: {height: 1500", "tall: {height: 1600", "parameter-limit", "1600", "at most 1500"),
]


def problems_of(tmp_path: pathlib.Path, text: str) -> Sequence[Problem]:
    file = tmp_path / "typed.yaml"
    file.write_text(text, encoding="utf-8")
    return check(Request(file=file)).problems


def test_the_definition_is_right_before_it_is_spoilt(tmp_path: pathlib.Path) -> None:
    found = problems_of(tmp_path, BOOKCASE)
    assert [p for p in found if p.severity is not Severity.ADVICE] == []


@pytest.mark.parametrize(("stands", "typed", "code", "at", "says"), MISTAKES)
def test_a_mistake_is_shown_where_it_stands_with_advice(
    tmp_path: pathlib.Path, stands: str, typed: str, code: str, at: str, says: str
) -> None:
    assert stands in BOOKCASE
    text = BOOKCASE.replace(stands, typed, 1)
    found = problems_of(tmp_path, text)
    problem = next((p for p in found if p.code == code), None)
    assert problem is not None, [p.code for p in found]
    assert problem.source is not None
    line = text.split("\n")[problem.source.line - 1]
    assert line[problem.source.column - 1 :].lstrip().startswith(at), line
    assert says in f"{problem.message} {problem.help}"
    assert "Error" not in render_problem(problem)


def test_the_same_mistake_in_one_line_is_told_once(tmp_path: pathlib.Path) -> None:
    (problem,) = problems_of(tmp_path, BOOKCASE.replace("cam-and-bolt,", "cam-and-bold,", 1))
    assert "5 more like it" in problem.where


def test_a_file_that_cannot_be_read_still_shows_its_line(tmp_path: pathlib.Path) -> None:
    (problem,) = problems_of(tmp_path, BOOKCASE.replace("    title: Top\n", "\ttitle: Top\n", 1))
    shown = render_problem(problem).split("\n")
    assert "title: Top" in shown[1]
    assert "^" in shown[2]


def test_several_mistakes_are_shown_together(tmp_path: pathlib.Path) -> None:
    text = BOOKCASE
    for stands, typed in (
        ("    board: carcass", "    bord: carcass"),
        ("thickness: 18", "thickness: 1.8cm"),
        ("bands: {front: 1,", "bands: {frnt: 1,"),
        ("wall_restraint: required", "wall_restraint: yes"),
    ):
        text = text.replace(stands, typed, 1)
    assert [p.code for p in problems_of(tmp_path, text)] == [
        "wrong-type",
        "unknown-key",
        "unknown-key",
        "unknown-word",
    ]
    text = BOOKCASE
    for stands, typed in (
        ("[10, left_side.y1 - 2]", "[10, left_sid.y1 - 2]"),
        ("board: back\n", "board: bak\n"),
        ("to: [left_side,", "to: [left_sde,"),
        ("mirror: left_side", "mirror: leftside"),
        ("{width: 450}", "{widht: 450}"),
    ):
        text = text.replace(stands, typed, 1)
    assert {p.code for p in problems_of(tmp_path, text)} >= {
        "formula-name",
        "unknown-board",
        "unknown-part",
        "unknown-parameter",
    }


# One mistake of every kind in one file, each the only one about its thing: what is
# typed wrongly in form, in names, in formulas, and in what the catalogue has.
ALL_AT_ONCE = [
    ("wall_restraint: required", "wall_restraint: yes", "unknown-word"),
    ("{value: 600, min: 400,", "{value: 600, mim: 400,", "unknown-key"),
    ("{value: 1180, min", "{value: high, min", "wrong-type"),
    ("narrow: {width: 450}", "narrow: {widht: 450}", "unknown-parameter"),
    ("particleboard-p2", "particle board", "material-unknown"),
    ("material: hardboard, thickness: 3,", "material: hardboard,", "missing-key"),
    ("    face: +x\n    grain: z", "    face: right\n    grain: z", "unknown-word"),
    ("    mirror: left_side", "    mirror: leftside", "unknown-part"),
    ("x: [left_side.x1, right_side.x0]  #", "x: [left_sid.x1, right_side.x0]  #", "formula-name"),
    ("{from: (bottom_shelf.z1 +", "{from: (bottom_shelf.z1 + * ", "formula-syntax"),
    ("title: Plinth\n    board: carcass", "title: Plinth\n    board: carcas", "unknown-board"),
    ("{from: 20}  ", '{from: "? how far back"}  ', "open-question"),
    ("x: [2, width - 2]", "x: [2, width - 2, 5]", "wrong-type"),
    ("z: [plinth_height + 2,", "z: [plinth_heigth + 2,", "formula-name"),
    ("cam-and-bolt, ends: 60, pitch", "cam-and-bold, ends: 60, pitch", "fitting-unknown"),
    ("{fitting: dowel-8x35, at: [22", "{fiting: dowel-8x35, at: [22", "unknown-key"),
    ("  - join: back\n    to: [left_side, right", "  - join: bac\n    to: [left_side, right",
     "unknown-part"),
    ("      - {fitting: back-nailed}", "      - {fitting: back-naild}", "fitting-unknown"),
    ("first: bottom_shelf.z1 + 96, last", "first: bottom_shelf.z2 + 96, last", "formula-name"),
    ("carries: upper_shelf", "carries: uper_shelf", "unknown-part"),
]  # fmt: skip


def test_mistakes_of_every_kind_are_shown_together_in_order_of_line(
    tmp_path: pathlib.Path,
) -> None:
    text, expected = BOOKCASE, []
    for stands, typed, _ in ALL_AT_ONCE:
        assert stands in text, stands
        text = text.replace(stands, typed, 1)
    for _, typed, code in ALL_AT_ONCE:
        where = text.index(typed)
        line = text.count("\n", 0, where) + 1
        if "\n" in typed and code != "unknown-part":
            line = text.count("\n", 0, where + len(typed)) + 1
        if typed.startswith("    face"):
            line -= 1
        expected.append((line, code))
    found = [p for p in problems_of(tmp_path, text) if p.severity is Severity.ERROR]
    assert [(p.source.line, p.code) for p in found if p.source] == sorted(expected)


FORM = {"unknown-key", "missing-key", "wrong-type", "out-of-range", "unknown-word"}


@pytest.mark.parametrize(
    ("stands", "typed"), [(row[0], row[1]) for row in MISTAKES if row[2] in FORM]
)
def test_a_mistake_of_form_brings_no_others(
    tmp_path: pathlib.Path, stands: str, typed: str
) -> None:
    found = problems_of(tmp_path, BOOKCASE.replace(stands, typed, 1))
    assert len([p for p in found if p.severity is Severity.ERROR]) == 1


@pytest.mark.parametrize("form", ["thickness: 18", "    board: carcass\n", "  left_side:\n"])
def test_a_mistake_of_form_hides_no_wrong_name(tmp_path: pathlib.Path, form: str) -> None:
    worse = {"thickness: 18": "thickness: thick", "    board: carcass\n": "    bored: [1]\n"}
    text = BOOKCASE.replace(form, worse.get(form, "  left-side:\n"), 1)
    text = text.replace("y: {to: depth}", "y: {to: deep}", 1).replace("board: back", "board: bac")
    codes = [p.code for p in problems_of(tmp_path, text) if p.severity is Severity.ERROR]
    assert codes[1:] == ["unknown-board", "formula-name"]
    assert codes[0] in {"wrong-type", "unknown-key", "bad-name"}


@pytest.mark.parametrize(
    ("section", "typed"),
    [("panels:\n", "pannels:\n"), ("boards:\n", "bords:\n"), ("parameters:\n", "numbers:\n")],
)
def test_a_section_under_a_wrong_key_is_the_only_mistake(
    tmp_path: pathlib.Path, section: str, typed: str
) -> None:
    found = problems_of(tmp_path, BOOKCASE.replace(section, typed, 1))
    assert [p.code for p in found] == ["unknown-key"]


def test_mistakes_in_a_unit_of_its_own_file_are_told_with_those_around_it(
    tmp_path: pathlib.Path,
) -> None:
    (tmp_path / "drawer.yaml").write_text(
        "product: Drawer\n"
        "boards: {thin: {material: ply, thickness: 12}}\n"
        "panels:\n"
        "  front: {board: thin, x: [0, 400], y: {from: 0}, z: [0, 120], colour: red}\n"
        "  bottom: {board: thick, x: [0, front.x9], y: [0, 300], z: {from: 0}}\n",
        encoding="utf-8",
    )
    text = BOOKCASE.replace("to: [left_side, right_side]", "to: [left_side, drawer.front]", 1)
    text = text.replace("    board: carcass", "    board: carcas", 1)
    found = problems_of(tmp_path, f"{text}\nunits:\n  drawer: {{file: drawer.yaml}}\n")
    told = {(pathlib.Path(p.source.file).name, p.source.line, p.code) for p in found if p.source}
    assert told == {
        ("typed.yaml", BOOKCASE[: BOOKCASE.index("    board: carcass")].count("\n") + 1,
         "unknown-board"),
        ("drawer.yaml", 2, "material-unknown"),
        ("drawer.yaml", 4, "unknown-key"),
        ("drawer.yaml", 5, "unknown-board"),
    }  # fmt: skip
