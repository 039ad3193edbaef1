from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from kdkit.illustrate.paper.figure import Area, Circle, Figure, Line, Primitive, Text
from kdkit.illustrate.paper.style import Style, load_style, parse_style, style_folder
from kdkit.illustrate.paper.svg import render_svg

SVG = "{http://www.w3.org/2000/svg}"


def style() -> Style:
    found, problems = load_style()
    assert found is not None, problems
    return found


def figure(*primitives: Primitive, title: str = "Step 1", description: str = "A box") -> Figure:
    return Figure(
        width=80, height=60.5, primitives=primitives, title=title, description=description
    )


def test_the_document_says_its_size_in_mm_and_what_it_shows() -> None:
    root = ET.fromstring(render_svg(figure(), style()))
    assert root.tag == f"{SVG}svg"
    assert (root.get("width"), root.get("height")) == ("80mm", "60.5mm")
    assert root.get("viewBox") == "0 0 80 60.5"
    assert root.get("role") == "img"
    assert root.findtext(f"{SVG}title") == "Step 1"
    assert root.findtext(f"{SVG}desc") == "A box"


def test_hostile_text_stays_text() -> None:
    hostile = '</title><script>alert("1")</script>&x;\x00\x1b\ud800'
    text = render_svg(
        figure(Text(at=(1, 2), text=hostile, size=3.5), title=hostile, description=hostile),
        style(),
    )
    root = ET.fromstring(text)
    wanted = '</title><script>alert("1")</script>&x;'
    assert root.findtext(f"{SVG}title") == wanted
    assert root.findtext(f"{SVG}desc") == wanted
    assert root.findtext(f"{SVG}text") == wanted
    assert not [e for e in root.iter() if e.tag.endswith("script")]


def test_points_are_rounded_to_a_hundredth_once() -> None:
    line = Line(points=((0.1 + 0.2, 1 / 3), (10.00499, 1 / 3), (10.0, -0.001)), pen="edge")
    root = ET.fromstring(render_svg(figure(line), style()))
    path = root.find(f"{SVG}path")
    assert path is not None
    assert path.get("d") == "M.3 .33l9.7 0 0 -.33"


def test_relative_steps_do_not_add_up_rounding() -> None:
    points = tuple((n * 0.004, 0.0) for n in range(1001))
    text = render_svg(figure(Line(points=points, pen="edge")), style())
    numbers = re.search(r'd="M0 0l([^"]*)"', text)
    assert numbers is not None
    total = sum(float(step.split()[0]) for step in re.findall(r"-?[\d.]+ -?[\d.]+", numbers[1]))
    assert total == pytest.approx(4.0)


def test_areas_holes_circles_and_text_come_out() -> None:
    root = ET.fromstring(
        render_svg(
            figure(
                Area(
                    outer=((0, 0), (10, 0), (10, 10), (0, 10)),
                    holes=(((2, 2), (4, 2), (4, 4)),),
                    tone="new-top",
                ),
                Circle(centre=(20, 20), radius=3.5, pen="label", tone="label"),
                Circle(centre=(30, 20), radius=3.5, pen="label"),
                Text(at=(20, 21.5), text="A", size=3.5, bold=True, anchor="start"),
            ),
            style(),
        )
    )
    area = root.find(f"{SVG}path")
    assert area is not None
    assert area.get("fill") == style().tones["new-top"]
    assert area.get("fill-rule") == "evenodd"
    assert (area.get("d") or "").count("z") == 2
    filled, open_ = root.findall(f"{SVG}circle")
    assert filled.get("fill") == "#ffffff"
    assert open_.get("fill") == "none"
    text = root.find(f"{SVG}text")
    assert text is not None
    assert (text.get("text-anchor"), text.get("font-weight")) == ("start", "bold")
    assert float(text.get("font-size") or 0) == pytest.approx(3.5 / 0.729, abs=0.01)


def test_what_looks_alike_shares_one_path_and_order_is_kept() -> None:
    def line(pen: str, x: float) -> Line:
        return Line(points=((x, 0.0), (x, 5.0)), pen=pen)

    text = render_svg(
        figure(line("outline", 1), line("outline", 2), line("edge", 3), line("outline", 4)),
        style(),
    )
    root = ET.fromstring(text)
    paths = [e.get("d") for e in root.iter(f"{SVG}path")]
    assert paths == ["M1 0l0 5M2 0l0 5", "M3 0l0 5", "M4 0l0 5"]


def test_names_fall_back_to_plainer_ones() -> None:
    plain = style()
    assert plain.pen("new-outline") == plain.pens["new-outline"]
    assert plain.pen("wire-guide") == plain.pens["guide"]
    assert plain.pen("no-such") == plain.pens["default"]
    assert plain.tone("ghost-top") == plain.tones["top"]
    bare, problems = parse_style('title = "Bare"\n[pens]\n[tones]\n', "here")
    assert bare is not None, problems
    assert bare.pen("anything").width == 0.25
    assert bare.tone("anything") == "#ffffff"


def test_the_pens_keep_the_hierarchy_of_lines() -> None:
    # Source: ISO 128-2: extra wide : wide : narrow = 4 : 2 : 1, widths out of one row.
    plain = style()
    row = {0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0}
    assert {pen.width for pen in plain.pens.values()} <= row
    outline, edge, guide = (plain.pens[n].width for n in ("outline", "edge", "guide"))
    assert outline / edge == pytest.approx(2, rel=0.1)
    assert edge / guide == pytest.approx(2, rel=0.1)


def brightness(colour: str) -> int:
    red, green, blue = (int(colour[n : n + 2], 16) for n in (1, 3, 5))
    assert red == green == blue, "a black-and-white print must show what the screen shows"
    return red


def test_new_parts_stand_out_by_weight_and_by_tint_without_colour() -> None:
    plain = style()
    for tone in plain.tones.values():
        brightness(tone)
    for pen in plain.pens.values():
        brightness(pen.colour)
    for tint in ("top", "front", "side", "under"):
        new = brightness(plain.tone(f"new-{tint}"))
        existing = brightness(plain.tone(f"existing-{tint}"))
        assert existing - new >= 20
    assert plain.pen("new-outline").width >= 2 * plain.pen("existing-outline").width


def test_a_style_that_is_not_there_or_not_right_is_a_problem() -> None:
    for name in ("no-such-style", "../plain", "", "Plain"):
        found, problems = load_style(name)
        assert found is None
        assert [p.code for p in problems] == ["style-missing"]
    for text in (
        "pens = ",
        'title = "x"\n',
        'title="x"\n[pens.a]\nwidth=-1\ncolour="red"\n[tones]',
    ):
        found, problems = parse_style(text, "mine")
        assert found is None
        assert {p.code for p in problems} == {"style-bad"}
    assert style_folder() is not None


def test_the_same_figure_gives_the_same_bytes() -> None:
    one = figure(Line(points=((0, 0), (1, 1)), pen="edge"), Text(at=(0, 0), text="a", size=2.5))
    assert render_svg(one, style()) == render_svg(one, style())


def test_a_named_figure_points_at_its_words() -> None:
    root = ET.fromstring(render_svg(figure(), style(), "step-1"))
    words = {e.get("id"): e.text for e in root.iter() if e.get("id")}
    assert words == {"figure-step-1-title": "Step 1", "figure-step-1-desc": "A box"}
    assert root.get("aria-labelledby") == "figure-step-1-title"
    assert root.get("aria-describedby") == "figure-step-1-desc"
