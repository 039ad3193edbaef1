"""Pages for the screen: self-contained, with the fonts that they are set in.

The page that is printed by the PDF engine has none of this: the engine knows the fonts.

Pictures are enlarged without a script, by a checkbox and style rules. Only the manual's page
has one, for what no style can do (one step at a time, ticks that stay): its policy names it
by its hash, so that nothing else can run, and without it the page is whole.

The web page names its paper. Printed from a browser it breaks where the PDF does; the page
that is only measured names none.
"""

from __future__ import annotations

from html import unescape

from kdkit.illustrate.paper.fonts import CODE, TEXT, face_rules
from kdkit.publish.wording.plain_text import writable

__all__ = ["with_fonts"]


def with_fonts(html: str) -> str:
    """Return a page with the fonts that it needs, in its head.

    A sign that they cannot show is left to the fonts of who reads the page.
    """
    html = writable(html)
    families = (TEXT, CODE) if "<code" in html else (TEXT,)
    rules = face_rules(unescape(html), families)
    return html.replace("</head>", f"<style>\n{rules}\n</style>\n</head>", 1)
