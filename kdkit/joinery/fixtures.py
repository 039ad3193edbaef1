"""Fixtures: what is fixed on a part and joins nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from kdkit.catalogue.entries import Catalogue, Fitting
from kdkit.diagnostics import error
from kdkit.frames import Frame, Vec2, Vec3, add, cross, dot, scaled, sub, unit
from kdkit.geometry.surfaces import edge_ring, surface_frame
from kdkit.joinery.fasteners import Driller
from kdkit.joinery.joints import MOST_FASTENERS, JointWork
from kdkit.joinery.members import Member
from kdkit.joinery.options import fitting_in_use
from kdkit.joinery.placed import PlacedFixture
from kdkit.joinery.rows import Row, rows_on, supports_for, upright_frame
from kdkit.model.panels.bevels import back_ring, face_ring
from kdkit.model.resolved import Part, ResolvedFixture, Standpoint
from kdkit.units import mm_text

__all__ = ["place_fixture", "surface_towards"]

_SIDES = {
    "front": "-y",
    "back edge": "+y",
    "left": "-x",
    "right": "+x",
    "top": "+z",
    "bottom": "-z",
}
"""Where the sides look that a fixture may name; its sayer's own directions."""
_LOOKS: dict[str, Vec3] = {
    "corners": (0.0, 0.0, -1.0),  # feet stand under their part
    "middle": (0.0, -1.0, 0.0),  # a handle is taken hold of from the front
    "upper-middle": (0.0, 0.9, 0.45),  # a restraint holds from behind, or from above
}
_OFF = 0.5  # a position may lie this far off its surface; it is moved onto it


def place_fixture(
    fixture: ResolvedFixture,
    members: Mapping[str, Member],
    catalogue: Catalogue,
    middle: Vec3,
    work: JointWork,
) -> PlacedFixture | None:
    """Place one fixture on its parts; None when it cannot be placed."""
    on = f" on {', '.join(fixture.on)}"
    where = fixture.name if fixture.name.endswith(on) else f"{fixture.name}{on}"
    name, fitting, problems = fitting_in_use(
        catalogue, fixture.fitting, fixture.options, "fixture", fixture.path, where
    )
    work.drilled.problems += problems
    if fitting is None:
        return None
    work.fittings[name] = fitting
    placed_name = work.name(fixture.name)
    drillers = {
        part: Driller(
            name=name,
            fitting=fitting,
            joint=placed_name,
            butting=None,
            receiving=members[part],
            contact=None,
            path=fixture.path,
            where=where,
        )
        for part in fixture.on
    }
    ids: list[str] = []

    def drill(part: str, frame: Frame, used: bool) -> None:
        id = work.name(f"{placed_name}:{len(ids) + 1}") if used else None
        if id is not None:
            ids.append(id)
        drillers[part].drill(frame, id, work.drilled)

    if fixture.rows is not None:
        told = len(work.drilled.problems)
        rows = _rows(fixture, fitting, members, middle, where, work)
        used: set[tuple[int, int]] = set()
        missing = not rows and (len(work.drilled.problems) > told or work.asked > MOST_FASTENERS)
        for carried in fixture.carries if not missing else ():
            found, problems = supports_for(
                members[carried], rows, fitting.options.get("rest", 0.0), fixture.path
            )
            used |= set(found)
            work.drilled.problems += problems
        for n, row in enumerate(rows):
            for m, frame in enumerate(row.frames):
                drill(row.part, frame, (n, m) in used)
    else:
        places = _places(fixture, fitting, members, where, work)
        if not work.ask_for(len(places), fixture.path, where):
            places = []
        for part, frame in places:
            drill(part, _turned(frame, fixture.turn), True)
    return PlacedFixture(
        name=placed_name,
        fitting=name,
        on=fixture.on,
        fasteners=tuple(ids),
        carries=fixture.carries,
        path=fixture.path,
    )


def surface_towards(part: Part, direction: Vec3, *, edges: bool = True) -> str:
    """Return the surface of a part that looks most to a direction of the product."""
    names = ["face", "back"]
    if edges and not part.smooth:
        names += [f"edge:{n}" for n in range(len(part.outline))]
    towards = [
        round(dot(part.frame.vector_to_outer(surface_frame(part, name).k), direction), 6)
        for name in names
    ]
    return names[towards.index(max(towards))]


