"""One joint: its fittings on its contacts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from kdkit.catalogue.entries import Catalogue, Fitting
from kdkit.diagnostics import Path, Problem, error
from kdkit.frames import AXES, Frame, Vec2, Vec3, add, cross, dot, scaled, sub, unit
from kdkit.geometry.assembly import Assembly, Contact, ContactKind, contact_between
from kdkit.geometry.meetings import NoMeeting
from kdkit.joinery.contact_choice import choose_contacts, parts_apart
from kdkit.joinery.fasteners import Drilled, Driller, least_apart
from kdkit.joinery.grooves import groove_for
from kdkit.joinery.meeting_joints import (
    asks_for_meeting,
    check_meeting,
    counted,
    find_meeting,
)
from kdkit.joinery.members import Member
from kdkit.joinery.options import fitting_in_use
from kdkit.joinery.placed import Groove, PlacedJoint
from kdkit.joinery.spread import clear_of, crowded, spread_along, stretches_at
from kdkit.joinery.standpoints import contact_seen, contacts_seen
from kdkit.joinery.system_rows import SystemPanel, on_rows
from kdkit.joinery.worked_side import middle_line, side_worked_from
from kdkit.model.resolved import FittingPlacement, Part, ResolvedJoint, Standpoint
from kdkit.units import TOLERANCE, mm_text

__all__ = ["MOST_FASTENERS", "JointWork", "place_joint", "side_worked_from"]


MOST_FASTENERS = 20_000
"""In one product, the bores of rows for shelf supports among them. A room full of cupboards
has some thousands; common practice, no source."""


@dataclass
class JointWork:
    """What the joints have given so far, and the names given away.

    ``panels``: the sides of panels that have system rows.
    ``asked``: how many fasteners and bores of rows the product has come to.
    """

    panels: tuple[SystemPanel, ...] = ()
    drilled: Drilled = field(default_factory=Drilled)
    joints: list[PlacedJoint] = field(default_factory=list)
    grooves: list[Groove] = field(default_factory=list)
    fittings: dict[str, Fitting] = field(default_factory=dict)
    names: Counter[str] = field(default_factory=Counter)
    asked: int = 0

    def ask_for(self, count: int, path: Path, where: str) -> bool:
        """Tell whether a product may have so many fasteners more; a problem says no, once."""
        room = self.asked <= MOST_FASTENERS
        self.asked += count
        if room and self.asked > MOST_FASTENERS:
            self.drilled.problems.append(
                error(
                    "too-many-parts",
                    f"the product comes to more than {MOST_FASTENERS} fasteners, bores of rows"
                    " counted with them",
                    path,
                    where=where,
                    help="let `count`, `pitch` and `rows` ask for fewer",
                )
            )
        return self.asked <= MOST_FASTENERS

    def name(self, wanted: str) -> str:
        """Return a name that no other joint, fixture or fastener has."""
        self.names[wanted] += 1
        return wanted if self.names[wanted] == 1 else f"{wanted}#{self.names[wanted]}"


@dataclass
class _Lines:
    """Where a joint's fasteners stand, by the fitting and its line; lines told as crowded."""

    standing: dict[tuple[object, ...], list[float]] = field(default_factory=dict)
    crowded: set[tuple[object, ...]] = field(default_factory=set)


@dataclass
class _OnContact:
    """What one joint has on one contact."""

    name: str
    contact: Contact
    fittings: list[str] = field(default_factory=list)
    fasteners: list[str] = field(default_factory=list)


