"""Pruned sweeps find the same collisions between parts as sweeping everything."""

from __future__ import annotations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kdkit.frames import AXES, Frame
from kdkit.plan.blocking.apart import closures
from kdkit.plan.motion.bodies import collect_bodies
from kdkit.plan.motion.collisions import find_collisions
from kdkit.plan.motion.sweep import overlap, sweep_hits
from tests.bench.large_products import crate
from tests.boxes import Made, board, bookcase, cabinet_with_grooved_back, corner_ring, make

_ASLANT = Frame((0.0, 0.0, 0.0), (0.8, 0.6, 0.0), (-0.6, 0.8, 0.0), (0.0, 0.0, 1.0))
PRODUCTS: dict[str, Made] = {
    "bookcase": bookcase(3, loose=1),
    "cabinet": cabinet_with_grooved_back(),
    "ring": corner_ring(),
    "crate": crate(3),
    "aslant": make(
        [
            board("a", (0, 0, 0), (400, 18, 300)),
            board("b", (0, 100, 0), (400, 118, 300), at=_ASLANT),
            board("c", (50, 300, 0), (250, 318, 200)),
        ],
        {},
    ),
}
WAYS = tuple(AXES[a] for a in ("+x", "-x", "+y", "-y", "+z", "-z"))


@pytest.mark.parametrize("name", PRODUCTS)
def test_pruning_loses_no_collision(name: str) -> None:
    _, assembly, joinery, catalogue = PRODUCTS[name]
    bodies = collect_bodies(assembly, joinery, catalogue)
    found = {
        (d, moving.part, standing.part, frozenset((*moving.needs, *standing.needs)))
        for d, moving, standing in find_collisions(
            bodies, WAYS, lambda b: b.needs, lambda d, a, b: False
        )
    }
    expected = set()
    for d, way in enumerate(WAYS):
        hits = sweep_hits([b.shape for b in bodies], [b.shape for b in bodies], way)
        for n, moving in enumerate(bodies):
            for m, standing in enumerate(bodies):
                same = moving.part == standing.part or moving.part == standing.mate
                aimed = standing.part == moving.mate
                one = moving.fastener is not None and moving.fastener == standing.fastener
                if same or aimed or one or not hits[n, m]:
                    continue
                axis = moving.axis or standing.axis
                inside = overlap(moving.shape, standing.shape)
                if (
                    inside
                    and axis is not None
                    and abs(sum(a * b for a, b in zip(axis, way, strict=True))) > 0.99
                ):
                    continue
                needs = frozenset((*moving.needs, *standing.needs))
                expected.add((d, moving.part, standing.part, needs))
    assert found == expected
    assert found


def test_what_is_decided_is_not_asked_again() -> None:
    _, assembly, joinery, catalogue = PRODUCTS["bookcase"]
    bodies = collect_bodies(assembly, joinery, catalogue)
    assert not list(find_collisions(bodies, WAYS, lambda b: b.needs, lambda d, a, b: True))


def test_no_bodies_do_not_collide() -> None:
    assert not list(find_collisions((), WAYS, lambda b: b.needs, lambda d, a, b: False))


@given(
    st.integers(1, 9).flatmap(
        lambda n: st.lists(
            st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)), max_size=25
        ).map(lambda arcs: (n, arcs))
    )
)
def test_closures_are_what_can_be_reached(case: tuple[int, list[tuple[int, int]]]) -> None:
    n, arcs = case
    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(range(n))
    graph.add_edges_from((a, b) for a, b in arcs if a != b)
    held = {a: sum(1 << b for b in graph.successors(a)) for a in graph}
    expected = {a: sum(1 << b for b in nx.descendants(graph, a)) | 1 << a for a in graph}
    assert closures(held) == expected
