"""Each condition of each rule by itself: cases that differ in it alone, on both sides of it.

Thresholds are those that the page of the findings states; what a value comes to stands beside it.
"""

from __future__ import annotations

import dataclasses
import math
from types import SimpleNamespace
from typing import Any

import pytest

from flownet.enclosure.branches import Baffle, Duct, Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.heat import Part, Recirculation
from flownet.enclosure.surroundings import Body, Compartment, Limits, Outside, Supply
from flownet.findings import fan_data, limits, losses, mixing, paths, ranges, resistances
from flownet.findings.facts import percent
from tests.findings import samples as s
from tests.findings import samples_fans as f
from tests.findings import samples_returning as r
from tests.findings import samples_use as u
from tests.findings.build import (
    CP,
    FLOWS,
    GAS,
    SEA_LEVEL,
    WARM,
    ZERO,
    about,
    air_limit,
    axial,
    life_limit,
    noise_limit,
    numbers,
    panel,
    part_limit,
    solved,
    things,
)
from tests.findings.test_findings_values import MILD, followed, law, rated

SIBLING = {"flow": "0 136 271.8 m3/h"}
PIPE = {"length": "1 m"}
DROPS = {"velocity": "0.5 1 2 m/s", "drop": "18 42 108 Pa"}


def small_fan(area: float, frame: str | None = "119 x 38 mm") -> Any:
    """A vent with a K of 1 on a fan of 60 cm2 of flow area."""
    made = axial(flow_area="60 cm2", frame=frame)
    return solved(things(type=made, mouth=u.mouth(1.0, f"{area} cm2")))


def channel(wide: float) -> Any:
    """A rectangular duct on the fan of 95 cm2."""
    return u.on_fan(0.0, Duct(name="stack", on="fan.roof", section=f"80 x {wide} mm", **PIPE))


def before(kind: str = "vent", hole: float = 95.0, **fan: Any) -> Any:
    """Something of 95 cm2 on a fan that draws through an opening."""
    keys: dict[str, Any] = {"name": "grille", "on": "fan.roof", "area": "95 cm2"}
    made = {"vent": lambda: Vent(**keys, loss=2.2), "opening": lambda: Opening(**keys),
            "filter": lambda: Filter(**keys, velocity_drop=DROPS)}[kind]()  # fmt: skip
    return solved(things(grille=made, roof=s.roof(clearance={"opening": f"{hole} cm2"}, **fan)))


def other_type(**row: Any) -> Any:
    """A type 1.699 times as large in flow, of these further data."""
    return s.sibling(**{**SIBLING, **row})


def pressed(flow: float, factor: float = 249.09) -> Any:
    """A type so many times as high in pressure, of this free flow [m3/h]."""
    return s.sibling(flow=f"0 80 {flow} m3/h", rise=f"{70 * factor} 70 0 Pa")


def ratings(flow: str) -> Any:
    """A fan on the 60 Hz rating of its own type."""
    sixty = {"supply": "230 V 60 Hz", "curve": {"flow": flow, "rise": "70 50 0 Pa"}}
    return solved(things(supply=Supply(name="mains", voltage="230 V", frequency="60 Hz"),
                         type=axial(rating={"sixty": sixty})))  # fmt: skip


def holed(**vent: Any) -> Any:
    """Another vent of the upper compartment."""
    return s.vented(**{"loss": 250.0, **vent})


def blown_up(flow: float, rise: float) -> Any:
    """Warm air falls through a fan that would lift it."""
    made = things(
        roof=s.roof(at="400 1800 mm"), intake=None,
        low=Vent(name="low", from_="lower", to="outside", area="450 cm2", loss=2.5, at="0 0 mm"),
    )  # fmt: skip
    flows = {"fan.roof": flow, "baffle.shelf": flow, "vent.low": -flow}
    return solved(made, flows=flows, warm={"lower": 65.0, "upper": 65.0}, scenarios={},
                  fans={"fan.roof": {"rise": rise}})  # fmt: skip


def boxed(power: float = 30.0, flow: float | None = None) -> Any:
    """A box beside the way of the air; `flow` in what leads to it."""
    made = things(box=Compartment(name="box"), side=panel(name="side", from_="box"),
                  heat=Part(name="heat", in_="box", power=f"{power} W"),
                  only=Vent(name="only", from_="outside", to="box", area="50 cm2", loss=2.5))
    flows = {**FLOWS, "vent.only": math.nan if flow is None else flow}
    return solved(made, flows=flows, warm={**WARM, "box": 52.0})  # fmt: skip


def faced(x: float, y: float, **fan: Any) -> Any:
    """The exhaust at a place of the view; the intake is at 0, 150 mm."""
    return solved(things(roof=s.roof(at=f"{x} {y} mm", **fan)))


def noisy(level: float | None, **fan: Any) -> Any:
    """A fan without a distance beside a limit, with or without a level."""
    made = things(type=axial(noise=None, noise_dBA=level), roof=s.roof(**fan),
                  limits=Limits(noise_dBA=50, noise_distance="1 m", scenarios=["base", "dirty"]))
    return solved(made, limits=(noise_limit(48.0, 50.0),) if level else ())  # fmt: skip


def fixed(power: float, altitude: str = "2000 m", warm: float = 31.6, **keys: Any) -> Any:
    """A part with 0.5 K/W in air of a place."""
    outside = Outside(temperature="25 degC", altitude=altitude)
    part = Part(**{"name": "drive", "in_": "upper", "power": f"{power} W",
                   "resistance": "0.5 K/W", **keys})  # fmt: skip
    return solved(things(outside=outside, drive=part), warm={"lower": 25.0, "upper": warm})


def share(ratio: float) -> float:
    """Half of a resistance with a power -0.5 of the density."""
    return (ratio**-0.5 - 1) / 2


TWO_KM = 79501 / (GAS * 304.75) / 1.2


def wet(**outside: Any) -> Any:
    """Air of 19.3 degC below that of 25 degC outside."""
    made = things(outside=Outside(**{"temperature": "25 degC", **outside}))
    return solved(made, warm={"lower": 19.3, "upper": 40.0})


