"""Lengths along the trees of quickest ways, held against networkx and the plain code."""

from __future__ import annotations

from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from layers.walking.distances import lengths_along

NODES = 60


@pytest.mark.parametrize("seed", range(5))
def test_lengths_are_those_of_the_quickest_ways(seed: int) -> None:
    random = np.random.default_rng(seed)
    # So few arcs that some nodes cannot be reached, and one way only.
    quick = np.where(random.random((NODES, NODES)) < 0.03, random.random((NODES, NODES)), 0.0)
    np.fill_diagonal(quick, 0.0)
    arcs = csr_array(quick)
    length = random.random(arcs.nnz)
    roots, goals = np.arange(0, NODES, 7), np.arange(0, NODES, 3)
    minutes, before = dijkstra(arcs, indices=roots, return_predecessors=True)
    asked = before, goals, arcs.indptr, arcs.indices, length
    found = lengths_along(*asked)
    assert np.array_equal(found, lengths_along.py_func(*asked))
    graph = nx.from_scipy_sparse_array(arcs, create_using=nx.DiGraph)
    metres = dict(zip(zip(*arcs.nonzero(), strict=True), length, strict=True))
    for row, root in enumerate(roots.tolist()):
        ways = nx.single_source_dijkstra_path(graph, root)
        for column, goal in enumerate(goals.tolist()):
            way = ways.get(goal, [])
            assert np.isfinite(minutes[row, goal]) == bool(way)
            expected = sum(metres[step] for step in pairwise(way))
            assert found[row, column] == pytest.approx(expected)
