"""What an archive holds, as values: files, revisions, batches, what was sent.

A **seal** is the SHA-256 of all that makes a revision or a batch what it is, its files by
their own sums. It says nothing of when it was issued, so that the same content has the same
seal in every archive.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from kdkit.definition.gate import find_unprintable

__all__ = [
    "DEFINITION",
    "KINDS",
    "MANUAL",
    "PACKING",
    "RECORD",
    "WORKSHOP",
    "Batch",
    "IssuedFile",
    "Revision",
    "Sent",
    "key_of",
    "leads_out",
    "refuse_path",
    "seal_of",
]

DEFINITION, RECORD, MANUAL = "definition", "record", "manual"
WORKSHOP, PACKING = "workshop", "packing"
"""Kinds of files: what it was made from, the counts as data, and what the three commands wrote.

Revisions that were issued before cartons were frozen hold no ``packing``."""

KINDS = (DEFINITION, RECORD, MANUAL, WORKSHOP, PACKING)


def key_of(text: str) -> str:
    """Return a name as it is compared: letters in one form and case, single blanks.

    Half a letter, as a command line or a label's code can bring it, is none of any name.
    """
    whole = text.encode("utf-8", "replace").decode("utf-8")
    return " ".join(unicodedata.normalize("NFKC", whole).casefold().split())


def refuse_path(kind: str, path: str) -> str | None:
    """Return why a file cannot be called so, None if it can.

    What an archive holds may come from another, or was changed past kdkit; no file of it
    is ever written outside the folder that it is meant for.
    """
    if kind not in KINDS:
        return f"there is no kind {kind[:40]!r}"
    told = repr(path[:80])
    bad = find_unprintable(path)
    if bad is not None:
        return f"the path {told} holds the character U+{ord(bad):04X}"
    if leads_out(path) or re.search(r"[\\:]", path):  # which lead out elsewhere
        return f"the path {told} leads out of its folder"
    if any(len(piece.encode()) > 200 for piece in path.split("/")):
        return f"the path {told} has a name of more than 200 bytes"
    return None


def leads_out(path: str) -> bool:
    """Tell whether a path names anything but a file below the folder that it is laid in."""
    return "\0" in path or any(piece in ("", ".", "..") for piece in path.split("/"))


@dataclass(frozen=True, kw_only=True)
class IssuedFile:
    """One file of a revision or a batch.

    Args:
        kind: ``definition`` (the definition's own files, paths from its folder),
            ``record``, ``manual``, ``workshop`` or ``packing``.
        path: relative, ``/`` between folders.
        data: its bytes.
    """

    kind: str
    path: str
    data: bytes = field(repr=False)

    @property
    def sum(self) -> str:
        """The SHA-256 of its bytes, in hexadecimal."""
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True, kw_only=True)
class Revision:
    """A product's revision as it was issued.

    Args:
        number: of the archive; 0 while it is not in one.
        variant: "" for the definition's own sizes.
        settings: what the run was asked besides: ``set`` (parameters), ``paper``.
        definition: path of the definition among its files.
        written_by: the program and its version.
        issued: when, in UTC, ISO 8601; "" while it is not.
        seal: see this module's head.
    """

    product: str
    revision: str
    variant: str
    settings: Mapping[str, Any]
    definition: str
    written_by: str
    number: int = 0
    issued: str = ""
    seal: str = ""

    @property
    def title(self) -> str:
        """Product, variant and revision as they are told."""
        variant = f", {self.variant}" if self.variant else ""
        return f"{self.product}{variant}, revision {self.revision}"


@dataclass(frozen=True, kw_only=True)
class Batch:
    """Products made in one go after an issued revision.

    Args:
        batch: its number as it stands on labels.
        count: how many were made; 0 if nobody said.
        made: when, as the maker writes it.
        own: its manual and labels bear the batch's number; without, those of the revision
            hold for it.
    """

    batch: str
    revision: Revision
    count: int = 0
    made: str = ""
    own: bool = True
    number: int = 0
    recorded: str = ""
    seal: str = ""


@dataclass(frozen=True, kw_only=True)
class Sent:
    """One piece of hardware or panel sent after a sale.

    Args:
        item: the item's name in the catalogue, or ``part X`` for the panel of that letter.
        why: ``missing``, ``damaged``, ``lost`` or ``other``.
        reference: an order's number at most; it can be taken away again.
        batch: "" if the caller could not tell.
        instead: the item that was sent for it, "" if it was the item itself.
        bag: the bag that was sent whole, with this in it; "" for pieces by themselves.
        product, revision_number: of the revision; they come with a note that was read.
    """

    number: int
    at: str
    revision: str
    batch: str
    item: str
    title: str
    quantity: int
    why: str
    reference: str
    instead: str = ""
    bag: str = ""
    product: str = ""
    revision_number: int = 0


def seal_of(told: Mapping[str, Any], files: Iterable[tuple[str, str, str]]) -> str:
    """Return the seal of a revision or batch.

    Args:
        told: its own words, as JSON can hold them.
        files: kind, path and SHA-256 of each.
    """
    whole = {**told, "files": sorted(map(list, files))}
    text = json.dumps(whole, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def words_of_revision(revision: Revision) -> dict[str, Any]:
    """Return what a revision's seal says of it besides its files."""
    return {
        "product": revision.product,
        "revision": revision.revision,
        "variant": revision.variant,
        "settings": dict(revision.settings),
        "definition": revision.definition,
        "written_by": revision.written_by,
    }


def words_of_batch(batch: Batch, seal_of_revision: str) -> dict[str, Any]:
    """Return what a batch's seal says of it besides its files."""
    return {
        "batch": batch.batch,
        "count": batch.count,
        "made": batch.made,
        "own": batch.own,
        "of": seal_of_revision,
    }
