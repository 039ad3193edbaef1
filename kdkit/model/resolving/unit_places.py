"""What a unit comes to, moved to where the unit stands and named after it."""

from __future__ import annotations

from dataclasses import replace

from kdkit.diagnostics import Problem, error
from kdkit.frames import AXES, Frame, Vec3, distance
from kdkit.model.resolved import (
    Part,
    ResolvedFixture,
    ResolvedJoint,
    SystemRowsSpec,
)

__all__ = ["place_fixture", "place_joint", "place_part", "place_system_rows"]

_SAME = 1e-9


def place_part(part: Part, unit: str, placed: Frame) -> Part:
    """Return a unit's part in the frame that the unit's coordinates have outside."""
    return replace(
        part,
        name=f"{unit}.{part.name}",
        frame=placed.frame_to_outer(part.frame),
        mirror_of=None if part.mirror_of is None else f"{unit}.{part.mirror_of}",
        unit=f"{unit}.{part.unit}" if part.unit else unit,
        bores=tuple(
            replace(bore, mate=None if bore.mate is None else f"{unit}.{bore.mate}")
            for bore in part.bores
        ),
    )


def place_joint(joint: ResolvedJoint, unit: str, placed: Frame) -> ResolvedJoint:
    """Return a unit's joint outside; its runs and directions stay the unit's own."""
    return replace(
        joint,
        name=f"{unit}.{joint.name}",
        joined=f"{unit}.{joint.joined}",
        to=f"{unit}.{joint.to}",
        seen_from=joint.seen_from.from_outside(unit, placed),
    )


def place_fixture(
    fixture: ResolvedFixture, unit: str, placed: Frame, problems: list[Problem]
) -> ResolvedFixture:
    """Return a unit's fixture outside; rows stay level, so the unit must stand upright."""
    rows = fixture.rows
    if rows is not None:
        up: Vec3 = placed.k
        if distance(up, AXES["+z"]) > _SAME:
            problems.append(
                error(
                    "unit-turned",
                    f"rows of bores need an upright unit, {unit} is tipped over",
                    (*fixture.path, "rows"),
                    help="turn the unit about z only, or give single positions with `at`",
                )
            )
        rise = placed.origin[2]
        rows = replace(rows, first=rows.first + rise, last=rows.last + rise)
    return replace(
        fixture,
        name=f"{unit}.{fixture.name}",
        on=tuple(f"{unit}.{part}" for part in fixture.on),
        at=None
        if fixture.at is None
        else tuple(placed.point_to_outer(point) for point in fixture.at),
        rows=rows,
        carries=tuple(f"{unit}.{part}" for part in fixture.carries),
        seen_from=fixture.seen_from.from_outside(unit, placed),
    )


def place_system_rows(
    rows: SystemRowsSpec, unit: str, placed: Frame, problems: list[Problem]
) -> SystemRowsSpec:
    """Return a unit's system rows outside; they go up their panels, so it must stand upright."""
    if distance(placed.k, AXES["+z"]) > _SAME:
        problems.append(
            error(
                "unit-turned",
                f"system rows need an upright unit, {unit} is tipped over",
                rows.path,
                help="turn the unit about z only",
            )
        )
    return replace(
        rows,
        on=tuple(f"{unit}.{part}" for part in rows.on),
        fronts=tuple(f"{unit}.{part}" for part in rows.fronts),
        seen_from=rows.seen_from.from_outside(unit, placed),
    )
