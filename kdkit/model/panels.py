"""Panels and bought parts: their sides as quantities, then their slabs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from kdkit.definition.formula import near_names
from kdkit.diagnostics import Path, Problem, error
from kdkit.frames import Vec2, Vec3
from kdkit.model import says
from kdkit.model.lengths import SIDE_NAMES, Lengths
from kdkit.model.outlines import Plane, check_outline, cut_notches, read_cutouts
from kdkit.model.slabs import AXIS_NAMES, BoreSaid, Motion, Slab, mirror_slab
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "SMALLEST",
    "Layout",
    "bought_slab",
    "declare_bought",
    "declare_panel",
    "lay_out_panels",
    "panel_slab",
    "read_turns",
]

SMALLEST = 0.5
"""mm; a part with a side shorter than this is a mistake."""

_ROUND_SEGMENTS = 48
_KEPT_BY_MIRROR = frozenset({"mirror", "title", "x", "y", "z", "loose", "visible_face"})


@dataclass(frozen=True)
class Layout:
    """What can be said of a panel before any number is known.

    Args:
        said: the panel itself.
        original: the panel that a mirror takes everything from, else itself.
        axis: thickness axis, 0 to 2.
        spans: the ends that are given on each axis: (from, to).
    """

    name: str
    path: Path
    said: says.Panel
    axis: int
    spans: tuple[tuple[says.Length | None, says.Length | None] | None, ...]
    mirrors: str | None = None


def lay_out_panels(
    panels: Mapping[str, says.Panel],
    boards: Mapping[str, says.Board],
    base: Path,
    problems: list[Problem],
) -> dict[str, Layout]:
    """Return the layouts of the panels that make sense, mirrors after their originals."""
    found: dict[str, Layout] = {}
    for name, said in panels.items():
        if said.mirror is None:
            layout = _lay_out_panel(name, said, boards, (*base, name), problems)
            if layout is not None:
                found[name] = layout
    waiting = {name: said for name, said in panels.items() if said.mirror is not None}
    for name, said in waiting.items():
        _check_mirror(name, said, panels, (*base, name), problems)
    progress = True
    while progress:
        progress = False
        for name in list(waiting):
            said = waiting[name]
            original = found.get(said.mirror or "")
            if original is None:
                continue
            found[name] = Layout(
                name, (*base, name), said, original.axis, _spans(said), original.name
            )
            del waiting[name]
            progress = True
    for name, said in waiting.items():
        chain = [name]
        while chain[-1] in waiting and waiting[chain[-1]].mirror not in chain:
            chain.append(str(waiting[chain[-1]].mirror))
        if chain[-1] in waiting and waiting[chain[-1]].mirror == name:
            problems.append(
                error(
                    "mirror-loop",
                    f"these panels mirror each other: {' → '.join([*chain, name])}",
                    (*base, name, "mirror"),
                    help="write one of them out",
                )
            )
    return found


def _check_mirror(
    name: str,
    said: says.Panel,
    panels: Mapping[str, says.Panel],
    path: Path,
    problems: list[Problem],
) -> None:
    if said.mirror not in panels:
        near = near_names(str(said.mirror), panels)
        problems.append(
            error(
                "unknown-part",
                f"there is no panel {said.mirror!r} to mirror",
                (*path, "mirror"),
                where=name,
                help=f"did you mean {near[0]}?" if near else "",
            )
        )
    if said.x is None:
        problems.append(
            error(
                "missing-key",
                f"{name} needs x: where the mirror image stands",
                path,
                where=name,
                help="for instance x: {to: width}",
            )
        )
    for key in sorted(said.model_fields_set - _KEPT_BY_MIRROR):
        problems.append(
            Problem(
                code="mirror-conflict",
                message=f"a mirror image takes {key} from {said.mirror}",
                path=(*path, key),
                where=name,
                help=f"delete {key}, or write the panel out without `mirror`",
                on_key=True,
            )
        )


def _spans(
    said: says.Panel,
) -> tuple[tuple[says.Length | None, says.Length | None] | None, ...]:
    spans: list[tuple[says.Length | None, says.Length | None] | None] = []
    for axis in AXIS_NAMES:
        span = getattr(said, axis)
        if isinstance(span, says.OneEnd):
            span = (span.start, span.to)
        spans.append(span)
    return tuple(spans)


def _lay_out_panel(
    name: str,
    said: says.Panel,
    boards: Mapping[str, says.Board],
    path: Path,
    problems: list[Problem],
) -> Layout | None:
    before = len(problems)
    if said.board is None:
        problems.append(
            error(
                "missing-key",
                f"{name} needs a board",
                path,
                help=f"board: {next(iter(boards), 'carcass')}",
            )
        )
    elif said.board not in boards:
        near = near_names(said.board, boards)
        known = f"`boards` has {', '.join(boards)}" if boards else "add it under `boards`"
        problems.append(
            error(
                "unknown-board",
                f"there is no board {said.board!r}",
                (*path, "board"),
                where=name,
                help=f"did you mean {near[0]}?" if near else known,
            )
        )
    spans = _spans(said)
    one_ended = [a for a in range(3) if spans[a] is not None and None in (spans[a] or ())]
    empty = [a for a in one_ended if spans[a] == (None, None)]
    for axis in empty:
        problems.append(
            error(
                "missing-key",
                f"{AXIS_NAMES[axis]} has neither `from` nor `to`",
                (*path, AXIS_NAMES[axis]),
                where=name,
            )
        )
    facing = None if said.face is None else AXIS_NAMES.index(said.face[1])
    axis = _thickness_axis(name, said, spans, one_ended, facing, path, problems)
    if axis is None or len(problems) > before:
        return None
    if facing is not None and facing != axis:
        problems.append(
            error(
                "wrong-axis",
                f"the face looks along {AXIS_NAMES[facing]}, but {name} is thin along "
                f"{AXIS_NAMES[axis]}",
                (*path, "face"),
                where=name,
                help=f"face: +{AXIS_NAMES[axis]} or -{AXIS_NAMES[axis]}",
            )
        )
        return None
    if said.grain is not None and AXIS_NAMES.index(said.grain) == axis:
        problems.append(
            error(
                "wrong-axis",
                f"the grain cannot run along {said.grain}, the thickness of {name}",
                (*path, "grain"),
                where=name,
            )
        )
        return None
    for other in range(3):
        if other != axis and spans[other] is None and said.outline is None:
            problems.append(
                error(
                    "missing-key",
                    f"{name} needs {AXIS_NAMES[other]}",
                    path,
                    where=name,
                    help=f"{AXIS_NAMES[other]}: [from, to]",
                )
            )
    if len(problems) > before:
        return None
    return Layout(name, path, said, axis, spans)


def _thickness_axis(
    name: str,
    said: says.Panel,
    spans: tuple[tuple[says.Length | None, says.Length | None] | None, ...],
    one_ended: list[int],
    facing: int | None,
    path: Path,
    problems: list[Problem],
) -> int | None:
    if len(one_ended) == 1:
        return one_ended[0]
    if len(one_ended) > 1:
        names = " and ".join(AXIS_NAMES[a] for a in one_ended)
        problems.append(
            error(
                "wrong-axis",
                f"{names} have one end only, but the board's thickness can lie along one axis",
                (*path, AXIS_NAMES[one_ended[-1]]),
                where=name,
                help="give both ends, [from, to], on the other",
            )
        )
        return None
    if facing is not None and spans[facing] is not None:
        return facing
    missing = [a for a in range(3) if spans[a] is None]
    if len(missing) == 1 and said.outline is None:
        axis = AXIS_NAMES[missing[0]]
        problems.append(
            error(
                "missing-key",
                f"{name} needs {axis}: one end, the board gives the other",
                path,
                where=name,
                help=f"{axis}: {{from: 0}}",
            )
        )
        return None
    problems.append(
        error(
            "wrong-axis",
            f"which axis is the thickness of {name}?",
            path,
            where=name,
            help="give one end only on that axis, for instance z: {from: 582}",
        )
    )
    return None


def declare_panel(layout: Layout, boards: Mapping[str, says.Board], lengths: Lengths) -> None:
    """Make the panel's sides, thickness, length and width known to the formulas."""
    name, path = layout.name, layout.path
    lengths.owners[name] = SIDE_NAMES
    thickness = f"{name}.thickness"
    if layout.mirrors is not None:
        _declare_mirror(layout, lengths)
        return
    assert layout.said.board is not None  # laid out only with a board
    lengths.set_value(thickness, boards[layout.said.board].thickness)
    for axis in range(3):
        letter = AXIS_NAMES[axis]
        low, high = f"{name}.{letter}0", f"{name}.{letter}1"
        if axis != layout.axis and layout.said.outline is not None:
            _declare_outline_side(layout, axis, lengths)
            continue
        _declare_span(
            lengths, layout.spans[axis], (low, high), thickness, layout.said, letter, path
        )
    _declare_length_and_width(layout, lengths)


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


