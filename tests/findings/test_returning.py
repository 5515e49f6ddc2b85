"""Air that comes back inside: shares by conservation of mass, temperatures by mixing."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import pytest

import flownet
from flownet.enclosure.branches import Opening, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan
from flownet.enclosure.heat import Part, Recirculation, Wall
from flownet.enclosure.surroundings import Body, Compartment
from flownet.findings.returning import if_closed, let_back
from flownet.results.streams import (
    Stream,
    _way_back,
    both_ways,
    closing,
    each_way,
    least_flow,
    returns,
)
from tests.each import each, named
from tests.findings import samples, samples_use
from tests.findings.build import CP, about, axial, numbers, part_limit, solved, things
from tests.network.test_draught import door_box


@pytest.fixture(scope="module")
def rack():
    return flownet.solve(samples_use.rack())


def test_the_share_that_returns_is_that_of_the_flows(rack):
    """All that the fans move comes from front; of it, the two gaps bring what passed them before.

    Conservation of mass: share = gaps / servers, and fresh air = the rest.
    """
    gaps = rack.mass_flow("opening.gap") + rack.mass_flow("opening.edge")
    (found,) = returns(rack)
    assert found.fans == ("fan.a", "fan.b")
    assert found.back == ("opening.gap", "opening.edge")
    assert found.share == pytest.approx(gaps / rack.mass_flow("slot.servers"), rel=1e-9)
    assert found.mass_flow == pytest.approx(gaps, rel=1e-9)
    assert rack.mass_flow("vent.door") == pytest.approx(
        (1 - found.share) * rack.mass_flow("slot.servers"), rel=1e-6
    )
    for place in ("front", "mid", "rear"):
        assert rack[f"compartment.{place}.returned_share"] == pytest.approx(found.share, rel=1e-9)


def servers(*, pull=True, **keys):
    """Servers each in a box of its own, with a fan in front or behind or both; a gap goes back."""
    made = [
        axial(curve={"flow": "0 200 400 m3/h", "rise": "80 60 0 Pa"}, power="0 W"),
        Compartment(name="front"), Compartment(name="rear"),
        Vent(name="door", from_="outside", to="front", area="200 cm2", loss=2.5),
        Vent(name="out", from_="rear", to="outside", area="200 cm2", loss=2.5),
        Opening(name="gap", from_="rear", to="front", area="100 cm2"),
        Recirculation(name="room", from_="vent.out", to="vent.door", fraction=0.2),
    ]  # fmt: skip
    for name, speed in (("a", 1.0), ("b", 0.9), ("c", 0.8)):
        face = {"name": f"face-{name}", "from_": "front", "to": name}
        made += [
            Compartment(name=name), Part(name=name, in_=name, power="200 W"),
            Fan(type="axial", speed=speed, **face) if "push" in keys
            else Opening(area="150 cm2", **face),
            Fan(name=name, from_=name, to="rear", type="axial", speed=speed) if pull
            else Opening(name=name, from_=name, to="rear", area="150 cm2"),
        ]  # fmt: skip
    return Enclosure.of(*made, *keys.get("more", ()))


@each(named([{}, {"push": True}, {"push": True, "pull": False}]))
def test_fans_of_servers_side_by_side_are_one_stage(keys):
    """Conservation of mass: of all that front gives, the gap brings g of g + d, all of which has
    passed a fan of each stage; of the d through the door a fifth was blown out before."""
    found = flownet.solve(servers(**keys))
    gap, door = (found.mass_flow(path) for path in ("opening.gap", "vent.door"))
    inside = gap / (gap + door)
    (told,) = returns(found)
    assert (told.back, len(told.fans)) == (("opening.gap",), 3)
    assert told.share == pytest.approx(inside, rel=1e-6)
    assert closing(found) == {"opening.gap.state": "blanked"}
    for path in found.fans:
        share = found[f"{path}.returned_share"]
        assert share == pytest.approx(inside + 0.2 * (1 - inside), rel=1e-6)


def test_a_leak_into_a_box_is_fresh_air_for_its_fan_alone():
    """A twentieth of what b draws: all in rear has passed a fan, so that of the air in b has gone
    round what front brings of it; of the stage it is the sum over what it moves."""
    leak = Opening(name="leak", from_="outside", to="b", area="2 cm2")
    found = flownet.solve(servers(more=[leak]).with_changes({"recirculation.room.fraction": 0.0}))
    gap, door, fresh = map(found.mass_flow, ("opening.gap", "vent.door", "opening.leak"))
    moved = {fan: found.mass_flow(fan) for fan in found.fans}
    assert 0.01 < fresh / moved["fan.b"] < 0.1
    back = gap / (gap + door)
    share = {"fan.a": back, "fan.b": back * (1 - fresh / moved["fan.b"]), "fan.c": back}
    assert {fan: found[f"{fan}.returned_share"] for fan in share} == pytest.approx(share, rel=1e-6)
    (told,) = returns(found)
    assert told.share == pytest.approx(gap / sum(moved.values()), rel=1e-6)


def test_fans_in_line_are_each_a_stage():
    """What the first moves is all that the second does: each has its own air back, g/(g + d)."""
    made = servers(push=True)
    for fan in ("a", "b"):  # of three servers one is left
        made = made.with_changes({f"fan.{fan}.state": "blanked", f"part.{fan}.power": "0 W"})
    found = flownet.solve(made)
    gap, door = (found.mass_flow(path) for path in ("opening.gap", "vent.door"))
    share = gap / (gap + door)
    for path in ("fan.face-c", "fan.c"):
        assert found[f"{path}.returned_share"] == pytest.approx(share + 0.2 * (1 - share), rel=1e-6)


def test_the_heat_balance_shows_it(rack):
    """Mixing: front is as much above outside as the returned share of the rise at rear.

    To 1e-4: a small part of the servers' heat goes to their inlet, so that nothing jumps at rest.
    """
    outside = rack.case.outside.temperature
    front, rear = (rack[f"compartment.{name}.temperature"] - outside for name in ("front", "rear"))
    (found,) = returns(rack)
    assert front == pytest.approx(found.share * rear, rel=1e-4)
    assert rear == pytest.approx(1500 / (CP * rack.mass_flow("vent.door")), rel=1e-4)


def test_the_finding_names_share_way_and_what_closing_gives(rack):
    told = numbers(rack, "air-returns-inside")
    closed = flownet.solve(samples_use.rack(gap_state="blanked"))
    assert told["back"] == "opening.gap and opening.edge"
    assert told["then"] == pytest.approx(closed["compartment.mid.temperature"], abs=1e-6)
    assert told["now"] == pytest.approx(rack["compartment.mid.temperature"])
    assert told["better"] == pytest.approx(float(closed.worst.margin), abs=1e-6)
    assert about(closed, "air-returns-inside") == []
    assert closed.closed is None


def test_more_of_the_same_air_is_not_asked_for(rack):
    """Heat too much is that of the fresh air: m_fresh cp (T - limit)."""
    told = numbers(rack, "limit-air")
    fresh = rack.mass_flow("vent.door")
    assert told["heat"] == pytest.approx(fresh * CP * told["over"], rel=1e-6)
    (found,) = about(rack, "limit-air")
    assert "fresh air" in found.advice()


def test_a_passage_cannot_be_closed_and_says_no_temperature():
    made = samples_use.stirred(0.02)
    assert closing(made) == {}
    told = numbers(made, "air-returns-inside")
    assert told["share"] == "40 %"  # 0.02 of 0.05 kg/s
    assert told["back"] == "baffle.shelf"
    assert "then" not in told


@each(named([(-0.008, "21 %"), (-0.019, "39 %")]))
def test_a_dead_fan_that_lets_air_back_is_not_a_bypass_of_the_filter(flow, share):
    """8 of 38 g/s, and 19 of 49, of what the running fan moves; all of it past the filter."""
    made = samples_use.standing(flow)
    (found,) = about(made, "fan-out")
    assert found.values["share"][1] == share
    assert "past the filter" in found.message()
    assert "shutter" in found.advice()
    assert about(made, "filter-bypass") == []


@each(named([("upper", ["fan.roof"], 8 / 38), ("lower", ["fan.roof", "fan.front"], 8 / (38 + 20))]))
def test_a_dead_fan_is_measured_against_those_beside_it(place, beside, share):
    """8 g/s come back beside the roof's 38; where no fan stands beside it, of 38 and 20 g/s."""
    fan = samples.roof(name="weak", from_=place, type="small", state="stopped")
    front = Fan(name="front", from_="outside", to="lower", type="axial", supply="mains")
    small = axial("small", curve={"flow": "0 30 60 m3/h", "rise": "30 20 0 Pa"})
    flows = {"filter.intake": 0.01, "baffle.shelf": 0.03, "fan.roof": 0.038, "fan.weak": -0.008,
             "fan.front": 0.02}  # fmt: skip
    found = let_back(solved(things(small=small, weak=fan, front=front), flows=flows,
                            fans={"fan.weak": {"region": "stopped"}}))  # fmt: skip
    (dead,) = found.values()
    assert [fan.path for fan in dead.beside] == beside
    assert dead.share == pytest.approx(share)


