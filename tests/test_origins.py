"""Where air comes from: a tracer marched in time on the same flows, closed forms, conservation."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import flownet
from flownet.enclosure.branches import Opening, Vent
from flownet.enclosure.heat import Exchange, Recirculation
from flownet.enclosure.surroundings import Body, Compartment, Outside
from flownet.results.origins import Ways
from tests.each import each, named
from tests.findings import samples
from tests.findings.build import solved, things
from tests.published import rows

BACK, FRACTION, SWAP = 0.012, 0.2, 0.004  # kg/s, of what is drawn in, m3/s


def boxes(**more):
    """A fan moves air up inside, a gap lets some back down, some is drawn in again, some swaps."""
    own = {
        "stir": samples.roof(name="stir", from_="lower", to="upper"), "shelf": None,
        "gap": Opening(name="gap", from_="upper", to="lower", area="50 cm2"),
        "side": Vent(name="side", from_="outside", to="upper", area="50 cm2", loss=2.0),
        "short": Recirculation(name="short", from_="fan.roof", to="filter.intake",
                               fraction=FRACTION),
    }  # fmt: skip
    return things(**{**own, **more})


FLOWS = {"filter.intake": 0.02, "vent.side": 0.01, "fan.roof": 0.03, "opening.gap": BACK,
         "fan.stir": 0.02 + BACK}  # fmt: skip


def swapping():
    return Exchange(name="middle", between=["lower", "upper"], flow=f"{SWAP} m3/s")


@pytest.fixture(scope="module")
def air():
    return solved(boxes(middle=swapping()), flows=FLOWS, scenarios={})


def balance(found, share, enters):
    """(2,) kg/s of tracer that lower and upper gain, at these shares; `enters` by what comes in."""
    lower, upper = share
    weight = [found.site["pressure"] / (287.05 * row.temperature)
              for row in found.compartments.values()]  # fmt: skip
    swap = SWAP * sum(weight) / 2
    drawn = (1 - FRACTION) * enters["filter.intake"] + FRACTION * upper
    into = 0.02 * drawn + BACK * upper - (0.02 + BACK) * lower + swap * (upper - lower)
    up = 0.01 * enters["vent.side"] + (0.02 + BACK) * lower - (BACK + 0.03) * upper
    return np.array([into, up + swap * (lower - upper)]), np.array(weight) * 0.8 * 0.9 * 0.4


def marched(found, enters, source=0.0):
    """Where a tracer ends that begins nowhere, after many changes of air."""

    def rate(_, share):
        gained, held = balance(found, share, enters)
        return (gained + source * held) / held

    return solve_ivp(rate, (0, 3000), [0.0, 0.0], "LSODA", rtol=1e-10, atol=1e-12).y[:, -1]


@each(named(["filter.intake", "vent.side"]))
def test_shares_are_where_a_tracer_marched_in_time_ends(intake):
    found = solved(boxes(middle=swapping()), flows=FLOWS, scenarios={})
    enters = {"filter.intake": 0.0, "vent.side": 0.0, intake: 1.0}
    ends = marched(found, enters)
    got = [found[f"compartment.{name}.{intake}.share"] for name in ("lower", "upper")]
    assert got == pytest.approx(ends, rel=1e-6)
    assert got[0] == found.origins.shares("lower")[intake]


def test_age_is_where_a_source_everywhere_ends(air):
    """Danckwerts: a source of 1 kg a second in each kg of air ends at its mean age in seconds."""
    ends = marched(air, {"filter.intake": 0.0, "vent.side": 0.0}, 1.0)
    ages = [air[f"compartment.{name}.age"] for name in ("lower", "upper")]
    assert ages == pytest.approx(ends, rel=1e-6)
    assert air["compartment.upper.age_s"] == ages[1]


def test_shares_add_up_and_age_times_flow_is_the_air_held(air):
    """Conservation: each compartment's shares are one; all air that leaves is as old as fresh
    flow times age = mass held, by the whole enclosure."""
    for name in air.compartments:
        assert math.fsum(air.origins.shares(name).values()) == pytest.approx(1.0, abs=1e-12)
    _, held = balance(air, (0, 0), {"filter.intake": 0.0, "vent.side": 0.0})
    fresh = 0.02 * (1 - FRACTION) + 0.01
    leaves_for_good = 0.03 - 0.02 * FRACTION
    assert fresh == pytest.approx(leaves_for_good)
    assert air["compartment.upper.age"] * leaves_for_good == pytest.approx(held.sum(), rel=1e-6)


def test_what_comes_back_in_a_closed_form():
    """A fan sends m + b round with b coming back: its air has share r/(1 + r), r = b/m, of what
    passed it before; with a share f drawn in again outside also f of the fresh part."""
    flows = {"filter.intake": 0.02, "fan.roof": 0.02, "opening.gap": BACK, "fan.stir": 0.02 + BACK}
    r = BACK / 0.02
    turned = samples.roof(name="stir", from_="upper", to="lower", mounted="reversed")
    for more, way in (({}, 1), ({"middle": swapping()}, 1),  # what swaps places is no way back
                      ({"middle": swapping(), "stir": turned}, -1)):  # fmt: skip
        moved = {**flows, "fan.stir": way * flows["fan.stir"]}
        alone = solved(boxes(side=None, short=None, **more), scenarios={}, flows=moved)
        for path in ("fan.stir", "compartment.lower", "compartment.upper"):
            assert alone[f"{path}.returned_share"] == pytest.approx(r / (1 + r), rel=1e-9)
        assert alone["fan.roof.returned_share"] == pytest.approx(0.0, abs=1e-12)
    both = solved(boxes(side=None), scenarios={}, flows=flows)
    assert both["fan.roof.returned_share"] == pytest.approx(FRACTION, rel=1e-9)
    assert both["fan.stir.returned_share"] == pytest.approx((FRACTION + r) / (1 + r), rel=1e-9)
    back = Vent(name="in", from_="lower", to="outside", area="50 cm2", loss=2.0)  # drawn backwards
    short = Recirculation(name="short", from_="vent.side", to="vent.in", fraction=FRACTION)
    swapped = {"vent.in": -0.02, "vent.side": -0.02, "opening.gap": BACK, "fan.stir": 0.02 + BACK}
    found = solved(boxes(intake=None, roof=None, back=back, short=short), scenarios={},
                   flows=swapped)  # fmt: skip
    assert found["fan.stir.returned_share"] == pytest.approx((FRACTION + r) / (1 + r), rel=1e-9)
    # of what leaves by another way nothing is drawn in again
    aside = solved(boxes(), scenarios={}, flows={**flows, "fan.roof": 0.0, "vent.side": -0.02})
    assert aside["fan.stir.returned_share"] == pytest.approx(r / (1 + r), rel=1e-9)


def test_what_comes_back_to_a_fan_that_blows_in_or_down():
    """From outside it draws f of what was blown out; one that sends b down beside m of fresh air
    draws b/(m + b) of what it moved, as does the one beside it."""
    push = samples.roof(name="push", from_="outside", to="lower")
    short = Recirculation(name="short", from_="fan.roof", to="fan.push", fraction=FRACTION)
    flows = {"fan.push": 0.02, "fan.roof": 0.02, "opening.gap": BACK, "fan.stir": 0.02 + BACK}
    found = solved(boxes(intake=None, push=push, short=short), scenarios={}, flows=flows)
    r = BACK / 0.02
    assert found["fan.push.returned_share"] == pytest.approx(FRACTION, rel=1e-9)
    assert found["fan.stir.returned_share"] == pytest.approx((FRACTION + r) / (1 + r), rel=1e-9)
    down = samples.roof(name="stir", from_="upper", to="lower")
    flows = {"vent.side": 0.02, "fan.roof": 0.02, "opening.gap": -BACK, "fan.stir": BACK}
    found = solved(boxes(stir=down, short=None), scenarios={}, flows=flows)
    for fan in ("fan.stir", "fan.roof"):
        assert found[f"{fan}.returned_share"] == pytest.approx(r / (1 + r), rel=1e-9)


def test_without_outside_air_nothing_is_known():
    """Two boxes that only stir their own: as much goes up as comes down, and none comes in."""
    found = solved(boxes(), scenarios={}, flows={"opening.gap": BACK, "fan.stir": BACK})
    for path in ("fan.stir", "compartment.lower", "compartment.upper"):
        assert math.isnan(found[f"{path}.returned_share"])
    assert found.origins.shares("lower") is None


def test_what_swaps_places_with_the_outside_is_an_intake():
    """Conservation: of the 0.02 kg/s of the filter and what an exchange brings, each its part,
    whichever end is named first."""
    for ends in (("upper", "outside"), ("outside", "upper")):
        swap = Exchange(name="gap", between=ends, flow=SWAP)
        flows = dict.fromkeys(("filter.intake", "fan.roof", "fan.stir", "vent.past"), 0.02)
        yard = {
            "yard": Outside(name="yard"),  # and what passes by is none
            "past": Vent(name="past", from_="outside", to="outside.yard", area=0.01, loss=2.0),
        }
        found = solved(boxes(side=None, short=None, gap=None, middle=swap, **yard), scenarios={},
                       flows=flows)  # fmt: skip
        warm = found["compartment.upper.temperature"]
        swapped = SWAP * (found.site["pressure"] / (287.05 * warm) + found.site["density"]) / 2
        assert found.origins.shares("upper") == pytest.approx(
            {"filter.intake": 0.02 / (0.02 + swapped), "exchange.gap": swapped / (0.02 + swapped)}
        )
        assert found.origins.shares("lower") == pytest.approx({"filter.intake": 1.0})
        unknown = solved(boxes(side=None, short=None, gap=None, middle=swap), scenarios={},
                         flows={}, warm={})  # fmt: skip
        assert unknown.origins.shares("upper") is None


def test_the_garage_of_the_handbook():
    """Mixed: age = volume over flow, and ln(1/x) ages until a share x is left."""
    (row,) = rows("networks", "T4")
    wide = row.given["volume"] / 6.0
    made = {"body": Body(size=f"{wide} x 6 x 1 m"), "outside": Outside(temperature="20 degC"),
            "hall": Compartment(name="hall", outline=f"0 0 {wide} 6 m"),
            "in": Vent(name="in", from_="outside", to="hall", area="1 m2", loss=2.0),
            "out": Vent(name="out", from_="hall", to="outside", area="1 m2", loss=2.0)}  # fmt: skip
    weight = 101325.0 / (287.05 * 293.15)
    flow = row.given["volume"] * row.given["changes"] / 3600 * weight
    found = solved(made, flows={"vent.in": flow, "vent.out": flow}, warm={"hall": 20.0},
                   scenarios={})  # fmt: skip
    age = found["compartment.hall.age"]
    level = row.given["source"] / row.given["volume"] * age * -np.expm1(-row.given["after"] / age)
    row.check(level=level, purged=age * math.log(1 / row.given["left"]) / 3600)


# --- limits --------------------------------------------------------------------------------------


def ring(*flows):
    """A line of compartments that air enters at the first; (from, to, flow) more."""
    source, target, *flow = zip(*flows, strict=True)
    return Ways(np.array(source), np.array(target), np.array(flow).T, 3)


@each(named([(0, 2 / 3), (1, 2 / 3), (2, 0.0)]))
def test_what_has_been_in_a_place_before(place, share):
    """2 of the 3 that enter a come from b, all of which was in a."""
    ways = ring((-1, 0, 1.0), (0, 1, 3.0), (1, 0, 2.0), (1, 2, 1.0), (2, -1, 1.0))
    assert ways.been_before(ways.mixed())[place, 0] == pytest.approx(share)


def test_each_variant_has_circles_of_its_own():
    """a and b in one of four, b and c in the next, none in the third, no air at all in the last."""
    ways = ring(
        (-1, 0, 1.0, 1.0, 1.0, 0.0),
        (0, 1, 3.0, 1.0, 1.0, 0.0),
        (1, 0, 2.0, 0.0, 0.0, 0.0),
        (1, 2, 1.0, 4.0, 1.0, 0.0),
        (2, 1, 0.0, 3.0, 0.0, 0.0),
        (2, -1, 1.0, 1.0, 1.0, 0.0),
    )
    shares = [[2 / 3, 0, 0, 0], [2 / 3, 3 / 4, 0, 0], [0, 3 / 4, 0, 0]]
    floor = 1e-12
    found = ways.been_before(ways.mixed(floor), floor)
    np.testing.assert_allclose(found, shares, atol=1e-9)
    labels = ways.circles()
    assert [[labels[i, k] == labels[j, k] for i, j in ((0, 1), (1, 2))] for k in range(4)] == [
        [True, False], [False, True], [False, False], [False, False]]  # fmt: skip


def test_an_island_has_no_share_and_the_air_round_it_has():
    """Nothing comes to a box that only stirs its own air, nor to one that none enters."""
    made = boxes(box=Compartment(name="box"), cell=Compartment(name="cell"), **{
        name: Opening(name=name, from_=a, to=b, area="5 cm2")
        for name, a, b in (("there", "box", "cell"), ("back", "cell", "box"))})  # fmt: skip
    found = solved(made, flows={**FLOWS, "opening.there": 0.01, "opening.back": 0.01}, scenarios={})
    for name in ("box", "cell"):
        assert found.origins.shares(name) is None
        assert math.isnan(found[f"compartment.{name}.age"])
        assert math.isnan(found[f"compartment.{name}.returned_share"])
    row = found.to_dict()["compartments"]["box"]
    assert (row["age_s"], row["returned_share"], row["shares"]) == (None, None, None)
    assert found["compartment.lower.age"] > 0


@each(named([1.0, 1e3]))
def test_without_a_volume_there_is_no_age_there_and_behind(size):
    """However much air moves."""
    small, flows = Compartment(name="lower"), {**FLOWS, "opening.gap": 0.0, "fan.stir": 0.02}
    found = solved(boxes(lower=small), scenarios={},
                   flows={path: size * flow for path, flow in flows.items()})  # fmt: skip
    first = solved(boxes(upper=Compartment(name="upper"), short=None), scenarios={},
                   flows={**FLOWS, "opening.gap": 0.0, "fan.stir": 0.02})  # fmt: skip
    assert math.isnan(found["compartment.lower.age"])
    assert math.isnan(found["compartment.upper.age"])
    assert first["compartment.lower.age"] > 0
    assert math.isnan(first["compartment.upper.age"])


def test_shares_do_not_know_how_much_air_moves():
    made = [solved(boxes(), scenarios={}, flows={path: size * q for path, q in FLOWS.items()})
            for size in (1.0, 1e-5)]  # fmt: skip
    for name in ("lower", "upper"):
        much, little = (each.origins.shares(name) for each in made)
        assert little == pytest.approx(much, rel=1e-6)


def test_fans_that_meet_only_outside_stand_in_no_row():
    """Two blow out of unlike places, two draw in to unlike places; two from one place are one."""
    ends = {"low": ("lower", "outside"), "in": ("outside", "lower"), "top": ("outside", "upper"),
            "twin": ("upper", "outside")}  # fmt: skip
    fans = {name: samples.roof(name=name, from_=a, to=b) for name, (a, b) in ends.items()}
    flows = dict.fromkeys(("fan.in", "fan.top", "fan.low"), 0.02)
    flows |= dict.fromkeys(("fan.roof", "fan.twin"), 0.01)
    found = solved(boxes(stir=None, **fans), scenarios={}, flows=flows)
    beside = found.stages.beside[..., 0]
    names = [*found.fans.names]
    pairs = [{names[i], names[j]} for i, j in np.argwhere(beside) if i < j]
    assert pairs == [{"fan.roof", "fan.twin"}]


@each(named([(way, *flows) for way in (1, -1) for flows in ((0.02, 0.0), (0.03, 0.02))]))
def test_fans_of_two_rooms_that_only_the_outside_joins_stand_by_themselves(way, through, spilt):
    """Air comes into each through a hole and goes out by its fan, of one by a second hole too; and
    all of it the other way round."""
    fans = {name: samples.roof(name=name, from_=(room, "outside")[::way][0],
                               to=(room, "outside")[::way][1])
            for name, room in (("low", "lower"), ("top", "upper"))}  # fmt: skip
    spill = Vent(name="spill", from_="lower", to="outside", area="50 cm2", loss=2.0)
    made = boxes(stir=None, gap=None, short=None, roof=None, spill=spill, **fans)
    flows = {"filter.intake": way * through, "vent.spill": way * spilt, "vent.side": way * 0.02}
    flows |= {"fan.low": through - spilt, "fan.top": 0.02}
    beside = solved(made, scenarios={}, flows=flows).stages.beside
    assert beside[..., 0].tolist() == [[True, False], [False, True]]


@each(named([(way, order, *how) for way in (1, -1) for order in (1, -1)
             for how in ((0.0005, False, True), (0.002, False, False), (0.0, True, False))])
)  # fmt: skip
def test_fans_stand_side_by_side_where_nine_tenths_of_their_air_are_of_one_place(
    way, order, leak, driven, together
):
    """Fans from c to a and from d to b; from a and b all but a leak goes on to e, past no fan. The
    other way round, it comes from there; a or e is the first of all. Nine tenths: common practice,
    no source."""
    a, e = ("lower", "e")[::order]
    made: dict[str, Any] = {name: Compartment(name=name) for name in "bcde"}
    hole = {"area": "50 cm2"}
    for name, start, end in (("one", "c", a), ("two", "d", "b")):
        ends = (start, end)[::way]
        made[name] = samples.roof(name=name, from_=ends[0], to=ends[1])
        made[f"far-{name}"] = Opening(name=f"far-{name}", from_="outside", to=start, **hole)
        made[f"on-{name}"] = Opening(name=f"on-{name}", from_=end, to=e, **hole)
    made["leak"] = Opening(name="leak", from_=a, to="outside", **hole)
    made["away"] = Opening(name="away", from_=e, to="outside", **hole)
    flows = {"opening.far-one": 0.01, "opening.far-two": 0.02, "opening.on-one": 0.01 - leak,
             "opening.on-two": 0.02, "opening.leak": leak, "opening.away": 0.03 - leak}  # fmt: skip
    if driven:
        ends = (a, e)[::way]
        made["on-one"] = samples.roof(name="on-one", from_=ends[0], to=ends[1])
        flows["fan.on-one"] = way * flows.pop("opening.on-one")
    flows = {path: way * flow for path, flow in flows.items()} | {"fan.one": 0.01, "fan.two": 0.02}
    alone = dict.fromkeys(("intake", "roof", "stir", "side", "gap", "short"))
    found = solved(things(shelf=None, **alone, **made), scenarios={}, flows=flows)
    one, two = (found.fans.places[f"fan.{name}"] for name in ("one", "two"))
    assert found.stages.beside[one, two, 0] == found.stages.beside[two, one, 0] == together


@each(named(["stopped", "backflow", "blanked"]))
def test_a_fan_that_moves_nothing_has_no_share(region):
    twin = samples.roof(name="twin", from_="lower", to="upper")
    found = solved(boxes(twin=twin), flows={**FLOWS, "fan.stir": -0.01, "fan.twin": 0.05},
                   scenarios={}, fans={"fan.stir": {"region": region}})  # fmt: skip
    assert math.isnan(found["fan.stir.returned_share"])
    paths = [*found.fans.names]
    assert [(paths[i], paths[j]) for i, j in np.argwhere(found.stages.beside[..., 0])] == [
        (path, path) for path in paths if path != "fan.stir"]  # fmt: skip


def test_variants_have_the_numbers_of_each_alone_and_slopes_follow():
    """Of a solved cabinet, all variants in one go; a derivative is that of two solves nearby."""
    case = flownet.load_case("cases/drive-cabinet")
    key, path = "vent.side.area", "compartment.upper.filter.intake.share"
    areas = np.array([0.004, 0.004 * (1 + 1e-4), 0.008])
    batch = flownet.solve_many(case, {key: areas})
    assert batch[path][2] == pytest.approx(batch.select(2)[path], rel=1e-9)
    assert batch["compartment.upper.age"][2] == pytest.approx(
        batch.select(2)["compartment.upper.age"], rel=1e-9)  # fmt: skip
    made = case.with_changes({key: 0.004})
    ranked = {effect.path: effect for effect in flownet.rank(made, path).effects}
    near = (batch[path][1] - batch[path][0]) / (1e-4 * 0.004)
    assert ranked[key].derivative == pytest.approx(near, rel=1e-3)