def walled(pipe: str, **duct: Any) -> Any:
    """A duct wall of a temperature in damp air of 35 degC, dew point 19.4 degC."""
    made = Duct(name="pipe", from_="upper", to="outside", diameter="80 mm", wall_temperature=pipe,
                u_value="8 W/(m2 K)", **PIPE, **duct)  # fmt: skip
    return s.damp(cold=30.0, pipe=made)


def fouled(value: Any, path: str = "filter.intake.fouling") -> Any:
    """A scenario that changes something of a filter."""
    return solved(scenarios={"other": {path: value}})


def filtered(**keys: Any) -> Any:
    """The intake filter with other keys, never loaded in a scenario."""
    made = Filter(name="intake", from_="outside", to="lower", area="450 cm2", velocity_drop=DROPS,
                  **keys)  # fmt: skip
    return solved(things(intake=made), scenarios={})


def unfed(supply: str | None) -> Any:
    """Two fans on one supply, or on none that is told; one fails."""
    made = things(second=s.roof(name="second", supply=supply), roof=s.roof(supply=supply),
                  limits=Limits(scenarios=["each-fan-out"]))  # fmt: skip
    return solved(made, flows={**FLOWS, "fan.second": 0.0}, scenario="fan.second-out")


def milder(scenario: str, *named: str, **more: Any) -> Any:
    """One fan of two is out; "smoky" loads a vent, "calm" changes the fan only."""
    made = things(second=s.roof(name="second"), limits=Limits(scenarios=list(named)),
                  side=Vent(name="side", from_="upper", to="outside", area="50 cm2", loss=2.5,
                            **more))  # fmt: skip
    scenarios = {"hot": {"outside.temperature": 313.15}, "smoky": {"vent.side.fouling": 3.0},
                 "calm": {"fan.roof.speed": 0.5}}  # fmt: skip
    return solved(made, flows={**FLOWS, "fan.second": 0.0, "vent.side": 0.0}, scenario=scenario,
                  scenarios=scenarios)  # fmt: skip


def plated(area: float, plate: str = "passage", present: bool = True) -> Any:
    """A shelf that leaves so many cm2 of 3200 open; its law begins at a share of 0.02."""
    made = Baffle(name="shelf", from_="lower", to="upper", open_area=f"{area} cm2",
                  cross_section="0.32 m2", plate=plate, present=present)  # fmt: skip
    return solved(things(shelf=made))


def bent(angle: float, ratio: float = 1.5, flow: float = 0.01) -> Any:
    """A duct with one bend beside the fan."""
    duct = Duct(name="pipe", from_="upper", to="outside", diameter="80 mm",
                bends={"angle": f"{angle} deg", "radius_ratio": [ratio]}, **PIPE)  # fmt: skip
    return solved(things(pipe=duct), flows={**FLOWS, "fan.roof": 0.02, "duct.pipe": flow})


def mat(velocity: float, state: str = "fitted") -> Any:
    """A filter on the fan, measured up to 2 m/s, at another velocity."""
    made = Filter(name="mat", on="fan.roof", area="450 cm2", velocity_drop=DROPS, state=state)
    return solved(things(mat=made), branches={"filter.mat": {"velocity": velocity}})


def weak(flow: float, kg: float = 0.1, **fan: Any) -> Any:
    """A fan that stands beside one that moves so much air."""
    made = things(small=axial("small", curve={"flow": "0 30 60 m3/h", "rise": "30 20 0 Pa"}),
                  weak=s.roof(**{"name": "weak", "type": "small", "state": "stopped", **fan}))
    flows = {"filter.intake": kg + flow, "baffle.shelf": kg + flow, "fan.roof": kg,
             "fan.weak": flow}  # fmt: skip
    return solved(made, flows=flows)


