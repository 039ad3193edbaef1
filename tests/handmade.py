"""A small bookcase built by hand from the contract types, for stages tested alone.

600 wide, 900 high, 300 deep in 18 board: two sides (a mirror pair), two equal
shelves between them, each end held by one cam and bolt and one dowel, a laid-on back
nailed on, and a tip restraint. One bore of a system row in each side makes the sides differ.
"""

from __future__ import annotations

from itertools import pairwise

from kdkit.catalogue import load_catalogue
from kdkit.catalogue.entries import (
    Action,
    BoardMaterial,
    Catalogue,
    Fitting,
    Item,
    ItemRule,
    Piece,
    Strength,
    Tool,
)
from kdkit.frames import Frame, Vec3, add
from kdkit.geometry.assembly import Assembly, Contact, ContactKind
from kdkit.illustrate.paper.figure import Area, Figure, Line, Text
from kdkit.joinery.placed import Bore, Fastener, Joinery, PlacedFixture, PlacedItem, PlacedJoint
from kdkit.model.resolved import Part, Resolved, ResolvedFixture, ResolvedJoint
from kdkit.model.says import Product
from kdkit.plan.plan import Operation, OperationKind, Plan, Posture, Precedence, Step, WhyTwo
from kdkit.publish.results import Results
from kdkit.schedule import make_schedules
from tests.panels import panel, rod

WIDTH, HEIGHT, DEPTH, T = 600.0, 900.0, 300.0, 18.0
INNER = WIDTH - 2 * T
SHELF_LEVELS = (0.0, HEIGHT - T)
X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def minus(v: Vec3) -> Vec3:
    return (-v[0], -v[1], -v[2])


def parts() -> tuple[Part, ...]:
    left = panel(
        "left_side",
        Frame((T, DEPTH, 0.0), Z, minus(Y), X),
        (HEIGHT, DEPTH),
        edge_sides=("back", "top", "front", "bottom"),
        bands=(0.0, 0.0, 1.0, 0.0),
    )
    right = panel(
        "right_side",
        Frame((WIDTH - T, 0.0, 0.0), Z, Y, minus(X)),
        (HEIGHT, DEPTH),
        edge_sides=("front", "top", "back", "bottom"),
        bands=(1.0, 0.0, 0.0, 0.0),
        mirror_of="left_side",
    )
    shelves = [
        panel(
            name,
            Frame((T, DEPTH, level), X, minus(Y), minus(Z)),
            (INNER, DEPTH),
            edge_sides=("back", "right", "front", "left"),
            bands=(0.0, 0.0, 1.0, 0.0),
        )
        for name, level in zip(("bottom", "top"), SHELF_LEVELS, strict=True)
    ]
    back = panel(
        "back",
        Frame((2.0, DEPTH + 3.0, 2.0), Z, X, Y),
        (HEIGHT - 4, WIDTH - 4),
        3.0,
        board="back",
        material="hardboard",
        edge_sides=("left", "top", "right", "bottom"),
        grain_along_x=False,
    )
    return (left, right, *shelves, back)


