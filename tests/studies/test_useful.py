"""Useful flow against what conservation of mass and well-mixed air say by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet.enclosure.branches import Opening, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.studies import effective_flow
from flownet.studies.effective_flow import useful_flow

AXIAL = FanType(name="axial", curve=[(0.0, 60.0), (0.05, 0.0)], flow_area=0.008)


def vent(name, start, end, area=0.01):
    return Vent(name=name, from_=start, to=end, area=area, loss=2.0)


def case(*items, **rest):
    return Enclosure.of(Outside(temperature=300.0), AXIAL, *items, title="invented data", **rest)


def both(made, changes=None):
    batch = flownet.solve_many(made, changes or {"outside.temperature": [300.0, 310.0]})
    assert batch.ok.all()
    return batch, useful_flow(batch)


def chip(place, **keys):
    return Part(name=f"chip-{place.replace('.', '-')}", in_=place, power=20.0, resistance=0.1,
                limit="90 degC", **keys)  # fmt: skip


def parallel(*parts):
    """Two channels side by side into a plenum with a fan; the second is a bypass."""
    return case(
        Compartment(name="channel"), Compartment(name="bypass"), Compartment(name="plenum"),
        vent("a", "outside", "channel"), vent("b", "outside", "bypass", 0.02),
        vent("c", "channel", "plenum"), vent("d", "bypass", "plenum", 0.02),
        Fan(name="f", from_="plenum", to="outside", type="axial"), *parts,
    )  # fmt: skip


def test_of_two_channels_only_that_with_the_part_counts():
    batch, useful = both(parallel(chip("channel")))
    np.testing.assert_allclose(useful, batch["vent.a.volume_flow"], rtol=1e-9)
    assert np.all(useful < 0.5 * batch["total.volume_flow"])


def test_all_air_counts_where_all_passes_the_part():
    batch, useful = both(parallel(chip("plenum")))
    np.testing.assert_allclose(useful, batch["total.volume_flow"], rtol=1e-9)
    batch, useful = both(parallel(chip("vent.d"), chip("vent.c")))
    np.testing.assert_allclose(useful, batch["total.volume_flow"], rtol=1e-9)


def test_a_part_without_a_limit_and_a_box_without_any_part():
    batch, useful = both(parallel(Part(name="x", in_="channel", power=20.0, resistance=0.1)))
    assert np.isnan(useful).all()
    limited = parallel().with_changes({"compartment.bypass.air_limit": 320.0})
    batch, useful = both(limited)
    np.testing.assert_allclose(useful, batch["vent.b.volume_flow"], rtol=1e-9)


def test_mixed_air_leaves_in_the_shares_of_the_ways_out():
    """Air mixes in a lobby and goes on by two ways: the share of the way to the part is useful."""
    made = case(
        Compartment(name="lobby"), Compartment(name="hot"), Compartment(name="idle"),
        vent("in", "outside", "lobby", 0.03), vent("right", "lobby", "hot", 0.01),
        vent("left", "lobby", "idle", 0.02), vent("on", "idle", "hot", 0.004),
        vent("off", "idle", "outside", 0.004),
        Fan(name="f", from_="hot", to="outside", type="axial"),
        Fan(name="g", from_="idle", to="outside", type="axial", speed=0.8), chip("hot"),
    )  # fmt: skip
    batch, useful = both(made)
    flow = {name: batch[f"vent.{name}.mass_flow"] for name in ("in", "right", "left", "on", "off")}
    assert all((batch[f"vent.{name}.mass_flow"] > 0).all() for name in ("in", "right", "left"))
    # what the idle compartment gives on by `on` (if it goes that way) is a share of all it takes in
    into_idle = flow["left"] + np.maximum(-flow["off"], 0) + np.maximum(-flow["on"], 0)
    ahead = np.maximum(flow["on"], 0) / into_idle
    # air that comes back from `hot` has met the part: it enters `idle` by a branch from there
    share = (flow["right"] + flow["left"] * ahead) / flow["in"]
    wanted = share * batch["vent.in.volume_flow"]
    wanted = wanted + np.maximum(-flow["off"], 0) / batch.site["density"] * ahead
    np.testing.assert_allclose(useful, wanted, rtol=1e-6)
    assert np.all(useful <= batch["total.volume_flow"] * (1 + 1e-12))


def test_a_stream_is_passed_not_its_compartment():
    made = parallel(Part(name="sink", in_="plenum", power=20.0, resistance=0.1, stream="vent.c",
                         limit="90 degC"))  # fmt: skip
    batch, useful = both(made)
    np.testing.assert_allclose(useful, batch["vent.a.volume_flow"], rtol=1e-9)


def test_back_flow_through_a_dead_fan_is_bypass():
    """The second fan stands in an open hole: what it lets in leaves through the first at once."""
    made = case(
        Compartment(name="room"), Compartment(name="plenum"), vent("a", "outside", "room"),
        vent("c", "room", "plenum"), Fan(name="f", from_="plenum", to="outside", type="axial"),
        Fan(name="g", from_="plenum", to="outside", type="axial"), chip("room"),
    )  # fmt: skip
    batch, useful = both(made, {"fan.g.state": ["running", "stopped", "blanked"]})
    np.testing.assert_allclose(useful, batch["vent.a.volume_flow"], rtol=1e-9)
    back = batch["total.volume_flow"] - useful
    assert back[[0, 2]] == pytest.approx([0.0, 0.0], abs=1e-12)
    assert back[1] == pytest.approx(-batch["fan.g.volume_flow"][1])


def test_air_that_only_goes_round_is_no_flow():
    """A closed loop beside the flow, driven by a fan: no air of it is drawn in."""
    made = case(
        Compartment(name="room"), Compartment(name="one"), Compartment(name="two"),
        vent("a", "outside", "room"), Fan(name="f", from_="room", to="outside", type="axial"),
        Fan(name="g", from_="one", to="two", type="axial"), vent("r", "two", "one"),
        vent("x", "room", "one", 0.001), chip("room"),
    )  # fmt: skip
    batch, useful = both(made)
    np.testing.assert_allclose(useful, batch["vent.a.volume_flow"], rtol=1e-6)


def test_a_limit_that_only_some_variants_have_counts_in_those():
    batch, useful = both(parallel(chip("channel"), chip("bypass")),
                         {"part.chip-bypass.limit": [None, 360.0]})  # fmt: skip
    assert useful[0] == pytest.approx(batch["vent.a.volume_flow"][0])
    assert useful[1] == pytest.approx(batch["total.volume_flow"][1])


PLACES = SimpleNamespace(inside=3, start=np.array([3, 0, 0, 1, 3]), end=np.array([0, 1, 2, 3, 2]))
"""Air comes from outside (3) to 0, goes on to 1 and to 2, and out of both; the last way is written
the other way round."""


@pytest.mark.parametrize(("flow", "both", "nodes", "branches", "useful"), [
    ((3, 1, 2, 1, -2), (0,) * 5, [1], [], 2.0),  # a third of 6 m3/s
    ((3, 1, 2, 1, -2), (0,) * 5, [2], [], 4.0), ((3, 1, 2, 1, -2), (0,) * 5, [0], [], 6.0),
    ((3, 1, 2, 1, -2), (0,) * 5, [], [1], 2.0), ((3, 1, 2, 1, -2), (0,) * 5, [], [0], 6.0),
    ((3, 1, 2, 1, -2), (0,) * 5, [], [4], 4.0), ((3, 1, 2, 1, -2), (0,) * 5, [], [1, 3], 2.0),
    # a door to the outside through which as much goes out as comes in beside: of 8 a quarter
    ((3, 1, 2, 1, -2), (1, 0, 0, 0, 0), [1], [], 2.0),
    # of what is in 0 a quarter meets 1, and a third of the rest comes back: as without
    ((3, 1, 2, 1, -2), (0, 0, 1, 0, 0), [1], [], 2.0),
    # s0 = (1 + 3 s2)/4, s2 = s0/4: 6 m3/s of s0 and 2 m3/s, which come in at the far end, of s2
    ((3, 1, 2, 1, -2), (0, 0, 1, 0, 1), [1], [], 6 * 4 / 13 + 2 / 13),
    ((3, 3, 0, 3, 0), (0,) * 5, [2], [], 0.0), ((-3, -1, -2, -1, 2), (0,) * 5, [0], [], 6.0),
])  # fmt: skip
def test_shares_of_air_by_hand(flow, both, nodes, branches, useful):
    """Volumes are twice the masses; the shares s of 0 and 2 solve s0 = a + b s2, s2 = c s0."""
    net, each = np.array(flow, float), np.array(both, float)
    flows = np.concatenate((net, each, -each))
    volumes = 2 * np.concatenate((net, each, each))
    at, by = np.isin(np.arange(3), nodes), np.isin(np.arange(5), branches)
    assert effective_flow._passing(PLACES, flows, volumes, at, by) == pytest.approx(useful)


def test_air_that_comes_in_by_a_tall_door_counts_with_what_goes_out_beside():
    """All of it meets the part; as air of the site."""
    door = Opening(name="door", from_="outside", to="box", area=0.09, height=0.75, at=(0.0, 0.6))
    made = case(Compartment(name="box", outline=(0, 0, 0.6, 1.3), depth=0.4), door, chip("box"))
    batch, useful = both(made)
    each_way = batch["opening.door.counter_flow"] / batch.site["density"]
    assert (each_way > 1e-3).all()
    np.testing.assert_allclose(useful, each_way, rtol=1e-3)
