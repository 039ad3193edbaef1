"""The manual's page for those who read it on a phone, by keyboard, enlarged, or on paper.

Source of the measures: WCAG 2.2 (reflow at 320 px 1.4.10, target size 24 px 2.5.8,
keyboard 2.1.1, focus visible 2.4.7, headings and labels 2.4.6).
"""

from __future__ import annotations

import io
import itertools
import pathlib
import re
from collections.abc import Iterator

import pypdf
import pytest
from playwright.sync_api import Browser, Page

from tests.browser.test_manual_page import show_all


@pytest.fixture(params=[320, 390, 1200], ids=["320", "390", "1200"])
def page(
    request: pytest.FixtureRequest,
    browser: Browser,
    built_bookcase: tuple[object, pathlib.Path],
) -> Iterator[Page]:
    opened = browser.new_page(viewport={"width": request.param, "height": 800})
    opened.goto((built_bookcase[1] / "manual.html").as_uri())
    show_all(opened)
    yield opened
    opened.close()


def fits(page: Page) -> bool:
    wide, seen = page.evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    return bool(wide <= seen)


def lettering(page: Page, step: int) -> float:
    """Return the height of the smallest text in a step's picture, CSS px."""
    return float(
        page.evaluate(
            """n => Math.min(...[...document.querySelectorAll(`#step-${n} > .drawing text`)]
                 .map(t => t.getBoundingClientRect().height).filter(height => height > 0))""",
            step,
        )
    )


def test_a_picture_is_enlarged_by_keyboard_and_scrolls_in_its_own_frame(page: Page) -> None:
    box = page.locator("#zoom-3")
    before = lettering(page, 3)
    box.focus()
    page.keyboard.press("Space")
    assert box.is_checked()
    after = lettering(page, 3)
    assert after > before
    assert after >= 12
    assert fits(page)
    frame = page.locator("#step-3 > .drawing")
    page.keyboard.press("Tab")
    assert frame.evaluate("e => e === document.activeElement")
    if frame.evaluate("e => e.scrollWidth > e.clientWidth"):
        page.keyboard.press("ArrowRight")
        page.evaluate(
            """async () => { for (let n = 0; n < 200; n++) {
                 if (document.querySelector('#step-3 > .drawing').scrollLeft > 0) return;
                 await new Promise(requestAnimationFrame); }
               throw new Error("it has not scrolled"); }"""
        )
    box.focus()
    page.keyboard.press("Space")
    assert lettering(page, 3) == pytest.approx(before, abs=0.1)  # px, rounded by the engine


def test_tapping_the_words_enlarges_too(page: Page) -> None:
    page.locator("label.larger[for=zoom-2]").click()
    assert page.locator("#zoom-2").is_checked()


def test_tapping_the_picture_enlarges_it_and_makes_it_small_again(page: Page) -> None:
    picture = page.locator("#step-2 > .drawing svg:visible")
    before = lettering(page, 2)
    picture.click()
    assert page.locator("#zoom-2").is_checked()
    assert lettering(page, 2) > before
    picture.click(position={"x": 20, "y": 20})
    assert not page.locator("#zoom-2").is_checked()
    assert lettering(page, 2) == pytest.approx(before, abs=0.1)


def test_every_letter_can_be_read_enlarged(page: Page) -> None:
    """12 px is the least for reading on a screen: common practice, no source."""
    for box in page.locator(".zoom").all():
        box.check()
    sizes = page.evaluate(
        """[...document.querySelectorAll('.step > .drawing svg')].flatMap(s =>
             [...s.querySelectorAll('text')].map(t => parseFloat(t.getAttribute('font-size'))
               * s.getBoundingClientRect().width / s.viewBox.baseVal.width)).filter(s => s > 0)"""
    )
    assert len(sizes) > 40
    assert min(sizes) >= 12
    assert fits(page)