def catalogue() -> Catalogue:
    source = ("common practice, no source",)

    items = {
        "cam-15": Item(
            title="Cam lock",
            size="15 × 13.5",
            mass=6.2,
            drive="cross recess Z2",
            recess_z=0.0,
            pieces=(rod(15, -13.5, 0.0),),
            sources=source,
        ),
        "cam-bolt-24": Item(
            title="Cam bolt",
            size="6 × 35",
            mass=5.1,
            drive="cross recess Z2",
            recess_z=24.0,
            pieces=(rod(5, -11, 0, "thread"), rod(7, 0, 21), rod(4, 21, 22), rod(6, 22, 24)),
            sources=source,
        ),
        "dowel-8x35": Item(
            title="Dowel",
            size="8 × 35",
            mass=1.09,
            pieces=(rod(8, -12, 23, "flutes"),),
            sources=source,
        ),
        "nail-25": Item(
            title="Nail",
            size="1.4 × 25",
            mass=0.31,
            pieces=(rod(1.4, -25, 0), rod(3.0, 0, 0.8)),
            sources=source,
        ),
        "restraint-strap": Item(
            title="Tip restraint strap",
            size="20 × 150",
            mass=18.0,
            pieces=(Piece(kind="box", z0=0, z1=2, d0=20, d1=150),),
            sources=source,
        ),
    }
    cam_and_bolt = Fitting(
        title="Cam and bolt",
        kind="joint",
        contact=("edge-face",),
        items=(
            ItemRule(item="cam-bolt-24", out="+k", carried_by="receiving"),
            ItemRule(item="cam-15", out="+j"),
        ),
        actions=(
            Action(do="screw-in", item="cam-bolt-24", tool="screwdriver-z2"),
            Action(do="mate"),
            Action(do="insert", item="cam-15"),
            Action(do="turn", item="cam-15", tool="screwdriver-z2"),
        ),
        holds="pinned",
        reversible=True,
        sources=source,
    )
    dowel = Fitting(
        title="Dowel, dry",
        kind="joint",
        contact=("edge-face",),
        items=(ItemRule(item="dowel-8x35", out="+k", carried_by="butting"),),
        actions=(Action(do="insert", item="dowel-8x35"), Action(do="mate")),
        holds="pinned",
        reversible=True,
        sources=source,
    )
    nails = Fitting(
        title="Nails",
        kind="joint",
        contact=("face-face",),
        items=(ItemRule(item="nail-25", out="+k"),),
        actions=(Action(do="nail", item="nail-25", tool="hammer"),),
        reversible=False,
        sources=source,
    )
    restraint = Fitting(
        title="Tip restraint",
        kind="fixture",
        contact=("surface",),
        items=(ItemRule(item="restraint-strap", out="+k"),),
        actions=(Action(do="fix", item="restraint-strap", tool="screwdriver-z2"),),
        reversible=True,
        sources=source,
    )

    def material(
        title: str, family: str, thickness: tuple[float, ...], density: float, grained: bool
    ) -> BoardMaterial:
        return BoardMaterial(
            title=title,
            family=family,  # type: ignore[arg-type]
            thicknesses=thickness,
            strength=(Strength(thickness=(min(thickness), max(thickness)), density=density),),
            grained=grained,
            sources=source,
        )

    shipped, _ = load_catalogue()
    assert shipped is not None
    return Catalogue(
        machines=shipped.machines,
        kinds=shipped.kinds,
        loads=shipped.loads,
        boards={
            "particleboard-p2": material(
                "Particleboard P2", "particleboard", (16.0, 18.0, 19.0), 650.0, True
            ),
            "hardboard": material("Hardboard", "hardboard", (3.0,), 900.0, False),
        },
        items=items,
        tools={
            "screwdriver-z2": Tool(title="Screwdriver", size="cross recess Z2"),
            "hammer": Tool(title="Hammer"),
        },
        fittings={
            "cam-and-bolt": cam_and_bolt,
            "dowel-8x35": dowel,
            "nails": nails,
            "tip-restraint": restraint,
        },
    )


