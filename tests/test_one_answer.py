"""One case has one answer: alone or in a batch, whatever the order of its tables."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

import flownet
from flownet.enclosure.whole import (
    Compartment,
    Duct,
    Enclosure,
    Fan,
    FanType,
    Outside,
    Recirculation,
    Vent,
)
from flownet.errors import FlownetError, NoSolution
from flownet.inputs import NUMBERED
from flownet.solution import TABLE_NAMES
from tests.random_enclosures import enclosure

DEMOS = sorted((Path(__file__).parents[1] / "cases").glob("*/case.toml"))

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


def shuffled(case, seed):
    """The same things in another order."""
    rng = np.random.default_rng(seed)
    things = {kind: list(named.items()) for kind, named in case.things.items()}
    for kind in NUMBERED[1:]:  # the first of the surroundings is the one without a name
        things[kind] = [things[kind][i] for i in rng.permutation(len(things[kind]))]
    return dataclasses.replace(case, things={kind: dict(named) for kind, named in things.items()})


def bits(found):
    """Every number of a solution by name, as bytes."""
    rows = {
        (table, name, key): column[row]
        for table in TABLE_NAMES
        for row, name in enumerate(getattr(found, table).names)
        for key, column in getattr(found, table).columns.items()
    }
    rows |= {("margin", item.limit, item.subject): item.margin for item in found.limits}
    rows |= {("all", key): value for key, value in {**found.totals_, **found.balance_}.items()}
    return {key: np.asarray(value).tobytes() for key, value in rows.items()}


def ended(case):
    """The bits of a solve, or why there are none."""
    try:
        return bits(flownet.solve(case))
    except FlownetError as error:
        return str(error)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.parent.name)
def test_the_order_of_tables_changes_no_bit_of_a_demo(path):
    """And results stand in the order in which things are given."""
    case = flownet.load_case(path)
    other = shuffled(case, 1)
    found = flownet.solve(other)
    assert bits(found) == bits(flownet.solve(case))
    assert found.compartments.names == tuple(other.compartments)
    assert found.branches.names == tuple(other.branches)
    assert found.case == other


@pytest.mark.parametrize("seed", range(8))
def test_the_order_of_tables_changes_no_bit_of_random_enclosures(seed):
    case = enclosure(seed)
    assert ended(shuffled(case, seed)) == ended(case)