@each(named([
    ([("b", "c"), ("b", "d"), ("c", "e"), ("d", "e"), ("e", "a", 2.0)], ["e>a"]),
    ([("b", "e", 2.0), ("e", "c"), ("e", "d"), ("c", "a"), ("d", "a")], ["b>e"]),
]))  # fmt: skip
def test_of_ways_back_with_one_flow_the_one_of_fewest_branches_counts(links, cut):
    """Two gaps of 1 kg/s lead to one passage of 2, or come from one."""
    made = [Stream(f"{a}>{b}", None, a, b, *(flow or [1.0])) for a, b, *flow in links]
    assert list(_way_back(made, "b", "a")[0]) == cut


@each(named([
    (True, True, {"then", "now", "better", "worst", "margin"}), (True, False, {"then", "now"}),
    (False, True, {"then", "now"}),
]))  # fmt: skip
def test_a_worst_margin_is_told_where_there_is_one_before_and_after(here, there, told):
    limit = (part_limit("drive", 80.0, 90.0),)
    there_ = solved(warm={"lower": 20.0, "upper": 30.0}, limits=limit if there else ())
    made = SimpleNamespace(
        closed=there_, worst=limit[0] if here else None, compartments=solved().compartments
    )
    (found,) = returns(samples_use.stirred(0.02))
    pieces, values = if_closed(made, found)
    assert set(values) == told
    assert len(pieces) == 1 + ("worst" in told)
    assert values["then"] == pytest.approx(293.15)
    assert values["now"] == pytest.approx(298.15)
    assert if_closed(made, None) == ([], {})
    made.closed = None
    assert if_closed(made, found) == ([], {})


