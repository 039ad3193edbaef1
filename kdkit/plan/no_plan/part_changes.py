"""Changes to a part by itself: moved, made shorter, notched, each by the mm needed; or split."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from kdkit.diagnostics import has_errors
from kdkit.frames import AXES, Vec3, add, dot, scaled
from kdkit.geometry import assemble
from kdkit.geometry.assembly import Assembly
from kdkit.model.resolved import Part, Resolved
from kdkit.parts.size import part_size
from kdkit.plan.no_plan.change import Change, with_parts
from kdkit.plan.no_plan.obstacles import Obstacle
from kdkit.plan.no_plan.reshape import halve_part, notch_part, stretch_part
from kdkit.units import mm_text

__all__ = ["PART_KINDS", "change_part", "split_part"]

PART_KINDS = ("moved", "shorter", "notched", "split")

CLEAR = 1.0
"""mm that stay between what passes and what it passes: common practice, no source."""

_FURTHEST = 150.0
"""mm; beyond it a part is designed anew, not moved."""

_MOST = 0.5
"""Share of a part's length by which it is made shorter, at most."""

_WAYS = {
    "+x": "to the right",
    "-x": "to the left",
    "+y": "to the back",
    "-y": "to the front",
    "+z": "up",
    "-z": "down",
}
_ENDS = {"+x": "right", "-x": "left", "+y": "back", "-y": "front", "+z": "top", "-z": "bottom"}


@dataclass(frozen=True)
class _Side:
    """A side of a panel's box: its way out, and how far the obstacle reaches from it."""

    way: Vec3
    depth: float
    size: float


def change_part(
    resolved: Resolved, names: Mapping[str, str], obstacle: Obstacle
) -> Iterator[Change]:
    """Yield what frees an obstacle's box of its panel."""
    part = resolved.part(obstacle.part)
    if part.kind != "panel":
        return
    yield from _moved(resolved, names, part, obstacle)
    yield from _shorter(resolved, names, part, obstacle)
    yield from _notched(resolved, names, part, obstacle)


def _sides(part: Part, obstacle: Obstacle) -> Sequence[_Side]:
    """The four edges and the two surfaces of a panel, as ways out of the obstacle's box."""
    xs, ys = zip(*part.outline, strict=True)
    spans = ((min(xs), max(xs)), (min(ys), max(ys)), (-part.thickness, 0.0))
    axes = (part.frame.i, part.frame.j, part.frame.k)
    found = []
    for n, (axis, (low, high)) in enumerate(zip(axes, spans, strict=True)):
        found.append(_Side(scaled(axis, -1.0), obstacle.high[n] - low, high - low))
        found.append(_Side(axis, high - obstacle.low[n], high - low))
    return found


def _whole(mm: float) -> float:
    """The next whole millimetre, with the clearance."""
    return float(math.ceil(mm + CLEAR - 1e-6))


def _moved(
    resolved: Resolved, names: Mapping[str, str], part: Part, obstacle: Obstacle
) -> Iterator[Change]:
    for side in _sides(part, obstacle):
        by = _whole(side.depth)
        if not 0 < by <= _FURTHEST:
            continue
        way = scaled(side.way, -1.0)
        origin = add(part.frame.origin, scaled(way, by))
        moved = replace(part, frame=replace(part.frame, origin=origin))
        yield Change(
            kind="moved",
            parts=(part.name,),
            words=f"move {names[part.name]} {mm_text(by)} mm {_way(way)}",
            means=f"so that {obstacle.of}; its fittings go with it",
            product=with_parts(resolved, moved),
            mm=by,
            way=_way(way),
        )


def _shorter(
    resolved: Resolved, names: Mapping[str, str], part: Part, obstacle: Obstacle
) -> Iterator[Change]:
    for side in _sides(part, obstacle)[:4]:
        by = _whole(side.depth)
        if not 0 < by <= _MOST * side.size:
            continue
        cut = stretch_part(part, side.way, -by)
        if cut is None:
            continue
        length, width = part_size(cut)[:2]
        yield Change(
            kind="shorter",
            parts=(part.name,),
            words=f"make {names[part.name]} {mm_text(by)} mm shorter at its {_end(side.way)} end",
            means=f"so that {obstacle.of}; it becomes {mm_text(length)} × {mm_text(width)} mm",
            product=with_parts(resolved, cut),
            mm=by,
            way=_end(side.way),
        )


