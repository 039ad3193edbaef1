"""Changes to a product that could free parts that hold each other.

Each is one thing that a maker would do at the drawing board, on one pair of parts
that block each other in a certificate. It gives the changed product, before anybody
knows whether that one can be put together.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from kdkit.catalogue.entries import Catalogue, Fitting
from kdkit.frames import Vec3, dot, scaled
from kdkit.geometry.assembly import Assembly, Contact, ContactKind
from kdkit.geometry.surfaces import reach
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import (
    FittingPlacement,
    Part,
    Resolved,
    ResolvedJoint,
)
from kdkit.parts.size import part_size
from kdkit.plan.no_plan.reshape import lay_part, stretch_part
from kdkit.plan.no_plan.unpack import joints_to_unpack
from kdkit.plan.plan import Impossible
from kdkit.units import TOLERANCE, mm_text

__all__ = ["KINDS", "Change", "list_changes", "name_parts"]

_MOST_SCREWS = 3


@dataclass(frozen=True, kw_only=True)
class Change:
    """One change, with the product as it is after it.

    Args:
        kind: one of ``KINDS``.
        parts: the pair that it is done to; all that was packed as one for ``at-home``.
        words: what to do: "let Left run over the end of Rear …".
        means: what else it comes to, in a sentence without a full stop.
        instead: a fitting's key that comes into the joint, or "".
    """

    kind: str
    parts: tuple[str, ...]
    words: str
    means: str
    product: Resolved
    instead: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """What makes it the same change as another."""
        return (self.kind, *sorted(self.parts), self.instead)


@dataclass(frozen=True)
class _Pair:
    """A joined pair of a certificate with all that a change needs to know."""

    resolved: Resolved
    joint: ResolvedJoint
    contact: Contact
    catalogue: Catalogue
    names: Mapping[str, str]
    worked_from: Vec3 | None

    @property
    def butting(self) -> Part:
        return self.resolved.part(self.contact.butting)

    @property
    def receiving(self) -> Part:
        return self.resolved.part(self.contact.receiving)

    @property
    def parts(self) -> tuple[str, str]:
        return self.contact.butting, self.contact.receiving

    def fittings(self) -> list[Fitting]:
        found = [self.catalogue.fittings.get(use.fitting) for use in self.joint.fittings]
        return [fitting for fitting in found if fitting is not None]

    def with_fittings(self, fittings: Sequence[FittingPlacement]) -> Resolved:
        """The product with other fittings in this joint; none: the joint is gone."""
        joints = tuple(
            replace(joint, fittings=tuple(fittings)) if joint is self.joint else joint
            for joint in self.resolved.joints
            if fittings or joint is not self.joint
        )
        return replace(self.resolved, joints=joints)


def name_parts(parts: Sequence[Part]) -> dict[str, str]:
    """Return what to call each part: its title, with its name where titles are alike."""
    titles = [part.title or part.name for part in parts]
    return {
        part.name: title if titles.count(title) == 1 else f"{title} ({part.name})"
        for part, title in zip(parts, titles, strict=True)
    }


def list_changes(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    no: Impossible,
) -> tuple[Change, ...]:
    """Return the changes to try, only on pairs that block each other in a certificate.

    Where it has parts packed as one, these are the pairs of a part of the one body and a
    part of the other; and the joints that hold a body together can be made at home.
    """
    blocks = {(b.part, b.by) for _, walk in no.loops for b in walk}
    of = no.bodies
    pairs = {frozenset((p, q)) for part, by in blocks for p in of[part] for q in of[by]}
    names = name_parts(resolved.parts)
    joints = {frozenset((joint.joined, joint.to)): joint for joint in resolved.joints}
    sides = {fastener.id: fastener.frame.j for fastener in joinery.fasteners}
    found: dict[tuple[str, ...], Change] = {}
    for placed in joinery.joints:
        key = frozenset((placed.butting, placed.receiving))
        if key not in pairs or key not in joints:
            continue
        side = sides[placed.fasteners[0]] if placed.fasteners else None
        pair = _Pair(resolved, joints[key], placed.contact, catalogue, names, side)
        for make in _MAKERS.values():
            for change in make(pair):
                found.setdefault(change.key, change)
    for body in of.values():
        for change in _unpack(resolved, body, names) if len(body) > 1 else ():
            found.setdefault(change.key, change)
    return tuple(sorted(found.values(), key=lambda c: (KINDS.index(c.kind), c.key)))


# -- the changes -------------------------------------------------------------------


def _other_side(pair: _Pair) -> Iterator[Change]:
    """What is worked from one side of the butting board is worked from the other one."""
    sided = [rule for f in pair.fittings() for rule in f.items if rule.out in ("+j", "-j")]
    if not sided or pair.worked_from is None:
        return
    towards = dot(pair.worked_from, pair.butting.frame.k)
    if abs(towards) < 0.9:
        return
    opens = "back" if towards > 0 else "face"
    uses = [replace(use, opens=opens) for use in pair.joint.fittings]
    one, other = pair.names[pair.butting.name], pair.names[pair.receiving.name]
    yield Change(
        kind="other-side",
        parts=pair.parts,
        words=f"open the fittings between {one} and {other} to the other side of {one}",
        means=f"they show on the other side of {one}",
        product=pair.with_fittings(uses),
    )


def _swap(pair: _Pair) -> Iterator[Change]:
    """At a corner, the board that ended at the other one runs over its end instead."""
    contact, a, b = pair.contact, pair.butting, pair.receiving
    if contact.kind is not ContactKind.EDGE_FACE or abs(dot(contact.frame.k, b.frame.k)) < 0.9999:
        return
    for way in (a.frame.k, scaled(a.frame.k, -1.0)):
        if abs(reach([b], way)[1] - reach([a], way)[1]) > TOLERANCE:
            continue
        low, high = reach([b], way)
        if high - low < 2 * a.thickness:
            continue
        longer = stretch_part(a, scaled(contact.frame.k, -1.0), b.thickness)
        shorter = stretch_part(b, way, -a.thickness)
        if longer is None or shorter is None:
            continue
        freed = [replace(use, opens=None, at=None) for use in pair.joint.fittings]
        changed = _with_parts(pair.with_fittings(freed), longer, shorter)
        one, other = pair.names[a.name], pair.names[b.name]
        yield Change(
            kind="swap",
            parts=pair.parts,
            words=f"let {one} run over the end of {other} instead of ending at it",
            means=(
                f"{one} becomes {mm_text(b.thickness)} mm longer there and {other} "
                f"{mm_text(a.thickness)} mm shorter; the fittings turn with the joint"
            ),
            product=changed,
        )


def _screws(pair: _Pair) -> Iterator[Change]:
    """Pins are replaced by something driven in once the parts have met."""
    if not any(f.holds == "pinned" for f in pair.fittings()):
        return
    offered = 0
    for key, fitting in sorted(
        pair.catalogue.fittings.items(), key=lambda e: (len(e[1].actions), e[0])
    ):
        if not _is_driven(fitting) or not _suits(fitting, pair):
            continue
        kept = [
            use
            for use in pair.joint.fittings
            if (f := pair.catalogue.fittings.get(use.fitting)) is None or f.holds != "pinned"
        ]
        used = FittingPlacement(fitting=key, path=pair.joint.fittings[0].path)
        pins = _pins(pair)
        yield Change(
            kind="screws",
            parts=pair.parts,
            words=(
                f"turn the {pins} between {pair.names[pair.parts[0]]} and "
                f"{pair.names[pair.parts[1]]} into screws driven in once the two have met"
            ),
            means=f"{fitting.title}; what stays visible: {fitting.visible}",
            product=pair.with_fittings([*kept, used]),
            instead=key,
        )
        offered += 1
        if offered == _MOST_SCREWS:
            return


def _release(pair: _Pair) -> Iterator[Change]:
    """The pins are left out; the parts only stand beside each other there."""
    if not any(f.holds == "pinned" for f in pair.fittings()) or not pair.catalogue.fittings.get(
        "bare"
    ):
        return
    bare = FittingPlacement(fitting="bare", path=pair.joint.fittings[0].path)
    yield Change(
        kind="release",
        parts=pair.parts,
        words=(
            f"take the pins out of the {_pins(pair)} between {pair.names[pair.parts[0]]} and "
            f"{pair.names[pair.parts[1]]}"
        ),
        means="the two then only stand beside each other; the other joints must hold them",
        product=pair.with_fittings([bare]),
    )


def _through(pair: _Pair) -> Iterator[Change]:
    """A stopped groove is cut right through to the ends of its part."""
    if pair.contact.kind is not ContactKind.SUNK:
        return
    uses = []
    for use in pair.joint.fittings:
        fitting = pair.catalogue.fittings.get(use.fitting)
        can = fitting is not None and "through" in fitting.options
        already = bool(use.options.get("through"))
        uses.append(
            replace(use, options={**use.options, "through": 1.0}) if can and not already else use
        )
    if uses == list(pair.joint.fittings):
        return
    one, other = pair.names[pair.receiving.name], pair.names[pair.butting.name]
    yield Change(
        kind="groove-through",
        parts=pair.parts,
        words=f"run the groove for {other} in {one} right through to both ends",
        means=f"the groove shows at the ends of {one}",
        product=pair.with_fittings(uses),
    )


def _no_groove(pair: _Pair) -> Iterator[Change]:
    """The part ends at the surface in which it stood; that joint is gone."""
    if pair.contact.kind is not ContactKind.SUNK:
        return
    part = pair.butting
    others = [j for j in pair.resolved.joints if part.name in (j.joined, j.to)]
    trimmed = stretch_part(part, scaled(pair.contact.frame.k, -1.0), -pair.contact.sunk)
    if trimmed is None or len(others) < 2:
        return
    one, other = pair.names[pair.receiving.name], pair.names[part.name]
    yield Change(
        kind="no-groove",
        parts=pair.parts,
        words=f"leave out the groove in {one} and let {other} end at its surface",
        means=(
            f"{other} becomes {mm_text(pair.contact.sunk)} mm shorter there and is held on "
            "its other sides only"
        ),
        product=_with_parts(pair.with_fittings([]), trimmed),
    )


def _laid_on(pair: _Pair) -> Iterator[Change]:
    """A thin back comes out of its grooves and is laid on the edges behind."""
    back = pair.butting
    joints = [j for j in pair.resolved.joints if back.name in (j.joined, j.to)]
    if pair.contact.kind is not ContactKind.SUNK:
        return
    around = [pair.resolved.part(j.to if j.joined == back.name else j.joined) for j in joints]
    ways = []
    for way in (back.frame.k, scaled(back.frame.k, -1.0)):
        plane = reach(around, way)[1]
        ways.append((plane - reach([back], way)[1], plane, way))
    out, plane, way = min(ways)
    flush = [part for part in around if abs(reach([part], way)[1] - plane) <= TOLERANCE]
    if len(flush) < 2 or out < 0:
        return
    for key, fitting in sorted(pair.catalogue.fittings.items()):
        acts = [action.do for action in fitting.actions]
        low, high = fitting.limits.receiving_thickness or (0.0, 1e9)
        if "lay-on" not in acts or fitting.kind != "joint" or not low <= back.thickness <= high:
            continue
        laid = lay_part(back, flush, way, plane)
        replaced = []
        for joint in pair.resolved.joints:
            if joint not in joints:
                replaced.append(joint)
            elif {joint.joined, joint.to} & {part.name for part in flush}:
                use = FittingPlacement(fitting=key, path=joint.fittings[0].path)
                replaced.append(replace(joint, fittings=(use,)))
        size = part_size(laid)
        name = pair.names[back.name]
        yield Change(
            kind="laid-on-back",
            parts=pair.parts,
            words=(
                f"lay {name} on the edges of {_listed([pair.names[p.name] for p in flush])} "
                "instead of in grooves"
            ),
            means=(
                f"{name} becomes {mm_text(size[0])} × {mm_text(size[1])} mm and its edges "
                f"show; {fitting.title.lower()}; the product grows by "
                f"{mm_text(back.thickness)} mm there"
            ),
            product=_with_parts(replace(pair.resolved, joints=tuple(replaced)), laid),
            instead=key,
        )


def _unpack(resolved: Resolved, body: Sequence[str], names: Mapping[str, str]) -> Iterator[Change]:
    """What was packed as one is joined at home, at one of its joints or at all of them."""
    for joints in joints_to_unpack(resolved.joints, body):
        parts = tuple(dict.fromkeys(name for j in joints for name in (j.joined, j.to)))
        changed = tuple(replace(j, workshop=False) if j in joints else j for j in resolved.joints)
        named = _listed([names[part] for part in parts])
        yield Change(
            kind="at-home",
            parts=parts,
            words=f"join {named} at home instead of in the workshop",
            means="they are packed apart, and the buyer joins them",
            product=replace(resolved, joints=changed),
        )


_MAKERS: Mapping[str, Callable[[_Pair], Iterator[Change]]] = {
    "other-side": _other_side,
    "swap": _swap,
    "groove-through": _through,
    "screws": _screws,
    "laid-on-back": _laid_on,
    "no-groove": _no_groove,
    "release": _release,
}
KINDS = ("other-side", "at-home", *(kind for kind in _MAKERS if kind != "other-side"))
"""The kinds of changes, the most convenient first."""


# -- what they need ----------------------------------------------------------------


def _is_driven(fitting: Fitting) -> bool:
    acts = [action.do for action in fitting.actions]
    carried = any(item.carried_by is not None for item in fitting.items)
    if fitting.kind != "joint" or fitting.holds != "free" or carried or "mate" not in acts:
        return False
    return "drive" in acts[acts.index("mate") :]


def _suits(fitting: Fitting, pair: _Pair) -> bool:
    if pair.contact.kind.value not in fitting.contact:
        return False
    limits = fitting.limits
    for span, part in (
        (limits.butting_thickness, pair.butting),
        (limits.receiving_thickness, pair.receiving),
    ):
        if span is not None and not span[0] <= part.thickness <= span[1]:
            return False
    boards = [pair.catalogue.boards.get(p.material or "") for p in (pair.butting, pair.receiving)]
    families = limits.families
    return families is None or all(b is None or b.family in families for b in boards)


def _pins(pair: _Pair) -> str:
    """What the joint is called: the fittings' titles without size and making."""
    titles = [re.split(r"[,(\d]", f.title)[0] for f in pair.fittings() if f.holds == "pinned"]
    return _listed(list(dict.fromkeys(title.strip().lower() for title in titles))) + " joint"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _with_parts(resolved: Resolved, *changed: Part) -> Resolved:
    by_name = {part.name: part for part in changed}
    return replace(resolved, parts=tuple(by_name.get(p.name, p) for p in resolved.parts))
