"""Changes to the joint of two parts: its side, its fitting, its groove, who runs over whom."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from kdkit.catalogue.entries import Catalogue, Fitting, Lean
from kdkit.frames import AXES, Vec3, dot, scaled
from kdkit.geometry.assembly import Contact, ContactKind
from kdkit.geometry.surfaces import reach
from kdkit.model.resolved import FittingPlacement, Part, Resolved, ResolvedJoint
from kdkit.parts.size import part_size
from kdkit.plan.no_plan.change import Change, listed, with_parts
from kdkit.plan.no_plan.reshape import lay_part, stretch_part
from kdkit.units import TOLERANCE, mm_text

__all__ = ["FITTINGS", "JOINT_KINDS", "Pair", "Refit", "change_joint", "refits", "refitted"]

_MOST_FITTINGS = 8
"""Ways of joining of which one fitting each is tried in a joint."""


@dataclass(frozen=True)
class Pair:
    """A joined pair of a certificate with all that a change needs to know.

    Args:
        worked_from: j of its fasteners' frames.
    """

    resolved: Resolved
    joint: ResolvedJoint
    contact: Contact
    catalogue: Catalogue
    names: Mapping[str, str]
    worked_from: Vec3 | None = None

    @property
    def butting(self) -> Part:
        return self.resolved.part(self.contact.butting)

    @property
    def receiving(self) -> Part:
        return self.resolved.part(self.contact.receiving)

    @property
    def parts(self) -> tuple[str, str]:
        return self.contact.butting, self.contact.receiving

    @property
    def named(self) -> str:
        return f"{self.names[self.parts[0]]} and {self.names[self.parts[1]]}"

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


@dataclass(frozen=True, kw_only=True)
class Refit:
    """The same joint of the same parts, joined in another way.

    Args:
        joint: as it is after it.
        before, after: the words round the pair: "open the fittings between", "to …".
        alike: what two joints of one line have in common whose refit is the same.
    """

    kind: str
    pair: Pair
    joint: ResolvedJoint
    before: str
    after: str
    means: str
    instead: str = ""
    way: str = ""
    rank: int = 0

    @property
    def alike(self) -> tuple[str, str, str]:
        return (self.kind, self.instead, self.way)


def refitted(refits: Sequence[Refit]) -> Change:
    """Return the change that some joints of one line, or one joint, are joined otherwise."""
    first = refits[0]
    resolved = first.pair.resolved
    changed = {id(refit.pair.joint): refit.joint for refit in refits}
    joints = tuple(changed.get(id(joint), joint) for joint in resolved.joints)
    pairs = [refit.pair.named for refit in refits]
    between = pairs[0] if len(pairs) == 1 else f"{', '.join(pairs[:-1])}, and {pairs[-1]}"
    return Change(
        kind=first.kind,
        parts=tuple(dict.fromkeys(part for refit in refits for part in refit.pair.parts)),
        words=f"{first.before} {between}{first.after}",
        means=first.means,
        product=replace(resolved, joints=joints),
        instead=first.instead,
        way=first.way,
        rank=first.rank,
    )


def refits(pair: Pair) -> Iterator[Refit]:
    """Yield all other ways of joining a pair as it stands."""
    for make in FITTINGS.values():
        yield from make(pair)


def change_joint(pair: Pair) -> Iterator[Change]:
    """Yield the changes to a joint that change its parts too."""
    for make in _MAKERS.values():
        yield from make(pair)


# -- the parts stay as they are ------------------------------------------------------


def _other_side(pair: Pair) -> Iterator[Refit]:
    """What is worked from one side of the butting board is worked from the other one."""
    sided = any(_is_sided(fitting) for fitting in pair.fittings())
    if not sided or pair.worked_from is None:
        return
    towards = dot(pair.worked_from, pair.butting.frame.k)
    if abs(towards) < 0.9:
        return
    opens = "back" if towards > 0 else "face"
    uses = tuple(replace(use, opens=opens) for use in pair.joint.fittings)
    yield Refit(
        kind="other-side",
        pair=pair,
        joint=replace(pair.joint, fittings=uses),
        before="open the fittings between",
        after=f" to the other side of {pair.names[pair.butting.name]}",
        means="they show on that side, and are worked from it",
    )


def _is_sided(fitting: Fitting) -> bool:
    ways = [rule.out for rule in fitting.items]
    sides = {w.towards if isinstance(w, Lean) else w for w in ways}
    sides |= {w.along for w in ways if isinstance(w, Lean)}
    return bool(sides & {"+j", "-j"}) or fitting.way[1] in "ij"


def _reversed(pair: Pair) -> Iterator[Refit]:
    """Where faces or edges lie on each other, it is worked through the other member."""
    if pair.contact.kind not in (ContactKind.FACE_FACE, ContactKind.EDGE_EDGE):
        return
    if not any(action.do in ("drive", "nail") for f in pair.fittings() for action in f.actions):
        return
    joint = replace(pair.joint, joined=pair.joint.to, to=pair.joint.joined)
    one, other = pair.names[joint.joined], pair.names[joint.to]
    yield Refit(
        kind="reversed",
        pair=pair,
        joint=joint,
        before="turn the joint round between",
        after=f", so that it is worked from {other} into {one}",
        means=f"`join` and `to` change places; heads show on {other}",
    )


def _other_way(pair: Pair) -> Iterator[Refit]:
    """What a part is hung or laid in opens another way, so it comes off another way."""
    if not any(f.holds == "pinned" and f.way[1] == "j" for f in pair.fittings()):
        return
    used = {use.opens for use in pair.joint.fittings}
    for opens, way in AXES.items():
        square = abs(dot(way, pair.contact.frame.k)) < 0.5
        if not square or opens in used:
            continue
        if pair.worked_from is not None and dot(way, pair.worked_from) > 0.9:
            continue
        uses = tuple(replace(use, opens=opens) for use in pair.joint.fittings)
        yield Refit(
            kind="other-way",
            pair=pair,
            joint=replace(pair.joint, fittings=uses),
            before="let the fittings between",
            after=f" open to {opens}",
            means="the part is brought in from there",
            way=opens,
        )


def _fitting(pair: Pair) -> Iterator[Refit]:
    """Another fitting of the catalogue: one for each way of joining that the pair can take."""
    here = {_manner(fitting) for fitting in pair.fittings()}
    present = listed(list(dict.fromkeys(_inside(fitting) for fitting in pair.fittings())) or ["it"])
    known = pair.catalogue.fittings
    ranked = sorted(known.items(), key=lambda e: (*_trouble(e[1]), e[0]))
    tried: set[tuple[object, ...]] = set()
    for key, fitting in ranked:
        manner = _manner(fitting)
        if manner in here or manner in tried or not _is_fastened(fitting):
            continue
        if not _suits(fitting, pair):
            continue
        tried.add(manner)
        use = FittingPlacement(fitting=key, path=pair.joint.fittings[0].path)
        yield Refit(
            kind="fitting",
            pair=pair,
            joint=replace(pair.joint, fittings=(use,)),
            before="join",
            after=f" with {_inside(fitting)} instead of {present}",
            means=f"{_when(fitting)}what stays visible: {fitting.visible}",
            instead=key,
            rank=len(tried),
        )
        if len(tried) == _MOST_FITTINGS:
            return


def _release(pair: Pair) -> Iterator[Refit]:
    """The pins are left out; the parts only stand beside each other there."""
    if not any(f.holds == "pinned" for f in pair.fittings()) or not pair.catalogue.fittings.get(
        "bare"
    ):
        return
    bare = FittingPlacement(fitting="bare", path=pair.joint.fittings[0].path)
    yield Refit(
        kind="release",
        pair=pair,
        joint=replace(pair.joint, fittings=(bare,)),
        before=f"take the pins out of the {_pins(pair)} between",
        after="",
        means="they then only stand beside each other; the other joints must hold them",
    )


def _through(pair: Pair) -> Iterator[Refit]:
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
    one = pair.names[pair.receiving.name]
    yield Refit(
        kind="groove-through",
        pair=pair,
        joint=replace(pair.joint, fittings=tuple(uses)),
        before="run the groove right through to both ends between",
        after="",
        means=f"the groove shows at the ends of {one}",
    )


FITTINGS: Mapping[str, Callable[[Pair], Iterator[Refit]]] = {
    "other-side": _other_side,
    "reversed": _reversed,
    "other-way": _other_way,
    "groove-through": _through,
    "fitting": _fitting,
    "release": _release,
}
"""The changes that leave the parts as they are."""


# -- the parts change too ------------------------------------------------------------


def _swap(pair: Pair) -> Iterator[Change]:
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
        changed = with_parts(pair.with_fittings(freed), longer, shorter)
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


def _no_groove(pair: Pair) -> Iterator[Change]:
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
        product=with_parts(pair.with_fittings([]), trimmed),
    )


def _laid_on(pair: Pair) -> Iterator[Change]:
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
                f"lay {name} on the edges of {listed([pair.names[p.name] for p in flush])} "
                "instead of in grooves"
            ),
            means=(
                f"{name} becomes {mm_text(size[0])} × {mm_text(size[1])} mm and its edges "
                f"show; {fitting.title.lower()}; the product grows by "
                f"{mm_text(back.thickness)} mm there"
            ),
            product=with_parts(replace(pair.resolved, joints=tuple(replaced)), laid),
            instead=key,
        )


_MAKERS: Mapping[str, Callable[[Pair], Iterator[Change]]] = {
    "swap": _swap,
    "laid-on-back": _laid_on,
    "no-groove": _no_groove,
}
JOINT_KINDS = (*FITTINGS, *_MAKERS)


# -- what they need ------------------------------------------------------------------


def _is_fastened(fitting: Fitting) -> bool:
    """Whether it holds parts that have met: something is driven, turned or glued then."""
    acts = [action.do for action in fitting.actions]
    holding = {"drive", "nail", "turn", "clamp", "screw-in"}
    if fitting.kind != "joint" or "mate" not in acts:
        return False
    return bool(holding & set(acts[acts.index("mate") :]))


def _inside(fitting: Fitting) -> str:
    """A fitting's title inside a sentence."""
    return f"{fitting.title[:1].lower()}{fitting.title[1:]}"


