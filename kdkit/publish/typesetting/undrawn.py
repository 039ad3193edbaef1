"""What the PDF engine says in its log, as problems: which picture is not drawn."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from html import unescape

from kdkit.diagnostics import Problem, error
from kdkit.publish.typesetting.engines import Heard

__all__ = ["tell_undrawn"]

_HARMLESS = (
    # Rules for screens and narrow windows, which no page for print is.
    re.compile(r"Expected a media type, got '(screen\b|\(max-width)"),
    re.compile(r"Invalid media type ' ?(screen\b|\(max-width)"),
    # The font is made smaller by another library, with the same glyphs.
    re.compile(r"Using fontTools instead of HarfBuzz-Subset\b"),
    # Signs that the fonts lack: told before anything is set, at the text (`check_signs`).
    re.compile(r"\.notdef glyph rendered"),
)
"""Warnings after which nothing is missing on a page."""

_PICTURE = re.compile(r"<svg\b.*?</svg>", re.DOTALL)
_NO_PICTURE = ("Failed to render SVG image", "Failed to load inline SVG")
_TITLE = re.compile(r"<title[^>]*>([^<]*)</title>")
_SECTION = re.compile(r'<(?:section|div|li)\b[^>]*\bid="([^"]+)"')


def tell_undrawn(
    heard: Sequence[Heard], html: str, set_alone: Callable[[str], Sequence[Heard]]
) -> Iterator[Problem]:
    """Yield what is missing on the pages, where the log says that something is.

    Args:
        heard: what the engine logged.
        html: what it set.
        set_alone: sets one picture and returns what is logged then; by it the pictures
            that fail are found, since the log does not name them.
    """
    counting = [h for h in heard if not any(known.match(h.text) for known in _HARMLESS)]
    pictures = [h for h in counting if h.form.startswith(_NO_PICTURE)]
    if pictures:
        named = list(_undrawn_pictures(html, set_alone))
        yield from named or [_undrawn("a picture", "", pictures[0])]
    for said in counting:
        if said not in pictures:
            yield error("engine-failed", f"the page engine: {said.text}{_cause(said)}")


def _undrawn_pictures(html: str, set_alone: Callable[[str], Sequence[Heard]]) -> Iterator[Problem]:
    for picture in _PICTURE.finditer(html):
        said = next((h for h in set_alone(picture[0]) if h.form.startswith(_NO_PICTURE)), None)
        if said is not None:
            title = _TITLE.search(picture[0])
            above = _SECTION.findall(html, 0, picture.start())
            yield _undrawn(
                f"the picture “{unescape(title[1])[:80]}”" if title else "a picture",
                f"in the section {above[-1]}" if above else "",
                said,
            )


def _undrawn(picture: str, where: str, said: Heard) -> Problem:
    return error(
        "picture-not-drawn",
        f"{picture} could not be drawn{_cause(said)}",
        where=where,
        help="this is a fault in kdkit; please report it with the definition",
    )


def _cause(said: Heard) -> str:
    if said.cause is None or str(said.cause) in said.text:
        return ""
    return f": {type(said.cause).__name__}: {said.cause}"
