"""What has no solution is named before solving: islands without a way out, heat with nowhere to go.

The outside is one node. An open branch that is a bridge of that graph carries no net flow, so air
and heat move only within what is left when bridges are taken away; walls and exchanges move heat.
"""

from __future__ import annotations

import numpy as np

from flownet.equations.model import Model
from flownet.equations.topology import Structure
from flownet.schema.arrays import Array, Integers
from flownet.schema.fault import listed
from flownet.solver.network import Booleans, distinct, groups


def refusals(model: Model) -> list[str]:
    """One text a variant: why it cannot be solved, by name; empty where it can."""
    s = model.structure
    parts = (model.open, model.branch_heat.real != 0, model.compartment_heat.real != 0)
    width = model.variants
    pattern = np.concatenate([np.broadcast_to(p, (len(p), width)) for p in parts])
    masks, which = distinct(pattern)
    branches = len(s.branches)
    texts = [
        _refusal(s, m[:branches], m[branches : 2 * branches], m[2 * branches :]) for m in masks.T
    ]
    return [texts[i] for i in which]


def _refusal(s: Structure, open: Array, branch_heat: Array, heat: Array) -> str:
    outside = s.inside
    start, end = np.minimum(s.start, outside), np.minimum(s.end, outside)
    run = np.flatnonzero(open)
    joined = groups(outside + 1, start[run], end[run])
    joints = np.zeros(0, int) if s.division is None else s.division.lower
    both_ways = len(s.exchange_start) - len(joints)  # layers give heat to those above alone
    warm_start = np.minimum(np.r_[s.wall_start, s.exchange_start[:both_ways]], outside)
    warm_end = np.minimum(np.r_[s.wall_end, s.exchange_end[:both_ways]], outside)
    both = groups(outside + 1, np.r_[start[run], warm_start], np.r_[end[run], warm_end])
    if (lost := np.flatnonzero(both[:outside] != both[outside])).size:
        group = np.flatnonzero(both[:outside] == both[lost[0]])
        return _island(s, group, np.isin(start, group) & branch_heat, heat)
    if (shut := np.flatnonzero(branch_heat & ~open)).size:
        path = s.branches[int(shut[0])]
        return f"heat in {path} has nowhere to go: it is blanked; move the heat or open it"
    bridge = bridges(outside + 1, start[run], end[run])
    flowing = run[~bridge]
    way = groups(outside + 1, np.r_[start[flowing], warm_start], np.r_[end[flowing], warm_end])
    lost = way != way[outside]
    for below in joints[::-1]:
        lost[below] &= lost[below + 1]
    stuck = heat & lost[:outside]
    if stuck.any():
        return _stuck(s, int(np.argmax(stuck)), joined)
    ends = lost[start] | lost[end]
    if (trapped := np.flatnonzero(branch_heat & open & ends)).size:
        path = s.branches[int(trapped[0])]
        return (
            f"heat in {path} has nowhere to go: no net air can flow through it, "
            "because no second way leads round; open a vent behind it, or add a wall or an exchange"
        )
    return ""


def _island(s: Structure, group: Integers, branch_heat: Array, heat: Array) -> str:
    names = listed([f"compartment.{s.compartments[i]}" for i in group], 4, last=", ")
    warm = "with heat in it " if heat[group].any() or branch_heat.any() else ""
    return (
        f"{names}: an island {warm}that no open branch, wall or exchange joins to the "
        "outside; open a way for air, or add a wall that carries its heat"
    )


def _stuck(s: Structure, node: int, joined: Integers) -> str:
    name = s.compartments[node]
    reason = "no open branch leads from it to the outside"
    if joined[node] == joined[s.inside]:
        reason = "no net air can flow through it, because it has only one way in and out"
    return (
        f"heat in compartment.{name} has nowhere to go: {reason}; add a second opening, "
        "a wall with u_value, or an exchange"
    )


def stagnant(s: Structure, open: Array) -> Booleans:
    """(compartments,) where no net air comes from outside: behind bridges, or shut off."""
    outside = s.inside
    run = np.flatnonzero(open)
    start, end = np.minimum(s.start, outside)[run], np.minimum(s.end, outside)[run]
    moves = ~bridges(outside + 1, start, end)
    group = groups(outside + 1, start[moves], end[moves])
    found: Booleans = (group != group[outside])[:outside]
    return found


def bridges(nodes: int, start: Integers, end: Integers) -> Array:
    """(edges,) true where an edge is a bridge: without it its ends are no longer joined.

    Depth-first search with low points (R. Tarjan, SIAM Journal on Computing 1(2), 1972, 146-160),
    edges told apart by number so that parallel ones are no bridges.
    """
    count = len(start)
    order = np.argsort(np.r_[start, end], kind="stable")
    first = np.searchsorted(np.r_[start, end][order], np.arange(nodes + 1)).tolist()
    beyond, edge = np.r_[end, start][order].tolist(), (order % max(count, 1)).tolist()
    seen, low = [-1] * nodes, [0] * nodes
    found, clock = np.zeros(count, bool), 0
    for root in range(nodes):
        if seen[root] >= 0:
            continue
        seen[root] = low[root] = clock
        clock += 1
        stack = [(root, -1, first[root])]
        while stack:
            node, by, at = stack.pop()
            if at < first[node + 1]:
                stack.append((node, by, at + 1))
                other = beyond[at]
                if edge[at] == by or other == node:
                    continue
                if seen[other] >= 0:
                    low[node] = min(low[node], seen[other])
                else:
                    seen[other] = low[other] = clock
                    clock += 1
                    stack.append((other, edge[at], first[other]))
            elif stack:
                parent = stack[-1][0]
                low[parent] = min(low[parent], low[node])
                found[by] = low[node] > seen[parent]
    return found
