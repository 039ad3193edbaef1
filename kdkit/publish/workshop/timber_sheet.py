"""The bars of timber as they are cut, drawn in rows, each with its letters and its rest."""

from __future__ import annotations

import math
from collections.abc import Sequence

from kdkit.publish.wording.messages import Messages
from kdkit.publish.workshop.cutting_list import section_text, timber_words
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES, DrawingSheet, fitted_text
from kdkit.publish.workshop.drawings.title_block import room_on
from kdkit.schedule.saw import Saw
from kdkit.schedule.timber import TimberBar, TimberOrder
from kdkit.units import mm_text

__all__ = ["draw_timber"]

_HEAD = 6.0
_NOTE = 3.6
_ROW = 7.5
_HIGH = 5.0  # of a bar
_NAME = 24.0  # room left of the bars for their numbers
_SMALL = 1.8


def draw_timber(
    messages: Messages,
    paper: str,
    what: str,
    sections: Sequence[tuple[str, TimberOrder]],
    saw: Saw,
) -> tuple[DrawingSheet, ...]:
    """Return sheets with every kind of bar of every section, all to one scale along them.

    Args:
        sections: the board's name with each.
    """
    longest = max((bar.stock for _, one in sections for bar in one.bars), default=1.0)
    sheets: list[DrawingSheet] = []
    y = math.inf
    for name, timber in sections:
        notes = timber_words(messages, timber, saw)
        rest = list(timber.bars)
        while rest:
            head = _HEAD + _NOTE * len(notes)
            if not sheets or y + head + _ROW > room_on(sheets[-1])[3]:
                sheets.append(DrawingSheet(*PAPER_SIZES[paper], what))
                y = room_on(sheets[-1])[1] + 2
            sheet = sheets[-1]
            x0, _, x1, y1 = room_on(sheet)
            title = fitted_text(f"{name}: {section_text(timber)}", 2.5, (x1 - x0 - 6) / 1.12)
            sheet.text((x0 + 3, y + 4), title, 2.5, bold=True)
            for n, words in enumerate(notes, start=1):
                text = fitted_text(words, _SMALL, x1 - x0 - 6)
                sheet.text((x0 + 3, y + 4 + _NOTE * n), text, _SMALL)
            y += head
            rows = int((y1 - y) / _ROW)
            for bar in rest[:rows]:
                scale = (x1 - x0 - _NAME - 8) / longest
                _draw_bar(sheet, messages, bar, (x0 + 3, y), scale, saw)
                y += _ROW
            rest = rest[rows:]
    return tuple(sheets)


def _draw_bar(
    sheet: DrawingSheet,
    messages: Messages,
    bar: TimberBar,
    at: tuple[float, float],
    scale: float,
    saw: Saw,
) -> None:
    """Draw one kind of bar: number and stock length at its left, its pieces from the left end."""
    say = messages.plain
    x, y = at
    numbers = str(bar.first) if bar.times == 1 else f"{bar.first}–{bar.last}"
    name = say("saw.bar", bars=numbers, stock=mm_text(bar.stock))
    sheet.text((x, y + 3.4), fitted_text(name, _SMALL, _NAME - 1), _SMALL)
    left = x + _NAME
    sheet.rectangle((left, y, left + bar.stock * scale, y + _HIGH), "edge")
    start = saw.end_trim
    for letter, length, many in bar.pieces:
        for _ in range(many):
            box = (left + start * scale, y, left + (start + length) * scale, y + _HIGH)
            sheet.rectangle(box, "outline", fill="#f2f2f2")
            room = box[2] - box[0] - 1
            words = f"{letter} {mm_text(length)}"
            shown = words if fitted_text(words, _SMALL, room) == words else letter
            if fitted_text(shown, _SMALL, room) == shown:
                sheet.text(((box[0] + box[2]) / 2, y + 3.2), shown, _SMALL, anchor="middle")
            start += length + saw.kerf
    if bar.rest >= saw.keep:
        box = (left + start * scale, y, left + (start + bar.rest) * scale, y + _HIGH)
        words = say("saw.rest", rest=mm_text(bar.rest))
        if fitted_text(words, _SMALL, box[2] - box[0] - 1) == words:
            sheet.text(((box[0] + box[2]) / 2, y + 3.2), words, _SMALL, anchor="middle")
