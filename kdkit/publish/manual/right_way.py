"""Which way round a part goes, where it could be put in wrongly.

Takes a part with its bores, grooves and bands; gives a phrase like "the banded edge to
the front, the bored side to the inside". A part that any turn lays on itself needs
none. Sides are named as the finished product stands; what looks up or down while the work
lies otherwise is said so, as in the picture.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from markupsafe import Markup

from kdkit.frames import Vec3, scaled
from kdkit.geometry.surfaces import reach
from kdkit.joinery.placed import Bore, Groove
from kdkit.model.resolved import Part
from kdkit.parts.postures import Posture, steepness
from kdkit.parts.sameness import Motion, asymmetric_turns, read_workpiece
from kdkit.parts.size import part_size
from kdkit.parts.words import edges_at, side_towards
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.naming import Names
from kdkit.units import SQUARE_WITHIN

__all__ = ["RightWay"]

_NEAR = 0.01
_UPRIGHT = 0.9
_INSIDE = 0.25
"""A lying-out panel's face looks to the inside when the product's middle is further off
in its direction than this share of the product's size."""

_OFF_MIDDLE = 0.1
"""A groove is near an end when its middle is off the panel's by this share of the length."""


class RightWay:
    """Writes which way round parts go, each part once."""

    def __init__(self, results: Results, names: Names, messages: Messages) -> None:
        self._results = results
        self._names = names
        self._say = messages
        self._told: set[str] = set()

    def lines(
        self,
        parts: Iterable[str],
        alike_parts: Iterable[str] = (),
        posture: Posture = Posture.STANDING,
    ) -> tuple[Markup, ...]:
        """Return a line for the parts that go one way round only and were not told yet.

        What is told of the parts counts as told of ``alike_parts`` too. What looks up or down
        as the work lies in ``posture`` is said so.
        """
        alike: dict[str, list[str]] = {}
        for name in parts:
            if name in self._told:
                continue
            self._told.add(name)
            phrase = self.phrase(name, posture)
            if phrase:
                alike.setdefault(phrase, []).append(name)
        self._told.update(alike_parts)
        return tuple(
            self._say.text("way.line", parts=self._names.letters(members), way=phrase)
            for phrase, members in alike.items()
        )

    def phrase(self, name: str, posture: Posture = Posture.STANDING) -> str:
        """Return what tells the right way of one part from the wrong ones, "" if all are right."""
        part = self._results.resolved.part(name)
        bores = [b for b in self._results.joinery.bores if b.part == name]
        grooves = [g for g in self._results.joinery.grooves if g.part == name]
        slots = [s for s in self._results.joinery.slots if s.part == name]
        wrong = list(asymmetric_turns(read_workpiece(part, bores, grooves, slots)))
        if part.kind != "panel":
            return ""
        if abs(part.thickness - part_size(part)[1]) < _NEAR:  # a quarter turn fills it too
            return self._say.plain("way.drawn_only") if bores or grooves or slots else ""
        marks: list[str] = []
        left = wrong
        bands = []
        for axis in (1, 0):
            towards = _banded_end(part, axis)
            if towards is not None and any(_flips(turn, axis) for turn in wrong):
                bands.append(self._say.plain(f"way.to_{_lying(towards, posture)}"))
                left = [turn for turn in left if not _flips(turn, axis)]
        if bands:
            listed = str(self._say.listed(bands).unescape())
            marks.append(self._say.plain("way.bands" if len(bands) > 1 else "way.band", to=listed))
        surface = _marked_surface(bores, grooves)
        if surface is not None and any(turn.flip_z for turn in wrong):
            kind, outward = surface
            towards = scaled(part.frame.k, 1.0 if outward else -1.0)
            to = self._surface_words(part, towards, posture)
            marks.append(self._say.plain(f"way.{kind}", to=to))
            left = [turn for turn in left if not turn.flip_z]
        near = [(axis, _groove_near(part, grooves, axis)) for axis in (1, 0)]
        for axis, towards in near:
            if towards is not None and any(_flips(turn, axis) for turn in left):
                marks.append(self._say.plain(f"way.groove_{side_towards(towards)}"))
                left = [turn for turn in left if not _flips(turn, axis)]
        if left:
            marks.append(self._say.plain("way.drawn" if marks else "way.drawn_only"))
        return self._say.plain("list.comma").join(marks)

    def _surface_words(self, part: Part, towards: Vec3, posture: Posture) -> str:
        """Return where a panel's surface looks: inside if it does, else a side."""
        side = _lying(towards, posture)
        if side not in ("up", "down", "top", "bottom"):
            low, high = reach(self._results.resolved.parts, towards)
            own_low, own_high = reach((part,), towards)
            ahead = (low + high) / 2 - (own_low + own_high) / 2
            if ahead > _INSIDE * (high - low):
                return self._say.plain("way.to_inside")
        return self._say.plain(f"way.to_{side}")


def _lying(towards: Vec3, posture: Posture) -> str:
    """Return which side a direction is of, "up" or "down" where the work lies so."""
    rise = steepness(towards, posture)
    if posture is Posture.STANDING or abs(rise) < _UPRIGHT:
        return side_towards(towards)
    return "up" if rise > 0 else "down"


def _flips(turn: Motion, axis: int) -> bool:
    return turn.swap or (turn.flip_x if axis == 0 else turn.flip_y)


def _banded_end(part: Part, axis: int) -> Vec3 | None:
    """Return where the banded end of an axis looks, None if both or neither are banded."""
    banded = [
        any(part.bands[n] > 0 for n in edges_at(part, axis, far) if part.bands)
        for far in (False, True)
    ]
    if banded[0] == banded[1]:
        return None
    towards = part.frame.i if axis == 0 else part.frame.j
    return scaled(towards, 1.0 if banded[1] else -1.0)


def _marked_surface(bores: Sequence[Bore], grooves: Sequence[Groove]) -> tuple[str, bool] | None:
    """Return what marks one of the two large surfaces and whether that is the face.

    The surfaces are compared as they look: a bore that goes straight through shows on both.
    """
    widest = {
        surface: max((b.diameter for b in bores if _shows(b, surface)), default=0.0)
        for surface in ("face", "back")
    }
    grooved = {g.surface for g in grooves} & {"face", "back"}
    if len(grooved) == 1:
        return ("groove", grooved == {"face"})
    if abs(widest["face"] - widest["back"]) < _NEAR:
        return None
    outward = widest["face"] > widest["back"]
    plain = min(widest.values()) == 0.0
    return ("bores" if plain else "wider_bores", outward)


def _shows(bore: Bore, surface: str) -> bool:
    """Tell whether a bore opens on a surface: where it starts or, square and through, opposite."""
    if bore.surface not in ("face", "back"):
        return False
    square = abs(bore.into[2]) >= math.cos(math.radians(SQUARE_WITHIN))
    return bore.surface == surface or (bore.through and square)


def _groove_near(part: Part, grooves: Sequence[Groove], axis: int) -> Vec3 | None:
    """Return towards which end of an axis the one groove of a surface clearly lies, if any."""
    cut = [groove for groove in grooves if groove.surface in ("face", "back")]
    if len(cut) != 1:
        return None
    length = part_size(part)[axis]
    places = [p[axis] for p in cut[0].polygon]
    off = (min(places) + max(places)) / 2 - length / 2
    if abs(off) < _OFF_MIDDLE * length:
        return None
    return scaled(part.frame.i if axis == 0 else part.frame.j, 1.0 if off > 0 else -1.0)
