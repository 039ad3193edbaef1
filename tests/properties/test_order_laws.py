"""An author's order is kept as written, or refused at the first entry that fails.

The other judge is brute force on boxes: two boxes and a direction meet when the ray that
way runs through the box of their differences. It shares no code with the planner.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from kdkit.plan import make_plan
from kdkit.plan.plan import Impossible, OperationKind, OrderRefused, Plan
from tests.boxes import Box, Made
from tests.gallery.products import in_row
from tests.properties.test_plan_laws import boxes, product

Array = NDArray[np.float64]

_GIVE = 0.02  # mm


def differences(a: Box, b: Box) -> tuple[Array, Array]:
    """The box that a ray from the origin runs through when a, moved that way, meets b."""
    low = np.array(b[0]) - np.array(a[1]) + _GIVE
    high = np.array(b[1]) - np.array(a[0]) - _GIVE
    return low, high


def directions(found: Sequence[Box]) -> Array:
    """Enough directions: the axes, and where the rims of what the pairs bar cross."""
    planes: list[Array] = [*np.eye(3)]
    for a, b in itertools.permutations(found, 2):
        low, high = differences(a, b)
        corners = [np.array(c) for c in itertools.product(*zip(low, high, strict=True))]
        planes += [
            np.cross(p, q)
            for p, q in itertools.combinations(corners, 2)
            if np.count_nonzero(p - q) == 1
        ]
    normals = np.array([p / size for p in planes if (size := np.linalg.norm(p)) > 1e-9])
    normals = np.unique(
        (normals * np.sign(normals @ [1.0, 0.013, 0.00017])[:, None]).round(9), axis=0
    )
    first, second = np.triu_indices(len(normals), 1)
    ways = np.cross(normals[first], normals[second])
    ways = ways[np.linalg.norm(ways, axis=1) > 1e-6]
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    both = np.vstack([np.eye(3), -np.eye(3), ways, -ways])
    return np.asarray(np.unique(both.round(9), axis=0), dtype=np.float64)


def barred(ways: Array, a: Box, b: Box) -> NDArray[np.bool_]:
    """For each direction, whether a moved that way meets b."""
    low, high = differences(a, b)
    near, far = np.zeros(len(ways)), np.full(len(ways), np.inf)
    for axis in range(3):
        with np.errstate(divide="ignore", invalid="ignore"):
            t0, t1 = low[axis] / ways[:, axis], high[axis] / ways[:, axis]
        still = np.abs(ways[:, axis]) < 1e-9
        inside = (low[axis] < 0) & (high[axis] > 0)
        near = np.where(still, np.where(inside, near, np.inf), np.maximum(near, np.minimum(t0, t1)))
        far = np.where(still, far, np.minimum(far, np.maximum(t0, t1)))
    return np.asarray(near < far - 1e-7)


def first_failing(made: Made, found: Sequence[Box], row: Sequence[int]) -> int | None:
    """The number of the first part in a row that cannot come to those before it."""
    pins: dict[tuple[int, int], Array] = {}
    number = {part.name: n for n, part in enumerate(made[1].parts)}
    for joint in made[2].joints:
        if "pin" in joint.fittings:
            a, b = number[joint.butting], number[joint.receiving]
            pins[a, b] = np.array(joint.contact.frame.k)
            pins[b, a] = -pins[a, b]
    ways = directions(found)
    for n in range(1, len(row)):
        free = np.ones(len(ways), dtype=np.bool_)
        for other in row[:n]:
            free &= ~barred(ways, found[row[n]], found[other])
            if (row[n], other) in pins:
                free &= ways @ pins[row[n], other] > 1 - 1e-6
        if not free.any():
            return n
    return None


def check_row(found: list[Box], choose: list[int], row: Sequence[int]) -> str:
    """Compare the planner with brute force on one product and one whole order."""
    made = product(found, choose)
    names = [part.name for part in made[1].parts]
    said = [names[n] for n in row]
    plan, problems = make_plan(*in_row(made, *said))
    if isinstance(plan, Impossible):
        return "impossible"
    failing = first_failing(made, found, row)
    if failing is None:
        assert isinstance(plan, Plan), problems
        assert not [p for p in problems if p.code == "order-kept-in-part"], problems
        mates = [o for o in map(plan.operation, plan.order) if o.kind is OperationKind.MATE]
        assert [p for o in mates for p in o.parts] == said[1:], problems
        return "kept"
    assert isinstance(plan, OrderRefused), (said, failing)
    assert plan.position == failing
    assert plan.path == ("order", failing)
    assert plan.moving == (said[failing],)
    assert set(plan.present) == set(said[:failing])
    assert plan.reasons
    return "refused"


@given(boxes(), st.lists(st.integers(0, 1), min_size=11, max_size=11), st.randoms())
@settings(max_examples=60, deadline=None, derandomize=True)
def test_an_order_is_kept_as_written_or_refused_at_the_first_entry_that_fails(
    found: list[Box], choose: list[int], chance: random.Random
) -> None:
    row = list(range(len(found)))
    chance.shuffle(row)
    check_row(found, choose, row)
