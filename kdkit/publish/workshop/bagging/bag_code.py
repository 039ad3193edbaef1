"""The machine-readable code of a label: a QR code of ISO/IEC 18004, which segno makes.

It holds one JSON object that says which bag of which product it is and what it weighs. Any
general reader shows it as text, so nobody needs a program of ours to use it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping

import segno

__all__ = ["QUIET", "code_cells", "code_text"]

QUIET = 4
"""White modules that must stay round the code. Source: ISO/IEC 18004, from memory."""

_MOST_BYTES = 180
"""Up to so many the code has at most 49 modules a side at error correction level M: of 20 mm
each is 0.4, which hand scanners read. Common practice, no source."""


def code_text(said: Mapping[str, object]) -> str:
    """Return what the code says; texts that are long lose their ends, the longest first.

    >>> code_text({"bag": "B", "product": "Shelf", "grams": [21.3, 0.6]})
    '{"bag":"B","product":"Shelf","grams":[21.3,0.6]}'
    """
    kept = {key: value for key, value in said.items() if value not in ("", None)}
    while True:
        text = json.dumps(kept, ensure_ascii=False, separators=(",", ":"))
        texts = {key: value for key, value in kept.items() if isinstance(value, str)}
        longest = max(texts, key=lambda key: len(texts[key]), default="")
        if len(text.encode("utf-8")) <= _MOST_BYTES or len(texts.get(longest, "")) < 2:
            return text
        kept[longest] = texts[longest][:-2].rstrip() + "…"


def code_cells(text: str) -> tuple[int, tuple[tuple[int, int, int], ...]]:
    """Return the modules a side, and runs of dark ones: (row, first column, how many)."""
    code = segno.make(text, error="m", micro=False, boost_error=False, encoding="utf-8")
    rows = [[bool(module) for module in row] for row in code.matrix]
    runs = []
    for y, row in enumerate(rows):
        start = None
        for x, dark in enumerate([*row, False]):
            if dark and start is None:
                start = x
            elif not dark and start is not None:
                runs.append((y, start, x - start))
                start = None
    return len(rows), tuple(runs)
