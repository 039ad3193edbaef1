"""The planner: blocking graphs, taking apart, choice, operations, steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Problem
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Fastener, Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.apart import comes_apart, find_stuck, prove_stuck, smallest_stuck
from kdkit.plan.blocking import Blocking, find_blocking, members
from kdkit.plan.build import Build, Mating, Scene
from kdkit.plan.choice import Arrival, Stem, choose_order
from kdkit.plan.costs import PartFacts
from kdkit.plan.count import count_mating_orders
from kdkit.plan.directions import MOTION_CLASS
from kdkit.plan.facts import canonical_order, likeness, masses, merge_facts, part_facts
from kdkit.plan.hints import keep_order
from kdkit.plan.operations import list_operations
from kdkit.plan.plan import Impossible, Plan, Posture
from kdkit.plan.refusal import explain_stuck
from kdkit.plan.steps import group_steps, order_operations

__all__ = ["make_plan"]

_HEAVY = 15.0  # kg, from which two persons lift: common practice, compare ISO 11228-1

_LOAD_WAYS = ((0.0, -1.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
"""A loose part leaves to the front, else upwards, else to the back, else as it can."""


def make_plan(
    resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[Plan | Impossible | None, tuple[Problem, ...]]:
    """Return a proved assembly order, or the proof that there is none.

    Returns:
        ``(Plan, problems)``; or ``(Impossible, problems)`` with an error; or
        ``(None, problems)`` when the author's order cannot be kept.
    """
    parts = canonical_order(assembly.parts)
    if not parts:
        return _empty(), ()
    assembly = replace(assembly, parts=tuple(parts))
    joinery = _sorted(joinery)
    names = [part.name for part in parts]
    titles = {part.name: part.title or part.name for part in parts}
    blocking = find_blocking(names, assembly, joinery, catalogue)
    everything = blocking.everything
    stuck = find_stuck(blocking, everything)
    if stuck is not None:
        proof = prove_stuck(blocking, smallest_stuck(blocking, stuck))
        return proof, (explain_stuck(proof, titles, joinery),)
    blocking, problems = keep_order(blocking, resolved.order, titles)
    if problems:
        return None, problems
    facts = part_facts(parts, joinery, catalogue)
    core, loads = _take_out_loose(blocking, facts)
    build, search = _choose(resolved, blocking, facts, core, loads)
    laid = frozenset(names[n] for n, f in enumerate(facts) if f.laid)
    alike = likeness(parts)
    scene = Scene(
        blocking=blocking,
        joinery=joinery,
        catalogue=catalogue,
        titles=titles,
        laid=laid,
        alike=alike,
    )
    operations, precedences = list_operations(scene, build)
    order = order_operations(operations, precedences)
    orders, strength = count_mating_orders(operations, precedences)
    heavy = getattr(getattr(resolved.said, "safety", None), "heavy_part", _HEAVY)
    steps = group_steps(operations, order, alike, masses(parts, catalogue), heavy)
    return (
        Plan(
            operations=tuple(operations),
            precedences=tuple(precedences),
            order=order,
            steps=steps,
            motion_class=MOTION_CLASS,
            search=search,
            persons=max((s.persons for s in steps), default=1),
            minutes=sum(s.minutes for s in steps),
            mating_orders=(orders.at_least, orders.at_most),
            order_strength=strength,
        ),
        (),
    )


def _empty() -> Plan:
    return Plan(
        operations=(),
        precedences=(),
        order=(),
        steps=(),
        motion_class=MOTION_CLASS,
        search="exact: there are no parts",
        persons=1,
        minutes=0.0,
    )


def _sorted(joinery: Joinery) -> Joinery:
    """The joinery in an order that does not depend on the order of the definition."""

    def place(fastener: Fastener) -> tuple[str, ...]:
        origin = " ".join(f"{c:12.3f}" for c in fastener.frame.origin)
        return (fastener.butting or "", fastener.receiving, fastener.fitting, origin, fastener.id)

    return replace(
        joinery,
        joints=tuple(sorted(joinery.joints, key=lambda j: (j.butting, j.receiving, j.name))),
        fixtures=tuple(sorted(joinery.fixtures, key=lambda f: (f.name, f.fitting, f.on))),
        fasteners=tuple(sorted(joinery.fasteners, key=place)),
        grooves=tuple(sorted(joinery.grooves, key=lambda g: (g.part, g.surface, g.polygon))),
    )


def _take_out_loose(
    blocking: Blocking, facts: Sequence[PartFacts]
) -> tuple[int, tuple[Mating, ...]]:
    """Take the loose parts out of the finished product, as far as they come.

    Returns:
        ``(what is left, loads in the order of laying in)``.
    """
    ways = sorted(
        range(len(blocking.directions)),
        key=lambda d: (
            _LOAD_WAYS.index(blocking.directions[d])
            if blocking.directions[d] in _LOAD_WAYS
            else len(_LOAD_WAYS),
            d,
        ),
    )
    left = blocking.everything
    taken: list[Mating] = []
    found = True
    while found:
        found = False
        for part in reversed(members(left)):
            if not facts[part].loose or left.bit_count() == 1:
                continue
            way = next((d for d in ways if not blocking.blockers(d, part, left)), None)
            if way is not None:
                taken.append(Mating(parts=1 << part, leaving=way, posture=Posture.STANDING))
                left &= ~(1 << part)
                found = True
    return left, tuple(reversed(taken))


@dataclass(frozen=True)
class _Groups:
    """The bodies that the choice moves: parts, or units as a whole."""

    masks: tuple[int, ...]
    titles: tuple[str, ...]


def _choose(
    resolved: Resolved,
    blocking: Blocking,
    facts: Sequence[PartFacts],
    core: int,
    loads: tuple[Mating, ...],
) -> tuple[Build, str]:
    groups = _unit_groups(resolved, blocking, core)
    merged = blocking.merged(groups.masks, groups.titles)
    stem = choose_order(
        merged, merge_facts(facts, groups.masks), merged.everything, Posture.STANDING
    )
    builder = _Builds(blocking, facts, groups)
    build = builder.product(stem, loads)
    return build, stem.search


def _unit_groups(resolved: Resolved, blocking: Blocking, core: int) -> _Groups:
    """Each unit moves as one body if it can be built and the product then still can."""
    number = {name: n for n, name in enumerate(blocking.names)}
    candidates: list[tuple[int, str]] = []
    taken = 0
    for use in sorted(resolved.units, key=lambda u: (-len(u.parts), u.name)):
        mask = sum(1 << number[p] for p in set(use.parts) if p in number) & core
        if mask.bit_count() > 1 and not mask & taken and comes_apart(blocking, mask):
            candidates.append((mask, use.title or use.name))
            taken |= mask
    while True:
        groups = _with_singles(blocking, core, candidates)
        if not candidates or comes_apart_merged(blocking, groups):
            return groups
        candidates.pop()


def comes_apart_merged(blocking: Blocking, groups: _Groups) -> bool:
    """Tell whether the product comes apart into its groups."""
    merged = blocking.merged(groups.masks, groups.titles)
    return comes_apart(merged, merged.everything)


def _with_singles(blocking: Blocking, core: int, candidates: Sequence[tuple[int, str]]) -> _Groups:
    grouped = 0
    for mask, _ in candidates:
        grouped |= mask
    singles = [(1 << part, blocking.names[part]) for part in members(core & ~grouped)]
    ordered = sorted((*singles, *candidates), key=lambda g: (g[0] & -g[0], g[0]))
    return _Groups(tuple(m for m, _ in ordered), tuple(t for _, t in ordered))


class _Builds:
    """Opens stems over groups into builds over parts; names the subassemblies."""

    def __init__(
        self,
        blocking: Blocking,
        facts: Sequence[PartFacts],
        groups: _Groups,
        prefix: str = "",
    ) -> None:
        self._prefix = prefix
        self._blocking = blocking
        self._facts = facts
        self._groups = groups
        self._count = 0

    def product(self, stem: Stem, loads: tuple[Mating, ...]) -> Build:
        build = self._open(stem, "")
        return Build(
            name="",
            base=build.base,
            posture=build.posture,
            matings=build.matings,
            base_build=build.base_build,
            loads=loads,
            stands=True,
        )

    def _open(self, stem: Stem, name: str) -> Build:
        base, inner = self._group(stem.base)
        return Build(
            name=name,
            base=base,
            posture=stem.posture,
            matings=tuple(self._mating(arrival) for arrival in stem.arrivals),
            base_build=inner,
        )

    def _mating(self, arrival: Arrival) -> Mating:
        build: Build | None
        if arrival.half is not None:
            opened = self._open(arrival.half, "")
            self._count += 1  # after the halves inside it, which are built first
            build = replace(opened, name=f"{self._prefix}subassembly {self._count}")
            parts = build.parts
        else:
            parts, build = self._group(arrival.parts)
        return Mating(
            parts=parts, leaving=arrival.direction ^ 1, posture=arrival.posture, build=build
        )

    def _group(self, atom: int) -> tuple[int, Build | None]:
        n = atom.bit_length() - 1
        parts = self._groups.masks[n]
        if parts.bit_count() == 1:
            return parts, None
        stem = choose_order(self._blocking, self._facts, parts, None)
        plain = _Builds(
            self._blocking,
            self._facts,
            _Groups(tuple(1 << p for p in range(len(self._blocking.names))), self._blocking.names),
            prefix=f"{self._groups.titles[n]}, ",
        )
        return parts, plain._open(stem, self._groups.titles[n])