def _rows(
    fixture: ResolvedFixture,
    fitting: Fitting,
    members: Mapping[str, Member],
    middle: Vec3,
    where: str,
    work: JointWork,
) -> list[Row]:
    """Return the rows on every surface that gets some, part by part."""
    assert fixture.rows is not None
    balanced = bool(fitting.options.get("balanced", 0.0))
    rows: list[Row] = []
    for name in fixture.on:
        member = members[name]
        for surface in _row_surfaces(fixture, member, members, middle):
            if fixture.rows.system:
                rows += _system_rows(fixture, name, surface, where, work)
                continue
            found, problems = rows_on(
                member, surface, fixture.rows, balanced, fixture.seen_from, fixture.path, where
            )
            if not work.ask_for(sum(len(row.frames) for row in found), fixture.path, where):
                return []
            rows += found
            work.drilled.problems += [p for p in problems if p not in work.drilled.problems]
    return rows


def _system_rows(
    fixture: ResolvedFixture,
    part: str,
    surface: str,
    where: str,
    work: JointWork,
) -> list[Row]:
    """Return the stretch of a side's system rows that a fixture asks for."""
    assert fixture.rows is not None
    here = [p for p in work.panels if (p.part, p.surface) == (part, surface)]
    found = [row for panel in here for row in panel.stretch(fixture.rows)]
    if not here:
        message = f"{part} has no system rows on its {surface}"
        help = "name it under `system_rows`, or give `rows` a `first` and a `last` without `system`"
    elif not found:
        message = f"no bore of {part}'s system rows lies between `first` and `last`"
        help = "leave them out for the whole row"
    else:
        return found
    work.drilled.problems.append(
        error("rows-empty", message, (*fixture.path, "rows"), where=where, help=help)
    )
    return []


def _row_surfaces(
    fixture: ResolvedFixture, member: Member, members: Mapping[str, Member], middle: Vec3
) -> tuple[str, ...]:
    """Return the surfaces for rows: as told, or those that look at a carried shelf.

    With no shelf to look at, the one that looks to the middle of the product.
    """
    part = member.part
    if fixture.face in ("face", "back"):
        return (str(fixture.face),)
    if fixture.face is not None:
        way = fixture.seen_from.way(_SIDES[fixture.face])
        return (surface_towards(part, way, edges=False),)
    facing = set()
    for carried in fixture.carries:
        shelf = members[carried].part
        reach = [
            part.frame.point_to_inner(shelf.frame.point_to_outer((x, y, 0.0)))[2]
            for x, y in shelf.outline
        ]
        if min(reach) > -part.thickness / 2:
            facing.add("face")
        elif max(reach) < -part.thickness / 2:
            facing.add("back")
    if facing:
        return tuple(s for s in ("face", "back") if s in facing)
    inside = part.frame.point_to_inner(middle)[2]
    return ("face",) if inside > -part.thickness / 2 else ("back",)


def _places(
    fixture: ResolvedFixture,
    fitting: Fitting,
    members: Mapping[str, Member],
    where: str,
    work: JointWork,
) -> list[tuple[str, Frame]]:
    """Return the part and the frame of each fastener of a fixture without rows."""
    found: list[tuple[str, Frame]] = []
    if fixture.at is None and fitting.place is None:
        work.drilled.problems.append(
            error(
                "missing-key",
                f"the fixture needs `at` or `rows`: {fixture.fitting} has no place of its own",
                fixture.path,
                where=where,
                help="at: [[x, y, z]] in product coordinates",
            )
        )
        return found
    if fixture.at is None:
        for name in fixture.on:
            part = members[name].part
            surface = _surface_for(part, fixture, fitting.place or "middle")
            for point in _default_points(part, surface, fitting, fixture.seen_from):
                found.append((name, upright_frame(part, surface, point, fixture.seen_from)))
        return found
    for n, point in enumerate(fixture.at):
        best: tuple[float, str, str, Vec3] | None = None
        for name in fixture.on:
            for surface in _surfaces_asked(members[name].part, fixture):
                off, foot = _foot_on(members[name], surface, point)
                if best is None or off < best[0] - 1e-9:
                    best = (off, name, surface, foot)
        assert best is not None
        off, name, surface, foot = best
        if off > _OFF:
            x, y, z = (mm_text(c) for c in point)
            fx, fy, fz = (mm_text(c) for c in foot)
            work.drilled.problems.append(
                error(
                    "fixture-off-part",
                    f"({x}, {y}, {z}) lies {mm_text(off)} mm off {name}",
                    (*fixture.path, "at", n),
                    where=where,
                    help=f"the nearest place on its {surface.split(':')[0]} is ({fx}, {fy}, {fz})",
                )
            )
            continue
        frame = upright_frame(members[name].part, surface, foot, fixture.seen_from)
        found.append((name, frame))
    return found


