"""Choosing a joint: which fittings are possible between two parts, and why not the others.

Every fitting of the catalogue is placed, inspected and planned where it would go, by the
stages that a build goes through; nothing here knows a limit of its own, but that a fitting for
slanted ends is not offered where members meet square (it would hold there all the same).

What a joint suits is advice. ``suits`` says the trade's practice; nothing is refused by it,
and a maker's entry may leave it out.

Longer than most modules: both ways of asking, for boards and in a product, share the one
trial of a fitting.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from kdkit.catalogue import Catalogue, Fitting, works_of
from kdkit.definition.formula import near_names
from kdkit.diagnostics import Problem, Severity, error, warning
from kdkit.frames import Frame, add, scaled
from kdkit.geometry import Assembly, Contact, assemble, contact_between
from kdkit.inspect.checks import inspect_joints
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.joints import check_fitting_families, check_fitting_thicknesses
from kdkit.joinery import Joinery, place_fittings
from kdkit.joinery.meeting_joints import asks_for_meeting
from kdkit.joinery.placed import Fastener, PlacedJoint
from kdkit.model import FittingUse, Resolved, resolve
from kdkit.model.resolved import FittingPlacement, ResolvedFixture, ResolvedJoint
from kdkit.model.resolving.joints import unknown_part
from kdkit.plan.make import find_refusal
from kdkit.samples.boards import Pair
from kdkit.samples.cost import Cost, cost_of
from kdkit.samples.nearby import look_nearby
from kdkit.samples.pair_facts import PairFacts, is_mitred, pair_facts
from kdkit.samples.products import BUTTING, RECEIVING, joint_product, stands_at_end

__all__ = ["Choice", "Chosen", "choose_between_boards", "choose_in_product", "find_pair"]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One fitting between two parts.

    Args:
        fitting: its key.
        suits: the kinds of work that it suits.
        cost: what it takes; None when it is ruled out.
        reasons: why it is ruled out, all of them; () when it is possible.
        facts: what is said of it for this pair; None when it is ruled out.
        count: it is possible with so many, where the joint is too short for the fitting's
            own spread; None for its own spread, or as the product has it.
    """

    fitting: str
    title: str
    suits: tuple[str, ...]
    cost: Cost | None
    reasons: tuple[Problem, ...] = ()
    count: int | None = None
    facts: PairFacts | None = None


@dataclass(frozen=True, kw_only=True)
class Chosen:
    """Every joint of the catalogue between two parts, the possible ones first.

    Args:
        butting, receiving: the parts, with material and thickness, in words.
        contact: how they meet; ``run``: for how long, mm; ``sunk``: how deep.
        in_use: fittings that the product has there now.
        choices: possible ones by their working time, then the others by name.
        nearby: how many parts of the product they were judged among, and of how many.
    """

    butting: str
    receiving: str
    contact: str
    run: float
    sunk: float
    in_use: tuple[str, ...]
    choices: tuple[Choice, ...]
    nearby: tuple[int, int] | None = None


