"""Bevelled edges: what a maker says of them, and the outline at any depth of the board.

A bevel is an edge sawn aslant over its whole length. A part's outline is drawn round its
long points; each segment has a signed angle off square, in degrees: above 0 the long
point lies on the face, below 0 on the back.

A bevel is a number on an outline segment. The outline runs through the long points, and
everything that a bevel changes is the upright prism less a half-space; so what knows nothing
of bevels is right wherever it asks for the size.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from shapely.geometry import Polygon

from kdkit.areas import shared
from kdkit.diagnostics import Path, Problem, error
from kdkit.frames import AXES, Vec2
from kdkit.model import says
from kdkit.model.lengths.lengths import Lengths
from kdkit.model.panels.slabs import Slab, side_name
from kdkit.model.resolved import Part
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "ANGLES",
    "back_ring",
    "bevel_planes",
    "check_bevels",
    "face_ring",
    "is_bevelled",
    "read_bevels",
    "section_ring",
]

ANGLES = (1.0, 60.0)
"""Degrees off square that a bevel may have: a saw tilts to 45 or a little more, steeper
ones are sawn against an upright fence. Common practice, no source."""


def is_bevelled(part: Part) -> bool:
    """Tell whether any edge of a part is sawn aslant."""
    return any(part.bevels)


def section_ring(
    outline: Sequence[Vec2], bevels: Sequence[float], thickness: float, depth: float
) -> tuple[Vec2, ...]:
    """Return the outline at a depth below the face, corner for corner.

    Args:
        outline: at the long points, counter-clockwise.
        bevels: degrees for each segment; () for none.
        depth: 0 on the face, ``thickness`` on the back.

    Source:
        An edge that leans by b lies d·tan(b) further in at a depth d below its long point.
    """
    if not any(bevels):
        return tuple(outline)
    lines = []
    for n, (ax, ay) in enumerate(outline):
        bx, by = outline[(n + 1) % len(outline)]
        length = math.hypot(bx - ax, by - ay)
        inward = (-(by - ay) / length, (bx - ax) / length)
        below = depth if bevels[n] > 0 else thickness - depth
        inset = below * math.tan(math.radians(abs(bevels[n])))
        lines.append((inward, ax * inward[0] + ay * inward[1] + inset))
    ring = []
    for n, corner in enumerate(outline):
        (p, p_at), (q, q_at) = lines[n - 1], lines[n]
        turn = p[0] * q[1] - p[1] * q[0]
        if bevels[n - 1] == 0 and bevels[n] == 0:
            ring.append(corner)
        elif abs(turn) < 1e-9:  # one straight line: both lean alike or the check has said so
            off = q_at - (corner[0] * q[0] + corner[1] * q[1])
            ring.append((corner[0] + off * q[0], corner[1] + off * q[1]))
        else:
            ring.append(((p_at * q[1] - q_at * p[1]) / turn, (q_at * p[0] - p_at * q[0]) / turn))
    return tuple(ring)


def face_ring(part: Part) -> tuple[Vec2, ...]:
    """Return the corners of a part's face; the outline where no edge is bevelled."""
    return section_ring(part.outline, part.bevels, part.thickness, 0.0)


def back_ring(part: Part) -> tuple[Vec2, ...]:
    """Return the corners of a part's back, each below its corner of the face."""
    return section_ring(part.outline, part.bevels, part.thickness, part.thickness)


def bevel_planes(part: Part) -> tuple[tuple[int, tuple[float, float, float], float], ...]:
    """Return the planes that a part's bevels are sawn along, in the panel frame.

    Returns:
        (segment, normal out of the part, offset): the wood is where normal · p ≤ offset.
    """
    found = []
    for n, angle in enumerate(part.bevels):
        if angle == 0:
            continue
        (ax, ay), (bx, by) = part.outline[n], part.outline[(n + 1) % len(part.outline)]
        length = math.hypot(bx - ax, by - ay)
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        normal = (c * (by - ay) / length, -c * (bx - ax) / length, -s)
        z = 0.0 if angle > 0 else -part.thickness
        found.append((n, normal, normal[0] * ax + normal[1] * ay + normal[2] * z))
    return tuple(found)


