"""What has no solution is named before solving: islands without a way out, heat with nowhere to go.

The outside is one node. An open branch that is a bridge of that graph carries no net flow, so air
and heat move only within what is left when bridges are taken away; walls, exchanges and tall holes
that air passes both ways move heat.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flownet.equations.state import Model
from flownet.equations.topology import Structure
from flownet.schema.arrays import Array, Booleans, Integers
from flownet.schema.fault import Fault, listed
from flownet.solver.network import distinct, groups

NAMED = 4  # blanked branches that are named
PATHS = 50  # blanked branches that are tried one by one, open
WAY_OUT = "a second opening, height on a large upright one, a wall with u_value, or an exchange"


def refusals(model: Model) -> list[str]:
    """One text a variant: a Fault that says why it cannot be solved, by name; empty where it can
    be tried."""
    s = model.structure
    parts = (
        model.open, model.branch_heat.real != 0, model.both_ways, model.compartment_heat.real != 0,
    )  # fmt: skip
    width = model.variants
    pattern = np.concatenate([np.broadcast_to(p, (len(p), width)) for p in parts])
    masks, which = distinct(pattern)
    branches = len(s.branches)
    texts = [_refusal(s, *np.split(m, [branches, 2 * branches, 3 * branches])) for m in masks.T]
    return [texts[i] for i in which]


def _refusal(s: Structure, open: Array, branch_heat: Array, tall: Array, heat: Array) -> str:
    outside = s.inside
    start, end = np.minimum(s.start, outside), np.minimum(s.end, outside)
    warm_start, warm_end = _warm(s, tall)
    both = groups(outside + 1, np.r_[start[open], warm_start], np.r_[end[open], warm_end])
    if (lost := np.flatnonzero(both[:outside] != both[outside])).size:
        group = np.flatnonzero(both[:outside] == both[lost[0]])
        edge = ~open & (np.isin(start, group) != np.isin(end, group))
        return _island(s, group, np.isin(start, group) & branch_heat, heat, edge)
    if (shut := np.flatnonzero(branch_heat & ~open)).size:
        path = s.branches[int(shut[0])]
        return Fault(
            "", f"heat in {path} has nowhere to go: it is blanked", hint="move the heat or open it"
        )
    shut_in = _without_way(s, open, tall)
    stuck = heat & shut_in[:outside]
    if stuck.any():
        return _stuck(s, int(np.argmax(stuck)), open, tall)
    ends = shut_in[start] | shut_in[end]
    if (trapped := np.flatnonzero(branch_heat & open & ends)).size:
        path = s.branches[int(trapped[0])]
        return Fault(
            "", f"heat in {path} has nowhere to go: no net air can flow through it, because no "
            "second way leads round", hint="open a vent behind it, or add a wall or an exchange",
        )  # fmt: skip
    return ""


def _warm(s: Structure, tall: Array) -> tuple[Integers, Integers]:
    """Ends of all that carries heat both ways without net air; layers give theirs to those
    above."""
    both_ways = len(s.exchange_start) - (0 if s.division is None else len(s.division.lower))
    start = np.r_[s.wall_start, s.exchange_start[:both_ways], s.start[tall]]
    end = np.r_[s.wall_end, s.exchange_end[:both_ways], s.end[tall]]
    return np.minimum(start, s.inside), np.minimum(end, s.inside)


def _without_way(s: Structure, open: Array, tall: Array) -> Booleans:
    """(nodes,) from which neither net air nor a wall, exchange or tall hole carries heat
    outside."""
    outside, (warm_start, warm_end) = s.inside, _warm(s, tall)
    start, end = np.minimum(s.start, outside)[open], np.minimum(s.end, outside)[open]
    flows = ~bridges(outside + 1, start, end)
    way = groups(outside + 1, np.r_[start[flows], warm_start], np.r_[end[flows], warm_end])
    lost: Booleans = way != way[outside]
    for below in [] if s.division is None else s.division.lower[::-1]:
        lost[below] &= lost[below + 1]
    return lost


def _island(s: Structure, group: Integers, branch_heat: Array, heat: Array, shut: Array) -> str:
    names = listed([f"compartment.{s.compartments[i]}" for i in group], NAMED, last=", ")
    warm = "with heat in it " if heat[group].any() or branch_heat.any() else ""
    blanked = [s.branches[i] for i in np.flatnonzero(shut).tolist()]
    return Fault(
        "", f"{names}: an island {warm}that no open branch, wall or exchange joins to the outside"
        + (f" ({_are_blanked(blanked)})" if blanked else ""),
        hint="open a way for air, or add a wall that carries its heat",
    )  # fmt: skip


def _stuck(s: Structure, node: int, open: Array, tall: Array) -> str:
    """Why the heat of a compartment stays; what is blanked is named where opening it helps."""
    ends = (np.minimum(each, s.inside)[open] for each in (s.start, s.end))
    joined = groups(s.inside + 1, *ends)
    reason = "no open branch leads from there to the outside"
    if joined[node] == joined[s.inside]:
        reason = "no net air can flow there, because there is only one way in and out"
    holes = [s.branches[i] for i in np.flatnonzero(tall & (s.division is not None))]
    if holes:
        reason += f", and {listed(holes, NAMED)} meets the layer at half its height alone"
    every = np.arange(len(open))
    blanked = [s.branches[i] for i in np.flatnonzero(~open)[:PATHS].tolist()
               if not _without_way(s, open | (every == i), tall)[node]]  # fmt: skip
    way = "draw it as several openings one above the other" if holes else f"add {WAY_OUT}"
    return Fault(
        "", f"heat in compartment.{s.compartments[node]} has nowhere to go: "
        + (f"{_are_blanked(blanked)}, and " if blanked else "") + reason,
        hint=f"open {blanked[0] if len(blanked) == 1 else 'one of them'}, or {way}"
        if blanked else way,
    )  # fmt: skip


def _are_blanked(paths: Sequence[str]) -> str:
    return f"{listed(paths, NAMED)} {'is' if len(paths) == 1 else 'are'} blanked"


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
