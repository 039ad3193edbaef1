"""The page as one self-contained HTML text: no script, nothing from the network."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import jinja2
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup

from kdkit.catalogue import Catalogue
from kdkit.illustrate.paper.style import Style, style_folder
from kdkit.publish.catalogue_page.section import Section, write_section
from kdkit.publish.wording.messages import Messages

__all__ = ["render_page", "render_section", "write_sections"]


def write_sections(catalogue: Catalogue, messages: Messages, style: Style) -> tuple[Section, ...]:
    """Return the sections of all entries, joints first, as they stand in the catalogue."""
    keys = sorted(
        catalogue.fittings, key=lambda k: ("joint", "fixture").index(catalogue.fittings[k].kind)
    )
    return tuple(write_section(catalogue, key, messages, style) for key in keys)


def render_page(sections: Sequence[Section], messages: Messages, *, look: str = "plain") -> str:
    """Return the page of some sections, with its contents."""
    home = style_folder(look)
    assert home is not None  # the figures were drawn in this style
    return (
        _environment()
        .get_template("catalogue.html.j2")
        .render(
            groups=[
                (kind, [section for section in sections if section.kind == kind])
                for kind in ("joint", "fixture")
            ],
            rendered={
                section.key: Markup(render_section(section, messages)) for section in sections
            },
            t=messages,
            css=Markup((home / "manual.css").read_text(encoding="utf-8")),
        )
    )


def render_section(section: Section, messages: Messages) -> str:
    """Return one section as it stands in the page."""
    template = _environment().get_template("catalogue_section.html.j2")
    return template.render(s=section, t=messages)


@lru_cache(maxsize=1)
def _environment() -> jinja2.Environment:
    return ImmutableSandboxedEnvironment(
        loader=jinja2.PackageLoader("kdkit.publish"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
