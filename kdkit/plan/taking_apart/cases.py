"""Taking a finished product apart and putting it back: one part replaced, or all to move.

Takes what the planner takes and a question; gives two plans, the steps out and the
steps back, or says what cannot be parted and why.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Problem, error, warning
from kdkit.frames import Vec3
from kdkit.geometry.assembly import Assembly
from kdkit.geometry.surfaces import part_box
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Part, Resolved
from kdkit.plan.blocking import Blocking, find_blocking, members
from kdkit.plan.blocking.apart import closures, find_stuck, smallest_stuck
from kdkit.plan.blocking.settle import settle
from kdkit.plan.choice.facts import canonical_order
from kdkit.plan.motion.directions import direction_words
from kdkit.plan.plan import Plan
from kdkit.plan.taking_apart.undo_steps import Workpiece, plan_back, plan_out
from kdkit.plan.taking_apart.undoing import EXACT_BODIES, Split, Undoing, fixed_groups, fixed_joints

__all__ = ["TakenApart", "divide_product", "replace_part"]

_FRONT_UP_BACK = ((0.0, -1.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
"""A loose part is taken out to the front, else upwards, else to the back, else as it can."""


@dataclass(frozen=True, kw_only=True)
class TakenApart:
    """How a product comes apart, and goes together again.

    Args:
        wanted: the part to be replaced, None when the whole is taken apart.
        comes_with: parts that cannot be parted from it, which come out with it.
        fixed: names of the joints that do not come apart, or were made in the workshop:
            they stay closed.
        undone: names of the joints that are undone.
        pieces: what is left in hand at the end of the steps out.
        out, back: the two plans; ``remove`` and ``undo`` operations in the first.
        search: how good the answer is, and of what.
    """

    wanted: str | None
    comes_with: tuple[str, ...]
    fixed: tuple[str, ...]
    undone: tuple[str, ...]
    pieces: tuple[tuple[str, ...], ...]
    out: Plan
    back: Plan
    search: str


def replace_part(
    resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue, name: str
) -> tuple[TakenApart | None, tuple[Problem, ...]]:
    """Return the fewest moves that take one part out of the finished product, and back.

    Problems: no such part; or the part stays, because of what holds it, with the joints
    that would have to be broken.
    """
    if name not in {part.name for part in assembly.parts}:
        known = ", ".join(part.name for part in assembly.parts)
        return None, (
            error("unknown-part", f"there is no part {name}", help=f"the parts are {known}"),
        )
    case = _Case(resolved, assembly, joinery, catalogue)
    part = case.number[name]
    body = case.undoing.body_of(part)
    group = case.undoing.groups[body]
    comes_with = tuple(case.blocking.names[p] for p in members(group) if p != part)
    loose: tuple[tuple[int, int], ...] = ()
    among = case.bodies
    if not case.workpiece.doors >> part & 1:
        among, loose = case.without_loose(body if case.parts[part].loose else None)
    tree = case.undoing.set_free(body, among)
    if tree is None and (among != 1 << body or group.bit_count() > 1):
        return None, (case.why_it_stays(body, among, name),)
    tree = case.with_loose(loose, among, tree)
    moves = len(_splits(tree)) - len(loose)
    search = (
        f"exact: no fewer than {moves} {'move' if moves == 1 else 'moves'} set it free; of "
        "those, the fewest fasteners of the ways compared"
    )
    return case.taken_apart(tree, search, name, comes_with), ()


def divide_product(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    largest: Vec3 | None = None,
) -> tuple[TakenApart | None, tuple[Problem, ...]]:
    """Return how to take a product apart to carry it, and how it goes together again.

    Args:
        largest: mm; no piece may be larger than this box, laid as it fits, if it can be
            helped; None: every joint that comes apart is undone.
    """
    case = _Case(resolved, assembly, joinery, catalogue)
    among, loose = case.without_loose()
    wanted = None if largest is None else sorted(largest)

    def fits(parts: int) -> bool:
        if wanted is None:
            return False
        sides = sorted(case.box(parts))
        return all(a <= b + 1e-6 for a, b in zip(sides, wanted, strict=True))

    tree, exact = case.undoing.divide(among, fits)
    tree = case.with_loose(loose, among, tree)
    if largest is None:
        search = "exact: every joint that comes apart is undone"
    elif exact:
        search = "exact: no fewer moves until every piece is small enough or cannot be parted"
    else:
        search = f"guided: more than {EXACT_BODIES} bodies, the first good division was taken"
    found = case.taken_apart(tree, search, None, ())
    problems = []
    for piece in found.pieces:
        mask = sum(1 << case.number[n] for n in piece)
        if largest is not None and not fits(mask):
            sides = " × ".join(f"{side:.0f}" for side in sorted(case.box(mask), reverse=True))
            problems.append(
                warning(
                    "piece-too-large",
                    f"a piece stays larger than asked, {sides} mm: {', '.join(piece)}",
                    help="its joints do not come apart, or it is one part",
                )
            )
    return found, tuple(problems)


def _splits(tree: Split | None) -> list[Split]:
    """All splits, each before what becomes of its sides."""
    if tree is None:
        return []
    return [tree, *(split for then in tree.then for split in _splits(then))]


def _stuck(graphs: Blocking, groups: Sequence[int]) -> list[int] | None:
    """The bodies that hold each other in some graphs, none to spare."""
    merged = graphs.merged(groups, [str(n) for n in range(len(groups))])
    stuck = find_stuck(merged, merged.everything)
    if stuck is None:
        return None
    return [groups[n] for n in members(smallest_stuck(merged, stuck))]


class _Case:
    """One product, ready to be asked."""

    def __init__(
        self, resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
    ) -> None:
        self.parts: Sequence[Part] = canonical_order(assembly.parts)
        assembly = replace(assembly, parts=tuple(self.parts))
        self.joinery = joinery
        names = [part.name for part in self.parts]
        self.number = {name: n for n, name in enumerate(names)}
        groups = fixed_groups(names, joinery)
        named = find_blocking(names, assembly, joinery, catalogue)
        self.blocking: Blocking = settle(named, lambda graphs: _stuck(graphs, groups))[0]
        self.workpiece = Workpiece.of(
            resolved, self.parts, joinery, catalogue, self.blocking, assembly
        )
        joined: dict[tuple[int, int], int] = {}
        for joint in joinery.joints:
            pair = (self.number[joint.butting], self.number[joint.receiving])
            joined[pair] = joined.get(pair, 0) + max(1, len(joint.fasteners))
        self.undoing = Undoing(
            blocking=self.blocking,
            groups=groups,
            joined=joined,
            mass=[self.workpiece.masses.parts[name] for name in names],
            trouble=self.workpiece.trouble,
        )
        self.bodies = (1 << len(self.undoing.groups)) - 1

    def box(self, parts: int) -> Vec3:
        """The box round some parts, mm along x, y and z."""
        boxes = np.array([part_box(self.parts[p]) for p in members(parts)])
        x, y, z = (boxes[:, 3:].max(axis=0) - boxes[:, :3].min(axis=0)).tolist()
        return x, y, z

    def without_loose(self, wanted: int | None = None) -> tuple[int, tuple[tuple[int, int], ...]]:
        """Take loose parts out as far as they come, and first the doors that shut them in.

        Args:
            wanted: the one loose body that is asked for: the others stay, and it is left.

        Returns:
            ``(bodies left, (body, direction) of each in order)``.
        """
        ways = sorted(
            range(len(self.blocking.directions)),
            key=lambda d: (
                _FRONT_UP_BACK.index(self.blocking.directions[d])
                if self.blocking.directions[d] in _FRONT_UP_BACK
                else len(_FRONT_UP_BACK),
                d,
            ),
        )
        left, taken = self.bodies, []
        found = True
        while found:
            found = False
            loose = [n for n in reversed(members(left)) if self._single(n, self.workpiece.loose)]
            if wanted is not None:
                loose = [wanted]
            for n in (*loose, *self._shutting(left, loose, ways)):
                way = self._way_out(n, left, ways)
                if left.bit_count() == 1 or way is None or n == wanted:
                    continue
                taken.append((n, way))
                left &= ~(1 << n)
                found = True
                if n not in loose:
                    break  # what it shut in comes next
        return left, tuple(taken)

    def _single(self, body: int, among: int) -> bool:
        group = self.undoing.groups[body]
        return group.bit_count() == 1 and bool(group & among)

    def _way_out(self, body: int, left: int, ways: Sequence[int]) -> int | None:
        there = sum(self.undoing.groups[m] for m in members(left))
        (part,) = members(self.undoing.groups[body])
        return next((d for d in ways if not self.blocking.blockers(d, part, there)), None)

    def _shutting(self, left: int, loose: Sequence[int], ways: Sequence[int]) -> list[int]:
        """Doors in the way of a loose part that cannot come out by itself."""
        doors = [n for n in members(left) if self._single(n, self.workpiece.doors)]
        stuck = [n for n in loose if self._way_out(n, left, ways) is None]
        return [
            door
            for door in doors
            if any(
                self.undoing.bodies.blockers(d, n, left) >> door & 1 for n in stuck for d in ways
            )
        ]

    def with_loose(
        self, loose: Sequence[tuple[int, int]], among: int, tree: Split | None
    ) -> Split | None:
        """The tree with the loose parts taken out before everything else."""
        groups = self.undoing.groups
        there = sum(groups[n] for n in members(among))
        for n, d in reversed(loose):
            tree = Split(
                moving=groups[n],
                staying=there,
                direction=d,
                then=(tree,) if tree is not None else (),
            )
            there |= groups[n]
        return tree

    def taken_apart(
        self, tree: Split | None, search: str, wanted: str | None, comes_with: tuple[str, ...]
    ) -> TakenApart:
        """The tree as two plans."""
        splits = _splits(tree)
        fresh = frozenset((wanted, *comes_with)) if wanted is not None else frozenset[str]()
        back = plan_back(self.workpiece, tree, fresh, search)
        out = plan_out(self.workpiece, splits, back, search)
        pieces = [sum(self.undoing.groups)]
        for split in splits:
            pieces = [p for p in pieces if p != split.parts]
            pieces += [split.moving, split.staying]
        names = self.blocking.names
        return TakenApart(
            wanted=wanted,
            comes_with=comes_with,
            fixed=tuple(self.joinery.joints[n].name for n in fixed_joints(self.joinery)),
            undone=tuple(dict.fromkeys(j for o in out.operations if o.onto for j in o.joints)),
            pieces=tuple(
                tuple(names[p] for p in members(mask))
                for mask in sorted(pieces, key=lambda m: (m & -m, m))
            ),
            out=out,
            back=back,
            search=search,
        )

    def why_it_stays(self, body: int, among: int, name: str) -> Problem:
        """The error that says what holds a part, and which joints would have to break."""
        titles = self.workpiece.scene.titles
        group = self.undoing.groups[body]
        held = sum(self.undoing.groups[n] for n in members(among))
        reasons = []
        if group.bit_count() > 1:
            others = [titles[n] for n in self.workpiece.names(group) if n != name]
            reasons.append(f"it is in one piece with {', '.join(others)}")
        for d, v in enumerate(self.blocking.directions):
            chain = self._drags(d, body, among)
            if chain:
                reasons.append(f"{direction_words(v)}: {'; '.join(chain)}")
        fixed = [self.joinery.joints[n] for n in fixed_joints(self.joinery)]
        broken = [
            f"{titles[j.butting]} to {titles[j.receiving]}"
            for j in fixed
            if held >> self.number[j.butting] & 1 and held >> self.number[j.receiving] & 1
        ]
        return error(
            "part-stays",
            f"{titles[name]} cannot be taken out again without damage",
            ("panels", name),
            where="\n  ".join(reasons),
            help=(
                "these joints do not come apart, or were made in the workshop: " + "; ".join(broken)
                if broken
                else "free it along one direction, as for an order of assembly"
            ),
        )

    def _drags(self, d: int, body: int, among: int) -> list[str]:
        """Why a body cannot move along a direction: one reason for each that it drags along."""
        bodies = self.undoing.bodies
        reach = closures({n: bodies.blockers(d, n, among) for n in members(among)})
        found = []
        for n in members(reach[body]):
            for to in members(bodies.blockers(d, n, among)):
                found.append(bodies.reason(d, n, to, among))
        return list(dict.fromkeys(found))[:3]