def place_joint(
    joint: ResolvedJoint,
    assembly: Assembly,
    members: Mapping[str, Member],
    catalogue: Catalogue,
    middle: Vec3,
    work: JointWork,
) -> None:
    """Place the fittings of one joint.

    Args:
        middle: of the box around what the joint's sayer holds.
        work: gets the results and the problems.
    """
    where = f"{joint.joined} to {joint.to}"
    uses: list[tuple[FittingPlacement, str, Fitting]] = []
    for placement in joint.fittings:
        name, fitting, problems = fitting_in_use(
            catalogue, placement.fitting, placement.options, "joint", placement.path, where
        )
        work.drilled.problems += problems
        if fitting is not None:
            uses.append((placement, name, fitting))
    seen = joint.seen_from
    contacts = contacts_seen(contact_between(assembly, joint.joined, joint.to), seen)
    if not contacts and not all(asks_for_meeting(fitting) for _, _, fitting in uses):
        work.drilled.problems.append(parts_apart(joint, assembly))
        return
    meetings: dict[tuple[str, ...], Contact] = {}
    placed: list[_OnContact] = []
    taken: list[float] = []
    lines = _Lines()
    for placement, name, fitting in uses:
        if asks_for_meeting(fitting):
            pair = members[joint.joined].part, members[joint.to].part
            meeting, problems = _meeting(
                pair, fitting, placement, seen, members, catalogue, where, meetings
            )
            chosen: tuple[Contact, ...] = (meeting,) if meeting is not None else ()
            if meeting is not None:
                placement = counted(placement, fitting, meeting, pair[0], catalogue)
        else:
            chosen, problems = choose_contacts(
                contacts, fitting, placement.fitting, catalogue, placement.path, where
            )
        work.drilled.problems += problems
        if not chosen:
            continue
        work.fittings[name] = fitting
        homes = [_home(placed, contact, joint.name, work) for contact in chosen]
        for home in homes:
            if name not in home.fittings:
                home.fittings.append(name)
        if fitting.groove_width is not None:
            for home in homes:
                groove, problems = groove_for(
                    home.contact, fitting, name, members, home.name, placement.path
                )
                work.drilled.problems += problems
                if groove is not None:
                    work.grooves.append(groove)
        if fitting.items or fitting.bores:
            taken = _place_fasteners(
                placement, name, fitting, homes, members, seen, middle, where, work, taken, lines
            )
    for home in placed:
        work.joints.append(
            PlacedJoint(
                name=home.name,
                butting=home.contact.butting,
                receiving=home.contact.receiving,
                contact=home.contact,
                fittings=tuple(home.fittings),
                fasteners=tuple(home.fasteners),
                path=joint.path,
                workshop=joint.workshop,
                leaves=_leaves(home, work),
            )
        )


def _meeting(
    pair: tuple[Part, Part],
    fitting: Fitting,
    placement: FittingPlacement,
    seen: Standpoint,
    members: Mapping[str, Member],
    catalogue: Catalogue,
    where: str,
    known: dict[tuple[str, ...], Contact],
) -> tuple[Contact | None, tuple[Problem, ...]]:
    """Return the meeting of two parts that do not touch; one for all fittings alike."""
    found = find_meeting(*pair, fitting, placement, seen)
    if isinstance(found, NoMeeting):
        return None, (
            error(
                "parts-apart",
                f"{placement.fitting} finds no place: {found.message}",
                placement.path,
                where=where,
                help=found.help,
            ),
        )
    found = contact_seen(found, seen)
    problems = check_meeting(found, fitting, placement, members, catalogue, where)
    if problems:
        return None, problems
    contact = known.setdefault((found.kind, placement.opens or ""), found)
    return contact, ()


def _leaves(home: _OnContact, work: JointWork) -> Vec3 | None:
    """Return the way in which a pinned butting part leaves, None for k of the contact."""
    pinned = [name for name in home.fittings if work.fittings[name].holds == "pinned"]
    name = (pinned or home.fittings)[0]
    way = work.fittings[name].way
    if way == "+k":
        return None
    placed = (f for f in reversed(work.drilled.fasteners) if f.fitting == name)
    frame = next((f.frame for f in placed if f.joint == home.name), home.contact.frame)
    axes: dict[str, Vec3] = {"i": frame.i, "j": frame.j, "k": frame.k}
    return scaled(axes[way[1]], 1.0 if way[0] == "+" else -1.0)


def _home(placed: list[_OnContact], contact: Contact, wanted: str, work: JointWork) -> _OnContact:
    for home in placed:
        if home.contact is contact:
            return home
    placed.append(_OnContact(work.name(wanted), contact))
    return placed[-1]


