"""The no as plain data, and a certificate read back from it."""

from __future__ import annotations

import json
import pathlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, TypeGuard

from kdkit.diagnostics import Problem, error
from kdkit.plan.no_plan import Claims, NoPlan
from kdkit.plan.no_plan.cures import Cures
from kdkit.plan.plan import Block, Impossible, OrderRefused

__all__ = ["certificate_of", "claims_of", "load_certificate", "no_plan_data"]

_LARGEST = 20_000_000  # bytes; a certificate of a hundred parts has about a tenth of it


MAX_PARTS = 2000
MAX_LOOPS = 200
MAX_BLOCKS = 50_000
MAX_REASONS = 50
MAX_TEXT = 1000
"""What is read of a certificate: each block costs a look at two bodies, each loop another
for every direction. A hundred parts have some thirty loops and under 20 000 blocks."""


def no_plan_data(no: NoPlan) -> dict[str, Any]:
    """Return the verdict with everything behind it.

    ``verdict`` is ``impossible`` or ``order-refused``. Directions are unit vectors in
    the finished product (x right, y back, z up), not rounded, so that the certificate
    can be checked again.
    """
    said = no.resolved.said
    titles = {part.name: part.title for part in no.resolved.parts}
    data: dict[str, Any] = {
        "kdkit": 1,
        "verdict": "impossible" if isinstance(no.verdict, Impossible) else "order-refused",
        "product": getattr(said, "product", ""),
        "revision": getattr(said, "revision", ""),
        "variant": no.resolved.variant,
        "parameters": dict(sorted(no.resolved.parameters.items())),
        "message": no.problem.message,
        "letters": {
            letter: {
                "part": name,
                "title": " + ".join(titles.get(part, "") or part for part in no.parts_of(name))
                if len(no.parts_of(name)) > 1
                else titles.get(name, ""),
            }
            for name, letter in no.letters.items()
        },
    }
    if isinstance(no.verdict, Impossible):
        return {**data, **_certificate(no.verdict, no)}
    return {**data, **_order(no.verdict)}


def _certificate(verdict: Impossible, no: NoPlan) -> dict[str, Any]:
    return {
        **_reason(verdict),
        "tried": verdict.tried,
        "more": [_reason(one) for one in verdict.more],
        "all_found": verdict.all_found,
        "check": {"holds": not no.faults, "faults": list(no.faults)},
        "cures": None if no.cures is None else _cures(no.cures),
    }


def _reason(one: Impossible) -> dict[str, Any]:
    return {
        "parts": list(one.parts),
        "motion_class": one.motion_class,
        "loops": [
            {"direction": list(direction), "blocks": [_block(block) for block in walk]}
            for direction, walk in one.loops
        ],
    }


def _block(block: Block) -> dict[str, str]:
    return {"part": block.part, "by": block.by, "reason": block.reason}


def _cures(cures: Cures) -> dict[str, Any]:
    return {
        "size": cures.size,
        "tried": cures.tried,
        "left_out": cures.left_out,
        "found": [
            {
                "changes": [
                    {
                        "kind": change.kind,
                        "parts": list(change.parts),
                        "words": change.words,
                        "means": change.means,
                        "fitting": change.instead or None,
                        "mm": change.mm if change.kind in ("moved", "shorter") else None,
                    }
                    for change in cure.changes
                ],
                "steps": cure.steps,
                "warnings": [
                    {"code": w.code, "message": w.message, "where": w.where} for w in cure.warnings
                ],
            }
            for cure in cures.cures
        ],
    }


def _order(verdict: OrderRefused) -> dict[str, Any]:
    near = verdict.nearest
    return {
        "path": list(verdict.path),
        "position": verdict.position,
        "moving": list(verdict.moving),
        "present": list(verdict.present),
        "blocks": [
            {"leaving": list(direction), **_block(block)} for direction, block in verdict.blocks
        ],
        "reasons": list(verdict.reasons),
        "nearest": None
        if near is None
        else {
            "order": [entry[0] if len(entry) == 1 else list(entry) for entry in near.entries],
            "moved": list(near.moved),
            "exact": near.exact,
        },
    }


