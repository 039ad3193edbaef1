"""Verdicts on random leaning products compared with brute force by a general mesh library.

Run ``python tests/bench/bench_directions.py [COUNT [FIRST]]``: COUNT seeds, of each a product
of five kinds. Each has up to nine parts in two to four bodies: boards that lean, taper, touch
or leave gaps; plates with openings and notches round square and round posts; and up to three
joints with dowels, square or slanted, cams, pins, screws, nails, glue, nothing. Counted are
products called impossible that the brute force takes apart, and moves of those called
possible that its sweeps find blocked; both must be none. Exits with 1 otherwise.
"""

from __future__ import annotations

import pathlib
import sys
import time
from collections import Counter

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

from kdkit.plan.plan import EVERY_DIRECTION
from tests.off_axis import (
    BruteForce,
    Leaning,
    dowelled_product,
    leaning_product,
    moves_of,
    planned,
    slotted_product,
)
from tests.off_axis_kinds import fastened_product, opened_product

KINDS = (leaning_product, slotted_product, dowelled_product, opened_product, fastened_product)

SPREAD = 500


def compare(product: Leaning, spread: int = SPREAD) -> str:
    """Return what came of it in a word or two."""
    blocking, proof = planned(product)
    brute = BruteForce(product)
    if proof is not None:
        if brute.takes_apart(spread):
            return "WRONG: called impossible, comes apart"
        if proof.motion_class != EVERY_DIRECTION:
            return "impossible, but not for every direction"
        return "impossible"
    for leaving, staying, way in moves_of(product, blocking):
        among = sum(1 << n for n in (*leaving, *staying))
        v = np.array(way)
        if any(
            brute.hits(m, s, v) or brute.pinned(m, s, v) or brute.meets_dowel(m, s, among, v)
            for m in leaving
            for s in staying
        ):
            return f"WRONG: {product.what} is blocked along {way}"
    return "possible in another way" if len(blocking.directions) > 6 else "possible"


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    found: Counter[str] = Counter()
    kinds: Counter[str] = Counter()
    ours = 0.0
    for seed in range(first, first + count):
        for kind in KINDS:
            product = kind(seed)
            if product is None:
                continue
            start = time.process_time()
            planned(product)
            ours += time.process_time() - start
            joints = product.made[2].joints
            kinds.update({kind.__name__, *(f for j in joints for f in j.fittings)})
            kinds["slanted dowels"] += any(j.leaves is not None for j in joints)
            said = compare(product)
            found[said.split(":")[0]] += 1
            if said.startswith("WRONG") or "not for every" in said:
                print(product.what, said, flush=True)
    print(f"{sum(found.values())} products, {ours:.1f} s of planning")
    for kind_said, number in sorted(kinds.items()):
        print(f"{number:6d}  with {kind_said}")
    for said, number in sorted(found.items()):
        print(f"{number:6d}  {said}")
    sys.exit(1 if found["WRONG"] else 0)


if __name__ == "__main__":
    main()
