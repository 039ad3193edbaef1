"""What the checks look at: the stages' values, sorted the way checks ask for them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from kdkit.catalogue.entries import Catalogue, Fitting, Limits, Strength
from kdkit.geometry.assembly import Assembly, Contact
from kdkit.geometry.inner_touches import Touch, inner_touches
from kdkit.joinery.masses import Masses
from kdkit.joinery.members import Member
from kdkit.joinery.placed import Bore, Fastener, Groove, Joinery, PlacedJoint
from kdkit.model.resolved import Part, Resolved
from kdkit.parts.cuts import by_part
from kdkit.parts.mass import board_strength
from kdkit.parts.words import bore_noun, surface_words
from kdkit.units import mm_text

__all__ = ["Inspection"]

_NO_LIMITS = Limits()


@dataclass(frozen=True)
class Inspection:
    """One product under inspection."""

    resolved: Resolved
    assembly: Assembly
    joinery: Joinery
    catalogue: Catalogue

    @cached_property
    def members(self) -> Mapping[str, Member]:
        """Every part as it is drilled."""
        return {part.name: Member.of(part) for part in self.assembly.parts}

    @cached_property
    def fasteners(self) -> Mapping[str, Fastener]:
        """The fasteners under their ids."""
        return {f.id: f for f in self.joinery.fasteners}

    @cached_property
    def contacts(self) -> Mapping[str, tuple[Contact, ...]]:
        """The contacts of each part that touches another."""
        found: dict[str, list[Contact]] = {}
        for contact in self.assembly.contacts:
            found.setdefault(contact.butting, []).append(contact)
            found.setdefault(contact.receiving, []).append(contact)
        return {name: tuple(of_part) for name, of_part in found.items()}

    @cached_property
    def inner_touches(self) -> tuple[Touch, ...]:
        """Where parts touch on walls of openings and on round parts."""
        return inner_touches(self.assembly.parts)

    @cached_property
    def joints_of(self) -> Mapping[str, tuple[PlacedJoint, ...]]:
        """The joints of each part that is joined to another."""
        found: dict[str, list[PlacedJoint]] = {}
        for joint in self.joinery.joints:
            found.setdefault(joint.butting, []).append(joint)
            found.setdefault(joint.receiving, []).append(joint)
        return {name: tuple(of_part) for name, of_part in found.items()}

    @cached_property
    def carriers(self) -> Mapping[str, tuple[str, ...]]:
        """For each loose part the parts whose fixtures carry it."""
        found: dict[str, list[str]] = {}
        for fixture in self.joinery.fixtures:
            for name in fixture.carries:
                found.setdefault(name, []).extend(fixture.on)
        return {name: tuple(dict.fromkeys(on)) for name, on in found.items()}

    @cached_property
    def bores(self) -> Mapping[str, Sequence[Bore]]:
        """The bores of each drilled part."""
        return by_part(self.joinery.bores)

    @cached_property
    def grooves(self) -> Mapping[str, Sequence[Groove]]:
        """The grooves of each grooved part."""
        return by_part(self.joinery.grooves)

    def part(self, name: str) -> Part:
        """Return the part of that name."""
        return self.assembly.part(name)

    def fitting(self, name: str) -> Fitting | None:
        """Return a fitting as used, None when the joinery names none such."""
        return self.joinery.fittings.get(name)

    def fitting_of(self, bore: Bore) -> Fitting | None:
        """Return the fitting that a bore belongs to, None for one typed by hand."""
        if bore.fastener is None or bore.fastener not in self.fasteners:
            return None
        return self.fitting(self.fasteners[bore.fastener].fitting)

    def limits_of(self, bore: Bore) -> Limits:
        """Return the limits for a bore; a bore typed by hand or spare has the usual ones."""
        fitting = self.fitting_of(bore)
        return fitting.limits if fitting is not None else _NO_LIMITS

    def family(self, part: Part) -> str | None:
        """Return the family of a part's board, None for a bought part."""
        board = self.catalogue.boards.get(part.material or "")
        return board.family if board is not None else None

    def strength(self, part: Part) -> Strength | None:
        """Return the board's figures for the part's thickness, None when none are known."""
        return board_strength(part, self.catalogue)

    @cached_property
    def masses(self) -> Masses:
        """What the parts weigh as they are drilled, alone and together."""
        return Masses.of(self.assembly.parts, self.joinery, self.catalogue)

    def bore_words(self, bore: Bore) -> str:
        """Return where a bore is: "left_side, face, bore at (18, 37, 264)"; product frame."""
        part = self.part(bore.part)
        x, y, z = (mm_text(c) for c in part.frame.point_to_outer(bore.mouth))
        surface = surface_words(part, bore.surface)
        return f"{bore.part}, {surface}, {bore_noun(bore.purpose)} at ({x}, {y}, {z})"