def load_certificate(
    file: pathlib.Path,
) -> tuple[tuple[Impossible, Claims] | None, tuple[Problem, ...]]:
    """Return the certificate in a file that ``publish_no_plan`` wrote, and whose it says it is."""
    try:
        if file.exists() and not file.is_file():
            raise ValueError("it is no ordinary file")
        with file.open("rb") as stream:
            raw = stream.read(_LARGEST + 1)
        if len(raw) > _LARGEST:
            raise ValueError(f"it is larger than {_LARGEST // 1_000_000} MB")
        data = json.loads(raw.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_number)
        proof = certificate_of(data)
    except (OSError, ValueError, RecursionError) as fault:
        return None, (_no_proof(file, f"the certificate cannot be read: {fault}"),)
    if proof is None:
        message = "the file holds no proof that a product cannot be put together"
        return None, (_no_proof(file, message),)
    return (proof, claims_of(data)), ()


def _no_proof(file: pathlib.Path, message: str) -> Problem:
    """Return a problem about the certificate, which is no line of the definition."""
    help = "kdkit plan FILE --out FOLDER writes one as impossible.json"
    return replace(error("certificate-bad", message, help=help), asked=str(file))


def certificate_of(data: object) -> Impossible | None:
    """Return the certificate in data read from a file, or None if it holds none.

    Nothing of it is believed: it is made to be checked.

    Raises:
        ValueError: it has more than is read of a certificate; the message says the limit.
    """
    if not isinstance(data, Mapping) or data.get("verdict") != "impossible":
        return None
    more = data.get("more", [])
    if not isinstance(more, list):
        return None
    _limit(len(more), MAX_REASONS, "further reasons")
    reasons = [_reason_of(one) for one in (data, *more)]
    found = [one for one in reasons if one is not None]
    if len(found) < len(reasons):
        return None
    _limit(sum(len(walk) for one in found for _, walk in one.loops), MAX_BLOCKS, "blocks")
    return replace(
        found[0], more=tuple(found[1:]), all_found=data.get("all_found", True) is not False
    )


def _reason_of(data: object) -> Impossible | None:
    """Return one set of parts with its loops, without those by its side."""
    if not isinstance(data, Mapping):
        return None
    parts, loops = data.get("parts"), data.get("loops")
    if not _are_texts(parts) or not isinstance(loops, list):
        return None
    _limit(len(parts), MAX_PARTS, "parts")
    _limit(len(loops), MAX_LOOPS, "loops")
    found = []
    number = 0
    for loop in loops:
        if not isinstance(loop, Mapping):
            return None
        direction, blocks = loop.get("direction"), loop.get("blocks")
        if not _is_vector(direction) or not isinstance(blocks, list):
            return None
        walk = []
        number += len(blocks)
        _limit(number, MAX_BLOCKS, "blocks")
        for block in blocks:
            if not isinstance(block, Mapping):
                return None
            named = [block.get(key) for key in ("part", "by", "reason")]
            if not _are_texts(named):
                return None
            walk.append(Block(part=str(named[0]), by=str(named[1]), reason=str(named[2])))
        x, y, z = (float(c) for c in direction)
        found.append(((x, y, z), tuple(walk)))
    return Impossible(
        parts=tuple(parts),
        loops=tuple(found),
        motion_class=str(data.get("motion_class", "")),
        tried=str(data.get("tried", ""))[:MAX_TEXT],
    )


def claims_of(data: Mapping[str, Any]) -> Claims:
    """Return whose proof it says that it is; what is no text or no table counts as silence."""
    product, variant, values = (data.get(key) for key in ("product", "variant", "parameters"))
    return Claims(
        product=product[:MAX_TEXT] if isinstance(product, str) else None,
        variant=variant[:MAX_TEXT] if isinstance(variant, str) else None,
        parameters={str(k)[:MAX_TEXT]: _short(v) for k, v in values.items()}
        if isinstance(values, Mapping) and len(values) <= MAX_PARTS
        else None,
    )


def _short(value: object) -> object:
    return value if isinstance(value, int | float) else str(value)[:MAX_TEXT]


def _are_texts(values: Any) -> TypeGuard[list[str]]:
    return isinstance(values, list) and all(
        isinstance(value, str) and len(value) <= MAX_TEXT for value in values
    )


def _is_vector(value: Any) -> TypeGuard[list[float]]:
    return (
        isinstance(value, list)
        and len(value) == 3
        and all(isinstance(c, int | float) and -2 <= c <= 2 for c in value)
    )


def _limit(number: int, most: int, what: str) -> None:
    if number > most:
        raise ValueError(f"it has more than {most} {what}")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return an object of JSON; which of two like keys is meant cannot be known."""
    found = dict(pairs)
    if len(found) < len(pairs):
        counts = Counter(key for key, _ in pairs)
        twice = counts.most_common(1)[0][0]
        raise ValueError(f"the key {twice[:40]!r} is written twice in one object")
    return found


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")
