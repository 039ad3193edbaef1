"""Numbers, texts and sizes that cannot be: each refused with its place and what to do.

In-process through the command, since there are many; ``test_hostile_input.py`` has the
same way in a process of its own.
"""

from __future__ import annotations

import pathlib
import re
import shutil
import tomllib

import pytest
from click.testing import CliRunner, Result

from kdkit.cli.commands import group
from kdkit.model import Product, resolve
from kdkit.publish.wording import messages
from tests.test_hostile_input import SOUND, changed


def kdkit(folder: pathlib.Path, text: str, *args: str, command: str = "check") -> Result:
    """Run a command on a definition; whatever it raises is raised here."""
    file = folder / "it.yaml"
    file.write_text(text, encoding="utf-8")
    return CliRunner(catch_exceptions=False).invoke(group, [command, str(file), *args])


def side(**said: str) -> str:
    """Return the sound definition with more said of its left side."""
    more = "".join(f", {key}: {value}" for key, value in said.items())
    return changed("z: [0, 400], face: +x}", f"z: [0, 400], face: +x{more}}}")


def bore(sizes: str) -> str:
    return side(bores=f"[{{face: face, y: 125, z: 200, {sizes}}}]")


NUMBERS = {
    "as good as nothing": (changed("width: 600", "width: 1e-300"), "nearer to zero"),
    "as good as no step": (
        changed("width: 600", "width: {value: 600, min: 0, step: 1e-9}"),
        "step is 1e-09, it must be at least 0.001",
    ),
    "a grid of nearly nothing": (
        changed("{fitting: dowel-8x35}", "{fitting: dowel-8x35, grid: 0.0001}"),
        "grid is 0.0001, it must be at least 0.1",
    ),
}
SIZES = {
    "a side of 25 m": (changed("width: 600", "width: 25000"), "at most 20000 mm"),
    "a thin side": (changed("thickness: 18", "thickness: 0.3"), "it must be at least 0.5"),
    "a board like a wall": (changed("thickness: 18", "thickness: 301"), "it must be at most 300"),
    "bands wider than their strip": (
        changed("z: {to: 400}, face: -z}", "z: {to: 400}, face: -z, bands: {all: 1}}").replace(
            "joints:",
            "  strip: {board: carcass, x: [100, 300], y: [100, 105], z: {from: 18}, "
            "bands: {front: 3, back: 3}}\njoints:",
        ),
        "the bands of strip take 6 of its 5 mm along y: nothing is left to cut",
    ),
    "a band thinner than a hair": (side(bands="{front: 0.001}"), "band of left_side is 0.001 mm"),
    "a bore thinner than a drill": (bore("diameter: 0.01, depth: 5"), "0.5 to 200 mm can be"),
    "a bore like an opening": (bore("diameter: 201, depth: 5"), "is an opening: `cutouts`"),
    "a bore like a scratch": (bore("diameter: 5, depth: 0.001"), "depth of the bore is 0.001 mm"),
    "a load like a lorry": (
        changed("wall_restraint: none", "wall_restraint: none, load_per_shelf: 5000"),
        "load_per_shelf is 5000, it must be at most 1000",
    ),
    "a load of nothing": (
        changed("wall_restraint: none", "wall_restraint: none, load_per_shelf: 0"),
        "load_per_shelf is 0, it must be above 0",
    ),
    "a part that two cannot lift": (
        changed("wall_restraint: none", "wall_restraint: none, heavy_part: 1e8"),
        "it must be at most 100",
    ),
}
TEXTS = {
    "spaces alone": ('"   "', "the text shows nothing"),
    "a filler alone": (r'"\u3164"', "the text shows nothing"),
    "a soft hyphen alone": (r'"\u00ad"', "the text shows nothing"),
    "zero width alone": (r'"\u200b\u2060"', "the text shows nothing"),
    "a mark without a letter": (r'"\u0301"', "the text shows nothing"),
    "half a surrogate": (r'"a\ud800b"', r"U\+D800 cannot be printed"),
    "a noncharacter": (r'"\ufdd0x"', r"U\+FDD0 cannot be printed"),
    "an unassigned one": (r'"\u0378x"', r"U\+0378 cannot be printed"),
    "a line separator": (r'"a\u2028b"', r"U\+2028 cannot be printed"),
    "a bell": (r'"a\u0007b"', r"U\+0007 cannot be printed"),
    "a turned one": (r'"\u202ex"', r"U\+202E cannot be printed"),
}
NAMES = {
    "wide letters": ("ｂottom", "odd form.*\n.*\n.*\n.*help: write bottom"),
    "a ligature": ("ﬁne", "odd form"),
    "a filler": ("ㅤ", "an invisible letter"),
    "a Cyrillic letter": ("bott\u043em", "cyrillic small letter o, which looks like a Latin one"),
    "large letters": ("TOP", "top and TOP differ in large and small letters alone"),
}


