"""Choosing among the feasible orders.

Every feasible order is a way of taking the product apart, read backwards. The
costs below say what a maker dislikes; they are common practice, no source.
Products of up to ``EXACT_PARTS`` bodies are searched exactly (dynamic
programming over sets of parts and postures), larger ones by a beam from the
finished product backwards, which cannot run into a dead end (see ``apart``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from kdkit.frames import Vec3, dot
from kdkit.plan.apart import Move, closed_sets, free_parts
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.directions import opposite, same_way
from kdkit.plan.plan import Posture
from kdkit.plan.postures import POSTURES, UP, steepness, turn_cost

__all__ = ["EXACT_PARTS", "Arrival", "PartFacts", "Stem", "choose_order"]

EXACT_PARTS = 16
_EXACT_STATES = 6000
_INFINITE = float("inf")

_LEVEL = 1.2  # slid in level instead of laid down
_UPWARD = 10.0  # pushed up from below
_APART = 20.0  # joined to nothing that is there: held in the air
_HELD = 1.5  # held up off the floor until it is fastened, nothing under it
_OFF_FLOOR = 30.0  # mm; less can be packed up
_PIN = 0.15  # each further joint that must meet at the same time
_HALF = 3.0  # two built halves brought together
_SIDEWAYS = 0.7  # slid along a contact instead of closed square on it, for each joint
_SPLIT_PAIR = 1.0  # a half holds a part whose likes are in the other half, for each
_EARLY_COVER = 8.0  # a laid-on back before a part that it lies on
_UPRIGHT_COVER = 4.0  # a laid-on back that is not laid down
_FROM_BELOW = 3.0  # a screw driven from the floor side
_SMALL_BASE = 2.0  # the first part is not the largest
_EDGEWISE_BASE = 2.0  # the first part does not lie flat


@dataclass(frozen=True, kw_only=True)
class PartFacts:
    """What the choice needs to know of a part (or of parts that move as one).

    Args:
        normal: of its face, product frame.
        area: of its face, mm².
        joined: mask of the parts that it is joined to.
        lows: its lowest point, mm, in each posture of ``POSTURES``.
        laid: it is laid on as a back is, and squares the work.
        loose: laid in, joined by nothing.
        likes: mask of the parts of the same kind and size.
        approach: for a part it is joined to, the direction in which it closes square
            on that one.
        driven: for a part it is joined to, the directions out of which fasteners
            are driven once both are together.
    """

    normal: Vec3
    area: float
    joined: int
    lows: tuple[float, ...]
    laid: bool = False
    loose: bool = False
    likes: int = 0
    approach: tuple[tuple[int, Vec3], ...] = ()
    driven: tuple[tuple[int, Vec3], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """Bodies that come to the work. ``direction``: number of the way they travel."""

    parts: int
    direction: int
    posture: Posture
    half: Stem | None = None


@dataclass(frozen=True, kw_only=True)
class Stem:
    """A base and what arrives, in order."""

    base: int
    posture: Posture
    arrivals: tuple[Arrival, ...]
    cost: float
    search: str

    @property
    def parts(self) -> int:
        """The mask of all parts in it."""
        mask = self.base
        for arrival in self.arrivals:
            mask |= arrival.parts
        return mask


def choose_order(
    blocking: Blocking, facts: Sequence[PartFacts], among: int, finish: Posture | None
) -> Stem:
    """Return the best order found for a set that comes apart.

    Args:
        finish: the posture in which it must end, None for any.

    Raises:
        ValueError: the set is stuck (a fault in kdkit: ``find_stuck`` comes first).
    """
    scene = _Scene(blocking, facts)
    if among.bit_count() <= EXACT_PARTS:
        try:
            return _Exact(scene).best(among, finish)
        except _TooManyStatesError:
            why = f"more than {_EXACT_STATES} sets of parts to compare"
    else:
        why = f"{among.bit_count()} parts, exact up to {EXACT_PARTS}"
    return _guided(scene, among, finish, why)


class _TooManyStatesError(Exception):
    """The exact search is too large; the guided one takes over."""


@dataclass(eq=False)
class _Scene:
    """The costs of one product; remembers the moves of each set."""

    blocking: Blocking
    facts: Sequence[PartFacts]
    seen: dict[int, list[Move]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.largest = max((f.area for f in self.facts), default=1.0) or 1.0
        n = len(self.facts)
        ways = self.blocking.directions
        self.arriving = [[self._way(steepness(opposite(v), q)) for q in POSTURES] for v in ways]
        self.down = [[steepness(opposite(v), q) < -0.9 for q in POSTURES] for v in ways]
        self.sideways = [[0] * len(ways) for _ in range(n)]
        for part, fact in enumerate(self.facts):
            for other, way in fact.approach:
                for d, v in enumerate(ways):
                    if not same_way(opposite(v), way):
                        self.sideways[part][d] |= 1 << other
        self.sits = [[0] * len(POSTURES) for _ in range(n)]
        for part, fact in enumerate(self.facts):
            for other, way in fact.approach:
                for at, q in enumerate(POSTURES):
                    if steepness(way, q) < -0.7:
                        self.sits[part][at] |= 1 << other
        self.below: list[list[int]] = [[0] * len(POSTURES) for _ in range(n)]
        for part, fact in enumerate(self.facts):
            for other, out in fact.driven:
                for at, q in enumerate(POSTURES):
                    if steepness(out, q) < -0.7:
                        self.below[part][at] |= 1 << other

    @staticmethod
    def _way(steep: float) -> float:
        return _LEVEL * (1 + steep) if steep <= 0 else _LEVEL + _UPWARD * steep

    def moves(self, among: int) -> list[Move]:
        """Single parts that can leave; halves only where no single part can."""
        if among not in self.seen:
            found = free_parts(self.blocking, among)
            if not found:
                found = closed_sets(self.blocking, among)
            self.seen[among] = sorted(found, key=lambda m: (-m.parts, m.direction))
        return self.seen[among]

    def base(self, part: int, q: int) -> float:
        fact = self.facts[part]
        flat = abs(dot(fact.normal, _ups[q]))
        return (
            _SMALL_BASE * (1 - fact.area / self.largest)
            + _EDGEWISE_BASE * (1 - flat)
            + (_EARLY_COVER if fact.laid else 0.0)
        )

    def step(self, move: Move, rest: int, q: int) -> float:
        """The cost of bringing the parts of a move to the rest in posture q."""
        cost = self.arriving[move.direction][q]
        inside = members(move.parts)
        meets, loose, below = 0, True, False
        for part in inside:
            fact = self.facts[part]
            joined = fact.joined & rest
            meets += joined.bit_count()
            loose = loose and fact.loose
            cost += _SIDEWAYS * (self.sideways[part][move.direction] & rest).bit_count()
            below = below or bool(self.below[part][q] & rest)
            if fact.laid:
                missing = fact.joined & ~rest & ~move.parts
                cost += _EARLY_COVER * missing.bit_count()
                if not self.down[move.direction][q] and len(inside) == 1:
                    cost += _UPRIGHT_COVER
        if not meets and not loose:
            cost += _APART
        if not self.down[move.direction][q] and self._held(inside, rest, q):
            cost += _HELD
        if below:
            cost += _FROM_BELOW
        if len(inside) > 1:
            cost += _HALF
            cost += _SPLIT_PAIR * sum(bool(self.facts[part].likes & rest) for part in inside)
        return cost + _PIN * max(0, meets - 1)

    def _held(self, inside: Sequence[int], rest: int, q: int) -> bool:
        """Nothing under the parts: neither the floor nor a part that they sit on."""
        if any(self.sits[part][q] & rest for part in inside):
            return False
        low = min(self.facts[part].lows[q] for part in inside)
        floor = min(self.facts[part].lows[q] for part in members(rest))
        return low > floor + _OFF_FLOOR

    def pieces(self, among: int) -> int:
        """The number of sets into which the joints do not reach."""
        count, left = 0, among
        for part in members(among):
            if self.facts[part].loose:
                left &= ~(1 << part)
        while left:
            count += 1
            fresh = left & -left
            left &= ~fresh
            while fresh:
                part = fresh.bit_length() - 1
                fresh &= ~(1 << part)
                reached = self.facts[part].joined & left
                fresh |= reached
                left &= ~reached
        return count


_turns = [[turn_cost(a, b) for b in POSTURES] for a in POSTURES]
_ups = [UP[q] for q in POSTURES]


@dataclass(frozen=True)
class _Choice:
    move: Move | None
    before: int  # the posture number of the rest


class _Exact:
    """Dynamic programming: the least cost of every set in every last posture."""

    def __init__(self, scene: _Scene) -> None:
        self._scene = scene
        self._known: dict[int, tuple[list[float], list[_Choice]]] = {}

    def best(self, among: int, finish: Posture | None) -> Stem:
        costs, _ = self._solve(among)
        ends = [
            c + (0.0 if finish is None else turn_cost(POSTURES[q], finish))
            for q, c in enumerate(costs)
        ]
        return self._stem(among, min(range(len(ends)), key=lambda q: (round(ends[q], 6), q)))

    def _solve(self, among: int) -> tuple[list[float], list[_Choice]]:
        if among in self._known:
            return self._known[among]
        if len(self._known) > _EXACT_STATES:
            raise _TooManyStatesError
        ways = range(len(POSTURES))
        scene = self._scene
        if among.bit_count() == 1:
            part = among.bit_length() - 1
            result = ([scene.base(part, q) for q in ways], [_Choice(None, q) for q in ways])
            self._known[among] = result
            return result
        costs = [_INFINITE] * len(POSTURES)
        choices = [_Choice(None, 0)] * len(POSTURES)
        moves = scene.moves(among)
        if not moves:
            raise ValueError("a stuck set has no order")
        for parts in dict.fromkeys(m.parts for m in moves):
            rest = among & ~parts
            before, _ = self._solve(rest)
            half = min(self._solve(parts)[0]) if parts.bit_count() > 1 else 0.0
            for q in ways:
                came = [before[p] + _turns[p][q] for p in ways]
                if rest.bit_count() == 1:  # the base is laid as the first step needs it
                    came = [before[p] if p == q else _INFINITE for p in ways]
                start = min(ways, key=lambda p: (came[p], p))
                for move in moves:
                    if move.parts != parts:
                        continue
                    cost = came[start] + half + scene.step(move, rest, q)
                    if cost < costs[q] - 1e-6:
                        costs[q], choices[q] = cost, _Choice(move, start)
        self._known[among] = (costs, choices)
        return costs, choices

    def _stem(self, among: int, q: int) -> Stem:
        cost = self._known[among][0][q]
        arrivals = []
        left, at = among, q
        while left.bit_count() > 1:
            choice = self._known[left][1][at]
            assert choice.move is not None
            parts = choice.move.parts
            half = None
            if parts.bit_count() > 1:
                ends = self._known[parts][0]
                half = self._stem(
                    parts, min(range(len(ends)), key=lambda p: (round(ends[p], 6), p))
                )
            arrivals.append(
                Arrival(
                    parts=parts,
                    direction=choice.move.direction ^ 1,
                    posture=POSTURES[at],
                    half=half,
                )
            )
            left, at = left & ~parts, choice.before
        return Stem(
            base=left,
            posture=POSTURES[at],
            arrivals=tuple(reversed(arrivals)),
            cost=cost,
            search="exact: every order of these parts compared",
        )


@dataclass(frozen=True, eq=False)
class _Trail:
    """A state of the guided search: what is left, and how it came to that."""

    left: int
    q: int
    cost: float
    move: Move | None
    parent: _Trail | None


def _guided(scene: _Scene, among: int, finish: Posture | None, why: str) -> Stem:
    """Beam search backwards; the best few of every posture are kept."""
    keep = 4 if among.bit_count() <= 40 else 2
    ways = range(len(POSTURES))
    beam = [
        _Trail(among, q, 0.0, None, None)
        for q in ([POSTURES.index(finish)] if finish is not None else ways)
    ]
    done: list[_Trail] = []
    while beam:
        found: dict[tuple[int, int], _Trail] = {}
        for trail in beam:
            if trail.left.bit_count() == 1:
                done.append(trail)
                continue
            moves = scene.moves(trail.left)
            if not moves:
                raise ValueError("a stuck set has no order")
            free = trail.move is None and finish is None
            for move in moves:
                rest = trail.left & ~move.parts
                for q in ways:
                    cost = (
                        trail.cost
                        + (0.0 if free else _turns[q][trail.q])
                        + scene.step(move, rest, q)
                    )
                    key = (rest, q)
                    if key not in found or cost < found[key].cost - 1e-6:
                        found[key] = _Trail(rest, q, cost, move, trail)
        beam = _best_few(scene, found, keep)
    ranked = sorted(
        (
            (round(t.cost + scene.base(t.left.bit_length() - 1, t.q), 6), n)
            for n, t in enumerate(done)
        ),
    )
    cost, n = ranked[0]
    return _read_trail(scene, done[n], POSTURES[done[n].q], cost, f"guided: {why}")


def _best_few(scene: _Scene, found: dict[tuple[int, int], _Trail], keep: int) -> list[_Trail]:
    beam: list[_Trail] = []
    for q in range(len(POSTURES)):
        some = [t for (_, at), t in found.items() if at == q]
        some.sort(key=lambda t: (round(t.cost, 6), t.left))
        some = some[: 3 * keep]
        ahead = [(round(t.cost + _APART * (scene.pieces(t.left) - 1), 6), t.left) for t in some]
        order = sorted(range(len(some)), key=lambda n: ahead[n])
        beam += [some[n] for n in order[:keep]]
    return beam


def _read_trail(scene: _Scene, end: _Trail, first: Posture, cost: float, search: str) -> Stem:
    arrivals = []
    trail: _Trail | None = end
    while trail is not None and trail.move is not None:
        half = None
        if trail.move.parts.bit_count() > 1:
            half = choose_order(scene.blocking, scene.facts, trail.move.parts, None)
        arrivals.append(
            Arrival(
                parts=trail.move.parts,
                direction=trail.move.direction ^ 1,
                posture=POSTURES[trail.q],
                half=half,
            )
        )
        trail = trail.parent
    return Stem(base=end.left, posture=first, arrivals=tuple(arrivals), cost=cost, search=search)
