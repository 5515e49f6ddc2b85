"""Every state of networks with dipped fans, against closed forms, a root finder and time."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import root

from flownet.equations.topology import Network
from flownet.solver.flow_startup import from_rest
from flownet.solver.multiple.flow_states import Effort, Setting, search
from flownet.solver.multiple.monotone_pieces import of_branches
from tests.network.test_rest import side_by_side, twins

FULL = Effort(choices=4096, flows=60000, grid=65, starts=200)
INERTANCE = 40.0  # 1/m, length over area
TINY = 1e-7  # kg/s, below which square laws are linear


def square(factor, flow):
    size = np.sqrt(flow * flow + TINY * TINY)
    return factor * flow * size, factor * (size + flow * flow / size)


def setting(law, fans, scale, network):
    """A network of which the first branches are dipped fans; nothing else acts on it."""
    count = len(network.start)
    one, dipped = np.ones((count, 1)), np.arange(count)[:, None] < fans
    return Setting.of(
        network, law, push=0 * one, fixed=np.zeros((network.fixed, 1)), open=one > 0,
        nominal=0.3 * scale * one, dipped=dipped, scale=scale * one,
    )  # fmt: skip


def found(law, fans, scale, network, effort=FULL):
    return search(setting(law, fans, scale, network), effort)


def by_size(columns):
    """Columns in the order of their entries."""
    return np.array(sorted(columns.T.round(12).tolist())).T


# --- one fan ------------------------------------------------------------------------------------


def s_shaped(flow):
    """System 10 Q^2; fan 10 Q^2 - 5 (Q-1)(Q-2)(Q-3): they cross at 1, 2 and 3 (closed form)."""
    x = flow[:1]
    rise = 10 * x**2 - 5 * (x - 1) * (x - 2) * (x - 3)
    fall = 20 * x - 5 * (3 * x**2 - 12 * x + 11)
    drop, slope = square(10.0, flow[1:])
    return np.concatenate([-rise, drop]), np.concatenate([-fall, slope])


ONE = Network(np.array([1, 0]), np.array([0, 1]), 1)


def test_three_crossings_of_an_s_shaped_curve():
    """All three, and the middle one unstable: the system is steeper than the fan at 1 and 3
    (slope of the difference 10), flatter at 2 (slope -5). Closed form."""
    states = found(s_shaped, 1, 4.5, ONE)
    order = np.argsort(states.mass_flow[0])
    np.testing.assert_allclose(states.mass_flow[:, order], [[1, 2, 3], [1, 2, 3]], rtol=1e-6)
    assert states.stable[order].tolist() == [True, False, True]
    assert states.rising.all()  # the fan itself rises at each of them
    assert states.every_falling
    assert states.every_scan


def test_pieces_begin_where_the_slope_turns():
    """d/dQ of the fan's rise: -15 Q^2 + 80 Q - 55 = 0 at (8 +- sqrt(31)) / 3. Closed form."""
    (piece,) = of_branches(s_shaped, 2, np.array([0]), np.array([4.5]))
    edges = (8 - 31**0.5) / 3, (8 + 31**0.5) / 3
    np.testing.assert_allclose(piece.edges, edges, rtol=1e-9)
    assert piece.falling == ((-np.inf, piece.edges[0]), (piece.edges[1], np.inf))
    assert piece.rising == (piece.edges,)


# --- two equal fans side by side ----------------------------------------------------------------


def pair(resistance):
    """Two equal fans, rise 6 - 3 (q-1)(q-2)(q-3), blow out of a box that a square law feeds."""

    def law(flow):
        q = flow[:2]
        rise = 6 - 3 * (q - 1) * (q - 2) * (q - 3)
        fall = -3 * (3 * q**2 - 12 * q + 11)
        drop, slope = square(resistance, flow[2:])
        return np.concatenate([-rise, drop]), np.concatenate([-fall, slope])

    return law


PAIR = Network(np.array([0, 0, 1]), np.array([1, 1, 0]), 1)