@pytest.mark.parametrize("name", {**NUMBERS, **SIZES})
def test_a_size_that_cannot_be_is_refused_with_its_place(name: str, tmp_path: pathlib.Path) -> None:
    text, expected = {**NUMBERS, **SIZES}[name]
    run = kdkit(tmp_path, text)
    assert run.exit_code == 1, run.output
    assert re.search(expected, run.output), run.output
    assert re.search(r"it\.yaml:\d+:\d+: error: ", run.output)


@pytest.mark.parametrize("name", TEXTS)
def test_a_text_is_held_to_the_same_rules_everywhere(name: str, tmp_path: pathlib.Path) -> None:
    written, expected = TEXTS[name]
    item = f"{{title: {written}, mass: 1, pieces: [{{kind: cylinder, z0: -3, z1: 0, d0: 5}}], "
    (tmp_path / "own.yaml").write_text(f"items:\n  peg: {item}sources: [x]}}\n", encoding="utf-8")
    run = kdkit(tmp_path, changed("product: Box", f"product: {written}"))
    own = kdkit(tmp_path, SOUND + "catalogues: [own.yaml]\n")
    for place, told in (("it.yaml:2:10", run), ("own.yaml:2:16", own)):
        assert told.exit_code == 1
        assert re.search(rf"{place}: error: .*{expected}.*\[bad-text\]", told.output), told.output


@pytest.mark.parametrize("name", NAMES)
def test_names_that_look_the_same_are_the_same(name: str, tmp_path: pathlib.Path) -> None:
    said, expected = NAMES[name]
    run = kdkit(tmp_path, SOUND.replace("bottom", said))
    assert run.exit_code == 1
    assert re.search(expected, run.output), run.output


def test_one_letter_in_two_forms_is_one_key(tmp_path: pathlib.Path) -> None:
    panel = ": {board: carcass, x: [18, 582], y: [0, 250], z: {from: 100}}\n"
    run = kdkit(tmp_path, SOUND.replace("joints:", f"  \u00e9{panel}  e\u0301{panel}joints:"))
    assert run.exit_code == 1
    assert "[yaml-duplicate-key]" in run.output


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        ("1" + "0" * 400, "found a number of 401 characters; write at most 40"),
        ("1" + "0" * 5000, "found a number of 5001 characters; write at most 40"),
        ("1e308", "is more than 1e+09"),
        ("1e-300", "nearer to zero"),
        ("nan", "is no number"),
        ("\uff11\uff18", "with a decimal point: 18"),
        ("6_00", "is no number"),
        ("18 mm", "have no unit: 18"),
        ("1,5", "with a decimal point: 1.5"),
        ("true", "expected a number, found true"),
    ],
    ids=range(10),
)
def test_the_command_line_goes_through_the_same_gate(
    number: str, expected: str, tmp_path: pathlib.Path
) -> None:
    run = kdkit(tmp_path, SOUND, "--set", f"width={number}")
    assert run.exit_code == 2
    assert expected in run.output, run.output


def test_a_product_made_in_python_goes_through_it_too() -> None:
    with pytest.raises(ValueError, match="is more than"):
        Product(product="Box", boards={"b": {"material": "mdf", "thickness": 10**400}})
    product = Product.model_validate({"product": "Box", "parameters": {"width": 600}})
    for asked in (10**400, float("nan"), "600", True):
        _, problems = resolve(product, parameters={"width": asked})  # type: ignore[dict-item]
        assert [p.path for p in problems][:1] == [("parameters", "width")]


def test_a_turn_of_a_thousandth_of_a_degree_is_no_fault(tmp_path: pathlib.Path) -> None:
    turned = "face: -z, turns: [{axis: y, angle: 0.001, about: [300, 125, 400]}]}"
    run = kdkit(tmp_path, changed("z: {to: 400}, face: -z}", f"z: {{to: 400}}, {turned}"))
    assert run.exit_code == 0, run.output


