"""Bores that the maker typed, in product coordinates before any turn. Lengths in mm."""

from __future__ import annotations

from kdkit.diagnostics import Path, error
from kdkit.model import says
from kdkit.model.lengths.lengths import Lengths
from kdkit.model.limits import bore_fault
from kdkit.model.panels.layouts import Layout
from kdkit.model.panels.slabs import AXIS_NAMES, BoreSaid
from kdkit.units import mm_text

__all__ = ["read_bores"]


def read_bores(
    layout: Layout, ends: tuple[tuple[float, float], ...], lengths: Lengths
) -> tuple[BoreSaid, ...]:
    found = []
    for n, said in enumerate(layout.said.bores):
        bore = _read_bore(layout, said, ends, lengths, (*layout.path, "bores", n))
        if bore is not None:
            found.append(bore)
    return tuple(found)


def _read_bore(
    layout: Layout,
    said: says.HandBore,
    ends: tuple[tuple[float, float], ...],
    lengths: Lengths,
    path: Path,
) -> BoreSaid | None:
    problems, name = lengths.problems, layout.name
    axis, positive = _bore_side(layout, said.face)
    if axis == layout.axis and said.face not in ("face", "back"):
        problems.append(
            error(
                "wrong-axis",
                f"{name} has no edge at its {said.face}",
                (*path, "face"),
                where=name,
                help="say `face` or `back` for its broad sides",
            )
        )
        return None
    mouth: list[float] = [0.0, 0.0, 0.0]
    for other in range(3):
        letter = AXIS_NAMES[other]
        given = getattr(said, letter)
        if other == axis:
            mouth[other] = ends[other][1 if positive else 0]
            continue
        if given is None and other == layout.axis:
            mouth[other] = sum(ends[other]) / 2
            continue
        if given is None:
            problems.append(error("missing-key", f"the bore needs {letter}", path, where=name))
            return None
        value = lengths.number(given, (*path, letter))
        if value is None:
            return None
        mouth[other] = value
    diameter = lengths.number(said.diameter, (*path, "diameter"))
    through = said.depth == "through"
    size = ends[axis][1] - ends[axis][0]
    depth = size if through else lengths.number(said.depth, (*path, "depth"))
    if diameter is None or depth is None:
        return None
    for key, value in (("diameter", diameter), ("depth", depth)):
        if value <= 0:
            problems.append(
                error(
                    "negative-size" if value < 0 else "zero-size",
                    f"the {key} of the bore is {mm_text(value)} mm",
                    (*path, key),
                    where=name,
                )
            )
            return None
    beyond = bore_fault(diameter, depth)
    if beyond is not None:
        key, limits = beyond
        value = diameter if key == "diameter" else depth
        problems.append(
            error(
                "out-of-range",
                f"the {key} of the bore is {mm_text(value, 3)} mm",
                path if through and key == "depth" else (*path, key),
                where=name,
                help=f"{limits} can be drilled"
                + ("; a wider hole is an opening: `cutouts`" if key == "diameter" else ""),
            )
        )
        return None
    into = [0.0, 0.0, 0.0]
    into[axis] = -1.0 if positive else 1.0
    return BoreSaid(
        mouth=(mouth[0], mouth[1], mouth[2]),
        into=(into[0], into[1], into[2]),
        diameter=diameter,
        depth=depth,
        through=through,
        purpose=said.purpose,
        mate=said.mate,
        path=path,
    )


def _bore_side(layout: Layout, face: str) -> tuple[int, bool]:
    """Return the axis that a bore's side looks along, and whether in its positive sense."""
    looks = -1 if layout.axis == 1 else 1
    if layout.said.face is not None:
        looks = 1 if layout.said.face[0] == "+" else -1
    if face == "face":
        return layout.axis, looks > 0
    if face == "back":
        return layout.axis, looks < 0
    if face == "back edge":
        return 1, True
    sides = (("left", "right"), ("front", "back"), ("bottom", "top"))
    for axis, (low, high) in enumerate(sides):
        if face in (low, high):
            return axis, face == high
    raise ValueError(face)  # pydantic admits no other word
