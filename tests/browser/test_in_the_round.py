"""A step turned and played in a real browser, with and without WebGL, on paper, for readers."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import running_browser

Built = tuple[object, pathlib.Path]


SOFTWARE = ("--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")
"""WebGL drawn by the processor, where there is no graphics card."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with running_browser(*SOFTWARE) as running:
        yield running


@pytest.fixture
def page(browser: Browser, built_bookcase: Built) -> Iterator[Page]:
    opened = browser.new_page(viewport={"width": 360, "height": 740})
    faults: list[str] = []
    opened.on("pageerror", lambda fault: faults.append(str(fault)))
    opened.on("console", lambda told: faults.append(told.text) if told.type == "error" else None)
    opened.goto((built_bookcase[1] / "manual.html").as_uri() + "#step-4")
    yield opened
    opened.close()
    assert not faults


def opener(page: Page) -> None:
    page.locator("#step-4 .round-open").click()


def dark(page: Page, upper: bool | None = None) -> int:
    """How many pixels of the canvas are not white, in all of it or in its upper half."""
    return int(
        page.evaluate(
            """async upper => {
              const canvas = document.querySelector('.round canvas');
              await new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)));
              document.querySelector('[data-is=farther]').click();  // drawn anew in this frame
              document.querySelector('[data-is=nearer]').click();
              return new Promise(done => requestAnimationFrame(() => {
                const copy = new OffscreenCanvas(canvas.width, canvas.height).getContext('2d');
                copy.drawImage(canvas, 0, 0);
                const all = copy.getImageData(0, 0, canvas.width,
                  upper ? canvas.height / 2 : canvas.height).data;
                let n = 0;
                for (let k = 0; k < all.length; k += 4) n += all[k] < 250;
                done(n);
              }));
            }""",
            bool(upper),
        )
    )


def slide(page: Page, share: float) -> None:
    page.evaluate(
        """v => { const e = document.querySelector('[data-is=along]');
             e.value = v; e.dispatchEvent(new Event('input')); }""",
        round(1000 * share),
    )


def test_it_opens_in_place_of_the_drawing_and_goes_again(page: Page) -> None:
    drawing = page.locator("#step-4 > .drawing")
    assert drawing.is_visible()
    opener(page)
    assert not drawing.is_visible()
    assert page.locator("#step-4 canvas").is_visible()
    assert dark(page) > 2000
    page.get_by_role("button", name="Back to the drawing").click()
    assert drawing.is_visible()
    assert not page.locator("#step-4 .round").is_visible()


def test_what_stands_apart_comes_together(page: Page) -> None:
    """The shelves stand far above the side in the beginning, and on it in the end."""
    opener(page)
    apart = dark(page), dark(page, upper=True)
    slide(page, 1.0)
    page.wait_for_timeout(100)
    together = dark(page), dark(page, upper=True)
    assert apart != together


def test_buttons_turn_it_and_keys_do_not_turn_the_page(page: Page) -> None:
    opener(page)
    before = dark(page)
    for _ in range(3):
        page.get_by_role("button", name="Turn it to the left").click()
    assert dark(page) != before
    page.get_by_role("slider").focus()
    page.keyboard.press("ArrowRight")
    assert page.locator("#step-4").is_visible()


def test_playing_ends_by_itself(page: Page) -> None:
    opener(page)
    slide(page, 0.97)
    page.get_by_role("button", name="Play").click()
    expect(page.get_by_role("slider")).to_have_value("1000", timeout=20_000)
    expect(page.locator("#step-4 [data-is=play]")).to_have_text("Play")


def test_a_reader_who_wants_no_motion_gets_the_end_at_once(page: Page) -> None:
    page.emulate_media(reduced_motion="reduce")
    opener(page)
    page.get_by_role("button", name="Play").click()
    expect(page.get_by_role("slider")).to_have_value("1000")
    assert page.get_by_role("button", name="Play").is_visible()


def test_a_finger_on_it_turns_it_and_not_the_page(page: Page) -> None:
    opener(page)
    box = page.locator("#step-4 canvas").bounding_box()
    assert box
    before = dark(page)
    page.mouse.move(box["x"] + 200, box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 60, box["y"] + 120, steps=4)
    page.mouse.up()
    assert page.locator("#step-4").is_visible()
    assert dark(page) != before


def test_another_step_takes_it_back_to_the_drawing(page: Page) -> None:
    opener(page)
    page.get_by_role("button", name="Next", exact=True).click()
    page.get_by_role("button", name="Back", exact=True).click()
    assert page.locator("#step-4 > .drawing").is_visible()


def test_its_controls_are_large_enough_and_named(page: Page) -> None:
    """Source: WCAG 2.2, 2.5.8 (24 px) and 4.1.2 (a name for each)."""
    opener(page)
    for control in page.locator("#step-4 .round-controls :is(button, input)").all():
        box = control.bounding_box()
        assert box
        assert min(box["width"], box["height"]) >= 24
        assert control.get_attribute("aria-label") or control.text_content()
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= 360


def test_paper_shows_the_drawing(page: Page) -> None:
    opener(page)
    page.emulate_media(media="print")
    assert page.locator("#step-4 > .drawing").is_visible()
    assert not page.locator("#step-4 canvas").is_visible()
    assert not page.locator("#step-4 .round-open").is_visible()


def test_without_webgl_the_drawing_stays_and_nothing_is_offered(
    browser: Browser, built_bookcase: Built
) -> None:
    page = browser.new_page()
    page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null;")
    page.goto((built_bookcase[1] / "manual.html").as_uri() + "#step-4")
    assert page.locator("#step-4 > .drawing").is_visible()
    assert not page.locator(".round-open").first.is_visible()
    page.get_by_role("button", name="Step by step").click()
    assert page.locator("#step-4").is_visible()
    page.close()
