"""The maker's Markdown texts as safe HTML.

Allowed: paragraphs, headings (set two levels down, below the manual's own), lists,
emphasis, code, quotes, rules. Raw HTML is shown as the text it is. A link to an https
or mailto address is printed as its words with the address behind them, since paper
cannot be clicked; a link to anything else, and every image, is a problem. The result
goes through a sanitiser all the same.
"""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element

import nh3
from markdown import Markdown
from markdown.treeprocessors import Treeprocessor
from markupsafe import Markup

from kdkit.diagnostics import Path, Problem, error

__all__ = ["render_markdown"]

_TAGS = {"p", "h3", "h4", "h5", "h6", "ul", "ol", "li", "em", "strong", "code", "pre"} | {
    "blockquote",
    "hr",
    "br",
}
_LARGEST = 20_000
_DEEPEST = 20


def render_markdown(text: str, path: Path) -> tuple[Markup, tuple[Problem, ...]]:
    """Return the HTML of a text, and what must not be in it.

    Args:
        path: where the text stands in the definition, for the problems.
    """
    if len(text) > _LARGEST:
        return Markup(""), (
            error(
                "text-too-long",
                f"text has {len(text)} characters, more than {_LARGEST}",
                path,
                help="a manual's text is a few paragraphs",
            ),
        )
    if re.search(rf"^[ \t]*([>*+-][ \t]*){{{_DEEPEST}}}", text, re.MULTILINE):
        return Markup(""), (
            error(
                "text-too-deep",
                f"a list or quote is nested more than {_DEEPEST} levels deep",
                path,
                help="use fewer levels",
            ),
        )
    cleaner = _Cleaner()
    markdown = Markdown(output_format="html")
    markdown.preprocessors.deregister("html_block")
    markdown.inlinePatterns.deregister("html")
    markdown.treeprocessors.register(cleaner, "kdkit", -10)
    try:
        html = markdown.convert(text)
    except RecursionError:
        return Markup(""), (
            error("text-too-deep", "the text is nested too deeply", path, help="use fewer levels"),
        )
    problems = [
        error(
            "text-image",
            f"a text holds the image {target!r}",
            path,
            help="texts have no images; the pictures are drawn from the definition",
        )
        for target in cleaner.images
    ]
    problems += [
        error(
            "text-link",
            f"a text links to {target!r}",
            path,
            help="only https and mailto addresses may be named",
        )
        for target in cleaner.links
    ]
    return Markup(nh3.clean(html, tags=_TAGS, attributes={})), tuple(problems)


class _Cleaner(Treeprocessor):
    """Takes images and links out of the tree and moves headings down."""

    def __init__(self) -> None:
        super().__init__()
        self.images: list[str] = []
        self.links: list[str] = []

    def run(self, root: Element) -> None:
        for element in root.iter():
            if element.tag == "img":
                self.images.append(element.get("src", ""))
                element.tag, element.text = "em", element.get("alt", "")
                element.attrib.clear()
            elif element.tag == "a":
                self._unlink(element)
            elif re.fullmatch("h[1-6]", element.tag):
                element.tag = f"h{min(6, int(element.tag[1]) + 2)}"

    def _unlink(self, element: Element) -> None:
        target = element.get("href", "")
        plain = re.sub(r"[\x00-\x20]", "", _unescaped(target))
        shown = plain.removeprefix("mailto:")
        if not plain.lower().startswith(("https://", "mailto:")):
            self.links.append(target)
        elif _unescaped("".join(element.itertext())) not in (plain, shown):
            last = list(element)[-1] if len(element) else None
            if last is None:
                element.text = f"{element.text or ''} ({shown})"
            else:
                last.tail = f"{last.tail or ''} ({shown})"
        element.tag = "span"
        element.attrib.clear()


def _unescaped(target: str) -> str:
    """Undo the parser's hiding of e-mail addresses (character references)."""
    return re.sub("\x02amp\x03#(\\d+);", lambda m: chr(int(m.group(1))), target)
