"""Sides, thickness, length and width of every part, as quantities that formulas may name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kdkit.diagnostics import Path, Problem, error
from kdkit.model import says
from kdkit.model.lengths.lengths import SIDE_NAMES, Lengths
from kdkit.model.limits import LONGEST_SIDE, SMALLEST_SIDE
from kdkit.model.panels.layouts import Layout
from kdkit.model.panels.slabs import AXIS_NAMES, side_name
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "declare_bought",
    "declare_panel",
    "fail_part",
    "known_ends",
    "let_in_key",
    "part_box",
    "sizes_are_fine",
]


def declare_panel(layout: Layout, boards: Mapping[str, says.Board], lengths: Lengths) -> None:
    """Make the panel's sides, thickness, length and width known to the formulas."""
    name, path = layout.name, layout.path
    lengths.owners[name] = SIDE_NAMES
    thickness = f"{name}.thickness"
    if layout.mirrors is not None:
        _declare_mirror(layout, lengths)
        return
    assert layout.said.board is not None  # laid out only with a board
    if lengths.has_failed(f"board {layout.said.board}.thickness"):
        lengths.set_failed(thickness)
    else:
        lengths.set_value(thickness, boards[layout.said.board].thickness)
    for axis in range(3):
        letter = AXIS_NAMES[axis]
        low, high = f"{name}.{letter}0", f"{name}.{letter}1"
        if axis != layout.axis and layout.said.outline is not None:
            _declare_outline_side(layout, axis, lengths)
            continue
        if axis == layout.axis:
            _declare_span(
                lengths, layout.spans[axis], (low, high), thickness, layout.said, letter, path
            )
            continue
        keys = [
            _let_in(layout, side_name(axis, positive), key, -1.0 if key == low else 1.0, lengths)
            for key, positive in ((low, False), (high, True))
        ]
        _declare_span(
            lengths, layout.spans[axis], (keys[0], keys[1]), thickness, layout.said, letter, path
        )
    _declare_length_and_width(layout, lengths)


def _let_in(layout: Layout, side: str, key: str, way: float, lengths: Lengths) -> str:
    """Return the quantity of a surface; where an edge is let in, the panel's end lies beyond it."""
    depth = dict(layout.said.let_in).get(side)  # type: ignore[call-overload]
    if depth is None:
        return key
    path = (*layout.path, "let_in", side)
    surface, deep = f"{layout.name} surface {side}.", let_in_key(layout.name, side)
    lengths.set_length(deep, depth, path)
    lengths.set_derived(key, path, (surface, deep), lambda at, by: at + way * by)
    return surface


def let_in_key(name: str, side: str) -> str:
    """Return the quantity that says how deep a panel's edge is let in."""
    return f"{name} let in {side}."


def _declare_span(
    lengths: Lengths,
    span: tuple[says.Length | None, says.Length | None] | None,
    keys: tuple[str, str],
    size: str,
    said: says.Panel,
    letter: str,
    path: Path,
) -> None:
    assert span is not None  # laid out only with its spans
    start, end = span
    mapping = isinstance(getattr(said, letter), says.OneEnd)
    low, high = keys
    low_path = (*path, letter, "from" if mapping else 0)
    high_path = (*path, letter, "to" if mapping else 1)
    if start is not None:
        lengths.set_length(low, start, low_path)
    if end is not None:
        lengths.set_length(high, end, high_path)
    if start is None:
        lengths.set_derived(low, high_path, (high, size), lambda b, t: b - t)
    if end is None:
        lengths.set_derived(high, low_path, (low, size), lambda a, t: a + t)


def _declare_outline_side(layout: Layout, axis: int, lengths: Lengths) -> None:
    plane = [a for a in range(3) if a != layout.axis]
    index = plane.index(axis)
    keys = []
    for n, corner in enumerate(layout.said.outline or ()):
        key = f"{layout.name} outline {n} {AXIS_NAMES[axis]}."
        lengths.set_length(key, corner[index], (*layout.path, "outline", n, index))
        keys.append(key)
    letter = AXIS_NAMES[axis]
    path = (*layout.path, "outline")
    lengths.set_derived(f"{layout.name}.{letter}0", path, tuple(keys), lambda *v: min(v))
    lengths.set_derived(f"{layout.name}.{letter}1", path, tuple(keys), lambda *v: max(v))


