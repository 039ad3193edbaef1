"""Every plan replayed forward by an independent, simpler program.

The replay knows solids (manifold3d: boards as boxes, grooves cut out, fitted hardware
as cylinders) and positions only: it moves the arriving solids along the step's
direction through sampled places and asks for the volume in common with what is
there. It shares no code with the planner.
"""

from __future__ import annotations

import pathlib
import random
from collections.abc import Iterable

import numpy as np
import pytest

from kdkit.catalogue import load_catalogue
from kdkit.definition import load_definition
from kdkit.frames import Frame, Vec3, scaled
from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from kdkit.joinery.placed import Groove, Joinery
from kdkit.model import read_product, resolve
from kdkit.model.resolved import Part
from kdkit.plan import make_plan
from kdkit.plan.plan import Operation, OperationKind, Plan
from tests.boxes import (
    Made,
    board,
    bookcase,
    cabinet_with_grooved_back,
    make,
    pinwheel,
)

manifold3d = pytest.importorskip("manifold3d")
Manifold = manifold3d.Manifold

EXAMPLES = pathlib.Path(__file__).parents[2] / "examples"
PLACES = (2000.0, 1200.0, 700.0, 400.0, 250.0, 150.0, 90.0, 60.0, 40.0, 25.0, 15.0, 9.0, 5.0,
          2.5, 1.0, 0.5, 0.0)  # fmt: skip
SLIVER = 1.0  # mm³


def transformed(solid: manifold3d.Manifold, frame: Frame) -> manifold3d.Manifold:
    matrix = np.column_stack([frame.i, frame.j, frame.k, frame.origin])
    return solid.transform(matrix)


def slab(points: Iterable[tuple[float, float]], z0: float, z1: float) -> manifold3d.Manifold:
    corners = [(x, y, z) for x, y in points for z in (z0, z1)]
    return Manifold.hull_points(np.array(corners))


def solid_of(part: Part, grooves: Iterable[Groove]) -> manifold3d.Manifold:
    holes = [manifold3d.CrossSection([list(c)[::-1]]) for c in part.cutouts]
    flat = manifold3d.CrossSection([list(part.outline)])
    for hole in holes:
        flat -= hole
    solid = Manifold.extrude(flat, part.thickness).translate((0, 0, -part.thickness))
    for groove in grooves:
        if groove.part == part.name:
            low, high = (
                (-groove.depth, 1.0)
                if groove.surface == "face"
                else (-part.thickness - 1.0, -part.thickness + groove.depth)
            )
            solid -= slab(groove.polygon, low, high)
    return transformed(solid, part.frame)


def hardware_of(made: Made, fastener_id: str, item: str, part: str) -> list[manifold3d.Manifold]:
    """What of an item sticks out of the part that carries it."""
    joinery, stock = made[2], made[3]
    fastener = next(f for f in joinery.fasteners if f.id == fastener_id)
    solids = []
    for placed in fastener.items:
        if placed.item == item and placed.carrier == part:
            for piece in stock.items[item].pieces:
                if piece.z1 > 0:
                    low = max(piece.z0, 0.0)
                    rod = Manifold.cylinder(piece.z1 - low, piece.d0 / 2, piece.d0 / 2, 12)
                    solids.append(transformed(rod.translate((0, 0, low)), placed.frame))
    return solids


def replay(made: Made, plan: Plan) -> int:
    """Move everything; return the number of moves. Fails where something collides."""
    parts = {p.name: p for p in made[1].parts}
    solids = {n: solid_of(p, made[2].grooves) for n, p in parts.items()}
    fitted: list[tuple[str, str, str]] = []  # fastener, item, carrier
    moves = 0
    cluster: dict[str, set[str]] = {n: {n} for n in parts}
    for id in plan.order:
        operation = plan.operation(id)
        if operation.kind in (OperationKind.FIT, OperationKind.FIXTURE):
            for fastener in operation.fasteners:
                for item in operation.items:
                    fitted += [(fastener, item, part) for part in operation.parts]
        if operation.kind not in (OperationKind.MATE, OperationKind.LOAD):
            continue
        moves += 1
        moving, there = set(operation.parts), set(operation.onto)
        for group in (moving, there):
            assert all(cluster[n] <= group for n in group), f"{id} tears a half apart"
        check_move(made, operation, solids, fitted)
        for n in moving | there:
            cluster[n] = moving | there
    assert all(c == set(parts) for c in cluster.values())
    return moves


def check_move(
    made: Made,
    operation: Operation,
    solids: dict[str, manifold3d.Manifold],
    fitted: list[tuple[str, str, str]],
) -> None:
    assert operation.direction is not None
    moving, there = set(operation.parts), set(operation.onto)
    check_pins(made[2], operation)
    sides: list[list[tuple[str, manifold3d.Manifold, frozenset[str]]]] = [[], []]
    for side, group in enumerate((moving, there)):
        sides[side] += [(n, solids[n], frozenset()) for n in sorted(group)]
        for fastener_id, item, carrier in fitted:
            if carrier not in group:
                continue
            fastener = next(f for f in made[2].fasteners if f.id == fastener_id)
            ends = {fastener.butting, fastener.receiving} - {None}
            if len(ends) == 2 and ends <= group:
                continue  # inside a closed joint
            for rod in hardware_of(made, fastener_id, item, carrier):
                sides[side].append((item, rod, frozenset(n for n in ends if n)))
    for name, solid, ends in sides[0]:
        for other, standing, other_ends in sides[1]:
            if name in other_ends or other in ends or ends & other_ends:
                continue  # its own bore takes it
            for place in PLACES:
                shift = scaled(operation.direction, -place)
                volume = (solid.translate(shift) ^ standing).volume()
                assert volume < SLIVER, f"{operation.id}: {name} meets {other} at {place}"


