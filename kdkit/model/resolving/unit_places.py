"""What a unit comes to, moved to where the unit stands and named after it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from kdkit.diagnostics import Problem, error
from kdkit.frames import AXES, Frame, Vec3, distance, dot
from kdkit.model.resolved import (
    FittingPlacement,
    Part,
    ResolvedFixture,
    ResolvedJoint,
    SystemRowsSpec,
)

__all__ = ["place_fixture", "place_joint", "place_part", "place_system_rows"]

_SAME = 1e-9

_SIDES: dict[str, Vec3] = {
    "front": AXES["-y"],
    "back edge": AXES["+y"],
    "left": AXES["-x"],
    "right": AXES["+x"],
    "top": AXES["+z"],
    "bottom": AXES["-z"],
}


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


def place_joint(
    joint: ResolvedJoint,
    unit: str,
    placed: Frame,
    parts: Mapping[str, Part],
    problems: list[Problem],
) -> ResolvedJoint:
    """Return a unit's joint outside; a direction that a fitting opens to turns along.

    Args:
        parts: the unit's parts by their names inside it, in its own coordinates.
    """
    return replace(
        joint,
        name=f"{unit}.{joint.name}",
        joined=f"{unit}.{joint.joined}",
        to=f"{unit}.{joint.to}",
        fittings=tuple(
            replace(
                use,
                opens=_opening(use, joint, placed, parts, problems),
                front=placed.vector_to_outer(use.front),
            )
            for use in joint.fittings
        ),
    )


def _opening(
    use: FittingPlacement,
    joint: ResolvedJoint,
    placed: Frame,
    parts: Mapping[str, Part],
    problems: list[Problem],
) -> str | None:
    if use.opens is None or use.opens not in AXES:
        return use.opens
    inside = AXES[use.opens]
    outside = placed.vector_to_outer(inside)
    for name, axis in AXES.items():
        if distance(outside, axis) < _SAME:
            return name
    # The unit stands askew: name the board's own side instead of a direction.
    for member in (joint.joined, joint.to):
        part = parts.get(member)
        if part is not None and abs(dot(inside, part.frame.k)) > 1 - _SAME:
            return "face" if dot(inside, part.frame.k) > 0 else "back"
    problems.append(
        error(
            "unit-turned",
            f"{use.opens} is no direction of the product when its unit is turned like that",
            (*use.path, "opens"),
            help="say `face` or `back`",
        )
    )
    return None


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
        face=_turned_side(fixture.face, placed),
        at=None
        if fixture.at is None
        else tuple(placed.point_to_outer(point) for point in fixture.at),
        rows=rows,
        carries=tuple(f"{unit}.{part}" for part in fixture.carries),
    )


def _turned_side(side: str | None, placed: Frame) -> str | None:
    """Return the side of the product to which a unit's side has turned; of a unit that
    stands askew, the nearest. ``face`` and ``back`` are the board's own and stay."""
    if side not in _SIDES:
        return side
    outside = placed.vector_to_outer(_SIDES[side])
    return max(_SIDES, key=lambda name: round(dot(_SIDES[name], outside), 6))


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
    )