def _when(fitting: Fitting) -> str:
    driven = fitting.holds == "free" and any(a.do == "drive" for a in fitting.actions)
    return "driven in once they have met; " if driven else ""


def _manner(fitting: Fitting) -> tuple[object, ...]:
    """What decides where parts come from and where a hand must be: not the size."""
    acts = [action.do for action in fitting.actions]
    late = acts[acts.index("mate") :] if "mate" in acts else acts
    outs = [
        (r.out.along, r.out.towards) if isinstance(r.out, Lean) else (r.out, "")
        for r in fitting.items
        if r.carried_by is None
    ]
    return (fitting.holds, fitting.way, tuple(sorted(set(late))), tuple(sorted(set(outs))))


def _trouble(fitting: Fitting) -> tuple[bool, bool, int]:
    """Free ones first, glue last, then by the number of actions."""
    acts = [action.do for action in fitting.actions]
    return (fitting.holds != "free", "glue" in acts, len(acts))


def _suits(fitting: Fitting, pair: Pair) -> bool:
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


def _pins(pair: Pair) -> str:
    """What the joint is called: the fittings' titles without size and making."""
    titles = [re.split(r"[,(\d]", f.title)[0] for f in pair.fittings() if f.holds == "pinned"]
    return listed(list(dict.fromkeys(title.strip().lower() for title in titles))) + " joint"
