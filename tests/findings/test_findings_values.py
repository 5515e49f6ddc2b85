"""Every number and name that a finding tells, worked by hand from its sample, one case a line.

Air: R = 287.05 J/(kg K), cp = 1006 J/(kg K), 101 325 Pa; outside 25 degC, in the upper compartment
31.6 degC. The roof fan has 95 cm2 of flow area, 70 Pa shut off, 160 m3/h free, 2700 rpm.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from flownet.enclosure.branches import Filter, Opening, Slot, Vent
from flownet.enclosure.surroundings import Outside, Supply
from tests.findings import samples as s
from tests.findings import samples_drawing as drawing
from tests.findings import samples_fans as f
from tests.findings import samples_use as u
from tests.findings.build import (
    CP,
    FLOWS,
    SEA_LEVEL,
    ZERO,
    about,
    air_limit,
    axial,
    life_limit,
    noise_limit,
    part_limit,
    solved,
    things,
)

COOL, MILD = SEA_LEVEL / (287.05 * 298.15), SEA_LEVEL / (287.05 * 304.75)  # kg/m3
HOUR = 3600.0
THIN = 79501 / (287.05 * 304.75)  # at 2000 m, US Standard Atmosphere 1976
VELOCITY = 0.03 / MILD / 95e-4  # of the roof fan's air on its flow area


def short_lived(**life: Any) -> Any:
    """A fan of 50 000 h at 40 degC in air of 31.6 degC, with a limit it does not reach."""
    data = {"hours": 50000, "at": "40 degC", "factor_per_10K": 1.5, **life}
    return solved(things(type=axial(life=data)), limits=(life_limit("roof", 40000.0, 45000.0),))


def card(bound: float = 50.0) -> Any:
    """The air that leaves a card of a shelf at 52 degC; 0.01 kg/s pass each of three."""
    made = things(shelf=None, **{
        f"s{i}": Slot(name=f"s{i}", from_="lower", to="upper", area="30 cm2", loss=6.0)
        for i in range(3)
    })  # fmt: skip
    flows = {**FLOWS, **{f"slot.s{i}": 0.01 for i in range(3)}}
    hot = air_limit("", 52.0, bound)._replace(subject="slot.s1")
    return solved(made, flows=flows, limits=(hot,))


def louder() -> Any:
    """Two fans of 44 and 47 dBA with a limit 3 dB lower than both together."""
    made = things(second=s.roof(name="second"))
    flows = {**FLOWS, "fan.second": 0.0}
    return solved(made, flows=flows, fans={"fan.second": {"noise": 47.0}}, noise_distance=2.0,
                  limits=(noise_limit(48.8, 45.8),))  # fmt: skip


def slots(key: str, **holes: float) -> Any:
    """A slot with a hole of 60 cm2 in one of its states."""
    keys = {k: {"area": "60 cm2", "loss": v} for k, v in holes.items()}
    made = Slot(name="one", from_="lower", to="upper", area="30 cm2",
                loss=250.0 if key == "loss" else 6.0, **keys)  # fmt: skip
    return solved(things(one=made))


def rated(frequency: str, row: dict[str, Any], fan: dict[str, Any], ratio: float) -> Any:
    """The roof fan on 230 V, allowed 0.5 to 1.1 of its speed."""
    made = things(
        supply=Supply(name="mains", voltage="230 V", frequency=frequency),
        type=axial(speed_range="0.5 1.1", **row), roof=s.roof(**fan),
    )  # fmt: skip
    return solved(made, fans={"fan.roof": {"speed_ratio": ratio}})


def followed(drive: float, span: str = "0.3 0.9") -> Any:
    """A fan that follows the drive: 0 at 30, 0.25 at 40, 1 at 70 degC."""
    control = {"by": "part.drive", "temperature": "30 40 70 degC", "speed": "0 0.25 1.0"}
    made = things(type=axial(speed_range=span), roof=s.roof(speed_control=control))
    asked = min(max(drive - 30, 0) * 0.025, 0.25) + max(drive - 40, 0) * 0.025
    held = min(max(asked, 0.3), 0.9) if asked else 0.0
    return solved(made, parts={"drive": {"temperature": drive + ZERO}},
                  fans={"fan.roof": {"speed_ratio": held,
                                     "region": "normal" if held else "stopped"}})  # fmt: skip


def law(velocity: float, n: float = 0.6, factor: float = 1.0, b: float = 2.0) -> Any:
    """1 + 2 (v/2)^-0.6 K/W, given at 2 m/s and 1.2 kg/m3, in air of that density."""
    data = {"a": "1 K/W", "b": f"{b} K/W", "n": n, "velocity": "2 m/s"}
    return s.chip(velocity * 1.2 / MILD, stream="fan.roof", flow_area="100 cm2",
                  resistance_factor=factor, resistance_law=data)  # fmt: skip


def opened(**more: Any) -> Any:
    """The cabinet with more openings to the outside."""
    return solved(things(**more.pop("made", {})), **more)


# rule, sample, what it tells; "n": of so many findings the first
CASES: list[tuple[str, Any, dict[str, Any]]] = [
    # --- limits
    ("limit-part", lambda: solved(limits=(part_limit("drive", 92.0, 90.0),)), {
        "subject": "part.drive", "bound": 90 + ZERO, "outside": 298.15, "over": 2.0}),
    ("limit-air", s.FIRES["limit-air"][0], {
        "subject": "compartment.upper", "over": 2.0, "bound": 50 + ZERO, "air": "its air"}),
    ("limit-air", card, {
        "subject": "slot.s1", "over": 2.0, "heat": 0.01 * CP * 2.0, "times": 27 / 25,
        "gain": 27.0, "again": "0 %", "air": "the air that leaves it"}),
    ("limit-air", lambda: card(25.0), {"times": math.nan, "over": 27.0}),
    ("limit-noise", louder, {
        "subject": "total.noise", "over": 3.0, "bound": 45.8, "distance": 2.0,
        "loudest": "fan.second", "level": 47.0}),
    ("limit-life", short_lived, {
        "subject": "fan.roof", "value": 40000.0, "bound": 45000.0, "short": 5000.0, "kind": "L10",
        "factor": 1.5, "air": 31.6 + ZERO,
        "needed": 31.6 + ZERO - 10 * math.log(45 / 40) / math.log(1.5)}),
    ("limit-life", lambda: short_lived(factor_per_10K=1.0, kind="mean"), {
        "needed": math.nan, "kind": "mean", "factor": 1.0}),
    # --- fans
    ("fan-stall", s.FIRES["fan-stall"][0], {
        "subject": "fan.roof", "flow": 42 / HOUR, "peak": 50 / HOUR, "rise": 44.0}),
    ("fan-past-free-delivery", lambda: s.humped("past-free-delivery", 121.0), {
        "flow": 121 / HOUR, "last": 110 / HOUR, "rise": 44.0, "left": 0.0}),
    ("fan-backflow", s.two_fans, {"subject": "fan.weak", "rise": 46.0}),
    ("fans-opposed", s.beside_turned, {
        "subject": "fan.turned", "turned": "fan.turned", "others": "fan.roof",
        "flow": 0.025 / COOL}),
    ("fans-opposed", s.head_on, {
        "subject": "fan.roof", "way": "into", "flow": 0.002 / COOL,
        "fans": "fan.roof and fan.front"}),
    ("outlet-missing", s.blown_in, {
        "subject": "enclosure", "way": "in", "other": "out", "flow": 0.004 / COOL,
        "free": 320 / HOUR, "rise": 65.0, "area": 190e-4,
        "hole": 0.004 / (0.61 * math.sqrt(2 * 65.0 * MILD))}),
    ("failed-fan-sealed", s.FIRES["failed-fan-sealed"][0], {
        "subject": "fan.second", "scenario": "one-closed", "out": "fan.second-out"}),
    ("draught-against-fan", lambda: s.downward(65.0, 10.0), {"subject": "fan.roof", "rise": 10.0}),
    # --- fans and their data
    ("bearing-unsuited", lambda: f.one(f.SLEEVE, f.UP), {
        "subject": "fan.roof", "shaft": "vertical", "permitted": "horizontal",
        "warm": 31.6 + ZERO, "type": "fan_type.axial"}),
    ("fan-air-range", lambda: f.one(f.RANGE, warm=f.HOT), {
        "warm": 60.5 + ZERO, "bound": 60 + ZERO, "away": 0.5, "type": "fan_type.axial"}),
    ("fan-air-range", lambda: f.one({"air_range": "35 60 degC"}), {"bound": 35 + ZERO}),
    ("speed-below-minimum", lambda: followed(34.0), {
        "subject": "fan.roof", "asked": 0.1, "by": "part.drive", "warm": 34 + ZERO, "bound": 0.3,
        "end": "lowest", "type": "fan_type.axial"}),
    ("speed-below-minimum", lambda: followed(69.0), {
        "asked": 0.975, "bound": 0.9, "end": "highest"}),
    ("life-kinds-mixed", lambda: f.two("mean"), {
        "subject": "fan.second", "means": "fan.second", "tenths": "fan.roof"}),
    ("curve-total-pressure", lambda: f.one({"curve_pressure": "total"}), {
        "subject": "fan.roof", "lost": MILD * VELOCITY**2 / 2}),
    ("curve-two-points", s.FIRES["curve-two-points"][0], {
        "subject": "fan_type.axial", "rise": 70.0, "flow": 160 / HOUR}),
    ("curve-ends-above-zero", s.FIRES["curve-ends-above-zero"][0], {
        "subject": "fan_type.axial", "rise": 30.0, "flow": 120 / HOUR}),
    ("curve-density-assumed", s.FIRES["curve-density-assumed"][0], {
        "subject": "fan_type.axial", "density": COOL, "standard": 1.2}),
    ("flow-unit-suspect", lambda: s.sibling(flow="0 136 271.8 m3/h"), {
        "subject": "fan_type.axial", "own": 160 / HOUR, "theirs": 271.8 / HOUR,
        "names": "fan_type.other", "meant": "CFM", "read": "m3/h"}),
    ("flow-unit-suspect", lambda: s.sibling(rise="686 400 0 Pa"), {
        "own": 70.0, "theirs": 686.0, "meant": "mmH2O",
        "read": "Pa"}),
    ("flow-unit-suspect", lambda: s.sibling(rise="1778 400 0 Pa"), {
        "meant": "inH2O", "read": "mmH2O", "factor": 25.4}),
    ("altitude-counted-twice", lambda: s.derated(0.77), {
        "subject": "fan.roof", "factor": 0.77}),
    # --- what stands close: D = sqrt(4 A / pi) of 75 cm2, one head of 0.03 kg/s on it
    ("clearance-tight", lambda: s.close(inlet="30 mm"), {
        "subject": "fan.roof", "own": 0.03, "bound": 0.04, "loss": 75e-4 / (4 * math.pi * 0.03**2),
        "cost": 75e-4 / (4 * math.pi * 0.03**2) * (0.03 / 75e-4) ** 2 / (2 * MILD)}),
    ("clearance-tight", lambda: s.close(outlet="20 mm"), {
        "own": 0.02, "bound": 0.04, "loss": 75e-4 / (4 * math.pi * 0.02**2) - 1}),
    ("clearance-tight", lambda: s.close(frame=None, inlet="30 mm"), {
        "bound": math.sqrt(4 * 75e-4 / math.pi) / 3}),
    ("clearance-tight", lambda: s.close(opening="100 cm2"), {
        "own": 100e-4, "bound": 150e-4, "loss": 0.75**2 - 0.25}),  # K = (A/A_o)^2 - 1/4
    ("clearance-tight", lambda: s.close(clutter=0.5), {"own": "50 %", "bound": "40 %"}),
    ("clearance-not-used", s.FIRES["clearance-not-used"][0], {
        "subject": "fan.roof", "names": "fan.roof"}),
    # --- losses
    ("loss-area-suspect", lambda: s.vented(loss=250.0), {
        "subject": "vent.side", "key": "loss", "loss": 250.0, "area": 50e-4}),
    ("loss-area-suspect", lambda: s.vented(discharge_coefficient=0.05), {
        "key": "discharge_coefficient", "loss": 400.0, "hole": 0.05 * 50e-4 / 0.61}),
    ("loss-area-suspect", lambda: solved(things(gap=Opening(
        name="gap", from_="upper", to="outside", area="50 cm2", loss=250.0))), {
        "subject": "opening.gap", "key": "loss"}),
    ("loss-area-suspect", lambda: slots("loss"), {"key": "loss", "area": 30e-4}),
    ("loss-area-suspect", lambda: slots("filler", filler=250.0), {
        "subject": "slot.one", "key": "filler.loss", "loss": 250.0, "area": 60e-4}),
    ("loss-area-suspect", lambda: slots("empty", empty=0.01), {
        "key": "empty.loss", "hole": 60e-4 / (0.61 * 0.1)}),
    ("loss-counted-twice", lambda: u.on_fan(1.0), {
        "subject": "fan.roof", "key": "guard.loss", "loss": 1.0}),
    ("loss-counted-twice", lambda: u.on_fan(0.0, u.mouth(0.5, "95 cm2")), {
        "subject": "vent.mouth", "key": "loss", "loss": 0.5}),
    ("loss-counted-twice", s.FIRES["loss-counted-twice"][0], {
        "subject": "vent.grille", "area": 95e-4, "fan": "fan.roof", "hole": 90e-4}),
    ("tiny-flow", lambda: s.vented(reynolds=299.0), {
        "subject": "vent.side", "least": 299.0, "names": "vent.side", "turbulent": 300.0}),
    ("tiny-flow", lambda: opened(branches={"baffle.shelf": {"reynolds": 90.0}, "vent.side": {
        "reynolds": 80.0}}, flows={**FLOWS, "vent.side": 0.001}, made={"side": Vent(
            name="side", from_="upper", to="outside", area="50 cm2", loss=2.5)}), {
        "subject": "vent.side", "least": 80.0, "names": "vent.side and baffle.shelf"}),
    # --- noise, supplies, outages
    ("noise-distance-missing", lambda: u.heard(u.AT, distance=None), {
        "subject": "limits.noise_dBA", "level": 50.0, "usual": 1.0}),
    ("noise-distance-missing", lambda: u.heard(None), {
        "subject": "fan_type.axial.noise_dBA", "types": "fan_type.axial"}),
    ("noise-free-air", lambda: u.heard(u.AT, level=45.1), {
        "subject": "fan_type.axial.noise_dBA", "types": "fan_type.axial", "margin": 4.9}),
    ("supply-mismatch", lambda: u.fed("18 V", None, **u.DIRECT), {
        "subject": "fan.roof", "type": "fan_type.axial", "supply": "supply.mains",
        "here": "18 V dc", "own": "24 V dc"}),
    ("shared-supply", lambda: u.outage("fan.second-out", "each-fan-out"), {
        "stopped": "fan.second", "running": "fan.roof", "out": "supply.mains-out"}),
    ("outage-not-at-worst", lambda: u.outage("fan.second-out", "hot", "dirty", "each-fan-out"), {
        "subject": "limits.scenarios", "scenario": "fan.second-out", "outside": 298.15,
        "hottest": 313.15, "fouling": 1.0, "dirtiest": 2.0}),
    # --- outlines
    ("outlines-overlap", lambda: drawing.drawn("0 898.9 800 900 mm"), {
        "subject": "compartment.lower", "wide_0": 0.8, "high_0": 0.0011, "part_0": "under 1 %"}),
    ("outlines-overlap", lambda: drawing.drawn("0 890 800 900 mm"), {
        "high_0": 0.01, "part_0": "1 %"}),
    ("beyond-enclosure", lambda: drawing.drawn("0 900 900 950 mm"), {
        "subject": "compartment.upper.outline", "by_0": 0.1, "wide": 0.8, "tall": 1.8}),
    # --- filters and fitted drops
    ("filter-missing", s.FIRES["filter-missing"][0], {
        "subject": "vent.open", "flow": 0.0253, "names": "vent.open"}),
    ("filter-bypass", lambda: s.leaky(0.14), {
        "subject": "leak.seal", "share": "14 %", "names": "leak.seal"}),
    ("loaded-filter-not-tried", lambda: solved(scenarios={}), {
        "subject": "filter.intake", "drop": 10.0, "more": "0"}),
    ("loaded-filter-not-tried", lambda: opened(scenarios={}, made={"mat": Filter(
        name="mat", on="fan.roof", area="450 cm2",
        velocity_drop={"velocity": "0.5 2 m/s", "drop": "18 108 Pa"})}), {
        "subject": "filter.intake", "more": "1"}),
    ("drop-fit-misses", lambda: s.measured("40 41 42 Pa"), {
        "subject": "filter.intake", "names": "filter.intake", "side": "little"}),
    # --- ways of the air
    ("no-through-air", s.sealed, {
        "subject": "compartment.box", "places": "compartment.box", "heat": 30.0, "rise": 27.0}),
    ("exhaust-near-intake", lambda: s.same_face("0 270 mm"), {
        "subject": "fan.roof", "intake": "filter.intake"}),
    ("slot-empty", lambda: s.shelf("fitted", "empty", "empty"), {
        "subject": "slot.s1", "names": "slot.s1 and slot.s2", "stand": "stand",
        "share": "89 %", "cards": "slot.s0"}),
    ("slot-empty", lambda: s.shelf("fitted", "filler", "empty"), {
        "subject": "slot.s2", "stand": "stands", "cards": "slot.s0"}),
    # --- ranges, resistances, powers
    ("range-of-validity", lambda: s.face(-2.4), {
        "subject": "filter.intake", "velocity": 2.4, "last": 2.0}),
    ("range-of-validity", lambda: s.vented(open_ratio=0.015), {
        "subject": "vent.side", "argument": "open ratio"}),
    ("resistance-out-of-range", lambda: s.chip(-0.4), {
        "subject": "part.chip", "velocity": 0.4, "density": MILD, "reference": 1.2,
        "read": 0.4 * MILD / 1.2, "low": 1.0, "high": 3.0, "side": "below"}),
    ("resistance-out-of-range", lambda: s.chip(3.5), {
        "side": "above", "which": "on the safe side"}),
    ("resistance-out-of-range", lambda: law(0.15), {
        "subject": "part.chip", "read": 0.15, "given": 2.0, "end": 0.2,
        "held": 1 + 2 * (0.15 / 2) ** -0.6, "how": "what it goes on to"}),
    ("resistance-out-of-range", lambda: law(0.05, factor=2.0), {
        "end": 0.2, "held": 2 * (1 + 2 * 0.05**-0.6), "how": "held",
        "side": "below a tenth of that"}),
    ("resistance-out-of-range", lambda: law(21.0), {
        "end": 20.0, "held": 1 + 2 * 10.5**-0.6, "how": "what it goes on to",
        "side": "above ten times that"}),
    ("resistance-at-sea-level", s.alike, {
        "n": 2, "subject": "part.drive", "resistance": 0.5, "density": THIN, "way": "hotter",
        "it": "it gets", "keep": "keeps", "over": ""}),
    ("board-value-resistance", lambda: s.chip(basis=" Board-Data-Sheet ", resistance="20 K/W"), {
        "subject": "part.chip", "own": 40.0}),
    ("power-not-heat", lambda: u.heating(power="600 W", power_basis="nameplate"), {
        "subject": "part.psu", "power": 600.0, "typical": 0.9}),
    ("power-not-heat", lambda: u.heating(output="600 W", efficiency=0.11), {
        "subject": "part.psu", "output": 600.0, "efficiency": 0.11}),
    ("power-not-heat", lambda: u.heating(output="600 W", efficiency=1.0), {
        "heat": 0.0, "meant": 0.0}),
    # --- site
    ("thin-air", lambda: s.site(altitude="2000 m"), {
        "subject": "outside", "pressure": 79501.0}),
    ("condensation", lambda: s.damp(cold=19.0), {
        "subject": "compartment.lower", "cold": 19 + ZERO, "place": "the outside air"}),
    ("condensation", s.FIRES["condensation"][1], {
        "n": 1, "subject": "wall.door", "cold": 5 + ZERO}),
    ("condensation", lambda: solved(things(  # the damper of both: 19.4 degC here, 22 degC there
        outside=Outside(temperature="35 degC", relative_humidity=0.4), hall=Outside(
            name="hall", temperature="25 degC", dew_point="22 degC")), warm={
        "lower": 21.0, "upper": 40.0}), {"place": "outside.hall", "dew": 22 + ZERO}),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "sample", "told"), CASES, ids=[c[0] for c in CASES])
def test_what_a_finding_tells(rule, sample, told):
    found = about(sample(), rule)
    assert len(found) == told.get("n", 1)
    values = {key: value for key, (_, value) in found[0].values.items()}
    for key, value in told.items():
        same = value if isinstance(value, str) else pytest.approx(value, rel=1e-5, nan_ok=True)
        assert key == "n" or values[key] == same, key
