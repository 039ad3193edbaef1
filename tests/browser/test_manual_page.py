"""The manual's page in a real Chromium: no errors, no network, narrow screens, navigation."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator

import pytest
from fontTools.ttLib import TTFont
from playwright.sync_api import Browser, Page

from kdkit.illustrate.paper.fonts import FACES, TEXT


def show_all(page: Page) -> None:
    """Show the page whole, as it is where no script runs."""
    whole = page.get_by_role("button", name="Show all")
    if whole.count():
        whole.click()
    page.evaluate("scrollTo(0, 0)")


class Opened:
    """A page with what it said and asked for while it was open."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.said: list[str] = []
        self.asked: list[str] = []
        page.on("console", lambda message: self.said.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda fault: self.said.append(f"error: {fault}"))
        page.on("request", lambda request: self.asked.append(request.url))


@pytest.fixture(params=[(320, 640), (1280, 900)], ids=["phone", "desk"])
def opened(
    request: pytest.FixtureRequest,
    browser: Browser,
    built_bookcase: tuple[object, pathlib.Path],
) -> Iterator[Opened]:
    width, height = request.param
    page = browser.new_page(viewport={"width": width, "height": height})
    opened = Opened(page)
    page.goto((built_bookcase[1] / "manual.html").as_uri())
    show_all(page)
    yield opened
    page.close()


def test_says_nothing_and_asks_for_nothing(opened: Opened) -> None:
    opened.page.wait_for_load_state("load")
    assert opened.said == []
    beyond = [url for url in opened.asked[1:] if not url.startswith("data:")]
    assert beyond == []


def test_never_scrolls_sideways(opened: Opened) -> None:
    wide, seen = opened.page.evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert wide <= seen


def test_names_its_language_and_has_one_heading(opened: Opened) -> None:
    assert opened.page.evaluate("document.documentElement.lang") == "en"
    assert opened.page.locator("h1").count() == 1
    assert "bookcase" in opened.page.title()


def test_every_link_leads_to_a_place_in_the_page(opened: Opened) -> None:
    links = opened.page.locator("a[href^='#']")
    targets = links.evaluate_all("as => as.map(a => a.getAttribute('href').slice(1))")
    assert targets
    for target in targets:
        assert opened.page.locator(f"[id='{target}']").count() == 1, target


def test_navigation_brings_its_target_into_view(opened: Opened) -> None:
    link = opened.page.locator("nav a[href^='#']").last
    target = link.get_attribute("href")
    assert target is not None
    link.focus()
    opened.page.keyboard.press("Enter")
    opened.page.evaluate(
        """async id => { for (let n = 0; n < 200; n++) {
             const r = document.getElementById(id).getBoundingClientRect();
             if (r.top < innerHeight && r.bottom > 0 && scrollY > 0) return;
             await new Promise(requestAnimationFrame); }
           throw new Error("not in view"); }""",
        target[1:],
    )
    assert opened.page.evaluate("location.hash") == target


def test_every_picture_has_words_for_those_who_cannot_see_it(opened: Opened) -> None:
    silent = opened.page.evaluate(
        """[...document.querySelectorAll('svg, img')].filter(e =>
             !(e.getAttribute('aria-label') || e.getAttribute('alt')
               || e.getAttribute('aria-labelledby') || e.querySelector(':scope > title')
               || e.closest('[aria-hidden=true]'))).length"""
    )
    assert silent == 0
    assert opened.page.locator("svg, img").count() > 0


def test_every_step_has_its_picture(opened: Opened) -> None:
    pictures = opened.page.evaluate(
        """[...document.querySelectorAll('[id]')].filter(e => /^step-\\d+$/.test(e.id))
             .map(e => e.querySelectorAll('svg, img').length)"""
    )
    assert len(pictures) > 3
    assert 0 not in pictures


def test_text_is_set_in_the_fonts_that_the_page_brings(opened: Opened) -> None:
    opened.page.wait_for_load_state("load")
    opened.page.evaluate("document.fonts.ready.then(() => true)")
    states = opened.page.evaluate("[...document.fonts].map(f => [f.family, f.weight, f.status])")
    assert states == [[f'"{TEXT}"', weight, "loaded"] for weight in ("normal", "bold")] or (
        states == [[TEXT, weight, "loaded"] for weight in ("normal", "bold")]
    )
    widths = opened.page.evaluate(
        """family => ["normal", "bold"].map(weight => {
          const pen = document.createElement("canvas").getContext("2d");
          pen.fontKerning = "none";
          pen.font = `${weight} 2048px "${family}"`;
          return pen.measureText("Step 12 × A").width;
        })""",
        TEXT,
    )
    for width, face in zip(widths, FACES, strict=False):
        with TTFont(face.path) as font:
            names, advances = font.getBestCmap(), font["hmtx"]
            assert abs(width - sum(advances[names[ord(c)]][0] for c in "Step 12 × A")) < 2


def test_pictures_bring_their_lettering_along(
    browser: Browser, built_bookcase: tuple[object, pathlib.Path]
) -> None:
    page = browser.new_page()
    page.goto((built_bookcase[1] / "figures" / "step-6.svg").as_uri())
    page.evaluate("document.fonts.ready.then(() => true)")
    states = page.evaluate("[...document.fonts].map(f => f.status)")
    page.close()
    assert "loaded" in states
    assert set(states) <= {"loaded", "unloaded"}  # unloaded: a weight that it does not use
