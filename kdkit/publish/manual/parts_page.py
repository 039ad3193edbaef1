"""How the parts list is set: columns, and the height of its pictures.

The list shares its page with the hardware where both fit; else it gets fewer and wider
columns, with pictures as high as fill its own page. Where it needs several pages, it
is set close and the hardware follows.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from kdkit.illustrate import FigureBox
from kdkit.publish.manual.content import Manual

__all__ = ["COLUMNS", "PartsPage", "set_parts"]

COLUMNS: Mapping[int, float] = {2: 80.0, 3: 50.0, 4: 36.5}
"""Columns that the style sheet has, and the width of a picture in each, mm."""

LONG_LIST = (4, 17.0)
"""Columns and the height of a picture in a list that goes on over several pages, mm."""

TOGETHER = ((3, 20.0), (4, 17.0))
"""Columns for a page shared with the hardware, the best first, with the least height of
a picture, mm."""

ALONE = ((2, 26.0), (3, 20.0))
"""The same for a page of its own."""

FLATTEST = 0.6
"""A picture's height over its width from which more height would stay white: parts are
drawn lying."""


@dataclass(frozen=True)
class PartsPage:
    """The parts list: ``shared`` tells that the hardware follows on its (last) page;
    ``height`` is the list's, mm."""

    columns: int
    room: FigureBox
    shared: bool
    height: float


def set_parts(
    manual: Manual, words: Mapping[int, float], hardware: float, page: float
) -> PartsPage:
    """Choose how the parts list is set.

    Args:
        manual: with its parts.
        words: by columns, the height of the list when its pictures have none, mm.
        hardware: height of the hardware list, 0 if there is none, mm.
        page: height of the page's area, mm.
    """
    for tries, taken in ((TOGETHER, hardware), (ALONE, 0.0)):
        for columns, least in tries:
            rows = sum(math.ceil(len(parts) / columns) for parts in (manual.parts, manual.bought))
            room = (page - taken - words[columns]) / max(1, rows)
            if room >= least:
                width = COLUMNS[columns]
                high = math.floor(min(room, FLATTEST * width))
                return PartsPage(
                    columns,
                    FigureBox(width=width, height=high),
                    taken == hardware,
                    words[columns] + rows * high,
                )
    columns, room = LONG_LIST
    rows = sum(math.ceil(len(parts) / columns) for parts in (manual.parts, manual.bought))
    picture = FigureBox(width=COLUMNS[columns], height=room)
    return PartsPage(columns, picture, True, words[columns] + rows * room)
