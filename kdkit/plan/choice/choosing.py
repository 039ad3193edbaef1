"""Choosing among the feasible orders.

Every feasible order is a way of taking the product apart, read backwards; the
best one costs least (see ``costs``). Products of up to ``EXACT_PARTS`` bodies are
searched exactly (dynamic programming over sets of parts and postures), larger ones
by a beam from the finished product backwards, which cannot run into a dead end
(see ``apart``).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from kdkit.parts.postures import POSTURES
from kdkit.plan.blocking import Blocking
from kdkit.plan.blocking.apart import Move
from kdkit.plan.choice.bound import least_cost
from kdkit.plan.choice.costs import APART, SMALL, TURNS, Costs, PartFacts
from kdkit.plan.plan import Posture

__all__ = ["EXACT_PARTS", "Arrival", "Stem", "choose_order", "guided_order"]

EXACT_PARTS = 16
_EXACT_STATES = 4096  # all sets of 12 parts
_MOST_STEPS = 300_000  # weighed by the guided search, shared out among the removals
_MOST_FOLLOWED = 80  # moves of one state that are weighed in every posture
_INFINITE = float("inf")
_WAYS = range(len(POSTURES))
_EXACT = (
    "exact: all orders compared that add one part at a time (halves where no single part "
    "can leave; of parts alike, one order)"
)
_EXACT_HALVES = "exact: all orders compared, halves too"
_SOME_HALVES = "guided: halves that hang together tried too, where single parts meet nothing"


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """Bodies that come to the work. ``direction``: number of the way they travel."""

    parts: int
    direction: int
    posture: Posture
    half: Stem | None = None


@dataclass(frozen=True, kw_only=True)
class Stem:
    """A base and what arrives, in order; ``cost`` includes the last turn.

    ``least``: no order of those compared costs less.
    """

    base: int
    posture: Posture
    arrivals: tuple[Arrival, ...]
    cost: float
    search: str
    least: float = 0.0

    @property
    def parts(self) -> int:
        """The mask of all parts in it."""
        mask = self.base
        for arrival in self.arrivals:
            mask |= arrival.parts
        return mask


def choose_order(
    blocking: Blocking,
    facts: Sequence[PartFacts],
    among: int,
    finish: Posture | None,
    row: tuple[int, ...] = (),
) -> Stem:
    """Return the best order found for a set that comes apart.

    Args:
        finish: the posture in which it must end, None for any.
        row: masks of single bodies, one for each, in the order in which an author puts
            them on; then that order is kept, and only the postures and ways are chosen.

    Raises:
        ValueError: the set is stuck (a fault in kdkit: ``find_stuck`` comes first).
    """
    stem = _choose(Costs(blocking, facts, row=row), among, finish)
    if row:
        return replace(stem, search="exact: the order is the author's own", least=stem.cost)
    scene = Costs(blocking, facts, halves=True)
    if stem.cost >= APART and scene.pieces(among) < among.bit_count():
        small = among.bit_count() <= SMALL
        # Groups that nothing joins can only be put beside each other: one a group is the least.
        if small or stem.cost >= APART * scene.pieces(among):
            other = _choose(scene, among, finish)
            if not small:
                least = min(other.cost, least_cost(scene, among, finish))
                other = replace(other, least=least, search=_SOME_HALVES)
            stem = min((stem, other), key=lambda s: round(s.cost, 6))
    return stem


def _choose(scene: Costs, among: int, finish: Posture | None) -> Stem:
    if among.bit_count() <= EXACT_PARTS:
        try:
            return _Exact(scene).best(among, finish)
        except _TooManyStatesError:
            why = f"more than {_EXACT_STATES} sets of parts to compare"
    else:
        why = f"{among.bit_count()} parts, exact up to {EXACT_PARTS}"
    stem = guided_order(scene, among, finish, why)
    least = min(stem.cost, least_cost(scene, among, finish))
    over = stem.cost - least
    said = "no order costs less" if over < 0.05 else f"within {over:.1f} of the best"
    return replace(
        stem,
        least=least,
        search=f"{stem.search}; it costs {stem.cost:.1f}, {said} (of those that add one part at "
        "a time, halves where no single part can leave)",
    )


class _TooManyStatesError(Exception):
    """The exact search is too large; the guided one takes over."""


def _ways_of(moves: Iterable[Move]) -> dict[int, list[int]]:
    """The moves of the same parts together: the numbers of their ways."""
    ways: dict[int, list[int]] = {}
    for move in moves:
        ways.setdefault(move.parts, []).append(move.direction)
    return ways


@dataclass(frozen=True)
class _Choice:
    move: Move | None
    before: int  # the posture number of the rest


class _Exact:
    """Dynamic programming: the least cost of every set in every last posture."""

    def __init__(self, scene: Costs) -> None:
        self._scene = scene
        self._known: dict[int, tuple[list[float], list[_Choice]]] = {}
        self._ready: dict[int, list[tuple[float, int]]] = {}

    def best(self, among: int, finish: Posture | None) -> Stem:
        self._count_sets(among)
        costs, _ = self._solve(among)
        end = None if finish is None else POSTURES.index(finish)
        ends = [
            c + (0.0 if end is None else self._scene.turned(q, end, among))
            for q, c in enumerate(costs)
        ]
        last = min(range(len(ends)), key=lambda q: (round(ends[q], 6), q))
        return replace(self._stem(among, last), cost=ends[last], least=ends[last])

    def _solve(self, among: int) -> tuple[list[float], list[_Choice]]:
        if among in self._known:
            return self._known[among]
        scene = self._scene
        if among.bit_count() == 1:
            part = among.bit_length() - 1
            result = ([scene.base(part, q) for q in _WAYS], [_Choice(None, q) for q in _WAYS])
            self._known[among] = result
            return result
        costs = [_INFINITE] * len(POSTURES)
        choices = [_Choice(None, 0)] * len(POSTURES)
        for parts, ways in _ways_of(scene.moves(among)).items():
            rest = among & ~parts
            half = min(self._solve(parts)[0]) if parts.bit_count() > 1 else 0.0
            for q, (came, start) in enumerate(self._turned(rest)):
                if came + half < costs[q] - 1e-6:  # all that is added costs something
                    least, way = scene.best_way(parts, ways, rest, q)
                    if came + half + least < costs[q] - 1e-6:
                        costs[q] = came + half + least
                        choices[q] = _Choice(Move(parts, way), start)
        self._known[among] = (costs, choices)
        return costs, choices

    def _turned(self, rest: int) -> list[tuple[float, int]]:
        """For each posture the least cost of some parts in it, and that in which they end."""
        if rest not in self._ready:
            before, _ = self._solve(rest)
            if rest.bit_count() == 1:  # the base is laid as the first step needs it
                self._ready[rest] = [(before[q], q) for q in _WAYS]
                return self._ready[rest]
            falls, heft = self._scene.falls(rest), 1 + self._scene.footing.heft(rest)
            self._ready[rest] = [
                min((before[p] + TURNS[p][q] * heft + (falls if p != q else 0.0), p) for p in _WAYS)
                for q in _WAYS
            ]
        return self._ready[rest]

    def _count_sets(self, among: int) -> None:
        """Look at the sets that would be solved, before anything is weighed.

        Raises:
            _TooManyStatesError: there are more than ``_EXACT_STATES``.
        """
        seen = {among}
        waiting = [among]
        while waiting:
            some = waiting.pop()
            if some.bit_count() == 1:
                continue
            moves = self._scene.moves(some)
            if not moves:
                raise ValueError("a stuck set has no order")
            for parts in dict.fromkeys(move.parts for move in moves):
                fresh = {some & ~parts, parts} - seen
                seen |= fresh
                waiting += fresh
                if len(seen) > _EXACT_STATES:
                    raise _TooManyStatesError

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
            search=_EXACT_HALVES if self._scene.halves else _EXACT,
            least=cost,
        )


@dataclass(frozen=True, eq=False)
class _Trail:
    """A state of the guided search: what is left, and how it came to that."""

    left: int
    q: int
    cost: float
    move: Move | None
    parent: _Trail | None


def guided_order(scene: Costs, among: int, finish: Posture | None, why: str) -> Stem:
    """Beam search backwards; the best few of every posture are kept.

    Where very much can leave, fewer are kept and only the moves are followed that
    are cheapest without a turn, so that the work grows with the number of parts and
    not with that of the orders. What is counted is moves, not seconds: the same
    product gives the same plan on every machine.
    """
    large = among.bit_count() > 40
    keep = 2 if large else 4
    allowed = _MOST_STEPS // among.bit_count()
    beam = [
        _Trail(among, q, 0.0, None, None)
        for q in ([POSTURES.index(finish)] if finish is not None else _WAYS)
    ]
    done: list[_Trail] = []
    while beam:
        found: dict[tuple[int, int], _Trail] = {}
        looked = 0
        for trail in sorted(beam, key=lambda t: round(t.cost, 6)) if large else beam:
            if trail.left.bit_count() == 1:
                done.append(trail)
                continue
            if looked > allowed:
                break
            moves = scene.moves(trail.left)
            if not moves:
                raise ValueError("a stuck set has no order")
            free = trail.move is None and finish is None
            turned = [0.0 if free else scene.turned(q, trail.q, trail.left) for q in _WAYS]
            followed = _cheapest(scene, trail, moves)
            looked += len(moves) + len(followed) * len(POSTURES)
            for parts, ways in _ways_of(followed).items():
                rest = trail.left & ~parts
                for q in _WAYS:
                    key = (rest, q)
                    known = found[key].cost - 1e-6 if key in found else _INFINITE
                    before = trail.cost + turned[q]
                    if before >= known:  # all that is added costs something
                        continue
                    least, way = scene.best_way(parts, ways, rest, q)
                    if before + least < known:
                        found[key] = _Trail(rest, q, before + least, Move(parts, way), trail)
        beam = _best_few(scene, found, keep)
    ranked = sorted(
        (
            (round(t.cost + scene.base(t.left.bit_length() - 1, t.q), 6), n)
            for n, t in enumerate(done)
        ),
    )
    cost, n = ranked[0]
    return _read_trail(scene, done[n], POSTURES[done[n].q], cost, f"guided: {why}")


def _cheapest(scene: Costs, trail: _Trail, moves: Sequence[Move]) -> Sequence[Move]:
    """The moves to follow: all, or the cheapest in the posture that is there."""
    if len(moves) <= _MOST_FOLLOWED:
        return moves
    costs = [scene.step(m, trail.left & ~m.parts, trail.q) for m in moves]
    order = sorted(range(len(moves)), key=lambda n: (round(costs[n], 6), n))
    return [moves[n] for n in sorted(order[:_MOST_FOLLOWED])]


def _best_few(scene: Costs, found: dict[tuple[int, int], _Trail], keep: int) -> list[_Trail]:
    beam: list[_Trail] = []
    for q in range(len(POSTURES)):
        some = [t for (_, at), t in found.items() if at == q]
        some.sort(key=lambda t: (round(t.cost, 6), t.left))
        some = some[: 3 * keep]
        ahead = [(round(t.cost + APART * (scene.pieces(t.left) - 1), 6), t.left) for t in some]
        order = sorted(range(len(some)), key=lambda n: ahead[n])
        beam += [some[n] for n in order[:keep]]
    return beam


def _read_trail(scene: Costs, end: _Trail, first: Posture, cost: float, search: str) -> Stem:
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
    cost += sum(a.half.cost for a in arrivals if a.half is not None)
    return Stem(base=end.left, posture=first, arrivals=tuple(arrivals), cost=cost, search=search)
