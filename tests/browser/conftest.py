"""A real Chromium for all tests of pages, and a page read as a whole."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser, sync_playwright

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with running_browser() as running:
        yield running


@contextmanager
def running_browser(*flags: str) -> Iterator[Browser]:
    """A Chromium that runs until it is left, with further flags."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    assert chromium, "these tests need Chromium; tests/run.sh installs it"
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=chromium, args=[*FLAGS, *flags])
        yield running
        running.close()
