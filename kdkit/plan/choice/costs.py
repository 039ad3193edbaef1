"""What a maker dislikes, as costs: the choice among feasible orders is the least sum.

The costs are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from kdkit.frames import dot
from kdkit.parts.postures import POSTURES, UP, steepness
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.blocking.apart import Move, closed_sets, free_parts, unions_of_closed
from kdkit.plan.choice.balance import LEVEL_WAY
from kdkit.plan.choice.footing import HELD, PACKED, Footing
from kdkit.plan.choice.part import PartFacts
from kdkit.plan.choice.resting import LEVEL, is_under
from kdkit.plan.motion.directions import opposite, same_way
from kdkit.plan.plan import Posture

__all__ = ["APART", "HALF", "RESTS", "SMALL", "TURNS", "Costs", "PartFacts", "turn_cost"]

SMALL = 8  # parts up to which every half is tried where halves are
MOST_UNIONS = 256  # sets that can leave one way that are looked at
_LEVEL = 1.2  # slid in level instead of laid down
_UPWARD = 10.0  # pushed up from below
APART = 1000.0  # without a reason: joined to nothing that is there, and carried by nothing
RESTS = 6.0  # joined to nothing that is there, but it rests where it is put
_SLIPS = 2.5  # it stands on dry pins in one part alone while the work is turned, for each
_UNDERNEATH = 5.0  # pushed under what others hold up meanwhile
_PIN = 0.15  # each further joint that must meet at the same time
_MANY_PINS = 4
_EACH_PIN = 0.04  # each pin beyond these that must find its bore at the same time
_AFTER_HUNG = 8.0  # a part after a door or a drawer is on what stands, for each of them
_HUNG_LYING = 4.0  # a door or a drawer put on while the work does not stand
HALF = 3.0  # two built halves brought together
_SIDEWAYS = 1.5  # slid along a contact instead of closed square on it, for each joint
_MORE_MOVES = 6.0  # for each move after the first
_UNWIELDY = 4.0  # times as much where the larger half does them
_SPLIT_PAIR = 1.0  # a half holds a part whose likes are in the other half, for each
_EARLY_COVER = 8.0  # a part after a back that is laid on it, for each
_UPRIGHT_COVER = 4.0  # a laid-on back that is not laid down
_FROM_BELOW = 3.0  # a screw or cam driven from the floor side
_NO_ROOM_BELOW = 25.0  # the same with less room above the floor than the tool takes
_GLUED_ON_END = 4.0  # a panel or a frame that is glued up does not lie flat, for each part
_SMALL_BASE = 2.0  # the first part is not the largest
_EDGEWISE_BASE = 2.0  # the first part does not lie flat
_LIMP_BASE = 6.0  # the first part is a thin panel, which bends and keeps nothing square
THIN = 8.0  # mm; a thinner panel is a back or a drawer's bottom
_ABOVE, _LEVEL_IN, _BELOW = range(3)  # where parts come from
_NOTHING_HELD = (0.0, 0.0, 0.0)


@dataclass(eq=False)
class Costs:
    """The costs of one product; remembers the moves of each set.

    ``halves``: sets of parts may leave wherever they can, not only where no single part
    can; of small sets all.
    ``row``: masks of single bodies in the order in which an author puts them on; then only
    the last of them that is there may leave, as long as it can.
    """

    blocking: Blocking
    facts: Sequence[PartFacts]
    halves: bool = False
    seen: dict[int, list[Move]] = field(default_factory=dict)
    _carried: dict[tuple[int, int, int], bool] = field(default_factory=dict)
    _unders: dict[int, tuple[int, ...]] = field(default_factory=dict)
    _pieces: dict[int, int] = field(default_factory=dict)
    row: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        self.largest = max((f.area for f in self.facts), default=1.0) or 1.0
        n = len(self.facts)
        ways = self.blocking.directions
        self.footing = Footing(self.facts)
        self.loose = sum(1 << part for part, fact in enumerate(self.facts) if fact.loose)
        self.laid = sum(1 << part for part, fact in enumerate(self.facts) if fact.laid)
        self.arriving = [[self._way(steepness(opposite(v), q)) for q in POSTURES] for v in ways]
        self.winding = [
            _MORE_MOVES * (len(self.blocking.moves.get(d, (0,))) - 1) for d, _ in enumerate(ways)
        ]
        self.dry = sum(1 << part for part, fact in enumerate(self.facts) if fact.dry)
        self.hung = sum(1 << part for part, fact in enumerate(self.facts) if fact.hung)
        self.come_from = [[_come_from(steepness(opposite(v), q)) for q in POSTURES] for v in ways]
        self.pushed = [
            [opposite(v) if abs(steepness(v, q)) < LEVEL_WAY else None for q in POSTURES]
            for v in ways
        ]
        self.on_edge = [
            [fact.plate and abs(dot(fact.normal, UP[q])) < 0.7 for q in POSTURES]
            for fact in self.facts
        ]
        self.on_end = [
            [bool(fact.flat) and abs(dot(fact.lies, UP[q])) < 0.9 for q in POSTURES]
            for fact in self.facts
        ]
        self.under = [[self._tools_below(fact, q) for q in POSTURES] for fact in self.facts]
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
        kinds: dict[object, int] = {}
        self.roles = [
            kinds.setdefault(
                (
                    fact.likes | 1 << part if fact.likes else 1 << part,
                    fact.joined,
                    fact.approach,
                    fact.driven,
                ),
                part,
            )
            for part, fact in enumerate(self.facts)
        ]
        self.under_it = [
            [
                sum({1 << t.other for t in fact.poise.touches if is_under(t, q)})
                for q in range(len(POSTURES))
            ]
            for fact in self.facts
        ]
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
        """Single parts that can leave; halves only where no single part can.

        Of parts alike that are joined alike and can leave alike only the last is
        given: which of them goes first makes no difference. Where a part is joined to
        nothing else that is there, all else may be put on it instead.
        """
        if among not in self.seen:
            found = self._last_of_row(among) if self.row else []
            if found:
                pass
            elif self.halves:
                found = self._all_moves(among)
            else:
                free = free_parts(self.blocking, among)
                found = self._without_twins(free)
                found += self._put_on(free, among)
            if not found:
                found = closed_sets(self.blocking, among)
            self.seen[among] = sorted(found, key=lambda m: (-m.parts, m.direction))
        return self.seen[among]

    def _last_of_row(self, among: int) -> list[Move]:
        last = next((mask for mask in reversed(self.row) if mask & among), 0)
        return [move for move in free_parts(self.blocking, among) if move.parts == last]

    def _put_on(self, free: Sequence[Move], among: int) -> list[Move]:
        """All else as one half, where it hangs together and the single part does not meet it."""
        found: list[Move] = []
        if self.pieces(among) > 2:
            return found
        for move in free:
            rest = among & ~move.parts
            fact = self.facts[move.parts.bit_length() - 1]
            alone = not fact.joined & rest and not fact.loose
            if alone and rest & (rest - 1) and self.pieces(rest) == 1:
                found.append(Move(rest, move.direction ^ 1))
        return found

    def _all_moves(self, among: int) -> list[Move]:
        """Every single part that can leave, and halves that hang together.

        Of larger sets only those that leave a rest that hangs together too.
        """
        small = among.bit_count() <= SMALL
        return [
            move
            for move in unions_of_closed(self.blocking, among, MOST_UNIONS)
            if not move.parts & (move.parts - 1)
            or (self.pieces(move.parts) == 1 and (small or self.pieces(among & ~move.parts) == 1))
        ]

    def _without_twins(self, moves: list[Move]) -> list[Move]:
        ways: dict[int, list[int]] = {}
        for move in moves:
            ways.setdefault(move.parts, []).append(move.direction)
        last: dict[object, int] = {}
        for parts, directions in ways.items():
            role = (self.roles[parts.bit_length() - 1], tuple(directions))
            last[role] = max(parts, last.get(role, 0))
        kept = set(last.values())
        return [move for move in moves if move.parts in kept]

    def base(self, part: int, q: int) -> float:
        fact = self.facts[part]
        flat = abs(dot(fact.normal, UP[POSTURES[q]]))
        cost = _SMALL_BASE * (1 - fact.area / self.largest) + _EDGEWISE_BASE * (1 - flat)
        limp = fact.poise.volume < THIN * fact.area
        if self.on_edge[part][q] and not self._is_carried(1 << part, 0, q, on_floor=True):
            cost += self.footing.keeping(1 << part)
        return cost + (_LIMP_BASE if limp else 0.0)

    def step(self, move: Move, rest: int, q: int) -> float:
        """The cost of bringing the parts of a move to the rest in posture q."""
        return self.best_way(move.parts, (move.direction,), rest, q)[0]

    def best_way(self, parts: int, ways: Sequence[int], rest: int, q: int) -> tuple[float, int]:
        """The least cost of bringing parts to the rest in posture q, and which way that is.

        What does not depend on the way is worked out once for all of them.

        Args:
            ways: numbers of those in which they could leave again; the first of the best wins.
        """
        inside = members(parts) if parts & (parts - 1) else (parts.bit_length() - 1,)
        cost, meets, under = self._put(inside, parts, rest, q)
        stood = rest if rest & (rest - 1) else 0  # it stands before they come, too
        footing = self.footing.cost
        held = self._held(inside, parts, rest, q) if meets else _NOTHING_HELD
        upright = _UPRIGHT_COVER if len(inside) == 1 and self.laid & parts else 0.0
        least, best = float("inf"), ways[0]
        for d in ways:
            pushed = self.pushed[d][q]
            way = self.arriving[d][q] + held[self.come_from[d][q]]
            way += max(
                footing(parts | rest, q, pushed), footing(stood, q, pushed) if stood else 0.0
            )
            if under and pushed is not None:
                way += _UNDERNEATH
            if self.winding[d]:
                larger = self._area(parts) > self._area(rest)
                way += self.winding[d] * (_UNWIELDY if larger else 1.0)
            if meets:
                for part in inside:
                    way += _SIDEWAYS * (self.sideways[part][d] & rest).bit_count()
            if upright and self.come_from[d][q] != _ABOVE:
                way += upright
            if way < least - 1e-6:
                least, best = way, d
        return cost + least, best

    def _put(self, inside: Sequence[int], parts: int, rest: int, q: int) -> tuple[float, int, bool]:
        """What parts cost at the rest whichever way they come, how many joints meet, and
        whether parts that come level go under what nothing joins to them."""
        cost = self.footing.reached(parts, rest, q)
        meets, loose, below = 0, True, False
        for part in inside:
            fact = self.facts[part]
            loose = loose and fact.loose
            joined = fact.joined & rest
            if joined:
                meets += joined.bit_count()
                below = below or bool(self.below[part][q] & rest)
                cost += _EARLY_COVER * (joined & self.laid).bit_count()
        if any(self.on_end[part][q] and self.facts[part].flat & rest for part in inside):
            cost += _GLUED_ON_END
        if self.hung & (parts | rest):
            cost += self._about_hung(parts, rest, q)
        stands = POSTURES[q] is Posture.STANDING
        if loose and not stands:
            cost += APART
        if not meets and not loose:
            unheld = APART if stands else 2 * APART  # what nothing carries goes in at the end
            cost += RESTS if self.rests(parts, rest, q) else unheld + HELD
        lows = self.footing.lows
        under = not meets and not loose and lows(rest)[q] > lows(parts)[q] + LEVEL
        if lows(parts)[q] < lows(rest)[q] - LEVEL and self.pieces(rest) > 1:
            cost += APART * (self.pieces(rest) - 1)  # the rest is lifted onto what comes
        if below:
            cost += _FROM_BELOW
            if self._floor_in_the_way(inside, parts, rest, q):
                cost += _NO_ROOM_BELOW
        if len(inside) > 1:
            cost += APART * (self.pieces(parts) - 1) + HALF
            cost += _SPLIT_PAIR * sum(bool(self.facts[part].likes & rest) for part in inside)
        if self.dry & rest:
            cost += sum(
                self.footing.keeping(1 << part)
                for part in members(self.dry & rest)
                if self._waits(part, rest, q)
            )
        if meets:
            pins = self.pins(inside, rest)
            cost += _PIN * max(0, meets - 1) + _EACH_PIN * max(0, pins - _MANY_PINS)
        return cost, meets, under

    def _waits(self, part: int, rest: int, q: int) -> bool:
        """Whether a part is on pins in one part alone, and would fall out of them or over."""
        return self._on_dry_pins(part, rest) and not self._stays(1 << part, rest & ~(1 << part), q)

    def _on_dry_pins(self, part: int, among: int) -> bool:
        """Whether of what is there only one part keeps a part, by pins that nothing draws."""
        fact = self.facts[part]
        there = fact.joined & among
        return there != 0 and not there & (there - 1) and not there & ~fact.dry

    def _about_hung(self, moving: int, rest: int, q: int) -> float:
        """What it costs to hang doors early, or on work that does not stand."""
        there = [p for p in members(rest & self.hung) if self.facts[p].hung & rest]
        hangs = [p for p in members(moving & self.hung) if self.facts[p].hung & rest]
        if hangs:
            return 0.0 if POSTURES[q] is Posture.STANDING else _HUNG_LYING
        return _AFTER_HUNG * len(there)

    def least_step(self, part: int, other: int, direction: int, q: int) -> float:
        """The least that bringing a part to one it is joined to costs, whatever else is there."""
        cost = self.arriving[direction][q]
        if self.sideways[part][direction] >> other & 1:
            cost += _SIDEWAYS
        if self.below[part][q] >> other & 1:
            cost += _FROM_BELOW
        if self.facts[part].laid and self.come_from[direction][q] != _ABOVE:
            cost += _UPRIGHT_COVER
        return cost

    @staticmethod
    def pinned_at_once(joints: int, arrivals: int) -> float:
        """The least cost of closing so many joints in so many arrivals."""
        return _PIN * max(0, joints - arrivals)

    def pins(self, inside: Sequence[int], rest: int) -> int:
        """The number of pins that must find their bores when parts come to the rest."""
        return sum(
            [n for part in inside for other, n in self.facts[part].pins if rest >> other & 1]
        )

    def must_be_held(self, inside: Sequence[int], direction: int, rest: int, q: int) -> bool:
        """Whether parts that have just come would fall before they are fastened.

        ``direction`` is the number of the way in which they could leave again. What has
        come from above lies on what is under it, unless it is a plate on its edge that
        nothing pins. What has come level is carried by the floor, by a part that it sits
        on, or by pins and grooves on two parts; what has come from below by nothing.
        Common practice, no source.
        """
        come_from = self.come_from[direction][q]
        if come_from == _BELOW:
            return True
        moving = sum(1 << part for part in inside)
        if not any(self.facts[part].joined & rest for part in inside):
            return not self.rests(moving, rest, q)
        return self._falls(inside, rest, q, come_from) and not self._stays(moving, rest, q)

    def _held(
        self, inside: Sequence[int], parts: int, rest: int, q: int
    ) -> tuple[float, float, float]:
        """What it costs to hold parts that meet the rest: from above, level, from below.

        They must be held, too, where they stand on pins in one part so that they would fall.
        """
        keeping = self.footing.keeping(parts)
        grips = hung = 0
        for part in inside:
            grips |= self.facts[part].gripped & rest
            hung |= self.facts[part].hung & rest
        if grips & (grips - 1) or hung:
            return 0.0, 0.0, keeping
        if self._stays(parts, rest, q):
            return _NOTHING_HELD
        on_edge = len(inside) == 1 and self.on_edge[inside[0]][q]
        return keeping if on_edge else 0.0, keeping, keeping

    def _falls(self, inside: Sequence[int], rest: int, q: int, come_from: int) -> bool:
        """Whether parts that meet the rest fall, if nothing that is under them keeps them."""
        if any(self.facts[part].hung & rest for part in inside):
            return False
        grips = 0
        for part in inside:
            grips |= self.facts[part].gripped
        grips &= rest
        falls_over = len(inside) == 1 and self.on_edge[inside[0]][q] and not grips
        if come_from == _ABOVE:
            return falls_over
        return not grips & (grips - 1) and (falls_over or self._hangs(inside, rest, q))

    def _stays(self, moving: int, rest: int, q: int) -> bool:
        """Whether parts that have come stay up by what is under them, joined to it or not.

        What lies little over the floor is packed up.
        """
        floor, low = self.footing.lows(rest)[q], self.footing.lows(moving)[q]
        return self._is_carried(moving, rest, q, low <= floor + self.footing.packed(q))

    def rests(self, moving: int, rest: int, q: int) -> bool:
        """Whether parts and the rest stay in their places by gravity, unjoined, in a posture.

        Each must be carried, by the floor or the other; work of many parts that reaches the
        floor is taken to stand.
        """
        mine, other = self.footing.lows(moving)[q], self.footing.lows(rest)[q]
        floor = min(mine, other) + LEVEL
        return self._is_carried(moving, rest, q, mine <= floor) and (
            (other <= floor and rest.bit_count() > SMALL)
            or self._is_carried(rest, moving, q, other <= floor)
        )

    def _area(self, mask: int) -> float:
        return sum(self.facts[part].area for part in members(mask))

    def _is_carried(self, moving: int, others: int, q: int, on_floor: bool) -> bool:
        carriers = self._under(moving)[q] & others
        if not carriers and not on_floor:
            return False
        key = (moving, carriers if on_floor else ~carriers, q)
        if key not in self._carried:
            self._carried[key] = self.footing.is_carried(moving, carriers, q, on_floor)
        return self._carried[key]

    def _under(self, mask: int) -> tuple[int, ...]:
        """The parts that lie under some parts in each posture."""
        if mask not in self._unders:
            under = [0] * len(POSTURES)
            for part in members(mask):
                for q, row in enumerate(self.under_it[part]):
                    under[q] |= row
            self._unders[mask] = tuple(under)
        return self._unders[mask]

    def turned(self, a: int, b: int, among: int) -> float:
        """The cost of turning some parts from one posture into another."""
        return 0.0 if a == b else TURNS[a][b] * (1 + self.footing.heft(among)) + self.falls(among)

    def falls(self, among: int) -> float:
        """What it costs besides that something falls off what is turned: it only rests on it.

        What stands on dry pins in one part alone slips off them.
        """
        apart = APART * (self.pieces(among) - 1 + (among & self.loose).bit_count())
        if not self.dry & among:
            return apart
        return apart + _SLIPS * sum(self._on_dry_pins(p, among) for p in members(self.dry & among))

    def falls_over(self, part: int, q: int) -> bool:
        """Whether a part that stands alone is a plate on its edge."""
        return self.on_edge[part][q]

    @staticmethod
    def _tools_below(fact: PartFacts, q: Posture) -> tuple[tuple[int, float], ...]:
        """For each part it is joined to: how high a tool worked from below reaches down."""
        lowest: dict[int, float] = {}
        for other, out, point, need in fact.mouths:
            if steepness(out, q) < -0.7:
                height = dot(point, UP[q]) - need
                lowest[other] = min(height, lowest.get(other, height))
        return tuple(sorted(lowest.items()))

    def _floor_in_the_way(self, inside: Sequence[int], parts: int, rest: int, q: int) -> bool:
        reaches = [
            height for part in inside for other, height in self.under[part][q] if rest >> other & 1
        ]
        if not reaches:
            return False
        return min(reaches) < min(self.footing.lows(parts)[q], self.footing.lows(rest)[q])

    def _hangs(self, inside: Sequence[int], rest: int, q: int) -> bool:
        """Nothing under the parts: neither the floor nor a part that they sit on."""
        if any(self.sits[part][q] & rest for part in inside):
            return False
        low = min(self.facts[part].lows[q] for part in inside)
        return low > self.footing.lows(rest)[q] + PACKED

    def pieces(self, among: int) -> int:
        """The number of sets into which the joints do not reach."""
        if among not in self._pieces:
            self._pieces[among] = max(1, self._count_pieces(among))
        return self._pieces[among]

    def _count_pieces(self, among: int) -> int:
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


def _come_from(steep: float) -> int:
    return _ABOVE if steep < -0.9 else _BELOW if steep > 0.7 else _LEVEL_IN


def turn_cost(a: Posture, b: Posture) -> float:
    """Return the cost of turning the work over (common practice, no source)."""
    if a is b:
        return 0.0
    return 3.5 if dot(UP[a], UP[b]) < -0.5 else 2.0


TURNS = [[turn_cost(a, b) for b in POSTURES] for a in POSTURES]
