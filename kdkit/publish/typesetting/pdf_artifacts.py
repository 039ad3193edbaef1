"""Heads and feet of pages as artifacts, which the PDF engine leaves half tagged.

The engine marks their text like any other and makes structure elements for it, but hangs
these nowhere. PDF/UA-1 wants each piece of content to be in the structure or an artifact.
"""

from __future__ import annotations

import re
from typing import Any

__all__ = ["mark_artifacts"]

_MARK = re.compile(r"<<\s*/MCID (\d+)\s*>>")


def mark_artifacts(document: Any, pdf: Any) -> None:
    """Turn marked content whose element is not in the structure tree into artifacts.

    Args:
        document: as the engine hands it to a finisher.
        pdf: its objects, not yet written; changed in place.

    Source: ISO 14289-1, 7.1 and 7.8 (running heads and feet are artifacts).
    """
    tree = _found(pdf, pdf.catalog["StructTreeRoot"])
    reached = _reached(pdf, tree)
    numbers = _found(pdf, tree["ParentTree"])["Nums"]
    for page, reference in enumerate(pdf.page_references):
        elements = numbers[2 * page + 1]
        loose = {n for n, element in enumerate(elements) if _number(element) not in reached}
        if not loose:
            continue
        stream = _found(pdf, _found(pdf, reference)["Contents"]).stream
        for n in range(len(stream) - 1, 1, -1):
            if stream[n] != b"BDC":
                continue
            mark = _MARK.fullmatch(_text(stream[n - 1]))
            if mark is not None and int(mark.group(1)) in loose:
                stream[n - 2 : n + 1] = ["/Artifact", b"BMC"]
        for n in loose:
            elements[n] = "null"


def _reached(pdf: Any, tree: Any) -> set[int]:
    """Return the numbers of the structure elements that the tree leads to."""
    reached: set[int] = set()
    waiting = [kid for kid in tree["K"] if isinstance(kid, bytes)]
    while waiting:
        number = _number(waiting.pop())
        if number not in reached:
            reached.add(number)
            kids = pdf.objects[number].get("K", ())
            waiting += [kid for kid in kids if isinstance(kid, bytes)]
    return reached


def _found(pdf: Any, reference: bytes) -> Any:
    return pdf.objects[_number(reference)]


def _number(reference: bytes) -> int:
    return int(reference.split()[0])


def _text(data: Any) -> str:
    raw = getattr(data, "data", data)
    return raw.decode("ascii") if isinstance(raw, bytes) else str(raw)
