"""Linear systems on a graph, for many variants of a small one or for a large one.

Edge k of the graph joins nodes `start[k]` and `end[k]` and adds to the matrix

    + forward[k] at (end, end)        - forward[k] at (end, start)
    + backward[k] at (start, start)   - backward[k] at (start, end)

An index of `nodes` or more is a fixed node, where x = 0. Equal weights make the symmetric matrix
of conductances; what each end receives from the other makes the one of a mixing balance.

Elimination without pivoting replaces a node by edges between its neighbours (star-mesh
transformation). Only the weights of edges are stored, the fixed nodes being one of the neighbours:
each pivot is the sum of the weights at its node and is never got by subtraction, so that with
positive weights a factor is accurate in every entry, however many decades they span (the idea of
W. K. Grassmann, M. I. Taksar, D. P. Heyman, Operations Research 33, 1985, 1107-1116; A. S. Alfa,
J. Xue, Q. Ye, Mathematics of Computation 71, 2002, 217-236).
"""

from __future__ import annotations

import heapq
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

import numpy as np

from flownet.schema.arrays import Array, Integers, summed
from flownet.solver.active import written

if TYPE_CHECKING:
    import scipy.sparse as sp

_Plain: TypeAlias = tuple[list[tuple[int, int]], int, list[tuple[int, int, int]], int]

LARGE = 400  # nodes from which the sparse factorisation is the faster


def choose(nodes: int, start: Integers, end: Integers) -> Solver:
    """The faster of the two solvers for a graph of this size."""
    return (Elimination if nodes < LARGE else SparseElimination)(nodes, start, end)


class _Step(NamedTuple):
    """Elimination of one node: where its edges stand, and which edges they change."""

    degree: int  # number of its free neighbours that are eliminated later
    later: slice | Integers  # their positions
    edges: slice  # its rows of weights: one for each of `later`, then one for the fixed nodes
    inner: slice  # the same without the last
    left: Integers  # for each pair of neighbours: number of the one, of the other ...
    right: Integers
    between: Integers  # ... and the row of the edge between them
    free_pairs: slice  # the pairs without a fixed node


class _Sums:
    """Rows that are sums of a few rows of another array: a first one each, then more by turns."""

    def __init__(self, row: Integers, source: Integers, rows: int, sources: int) -> None:
        order = np.argsort(row, kind="stable")
        row, source = row[order], source[order]
        turn = np.arange(len(row)) - np.searchsorted(row, row)
        self.first = np.full(rows, sources)  # the row of zeros below the sources
        self.first[row[turn == 0]] = source[turn == 0]
        last = int(np.max(turn, initial=0))
        self.more = [(row[turn == k], source[turn == k]) for k in range(1, last + 1)]

    def __call__(self, *parts: Array) -> Array:
        """(rows, variants) of the parts below each other."""
        values = np.concatenate([*parts, np.zeros((1, parts[0].shape[1]))])
        found: Array = values.take(self.first, axis=0)
        for row, source in self.more:
            found[row] += values[source]
        return found


