"""The manual as one HTML text, for the screen and for the PDF engine alike."""

from __future__ import annotations

import base64
import hashlib
import importlib.resources
from collections.abc import Sequence
from dataclasses import dataclass, replace

import jinja2
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup

from kdkit.illustrate.paper.style import style_folder
from kdkit.publish.manual.content import Manual
from kdkit.publish.wording.messages import Messages

__all__ = ["page_script", "render_lists_trial", "render_manual"]


def render_manual(
    manual: Manual,
    messages: Messages,
    *,
    style: str = "plain",
    paper: tuple[float, float] | None = None,
    on_screen: bool = False,
    solids: str = "",
) -> str:
    """Return the manual as self-contained HTML: styles and pictures inline.

    ``paper``: width and height, mm, for which it was laid out, for those who print the page.
    ``on_screen``: with pictures for narrow screens, and a script that shows one step at a
    time and keeps ticks; the page is whole without it. ``solids``: for such a page, the steps
    as solids that the script turns and moves (``round_json``).

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
            screen=_screen(manual, solids) if on_screen else None,
            page_number=Markup('<span class="page-number"></span>'),
            page_count=Markup('<span class="page-count"></span>'),
        )
    )


@dataclass(frozen=True)
class Screen:
    """What a page on the screen has besides the printed one's: a script that its policy
    names by its hash, so that no other can run, and a mark of what it says, so that ticks
    are not taken over from another revision; ``round``: the steps as solids, or ""."""

    script: Markup
    policy: str
    mark: str
    round: Markup


def page_script() -> str:
    """Return the one script of a page: a library that draws solids, then what is kdkit's own."""
    folder = importlib.resources.files("kdkit.publish").joinpath("templates")
    names = ("ogl.js", "in_the_round.js", "step_by_step.js")
    return "".join(folder.joinpath(name).read_text(encoding="utf-8") for name in names)


def _screen(manual: Manual, solids: str) -> Screen:
    text = page_script()
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    policy = (
        f"default-src 'none'; script-src 'sha256-{digest}'; style-src 'unsafe-inline'; "
        "font-src data:; img-src data:"
    )
    said = (manual.title, manual.revision, *((s.title, s.lines) for s in manual.steps))
    mark = hashlib.sha256(repr(said).encode()).hexdigest()[:16]
    return Screen(Markup(text), policy, mark, Markup(solids))


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