def _declare_length_and_width(layout: Layout, lengths: Lengths) -> None:
    name = layout.name
    u, v = (a for a in range(3) if a != layout.axis)
    needs = tuple(f"{name}.{AXIS_NAMES[a]}{end}" for a in (u, v) for end in (0, 1))
    grain = layout.said.grain

    def sizes(u0: float, u1: float, v0: float, v1: float) -> tuple[float, float]:
        along, across = u1 - u0, v1 - v0
        if grain is None:
            return max(along, across), min(along, across)
        return (along, across) if AXIS_NAMES[u] == grain else (across, along)

    lengths.set_derived(f"{name}.length", layout.path, needs, lambda *s: sizes(*s)[0])
    lengths.set_derived(f"{name}.width", layout.path, needs, lambda *s: sizes(*s)[1])


def _declare_mirror(layout: Layout, lengths: Lengths) -> None:
    name, source = layout.name, layout.mirrors
    for same in ("thickness", "length", "width"):
        lengths.set_derived(f"{name}.{same}", layout.path, (f"{source}.{same}",), lambda v: v)
    for axis in range(3):
        letter = AXIS_NAMES[axis]
        low, high = f"{source}.{letter}0", f"{source}.{letter}1"
        if layout.spans[axis] is None:
            for end in (0, 1):
                lengths.set_derived(
                    f"{name}.{letter}{end}",
                    layout.path,
                    (f"{source}.{letter}{end}",),
                    lambda v: v,
                )
            continue
        size = f"{name} size {letter}."
        lengths.set_derived(size, layout.path, (low, high), lambda a, b: b - a)
        _declare_span(
            lengths,
            layout.spans[axis],
            (f"{name}.{letter}0", f"{name}.{letter}1"),
            size,
            layout.said,
            letter,
            layout.path,
        )


def declare_bought(name: str, said: says.Bought, path: Path, lengths: Lengths) -> None:
    """Make the box of a bought part known to the formulas."""
    lengths.owners[name] = SIDE_NAMES
    for letter in AXIS_NAMES:
        for end, length in enumerate(getattr(said, letter)):
            lengths.set_length(f"{name}.{letter}{end}", length, (*path, letter, end))
    needs = tuple(f"{name}.{letter}{end}" for letter in AXIS_NAMES for end in (0, 1))
    for rank, attribute in enumerate(("thickness", "width", "length")):
        lengths.set_derived(
            f"{name}.{attribute}",
            path,
            needs,
            lambda *s, rank=rank: sorted(s[n + 1] - s[n] for n in (0, 2, 4))[rank],
        )


def known_ends(name: str, lengths: Lengths) -> tuple[tuple[float, float] | None, ...]:
    """Return the part's two ends on each axis, None for an axis of which one failed."""
    ends: list[tuple[float, float] | None] = []
    for letter in AXIS_NAMES:
        low, high = lengths.get(f"{name}.{letter}0"), lengths.get(f"{name}.{letter}1")
        ends.append(None if low is None or high is None else (low, high))
    return tuple(ends)


def part_box(name: str, lengths: Lengths) -> tuple[tuple[float, float], ...] | None:
    """Return the part's two ends on each axis, None if one failed."""
    ends = [end for end in known_ends(name, lengths) if end is not None]
    return tuple(ends) if len(ends) == len(AXIS_NAMES) else None


def sizes_are_fine(
    name: str,
    ends: Sequence[tuple[float, float] | None],
    path: Path,
    problems: list[Problem],
) -> bool:
    """Tell whether a part of these ends can be made; an end not known is not judged."""
    fine = True
    for letter, span in zip(AXIS_NAMES, ends, strict=True):
        if span is None:
            continue
        low, high = span
        size = high - low
        if SMALLEST_SIDE <= size <= LONGEST_SIDE:
            continue
        fine = False
        code, help = "negative-size", "the second end must be larger than the first"
        if size > LONGEST_SIDE:
            code, help = "out-of-range", f"at most {LONGEST_SIDE:g} mm: lengths are in mm"
        elif size > -TOLERANCE:
            code = "zero-size"
            if size > TOLERANCE:
                help = f"a side is at least {SMALLEST_SIDE:g} mm long"
        said, start, end = (_told(v, finely=0 < abs(size) < 0.1) for v in (size, low, high))
        problems.append(
            error(
                code,
                f"{name} is {said} mm along {letter}, from {start} to {end}",
                (*path, letter),
                where=name,
                help=help,
            )
        )
    return fine


def _told(value: float, finely: bool) -> str:
    """Return a length for a message; finely where a tenth of a millimetre would hide it."""
    return f"{value:.9g}" if finely else mm_text(value)


def fail_part(name: str, lengths: Lengths) -> None:
    """Keep formulas that need a part silent whose own problem was reported."""
    lengths.owners[name] = SIDE_NAMES
    for attribute in SIDE_NAMES:
        lengths.set_failed(f"{name}.{attribute}")
