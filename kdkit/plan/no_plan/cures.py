"""Cures: the smallest sets of changes after which there is a plan.

Every set is really carried out on the product: parts placed, fittings placed,
inspected, planned. Only changes on pairs that block each other in a certificate are
tried; a pair of changes is made of one on the product's own certificate and one on
the certificate that is left after it. So no set is passed over that frees parts by
taking blocks away.
"""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Problem, Severity, has_errors
from kdkit.geometry import assemble
from kdkit.geometry.assembly import Assembly
from kdkit.inspect import inspect_product
from kdkit.joinery import place_fittings
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.make import make_plan
from kdkit.plan.no_plan.change import Change
from kdkit.plan.no_plan.changes import KINDS, list_changes
from kdkit.plan.plan import Impossible, Plan

__all__ = ["Cure", "Cures", "find_cures"]

LARGEST = 2
"""Sets of changes up to this size are tried; up to ``_MOST_REASONS`` where there are more
reasons than that, each of which asks for a change."""

_MOST_REASONS, _MOST_FREED = 4, 2

MOST_OFFERED = 8
MOST_OF_A_KIND = 3
"""Cures that are offered, and those of one kind without a warning after which no more of
that kind are tried."""

_WORK = 1600  # products times parts that are tried at most


@dataclass(frozen=True, kw_only=True)
class Cure:
    """Changes after which there is a plan.

    Args:
        steps: of the plan of the changed product.
        warnings: what the inspection of the changed product finds that it did not before.
    """

    changes: tuple[Change, ...]
    steps: int
    warnings: tuple[Problem, ...]


@dataclass(frozen=True, kw_only=True)
class Cures:
    """The cures found, the most convenient first, all of one size.

    Args:
        tried: how many changed products were planned.
        left_out: how many more of the same or a smaller size were not: for the bound, or
            because there were enough of their kind.
        size: the number of changes in each cure, or the largest number tried.
    """

    cures: tuple[Cure, ...]
    tried: int
    left_out: int
    size: int


@dataclass(frozen=True)
class _State:
    """A changed product that still cannot be built."""

    resolved: Resolved
    assembly: Assembly
    joinery: Joinery
    no: Impossible
    changes: tuple[Change, ...]


def find_cures(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    no: Impossible,
    *,
    most_tried: int | None = None,
) -> Cures:
    """Return the smallest sets of changes that make an impossible product possible.

    Args:
        no: the certificate of the product.
        most_tried: bound on the changed products of one size that are planned; by default
            it falls with the number of parts, so that large products do not wait for minutes.
    """
    bound = most_tried or max(12, min(160, _WORK // max(1, len(resolved.parts))))
    known = {_telling(p) for p in inspect_product(resolved, assembly, joinery, catalogue)}
    states = [_State(resolved, assembly, joinery, no, ())]
    seen: set[frozenset[tuple[str, ...]]] = set()
    tried = left_out = 0
    largest = min(max(LARGEST, len(no.reasons)), _MOST_REASONS)
    for size in range(1, largest + 1):
        found: list[Cure] = []
        before = tried
        further: list[_State] = []
        for state in states:
            listed = list_changes(
                state.resolved, state.assembly, state.joinery, catalogue, state.no
            )
            left_out += listed.left_out
            for change in listed.changes:
                changes = (*state.changes, change)
                keys = frozenset(c.key for c in changes)
                if len(keys) < size or keys in seen or _is_spare(changes, found):
                    continue
                seen.add(keys)
                if tried - before >= bound or _are_many(changes, found):
                    left_out += 1
                    continue
                tried += 1
                result = _try_out(change.product, catalogue, changes, known)
                if isinstance(result, Cure):
                    found.append(result)
                elif result is not None:
                    further.append(result)
        if found:
            ranked = sorted(found, key=_convenience)
            return Cures(
                cures=tuple(ranked[:MOST_OFFERED]), tried=tried, left_out=left_out, size=size
            )
        states, spared = _nearest(further, states, len(no.reasons) - size)
        left_out += spared
    return Cures(cures=(), tried=tried, left_out=left_out, size=largest)


def _nearest(further: list[_State], before: list[_State], reasons: int) -> tuple[list[_State], int]:
    """The states to go on from; where reasons are left, a few that have got rid of one.

    Reasons share no two parts, so what frees one and what frees another go together.
    """
    was = {frozenset(state.no.parts) for state in before}
    freed = [state for state in further if frozenset(state.no.parts) not in was]
    if reasons < 1 or not freed:
        return further, 0
    return freed[:_MOST_FREED], len(further) - len(freed[:_MOST_FREED])


def _are_many(changes: tuple[Change, ...], found: list[Cure]) -> bool:
    """Whether there are cures of these kinds already, as many as anybody compares."""
    kinds = sorted(c.kind for c in changes)
    alike = [c for c in found if sorted(d.kind for d in c.changes) == kinds and not c.warnings]
    return len(alike) >= MOST_OF_A_KIND


def _is_spare(changes: tuple[Change, ...], found: list[Cure]) -> bool:
    """Another fitting in a joint that some fitting cures, no fitting at all, another back.

    Or more millimetres where fewer do: the changes come with the fewest first.
    """
    *before, last = changes
    if last.kind in ("moved", "shorter"):
        where = (last.kind, last.parts, last.way)
        return any(where == (c.kind, c.parts, c.way) for cure in found for c in cure.changes[-1:])
    if last.kind not in ("fitting", "release", "laid-on-back"):
        return False
    kinds = ("fitting", "release") if last.kind == "release" else (last.kind,)
    for cure in found:
        *others, end = cure.changes
        if end.kind not in kinds or [c.key for c in others] != [c.key for c in before]:
            continue
        if last.kind != "fitting" or set(end.parts) & set(last.parts) == set(last.parts):
            return True
    return False


def _try_out(
    resolved: Resolved,
    catalogue: Catalogue,
    changes: tuple[Change, ...],
    known: set[tuple[str, ...]],
) -> Cure | _State | None:
    """Take a changed product from its parts to its plan; None: it cannot be made."""
    assembly, problems = assemble(resolved)
    if assembly is None or has_errors(problems):
        return None
    joinery, problems = place_fittings(resolved, assembly, catalogue)
    if joinery is None or has_errors(problems):
        return None
    plan, _ = make_plan(resolved, assembly, joinery, catalogue, detours=False, all_reasons=False)
    if isinstance(plan, Impossible):
        return _State(resolved, assembly, joinery, plan, changes)
    if not isinstance(plan, Plan):
        return None
    inspected = inspect_product(resolved, assembly, joinery, catalogue)  # takes the longest
    if has_errors(inspected):
        return None
    fresh = tuple(
        p
        for p in (*problems, *inspected)
        if p.severity is Severity.WARNING and _telling(p) not in known
    )
    return Cure(changes=changes, steps=len(plan.steps), warnings=fresh)


def _telling(problem: Problem) -> tuple[str, ...]:
    return (problem.code, problem.where, *(str(step) for step in problem.path))


def _convenience(cure: Cure) -> tuple[object, ...]:
    ranks = sorted((KINDS.index(c.kind) for c in cure.changes), reverse=True)
    size = sum(len(c.parts) for c in cure.changes)
    mm = sum(c.mm for c in cure.changes if c.kind != "notched")
    return (len(cure.warnings) > 0, ranks, size, mm, cure.steps, [c.key for c in cure.changes])
