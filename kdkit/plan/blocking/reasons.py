"""Why one part cannot move without another, as people read it."""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec3
from kdkit.geometry.meetings import MEETINGS
from kdkit.joinery.placed import Joinery, PlacedJoint
from kdkit.plan.motion.bodies import Body
from kdkit.plan.motion.directions import direction_words

__all__ = ["Reasons"]


class Reasons:
    """Reasons as people read them."""

    def __init__(self, joinery: Joinery, catalogue: Catalogue, titles: Mapping[str, str]) -> None:
        self._joinery = joinery
        self._catalogue = catalogue
        self._titles = titles
        self._captured = {
            frozenset((j.butting, j.receiving)): j.butting
            for j in joinery.joints
            if any(self._holds(f) == "captured" for f in j.fittings) or j.contact.sunk > 0
        }

    def _holds(self, fitting: str) -> str:
        entry = self._joinery.fittings.get(fitting)
        return entry.holds if entry is not None else "free"

    def pinning(self, joint: PlacedJoint) -> str | None:
        """Return the first fitting that pins a joint, or None."""
        return next((f for f in joint.fittings if self._holds(f) == "pinned"), None)

    def pinned(self, part: str, joint: PlacedJoint, way: Vec3) -> str:
        """Return the reason of a pinned joint."""
        other = joint.receiving if part == joint.butting else joint.butting
        fitting = self._joinery.fittings[self.pinning(joint) or ""].title.lower()
        if joint.contact.kind in MEETINGS:
            return (
                f"{self._titles[part]} is held by {self._titles[other]} ({fitting}) "
                f"and comes off {direction_words(way)} only"
            )
        return (
            f"{self._titles[part]} is pinned to {self._titles[other]} ({fitting}) "
            f"and comes off {direction_words(way)} only"
        )

    def in_the_way(self, moving: Body, standing: Body, way: str) -> str:
        """Return the reason of a collision on a way in words."""
        mover, other = self._titles[moving.part], self._titles[standing.part]
        for body, whose in ((moving, mover), (standing, other)):
            if body.fastener is not None:
                entry = self._catalogue.items.get(body.item)
                item = entry.title.lower() if entry is not None else body.item
                return (
                    f"moving {mover} {way}, the {item} in {whose} would meet {other}"
                    if (body is moving)
                    else f"moving {mover} {way}, it would meet the {item} in {whose}"
                )
        held = self._captured.get(frozenset((moving.part, standing.part)))
        if held == moving.part:
            return f"{mover} stands in the groove of {other} and cannot move {way}"
        if held == standing.part:
            return f"{mover} holds {other} in its groove and cannot move {way}"
        return f"moving {mover} {way}, it would run into {other}"