def test_words_and_lines_stand_out(page: Page) -> None:
    """Source: WCAG 2.2, 1.4.3 (text 4.5 : 1) and 1.4.11 (what is needed to understand 3 : 1)."""
    found = page.evaluate(
        r"""() => {
             const lum = c => { const [r, g, b] = c.map(v => { v /= 255;
                 return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; });
               return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
             const rgb = s => s.match(/[\d.]+/g).map(Number);
             const ground = e => { for (let n = e; n; n = n.parentElement) {
                 const c = rgb(getComputedStyle(n).backgroundColor);
                 if (c.length < 4 || c[3] > 0) return c.slice(0, 3); } return [255, 255, 255]; };
             const out = [];
             const walk = document.createTreeWalker(document.querySelector('main'), 4);
             while (walk.nextNode()) {
               const e = walk.currentNode.parentElement;
               if (!walk.currentNode.textContent.trim() || e.closest('svg, style')) continue;
               const [a, b] = [lum(rgb(getComputedStyle(e).color).slice(0, 3)), lum(ground(e))];
               out.push([(Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05),
                         e.textContent.slice(0, 30)]); }
             return out; }"""
    )
    assert len(found) > 200
    assert [words for contrast, words in found if contrast < 4.5] == []


def test_the_page_prints_with_margins_and_no_step_in_two(page: Page) -> None:
    printed = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    texts = [sheet.extract_text() for sheet in printed.pages]
    assert any("Step 6" in text for text in texts)
    for text in texts:
        assert text.strip(), "an empty page"
        # Every step ends with its check: as many on a page as begin on it.
        told = text.partition("Final check")[0]
        assert told.count("Check ") == len(re.findall(r"Step \d+ (?!back)", told)), text


def test_every_control_has_a_name_and_room_for_a_finger(page: Page) -> None:
    controls = page.evaluate(
        """[...document.querySelectorAll('a, input, label.larger')].map(e => {
             const r = e.getBoundingClientRect();
             const words = e.labels ? [...e.labels].map(l => l.textContent).join() : '';
             return [r.width, r.height, (e.getAttribute('aria-label') || words
                     || e.textContent).trim()]; })"""
    )
    assert len(controls) > 20
    for width, height, words in controls:
        assert width >= 24
        assert height >= 24
        assert words
    names = page.locator("label.larger").all_text_contents()
    assert len(set(names)) == len(names)


def test_the_focus_can_be_seen(page: Page) -> None:
    for selector in ("nav a", "#zoom-1", "#step-1 > .drawing"):
        page.locator(selector).first.focus()
        page.keyboard.press("Shift+Tab")
        page.keyboard.press("Tab")
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline != "none", selector


def test_landmarks_and_headings(page: Page) -> None:
    found = page.evaluate(
        """({main: document.querySelectorAll('main').length,
            nav: [...document.querySelectorAll('nav')].map(n => n.getAttribute('aria-label')),
            outside: [...document.body.children].filter(
                e => !['MAIN', 'NAV'].includes(e.tagName) && !e.hasAttribute('aria-hidden')).length,
            levels: [...document.querySelectorAll('h1, h2, h3, h4, h5, h6')]
                .map(h => +h.tagName[1]),
            unnamed: [...document.querySelectorAll('[role=region]')]
                .filter(e => !e.getAttribute('aria-label')).length})"""
    )
    assert found["main"] == 1
    assert all(found["nav"])
    assert found["outside"] == 0
    assert found["unnamed"] == 0
    levels = found["levels"]
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))


def test_greys_turn_black_for_those_who_ask_for_contrast(page: Page) -> None:
    colour = "getComputedStyle(document.querySelector('.card .size')).color"
    assert page.evaluate(colour) != "rgb(0, 0, 0)"
    page.emulate_media(contrast="more")
    assert page.evaluate(colour) == "rgb(0, 0, 0)"


def test_a_dark_scheme_leaves_black_on_white(page: Page) -> None:
    page.emulate_media(color_scheme="dark")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == (
        "rgb(255, 255, 255)"
    )
    assert page.evaluate("getComputedStyle(document.documentElement).colorScheme") == "light"


def test_nothing_of_the_screen_is_printed(page: Page) -> None:
    page.locator("#zoom-1").check()
    page.emulate_media(media="print")
    for selector in ("nav", ".zoom", ".larger"):
        assert not page.locator(selector).first.is_visible(), selector
    assert page.locator("#step-1 > .drawing svg:visible").is_visible()
    width = page.locator("#step-1 > .drawing svg:visible").bounding_box()
    assert width is not None
    assert width["width"] < 800
