"""One fitting at one position: its frame, its bores in both members, its items.

A pocket screw has no bore in the second member. It cuts its own thread there; the tests hold
its axis against pocket and pilot instead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from kdkit.catalogue.entries import BoreRule, Fitting, SlotRule
from kdkit.catalogue.formulas import BoreNumbers, FittingNumbers, SlotNumbers, fitting_numbers
from kdkit.diagnostics import Path, Problem, error
from kdkit.frames import Frame, Vec3, cross, dot, scaled, sub, unit
from kdkit.geometry.assembly import Contact, ContactKind
from kdkit.joinery.members import Member
from kdkit.joinery.placed import Bore, Fastener, PlacedItem, Slot
from kdkit.joinery.thicknesses import thickness_problem
from kdkit.model.limits import BORE_DEPTH, bore_fault
from kdkit.parts.words import bore_noun
from kdkit.units import TOLERANCE, mm_text

__all__ = ["Drilled", "Driller", "item_frame", "least_apart", "measures"]

_I, _J = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
_ALONG = 0.1  # sine to the run up to which a bore counts as drilled along it


@dataclass
class Drilled:
    """What a stretch of work has given so far."""

    bores: list[Bore] = field(default_factory=list)
    slots: list[Slot] = field(default_factory=list)
    fasteners: list[Fastener] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def item_frame(fastener: Frame, at: Vec3, out: Vec3) -> Frame:
    """Return an item's frame in the product: z out of the mouth, x along the run or j.

    Where z leans, x is as near to that as it can be.
    """
    x = _J if abs(out[0]) > 0.9 else _I
    x = unit(sub(x, scaled(out, dot(x, out))))
    return fastener.frame_to_outer(Frame(at, x, cross(out, x), out))


def measures(contact: Contact | None) -> dict[str, float]:
    """Return what a contact measures, as formulas know it; all 0 where there is none."""
    names = ("sunk", "gap", "overlay", "behind")
    return {name: getattr(contact, name) if contact is not None else 0.0 for name in names}


def least_apart(fitting: Fitting, butting: Member, receiving: Member, contact: Contact) -> float:
    """Return how far apart along a run two of a fitting stand at least, or bores overlap.

    0 where a formula has no number, or where nothing of the fitting is worked across the run.
    """
    try:
        numbers = fitting_numbers(
            fitting,
            t_butting=butting.part.thickness,
            t_receiving=receiving.part.thickness,
            **measures(contact),
        )
    except ArithmeticError:
        return 0.0
    across = [(math.hypot(b.into[1], b.into[2]), b.diameter) for b in numbers.bores]
    wide = [diameter / sine for sine, diameter in across if sine > _ALONG]
    for slot in numbers.slots:
        if abs(slot.into[0]) <= _ALONG:
            wide.append(slot.length if abs(slot.along[0]) > _ALONG else slot.width)
    return max(wide, default=0.0)


class Driller:
    """Drills one fitting into its members, position after position.

    Args:
        name: what the fitting goes by in ``Joinery.fittings``.
        butting: None for a fixture.
        contact: where the members meet; None for a fixture.
        where: the joint or fixture, for messages.
    """

    def __init__(
        self,
        *,
        name: str,
        fitting: Fitting,
        joint: str,
        butting: Member | None,
        receiving: Member,
        contact: Contact | None,
        path: Path,
        where: str,
    ) -> None:
        self._name = name
        self._fitting = fitting
        self._joint = joint
        self._members = {"butting": butting, "receiving": receiving}
        self._receiving = receiving
        self._contact = contact
        self._path = path
        self._where = where
        self._numbers: dict[float, FittingNumbers] = {}

    def drill(self, frame: Frame, id: str | None, done: Drilled) -> None:
        """Add one fastener (with ``id`` None only its bores, spare) at a fastener frame.

        Where a bore begins outside its part, and a board is of a thickness that the fitting is not
        made for, that alone is told.
        """
        told = len(done.problems)
        self._drill(frame, id, done)
        if any(problem.code == "bore-off-part" for problem in done.problems[told:]):
            done.problems[told:] = self._ill_fitted(frame) or done.problems[told:]

    def _ill_fitted(self, frame: Frame) -> list[Problem]:
        butting = self._members["butting"]
        found = [
            thickness_problem(
                self._name, self._fitting, member.part, role, wood, self._path, self._where
            )
            for member, role, wood in (
                (butting, "butting", butting.part.thickness if butting is not None else 0.0),
                (self._receiving, "receiving", self._wood_behind(frame)),
            )
            # Wood deeper than the board lies behind an edge, and that is too narrow then.
            if member is not None and wood <= member.part.thickness + TOLERANCE
        ]
        return [problem for problem in found if problem is not None]

    def _drill(self, frame: Frame, id: str | None, done: Drilled) -> None:
        numbers = self._numbers_at(frame, done)
        if numbers is None:
            return
        for rule, one in zip(self._fitting.bores, numbers.bores, strict=True):
            bore = self._bore(frame, rule, one, id, done)
            if bore is not None:
                done.bores.append(bore)
        for slot_rule, size in zip(self._fitting.slots, numbers.slots, strict=True):
            slot = self._slot(frame, slot_rule, size, id, done)
            if slot is not None:
                done.slots.append(slot)
        if id is None:
            return
        butting = self._members["butting"]
        done.fasteners.append(
            Fastener(
                id=id,
                joint=self._joint,
                fitting=self._name,
                frame=frame,
                butting=butting.part.name if butting is not None else None,
                receiving=self._receiving.part.name,
                items=self._items(frame, numbers),
                path=self._path,
            )
        )

    def _numbers_at(self, frame: Frame, done: Drilled) -> FittingNumbers | None:
        """Return the fitting's numbers where a fastener stands; the same depth is worked once."""
        key = self._wood_behind(frame)
        if key not in self._numbers:
            butting = self._members["butting"]
            try:
                self._numbers[key] = fitting_numbers(
                    self._fitting,
                    t_butting=butting.part.thickness if butting is not None else 0.0,
                    t_receiving=key,
                    **measures(self._contact),
                )
            except ArithmeticError as fault:
                done.problems.append(
                    error(
                        "fitting-number",
                        f"{self._name}: {fault}",
                        self._path,
                        where=self._where,
                        help="mend the formula in the catalogue, or set the fitting's options",
                    )
                )
                return None
        return self._numbers[key]

    def _wood_behind(self, frame: Frame) -> float:
        """Return how much wood of the receiving part lies behind a fastener's origin."""
        if self._contact is not None and self._contact.kind is ContactKind.MITRE:
            return self._receiving.part.thickness  # aslant there is no one depth
        panel = self._receiving.part.frame
        depth = self._receiving.depth_through(
            panel.point_to_inner(frame.origin), panel.vector_to_inner(scaled(frame.k, -1.0))
        )
        return round(depth, 4)

    def _bore(
        self,
        frame: Frame,
        rule: BoreRule,
        numbers: BoreNumbers,
        id: str | None,
        done: Drilled,
    ) -> Bore | None:
        member = self._member(rule.member)
        panel = member.part.frame
        mouth = panel.point_to_inner(frame.point_to_outer(numbers.at))
        into = panel.vector_to_inner(frame.vector_to_outer(numbers.into))
        surface = member.surface_at(mouth, into)
        if surface is None:
            done.problems.append(self._off_part(bore_noun(rule.purpose), member, frame, numbers.at))
            return None
        diameter, depth = numbers.diameter, numbers.depth
        through = depth is None
        if depth is None:
            depth = member.depth_through(mouth, into)
        if depth <= 0 or bore_fault(diameter, max(depth, BORE_DEPTH[0])) is not None:
            done.problems.append(self._no_bore(rule, member, diameter, depth))
            return None
        return Bore(
            part=member.part.name,
            surface=surface,
            mouth=mouth,
            into=into,
            diameter=diameter,
            depth=depth,
            through=through,
            purpose=rule.purpose,
            path=self._path,
            stage=rule.stage,
            fastener=id,
            mate=rule.mate,
            meets=rule.meets,
            sloped=rule.sloped,
            spare=id is None,
            deeper=rule.deeper,
        )

    def _slot(
        self, frame: Frame, rule: SlotRule, numbers: SlotNumbers, id: str | None, done: Drilled
    ) -> Slot | None:
        member = self._member(rule.member)
        panel = member.part.frame
        mouth = panel.point_to_inner(frame.point_to_outer(numbers.at))
        into = panel.vector_to_inner(frame.vector_to_outer(numbers.into))
        surface = member.surface_at(mouth, into)
        if surface is None:
            done.problems.append(self._off_part(rule.purpose, member, frame, numbers.at))
            return None
        if min(numbers.width, numbers.depth) <= 0 or numbers.length <= numbers.width:
            done.problems.append(
                error(
                    "fitting-number",
                    f"the {rule.purpose} of {self._name} comes to {mm_text(numbers.length)} ×"
                    f" {mm_text(numbers.width)}, {mm_text(numbers.depth)} deep",
                    self._path,
                    where=self._where,
                    help="mend the fitting's options",
                )
            )
            return None
        return Slot(
            part=member.part.name,
            surface=surface,
            mouth=mouth,
            into=into,
            along=panel.vector_to_inner(frame.vector_to_outer(numbers.along)),
            width=numbers.width,
            length=numbers.length,
            depth=numbers.depth,
            disc=numbers.disc,
            purpose=rule.purpose,
            path=self._path,
            stage=rule.stage,
            fastener=id,
            mate=rule.mate,
            meets=rule.meets,
        )

    def _member(self, name: str) -> Member:
        member = self._members[name]
        if member is None:
            raise ValueError(f"{self._name}: a fixture has no butting member")
        return member

    def _off_part(self, what: str, member: Member, frame: Frame, at: Vec3) -> Problem:
        x, y, z = (mm_text(c) for c in frame.point_to_outer(at))
        move = "`at`, `ends` or `across`" if self._contact is not None else "`at`"
        help = f"move it with {move}, or choose a smaller fitting"
        if self._fitting.choices:
            sizes = self._sizes_with_room(frame)
            help = (
                f"there is room with {' or '.join(sizes)}"
                if sizes
                else (
                    f"no size of it has room there: move it with {move} or its options, "
                    "or make a part larger"
                )
            )
        return error(
            "bore-off-part",
            f"the {what} of {self._name} begins outside {member.part.name}",
            self._path,
            where=f"{self._where}, at ({x}, {y}, {z})",
            help=help,
        )

    def _sizes_with_room(self, frame: Frame) -> list[str]:
        """Return the sizes of one option with which every bore begins on its part."""
        found = []
        for option, sizes in self._fitting.choices.items():
            fits = []
            for size in sizes:
                options = {**self._fitting.options, option: size}
                other = self._fitting.model_copy(update={"options": options})
                if size != self._fitting.options[option] and self._has_room(other, frame):
                    fits.append(f"{size:g}")
            if fits:
                found.append(f"{option} {' or '.join(fits)}")
        return found

    def _has_room(self, fitting: Fitting, frame: Frame) -> bool:
        butting = self._members["butting"]
        try:
            numbers = fitting_numbers(
                fitting,
                t_butting=butting.part.thickness if butting is not None else 0.0,
                t_receiving=self._receiving.part.thickness,
                **measures(self._contact),
            )
        except ArithmeticError:
            return False
        for rule, bore in zip(fitting.bores, numbers.bores, strict=True):
            member = self._member(rule.member)
            panel = member.part.frame
            mouth = panel.point_to_inner(frame.point_to_outer(bore.at))
            into = panel.vector_to_inner(frame.vector_to_outer(bore.into))
            if member.surface_at(mouth, into) is None:
                return False
        return True

    def _no_bore(self, rule: BoreRule, member: Member, diameter: float, depth: float) -> Problem:
        receiving = self._receiving.part
        beyond = bore_fault(diameter, depth)
        if beyond is not None and (beyond[0] == "diameter" or depth > 0):
            key, limits = beyond
            size = (
                f"Ø{mm_text(diameter, 3)}" if key == "diameter" else f"{mm_text(depth, 3)} mm deep"
            )
            what = f"the {bore_noun(rule.purpose)} of {self._name} comes to {size}"
            help = f"{limits} can be drilled: mend the fitting's options"
        elif member.part.name != receiving.name:
            what = f"{self._name} does not reach through {receiving.name} into {member.part.name}"
            help = "choose a longer fitting, or let it go through a thinner part"
        else:
            what = (
                f"the {bore_noun(rule.purpose)} of {self._name} in {member.part.name} comes to"
                f" {mm_text(depth)} mm deep"
            )
            help = "choose a fitting for these thicknesses, or mend its options"
        return error("fitting-number", what, self._path, where=self._where, help=help)

    def _items(self, frame: Frame, numbers: FittingNumbers) -> tuple[PlacedItem, ...]:
        items = []
        for n, (rule, at, out) in enumerate(
            zip(self._fitting.items, numbers.items, numbers.outs, strict=True)
        ):
            carrier = self._members[rule.carried_by] if rule.carried_by is not None else None
            items.append(
                PlacedItem(
                    item=rule.item,
                    frame=item_frame(frame, at, out),
                    carrier=carrier.part.name if carrier is not None else None,
                    index=n,
                )
            )
        return tuple(items)
