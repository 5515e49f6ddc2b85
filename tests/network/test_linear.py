"""Linear systems on a graph against dense algebra, exact fractions and networkx."""

from __future__ import annotations

from fractions import Fraction

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flownet.solver.elimination import LARGE, Elimination, SparseElimination, choose

KINDS = [Elimination, SparseElimination]


def dense(nodes, start, end, forward, backward, diagonal):
    """The matrices as their definition says, edge by edge."""
    size = max(nodes, *start + 1, *end + 1) if len(start) else nodes
    matrix = np.zeros((forward.shape[1], size, size), np.result_type(forward, backward))
    for k, (a, b) in enumerate(zip(start, end, strict=True)):
        matrix[:, b, b] += forward[k]
        matrix[:, b, a] -= forward[k]
        matrix[:, a, a] += backward[k]
        matrix[:, a, b] -= backward[k]
    inner = matrix[:, :nodes, :nodes]
    inner[:, range(nodes), range(nodes)] += diagonal.T
    return inner


def edges(rng, nodes, count):
    """Between any two nodes, three of them fixed: parallel edges and loops on a node as well."""
    return rng.integers(0, nodes + 3, (2, count))


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=60, deadline=None)
@given(
    nodes=st.integers(1, 25),
    density=st.floats(0.3, 3),
    variants=st.sampled_from([1, 2, 7]),
    symmetric=st.booleans(),
    seed=st.integers(0, 2**32 - 1),
)
def test_solution_of_any_graph_is_that_of_dense_algebra(
    kind, nodes, density, variants, symmetric, seed
):
    """numpy.linalg.solve on matrices put together by the definition."""
    rng = np.random.default_rng(seed)
    start, end = edges(rng, nodes, int(density * nodes) + 1)
    shape = (len(start), variants)
    forward = rng.uniform(0.1, 10, shape)
    backward = forward if symmetric else rng.uniform(0.1, 10, shape)
    diagonal = rng.uniform(0.1, 1, (nodes, variants))
    source = rng.normal(size=(nodes, variants))
    matrix = dense(nodes, start, end, forward, backward, diagonal)
    expected = np.linalg.solve(matrix, source.T[:, :, None])[:, :, 0].T
    factor = kind(nodes, start, end).factor(forward, backward, diagonal)
    np.testing.assert_allclose(factor.solve(source), expected, rtol=1e-9, atol=1e-12)
    one = forward[:, :1]
    two, own = one if symmetric else backward[:, :1], diagonal[:, :1]
    first = kind(nodes, start, end).factor(one, two, own)
    for each in (first, factor.take(np.arange(variants) == 0)):
        alone = each.solve(source[:, :1])
        assert alone.tobytes() == factor.solve(source)[:, :1].tobytes()  # whatever stands beside it
    np.testing.assert_allclose(factor.solve(2 * source), 2 * expected, rtol=1e-9, atol=1e-12)
    assert not factor.negative.any()


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=60, deadline=None)
@given(nodes=st.integers(1, 20), seed=st.integers(0, 2**32 - 1))
def test_negative_pivots_are_negative_eigenvalues(kind, nodes, seed):
    """Sylvester's law of inertia, with weights of either sign; eigenvalues by numpy."""
    rng = np.random.default_rng(seed)
    start, end = edges(rng, nodes, 2 * nodes)
    weight = rng.normal(size=(len(start), 5))
    diagonal = rng.normal(size=(nodes, 5))
    values = np.linalg.eigvalsh(dense(nodes, start, end, weight, weight, diagonal))
    clear = abs(values).min(axis=1) > 1e-6
    found = kind(nodes, start, end).factor(weight, weight, diagonal).negative
    np.testing.assert_array_equal(found[clear], (values < 0).sum(axis=1)[clear])


@pytest.mark.parametrize("kind", KINDS)
def test_resistance_between_two_nodes_is_that_of_networkx(kind):
    """networkx.resistance_distance on a random graph; one end is the fixed node."""
    rng = np.random.default_rng(4)
    graph = nx.connected_watts_strogatz_graph(31, 4, 0.4, seed=7)
    start, end = np.array(graph.edges).T
    weight = rng.uniform(0.1, 10, (len(start), 1))
    for (a, b), w in zip(graph.edges, weight[:, 0], strict=True):
        graph.edges[a, b]["conductance"] = w
    factor = kind(30, start, end).factor(weight, weight)
    for node in (0, 7, 29):
        source = np.zeros((30, 1))
        source[node] = 1
        expected = nx.resistance_distance(graph, node, 30, "conductance", invert_weight=False)
        np.testing.assert_allclose(factor.solve(source)[node, 0], expected, rtol=1e-10)


def exact(nodes, start, end, weight, source):
    """Gauss in fractions: no round-off at all."""
    rows = [[Fraction(0)] * nodes + [Fraction(float(s))] for s in source]
    for a, b, w in zip(start.tolist(), end.tolist(), weight.tolist(), strict=True):
        for i, k in ((a, b), (b, a)):
            if i < nodes and i != k:
                rows[i][i] += Fraction(w)
                if k < nodes:
                    rows[i][k] -= Fraction(w)
    for j in range(nodes):
        rows[j] = [value / rows[j][j] for value in rows[j]]
        for i in set(range(nodes)) - {j}:
            rows[i] = [x - rows[i][j] * y for x, y in zip(rows[i], rows[j], strict=True)]
    return np.array([float(row[-1]) for row in rows])


