"""Do the planner, the replay and trying every order agree on random products?

    python tests/bench/agree.py --count 10000 --seed 1

Takes carcasses, pin-wheels, rings of three, stacks of boxes and cases with backs in
grooves, jointed at random. A plan must replay; up to six parts the verdict must be that
of trying all splits, in a program that knows boxes and pins only. Any disagreement is
printed with the seed that makes it again, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import itertools
import pathlib
import random
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

from kdkit.geometry import contact_between
from kdkit.model.resolved import Part
from kdkit.plan import make_plan
from kdkit.plan.plan import Impossible, Plan, Posture
from kdkit.plan.verify import verify_impossible
from tests.boxes import Box, Made, board, corner_ring, make, pinwheel
from tests.replay import STEADY, Replay, followed

__all__ = ["KINDS", "can_be_built", "disagreement", "least_unheld", "random_product"]

Joints = dict[tuple[str, str], str | tuple[str, ...]]

TRIED = 6  # parts up to which every order is tried
PINNED = ("pin", "dowels", "cams", "shop-dowels")
OPEN = ("capped-screws", "bare", "glue")
PITCH = (60, 61, 62)  # mm, of the grid of a stack; no two sides of a box are alike
WOOD = 0.02  # mm; boxes that share less do not collide


class Chance(random.Random):
    """Chance, with the share of joints of one product that are pinned."""

    pinned = 0.5

    def how(self) -> str:
        """A way of jointing."""
        return self.choice(PINNED if self.random() < self.pinned else OPEN)


def touching(parts: Sequence[Part]) -> list[tuple[str, str]]:
    """The pairs of parts that touch."""
    assembly = make(parts, {})[1]
    names = [part.name for part in parts]
    return [(a, b) for a, b in itertools.combinations(names, 2) if contact_between(assembly, a, b)]


def stack(rng: Chance) -> Made:
    """Up to six boxes on a grid, close together."""
    kept: list[Box] = []
    rods = rng.random() < 0.6
    wide = 1 if rods else rng.randint(1, 3)
    for _ in range(rng.randint(4, 30)):
        corner = [rng.randint(0, wide) for _ in range(3)]
        size = [rng.randint(1, wide) for _ in range(3)]
        if rods:
            size = [1, 1, 1]
            size[rng.randint(0, 2)] = 2 if len(kept) < 3 else 1
        lows = tuple(float(PITCH[n] * corner[n]) for n in range(3))
        highs = tuple(float(PITCH[n] * (corner[n] + size[n])) for n in range(3))
        if all(any(highs[n] <= o[0][n] or o[1][n] <= lows[n] for n in range(3)) for o in kept):
            kept.append((lows, highs))  # type: ignore[arg-type]
    parts = [board(f"p{n}", *b) for n, b in enumerate(kept[:TRIED])]
    return make(parts, {pair: rng.how() for pair in touching(parts)})


def wheel(rng: Chance) -> Made:
    """A pin-wheel, or two in or on each other, with something across them at times."""
    parts, joints = pinwheel(how=rng.how())
    joints = {pair: rng.how() if rng.random() < 0.4 else how for pair, how in joints.items()}
    if rng.random() < 0.3:
        more, also = pinwheel("u", (0, 0, 200), how=rng.how())
        parts += more
        joints |= also
        for pair in (("a", "ua"), ("b", "ub"), ("c", "uc")):
            if rng.random() < 0.5:
                joints[pair] = rng.how()
        return make(parts, joints)
    if rng.random() < 0.5:
        parts.append(board("bar", (18, 200, 80), (582, 218, 160)))
        for pair in (("bar", "b"), ("bar", "d")):
            if rng.random() < 0.8:
                joints[pair] = rng.how()
        if rng.random() < 0.6:
            parts.append(board("post", (200, 18, 20), (218, 582, 70)))
            joints |= {("post", "a"): rng.how(), ("post", "c"): rng.how()}
    if rng.random() < 0.5:
        parts.append(board("lid", (0, 0, 200), (600, 600, 218)))
        for other in "abcd":
            if rng.random() < 0.5:
                joints["lid", other] = rng.how()
    return make(parts, joints)


def ring(rng: Chance) -> Made:
    """Three boards in a corner, each on the next, with one or two more beside them."""
    parts = list(corner_ring()[1].parts)
    joints: Joints = {
        pair: rng.how() if rng.random() < 0.5 else "dowels"
        for pair in (("floor", "left"), ("left", "rear"), ("rear", "floor"))
    }
    if rng.random() < 0.5:
        parts.append(board("lid", (0, 18, 300), (300, 300, 318)))
        joints["lid", "left"] = rng.how()
    if rng.random() < 0.5:
        parts.append(board("side", (300, 0, 0), (318, 300, 300)))
        joints |= {("side", "floor"): rng.how(), ("side", "rear"): rng.how()}
    return make(parts, joints)


def grooved(rng: Chance) -> Made:
    """A case with a back of 3 in grooves of two, three or four of its boards."""
    t, wide, high, deep, g = 18.0, 600.0, rng.choice((400.0, 720.0)), 400.0, 7.0
    over = rng.random() < 0.5  # top and bottom over the sides
    x0, x1, z0, z1 = (0.0, wide, t, high - t) if over else (t, wide - t, 0.0, high)
    caught = {n: rng.random() < 0.8 for n in ("left", "right", "bottom", "top")}
    low = [t - g if caught["left"] else t, t - g if caught["bottom"] else t]
    far = [wide - t + g if caught["right"] else wide - t]
    far.append(high - t + g if caught["top"] else high - t)
    parts = [
        board("left", (0, 0, z0), (t, deep, z1)),
        board("right", (wide - t, 0, z0), (wide, deep, z1)),
        board("bottom", (x0, 0, 0), (x1, deep, t)),
        board("top", (x0, 0, high - t), (x1, deep, high)),
        board("back", (low[0], deep - 20, low[1]), (far[0], deep - 17, far[1])),
    ]
    joints: Joints = {
        (lying, side): rng.how() for lying in ("bottom", "top") for side in ("left", "right")
    }
    joints |= {("back", n): "groove" for n in caught if caught[n]}
    if rng.random() < 0.5:
        parts.append(board("shelf", (t, 20, 200), (wide - t, deep - 21, 218)))
        for side in ("left", "right"):
            if rng.random() < 0.8:
                joints["shelf", side] = rng.how()
    return make(parts, joints)


def carcass(rng: Chance) -> Made:
    """A case with dividers and shelves, every joint in a way of its own."""
    t, deep, bays = 18.0, 300.0, rng.randint(1, 2)
    bay, high = rng.choice((300.0, 450.0)), rng.choice((700.0, 1200.0))
    wide = bays * bay + (bays + 1) * t
    outside = rng.random() < 0.5
    x0, x1, z0, z1 = (t, wide - t, 0.0, high) if outside else (0.0, wide, t, high - t)
    parts = [
        board("bottom", (x0, 0, 0), (x1, deep, t)),
        board("top", (x0, 0, high - t), (x1, deep, high)),
        board("left", (0, 0, z0), (t, deep, z1)),
        board("right", (wide - t, 0, z0), (wide, deep, z1)),
    ]
    joints: Joints = {(a, b): rng.how() for a in ("bottom", "top") for b in ("left", "right")}
    walls = ["left"]
    for n in range(1, bays):
        x = n * (bay + t)
        walls.append(f"divider_{n}")
        parts.append(board(walls[-1], (x, 0, t), (x + t, deep, high - t)))
        joints[walls[-1], "bottom"], joints[walls[-1], "top"] = rng.how(), rng.how()
    walls.append("right")
    for n in range(bays):
        if rng.random() < 0.6:
            x, z = n * (bay + t) + t, t + (high - 2 * t) / 3 + 40 * n
            parts.append(board(f"shelf_{n}", (x, 0, z), (x + bay, deep, z + t)))
            joints[f"shelf_{n}", walls[n]] = rng.how()
            joints[f"shelf_{n}", walls[n + 1]] = rng.how()
    if rng.random() < 0.5:
        parts.append(board("back", (1, deep, 1), (wide - 1, deep + 3, high - 1)))
        for name in [p.name for p in parts[:-1]]:
            joints[name, "back"] = rng.choice(("nails", "nails", "bare", "dowels"))
    return make(parts, joints)


KINDS: Mapping[str, Callable[[Chance], Made]] = {
    "stack": stack,
    "pin-wheel": wheel,
    "ring": ring,
    "grooves": grooved,
    "carcass": carcass,
}


def random_product(seed: int) -> tuple[str, Made]:
    """The product of a seed, and what kind it is."""
    rng = Chance(seed)
    rng.pinned = rng.choice((0.4, 0.7, 0.9, 1.0))
    kind = rng.choice(tuple(KINDS))
    made = KINDS[kind](rng)
    while not is_sound(made):
        made = KINDS[kind](rng)
    return kind, made


def is_sound(made: Made) -> bool:
    """No pin of the finished product runs through a third part or another pin."""
    bodies = things(made)
    for (i, box, fit, _), (j, other, fit_j, _) in itertools.combinations(bodies, 2):
        if (i == j and not (fit and fit_j)) or j in fit or i in fit_j or fit == fit_j:
            continue
        if all(box[0][n] < other[1][n] - WOOD and other[0][n] < box[1][n] - WOOD for n in range(3)):
            return False
    return True


# -- every order, tried ------------------------------------------------------------------


def wood(made: Made, part: Part) -> list[Box]:
    """A part as boxes, its grooves cut out of it."""
    low, high = extent(part)
    boxes = [(low, high)]
    for groove in made[2].grooves:
        if groove.part != part.name:
            continue
        z = (-groove.depth, 0.0)
        if groove.surface == "back":
            z = (-part.thickness, -part.thickness + groove.depth)
        corners = [part.frame.point_to_outer((*p, c)) for p in groove.polygon for c in z]
        hole = bounds(corners)
        boxes = [piece for box in boxes for piece in less(box, hole)]
    return boxes


def bounds(points: Sequence[Sequence[float]]) -> Box:
    """The box around points."""
    low, high = zip(*((min(v), max(v)) for v in zip(*points, strict=True)), strict=True)
    return low, high


def extent(part: Part) -> Box:
    """The box that a part fills."""
    return bounds(
        [
            part.frame.point_to_outer((x, y, z))
            for x, y in part.outline
            for z in (0.0, -part.thickness)
        ]
    )


def less(box: Box, hole: Box) -> Iterator[Box]:
    """The pieces of a box around a hole."""
    low, high = list(box[0]), list(box[1])
    if any(hole[1][n] <= low[n] or high[n] <= hole[0][n] for n in range(3)):
        yield box
        return
    for n in range(3):
        if hole[0][n] > low[n]:
            end = [*high]
            end[n] = hole[0][n]
            yield (low[0], low[1], low[2]), (end[0], end[1], end[2])
            low[n] = hole[0][n]
        if hole[1][n] < high[n]:
            start = [*low]
            start[n] = hole[1][n]
            yield (start[0], start[1], start[2]), (high[0], high[1], high[2])
            high[n] = hole[1][n]


Thing = tuple[int, Box, frozenset[int], frozenset[int]]
"""Owner, box, the parts whose bores take it, the parts without which it is not there."""


def things(made: Made) -> list[Thing]:
    """The wood of every part, and the pins that stick out of it before it is joined."""
    number = {part.name: n for n, part in enumerate(made[1].parts)}
    found: list[Thing] = [
        (number[part.name], box, frozenset(), frozenset())
        for part in made[1].parts
        for box in wood(made, part)
    ]
    for fastener in made[2].fasteners:
        if fastener.butting is None:
            continue
        ends = frozenset((number[fastener.butting], number[fastener.receiving]))
        for item in fastener.items:
            if item.carrier is None:
                continue
            owner = number[item.carrier]
            for piece in made[3].items[item.item].pieces:
                if piece.z1 <= 0:
                    continue
                r = piece.d0 / 2
                corners = [
                    item.frame.point_to_outer((x, y, z))
                    for x in (-r, r)
                    for y in (-r, r)
                    for z in (max(0.0, piece.z0), piece.z1)
                ]
                needs = frozenset() if fastener.fitting == "shop-dowels" else ends
                found.append((owner, bounds(corners), ends, needs))
    return found


EMPTY = Plan(
    operations=(),
    precedences=(),
    order=(),
    steps=(),
    motion_class="",
    search="",
    persons=1,
    minutes=0.0,
)

WAYS = tuple(itertools.product(range(3), (1, -1)))


def runs_into(a: Box, b: Box, axis: int, sign: int) -> bool:
    """Does a box, moved on along an axis, run into another?"""
    if any(a[1][o] <= b[0][o] + WOOD or b[1][o] <= a[0][o] + WOOD for o in range(3) if o != axis):
        return False
    if sign > 0:
        return b[1][axis] > a[0][axis] + WOOD
    return b[0][axis] < a[1][axis] - WOOD


Way = tuple[int, int]
Edges = set[tuple[int, int, frozenset[int]]]


def blocked(made: Made) -> dict[Way, Edges]:
    """For each way along an axis: i cannot move without j while some others are there."""
    number = {part.name: n for n, part in enumerate(made[1].parts)}
    bodies = things(made)
    in_the_way: dict[Way, Edges] = {}
    for way in WAYS:
        found = in_the_way[way] = set()
        for (i, box, fit, needs), (j, other, fit_j, needs_j) in itertools.permutations(bodies, 2):
            if i == j or j in fit or i in fit_j or (fit and fit == fit_j):
                continue
            if runs_into(box, other, *way):
                found.add((i, j, needs | needs_j))
    for joint in made[2].joints:
        if not set(PINNED) & set(joint.fittings):
            continue
        a, b = number[joint.butting], number[joint.receiving]
        for axis, sign in WAYS:
            along = joint.contact.frame.k[axis] * sign
            if along < 0.99:
                in_the_way[axis, sign].add((a, b, frozenset()))
            if along > -0.99:
                in_the_way[axis, sign].add((b, a, frozenset()))
    return in_the_way


def can_be_built(made: Made) -> bool:
    """Try every split into two halves along every axis, all the way down."""
    count = len(made[1].parts)
    in_the_way = blocked(made)

    @cache
    def solvable(parts: frozenset[int]) -> bool:
        if len(parts) == 1:
            return True
        relevant = {
            way: [(i, j) for i, j, needs in held if {i, j} | needs <= parts]
            for way, held in in_the_way.items()
        }
        for size in range(1, len(parts)):
            for some in map(frozenset, itertools.combinations(sorted(parts), size)):
                for held in relevant.values():
                    if any(i in some and j not in some for i, j in held):
                        continue
                    if solvable(some) and solvable(parts - some):
                        return True
        return False

    return solvable(frozenset(range(count)))


def least_unheld(made: Made) -> int:
    """The least that any order must bring together, or turn, with nothing to join or carry it.

    Counted as the replay counts; tries every split in every posture.
    """
    count = len(made[1].parts)
    names = [part.name for part in made[1].parts]
    number = {name: n for n, name in enumerate(names)}
    held = blocked(made)
    joined = {frozenset((number[j.butting], number[j.receiving])) for j in made[2].joints}
    run = Replay(made, EMPTY)

    @cache
    def pieces(parts: frozenset[int]) -> int:
        left, found = set(parts), 0
        while left:
            found += 1
            waiting = [left.pop()]
            while waiting:
                at = waiting.pop()
                more = {n for n in left if frozenset((n, at)) in joined}
                left -= more
                waiting += more
        return found

    @cache
    def rests(moving: frozenset[int], there: frozenset[int], posture: Posture) -> bool:
        sides = [[names[n] for n in sorted(side)] for side in (moving, there)]
        return run.rests(*sides, posture, STEADY)

    @cache
    def low(parts: frozenset[int], posture: Posture) -> float:
        return run.low([names[n] for n in parts], posture)

    def minded(moving: frozenset[int], there: frozenset[int], posture: Posture) -> int:
        if any(frozenset((i, j)) in joined for i in moving for j in there):
            return 0
        if rests(moving, there, posture):
            return 0
        return 1 if posture is Posture.STANDING else 2

    @cache
    def least(parts: frozenset[int]) -> dict[Posture, float]:
        if len(parts) == 1:
            return dict.fromkeys(Posture, 0.0)
        best = dict.fromkeys(Posture, float("inf"))
        relevant = [
            [(i, j) for i, j, needs in edges if {i, j} | needs <= parts] for edges in held.values()
        ]
        for size in range(1, len(parts)):
            for some in map(frozenset, itertools.combinations(sorted(parts), size)):
                rest = parts - some
                if all(any(i in some and j not in some for i, j in e) for e in relevant):
                    continue
                for moving, there in ((some, rest), (rest, some)):
                    came = min(least(moving).values()) + pieces(moving) - 1
                    laid = least(there)
                    if came + min(laid.values()) >= max(best.values()):
                        continue
                    falls = pieces(there) - 1
                    lying = min(laid.values()) + falls
                    for posture in Posture:
                        cost = came + min(laid[posture], lying)
                        if cost < best[posture]:
                            cost += minded(moving, there, posture)
                            if low(moving, posture) < low(there, posture) - 1.0:
                                cost += falls
                            best[posture] = min(best[posture], cost)
        return best

    everything = frozenset(range(count))
    ends = least(everything)
    falls = pieces(everything) - 1
    return int(min(c + (0 if p is Posture.STANDING else falls) for p, c in ends.items()))


# -- agreement -----------------------------------------------------------------------------


def disagreement(made: Made) -> tuple[str, str]:
    """The verdict on single straight moves, and who disagrees with it ("" when nobody does)."""
    result, problems = make_plan(*made, detours=False)
    if isinstance(result, Plan):
        try:
            unheld = len(followed(made, result).unheld)
        except AssertionError as no:
            return "plan", f"the replay says {no}"
        if len(made[1].parts) <= TRIED and unheld > (least := least_unheld(made)):
            return "plan", f"{unheld} times nothing joins or carries what comes; {least} would do"
        verdict = "plan"
    elif isinstance(result, Impossible):
        faults = verify_impossible(result, *made[1:])
        if faults:
            return "impossible", f"the verifier says {faults}"
        verdict = "impossible"
    else:
        return "neither", f"the planner gives no verdict: {problems}"
    if len(made[1].parts) <= TRIED and can_be_built(made) is not (verdict == "plan"):
        return verdict, f"the planner says {verdict}, trying every order says the opposite"
    return verdict, ""


def main(arguments: Sequence[str] | None = None) -> int:
    """Compare; print counts and disagreements; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1, help="of the first product")
    said = parser.parse_args(arguments)
    started = time.process_time()
    counted: Counter[tuple[str, str]] = Counter()
    tried = bad = 0
    for seed in range(said.seed, said.seed + said.count):
        kind, made = random_product(seed)
        verdict, why = disagreement(made)
        counted[kind, verdict] += 1
        tried += len(made[1].parts) <= TRIED
        if why:
            bad += 1
            print(f"seed {seed} ({kind}): {why}", flush=True)
        if (seed - said.seed + 1) % 1000 == 0:
            print(f"{seed - said.seed + 1} products, {bad} disagreements", flush=True)
    for (kind, verdict), number in sorted(counted.items()):
        print(f"{kind:10} {verdict:10} {number:6}")
    print(
        f"{said.count} products, {tried} of them tried in every order, {bad} disagreements, "
        f"{time.process_time() - started:.0f} s of processor time"
    )
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
