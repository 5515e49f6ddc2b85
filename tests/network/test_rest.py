"""The flow that a start from standstill leads to, against an integration in time by scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import null_space
from scipy.optimize import brentq

from flownet.equations.topology import Network
from flownet.solver import tolerances
from flownet.solver.flow import solve
from flownet.solver.flow_startup import from_rest
from flownet.solver.network import flow_stable
from tests.network.random_networks import Example, Laws, example

INERTANCE = 40.0


def integrated(made, variant):
    """Inertance dm/dt = push + fall of pressure - drop, in coordinates of flows that conserve.

    Radau by scipy, in windows that double until nothing moves any more.
    """
    network, o = made.network, made.open[:, variant]
    law = made.laws.select(np.array([variant]))
    outflow = network.outflow.toarray()[:, o]
    basis = null_space(outflow) if network.nodes else np.eye(o.sum())
    p = np.r_[np.zeros(network.nodes), made.fixed[:, variant]]
    push = (made.push[:, variant] + p[network.start] - p[network.end])[o]
    begin = np.linalg.lstsq(outflow, made.injection[:, variant], rcond=None)[0]
    whole = np.zeros(len(o))

    def flows(y):
        whole[o] = begin + basis @ y
        return whole.copy()

    def rate(_, y):
        return basis.T @ (push - law(flows(y)[:, None])[0][o, 0]) / INERTANCE

    def jacobian(_, y):
        slope = law(flows(y)[:, None])[1][o, 0]
        return -(basis.T * slope) @ basis / INERTANCE

    y, window = np.zeros(basis.shape[1]), 1e-3
    largest = max(abs(push).max(), abs(law(flows(y)[:, None])[0]).max())
    for _ in range(60 if y.size else 0):
        path = solve_ivp(rate, (0, window), y, method="Radau", jac=jacobian, rtol=1e-8, atol=1e-11)
        y, window = path.y[:, -1], 2 * window
        if abs(rate(0, y)).max() * INERTANCE < 1e-10 * largest:
            break
    return flows(y)


def started(made, **more):
    laws = made.laws
    return from_rest(
        made.network, laws, **made.given, dipped=laws.dip > 0, flow_scale=laws.scale,
        select=laws.select, **more,
    )  # fmt: skip


def side_by_side(rng, fans):
    """Unequal fans with dips into one compartment with one outlet: many states. Invented data."""
    shape = (fans + 1, 1)
    fan = np.arange(fans + 1)[:, None] < fans
    scale = np.where(fan, rng.uniform(0.05, 0.2, shape), 1.0)
    outlet = 60 / (scale[:fans].sum() * rng.uniform(0.1, 0.6)) ** 2
    laws = Laws(
        linear=np.zeros(shape),
        square=np.where(fan, 0.0, outlet),
        shut_off=np.where(fan, rng.uniform(50, 150, shape), 0.0),
        bend=np.where(fan, 0.5, 0.0),
        dip=np.where(fan, rng.uniform(0.2, 0.8, shape), 0.0),
        scale=scale,
        small=np.full(shape, 1e-6),
    )
    network = Network(np.r_[[1] * fans, 0], np.r_[[0] * fans, 1], 1)
    nothing = np.zeros((1, 1))
    return Example(network, laws, np.zeros(shape), nothing, nothing, np.ones(shape, bool))


@pytest.mark.parametrize("seed", range(9))
def test_dipped_fans_side_by_side_settle_where_time_leads(seed):
    """Two to four fans through one outlet, which of them stall is decided on the way."""
    rng = np.random.default_rng(seed)
    made = side_by_side(rng, int(rng.integers(2, 5)))
    result = started(made)
    assert result.converged.all()
    assert result.stable.all()
    expected = integrated(made, 0)
    np.testing.assert_allclose(result.mass_flow[:, 0], expected, atol=1e-4 * abs(expected).max())


@pytest.mark.parametrize("seed", range(6))
def test_random_networks_with_dips_settle_where_time_leads(seed):
    """Fans with dips anywhere, closed branches and injections; one variant is integrated."""
    rng = np.random.default_rng(seed)
    made = example(rng, int(rng.integers(2, 12)), 3, 6.0, closed=rng.choice([0, 0.2]), dips=True)
    result = started(made)
    assert result.converged.all()
    assert result.stable.all()
    expected = integrated(made, 1)
    size = max(abs(expected).max(), 1e-9)
    np.testing.assert_allclose(result.mass_flow[:, 1], expected, atol=1e-3 * size)


def test_the_path_decides_where_newton_alone_would_not():
    """The descent for falling laws ends in other states for some of these: from rest is needed."""
    different = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        made = side_by_side(rng, int(rng.integers(2, 5)))
        here = started(made)
        other = solve(made.network, made.laws)
        gap = abs(here.mass_flow - other.mass_flow).max()
        different += bool(gap > 1e-3 * abs(here.mass_flow).max())
        if different > 1:
            return
    pytest.fail("they end alike")


@pytest.mark.parametrize("seed", range(3))
def test_without_dips_it_is_the_one_flow(seed):
    """Falling curves have one state; march and descent agree."""
    made = example(np.random.default_rng(seed), 25, 4, decades=6.0, closed=0.1)
    marched, descended = started(made), solve(made.network, made.laws, **made.given)
    assert marched.converged.all()
    size = np.maximum(abs(descended.mass_flow).max(axis=0), 1e-9)
    assert (abs(marched.mass_flow - descended.mass_flow) <= 1e-6 * size).all()


def test_variants_do_not_see_each_other():
    """A batch is the same as its variants one by one, with `select` and without."""
    made = example(np.random.default_rng(18), 10, 6, decades=6.0, dips=True)
    assert (made.laws.dip > 0).any()
    together = started(made)
    padded = from_rest(
        made.network, made.laws, **made.given, dipped=made.laws.dip > 0, flow_scale=made.laws.scale
    )
    size = abs(together.mass_flow).max(axis=0)
    assert (abs(padded.mass_flow - together.mass_flow) <= 1e-7 * size).all()
    for v in range(6):
        one = {key: value[:, v : v + 1] for key, value in made.given.items()}
        laws = made.laws.select(np.array([v]))
        alone = from_rest(made.network, laws, **one, dipped=laws.dip > 0, flow_scale=laws.scale)
        assert abs(alone.mass_flow[:, 0] - together.mass_flow[:, v]).max() <= 1e-7 * size[v]


def twins(share):
    """Two equal fans whose common flow ends on the rising piece, where they cannot stay alike."""
    fan = np.array([[1.0], [1.0], [0.0]])
    laws = Laws(
        linear=0 * fan, square=0 * fan, shut_off=100 * fan, bend=0.5 * fan, dip=0.3 * fan,
        scale=np.where(fan > 0, 0.1, 1.0), small=np.full((3, 1), 1e-9),
    )  # fmt: skip
    rise = -laws(np.array([[share * 0.1], [share * 0.1], [0.0]]))[0][0, 0]
    laws = laws._replace(square=(1 - fan) * rise / (2 * share * 0.1) ** 2)
    network, nothing = Network(np.array([1, 1, 0]), np.array([0, 0, 1]), 1), np.zeros((1, 1))
    return Example(network, laws, np.zeros((3, 1)), nothing, nothing, np.ones((3, 1), bool))


@pytest.mark.parametrize("share", [0.40, 0.42, 0.45, 0.48])
def test_equal_fans_part_where_sharing_is_unstable(share):
    """They come to rest alike, are disturbed, and end apart, each on its curve and stable."""
    made = twins(share)
    even = np.array([[share * 0.1], [share * 0.1], [2 * share * 0.1]])
    assert not flow_stable(made.network, made.laws(even)[1], made.open)[0]
    result = started(made)
    assert result.converged.all()
    assert result.stable.all()
    first, second, both = result.mass_flow[:, 0]
    assert first - second > 0.1 * both
    np.testing.assert_allclose(first + second, both, rtol=1e-9)
    rise = -made.laws(result.mass_flow)[0][:2, 0]
    np.testing.assert_allclose(rise, made.laws.square[2, 0] * both**2, rtol=1e-6)


def test_equal_fans_stay_alike_where_that_is_stable():
    """Below the dip nothing disturbs them."""
    made = twins(0.2)
    result = started(made)
    assert result.stable.all()
    np.testing.assert_allclose(result.mass_flow[:, 0], [0.02, 0.02, 0.04], rtol=1e-7)


def test_state_that_stays_unstable_is_returned_as_such(monkeypatch):
    """Where no more disturbances are allowed: balanced, not stable, and still alike."""
    monkeypatch.setattr(tolerances, "PUSHES", 0)
    result = started(twins(0.42))
    assert result.converged.all()
    assert not result.stable.any()
    np.testing.assert_allclose(result.mass_flow[:, 0], [0.042, 0.042, 0.084], rtol=1e-7)


def test_too_few_steps_are_reported():
    """Stopped on the way: not converged."""
    result = started(twins(0.42), steps=5)
    assert not result.converged.any()
    np.testing.assert_array_equal(result.iterations, 5)
    assert result.imbalance[0] > 0.1


def test_a_single_fan_settles_on_its_first_crossing():
    """From standstill flow only grows: the least flow at which curve and system meet (brentq)."""
    fan = np.array([[1.0], [0.0]])
    laws = Laws(
        linear=0 * fan, square=(1 - fan) * 7e3, shut_off=100 * fan, bend=0.2 * fan, dip=0.6 * fan,
        scale=np.where(fan > 0, 0.1, 1.0), small=np.full((2, 1), 1e-9),
    )  # fmt: skip

    def surplus(flow):
        return -laws(np.full((2, 1), flow))[0].sum()

    grid = np.linspace(0, 0.1, 1001)
    values = np.array([surplus(x) for x in grid])
    change = np.flatnonzero(np.sign(values[1:]) != np.sign(values[:-1]))
    assert len(change) == 3
    first = brentq(surplus, *grid[change[0] : change[0] + 2], xtol=1e-15)
    network = Network(np.array([1, 0]), np.array([0, 1]), 1)
    result = from_rest(network, laws, dipped=fan > 0, flow_scale=laws.scale)
    assert result.stable.all()
    np.testing.assert_allclose(result.mass_flow[:, 0], first, rtol=1e-6)