class Elimination:
    """Batched elimination in an order of minimum degree, found once.

    Every step acts on all variants at a time.
    """

    def __init__(self, nodes: int, start: Integers, end: Integers) -> None:
        order, columns = _minimum_degree(nodes, start, end)
        self.order = np.array(order, np.intp)
        place = np.full(nodes + 1, nodes)
        place[self.order] = np.arange(nodes)
        self.place = place[:nodes]
        later = [[*sorted(place[list(column)].tolist()), nodes] for column in columns]
        first = np.cumsum([0, *map(len, later)]).tolist()
        rows = {
            (i, k): first[i] + x for i, column in enumerate(later) for x, k in enumerate(column)
        }
        self.steps = [
            _step(column, slice(*edges), rows)
            for column, edges in zip(later, pairwise(first), strict=True)
        ]
        self.fixed_rows = np.array(first[1:], np.intp) - 1
        self.plain = [_plain(*each) for each in zip(later, self.steps, strict=True)]
        self._place_edges(place[np.minimum(start, nodes)], place[np.minimum(end, nodes)], rows)

    def _place_edges(self, a: Integers, b: Integers, rows: dict[tuple[int, int], int]) -> None:
        """Which weights each row of the triangles is the sum of: those of parallel edges."""
        proper = np.flatnonzero(a != b)
        ends = np.stack([a[proper], b[proper]])
        pairs = zip(*np.sort(ends, axis=0).tolist(), strict=True)
        row, onward = np.array([rows[pair] for pair in pairs], np.intp), ends[0] < ends[1]
        ahead, back = proper, proper + len(a)  # of forward and backward, below each other
        self.upper_sums = _Sums(row, np.where(onward, back, ahead), len(rows), 2 * len(a))
        self.lower_sums = _Sums(row, np.where(onward, ahead, back), len(rows), 2 * len(a))
        self.either_sums = _Sums(row, ahead, len(rows), len(a))

    def factor(self, forward: Array, backward: Array, diagonal: Array | None = None) -> Factor:
        """Factors of the matrix of these (edges, variants) weights.

        `diagonal` (nodes, variants) is added on the diagonal. Pass the same array twice for a
        symmetric matrix. A zero pivot gives values that are not finite.
        """
        symmetric = forward is backward
        if symmetric:
            upper = lower = self.either_sums(forward)
        else:
            upper, lower = (sums(forward, backward) for sums in (self.upper_sums, self.lower_sums))
        if diagonal is not None:
            upper[self.fixed_rows] += diagonal[self.order]
        if upper.shape[1] == 1:
            return self._factor_one(upper, lower)
        inverse = np.empty((len(self.steps), upper.shape[1]), upper.dtype)
        for j, step in enumerate(self.steps):
            out = upper[step.edges]
            np.divide(1.0, summed(out), out=inverse[j])
            if step.degree:
                share, came = out * inverse[j], lower[step.edges]
                change = came.take(step.left, axis=0)
                change *= share.take(step.right, axis=0)
                upper[step.between] += change
                if not symmetric:
                    free = step.free_pairs
                    change = came.take(step.right[free], axis=0)
                    change *= share.take(step.left[free], axis=0)
                    lower[step.between[free]] += change
                    came[:-1] *= inverse[j]
                upper[step.inner] = share[:-1]
        return EliminationFactor(self, upper, lower, inverse)

    def _factor_one(self, upper: Array, lower: Array) -> Factor:
        """The same for one variant, number by number in the same order, so that the bits are those
        of many: an array's call would cost far more."""
        out = upper[:, 0].tolist()
        came = out if upper is lower else lower[:, 0].tolist()
        inverse = []
        for later, fixed, pairs, free in self.plain:
            pivot = 0.0
            for _, row in later:
                pivot += out[row]
            pivot += out[fixed]
            own = 1.0 / pivot if pivot else np.nan
            inverse.append(own)
            for a, b, between in pairs:
                out[between] += came[a] * (out[b] * own)
            if came is not out:
                for a, b, between in pairs[:free]:
                    came[between] += came[b] * (out[a] * own)
                for _, row in later:
                    came[row] *= own
            for _, row in later:
                out[row] *= own
        columns = (np.array(x)[:, None] for x in (out, came, inverse))
        return EliminationFactor(self, *columns)