def joinery() -> Joinery:
    """Cams 60 from the front, dowels 60 from the back; nails at the four corners."""
    by_name = {part.name: part for part in parts()}
    bores: list[Bore] = []
    fasteners: list[Fastener] = []
    joints: list[PlacedJoint] = []

    def bore(
        part: str, surface: str, at: Vec3, into: Vec3, d: float, depth: float, why: str, f: str
    ) -> None:
        frame = by_name[part].frame
        bores.append(
            Bore(
                part=part,
                surface=surface,
                mouth=frame.point_to_inner(at),
                into=frame.vector_to_inner(into),
                diameter=d,
                depth=depth,
                through=False,
                purpose=why,
                path=("joints", 0),
                fastener=f or None,
            )
        )

    for shelf, level in zip(("bottom", "top"), SHELF_LEVELS, strict=True):
        for side, x, k, edge in (
            ("left_side", T, X, "edge:3"),
            ("right_side", WIDTH - T, minus(X), "edge:1"),
        ):
            name = f"{shelf} to {side}"
            ids = []
            for fitting, y in (("cam-and-bolt", 60.0), ("dowel-8x35", DEPTH - 60.0)):
                at = (x, y, level + T / 2)
                j = minus(Z)
                i = (
                    j[1] * k[2] - j[2] * k[1],
                    j[2] * k[0] - j[0] * k[2],
                    j[0] * k[1] - j[1] * k[0],
                )
                frame = Frame(at, i, j, k)
                identity = f"{name}/{fitting}/1"
                ids.append(identity)
                if fitting == "cam-and-bolt":
                    cam_at = add(at, (k[0] * 24.0, 0.0, -T / 2))
                    bore(side, "face", at, minus(k), 5.0, 11.0, "bolt", identity)
                    bore(shelf, edge, at, k, 8.0, 24.0, "bolt passage", identity)
                    bore(shelf, "face", cam_at, Z, 15.0, 13.5, "cam housing", identity)
                    items = (
                        PlacedItem(
                            item="cam-bolt-24",
                            frame=Frame(at, i, j, k),
                            carrier=side,
                            index=0,
                        ),
                        PlacedItem(
                            item="cam-15",
                            frame=Frame(cam_at, X, minus(Y), minus(Z)),
                            carrier=None,
                            index=1,
                        ),
                    )
                else:
                    bore(side, "face", at, minus(k), 8.0, 12.0, "dowel", identity)
                    bore(shelf, edge, at, k, 8.0, 25.0, "dowel", identity)
                    items = (
                        PlacedItem(
                            item="dowel-8x35", frame=Frame(at, i, j, k), carrier=shelf, index=0
                        ),
                    )
                fasteners.append(
                    Fastener(
                        id=identity,
                        joint=name,
                        fitting=fitting,
                        frame=frame,
                        butting=shelf,
                        receiving=side,
                        items=items,
                        path=("joints", 0),
                    )
                )
            joints.append(
                PlacedJoint(
                    name=name,
                    butting=shelf,
                    receiving=side,
                    contact=Contact(
                        butting=shelf,
                        receiving=side,
                        kind=ContactKind.EDGE_FACE,
                        frame=Frame((x, 0.0, level + T / 2), *_run_axes(k)),
                        polygon=((0.0, -9.0), (DEPTH, -9.0), (DEPTH, 9.0), (0.0, 9.0)),
                        butting_surface=edge,
                        receiving_surface="face",
                        area=DEPTH * T,
                    ),
                    fittings=("cam-and-bolt", "dowel-8x35"),
                    fasteners=tuple(ids),
                    path=("joints", 0),
                )
            )
    for side, x, k in (("left_side", T, X), ("right_side", WIDTH - T, minus(X))):
        bore(side, "face", (x, 37.0, 300.0), minus(k), 5.0, 12.0, "system row", "")
    nail_ids = []
    for n, (x, z) in enumerate(
        ((9.0, 9.0), (WIDTH - 9, 9.0), (9.0, HEIGHT - 9), (WIDTH - 9, HEIGHT - 9)), start=1
    ):
        identity = f"back nails/nails/{n}"
        nail_ids.append(identity)
        frame = Frame((x, DEPTH + 3, z), Z, X, Y)
        fasteners.append(
            Fastener(
                id=identity,
                joint="back nails",
                fitting="nails",
                frame=frame,
                butting="back",
                receiving="left_side" if x < 300 else "right_side",
                items=(PlacedItem(item="nail-25", frame=frame, carrier=None, index=0),),
                path=("joints", 1),
            )
        )
    frame = Frame((WIDTH / 2, DEPTH - 30.0, HEIGHT), X, Y, Z)
    fasteners.append(
        Fastener(
            id="restraint/tip-restraint/1",
            joint="restraint",
            fitting="tip-restraint",
            frame=frame,
            butting=None,
            receiving="top",
            items=(PlacedItem(item="restraint-strap", frame=frame, carrier=None, index=0),),
            path=("fixtures", 0),
        )
    )
    return Joinery(
        joints=tuple(joints),
        fixtures=(
            PlacedFixture(
                name="restraint",
                fitting="tip-restraint",
                on=("top",),
                fasteners=("restraint/tip-restraint/1",),
                carries=(),
                path=("fixtures", 0),
            ),
        ),
        bores=tuple(bores),
        grooves=(),
        fasteners=tuple(fasteners),
        fittings=catalogue().fittings,
    )