# rule, what makes a sample of a value, values of which it speaks, values of which it does not
SIDES: list[tuple[str, Any, tuple[Any, ...], tuple[Any, ...]]] = [
    # --- limits: any amount
    ("limit-part", lambda t: solved(limits=(part_limit("drive", t, 90.0),)), (90.1,), (90.0, 89.9)),
    ("limit-air", lambda t: solved(limits=(air_limit("upper", t, 50.0),)), (50.1,), (50.0,)),
    # --- curves: factor 1.3 = 91 or 53.85 Pa beside 70, 208 or 123.1 m3/h beside 160
    ("flow-unit-suspect", lambda p: other_type(rise=f"{p} 50 0 Pa"), (90.9, 53.9), (91.1, 53.8)),
    ("flow-unit-suspect", pressed, (207.9, 123.1), (208.1, 123.0)),
    ("flow-unit-suspect", lambda k: pressed(160, k), (256.5, 241.7, 26.1, 24.7, 10.1, 9.52),
     (256.6, 241.6, 26.2, 24.6, 10.2, 9.5)),
    # the other way round, this type would be too large: nothing is said
    ("flow-unit-suspect", lambda q: s.sibling(flow=f"0 40 {q} m3/h"), (), (94.2,)),
    # 2 % of 119 mm; 2700 rpm times and by 1.3
    ("flow-unit-suspect", lambda x: other_type(frame=f"{x} x 38 mm"), (121.3, 116.7),
     (121.5, 116.5)),
    ("flow-unit-suspect", lambda n: other_type(rated_speed=n and f"{n} rpm"), (2078, 3509, None),
     (2076, 3511)),
    ("flow-unit-suspect", lambda x: other_type(frame=x), (), (None,)),
    ("flow-unit-suspect", ratings, (), ("0 40 94.2 m3/h", "0 90 271.8 m3/h")),
    # --- draught: 2.47 Pa, of which the fan has five times as much
    ("draught-against-fan", lambda p: s.downward(65.0, p), (1.0,), (-1.0, 0.0)),
    ("draught-against-fan", lambda m: blown_up(m, 1.0), (), (-0.03, 0.03, 1e-9)),
    # --- fans and their data
    ("fan-air-range", lambda t: f.one({"air_range": f"{t} 60 degC"}), (31.7,), (31.6, 31.5)),
    ("fan-air-range", lambda t: f.one({"air_range": f"-10 {t} degC"}), (31.5,), (31.6, 31.7)),
    ("fan-air-range", lambda t: f.one(f.RANGE, fans={"fan.roof": {"air_temperature": t + ZERO}}),
     (-11.0, 61.0), (math.nan,)),
    ("speed-below-minimum", f.at_speed, (0.299, 1.001), (0.301, 0.999, 0.3, 1.0)),
    # 60 Hz on data for 50 Hz turn it 1.2 times as fast: the range holds at 50 Hz
    ("speed-below-minimum", lambda n: rated("60 Hz", {}, {"speed": n}, 1.2 * n), (1.12, 0.48),
     (1.0, 1.09, 0.51)),
    ("speed-below-minimum", lambda n: rated("60 Hz", {}, {"speed": f"{2700 * n} rpm"}, n), (1.15,),
     (1.05,)),
    ("speed-below-minimum", lambda n: rated("50 Hz", {}, {"speed": n}, n), (1.15, 0.45), (1.05,)),
    # it follows the drive: 0 up to 30, 0.3 at 42, 0.9 at 66 degC
    ("speed-below-minimum", followed, (31.0, 41.9, 66.1, 80.0), (30.0, 20.0, 42.1, 65.9)),
    ("life-kinds-mixed", f.two, ("mean",), ("L10",)),
    ("curve-total-pressure", lambda state: f.one({"curve_pressure": "total"}, {"state": state}),
     ("running",), ("stopped", "blanked")),
    ("curve-total-pressure", lambda m: f.one({"curve_pressure": "total"}, flows={"fan.roof": m}),
     (0.03,), (math.nan,)),
    # --- losses
    ("loss-area-suspect", lambda state: holed(state=state), ("open",), ("blanked",)),
    ("loss-area-suspect", lambda c: s.vented(discharge_coefficient=c), (0.099,), (0.101, 0.9)),
    # 48 to 72 cm2 by its flow area, 89 to 133 and 113 to 170 by circle and square of its frame
    ("loss-counted-twice", small_fan, (60.0, 49.0, 71.0, 90.0, 105.0, 150.0, 114.0, 169.0),
     (47.0, 73.0, 80.0, 88.0, 171.0)),
    ("loss-counted-twice", lambda a: small_fan(a, None), (49.0, 71.0), (100.0, 150.0)),
    ("loss-counted-twice", channel, (119.0, 212.0, 96.0), (95.0 / 1.01, 223.0)),
    ("loss-counted-twice", before, ("vent", "opening", "filter"), ()),
    ("loss-counted-twice", lambda a: before("vent", a), (79.5, 118.0), (79.0, 119.5)),
    ("loss-counted-twice", lambda word: before(installation=word), ("on",), ("off",)),
    ("loss-counted-twice", lambda state: solved(things(roof=s.roof(
        guard={"loss": 1.0}, state=state))), ("running", "stopped"), ("blanked",)),
    ("tiny-flow", lambda n: s.vented(reynolds=n), (1.0,), (0.0, math.nan)),
    # --- clearances
    ("clearance-tight", lambda a: s.close(opening=f"{a} cm2"), (149.9,), (150.1,)),
    ("clearance-not-used", lambda state: solved(things(roof=s.roof(
        installation="off", clearance={"inlet": "15 mm"}, state=state))), ("running", "stopped"),
     ("blanked",)),
    ("clearance-not-used", lambda keys: solved(things(roof=s.roof(
        installation="off", clearance=keys))), ({"opening": "50 cm2"},), ({},)),
    # --- noise
    ("noise-distance-missing", noisy, (44.0,), (None,)),
    ("noise-distance-missing", lambda state: noisy(44.0, state=state), ("running",), ("stopped",)),
    ("noise-free-air", noisy, (44.0,), (None,)),
    ("noise-free-air", lambda level: u.heard(u.AT, level=level), (45.1, 50.0, 55.0), (45.0, 44.0)),
    # --- supplies and outages
    ("supply-mismatch", lambda state: u.fed("115 V", "60 Hz", {"state": state}),
     ("running", "stopped"), ("blanked",)),
    ("supply-mismatch", lambda v: u.fed("240 V", "50 Hz", voltage_range=v), (None, "200 235 V"),
     ("200 250 V",)),
    ("supply-mismatch", lambda hz: u.fed("240 V", hz, voltage_range="200 250 V"), ("60 Hz",),
     ("50 Hz",)),
    ("shared-supply", unfed, ("mains",), (None,)),
    ("outage-not-at-worst", lambda names: milder(*names), (
        ("fan.second-out", "smoky"), ("fan.second-out", "hot"), ("fan.second-out",),
        ("hot+fan.second-out", "smoky"), ("smoky+fan.second-out", "hot", "smoky+each-fan-out")),
     (("smoky+fan.second-out", "smoky"), ("hot+fan.second-out", "hot", "calm"),
      ("hot", "smoky"), ("fan.second-out", "calm"),
      ("fan.second-out", "hot", "smoky", "hot + smoky + fan.second-out"))),
    ("outage-not-at-worst", lambda state: milder("fan.second-out", "smoky", state=state),
     ("open",), ("blanked",)),
    ("altitude-counted-twice", lambda height: s.derated(0.77, height), ("2000 m",), ("0 m",)),
    # --- filters
    ("filter-bypass", lambda word: s.leaky(0.14, limits=s.limits(intake_filter=word)),
     ("required",), ("none",)),
    ("loaded-filter-not-tried", fouled, (1.0, "* 0.9"), (1.01, "* 1.1")),
    ("loaded-filter-not-tried", lambda path: fouled(1.5, path), ("filter.intake.area",),
     ("filter.intake.fouling", "filter.*.fouling")),
    ("loaded-filter-not-tried", lambda n: filtered(fouling=n), (1.0,), (1.01,)),
    ("loaded-filter-not-tried", lambda state: filtered(state=state), ("fitted",), ("removed",)),
    # --- ways of the air
    ("no-through-air", lambda m: boxed(30.0, m), (0.0, 2e-8), (4e-8, None)),
    ("no-through-air", lambda p: boxed(p, 0.0), (0.1,), (0.0,)),
    # left edge with the intake; its own and the other edges
    ("exhaust-near-intake", lambda y: faced(0, y), (270, 900, 1790), ()),
    ("exhaust-near-intake", lambda x: faced(x, 900), (17.9, -17.9), (18.1, -18.1, 800)),
    ("exhaust-near-intake", lambda more: s.same_face("0 270 mm", *more), ((),), ((Recirculation(
        name="round", from_="fan.roof", to="filter.intake", fraction=0.0),),)),
    # --- ranges
    ("range-of-validity", plated, (63.0,), (65.0,)),
    ("range-of-validity", lambda here: plated(63.0, present=here), (True,), (False,)),
    ("range-of-validity", mat, (2.11, -2.11), (2.09, -2.09)),
    ("range-of-validity", lambda state: mat(2.4, state), ("fitted",), ("removed",)),
    ("drop-fit-misses", lambda state: s.measured("18 42 430 Pa", state=state), ("fitted",),
     ("removed",)),
    # --- resistances: 1, 2, 3 m/s at 1.2 kg/m3, up to 1.1 times 3; a law from a tenth to ten times
    ("resistance-out-of-range", lambda v: s.chip(v * 1.2 / MILD), (0.99, 3.31, -0.99),
     (1.01, 3.29, -1.01, math.nan)),
    ("resistance-out-of-range", law, (0.19, 20.1, 0.05), (0.21, 19.9, math.nan)),
    ("resistance-out-of-range", lambda n: law(0.1, n), (0.5,), (0.0,)),
    ("resistance-out-of-range", lambda b: law(0.1, b=b), (0.1,), (0.0,)),
    # 0.2 K for 0.5 K/W and half of it by (rho/1.2)^-0.5
    ("resistance-at-sea-level", fixed, (0.21 / 0.5 / share(TWO_KM),), (0.19 / 0.5 / share(TWO_KM),)),
    # at sea level 1.08 kg/m3 are reached at 53.7 degC, 1.32 at -5.8 degC
    ("resistance-at-sea-level", lambda t: fixed(180.0, "0 m", t), (54.0, -6.1), (53.4, -5.5)),
    ("resistance-at-sea-level", lambda t: fixed(180.0, "2000 m", t), (31.6,), (math.nan,)),
    ("resistance-at-sea-level", lambda k: fixed(180.0, resistance=k), ("0.5 K/W",),
     ("0 K/W", None)),
    # --- powers
    ("power-not-heat", lambda x: u.heating(output="600 W", efficiency=x), (0.499, 1.0),
     (0.501, 0.999)),
    ("power-not-heat", lambda p: u.heating(output=p, efficiency=1.0), ("1 W",), ("0 W",)),
    ("power-not-heat", lambda p: u.heating(power=p, power_basis="nameplate"), ("1 W",), ("0 W",)),
    ("power-not-heat", lambda word: u.heating(power="9 W", power_basis=word), ("nameplate",),
     ("measured", "loss", None)),
    ("board-value-resistance", lambda p: s.chip(basis="board-data-sheet", resistance="20 K/W",
                                                power=p), ("1 W",), ("0 W",)),
    # --- site
    ("condensation", lambda t: walled(t), ("19.3 degC",), ("19.5 degC",)),
    ("condensation", lambda state: walled("10 degC", state=state), ("open",), ("blanked",)),
    ("condensation", lambda dew: wet(dew_point=dew), ("19.4 degC",), ("19.2 degC", None)),
    # --- air that comes back: 3.34 of 33.4 g/s; through a rotor 5 %
    ("air-returns-inside", r.stirred, (0.00335,), (0.00332,)),
    ("fan-out", weak, (-0.00501,), (-0.00499, 0.00501)),
    ("fan-out", lambda state: weak(-0.02, state=state), ("stopped",), ("blanked",)),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "sample", "value", "fires"), [
    (rule, sample, value, fires) for rule, sample, *sides in SIDES
    for fires, values in zip((True, False), sides, strict=True) for value in values
])  # fmt: skip
def test_a_rule_on_both_sides_of_each_condition(rule, sample, value, fires):
    assert bool(about(sample(value), rule)) == fires


