"""Panels as slabs: outline, notches, openings, bands, bores and turns with numbers."""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.diagnostics import Path, Problem, error
from kdkit.frames import Vec2, Vec3
from kdkit.model import says
from kdkit.model.lengths.lengths import Lengths
from kdkit.model.limits import LEAST_BAND, SMALLEST_SIDE
from kdkit.model.panels.bevels import check_bevels, read_bevels
from kdkit.model.panels.hand_bores import read_bores
from kdkit.model.panels.layouts import Layout
from kdkit.model.panels.outlines import (
    Plane,
    check_outline,
    cut_notches,
    read_cutouts,
    without_straight_corners,
)
from kdkit.model.panels.sides import known_ends, let_in_key, part_box, sizes_are_fine
from kdkit.model.panels.slabs import (
    AXIS_NAMES,
    Motion,
    Slab,
    mirror_slab,
    part_from_slab,
    side_name,
)
from kdkit.units import TOLERANCE, mm_text

__all__ = ["panel_slab", "read_turns"]


def panel_slab(layout: Layout, originals: Mapping[str, Slab], lengths: Lengths) -> Slab | None:
    """Return the panel's slab, None after its problems were reported.

    Args:
        layout: what was said of it.
        originals: slabs made before, for a mirror to take from.
        lengths: with every quantity evaluated.
    """
    ends = part_box(layout.name, lengths)
    if ends is None:
        if layout.mirrors is None:  # the sides that are known are judged all the same
            known = known_ends(layout.name, lengths)
            sizes_are_fine(layout.name, known, layout.path, lengths.problems)
        return None
    if layout.mirrors is not None:
        return _mirrored_slab(layout, originals, ends, lengths)
    said, name, path, problems = layout.said, layout.name, layout.path, lengths.problems
    if not sizes_are_fine(name, ends, path, problems):
        return None
    before = len(problems)
    axis = layout.axis
    u, v = (a for a in range(3) if a != axis)
    low, high = ends[axis]
    thickness = lengths.get(f"{name}.thickness")
    if thickness is None:
        return None
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
        outline = tuple(without_straight_corners(list(outline)))
        _check_outline_in_spans(layout, ends, lengths)
    plane = Plane(name, (u, v), (ends[u][0], ends[v][0]), (ends[u][1], ends[v][1]))
    outline, notched = cut_notches(outline, said.notches, plane, lengths, (*path, "notches"))
    cutouts, rounds = read_cutouts(said.cutouts, outline, plane, lengths, (*path, "cutouts"))
    sizes = (ends[u][1] - ends[u][0], ends[v][1] - ends[v][0])
    longer = u if sizes[0] >= sizes[1] else v
    default = -1 if axis == 1 else 1
    face = default if said.face is None else (1 if said.face[0] == "+" else -1)
    slab = Slab(
        axis=axis,
        low=low,
        high=high,
        thickness=thickness,
        face=face,
        length_axis=longer if said.grain is None else AXIS_NAMES.index(said.grain),
        outline=outline,
        notched=notched,
        bands={str(side): band for side, band in said.bands.items()},
        bevels=read_bevels(
            {str(k): v for k, v in said.bevels.items()},
            axis,
            face,
            lengths,
            (*path, "bevels"),
            name,
        ),
        cutouts=cutouts,
        round_cutouts=rounds,
        bores=read_bores(layout, ends, lengths),
        turns=read_turns(said.turns, lengths, (*path, "turns")),
    )
    _check_bands(slab, layout, problems)
    _check_banded_sizes(slab, layout, ends, problems)
    _check_let_in(slab, layout, lengths)
    _check_bevelled_bores(slab, layout, problems)
    if slab.bevels and len(problems) == before:
        part = part_from_slab(slab, name=name, title="", kind="panel", path=path)
        problems += check_bevels(slab, part, (*path, "bevels"))
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


