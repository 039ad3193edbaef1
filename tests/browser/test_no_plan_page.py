"""The page that tells why there is no plan, in a real Chromium."""

from __future__ import annotations

import pathlib
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from kdkit.pipeline import Request, write_no_plan
from tests.products import CASE, RING

REFUSED = f"{CASE}order: [left, bottom, right, top, shelf, back]\n"


@pytest.fixture(scope="module", params=[RING, REFUSED], ids=["impossible", "order"])
def written(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> pathlib.Path:
    folder = tmp_path_factory.mktemp("no")
    file = folder / "definition.yaml"
    file.write_text(request.param, encoding="utf-8")
    outcome = write_no_plan(Request(file=file), folder / "why")
    assert not outcome.complete
    return next(f for f in outcome.files if f.suffix == ".html")


@pytest.fixture(params=[(320, 640), (1280, 900)], ids=["phone", "desk"])
def page(request: pytest.FixtureRequest, browser: Browser, written: pathlib.Path) -> Iterator[Page]:
    width, height = request.param
    page = browser.new_page(viewport={"width": width, "height": height})
    page.on("console", lambda message: pytest.fail(message.text))
    page.goto(written.as_uri())
    yield page
    page.close()


def test_pictures_are_seen_whole_and_nothing_scrolls_sideways(page: Page) -> None:
    wide, seen = page.evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert wide <= seen
    boxes = [svg.bounding_box() for svg in page.locator("svg").all()]
    assert len(boxes) >= 2
    for box in boxes:
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= seen + 0.5
        assert box["height"] > 60


def test_every_picture_is_named_and_followed_by_its_words(page: Page) -> None:
    for section in page.locator(".ways > section").all():
        name = section.locator("svg > title").text_content()
        heading = section.locator("h2").text_content()
        assert name
        assert heading
        assert name.startswith(heading)
        assert section.locator("p.line").count() >= 1
