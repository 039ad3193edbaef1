"""The web page: complete, self-contained, safe, and usable without a mouse."""

from __future__ import annotations

import pathlib
import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from kdkit.publish import publish
from tests import handmade

VOID = {"meta", "br", "link", "img", "hr", "input"}


class Page(HTMLParser):
    """Every element with its attributes, headings with their text, and balance."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[tuple[str, str]] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append((self.open[-1] if self.open else "", data))


@pytest.fixture(scope="module")
def html(published: pathlib.Path) -> str:
    return (published / "manual.html").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def page(html: str) -> Page:
    return Page(html)


def test_well_formed_and_in_a_language(page: Page) -> None:
    assert page.open == []
    assert ("html", {"lang": "en"}) in page.elements
    assert any(tag == "meta" and a.get("name") == "viewport" for tag, a in page.elements)


def test_nothing_comes_from_outside(html: str, page: Page) -> None:
    for tag, attributes in page.elements:
        assert tag not in ("link", "img", "iframe", "object", "embed", "image", "use")
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name in ("href", "src", "xlink:href", "action", "style"):
                assert value is not None
                assert value.startswith("#")
    fonts = r"url\(data:font/woff2;base64,[A-Za-z0-9+/=]+\)"  # what travels within the page
    bare = re.sub(fonts, "", html)
    assert "url(" not in bare
    assert "@import" not in bare
    outside = re.findall(r"(?:https?:)?//[\w.]+", bare)
    assert set(outside) == {"http://www.w3.org"}  # the name of the SVG namespace


def test_navigation_leads_to_every_step(page: Page) -> None:
    ids = [a["id"] for _, a in page.elements if "id" in a]
    assert len(ids) == len(set(ids))
    targets = [a["href"] for tag, a in page.elements if tag == "a"]
    assert targets
    assert {str(t)[1:] for t in targets} <= set(ids)
    for step in handmade.plan().steps:
        assert f"#step-{step.number}" in targets


def test_headings_go_down_one_level_at_a_time(page: Page) -> None:
    levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))


def test_every_picture_has_words(html: str) -> None:
    pictures = re.findall(r"<svg.*?</svg>", html, re.DOTALL)
    assert len(pictures) > 15
    for picture in pictures:
        assert 'role="img"' in picture
        assert re.search(r"<title>[^<]+</title>", picture)


def test_every_step_shows_its_hardware_tools_and_lines(html: str) -> None:
    for step in handmade.plan().steps:
        section = html[html.index(f' id="step-{step.number}" ') :]
        section = section[: section.index("</section>")]
        assert section.count("<li>") > len(step.items)
        assert '<ol class="lines"><li>' in section
        items = section[section.index('class="doing"') : section.index('class="with"')]
        assert items.count('<span class="number">') == len(step.items)
        for count in step.items.values():
            assert f"{count} ×" in items


def test_tip_over_warning_follows_the_restraint() -> None:
    from kdkit.illustrate.paper.style import load_style
    from kdkit.publish.manual.content import write_manual
    from kdkit.publish.wording.messages import load_messages

    style, _ = load_style()
    assert style is not None
    for restraint, warned in (("required", True), ("advised", True), ("none", False)):
        said = handmade.product(safety={"wall_restraint": restraint})
        manual, _ = write_manual(handmade.results(said), load_messages("en"), style)
        texts = " ".join(c.text for c in manual.cautions if c.level == "warning")
        assert ("tips over" in texts) is warned


def test_html_in_a_title_is_shown_as_text(tmp_path: pathlib.Path) -> None:
    hostile = "<script>alert(1)</script><img src=x onerror=alert(2)>{{ 7*7 }}\"'"
    said = handmade.product(
        product=hostile,
        revision="<b>",
        maker={"name": hostile, "address": "</td><script>", "contact": "javascript:alert(1)"},
        texts={"en": {"title": hostile, "care": "<script>x</script>"}},
    )
    files, problems = publish(handmade.results(said), tmp_path / "out")
    assert files is not None, problems
    text = (tmp_path / "out" / "manual.html").read_text(encoding="utf-8")
    parsed = Page(text)
    tags = {tag for tag, _ in parsed.elements}
    assert "img" not in tags
    assert [tag for tag, _ in parsed.elements].count("script") == 1  # kdkit's own
    assert "&lt;script&gt;alert(1)" in text
    assert "{{ 7*7 }}" in text
    assert "49" not in "".join(t for where, t in parsed.texts if where == "h1")


def test_an_image_in_a_text_ends_the_build_before_writing(tmp_path: pathlib.Path) -> None:
    said = handmade.product(texts={"en": {"use": "![x](file:///etc/passwd)"}})
    files, problems = publish(handmade.results(said), tmp_path / "out")
    assert files is None
    assert [(p.code, p.path) for p in problems] == [("text-image", ("texts", "en", "use"))]
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_language_is_a_problem(tmp_path: pathlib.Path) -> None:
    files, problems = publish(handmade.results(handmade.product(language="qq")), tmp_path / "o")
    assert files is None
    assert [(p.code, p.path) for p in problems] == [("language-unknown", ("language",))]


def luminance(colour: str) -> float:
    """Return the relative luminance. Source: WCAG 2.2, definition of relative luminance."""
    digits = colour.lstrip("#")
    digits = "".join(c * 2 for c in digits) if len(digits) == 3 else digits
    channels = [int(digits[n : n + 2], 16) / 255 for n in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_text_stands_out_from_every_ground(html: str) -> None:
    style = html[html.index("<style>") : html.index("</style>")]
    # What says both ink and ground is judged by itself: white on black, and the greys of a
    # button that cannot be pressed (WCAG 2.2, 1.4.3: no contrast is asked of it).
    both = re.compile(r"background: #000; color: #fff;|:disabled \{[^}]*\}")
    assert len(both.findall(style)) == 2
    style = both.sub("", style)
    inks = set(re.findall(r"(?<![-\w])color:\s*(#[0-9a-f]{3,6})", style))
    grounds = set(re.findall(r"background:\s*(#[0-9a-f]{3,6})", style))
    assert inks
    assert grounds
    for ink in inks:
        for ground in grounds:
            dark, light = sorted((luminance(ink), luminance(ground)))
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (ink, ground)