def test_a_dead_fan_in_a_circle_tells_what_closing_it_gives():
    """It lets back 2 of 5 parts of what the fan beside it moves; one elsewhere does not."""
    made = things(
        stir=samples.roof(name="stir", from_="lower", to="upper"),
        shelf=None,
        dead=samples.roof(name="dead", from_="lower", to="upper", state="stopped"),
    )
    flows = {"filter.intake": 0.03, "fan.roof": 0.03, "fan.stir": 0.05, "fan.dead": -0.02}
    found = solved(made, flows=flows, scenarios={})
    closed = dataclasses.replace(found, closed=solved(warm={"lower": 24.0, "upper": 30.0}))
    assert numbers(closed, "fan-out")["then"] == pytest.approx(297.15)
    assert "then" not in numbers(found, "fan-out")
    assert "past the filter" not in str(about(found, "fan-out")[0])  # it lets in none from outside
    side = dataclasses.replace(samples_use.standing(-0.008), closed=found)
    assert "then" not in numbers(side, "fan-out")


def test_what_is_drawn_in_again_warms_by_its_share_and_no_more_without_it():
    """Mixing: the intake is at T_0 + f (T_out - T_0); its heat goes with the fresh air alone."""
    short = Recirculation(name="short", from_="fan.roof", to="filter.intake", fraction=0.3)
    case = Enclosure.of(*things(short=short, type=axial(power="0 W")).values())
    found = flownet.solve(case)
    plain = flownet.solve(case, changes={"recirculation.short.fraction": 0})
    outside, upper = case.outside.temperature, found["compartment.upper.temperature"]
    told = numbers(found, "short-circuit")
    assert told["now"] == pytest.approx(outside + 0.3 * (upper - outside), rel=1e-9)
    fresh = 0.7 * found.mass_flow("fan.roof")
    assert upper - outside == pytest.approx(180 / (CP * fresh), rel=1e-4)
    assert (told["then"], told["again"]) == (pytest.approx(outside, abs=1e-6), "30 %")
    assert told["better"] == pytest.approx(float(plain.worst.margin), abs=1e-6)
    assert about(plain, "short-circuit") == []
    assert plain.parted is None


