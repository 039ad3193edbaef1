"""A small bookcase typed out as the stages before the pictures give it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest

from kdkit.catalogue.entries import Action, Catalogue, Fitting, Item, Piece
from kdkit.frames import AXES, Frame, Vec3, add, cross, scaled
from kdkit.geometry.assembly import Assembly, Contact, ContactKind
from kdkit.joinery.placed import (
    Bore,
    Fastener,
    Joinery,
    PlacedFixture,
    PlacedItem,
    PlacedJoint,
)
from kdkit.model.resolved import Part, Resolved
from kdkit.model.says import Product
from kdkit.plan.plan import Operation, OperationKind, Plan, Posture, Step
from kdkit.schedule.schedules import CutLine, HardwareLine, Schedules
from tests.panels import panel, rod

WIDTH, HEIGHT, DEPTH, T = 800.0, 1200.0, 300.0, 18.0
SHELVES = {"bottom": 60.0, "middle": 582.0, "top": HEIGHT - T}


@dataclass(frozen=True)
class Bookcase:
    resolved: Resolved
    assembly: Assembly
    joinery: Joinery
    catalogue: Catalogue
    plan: Plan
    schedules: Schedules


def _parts() -> tuple[Part, ...]:
    x, y, z = AXES["+x"], AXES["+y"], AXES["+z"]
    inside = WIDTH - 2 * T
    flat = [
        panel(name, Frame((T, 0.0, low + T), x, y, z), (inside, DEPTH))
        for name, low in SHELVES.items()
    ]
    return (
        panel("left_side", Frame((T, DEPTH, 0.0), z, AXES["-y"], x), (HEIGHT, DEPTH)),
        panel("right_side", Frame((WIDTH - T, 0.0, 0.0), z, y, AXES["-x"]), (HEIGHT, DEPTH)),
        *flat,
        panel("back", Frame((0.0, DEPTH + 3, 60.0), z, x, y), (HEIGHT - 60.0, WIDTH), 3.0),
        panel(
            "loose_shelf",
            Frame((T + 1, 5.0, 860.0 + T), x, y, z),
            (inside - 2, DEPTH - 10),
            loose=True,
        ),
    )


ITEMS = {
    "cam-15": Item(
        title="Cam lock",
        size="15 × 13",
        mass=9.0,
        drive="cross recess Z2",
        recess_z=0.0,
        pieces=(rod(15.0, -12.5, 0.0),),
        sources=("test",),
    ),
    "cam-bolt-34": Item(
        title="Cam bolt",
        size="34",
        mass=8.0,
        drive="cross recess Z2",
        recess_z=34.0,
        pieces=(
            rod(5.0, -11.0, 0.0, "thread"),
            rod(7.5, 0.0, 2.0),
            rod(5.0, 2.0, 30.0),
            rod(7.0, 30.0, 34.0),
        ),
        sources=("test",),
    ),
    "dowel-8x35": Item(
        title="Dowel",
        size="8 × 35",
        mass=1.3,
        pieces=(
            Piece(kind="cone", z0=-23.5, z1=-22.5, d0=6.0, d1=8.0),
            rod(8.0, -22.5, 10.5, "flutes"),
            Piece(kind="cone", z0=10.5, z1=11.5, d0=8.0, d1=6.0),
        ),
        sources=("test",),
    ),
    "nail-2x25": Item(
        title="Nail",
        size="2 × 25",
        mass=0.6,
        pieces=(
            rod(4.5, 0.0, 0.8),
            rod(2.0, -22.0, 0.0),
            Piece(kind="cone", z0=-25.0, z1=-22.0, d0=0.2, d1=2.0),
        ),
        sources=("test",),
    ),
    "support-5": Item(
        title="Shelf support",
        size="5",
        mass=2.0,
        pieces=(
            rod(5.0, -8.0, 0.0),
            rod(8.0, 0.0, 1.5),
            rod(5.0, 1.5, 9.0),
        ),
        sources=("test",),
    ),
}

FITTINGS = {
    "cam-and-bolt": Fitting(
        title="Cam and bolt",
        kind="joint",
        contact=("edge-face",),
        reversible=True,
        actions=(
            Action(do="screw-in", item="cam-bolt-34"),
            Action(do="insert", item="cam-15"),
            Action(do="mate"),
            Action(do="turn", item="cam-15", tool="screwdriver"),
        ),
        holds="pinned",
        sources=("test",),
    ),
    "dowel": Fitting(
        title="Dowel",
        kind="joint",
        contact=("edge-face",),
        reversible=True,
        actions=(Action(do="insert", item="dowel-8x35"), Action(do="mate")),
        holds="pinned",
        sources=("test",),
    ),
    "nail": Fitting(
        title="Nails",
        kind="joint",
        contact=("face-face",),
        reversible=True,
        actions=(Action(do="mate"), Action(do="nail", item="nail-2x25", tool="hammer")),
        sources=("test",),
    ),
    "shelf-support": Fitting(
        title="Shelf supports",
        kind="fixture",
        contact=("surface",),
        reversible=True,
        actions=(Action(do="insert", item="support-5"),),
        sources=("test",),
    ),
}


def _frame(origin: Vec3, k: Vec3, j: Vec3) -> Frame:
    return Frame(origin, cross(j, k), j, k)


def _item_frame(origin: Vec3, out: Vec3) -> Frame:
    i = AXES["+y"] if abs(out[1]) < 0.5 else AXES["+x"]
    return Frame(origin, i, cross(out, i), out)


def _bore(
    part: Part,
    surface: str,
    mouth: Vec3,
    into: Vec3,
    d: float,
    depth: float,
    purpose: str,
    fastener: str,
) -> Bore:
    return Bore(
        part=part.name,
        surface=surface,
        mouth=part.frame.point_to_inner(mouth),
        into=part.frame.vector_to_inner(into),
        diameter=d,
        depth=depth,
        through=False,
        purpose=purpose,
        path=("joints", 0),
        fastener=fastener,
    )


def build_bookcase() -> Bookcase:
    parts = {part.name: part for part in _parts()}
    fasteners: list[Fastener] = []
    bores: list[Bore] = []
    joints: list[PlacedJoint] = []
    for shelf, low in SHELVES.items():
        for side, k, x in (("left_side", AXES["+x"], T), ("right_side", AXES["-x"], WIDTH - T)):
            ids = []
            edge = "edge:3" if side == "left_side" else "edge:1"
            for n, (fitting, y) in enumerate(
                (
                    ("cam-and-bolt", 60.0),
                    ("dowel", 110.0),
                    ("dowel", 190.0),
                    ("cam-and-bolt", 240.0),
                )
            ):
                name = f"{shelf}.{side}.{n}"
                origin = (x, y, low + T / 2)
                down = AXES["-z"]
                ids.append(name)
                if fitting == "dowel":
                    items = (
                        PlacedItem(
                            item="dowel-8x35",
                            frame=_item_frame(origin, scaled(k, -1)),
                            carrier=shelf,
                            index=0,
                        ),
                    )
                    bores += [
                        _bore(parts[side], "face", origin, scaled(k, -1), 8, 12, "dowel", name),
                        _bore(parts[shelf], edge, origin, k, 8, 25, "dowel", name),
                    ]
                else:
                    cam = add(add(origin, scaled(k, 34.0)), scaled(down, T / 2))
                    items = (
                        PlacedItem(
                            item="cam-bolt-34", frame=_item_frame(origin, k), carrier=side, index=0
                        ),
                        PlacedItem(
                            item="cam-15", frame=_item_frame(cam, down), carrier=shelf, index=1
                        ),
                    )
                    bores += [
                        _bore(parts[side], "face", origin, scaled(k, -1), 5, 11, "bolt", name),
                        _bore(parts[shelf], edge, origin, k, 8, 34, "bolt", name),
                        _bore(parts[shelf], "back", cam, AXES["+z"], 15, 13.5, "cam", name),
                    ]
                fasteners.append(
                    Fastener(
                        id=name,
                        joint=f"{shelf}.{side}",
                        fitting=fitting,
                        frame=_frame(origin, k, down),
                        butting=shelf,
                        receiving=side,
                        items=items,
                        path=("joints", 0),
                    )
                )
            contact = Contact(
                butting=shelf,
                receiving=side,
                kind=ContactKind.EDGE_FACE,
                frame=_frame((x, 0.0, low + T / 2), k, cross(k, AXES["+y"])),
                polygon=((0, -9), (DEPTH, -9), (DEPTH, 9), (0, 9)),
                butting_surface=edge,
                receiving_surface="face",
                area=DEPTH * T,
            )
            joints.append(
                PlacedJoint(
                    name=f"{shelf}.{side}",
                    butting=shelf,
                    receiving=side,
                    contact=contact,
                    fittings=("cam-and-bolt", "dowel"),
                    fasteners=tuple(ids),
                    path=("joints", 0),
                )
            )
    nails = []
    for n, (x, z) in enumerate(
        [(9.0, 200.0), (9.0, 700.0), (9.0, 1100.0), (791.0, 200.0), (791.0, 700.0), (791.0, 1100.0)]
    ):
        origin = (x, DEPTH + 3, z)
        side = "left_side" if x < 400 else "right_side"
        nails.append(
            Fastener(
                id=f"nail.{n}",
                joint=f"back.{side}",
                fitting="nail",
                frame=_frame((x, DEPTH, z), AXES["+y"], AXES["+x"]),
                butting="back",
                receiving=side,
                items=(
                    PlacedItem(
                        item="nail-2x25",
                        frame=_item_frame(origin, AXES["+y"]),
                        carrier=None,
                        index=0,
                    ),
                ),
                path=("joints", 1),
            )
        )
    fasteners += nails
    supports = []
    for n, (side, k, x) in enumerate(
        [("left_side", AXES["+x"], T)] * 2 + [("right_side", AXES["-x"], WIDTH - T)] * 2
    ):
        origin = (x, 37.0 if n % 2 == 0 else 263.0, 857.0)
        supports.append(
            Fastener(
                id=f"support.{n}",
                joint="supports",
                fitting="shelf-support",
                frame=_frame(origin, k, AXES["+z"]),
                butting=None,
                receiving=side,
                items=(
                    PlacedItem(
                        item="support-5", frame=_item_frame(origin, k), carrier=side, index=0
                    ),
                ),
                path=("fixtures", 0),
            )
        )
        bores.append(
            _bore(parts[side], "face", origin, scaled(k, -1), 5, 12, "row", f"support.{n}")
        )
    fasteners += supports
    joinery = Joinery(
        joints=tuple(joints),
        fixtures=(
            PlacedFixture(
                name="supports",
                fitting="shelf-support",
                on=("left_side", "right_side"),
                fasteners=tuple(f.id for f in supports),
                carries=("loose_shelf",),
                path=("fixtures", 0),
            ),
        ),
        bores=tuple(bores),
        grooves=(),
        fasteners=tuple(fasteners),
        fittings=FITTINGS,
    )
    resolved = Resolved(
        said=Product(product="Window-sill bookcase"),
        variant=None,
        parameters={},
        parts=tuple(parts.values()),
        joints=(),
        fixtures=(),
        units=(),
        order=(),
    )
    return Bookcase(
        resolved=resolved,
        assembly=Assembly(parts=tuple(parts.values()), contacts=tuple(j.contact for j in joints)),
        joinery=joinery,
        catalogue=Catalogue(items=ITEMS, fittings=FITTINGS),
        plan=_plan(joinery),
        schedules=_schedules(tuple(parts.values())),
    )


def _ids(
    joinery: Joinery, *, fitting: str = "", part: str = "", other: str = ""
) -> tuple[str, ...]:
    return tuple(
        f.id
        for f in joinery.fasteners
        if (not fitting or f.fitting == fitting)
        and (not part or part in (f.butting, f.receiving))
        and (not other or other in (f.butting, f.receiving))
    )


def _plan(joinery: Joinery) -> Plan:
    lying = Posture.ON_LEFT
    fits: list[Operation] = []
    for side in ("left_side", "right_side"):
        fits.append(
            Operation(
                id=f"fit:{side}",
                kind=OperationKind.FIT,
                parts=(side,),
                fasteners=_ids(joinery, fitting="cam-and-bolt", part=side),
                items={"cam-bolt-34": 6},
                tool="screwdriver",
            )
        )
    for shelf in SHELVES:
        fits.append(
            Operation(
                id=f"fit:{shelf}",
                kind=OperationKind.FIT,
                parts=(shelf,),
                fasteners=_ids(joinery, fitting="cam-and-bolt", part=shelf)
                + _ids(joinery, fitting="dowel", part=shelf),
                items={"cam-15": 4, "dowel-8x35": 4},
            )
        )
    mates: list[Operation] = []
    locks: list[Operation] = []
    for shelf in SHELVES:
        ids = _ids(joinery, part=shelf, other="left_side")
        mates.append(
            Operation(
                id=f"mate:{shelf}",
                kind=OperationKind.MATE,
                parts=(shelf,),
                onto=("left_side",),
                direction=AXES["-x"],
                fasteners=ids,
                items={},
                posture=lying,
            )
        )
        locks.append(
            Operation(
                id=f"lock:{shelf}",
                kind=OperationKind.FASTEN,
                parts=(shelf,),
                onto=("left_side",),
                fasteners=_ids(joinery, fitting="cam-and-bolt", part=shelf, other="left_side"),
                items={},
                tool="screwdriver",
                posture=lying,
            )
        )
    right = [
        Operation(
            id="mate:right",
            kind=OperationKind.MATE,
            parts=("right_side",),
            onto=tuple(SHELVES),
            direction=AXES["-x"],
            fasteners=tuple(f for s in SHELVES for f in _ids(joinery, part=s, other="right_side")),
            items={},
            posture=lying,
        ),
        Operation(
            id="lock:right",
            kind=OperationKind.FASTEN,
            parts=("right_side",),
            onto=tuple(SHELVES),
            fasteners=_ids(joinery, fitting="cam-and-bolt", part="right_side"),
            items={},
            tool="screwdriver",
            posture=lying,
        ),
    ]
    down = Posture.ON_FRONT
    back = [
        Operation(
            id="turn",
            kind=OperationKind.TURN,
            items={},
            posture=down,
            parts=("left_side", "right_side", *SHELVES),
        ),
        Operation(
            id="mate:back",
            kind=OperationKind.MATE,
            parts=("back",),
            onto=("left_side", "right_side"),
            direction=AXES["-y"],
            items={},
            posture=down,
        ),
        Operation(id="square", kind=OperationKind.SQUARE, parts=("back",), items={}, posture=down),
        Operation(
            id="nail",
            kind=OperationKind.FASTEN,
            parts=("back",),
            items={"nail-2x25": 6},
            fasteners=_ids(joinery, fitting="nail"),
            tool="hammer",
            posture=down,
        ),
    ]
    last = [
        Operation(id="stand", kind=OperationKind.STAND, items={}),
        Operation(
            id="supports",
            kind=OperationKind.FIXTURE,
            parts=("left_side", "right_side"),
            fasteners=_ids(joinery, fitting="shelf-support"),
            items={"support-5": 4},
            fixture="supports",
        ),
        Operation(
            id="load",
            kind=OperationKind.LOAD,
            parts=("loose_shelf",),
            direction=AXES["+y"],
            items={},
        ),
    ]
    order = (*fits, *mates, *locks, *right, *back, *last)
    groups: list[tuple[tuple[Operation, ...], tuple[str, ...], tuple[str, ...]]] = []
    groups.append(((fits[0],), (), ("left_side",)))
    groups.append(((fits[1],), (), ("right_side",)))
    groups.append((tuple(fits[2:]), (), tuple(SHELVES)))
    built: tuple[str, ...] = ("left_side",)
    for mate, lock in zip(mates, locks, strict=True):
        groups.append(((mate, lock), built, mate.parts))
        built = (*built, *mate.parts)
    groups.append((tuple(right), built, ("right_side",)))
    built = (*built, "right_side")
    groups.append(((back[0],), built, ()))
    groups.append((tuple(back[1:3]), built, ("back",)))
    built = (*built, "back")
    groups.append(((back[3],), built, ()))
    groups.append(((last[0],), built, ()))
    groups.append(((last[1],), built, ()))
    groups.append(((last[2],), built, ("loose_shelf",)))
    steps = []
    for number, (operations, present, new) in enumerate(groups, start=1):
        items: dict[str, int] = {}
        for operation in operations:
            for key, count in operation.items.items():
                items[key] = items.get(key, 0) + count
        steps.append(
            Step(
                number=number,
                operations=tuple(o.id for o in operations),
                present=present,
                new=new,
                posture=operations[0].posture,
                items=items,
                tools=tuple(sorted({o.tool for o in operations if o.tool})),
                persons=1,
            )
        )
    return Plan(
        operations=order,
        precedences=(),
        order=tuple(o.id for o in order),
        steps=tuple(steps),
        motion_class="straight",
        search="exact",
        persons=1,
        minutes=0.0,
    )


def _schedules(parts: tuple[Part, ...]) -> Schedules:
    lines = []
    groups = (("left_side",), ("right_side",), tuple(SHELVES), ("back",), ("loose_shelf",))
    by_name = {part.name: part for part in parts}
    for letter, names in zip("ABCDE", groups, strict=True):
        part = by_name[names[0]]
        lines.append(
            CutLine(
                letter=letter,
                title=part.title,
                parts=names,
                quantity=len(names),
                board="carcass",
                material="particleboard-p2",
                thickness=part.thickness,
                finished=part.outline[2],
                cut=part.outline[2],
                bands={},
                grain="length",
                mass_kg=3.0,
                area=1.0,
                pair=None,
                shaped=False,
            )
        )
    hardware = tuple(
        HardwareLine(
            number=n,
            item=key,
            title=item.title,
            size=item.size,
            quantity=12,
            per_step={},
            per_joint={},
            mass_g=item.mass,
            bags=("A",),
        )
        for n, (key, item) in enumerate(ITEMS.items(), start=1)
    )
    return Schedules(cut=tuple(lines), bought=(), drilling=(), hardware=hardware, mass_kg=20.0)


@pytest.fixture(scope="session")
def bookcase() -> Bookcase:
    return build_bookcase()


def without_fastener(case: Bookcase, id: str) -> Bookcase:
    fasteners = tuple(f for f in case.joinery.fasteners if f.id != id)
    return replace(case, joinery=replace(case.joinery, fasteners=fasteners))