PEG = "items:\n  peg: {title: Peg, mass: 1, pieces: [{kind: cylinder, z0: -3, z1: 0, d0: 5}], "
BROKEN = {
    "a mass like a mountain": (PEG.replace("mass: 1", "mass: 1e9"), "mass is 1e\\+09.* at most"),
    "a mass below zero": (PEG.replace("mass: 1", "mass: -1"), "mass is -1, it must be at least 0"),
    "a truth as a mass": (PEG.replace("mass: 1", "mass: true"), "expected a number, found true"),
    "a text as a mass": (PEG.replace("mass: 1", 'mass: "1"'), "expected a number, found the text"),
    "a number as a truth": (PEG.replace("mass: 1", "mass: 1, supplied: 1"), "expected true or"),
    "a word that is none": (PEG.replace("cylinder", "cylindre"), "did you mean cylinder\\?"),
    "times without end": (
        "times:\n  glue: {title: x, minutes: 1e12, ",
        "2:29: error: 1e\\+12 is more than",
    ),
    "a density of nothing": (
        "boards:\n  b: {title: x, family: mdf, thicknesses: [18], grained: false, "
        "strength: [{thickness: [1, 40], density: 1e-5}], ",
        "density is 1e-05, it must be at least 20",
    ),
    "limits the wrong way round": (
        "fittings:\n  peg: {like: dowel-8x35, limits: {pitch: [30, 3]}, ",
        "30 is larger than 3",
    ),
    "a formula without a number": (
        "fittings:\n  peg: {like: dowel-8x35, bores: [{member: butting, into: +k, "
        'diameter: "8/0", depth: 5, purpose: p}], ',
        "own.yaml:2:\\d+: error: the formula divides by zero",
    ),
    "a pitch of nearly nothing": (
        "fittings:\n  peg: {like: dowel-8x35, pitch: 1e-300, ",
        "nearer to zero",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_catalogue_is_held_to_the_rules_of_a_definition(
    name: str, tmp_path: pathlib.Path
) -> None:
    entry, expected = BROKEN[name]
    (tmp_path / "own.yaml").write_text(f"{entry}sources: [x]}}\n", encoding="utf-8")
    run = kdkit(tmp_path, SOUND + "catalogues: [own.yaml]\n")
    assert run.exit_code == 1, run.output
    assert re.search(expected, run.output), run.output
    assert re.search(r"own\.yaml:\d+:\d+: error: ", run.output)


def test_definition_and_catalogue_are_not_taken_for_each_other(tmp_path: pathlib.Path) -> None:
    (tmp_path / "own.yaml").write_text(SOUND, encoding="utf-8")
    run = kdkit(tmp_path, SOUND + "catalogues: [own.yaml]\n")
    assert run.output.count("error: ") == 1
    assert "this is the definition of a product, not a catalogue" in run.output
    run = kdkit(tmp_path, PEG + "sources: [x]}\n")
    assert "it belongs into a catalogue file" in run.output


LANGUAGE = [
    ('label = "Contents"\n', "label = 3\n", r"navigation\.label: expected a text"),
    ('label = "Contents"\n', r'label = "a\u0007"' + "\n", r"navigation\.label: .*U\+0007"),
    ('label = "Contents"\n', 'label = "{nobody}"\n', "nothing fills the place {nobody}"),
    ('label = "Contents"\n', 'label = "{"\n', r"navigation\.label: "),
    ('plural = "one-other"', 'plural = "two"', "'two' is no rule"),
    ('plural = "one-other"', "plural = = 2", "not readable as TOML"),
    ('plural = "one-other"', "", r"missing: meta\.plural"),
]


def another_language(folder: pathlib.Path, text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let there be a language ``qq`` whose file holds the text."""
    shutil.copytree(str(messages.FOLDER), folder)
    (folder / "qq.toml").write_text(text, encoding="utf-8")
    monkeypatch.setattr(messages, "FOLDER", folder)


@pytest.mark.parametrize(("old", "new", "expected"), LANGUAGE, ids=range(len(LANGUAGE)))
def test_a_language_file_that_does_not_fit_is_told(
    old: str, new: str, expected: str, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    english = (messages.FOLDER / "en.toml").read_text(encoding="utf-8")
    assert old in english
    another_language(tmp_path / "languages", english.replace(old, new), monkeypatch)
    text = SOUND + "language: qq\ntexts: {qq: {title: Box}}\n"
    run = kdkit(tmp_path, text, "--out", str(tmp_path / "out"), command="build")
    assert run.exit_code == 1, run.output
    assert re.search(expected, run.output), run.output
    assert re.search(r"it\.yaml:17:\d+: error: .*\[language-bad\]", run.output), run.output


def test_what_a_language_does_not_say_english_says(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = """\
[meta]
language = "qq"
plural = "other"
lowercase_names = "no"
[navigation]
label = "Qontents"
[steps.persons]
other = "{n} qersons"
"""
    another_language(tmp_path / "languages", text, monkeypatch)
    said = SOUND + "language: qq\ntexts: {qq: {title: Box}}\n"
    run = kdkit(tmp_path, said, "--out", str(tmp_path / "out"), command="build")
    assert run.exit_code == 0, run.output
    assert re.search(r"it\.yaml:17:\d+: warning: .* more \[language-incomplete\]", run.output)
    html = (tmp_path / "out" / "manual.html").read_text(encoding="utf-8")
    assert messages.load_messages("qq").count("steps.persons", 1) == "1 qersons"
    assert "Qontents" in html
    assert str(messages.load_messages("en").text("parts.heading")) in html
    missing = messages.missing_from("qq")
    assert len(missing) > 300
    assert "steps.persons.one" not in missing  # this language has one form only
    made = messages.to_translate("qq")
    assert dict(messages._flatten(tomllib.loads(made))) == dict(
        messages._flatten(tomllib.loads(text))
    )
    todo = re.sub(r"^# (?=\S+ = )", "", made, flags=re.MULTILINE)
    (tmp_path / "languages" / "qq.toml").write_text(todo, encoding="utf-8")
    assert messages.missing_from("qq") == {}
