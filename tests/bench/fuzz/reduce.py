"""A failing case made smaller by leaving things out, as long as it fails alike."""

from __future__ import annotations

import copy
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from tests.bench.fuzz.cases import Case
from tests.bench.fuzz.corpus import read_yaml
from tests.bench.fuzz.trees import Pairs, emit, to_tree

__all__ = ["reduce_case"]

Fails = Callable[[Case], bool]


def reduce_case(case: Case, fails: Fails, *, tries: int = 120, seconds: float = 60.0) -> Case:
    """Return a smaller case that still fails, after at most some tries and seconds.

    Files that can be read as YAML lose entries of their trees, other files lines, then bytes.
    """
    left = _Budget(tries, time.monotonic() + seconds)

    def still(smaller: Case) -> bool:
        return left.spend() and fails(smaller)

    for name in sorted(case.files, key=lambda n: -len(case.files[n])):
        if name.endswith((".yaml", ".json")):
            case = _by_tree(case, name, still)
        case = _by_pieces(case, name, still, b"\n")
    return case


class _Budget:
    def __init__(self, tries: int, until: float) -> None:
        self.tries, self.until = tries, until

    def spend(self) -> bool:
        self.tries -= 1
        return self.tries >= 0 and time.monotonic() < self.until


def _with(case: Case, name: str, raw: bytes) -> Case:
    return replace(case, files={**case.files, name: raw})


def _by_tree(case: Case, name: str, still: Fails) -> Case:
    try:
        tree = to_tree(read_yaml(case.files[name].decode("utf-8")))
        plainly = _with(case, name, emit(tree).encode("utf-8", "surrogatepass"))
    except Exception:  # whatever the text is, it is no YAML
        return case
    if not still(plainly):
        return case
    case = plainly
    holders = [tree]
    while holders:
        holder = holders.pop(0)
        n = len(holder) - 1
        while n >= 0:
            kept = copy.copy(holder[n])
            del holder[n]
            smaller = _with(case, name, emit(tree).encode("utf-8", "surrogatepass"))
            if still(smaller):
                case = smaller
            else:
                holder.insert(n, kept)
            n -= 1
        for entry in holder:
            inner = entry[1] if isinstance(holder, Pairs) else entry
            if _can_shrink(inner):
                holders.append(inner)
    return case


def _can_shrink(value: Any) -> bool:
    return isinstance(value, list) and bool(value)


def _by_pieces(case: Case, name: str, still: Fails, mark: bytes) -> Case:
    pieces = case.files[name].split(mark)
    size = max(1, len(pieces) // 2)
    while size >= 1 and len(pieces) > 1:
        at = 0
        while at < len(pieces):
            fewer = pieces[:at] + pieces[at + size :]
            smaller = _with(case, name, mark.join(fewer))
            if still(smaller):
                case, pieces = smaller, fewer
            else:
                at += size
        if size == 1:
            break
        size //= 2
    return case
