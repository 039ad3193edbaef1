"""Cures on random impossible products, against all single changes of the same kinds.

    python -m tests.bench.bench_cures [products] [first seed]

Corners of a box, of three to five boards, with at every edge either one running over the
other and dowels, cams or screws between some of them. Of each that cannot be put together:
every cure offered is planned once more from its changed product; and where the cures take
two changes, or there are none, each single change to any joint or part is tried, without
asking a certificate where.
"""

from __future__ import annotations

import pathlib
import random
import sys
import tempfile
import time
from collections import Counter
from itertools import combinations, permutations

from kdkit.frames import AXES
from kdkit.geometry import assemble
from kdkit.inspect import inspect_product
from kdkit.joinery import place_fittings
from kdkit.plan import make_plan
from kdkit.plan.no_plan.changes import list_changes
from kdkit.plan.no_plan.cures import Cure, _telling, _try_out, find_cures
from kdkit.plan.plan import EVERY_DIRECTION, Block, Impossible, Plan
from tests.boxes import Made
from tests.products import made

_SIZE, _THICK = (420, 300, 360), 18
_SIDES = {
    "left": (0, 0),
    "right": (0, 1),
    "front": (1, 0),
    "rear": (1, 1),
    "floor": (2, 0),
    "top": (2, 1),
}
_ENDS = ("floor", "top")
_FITTINGS = (*("dowel-8x30",) * 9, "cam-and-bolt", "cam-and-bolt", "screw-4x50", "bare")


def definition(seed: int) -> str:
    """Return a random product as its definition's text.

    Most have three boards of a corner of which each runs over the next: few of these come
    apart. Some boards are packed as one.
    """
    chance = random.Random(seed)
    ring = [chance.choice(some) for some in (("left", "right"), ("front", "rear"), _ENDS)]
    ring = ring if chance.random() < 0.5 else ring[::-1]
    more = [name for name in sorted(_SIDES) if name not in ring]
    names = sorted([*ring, *chance.sample(more, chance.choice((0, 0, 1, 2)))])
    turning = set(zip(ring, (*ring[1:], ring[0]), strict=True)) if chance.random() < 0.85 else set()
    spans = {name: [[0, size] for size in _SIZE] for name in names}
    joints = []
    for one, other in combinations(names, 2):
        (axis, _), (across, _) = _SIDES[one], _SIDES[other]
        if axis == across:
            continue
        over, under = chance.sample((one, other), 2)
        if (under, over) in turning:
            over, under = under, over
        along, at = _SIDES[over]
        spans[under][along][at] += -_THICK if at else _THICK
        if {one, other} <= set(ring) or chance.random() < 0.9:
            joints.append((under, over, chance.choice(_FITTINGS)))
    packed = chance.choice(joints) if chance.random() < 0.2 else None
    lines = ["kdkit: 1", "product: Corner", "boards:"]
    lines += [f"  b: {{material: particleboard-p2, thickness: {_THICK}}}", "panels:"]
    for name in names:
        axis, end = _SIDES[name]
        said = [f"{a}: [{lo}, {hi}]" for a, (lo, hi) in zip("xyz", spans[name], strict=True)]
        said[axis] = f"{'xyz'[axis]}: {{{'to' if end else 'from'}: {_SIZE[axis] if end else 0}}}"
        lines.append(f"  {name}: {{board: b, {', '.join(said)}}}")
    lines.append("joints:")
    for joint in joints:
        a, b, f = joint
        shop = ", workshop: true" if joint is packed else ""
        lines.append(f"  - {{join: {a}, to: {b}, fittings: [{f}]{shop}}}")
    return "\n".join(lines) + "\n"


def everywhere(product: Made) -> Impossible:
    """A certificate that claims every pair in every direction, to list all changes."""
    names = [part.name for part in product[0].parts]
    walk = tuple(Block(part=a, by=b, reason="") for a, b in permutations(names, 2))
    loops = tuple((way, walk) for way in AXES.values())
    return Impossible(parts=tuple(names), loops=loops, motion_class=EVERY_DIRECTION)


def check(seed: int, folder: pathlib.Path) -> str:
    """Return what came of one product.

    Raises:
        AssertionError: a cure has no plan, or a single change does where two were offered.
    """
    try:
        product = made(folder, definition(seed))
    except AssertionError:
        return "no product"
    no, _ = make_plan(*product)
    if not isinstance(no, Impossible):
        return "possible"
    resolved, assembly, joinery, catalogue = product
    cures = find_cures(*product, no)
    for cure in cures.cures:
        changed = cure.changes[-1].product
        places, _ = assemble(changed)
        assert places is not None, seed
        placed, _ = place_fittings(changed, places, catalogue)
        assert placed is not None, seed
        plan, _ = make_plan(changed, places, placed, catalogue)
        assert isinstance(plan, Plan), (seed, [c.words for c in cure.changes])
        assert len(plan.steps) == cure.steps, seed
    if cures.cures and cures.size == 1:
        return "cured by one change"
    known = {_telling(p) for p in inspect_product(resolved, assembly, joinery, catalogue)}
    for change in list_changes(*product, everywhere(product)).changes:
        tried = _try_out(change.product, catalogue, (change,), known)
        assert not isinstance(tried, Cure), (seed, change.words)
    return f"cured by {cures.size}" if cures.cures else "no cure"


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    found: Counter[str] = Counter()
    start = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        while sum(n for what, n in found.items() if "cure" in what or what == "WRONG") < count:
            try:
                found[check(seed, pathlib.Path(folder))] += 1
            except AssertionError as wrong:
                found["WRONG"] += 1
                print(f"seed {seed}: {wrong}")
            seed += 1
    print(f"{dict(found)} in {time.process_time() - start:.0f} s of processor time")


if __name__ == "__main__":
    main()
