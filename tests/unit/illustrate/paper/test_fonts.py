"""The fonts that travel with kdkit: what they show, and what pages take along of them."""

from __future__ import annotations

import base64
import io
import json
import pathlib
import re

import pytest
from fontTools.ttLib import TTFont

import kdkit
from kdkit.catalogue import load_catalogue
from kdkit.illustrate.paper import fonts
from kdkit.illustrate.paper.fonts import CODE, FACES, TEXT, face_rules, signs_not_shown
from kdkit.illustrate.paper.layout import text_width
from kdkit.illustrate.paper.style import load_style
from kdkit.publish.workshop.drawings import drawing_sheet

PACKAGE = pathlib.Path(kdkit.__file__).parent
OURS = [
    *PACKAGE.glob("publish/languages/**/*.toml"),
    *PACKAGE.glob("publish/templates/*.j2"),
    *PACKAGE.glob("catalogue/data/*.yaml"),
    *PACKAGE.glob("cli/starters/*.yaml"),
]


def packed(rules: str) -> list[TTFont]:
    """Return the fonts that some rules hold."""
    found = re.findall(r"src: url\(data:font/woff2;base64,([^)]*)\)", rules)
    return [TTFont(io.BytesIO(base64.b64decode(text))) for text in found]


def test_all_words_of_our_own_can_be_shown() -> None:
    assert len(OURS) > 20
    for file in OURS:
        assert signs_not_shown(file.read_text(encoding="utf-8")) == "", file
    catalogue, _ = load_catalogue()
    assert catalogue is not None
    assert signs_not_shown(json.dumps(catalogue.model_dump(mode="json"), ensure_ascii=False)) == ""


@pytest.mark.parametrize(
    ("text", "lacking"),
    [
        ("Bücherschrank Книжный шкаф Βιβλιοθήκη 5° × ½ → Ø …", ""),
        ("本棚、棚板と棚", "本棚、板と"),
        ("e\u0301 a\u0308\u200b\u00ad☺\ufe0f\n\t", ""),  # composed, unseen, a look chosen
        ("🪑 x 🪑", "🪑"),
    ],
)
def test_signs_that_no_font_has_are_found(text: str, lacking: str) -> None:
    assert signs_not_shown(text) == lacking


def test_the_licence_stands_beside_the_fonts() -> None:
    folder = FACES[0].path.parent
    assert sorted(f.name for f in folder.iterdir()) == sorted(["LICENSE", *(f.file for f in FACES)])
    text = " ".join((folder / "LICENSE").read_text(encoding="utf-8").split())
    for face in FACES:
        with TTFont(face.path) as font:
            assert font["name"].getDebugName(1) == face.original
            assert font["name"].getDebugName(5) == "Version 2.37"
            if face is FACES[0]:  # the fullest of them
                licence = " ".join(font["name"].getDebugName(13).split())
                assert licence in text


def test_rules_hold_what_a_text_needs_and_whose_it_is() -> None:
    text = "Fit 12 × cam bolt → A"
    rules = face_rules(text)
    assert re.findall(r'font-family: "([^"]*)"; font-weight: (\w+)', rules) == [
        (TEXT, "normal"),
        (TEXT, "bold"),
    ]
    for font in packed(rules):
        assert set(map(chr, font.getBestCmap())) == {*text, *"0123456789"}
        assert "Bitstream" in font["name"].getDebugName(0)
        assert "dejavu" in font["name"].getDebugName(14).lower()
    assert len(packed(face_rules(text, (TEXT, CODE)))) == 3
    assert face_rules(text[::-1]) == rules


def test_a_sign_that_is_missing_keeps_no_rule_from_being_made() -> None:
    (plain, bold) = packed(face_rules("本 A"))
    assert "A" in map(chr, plain.getBestCmap())
    assert "A" in map(chr, bold.getBestCmap())


def test_measures_of_lettering_are_those_of_the_fonts() -> None:
    plain, bold = (TTFont(face.path) for face in FACES[:2])

    def width(font: TTFont, text: str) -> float:
        names, capitals = font.getBestCmap(), font["glyf"][font.getBestCmap()[ord("H")]].yMax
        return sum(font["hmtx"][names[ord(sign)]][0] for sign in text) / capitals

    for font in (plain, bold):
        capitals = font["glyf"][font.getBestCmap()[ord("H")]].yMax
        assert round(capitals / font["head"].unitsPerEm, 3) == 0.729
    for text, wide in (("0", 0.95), (":", 0.55), ("×", 1.15), ("M", 1.37)):
        assert round(width(bold, text), 2) == wide  # as text_width says of its source
    for text in ("12", "1 : 2", "24 ×", "1 : 10"):
        assert width(bold, text) <= text_width(text, 1.0) * 1.01
        assert width(plain, text) <= drawing_sheet.text_width(text, 1.0)


def test_the_style_names_the_font_first() -> None:
    style, _ = load_style()
    assert style is not None
    assert style.fonts == (TEXT, "sans-serif")
    css = (FACES[0].path.parent.parent / "manual.css").read_text(encoding="utf-8")
    assert set(re.findall(r'font-family: "([^"]*)"', css)) == {TEXT, CODE}


@pytest.mark.parametrize("text", ["SCHRANK", "Шкаф для", "Ντουλάπα", "خزانة", "Left", "‰ ½"])
@pytest.mark.parametrize("bold", [True, False])
def test_no_text_is_wider_than_it_is_taken_for(text: str, bold: bool) -> None:
    # Source: the advance widths in the file of DejaVu Sans 2.37, read without kdkit's reader.
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    file = next(face.path for face in FACES if face.file == name)
    with TTFont(file) as font:
        glyphs, widths = font.getBestCmap(), font["hmtx"].metrics
        drawn = sum(widths[glyphs[ord(c)]][0] for c in text) / font["glyf"]["H"].yMax
    width = text_width if bold else drawing_sheet.text_width
    assert width(text, 2.5) >= drawn * 2.5 - 1e-9


def test_signs_that_are_not_looked_up_are_in_the_fonts() -> None:
    known = fonts._known()
    assert [sign for sign in fonts._SHOWN - {"\n", "\t"} if ord(sign) not in known] == []
