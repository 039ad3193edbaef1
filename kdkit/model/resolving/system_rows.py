"""System rows with numbers: which panels have them, and what the maker fixes of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kdkit.diagnostics import Path, Problem, error
from kdkit.model import says
from kdkit.model.lengths.lengths import Lengths
from kdkit.model.limits import BORE_DEPTH, BORE_DIAMETER
from kdkit.model.resolved import SystemRowsSpec
from kdkit.model.resolving.joints import check_names
from kdkit.model.resolving.known_parts import KnownParts
from kdkit.units import mm_text

__all__ = ["read_system_rows"]

_LEAST_PITCH = 5.0


def read_system_rows(
    rows: Sequence[says.SystemRows],
    parts: KnownParts,
    units: Mapping[str, object],
    lengths: Lengths,
    base: Path,
) -> tuple[SystemRowsSpec, ...]:
    """Return the system rows of a product; report names, sizes, panels named twice."""
    found = []
    taken: dict[str, set[str]] = {}
    problems = lengths.problems
    for n, said in enumerate(rows):
        path = (*base, n)
        on = check_names(said.on, parts, units, (*path, "on"), problems)
        fronts = check_names(said.fronts, parts, units, (*path, "fronts"), problems)
        for name in on:
            sides = {"face", "back"} if said.faces in ("both", "inside") else {said.faces}
            if sides & taken.setdefault(name, set()):
                problems.append(
                    error(
                        "wrong-value",
                        f"{name} has system rows already",
                        (*path, "on"),
                        where=name,
                        help="name each panel once, or give its two sides with `faces`",
                    )
                )
            taken[name] |= sides
        spec = _numbers(said, lengths, path)
        if spec is not None:
            found.append(
                SystemRowsSpec(
                    path=path,
                    on=on,
                    fronts=fronts,
                    faces=said.faces,
                    depth=None if said.depth == "through" else spec["depth"],
                    back=spec.get("back"),
                    has_back=said.back is not None or "back" not in said.model_fields_set,
                    end=spec.get("end"),
                    balanced=said.balanced,
                    full=said.drill == "full",
                    pitch=spec["pitch"],
                    bore=spec["bore"],
                    front=spec["front"],
                    inset=spec["inset"],
                    reveal=spec["reveal"],
                )
            )
    return tuple(found)


def _numbers(said: says.SystemRows, lengths: Lengths, path: Path) -> dict[str, float] | None:
    """Return the lengths that were given, None after a problem of one was reported."""
    found: dict[str, float] = {}
    before = len(lengths.problems)
    least = {"pitch": _LEAST_PITCH, "bore": 1.0, "depth": 1.0}
    most = {"bore": BORE_DIAMETER[1], "depth": BORE_DEPTH[1]}
    for key in ("pitch", "bore", "depth", "front", "inset", "back", "end", "reveal"):
        length = getattr(said, key)
        if length is None or length == "through":
            continue
        value = lengths.number(length, (*path, key))
        if value is None:
            return None
        if value < least.get(key, 0.0):
            lengths.problems.append(_too_small(key, value, least.get(key, 0.0), path))
        elif value > most.get(key, value):
            lengths.problems.append(
                error(
                    "out-of-range",
                    f"{key} is {mm_text(value)} mm",
                    (*path, key),
                    help=f"give at most {mm_text(most[key])}",
                )
            )
        found[key] = value
    return found if len(lengths.problems) == before else None


def _too_small(key: str, value: float, least: float, path: Path) -> Problem:
    return error(
        "negative-size" if value < 0 else "out-of-range",
        f"{key} is {mm_text(value)} mm",
        (*path, key),
        help=f"give {mm_text(least)} or more",
    )