# --- advice and words, by their conditions ------------------------------------------------------


@pytest.mark.parametrize(("hopeless", "over", "gain", "own", "begins"), [
    (True, 2.0, 30.0, 30.0, "The outside"), (False, 2.0, 30.0, 30.0, "Bring its own"),
    (False, 2.0, 30.1, 30.0, "Bring it air"), (False, 30.0, 5.0, 30.0, "Bring it air"),
    (False, 30.0, 0.0, 30.0, ""), (False, 29.9, 0.0, 30.0, "Bring its own"),
])  # fmt: skip
def test_advice_for_a_part_follows_what_can_be_had(hopeless, over, gain, own, begins):
    assert limits._part_hint(hopeless, over, gain, own).startswith(begins)
    assert begins or not limits._part_hint(hopeless, over, gain, own)


@pytest.mark.parametrize(("bound", "begins"), [(25.0, "The outside"), (25.1, "Bring")])
def test_a_limit_at_the_outside_temperature_is_hopeless(bound, begins):
    (found,) = about(solved(limits=(part_limit("drive", 92.0, bound),)), "limit-part")
    assert found.advice().startswith(begins)


@pytest.mark.parametrize(("bound", "flow", "begins"), [
    (50.0, 0.03, "At the present flow"), (25.0, 0.03, "The outside"), (25.0, 0.0, "The outside"),
    (25.1, 0.03, "At the present flow"), (50.0, 0.0, "More air"),
])  # fmt: skip
def test_advice_for_warm_air_follows_bound_and_flow(bound, flow, begins):
    flows = dict.fromkeys(FLOWS, flow)
    made = solved(flows=flows, limits=(air_limit("upper", 52.0, bound),))
    assert about(made, "limit-air")[0].advice().startswith(begins)


