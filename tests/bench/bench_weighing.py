"""How many bags with one piece too few or too many the scale finds: 10 000 a bag, by chance.

``python -m tests.bench.bench_weighing [DEFINITION ...]``: without one, all examples. Prints for
each bag the share found, the share stated, and the share of right bags that pass.
"""

from __future__ import annotations

import pathlib
import random
import sys

from kdkit.pipeline import Request, check
from tests.weighing_bench import share_found

BAGS = 10_000
EXAMPLES = pathlib.Path(__file__).parents[2] / "examples"


def main(files: list[str]) -> None:
    """Weigh the bags of every definition."""
    for file in files or sorted(map(str, EXAMPLES.glob("*.yaml"))):
        outcome = check(Request(file=pathlib.Path(file)), risks=False)
        if outcome.results is None:
            print(f"{file}: not worked out")
            continue
        chance = random.Random(file)
        print(pathlib.Path(file).name)
        for bag in outcome.results.schedules.bags:
            scale = outcome.results.catalogue.scales.get(bag.scale)
            if scale is None:
                print(f"  {bag.name:12}  no scale carries it")
                continue
            found, stated, right = share_found(bag, scale, BAGS, chance)
            print(f"  {bag.name:12}  found {found:.4f}  stated {stated:.4f}  right {right:.4f}")


if __name__ == "__main__":
    main(sys.argv[1:])
