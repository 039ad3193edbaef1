"""The manual as a tagged PDF (PDF/UA-1): the only module that knows the PDF engine."""

from __future__ import annotations

import hashlib
import logging

from weasyprint import CSS, HTML
from weasyprint.urls import URLFetcher, URLFetcherResponse

__all__ = ["PAPERS", "make_pdf"]

PAPERS = {"a4": "210mm 297mm", "letter": "8.5in 11in"}
"""Source: ISO 216 for A4; ANSI/ASME Y14.1 size A for letter."""

logging.getLogger("weasyprint").addHandler(logging.NullHandler())
logging.getLogger("fontTools").addHandler(logging.NullHandler())


class _NothingFetched(URLFetcher):  # type: ignore[misc]
    """Refuses every address: the manual holds all that it needs."""

    def fetch(self, url: str, headers: object = None) -> URLFetcherResponse:
        """Refuse."""
        raise ValueError(f"a manual fetches nothing, not even {url!r}")


def make_pdf(html: str, paper: str) -> bytes:
    """Return the PDF of a manual; the same HTML gives the same bytes.

    Args:
        paper: a key of ``PAPERS``.
    """
    page = CSS(string=f"@page {{ size: {PAPERS[paper]} }}", url_fetcher=_NothingFetched())
    document = HTML(string=html, url_fetcher=_NothingFetched(), media_type="print")
    pdf = document.write_pdf(
        stylesheets=[page],
        pdf_variant="pdf/ua-1",
        pdf_identifier=hashlib.sha256(f"{paper}\n{html}".encode()).digest()[:16],
        full_fonts=False,
    )
    assert isinstance(pdf, bytes)
    return pdf