@dataclass(frozen=True)
class _Place:
    """Two parts of a product, and the joint between them that is tried out."""

    resolved: Resolved  # without that joint
    assembly: Assembly
    catalogue: Catalogue
    joint: ResolvedJoint
    contact: Contact  # where the two meet, the largest

    @cached_property
    def before(self) -> frozenset[tuple[object, ...]]:
        """What is wrong already without the joint."""
        return frozenset(_likeness(p) for p in self._found(self.resolved)[1])

    @cached_property
    def has_plan(self) -> bool:
        """Whether the product without the joint can be put together at all."""
        joinery, _ = place_fittings(self.resolved, self.assembly, self.catalogue)
        if joinery is None:
            return False
        return not find_refusal(self.resolved, self.assembly, joinery, self.catalogue)

    @cached_property
    def alone(self) -> tuple[Resolved, Assembly]:
        """A product of the two parts and nothing else."""
        pair = {self.joint.joined, self.joint.to}
        parts = tuple(p for p in self.resolved.parts if p.name in pair)
        bare = replace(
            self.resolved,
            parts=parts,
            joints=(),
            fixtures=(),
            units=(),
            order=(),
            sequence=(),
            system_rows=(),
        )
        contacts = [c for c in self.assembly.contacts if {c.butting, c.receiving} <= pair]
        return bare, Assembly(parts=parts, contacts=tuple(contacts))

    def try_out(self, key: str) -> Choice:
        """Try a fitting here; with one alone where it stands too close to itself."""
        own = tuple(use for use in self.joint.fittings if use.fitting == key)
        choice = self._tried(key, own or (self._use(key),))
        if not own and {p.code for p in choice.reasons} == {"pitch-too-small"}:
            alone = self._tried(key, (replace(self._use(key), count=1),))
            if alone.cost is not None:
                return replace(alone, count=1)
        return choice

    def _tried(self, key: str, uses: tuple[FittingPlacement, ...]) -> Choice:
        """Place a fitting here, inspect and plan it."""
        fitting = self.catalogue.fittings[key]
        joint = replace(self.joint, fittings=uses)
        whole = replace(self.resolved, joints=(*self.resolved.joints, joint))
        joinery, problems = self._found(whole)
        found = [p for p in problems if self._counts(p)]
        if fitting.mitred and not is_mitred(self.assembly, self.contact):
            found.append(_not_slanted(key, self.joint))
        if joinery is None:
            found += [
                p for p in self._limits(key, fitting) if p.code not in {f.code for f in found}
            ]
        if found or joinery is None:
            return Choice(
                fitting=key,
                title=fitting.title,
                suits=works_of(fitting, self.catalogue),
                cost=None,
                reasons=_once(found),
            )
        problems = find_refusal(whole, self.assembly, joinery, self.catalogue)
        if problems and self.has_plan:
            return Choice(
                fitting=key,
                title=fitting.title,
                suits=works_of(fitting, self.catalogue),
                cost=None,
                reasons=_once(problems),
            )
        bare, assembly = self.alone
        pair = replace(bare, joints=(joint,))
        by_itself, problems = place_fittings(pair, assembly, self.catalogue)
        cost = facts = None
        if by_itself is not None:
            cost = cost_of(pair, assembly, by_itself, self.catalogue)
        if by_itself is not None and cost is not None:
            known = (pair, assembly, by_itself, self.catalogue)
            facts = pair_facts(*known, fitting, cost.wait_minutes)
        return Choice(
            fitting=key,
            title=fitting.title,
            suits=works_of(fitting, self.catalogue),
            cost=cost,
            reasons=() if cost is not None else _once(problems),
            facts=facts,
        )

    def _use(self, key: str) -> FittingPlacement:
        return FittingPlacement(fitting=key, path=(*self.joint.path, "fittings", 0))

    def _found(self, resolved: Resolved) -> tuple[Joinery | None, tuple[Problem, ...]]:
        joinery, problems = place_fittings(resolved, self.assembly, self.catalogue)
        if joinery is None:
            return None, problems
        return joinery, (
            *problems,
            *inspect_joints(resolved, self.assembly, joinery, self.catalogue),
        )

    def _counts(self, problem: Problem) -> bool:
        """Tell whether a problem speaks against the joint: it is of it, or came with it."""
        if problem.severity is Severity.ADVICE:
            return False
        own = problem.path[: len(self.joint.path)] == self.joint.path
        return own or _likeness(problem) not in self.before

    def _limits(self, key: str, fitting: Fitting) -> Iterator[Problem]:
        """Give what the checks of boards say to a fitting that could not be placed.

        One fastener without bores in the middle of the contact stands for it.
        """
        contact = self.contact
        frame = contact.frame
        middle = add(frame.origin, scaled(frame.i, contact.run / 2))
        fastener = Fastener(
            id=key,
            joint=key,
            fitting=key,
            frame=Frame(middle, frame.i, frame.j, frame.k),
            butting=contact.butting,
            receiving=contact.receiving,
            items=(),
            path=self._use(key).path,
        )
        placed = PlacedJoint(
            name=key,
            butting=contact.butting,
            receiving=contact.receiving,
            contact=contact,
            fittings=(key,),
            fasteners=(key,),
            path=self.joint.path,
        )
        joinery = Joinery(
            joints=(placed,),
            fixtures=(),
            bores=(),
            grooves=(),
            fasteners=(fastener,),
            fittings={key: fitting},
        )
        inspection = Inspection(self.resolved, self.assembly, joinery, self.catalogue)
        yield from check_fitting_thicknesses(inspection)
        yield from check_fitting_families(inspection)


