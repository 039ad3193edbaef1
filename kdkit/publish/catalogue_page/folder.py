"""Writes the page of the catalogue into a folder that is moved in whole."""

from __future__ import annotations

import pathlib
from collections.abc import Callable

from kdkit.catalogue import Catalogue
from kdkit.delivery import CATALOGUE, Claim, write_folder
from kdkit.diagnostics import Problem
from kdkit.illustrate.paper.style import load_style
from kdkit.publish.catalogue_page.page import render_page, write_sections
from kdkit.publish.typesetting.pdf import make_pdf
from kdkit.publish.typesetting.web_page import with_fonts
from kdkit.publish.wording.messages import find_wording

__all__ = ["publish_catalogue"]


def publish_catalogue(
    catalogue: Catalogue,
    folder: pathlib.Path | Claim,
    *,
    language: str = "en",
    paper: str = "a4",
    pdf: bool = True,
    progress: Callable[[str], None] = lambda _: None,
) -> tuple[tuple[pathlib.Path, ...] | None, tuple[Problem, ...]]:
    """Write ``index.html`` and, if wanted, ``joints.pdf``.

    Args:
        folder: claimed, or to be claimed here: new, empty, or written by an earlier run
            and unchanged; on any failure it stays as it was.
        paper: ``a4`` or ``letter``.

    Returns:
        The written files, sorted, or None; and the problems met.
    """
    messages, problems = find_wording(language)
    style, found = load_style()
    if messages is None or style is None:
        return None, (*problems, *found)
    sections = write_sections(catalogue, messages, style)
    html = render_page(sections, messages)

    def write(fresh: pathlib.Path) -> None:
        page = with_fonts(html)
        (fresh / "index.html").write_text(page, encoding="utf-8", newline="")
        if pdf:
            progress("setting the page for print")
            (fresh / "joints.pdf").write_bytes(make_pdf(html, paper))

    return write_folder(folder, CATALOGUE, write)