def crossings(resistance):
    """All (q1, q2) with q1 + q2 > 0, in closed form.

    Alike: 3 q^3 - 18 q^2 + 33 q - 24 + 4 S q^2 = 0. Else q1, q2 and a third r are the roots of
    3 q^3 - 18 q^2 + 33 q - 24 + P = 0 at the pressure P = S (q1 + q2)^2; they sum to 6 and their
    products in pairs to 11 (Vieta), so that q1 + q2 = 6 - r, q1 q2 = 11 - r (6 - r), and
    3 r^3 - 18 r^2 + 33 r - 24 + S (6 - r)^2 = 0.
    """
    s, states = resistance, []
    for q in real([3, 4 * s - 18, 33, -24]):
        states.append((q, q))
    for r in real([3, s - 18, 33 - 12 * s, 36 * s - 24]):
        total, product = 6 - r, 11 - r * (6 - r)
        apart = total * total - 4 * product
        if apart > 1e-9 and total > 0:
            half = apart**0.5 / 2
            states += [(total / 2 + half, total / 2 - half), (total / 2 - half, total / 2 + half)]
    return np.array(states).T


def real(coefficients):
    roots = np.roots(coefficients)
    return roots.real[abs(roots.imag) < 1e-9]


RESISTANCES = (0.05, 0.2, 0.23, 0.25, 0.3, 0.45, 0.58, 0.6, 0.65, 0.8, 2.0)


@pytest.mark.parametrize("resistance", RESISTANCES)
def test_two_equal_fans_have_the_states_of_the_closed_form(resistance):
    """Alike on either falling piece or on the rising one, and apart: one, three or five states.

    Stable where the stiffness of both loops, which share the inlet, is positive definite:
    [[g1 + g, g], [g, g2 + g]], g and gi the slopes of the inlet and of the fans.
    """
    states = found(pair(resistance), 2, 4.0, PAIR)
    expected = by_size(crossings(resistance))
    np.testing.assert_allclose(by_size(states.mass_flow[:2]), expected, rtol=1e-5)
    _, slope = pair(resistance)(states.mass_flow)
    g1, g2, g = slope
    positive = (g1 + g > 0) & ((g1 + g) * (g2 + g) > g * g)
    np.testing.assert_array_equal(states.stable, positive)
    assert positive.any()
    assert positive.all() == (len(positive) == 1)


def test_counts_of_states_vary_with_the_resistance():
    """The examples above are not all of one sort."""
    assert {crossings(s).shape[1] for s in RESISTANCES} == {1, 3, 5}


# --- three unequal fans against a general root finder -------------------------------------------


def by_root_finder(made, fans, starts=80):
    """States from seeded starts of scipy's hybrid method on the fans' flows and the pressure."""
    rng, scale = np.random.default_rng(3), made.laws.scale[:fans, 0]

    def equations(x):
        flow = np.r_[x[:fans] * scale, np.sum(x[:fans] * scale)][:, None]
        drop = made.laws(flow)[0][:, 0] / 100
        return np.r_[drop[:fans] - x[fans], -drop[fans] - x[fans]]

    states: list[np.ndarray] = []
    for _ in range(starts):
        guess = np.r_[rng.uniform(-0.1, 1.0, fans), rng.uniform(-1.5, 0)]
        result = root(equations, guess, tol=1e-12)
        if result.success and abs(equations(result.x)).max() < 1e-9:
            here = result.x[:fans]
            if all(abs(here - other).max() > 1e-4 for other in states):
                states.append(here)
    return np.array(states).T


@pytest.mark.parametrize("seed", [7, 8, 14, 15])
def test_nothing_that_a_general_root_finder_sees_is_missed(seed):
    """scipy.optimize.root from 80 starts, on the equations in other unknowns: several states."""
    fans = 2 + seed % 2
    made = side_by_side(np.random.default_rng(seed), fans)
    ours = search(
        Setting.of(
            made.network, made.laws, push=made.push, fixed=np.zeros((1, 1)), open=made.open,
            nominal=made.laws.scale / 3, dipped=made.laws.dip > 0, scale=made.laws.scale,
        ),
        FULL,
    )  # fmt: skip
    part = ours.mass_flow[:fans] / made.laws.scale[:fans]
    theirs = by_root_finder(made, fans)
    assert theirs.shape[1] > 1
    for state in theirs.T:
        assert abs(part - state[:, None]).max(axis=0).min() < 1e-5
    drop = made.laws(ours.mass_flow)[0]
    np.testing.assert_allclose(drop[:fans], -drop[fans:] + 0 * drop[:fans], rtol=1e-6, atol=1e-6)
    assert ours.every_falling
    assert ours.every_scan


