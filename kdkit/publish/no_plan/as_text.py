"""The no as plain text: the whole account, or a page of it. Words are never parted."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import replace

from kdkit.publish.no_plan.account import Account, Section

__all__ = ["no_plan_page", "no_plan_text"]

_WIDE = 92
_MOST_PARTS, _MOST_IN_LOOP, _MOST_CLOSING, _MOST_GROUPS = 8, 4, 4, 3
"""Entries of a section that stand on the page."""


def no_plan_text(account: Account, width: int = _WIDE) -> str:
    """Return the whole account, lines of at most 92 letters, ending with a line end.

    Args:
        width: of what it is read on, in letters.
    """
    paragraphs = (account.title, *account.introduction)
    sections = (account.legend, *account.loops, *account.closing)
    return _text(paragraphs, (s for s in sections if s.lines), width)


def no_plan_page(account: Account, rest: str, width: int = _WIDE) -> str:
    """Return what of the account fits on a page: a loop of each group, what would help first.

    Args:
        rest: how to get at the rest, in words.
    """
    first = {loop.group: loop for loop in reversed(account.loops)}
    shown = [first[group] for group in sorted(first)[:_MOST_GROUPS]]
    most = _MOST_IN_LOOP if len(shown) == 1 else 2
    loops = [_shortened(loop, most) for loop in shown]
    left = len(account.loops) - len(loops)
    sections = [
        _shortened(account.legend, _MOST_PARTS),
        *loops,
        *(_shortened(section, _MOST_CLOSING) for section in account.closing),
    ]
    more = f"{left} more loop{'' if left == 1 else 's'} like this one. " if left else ""
    told = [section for section in sections if section.lines]
    return _text((account.title,), [*told, Section(heading=f"{more}{rest}", lines=())], width)


def _shortened(section: Section, most: int) -> Section:
    left = len(section.lines) - most
    if left <= 1:
        return section
    return replace(section, lines=(*section.lines[:most], f"… and {left} more"))


def _text(paragraphs: Iterable[str], sections: Iterable[Section], width: int) -> str:
    width = max(20, min(_WIDE, width))
    blocks = [_filled(paragraph, width) for paragraph in paragraphs]
    for section in sections:
        lines = [_filled(section.heading, width)]
        lines += [_filled(line, width, "  ") for line in section.lines]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def _filled(text: str, width: int, indent: str = "") -> str:
    return textwrap.fill(
        text,
        width,
        initial_indent=indent,
        subsequent_indent=f"{indent}   " if indent else "",
        break_long_words=False,
        break_on_hyphens=False,
        drop_whitespace=True,
    )
