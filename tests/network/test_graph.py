"""Groups of nodes that edges join, against networkx."""

from __future__ import annotations

import networkx as nx
import numpy as np

from flownet.solver.network import groups


def test_groups_are_the_connected_components_of_networkx():
    rng = np.random.default_rng(2)
    for _ in range(300):
        nodes = int(rng.integers(1, 40))
        start, end = rng.integers(0, nodes, (2, int(rng.integers(0, 40))))
        graph = nx.empty_graph(nodes)
        graph.add_edges_from(zip(start.tolist(), end.tolist(), strict=True))
        expected = np.empty(nodes, int)
        for part in nx.connected_components(graph):
            expected[list(part)] = min(part)
        assert (groups(nodes, start, end) == expected).all()


def test_a_long_chain_is_one_group():
    order = np.random.default_rng(0).permutation(5000)
    assert (groups(5000, order[:-1], order[1:]) == 0).all()
