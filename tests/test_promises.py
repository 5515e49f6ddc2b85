"""What is easily skipped, shown one by one: see the headings."""

from __future__ import annotations

import numpy as np
import pytest

from flownet.columns import Inputs
from flownet.enclosure.branches import Opening, Slot
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.equations.assemble import assemble
from flownet.equations.branch import branch_state
from flownet.equations.topology import Structure
from flownet.physics import air
from flownet.schema.errors import NoSolution
from flownet.solver import tolerances
from flownet.solving.solve import solve, solve_many
from tests.random_enclosures import enclosure

CURVE = ((0.0, 78.0), (0.0167, 52.0), (0.0306, 44.0), (0.0472, 0.0))
KIND = FanType(name="t", curve=CURVE, flow_area=0.0095, power=19.0, origin="invented data")


def small(**fan):
    """Three compartments, a slot with heat, a fan with guard and shutter (invented data)."""
    return Enclosure.of(
        Outside(temperature=308.15, altitude=900.0), KIND,
        Compartment(name="low", outline=(0, 0, 0.4, 0.5)),
        Compartment(name="high", outline=(0, 0.5, 0.4, 0.5)),
        Opening(name="in", from_="outside", to="low", area=0.006),
        Slot(name="card", from_="low", to="high", gap=0.02, width=0.2, length=0.2, power=40.0,
             direction="up", at=(0.2, 0.5)),
        Opening(name="side", from_="low", to="high", area=0.001),
        Part(name="cpu", in_="slot.card", power=30.0, resistance=0.5, limit=373.15),
        Fan(name="f", from_="high", to="outside", type="t", guard={"loss": 0.6},
            shutter={"open_loss": 0.5, "closed_leak": 0.01}, at=(0.2, 1.0), **fan),
    )  # fmt: skip


def model_of(case):
    structure = Structure.of(case)
    return assemble(Inputs.of(case), structure), structure


# --- a running fan takes the density of the side it is mounted to draw from ----------------------


@pytest.mark.parametrize(("mounted", "side"), [("forward", "high"), ("reversed", "outside")])
def test_the_rise_of_a_fan_follows_one_side_whichever_way_the_air_goes(mounted, side):
    """Fan laws, ISO 5801: rise ~ density of the side it draws from. In either direction of flow,
    warming that side thins the rise, warming the other does not; the rotor's loss backwards, which
    is that of the air that comes, left out."""
    model, s = model_of(small(mounted=mounted))
    row = s.branches.index("fan.f")
    element = next(e for _, e in model.elements if e.fan is not None)
    curve = element.fan._replace(backflow_loss=np.zeros((1, 1)))
    for flow in (0.01, -0.01):

        def rise(start, end, flow=flow):
            warm = np.full((len(s.branches), 1), 310.0)
            first, second = warm.copy(), warm.copy()
            first[row], second[row] = start, end
            here = branch_state(model, np.full_like(warm, flow), first, second)
            flowing = air.Air(*(x[row : row + 1] for x in here.air))
            volume = flow * np.where(mounted == "forward", 1, -1)
            density = flowing.at_start if mounted == "forward" else flowing.at_end
            return float(curve.rise(volume * density * curve.sign * 1.0, flowing)[0, 0])

        base = rise(310.0, 310.0)
        own, other = (rise(341.0, 310.0), rise(310.0, 341.0))
        if side == "outside":
            own, other = other, own
        assert own / base == pytest.approx(1 / 1.1, rel=1e-12)  # same volume flow, thinner air
        assert other == pytest.approx(base, rel=1e-12)


# --- what does not converge raises; one acceptance test ------------------------------------------


def test_what_does_not_converge_raises_and_is_reported_alike_in_a_batch(monkeypatch):
    monkeypatch.setattr(tolerances, "PASSES", 1)
    monkeypatch.setattr(tolerances, "DIRECT_ROUNDS", 1)
    monkeypatch.setattr(tolerances, "OUTER", 1)
    monkeypatch.setattr(tolerances, "POLISHING", 0)
    with pytest.raises(NoSolution, match=r"no solution found: .* at .*") as error:
        solve(small())
    batch = solve_many(small(), {"fan.f.speed": [1.0, 1.0]})
    assert not batch.ok.any()
    assert batch.status[0] == str(error.value)
    assert np.isnan(batch["part.cpu.temperature"]).all()


@pytest.mark.parametrize("bound", ["MASS", "PRESSURE", "ENERGY", "WARM_STEP", "FLOW_STEP"])
def test_every_figure_of_the_promise_is_tested(monkeypatch, bound):
    """With a bound below what can be reached, one and many both refuse."""
    monkeypatch.setattr(tolerances, bound, -1.0)
    with pytest.raises(NoSolution):
        solve(small())
    assert not solve_many(small(), {"fan.f.speed": [1.0, 0.9]}).ok.any()


# --- nothing jumps at zero flow ------------------------------------------------------------------


def test_nothing_jumps_where_the_flow_turns():
    """Drop, slope of the fan with its shutter, push, heat to both ends, for all kinds of branch of
    a random case: the same on both sides of zero flow, seen from 1e-16 kg/s."""
    for case in (small(), small(state="stopped"), *(enclosure(seed) for seed in range(5))):
        model, s = model_of(case)
        rng = np.random.default_rng(1)
        start, end = (rng.uniform(290, 330, (len(s.branches), 1)) for _ in range(2))
        tiny = np.full((len(s.branches), 1), 1e-16)
        after, before = (branch_state(model, flow, start, end) for flow in (tiny, -tiny))
        for name in ("drop", "push", "to_start", "to_end"):
            a, b = getattr(after, name), getattr(before, name)
            assert a == pytest.approx(b, abs=1e-6 * (1 + np.max(abs(a)))), name


def test_a_shutter_has_one_slope_at_zero():
    """At equal air on both sides; drop over flow far from zero differs by its closed leak."""
    model, s = model_of(small(state="stopped"))
    row = s.branches.index("fan.f")
    warm = np.full((len(s.branches), 1), 310.0)
    at = lambda m: branch_state(model, np.full_like(warm, m), warm, warm)  # noqa: E731
    slopes = [at(m).slope[row, 0] for m in (1e-15, -1e-15)]
    assert slopes[0] == pytest.approx(slopes[1], rel=1e-6)
    drops = [at(m).drop[row, 0] for m in (1e-2, -1e-2)]
    assert abs(drops[1]) > 100 * abs(drops[0])


def test_branch_heat_goes_half_to_each_side_at_rest_and_all_with_the_flow():
    """The share (1 + m/sqrt(m^2 + m_q^2))/2, m_q = q/(cp 1000 K): 0.01 % astray at a 20 K rise."""
    model, s = model_of(small())
    row, heat = s.branches.index("slot.card"), 70.0
    warm = np.full((len(s.branches), 1), 310.0)
    flow = heat / (1006.0 * 20.0)
    for m, share in ((0.0, 0.5), (flow, 1.0), (-flow, 0.0)):
        here = branch_state(model, np.full_like(warm, m), warm, warm)
        assert here.to_end[row, 0] == pytest.approx(heat * share, abs=1.1e-3 * heat)
        assert here.to_start[row, 0] + here.to_end[row, 0] == pytest.approx(heat, rel=1e-12)
