"""What the choice among orders knows of one part, as a value."""

from __future__ import annotations

from dataclasses import dataclass, field

from kdkit.frames import Vec3
from kdkit.plan.choice.resting import Poise

__all__ = ["PartFacts"]


@dataclass(frozen=True, kw_only=True)
class PartFacts:
    """What the choice needs to know of a part (or of parts that move as one).

    Args:
        normal: of its face, product frame.
        area: of its face, mm².
        joined: mask of the parts that it is joined to.
        lows: its lowest point, mm, in each posture of ``POSTURES``.
        laid: it is laid on as a back is, and squares the work.
        loose: laid in, joined by nothing.
        likes: mask of the parts of the same kind and size.
        approach: for a part it is joined to, the direction in which it closes square
            on that one.
        driven: for a part it is joined to, the directions out of which fasteners
            are driven once both are together.
        mouths: for a part it is joined to, where a tool is set, out of which direction,
            and how much room the shortest tool takes, mm.
        gripped: mask of the parts that it is pinned to or stands in a groove of.
        dry: mask of those of them that nothing draws to it: pins alone.
        plate: it is so thin that it falls over when it stands on an edge.
        pins: for a part it is joined to, how many pins must find their bores.
        hung: mask of the parts that hold it once it is on them, before anything is
            fastened: what its hinges hook into, or its runners lie on.
        door: it is hung on hinges.
        poise: what gravity asks of it.
        flat: mask of the parts that it is glued up flat with; ``lies``: the direction of
            the product that points up or down meanwhile.
    """

    normal: Vec3
    area: float
    joined: int
    lows: tuple[float, ...]
    laid: bool = False
    loose: bool = False
    likes: int = 0
    approach: tuple[tuple[int, Vec3], ...] = ()
    driven: tuple[tuple[int, Vec3], ...] = ()
    mouths: tuple[tuple[int, Vec3, Vec3, float], ...] = ()
    gripped: int = 0
    dry: int = 0
    plate: bool = False
    pins: tuple[tuple[int, int], ...] = ()
    hung: int = 0
    door: bool = False
    poise: Poise = field(default_factory=Poise)
    flat: int = 0
    lies: Vec3 = (0.0, 0.0, 0.0)