def check_pins(joinery: Joinery, operation: Operation) -> None:
    for joint in joinery.joints:
        pinned = any(joinery.fittings[f].holds == "pinned" for f in joint.fittings)
        ends = {joint.butting, joint.receiving}
        split = len(ends & set(operation.parts)) == 1 and len(ends & set(operation.onto)) == 1
        if pinned and split:
            k = joint.contact.frame.k
            way: Vec3 = scaled(k, -1.0) if joint.butting in operation.parts else k
            assert operation.direction == pytest.approx(way), operation.id


def random_carcass(rng: random.Random) -> Made:
    """A case with dividers and shelves between them, in a random way of joining."""
    t, deep = 18.0, rng.choice((250.0, 300.0, 400.0))
    bays, bay, high = rng.randint(1, 3), rng.choice((300.0, 450.0)), rng.choice((700.0, 1600.0))
    wide = bays * bay + (bays + 1) * t
    how = rng.choice(("cams", "dowels", "capped-screws", ("cams", "dowels"), "shop-dowels"))
    inner = rng.choice(("cams", "dowels", "capped-screws"))
    uprights_outside = rng.random() < 0.5
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {}
    x0, x1, z0, z1 = (t, wide - t, 0.0, high) if uprights_outside else (0.0, wide, t, high - t)
    parts = [
        board("bottom", (x0, 0, 0), (x1, deep, t)),
        board("top", (x0, 0, high - t), (x1, deep, high)),
        board("left", (0, 0, z0), (t, deep, z1)),
        board("right", (wide - t, 0, z0), (wide, deep, z1)),
    ]
    for lying in ("bottom", "top"):
        for side in ("left", "right"):
            joints[lying, side] = how
    walls = ["left"]
    for n in range(1, bays):
        x = n * (bay + t)
        walls.append(f"divider_{n}")
        parts.append(board(walls[-1], (x, 0, t), (x + t, deep, high - t)))
        joints[walls[-1], "bottom"] = joints[walls[-1], "top"] = inner
    walls.append("right")
    for n in range(bays):
        for row in range(rng.randint(0, 2)):
            x, z = n * (bay + t) + t, t + (high - 2 * t) * (row + 1) / 3 + 40 * n
            parts.append(board(f"shelf_{n}{row}", (x, 0, z), (x + bay, deep, z + t)))
            joints[f"shelf_{n}{row}", walls[n]] = inner
            joints[f"shelf_{n}{row}", walls[n + 1]] = inner
    if rng.random() < 0.6:
        parts.append(board("back", (1, deep, 1), (wide - 1, deep + 3, high - 1)))
        for name in [p.name for p in parts[:-1]]:
            joints[name, "back"] = "nails"
    rng.shuffle(parts)
    return make(parts, joints)


@pytest.mark.parametrize("seed", range(25))
def test_plans_of_random_carcasses_replay(seed: int) -> None:
    made = random_carcass(random.Random(seed))
    plan, _ = make_plan(*made)
    if isinstance(plan, Plan):  # a refusal is checked against all orders elsewhere
        assert replay(made, plan) >= 3


def test_most_random_carcasses_can_be_built() -> None:
    plans = [make_plan(*random_carcass(random.Random(seed)))[0] for seed in range(25)]
    assert sum(isinstance(p, Plan) for p in plans) >= 15


@pytest.mark.parametrize("number", range(4))
def test_known_products_replay(number: int) -> None:
    made = (
        bookcase(loose=2),
        cabinet_with_grooved_back(),
        cabinet_with_grooved_back(("cams", "dowels")),
        make(*pinwheel()),
    )[number]
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    assert replay(made, plan) >= 3


@pytest.mark.parametrize("name", ["bookcase", "low-cabinet", "hall-bench"])
def test_the_examples_replay(name: str) -> None:
    definition, _ = load_definition(EXAMPLES / f"{name}.yaml")
    assert definition is not None
    product, _ = read_product(definition)
    assert product is not None
    resolved, _ = resolve(product)
    catalogue, _ = load_catalogue()
    assert resolved is not None
    assert catalogue is not None
    assembly, _ = assemble(resolved)
    assert assembly is not None
    joinery, _ = place_fittings(resolved, assembly, catalogue)
    assert joinery is not None
    made = (resolved, assembly, joinery, catalogue)
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    assert replay(made, plan) >= 5


def test_the_replay_can_say_no() -> None:
    """A plan whose back comes last, into four closed grooves, does not pass."""
    made = cabinet_with_grooved_back()
    plan, _ = make_plan(*made)
    assert isinstance(plan, Plan)
    back = next(o for o in plan.operations if o.id == "mate/back")
    everything = tuple(p.name for p in made[1].parts if p.name != "back")
    forced = Operation(
        id="forced", kind=OperationKind.MATE, parts=("back",), onto=everything,
        direction=back.direction, items={},
    )  # fmt: skip
    solids = {p.name: solid_of(p, made[2].grooves) for p in made[1].parts}
    with pytest.raises(AssertionError, match="back meets"):
        check_move(made, forced, solids, [])
