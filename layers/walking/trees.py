"""Lengths of quickest ways, added up along the trees that a search leaves behind."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layers.walking.compiled import compiled

Floats = NDArray[np.float64]


@compiled
def lengths_along(
    before: NDArray[np.int32],
    nodes: NDArray[np.int64],
    start: NDArray[np.int32],
    target: NDArray[np.int32],
    length: Floats,
) -> Floats:
    """Length of the way to each of some nodes in each of some trees; 0 where none leads.

    Parameters
    ----------
    before
        Shape (trees, all nodes): the node before each on its way, negative at the root
        and where no way leads.
    start, target, length
        Arcs sorted by their first node: where those of each node begin, where each arc
        leads, and its length.
    """
    trees, size = before.shape
    found = np.zeros((trees, len(nodes)))
    passed = np.empty(size, np.int64)
    for tree in range(trees):
        along = np.full(size, -1.0)
        for number, goal in enumerate(nodes):
            node, depth = goal, 0
            # Up the tree to a node whose length is known, then down again.
            while along[node] < 0.0 and before[tree, node] >= 0:
                passed[depth] = node
                depth += 1
                node = before[tree, node]
            total = max(along[node], 0.0)
            along[node] = total
            while depth > 0:
                depth -= 1
                arc = start[node]
                while target[arc] != passed[depth]:
                    arc += 1
                node = passed[depth]
                total += length[arc]
                along[node] = total
            found[tree, number] = total
    return found
