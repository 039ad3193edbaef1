"""The manual as a tagged PDF (PDF/UA-1): the only module that knows the PDF engine."""

from __future__ import annotations

import hashlib
import logging
import re
from collections.abc import Sequence

from markupsafe import escape
from weasyprint import CSS, HTML  # type: ignore[import-untyped]  # it has no types
from weasyprint.urls import URLFetcher, URLFetcherResponse  # type: ignore[import-untyped]

from kdkit.publish.messages import Messages
from kdkit.publish.pdf_artifacts import mark_artifacts
from kdkit.publish.plain_text import one_line, writable

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

logging.getLogger("weasyprint").addHandler(logging.NullHandler())
logging.getLogger("fontTools").addHandler(logging.NullHandler())


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
    """
    html = writable(html)
    pdf = _document(html).write_pdf(
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
    pdf = _document(html).write_pdf(
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
    """
    html = _INSIDE.sub(r"\1</svg>", html)
    style = _page_style(PAPERS[paper][0], ENDLESS)
    free = CSS(string="* { break-before: auto !important }", url_fetcher=_NothingFetched())
    tops: dict[str, float] = {}
    for number, page in enumerate(_document(html).render(stylesheets=[style, free]).pages):
        for name, place in page.anchors.items():
            tops[name] = place[1] / _PX_PER_MM + number * (ENDLESS - MARGINS[0] - MARGINS[2])
    return tuple(tops[name] for name in ids)


def _document(html: str) -> HTML:
    return HTML(string=writable(html), url_fetcher=_NothingFetched(), media_type="print")


def _page_style(width: float, height: float) -> CSS:
    margin = " ".join(f"{m:g}mm" for m in MARGINS)
    return CSS(
        string=f"@page {{ size: {width:g}mm {height:g}mm; margin: {margin} }}",
        url_fetcher=_NothingFetched(),
    )