def _notched(
    resolved: Resolved, names: Mapping[str, str], part: Part, obstacle: Obstacle
) -> Iterator[Change]:
    low = (obstacle.low[0] - CLEAR, obstacle.low[1] - CLEAR)
    high = (obstacle.high[0] + CLEAR, obstacle.high[1] + CLEAR)
    cut = notch_part(part, low, high)
    if cut is None:
        return
    xs, ys = zip(*part.outline, strict=True)
    x0, x1 = max(low[0], min(xs)), min(high[0], max(xs))
    y0, y1 = max(low[1], min(ys)), min(high[1], max(ys))
    size = f"{mm_text(x1 - x0)} × {mm_text(y1 - y0)} mm"
    inner = len(cut.cutouts) > len(part.cutouts)
    what = "an opening" if inner else "a notch"
    centre = part.frame.point_to_outer(((x0 + x1) / 2, (y0 + y1) / 2, -part.thickness / 2))
    yield Change(
        kind="notched",
        parts=(part.name,),
        words=f"cut {what} of {size} into {names[part.name]}",
        means=(
            f"so that {obstacle.of}; its middle lies at "
            f"({', '.join(mm_text(c) for c in centre)}) in the product"
        ),
        product=with_parts(resolved, cut),
        mm=round((x1 - x0) * (y1 - y0), 1),
        way=",".join(mm_text(c) for c in centre),
    )


def split_part(
    resolved: Resolved, assembly: Assembly, names: Mapping[str, str], name: str
) -> Iterator[Change]:
    """Yield a panel in two halves, which share its joints as they touch the others."""
    part = resolved.part(name)
    joints = [j for j in resolved.joints if name in (j.joined, j.to)]
    if part.kind != "panel" or len(joints) < 2 or any(name in f.on for f in resolved.fixtures):
        return
    joined = {other for j in joints for other in (j.joined, j.to)} - {name}
    if any(frozenset((name, other)) not in assembly.contacts_by_pair for other in joined):
        return
    for along in (0, 1):
        halves = halve_part(part, along)
        if halves is None:
            continue
        size = part_size(halves[0])
        parts = tuple(p for q in resolved.parts for p in (halves if q is part else (q,)))
        product = _with_halves(replace(resolved, parts=parts), name, halves[1].name)
        if product is None:
            continue
        axis = part.frame.i if along == 0 else part.frame.j
        yield Change(
            kind="split",
            parts=(name,),
            words=(
                f"split {names[name]} into two parts of {mm_text(size[0])} × {mm_text(size[1])} mm"
            ),
            means="each half is joined to what it touches, and they only lie side by side",
            product=product,
            mm=size[along],
            way=_way(axis),
        )


def _with_halves(product: Resolved, one: str, other: str) -> Resolved | None:
    """Give each half of a part the joints with what it touches; None: one touches nothing."""
    assembly, problems = assemble(product)
    if assembly is None or has_errors(problems):
        return None
    touching = set(assembly.contacts_by_pair)
    joints = []
    for joint in product.joints:
        if one not in (joint.joined, joint.to):
            joints.append(joint)
            continue
        for half, name in ((one, joint.name), (other, f"{joint.name}_2")):
            joined = half if joint.joined == one else joint.joined
            to = half if joint.to == one else joint.to
            if frozenset((joined, to)) in touching:
                joints.append(replace(joint, name=name, joined=joined, to=to))
    ends = {end for joint in joints for end in (joint.joined, joint.to)}
    return replace(product, joints=tuple(joints)) if {one, other} <= ends else None


def _way(way: Vec3) -> str:
    name = max(AXES, key=lambda n: dot(AXES[n], way))
    if dot(AXES[name], way) > 0.9999:
        return _WAYS[name]
    return "along ({:.2f}, {:.2f}, {:.2f})".format(*way)


def _end(way: Vec3) -> str:
    return _ENDS[max(AXES, key=lambda n: dot(AXES[n], way))]