@pytest.mark.parametrize(("back", "fresh"), [(0.02, True), (0.0034, True), (0.0033, False)])
def test_fresh_air_is_asked_for_where_a_tenth_comes_back(back, fresh):
    """Of what enters above, `back` of `back` + 30 g/s have been there before."""
    made = r.stirred(back)
    made = solved_with(made, air_limit("upper", 52.0, 50.0))
    found = numbers(made, "limit-air")
    assert found["heat"] == pytest.approx(0.03 * CP * 2.0)
    assert found["again"] == percent(back / (back + 0.03))[1]
    assert ("fresh" in about(made, "limit-air")[0].advice()) == fresh


def solved_with(made: Any, *limits: Any) -> Any:
    """The same with limits."""
    return dataclasses.replace(made, limits=limits)


@pytest.mark.parametrize(("noise", "begins"), [(44.0, "Loudest"), (math.nan, "Slower")])
def test_the_loudest_fan_is_named_where_a_level_is_known(noise, begins):
    made = solved(fans={"fan.roof": {"noise": noise}}, limits=(noise_limit(44.0, 41.0),))
    assert about(made, "limit-noise")[0].advice().startswith(begins)


@pytest.mark.parametrize(("value", "factor", "begins"), [
    (4e4, 1.5, "It would"), (4e4, 1.0, "Let"), (0.0, 1.5, "No air is cold"), (2e4, 1.5, "No air"),
])  # fmt: skip
def test_advice_for_a_short_life(value, factor, begins):
    """50 000 h are asked for; at 31.6 degC the cold gives at most 2 / 1.5^0.84 = 1.42 times."""
    life = {"hours": 50000, "at": "40 degC", "factor_per_10K": factor}
    made = solved(things(type=axial(life=life)), limits=(life_limit("roof", value, 50000.0),))
    assert about(made, "limit-life")[0].advice().startswith(begins)


@pytest.mark.parametrize(("points", "rest", "several"), [(1, True, 0), (2, True, 2), (2, False, 1)])
def test_stall_tells_of_other_points_where_there_are(points, rest, several):
    made = dataclasses.replace(s.humped("stall", 42.0), points=points, from_rest=rest)
    words = about(made, "fan-stall")[0].message()
    assert ("operating points" in words) + ("from rest" in words) == several


@pytest.mark.parametrize(("rise", "begins"), [(44.0, "It must"), (math.nan, "Lower")])
def test_advice_in_stall_names_the_rise_where_it_is_known(rise, begins):
    made = solved(things(type=axial(curve=s.HUMP)), fans={"fan.roof": {
        "region": "stall", "rise": rise}})  # fmt: skip
    assert about(made, "fan-stall")[0].advice().startswith(begins)


@pytest.mark.parametrize(("made", "words"), [
    ({}, "past its free"), ({"curve": {"flow": "0 120 m3/h", "rise": "70 30 Pa"}}, "past the last"),
])  # fmt: skip
def test_past_free_delivery_is_told_from_a_short_curve(made, words):
    region = {"fan.roof": {"region": "past-free-delivery"}}
    (found,) = about(solved(things(type=axial(**made)), fans=region), "fan-past-free-delivery")
    assert words in found.message()


@pytest.mark.parametrize(("shutter", "words"), [(None, "blows back"), (s.FLAP, "delivers nothing")])
def test_a_shutter_is_told_from_backflow(shutter, words):
    made = s.two_fans(s.roof(name="weak", type="small", shutter=shutter))
    assert words in about(made, "fan-backflow")[0].message()


@pytest.mark.parametrize(("flow", "shutter", "told"), [
    (-1e-9, None, False), (-1e-9, s.FLAP, True), (-1e-3, None, True),
])  # fmt: skip
def test_backflow_needs_a_flow_or_a_shutter_that_is_shut(flow, shutter, told):
    made = s.two_fans(s.roof(name="weak", type="small", shutter=shutter), flow=flow)
    assert bool(about(made, "fan-backflow")) == told


def test_fans_out_of_a_place_are_head_on_too():
    """Nothing leads into the lower compartment, and both its fans draw from there."""
    made = things(intake=None, shelf=None, roof=s.roof(from_="lower"),
                  front=s.roof(name="front", from_="lower", to="upper"),
                  out=Vent(name="out", from_="upper", to="outside", area="200 cm2", loss=2.5))
    flows = {"fan.front": 0.001, "vent.out": 0.001, "fan.roof": 0.0012}
    found = numbers(solved(made, flows=flows, scenarios={}), "fans-opposed")
    assert (found["way"], found["places"]) == ("out of", "compartment.lower")
    assert found["flow"] == pytest.approx(0.0012 * GAS * 298.15 / SEA_LEVEL)


def test_of_fans_beside_each_other_all_that_are_turned_are_named():
    made = things(**{n: s.roof(name=n, mounted="reversed") for n in ("one", "two")})
    flows = {"filter.intake": 0.01, "baffle.shelf": 0.01, "fan.roof": 0.035, "fan.one": -0.02,
             "fan.two": 0.005}  # fmt: skip
    found = numbers(solved(made, flows=flows, scenarios={}), "fans-opposed")
    assert (found["turned"], found["others"]) == ("fan.one and fan.two", "fan.roof")
    assert found["flow"] == pytest.approx(0.02 * GAS * 298.15 / SEA_LEVEL)


@pytest.mark.parametrize(("over", "across"), [("0 Pa", 30.0), ("10 Pa", 40.0), ("-30 Pa", 0.0)])
def test_what_lies_across_a_closed_hole_counts_the_pressure_outside(over, across):
    made = things(second=s.roof(name="second", to="outside.hall"),
                  hall=Outside(name="hall", temperature="25 degC", over_pressure=over))
    found = solved(made, flows={**FLOWS, "fan.second": 0.0}, gauge={"upper": -30.0},
                   scenario="shut", scenarios={"shut": {"fan.second.state": "blanked"}})
    told = numbers(found, "failed-fan-sealed")
    assert told["across"] == pytest.approx(across)
    assert ("drive" in about(found, "failed-fan-sealed")[0].message()) == (across > 0)


