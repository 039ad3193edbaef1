"""Which contacts a joint's fittings go on, and what to say when there are none."""

from __future__ import annotations

import math
from collections.abc import Sequence

from kdkit.catalogue.entries import Catalogue, Fitting
from kdkit.diagnostics import Path, Problem, advice, error
from kdkit.frames import cross, distance, dot, norm, sub
from kdkit.geometry.assembly import Assembly, Contact, ContactKind
from kdkit.geometry.inner_touches import inner_touches
from kdkit.geometry.solids import gap_between, overlap_between
from kdkit.geometry.surfaces import part_box, surfaces_of
from kdkit.model.resolved import Part, ResolvedJoint
from kdkit.units import TOLERANCE, mm_text

__all__ = ["choose_contacts", "parts_apart"]

_EXACT, _ALMOST = 0.005, 5.0
"""Degrees between which two surfaces were probably meant to lie on each other; our own rule."""

_WORDS = {
    "edge-face": "an edge stands on a face",
    "edge-edge": "two edges meet",
    "mitre": "two bevelled edges meet",
    "face-face": "two faces lie on each other",
    "sunk": "one part stands in the other",
}


def parts_apart(joint: ResolvedJoint, assembly: Assembly) -> Problem:
    """Return the problem of a joint whose parts do not touch, with the gap measured."""
    a, b = assembly.part(joint.joined), assembly.part(joint.to)
    where = f"{joint.joined} to {joint.to}"
    overlap = overlap_between(a, b)
    if overlap.depth > TOLERANCE:
        return error(
            "parts-cross",
            f"{joint.joined} and {joint.to} stand {mm_text(overlap.depth)} mm in each other and"
            " do not meet squarely",
            joint.path,
            where=where,
            help="let one end at the other: write its extent with the other's side, such as"
            f" {joint.to}.x1",
        )
    if inner_touches((a, b)):
        return error(
            "parts-apart",
            f"{joint.joined} and {joint.to} touch only on the wall of an opening or on a round"
            " part, and no joint is made there",
            joint.path,
            where=where,
            help="let one lie on a face or an edge of the other, or of a third part beside it;"
            " an opening that is open at an edge is a notch, and its walls are edges",
        )
    gap = gap_between(a, b)
    if gap <= 2 * TOLERANCE:
        return error(
            "parts-apart",
            f"{joint.joined} and {joint.to} meet only in a line or a point{_off_words(a, b)}",
            joint.path,
            where=where,
            help="give the slope exactly, with atan(rise / run) for a typed angle"
            if _off_words(a, b)
            else "a joint needs a surface on each part: let one reach over the other",
        )
    return error(
        "parts-apart",
        f"{joint.joined} and {joint.to} do not touch: {mm_text(gap, 2)} mm lie between them",
        joint.path,
        where=where,
        help=f"write the extent of one with a side of the other{_nearest_side(a, b, gap)}",
    )


def _off_words(a: Part, b: Part) -> str:
    """Return by how much two parts lean that were nearly to lie on each other, "" if none."""
    normals = [[s.frame.k for s in surfaces_of(part)] for part in (a, b)]
    offs = [
        math.degrees(math.asin(min(1.0, norm(cross(n, m))))) for n in normals[0] for m in normals[1]
    ]
    small = [off for off in offs if _EXACT < off < _ALMOST]
    return f": their surfaces lean by {mm_text(min(small), 2)}°" if small else ""


def _nearest_side(a: Part, b: Part, gap: float) -> str:
    """Return a hint which sides face each other, when the gap is along an axis."""
    boxes = part_box(a), part_box(b)
    for axis in range(3):
        (a0, a1), (b0, b1) = ((float(box[axis]), float(box[axis + 3])) for box in boxes)
        letter = "xyz"[axis]
        if abs(b0 - a1 - gap) <= TOLERANCE:
            return f": {a.name}.{letter}1 is {mm_text(a1)}, {b.name}.{letter}0 is {mm_text(b0)}"
        if abs(a0 - b1 - gap) <= TOLERANCE:
            return f": {a.name}.{letter}0 is {mm_text(a0)}, {b.name}.{letter}1 is {mm_text(b1)}"
    return ""


def choose_contacts(
    contacts: Sequence[Contact],
    fitting: Fitting,
    key: str,
    catalogue: Catalogue,
    path: Path,
    where: str,
) -> tuple[tuple[Contact, ...], tuple[Problem, ...]]:
    """Return the contacts that one fitting goes on, along the run, and what to know.

    A groove, or a fitting with nothing to place, takes every contact it suits. One
    with fasteners takes the largest and those in line with it (a notch parts them);
    others are left out, and that is said.

    Args:
        contacts: of the two parts, the largest first.
        key: the fitting's key as the maker wrote it.
        path: of the fitting's use.
    """
    suited = [c for c in contacts if c.kind.value in fitting.contact]
    if not suited:
        kinds = sorted({c.kind.value for c in contacts})
        suits = sorted(
            name
            for name, entry in catalogue.fittings.items()
            if entry.kind == "joint" and set(kinds) & set(entry.contact)
        )
        found = " and ".join(_WORDS[kind] for kind in kinds)
        help = f"these suit: {', '.join(suits)}" if suits else "no fitting suits it"
        if kinds == ["sunk"]:
            deep = mm_text(max(c.sunk for c in contacts))
            found = f"{contacts[0].butting} stands {deep} mm deep in {contacts[0].receiving}"
            help = f"shorten one so that they only touch; or, if it shall stand in it, {help}"
        return (), (
            error(
                "fitting-contact",
                f"{key} does not suit this joint: here {found}",
                (*path, "fitting"),
                where=where,
                help=help,
            ),
        )
    if fitting.groove_width is not None or not (fitting.items or fitting.bores):
        return tuple(suited), ()
    main = suited[0]
    in_line = [c for c in suited if _in_line(main, c)]
    in_line.sort(key=lambda c: dot(sub(c.frame.origin, main.frame.origin), main.frame.i))
    if len(in_line) == len(suited):
        return tuple(in_line), ()
    return tuple(in_line), (
        advice(
            "joint-contacts",
            f"the parts touch in {len(suited)} places that are not in one line:"
            f" {key} goes on the largest, {main.butting} against the"
            f" {main.receiving_surface.split(':')[0]} of {main.receiving}",
            path,
            where=where,
        ),
    )


def _in_line(a: Contact, b: Contact) -> bool:
    """Tell whether two contacts have the same plane and the same run.

    The edges of one part have one middle line in a plane; faces may lie side by side.
    """
    if a.butting != b.butting or a.receiving != b.receiving:
        return False
    if distance(a.frame.k, b.frame.k) > 1e-6 or distance(a.frame.i, b.frame.i) > 1e-6:
        return False
    between = sub(b.frame.origin, a.frame.origin)
    if abs(dot(between, a.frame.k)) > TOLERANCE:
        return False
    return a.kind is not ContactKind.FACE_FACE or abs(dot(between, a.frame.j)) <= TOLERANCE
