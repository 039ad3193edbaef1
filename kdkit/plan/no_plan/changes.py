"""Changes to a product that could free parts that hold each other.

Each is one thing that a maker would do at the drawing board: to a joint of two parts that
block each other in a certificate, to all joints of one line of the definition at once, or to
one part, by the millimetres that it is in the way. It gives the changed product, before
anybody knows whether that one can be put together.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from kdkit.catalogue.entries import Catalogue
from kdkit.geometry.assembly import Assembly
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved
from kdkit.plan.no_plan.change import Change, listed, name_parts
from kdkit.plan.no_plan.joint_changes import (
    FITTINGS,
    Pair,
    Refit,
    change_joint,
    refits,
    refitted,
)
from kdkit.plan.no_plan.obstacles import find_obstacles
from kdkit.plan.no_plan.part_changes import change_part, split_part
from kdkit.plan.no_plan.unpack import joints_to_unpack
from kdkit.plan.plan import Impossible

__all__ = ["KINDS", "Change", "Listed", "list_changes", "name_parts"]

KINDS = (
    "other-side",
    "reversed",
    "other-way",
    "at-home",
    "swap",
    "groove-through",
    "fitting",
    "moved",
    "shorter",
    "notched",
    "laid-on-back",
    "no-groove",
    "split",
    "release",
)
"""The kinds of changes, the most convenient first."""

_MOST_OF_A_KIND = 12
"""Changes to single parts, of one kind, that are listed for a certificate: the smallest."""


@dataclass(frozen=True)
class Listed:
    """The changes to try, the most convenient first, and how many more there would be."""

    changes: tuple[Change, ...]
    left_out: int = 0


def list_changes(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    no: Impossible,
) -> Listed:
    """Return the changes to try, only on what blocks in a certificate.

    Where it has parts packed as one, a pair is one of a part of the one body and a part of
    the other; and the joints that hold a body together can be made at home.
    """
    names = name_parts(resolved.parts)
    found: dict[tuple[str, ...], Change] = {}
    for change in (
        *_of_joints(resolved, joinery, catalogue, no, names),
        *_of_bodies(resolved, no, names),
    ):
        found.setdefault(change.key, change)
    single: dict[tuple[str, ...], Change] = {}
    for change in _of_parts(resolved, assembly, joinery, catalogue, no, names):
        single.setdefault(change.key, change)
    left_out = 0
    for kind in KINDS:
        some = sorted((c for c in single.values() if c.kind == kind), key=lambda c: (c.mm, c.key))
        found.update((change.key, change) for change in some[:_MOST_OF_A_KIND])
        left_out += len(some[_MOST_OF_A_KIND:])
    return Listed(tuple(sorted(found.values(), key=_rank)), left_out)


def _rank(change: Change) -> tuple[object, ...]:
    return (KINDS.index(change.kind), change.rank, len(change.parts), change.mm, change.key)


def _of_joints(
    resolved: Resolved,
    joinery: Joinery,
    catalogue: Catalogue,
    no: Impossible,
    names: Mapping[str, str],
) -> Iterator[Change]:
    blocks = {(b.part, b.by) for _, walk in no.loops for b in walk}
    of = no.bodies
    blocked = {frozenset((p, q)) for part, by in blocks for p in of[part] for q in of[by]}
    joints = {frozenset((joint.joined, joint.to)): joint for joint in resolved.joints}
    sides = {fastener.id: fastener.frame.j for fastener in joinery.fasteners}
    pairs: list[Pair] = []
    for placed in joinery.joints:
        joint = joints.get(frozenset((placed.butting, placed.receiving)))
        if joint is not None:
            side = sides[placed.fasteners[0]] if placed.fasteners else None
            pairs.append(Pair(resolved, joint, placed.contact, catalogue, names, side))
    lines: dict[object, list[Pair]] = {}
    for pair in pairs:
        lines.setdefault(pair.joint.path, []).append(pair)
    for pair in pairs:
        if frozenset(pair.parts) not in blocked:
            continue
        for refit in refits(pair):
            yield refitted([refit])
            alike = _all_of_line(lines[pair.joint.path], refit)
            if len(alike) > 1:
                yield refitted(alike)
        yield from change_joint(pair)


def _all_of_line(line: Sequence[Pair], wanted: Refit) -> list[Refit]:
    """The same done to each joint of a line where it can be done."""
    found = []
    for pair in line:
        for refit in FITTINGS[wanted.kind](pair) if pair is not wanted.pair else (wanted,):
            if refit.alike == wanted.alike:
                found.append(refit)
                break
    return found


def _of_bodies(resolved: Resolved, no: Impossible, names: Mapping[str, str]) -> Iterator[Change]:
    """What was packed as one is joined at home, at one of its joints or at all of them."""
    for body in no.bodies.values():
        if len(body) == 1:
            continue
        for joints in joints_to_unpack(resolved.joints, body):
            parts = tuple(dict.fromkeys(name for j in joints for name in (j.joined, j.to)))
            changed = tuple(
                replace(j, workshop=False) if j in joints else j for j in resolved.joints
            )
            named = listed([names[part] for part in parts])
            yield Change(
                kind="at-home",
                parts=parts,
                words=f"join {named} at home instead of in the workshop",
                means="they are packed apart, and the buyer joins them",
                product=replace(resolved, joints=changed),
            )


def _of_parts(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    no: Impossible,
    names: Mapping[str, str],
) -> Iterator[Change]:
    parts = {part.name: part for part in resolved.parts}
    for obstacle in find_obstacles(no, parts, names, assembly, joinery, catalogue):
        yield from change_part(resolved, names, obstacle)
    for body in no.bodies.values():
        for name in body:
            yield from split_part(resolved, assembly, names, name)
