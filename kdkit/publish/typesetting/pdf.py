"""The manual as a tagged PDF (PDF/UA-1): with ``page_engine`` all that knows the PDF engine.

The engine goes on where it could not draw something, and tells its log; here that is an
error, so that nothing is delivered with a hole in it.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from markupsafe import escape

from kdkit.publish.typesetting.engines import EngineFailed, Heard, hear
from kdkit.publish.typesetting.page_engine import (
    CSS,
    HTML,
    OwnFonts,
    URLFetcher,
    URLFetcherResponse,
)
from kdkit.publish.typesetting.pdf_artifacts import mark_artifacts
from kdkit.publish.typesetting.undrawn import tell_undrawn
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.plain_text import one_line, writable

__all__ = ["PAPERS", "make_pdf", "make_sheets", "measure_heights", "page_area"]

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height, mm. Source: ISO 216 for A4; ANSI/ASME Y14.1 size A for letter."""

MARGINS = (18.0, 15.0, 16.0, 15.0)
"""Top, right, bottom, left, mm."""

ENDLESS = 30_000.0
"""Height of the page on which things are measured, mm."""

_PX_PER_MM = 96 / 25.4

_INSIDE = re.compile(r"(<svg\b[^>]*>).*?</svg>", re.DOTALL)
"""A picture: its first tag says how much room it takes."""

_LOGS = ("weasyprint", "fontTools")


class _NothingFetched(URLFetcher):  # type: ignore[misc]
    """Refuses every address: the manual holds all that it needs."""

    def fetch(self, url: str, headers: object = None) -> URLFetcherResponse:
        """Refuse."""
        raise ValueError(f"a manual fetches nothing, not even {url!r}")


def page_area(paper: str) -> tuple[float, float]:
    """Return width and height of what a page can hold, mm."""
    width, height = PAPERS[paper]
    top, right, bottom, left = MARGINS
    return width - left - right, height - top - bottom


def make_pdf(html: str, paper: str, heads: str = "") -> bytes:
    """Return the PDF of a manual; the same HTML gives the same bytes.

    Args:
        paper: a key of ``PAPERS``.
        heads: the style sheet of page heads and feet.

    Raises:
        EngineFailed: something could not be drawn.
    """
    html = writable(html)
    with _all_drawn(html):
        pdf = _document(html).write_pdf(
            font_config=OwnFonts(),
            finisher=mark_artifacts,
            stylesheets=[
                CSS(string=heads, url_fetcher=_NothingFetched()),
                _page_style(*PAPERS[paper]),
            ],
            pdf_variant="pdf/ua-1",
            pdf_identifier=hashlib.sha256(f"{paper}\n{html}".encode()).digest()[:16],
        )
    assert isinstance(pdf, bytes)
    return pdf


def make_sheets(
    pictures: Sequence[str], size: tuple[float, float], title: str, messages: Messages
) -> bytes:
    """Return a PDF of drawn sheets, one picture a page; the same pictures give the same bytes.

    Args:
        pictures: SVG of the size of the page; its title is the alternative text.
        size: width and height of every page, mm.

    Raises:
        EngineFailed: something could not be drawn.
    """
    body = "\n".join(f"<section>{picture}</section>" for picture in pictures)
    html = (
        f'<!DOCTYPE html><html lang="{escape(messages.language)}"><head><meta charset="utf-8">'
        f"<title>{escape(one_line(title))}</title></head><body>{body}</body></html>"
    )
    style = (
        f"@page {{ size: {size[0]:g}mm {size[1]:g}mm; margin: 0 }} body {{ margin: 0 }} "
        "section { break-after: page; line-height: 0 } section:last-child { break-after: auto }"
        "svg { display: block }"
    )
    with _all_drawn(html):
        pdf = _document(html).write_pdf(
            font_config=OwnFonts(),
            stylesheets=[CSS(string=style, url_fetcher=_NothingFetched())],
            pdf_variant="pdf/ua-1",
            pdf_identifier=hashlib.sha256(f"{size}\n{html}".encode()).digest()[:16],
        )
    assert isinstance(pdf, bytes)
    return pdf


def measure_heights(html: str, paper: str, ids: Sequence[str]) -> tuple[float, ...]:
    """Return how far down each element stands when the page has no end, mm.

    A manual longer than ``ENDLESS`` goes on over further pages of that height. Pictures
    take their room and are not drawn.

    Raises:
        EngineFailed: a style sheet holds something that the engine does not know.
    """
    html = _INSIDE.sub(r"\1</svg>", html)
    style = _page_style(PAPERS[paper][0], ENDLESS)
    free = CSS(string="* { break-before: auto !important }", url_fetcher=_NothingFetched())
    tops: dict[str, float] = {}
    with _all_drawn(html):
        laid = _document(html).render(font_config=OwnFonts(), stylesheets=[style, free])
    for number, page in enumerate(laid.pages):
        for name, place in page.anchors.items():
            tops[name] = place[1] / _PX_PER_MM + number * (ENDLESS - MARGINS[0] - MARGINS[2])
    return tuple(tops[name] for name in ids)


@contextmanager
def _all_drawn(html: str) -> Iterator[None]:
    """Raise ``EngineFailed`` if the engine tells of anything that is missing on the pages."""
    with hear(*_LOGS) as heard:
        yield
    problems = tuple(tell_undrawn(heard, html, _set_alone))
    if problems:
        raise EngineFailed(*problems)


def _set_alone(picture: str) -> Sequence[Heard]:
    with hear(*_LOGS) as heard:
        _document(f"<body>{picture}</body>").write_pdf()
    return heard


def _document(html: str) -> HTML:
    return HTML(string=writable(html), url_fetcher=_NothingFetched(), media_type="print")


def _page_style(width: float, height: float) -> CSS:
    margin = " ".join(f"{m:g}mm" for m in MARGINS)
    return CSS(
        string=f"@page {{ size: {width:g}mm {height:g}mm; margin: {margin} }}",
        url_fetcher=_NothingFetched(),
    )