def _run_axes(k: Vec3) -> tuple[Vec3, Vec3, Vec3]:
    i = Y
    j = (
        k[1] * i[2] - k[2] * i[1],
        k[2] * i[0] - k[0] * i[2],
        k[0] * i[1] - k[1] * i[0],
    )
    return (i, j, k)


def plan() -> Plan:
    """Five steps: hardware into the parts, left side, right side, back, standing up."""
    made = joinery()
    shelves = ("bottom", "top")

    def of(fitting: str, part: str) -> tuple[str, ...]:
        return tuple(
            f.id
            for f in made.fasteners
            if f.fitting == fitting and part in (f.butting, f.receiving)
        )

    operations = (
        Operation(
            id="fit dowels",
            kind=OperationKind.FIT,
            parts=shelves,
            fasteners=tuple(i for s in shelves for i in of("dowel-8x35", s)),
            items={"dowel-8x35": 4},
            minutes=2.0,
        ),
        Operation(
            id="fit bolts",
            kind=OperationKind.FIT,
            parts=("left_side", "right_side"),
            fasteners=tuple(i for s in ("left_side", "right_side") for i in of("cam-and-bolt", s)),
            items={"cam-bolt-24": 4},
            tool="screwdriver-z2",
            minutes=2.0,
        ),
        *(
            operation
            for side, travel in (("left_side", X), ("right_side", minus(X)))
            for operation in (
                Operation(
                    id=f"mate {side}",
                    kind=OperationKind.MATE,
                    parts=(side,),
                    onto=shelves,
                    direction=travel,
                    items={},
                    joints=tuple(f"{s} to {side}" for s in shelves),
                    posture=Posture.ON_FRONT,
                    minutes=2.0,
                ),
                Operation(
                    id=f"lock {side}",
                    kind=OperationKind.FASTEN,
                    parts=(side,),
                    fasteners=of("cam-and-bolt", side),
                    items={"cam-15": 2},
                    tool="screwdriver-z2",
                    posture=Posture.ON_FRONT,
                    minutes=1.0,
                ),
            )
        ),
        Operation(
            id="square",
            kind=OperationKind.SQUARE,
            parts=("left_side", "right_side", *shelves),
            items={},
            posture=Posture.ON_FRONT,
            minutes=1.0,
        ),
        Operation(
            id="mate back",
            kind=OperationKind.MATE,
            parts=("back",),
            onto=("left_side", "right_side", *shelves),
            direction=minus(Y),
            items={},
            posture=Posture.ON_FRONT,
            minutes=1.0,
        ),
        Operation(
            id="nail back",
            kind=OperationKind.FASTEN,
            parts=("back",),
            fasteners=tuple(f.id for f in made.fasteners if f.fitting == "nails"),
            items={"nail-25": 4},
            tool="hammer",
            posture=Posture.ON_FRONT,
            minutes=2.0,
        ),
        Operation(
            id="stand",
            kind=OperationKind.STAND,
            items={},
            minutes=1.0,
            mass=19.0,
            why_two=(WhyTwo.TURNED,),
        ),
        Operation(
            id="secure",
            kind=OperationKind.SECURE,
            parts=("top",),
            fasteners=("restraint/tip-restraint/1",),
            items={"restraint-strap": 1},
            tool="screwdriver-z2",
            fixture="restraint",
            minutes=5.0,
        ),
    )
    grouped = (
        (("fit dowels", "fit bolts"), (), ("left_side", "right_side", *shelves), 1),
        (("mate left_side", "lock left_side"), (), ("left_side", *shelves), 1),
        (("mate right_side", "lock right_side"), ("left_side", *shelves), ("right_side",), 1),
        (
            ("square", "mate back", "nail back"),
            ("left_side", "right_side", *shelves),
            ("back",),
            1,
        ),
        (("stand", "secure"), ("left_side", "right_side", *shelves, "back"), (), 2),
    )
    by_id = {operation.id: operation for operation in operations}
    steps = []
    for number, (ids, present, new, persons) in enumerate(grouped, start=1):
        items: dict[str, int] = {}
        for identity in ids:
            for item, n in by_id[identity].items.items():
                items[item] = items.get(item, 0) + n
        steps.append(
            Step(
                number=number,
                operations=ids,
                present=present,
                new=new,
                posture=by_id[ids[-1]].posture,
                items=items,
                tools=tuple(dict.fromkeys(t for i in ids if (t := by_id[i].tool) is not None)),
                persons=persons,
                minutes=sum(by_id[i].minutes for i in ids if not by_id[i].sets),
                wait_minutes=sum(by_id[i].minutes for i in ids if by_id[i].sets),
            )
        )
    order = tuple(operation.id for operation in operations)
    return Plan(
        operations=operations,
        precedences=tuple(
            Precedence(before=a, after=b, reason=f"{a} comes before {b}")
            for a, b in pairwise(order)
        ),
        order=order,
        steps=tuple(steps),
        motion_class="two hands, one straight move at a time",
        search="exact: every order was looked at",
        persons=2,
        minutes=sum(o.minutes for o in operations if not o.sets),
        wait_minutes=sum(o.minutes for o in operations if o.sets),
    )


