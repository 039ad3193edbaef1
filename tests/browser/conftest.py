"""A real Chromium for all tests of pages, and a page read as a whole."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--use-gl=angle",  # pictures of three dimensions drawn by the processor
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    assert chromium, "these tests need Chromium; tests/run.sh installs it"
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=chromium, args=FLAGS)
        yield running
        running.close()
