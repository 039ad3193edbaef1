from __future__ import annotations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kdkit.plan.digraph import longest_path, reached, shortest_paths, sorted_nodes, successors

ARCS = st.lists(st.sampled_from([(a, b) for a in range(9) for b in range(9)]), max_size=20)


@given(ARCS)
def test_reach_and_shortest_paths_are_those_of_a_library_of_graphs(
    arcs: list[tuple[int, int]],
) -> None:
    graph, other = successors(range(9), arcs), nx.DiGraph(arcs)
    other.add_nodes_from(range(9))
    for node in range(9):
        paths = shortest_paths(graph, node)
        assert reached(graph, node) - {node} == nx.descendants(other, node)
        assert {n: len(path) - 1 for n, path in paths.items()} == dict(
            nx.single_source_shortest_path_length(other, node)
        )
        assert all(nx.is_path(other, path) and path[-1] == n for n, path in paths.items())


@given(ARCS)
def test_order_and_longest_path_are_those_of_a_library_of_graphs(
    arcs: list[tuple[int, int]],
) -> None:
    rising = [(a, b) for a, b in arcs if a < b]
    graph, other = successors(range(9), rising), nx.DiGraph()
    other.add_nodes_from(range(9))
    other.add_edges_from(rising)
    assert sorted_nodes(graph, key=lambda n: -n) == list(
        nx.lexicographical_topological_sort(other, key=lambda n: -n)
    )
    path = longest_path(graph)
    assert nx.is_path(other, path)
    assert len(path) == nx.dag_longest_path_length(other) + 1


def test_without_a_key_the_first_named_comes_first() -> None:
    assert sorted_nodes(successors("cab", [("b", "c")])) == ["a", "b", "c"]


def test_a_loop_has_no_order_and_names_what_waits() -> None:
    graph = successors("abc", [("a", "b"), ("b", "a")])
    with pytest.raises(ValueError, match=r"wait for each other.*: a, b"):
        sorted_nodes(graph)


def test_nothing_has_no_path() -> None:
    assert longest_path({}) == []
