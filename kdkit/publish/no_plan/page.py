"""The no as one self-contained web page: no script, no network, readable on a phone."""

from __future__ import annotations

from collections.abc import Mapping

import jinja2
from jinja2.sandbox import ImmutableSandboxedEnvironment

from kdkit.illustrate.paper.figure import Figure
from kdkit.illustrate.paper.style import Style
from kdkit.publish.no_plan.account import Account, Section
from kdkit.publish.typesetting.pictures import Picture, set_picture
from kdkit.publish.wording.messages import Messages

__all__ = ["render_page"]


def render_page(
    account: Account, figures: Mapping[str, Figure], messages: Messages, style: Style
) -> str:
    """Return the account with its pictures as HTML."""
    environment = ImmutableSandboxedEnvironment(
        loader=jinja2.PackageLoader("kdkit.publish"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
    )

    def shown(section: Section) -> tuple[Section, Picture | None]:
        figure = figures.get(section.figure)
        if figure is None:
            return section, None
        words = ". ".join((section.heading, *section.lines))
        return section, set_picture(figure, style, alternative=words)

    return environment.get_template("no_plan.html.j2").render(
        a=account,
        language=messages.language,
        legend=shown(account.legend),
        loops=[shown(section) for section in account.loops],
    )