def _check_bevelled_bores(slab: Slab, layout: Layout, problems: list[Problem]) -> None:
    """A typed bore is square to the board or to a square edge: in a slope it has no place."""
    for n, bore in enumerate(layout.said.bores):
        if bore.face in ("face", "back") or not slab.bevels:
            continue
        side = bore.face.removesuffix(" edge")
        if slab.bevels.get(side, slab.bevels.get("all", 0.0)):
            problems.append(
                error(
                    "bad-bevel",
                    f"the {side} edge of {layout.name} is bevelled: a bore cannot be typed there",
                    (*layout.path, "bores", n, "face"),
                    where=layout.name,
                    help="a fitting for mitres bores it, square to the slope",
                )
            )


def _check_let_in(slab: Slab, layout: Layout, lengths: Lengths) -> None:
    for side in layout.said.let_in:
        path = (*layout.path, "let_in", side)
        depth = lengths.get(let_in_key(layout.name, side))
        if side in (side_name(slab.axis, False), side_name(slab.axis, True)):
            lengths.problems.append(
                Problem(
                    code="wrong-axis",
                    message=f"{layout.name} has no edge at its {side}: that is its face or back",
                    path=path,
                    where=layout.name,
                    on_key=True,
                )
            )
        elif layout.said.outline is not None:
            lengths.problems.append(
                Problem(
                    code="bad-outline",
                    message=f"the outline of {layout.name} says where its {side} edge ends",
                    path=path,
                    where=layout.name,
                    help="draw the outline as far as it stands in its neighbour, without `let_in`",
                    on_key=True,
                )
            )
        elif depth is not None and depth < 0:
            lengths.problems.append(
                error(
                    "out-of-range",
                    f"the {side} edge of {layout.name} is let in {mm_text(depth)} mm",
                    path,
                    where=layout.name,
                    help="the depth of a housing or rebate counts from the surface inwards",
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
        elif (
            side != "all" and slab.bands[side] > 0 and (side in slab.bevels or "all" in slab.bevels)
        ):
            problems.append(
                error(
                    "bad-bevel",
                    f"the {side} edge of {layout.name} is bevelled and banded",
                    (*layout.path, "bands", side),
                    where=layout.name,
                    help="a bevel is glued to its mate: take the band or the bevel away",
                )
            )


def _check_banded_sizes(
    slab: Slab, layout: Layout, ends: tuple[tuple[float, float], ...], problems: list[Problem]
) -> None:
    """What is cut before its bands are glued on must be there: finished size less the bands."""
    path = (*layout.path, "bands")
    for side, band in slab.bands.items():
        if 0 < band < LEAST_BAND:
            problems.append(
                error(
                    "out-of-range",
                    f"the {side} band of {layout.name} is {band:g} mm thick",
                    (*path, side),
                    where=layout.name,
                    help=f"0 for none, or {LEAST_BAND:g} mm and more",
                )
            )
    for axis in slab.plane:
        sides = [side_name(axis, positive) for positive in (False, True)]
        bevelled = [side in slab.bevels or "all" in slab.bevels for side in sides]
        bands = sum(
            slab.bands.get(side, 0.0 if aslant else slab.bands.get("all", 0.0))
            for side, aslant in zip(sides, bevelled, strict=True)
        )
        size = ends[axis][1] - ends[axis][0]
        if bands > 0 and size - bands < SMALLEST_SIDE:
            problems.append(
                error(
                    "zero-size",
                    f"the bands of {layout.name} take {mm_text(bands)} of its {mm_text(size)} mm "
                    f"along {AXIS_NAMES[axis]}: nothing is left to cut",
                    path,
                    where=layout.name,
                    help="thinner bands, on one side only, or a wider panel",
                )
            )


def _mirrored_slab(
    layout: Layout,
    originals: Mapping[str, Slab],
    ends: tuple[tuple[float, float], ...],
    lengths: Lengths,
) -> Slab | None:
    source = layout.mirrors or ""
    theirs = part_box(source, lengths)
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