@pytest.mark.parametrize(("change", "told"), [
    ({"fan.second.state": "blanked"}, ["fan.second"]), ({"fan.*.state": "blanked"}, 2),
    ({"fan.roof.speed": 0.5}, []), ({"fan.second.state": "stopped"}, []),
])  # fmt: skip
def test_only_fans_that_the_scenario_closes_are_sealed(change, told):
    made = things(second=s.roof(name="second"), third=s.roof(name="third", state="blanked"))
    case = solved(made, flows=FLOWS, scenario="shut", scenarios={"shut": change})
    found = [each.subject for each in about(case, "failed-fan-sealed")]
    assert found == told if isinstance(told, list) else len(found) >= told


# --- the shaft of a fan -------------------------------------------------------------------------


@pytest.mark.parametrize(("view", "up", "direction", "shaft"), [
    ("front", "top", "up", "vertical"), ("front", "top", "down", "vertical"),
    ("front", "top", "left", "horizontal"), ("front", "top", "front", "horizontal"),
    ("front", "top", None, ""), ("plan", "top", "up", ""), ("side", "left", "up", ""),
    ("side", "right", "up", ""), ("side", "top", "up", "vertical"),
    ("side", "front", "front", "vertical"), ("front", "left", "right", "vertical"),
    ("front", "bottom", "up", "vertical"), ("front", "back", "front", "vertical"),
    ("front", "front", "up", "horizontal"), ("front", "right", "left", "vertical"),
])  # fmt: skip
def test_how_a_shaft_stands(view, up, direction, shaft):
    case = SimpleNamespace(body=SimpleNamespace(view=view, up=up))
    assert fan_data.shaft_of(case, SimpleNamespace(direction=direction)) == shaft  # type: ignore[arg-type]


# --- constant losses, areas ---------------------------------------------------------------------

ENDS = {"name": "x", "from_": "upper", "to": "outside"}
HOLE = {"area": "50 cm2", "loss": 2.5}
VENT = {"area": "50 cm2", "open_ratio": 0.4}
CARD = {"area": "30 cm2", "filler": HOLE, "empty": HOLE}


@pytest.mark.parametrize(("item", "constant"), [
    (Vent(**ENDS, **HOLE), True), (Vent(**ENDS, **VENT), True),
    (Vent(**ENDS, **VENT, hole="5 mm"), False), (Vent(**ENDS, **HOLE, hole="5 mm"), True),
    (Vent(**ENDS, **VENT, hole="5 mm", construction="round-edged"), True),
    (Slot(**ENDS, **CARD, loss=6.0), True), (Slot(**ENDS, **CARD, velocity_drop=DROPS), False),
    (Slot(**ENDS, **CARD, velocity_drop=DROPS, state="filler"), True),
    (Slot(**ENDS, **CARD, velocity_drop=DROPS, state="empty"), True),
    (Opening(**ENDS, area="50 cm2"), True), (Leak(**ENDS, flow_at=["5 m3/h", "10 Pa"]), False),
    (Baffle(**ENDS, open_area="50 cm2", cross_section="0.3 m2"), True),
    (Filter(**ENDS, area="50 cm2", velocity_drop=DROPS), False),
    (Filter(**ENDS, area="50 cm2", velocity_drop=DROPS, state="removed"), True),
])  # fmt: skip
def test_where_a_constant_loss_is_taken(item, constant):
    assert losses._constant_loss(item) == constant


# --- one temperature for a compartment ----------------------------------------------------------


def mixed(excess: float = 2.0, over: tuple[float, ...] = (), divided: str = "",
          solution: bool = True, aside: float = 0.3) -> list[Any]:  # fmt: skip
    """What is said where layers give this much above the mean in one box, 0.5 K in another."""
    rows = {name: SimpleNamespace(temperature=300.0 + i) for i, name in enumerate("abc")}
    hot = {name: SimpleNamespace(temperature=310.0 + i) for i, name in enumerate("abc")}
    broken = [part_limit(f"p{i}", 90.0 + k, 90.0) for i, k in enumerate(over)]
    layered = SimpleNamespace(
        aside=aside, lifted=0.5, excess={"a": 0.5, "b": excess, "c": 9.0}, broken=broken,
        solution=SimpleNamespace(compartments=hot) if solution else None, failure="none")
    found = SimpleNamespace(layered=layered, compartments=rows,
                            layers_of=lambda name: 4 if name in ("c", divided) else 0)
    return list(mixing.well_mixed.looks(found))  # type: ignore[arg-type]


@pytest.mark.parametrize(("excess", "over", "mild"), [
    (0.99, (), None), (1.0, (), True), (0.99, (1.0,), False), (5.0, (1.0, 3.0, 2.0), False),
])  # fmt: skip
def test_layers_are_worth_a_word_from_a_kelvin_on_or_where_a_limit_breaks(excess, over, mild):
    found = mixed(excess, over)
    assert [each.mild for each in found] == ([] if mild is None else [mild])
    for each in found:
        assert each.subject == "compartment.b"
        values = {key: value for key, (_, value) in each.values.items()}
        assert (values["hottest"], values["single"], values["above"]) == (311.0, 301.0, excess)
        assert values["part"] == "30 %"
        if over:
            assert (values["over"], values["limit"]) == (max(over), f"part.p{over.index(max(over))}")


def test_without_a_solution_in_layers_that_is_said():
    (found,) = mixed(solution=False, aside=0.1)
    assert (found.subject, found.mild) == ("total.heat", False)
    assert (found.values["reason"][1], found.values["part"][1]) == ("none", "50 %")
    assert mixed(divided="b")[:1] == []
    assert mixing.well_mixed.looks(SimpleNamespace(layered=None)) is not None


# --- edges of the view --------------------------------------------------------------------------


