"""The planner: blocking graphs, taking apart, choice, operations, steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Problem
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.masses import Masses
from kdkit.joinery.packed import packed_groups
from kdkit.joinery.placed import Fastener, Joinery
from kdkit.model.resolved import Part, Resolved, UnitUse
from kdkit.parts.sameness import number_pieces, of_one_size
from kdkit.parts.size import part_size
from kdkit.plan.blocking import Blocking, find_blocking, members
from kdkit.plan.blocking.clamps import keep_clamps
from kdkit.plan.blocking.refusal import explain_stuck
from kdkit.plan.blocking.settle import settle, settle_order, with_all_reasons
from kdkit.plan.choice.facts import canonical_order, part_facts
from kdkit.plan.operations import list_operations, list_workshop_operations, workshop_builds
from kdkit.plan.operations.clamping import mark_clamps, warn_of_clamps
from kdkit.plan.operations.glue_ups import warn_of_open_time
from kdkit.plan.operations.lifting import advise_lifting
from kdkit.plan.operations.lying import mark_lying
from kdkit.plan.operations.standing import floor_taken, mark_standing
from kdkit.plan.operations.steps import group_steps
from kdkit.plan.operations.twins import find_twins
from kdkit.plan.operations.unjoined import warn_of_unjoined
from kdkit.plan.order.build import Build, Scene, list_arrivals
from kdkit.plan.order.count import count_mating_orders
from kdkit.plan.order.followed import warn_of_departure
from kdkit.plan.order.glued_flat import find_glued_flats
from kdkit.plan.order.judge import Judgement, judge_order
from kdkit.plan.order.loose import take_out_loose
from kdkit.plan.order.packing import (
    built_together,
    order_against_packing,
    packed_masks,
    stuck_bodies,
)
from kdkit.plan.order.units import choose_build, joined_pieces
from kdkit.plan.plan import (
    FOUND_DIRECTIONS,
    MORE_MOVES,
    NAMED_DIRECTIONS,
    Impossible,
    Operation,
    OrderRefused,
    Plan,
    WorkshopPlan,
    times_of,
)

__all__ = ["find_refusal", "make_plan"]

_HEAVY = 15.0  # kg, from which two persons lift: common practice, compare ISO 11228-1


def make_plan(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    *,
    detours: bool = True,
    all_reasons: bool = True,
) -> tuple[Plan | Impossible | OrderRefused, tuple[Problem, ...]]:
    """Return a proved assembly order, or the proof that there is none.

    Args:
        detours: try two moves in a row and tilting on what no straight move takes apart.
        all_reasons: of a no every reason is certified; else one, which takes less time.

    Returns:
        ``(Plan, problems)``; or ``(Impossible, problems)`` with an error; or
        ``(OrderRefused, problems)`` with an error when the author's order cannot be kept.
    """
    parts = canonical_order(assembly.parts)
    if not parts:
        return _empty(), ()
    assembly = replace(assembly, parts=tuple(parts))
    joinery = _sorted(joinery)
    names = [part.name for part in parts]
    titles = {part.name: part.title or part.name for part in parts}
    blocking = find_blocking(names, assembly, joinery, catalogue)
    named = len(blocking.directions)
    packed = packed_masks(names, joinery)
    blocking, proof = settle(blocking, lambda graphs: stuck_bodies(graphs, packed), detours=detours)
    if proof is not None:
        if all_reasons:
            proof = with_all_reasons(
                blocking, proof, lambda graphs, among: stuck_bodies(graphs, packed, among)
            )
        return proof, (explain_stuck(proof, titles, joinery),)
    blocking = settle_order(
        blocking,
        [_mask_of(names, put.parts) for put in resolved.sequence],
        [(line.first, line.later) for line in resolved.order],
    )
    masses = Masses.of(parts, joinery, catalogue)
    facts = part_facts(parts, joinery, catalogue, assembly, masses.parts)
    pieces = joined_pieces(blocking, facts, titles)
    if not resolved.sequence and not resolved.order:
        known = {frozenset(unit.parts) for unit in (*resolved.units, *pieces)}
        flats = find_glued_flats(parts, joinery, titles)
        pieces += tuple(flat for flat in flats if frozenset(flat.parts) not in known)
    unit_masks = [_mask_of(names, unit.parts) for unit in (*resolved.units, *pieces)]

    def propose(ordered: Blocking, groups: Sequence[int]) -> list[tuple[str, ...]]:
        units = [
            UnitUse(name=f"order {n}", title="", parts=tuple(names[p] for p in members(mask)))
            for n, mask in enumerate(groups)
        ]
        core, loads = take_out_loose(ordered, facts, unit_masks, packed)
        units += resolved.units
        built, _, _ = choose_build(ordered, facts, units, core, packed, loads, pieces)
        return list_arrivals(built, names)

    judged = judge_order(blocking, facts, resolved, titles, propose)
    if not isinstance(judged, Judgement):
        refused, problem = judged
        return refused, (problem,)
    ordered = judged.blocking
    if packed and resolved.order:
        ordered, proof = settle(ordered, lambda graphs: stuck_bodies(graphs, packed))
        if proof is not None:
            refused, problem = order_against_packing(blocking, packed, resolved)
            return refused, (problem,)
    groups = [*unit_masks, *(_mask_of(names, group.parts) for group in judged.groups)]
    blocking = keep_clamps(ordered, titles, built_together(blocking, packed, groups))
    row = [(put, m) for put in resolved.sequence if (m := _mask_of(names, put.parts))]
    said = [mask for _, mask in row] if judged.is_whole else []
    movable = [mask for mask in unit_masks if mask in said] if said else unit_masks
    core, loads = take_out_loose(blocking, facts, movable, packed)
    build, search, problems = choose_build(
        blocking,
        facts,
        (*resolved.units, *judged.groups),
        core,
        packed,
        loads,
        pieces,
        said,
    )
    laid = frozenset(names[n] for n, f in enumerate(facts) if f.laid)
    alike = {part.name: of_one_size(part) for part in parts}
    scene = Scene(
        blocking=blocking,
        joinery=joinery,
        catalogue=catalogue,
        titles=titles,
        facts=facts,
        laid=laid,
        alike=alike,
        masses=masses,
        spans={p.name: max(part_size(p)) for p in parts},
        heavy=getattr(getattr(resolved.said, "safety", None), "heavy_part", _HEAVY),
    )
    found_more = len(blocking.directions) > named + len(blocking.moves)
    operations, precedences = list_operations(scene, build)
    order = tuple(o.id for o in operations)
    operations = mark_clamps(scene, operations, order)
    operations = mark_lying(scene, parts, operations, order, packed=True)
    operations = mark_standing(scene, operations, order, packed=True)
    before_packing = tuple(_plan_workshop(scene, parts, inner) for inner in workshop_builds(build))
    glued = [o for some in (operations, *(w.operations for w in before_packing)) for o in some]
    orders, strength = count_mating_orders(operations, precedences)
    packed_as_one = packed_groups(joinery.joints)
    by_id = {o.id: o for o in operations}
    alike_pieces = number_pieces(parts, joinery) if any(o.subassembly for o in operations) else {}
    twins = find_twins([by_id[o] for o in order], alike_pieces)
    steps = group_steps(operations, order, alike, packed_as_one, twins, precedences)
    order = tuple(id for step in steps for id in step.operations)
    return (
        Plan(
            operations=tuple(operations),
            precedences=tuple(precedences),
            order=order,
            steps=steps,
            motion_class=_motion_class(operations, before_packing, found_more),
            search=search,
            persons=max((s.persons for s in steps), default=1),
            minutes=sum(s.minutes for s in steps),
            wait_minutes=sum(s.wait_minutes for s in steps),
            mating_orders=(orders.at_least, orders.at_most),
            order_strength=strength,
            cost=build.cost,
            least_cost=build.least,
            workshop=before_packing,
            floor=floor_taken(scene, operations),
        ),
        (
            *problems,
            *warn_of_departure(build, [put for put, _ in row], [m for _, m in row], titles),
            *warn_of_unjoined(scene, glued),
            *warn_of_clamps(scene, glued),
            *warn_of_open_time(scene, glued),
            *advise_lifting(tuple(operations)),
        ),
    )


def find_refusal(
    resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[Problem, ...]:
    """Return why a product cannot be put together at all; () where it can.

    The verdict of ``make_plan`` without its plan, which takes most of the time: nothing is
    chosen, listed or weighed. An order that the author gave is judged by the whole of it.
    """
    if resolved.sequence or resolved.order:
        plan, problems = make_plan(resolved, assembly, joinery, catalogue, all_reasons=False)
        return () if isinstance(plan, Plan) else problems
    parts = canonical_order(assembly.parts)
    names = [part.name for part in parts]
    joinery = _sorted(joinery)
    assembly = replace(assembly, parts=tuple(parts))
    blocking = find_blocking(names, assembly, joinery, catalogue)
    packed = packed_masks(names, joinery)
    _, proof = settle(blocking, lambda graphs: stuck_bodies(graphs, packed))
    if proof is None:
        return ()
    return (explain_stuck(proof, {p.name: p.title or p.name for p in parts}, joinery),)


def _mask_of(names: Sequence[str], parts: Sequence[str]) -> int:
    return sum(1 << n for n, name in enumerate(names) if name in parts)


def _motion_class(
    operations: Sequence[Operation], before: Sequence[WorkshopPlan], found_more: bool
) -> str:
    if any(o.moves for some in (operations, *(w.operations for w in before)) for o in some):
        return MORE_MOVES
    return FOUND_DIRECTIONS if found_more else NAMED_DIRECTIONS


def _plan_workshop(scene: Scene, parts: Sequence[Part], build: Build) -> WorkshopPlan:
    """The plan of what is put together before packing."""
    operations, precedences = list_workshop_operations(scene, build)
    order = tuple(o.id for o in operations)
    operations = mark_clamps(scene, operations, order)
    operations = mark_lying(scene, parts, operations, order)
    operations = mark_standing(scene, operations, order)
    minutes, wait_minutes = times_of(operations)
    return WorkshopPlan(
        name=build.name,
        parts=tuple(scene.blocking.names[p] for p in members(build.parts)),
        operations=tuple(operations),
        precedences=tuple(precedences),
        order=order,
        steps=group_steps(operations, order, scene.alike),
        minutes=minutes,
        wait_minutes=wait_minutes,
    )


def _empty() -> Plan:
    return Plan(
        operations=(),
        precedences=(),
        order=(),
        steps=(),
        motion_class=NAMED_DIRECTIONS,
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