def choose_between_boards(
    pair: Pair, catalogue: Catalogue
) -> tuple[Chosen | None, tuple[Problem, ...]]:
    """Return every joint of the catalogue between two boards that meet as a pair says.

    Returns:
        the choices, or None and what is wrong with the boards.
    """
    places: dict[bool, _Place] = {}
    for at_end in (False, True) if pair.contact == "sunk" else (False,):
        product = joint_product(pair, (FittingUse(fitting="any"),), at_end=at_end)
        resolved, problems = resolve(product)
        if resolved is None:
            return None, problems
        assembly, problems = assemble(resolved)
        if assembly is None:
            return None, problems
        (joint,) = resolved.joints
        bare = replace(resolved, joints=())
        _, problems = place_fittings(bare, assembly, catalogue)
        if problems:
            return None, problems
        contacts = contact_between(assembly, BUTTING, RECEIVING)
        if not contacts:
            return None, (_no_contact(BUTTING, RECEIVING),)
        places[at_end] = _Place(bare, assembly, catalogue, joint, contacts[0])
    choices = [
        places[stands_at_end(catalogue.fittings[key]) and True in places].try_out(key)
        for key in _joints(catalogue)
    ]
    return _chosen(places[False], choices, ()), ()


def find_pair(
    resolved: Resolved, names: Sequence[str]
) -> tuple[tuple[str, str] | None, tuple[Problem, ...]]:
    """Return the two parts that are meant: they are named themselves, or their joint is."""
    if len(names) == 1:
        return _parts_of_joint(resolved, names[0])
    known = [part.name for part in resolved.parts]
    problems = tuple(
        unknown_part(name, known, [u.name for u in resolved.units], ())
        for name in dict.fromkeys(names)
        if name not in known
    )
    if problems:
        return None, problems
    one, other = names
    if one == other:
        return None, (
            error("same-part-twice", f"{one} is named twice", help="name two parts that meet"),
        )
    return (one, other), ()


def _parts_of_joint(
    resolved: Resolved, name: str
) -> tuple[tuple[str, str] | None, tuple[Problem, ...]]:
    meant = [j for j in resolved.joints if j.name == name or j.name.startswith(f"{name}: ")]
    pairs = list(dict.fromkeys((j.joined, j.to) for j in meant))
    if len(pairs) == 1:
        return pairs[0], ()
    if pairs:
        listed = ", ".join(f"{a} {b}" for a, b in pairs)
        return None, (
            error(
                "unknown-joint",
                f"the joint {name!r} joins {len(pairs)} pairs of parts",
                help=f"name the two parts: {listed}",
            ),
        )
    known = [j.name for j in resolved.joints]
    near = near_names(name, known)
    help = f"did you mean {near[0]!r}?" if near else "name two parts that meet, or a joint"
    return None, (error("unknown-joint", f"there is no joint {name[:80]!r}", help=help),)


def choose_in_product(
    resolved: Resolved, assembly: Assembly, catalogue: Catalogue, one: str, other: str
) -> tuple[Chosen | None, tuple[Problem, ...]]:
    """Return every joint of the catalogue between two parts of a product, in their places.

    The joint that they have now, if any, is taken out for it; all others stay. A fitting
    that they have now stands as it does there, every other one as it spreads by itself.

    Returns:
        the choices, or None when the two parts do not touch.
    """
    pair = {one, other}
    there = [j for j in resolved.joints if {j.joined, j.to} == pair]
    joint = (
        replace(there[0], fittings=tuple(use for j in there for use in j.fittings))
        if there
        else ResolvedJoint(
            name=f"{one} to {other}",
            path=("joints", len(resolved.said.joints)),
            joined=one,
            to=other,
            fittings=(),
        )
    )
    in_use = tuple(dict.fromkeys(u.fitting for j in there for u in j.fittings))
    contacts = contact_between(assembly, one, other)
    if any(asks_for_meeting(catalogue.fittings.get(key)) for key in in_use):
        joinery, problems = place_fittings(resolved, assembly, catalogue)
        if joinery is None:
            return None, problems
        contacts = tuple(j.contact for j in joinery.joints if {j.butting, j.receiving} == pair)
    if not contacts:
        return None, (_no_contact(one, other),)
    rest = replace(resolved, joints=tuple(j for j in resolved.joints if j not in there))
    among = len(rest.parts)
    rest, assembly = look_nearby(rest, assembly, frozenset(pair))
    rest, problems = _without_faults(rest, assembly, catalogue)
    place = _Place(rest, assembly, catalogue, joint, contacts[0])
    chosen = _chosen(place, [place.try_out(key) for key in _joints(catalogue, in_use)], in_use)
    if len(rest.parts) < among:
        chosen = replace(chosen, nearby=(len(rest.parts), among))
    if not place.has_plan:
        problems = (
            *problems,
            warning(
                "judged-without",
                "other parts of the product hold each other, so no joint of these two was "
                "judged by whether there is an order",
                help="see kdkit check, and ask again once the product can be put together",
            ),
        )
    return chosen, problems


