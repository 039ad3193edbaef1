"""The manual as one HTML text, for the screen and for the PDF engine alike."""

from __future__ import annotations

import jinja2
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup

from kdkit.illustrate.style import style_folder
from kdkit.model.says import Product
from kdkit.publish.content import Manual
from kdkit.publish.messages import Messages
from kdkit.publish.results import Results
from kdkit.units import mm_text

__all__ = ["render_manual"]


def render_manual(
    manual: Manual, results: Results, messages: Messages, *, style: str = "plain"
) -> str:
    """Return the manual as self-contained HTML: styles and pictures inline, no script.

    Templates are the package's own; a definition reaches them only as escaped values.
    """
    environment = ImmutableSandboxedEnvironment(
        loader=jinja2.PackageLoader("kdkit.publish"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
    )
    said = results.resolved.said
    assert isinstance(said, Product)
    folder = style_folder(style)
    assert folder is not None  # the figures were drawn in this style
    load = said.safety.load_per_shelf
    return environment.get_template("manual.html.j2").render(
        m=manual,
        t=messages,
        css=Markup((folder / "manual.css").read_text(encoding="utf-8")),
        use=said.safety.use,
        restrained=said.safety.wall_restraint != "none",
        load=None if load is None else mm_text(load),
        page_number=Markup('<span class="page-number"></span>'),
        page_count=Markup('<span class="page-count"></span>'),
    )