def _box(name: str, lengths: Lengths) -> tuple[tuple[float, float], ...] | None:
    """Return the part's two ends on each axis, None if one failed."""
    ends = []
    for letter in AXIS_NAMES:
        low, high = lengths.get(f"{name}.{letter}0"), lengths.get(f"{name}.{letter}1")
        if low is None or high is None:
            return None
        ends.append((low, high))
    return tuple(ends)


def _sizes_are_fine(
    name: str, ends: tuple[tuple[float, float], ...], path: Path, problems: list[Problem]
) -> bool:
    fine = True
    for letter, (low, high) in zip(AXIS_NAMES, ends, strict=True):
        if high - low < SMALLEST:
            fine = False
            size = high - low
            problems.append(
                error(
                    "zero-size" if size > -TOLERANCE else "negative-size",
                    f"{name} is {mm_text(size)} mm along {letter}, from {mm_text(low)} to "
                    f"{mm_text(high)}",
                    (*path, letter),
                    where=name,
                    help="the second end must be larger than the first",
                )
            )
    return fine


def panel_slab(layout: Layout, originals: Mapping[str, Slab], lengths: Lengths) -> Slab | None:
    """Return the panel's slab, None after its problems were reported.

    Args:
        layout: what was said of it.
        originals: slabs made before, for a mirror to take from.
        lengths: with every quantity evaluated.
    """
    ends = _box(layout.name, lengths)
    if ends is None:
        return None
    if layout.mirrors is not None:
        return _mirrored_slab(layout, originals, ends, lengths)
    said, name, path, problems = layout.said, layout.name, layout.path, lengths.problems
    if not _sizes_are_fine(name, ends, path, problems):
        return None
    before = len(problems)
    axis = layout.axis
    u, v = (a for a in range(3) if a != axis)
    low, high = ends[axis]
    thickness = lengths.get(f"{name}.thickness") or 0.0
    if abs(high - low - thickness) > TOLERANCE:
        problems.append(
            error(
                "thickness-differs",
                f"{name} is {mm_text(high - low)} mm thick along {AXIS_NAMES[axis]}, its board "
                f"{mm_text(thickness)} mm",
                (*path, AXIS_NAMES[axis]),
                where=name,
                help=f"give one end only: {AXIS_NAMES[axis]}: {{from: {mm_text(low)}}}",
            )
        )
        return None
    outline: tuple[Vec2, ...] = (
        (ends[u][0], ends[v][0]),
        (ends[u][1], ends[v][0]),
        (ends[u][1], ends[v][1]),
        (ends[u][0], ends[v][1]),
    )
    if said.outline is not None:
        outline = _said_outline(layout, lengths)
        fault = check_outline(outline, (*path, "outline"), name)
        if fault is not None:
            problems.append(fault)
            return None
        _check_outline_in_spans(layout, ends, lengths)
    plane = Plane(name, (u, v), (ends[u][0], ends[v][0]), (ends[u][1], ends[v][1]))
    outline, notched = cut_notches(outline, said.notches, plane, lengths, (*path, "notches"))
    cutouts, rounds = read_cutouts(said.cutouts, outline, plane, lengths, (*path, "cutouts"))
    sizes = (ends[u][1] - ends[u][0], ends[v][1] - ends[v][0])
    longer = u if sizes[0] >= sizes[1] else v
    default = -1 if axis == 1 else 1
    slab = Slab(
        axis=axis,
        low=low,
        high=high,
        face=default if said.face is None else (1 if said.face[0] == "+" else -1),
        length_axis=longer if said.grain is None else AXIS_NAMES.index(said.grain),
        outline=outline,
        notched=notched,
        bands=dict(said.bands),
        cutouts=cutouts,
        round_cutouts=rounds,
        bores=_read_bores(layout, ends, lengths),
        turns=read_turns(said.turns, lengths, (*path, "turns")),
    )
    _check_bands(slab, layout, problems)
    return slab if len(problems) == before else None