@pytest.mark.parametrize(("at", "edges"), [
    ((0.0, 0.9), ["left"]), ((-0.017, 0.9), ["left"]), ((0.017, 0.9), ["left"]),
    ((0.019, 0.9), []), ((0.8, 0.9), ["right"]), ((0.817, 0.9), ["right"]), ((0.781, 0.9), []),
    ((0.4, 0.017), ["low"]), ((0.4, 0.019), []), ((0.4, 1.8), ["high"]), ((0.4, 1.781), []),
    ((0.0, 0.0), ["left", "low"]), ((0.8, 1.8), ["right", "high"]),
])  # fmt: skip
def test_which_edges_a_place_is_on(at, edges):
    """A hundredth of 1.8 m: 18 mm; the same for a view that lies, and one that begins elsewhere."""
    assert paths._edges((0.0, 0.0, 0.8, 1.8), at) == edges
    moved = paths._edges((0.1, 0.2, 0.9, 2.0), (at[0] + 0.1, at[1] + 0.2))
    assert moved == edges
    names = {"left": "low", "right": "high", "low": "left", "high": "right"}
    assert {names[e] for e in paths._edges((0.2, 0.1, 2.0, 0.9), (at[1] + 0.2, at[0] + 0.1))} == (
        set(edges))  # fmt: skip


@pytest.mark.parametrize(("view", "corner"), [
    ("front", (0.8, 1.8)), ("side", (0.4, 1.8)), ("plan", (0.8, 0.4)),
])  # fmt: skip
def test_the_view_of_a_size(view, corner):
    made = solved(things(body=Body(size="800 x 1800 x 400 mm", view=view)))
    assert paths._box(made.case) == (0.0, 0.0, *corner)


def test_without_size_and_outlines_there_are_no_edges():
    bare = {name: Compartment(name=name) for name in ("lower", "upper")}
    assert paths._box(solved(things(body=None, **bare)).case) is None


def test_the_nearest_pair_of_each_edge_is_named():
    """On the left 450 mm to 150 mm and on the right 1000 mm to 900 mm; a leak is no mouth."""
    vent = {"area": "50 cm2", "loss": 2.5}
    made = things(
        roof=s.roof(at="0 1000 mm"), near=Vent(name="near", from_="upper", to="outside",
                                               at="0 450 mm", **vent),
        out=Vent(name="out", from_="upper", to="outside", at="800 1000 mm", **vent),
        back=Vent(name="back", from_="outside", to="lower", at="800 900 mm", **vent),
        seam=Leak(name="seam", from_="upper", to="outside", at="0 160 mm",
                  flow_at=["5 m3/h", "10 Pa"]),
    )  # fmt: skip
    flows = {**FLOWS, "vent.near": 0.01, "vent.out": 0.01, "vent.back": 0.02, "leak.seam": 0.001}
    found = about(solved(made, flows=flows), "exhaust-near-intake")
    told = [(e.subject, e.values["intake"][1], e.values["distance"][1]) for e in found]
    assert told == [("vent.near", "filter.intake", pytest.approx(0.3)),
                    ("vent.out", "vent.back", pytest.approx(0.1))]  # fmt: skip


def test_a_gain_is_told_against_the_surroundings_of_the_intake():
    """Exhaust of 31.6 degC, intake from a hall at 20 degC on the same face."""
    hall = {"hall": Outside(name="hall", temperature="20 degC")}
    back = Filter(name="intake", from_="outside.hall", to="lower", area="450 cm2", at="0 150 mm",
                  velocity_drop=DROPS)  # fmt: skip
    made = solved(things(**hall, intake=back, roof=s.roof(to="outside.hall", at="0 270 mm")))
    assert numbers(made, "exhaust-near-intake")["gain"] == pytest.approx(11.6)


# --- slots, boxes -------------------------------------------------------------------------------


@pytest.mark.parametrize(("states", "stand", "share", "cards"), [
    (("empty",), "stands", "100 %", ""), (("empty", "empty"), "stand", "100 %", ""),
    (("empty", "filler"), "stands", "80 %", ""),
    (("empty", "fitted", "fitted"), "stands", "67 %", "slot.s1 and slot.s2"),
])  # fmt: skip
def test_what_passes_empty_slots(states, stand, share, cards):
    made = s.shelf(*states)
    found = numbers(made, "slot-empty")
    assert (found["stand"], found["share"], found["cards"]) == (stand, share, cards)
    assert ("past" in about(made, "slot-empty")[0].message()) == bool(cards)


def test_slots_of_other_rows_are_counted_by_themselves():
    """One of two in a row from below, and one alone from above, which is no empty one."""
    hole = {"area": "60 cm2", "loss": 2.7}
    card = {"area": "30 cm2", "loss": 6.0, "empty": hole}
    ends = {"from_": "lower", "to": "upper"}
    made = things(shelf=None, a=Slot(name="a", **ends, **card, state="empty"),
                  b=Slot(name="b", **ends, **card),
                  c=Slot(name="c", from_="upper", to="lower", **card))  # fmt: skip
    flows = {**FLOWS, "slot.a": 0.03, "slot.b": 0.01, "slot.c": 0.01}
    assert numbers(solved(made, flows=flows), "slot-empty")["share"] == "75 %"


def test_each_sealed_place_has_its_own_heat():
    """40 W in one, 30 W of a part and 5 W of the slot between in two that hang together."""
    boxes = {n: Compartment(name=n) for n in ("one", "two", "three")}
    made = things(**boxes, a=Part(name="a", in_="one", power="40 W"),
                  b=Part(name="b", in_="three", power="30 W"),
                  c=Part(name="c", in_="part.b", power="2 W"),
                  way=Slot(name="way", from_="two", to="three", area="30 cm2", loss=6.0),
                  **{f"w{n}": panel(name=f"w{n}", from_=n) for n in boxes})  # fmt: skip
    found = about(solved(made, flows={**FLOWS, "slot.way": 0.0}, warm={
        **WARM, "one": 40.0, "two": 50.0, "three": 60.0},
        branches={"slot.way": {"heat": 5.0}}), "no-through-air")  # fmt: skip
    told = {e.subject: (e.values["heat"][1], e.values["rise"][1]) for e in found}
    assert told == {"compartment.one": (40.0, pytest.approx(15.0)),
                    "compartment.two": (37.0, pytest.approx(35.0))}  # fmt: skip


