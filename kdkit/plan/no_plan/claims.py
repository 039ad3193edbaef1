"""What a certificate says beside its walks: for which product it is, and its reasons.

The walks are judged by geometry alone (``verify``). A reader also goes by the sentences
under them, and by whose proof it is; so these must be the product's own. The sentences
are compared with the planner's, for it is the planner that words them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue
from kdkit.frames import Vec3, norm
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.blocking import Blocking, Conditional, Hold, find_blocking
from kdkit.plan.choice.facts import canonical_order
from kdkit.plan.make import make_plan
from kdkit.plan.motion.directions import opposite, same_way
from kdkit.plan.plan import Block, Impossible

__all__ = ["Claims", "check_claims", "check_reasons", "check_tried"]


@dataclass(frozen=True, kw_only=True)
class Claims:
    """Whose proof it says that it is; None: it does not say."""

    product: str | None = None
    variant: str | None = None
    parameters: Mapping[str, object] | None = None


def check_claims(claims: Claims, resolved: Resolved) -> tuple[str, ...]:
    """Return where a certificate speaks of another product, variant or other values."""
    faults = []
    product = getattr(resolved.said, "product", "")
    if claims.product is not None and claims.product != product:
        faults.append(f"product: the proof is about {claims.product}, the product is {product}")
    if claims.parameters is None:
        return tuple(faults)
    if claims.variant != resolved.variant:
        of, asked = (v or "no variant" for v in (claims.variant, resolved.variant))
        faults.append(f"variant: the proof is about {of}, asked is {asked}")
    for name in sorted({*claims.parameters, *resolved.parameters}):
        was, here = claims.parameters.get(name), resolved.parameters.get(name)
        if was == here:
            continue
        if here is None:
            faults.append(f"parameters.{name}: the product has no such parameter")
        elif was is None:
            faults.append(f"parameters.{name}: it is {here:g}, the proof names no value")
        else:
            faults.append(
                f"parameters.{name}: the proof is for {was}, here it is {here:g} "
                f"(--set {name}=…, or another --variant, checks it for another value)"
            )
    return tuple(faults)


def check_reasons(
    proof: Impossible, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[str, ...]:
    """Return where a block's reason is not why its part is held."""
    faults = list(_faulty_reasons(proof, assembly, joinery, catalogue))
    for n, other in enumerate(proof.more):
        found = _faulty_reasons(other, assembly, joinery, catalogue)
        faults += [f"more[{n}].{fault}" for fault in found]
    return tuple(faults)


def _faulty_reasons(
    proof: Impossible, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[str, ...]:
    names = [part.name for part in canonical_order(assembly.parts)]
    number = {name: n for n, name in enumerate(names)}
    of = {body: [number[p] for p in parts if p in number] for body, parts in proof.bodies.items()}
    ways = [v for v, _ in proof.loops if abs(norm(v) - 1.0) < 1e-6]
    blocking = find_blocking(names, assembly, joinery, catalogue)
    more: list[Vec3] = []
    for v in ways:
        if not any(same_way(v, w) for w in (*blocking.directions, *more)):
            more += [v, opposite(v)]
    if more:
        blocking = blocking.towards(more)
    among = sum(1 << p for parts in of.values() for p in parts)
    faults = []
    for n, (v, walk) in enumerate(proof.loops):
        d = next((k for k, w in enumerate(blocking.directions) if same_way(v, w)), -1)
        for m, block in enumerate(walk):
            said = _reasons(blocking, d, block, of, among)
            if said and block.reason not in said:
                faults.append(
                    f"loops[{n}].blocks[{m}].reason: it is not why {block.part} is held by "
                    f"{block.by}; that is: {said[0]}"
                )
    return tuple(faults)


def check_tried(
    proof: Impossible,
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
) -> tuple[str, ...]:
    """Return what is wrong with what a certificate says was tried beyond single moves.

    It is no proof, so all there is to compare it with is the planner's own trying.
    """
    if not proof.tried:
        return ()
    verdict, _ = make_plan(resolved, assembly, joinery, catalogue)
    if isinstance(verdict, Impossible):
        if verdict.tried == proof.tried:
            return ()
        said = verdict.tried or "nothing"
        return (f"tried: it is not what was tried in vain; that is: {said}",)
    return ("tried: single straight moves do not do, but there is an order with other moves",)


def _reasons(
    blocking: Blocking,
    d: int,
    block: Block,
    of: Mapping[str, list[int]],
    among: int,
) -> list[str]:
    """All reasons of one block, as the planner words them."""
    found = []
    for part in of.get(block.part, ()) if d >= 0 else ():
        edges: list[Hold | Conditional] = [
            *blocking.holds[d][part],
            *(edge for edge in blocking.conditional[d][part] if not edge.needs & ~among),
        ]
        found += [edge.refusal for edge in edges if edge.to in of.get(block.by, ())]
    return found
