"""The maker's Markdown texts as safe HTML.

Allowed: paragraphs, headings (set two levels down, below the manual's own), lists,
emphasis, code, quotes, rules. Raw HTML is shown as the text it is. A link to an https
or mailto address is printed as its words with the address behind them, since paper
cannot be clicked; a link to anything else, and every image, is a problem. The result
goes through a sanitiser all the same.

The parser's work grows with a text's length and no faster, which
``tests/bench/bench_texts.py`` measures. What it finds is changed as a flat list of
tokens, so that depth costs no stack.

Source: the CommonMark specification 0.31, as markdown-it-py reads it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING

from markupsafe import Markup

from kdkit.diagnostics import Path, Problem, error
from kdkit.publish.wording.plain_text import writable

if TYPE_CHECKING:  # the parser is imported when a text needs one
    from markdown_it import MarkdownIt
    from markdown_it.token import Token

__all__ = ["check_markdown", "render_markdown"]

_TAGS = {"p", "h3", "h4", "h5", "h6", "ul", "ol", "li", "em", "strong", "code", "pre"} | {
    "blockquote",
    "hr",
    "br",
}
_LARGEST = 20_000
_MOST_BLOCKS = 300
"""Paragraphs, list entries, headings, quotes and lines broken on purpose of one text. Setting
pages costs by the block more than by the letter; 300 fill some eight pages."""
_BLOCKS = {"paragraph_open", "heading_open", "list_item_open", "blockquote_open", "hr"} | {
    "code_block",
    "fence",
    "html_block",
}
_DEEPEST = 20
_GROWS = 4
"""How much longer the set text may be: a few characters can name a long address again."""
_MARKS = re.compile(r"[\[<>*_+-]|\d[.)]")
"""What a link, an image, or a level of a list, a quote or emphasis begins with."""
_MOST_TOLD = 20
_SHOWN = 80


def check_markdown(text: str, path: Path) -> tuple[Problem, ...]:
    """Return what must not be in a text; one that nothing can be wrong with is not parsed."""
    marks = _MARKS.findall(text)
    few = len(marks) <= _DEEPEST and text.count("\n") < _MOST_BLOCKS
    if len(text) <= _LARGEST and few and not {"[", "<"} & set(marks):
        return ()
    return render_markdown(text, path)[1]


def render_markdown(text: str, path: Path) -> tuple[Markup, tuple[Problem, ...]]:
    """Return the HTML of a text, and what must not be in it.

    Args:
        path: where the text stands in the definition, for the problems.
    """
    if len(text) > _LARGEST:
        message = f"text has {len(text)} characters, more than {_LARGEST}"
        help = "a manual's text is a few paragraphs"
        return Markup(""), (error("text-too-long", message, path, help=help),)
    import nh3  # late: a check of plain texts needs neither

    parser = _parser()
    tokens = parser.parse(text)
    if _depth(tokens) > _DEEPEST:
        message = f"lists, quotes or emphasis are nested more than {_DEEPEST} levels deep"
        return Markup(""), (error("text-too-deep", message, path, help="use fewer levels"),)
    blocks = _count_blocks(tokens)
    if blocks > _MOST_BLOCKS:
        message = f"text has {blocks} paragraphs, list entries and lines, more than {_MOST_BLOCKS}"
        help = "a manual's text is a few paragraphs"
        return Markup(""), (error("text-too-long", message, path, help=help),)
    finder = _Finder(_GROWS * max(len(text), 1000))
    changed = finder.change(tokens)
    problems = finder.problems(path)
    if finder.room < 0:
        message = f"with its links' addresses the text has more than {_GROWS} times its length"
        help = "name a long address once"
        problems.append(error("text-too-long", message, path, help=help))
        return Markup(""), tuple(problems)
    html = parser.renderer.render(changed, parser.options, {})
    return Markup(nh3.clean(writable(html), tags=_TAGS, attributes={})), tuple(problems)


def _depth(tokens: Sequence[Token]) -> int:
    """Return how deep lists and quotes stand in each other, or emphasis, whichever is more."""
    deepest = depth = 0
    for token in tokens:
        # A list's entries are a level of their own for the parser, for people they are not.
        if token.type.startswith(("bullet_list", "ordered_list", "blockquote")):
            depth += token.nesting
        deepest = max(deepest, depth, *(child.level for child in token.children or ()))
    return deepest


def _count_blocks(tokens: Sequence[Token]) -> int:
    """Return how many pieces a text sets under each other; lines of code count each."""
    count = 0
    for token in tokens:
        # The paragraph that a tight list's entry holds is not set as one.
        count += token.type in _BLOCKS and not token.hidden
        if token.type in ("code_block", "fence"):
            count += token.content.count("\n")
        count += sum(child.type == "hardbreak" for child in token.children or ())
    return count


@cache
def _parser() -> MarkdownIt:
    from markdown_it import MarkdownIt

    # The parser drops what lies deeper than its own limit, so that must be beyond ours.
    parser = MarkdownIt("commonmark", {"html": False, "maxNesting": 2 * _DEEPEST + 10})
    # Every link and image is to be found, those to be refused among them, as it was written.
    parser.validateLink = lambda url: True  # type: ignore[method-assign]
    parser.normalizeLink = lambda url: url  # type: ignore[method-assign]
    parser.normalizeLinkText = lambda link: link  # type: ignore[method-assign]
    return parser


class _Finder:
    """Takes images and links out of the tokens of one text and moves headings down."""

    def __init__(self, room: int) -> None:
        self.room = room
        self.images: list[str] = []
        self.links: list[str] = []

    def change(self, tokens: Sequence[Token]) -> list[Token]:
        """Return the tokens as they are to be set."""
        for token in tokens:
            if token.type in ("heading_open", "heading_close"):
                token.tag = f"h{min(6, int(token.tag[1]) + 2)}"
            if token.children:
                token.children = self._inline(token.children)
        return list(tokens)

    def _inline(self, tokens: Sequence[Token]) -> list[Token]:
        from markdown_it.token import Token

        found: list[Token] = []
        begun, target = 0, ""
        for token in tokens:
            if token.type == "image":
                self.images.append(str(token.attrGet("src") or ""))
                found.append(Token("text", "", 0, content=token.content))
            elif token.type == "link_open":
                begun, target = len(found), str(token.attrGet("href") or "")
            elif token.type == "link_close":
                found += self._address(target, "".join(t.content for t in found[begun:]))
            else:
                found.append(token)
        return found

    def _address(self, target: str, words: str) -> list[Token]:
        """Return what is printed behind the words of a link; they may be the address."""
        from markdown_it.token import Token

        plain = re.sub(r"[\x00-\x20]", "", target)
        shown = plain.removeprefix("mailto:")
        if not plain.lower().startswith(("https://", "mailto:")):
            self.links.append(target)
            return []
        if words in (plain, shown):
            return []
        self.room -= len(shown)
        return [Token("text", "", 0, content=f" ({shown})")] if self.room >= 0 else []

    def problems(self, path: Path) -> list[Problem]:
        """Return what the text must not hold, each target once."""
        told = [
            error(
                "text-image",
                f"a text holds the image {target[:_SHOWN]!r}",
                path,
                help="texts have no images; the pictures are drawn from the definition",
            )
            for target in dict.fromkeys(self.images)
        ]
        told += [
            error(
                "text-link",
                f"a text links to {target[:_SHOWN]!r}",
                path,
                help="only https and mailto addresses may be named",
            )
            for target in dict.fromkeys(self.links)
        ]
        return told[:_MOST_TOLD]
