"""One case has one answer: alone or in a batch, whatever the order of its tables."""

from __future__ import annotations

import numpy as np

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
from flownet.errors import NoSolution

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
    """200 outside temperatures: air without heat stands still (first law: no work, no flow)."""
    warm = np.linspace(270, 320, 200)
    batch = flownet.solve_many(STILL, {"outside.temperature": warm})
    assert batch.ok.all()
    assert abs(batch["duct.up.mass_flow"]).max() < 1e-12
    assert not any(alone(STILL, **{"outside.temperature": float(each)}) for each in warm)