def test_weights_thirty_decades_apart_keep_every_digit():
    """Against exact fractions: all entries right to 1e-13, where dense algebra loses them all."""
    rng = np.random.default_rng(3)
    worst = 0.0
    for _ in range(20):
        nodes = 8
        start = np.r_[np.arange(1, nodes), edges(rng, nodes, 10)[0], 0]
        end = np.r_[np.arange(nodes - 1), edges(rng, nodes, 10)[1], nodes]
        weight = 10 ** rng.uniform(-15, 15, (len(start), 1))
        source = rng.uniform(0, 1, (nodes, 1))
        right = exact(nodes, start, end, weight[:, 0], source[:, 0])
        found = Elimination(nodes, start, end).factor(weight, weight).solve(source)[:, 0]
        np.testing.assert_allclose(found, right, rtol=1e-13)
        nothing = np.zeros((nodes, 1))
        matrix = dense(nodes, start, end, weight, weight, nothing)[0]
        usual = np.linalg.solve(matrix, source)[:, 0]
        worst = max(worst, (abs(usual - right) / right).max())
    assert worst > 1e-3


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("symmetric", [True, False])
def test_complex_steps_pass_through(kind, symmetric):
    """The imaginary part is the derivative of the solution: K dx = -dK x."""
    rng = np.random.default_rng(5)
    start, end = edges(rng, 9, 25)
    weight, change = rng.uniform(1, 2, (2, 25, 3))
    back, back_change = (weight, change) if symmetric else rng.uniform(1, 2, (2, 25, 3))
    one, source = np.ones((9, 3)), rng.normal(size=(9, 3))
    solver = kind(9, start, end)
    x = solver.factor(weight, back, one).solve(source)
    difference = dense(9, start, end, change, back_change, 0 * one)
    moved = solver.factor(weight, back, one).solve(-np.einsum("vik,kv->iv", difference, x))
    complex_weight = weight + 1e-30j * change
    complex_back = complex_weight if symmetric else back + 1e-30j * back_change
    factor = solver.factor(complex_weight, complex_back, one + 0j)
    np.testing.assert_allclose(factor.solve(source + 0j).imag / 1e-30, moved, rtol=1e-10)
    assert not factor.negative.any()


@pytest.mark.parametrize("kind", KINDS)
def test_variants_do_not_see_each_other(kind):
    """A batch is the same as its variants one by one."""
    rng = np.random.default_rng(6)
    start, end = edges(rng, 15, 40)
    forward, backward = 10 ** rng.uniform(-3, 3, (2, 40, 6))
    diagonal, source = rng.uniform(0.1, 1, (2, 15, 6))
    solver = kind(15, start, end)
    together = solver.factor(forward, backward, diagonal).solve(source)
    for v in range(6):
        one = [x[:, v : v + 1] for x in (forward, backward, diagonal)]
        alone = solver.factor(*one).solve(source[:, v : v + 1])
        np.testing.assert_allclose(together[:, v : v + 1], alone, rtol=1e-13)


def test_graph_without_free_nodes_has_an_empty_solution():
    """Every branch joins two fixed nodes."""
    solver = choose(0, np.array([0, 1]), np.array([1, 2]))
    factor = solver.factor(*np.ones((2, 2, 4)))
    assert factor.solve(np.zeros((0, 4))).shape == (0, 4)
    np.testing.assert_array_equal(factor.negative, np.zeros(4))


def test_a_node_that_nothing_holds_gives_no_number():
    """A zero pivot shows in the values; it is not put right in silence."""
    weight, nothing = np.ones((1, 1)), np.zeros((2, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        x = Elimination(2, np.array([0]), np.array([1])).factor(weight, weight).solve(nothing)
    assert not np.isfinite(x).any()
    sparse = SparseElimination(2, np.array([0]), np.array([1]))
    assert not np.isfinite(sparse.factor(weight, weight).solve(nothing)).any()


@pytest.mark.parametrize(("nodes", "kind"), [(LARGE - 1, Elimination), (LARGE, SparseElimination)])
def test_large_graphs_are_solved_sparsely(nodes, kind):
    """A chain of unit resistances from the fixed node: x = n at the n-th, for a unit source."""
    start, end = np.arange(nodes), np.arange(1, nodes + 1)
    solver = choose(nodes, start, end)
    assert isinstance(solver, kind)
    weight, source = np.ones((nodes, 1)), np.zeros((nodes, 1))
    source[0] = 1
    x = solver.factor(weight, weight).solve(source)[:, 0]
    np.testing.assert_allclose(x, np.arange(nodes, 0, -1), rtol=1e-9)


def test_order_of_elimination_makes_little_fill():
    """A tree is eliminated from its leaves, so that no edge is added."""
    tree = nx.from_prufer_sequence(np.random.default_rng(1).integers(200, size=198).tolist())
    start, end = np.array(tree.edges).T
    assert sum(step.degree for step in Elimination(200, start, end).steps) == 199


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("symmetric", [True, False])
def test_factors_of_some_variants_are_those_of_these_alone(kind, symmetric):
    """Against the same weights factored by themselves, by a mask and by numbers."""
    rng = np.random.default_rng(5)
    start, end = edges(rng, 12, 30)
    forward = rng.uniform(0.1, 10, (30, 6))
    backward = forward if symmetric else rng.uniform(0.1, 10, (30, 6))
    diagonal, source = rng.uniform(0.1, 1, (12, 6)), rng.normal(size=(12, 6))
    made = kind(12, start, end)
    whole = made.factor(forward, backward, diagonal)
    for chosen in (np.array([True, False, True, True, False, False]), np.array([4, 1])):
        few = forward[:, chosen]
        alone = made.factor(few, few if symmetric else backward[:, chosen], diagonal[:, chosen])
        expected = alone.solve(source[:, chosen])
        np.testing.assert_allclose(whole.take(chosen).solve(source[:, chosen]), expected, 1e-12)
        assert (whole.take(chosen).negative == alone.negative).all()
