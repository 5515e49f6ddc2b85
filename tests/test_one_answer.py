"""One case has one answer: alone or in a batch, whatever the order of its tables."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import flownet
from flownet.enclosure.branches import Duct, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Recirculation
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.schema.errors import NoSolution
from tests.one_answer import bits, ended, in_time, parted, varied
from tests.random_enclosures import enclosure, shuffled, upright
from tests.test_cases import DEMOS, load, solve

STILL = Enclosure.of(
    Outside(temperature=283.0, altitude=620.0),
    Compartment(name="box", outline=(0.27, 0.57, 0.1, 0.1)),
    Duct(name="up", from_="outside", to="box", route=((1.25, 0.084), (1.25, 0.242)),
         diameter=0.079, length=1.55),
    Vent(name="high", from_="outside", to="box", at=(1.0, 1.87), area=2.2e-4, loss=23.4),
    Fan(name="top", from_="box", to="outside", at=(1.0, 0.26), type="axial", state="stopped"),
    FanType(name="axial", curve=((0.0, 80.0), (0.02, 60.0), (0.05, 0.0)), flow_area=0.0095,
            power=15.0, origin="invented data"),
    Recirculation(name="back", from_="fan.top", to="duct.up", fraction=0.07),
)  # fmt: skip
"""Nothing drives the air: no heat, the fan stopped, all air as warm as outside."""


def alone(case, **changes):
    """Why one solve fails; empty where it does not."""
    try:
        flownet.solve(case, changes=changes)
    except NoSolution as error:
        return str(error)
    return ""


def test_where_nothing_drives_the_air_one_solve_says_what_a_batch_says():
    """60 outside temperatures: air without heat stands still (first law: no work, no flow)."""
    warm = np.linspace(270, 320, 60)
    batch = flownet.solve_many(STILL, {"outside.temperature": warm})
    assert batch.ok.all()
    assert abs(batch["duct.up.mass_flow"]).max() < 1e-12
    assert not any(alone(STILL, **{"outside.temperature": float(each)}) for each in warm)


# --- the order of tables --------------------------------------------------------------------------


FOLD = Path(__file__).parent / "network" / "fold.toml"


@pytest.mark.parametrize(
    "made", [lambda: flownet.load_case(FOLD), lambda: upright(200)], ids=["fold", "turning"]
)
def test_a_draught_ends_where_time_leads(made):
    """LSODA of `scipy.integrate` from rest, on random, invented data. Flows that follow without
    delay end at a fold of the first, and elsewhere; in the second five flows turn on the way, one
    of them from fifteen times the largest flow of the end."""
    case = made()
    found, (warm, unbalanced) = flownet.solve(shuffled(case, 3)), in_time(case, 1e-5)
    assert found.balance.stable
    assert unbalanced < 1e-8
    outside = case.outside.temperature
    rise = {name: row.temperature - outside for name, row in found.compartments.items()}
    assert rise == pytest.approx(warm, abs=1e-3)


@pytest.mark.parametrize("demo", DEMOS)
def test_the_order_of_tables_changes_no_bit_of_a_demo(demo):
    """And results stand in the order in which things are given."""
    other = shuffled(load(demo), 1)
    found = flownet.solve(other)
    assert bits(found) == bits(solve(demo, "base", "base"))
    assert found.compartments.names == tuple(other.compartments)
    assert found.branches.names == tuple(other.branches)
    assert found.case == other


@pytest.mark.parametrize("seed", [0, 1, 2, 5, 6, 7])
def test_the_order_of_tables_changes_no_bit_of_random_enclosures(seed):
    case = enclosure(seed)
    assert ended(shuffled(case, seed)) == ended(case)


# --- the neighbours in a batch --------------------------------------------------------------------


@pytest.mark.parametrize("seed", [11, 14, 23])
def test_the_fate_of_a_variant_is_its_own(seed):
    """Random batches against one by one: the same bits, statuses and rounds included."""
    case = enclosure(seed)
    changes = varied(case, seed)
    batch = flownet.solve_many(case, changes)
    assert [parted(case, changes, variant, batch) for variant in range(4)] == [""] * 4