def _turned(frame: Frame, degrees: float) -> Frame:
    """Turn a fixture's frame about its k, anticlockwise as seen from outside."""
    if not degrees % 360.0:
        return frame
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    i = unit(add(scaled(frame.i, c), scaled(frame.j, s)))
    return Frame(frame.origin, i, cross(frame.k, i), frame.k)


def _surface_for(part: Part, fixture: ResolvedFixture, place: str) -> str:
    if fixture.face is not None:
        return _surface_named(part, fixture.face, fixture.seen_from)
    looks = fixture.seen_from.frame.vector_to_outer(_LOOKS[place])
    return surface_towards(part, looks, edges=place == "corners")


def _surface_named(part: Part, face: str, seen: Standpoint) -> str:
    return face if face in ("face", "back") else surface_towards(part, seen.way(_SIDES[face]))


def _surfaces_asked(part: Part, fixture: ResolvedFixture) -> Sequence[str]:
    if fixture.face is not None:
        return (_surface_named(part, fixture.face, fixture.seen_from),)
    edges = () if part.smooth else tuple(f"edge:{n}" for n in range(len(part.outline)))
    return ("face", "back", *edges)


def _foot_on(member: Member, surface: str, point: Vec3) -> tuple[float, Vec3]:
    """Return how far a point of the product is from a surface, and the nearest point on it."""
    part = member.part
    frame = part.frame.frame_to_outer(surface_frame(part, surface))
    x, y, z = frame.point_to_inner(point)
    if surface in ("face", "back"):
        across = -1.0 if surface == "back" else 1.0
        if member.covers((x, across * y)):
            nearest: Vec2 = (x, y)
        else:
            u, v = member.nearest_in((x, across * y))
            nearest = (u, across * v)
    else:
        xs, ys = zip(*edge_ring(part, int(surface.removeprefix("edge:"))), strict=True)
        nearest = (min(max(x, min(xs)), max(xs)), min(max(y, min(ys)), max(ys)))
    off = ((x - nearest[0]) ** 2 + (y - nearest[1]) ** 2 + z**2) ** 0.5
    return off, frame.point_to_outer((*nearest, 0.0))


def _default_points(part: Part, surface: str, fitting: Fitting, seen: Standpoint) -> list[Vec3]:
    """Return where a fixture goes by itself, in the product: see ``Fitting.place``."""
    inset = fitting.options.get("inset", 0.0)
    origin = part.frame.point_to_outer(surface_frame(part, surface).origin)
    frame = upright_frame(part, surface, origin, seen)
    spans = []
    for axis in (frame.i, frame.j):
        if surface.startswith("edge:"):
            n = int(surface.removeprefix("edge:"))
            m = (n + 1) % len(part.outline)
            sides: list[tuple[Vec2, ...]] = [
                (ring[n], ring[m]) for ring in (face_ring(part), back_ring(part))
            ]
        else:
            sides = [face_ring(part), back_ring(part)]
        if surface == "face":
            sides[1] = sides[0]
        elif surface == "back":
            sides[0] = sides[1]
        reach = [
            dot(sub(part.frame.point_to_outer((x, y, z)), origin), axis)
            for ring, z in zip(sides, (0.0, -part.thickness), strict=True)
            for x, y in ring
        ]
        spans.append((min(reach), max(reach)))

    def at(u: float, v: float) -> Vec3:
        return add(origin, add(scaled(frame.i, u), scaled(frame.j, v)))

    def two_or_one(span: Vec2) -> tuple[float, ...]:
        low, high = span
        if high - low > 2 * inset:
            return (low + inset, high - inset)
        return ((low + high) / 2,)

    u_middle, v_middle = ((low + high) / 2 for low, high in spans)
    if fitting.place == "corners":
        return [at(u, v) for u in two_or_one(spans[0]) for v in two_or_one(spans[1])]
    if fitting.place == "upper-middle":
        return [at(u_middle, spans[1][1] - inset)]
    return [at(u_middle, v_middle)]
