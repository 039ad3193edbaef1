"""Glue in joints: where it goes, what presses it, how long that may take and how long it sets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kdkit.catalogue.entries import Action, Fitting
from kdkit.frames import Vec3
from kdkit.joinery.placed import PlacedJoint
from kdkit.plan.blocking.hardware import Work
from kdkit.plan.order.build import Scene
from kdkit.plan.plan import OperationKind

__all__ = ["BAND", "GluedJoint", "glued_joints", "is_glued_pin", "when_set"]

BAND = "band-clamp"
"""The clamp that goes round the work: all corners that it goes round are pressed at once."""

_SPREAD = 1.0
"""Minutes to spread a joint where the fitting does not say: common practice, no source."""

_MATING = ("mate", "slide-in", "lay-on", "hang", "run-in")


@dataclass(frozen=True, kw_only=True)
class GluedJoint:
    """A joint that is closed with glue in it.

    Args:
        glue: the glue's key among the tools.
        clamp: what presses it, None where nothing does; ``presses``: the way in which it
            does, or for a band the edge along which the corner runs.
        captured: it stands in a groove, which holds it while others are pressed.
        spread: minutes to spread it; ``clamping``: to press it; ``sets``: until the clamps
            may come off.
    """

    name: str
    ends: frozenset[str]
    glue: str | None
    clamp: str | None
    presses: Vec3
    captured: bool
    spread: float
    clamping: float = 0.0
    sets: float = 0.0

    @property
    def is_banded(self) -> bool:
        """A band goes round it."""
        return self.clamp == BAND


def glued_joints(scene: Scene) -> dict[str, GluedJoint]:
    """Return the joints that are closed with glue at home or in the workshop, by name."""
    found: dict[str, GluedJoint] = {}
    for joint in scene.joinery.joints:
        fittings = _fittings(scene, joint)
        spreads = [a for f in fittings for a in _before(f, "glue")]
        if not spreads:
            continue
        actions = [a for f in fittings for a in f.actions if a.stage == "home"]
        clamps = [a for a in actions if a.do == "clamp"]
        tool = next((a.tool for a in clamps if a.tool), None)
        frame = joint.contact.frame
        found[joint.name] = GluedJoint(
            name=joint.name,
            ends=frozenset((joint.butting, joint.receiving)),
            glue=next((a.tool for a in spreads if a.tool), None),
            clamp=tool,
            presses=frame.i if tool == BAND else frame.k,
            captured=any(f.holds == "captured" for f in fittings),
            spread=max(a.minutes or _SPREAD for a in spreads),
            clamping=max((a.minutes for a in clamps), default=0.0),
            sets=max((a.minutes for a in actions if a.do == "wait"), default=0.0),
        )
    return found


def is_glued_pin(work: Work, fittings: Mapping[str, Fitting]) -> bool:
    """Tell whether a piece of work puts something into a bore or slot with glue in it."""
    fitting = fittings.get(work.fastener.fitting)
    return (
        work.kind is OperationKind.FIT
        and fitting is not None
        and any(a.do == "glue" for a in fitting.actions[: work.rank])
    )


def when_set(work: Work, works: Sequence[Work]) -> bool:
    """Tell whether a piece of work waits until the glue of its fitting has set."""
    return any(
        w.do == "wait" and w.fastener.fitting == work.fastener.fitting and w.rank < work.rank
        for w in works
    )


def _fittings(scene: Scene, joint: PlacedJoint) -> list[Fitting]:
    fittings = scene.joinery.fittings
    return [fittings[key] for key in joint.fittings if key in fittings]


def _before(fitting: Fitting, do: str) -> list[Action]:
    """The actions of a kind that a fitting asks for before its members meet."""
    found: list[Action] = []
    for action in fitting.actions:
        if action.do in _MATING:
            return found
        if action.do == do and action.stage == "home":
            found.append(action)
    return found
