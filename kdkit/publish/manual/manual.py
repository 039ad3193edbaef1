"""The manual as one HTML text, for the screen and for the PDF engine alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import jinja2
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup

from kdkit.illustrate.paper.style import style_folder
from kdkit.publish.manual.content import Manual
from kdkit.publish.wording.messages import Messages

__all__ = ["render_lists_trial", "render_manual"]


def render_manual(
    manual: Manual,
    messages: Messages,
    *,
    style: str = "plain",
    paper: tuple[float, float] | None = None,
) -> str:
    """Return the manual as self-contained HTML: styles and pictures inline, no script.

    ``paper``: width and height, mm, for which it was laid out, for those who print the page.

    Templates are the package's own; a definition reaches them only as escaped values.
    """
    return (
        _environment()
        .get_template("manual.html.j2")
        .render(
            m=manual,
            t=messages,
            css=_sheet(style),
            paper=paper,
            page_number=Markup('<span class="page-number"></span>'),
            page_count=Markup('<span class="page-count"></span>'),
        )
    )


def render_lists_trial(
    manual: Manual, messages: Messages, columns: Sequence[int], *, style: str = "plain"
) -> str:
    """Return the parts list without pictures, once for each number of columns, with ids
    ``columns-<n>``; then the hardware set roomily as ``roomy``, and ``end``."""
    bare, bought = (
        tuple(replace(part, picture=None) for part in parts)
        for parts in (manual.parts, manual.bought)
    )
    return (
        _environment()
        .get_template("lists_trial.html.j2")
        .render(
            m=replace(manual, parts=bare, bought=bought),
            t=messages,
            columns=columns,
            css=_sheet(style),
        )
    )


def _environment() -> jinja2.Environment:
    return ImmutableSandboxedEnvironment(
        loader=jinja2.PackageLoader("kdkit.publish"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
    )


def _sheet(style: str) -> Markup:
    folder = style_folder(style)
    assert folder is not None  # the figures were drawn in this style
    return Markup((folder / "manual.css").read_text(encoding="utf-8"))