def _said_outline(layout: Layout, lengths: Lengths) -> tuple[Vec2, ...]:
    u, v = (AXIS_NAMES[a] for a in range(3) if a != layout.axis)
    points = []
    for n in range(len(layout.said.outline or ())):
        points.append(
            (
                lengths.values[f"{layout.name} outline {n} {u}."],
                lengths.values[f"{layout.name} outline {n} {v}."],
            )
        )
    return tuple(points)


def _check_outline_in_spans(
    layout: Layout, ends: tuple[tuple[float, float], ...], lengths: Lengths
) -> None:
    for axis in range(3):
        span = layout.spans[axis]
        if axis == layout.axis or span is None:
            continue
        letter = AXIS_NAMES[axis]
        for n, length in enumerate(span):
            if length is None:
                continue
            value = lengths.number(length, (*layout.path, letter, n))
            if value is not None and abs(value - ends[axis][n]) > TOLERANCE:
                lengths.problems.append(
                    error(
                        "bad-outline",
                        f"the outline of {layout.name} reaches {letter} = "
                        f"{mm_text(ends[axis][n])}, its span says {mm_text(value)}",
                        (*layout.path, letter),
                        where=layout.name,
                        help=f"leave {letter} out: the outline says it",
                    )
                )


def _check_bands(slab: Slab, layout: Layout, problems: list[Problem]) -> None:
    blocked = (("left", "right"), ("front", "back"), ("bottom", "top"))[slab.axis]
    for side in slab.bands:
        if side in blocked:
            problems.append(
                Problem(
                    code="wrong-axis",
                    message=f"{layout.name} has no edge at its {side}: that is its face or back",
                    path=(*layout.path, "bands", side),
                    where=layout.name,
                    on_key=True,
                )
            )


