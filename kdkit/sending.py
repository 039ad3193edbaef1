"""What is sent to a caller: items, bags or panels of an issued revision, and their papers.

Everything said here was frozen when the revision was issued: which items and parts there are,
in which steps they come, the drawing and the programs of a panel. Only what is sent instead
of an item that is no longer to be had is of today.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from kdkit.archive import Archive, Batch, IssuedFile, Revision, Sent, files_of
from kdkit.archive.issued import MANUAL, WORKSHOP
from kdkit.archive.superseding import Superseded
from kdkit.definition.formula import near_names
from kdkit.diagnostics import Problem, error

__all__ = [
    "MOST",
    "WHY",
    "Asked",
    "PanelOrder",
    "bag_names",
    "choose_sent",
    "in_bag",
    "lookalikes",
    "panel_order",
    "steps_of",
    "where_it_lies",
]

WHY = ("missing", "damaged", "lost", "other")
MOST = 10_000
"""Pieces that one note may say."""

_PART = "part "


@dataclass(frozen=True)
class Asked:
    """One thing asked for: an item, ``bag NAME`` or ``part LETTER``, and how many."""

    item: str
    quantity: int


@dataclass(frozen=True, kw_only=True)
class PanelOrder:
    """What the workshop needs to make one panel again.

    Args:
        part: from the record: title, size, cut size, bands, all that is worked in it.
        files: as issued: its DXF, programs, picture.
        drawing: its pages out of the issued drawings, b"" if they are not found there.
    """

    part: Mapping[str, Any]
    files: tuple[IssuedFile, ...]
    drawing: bytes


def choose_sent(
    record: Mapping[str, Any],
    asked: Sequence[Asked],
    why: str,
    reference: str,
    today: Mapping[str, Superseded],
) -> tuple[list[Sent], list[Problem]]:
    """Return what is sent, line by line, and what was asked for and is not of the revision.

    Args:
        today: what is sent instead of an item, by item.
    """
    sent: list[Sent] = []
    problems = []
    by_item = {line["item"]: line for line in record["hardware"] if line["supplied"]}
    by_letter = {part["letter"]: part for part in record["parts"]}

    def add(item: str, title: str, quantity: int, bag: str = "") -> None:
        one = Sent(number=0, at="", revision="", batch="", item=item, title=title,
                   quantity=quantity, why=why, reference=reference, bag=bag)  # fmt: skip
        instead = today.get(item)
        if instead is not None:
            one = replace(one, title=instead.title, instead=instead.instead)
        sent.append(one)

    for one in asked:
        kind, _, name = one.item.partition(" ")
        inside = in_bag(record, name.strip()) if kind == "bag" else {}
        if one.item in by_item:
            add(one.item, _title(by_item[one.item]), one.quantity)
        elif inside:
            for item, pieces in inside.items():
                add(item, _title(by_item[item]), pieces * one.quantity, name.strip())
        elif one.item.startswith(_PART) and name.strip() in by_letter:
            add(f"{_PART}{name.strip()}", by_letter[name.strip()]["title"], one.quantity)
        else:
            problems.append(_not_there(one.item, record))
    return sent, problems


def in_bag(record: Mapping[str, Any], name: str) -> Mapping[str, int]:
    """Return what is in a bag, spares included: item → pieces; nothing if there is none.

    A record made before bags were filled says for each item which one bag it is in.
    """
    for bag in record.get("bags", ()):
        if bag["name"] == name:
            return {line["item"]: line["needed"] + line["spares"] for line in bag["items"]}
    if "bags" in record:
        return {}
    lines = (line for line in record["hardware"] if name and line["bag"] == name)
    pieces = {line["item"]: line["quantity"] - line["fitted"] for line in lines if line["supplied"]}
    return {item: count for item, count in pieces.items() if count}


def where_it_lies(record: Mapping[str, Any], line: Mapping[str, Any]) -> str:
    """Return how many of an item of the record a caller has, bag by bag, spares included."""
    names = [name for name in bag_names(record) if line["item"] in in_bag(record, name)]
    bags = [f"{in_bag(record, name)[line['item']]} in bag {name}" for name in names]
    return ", ".join(bags) or f"{line['quantity']} in it"


def bag_names(record: Mapping[str, Any]) -> list[str]:
    """Return the names of a revision's bags."""
    if "bags" in record:
        return [bag["name"] for bag in record["bags"]]
    return sorted({line["bag"] for line in record["hardware"] if line["bag"]})


