"""What rests where it is put, by gravity alone: on the floor, or on what is under it.

A part that nothing joins to the work yet may only be brought to it where it stays by
itself. It stays if its centre of mass lies over what carries it, far enough inside: a box
on a floor does, a board on its edge falls over.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kdkit.frames import Vec3, dot
from kdkit.geometry.assembly import Assembly
from kdkit.geometry.meetings import MEETINGS
from kdkit.geometry.surfaces import corners_of
from kdkit.model.resolved import Part
from kdkit.parts.postures import ON_FLOOR, POSTURES
from kdkit.parts.size import face_area

__all__ = ["STEADY", "Poise", "Touch", "find_poises", "is_under", "merge_poises"]

LEVEL = 1.0  # mm; what ends within it stands on one floor
FLAT = 0.95  # cosine; a part slides off what is steeper
STEADY = 0.15  # of the height of the centre of mass: how far inside it must lie
# All three: common practice, no source.
_BOARD = 650e-9  # kg/mm³, where nobody asks for masses


@dataclass(frozen=True)
class Touch:
    """Where a part touches another: ``out`` of that one into it, the contact's corners."""

    other: int
    out: Vec3
    corners: tuple[Vec3, ...]


@dataclass(frozen=True)
class Poise:
    """What gravity asks of a part (or of parts that move as one), in the product.

    Args:
        middle: the centre of its wood, openings and bores not taken off.
        volume: mm³, of that wood; ``mass``: kg, as finished.
    """

    middle: Vec3 = (0.0, 0.0, 0.0)
    volume: float = 0.0
    mass: float = 0.0
    corners: tuple[Vec3, ...] = ()
    touches: tuple[Touch, ...] = ()


def find_poises(
    parts: Sequence[Part],
    assembly: Assembly | None,
    masses: Mapping[str, float] | None = None,
) -> tuple[Poise, ...]:
    """Return the poise of each part; the numbers in it follow the order given.

    Args:
        assembly: where the parts touch; None for parts that touch nothing.
        masses: of each part, kg; None: as of boards of 650 kg/m³.
    """
    number = {part.name: n for n, part in enumerate(parts)}
    touches: list[list[Touch]] = [[] for _ in parts]
    for contact in assembly.contacts if assembly is not None else ():
        a, b = number.get(contact.butting), number.get(contact.receiving)
        if a is None or b is None or contact.kind in MEETINGS:
            continue
        frame = contact.frame
        corners = tuple(frame.point_to_outer((x, y, 0.0)) for x, y in contact.polygon)
        into = frame.k
        touches[a].append(Touch(b, into, corners))
        touches[b].append(Touch(a, (-into[0], -into[1], -into[2]), corners))
    return tuple(
        Poise(
            middle=_middle(part),
            volume=face_area(part) * part.thickness,
            mass=(
                face_area(part) * part.thickness * _BOARD if masses is None else masses[part.name]
            ),
            corners=tuple((x, y, z) for x, y, z in corners_of(part).tolist()),
            touches=tuple(touches[n]),
        )
        for n, part in enumerate(parts)
    )


def merge_poises(poises: Sequence[Poise], group: Sequence[int], of: dict[int, int]) -> Poise:
    """Return the poise of parts that move as one.

    Args:
        group: their numbers.
        of: the number of the group of each part; others are not there.
    """
    inside = [poises[part] for part in group]
    own = of[group[0]]
    return Poise(
        middle=_weighed(inside),
        volume=sum(p.volume for p in inside),
        mass=sum(p.mass for p in inside),
        corners=tuple(corner for p in inside for corner in p.corners),
        touches=tuple(
            Touch(of[t.other], t.out, t.corners)
            for p in inside
            for t in p.touches
            if of.get(t.other, own) != own
        ),
    )


def is_under(touch: Touch, q: int) -> bool:
    """Tell whether what is touched lies under the part, flat enough to carry it."""
    _, _, up = _axes(q)
    return dot(touch.out, up) > FLAT


def _axes(q: int) -> tuple[Vec3, Vec3, Vec3]:
    """Two level directions of the product in a posture, and the one that points up."""
    x, y, z = ON_FLOOR[POSTURES[q]]
    return (x[0], y[0], z[0]), (x[1], y[1], z[1]), (x[2], y[2], z[2])


def _middle(part: Part) -> Vec3:
    """The centre of the outline, half the thickness deep."""
    ring = part.outline
    x0, y0 = ring[0]
    twice, u, v = 0.0, 0.0, 0.0
    for (ax, ay), (bx, by) in zip(ring, (*ring[1:], ring[0]), strict=True):
        ax, ay, bx, by = ax - x0, ay - y0, bx - x0, by - y0
        piece = ax * by - bx * ay
        twice += piece
        u += piece * (ax + bx)
        v += piece * (ay + by)
    centre = (x0 + u / (3 * twice), y0 + v / (3 * twice), -part.thickness / 2)
    return part.frame.point_to_outer(centre)


def _weighed(poises: Sequence[Poise]) -> Vec3:
    whole = sum(p.volume for p in poises) or 1.0
    x, y, z = (sum(p.middle[n] * p.volume for p in poises) / whole for n in range(3))
    return x, y, z