def _mirrored_slab(
    layout: Layout,
    originals: Mapping[str, Slab],
    ends: tuple[tuple[float, float], ...],
    lengths: Lengths,
) -> Slab | None:
    source = layout.mirrors or ""
    theirs = _box(source, lengths)
    original = originals.get(source)
    if theirs is None or original is None:
        return None
    for axis in range(3):
        size, wanted = (high - low for low, high in (ends[axis], theirs[axis]))
        if abs(size - wanted) > TOLERANCE:
            letter = AXIS_NAMES[axis]
            lengths.problems.append(
                error(
                    "mirror-conflict",
                    f"{layout.name} is {mm_text(size)} mm along {letter}, {source} "
                    f"{mm_text(wanted)} mm",
                    (*layout.path, letter),
                    where=layout.name,
                    help=f"give one end only: {letter}: {{to: …}}",
                )
            )
            return None
    shift: Vec3 = (0.0, ends[1][0] - theirs[1][0], ends[2][0] - theirs[2][0])
    return mirror_slab(original, theirs[0][0] + ends[0][1], shift)


def read_turns(turns: tuple[says.Turn, ...], lengths: Lengths, path: Path) -> tuple[Motion, ...]:
    """Return the turns with numbers; problems are reported."""
    motions = []
    for n, turn in enumerate(turns):
        angle = lengths.number(turn.angle, (*path, n, "angle"))
        about = lengths.numbers(turn.about, (*path, n, "about"))
        if angle is None or about is None:
            continue
        if abs(angle) > 360:
            lengths.problems.append(
                error("out-of-range", f"{angle:g}° is more than a full turn", (*path, n, "angle"))
            )
            continue
        motions.append(Motion(AXIS_NAMES.index(turn.axis), angle, (about[0], about[1], about[2])))
    return tuple(motions)


