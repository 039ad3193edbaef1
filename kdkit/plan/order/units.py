"""Units as subassemblies: what moves as one, and the builds inside builds.

A unit is planned on its own and mated as one body, if it can be built alone and the
product then still can; units inside it likewise.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from kdkit.diagnostics import Problem, advice
from kdkit.model.resolved import UnitUse
from kdkit.plan.blocking import Blocking, members
from kdkit.plan.blocking.apart import comes_apart
from kdkit.plan.choice.choosing import Arrival, Stem, choose_order
from kdkit.plan.choice.costs import APART, PartFacts
from kdkit.plan.choice.facts import merge_facts
from kdkit.plan.order.build import Build, Mating
from kdkit.plan.plan import Posture, body_name

__all__ = ["choose_build", "joined_pieces", "joined_to_first", "packed_title"]

_MOST_TRIED = 60  # parts up to which units are taken apart where that may help


def choose_build(
    blocking: Blocking,
    facts: Sequence[PartFacts],
    units: Sequence[UnitUse],
    core: int,
    packed: Sequence[int] = (),
    loads: Sequence[Mating] = (),
    pieces: Sequence[UnitUse] = (),
    row: Sequence[int] = (),
) -> tuple[Build, str, tuple[Problem, ...]]:
    """Return the best build of a set of parts that comes apart, and how it was searched.

    It ends standing. Parts are numbered as in ``blocking``. The problems are advice:
    units that cannot be built first and brought in as one, and do not arrive whole.
    Where something would be brought to what neither joins nor carries it, units are
    taken apart if that helps.

    Args:
        pieces: what joints hold together, and no joint joins to the rest: units too,
            though nobody says so.
        packed: masks of parts that arrive as one; they come apart, and so does the set
            with each of them as one body.
        loads: what is laid in afterwards, in order; units among it get builds of their own.
        row: what an author puts on one after the other, every part of it, as masks; a
            unit that is none of these is then put on as the row says.
    """
    everything = core
    for load in loads:
        everything |= load.parts
    masks = {use.name: _mask(blocking, use, core, everything) for use in (*units, *pieces)}
    called = _numbered((*units, *pieces), masks)
    tried: list[tuple[int, int, _Builds, Build, str]] = []
    groupings = dict.fromkeys(((*units, *pieces), tuple(units), tuple(pieces), ()))
    if row:
        groupings = {tuple(use for use in units if masks[use.name] in row): None}
    for some in groupings:
        builds = _Builds(
            blocking, facts, _numbered(some, masks), tuple(packed), tuple(row), called=called
        )
        if core in packed:
            inner, search = builds.packed_build(core)
            build = Build(
                name="", base=core, posture=Posture.STANDING, matings=(), base_build=inner
            )
        else:
            build, search = builds.build(core, Posture.STANDING, "")
        laid_in = tuple(replace(load, build=builds.of_load(load.parts)) for load in loads)
        build = replace(build, stands=True, loads=laid_in)
        tried.append((_without_reason(build), len(tried), builds, build, search))
        if not tried[-1][0] or core.bit_count() > _MOST_TRIED:
            break
    _, _, builds, build, search = min(tried, key=lambda one: one[:2])
    used = {
        mask
        for mask, _ in builds.units
        if mask not in (core, *builds.whole) and not any(mask & ~group == 0 for group in packed)
    }
    problems = tuple(
        advice(
            "unit-not-whole",
            f"unit {use.name} cannot be built first and brought in as one",
            ("units", *use.name.split(".")[:1]),
            help="its parts are put on one by one; to change that, leave the whole of it a way in,"
            " and the tools that fasten it their room",
        )
        for use in sorted(units, key=lambda u: u.name)
        if masks[use.name] in used
    )
    return build, search, problems


def joined_pieces(
    blocking: Blocking, facts: Sequence[PartFacts], titles: Mapping[str, str]
) -> tuple[UnitUse, ...]:
    """Return what the joints hold together in several parts, without the largest of it."""
    left = sum(1 << n for n, fact in enumerate(facts) if not fact.loose)
    found: list[int] = []
    while left:
        piece = joined_to_first(facts, left)
        found.append(piece)
        left &= ~piece

    def area(mask: int) -> float:
        return sum(facts[p].area for p in members(mask))

    made = []
    for mask in sorted(found, key=lambda m: (-area(m), m))[1:]:
        names = tuple(blocking.names[p] for p in members(mask))
        if len(names) > 1:
            largest = max(members(mask), key=lambda p: (facts[p].area, -p))
            title = f"subassembly with {titles[blocking.names[largest]]}"
            made.append(UnitUse(name=f"with {names[0]}", title=title, parts=names))
    return tuple(made)


def joined_to_first(facts: Sequence[PartFacts], mask: int) -> int:
    """Return the parts of a set that joints within it hold together with its first one."""
    reached = mask & -mask
    while True:
        wider = reached
        for part in members(reached):
            wider |= facts[part].joined & mask
        if wider == reached:
            return reached
        reached = wider


def _without_reason(build: Build) -> int:
    """In how many matings of a build and those inside it nothing joins or carries what comes."""
    inner = (build.base_build, *(m.build for m in (*build.matings, *build.loads)))
    return int(build.cost // APART) + sum(_without_reason(b) for b in inner if b is not None)


def packed_title(blocking: Blocking, mask: int) -> str:
    """Return the name of parts packed as one."""
    return body_name([blocking.names[p] for p in members(mask)])


def _mask(blocking: Blocking, use: UnitUse, core: int, everything: int) -> int:
    """A unit without what is laid into it afterwards: a shelf, a drawer.

    One that is laid in as a whole has all its parts.
    """
    parts = sum(1 << n for n, name in enumerate(blocking.names) if name in use.parts)
    return parts & core or parts & everything


def _numbered(units: Sequence[UnitUse], masks: Mapping[str, int]) -> tuple[tuple[int, str], ...]:
    """Units as masks with titles of their own, the larger first."""
    ordered = sorted(units, key=lambda u: (-len(u.parts), u.name))
    titles = Counter(use.title or use.name for use in ordered)
    seen: Counter[str] = Counter()
    found = []
    for use in ordered:
        title = use.title or use.name
        seen[title] += 1
        mask = masks[use.name]
        if mask.bit_count() > 1:
            found.append((mask, f"{title} {seen[title]}" if titles[title] > 1 else title))
    return tuple(found)


@dataclass
class _Opening:
    """A build being opened: its bodies, and how many halves were named so far."""

    masks: tuple[int, ...]
    titles: tuple[str, ...]
    name: str
    halves: int = 0


@dataclass(frozen=True, eq=False)
class _Builds:
    blocking: Blocking
    facts: Sequence[PartFacts]
    units: tuple[tuple[int, str], ...]
    packed: tuple[int, ...] = ()
    row: tuple[int, ...] = ()
    whole: set[int] = field(default_factory=set)  # masks of the units that move as one
    called: tuple[tuple[int, str], ...] = ()  # what is laid in keeps its name, a unit or not

    def build(self, parts: int, finish: Posture | None, name: str) -> tuple[Build, str]:
        """Choose the order of a set of parts, its units as one body each."""
        opening = self._bodies(parts, name)
        merged = self.blocking.merged(opening.masks, opening.titles)
        stem = choose_order(
            merged,
            merge_facts(self.facts, opening.masks),
            merged.everything,
            finish,
            self._row_of(parts, opening.masks),
        )
        opened = self._open(stem, name, opening)
        return replace(opened, cost=stem.cost, least=stem.least), stem.search

    def _row_of(self, parts: int, bodies: Sequence[int]) -> tuple[int, ...]:
        """The author's row as masks of bodies, where it names each of them by itself."""
        entries = [mask for mask in self.row if mask & parts]
        if sorted(entries) != sorted(bodies):
            return ()
        return tuple(1 << bodies.index(mask) for mask in entries)

    def of_load(self, mask: int) -> Build | None:
        """Choose the order of a unit that is laid in as one; None for a single part."""
        if mask.bit_count() == 1:
            return None
        if mask in self.packed:
            return self.packed_build(mask)[0]
        self.whole.add(mask)
        title = next((title for unit, title in (*self.units, *self.called) if unit == mask), "")
        return self.build(mask, None, title)[0]

    def packed_build(self, mask: int) -> tuple[Build, str]:
        """Choose the order in which parts are put together before packing."""
        build, search = self.build(mask, None, packed_title(self.blocking, mask))
        return replace(build, workshop=True), search

    def _bodies(self, parts: int, name: str) -> _Opening:
        chosen: list[tuple[int, str]] = []
        taken = 0
        fixed = [mask for mask in self.packed if mask & parts == mask and mask != parts]
        for mask, title in self.units:
            inside = mask & parts == mask and mask != parts and mask not in fixed
            splits = any(mask & group not in (0, group) for group in fixed)
            if inside and not splits and not mask & taken and self._builds_alone(mask):
                chosen.append((mask, title))
                taken |= mask
        while True:
            apart = [m for m in fixed if not any(m & mask for mask, _ in chosen)]
            bodies = [*chosen, *((m, packed_title(self.blocking, m)) for m in apart)]
            grouped = sum(mask for mask, _ in bodies)
            singles = [(1 << p, self.blocking.names[p]) for p in members(parts & ~grouped)]
            ordered = sorted((*singles, *bodies), key=lambda g: (g[0] & -g[0], g[0]))
            opening = _Opening(tuple(m for m, _ in ordered), tuple(t for _, t in ordered), name)
            if not chosen or self._comes_apart(opening):
                self.whole.update(mask for mask, _ in chosen)
                return opening
            chosen.pop()

    def _builds_alone(self, mask: int) -> bool:
        """Whether a unit hangs together, and comes apart with what is packed as one kept so."""
        fixed = sum(1 << p for p in members(mask) if not self.facts[p].loose)
        if joined_to_first(self.facts, fixed) != fixed:
            return False
        inside = [group for group in self.packed if group & mask == group and group != mask]
        grouped = sum(inside)
        groups = [*inside, *(1 << p for p in members(mask & ~grouped))]
        merged = self.blocking.merged(groups, [str(n) for n in range(len(groups))])
        return comes_apart(merged, merged.everything)

    def _comes_apart(self, opening: _Opening) -> bool:
        merged = self.blocking.merged(opening.masks, opening.titles)
        return comes_apart(merged, merged.everything)

    def _open(self, stem: Stem, name: str, opening: _Opening) -> Build:
        base, inner = self._body(stem.base, opening)
        return Build(
            name=name,
            base=base,
            posture=stem.posture,
            matings=tuple(self._mating(arrival, opening) for arrival in stem.arrivals),
            base_build=inner,
        )

    def _mating(self, arrival: Arrival, opening: _Opening) -> Mating:
        build: Build | None
        if arrival.half is not None:
            opened = self._open(arrival.half, "", opening)
            opening.halves += 1  # after the halves inside it, which are built first
            prefix = f"{opening.name}, " if opening.name else ""
            build = replace(opened, name=f"{prefix}subassembly {opening.halves}")
            parts = build.parts
        else:
            parts, build = self._body(arrival.parts, opening)
        return Mating(
            parts=parts, leaving=arrival.direction ^ 1, posture=arrival.posture, build=build
        )

    def _body(self, atom: int, opening: _Opening) -> tuple[int, Build | None]:
        n = atom.bit_length() - 1
        parts = opening.masks[n]
        if parts.bit_count() == 1:
            return parts, None
        if parts in self.packed:
            return parts, self.packed_build(parts)[0]
        return parts, self.build(parts, None, opening.titles[n])[0]
