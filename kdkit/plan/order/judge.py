"""The author's order judged: kept, or the first entry that cannot be, and why.

An order that names every part is gone through entry by entry: what is put on must be
able to leave again while everything named before it, and nothing else, is there. An
order in part is added to the blocking graphs line by line: "first before later" is an
edge from first to later in every direction, since what was put on first cannot leave
before what came later. The same search that proves a product possible then finds the
first line that cannot be kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from kdkit.diagnostics import Path, Problem, Related, error
from kdkit.frames import Vec3
from kdkit.model.resolved import OrderSaid, PutOn, Resolved, UnitUse
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.blocking.apart import comes_apart, find_stuck, prove_stuck, smallest_stuck
from kdkit.plan.choice.costs import PartFacts
from kdkit.plan.motion.directions import direction_words, opposite
from kdkit.plan.order.nearest import Propose, nearest_order
from kdkit.plan.order.units import joined_to_first
from kdkit.plan.plan import Block, NearestOrder, OrderRefused

__all__ = ["Judgement", "judge_order", "order_text"]


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """An order that is kept: the graphs with it, and what is put together first.

    ``is_whole``: its row names every part, loose ones perhaps left out.
    """

    blocking: Blocking
    groups: tuple[UnitUse, ...] = ()
    is_whole: bool = False


def judge_order(
    blocking: Blocking,
    facts: Sequence[PartFacts],
    resolved: Resolved,
    titles: Mapping[str, str],
    propose: Propose,
) -> Judgement | tuple[OrderRefused, Problem]:
    """Judge the author's order on a product that comes apart.

    Args:
        blocking: its graphs, without the order.
        facts: of its parts.
        titles: what to call the parts.
        propose: asked for the order near the author's when that one fails.
    """
    judge = _Judge(blocking, facts, resolved, titles, propose)
    twice = judge.named_twice()
    if twice is not None:
        return twice
    if judge.is_whole():
        refused = judge.go_through()
        if refused is not None:
            return refused
    return judge.add_lines()


def order_text(entries: Sequence[Sequence[str]]) -> str:
    """Return an order as a definition says it: ``[left, [shelf, top], right]``."""
    said = [e[0] if len(e) == 1 else f"[{', '.join(e)}]" for e in entries]
    return f"[{', '.join(said)}]"


class _Judge:
    def __init__(
        self,
        blocking: Blocking,
        facts: Sequence[PartFacts],
        resolved: Resolved,
        titles: Mapping[str, str],
        propose: Propose,
    ) -> None:
        self._blocking = blocking
        self._facts = facts
        self._titles = titles
        self._propose = propose
        self._number = {name: n for n, name in enumerate(blocking.names)}
        self._row = [put for put in resolved.sequence if self._mask(put.parts)]
        self._lines = resolved.order
        self._loose = sum(1 << n for n, fact in enumerate(facts) if fact.loose)

    def _mask(self, names: Sequence[str]) -> int:
        return sum(1 << self._number[name] for name in set(names) if name in self._number)

    def _names(self, mask: int) -> tuple[str, ...]:
        return tuple(self._blocking.names[n] for n in members(mask))

    def is_whole(self) -> bool:
        """Tell whether the row names every part, loose ones perhaps left out."""
        named = 0
        for put in self._row:
            named |= self._mask(put.parts)
        return bool(self._row) and not self._blocking.everything & ~named & ~self._loose

    def named_twice(self) -> tuple[OrderRefused, Problem] | None:
        """Refuse a row that puts a part on twice."""
        seen: dict[str, Path] = {}
        for n, put in enumerate(self._row):
            for name in put.parts:
                if name in seen:
                    reason = f"{self._titles[name]} is there already"
                    return self._refuse(
                        n,
                        0,
                        put,
                        (),
                        (reason,),
                        Related(message=f"{name} is put on here first", path=seen[name]),
                    )
                seen[name] = put.path
        return None

    def _falls_apart(self, n: int, there: int) -> tuple[OrderRefused, Problem] | None:
        """Refuse an entry whose parts cannot be put together by themselves."""
        put = self._row[n]
        moving = self._mask(put.parts)
        apart = moving & ~joined_to_first(self._facts, moving)
        if apart:
            named = " and ".join(self._titles[name] for name in self._names(apart))
            reason = f"{named}: joined to nothing else that is put together with it"
            return self._refuse(n, there, put, (), (reason,))
        stuck = find_stuck(self._blocking, moving)
        if stuck is None:
            return None
        proof = prove_stuck(self._blocking, smallest_stuck(self._blocking, stuck))
        reasons = [b.reason for _, blocks in proof.loops for b in blocks]
        return self._refuse(n, there, put, (), tuple(dict.fromkeys(reasons)))

    def _first_unmade(self) -> tuple[int, tuple[OrderRefused, Problem]] | None:
        """The first entry whose parts cannot be put together, by its number."""
        there = 0
        for n, put in enumerate(self._row):
            unmade = self._falls_apart(n, there)
            if unmade is not None:
                return n, unmade
            there |= self._mask(put.parts)
        return None

    def go_through(self) -> tuple[OrderRefused, Problem] | None:
        """Put the row together entry by entry; return the first that fails."""
        there = 0
        for n, put in enumerate(self._row):
            moving = self._mask(put.parts)
            unmade = self._falls_apart(n, there)
            if unmade is not None:
                return unmade
            stops = self._stops(moving, there) if there else []
            if there and len(stops) == len(self._blocking.directions):
                return self._refuse(n, there, put, tuple(stops), tuple(_by_reason(stops)))
            there |= moving
        return None

    def _stops(self, moving: int, there: int) -> list[tuple[Vec3, Block]]:
        """For each direction in which they cannot leave, one block."""
        found = []
        both = moving | there
        for d, v in enumerate(self._blocking.directions):
            for part in members(moving):
                held = self._blocking.blockers(d, part, both) & there
                if held:
                    by = members(held)[0]
                    block = Block(
                        part=self._blocking.names[part],
                        by=self._blocking.names[by],
                        reason=self._blocking.refusal(d, part, by, both),
                    )
                    found.append((v, block))
                    break
        return found

    def add_lines(self) -> Judgement | tuple[OrderRefused, Problem]:
        """Add the pairs line by line; refuse the first that leaves something stuck."""
        blocking = self._blocking
        unmade = self._first_unmade()
        for line in self._lines:
            at = next((n for n, put in enumerate(self._row) if put.path == line.path), None)
            if unmade is not None and (at is None or at >= unmade[0]):
                return unmade[1]
            ordered = blocking.with_order(self._pairs(line))
            stuck = find_stuck(ordered, ordered.everything)
            if stuck is None:
                blocking = ordered
                continue
            proof = prove_stuck(ordered, smallest_stuck(ordered, stuck))
            reasons = tuple(dict.fromkeys(b.reason for _, bs in proof.loops for b in bs))
            refused = OrderRefused(
                path=line.path,
                position=at,
                moving=tuple(n for n in line.later if n in self._number),
                present=tuple(n for n in proof.parts if n not in line.later),
                blocks=tuple((v, bs[0]) for v, bs in proof.loops if bs),
                reasons=reasons,
                nearest=self._nearest(at),
            )
            first, later = " and ".join(line.first), " and ".join(line.later)
            return refused, self._problem(refused, f"{first} cannot be put on before {later}")
        if unmade is not None:
            return unmade[1]
        return Judgement(blocking=blocking, groups=self._groups(blocking), is_whole=self.is_whole())

    def _pairs(self, line: OrderSaid) -> list[tuple[int, int, str]]:
        return [
            (
                self._number[first],
                self._number[later],
                f"the order says {self._titles[first]} goes on before {self._titles[later]}",
            )
            for first in line.first
            for later in line.later
            if first != later and first in self._number and later in self._number
        ]

    def _groups(self, blocking: Blocking) -> tuple[UnitUse, ...]:
        """The entries of several parts, as units to be built first."""
        found = []
        for n, put in enumerate(self._row):
            mask = self._mask(put.parts)
            together = joined_to_first(self._facts, mask) == mask
            if mask.bit_count() > 1 and together and comes_apart(blocking, mask):
                named = " and ".join(self._titles[name] for name in put.parts)
                found.append(UnitUse(name=f"order {n + 1}", title=named, parts=put.parts))
        return tuple(found)

    # -- refusing ------------------------------------------------------------------

    def _refuse(
        self,
        n: int,
        there: int,
        put: PutOn,
        blocks: tuple[tuple[Vec3, Block], ...],
        reasons: tuple[str, ...],
        *related: Related,
    ) -> tuple[OrderRefused, Problem]:
        refused = OrderRefused(
            path=put.path,
            position=n,
            moving=put.parts,
            present=self._names(there),
            blocks=blocks,
            reasons=reasons,
            nearest=self._nearest(n) if not related else None,
        )
        if related:
            message = f"entry {n + 1} of the order puts {put.said} on a second time"
        elif not blocks:
            message = f"entry {n + 1} of the order: {put.said} cannot be put together first"
        else:
            before = ", ".join(self._names(there))
            message = f"entry {n + 1} of the order: {put.said} cannot be put on after {before}"
        return refused, self._problem(refused, message, related)

    def _nearest(self, failing: int | None) -> NearestOrder | None:
        if not self._row:
            return None
        kept = {put.path for put in self._row}
        hints = [
            pair for line in self._lines if line.path not in kept for pair in self._pairs(line)
        ]
        free = self._blocking.with_order(hints)
        if not comes_apart(free, free.everything):
            free = self._blocking
        rows = [self._mask(put.parts) for put in self._row]
        groups = [self._mask(unit.parts) for unit in self._groups(free)]
        found = nearest_order(free, rows, groups, failing, self._propose)
        return NearestOrder(
            entries=tuple(tuple(entry) for entry in found.entries),
            moved=tuple(self._row[n].said for n in found.moved),
            exact=found.exact,
        )

    def _problem(
        self, refused: OrderRefused, message: str, related: tuple[Related, ...] = ()
    ) -> Problem:
        near = refused.nearest
        help = "take this line out or turn it round; without it the product can be built"
        if related:
            help = "name every part once"
        elif near is not None:
            own = {frozenset(put.parts) for put in self._row if len(put.parts) > 1}
            offered = {frozenset(entry) for entry in near.entries}
            brackets = [e for e in near.entries if len(e) > 1 and frozenset(e) not in own]
            opened = [
                p.said for p in self._row if len(p.parts) > 1 and frozenset(p.parts) not in offered
            ]
            done = [f"{', '.join(near.moved)} moved"] if near.moved else []
            done += [f"{' and '.join(e)} put together first" for e in brackets]
            done += [f"{said} put on one by one" for said in opened]
            sure = "" if near.exact else "; fewer changes might do"
            help = (
                f"the nearest order that works ({', '.join(done)}{sure}): "
                f"order: {order_text(near.entries)}"
            )
        problem = error(
            "order-cannot-be-kept",
            message,
            refused.path,
            where="\n  ".join(refused.reasons[:8]),
            help=help,
        )
        return replace(problem, related=related)


def _by_reason(stops: Sequence[tuple[Vec3, Block]]) -> list[str]:
    """One sentence for each reason, with all the ways of coming that it stops."""
    ways: dict[str, list[str]] = {}
    for v, block in stops:
        ways.setdefault(block.reason, []).append(direction_words(opposite(v)))
    return [
        f"it cannot come {_either(travel)}, for it must be able to go back the way it came:"
        f" {reason}"
        for reason, travel in ways.items()
    ]


def _either(ways: Sequence[str]) -> str:
    return ways[0] if len(ways) == 1 else f"{', '.join(ways[:-1])} or {ways[-1]}"
