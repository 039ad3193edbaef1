"""Writes a no: text, data, sheet and page, in a folder that is moved in whole."""

from __future__ import annotations

import json
import pathlib
from collections.abc import Mapping

from kdkit.delivery import NO_PLAN, Claim, write_folder
from kdkit.diagnostics import Problem
from kdkit.illustrate.no_plan.overview import Captioned, compose_overview
from kdkit.illustrate.paper.figure import Figure
from kdkit.illustrate.paper.fonts import face_rules
from kdkit.illustrate.paper.style import load_style
from kdkit.illustrate.paper.svg import lettering, render_svg
from kdkit.plan.no_plan import NoPlan
from kdkit.plan.plan import Impossible
from kdkit.publish.no_plan.account import Account, give_account
from kdkit.publish.no_plan.as_data import no_plan_data
from kdkit.publish.no_plan.as_text import no_plan_text
from kdkit.publish.no_plan.page import render_page
from kdkit.publish.typesetting.web_page import with_fonts
from kdkit.publish.wording.messages import Messages, find_wording, load_messages
from kdkit.publish.wording.plain_text import writable

__all__ = ["messages_for", "name_of", "publish_no_plan"]


def messages_for(no: NoPlan) -> Messages:
    """Return the wording of the product's language, English if there is none."""
    language = getattr(no.resolved.said, "language", "en")
    return find_wording(language)[0] or load_messages("en")


def name_of(no: NoPlan) -> str:
    """Return what the files are called: ``impossible`` or ``order``."""
    return "impossible" if isinstance(no.verdict, Impossible) else "order"


def publish_no_plan(
    no: NoPlan, figures: Mapping[str, Figure], folder: pathlib.Path | Claim
) -> tuple[tuple[pathlib.Path, ...] | None, tuple[Problem, ...]]:
    """Write ``impossible.txt``, ``.json``, ``.svg`` and ``.html`` (or ``order.…``).

    Args:
        figures: the pictures by the names that the account's sections use.
        folder: claimed, or to be claimed here: new, empty, or written by an earlier run
            and unchanged.
    """
    style, problems = load_style()
    if style is None:
        return None, problems
    messages = messages_for(no)
    account = give_account(no, messages)
    name = name_of(no)
    drawn = _overview(account, figures)
    sheet = render_svg(drawn, style, rules=face_rules(lettering([drawn])))
    data = json.dumps(no_plan_data(no), indent=2, ensure_ascii=False) + "\n"
    texts = {
        f"{name}.txt": no_plan_text(account),
        f"{name}.json": data,
        f"{name}.svg": sheet,
        f"{name}.html": with_fonts(render_page(account, figures, messages, style)),
    }

    def write(fresh: pathlib.Path) -> None:
        for file, text in texts.items():
            (fresh / file).write_text(writable(text), encoding="utf-8", newline="")

    return write_folder(folder, NO_PLAN, write)


def _overview(account: Account, figures: Mapping[str, Figure]) -> Figure:
    pictures = [
        Captioned(figure=figures.get(s.figure), heading=s.heading, lines=s.lines)
        for s in account.loops
    ]
    legend = account.legend
    words = [line for s in (legend, *account.loops) for line in (s.heading, *s.lines)]
    return compose_overview(
        account.title,
        account.introduction,
        Captioned(figure=figures.get(legend.figure), heading=legend.heading, lines=legend.lines),
        pictures,
        description=". ".join(words),
    )
