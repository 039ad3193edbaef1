"""What work a joint suits, worked out from how it meets, its boards and what is in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue, Fitting
from kdkit.catalogue.formulas import FittingNumbers, fitting_numbers, with_items
from kdkit.units import TOLERANCE

__all__ = ["RULES", "WorkRule", "has_mating", "pulls_together", "works_of"]

_CARCASS_BOARD = 22.0
"""mm: boards of carcasses are as thick at most, members of frames thicker. Common practice, no
source."""

_ACROSS = 24.0
"""mm that reach across the end of a frame's member at least. Common practice, no source."""

_USUAL = 18.0
_TOGETHER = {"glue", "drive", "turn", "screw-on", "nail"}
"""Actions that pull or hold two members together; what is only put in does not."""


def pulls_together(fitting: Fitting) -> bool:
    """Tell whether a fitting holds two members to each other: by glue, a thread, a cam, a nail."""
    return any(action.do in _TOGETHER for action in fitting.actions)


def has_mating(fitting: Fitting) -> bool:
    """Tell whether the members are brought together as such, not slid in or laid on."""
    return any(action.do == "mate" for action in fitting.actions)


@dataclass(frozen=True)
class _Joint:
    """A joint in boards as near to 18 mm as it allows."""

    fitting: Fitting
    catalogue: Catalogue
    numbers: FittingNumbers
    t_receiving: float

    def meets(self, *contacts: str) -> bool:
        return not set(contacts).isdisjoint(self.fitting.contact)

    def takes_boards(self) -> bool:
        """Tell whether both members may be boards of a carcass."""
        limits = (self.fitting.limits.butting_thickness, self.fitting.limits.receiving_thickness)
        return all(span is None or span[0] <= _CARCASS_BOARD for span in limits)

    def takes_stout_members(self) -> bool:
        limits = (self.fitting.limits.butting_thickness, self.fitting.limits.receiving_thickness)
        return all(span is None or span[1] > _CARCASS_BOARD for span in limits)

    def does(self, *actions: str) -> bool:
        return any(action.do in actions for action in self.fitting.actions)

    def holds(self) -> bool:
        return pulls_together(self.fitting)

    def is_banded(self) -> bool:
        """Tell whether a band round the whole work pulls it together: so it is a corner."""
        return any(a.do == "clamp" and a.tool == "band-clamp" for a in self.fitting.actions)

    def holds_or_pins(self) -> bool:
        """Tell whether anything keeps the members to each other, be it only along the contact."""
        return self.holds() or bool(self.fitting.items) or self.fitting.groove_depth is not None

    def shows_outside(self) -> bool:
        """Tell whether something goes in through the outer surface of the receiving member."""
        return any(at[2] <= TOLERANCE - self.t_receiving for at in self.numbers.items)

    def reaches_across(self) -> float:
        """Return for how long one item lies across the contact, both sides of it together, mm."""
        longest = 0.0
        for rule, at, out in zip(
            self.fitting.items, self.numbers.items, self.numbers.outs, strict=True
        ):
            pieces = self.catalogue.items[rule.item].pieces
            ends = [at[2] + z * out[2] for p in pieces for z in (p.z0, p.z1)]
            if min(ends) < 0.0 < max(ends):
                longest = max(longest, max(ends) - min(ends))
        return longest


@dataclass(frozen=True)
class WorkRule:
    """When a joint suits a kind of work; ``because``: the rule in words, with its source."""

    work: str
    because: str
    suits: Callable[[_Joint], bool]


RULES = (
    WorkRule(
        "frame",
        "members thicker than 22 whose end meets an edge or a face, with 24 or more of something"
        " across the joint, since glue on end grain hardly holds: from memory of the Wood"
        " Handbook, FPL-GTR-282, 2021, chapter 10; or a corner that a band pulls together; the"
        " figures: common practice, no source",
        lambda joint: (
            (
                joint.meets("edge-face", "edge-edge")
                and joint.holds_or_pins()
                and joint.takes_stout_members()
                and joint.reaches_across() >= _ACROSS
            )
            or (joint.meets("edge-edge") and joint.is_banded())
        ),
    ),
    WorkRule(
        "carcass",
        "boards of 22 or less that meet at a corner, stand in each other, lie on each other"
        " with something in between, or hang on each other: common practice, no source",
        lambda joint: (
            joint.takes_boards()
            and joint.holds_or_pins()
            and (
                joint.meets("edge-face", "mitre", "sunk", "hung", "facing")
                or (joint.meets("face-face") and bool(joint.fitting.items))
            )
        ),
    ),
    WorkRule(
        "panel-assembly",
        "edges or faces glued to each other, in clamps across, with nothing in sight: along the"
        " grain glue is as strong as the wood, from memory of the Wood Handbook, FPL-GTR-282,"
        " 2021, chapter 10",
        lambda joint: (
            joint.meets("edge-edge", "face-face")
            and joint.does("glue")
            and not joint.is_banded()
            and not joint.shows_outside()
        ),
    ),
    WorkRule(
        "face-frame",
        "the front edge of a board on the back of a frame's member of 22 or less, pulled or"
        " glued on, with nothing in sight in front: common practice, no source",
        lambda joint: (
            joint.meets("edge-face")
            and joint.takes_boards()
            and joint.holds()
            and not joint.shows_outside()
        ),
    ),
)


def works_of(fitting: Fitting, catalogue: Catalogue) -> tuple[str, ...]:
    """Return the kinds of work that a joint suits, advice only; () for a fixture.

    Args:
        fitting: its options as they stand.
        catalogue: whose items it uses.
    """
    if fitting.kind != "joint":
        return ()
    fitting = with_items(fitting)
    butting, receiving = (
        _usual(span)
        for span in (fitting.limits.butting_thickness, fitting.limits.receiving_thickness)
    )
    try:
        numbers = fitting_numbers(fitting, t_butting=butting, t_receiving=receiving)
    except ArithmeticError:  # it has no numbers in usual boards: nothing is known of it
        return ()
    joint = _Joint(fitting, catalogue, numbers, receiving)
    return tuple(rule.work for rule in RULES if rule.suits(joint))


def _usual(span: tuple[float, float] | None) -> float:
    low, high = span or (_USUAL, _USUAL)
    return min(max(_USUAL, low), high)
