"""A plan done forward, step by step, by a program that shares nothing with the planner.

It knows solids (manifold3d: outlines extruded, grooves cut out, hardware as cylinders
and boxes) and where they are: loose parts at first, then groups that grow. Each rule
that a plan must keep is one function; what breaks it is said in words.

The way of a part is exact: the solid and, over its triangles that look forward, prisms
as long as the way. What it has in common with a solid that stands there must be nothing.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import manifold3d
import numpy as np
from scipy.spatial.transform import Rotation

from kdkit.catalogue.entries import Catalogue, FreeSpace
from kdkit.frames import Frame, Vec3
from kdkit.geometry.assembly import Assembly
from kdkit.geometry.surfaces import surface_frame
from kdkit.joinery.placed import Fastener, Groove, Joinery, PlacedItem, PlacedJoint
from kdkit.model.resolved import Part, Resolved
from kdkit.parts.postures import UP
from kdkit.plan.plan import Operation, OperationKind, Plan, Posture, Slide, Tilt
from tests.bevelled import offcuts
from tests.glue_rules import check_glue
from tests.replay_balance import Balance

__all__ = ["Made", "Replay", "ReplayError", "followed", "replay", "solid_of"]

Manifold = manifold3d.Manifold
Made = tuple[Resolved, Assembly, Joinery, Catalogue]
Solid = manifold3d.Manifold

PROUD = 3.5  # mm of hardware that the blanket under the work takes up
SLIVER = 1.0  # mm³ that two solids may have in common
EASY, STEADY, SURE = 0.10, 0.15, 0.20  # how far inside, by its height: needed, taken, enough
MANY = 8  # parts; larger work that reaches the floor is taken to stand
SETTING = ("clamp", "wait")
COMES_TOGETHER = ("mate", "lay-on", "slide-in", "hang", "run-in")
MOVES = (OperationKind.MATE, OperationKind.LOAD)
TURNS = (OperationKind.TURN, OperationKind.STAND)
CLOSED_BY = (OperationKind.FASTEN, OperationKind.CAP, OperationKind.WAIT)


class ReplayError(AssertionError):
    """The plan asks for something that cannot be done."""


def placed(solid: Solid, frame: Frame) -> Solid:
    """A solid of a frame in the product."""
    return solid.transform(np.column_stack([frame.i, frame.j, frame.k, frame.origin]))


def slab(points: Iterable[tuple[float, float]], z0: float, z1: float) -> Solid:
    """The prism over a convex polygon."""
    return Manifold.hull_points(np.array([(x, y, z) for x, y in points for z in (z0, z1)]))


def solid_of(part: Part, grooves: Iterable[Groove]) -> Solid:
    """A part less its openings and grooves, in the product."""
    flat = manifold3d.CrossSection([list(part.outline)])
    for hole in part.cutouts:
        flat -= manifold3d.CrossSection([list(hole)], manifold3d.FillRule.NonZero)
    for ring in part.round_cutouts:
        flat -= manifold3d.CrossSection.circle(ring.diameter / 2, 64).translate(ring.centre)
    t = part.thickness
    solid = Manifold.extrude(flat, t).translate((0, 0, -t))
    for wedge in offcuts(part):
        solid -= Manifold.hull_points(wedge)
    for groove in grooves:
        if groove.part == part.name and groove.surface in ("face", "back"):
            low, high = (-groove.depth, 1.0)
            if groove.surface == "back":
                low, high = (-t - 1.0, -t + groove.depth)
            solid -= slab(groove.polygon, low, high)
        elif groove.part == part.name:
            edge = surface_frame(part, groove.surface)
            solid -= placed(slab(groove.polygon, -groove.depth, 1.0), edge)
    return placed(solid, part.frame)


def way_of(solid: Solid, direction: Vec3, length: float) -> Solid:
    """All the room that a solid passes through, coming along a direction to its place."""
    mesh = solid.to_mesh()
    points = np.asarray(mesh.vert_properties, dtype=float)[:, :3]
    triangles = points[np.asarray(mesh.tri_verts)]
    out = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    back = -length * np.asarray(direction)
    prisms = [
        Manifold.hull_points(np.vstack([t, t + back]))
        for t, n in zip(triangles, out, strict=True)
        if float(n @ back) > 1e-6 * length
    ]
    return Manifold.batch_boolean([solid, *prisms], manifold3d.OpType.Add)


def turn_back(tilt: Tilt, share: float) -> np.ndarray:
    """The 3 × 4 matrix of a share of a tilt, done backwards."""
    axis, point = np.asarray(tilt.axis), np.asarray(tilt.point)
    turn = Rotation.from_rotvec(-share * tilt.angle_deg * axis, degrees=True).as_matrix()
    return np.column_stack([turn, point - turn @ point])


def arc_of(solid: Solid, tilt: Tilt) -> Iterator[Solid]:
    """The room of a tilt bit by bit: hulls between places half a degree apart.

    What an arc bulges out between them (a hundredth of a millimetre at a metre) is left out.
    A solid that is not convex is taken triangle by triangle.
    """
    mesh = solid.to_mesh()
    points = np.asarray(mesh.vert_properties, dtype=float)[:, :3]
    count = int(np.ceil(abs(tilt.angle_deg) / 0.5))
    places = [turn_back(tilt, n / count) for n in range(count + 1)]
    at = [points @ place[:, :3].T + place[:, 3] for place in places]
    convex = solid.hull().volume() < solid.volume() * (1 + 1e-6)
    corners = [np.arange(len(points))] if convex else list(np.asarray(mesh.tri_verts))
    for (a, b), place in zip(itertools.pairwise(at), places, strict=False):
        if not convex:
            yield solid.transform(place)
        for some in corners:
            yield Manifold.hull_points(np.vstack([a[some], b[some]]))


def reaches(solid: Solid) -> np.ndarray:
    """Low and high corner of the box around a solid."""
    return np.array(solid.bounding_box()).reshape(2, 3)


@dataclass(frozen=True, eq=False)
class Piece:
    """A solid that moves with a part. ``meant_for``: the parts whose bores take it."""

    name: str
    solid: Solid
    meant_for: frozenset[str] = frozenset()

    @cached_property
    def box(self) -> np.ndarray:
        """Low and high corner of the box around it."""
        return reaches(self.solid)


@dataclass(eq=False)
class Replay:
    """The state of a build: what is together, what is fitted, how it lies."""

    made: Made
    plan: Plan
    together: dict[str, frozenset[str]] = field(default_factory=dict)
    pieces: dict[str, list[Piece]] = field(default_factory=dict)
    fixed: dict[str, list[Piece]] = field(default_factory=dict)
    used: Counter[tuple[str, str]] = field(default_factory=Counter)
    closed: Counter[str] = field(default_factory=Counter)
    lying: dict[str, Posture] = field(default_factory=dict)
    strips: dict[str, tuple[float, Posture | None]] = field(default_factory=dict)
    moves: int = 0
    unheld: list[str] = field(default_factory=list)
    _ways: dict[tuple[int, Vec3], Solid] = field(default_factory=dict)

    def __post_init__(self) -> None:
        _, assembly, joinery, _ = self.made
        self.fasteners: Mapping[str, Fastener] = {f.id: f for f in joinery.fasteners}
        self.length = 1.2 * self._diagonal()
        for part in assembly.parts:
            self.together[part.name] = frozenset((part.name,))
            self.pieces[part.name] = [Piece(part.name, solid_of(part, joinery.grooves))]
        self._names = sorted(self.pieces)
        boxes = [self.pieces[name][0].box for name in self._names]
        self._boxes = np.array([b[0] for b in boxes]), np.array([b[1] for b in boxes])
        for fastener in joinery.fasteners:
            for item in sorted(self._of_workshop(fastener)):
                self._fit(fastener, item)

    def _diagonal(self) -> float:
        corners = np.array(
            [
                part.frame.point_to_outer((x, y, z))
                for part in self.made[1].parts
                for x, y in part.outline
                for z in (0.0, -part.thickness)
            ]
        )
        return float(np.linalg.norm(corners.max(axis=0) - corners.min(axis=0))) + 100.0

    def _of_workshop(self, fastener: Fastener) -> set[str]:
        actions = self.made[2].fittings[fastener.fitting].actions
        first = {a.item: a.stage for a in reversed(actions) if a.item is not None}
        return {p.item for p in fastener.items if first.get(p.item) == "workshop"}

    # -- hardware ----------------------------------------------------------------

    def _fit(self, fastener: Fastener, item: str, only: str | None = None) -> None:
        """Put an item into what carries it; what sticks out of there moves along from now."""
        ends = frozenset(e for e in (fastener.butting, fastener.receiving) if e is not None)
        for one in fastener.items:
            carrier = one.carrier
            if one.item != item or carrier is None or only not in (None, carrier):
                continue
            self.used[fastener.id, item] += 1
            self.pieces[carrier] += self._shapes(one, ends)

    def _shapes(self, one: PlacedItem, ends: frozenset[str]) -> list[Piece]:
        """What of an item sticks out of the mouth that it sits in."""
        found = []
        for shape in self.made[3].items[one.item].pieces:
            low = max(shape.z0, 0.0)
            if shape.z1 <= low:
                continue
            if shape.kind in ("box", "lens"):  # the box around a lens
                x, y = shape.d0 / 2, (shape.d1 or shape.d0) / 2
                u, v = shape.at
                ring = [(u - x, v - y), (u + x, v - y), (u + x, v + y), (u - x, v + y)]
                rod = slab(ring, low, shape.z1)
            else:
                wide = max(shape.d0, shape.d1 or 0.0) if shape.kind == "cone" else shape.d0
                rod = Manifold.cylinder(shape.z1 - low, wide / 2, wide / 2, 12)
                rod = rod.translate((0, 0, low))
            found.append(Piece(one.item, placed(rod, one.frame), ends))
        return found

    def fit(self, operation: Operation) -> None:
        """Hardware goes into bores that can still be got at."""
        for name in operation.fasteners:
            fastener = self.fasteners[name]
            for item in operation.items:
                carriers = {p.carrier for p in fastener.items if p.item == item}
                for part in operation.parts:
                    if part not in carriers:
                        continue
                    other = {fastener.butting, fastener.receiving} - {part, None}
                    if other & self.together[part]:
                        raise ReplayError(f"{operation.id}: the joint is closed already")
                    self._fit(fastener, item, part)

    def fasten(self, operation: Operation) -> None:
        """A joint is worked only when both of its parts are there and together."""
        for name in operation.fasteners:
            fastener = self.fasteners[name]
            if fastener.butting not in self.together[fastener.receiving]:
                raise ReplayError(f"{operation.id}: {name} is not together yet")
            for one in fastener.items:
                if one.item in operation.items and not self.used[name, one.item]:
                    self.used[name, one.item] += 1
            if operation.tool is not None:
                self._reach(operation, fastener)

    def _reach(self, operation: Operation, fastener: Fastener) -> None:
        """The tool named has room among the parts that are there now."""
        _, _, joinery, stock = self.made
        actions = [
            a
            for a in joinery.fittings[fastener.fitting].actions
            if a.do in ("drive", "turn", "nail") and a.tool is not None
            if operation.items.get(a.item or "") or a.do == "turn"
        ]
        for action in actions:
            tool = stock.tools.get(operation.tool or "")
            if tool is not None and tool.room:
                rooms = tool.room
            else:
                rooms = (action.free,) if action.free is not None else ()
            for one in fastener.items:
                if one.item != action.item or not rooms:
                    continue
                travel = 0.0
                if action.do != "turn":
                    travel = max(0.0, -min(p.z0 for p in stock.items[one.item].pieces))
                if not any(self._is_clear(one.frame, room, travel, fastener) for room in rooms):
                    raise ReplayError(
                        f"{operation.id}: no room for {operation.tool} at {fastener.id}"
                    )

    def _is_clear(self, frame: Frame, room: FreeSpace, travel: float, fastener: Fastener) -> bool:
        """A blade and a hand behind it meet no wood; a millimetre is let by."""
        own = {fastener.butting, fastener.receiving}
        there = self.together[fastener.receiving]
        end = room.length + travel
        rod = placed(Manifold.cylinder(end, 0.3, 0.3, 8), frame)
        start = 0.0
        for part in sorted(own & there, key=str):
            met = (rod ^ self.pieces[part][0].solid).decompose()
            spans = [
                [float(z) for z in self._heights(piece, frame)] for piece in met if piece.volume()
            ]
            start = max([start, *(max(span) for span in spans if min(span) < start + 1.0)])
        hand = (min(max(room.blade, start), end - 1.0), end, room.diameter, there)
        blade = (start, room.blade + travel, room.blade_diameter, there - own)
        for low, high, wide, parts in (hand, blade):
            if high - low < 2.5:
                continue
            space = Manifold.cylinder(high - low - 2.0, wide / 2 - 1.0, wide / 2 - 1.0, 16)
            space = placed(space.translate((0, 0, low + 1.0)), frame)
            if any(
                (space ^ self.pieces[part][0].solid).volume() > SLIVER
                for part in self._near(reaches(space))
                if part in parts
            ):
                return False
        return True

    def _near(self, box: np.ndarray) -> list[str]:
        """The parts whose boxes have room in common with a box."""
        lows, highs = self._boxes
        near = (highs > box[0]).all(axis=1) & (lows < box[1]).all(axis=1)
        return [self._names[n] for n in np.nonzero(near)[0]]

    def _heights(self, piece: Solid, frame: Frame) -> np.ndarray:
        points = np.asarray(piece.to_mesh().vert_properties, dtype=float)[:, :3]
        return (points - np.asarray(frame.origin)) @ np.asarray(frame.k)

    def fixture(self, operation: Operation) -> None:
        """Feet, handles, supports: one part, or several that are together."""
        for name in operation.fasteners:
            fastener = self.fasteners[name]
            for one in fastener.items:
                if one.item in operation.items and not self.used[name, one.item]:
                    if one.carrier is None:
                        self.used[name, one.item] += 1
                        part = frozenset((fastener.receiving,))
                        self.fixed.setdefault(fastener.receiving, []).extend(
                            self._shapes(one, part)
                        )
                    else:
                        self._fit(fastener, one.item)

    # -- moves ---------------------------------------------------------------------

    def move(self, operation: Operation) -> None:
        """Two groups, each together, come together on a straight free way."""
        moving, there = frozenset(operation.parts), frozenset(operation.onto)
        if operation.direction is None or not moving or not there or moving & there:
            raise ReplayError(f"{operation.id}: it moves nothing, or on to nothing")
        for group in (moving, there):
            if any(self.together[part] != group for part in group):
                raise ReplayError(f"{operation.id} moves a half that is not together")
        self._keep_to_pins(operation, moving, there)
        if operation.moves:
            self._check_moves(operation, moving, there)
        else:
            self._check_way(operation, moving, there)
        if operation.kind in MOVES:
            self._has_a_reason(operation, moving, there)
        for part in moving | there:
            self.together[part] = moving | there
        for joint in self.made[2].joints:
            ends = frozenset((joint.butting, joint.receiving))
            if len(ends & moving) == 1 and len(ends & there) == 1:
                self.closed[joint.name] += 1
                if joint.name not in operation.joints:
                    raise ReplayError(f"{operation.id} closes {joint.name} and does not say so")
        self.moves += 1

    def _keep_to_pins(
        self, operation: Operation, moving: frozenset[str], there: frozenset[str]
    ) -> None:
        """Pins go into their bores lengthwise only."""
        for joint in self.made[2].joints:
            if not any(self.made[2].fittings[f].holds == "pinned" for f in joint.fittings):
                continue
            k = self._way_off(joint)
            way = np.asarray(operation.direction)
            if operation.moves:
                last = operation.moves[-1]
                way = np.asarray(last.way) if isinstance(last, Slide) else np.zeros(3)
            if joint.butting in moving and joint.receiving in there:
                across = np.linalg.norm(way + k)
            elif joint.receiving in moving and joint.butting in there:
                across = np.linalg.norm(way - k)
            else:
                continue
            if across > 1e-4:
                raise ReplayError(f"{operation.id} moves across the pins of {joint.name}")

    # -- what joins or carries what -------------------------------------------------

    def _has_a_reason(
        self, operation: Operation, moving: frozenset[str], there: frozenset[str]
    ) -> None:
        """A joint closes, or what comes stays where it is put; else the plan must tell of it."""
        self.unheld += [operation.id] * (len(self.joined_pieces(moving)) - 1)
        low, floor = (self.low(names, operation.posture) for names in (moving, there))
        if low < floor - 1.0:  # what is there is lifted onto what comes
            self.unheld += [operation.id] * (len(self.joined_pieces(there)) - 1)
        if any(
            len(ends & moving) == 1 and len(ends & there) == 1
            for joint in self.made[2].joints
            for ends in (frozenset((joint.butting, joint.receiving)),)
        ):
            return
        if all(self.made[1].part(name).loose for name in moving):
            return
        standing = operation.posture is Posture.STANDING
        if operation.kind is OperationKind.LOAD:
            if not self.rests(moving, there, operation.posture, STEADY):
                self.unheld.append(operation.id)
            return
        if operation.rests and not self.rests(moving, there, operation.posture, EASY):
            raise ReplayError(f"{operation.id}: it does not rest there")
        if not operation.rests:
            if self.rests(moving, there, operation.posture, SURE):
                raise ReplayError(f"{operation.id}: it rests there, and the plan does not say so")
            self.unheld += [operation.id] * (1 if standing else 2)

    def turn(self, operation: Operation) -> None:
        """What is turned hangs together by its joints."""
        self.unheld += [operation.id] * (len(self.joined_pieces(operation.parts)) - 1)

    def joined_pieces(self, names: Iterable[str]) -> list[frozenset[str]]:
        """The sets of some parts that joints between them hold together."""
        left = {name for name in names if not self.made[1].part(name).loose}
        found = []
        while left:
            piece = {left.pop()}
            while True:
                ends = [{j.butting, j.receiving} for j in self.made[2].joints]
                more = {n for pair in ends if pair & piece for n in pair & left}
                if not more:
                    break
                piece |= more
                left -= more
            found.append(frozenset(piece))
        return found

    def rests(
        self, moving: Iterable[str], there: Iterable[str], posture: Posture, share: float
    ) -> bool:
        """Each is carried by the floor or the other."""
        up = np.asarray(UP[posture], dtype=float)
        groups = [
            [self.pieces[name][0].solid for name in sorted(names)] for names in (moving, there)
        ]
        lows = [self.low(names, posture) for names in (moving, there)]
        floor = min(lows)
        if not self._is_steady(groups[0], groups[1], up, floor, share):
            return False
        if len(groups[1]) > MANY and lows[1] <= floor + 1.0:
            return True
        return self._is_steady(groups[1], groups[0], up, floor, share)

    def low(self, names: Iterable[str], posture: Posture) -> float:
        """The lowest point of some parts in a posture."""
        up = np.asarray(UP[posture], dtype=float)
        return min(float((self._points(self.pieces[n][0].solid) @ up).min()) for n in names)

    def _points(self, solid: Solid) -> np.ndarray:
        return np.asarray(solid.to_mesh().vert_properties, dtype=float)[:, :3]

    def _is_steady(
        self, group: list[Solid], others: list[Solid], up: np.ndarray, floor: float, share: float
    ) -> bool:
        """Let it fall by a hair: where it then stands in others, or in the floor, it is carried."""
        hair = 0.05
        u = np.roll(up, 1)
        v = np.cross(up, u)
        carriers = []
        for solid in group:
            points = self._points(solid)
            carriers += list(points[points @ up <= floor + 1.0])
            dropped = solid.translate(tuple(-hair * up))
            for other in others:
                met = dropped ^ other
                if met.volume() > 1e-3:
                    carriers += list(self._lying(met, up))
        if not carriers:
            return False
        masses = np.array([solid.volume() for solid in group])
        middles = np.array([self._middle(solid) for solid in group])
        middle = masses @ middles / masses.sum()
        spots = np.array([[p @ u, p @ v] for p in carriers])
        if np.linalg.matrix_rank(spots - spots[0], tol=1.0) < 2:
            return False
        at = np.array([middle @ u, middle @ v])
        angles = np.linspace(0.0, 2 * np.pi, 1441)[:-1]
        ways = np.array([np.cos(angles), np.sin(angles)])
        room = float(((spots - at) @ ways).max(axis=0).min())
        height = float(middle @ up) - min(float(p @ up) for p in carriers)
        return bool(room >= share * height)

    def _lying(self, solid: Solid, up: np.ndarray) -> np.ndarray:
        """The corners of what faces up; flush walls beside it leave slivers that do not."""
        mesh = solid.to_mesh()
        corners = self._points(solid)[np.asarray(mesh.tri_verts)]
        normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        sizes = np.linalg.norm(normals, axis=1)
        lie = (sizes > 1e-6) & (normals @ up > 0.95 * np.maximum(sizes, 1e-12))
        return corners[lie].reshape(-1, 3)

    def _middle(self, solid: Solid) -> np.ndarray:
        """The centre of a solid: of the tetrahedra from one point to all its triangles."""
        mesh = solid.to_mesh()
        points = self._points(solid)
        corners = points[np.asarray(mesh.tri_verts)] - points[0]
        sizes = np.linalg.det(corners)
        return points[0] + (corners.sum(axis=1) / 4 * sizes[:, None]).sum(axis=0) / sizes.sum()

    def _way_off(self, joint: PlacedJoint) -> np.ndarray:
        """The way in which the first pinning fitting lets its butting part go."""
        of_fitting = {f: self.made[2].fittings[f] for f in joint.fittings}
        name = next(f for f in joint.fittings if of_fitting[f].holds == "pinned")
        said = of_fitting[name].way
        placed = [self.fasteners[id] for id in joint.fasteners]
        frame = next((f.frame for f in placed if f.fitting == name), joint.contact.frame)
        axis = {"i": frame.i, "j": frame.j, "k": frame.k}[said[1]]
        return np.asarray(axis) * (1.0 if said[0] == "+" else -1.0)

    def _check_way(
        self, operation: Operation, moving: frozenset[str], there: frozenset[str]
    ) -> None:
        assert operation.direction is not None
        standing = [
            (piece, part)
            for part in sorted(there)
            for piece in self.pieces[part]
            if not self._hidden(piece, there)
        ]
        lows, highs = (np.array([piece.box[n] for piece, _ in standing]) for n in (0, 1))
        back = -self.length * np.asarray(operation.direction)
        for part in sorted(moving):
            for piece in self.pieces[part]:
                if self._hidden(piece, moving):
                    continue
                # The box round a way needs no way: the solid's own, drawn out.
                low = piece.box[0] + np.minimum(back, 0)
                high = piece.box[1] + np.maximum(back, 0)
                near = (highs > low + 1e-6).all(axis=1) & (lows < high - 1e-6).all(axis=1)
                for number in np.nonzero(near)[0]:
                    other, owner = standing[number]
                    if self._meant(piece, part, other, owner):
                        continue
                    if self._in_its_bore(piece, other, operation):
                        continue
                    if (self._way(piece, operation) ^ other.solid).volume() > SLIVER:
                        raise ReplayError(
                            f"{operation.id}: {piece.name} of {part} runs into "
                            f"{other.name} of {owner}"
                        )

    def _check_moves(
        self, operation: Operation, moving: frozenset[str], there: frozenset[str]
    ) -> None:
        """The room of each of several moves, read backwards from the finished place."""
        first = operation.moves[0]
        if not isinstance(first, Slide) or not np.isinf(first.length):
            raise ReplayError(f"{operation.id}: it does not come from outside")
        for part in sorted(moving):
            for piece in self.pieces[part]:
                if self._hidden(piece, moving):
                    continue
                for room, closes in self._legs(piece.solid, operation):
                    box = reaches(room)
                    for owner in sorted(there):
                        for other in self.pieces[owner]:
                            if self._hidden(other, there):
                                continue
                            if (box[1] <= other.box[0]).any() or (box[0] >= other.box[1]).any():
                                continue
                            if closes and self._meant(piece, part, other, owner):
                                continue
                            if (room ^ other.solid).volume() > SLIVER:
                                raise ReplayError(
                                    f"{operation.id}: {piece.name} of {part} runs into "
                                    f"{other.name} of {owner} on its way round"
                                )

    def _legs(self, solid: Solid, operation: Operation) -> Iterator[tuple[Solid, bool]]:
        """Each move's room, and whether pins may go into their bores in it."""
        for number, move in enumerate(reversed(operation.moves)):
            if isinstance(move, Slide):
                length = min(move.length, 2 * self.length)
                yield way_of(solid, move.way, length), number == 0
                solid = solid.translate(tuple(-length * np.asarray(move.way)))
            else:
                yield from ((room, False) for room in arc_of(solid, move))
                solid = solid.transform(turn_back(move, 1.0))

    def _way(self, piece: Piece, operation: Operation) -> Solid:
        assert operation.direction is not None
        key = (id(piece), operation.direction)
        if key not in self._ways:
            self._ways[key] = way_of(piece.solid, operation.direction, self.length)
        return self._ways[key]

    def _hidden(self, piece: Piece, group: frozenset[str]) -> bool:
        """Inside a closed joint of its own group."""
        return len(piece.meant_for) == 2 and piece.meant_for <= group

    def _meant(self, piece: Piece, part: str, other: Piece, owner: str) -> bool:
        """A pin and the part whose bore takes it, or two items of one joint."""
        return (
            owner in piece.meant_for
            or part in other.meant_for
            or (
                bool(piece.meant_for & other.meant_for and len(piece.meant_for) == 2)
                and piece.meant_for == other.meant_for
            )
        )

    def _in_its_bore(self, piece: Piece, other: Piece, operation: Operation) -> bool:
        """Hardware that ends inside a third part sits in a bore made for it there.

        It may go in there along itself.
        """
        for one, _ in ((piece, other), (other, piece)):
            if one.meant_for and (piece.solid ^ other.solid).volume() > SLIVER:
                low, high = reaches(one.solid)
                long = np.argmax(high - low)
                return bool(abs(operation.direction[long]) > 0.999)  # type: ignore[index]
        return False

    # -- how it lies -----------------------------------------------------------------

    def lie(self, operation: Operation) -> None:
        """The work lies as the operation says, or was turned to."""
        if operation.kind in TURNS:
            self.lying[operation.subassembly] = operation.posture
        elif operation.kind in (OperationKind.MATE, *CLOSED_BY, OperationKind.LOAD):
            if operation.kind is OperationKind.CAP:
                return
            now = self.lying.setdefault(operation.subassembly, operation.posture)
            if now is not operation.posture:
                raise ReplayError(
                    f"{operation.id} wants it {operation.posture.value}, it lies {now.value}"
                )

    def rest(self, operation: Operation) -> None:
        """The work lies on wood, or on strips as high as its hardware sticks out below.

        A product that stands may stand on its feet: what points down then is not asked.
        """
        if operation.kind not in (*MOVES, *TURNS):
            return
        body = self.together[(operation.onto or operation.parts)[0]]
        down = -np.asarray(UP[operation.posture])
        before = [self.strips.get(part, (0.0, None)) for part in body]
        strips = max((high for high, way in before if way is operation.posture), default=0.0)
        strips = max(strips, operation.strips)
        self.strips.update(dict.fromkeys(body, (strips, operation.posture)))
        wood = max(self._deepest(self.pieces[part][0], down) for part in body)
        for part in sorted(body):
            for piece in (*self.pieces[part][1:], *self.fixed.get(part, ())):
                out = self._deepest(piece, down) - wood
                stands = operation.posture is Posture.STANDING and not piece.meant_for - {part}
                if out > max(PROUD, strips + 0.5) and not stands:
                    raise ReplayError(
                        f"{operation.id}: it lies on {piece.name} of {part}, {out:.1f} mm"
                    )

    def feet(self, group: Iterable[str]) -> list[tuple[str, np.ndarray]]:
        """The corners of hardware below the wood, on which what stands may stand."""
        low = self.low(group, Posture.STANDING)
        return [
            (part, self._points(piece.solid))
            for part in sorted(group)
            for piece in (*self.pieces[part][1:], *self.fixed.get(part, ()))
            if piece.box[0][2] < low and piece.meant_for <= {part}
        ]

    def _deepest(self, piece: Piece, down: np.ndarray) -> float:
        points = np.asarray(piece.solid.to_mesh().vert_properties, dtype=float)[:, :3]
        return float((points @ down).max())

    # -- the end ---------------------------------------------------------------------

    def finish(self) -> None:
        """Everything is together, every joint closed once, every item used once."""
        everything = frozenset(part.name for part in self.made[1].parts)
        if everything and any(group != everything for group in self.together.values()):
            raise ReplayError("not everything is together at the end")
        for joint in self.made[2].joints:
            if self.closed[joint.name] != 1:
                raise ReplayError(f"{joint.name} is closed {self.closed[joint.name]} times")
        for fastener in self.made[2].fasteners:
            for item in {p.item for p in fastener.items}:
                if not self.used[fastener.id, item]:
                    raise ReplayError(f"{item} of {fastener.id} is never used")
        done = Counter(o for step in self.plan.steps for o in step.operations)
        if done != Counter(self.plan.order):
            raise ReplayError("the steps do not hold every operation once")
        if [o for step in self.plan.steps for o in step.operations] != list(self.plan.order):
            raise ReplayError("the steps are not in the order of the plan")
        worked = Counter(
            name for o in done_in(self.plan) if o.kind in CLOSED_BY for name in o.fasteners
        )
        check_glue(self.made[2], self.made[3], list(done_in(self.plan)))
        for fastener in self.made[2].fasteners:
            if fastener.butting is not None and worked[fastener.id] < self._late(fastener):
                raise ReplayError(f"{fastener.id} is closed and then left undone")

    def _late(self, fastener: Fastener) -> int:
        """How many things the fitting wants done once its joint is closed."""
        actions = self.made[2].fittings[fastener.fitting].actions
        late = list(itertools.dropwhile(lambda a: a.do not in COMES_TOGETHER, actions))
        return sum(a.stage == "home" and a.do not in SETTING for a in late[1:])


