"""Why there is no plan, with all that can be said about it: proof, check, cures.

This is the long way round, taken only when the planner said no.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Problem
from kdkit.frames import Vec3
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.no_plan.cures import Cure, Cures, find_cures
from kdkit.plan.plan import Impossible, OrderRefused
from kdkit.plan.verify import Bodies, verify_impossible

__all__ = ["NoPlan", "cure_words", "study_no_plan", "tell_cures"]


@dataclass(frozen=True, kw_only=True)
class NoPlan:
    """A product without a plan.

    Args:
        verdict: the planner's.
        problem: the error that it came with.
        faults: what the separate check of a certificate does not confirm; () if it holds.
        cures: of an impossible product.
        for_tools: some block is there only because no tool could have reached a joint.
    """

    resolved: Resolved
    assembly: Assembly
    joinery: Joinery
    catalogue: Catalogue
    verdict: Impossible | OrderRefused
    problem: Problem
    faults: tuple[str, ...] = ()
    cures: Cures | None = None
    for_tools: bool = False

    @property
    def letters(self) -> dict[str, str]:
        """A letter for each part that the verdict is about: A, B, … Z, A1, B1, …"""
        if isinstance(self.verdict, Impossible):
            named = tuple(self.verdict.every_body)
        else:
            named = (*self.verdict.moving, *self.verdict.present)
        return {
            name: chr(ord("A") + n % 26) + (str(n // 26) if n >= 26 else "")
            for n, name in enumerate(dict.fromkeys(named))
        }

    def parts_of(self, named: str) -> tuple[str, ...]:
        """The parts of what has a letter: itself, or those that are packed as one in it."""
        if isinstance(self.verdict, Impossible):
            return self.verdict.every_body[named]
        return (named,)


def study_no_plan(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    verdict: Impossible | OrderRefused,
    problem: Problem,
) -> NoPlan:
    """Check a no and look for cures."""
    no = NoPlan(
        resolved=resolved,
        assembly=assembly,
        joinery=joinery,
        catalogue=catalogue,
        verdict=verdict,
        problem=problem,
    )
    if isinstance(verdict, OrderRefused):
        return no
    return replace(
        no,
        faults=verify_impossible(verdict, assembly, joinery, catalogue),
        for_tools=any(_is_for_tools(one, assembly, joinery, catalogue) for one in verdict.reasons),
        cures=find_cures(resolved, assembly, joinery, catalogue, verdict),
    )


def _is_for_tools(
    proof: Impossible, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> bool:
    of = proof.bodies
    shapes = Bodies(assembly, joinery, catalogue, {p for body in of.values() for p in body})

    def touches(part: str, by: str, way: Vec3) -> bool:
        return shapes.is_pinned(part, by, way) or shapes.meeting(part, by, way) is not None

    return any(
        not any(touches(p, q, way) for p in of[block.part] for q in of[block.by])
        for way, walk in proof.loops
        for block in walk
    )


def tell_cures(no: NoPlan) -> Problem:
    """Return the error with the best cure, or what was tried, as its help.

    The loops are left out of it: whoever shows it shows the whole account too.
    """
    if no.cures is None:
        return no.problem
    found = no.cures.cures
    if not found:
        return replace(no.problem, where="", help=f"{no.problem.help}; {none_found(no.cures)}")
    more = len(found) - 1
    rest = f" (and {more} more)" if more else ""
    return replace(no.problem, where="", help=f"{cure_words(found[0])}{rest}")


def cure_words(cure: Cure) -> str:
    """Return a cure as a sentence: "turn …: then there is a plan of 5 steps"."""
    changes = " and ".join(change.words for change in cure.changes)
    steps = f"{cure.steps} step" if cure.steps == 1 else f"{cure.steps} steps"
    return f"{changes}: then there is a plan of {steps}"


def none_found(cures: Cures) -> str:
    """Return what was tried in vain."""
    if not cures.tried and not cures.left_out:
        return "no change to these joints was found that could be tried"
    text = f"none of the {cures.tried} changes tried, up to {cures.size} at a time, gives a plan"
    if cures.left_out:
        text += f" ({cures.left_out} more were not tried)"
    return text
