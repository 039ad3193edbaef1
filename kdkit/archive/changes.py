"""What changed from one revision to another, from their records: parts, hardware, steps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from kdkit.units import mm_text

__all__ = ["Change", "compare_records", "fits_instead"]

_TOLD = 4  # bores that one sentence names


@dataclass(frozen=True)
class Change:
    """One difference.

    Args:
        kind: ``part``, ``hardware`` or ``step``.
        what: the part's or item's title with its letter or key.
        told: the difference in words.
    """

    kind: str
    what: str
    told: str


def compare_records(old: Mapping[str, Any], new: Mapping[str, Any]) -> tuple[Change, ...]:
    """Return what differs, parts first; parts are known again by the definition's names.

    Letters may move when a part comes in before others, so they are told and not compared.
    """
    return (*_parts(old, new), *_hardware(old, new), *_steps(old, new))


def _by_name(record: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {name: part for part in record["parts"] for name in part["names"]}


def _title(part: Mapping[str, Any]) -> str:
    return f"{part['title']} ({part['letter']})"


def _parts(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[Change]:
    before, after = _by_name(old), _by_name(new)
    found: dict[tuple[str, str], list[str]] = {}
    for name in sorted({*before, *after}, key=lambda n: (after.get(n) or before[n])["letter"]):
        one, other = before.get(name), after.get(name)
        if other is None:
            assert one is not None
            found.setdefault((_title(one), "is no longer there"), []).append(name)
        elif one is None:
            found.setdefault((_title(other), "is new"), []).append(name)
        else:
            for told in _part_changes(one, other):
                found.setdefault((_title(other), told), []).append(name)
    return [
        Change("part", what, f"{told}, {len(names)} times" if len(names) > 1 else told)
        for (what, told), names in found.items()
    ]


def _part_changes(one: Mapping[str, Any], other: Mapping[str, Any]) -> list[str]:
    told = []
    if one["title"] != other["title"]:
        told.append(f"was called {one['title']}")
    if one["material"] != other["material"]:
        told.append(f"is of {other['material'] or 'another kind'}, was of {one['material']}")
    if one["size"] != other["size"]:
        told.append(f"measures {_size(other['size'])}, was {_size(one['size'])}")
    elif one["cut"] != other["cut"]:
        told.append(f"is cut {_size(other['cut'])}, was {_size(one['cut'])}")
    if one["bands"] != other["bands"]:
        told.append(f"has bands on {_bands(other)}, had them on {_bands(one)}")
    gone, come = Counter(one["worked"]), Counter(other["worked"])
    for words, lines in (("gained", come - gone), ("lost", gone - come)):
        if lines:
            told.append(f"{words} {_list(sorted(lines.elements()))}")
    return told


def _size(size: Sequence[float]) -> str:
    return " × ".join(map(mm_text, size))


def _bands(part: Mapping[str, Any]) -> str:
    return (
        ", ".join(f"{side} ({mm_text(v)} mm)" for side, v in sorted(part["bands"].items()))
        or "no edge"
    )


def _list(lines: Sequence[str]) -> str:
    told = "; ".join(lines[:_TOLD])
    return told if len(lines) <= _TOLD else f"{told}; and {len(lines) - _TOLD} more"


def _hardware(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[Change]:
    before = {line["item"]: line for line in old["hardware"]}
    after = {line["item"]: line for line in new["hardware"]}
    found = []
    for item in sorted({*before, *after}):
        one, other = before.get(item), after.get(item)
        line = other or one
        assert line is not None
        what = f"{line['title']} {line['size']}".strip()
        if one is None:
            found.append(Change("hardware", what, f"is new: {line['quantity']} pieces"))
        elif other is None:
            found.append(Change("hardware", what, f"is no longer used ({line['quantity']} pieces)"))
        else:
            if one["quantity"] != other["quantity"]:
                told = f"{other['quantity']} pieces, were {one['quantity']}"
                found.append(Change("hardware", what, told))
            if one["bag"] != other["bag"]:
                told = f"is in bag {other['bag'] or '-'}, was in bag {one['bag'] or '-'}"
                found.append(Change("hardware", what, told))
    return found


def _steps(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[Change]:
    def of(record: Mapping[str, Any]) -> list[tuple[Any, ...]]:
        return [(tuple(s["new"]), tuple(sorted(s["items"].items()))) for s in record["steps"]]

    one, other = of(old), of(new)
    if one == other:
        return []
    if len(one) != len(other):
        return [Change("step", "Assembly", f"{len(other)} steps, were {len(one)}")]
    differ = [str(n) for n, (a, b) in enumerate(zip(one, other, strict=True), 1) if a != b]
    return [Change("step", "Assembly", f"other parts or counts in step {', '.join(differ)}")]


def fits_instead(
    old: Mapping[str, Any], new: Mapping[str, Any], letter: str
) -> tuple[bool, tuple[str, ...]]:
    """Tell if the new revision's part goes in place of the old one's, and what does not fit.

    Letter: of the old revision. It fits if size and all that is worked in it are the same.
    """
    part = next((p for p in old["parts"] if p["letter"] == letter), None)
    if part is None:
        return False, (f"there is no part {letter}",)
    after = _by_name(new)
    there = next((after[name] for name in part["names"] if name in after), None)
    if there is None:
        return False, ("the newer revision has no such part",)
    changes = [told for told in _part_changes(part, there) if not told.startswith("was called")]
    return not changes, tuple(changes)