def _without_faults(
    resolved: Resolved, assembly: Assembly, catalogue: Catalogue
) -> tuple[Resolved, tuple[Problem, ...]]:
    """Leave out joints and fixtures that cannot be placed: they are not what is asked about."""
    joinery, problems = place_fittings(resolved, assembly, catalogue)
    if joinery is not None:
        return resolved, ()
    faults = [p.path for p in problems if p.severity is Severity.ERROR]

    def is_sound(one: ResolvedJoint | ResolvedFixture) -> bool:
        return not any(path[: len(one.path)] == one.path for path in faults)

    sound = replace(
        resolved,
        joints=tuple(j for j in resolved.joints if is_sound(j)),
        fixtures=tuple(f for f in resolved.fixtures if is_sound(f)),
    )
    left_out = [
        one for some in (resolved.joints, resolved.fixtures) for one in some if not is_sound(one)
    ]
    return sound, tuple(
        warning(
            "judged-without",
            f"{one.name} has a fault of its own, so the joints were tried without it",
            one.path,
            help="see kdkit check",
        )
        for one in left_out
    )


def _joints(catalogue: Catalogue, in_use: Sequence[str] = ()) -> list[str]:
    """Return the joints to try: those of doors and drawers only where one is in use."""
    apart = any(asks_for_meeting(catalogue.fittings.get(key)) for key in in_use)
    return sorted(
        key
        for key, fitting in catalogue.fittings.items()
        if fitting.kind == "joint" and asks_for_meeting(fitting) is apart
    )


def _chosen(place: _Place, choices: list[Choice], in_use: tuple[str, ...]) -> Chosen:
    contact = place.contact
    possible = [c for c in choices if c.cost is not None]
    possible.sort(key=lambda c: (round(c.cost.minutes, 6) if c.cost else 0.0, c.fitting))
    return Chosen(
        butting=_board_words(place, contact.butting),
        receiving=_board_words(place, contact.receiving),
        contact=contact.kind.value,
        run=contact.run,
        sunk=contact.sunk,
        in_use=in_use,
        choices=(*possible, *(c for c in choices if c.cost is None)),
    )


def _board_words(place: _Place, name: str) -> str:
    part = place.assembly.part(name)
    return f"{name}, {part.material or part.title} {part.thickness:g}"


def _no_contact(one: str, other: str) -> Problem:
    return error(
        "parts-apart",
        f"{one} and {other} do not touch",
        where=f"{one} to {other}",
        help="name two parts that meet",
    )


def _not_slanted(key: str, joint: ResolvedJoint) -> Problem:
    return error(
        "fitting-contact",
        f"{key} is for members that meet at slanted ends; here they meet square",
        joint.path,
        where=joint.name,
        help="take the like fitting for a square joint, or slant both ends in their `outline`",
    )


def _likeness(problem: Problem) -> tuple[object, ...]:
    return (problem.code, problem.path, problem.message)


def _once(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Return problems that say the same once."""
    first: dict[tuple[str, str], Problem] = {}
    for problem in problems:
        first.setdefault((problem.code, problem.message), problem)
    return tuple(first.values())