# --- against time -------------------------------------------------------------------------------


def marched(law, begin):
    """Where inertance dm/dt = imbalance leads two fans and their common inlet, by scipy."""

    def rate(_, m):
        drop = law(np.r_[m, m.sum()][:, None])[0][:, 0]
        # both loops: own inertance plus that of the shared inlet
        return np.linalg.solve(INERTANCE * np.array([[2, 1], [1, 2]]), -(drop[:2] + drop[2]))

    path = solve_ivp(rate, (0, 4e3), begin, method="LSODA", rtol=1e-9, atol=1e-12)
    return path.y[:, -1]


@pytest.mark.parametrize("resistance", [0.25, 0.45, 0.65])
def test_a_disturbed_state_comes_back_where_it_is_stable_and_else_leaves_for_another(resistance):
    """Inertia of the air, 40 1/m in every branch, integrated by scipy."""
    law = pair(resistance)
    states = found(law, 2, 4.0, PAIR)
    at = states.mass_flow[:2].T
    calm = at[states.stable]
    for state, stable in zip(at, states.stable, strict=True):
        end = marched(law, state + np.array([2e-3, -1e-3]))
        if stable:
            np.testing.assert_allclose(end, state, atol=1e-5)
        else:
            assert abs(end - state).max() > 0.05
            assert abs(calm - end).max(axis=1).min() < 1e-4


@pytest.mark.parametrize("resistance", [0.25, 0.45, 0.65])
def test_air_that_moves_already_settles_where_time_leads_from_there(resistance):
    """The march with a start of its own, from even and uneven flows, against scipy."""
    law, dipped = pair(resistance), np.array([[True], [True], [False]])
    for begin in ([2.8, 0.5], [0.4, 2.9], [2.5, 2.9], [0.2, 0.1]):
        flow = np.array([[*begin, sum(begin)]]).T
        ours = from_rest(PAIR, law, dipped=dipped, flow_scale=4.0 + 0 * flow, start_flow=flow)
        assert ours.converged.all()
        np.testing.assert_allclose(ours.mass_flow[:2, 0], marched(law, begin), rtol=1e-4)


# --- what is not tried is said ------------------------------------------------------------------


def test_fewer_choices_than_there_are_is_said():
    effort = FULL._replace(choices=2)
    assert not found(pair(0.45), 2, 4.0, PAIR, effort).every_falling
    assert not found(pair(0.45), 2, 4.0, PAIR, FULL._replace(flows=1)).every_scan


def test_a_fan_in_a_dead_end_stands_still():
    """A bridge: nothing flows, and no flow of it is tried."""
    network = Network(np.array([0, 0, 1, 1]), np.array([2, 1, 3, 3]), 3)  # fan: node 0 to 2

    def law(flow):
        inner, slope = pair(0.3)(flow[[0, 0, 2]])
        plain, steep = square(1.0, flow[1:])
        return np.concatenate([inner[:1], plain]), np.concatenate([slope[:1], steep])

    states = found(law, 1, 4.0, network)
    assert states.mass_flow.shape[1] == 1
    np.testing.assert_allclose(states.mass_flow[0], 0.0, atol=1e-12)
    assert states.every_scan


def test_equal_fans_that_cannot_stay_alike_are_found_alike_and_apart():
    """The march from rest ends apart (see its tests); the state alike is there, and unstable."""
    made = twins(0.42)
    states = search(
        Setting.of(
            made.network, made.laws, push=made.push, fixed=np.zeros((1, 1)), open=made.open,
            nominal=made.laws.scale / 3, dipped=made.laws.dip > 0, scale=made.laws.scale,
        ),
        FULL,
    )  # fmt: skip
    alike = abs(states.mass_flow[0] - states.mass_flow[1]) < 1e-9
    assert alike.sum() == 1
    np.testing.assert_allclose(states.mass_flow[:2, alike], 0.042, rtol=1e-6)
    assert states.stable.tolist() == (~alike).tolist()