# --- relations and their arguments --------------------------------------------------------------


@pytest.mark.parametrize(("item", "uses"), [
    (Vent(**ENDS, **HOLE), []),
    (Vent(**ENDS, **VENT), [("idelchik_thin_plate", {"open_ratio": 0.4})]),
    (Vent(**ENDS, **VENT, construction="round-edged"), [("round_edge_grill", {"open_ratio": 0.4})]),
    (Vent(**ENDS, **VENT, construction="wire screen"),
     [("round_edge_screen", {"open_ratio": 0.4})]),
    (Baffle(**ENDS, open_area="50 cm2", cross_section="0.02 m2"),
     [("idelchik_thin_plate", {"open_ratio": 0.25})]),
    (Baffle(**ENDS, open_area="50 cm2", cross_section="0.02 m2", present=False), []),
    (Duct(**ENDS, length="1 m", diameter="80 mm", roughness="2 mm"),
     [("churchill_product", {"reynolds": 5000.0, "roughness": 0.025})]),
    (Duct(**ENDS, length="1 m", section="60 x 120 mm", roughness="2 mm"),
     [("churchill_product", {"reynolds": 5000.0, "roughness": 0.025})]),
    (Slot(**ENDS, gap="5 mm", width="200 mm", length="160 mm"),
     [("slot_product", {"reynolds": 5000.0, "aspect_ratio": 0.025})]),
    (Slot(**ENDS, gap="5 mm", width="200 mm", length="160 mm", filler=HOLE, state="filler"), []),
    (Slot(**ENDS, area="30 cm2", loss=6.0), []),
])  # fmt: skip
def test_which_relations_a_branch_uses(item, uses):
    made = solved(things(x=item), flows={**FLOWS, item.path: 0.01})
    found = [(u.function.__name__, u.arguments) for u in ranges._uses(made, item.path, item)]
    assert [name for name, _ in found] == [name for name, _ in uses]
    for (_, here), (_, wanted) in zip(found, uses, strict=True):
        assert here == pytest.approx(wanted)


# --- resistances --------------------------------------------------------------------------------


@pytest.mark.parametrize(("values", "slow", "which"), [
    ((15.0, 14.0, 13.0), True, "too good"), ((15.0, 14.0, 13.0), False, "on the safe side"),
    ((13.0, 14.0, 12.0), True, "a guess"), ((13.0, 12.0, 12.5), False, "a guess"),
    ((13.0, 14.0, 12.0), False, "on the safe side"), ((13.0, 12.0, 12.5), True, "too good"),
    ((13.0, 13.0), True, "too good"), ((13.0, 13.0), False, "on the safe side"),
])  # fmt: skip
def test_what_holding_an_end_of_a_table_means(values, slow, which):
    rows = tuple((float(i), value) for i, value in enumerate(values))
    assert resistances._which(rows, slow).startswith(which)


@pytest.mark.parametrize(("keys", "value"), [
    ({"resistance": "0.5 K/W"}, 0.5), ({"resistance": "0.5 K/W", "resistance_factor": 2.0}, 1.0),
    ({"chain": [["a", "0.3 K/W"], ["b", "0.5 K/W"]]}, 0.5), ({}, math.nan),
    ({"resistance_law": {"a": "1 K/W", "b": "1 K/W", "n": 1, "velocity": "1 m/s"},
      "chain": [["a", "0.3 K/W"]], "stream": "fan.roof", "flow_area": "9 cm2"}, math.nan),
    ({"resistance_over_velocity": {"velocity": "1 2 m/s", "resistance": "2 1 K/W"},
      "chain": [["a", "0.3 K/W"]], "stream": "fan.roof", "flow_area": "9 cm2"}, math.nan),
])  # fmt: skip
def test_the_fixed_resistance_to_the_air(keys, value):
    part = Part(name="x", in_="upper", power="1 W", **keys)
    assert resistances._to_air(part) == pytest.approx(value, nan_ok=True)


@pytest.mark.parametrize(("margin", "over"), [
    (0.0, "part.drive"), (1.0, "part.drive"), (11.2, "part.drive"), (11.6, ""), (-0.1, ""),
])  # fmt: skip
def test_a_part_that_thin_air_brings_over_its_limit_is_named(margin, over):
    """180 W at 0.5 K/W: 45 W K/W x ((1.2 kg/m3 over 0.9088)^0.5 - 1) = 6.71 K; here 11.4 by 306 W."""
    made = fixed(306.0, limit="90 degC")
    rows = {"drive": {"margin": margin}}
    outside = Outside(temperature="25 degC", altitude="2000 m")
    made = solved(things(outside=outside, drive=made.case.parts["drive"]), parts=rows)
    found = numbers(made, "resistance-at-sea-level")
    assert found["change"] == pytest.approx(share(TWO_KM) * 0.5 * 306.0)
    assert 11.2 < found["change"] < 11.6
    assert found["over"] == over


def test_parts_that_cool_and_parts_that_heat_stand_apart():
    """Cold dense air makes it better: 1.32 kg/m3 at -6.1 degC."""
    found = numbers(fixed(180.0, "0 m", -6.1), "resistance-at-sea-level")
    ratio = SEA_LEVEL / (GAS * (ZERO - 6.1)) / 1.2
    assert (found["way"], found["it"]) == ("cooler", "it gets")
    assert found["change"] == pytest.approx(-share(ratio) * 0.5 * 180.0)


@pytest.mark.parametrize(("in_", "stream", "known"), [
    ("upper", "fan.roof", True), ("upper", None, False), ("fan.roof", None, True),
])  # fmt: skip
def test_the_density_past_a_part(in_, stream, known):
    part = Part(name="x", in_=in_, power="1 W", stream=stream)
    found = resistances._density_past(solved(things(x=part)), part)
    assert found == pytest.approx(MILD if known else math.nan, nan_ok=True)