class EliminationFactor:
    """Unit triangles `1 - lower`, `1 - upper` by columns and rows, and the inverse pivots."""

    def __init__(self, made: Elimination, upper: Array, lower: Array, inverse: Array) -> None:
        self.made, self.upper, self.lower, self.inverse = made, upper, lower, inverse

    @property
    def negative(self) -> Integers:
        """(variants,) number of negative pivots; of a symmetric matrix, of eigenvalues < 0."""
        count: Integers = np.count_nonzero(self.inverse.real < 0, axis=0)
        return count

    def solve(self, source: Array) -> Array:
        """(nodes, variants) solution for the right side `source` of the same shape."""
        if source.shape[1] == 1:
            return self._solve_one(source[:, 0])
        steps = [(j, s.later, s.inner) for j, s in enumerate(self.made.steps) if s.degree]
        x = source[self.made.order].astype(np.result_type(source, self.inverse))
        for j, later, inner in steps:
            x[later] += self.lower[inner] * x[j]
        x = x * self.inverse
        for j, later, inner in reversed(steps):
            x[j] += summed(self.upper[inner] * x[later])
        found: Array = x[self.made.place]
        return found

    def take(self, chosen: Array) -> Factor:
        """The factors of some variants, by number or by a mask."""
        upper = self.upper[:, chosen]
        lower = upper if self.lower is self.upper else self.lower[:, chosen]
        return EliminationFactor(self.made, upper, lower, self.inverse[:, chosen])

    def put(self, chosen: Array, part: Any) -> Factor:
        """With the factors of some variants (a mask) replaced by those of the same sort."""
        own, others = ((f.upper, f.lower, f.inverse) for f in (self, part))
        return EliminationFactor(self.made, *written(own, chosen, others))

    def _solve_one(self, source: Array) -> Array:
        x = source[self.made.order].tolist()
        lower, upper = self.lower[:, 0].tolist(), self.upper[:, 0].tolist()
        for j, (later, *_) in enumerate(self.made.plain):
            for place, row in later:
                x[place] += lower[row] * x[j]
        x = [a * b for a, b in zip(x, self.inverse[:, 0].tolist(), strict=True)]
        for j in range(len(x) - 1, -1, -1):
            back = 0.0
            for place, row in self.made.plain[j][0]:
                back += upper[row] * x[place]
            x[j] += back
        found: Array = np.array(x, np.result_type(source, self.inverse))[self.made.place, None]
        return found


def _plain(places: list[int], step: _Step) -> _Plain:
    """A step as plain numbers, for one variant: places of free neighbours and rows of the edges to
    them; the row of the edge to the fixed nodes; rows of edges to two neighbours, and between
    these; how many such pairs are without a fixed node (they come first)."""
    first = step.edges.start
    later = [(place, first + x) for x, place in enumerate(places[:-1])]
    rows = zip(step.left.tolist(), step.right.tolist(), step.between.tolist(), strict=True)
    pairs = [(first + a, first + b, row) for a, b, row in rows]
    return later, step.edges.stop - 1, pairs, step.free_pairs.stop


def _step(later: list[int], edges: slice, rows: dict[tuple[int, int], int]) -> _Step:
    """Pairs with the fixed nodes last, so that the others are one slice."""
    inner = [(x, y) for y in range(len(later) - 1) for x in range(y)]
    pairs = inner + [(x, len(later) - 1) for x in range(len(later) - 1)]
    left, right = np.array(pairs, np.intp).reshape(-1, 2).T
    between = np.array([rows[later[x], later[y]] for x, y in pairs], np.intp)
    positions = np.array(later[:-1], np.intp)
    degree = len(positions)
    in_a_row = degree and positions[-1] - positions[0] == degree - 1
    neighbours = slice(later[0], later[0] + degree) if in_a_row else positions
    free = slice(edges.start, edges.stop - 1)
    return _Step(degree, neighbours, edges, free, left, right, between, slice(len(inner)))


def _minimum_degree(nodes: int, start: Integers, end: Integers) -> tuple[list[int], list[set[int]]]:
    """Order of elimination, and for each node in it the neighbours that are eliminated later."""
    near: list[set[int]] = [set() for _ in range(nodes)]
    for a, b in zip(start.tolist(), end.tolist(), strict=True):
        if a != b and max(a, b) < nodes:
            near[a].add(b)
            near[b].add(a)
    queue = [(len(neighbours), node) for node, neighbours in enumerate(near)]
    heapq.heapify(queue)
    done = [False] * nodes
    order, columns = [], []
    while queue:
        degree, node = heapq.heappop(queue)
        if done[node] or degree != len(near[node]):
            continue  # an entry of before the last change
        done[node] = True
        order.append(node)
        columns.append(near[node])
        for neighbour in near[node]:
            near[neighbour] = (near[neighbour] | near[node]) - {node, neighbour}
            heapq.heappush(queue, (len(near[neighbour]), neighbour))
    return order, columns


