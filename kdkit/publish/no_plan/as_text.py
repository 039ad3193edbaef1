"""The no as plain text."""

from __future__ import annotations

import textwrap

from kdkit.publish.no_plan.account import Account, Section

__all__ = ["no_plan_text"]

_WIDE = 92


def no_plan_text(account: Account) -> str:
    """Return the whole account, lines of at most 92 letters, ending with a line end."""
    blocks = [_filled(account.title), *(_filled(p) for p in account.introduction)]
    sections = (account.legend, *account.loops, *account.closing)
    blocks += [_section(section) for section in sections if section.lines]
    return "\n\n".join(blocks) + "\n"


def _section(section: Section) -> str:
    lines = [_filled(section.heading)]
    lines += [_filled(line, "  ") for line in section.lines]
    return "\n".join(lines)


def _filled(text: str, indent: str = "") -> str:
    return textwrap.fill(
        text,
        _WIDE,
        initial_indent=indent,
        subsequent_indent=f"{indent}   " if indent else "",
        break_long_words=False,
        break_on_hyphens=False,
        drop_whitespace=True,
    )