def product(**more: object) -> Product:
    said: dict[str, object] = {
        "product": "Window-sill bookcase",
        "revision": "B",
        "batch": "Q-0417",
        "date": "2026-03-02",
        "maker": {
            "name": "Quernmoss Workshop",
            "address": "4 Mill Lane, Quernmoss",
            "contact": "help@quernmoss.example",
        },
        "safety": {"wall_restraint": "required", "load_per_shelf": 15},
    }
    return Product.model_validate({**said, **more})


def resolved(said: Product | None = None) -> Resolved:
    made = joinery()
    return Resolved(
        said=said or product(),
        variant=None,
        parameters={},
        parts=parts(),
        joints=tuple(
            ResolvedJoint(name=j.name, path=j.path, joined=j.butting, to=j.receiving, fittings=())
            for j in made.joints
        ),
        fixtures=tuple(
            ResolvedFixture(
                name=f.name,
                path=f.path,
                fitting=f.fitting,
                on=f.on,
                face=None,
                at=None,
                rows=None,
                carries=f.carries,
            )
            for f in made.fixtures
        ),
        units=(),
        order=(),
    )


def assembly() -> Assembly:
    return Assembly(parts=parts(), contacts=tuple(j.contact for j in joinery().joints))


def figures() -> dict[str, Figure]:
    """Plain boxes where the real drawings would be, hardware at true size."""

    def box(width: float, height: float, title: str) -> Figure:
        corners = ((2.0, 2.0), (width - 2, 2.0), (width - 2, height - 2), (2.0, height - 2))
        return Figure(
            width=width,
            height=height,
            primitives=(
                Area(outer=corners, tone="new-top"),
                Line(points=corners, pen="outline", closed=True),
                Text(at=(width / 2, height / 2), text=title, size=3.5),
            ),
            title=title,
            description=f"A picture of {title}",
        )

    made = {"cover": box(150, 140, "the bookcase")}
    made |= {f"part-{letter}": box(40, 28, letter) for letter in "ABCD"}
    made |= {f"step-{step.number}": box(160, 95, f"step {step.number}") for step in plan().steps}
    for key, item in catalogue().items.items():
        low, high = min(p.z0 for p in item.pieces), max(p.z1 for p in item.pieces)
        made[f"item-{key}"] = box(high - low + 4, 12, item.title)
    return made


def results(said: Product | None = None) -> Results:
    worked_out = resolved(said)
    return Results(
        resolved=worked_out,
        catalogue=catalogue(),
        assembly=assembly(),
        joinery=joinery(),
        plan=plan(),
        schedules=make_schedules(worked_out, assembly(), joinery(), catalogue(), plan()),
        figures=figures(),
    )