class SparseElimination:
    """Sparse elimination by SciPy, variant by variant: for large graphs."""

    def __init__(self, nodes: int, start: Integers, end: Integers) -> None:
        self.nodes = nodes
        edge, own = np.arange(len(start)), np.arange(nodes)
        entries = [
            (end, end, edge, 1.0), (end, start, edge, -1.0),
            (start, start, edge + len(edge), 1.0), (start, end, edge + len(edge), -1.0),
            (own, own, own + 2 * len(edge), 1.0),
        ]  # fmt: skip
        row, column, weight = (
            np.concatenate([e[part] for e in entries]).astype(np.intp) for part in range(3)
        )
        sign = np.concatenate([np.full(len(e[0]), e[3]) for e in entries])
        free = (row < nodes) & (column < nodes)
        keys, where = np.unique(column[free] * nodes + row[free], return_inverse=True)
        self.rows = (keys % max(nodes, 1)).astype(np.intc)
        self.columns = np.searchsorted(keys, np.arange(nodes + 1) * nodes).astype(np.intc)
        import scipy.sparse as sp  # noqa: PLC0415 - see `topology.incidence`

        shape = (len(keys), 2 * len(edge) + nodes)
        self.sums = sp.csr_matrix((sign[free], (where, weight[free])), shape)

    def factor(self, forward: Array, backward: Array, diagonal: Array | None = None) -> Factor:
        """See `Elimination`."""
        if diagonal is None:
            diagonal = np.zeros((self.nodes, forward.shape[1]))
        data = self.sums @ np.concatenate([forward, backward, diagonal])
        return SparseFactor([self._one(values) for values in np.ascontiguousarray(data.T)])

    def _one(self, values: Array) -> sp.linalg.SuperLU | None:
        """One variant; None where a pivot is zero or no number, as whole columns of NaN are in the
        batched elimination: what comes of it is no solution, and the caller sees that."""
        import scipy.sparse as sp  # noqa: PLC0415
        from scipy.sparse.linalg import splu  # noqa: PLC0415 - slow to import, rarely needed

        matrix = sp.csc_matrix((values, self.rows, self.columns), (self.nodes, self.nodes))
        try:
            return splu(
                matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                options={"SymmetricMode": True},
            )  # fmt: skip
        except RuntimeError:
            return None


class SparseFactor:
    """One sparse factorisation for each variant."""

    def __init__(self, factors: list[sp.linalg.SuperLU | None]) -> None:
        self.factors = factors

    @property
    def negative(self) -> Integers:
        """(variants,) number of negative pivots."""
        pivots = (np.zeros(0) if f is None else f.U.diagonal() for f in self.factors)
        return np.array([np.count_nonzero(each.real < 0) for each in pivots], np.intp)

    def solve(self, source: Array) -> Array:
        """(nodes, variants) solution for the right side `source` of the same shape."""
        columns = [
            np.full_like(x, np.nan) if f is None else f.solve(x)
            for f, x in zip(self.factors, source.T, strict=True)
        ]
        return np.stack(columns, axis=1)

    def take(self, chosen: Array) -> Factor:
        """The factors of some variants, by number or by a mask."""
        return SparseFactor([self.factors[i] for i in np.arange(len(self.factors))[chosen]])

    def put(self, chosen: Array, part: Any) -> Factor:
        """With the factors of some variants replaced."""
        fresh = dict(zip(np.flatnonzero(chosen).tolist(), part.factors, strict=True))
        return SparseFactor([fresh.get(i, own) for i, own in enumerate(self.factors)])


Factor: TypeAlias = EliminationFactor | SparseFactor
"""A matrix in factors: one for each variant."""

Solver: TypeAlias = Elimination | SparseElimination