def _place_fasteners(
    placement: FittingPlacement,
    name: str,
    fitting: Fitting,
    homes: Sequence[_OnContact],
    members: Mapping[str, Member],
    seen: Standpoint,
    middle: Vec3,
    where: str,
    work: JointWork,
    taken: Sequence[float],
    lines: _Lines,
) -> list[float]:
    """Drill one fitting along its run; return where fasteners of the joint now stand.

    ``taken`` counts along the direction of the run, from the product's origin: the
    contacts of two parts that are used together have one direction. So does ``lines``.
    """
    main = homes[0].contact
    butting, receiving = members[main.butting], members[main.receiving]
    j = side_worked_from(main, butting.part, placement.opens, middle, seen)
    if j is None:
        work.drilled.problems.append(_no_such_side(placement, main, seen, where))
        return [*taken]
    run = main.frame.i
    if _says_along(placement, fitting, main) and dot(cross(j, main.frame.k), run) < 0:
        j = scaled(j, -1.0)
    start = add(middle_line(main, butting.part), scaled(j, placement.across))
    across = dot(sub(start, main.frame.origin), main.frame.j)
    stretches: list[Vec2] = []
    owners: list[_OnContact] = []
    if main.worked is not None:  # one that does not touch: its run is its whole common length
        start, across = main.frame.origin, 0.0
        stretches.append((0.0, main.run))
        owners.append(homes[0])
        homes = ()
    for home in homes:
        offset = dot(sub(home.contact.frame.origin, main.frame.origin), run)
        shift = dot(sub(home.contact.frame.origin, main.frame.origin), main.frame.j)
        for a, b in stretches_at(home.contact.polygon, across - shift):
            stretches.append((a + offset, b + offset))
            owners.append(home)
    if not stretches:
        work.drilled.problems.append(_misses(placement, main, across, j, where))
        return [*taken]
    positions, problems = spread_along(placement, fitting, stretches, where)
    work.drilled.problems += problems
    if main.kind is ContactKind.FACING and placement.across:
        positions = tuple(p + placement.across for p in positions)
        if not all(-TOLERANCE <= p <= main.run + TOLERANCE for p in positions):
            work.drilled.problems.append(_too_far_across(placement, main, where))
            return [*taken]
    zero = dot(start, run)
    if placement.at is None and placement.count is None:
        positions = clear_of(positions, [t - zero for t in taken])
    if placement.at is None and main.kind is ContactKind.HUNG:
        positions = on_rows(positions, start, run, main, fitting, work.panels)
    if not work.ask_for(len(positions), placement.path, where):
        return [*taken]
    line = (name, placement.across, placement.opens, id(main))
    standing = lines.standing.setdefault(line, [])
    problem = crowded(
        positions,
        [t - zero for t in standing],
        least_apart(fitting, butting, receiving, main),
        name,
        placement,
        stretches[-1][1] - stretches[0][0],
        where,
    )
    if problem is not None:
        if line not in lines.crowded:
            work.drilled.problems.append(problem)
            lines.crowded.add(line)
        return [*taken]
    standing += (zero + p for p in positions)
    # Surfaces count as parallel although a turn of a thousandth of a degree lies between
    # them; the frame is square all the same, to the receiving one.
    i = unit(cross(j, main.frame.k))
    j = cross(main.frame.k, i)
    drillers: dict[str, Driller] = {}
    for n, position in enumerate(positions):
        owner = next(
            home
            for (a, b), home in zip(stretches, owners, strict=True)
            if a - TOLERANCE <= position <= b + TOLERANCE
        )
        if owner.name not in drillers:
            drillers[owner.name] = Driller(
                name=name,
                fitting=fitting,
                joint=owner.name,
                butting=butting,
                receiving=receiving,
                contact=main,
                path=placement.path,
                where=where,
            )
        fastener = work.name(f"{owner.name}:{placement.fitting}:{n + 1}")
        frame = Frame(add(start, scaled(run, position)), i, j, main.frame.k)
        drillers[owner.name].drill(frame, fastener, work.drilled)
        owner.fasteners.append(fastener)
    return sorted([*taken, *(zero + p for p in positions)])


def _says_along(placement: FittingPlacement, fitting: Fitting, contact: Contact) -> bool:
    """Tell whether a fitting's i has to look along the run: its member leaves that way.

    At the two ends of a rail the sides worked from lie opposite; the way out must not.
    """
    return fitting.way[1] == "i" and placement.opens is None and contact.worked is None


def _no_such_side(
    placement: FittingPlacement, contact: Contact, seen: Standpoint, where: str
) -> Problem:
    if contact.worked is not None:
        way = contact.worked
        worked = max(AXES, key=lambda name: round(dot(way, seen.way(name)), 6))
        return error(
            "fitting-opens",
            f"{placement.fitting} works towards {worked}, not to {placement.opens!r}",
            (*placement.path, "opens"),
            where=where,
            help="leave `opens` out; or write the way in which it opens: +x, -x, +y, -y, +z, -z",
        )
    return error(
        "fitting-opens",
        f"{placement.fitting} cannot open to {placement.opens!r}: {contact.butting} has no such"
        " side",
        (*placement.path, "opens"),
        where=where,
        help="write `face` or `back` of the part whose edge butts, or the way one of them looks",
    )


def _too_far_across(placement: FittingPlacement, contact: Contact, where: str) -> Problem:
    return error(
        "fitting-position",
        f"`across: {mm_text(placement.across)}` puts {placement.fitting} off the"
        f" {mm_text(contact.run)} mm that the parts have in common",
        (*placement.path, "across"),
        where=where,
        help=f"between {mm_text(-contact.run / 2)} and {mm_text(contact.run / 2)} it stays on them",
    )


def _misses(
    placement: FittingPlacement, contact: Contact, across: float, j: Vec3, where: str
) -> Problem:
    low = min(p[1] for p in contact.polygon)
    high = max(p[1] for p in contact.polygon)
    needed = ((low + high) / 2 - across) * (1.0 if dot(j, contact.frame.j) > 0 else -1.0)
    return error(
        "fitting-position",
        f"the middle of {contact.butting}'s edge does not lie on {contact.receiving}:"
        f" only {mm_text(high - low)} mm of it do",
        placement.path,
        where=where,
        help=f"`across: {mm_text(needed + placement.across)}` puts {placement.fitting} in the"
        " middle of what touches",
    )