def read_bevels(
    said: Mapping[str, says.Length | says.Bevel],
    axis: int,
    face: int,
    lengths: Lengths,
    path: Path,
    panel: str,
) -> dict[str, float]:
    """Return the signed angle of each bevelled side; problems are reported.

    Args:
        said: the definition's ``bevels``.
        axis, face: of the panel's slab.
        path: to ``bevels``.
    """
    found: dict[str, float] = {}
    across = (side_name(axis, False), side_name(axis, True))
    for side, bevel in said.items():
        at = (*path, side)
        if side in across:
            lengths.problems.append(
                Problem(
                    code="wrong-axis",
                    message=f"{panel} has no edge at its {side}: that is its face or back",
                    path=at,
                    where=panel,
                    on_key=True,
                )
            )
            continue
        spoken = bevel if isinstance(bevel, says.Bevel) else says.Bevel(angle=bevel)
        angle_at = (*at, "angle") if isinstance(bevel, says.Bevel) else at
        angle = lengths.number(spoken.angle, angle_at)
        sign = _long_side(spoken.long, axis, face, lengths, (*at, "long"), panel)
        if angle is None or sign is None:
            continue
        if not ANGLES[0] <= angle <= ANGLES[1]:
            lengths.problems.append(
                error(
                    "bad-bevel",
                    f"a bevel of {angle:g}° cannot be sawn",
                    angle_at,
                    where=panel,
                    help=f"give {ANGLES[0]:g} to {ANGLES[1]:g} degrees off square: 45 for the"
                    " mitre of a square corner; `long: back` leans it the other way",
                )
            )
            continue
        found[side] = sign * angle
    return found


def _long_side(
    said: str, axis: int, face: int, lengths: Lengths, path: Path, panel: str
) -> int | None:
    """Return +1 where the long point lies on the face, −1 where on the back."""
    if said in ("face", "back"):
        return 1 if said == "face" else -1
    if "xyz".index(said[1]) != axis:
        way = "xyz"[axis]
        lengths.problems.append(
            error(
                "wrong-axis",
                f"neither broad side of {panel} looks to {said}",
                path,
                where=panel,
                help=f"write face, back, +{way} or -{way}",
            )
        )
        return None
    return face if AXES[said][axis] > 0 else -face


def check_bevels(slab: Slab, part: Part, path: Path) -> list[Problem]:
    """Return what is wrong with a panel's bevels: the part itself is whole in every other way.

    A bevel is one straight saw cut, so nothing of the panel may lie beyond its edge; and
    every edge must be left with some length on both sides.
    """
    found: list[Problem] = []
    taken = set()
    for n, angle in enumerate(part.bevels):
        if angle == 0:
            continue
        side = _side_of(slab, part, n)
        taken.add(side)
        a, b = part.outline[n], part.outline[(n + 1) % len(part.outline)]
        beyond = max(
            (b[1] - a[1]) * (x - a[0]) - (b[0] - a[0]) * (y - a[1]) for x, y in part.outline
        )
        if beyond > TOLERANCE * math.dist(a, b):
            found.append(
                _bad(part, (*path, side), "the saw would run on through the rest of the panel")
            )
    for side in sorted({*slab.bevels} - {"all"} - taken):
        found.append(_bad(part, (*path, side), f"{part.name} has no straight edge at its {side}"))
    if found or not taken:
        return found
    first = (*path, next(iter(slab.bevels)))
    rings = (face_ring(part), back_ring(part))
    if not all(_keeps_its_corners(part.outline, ring) for ring in rings):
        found.append(
            _bad(
                part,
                first,
                f"in {mm_text(part.thickness)} mm the bevels run into each other or into a notch",
            )
        )
        return found
    clear = shared(Polygon(rings[0]), Polygon(rings[1]))
    openings = [Polygon(ring) for ring in part.cutouts]
    openings += [
        Polygon(
            [
                (
                    c.centre[0] + c.diameter / 2 * math.cos(a),
                    c.centre[1] + c.diameter / 2 * math.sin(a),
                )
                for a in (n * math.pi / 16 for n in range(32))
            ]
        )
        for c in part.round_cutouts
    ]
    if any(not clear.buffer(TOLERANCE).covers(opening) for opening in openings):
        found.append(_bad(part, first, "a bevel runs into a cut-out"))
    return found


def _side_of(slab: Slab, part: Part, segment: int) -> str:
    """Return the key of ``bevels`` that a segment's bevel came from."""
    side = part.edge_sides[segment]
    if side in slab.bevels:
        return side
    same = [key for key, angle in slab.bevels.items() if angle == part.bevels[segment]]
    return same[0] if same else "all"


def _keeps_its_corners(outline: Sequence[Vec2], ring: Sequence[Vec2]) -> bool:
    """Tell whether a section is a simple ring whose sides run the same way as the outline's."""
    for n, p in enumerate(outline):
        q = outline[(n + 1) % len(outline)]
        a, b = ring[n], ring[(n + 1) % len(ring)]
        along = (q[0] - p[0]) * (b[0] - a[0]) + (q[1] - p[1]) * (b[1] - a[1])
        if along <= TOLERANCE * math.dist(p, q):
            return False
    return bool(Polygon(ring).is_valid)


def _bad(part: Part, path: Path, why: str) -> Problem:
    return error(
        "bad-bevel",
        f"{part.name} cannot be bevelled there: {why}",
        path,
        where=part.name,
        help="bevel an outer edge that is straight from end to end, clear of openings and wider"
        " than the bevel is deep",
    )
