"""Coming apart again: the fewest moves that set a part free, or that make pieces small.

Takes the blocking graphs and the joints; gives a tree of splits. What does not come
apart without damage (glue, nails), or was packed as one, moves as one body.

**Fewest moves, whatever the size.** Let f(S) be the least number of moves after which
the body t, of a set S, is alone. What can leave S can leave its subsets (see ``apart``),
so f(S') ≤ f(S) for t ∈ S' ⊆ S: of all that one move along d can leave of S around t, the
smallest set is the best. If t leaves, that is what it drags along: its closure. If t
stays, that is what would drag t along. So f needs to look at two sets for each direction
only, and is exact.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from kdkit.joinery.placed import Joinery
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.blocking.apart import Move, closed_sets, closures, free_parts

__all__ = ["EXACT_BODIES", "Split", "Undoing", "fixed_groups", "fixed_joints"]

EXACT_BODIES = 8
"""Up to so many bodies every way of dividing a product is compared."""

_FAR = 1 << 30


@dataclass(frozen=True, kw_only=True)
class Split:
    """One move: ``moving`` (a mask of parts) leaves ``staying`` along a direction.

    ``then``: how the side that is taken on, or each of both, comes apart further.
    """

    moving: int
    staying: int
    direction: int
    then: tuple[Split, ...] = ()

    @property
    def parts(self) -> int:
        """The mask of all parts that were together before."""
        return self.moving | self.staying


def fixed_joints(joinery: Joinery) -> tuple[int, ...]:
    """Return the places, in ``joinery.joints``, of those that stay closed.

    They do not come apart again, or were made in the workshop, before packing.
    """
    return tuple(
        n
        for n, joint in enumerate(joinery.joints)
        if joint.workshop
        or any(f in joinery.fittings and not joinery.fittings[f].reversible for f in joint.fittings)
    )


def fixed_groups(names: Sequence[str], joinery: Joinery) -> tuple[int, ...]:
    """Return the bodies: masks of parts that cannot be parted, by their lowest part."""
    number = {name: n for n, name in enumerate(names)}
    group = list(range(len(names)))
    for n in fixed_joints(joinery):
        joint = joinery.joints[n]
        if joint.butting in number and joint.receiving in number:
            a, b = sorted((group[number[joint.butting]], group[number[joint.receiving]]))
            group = [a if g == b else g for g in group]
    return tuple(
        sum(1 << part for part, g in enumerate(group) if g == first)
        for first in dict.fromkeys(group)
    )


@dataclass(eq=False)
class Undoing:
    """The search over one product.

    Args:
        blocking: its graphs, without an author's order.
        bodies: the same of the bodies (found here).
        groups: its bodies; each a mask of parts.
        joined: pairs of parts with the number of fasteners between them, 1 for none.
        mass: of each part, kg; the lighter side is the one that moves.
        trouble: of taking parts (a mask) off others along a direction, for choosing
            among moves that are as good otherwise.
    """

    blocking: Blocking
    groups: Sequence[int]
    joined: Mapping[tuple[int, int], int]
    mass: Sequence[float]
    trouble: Callable[[int, int, int], float] = lambda parts, rest, d: 0.0
    bodies: Blocking = field(init=False)
    _least: dict[tuple[int, int], int] = field(default_factory=dict)
    _best: dict[tuple[int, int], tuple[tuple[float, ...], Move | None]] = field(
        default_factory=dict
    )

    def __post_init__(self) -> None:
        names = [self.blocking.names[members(group)[0]] for group in self.groups]
        self.bodies = self.blocking.merged(self.groups, names)

    def body_of(self, part: int) -> int:
        """Return the number of the body that a part belongs to."""
        return next(n for n, group in enumerate(self.groups) if group >> part & 1)

    # -- one part out ---------------------------------------------------------------

    def set_free(self, body: int, among: int) -> Split | None:
        """Return the fewest moves that leave a body alone, or None if none do.

        Among as few moves, those that leave the fewest pieces that nothing joins, then undo
        the fewest fasteners, then move the fewest bodies at once, of those compared:
        single bodies and what they drag along.

        Args:
            among: mask of the bodies that are together.
        """
        if self._moves_needed(body, among) >= _FAR:
            return None
        return self._free(body, among)

    def _moves_needed(self, body: int, among: int) -> int:
        if among == 1 << body:
            return 0
        key = (body, among)
        if key not in self._least:
            self._least[key] = _FAR  # no way back to the same set: sets only get smaller
            around = {
                closures(self._held(d, among))[body] for d in range(len(self.bodies.directions))
            }
            tries = [self._moves_needed(body, s) for s in sorted(around) if s != among]
            self._least[key] = min([1 + n for n in tries if n < _FAR], default=_FAR)
        return self._least[key]

    def _held(self, d: int, among: int) -> dict[int, int]:
        return {n: self.bodies.blockers(d, n, among) for n in members(among)}

    def _free(self, body: int, among: int) -> Split | None:
        move = self._best_move(body, among)[1]
        if move is None:
            return None
        rest = move.parts if move.parts >> body & 1 else among & ~move.parts
        further = self._free(body, rest)
        return self._split(move, among, (further,) if further is not None else ())

    def _best_move(self, body: int, among: int) -> tuple[tuple[float, ...], Move | None]:
        if among == 1 << body:
            return (0.0, 0.0, 0.0, 0.0), None
        key = (body, among)
        if key not in self._best:
            least = self._moves_needed(body, among)
            found: list[tuple[tuple[float, ...], int, int]] = []
            for move in self._moves(among):
                rest = move.parts if move.parts >> body & 1 else among & ~move.parts
                if self._moves_needed(body, rest) != least - 1:
                    continue
                after = self._best_move(body, rest)[0]
                cost = self._cost(move, among)
                total = tuple(a + b for a, b in zip(cost, after, strict=True))
                found.append((total, move.parts, move.direction))
            total, parts, d = min(found)
            self._best[key] = (total, Move(parts, d))
        return self._best[key]

    def _moves(self, among: int) -> list[Move]:
        moves = {(m.parts, m.direction) for m in free_parts(self.bodies, among)}
        moves |= {(m.parts, m.direction) for m in closed_sets(self.bodies, among)}
        return [Move(*m) for m in sorted(moves)]

    def _cost(self, move: Move, among: int) -> tuple[float, ...]:
        rest = among & ~move.parts
        leaving, left = self._parts(move.parts), self._parts(rest)
        return (
            float(self.pieces(leaving) + self.pieces(left) - 2),
            float(self.undone(leaving, left)),
            float(min(move.parts.bit_count(), rest.bit_count())),
            round(self.trouble(leaving, left, move.direction), 6),
        )

    # -- small pieces -----------------------------------------------------------------

    def divide(self, among: int, fits: Callable[[int], bool]) -> tuple[Split | None, bool]:
        """Return splits after which every piece fits, or is one body; and if they are the fewest.

        Args:
            among: mask of the bodies that are together.
            fits: tells of a mask of parts whether the piece is small enough.
        """
        exact = among.bit_count() <= EXACT_BODIES
        known: dict[int, tuple[tuple[float, ...], Move | None]] = {}

        def solve(piece: int) -> tuple[tuple[float, ...], Move | None]:
            if piece.bit_count() == 1 or fits(self._parts(piece)):
                return (0.0, 0.0, 0.0, 0.0), None
            if piece not in known:
                moves = self._all_moves(piece) if exact else self._moves(piece)
                found: list[tuple[tuple[float, ...], int, int]] = []
                for move in moves:
                    rest = piece & ~move.parts
                    if exact:
                        ahead = [solve(move.parts)[0], solve(rest)[0]]
                    else:
                        ahead = [self._outlook(side, fits) for side in (move.parts, rest)]
                    pieces, *others = self._cost(move, piece)
                    cost = (1.0 + pieces, *others)
                    total = tuple(sum(v) for v in zip(cost, *ahead, strict=True))
                    found.append((total, move.parts, move.direction))
                if not found:
                    known[piece] = ((0.0, 0.0, 0.0, 0.0), None)
                else:
                    total, parts, d = min(found)
                    known[piece] = (total, Move(parts, d))
            return known[piece]

        def tree(piece: int) -> Split | None:
            move = solve(piece)[1]
            if move is None:
                return None
            sides = [tree(move.parts), tree(piece & ~move.parts)]
            return self._split(move, piece, tuple(s for s in sides if s is not None))

        return tree(among), exact

    def _outlook(self, piece: int, fits: Callable[[int], bool]) -> tuple[float, ...]:
        """A guess at what is left to do with a piece: bodies that stand out one by one."""
        if piece.bit_count() == 1 or fits(self._parts(piece)):
            return (0.0, 0.0, 0.0, 0.0)
        big = sum(not fits(self.groups[n]) for n in members(piece))
        return (1.0 + 0.5 * piece.bit_count() + big, 0.0, 0.0, 0.0)

    def _all_moves(self, among: int) -> list[Move]:
        """Every closed set: the unions of what single bodies drag along."""
        found: set[tuple[int, int]] = set()
        for d in range(len(self.bodies.directions)):
            closed = {0}
            for mask in closures(self._held(d, among)).values():
                closed |= {mask | other for other in closed}
            found |= {(mask, d) for mask in closed if mask not in (0, among)}
        return [Move(*m) for m in sorted(found)]

    # -- what holds together -----------------------------------------------------------

    def pieces(self, parts: int) -> int:
        """Return how many pieces a group of parts is: joints hold them together."""
        count, left = 0, parts
        while left:
            count += 1
            piece, edge = 0, left & -left
            while edge:
                piece |= edge
                near = 0
                for a, b in self.joined:
                    if edge >> a & 1:
                        near |= 1 << b
                    if edge >> b & 1:
                        near |= 1 << a
                edge = near & left & ~piece
            left &= ~piece
        return count

    def undone(self, some: int, others: int) -> int:
        """Return how many fasteners are undone when two groups of parts are separated."""
        return sum(
            count
            for (a, b), count in self.joined.items()
            if (some >> a & 1 and others >> b & 1) or (some >> b & 1 and others >> a & 1)
        )

    def _parts(self, bodies: int) -> int:
        return sum(self.groups[n] for n in members(bodies))

    def _split(self, move: Move, among: int, then: tuple[Split, ...]) -> Split:
        rest = among & ~move.parts
        moving, staying, d = self._parts(move.parts), self._parts(rest), move.direction
        lighter = self._weight(staying) < self._weight(moving) - 1e-6
        if lighter and not any(
            self.bodies.blockers(d ^ 1, n, among) & ~rest for n in members(rest)
        ):
            moving, staying, d = staying, moving, d ^ 1
        return Split(moving=moving, staying=staying, direction=d, then=then)

    def _weight(self, parts: int) -> float:
        return sum(self.mass[p] for p in members(parts))