def _title(line: Mapping[str, Any]) -> str:
    return f"{line['title']} {line['size']}".strip()


def _not_there(item: str, record: Mapping[str, Any]) -> Problem:
    items = [line["item"] for line in record["hardware"] if line["supplied"]]
    bags = [f"bag {name}" for name in bag_names(record)]
    parts = [f"{_PART}{part['letter']}" for part in record["parts"]]
    near = near_names(item, [*items, *bags, *parts])
    told = f"did you mean {near[0]}?" if near else "it has " + ", ".join([*items, *bags][:12])
    return error("item-not-in-revision", f"the revision has no {item[:80]!r}", help=told)


def steps_of(record: Mapping[str, Any], item: str) -> tuple[int, ...]:
    """Return the steps of the manual in which an item, or ``part LETTER``, is taken in hand.

    A record made before these were frozen says only where an item is used up, and where a part
    is put on.
    """
    if item.startswith(_PART):
        part = _part(record, item.removeprefix(_PART))
        if part is not None and "used" in part:
            return tuple(part["used"])
        names = set(part["names"]) if part is not None else set()
        return tuple(s["number"] for s in record["steps"] if names & set(s["new"]))
    lines = (line for line in record["hardware"] if line["item"] == item)
    steps = {int(n) for line in lines for n in line.get("used", line["steps"])}
    return tuple(sorted(steps))


def _part(record: Mapping[str, Any], letter: str) -> Mapping[str, Any] | None:
    return next((part for part in record["parts"] if part["letter"] == letter), None)


def lookalikes(record: Mapping[str, Any], item: str) -> tuple[Mapping[str, Any], ...]:
    """Return the supplied lines that a caller may mean by the words for one of them.

    Those whose titles share its last word ("cam bolt", "slim cam bolt"), and the rest of that
    title's words ("cam lock"); the one asked for comes first.
    """
    lines = [line for line in record["hardware"] if line["supplied"]]
    mine = next((line for line in lines if line["item"] == item), None)
    if mine is None:
        return ()
    words = set(_words(mine["title"]))
    alike = [line for line in lines if line is not mine and words & set(_words(line["title"]))]
    return (mine, *alike)


def _words(title: str) -> list[str]:
    return [word for word in re.findall(r"[^\W\d_]+", title.casefold()) if len(word) > 2]


def panel_order(
    archive: Archive, whose: Revision | Batch, record: Mapping[str, Any], letter: str
) -> PanelOrder | None:
    """Return what the workshop needs to make one panel again; None if there is no such part.

    Raises:
        ArchiveFailed: the archive could not be read, or a file of it is damaged.
    """
    part = _part(record, letter)
    if part is None:
        return None
    files = files_of(archive, whose, (MANUAL, WORKSHOP))
    wanted = (f"dxf/panel-{letter}.dxf", "dxf/layers.csv", f"figures/part-{letter}.svg")
    program = re.compile(rf"programs/({re.escape(letter)}-[^/]*|read-first\.pdf|tools\.csv)")
    own = tuple(f for f in files if f.path in wanted or program.fullmatch(f.path))
    if not any(f.path.startswith(f"programs/{letter}-") for f in own):
        own = tuple(f for f in own if not f.path.startswith("programs/"))
    if not any(f.path.endswith(f"panel-{letter}.dxf") for f in own):
        own = tuple(f for f in own if f.path != "dxf/layers.csv")
    drawings = next((f.data for f in files if f.path == "drawings.pdf"), b"")
    pages = _pages(drawings, f"{letter} {part['title']}") if drawings else b""
    return PanelOrder(part=part, files=own, drawing=pages)


def _pages(drawings: bytes, said: str) -> bytes:
    """Return the pages of the drawings whose title block names a part."""
    import logging

    import pypdf  # here: it takes long to import, and most replacements are no panels
    from pypdf.errors import PyPdfError

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)
    wanted = " ".join(said.split())
    try:
        found = pypdf.PdfWriter()
        for page in pypdf.PdfReader(io.BytesIO(drawings)).pages:
            lines = page.extract_text().splitlines()
            if any(" ".join(line.split()) == wanted for line in lines):
                found.add_page(page)
        if not found.pages:
            return b""
        written = io.BytesIO()
        found.write(written)
    except (PyPdfError, ValueError, KeyError, TypeError, RecursionError):
        return b""
    return written.getvalue()
