"""Whatever a maker can get wrong: the problem's name, its place, and what it advises."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.diagnostics import CODES
from kdkit.model.resolving.resolve import MAX_PARTS
from tests.unit.model.making import problems_of

SOUND = """\
kdkit: 1
product: Box
parameters:
  width: {value: 600, min: 400, max: 1000, step: 50}
  height: 600
variants:
  wide: {width: 900}
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  left_side: {board: carcass, x: {from: 0}, y: [0, 300], z: [0, height], face: +x}
  right_side: {mirror: left_side, x: {to: width}}
  shelf: {board: carcass, x: [left_side.x1, right_side.x0], y: [0, 300], z: {from: 282}}
joints:
  - {join: shelf, to: [left_side, right_side], fittings: [{fitting: dowel-8x35}]}
fixtures:
  - {fitting: handle, on: shelf, at: [[300, 0, 290]]}
"""
LINES = SOUND.splitlines()


def test_the_sound_definition_is_sound(tmp_path: pathlib.Path) -> None:
    assert problems_of(tmp_path, SOUND) == ()


# what: (old, new, code, the characters that the caret means, a word of message or help)
BAD: dict[str, tuple[str, str, str, str | None, str]] = {
    # words and kinds
    "misspelt key": ("material:", "materiel:", "unknown-key", "materiel", "did you mean material?"),
    "a wrong check digit": (
        "product: Box",
        'product: Box\ngtin: "6291041500214"',
        "bad-trade-number",
        '"6291041500214"',
        "compare the number",
    ),
    "misspelt top key": ("joints:", "jionts:", "unknown-key", "jionts", "joints"),
    "misspelt key in a fitting": (
        "{fitting: dowel-8x35}",
        "{fitting: dowel-8x35, pich: 5}",
        "unknown-key",
        "pich",
        "pitch",
    ),
    "filled-in key": (
        "product: Box",
        "product: Box\nunit_files: {}",
        "unknown-key",
        "unit_files",
        "",
    ),
    "version": ("kdkit: 1", "kdkit: 2", "unknown-word", "2", "possible: 1"),
    "number for a text": ("product: Box", "product: 12", "wrong-type", "12", "quotes"),
    "empty title": ("product: Box", "product: ''", "missing-key", "''", "empty"),
    "title too long": ("product: Box", "product: " + "x" * 121, "text-too-long", "x" * 121, "120"),
    "control character": ("product: Box", 'product: "a\\u0007"', "bad-text", '"a\\u0007"', "0007"),
    "text direction": ("product: Box", 'product: "a\\u202Eb"', "bad-text", '"a\\u202Eb"', "202E"),
    "two lines in a title": ("product: Box", 'product: "a\\nb"', "bad-text", '"a\\nb"', "000A"),
    "list for a mapping": (
        "  wide: {width: 900}",
        "  wide: [900]",
        "wrong-type",
        "[900]",
        "mapping",
    ),
    "open question": (
        "from: 282",
        'from: "? how high"',
        "open-question",
        '"? how high"',
        "write the answer",
    ),
    "truth value for a length": ("from: 282", "from: true", "wrong-type", "true", "length"),
    "nothing for a length": (
        "[0, 300], z: {from: 282}",
        "[0, ], z: {from: 282}",
        "wrong-type",
        "[0, ]",
        "2",
    ),
    "list too long": (
        "y: [0, 300], z: {from: 282}",
        "y: [0, 3, 9], z: {from: 282}",
        "wrong-type",
        "[0, 3, 9]",
        "",
    ),
    "comma without quotes in a list": (
        "y: [0, 300], z: {from: 282}",
        "y: [0, min(300, 200)], z: {from: 282}",
        "wrong-type",
        "[0, min(300, 200)]",
        "quotes",
    ),
    "comma without quotes in a mapping": (
        "z: {from: 282}",
        "z: {from: min(300, 200)}",
        "unknown-key",
        "200)",
        "quotes",
    ),
    "unknown word": ("face: +x", "face: right", "unknown-word", "right", "+x"),
    "wrong band side": ("face: +x", "face: +x, bands: {frnt: 1}", "unknown-key", "frnt", "front"),
    "hyphen in a name": ("  shelf: {", "  the-shelf: {", "bad-name", "the-shelf", "the_shelf"),
    "name with a space": ("  shelf: {", "  a shelf: {", "bad-name", "a shelf", "letters"),
    "attribute as a name": ("  shelf: {", "  __class__: {", "bad-name", "__class__", "letters"),
    "no fitting": ("[{fitting: dowel-8x35}]", "[]", "wrong-type", "[]", "at least 1"),
    "nothing on the other side": (
        "to: [left_side, right_side]",
        "to: []",
        "empty-list",
        "[]",
        "one",
    ),
    "part of a fitting": (
        "{fitting: dowel-8x35}",
        "{count: 2}",
        "missing-key",
        "{count: 2}",
        "fitting",
    ),
    "half a dowel": (
        "{fitting: dowel-8x35}",
        "{fitting: a, count: 1.5}",
        "wrong-type",
        "1.5",
        "whole",
    ),
    "100 000 dowels": (
        "{fitting: dowel-8x35}",
        "{fitting: a, count: 100000}",
        "out-of-range",
        "100000",
        "500",
    ),
    # numbers
    "negative thickness": (
        "thickness: 18",
        "thickness: -18",
        "out-of-range",
        "-18",
        "at least 0.5",
    ),
    "thick as a wall": ("thickness: 18", "thickness: 1800", "out-of-range", "1800", "at most 300"),
    "100 m": ("x: {from: 0}", "x: {from: 100001}", "out-of-range", "100001", "mm"),
    "100 m by formula": ("x: {from: 0}", "x: {from: 500 * 500}", "out-of-range", "500 * 500", "mm"),
    "length zero": (
        "y: [0, 300], z: {from: 282}",
        "y: [5, 5], z: {from: 282}",
        "zero-size",
        "[5, 5]",
        "larger",
    ),
    "negative depth": (
        "y: [0, 300], z: {from: 282}",
        "y: [0, -30], z: {from: 282}",
        "negative-size",
        "[0, -30]",
        "larger",
    ),
    "zero by formula": ("height: 600", "height: 0", "zero-size", "[0, height]", "left_side"),
    # parameters
    "default beyond max": ("value: 600", "value: 1050", "parameter-limit", "1050", "at most 1000"),
    "default off its steps": ("value: 600", "value: 610", "parameter-limit", "610", "steps of 50"),
    "min above max": ("min: 400", "min: 2000", "parameter-limit", "2000", "larger than max"),
    "variant beyond max": (
        "{width: 900}",
        "{width: 1100}",
        "parameter-limit",
        "1100",
        "at most 1000",
    ),
    "variant of nothing": ("{width: 900}", "{widht: 900}", "unknown-parameter", "widht", "width"),
    "step of zero": ("step: 50", "step: 0", "out-of-range", "0", "at least 0.001"),
    "parameter by itself": (
        "height: 600",
        "height: height + 1",
        "formula-loop",
        "height + 1",
        "height",
    ),
    # formulas
    "unknown name": (
        "x: {to: width}",
        "x: {to: widht - 5}",
        "formula-name",
        "widht",
        "did you mean width?",
    ),
    "unknown side": ("[left_side.x1,", "[left_side.x2,", "formula-name", "left_side.x2", "x1"),
    "unknown panel": (
        "[left_side.x1,",
        "[left_sid.x1,",
        "formula-name",
        "left_sid",
        "left_side.x1",
    ),
    "panel instead of a side": (
        "[left_side.x1,",
        "[left_side,",
        "formula-name",
        "left_side",
        "left_side.x0",
    ),
    "attribute": (
        "x: {to: width}",
        "x: {to: width.__class__}",
        "formula-name",
        "width.__class__",
        "parameters",
    ),
    "call": ("x: {to: width}", 'x: {to: "open(1)"}', "formula-name", "open", "use abs"),
    "power": ("x: {to: width}", "x: {to: 9 ** 9}", "formula-syntax", "*", ""),
    "decimal comma": (
        "z: {from: 282}",
        'z: {from: "28,5"}',
        "formula-syntax",
        ",",
        "decimal point",
    ),
    "unit": ("z: {from: 282}", "z: {from: 28mm}", "formula-syntax", "mm", "leave the unit out"),
    "division by zero": (
        "z: {from: 282}",
        "z: {from: 5 / (1 - 1)}",
        "formula-arithmetic",
        "/",
        "zero",
    ),
    "overflow": ("z: {from: 282}", "z: {from: 1e9 * 1e9}", "formula-arithmetic", "*", "beyond"),
    "too deep": (
        "z: {from: 282}",
        "z: {from: " + "(" * 99 + "1" + ")" * 99 + "}",
        "formula-too-long",
        "(",
        "",
    ),
    "loop": (
        "y: [0, 300], z: {from: 282}",
        "y: [0, 300], z: {from: shelf.z1 - 5}",
        "formula-loop",
        "shelf.z1 - 5",
        "shelf.z1",
    ),
    # panels
    "no board": (
        "shelf: {board: carcass, ",
        "shelf: {",
        "missing-key",
        LINES[12].split(": ", 1)[1].replace("board: carcass, ", ""),
        "board",
    ),
    "unknown board": (
        "shelf: {board: carcass",
        "shelf: {board: carcas",
        "unknown-board",
        "carcas",
        "carcass",
    ),
    "no axis": (
        ", y: [0, 300], z: {from: 282}",
        ", z: {from: 282}",
        "missing-key",
        None,
        "needs y",
    ),
    "two thin axes": (
        "y: [0, 300], z: {from: 282}",
        "y: {to: 5}, z: {from: 282}",
        "wrong-axis",
        "{from: 282}",
        "both ends",
    ),
    "no thin axis": ("z: {from: 282}", "z: [282, 301]", "wrong-axis", None, "one end"),
    "not its board's thickness": (
        "z: {from: 282}",
        "z: [281, 300], face: +z",
        "thickness-differs",
        "[281, 300]",
        "one end",
    ),
    "neither end": ("z: {from: 282}", "z: {}", "missing-key", "{}", "from"),
    "face along the board": (
        "z: {from: 282}",
        "z: {from: 282}, face: +x",
        "wrong-axis",
        "+x",
        "+z or -z",
    ),
    "grain through the board": (
        "z: {from: 282}",
        "z: {from: 282}, grain: z",
        "wrong-axis",
        "z",
        "thickness",
    ),
    "band on a face": (
        "z: {from: 282}",
        "z: {from: 282}, bands: {top: 1}",
        "wrong-axis",
        "top",
        "face or back",
    ),
    "negative band": (
        "z: {from: 282}",
        "z: {from: 282}, bands: {front: -1}",
        "out-of-range",
        "-1",
        "at least 0",
    ),
    "crossing outline": (
        "x: [left_side.x1, right_side.x0], y: [0, 300], z",
        "outline: [[0, 0], [9, 9], [9, 0], [0, 9]], z",
        "bad-outline",
        "[[0, 0], [9, 9], [9, 0], [0, 9]]",
        "itself",
    ),
    "corner twice": (
        "x: [left_side.x1, right_side.x0], y: [0, 300], z",
        "outline: [[0, 0], [90, 0], [90, 90], [0, 0]], z",
        "bad-outline",
        "[0, 0]",
        "repeat",
    ),
    "outline beyond its span": (
        "y: [0, 300], z: {from: 282}",
        "y: [0, 300], z: {from: 282}, outline: [[18, 0], [582, 0], [582, 250]]",
        "bad-outline",
        "[0, 300]",
        "outline",
    ),
    "notch through everything": (
        "z: {from: 282}",
        "z: {from: 282}, notches: [{at: [front], x: [100, 200], y: 400}]",
        "bad-notch",
        "{at: [front], x: [100, 200], y: 400}",
        "apart",
    ),
    "notch beside the panel": (
        "z: {from: 282}",
        "z: {from: 282}, notches: [{at: [front], x: [700, 800], y: 40}]",
        "bad-notch",
        "{at: [front], x: [700, 800], y: 40}",
        "nothing",
    ),
    "bevel too steep": (
        "z: {from: 282}",
        "z: {from: 282}, bevels: {left: 75}",
        "bad-bevel",
        "75",
        "1 to 60",
    ),
    "bevel of a broad side": (
        "z: {from: 282}",
        "z: {from: 282}, bevels: {top: 45}",
        "wrong-axis",
        "top",
        "no edge",
    ),
    "long point on an edge": (
        "z: {from: 282}",
        "z: {from: 282}, bevels: {left: {angle: 45, long: +x}}",
        "wrong-axis",
        "+x",
        "face, back, +z or -z",
    ),
    "bevel and band": (
        "z: {from: 282}",
        "z: {from: 282}, bevels: {left: 45}, bands: {left: 2}",
        "bad-bevel",
        "2",
        "bevelled and banded",
    ),
    "bore in a bevel": (
        "z: {from: 282}",
        "z: {from: 282}, bevels: {left: 45}, bores: [{face: left, y: 100, diameter: 8, depth: 20}]",
        "bad-bevel",
        "left",
        "square to the slope",
    ),
    "bevel into a notch": (
        "z: {from: 282}",
        "z: {from: 282}, bevels: {left: 45}, notches: [{at: [front, left], x: 10, y: 10}]",
        "bad-bevel",
        None,
        "into a notch",
    ),
    "bevel into a cut-out": (
        "z: {from: 282}",
        "z: {from: 282}, bevels: {left: 45}, cutouts: [{x: [30, 60], y: [100, 200]}]",
        "bad-bevel",
        None,
        "cut-out",
    ),
    "bevel at an inner corner": (
        "y: [0, 300], z: {from: 282}}",
        "z: {from: 282}, y: [0, 300], bevels: {right: 45},"
        " outline: [[18, 0], [300, 0], [300, 200], [582, 200], [582, 300], [18, 300]]}",
        "bad-bevel",
        None,
        "rest of the panel",
    ),
    "let in at a face": (
        "z: {from: 282}",
        "z: {from: 282}, let_in: {top: 6}",
        "wrong-axis",
        "top",
        "no edge",
    ),
    "let in outwards": (
        "z: {from: 282}",
        "z: {from: 282}, let_in: {left: -6}",
        "out-of-range",
        "-6",
        "inwards",
    ),
    "notch at a face": (
        "z: {from: 282}",
        "z: {from: 282}, notches: [{at: [top], x: [1, 2], y: 4}]",
        "bad-notch",
        "top",
        "edge",
    ),
    "notch without its span": (
        "z: {from: 282}",
        "z: {from: 282}, notches: [{at: [front], x: 5, y: 4}]",
        "wrong-type",
        "5",
        "span",
    ),
    "notch of nothing": (
        "z: {from: 282}",
        "z: {from: 282}, notches: [{at: [front, left], x: 0, y: 4}]",
        "zero-size",
        "0",
        "wide",
    ),
    "notch along the thickness": (
        "z: {from: 282}",
        "z: {from: 282}, notches: [{at: [front, left], x: 3, y: 4, z: 5}]",
        "wrong-axis",
        "z",
        "thickness",
    ),
    "opening at the edge": (
        "z: {from: 282}",
        "z: {from: 282}, cutouts: [{x: [18, 60], y: [5, 50]}]",
        "bad-cutout",
        "{x: [18, 60], y: [5, 50]}",
        "notches",
    ),
    "openings that meet": (
        "z: {from: 282}",
        "z: {from: 282}, cutouts: [{x: 100, y: 100, diameter: 50}, {x: 130, y: 100, diameter: 50}]",
        "bad-cutout",
        "{x: 130, y: 100, diameter: 50}",
        "meets",
    ),
    "round opening with a span": (
        "z: {from: 282}",
        "z: {from: 282}, cutouts: [{x: [100, 200], y: 100, diameter: 50}]",
        "wrong-type",
        "[100, 200]",
        "centre",
    ),
    "corners too round": (
        "z: {from: 282}",
        "z: {from: 282}, cutouts: [{x: [100, 200], y: [100, 110], corner_radius: 9}]",
        "out-of-range",
        "9",
        "fit",
    ),
    "three turns in one": (
        "z: {from: 282}",
        "z: {from: 282}, turns: [{axis: x, angle: 1080, about: [0, 0, 0]}]",
        "out-of-range",
        "1080",
        "full turn",
    ),
    "bore without a place": (
        "z: {from: 282}",
        "z: {from: 282}, bores: [{face: face, x: 5, diameter: 5, depth: 9}]",
        "missing-key",
        "{face: face, x: 5, diameter: 5, depth: 9}",
        "needs y",
    ),
    "negative bore": (
        "z: {from: 282}",
        "z: {from: 282}, bores: [{face: front, x: 5, diameter: 5, depth: -9}]",
        "negative-size",
        "-9",
        "-9 mm",
    ),
    "bore in an edge that is a face": (
        "z: {from: 282}",
        "z: {from: 282}, bores: [{face: top, x: 5, y: 5, diameter: 5, depth: 9}]",
        "wrong-axis",
        "top",
        "broad",
    ),
    "bore that meets nobody": (
        "z: {from: 282}",
        "z: {from: 282}, bores: [{face: front, x: 5, diameter: 5, depth: 9, mate: lft_side}]",
        "unknown-part",
        "lft_side",
        "left_side",
    ),
    # mirrors
    "mirror of nothing": (
        "mirror: left_side",
        "mirror: lft_side",
        "unknown-part",
        "lft_side",
        "left_side",
    ),
    "mirror nowhere": (
        "{mirror: left_side, x: {to: width}}",
        "{mirror: left_side}",
        "missing-key",
        "{mirror: left_side}",
        "needs x",
    ),
    "mirror of another size": (
        "x: {to: width}",
        "x: {to: width}, y: [0, 299]",
        "mirror-conflict",
        "[0, 299]",
        "300 mm",
    ),
    "mirror with its own face": (
        "x: {to: width}",
        "x: {to: width}, face: +x",
        "mirror-conflict",
        "face",
        "delete",
    ),
    "mirror of itself": (
        "mirror: left_side",
        "mirror: right_side",
        "mirror-loop",
        "right_side",
        "each other",
    ),
    # names of parts
    "unknown part in a joint": ("join: shelf", "join: shlf", "unknown-part", "shlf", "shelf"),
    "unknown part in a list": (
        "[left_side, right_side]",
        "[left_side, rigt_side]",
        "unknown-part",
        "rigt_side",
        "right_side",
    ),
    "joined to itself": (
        "[left_side, right_side]",
        "[left_side, shelf]",
        "join-itself",
        "[left_side, shelf]",
        "itself",
    ),
    "fixture on nothing": ("on: shelf", "on: shef", "unknown-part", "shef", "shelf"),
    "fixture in two dimensions": ("[[300, 0, 290]]", "[[300, 0]]", "wrong-type", "[300, 0]", "3"),
    "carries nothing": (
        "on: shelf, at",
        "on: shelf, carries: shef, at",
        "unknown-part",
        "shef",
        "shelf",
    ),
    "order of nothing": (
        "fixtures:",
        "order: [shlf, left_side]\nfixtures:",
        "unknown-part",
        "shlf",
        "shelf",
    ),
    "hint in an order": (
        "fixtures:",
        "order: [{before: shelf, after: left_side}]\nfixtures:",
        "wrong-type",
        "{before: shelf, after: left_side}",
        "put_before",
    ),
    "hint of nothing": (
        "fixtures:",
        "put_before: {shelf: lft}\nfixtures:",
        "unknown-part",
        "lft",
        "",
    ),
    "bought under a panel's name": (
        "joints:",
        "bought: {shelf: {shape: box, x: [0, 1], y: [0, 1], z: [0, 1], mass: 1}}\njoints:",
        "duplicate-part",
        "shelf",
        "panels",
    ),
    "title of no part": (
        "fixtures:",
        "texts: {en: {parts: {shlf: Shelf}}}\nfixtures:",
        "unknown-part",
        "shlf",
        "shelf",
    ),
    "control character in a label": (
        "fixtures:",
        'bags: {"a\\u0007": []}\nfixtures:',
        "bad-text",
        '"a\\u0007"',
        "0007",
    ),
    # spread
    "exact and spread": (
        "{fitting: dowel-8x35}",
        "{fitting: a, at: [5], pitch: 9}",
        "wrong-value",
        "pitch",
        "delete",
    ),
    "no position": ("{fitting: dowel-8x35}", "{fitting: a, at: []}", "empty-list", "[]", ""),
    "tiny pitch": (
        "{fitting: dowel-8x35}",
        "{fitting: a, pitch: 0.001}",
        "out-of-range",
        "0.001",
        "pitch",
    ),
    "negative ends": (
        "{fitting: dowel-8x35}",
        "{fitting: a, ends: -5}",
        "negative-size",
        "-5",
        "0 or more",
    ),
    "endless row": (
        "at: [[300, 0, 290]]",
        "rows: {first: 0, last: 9000, pitch: 5}",
        "too-many-parts",
        "5",
        "200",
    ),
    "row with no pitch": (
        "at: [[300, 0, 290]]",
        "rows: {first: 0, last: 90, pitch: 0}",
        "out-of-range",
        "0",
        "small",
    ),
    "row downwards": (
        "at: [[300, 0, 290]]",
        "rows: {first: 90, last: 0}",
        "negative-size",
        "0",
        "below",
    ),
    "no row at all": (
        "at: [[300, 0, 290]]",
        "rows: {first: 0, last: 90, front: null, back: null}",
        "missing-key",
        "{first: 0, last: 90, front: null, back: null}",
        "row",
    ),
    # bought parts and units
    "oval rod": (
        "joints:",
        "bought: {r: {shape: cylinder, x: [0, 99], y: [0, 5], z: [0, 6], mass: 1}}\njoints:",
        "not-round",
        "[0, 6]",
        "round",
    ),
    "tube without a wall": (
        "joints:",
        "bought: {r: {shape: tube, x: [0, 99], y: [0, 5], z: [0, 5], mass: 1}}\njoints:",
        "missing-key",
        None,
        "wall",
    ),
    "tube of wall": (
        "joints:",
        "bought: {r: {shape: tube, x: [0, 99], y: [0, 5], z: [0, 5], wall: 3, mass: 1}}\njoints:",
        "out-of-range",
        "3",
        "fit",
    ),
    "unit of nothing": (
        "joints:",
        "units: {u: {define: drwer}}\njoints:",
        "unknown-unit",
        "drwer",
        "unit_definitions",
    ),
    "unit of two things": ("joints:", "units: {u: {}}\njoints:", "missing-key", "{}", "file"),
    "a look into a unit": (
        "joints:",
        "unit_definitions: {d: {product: D}}\nunits: {u: {define: d, at: [u.x0, 0, 0]}}\njoints:",
        "formula-name",
        "u.x0",
        "unit",
    ),
}


@pytest.mark.parametrize("what", BAD)
def test_bad_input_is_one_located_problem(tmp_path: pathlib.Path, what: str) -> None:
    old, new, code, meant, word = BAD[what]
    assert SOUND.count(old) >= 1, old
    text = SOUND.replace(old, new, 1)
    found = problems_of(tmp_path, text)
    assert [p.code for p in found] == [code], found
    problem = found[0]
    assert problem.source is not None
    line = text.splitlines()[problem.source.line - 1]
    changed = {n for n, (a, b) in enumerate(zip(text.splitlines(), LINES, strict=False)) if a != b}
    assert problem.source.line - 1 in changed or old == "height: 600"
    if meant is not None:
        assert line[problem.source.column - 1 : problem.source.end_column - 1] == meant
    assert word in f"{problem.message} {problem.help}"
    assert "Input should" not in problem.message
    assert problem.message[-1] != "."


def test_all_problems_of_a_stage_come_at_once(tmp_path: pathlib.Path) -> None:
    text = SOUND.replace("product: Box", "prodct: Box").replace("+x", "up").replace("18", "thick")
    assert [p.code for p in problems_of(tmp_path, text)] == [
        "unknown-key",
        "wrong-type",
        "unknown-word",
    ]
    text = (
        SOUND.replace("to: width", "to: widht")
        .replace("join: shelf", "join: shlf")
        .replace("on: shelf", "on: shef")
        .replace("from: 282", "from: 1 / 0")
    )
    assert [p.code for p in problems_of(tmp_path, text)] == [
        "formula-name",
        "formula-arithmetic",
        "unknown-part",
        "unknown-part",
    ]


def test_a_loop_names_every_member_with_its_line(tmp_path: pathlib.Path) -> None:
    text = (
        "product: Box\nboards: {b: {material: m, thickness: 10}}\npanels:\n"
        "  p: {board: b, x: [0, r.x1 + 1], y: [0, 9], z: {from: 0}}\n"
        "  q: {board: b, x: [0, p.x1 + 1], y: [0, 9], z: {from: 0}}\n"
        "  r: {board: b, x: [0, q.x1 + 1], y: [0, 9], z: {from: 0}}\n"
        "  s: {board: b, x: [0, r.x1], y: [0, 9], z: {from: 0}}\n"
    )
    found = problems_of(tmp_path, text)
    assert [p.code for p in found] == ["formula-loop"]
    assert "p.x1 → r.x1 → q.x1 → p.x1" in found[0].message
    assert [(r.message, r.source.line) for r in found[0].related if r.source] == [
        ("p.x1 = r.x1 + 1", 4),
        ("r.x1 = q.x1 + 1", 6),
        ("q.x1 = p.x1 + 1", 5),
    ]


def test_two_loops_are_two_problems(tmp_path: pathlib.Path) -> None:
    text = SOUND.replace("height: 600", "height: height\n  a: b\n  b: a\n  c: a + height")
    assert [p.code for p in problems_of(tmp_path, text)] == ["formula-loop", "formula-loop"]


def test_what_needs_a_failed_length_stays_silent(tmp_path: pathlib.Path) -> None:
    text = SOUND.replace(
        "shelf: {board: carcass, x: [left_side.x1", "shelf: {board: x, x: [left_side.x1"
    )
    text = text.replace("x: {to: width}", "x: {to: shelf.x1 + shelf.length}")
    assert [p.code for p in problems_of(tmp_path, text)] == ["unknown-board"]


@pytest.mark.parametrize("count", [MAX_PARTS + 1, 100_000])
def test_too_many_panels(tmp_path: pathlib.Path, count: int) -> None:
    panel = "{board: b, x: [0, 9], y: [0, 9], z: {from: 0}}"
    head = "product: Box\nboards: {b: {material: m, thickness: 10}}\npanels:\n"
    if count > MAX_PARTS + 1:
        aliases = "".join(f"  p{n}: *p\n" for n in range(1, 50_000))
        text = f"{head}  p0: &p {panel}\n{aliases}"
        expected = "yaml-too-large"
    else:
        text = head + "".join(f"  p{n}: {panel}\n" for n in range(count))
        expected = "too-many-parts"
    assert [p.code for p in problems_of(tmp_path, text)] == [expected]


def test_no_product_without_parts(tmp_path: pathlib.Path) -> None:
    assert [p.code for p in problems_of(tmp_path, "product: Box\n")] == ["missing-key"]


def test_every_code_of_the_model_is_tried_somewhere() -> None:
    tried = {code for _, _, code, _, _ in BAD.values()}
    elsewhere = {"unit-turned", "unit-loop", "unknown-variant", "path-outside-folder"}
    names = list(CODES)
    model = names[names.index("bad-cutout") : names.index("zero-size") + 1]
    assert set(model) - tried - elsewhere == set()