def test_each_intake_tells_of_the_fans_that_it_feeds():
    """Two racks apart: the air of a fan is that of its intake, so is what came round (mixing)."""
    fractions, each_one = {"a": 0.3, "b": 0.12}, {"from_": "outside", "loss": 2.0, "area": 0.02}
    racks = [(
        Compartment(name=n), Part(name=n, in_=n, power=100), Vent(name=n, to=n, **each_one),
        Fan(name=n, from_=n, to="outside", type="axial"),
        Recirculation(name=n, from_=f"fan.{n}", to=f"vent.{n}", fraction=share),
    ) for n, share in fractions.items()]  # fmt: skip
    beside = Fan(name="c", from_="b", to="outside", type="axial")
    found = flownet.solve(Enclosure.of(axial(), *racks[0], *racks[1], beside))
    words = [str(each) for each in found.findings if each.rule == "short-circuit"]
    assert "30 % of what fan.a moves" in words[0]
    assert "12 % of what fan.b and fan.c move" in words[1]
    assert "moves" not in words[1]


def test_air_both_ways_at_once_comes_in_and_goes_out_alike(rack):
    """Through the one door of a warm box: as much in as out (conservation of mass)."""
    assert each_way(rack, "vent.door") == 0.0
    assert [least_flow(flows) for flows in ((), (2.0, 1.0))] == [1e-8, 2e-6]  # a millionth
    found = flownet.solve(door_box())
    flow = found["opening.door.counter_flow"]
    assert flow > 0
    assert {(s.source, s.target): s.mass_flow for s in both_ways(found)} == {
        ("outside", "box"): flow, ("box", "outside"): flow}  # fmt: skip
    assert each_way(found, "opening.door") == flow / found.site["density"]


def test_a_circle_by_buoyancy_names_its_way_back_and_what_closing_it_gives():
    """A warm shaft beside a cool one: what sinks there comes back below, r/(1 + r) of the air."""
    sides = {name: Compartment(name=name, outline=f"{x} 0 400 1000 mm")
             for name, x in (("warm", 0), ("cool", 400))}  # fmt: skip
    holes = [Opening(name=name, from_="warm", to="cool", area="60 cm2", at=f"400 {y} mm")
             for name, y in (("low", 50), ("high", 950))]  # fmt: skip
    vents = [Vent(name=name, from_="warm", to="outside", area="30 cm2", loss=2.5, at=f"0 {y} mm")
             for name, y in (("in", 50), ("out", 950))]  # fmt: skip
    case = Enclosure.of(
        Body(size="800 x 1000 x 400 mm"), *sides.values(), *holes, *vents,
        Wall(name="skin", from_="cool", to="outside", area="1 m2", u_value="5 W/(m2 K)"),
        Part(name="drive", in_="warm", power="150 W"),
    )  # fmt: skip
    found = flownet.solve(case)
    told, back, fresh = numbers(found, "recirculation-inside"), found.mass_flow("opening.low"), \
        found.mass_flow("vent.in")  # fmt: skip
    r = back / fresh
    assert found["compartment.warm.returned_share"] == pytest.approx(r / (1 + r), rel=1e-6)
    assert told["back"] == "opening.low"
    shut = flownet.solve(case, changes={"opening.low.state": "blanked"})
    assert told["then"] == pytest.approx(shut["compartment.warm.temperature"], abs=1e-6)
    assert about(found, "air-returns-inside") == about(shut, "recirculation-inside") == []
