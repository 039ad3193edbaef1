"""The joinery stage: joints, then fixtures, then the bores that the maker typed."""

from __future__ import annotations

from collections.abc import Mapping

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Problem, error, gather_alike, has_errors
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.fixtures import place_fixture
from kdkit.joinery.joints import JointWork, place_joint
from kdkit.joinery.level_depths import level_depths
from kdkit.joinery.materials import check_materials, check_thicknesses
from kdkit.joinery.members import Member
from kdkit.joinery.packed import made_in_workshop
from kdkit.joinery.placed import Bore, Joinery, PlacedFixture
from kdkit.joinery.shared_bores import share_bores
from kdkit.joinery.standpoints import Middles
from kdkit.joinery.system_rows import (
    row_bores,
    system_panels,
    without_clashes,
)
from kdkit.model.resolved import Resolved
from kdkit.parts.words import bore_noun
from kdkit.units import mm_text

__all__ = ["place_fittings"]


def place_fittings(
    resolved: Resolved, assembly: Assembly, catalogue: Catalogue
) -> tuple[Joinery | None, tuple[Problem, ...]]:
    """Place every fitting of a product: bores, grooves, hardware.

    Returns:
        The joinery and at most warnings, or None and every problem found. Order: as
        the joints and fixtures stand in the definition; the bores of a fastener follow
        the fitting's own order.
    """
    unknown = check_materials(resolved, catalogue)
    if slips := check_thicknesses(resolved, catalogue):
        return None, (*unknown, *slips)
    members = {part.name: Member.of(part) for part in assembly.parts}
    middles = Middles(assembly.parts)
    panels, problems = system_panels(resolved, members, middles)
    work = JointWork(panels=panels)
    work.drilled.problems += problems
    for joint in resolved.joints:
        place_joint(joint, assembly, members, catalogue, middles.of(joint.seen_from), work)
    fixtures: list[PlacedFixture] = []
    for fixture in resolved.fixtures:
        middle = middles.of(fixture.seen_from)
        placed = place_fixture(fixture, members, catalogue, middle, work)
        if placed is not None:
            fixtures.append(placed)
    for part in assembly.parts:
        _add_typed_bores(members[part.name], work)
    _add_system_rows(members, work)
    drilled = work.drilled
    drilled.bores[:] = level_depths(
        drilled.bores,
        (*work.grooves, *drilled.slots),
        members,
        drilled.fasteners,
        work.fittings,
    )
    problems = gather_alike((*unknown, *work.drilled.problems))
    if has_errors(problems):
        return None, problems
    return (
        made_in_workshop(
            Joinery(
                joints=tuple(work.joints),
                fixtures=tuple(fixtures),
                bores=tuple(work.drilled.bores),
                grooves=tuple(work.grooves),
                slots=tuple(work.drilled.slots),
                fasteners=tuple(work.drilled.fasteners),
                fittings=dict(sorted(work.fittings.items())),
            )
        ),
        problems,
    )


def _add_system_rows(members: Mapping[str, Member], work: JointWork) -> None:
    """Drill the rows where nothing else is, and make what falls together one bore."""
    drilled = work.drilled
    rows = without_clashes(
        row_bores(work.panels, members), drilled.bores, work.grooves, drilled.slots, members
    )
    drilled.bores[:] = share_bores((*drilled.bores, *rows), members)


def _add_typed_bores(member: Member, work: JointWork) -> None:
    for spec in member.part.bores:
        surface = member.surface_at(spec.mouth, spec.into)
        if surface is None:
            x, y, z = (mm_text(c) for c in member.part.frame.point_to_outer(spec.mouth))
            work.drilled.problems.append(
                error(
                    "bore-off-part",
                    f"the {bore_noun(spec.purpose)} at ({x}, {y}, {z}) begins outside"
                    f" {member.part.name}",
                    spec.path,
                    where=member.part.name,
                    help="its mouth must lie on the surface that it is drilled from",
                )
            )
            continue
        depth = member.depth_through(spec.mouth, spec.into) if spec.through else spec.depth
        work.drilled.bores.append(
            Bore(
                part=member.part.name,
                surface=surface,
                mouth=spec.mouth,
                into=spec.into,
                diameter=spec.diameter,
                depth=depth,
                through=spec.through,
                purpose=spec.purpose,
                path=spec.path,
                mate=spec.mate,
            )
        )
