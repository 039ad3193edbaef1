"""What a clerk types or scans: a name, a number, or the code on a label.

The code of a label is a JSON object with ``product``, ``revision``, ``variant``, ``batch`` and
``bag`` among others, in which a text that lost its end ends with "…"; or, typed by hand,
``PRODUCT|REVISION|BATCH|BAG``. What a label has not is empty, and fields at the end may be left
out. A ``|`` in a product's name stays in it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass

from kdkit.archive.finding import Found, find
from kdkit.archive.issued import Batch, Revision, key_of
from kdkit.archive.opening import Archive
from kdkit.definition.gate import find_unprintable

__all__ = ["Label", "find_said", "read_label"]

_FIELDS, _LONGEST = 4, 1000
_CUT = "…"


@dataclass(frozen=True)
class Label:
    """What a label's code says; "" where it says nothing."""

    product: str
    revision: str
    batch: str
    bag: str
    variant: str = ""


def read_label(text: str) -> Label | None:
    """Return what a label's code says, None for any other text."""
    if text.lstrip().startswith("{"):
        return _read_object(text)
    fields = [" ".join(field.split()) for field in text.strip().split("|")]
    if len(fields) == 1 or not fields[0]:
        return None
    if len(fields) > _FIELDS:
        fields = ["|".join(fields[: 1 - _FIELDS]), *fields[1 - _FIELDS :]]
    fields += [""] * (_FIELDS - len(fields))
    return Label(*fields)


def _read_object(text: str) -> Label | None:
    try:
        told = json.loads(text) if len(text) <= _LONGEST else None
    except (ValueError, RecursionError):
        return None
    if not isinstance(told, dict):
        return None
    names = ("product", "revision", "batch", "bag", "variant")
    fields = [told.get(name, "") for name in names]
    if not all(isinstance(field, str) for field in fields) or not fields[0]:
        return None
    said = [" ".join(field.split()) for field in fields]
    if any(find_unprintable(field) for field in said):  # no label of kdkit's holds any
        return None
    return Label(*said)


def find_said(archive: Archive, text: str, most: int | None = None) -> Found:
    """Return what typed or scanned words may mean.

    A label's code; else a product's name or its beginning or a batch's number; else such
    words with a revision's name or a batch's number after them ("Shoe rack B").

    Args:
        most: revisions at most; None for all.

    Raises:
        ArchiveFailed: the archive could not be read.
    """
    label = read_label(text)
    if label is not None:
        return _of_label(archive, label)
    found = find(archive, text, most=most, alike=False)
    words = text.split()
    if found.revisions:
        return found
    if len(words) > 1:
        rest, last = " ".join(words[:-1]), words[-1]
        tries = [(rest, {"revision": last}), (rest, {"batch": last})]
        if len(words) > 2 and key_of(words[-2]) in ("revision", "batch"):
            tries.append((" ".join(words[:-2]), {key_of(words[-2]): last}))
        for said, named in tries:
            more = find(
                archive, said, revision=named.get("revision"), batch=named.get("batch"),
                most=most, alike=False,
            )  # fmt: skip
            if more.revisions:
                return more
    return find(archive, text, most=most)


def _of_label(archive: Archive, label: Label) -> Found:
    if label.batch and not label.batch.endswith(_CUT):
        found = find(archive, "", batch=label.batch, alike=False)
        same = tuple(b for b in found.batches if _is(b.revision, label))
        if same:
            return Found(revisions=tuple(_once(same)), batches=same)
    found = find(archive, label.product.removesuffix(_CUT))
    fitting = tuple(r for r in found.revisions if _is(r, label))
    near = () if fitting else found.near or tuple(r.title for r in found.revisions[:5])
    return Found(revisions=fitting, near=near)


def _is(revision: Revision, label: Label) -> bool:
    """Tell whether a label may be of a revision, as far as it says anything."""
    return all(
        key_of(name).startswith(key_of(said.removesuffix(_CUT)))
        if said.endswith(_CUT)
        else not said or key_of(name) == key_of(said)
        for name, said in (
            (revision.product, label.product),
            (revision.revision, label.revision),
            (revision.variant, label.variant),
        )
    )


def _once(batches: tuple[Batch, ...]) -> list[Revision]:
    return list({b.revision.number: b.revision for b in batches}.values())
