"""Useful flow: of the air drawn in from outside, what passes a part with a limit before it leaves.

A part is passed in the compartment or branch that takes up its heat, or in its `stream` where that
is named. Compartments are well mixed, so air leaves each by its ways in the shares of their flows;
a share of the air may therefore come by later, and none is counted twice. The rest is bypass.
"""

from __future__ import annotations

import numpy as np

from flownet.equations.topology import Structure
from flownet.results.batch import SolutionBatch
from flownet.schema.arrays import Array

REGULAR = 1e-12  # keeps air that only goes round in a closed loop from making a singular system


def useful_flow(batch: SolutionBatch) -> Array:
    """(variants,) useful flow at the density of the air drawn in [m3/s].

    NaN where nothing was solved, and where no part (without parts: no compartment) has a limit.
    Exchanges are not followed.
    """
    s = Structure.of(batch.inputs_.enclosure)
    count = len(batch)
    flow, volume = (
        np.broadcast_to(batch.branches.columns[key], (len(s.elements), count))[s.own]
        for key in ("mass_flow", "volume_flow")
    )
    nodes, branches = _useful_places(batch, s)
    found = np.full(count, np.nan)
    for variant in np.flatnonzero(batch.ok):
        places = nodes[:, variant], branches[:, variant]
        if places[0].any() or places[1].any():
            found[variant] = _passing(s, flow[:, variant], volume[:, variant], *places)
    return found


def _useful_places(batch: SolutionBatch, s: Structure) -> tuple[Array, Array]:
    """(compartments, variants) and (branches, variants) true where a part or slot with a limit is
    passed; without any such, compartments with a limit."""
    case, count = batch.inputs_.enclosure, len(batch)
    nodes = np.zeros((s.inside, count), bool)
    branches = np.zeros((len(s.branches), count), bool)
    host = dict(zip(s.elements, s.host.tolist(), strict=True))
    limited = np.broadcast_to(~np.isnan(batch.parts.columns["margin"]), (len(case.parts), count))
    for row, name in enumerate(case.parts):
        stream = case.roots[name].stream
        if s.part_branch[row] >= 0:
            branches[s.part_branch[row]] |= limited[row]
        elif stream is not None:
            branches[host[stream]] |= limited[row]
        else:
            nodes[s.part_compartment[row]] |= limited[row]
    carded = [item for item in batch.limits if item.subject.startswith("slot.")]
    for item in carded:
        branches[host[item.subject]] |= ~np.isnan(item.margin)
    if not limited.any() and not branches.any():
        nodes |= ~np.isnan(batch.compartments.columns["margin"])
    return nodes, branches


def _passing(s: Structure, flow: Array, volume: Array, nodes: Array, branches: Array) -> float:
    """One variant: every intake by the share of its air that passes a useful place."""
    first = np.where(flow >= 0, s.start, s.end)
    last = np.where(flow >= 0, s.end, s.start)
    size = np.abs(flow)
    inner = (first < s.inside) & (size > 0)
    out = np.bincount(first[inner], size[inner], s.inside)
    met = np.bincount(first[inner], (size * branches)[inner], s.inside)
    on = inner & (last < s.inside) & ~branches
    passed = np.append(_shares(s.inside, out, met, nodes, (first[on], last[on], size[on])), 0.0)
    beyond = passed[np.minimum(last, s.inside)]  # of the outside: nothing more is met
    drawn = first >= s.inside
    share = np.where(branches, 1.0, beyond)
    return float((np.abs(volume) * share)[drawn].sum())


def _shares(
    inside: int, out: Array, met: Array, nodes: Array, onward: tuple[Array, Array, Array]
) -> Array:
    """(compartments,) share of the air in each that passes a useful place from there on."""
    import scipy.sparse as sp  # noqa: PLC0415 - see `structure.incidence`
    import scipy.sparse.linalg as sla  # noqa: PLC0415

    start, end, size = onward
    known = nodes | (out == 0)
    on = ~known[start]
    rows = np.append(np.arange(inside), start[on])
    columns = np.append(np.arange(inside), end[on])
    values = np.append(np.where(known, 1.0, out * (1 + REGULAR)), -size[on])
    matrix = sp.csc_matrix((values, (rows, columns)), shape=(inside, inside))
    share: Array = sla.spsolve(matrix, np.where(known, nodes, met).astype(float))
    return np.atleast_1d(share)
