"""What the planner knows of each part beyond its shape: area, joints, likeness."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from kdkit.catalogue.entries import Catalogue
from kdkit.catalogue.work import pulls_together
from kdkit.frames import Vec3, dot
from kdkit.geometry.assembly import Assembly, ContactKind
from kdkit.geometry.meetings import MEETINGS
from kdkit.geometry.surfaces import part_middle, reach
from kdkit.joinery.axes import protrusions
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Part
from kdkit.parts.postures import POSTURES, UP
from kdkit.parts.sameness import of_one_size
from kdkit.parts.size import face_area, part_size
from kdkit.plan.blocking import members
from kdkit.plan.blocking.reach import rooms_of
from kdkit.plan.choice.costs import PartFacts
from kdkit.plan.choice.flat import flat_groups, flat_joints, thinnest_way
from kdkit.plan.choice.resting import find_poises, merge_poises
from kdkit.plan.motion.directions import opposite

__all__ = ["canonical_order", "merge_facts", "part_facts"]

_PLATE = 60.0  # mm; what is thinner and three times as wide falls over on its edge
_ASIDE = 0.5  # cosine: a door or a drawer leaves aside of its joint's normal, a rail along it
_THIN = 8.0  # mm; a thinner panel nailed on by its face is a back: common practice, no source


def canonical_order(parts: Sequence[Part]) -> list[Part]:
    """Return the parts left to right, bottom to top, front to back, then by name."""

    def key(part: Part) -> tuple[float, float, float, str]:
        x, y, z = part_middle(part)
        return (round(x, 3), round(z, 3), round(y, 3), part.name)

    return sorted(parts, key=key)


def part_facts(
    parts: Sequence[Part],
    joinery: Joinery,
    catalogue: Catalogue,
    assembly: Assembly | None = None,
    masses: Mapping[str, float] | None = None,
) -> tuple[PartFacts, ...]:
    """Return the facts of each part; masks and numbers follow the order given.

    Where parts touch, and so what carries them, is known with an ``assembly`` only; what they
    weigh, kg, with ``masses``.

    That a part of less than 60 and a third of its width falls over on its edge is common
    practice, no source.
    """
    number = {part.name: n for n, part in enumerate(parts)}
    alike = {part.name: of_one_size(part) for part in parts}
    joined = [0] * len(parts)
    laid: list[list[bool]] = [[] for _ in parts]
    driven: list[list[tuple[int, Vec3]]] = [[] for _ in parts]
    approach: list[list[tuple[int, Vec3]]] = [[] for _ in parts]
    mouths: list[list[tuple[int, Vec3, Vec3, float]]] = [[] for _ in parts]
    gripped = [0] * len(parts)
    drawn = [0] * len(parts)
    hung = [0] * len(parts)
    doors = [False] * len(parts)
    pins: list[Counter[int]] = [Counter() for _ in parts]
    sticking = {(p.fastener, p.frame) for p in protrusions(joinery, catalogue)}
    fasteners = {f.id: f for f in joinery.fasteners}
    poises = find_poises(parts, assembly, masses)
    glued_flat, lies = _lying_flat(parts, joinery, number)
    for joint in joinery.joints:
        if joint.butting not in number or joint.receiving not in number:
            continue
        a, b = number[joint.butting], number[joint.receiving]
        joined[a] |= 1 << b
        joined[b] |= 1 << a
        entries = [joinery.fittings[f] for f in joint.fittings if f in joinery.fittings]
        if joint.contact.sunk > 0 or any(entry.holds != "free" for entry in entries):
            gripped[a] |= 1 << b
            gripped[b] |= 1 << a
        if not entries or any(pulls_together(entry) for entry in entries):
            drawn[a] |= 1 << b
            drawn[b] |= 1 << a
        meets = joint.contact.kind in MEETINGS
        if meets and abs(dot(joint.way, joint.contact.frame.k)) < _ASIDE:
            hung[a] |= 1 << b
            doors[a] |= joint.contact.kind is ContactKind.HUNG
        laid_on = any(action.do == "lay-on" for e in entries for action in e.actions)
        if all(entry.holds != "captured" for entry in entries):
            k = joint.way
            approach[a].append((b, opposite(k)))
            approach[b].append((a, k))
        free = all(entry.holds == "free" for entry in entries)
        for part, surface in (
            (a, joint.contact.butting_surface),
            (b, joint.contact.receiving_surface),
        ):
            flat = surface in ("face", "back")
            thin = parts[part].thickness <= _THIN
            laid[part].append(flat and thin and (laid_on or free))
        for name in joint.fasteners:
            fastener = fasteners[name]
            entry = joinery.fittings.get(fastener.fitting)
            driving = {
                action.item: action
                for action in (entry.actions if entry is not None else ())
                if action.do in ("drive", "nail", "turn")
            }
            for placed in fastener.items:
                if not meets and (fastener.id, placed.frame) in sticking:
                    pins[a][b] += 1
                    pins[b][a] += 1
                action = driving.get(placed.item)
                if action is None or (placed.carrier is None) == (action.do == "turn"):
                    continue
                driven[a].append((b, placed.frame.k))
                driven[b].append((a, placed.frame.k))
                rooms = rooms_of(action, catalogue)
                if rooms:
                    need = min(room.length for _, room in rooms)
                    mouths[a].append((b, placed.frame.k, placed.frame.origin, need))
                    mouths[b].append((a, placed.frame.k, placed.frame.origin, need))
    return tuple(
        PartFacts(
            normal=part.frame.k,
            area=face_area(part),
            joined=joined[n],
            lows=tuple(reach([part], UP[q])[0] for q in POSTURES),
            laid=bool(laid[n]) and all(laid[n]),
            loose=part.loose and not joined[n],
            likes=sum(
                1 << m
                for m, other in enumerate(parts)
                if m != n and alike[other.name] == alike[part.name]
            ),
            approach=tuple(dict.fromkeys(approach[n])),
            driven=tuple(dict.fromkeys(driven[n])),
            mouths=tuple(mouths[n]),
            gripped=gripped[n],
            dry=gripped[n] & ~drawn[n],
            plate=_is_plate(part),
            pins=tuple(sorted(pins[n].items())),
            hung=hung[n],
            door=doors[n],
            poise=poises[n],
            flat=glued_flat[n],
            lies=lies[n],
        )
        for n, part in enumerate(parts)
    )


def merge_facts(facts: Sequence[PartFacts], groups: Sequence[int]) -> tuple[PartFacts, ...]:
    """Return the facts of groups of parts that move as one."""
    of = {part: n for n, group in enumerate(groups) for part in members(group)}
    poises = [fact.poise for fact in facts]
    merged = []
    for n, group in enumerate(groups):
        inside = [facts[part] for part in members(group)]
        alone = len(inside) == 1
        main = max(inside, key=lambda f: f.area)
        joined = gripped = hung = 0
        for fact in inside:
            joined |= _masked(of, fact.joined)
            gripped |= fact.gripped
            hung |= fact.hung
        merged.append(
            PartFacts(
                normal=main.normal,
                area=main.area,
                joined=joined & ~(1 << n),
                lows=tuple(min(f.lows[q] for f in inside) for q in range(len(POSTURES))),
                laid=alone and inside[0].laid,
                loose=all(f.loose for f in inside),
                likes=_masked(of, inside[0].likes) if alone else 0,
                approach=_outside(of, n, [pair for f in inside for pair in f.approach]),
                driven=_outside(of, n, [pair for f in inside for pair in f.driven]),
                mouths=tuple(
                    (of[other], out, point, need)
                    for f in inside
                    for other, out, point, need in f.mouths
                    if of.get(other, n) != n
                ),
                gripped=_masked(of, gripped) & ~(1 << n),
                dry=_masked(of, inside[0].dry) & ~(1 << n) if alone else 0,
                plate=alone and inside[0].plate,
                pins=_counted(of, n, [pair for f in inside for pair in f.pins]),
                hung=_masked(of, hung) & ~(1 << n),
                door=any(f.door for f in inside),
                poise=merge_poises(poises, members(group), of),
                flat=_masked(of, inside[0].flat) & ~(1 << n) if alone else 0,
                lies=inside[0].lies,
            )
        )
    return tuple(merged)


def _lying_flat(
    parts: Sequence[Part], joinery: Joinery, number: Mapping[str, int]
) -> tuple[list[int], list[Vec3]]:
    """For each part those that it is glued up flat with, and what points up meanwhile."""
    flat, lies = [0] * len(parts), [(0.0, 0.0, 0.0)] * len(parts)
    for group in flat_groups(flat_joints({part.name: part for part in parts}, joinery)):
        inside = sum(1 << number[name] for name in group)
        way = thinnest_way([parts[n] for n in members(inside)])
        for n in members(inside):
            flat[n], lies[n] = inside & ~(1 << n), way
    return flat, lies


def _counted(
    of: Mapping[int, int], group: int, pairs: Sequence[tuple[int, int]]
) -> tuple[tuple[int, int], ...]:
    found: Counter[int] = Counter()
    for other, count in pairs:
        if of.get(other, group) != group:
            found[of[other]] += count
    return tuple(sorted(found.items()))


def _is_plate(part: Part) -> bool:
    width = min(part_size(part))
    return part.thickness < _PLATE and width >= 3 * part.thickness


def _masked(of: Mapping[int, int], mask: int) -> int:
    found = 0
    for part in members(mask):
        if part in of:
            found |= 1 << of[part]
    return found


def _outside(
    of: Mapping[int, int], group: int, pairs: Sequence[tuple[int, Vec3]]
) -> tuple[tuple[int, Vec3], ...]:
    found = [(of[other], v) for other, v in pairs if of.get(other, group) != group]
    return tuple(dict.fromkeys(found))