def done_in(plan: Plan) -> Iterator[Operation]:
    """All operations in their order, those of the workshop first."""
    for shop in plan.workshop:
        by_id = {o.id: o for o in shop.operations}
        yield from (by_id[id] for id in shop.order)
    yield from (plan.operation(id) for id in plan.order)


def replay(made: Made, plan: Plan) -> int:
    """Do the plan, what is done before packing included; return the number of moves.

    Raises:
        ReplayError: it cannot be done; the message says what and where.
    """
    return followed(made, plan).moves


def followed(made: Made, plan: Plan) -> Replay:
    """Do the plan; ``unheld`` are the operations in which nothing joins or carries something.

    Each stands there as often as the planner should mind it: twice for what is brought to
    work that does not stand.
    """
    run = Replay(made, plan)
    solids = {name: pieces[0].solid for name, pieces in run.pieces.items()}
    shops = {o.id: n for n, shop in enumerate(plan.workshop) for o in shop.operations}
    balances: dict[int | None, Balance] = {}  # of each thing made before packing, and at home
    stood: list[tuple[Operation, frozenset[str], list[tuple[str, np.ndarray]]]] = []
    for operation in done_in(plan):
        run.lie(operation)
        if operation.kind is OperationKind.FIT:
            run.fit(operation)
        elif operation.kind in MOVES:
            run.move(operation)
        elif operation.kind in TURNS:
            run.turn(operation)
        elif operation.kind in CLOSED_BY:
            run.fasten(operation)
        elif operation.kind in (OperationKind.FIXTURE, OperationKind.SECURE):
            run.fixture(operation)
        run.rest(operation)
        if operation.parts:
            group = run.together[(operation.onto or operation.parts)[0]]
            feet = run.feet(group) if operation.posture is Posture.STANDING else []
            stood.append((operation, group, feet))
    run.finish()
    for operation, group, feet in stood:  # what cannot be done at all is told first
        shop = shops.get(operation.id)
        if shop not in balances:
            balances[shop] = Balance(made[1], made[2], made[3], solids, packed=shop is None)
        balances[shop].do(operation, group, feet)
    return run