def _read_bores(
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


def bought_slab(name: str, said: says.Bought, path: Path, lengths: Lengths) -> Slab | None:
    """Return the slab of a bought part: a box, or a rod or tube as a prism of many sides."""
    ends = _box(name, lengths)
    if ends is None or not _sizes_are_fine(name, ends, path, lengths.problems):
        return None
    before = len(lengths.problems)
    sizes = [high - low for low, high in ends]
    turns = read_turns(said.turns, lengths, (*path, "turns"))
    if said.shape == "box":
        axis = min(range(3), key=lambda a: (sizes[a], a))
        u, v = (a for a in range(3) if a != axis)
        outline: tuple[Vec2, ...] = (
            (ends[u][0], ends[v][0]),
            (ends[u][1], ends[v][0]),
            (ends[u][1], ends[v][1]),
            (ends[u][0], ends[v][1]),
        )
        holes: tuple[tuple[Vec2, ...], ...] = ()
    else:
        axis = (
            max(range(3), key=lambda a: (sizes[a], -a))
            if said.along is None
            else AXIS_NAMES.index(said.along)
        )
        u, v = (a for a in range(3) if a != axis)
        if abs(sizes[u] - sizes[v]) > TOLERANCE:
            lengths.problems.append(
                error(
                    "not-round",
                    f"{name} is {mm_text(sizes[u])} × {mm_text(sizes[v])} mm across, not round",
                    (*path, AXIS_NAMES[v]),
                    where=name,
                    help="give both the same size, or say which axis it runs `along`",
                )
            )
        centre = (sum(ends[u]) / 2, sum(ends[v]) / 2)
        outline = _circle(centre, sizes[u] / 2)
        holes = _tube_hole(name, said, centre, sizes[u], lengths, path)
    default = -1 if axis == 1 else 1
    if len(lengths.problems) > before:
        return None
    return Slab(
        axis=axis,
        low=ends[axis][0],
        high=ends[axis][1],
        face=default,
        length_axis=u if sizes[u] >= sizes[v] - TOLERANCE else v,
        outline=outline,
        notched=(False,) * len(outline),
        bands={},
        cutouts=holes,
        turns=turns,
        smooth=said.shape != "box",
    )


def _tube_hole(
    name: str, said: says.Bought, centre: Vec2, diameter: float, lengths: Lengths, path: Path
) -> tuple[tuple[Vec2, ...], ...]:
    if said.shape != "tube":
        return ()
    if said.wall is None:
        lengths.problems.append(
            error("missing-key", f"the tube {name} needs its wall", path, help="wall: 1.5")
        )
        return ()
    wall = lengths.number(said.wall, (*path, "wall"))
    if wall is None:
        return ()
    if not 0 < wall < diameter / 2 - TOLERANCE:
        lengths.problems.append(
            error(
                "out-of-range",
                f"a wall of {mm_text(wall)} mm does not fit a tube of {mm_text(diameter)} mm",
                (*path, "wall"),
                where=name,
            )
        )
        return ()
    return (_circle(centre, diameter / 2 - wall),)


def _circle(centre: Vec2, radius: float) -> tuple[Vec2, ...]:
    """Return a regular polygon whose corners lie on the circle."""
    points = []
    for n in range(_ROUND_SEGMENTS):
        angle = 2 * math.pi * n / _ROUND_SEGMENTS
        points.append((centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)))
    return tuple(points)
