"""How the work stands at every moment of a plan, from the solids, with code of its own.

Shares nothing with the planner but the numbers that it is to keep: it lets solids down by a
hair to see what carries them, looks for the nearest tipping line in every direction, and weighs
solids by their boards.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import manifold3d
import numpy as np

from kdkit.catalogue.entries import Catalogue
from kdkit.geometry.assembly import Assembly, ContactKind
from kdkit.joinery.placed import Joinery, PlacedJoint
from kdkit.model.resolved import Part
from kdkit.parts.postures import UP
from kdkit.plan.plan import Operation, OperationKind, Posture, WhyTwo

__all__ = ["Balance", "FallsError"]

LEAN = 10.0  # degrees
PUSH = 50.0  # N
KEPT_IN = 20.0  # N, of a driver that only turns
SLIDING = 0.5  # of the weight of what stands on the floor
HAND = 5.0  # kg
PACKED = 30.0  # mm that strips make up for
DRAWS = {"glue", "drive", "nail", "turn", "screw-on", "draw"}
MOST_CARRIED = {1: 20.5, 2: 20.5 * 4 / 3, 3: 20.5 * 3 / 2, 4: 20.5 * 2}
"""kg, in the best zone, hands close."""
TURNS = (OperationKind.TURN, OperationKind.STAND)
ANGLES = np.linspace(0.0, 2 * np.pi, 1441)[:-1]
WAYS = np.array([np.cos(ANGLES), np.sin(ANGLES)])
HAIR = 0.05

Solid = manifold3d.Manifold
Foot = tuple[str, np.ndarray]


class FallsError(AssertionError):
    """Something falls over that nobody holds, or a figure of the plan is wrong."""


def points_of(solid: Solid) -> np.ndarray:
    """The corners of a solid."""
    return np.asarray(solid.to_mesh().vert_properties, dtype=float)[:, :3]


def middle_of(solid: Solid) -> np.ndarray:
    """The centre of a solid, of tetrahedra from one corner."""
    points = points_of(solid)
    corners = points[np.asarray(solid.to_mesh().tri_verts)] - points[0]
    sizes = np.linalg.det(corners)
    return points[0] + (corners.sum(axis=1) / 4 * sizes[:, None]).sum(axis=0) / sizes.sum()


def density_of(part: Part, stock: Catalogue) -> float:
    """kg/mm³, from the row of the board that holds the thickness, else the nearest."""
    rows = stock.boards[part.material or ""].strength
    gaps = [
        max(row.thickness[0] - part.thickness, part.thickness - row.thickness[1], 0.0)
        + (0.001 if part.thickness <= row.thickness[0] else 0.0)
        for row in rows
    ]
    return rows[int(np.argmin(gaps))].density * 1e-9


@dataclass(eq=False)
class Balance:
    """What is fastened to what by now; solids by the parts' names."""

    assembly: Assembly
    joinery: Joinery
    stock: Catalogue
    solids: dict[str, Solid]
    packed: bool = True  # joints made before packing are closed from the start
    one: dict[str, frozenset[str]] = field(default_factory=dict)
    pins: set[frozenset[str]] = field(default_factory=set)
    lay: dict[str, Posture] = field(default_factory=dict)
    on_wall: bool = False
    _under: dict[tuple[str, Posture], dict[str, np.ndarray]] = field(default_factory=dict)
    _lows: dict[tuple[str, Posture], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.joints = {joint.name: joint for joint in self.joinery.joints}
        self.loose = {part.name for part in self.assembly.parts if part.loose}
        self.corners = {name: points_of(solid) for name, solid in self.solids.items()}
        self.middles = {name: middle_of(solid) for name, solid in self.solids.items()}
        self.boxes = {
            name: np.array(solid.bounding_box()).reshape(2, 3)
            for name, solid in self.solids.items()
        }
        self.kg = {}
        for part in self.assembly.parts:
            self.one[part.name] = frozenset((part.name,))
            volume = self.solids[part.name].volume()
            self.kg[part.name] = (
                part.mass if part.mass is not None else volume * density_of(part, self.stock)
            )
        for joint in self.joinery.joints:
            if joint.workshop and self.packed:
                self._join(joint)

    def _join(self, joint: PlacedJoint) -> None:
        both = self.one[joint.butting] | self.one[joint.receiving]
        self.one.update(dict.fromkeys(both, both))

    def _deeds(self, joint: PlacedJoint) -> set[str]:
        return {a.do for f in joint.fittings for a in self.joinery.fittings[f].actions}

    def do(self, operation: Operation, group: frozenset[str], feet: Iterable[Foot]) -> None:
        """Judge the work as it stands in an operation.

        Args:
            group: all that is together with what is worked on.
            feet: the points of the hardware that each part stands on.
        """
        kind = operation.kind
        self._carry(operation)
        if kind is OperationKind.MATE and len(operation.onto) > 1:
            self._wait_for_it(operation, group - set(operation.parts))
        if kind in (OperationKind.MATE, OperationKind.LOAD):
            for name in operation.joints:
                joint = self.joints[name]
                ways = {self.joinery.fittings[f].holds for f in joint.fittings}
                meets = joint.contact.kind in (ContactKind.HUNG, ContactKind.FACING)
                stays = bool({"hang", "run-in"} & self._deeds(joint))
                if stays if meets else "captured" in ways:
                    self._join(joint)
                elif ways != {"free"} or joint.contact.sunk > 0:
                    self.pins.add(frozenset((joint.butting, joint.receiving)))
        if kind is OperationKind.WAIT:
            self._draw(operation)
        judged = kind not in (OperationKind.FIT, OperationKind.GLUE, OperationKind.REMOVE)
        alone = len(group) == 1 and kind not in TURNS
        standing = operation.posture is Posture.STANDING and not operation.subassembly
        if judged and operation.parts and not alone and not (self.on_wall and standing):
            self._judge(operation, group, list(feet) if standing else [])
        if kind is OperationKind.FASTEN:
            self._draw(operation)
        if kind is OperationKind.SECURE:
            if not {WhyTwo.FREE, WhyTwo.HUNG} & set(operation.why_two):
                raise FallsError(f"{operation.id}: nobody holds it until it is fixed")
            self.on_wall = True

    def _carry(self, operation: Operation) -> None:
        """What the hands carry: all of a lift, of a tilt the share by its lever; who it takes."""
        parts = operation.lifted or operation.parts
        wood = sum(self.kg[name] for name in parts)
        lifted = operation.kind in (OperationKind.MATE, OperationKind.LOAD)
        if lifted and operation.hands < 0.95 * wood:
            raise FallsError(f"{operation.id}: {operation.hands:.1f} kg of {wood:.1f} lifted")
        if operation.kind in TURNS:
            self._tilt(operation, wood)
        if not operation.aid and operation.hands > MOST_CARRIED[operation.persons] + 1e-6:
            raise FallsError(f"{operation.id}: {operation.hands:.1f} kg for {operation.persons}")
        if operation.kind is not OperationKind.FIT:
            for name in (*operation.parts, *operation.onto):
                self.lay[name] = operation.posture

    def _tilt(self, operation: Operation, wood: float) -> None:
        before = self.lay.get(operation.parts[0], operation.posture)
        up, to = (np.asarray(UP[q], dtype=float) for q in (before, operation.posture))
        if abs(float(up @ to)) > 0.5:
            return
        corners = np.vstack([self.corners[name] for name in operation.parts])
        levels, heights = corners @ to, corners @ up
        middle = sum((self.kg[n] * self.middles[n] for n in operation.parts), np.zeros(3)) / wood
        long, tall = float(np.ptp(levels)), float(np.ptp(heights))
        share = (float(middle @ to) - float(levels.min())) / long
        if abs(operation.hands - operation.mass * share) > 0.03 * operation.mass:
            raise FallsError(f"{operation.id}: {operation.hands:.1f} kg in the hands, {share:.2f}")
        if operation.mass < 0.95 * wood or abs(operation.room - math.hypot(long, tall)) > 2.0:
            raise FallsError(f"{operation.id}: {operation.mass:.1f} kg, room {operation.room:.0f}")

    def _wait_for_it(self, operation: Operation, there: frozenset[str]) -> None:
        """What would fall before the parts that come hold it is held while they come."""
        standing = operation.posture is Posture.STANDING and not operation.subassembly
        if self.on_wall and standing:
            return
        low = min(self._low(name, operation.posture) for name in there)
        kept = {*operation.held, *operation.in_hand}
        bodies = {self.one[name] for name in there}
        # What hands keep steady stands all the same, and carries what lies on it.
        rest = there
        for body in sorted(bodies, key=sorted):
            if body & kept or self._is_kept(body, there):
                continue
            packs = (0.0, operation.pack) if standing else (0.0, operation.pack, PACKED)
            leans = [
                self._margins(body, rest, replace(operation, pack=pack), low, [])[0]
                for pack in dict.fromkeys(packs)
            ]
            if max(leans) < LEAN - 0.5:
                raise FallsError(f"{operation.id}: {sorted(body)} falls before it is met")

    def _draw(self, operation: Operation) -> None:
        for name in operation.joints:
            if DRAWS & self._deeds(self.joints[name]):
                self._join(self.joints[name])

    def _judge(self, operation: Operation, group: frozenset[str], feet: list[Foot]) -> None:
        up = np.asarray(UP[operation.posture], dtype=float)
        low = min(self._low(name, operation.posture) for name in group)
        low = min([low, *(float((some @ up).min()) for _, some in feet)])
        kept = {*operation.held, *operation.in_hand}
        if operation.pack > PACKED + 0.1 or (operation.pack and operation.posture == "standing"):
            raise FallsError(f"{operation.id}: packed up by {operation.pack}")
        first = operation.onto or operation.parts
        worked = frozenset().union(*(self.one[name] for name in first))
        leans, pushes = [], []
        bodies = {self.one[name] for name in group}
        held = frozenset().union(*(body for body in bodies if body & kept))
        alone = [body for body in bodies if not body & kept and not self._is_kept(body, group)]
        rest = group - held
        if operation.kind is OperationKind.SECURE:
            alone = []
        secured = operation.kind is OperationKind.SECURE
        if rest and (rest not in bodies or secured):
            alone.append(rest)
        for body in sorted(alone, key=sorted):
            lean, push = self._margins(body, group, operation, low, feet)
            free = operation.kind is not OperationKind.SECURE
            if free and lean < LEAN - 0.5:
                raise FallsError(f"{operation.id}: {sorted(body)} leans over at {lean:.1f} degrees")
            heavy = sum(self.kg[name] for name in body) > HAND
            touched = free and heavy and operation.kind not in TURNS and bool(body & worked)
            if touched and push < 0.94 * self._needed(operation, group):
                raise FallsError(f"{operation.id}: {push:.0f} N tip {sorted(body)}")
            leans.append(lean)
            if touched:
                pushes.append(push)
        self._compare(operation, "lean", operation.lean, leans, 1.5)
        self._compare(operation, "push", operation.push, [p for p in pushes if p < 1e9], 2.0)

    def _needed(self, operation: Operation, group: frozenset[str]) -> float:
        need = KEPT_IN if operation.does == ("turn",) else PUSH
        if operation.braced:
            if operation.kind.value not in ("fasten", "fixture", "cap"):
                raise FallsError(f"{operation.id}: no hand is left to brace it")
            need *= 0.5
        return min(need, SLIDING * 9.81 * sum(self.kg[name] for name in group))

    def _pushes(self, operation: Operation) -> list[tuple[np.ndarray, np.ndarray]] | None:
        """Where and whither hands push; None: level, any way, at the height that is told."""
        if operation.kind is OperationKind.WAIT:
            return []
        found = []
        if operation.kind is OperationKind.MATE:
            for name in operation.joints:
                contact = self.joints[name].contact
                corners = np.array(contact.polygon)
                x, y = (corners.min(axis=0) + corners.max(axis=0)) / 2
                point = np.array(contact.frame.point_to_outer((x, y, 0.0)))
                found.append((point, np.asarray(operation.direction, dtype=float)))
            return found or None
        if operation.kind in (OperationKind.FASTEN, OperationKind.CAP, OperationKind.FIXTURE):
            for fastener in self.joinery.fasteners:
                if fastener.id not in operation.fasteners:
                    continue
                actions = self.joinery.fittings[fastener.fitting].actions
                keys = set(operation.items) or {a.item for a in actions if a.do in operation.does}
                for one in fastener.items:
                    if one.item in keys:
                        found.append((np.array(one.frame.origin), -np.array(one.frame.k)))
            return found or None
        return None

    def _compare(
        self, operation: Operation, what: str, said: float | None, found: list[float], by: float
    ) -> None:
        if said is None and not found:
            return
        if said is None or not found:
            raise FallsError(f"{operation.id}: {what} {said}, found {found}")
        if abs(said - min(found)) > by + 0.06 * abs(said):
            raise FallsError(f"{operation.id}: {what} {said:.1f} said, {min(found):.1f} found")

    def _is_kept(self, body: frozenset[str], group: frozenset[str]) -> bool:
        if body <= self.loose:
            return True
        others = {
            name
            for pair in self.pins
            if len(pair & body) == 1
            for name in pair - body
            if name in group
        }
        return len(others) > 1

    def _low(self, name: str, posture: Posture) -> float:
        key = name, posture
        if key not in self._lows:
            up = np.asarray(UP[posture], dtype=float)
            self._lows[key] = float((self.corners[name] @ up).min())
        return self._lows[key]

    def _margins(
        self,
        body: frozenset[str],
        group: frozenset[str],
        operation: Operation,
        low: float,
        feet: list[Foot],
    ) -> tuple[float, float]:
        up = np.asarray(UP[operation.posture], dtype=float)
        u = np.roll(up, 1)
        v = np.cross(up, u)
        stands_on: list[np.ndarray] = []
        for name in sorted(body):
            points = self.corners[name]
            own = self._low(name, operation.posture) if operation.pack else low
            if own <= low + operation.pack + 1.0:
                stands_on += list(points[points @ up <= own + 1.0])
            for other, met in self._carriers(name, operation.posture).items():
                if other in group - body:
                    stands_on += list(met)
        stands_on += [p for name, some in feet if name in body for p in some if p @ up <= low + 1.0]
        if len(stands_on) < 3:
            return -90.0, 0.0
        spots = np.array([[p @ u, p @ v] for p in stands_on])
        if np.linalg.matrix_rank(spots - spots[0], tol=1.0) < 2:
            return -90.0, 0.0
        mass = sum(self.kg[name] for name in body)
        middle = sum((self.kg[name] * self.middles[name] for name in body), np.zeros(3)) / mass
        at = np.array([middle @ u, middle @ v])
        room = float(((spots - at) @ WAYS).max(axis=0).min())
        foot = min(float(p @ up) for p in stands_on)
        height = float(middle @ up) - foot
        hangs = height <= 0  # below what carries it: it cannot tip
        lean = math.degrees(math.atan2(room, max(height, 0.0)))
        lean = (90.0 if room >= 0 else -90.0) if hangs else lean
        top = max(float((self.corners[name] @ up).max()) for name in body)
        weight = mass * 9.81
        pushes = self._pushes(operation)
        if pushes is None:
            above = min(operation.height + low, top) - foot
            return lean, math.inf if above <= 0 else max(0.0, weight * room / above)
        push = math.inf
        reach = ((spots - at) @ WAYS).max(axis=0)  # from the middle to the lines it may tip over
        for spot, way in pushes:
            above = max(min(float(spot @ up), top) - foot, 0.0)
            beside = ((spots - np.array([spot @ u, spot @ v])) @ WAYS).max(axis=0)
            arm = np.array([way @ u, way @ v]) @ WAYS * above + float(way @ up) * beside
            tips = arm > 1e-3
            if room < 0:
                push = 0.0
            elif tips.any():
                push = min(push, float((weight * reach[tips] / arm[tips]).min()))
        return lean, push

    def _carriers(self, name: str, posture: Posture) -> dict[str, np.ndarray]:
        """For each part under one the corners of what faces up where they meet."""
        key = name, posture
        if key in self._under:
            return self._under[key]
        up = np.asarray(UP[posture], dtype=float)
        dropped = self.solids[name].translate(tuple(-HAIR * up))
        low, high = self.boxes[name]
        found = {}
        for other, (other_low, other_high) in self.boxes.items():
            near = (high > other_low - HAIR).all() and (low - HAIR < other_high).all()
            if other == name or not near:
                continue
            met = dropped ^ self.solids[other]
            if met.volume() > 1e-3:
                lying = self._lying(met, up)
                if len(lying):
                    found[other] = lying
        self._under[key] = found
        return found

    def _lying(self, solid: Solid, up: np.ndarray) -> np.ndarray:
        corners = points_of(solid)[np.asarray(solid.to_mesh().tri_verts)]
        normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        sizes = np.linalg.norm(normals, axis=1)
        lie = (sizes > 1e-6) & (normals @ up > 0.95 * np.maximum(sizes, 1e-12))
        return corners[lie].reshape(-1, 3)
