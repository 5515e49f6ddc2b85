"""What one topology is: integers only, made once for all variants."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.heat import BRANCHES
from flownet.schema.arrays import Array, Integers, added

if TYPE_CHECKING:
    import scipy.sparse as sp

Key = TypeVar("Key")


@dataclass(frozen=True, eq=False)
class Network:
    """Branches between nodes.

    `start`, `end` (branches,) are node numbers; those from `nodes` on have fixed pressures.
    """

    start: Integers
    end: Integers
    nodes: int

    @cached_property
    def fixed(self) -> int:
        """Number of fixed nodes."""
        return max(0, int(np.max([self.start, self.end], initial=-1)) + 1 - self.nodes)

    @cached_property
    def outflow(self) -> sp.csr_matrix:
        """(nodes, branches) +1 where a branch leaves a free node, -1 where it enters one."""
        import scipy.sparse as sp  # noqa: PLC0415 - see `incidence`

        branch, ones = np.arange(len(self.start)), np.ones(len(self.start))
        node, sign = np.r_[self.start, self.end], np.r_[ones, -ones]
        free, shape = node < self.nodes, (self.nodes, len(branch))
        return sp.csr_matrix((sign[free], (node[free], np.r_[branch, branch][free])), shape)

    @cached_property
    def fall(self) -> sp.csr_matrix:
        """(branches, nodes) takes pressures of free nodes to p_start - p_end."""
        return self.outflow.T.tocsr()

    @cached_property
    def touch(self) -> sp.csr_matrix:
        """(nodes, branches) 1 where a branch joins a free node to another node."""
        return abs(self.outflow)


class Shares(NamedTuple):
    """Walls or exchanges that layers share: one row for each pair of places they join."""

    row: Integers  # which wall or exchange
    portion: Integers  # which portion of it, as in `layers`
    start: Integers
    end: Integers


class Division(NamedTuple):
    """Compartments divided into layers, each a compartment of its own in the equations.

    Branches and exchanges of their own, the last ones of each, join layers to those above.
    """

    plain: Structure  # with undivided compartments
    first: Integers  # (compartments,) the lowest layer of each
    counts: Integers  # (compartments,) of layers
    lower: Integers  # (joints,) the layer below each; that above it is the next
    walls: Shares
    exchanges: Shares
    part_first: Integers  # (parts,) the lowest layer that takes its heat, -1 in a branch
    part_counts: Integers  # (parts,) among how many layers its heat is shared
    up: str  # the face of the enclosure that is up


@dataclass(frozen=True, eq=False)
class Structure:
    """Nodes, branches and what hangs on them, by number.

    Nodes of pressure are the compartments, then the outsides. Nodes of temperature are the same,
    then one for each branch end that draws in recirculated air. An element is anything air passes;
    elements `on` another branch share the number of their host.
    """

    compartments: tuple[str, ...]
    outsides: tuple[str, ...]
    elements: tuple[str, ...]  # paths; kinds stand together, in the order of `rows`
    rows: dict[str, slice]  # kind -> its elements
    branches: tuple[str, ...]
    host: Integers  # (elements,) the branch whose air passes
    own: Integers  # (branches,) the element that is the branch
    start: Integers  # (branches,) node of pressure
    end: Integers
    warm_start: Integers  # (branches,) node of temperature
    warm_end: Integers
    wall_start: Integers
    wall_end: Integers
    exchange_start: Integers
    exchange_end: Integers
    mix_branch: Integers  # (mixes,) branch that draws in recirculated air
    mix_outside: Integers  # (mixes,) node of the outside it draws from
    loop_mix: Integers  # (recirculations,) which mix it feeds
    loop_branch: Integers  # (recirculations,) the branch that blows out
    loop_sign: Integers  # (recirculations,) +1 where positive flow leaves the enclosure
    part_compartment: Integers  # (parts,) where its heat goes, -1 if into a branch
    part_branch: Integers  # (parts,) -1 if into a compartment
    division: Division | None = None  # where a compartment has layers

    @property
    def inside(self) -> int:
        """Number of compartments."""
        return len(self.compartments)

    @cached_property
    def owner(self) -> Integers:
        """(compartments, or their layers,) the compartment each belongs to."""
        if (d := self.division) is None:
            return np.arange(self.inside)
        return np.repeat(np.arange(len(d.counts)), d.counts)

    @property
    def mixes(self) -> int:
        """Number of branch ends that draw in recirculated air."""
        return len(self.mix_branch)

    @cached_property
    def network(self) -> Network:
        """The branches between nodes of pressure."""
        return Network(self.start, self.end, self.inside)

    @cached_property
    def warm_network(self) -> Network:
        """Everything that carries heat between nodes: branches, walls, exchanges."""
        start = np.r_[self.warm_start, self.wall_start, self.exchange_start]
        end = np.r_[self.warm_end, self.wall_end, self.exchange_end]
        return Network(start, end, self.inside)

    @cached_property
    def to_branches(self) -> sp.csr_matrix | None:
        """(branches, elements) sums elements in series; None where each is a branch of its own."""
        if len(self.elements) == len(self.branches):
            return None
        return incidence(self.host, len(self.branches))

    def heat_of_branches(self, parts: Array) -> Array:
        """(branches, variants) from the heat of each part."""
        return added(self.part_branch, parts, len(self.branches))

    def heat_of_compartments(self, parts: Array) -> Array:
        """(compartments, variants) from the heat of each part, shared among layers."""
        if (divided := self.division) is None:
            return added(self.part_compartment, parts, self.inside)
        counts = np.where(divided.part_first >= 0, divided.part_counts, 0)
        owner = np.repeat(np.arange(len(counts)), counts)
        rows = np.repeat(divided.part_first - np.cumsum(counts) + counts, counts)
        rows = rows + np.arange(len(owner))
        return added(rows, parts[owner] * (1 / counts[owner])[:, None], self.inside)

    @cached_property
    def loops_to_mixes(self) -> sp.csr_matrix:
        """(mixes, recirculations)."""
        return incidence(self.loop_mix, self.mixes)

    @cached_property
    def into(self) -> dict[str, sp.csr_matrix]:
        """(compartments, things) 1 where a thing of that name starts or ends."""
        ends = {
            "start": self.start, "end": self.end, "wall_start": self.wall_start,
            "wall_end": self.wall_end, "exchange_start": self.exchange_start,
            "exchange_end": self.exchange_end,
        }  # fmt: skip
        return {
            name: incidence(np.where(nodes < self.inside, nodes, -1), self.inside)
            for name, nodes in ends.items()
        }

    @classmethod
    def of(cls, case: Enclosure) -> Structure:
        """The topology of an enclosure; the last few are kept, with their elimination order."""
        return kept(_TOPOLOGIES, _links(case), lambda: cls._of(case))

    @classmethod
    def _of(cls, case: Enclosure) -> Structure:
        compartments, outsides = tuple(case.compartments), tuple(case.things["outside"])
        node = {name: i for i, name in enumerate(compartments)}
        node |= {
            f"outside.{n}" if n else "outside": len(compartments) + i
            for i, n in enumerate(outsides)
        }
        items: dict[str, Any] = dict(case.branches)
        branches = tuple(path for path, item in items.items() if _stands_alone(item))
        number = {path: i for i, path in enumerate(branches)}
        host = [number[path if _stands_alone(item) else item.on] for path, item in items.items()]
        elements = tuple(items)
        place = {path: i for i, path in enumerate(elements)}
        alone = [items[path] for path in branches]
        start, end = _nodes(node, alone, "from_"), _nodes(node, alone, "to")
        mixes = _mixes(case, number, start, end, len(compartments), len(node))
        walls, exchanges = case.walls.values(), case.things["exchange"].values()
        warm, mix = mixes
        parts = _part_places(case, node, dict(zip(elements, host, strict=True)))
        first, second = ([node[e.between[i]] for e in exchanges] for i in (0, 1))
        return cls(
            compartments=compartments, outsides=outsides, elements=elements, rows=_rows(case),
            branches=branches, host=np.array(host, int),
            own=np.array([place[b] for b in branches], int), start=start, end=end,
            warm_start=warm[0], warm_end=warm[1],
            wall_start=_nodes(node, walls, "from_"), wall_end=_nodes(node, walls, "to"),
            exchange_start=np.array(first, int), exchange_end=np.array(second, int),
            mix_branch=mix[0], mix_outside=mix[1], loop_mix=mix[2], loop_branch=mix[3],
            loop_sign=mix[4], part_compartment=parts[0], part_branch=parts[1],
        )  # fmt: skip


MOST_KEPT = 8
_TOPOLOGIES: dict[tuple[object, ...], Structure] = {}


def kept(memory: dict[Key, Structure], key: Key, make: Callable[[], Structure]) -> Structure:
    """A topology made before, or now; the last few are kept, with their elimination order."""
    if key not in memory:
        while len(memory) >= MOST_KEPT:
            memory.pop(next(iter(memory)))
        memory[key] = make()
    return memory[key]


def _links(case: Enclosure) -> tuple[object, ...]:
    """Everything that shapes a network: names and what they join."""
    ends = tuple(
        (path, getattr(item, "on", None), item.from_, item.to)
        for named in (case.branches, case.walls, case.things["recirculation"])
        for path, item in named.items()
    )
    exchanges = tuple(exchange.between for exchange in case.things["exchange"].values())
    parts = tuple((name, part.in_) for name, part in case.parts.items())
    return tuple(case.compartments), tuple(case.things["outside"]), ends, exchanges, parts


def incidence(rows: Integers, height: int) -> sp.csr_matrix:
    """(height, len(rows)) with a 1 at each (row, position); rows of -1 are left out."""
    import scipy.sparse as sp  # noqa: PLC0415 - 0.2 s that a check of a case does not need

    inner = np.flatnonzero(rows >= 0)
    return sp.csr_matrix((np.ones(len(inner)), (rows[inner], inner)), (height, len(rows)))


def _stands_alone(item: Any) -> bool:
    return getattr(item, "on", None) is None


def _nodes(node: dict[str, int], items: Any, side: str) -> Integers:
    return np.array([node[getattr(item, side)] for item in items], int)


def _rows(case: Enclosure) -> dict[str, slice]:
    rows, at = {}, 0
    for kind in BRANCHES:
        if count := len(case.things[kind]):
            rows[kind] = slice(at, at + count)
            at += count
    return rows


def _mixes(
    case: Enclosure, number: dict[str, int], start: Integers, end: Integers, inside: int, nodes: int
) -> tuple[tuple[Integers, Integers], tuple[Integers, ...]]:
    """Nodes of temperature at branch ends, and the recirculations behind them."""
    loops = list(case.things["recirculation"].values())
    targets = list(dict.fromkeys(number[loop.to] for loop in loops))
    warm_start, warm_end = start.copy(), end.copy()
    outside = []
    for i, branch in enumerate(targets):
        ends = warm_start if start[branch] >= inside else warm_end
        outside.append(ends[branch])
        ends[branch] = nodes + i
    sources = np.array([number[loop.from_] for loop in loops], int)
    signs = np.where(end[sources] >= inside, 1, -1) if loops else np.zeros(0, int)
    mix = np.array([targets.index(number[loop.to]) for loop in loops], int)
    return (warm_start, warm_end), (
        np.array(targets, int), np.array(outside, int), mix, sources, signs,
    )  # fmt: skip


def _part_places(
    case: Enclosure, node: dict[str, int], host: dict[str, int]
) -> tuple[Integers, Integers]:
    """Compartment and branch that take each part's heat; -1 for the one that does not."""
    compartment, branch = [], []
    for place in root_places(case).values():
        compartment.append(node[place] if place in case.compartments else -1)
        branch.append(-1 if place in case.compartments else host[place])
    return np.array(compartment, int), np.array(branch, int)


def root_places(case: Enclosure) -> dict[str, str]:
    """Of each part the compartment or branch that it, or the part it sits on, stands in."""
    return {name: str(root.in_) for name, root in case.roots.items()}
