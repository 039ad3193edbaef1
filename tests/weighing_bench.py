"""Bags weighed by chance: pieces, deliveries and scale differ as the catalogue says."""

from __future__ import annotations

import math
import random

from kdkit.catalogue.bagging import Scale
from kdkit.schedule.bags import Bag

__all__ = ["share_found"]


def share_found(
    bag: Bag, scale: Scale, times: int, chance: random.Random
) -> tuple[float, float, float]:
    """Return which share of wrong bags is found, what was stated of them, how many right pass.

    Nothing of kdkit's formula is used: every piece is drawn by itself.
    """
    found, stated, right = 0, 0.0, 0
    for _ in range(times):
        means = [chance.gauss(0.0, line.spread_g / math.sqrt(scale.weighed)) for line in bag.items]
        wrong = chance.randrange(len(bag.items))
        change = chance.choice((-1, 1))
        line = bag.items[wrong]
        stated += line.found_missing if change < 0 else line.found_extra
        for extra in (change, 0):
            shown = chance.gauss(0.0, scale.error)
            for n, line in enumerate(bag.items):
                count = line.count + extra * (n == wrong)
                # The mean that was weighed errs: the pieces' true mean is away from it.
                true = line.mass_g + means[n]
                shown += sum(chance.gauss(true, line.spread_g) for _ in range(count))
            outside = abs(shown - bag.mass_g) > bag.limit_g
            if extra:
                found += outside
            else:
                right += not outside
    return found / times, stated / times, right / times
