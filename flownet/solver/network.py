"""What follows from which branch joins which nodes, and from the branches' slopes, alone."""

from __future__ import annotations

from weakref import WeakKeyDictionary

import numpy as np

from flownet.equations.topology import Network
from flownet.schema.arrays import Array, Booleans, Integers
from flownet.solver import elimination
from flownet.solver import tolerances as tol

_SOLVERS: WeakKeyDictionary[Network, elimination.Solver] = WeakKeyDictionary()


def solver(network: Network) -> elimination.Solver:
    """The linear solver for this graph, made once."""
    if network not in _SOLVERS:
        _SOLVERS[network] = elimination.choose(network.nodes, network.start, network.end)
    return _SOLVERS[network]


def pins(network: Network, open: Booleans) -> Booleans:
    """Nodes whose pressure nothing fixes, one for each group of nodes that open branches join.

    Parameters
    ----------
    open : (branches, variants) false where a branch is closed.

    Returns
    -------
    (nodes, variants) true at the first node of each group without a fixed node.
    """
    unique, which = distinct(open)
    found = [_first_of_islands(network, mask) for mask in unique.T]
    each: Booleans = np.stack(found, axis=1)[:, which]
    return each


def distinct(flags: Booleans) -> tuple[Booleans, Integers]:
    """The different columns, and which of them each column is."""
    if (flags == flags[:, :1]).all():
        return flags[:, :1], np.zeros(flags.shape[1], np.intp)
    masks, which = np.unique(np.packbits(flags, axis=0), axis=1, return_inverse=True)
    return np.unpackbits(masks, axis=0, count=len(flags)).astype(bool), which.ravel()


def _first_of_islands(network: Network, open: Booleans) -> Booleans:
    """One variant; all fixed nodes are one, and last."""
    nodes = network.nodes
    ends = (np.minimum(end[open], nodes) for end in (network.start, network.end))
    group = groups(nodes + 1, *ends)
    first = group == np.arange(nodes + 1)
    found: Booleans = (first & (group != group[nodes]))[:nodes]
    return found


def groups(nodes: int, start: Integers, end: Integers) -> Integers:
    """(nodes,) the first node of the group that edges join each node to.

    Labels sink along the edges and jump to their labels' labels until none changes: for a few
    nodes as quick as `scipy.sparse.csgraph`, whose import takes longer than a whole solve.
    """
    label = np.arange(nodes)
    while True:
        before = label.copy()
        lowest = np.minimum(label[start], label[end])
        np.minimum.at(label, label[start], lowest)
        np.minimum.at(label, label[end], lowest)
        label = label[label]
        if (label == before).all():
            return label


def pin_weights(network: Network, pinned: Booleans, weight: Array) -> Array | None:
    """(nodes, variants) what ties pinned nodes to p = 0, of the size of the weights around them.

    Not of just that size: beside one branch of a negative weight it would cancel to a zero pivot.
    """
    if not pinned.any():
        return None
    around = network.touch @ abs(weight)
    return pinned * np.where(around > 0, tol.PIN * around, 1.0)


def flow_stable(network: Network, slope: Array, open: Booleans) -> Booleans:
    """Whether every small disturbance of the flow dies away, for each variant.

    With `A` the outflow matrix and `G` the slopes, the flow is stable if `G` is positive on all
    flows that conserve mass (`A x = 0`). The matrix [[G, A'], [A, 0]] has then as many negative
    eigenvalues as there are nodes; counted by way of `G` and of its Schur complement -A inv(G) A'
    (Haynsworth 1968) that says: `A inv(G) A'` has as many negative pivots as `G` negative slopes.

    Parameters
    ----------
    slope, open : (branches, variants) of drop less rise, and false where a branch is closed.
    """
    open = np.broadcast_to(open, slope.shape)
    negative = np.count_nonzero(open & (slope < 0), axis=0)
    result: Booleans = negative == 0
    if not result.all():
        some = ~result
        apart = 1 + tol.NUDGE * np.modf(np.arange(1, len(slope) + 1) * 0.6180339887)[0]
        weight = open[:, some] / (np.where(slope == 0, tol.NUDGE, slope)[:, some] * apart[:, None])
        pinned = pin_weights(network, pins(network, open[:, some]), weight)
        factor = solver(network).factor(weight, weight, pinned)
        result[some] = factor.negative == negative[some]
    return result
