"""One step at a time on a telephone: buttons, keys, swipes, ticks that stay, paper as before.

Source of the measures: WCAG 2.2 (target size 24 px 2.5.8, reflow at 320 px 1.4.10, focus order
2.4.3). That a letter is at least 11 px high at 360 px: a rule of our own.
"""

from __future__ import annotations

import io
import pathlib
from collections.abc import Iterator

import pypdf
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

Built = tuple[object, pathlib.Path]


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    """What one reader's browser keeps."""
    made = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True)
    yield made
    made.close()


@pytest.fixture
def page(context: BrowserContext, built_bookcase: Built) -> Page:
    opened = context.new_page()
    opened.goto((built_bookcase[1] / "manual.html").as_uri())
    return opened


def shown(page: Page) -> list[str]:
    """The ids of the sections and steps that can be seen."""
    return list(
        page.evaluate(
            """[...document.querySelectorAll('main > section:not(.steps), .step')]
                 .filter(e => e.getClientRects().length).map(e => e.id)"""
        )
    )


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def swipe(page: Page, across: int, down: int = 0) -> None:
    page.evaluate(
        """([x, y]) => { const main = document.querySelector('main');
             const at = (x, y) => new Touch({identifier: 1, target: main, clientX: x, clientY: y});
             const told = (name, now, over) => main.dispatchEvent(new TouchEvent(name,
               {touches: over ? [] : [now], changedTouches: [now], bubbles: true}));
             told('touchstart', at(180, 300), false);
             told('touchend', at(180 + x, 300 + y), true); }""",
        [across, down],
    )


def test_a_telephone_shows_one_thing_at_a_time(page: Page) -> None:
    assert shown(page) == ["cover"]
    assert page.get_by_role("button", name="Back", exact=True).is_disabled()
    press(page, "Next")
    press(page, "Next")
    assert shown(page) == ["parts"]
    press(page, "Back")
    assert shown(page) == ["before"]
    page.locator("nav a[href='#step-4']").click()
    assert shown(page) == ["step-4"]
    assert page.evaluate("document.activeElement.id") == "step-4-title"
    assert page.locator("[aria-current=step]").text_content() == "4"
    assert page.evaluate("scrollY") == 0


def test_a_desk_shows_all_until_it_is_asked(browser: Browser, built_bookcase: Built) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto((built_bookcase[1] / "manual.html").as_uri())
    assert len(shown(page)) > 12
    assert not page.get_by_role("button", name="Next", exact=True).is_visible()
    page.locator("#step-5").scroll_into_view_if_needed()
    press(page, "Step by step")
    assert len(shown(page)) == 1
    height = page.locator(".step.shown .drawing svg:visible").bounding_box()
    assert height is not None
    assert height["height"] < 750
    press(page, "Show all")
    assert len(shown(page)) > 12
    page.close()


def test_keys_and_swipes_turn_and_stop_at_the_ends(page: Page) -> None:
    page.keyboard.press("ArrowLeft")
    assert shown(page) == ["cover"]
    page.keyboard.press("ArrowRight")
    assert shown(page) == ["before"]
    swipe(page, -120)
    assert shown(page) == ["parts"]
    swipe(page, 120)
    assert shown(page) == ["before"]
    swipe(page, -40)  # too short
    swipe(page, -120, 200)  # a scroll
    assert shown(page) == ["before"]
    for _ in range(40):
        page.keyboard.press("ArrowRight")
    assert shown(page) == ["after"]
    assert page.get_by_role("button", name="Next", exact=True).is_disabled()


def test_an_enlarged_picture_is_moved_and_not_turned(page: Page) -> None:
    page.locator("nav a[href='#step-3']").click()
    page.locator("#zoom-3").check()
    page.locator("#step-3 > .drawing").focus()
    page.keyboard.press("ArrowRight")
    assert shown(page) == ["step-3"]


def test_ticks_and_the_place_are_found_again(page: Page, context: BrowserContext) -> None:
    page.locator("nav a[href='#step-2']").click()
    page.get_by_label("Step 2 is done").check()
    page.locator("nav a[href='#parts']").click()
    page.get_by_label("A is there").check()
    again = context.new_page()
    again.goto(page.url.partition("#")[0])
    assert shown(again) == ["parts"]
    assert again.get_by_label("A is there").is_checked()
    assert not again.get_by_label("B is there").is_checked()
    assert again.locator("nav a[href='#step-2']").get_attribute("aria-label") == "Step 2 is done"
    again.get_by_label("A is there").uncheck()
    again.reload()
    assert not again.get_by_label("A is there").is_checked()


@pytest.mark.parametrize("kept", ["{", "null", '{"at": 7, "alone": "x", "ticked": [1, {}]}', '""'])
def test_nonsense_that_is_kept_does_no_harm(page: Page, context: BrowserContext, kept: str) -> None:
    page.evaluate(
        "text => { for (const k of Object.keys(localStorage)) localStorage[k] = text; }", kept
    )
    again = context.new_page()
    faults: list[str] = []
    again.on("pageerror", lambda fault: faults.append(str(fault)))
    again.goto(page.url.partition("#")[0])
    assert shown(again) == ["cover"]
    assert faults == []


def test_pictures_are_drawn_for_the_narrow_screen(page: Page) -> None:
    """Each is seen whole between the bars, with letters of 11 px and more."""
    for step in page.locator(".step").all():
        id = step.get_attribute("id")
        page.locator(f"nav a[href='#{id}']").click()
        expect(step).to_be_visible()
        sizes = step.evaluate(
            """e => [...e.querySelectorAll('.drawing text')].filter(t => t.getClientRects().length)
                 .map(t => parseFloat(t.getAttribute('font-size')) * t.ownerSVGElement
                   .getBoundingClientRect().width / t.ownerSVGElement.viewBox.baseVal.width)"""
        )
        assert sizes, id
        assert min(sizes) >= 11, id
        box = step.locator(".drawing svg:visible").bounding_box()
        assert box is not None
        assert box["height"] < 740 - 100, id
        wide, seen = page.evaluate(
            "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
        )
        assert wide <= seen, id


def test_the_bar_has_room_for_fingers_at_320_px(page: Page) -> None:
    page.set_viewport_size({"width": 320, "height": 640})
    press(page, "Next")
    boxes = [b.bounding_box() for b in page.locator(".turning button").all()]
    assert all(b and b["width"] >= 44 and b["height"] >= 44 for b in boxes)
    bar = page.locator(".turning").bounding_box()
    assert bar is not None
    assert bar["width"] <= 320
    assert bar["height"] < 120


def test_paper_gets_every_step_whichever_is_shown(page: Page) -> None:
    page.locator("nav a[href='#step-4']").click()
    printed = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    text = "\n".join(sheet.extract_text() for sheet in printed.pages)
    for n in range(1, 12):
        assert f"Step {n}" in text
    assert "is done" not in text
    assert "Step by step" not in text


def test_the_page_is_whole_without_its_script(browser: Browser, built_bookcase: Built) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740}, java_script_enabled=False)
    page = context.new_page()
    page.goto((built_bookcase[1] / "manual.html").as_uri())
    assert page.locator("#step-1").is_visible()
    assert page.locator("#after").is_visible()
    assert not page.locator(".turning").is_visible()
    assert not page.locator(".tick").first.is_visible()
    context.close()


def test_no_other_script_can_run(page: Page) -> None:
    page.evaluate(
        """() => { const s = document.createElement('script'); s.textContent = 'window.ran = 1';
             document.body.append(s); }"""
    )
    assert page.evaluate("window.ran") is None
