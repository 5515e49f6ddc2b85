"""For every rule a case that fires it, and one just short of that. Invented data throughout."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

from flownet.enclosure.branches import Duct, Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.fans import Fan
from flownet.enclosure.heat import Exchange, Part, Recirculation
from flownet.enclosure.surroundings import Body, Compartment, Limits, Outside, Supply
from flownet.results.solution import Solution
from tests.findings.build import (
    DIRTY,
    FLOWS,
    HUMP,
    WARM,
    air_limit,
    axial,
    flow_limit,
    life_limit,
    noise_limit,
    panel,
    part_limit,
    solved,
    things,
)

Sample = Callable[[], Solution]
FIRES: dict[str, list[Sample]] = {}
SILENT: dict[str, list[Sample]] = {}


def fires(rule: str, sample: Sample) -> Sample:
    """A sample on which a rule has something to say."""
    FIRES.setdefault(rule, []).append(sample)
    return sample


def silent(rule: str, sample: Sample) -> Sample:
    """A near miss, on which it has not."""
    SILENT.setdefault(rule, []).append(sample)
    return sample


def roof(**changed: Any) -> Fan:
    """The fan in the roof."""
    given = {"from_": "upper", "to": "outside", "type": "axial", "supply": "mains"}
    return Fan(**{"name": "roof", **given, **changed})


def limits(**given: Any) -> Limits:
    """Limits that hold in base and with a dirty filter."""
    return Limits(**{"scenarios": ["base", "dirty"], **given})


# --- limits -------------------------------------------------------------------------------------

fires("limit-part", lambda: solved(limits=(part_limit("drive", 92.0, 90.0),)))
silent("limit-part", lambda: solved(limits=(part_limit("drive", 90.0, 90.0),)))
fires("limit-air", lambda: solved(limits=(air_limit("upper", 52.0, 50.0),)))
silent("limit-air", lambda: solved(limits=(air_limit("upper", 49.9, 50.0),)))
fires("limit-flow", lambda: solved(limits=(flow_limit(0.019, 0.02),)))
silent("limit-flow", lambda: solved(limits=(flow_limit(0.02, 0.02),)))
fires("limit-noise", lambda: solved(limits=(noise_limit(44.0, 41.0),)))
silent("limit-noise", lambda: solved(limits=(noise_limit(41.0, 41.0),)))
fires("limit-life", lambda: solved(limits=(life_limit("roof", 33333.0, 50000.0),)))
silent("limit-life", lambda: solved(limits=(life_limit("roof", 50000.0, 50000.0),)))

# --- fans ---------------------------------------------------------------------------------------


def humped(region: str, flow: float, **more: Any) -> Solution:
    """The roof fan on a curve with a dip, passing so many m3/h."""
    made = things(type=axial(curve=HUMP))
    return solved(
        made, branches={"fan.roof": {"volume_flow": flow / 3600}},
        fans={"fan.roof": {"region": region, "rise": 44.0}}, **more,
    )  # fmt: skip


fires("fan-stall", lambda: humped("stall", 42.0))
silent("fan-stall", lambda: humped("normal", 55.0))


def beside(*others: Solution) -> Solution:
    """The roof fan right of its dip, with other states that were found."""
    return dataclasses.replace(
        humped("normal", 55.0), points=1 + len(others), others=others,
        limits=(part_limit("drive", 80.0, 90.0),),
    )  # fmt: skip


def elsewhere(region: str, flow: float, *, stable: bool = True, **more: Any) -> Solution:
    """Another state of the roof fan, with the drive hotter."""
    found = humped(region, flow, limits=(part_limit("drive", 87.0, 90.0),), **more)
    return dataclasses.replace(found, balance_={**found.balance_, "stable": stable})


HOT = {"lower": 25.0, "upper": 40.0}
fires("other-operating-point", lambda: beside(elsewhere("stall", 30.0)))
fires("other-operating-point", lambda: beside(elsewhere("backflow", -12.0)))
fires("other-operating-point", lambda: beside(elsewhere("normal", 55.0, warm=HOT)))
silent("other-operating-point", lambda: beside(elsewhere("stall", 30.0, stable=False)))
silent("other-operating-point", lambda: beside(elsewhere("normal", 55.5)))
silent("other-operating-point", beside)
fires("fan-past-free-delivery", lambda: humped("past-free-delivery", 121.0))
silent("fan-past-free-delivery", lambda: humped("normal", 109.0))


def two_fans(
    second: Fan | None = None, flow: float = -0.008, rise: float = 46.0, region: str = "backflow"
) -> Solution:
    """A strong fan and a small one side by side in the roof; the small one is driven back."""
    small = axial("small", curve={"flow": "0 30 60 m3/h", "rise": "30 20 0 Pa"})
    made = things(small=small, weak=second or roof(name="weak", type="small"))
    flows = {"filter.intake": 0.03, "baffle.shelf": 0.03, "fan.roof": 0.03 - flow, "fan.weak": flow}
    return solved(
        made, flows=flows, fans={"fan.weak": {"region": region, "rise": rise}}
    )  # fmt: skip


fires("fan-backflow", two_fans)
FLAP = {"open_loss": 0.5, "closed_leak": 0.01}
fires("fan-backflow", lambda: two_fans(roof(name="weak", type="small", shutter=FLAP), flow=-1e-4))
silent("fan-backflow", lambda: two_fans(flow=0.002, rise=25.0, region="normal"))
silent("fan-backflow", lambda: two_fans(
    roof(name="weak", type="small", state="stopped"), region="stopped"))  # fmt: skip


def head_on(**second: Any) -> Solution:
    """An inlet fan and a roof fan; by default the roof fan is mounted the wrong way round."""
    made = things(
        intake=None, front=roof(name="front", from_="outside", to="lower"),
        roof=roof(**{"mounted": "reversed", **second}),
        seam=Leak(name="seam", from_="upper", to="outside", flow_at=["2 m3/h", "10 Pa"]),
    )  # fmt: skip
    flows = {"fan.front": 0.002, "baffle.shelf": 0.002, "fan.roof": 0.0015, "leak.seam": 0.0005}
    return solved(made, flows=flows, scenarios={})


fires("fans-opposed", head_on)
silent("fans-opposed", lambda: head_on(mounted="forward"))


def beside_turned(**turned: Any) -> Solution:
    """Two fans in the roof; by default the second is mounted the wrong way round."""
    made = things(turned=roof(**{"name": "turned", "mounted": "reversed", **turned}))
    flows = {"filter.intake": 0.01, "baffle.shelf": 0.01, "fan.roof": 0.035, "fan.turned": -0.025}
    return solved(made, flows=flows, scenarios={})


fires("fans-opposed", beside_turned)
silent("fans-opposed", lambda: beside_turned(state="stopped"))
silent("fans-opposed", lambda: beside_turned(mounted="forward"))


def blown_in(hole: str = "12 cm2", flow: float = 0.004, drop: float = 65.0) -> Solution:
    """Two fans blow in, an opening lets out."""
    made = things(
        intake=None, roof=None, left=roof(name="left", from_="outside", to="lower"),
        right=roof(name="right", from_="outside", to="lower"),
        gap=Opening(name="gap", from_="upper", to="outside", area=hole),
    )  # fmt: skip
    flows = {"fan.left": flow / 2, "fan.right": flow / 2, "baffle.shelf": flow, "opening.gap": flow}
    rise = {"rise": drop}
    return solved(
        made, flows=flows, branches={"opening.gap": {"drop": drop}}, scenarios={},
        fans={"fan.left": rise, "fan.right": rise},
    )  # fmt: skip


fires("outlet-missing", blown_in)
silent("outlet-missing", lambda: blown_in("200 cm2", 0.06, 20.0))


def covered(**scenario: Any) -> Solution:
    """A second fan that a scenario takes out."""
    made = things(second=roof(name="second"))
    flows = {"filter.intake": 0.03, "baffle.shelf": 0.03, "fan.roof": 0.03, "fan.second": 0.0}
    return solved(
        made, flows=flows, gauge={"upper": -30.0}, scenario="one-closed",
        scenarios={**DIRTY, "one-closed": scenario},
    )  # fmt: skip


fires("failed-fan-sealed", lambda: covered(**{"fan.second.state": "blanked"}))
silent("failed-fan-sealed", lambda: covered(**{"fan.second.state": "stopped"}))


def downward(warm: float, rise: float) -> Solution:
    """The roof fan blows in, warm air leaves below."""
    made = things(
        roof=roof(mounted="reversed", at="400 1800 mm"), intake=None,
        low=Vent(name="low", from_="lower", to="outside", area="450 cm2", loss=2.5, at="0 0 mm"),
    )  # fmt: skip
    flows = {"fan.roof": -0.03, "baffle.shelf": -0.03, "vent.low": 0.03}
    return solved(
        made, flows=flows, warm={"lower": warm, "upper": warm}, scenarios={},
        branches={"vent.low": {"drop": 2.0}},
        fans={"fan.roof": {"rise": rise}},
    )  # fmt: skip


def hunting() -> Solution:
    """A state that does not hold by itself."""
    found = downward(65.0, 13.0)
    return dataclasses.replace(found, balance_={**found.balance_, "stable": False})


fires("unstable-state", hunting)
silent("unstable-state", lambda: downward(65.0, 13.0))
fires("draught-against-fan", lambda: downward(65.0, 10.0))
silent("draught-against-fan", lambda: downward(65.0, 13.0))

# --- ways of the air ----------------------------------------------------------------------------


def sealed(**more: Any) -> Solution:
    """A compartment with a wall and no opening."""
    made = things(
        box=Compartment(name="box"), heat=Part(name="heat", in_="box", power="30 W"),
        side=panel(name="side", from_="box"), **more,
    )  # fmt: skip
    flows = {**FLOWS, "vent.in": 0.01, "vent.out": 0.01, "vent.only": 0.0}
    return solved(made, flows=flows, warm={**WARM, "box": 52.0})


fires("no-through-air", sealed)
fires("no-through-air", lambda: sealed(
    only=Vent(name="only", from_="outside", to="box", area="50 cm2", loss=2.5)))  # fmt: skip
silent("no-through-air", lambda: sealed(
    way=Opening(name="in", from_="outside", to="box", area="50 cm2"),
    out=Opening(name="out", from_="box", to="outside", area="50 cm2")))  # fmt: skip
silent("no-through-air", lambda: sealed(
    one=Vent(name="in", from_="outside", to="box", area="50 cm2", loss=2.5),
    two=Vent(name="out", from_="box", to="outside", area="50 cm2", loss=2.5)))  # fmt: skip


def same_face(at: str, *loops: Recirculation) -> Solution:
    """The exhaust fan moved to `at`; the intake is low on the left face."""
    return solved(things(roof=roof(at=at), **{loop.name: loop for loop in loops}))


fires("exhaust-near-intake", lambda: same_face("0 270 mm"))
silent("exhaust-near-intake", lambda: same_face("800 270 mm"))
silent("exhaust-near-intake", lambda: same_face("0 270 mm", Recirculation(
    name="round", from_="fan.roof", to="filter.intake", fraction=0.0)))  # fmt: skip


def shelf(*states: str) -> Solution:
    """Card slots side by side in place of the shelf; an empty one takes four parts of the air."""
    hole = {"area": "60 cm2", "loss": 2.7}
    slots = {
        f"s{i}": Slot(name=f"s{i}", from_="lower", to="upper", area="30 cm2", loss=6.0, empty=hole,
                      filler=hole, state=state)
        for i, state in enumerate(states)
    }  # fmt: skip
    parts = [4.0 if state == "empty" else 1.0 for state in states]
    flows = {f"slot.s{i}": 0.03 * part / sum(parts) for i, part in enumerate(parts)}
    made = things(shelf=None, **slots)
    return solved(made, flows={"filter.intake": 0.03, "fan.roof": 0.03, **flows})


fires("slot-empty", lambda: shelf("fitted", "fitted", "empty"))
silent("slot-empty", lambda: shelf("fitted", "fitted", "filler"))


def vented(flow: float = 0.005, reynolds: float = 5000.0, **vent: Any) -> Solution:
    """A vent beside the roof fan, letting air out."""
    given = {"name": "side", "from_": "upper", "to": "outside", "area": "50 cm2"}
    made = things(side=Vent(**{**given, **(vent or {"loss": 2.5})}))
    flows = {**FLOWS, "fan.roof": 0.03 - flow, "vent.side": flow}
    return solved(made, flows=flows, branches={"vent.side": {"reynolds": reynolds}})


fires("loss-area-suspect", lambda: vented(loss=250.0))
fires("loss-area-suspect", lambda: vented(loss=0.04))
fires("loss-area-suspect", lambda: vented(discharge_coefficient=0.05))
silent("loss-area-suspect", lambda: vented(loss=100.0))
silent("loss-area-suspect", lambda: vented(loss=0.05))
fires("tiny-flow", lambda: vented(reynolds=299.0))
silent("tiny-flow", lambda: vented(reynolds=301.0))
silent("tiny-flow", lambda: vented(reynolds=150.0, open_ratio=0.4, hole="5 mm"))
silent("tiny-flow", lambda: vented(flow=0.0, reynolds=150.0))

# --- filters ------------------------------------------------------------------------------------

fires("filter-missing", lambda: solved(things(
    limits=limits(intake_filter="required"), intake=Vent(
        name="open", from_="outside", to="lower", area="450 cm2", loss=2.5)),
    flows={"vent.open": 0.03, "baffle.shelf": 0.03, "fan.roof": 0.03}, scenarios={},
))  # fmt: skip
silent("filter-missing", lambda: solved(things(limits=limits(intake_filter="required"))))


def leaky(share: float, **more: Any) -> Solution:
    """A door seal that lets in this share of the air."""
    made = things(
        seal=Leak(name="seal", from_="outside", to="upper", flow_at=["5 m3/h", "10 Pa"]), **more
    )
    flows = {"leak.seal": 0.03 * share, "filter.intake": 0.03 * (1 - share),
             "baffle.shelf": 0.03 * (1 - share), "fan.roof": 0.03}  # fmt: skip
    return solved(made, flows=flows)


fires("filter-bypass", lambda: leaky(0.14))
fires("filter-bypass", lambda: leaky(0.16))
silent("filter-bypass", lambda: leaky(0.049))
silent("filter-bypass", lambda: leaky(0.14, limits=limits(intake_filter="none")))
fires("loaded-filter-not-tried", lambda: solved(scenarios={}))
fires("loaded-filter-not-tried", lambda: solved(scenarios={"dirty": {"filter.*.fouling": 1.0}}))
silent("loaded-filter-not-tried", lambda: solved(scenarios={"dirty": {"filter.*.fouling": 1.5}}))

# --- parts --------------------------------------------------------------------------------------


def chip(velocity: float = 1.5, **given: Any) -> Solution:
    """A part with a resistance over velocity in the stream of the roof fan."""
    usual: dict[str, Any] = {
        "resistance_over_velocity": {"velocity": "1 2 3 m/s", "resistance": "15.5 14.3 13.5 K/W"},
        "stream": "fan.roof", "flow_area": "100 cm2",
    }  # fmt: skip
    part = Part(**{"name": "chip", "in_": "upper", "power": "2 W", **(given or usual)})
    return solved(
        things(chip=part),
        parts={"chip": {"velocity": velocity, "temperature": 273.15 + 31.6 + 40.0}},
    )


fires("board-value-resistance", lambda: chip(basis="board-data-sheet", resistance="20 K/W"))
silent("board-value-resistance", lambda: chip(basis="measured in place", resistance="20 K/W"))
fires("resistance-out-of-range", lambda: chip(0.4))
fires("resistance-out-of-range", lambda: chip(3.5))
fires("resistance-out-of-range", lambda: chip(1.0))  # at 1.159 kg/m3, 0.97 at the table's 1.2
silent("resistance-out-of-range", lambda: chip(1.04))
silent("resistance-out-of-range", lambda: chip(3.2))  # a little faster: on the safe side

# --- site ---------------------------------------------------------------------------------------


def site(**outside: Any) -> Solution:
    """The cabinet at another place."""
    return solved(things(outside=Outside(**{"temperature": "25 degC", **outside})))


def alike(altitude: str = "2000 m", **keys: Any) -> Solution:
    """Three equal parts with a fixed resistance, and one that sits on the first."""
    pair = {"power": "60 W", "resistance": "0.5 K/W", **keys}
    return solved(things(
        outside=Outside(temperature="25 degC", altitude=altitude),
        drive=Part(name="drive", in_="upper", **pair), twin=Part(name="twin", in_="upper", **pair),
        third=Part(name="third", in_="upper", **pair),
        rider=Part(name="rider", in_="part.drive", power="30 W", resistance="2 K/W"),
    ))  # fmt: skip


fires("resistance-at-sea-level", alike)
fires("resistance-at-sea-level", lambda: alike(resistance=None, chain=[["case", "0.5 K/W"]]))
silent("resistance-at-sea-level", lambda: alike("0 m"))
silent("resistance-at-sea-level", lambda: alike(resistance="0.01 K/W"))
silent("resistance-at-sea-level", lambda: chip(1.5))
fires("thin-air", lambda: site(altitude="2000 m"))
silent("thin-air", lambda: site(pressure="96 kPa"))


def damp(humidity: float = 0.4, cold: float = 20.0, **more: Any) -> Solution:
    """Damp air at 35 degC comes into a cold lower compartment."""
    outside = Outside(temperature="35 degC", relative_humidity=humidity)
    return solved(things(outside=outside, **more), warm={"lower": cold, "upper": 40.0})


fires("condensation", lambda: damp(cold=19.0))
silent("condensation", lambda: damp(cold=20.0))
fires("condensation", lambda: damp(
    room=Outside(name="store", temperature="5 degC"), wall=panel(to="outside.store")))  # fmt: skip

# --- supplies and curves ------------------------------------------------------------------------

fires("supply-mismatch", lambda: solved(things(
    supply=Supply(name="mains", voltage="230 V", frequency="60 Hz"))))  # fmt: skip
silent("supply-mismatch", lambda: solved(things(
    supply=Supply(name="mains", voltage="232 V", frequency="50 Hz"))))  # fmt: skip


def derated(factor: float, altitude: str = "2000 m") -> Solution:
    """A pressure factor at a high site."""
    return solved(things(
        outside=Outside(temperature="25 degC", altitude=altitude), roof=roof(pressure_factor=factor)
    ))  # fmt: skip


fires("altitude-counted-twice", lambda: derated(0.77))
silent("altitude-counted-twice", lambda: derated(0.9))
silent("altitude-counted-twice", lambda: derated(1.0))
silent("altitude-counted-twice", lambda: derated(0.97, "0 m"))

TWO_POINTS = {"flow": "0 160 m3/h", "rise": "70 0 Pa"}
fires("curve-two-points", lambda: solved(things(type=axial(curve=TWO_POINTS))))
silent("curve-two-points", lambda: solved(things(
    type=axial(curve={"flow": "0 80 160 m3/h", "rise": "70 50 0 Pa"}))))  # fmt: skip
silent("curve-two-points", lambda: solved(things(
    unused=axial("unused", frame="92 x 25 mm", flow_area="60 cm2", curve=TWO_POINTS))))  # fmt: skip
fires("curve-ends-above-zero", lambda: solved(things(
    type=axial(curve={"flow": "0 80 120 m3/h", "rise": "70 50 30 Pa"}))))  # fmt: skip
silent("curve-ends-above-zero", solved)
fires("curve-density-assumed", lambda: solved(things(type=axial(reference_density=None))))
silent("curve-density-assumed", lambda: solved(things(type=axial(reference_density="1.15 kg/m3"))))
OFF = {"installation": "off"}
for side in ("inlet", "outlet"):
    fires("clearance-not-used", lambda side=side: solved(things(
        roof=roof(clearance={side: "60 mm"}, **OFF))))  # fmt: skip
silent("clearance-not-used", lambda: solved(things(roof=roof(clearance={"inlet": "15 mm"}))))
silent("clearance-not-used", lambda: solved(things(roof=roof(**OFF))))


def close(frame: str | None = "120 x 38 mm", **clearance: Any) -> Solution:
    """The roof fan, of 120 mm and 75 cm2 flow area, with things close to it."""
    made = axial(frame=frame, flow_area="75 cm2")
    return solved(things(type=made, roof=roof(clearance=clearance)))


fires("clearance-tight", lambda: close(inlet="39.9 mm"))
fires("clearance-tight", lambda: close(outlet="39.9 mm"))
fires("clearance-tight", lambda: close(frame=None, inlet="32 mm"))
fires("clearance-tight", lambda: close(opening="149 cm2"))
fires("clearance-tight", lambda: close(clutter=0.41))
silent("clearance-tight", lambda: close(inlet="40.1 mm", outlet="40.1 mm"))
silent("clearance-tight", lambda: close(opening="151 cm2", clutter=0.4))
silent("clearance-tight", lambda: close(frame=None, inlet="33 mm"))
silent("clearance-tight", lambda: solved(things(roof=roof(clearance={"inlet": "15 mm"}, **OFF))))
fires("loss-counted-twice", lambda: solved(things(
    roof=roof(clearance={"opening": "90 cm2"}),
    grille=Vent(name="grille", on="fan.roof", area="95 cm2", loss=2.2))))  # fmt: skip
silent("loss-counted-twice", lambda: solved(things(
    roof=roof(clearance={"opening": "150 cm2"}),
    grille=Vent(name="grille", on="fan.roof", area="95 cm2", loss=2.2))))  # fmt: skip


def sibling(flow: str = "0 80 160 m3/h", rise: str = "70 50 0 Pa", **changed: Any) -> Solution:
    """Another type of the same frame in the catalogue; the clean type has 70 Pa and 160 m3/h."""
    return solved(things(other=axial("other", curve={"flow": flow, "rise": rise}, **changed)))


fires("flow-unit-suspect", lambda: sibling(flow="0 136 271.8 m3/h"))
fires("flow-unit-suspect", lambda: sibling(rise="17437 9000 0 Pa"))
fires("flow-unit-suspect", lambda: sibling(rise="686 400 0 Pa"))
silent("flow-unit-suspect", lambda: sibling(flow="0 120 240 m3/h"))
silent("flow-unit-suspect", lambda: sibling(flow="0 136 271.8 m3/h", rise="202 120 0 Pa"))
silent(
    "flow-unit-suspect",
    lambda: sibling(flow="0 136 271.8 m3/h", frame="92 x 25 mm", flow_area="60 cm2"),
)

# --- range of validity --------------------------------------------------------------------------


def face(velocity: float) -> Solution:
    """The intake filter, measured up to 2 m/s, at another velocity."""
    return solved(branches={"filter.intake": {"velocity": velocity}})


def pipe(roughness: str) -> Solution:
    """A rough pipe of 80 mm beside the fan."""
    duct = Duct(name="pipe", from_="upper", to="outside", length="1 m", diameter="80 mm",
                roughness=roughness)  # fmt: skip
    return solved(things(pipe=duct), flows={**FLOWS, "fan.roof": 0.02, "duct.pipe": 0.01})


SCREEN = {"construction": "wire screen", "hole": "2 mm"}
fires("range-of-validity", lambda: face(2.4))
silent("range-of-validity", lambda: face(2.05))
fires("range-of-validity", lambda: vented(open_ratio=0.015))
silent("range-of-validity", lambda: vented(open_ratio=0.02))
fires("range-of-validity", lambda: vented(open_ratio=0.9, **SCREEN))
silent("range-of-validity", lambda: vented(open_ratio=0.5, **SCREEN))
fires("range-of-validity", lambda: pipe("4.1 mm"))
silent("range-of-validity", lambda: pipe("3.9 mm"))

# --- fitted drops -------------------------------------------------------------------------------


def measured(drop: str, **given: Any) -> Solution:
    """The intake filter with these drops at 0.5, 1 and 2 m/s."""
    rows = {"velocity": "0.5 1 2 m/s", "drop": drop}
    return solved(things(intake=Filter(
        name="intake", from_="outside", to="lower", area="450 cm2", at="0 150 mm",
        velocity_drop=rows, **given,
    )))  # fmt: skip


fires("drop-fit-misses", lambda: measured("40 41 42 Pa"))
fires("drop-fit-misses", lambda: measured("18 42 430 Pa"))
silent("drop-fit-misses", lambda: measured("18 42 108 Pa"))
silent("drop-fit-misses", lambda: measured("18 42 430 Pa", state="removed"))

# --- entries ------------------------------------------------------------------------------------


def required(flow: str, heat: float = 50.0, limit: str = "35 degC") -> Solution:
    """A stated flow for a heat and the rise from 25 degC to the lowest limit."""
    lower = Compartment(name="lower", outline="0 0 800 900 mm", air_limit=limit)
    upper = Compartment(name="upper", outline="0 900 800 900 mm", air_limit="70 degC")
    made = things(lower=lower, upper=upper, limits=limits(flow=flow))
    return solved(made, heat=heat)


fires("flow-degree-mix", lambda: required("15.8 CFM"))  # 3.16 x 50 / 10
fires("flow-degree-mix", lambda: required("2.646 CFM", 100.0, "60 degC"))  # 100 / (1.08 x 35)
silent("flow-degree-mix", lambda: required("8.8 CFM"))
silent("flow-degree-mix", lambda: required("13 CFM"))
fires("rise-looks-absolute", lambda: solved(things(limits=limits(margin="313 K"))))
silent("rise-looks-absolute", lambda: solved(things(limits=limits(margin="99 K"))))
fires("rise-looks-absolute", lambda: solved(things(
    drive=Part(name="drive", in_="upper", power="180 W", limit="20 degC"))))  # fmt: skip
silent("rise-looks-absolute", lambda: solved(things(
    drive=Part(name="drive", in_="upper", power="180 W", limit="25 degC"))))  # fmt: skip

fires("key-without-effect", lambda: chip(resistance="10 K/W", position=0.5))
fires("key-without-effect", lambda: chip(resistance="10 K/W", flow_area="50 cm2"))
fires("key-without-effect", lambda: vented(loss=2.5, construction="wire screen"))
fires("key-without-effect", lambda: vented(loss=2.5, hole="5 mm"))
fires("key-without-effect", lambda: solved(things(limits=limits(noise_field="hemisphere"))))
fires("key-without-effect", lambda: solved(things(body=Body(view="plan", up="left"))))
fires("key-without-effect", lambda: solved(things(wall=panel(emissivity=0.4))))
CONTROL = {"by": "part.drive", "temperature": "45 70 degC", "speed": "0.5 1.0"}
fires("key-without-effect", lambda: solved(things(roof=roof(speed=0.8, speed_control=CONTROL))))
silent("key-without-effect", lambda: solved(things(roof=roof(speed_control=CONTROL))))
silent("key-without-effect", chip)
silent("key-without-effect", lambda: vented(open_ratio=0.5, construction="wire screen"))
silent("key-without-effect", lambda: solved(things(
    limits=limits(noise_field="hemisphere", noise_dBA=60))))  # fmt: skip

# --- whole cases for the rest -------------------------------------------------------------------


def two_surroundings() -> Solution:
    """A second outside, an exchange, and elements on other branches."""
    made = things(
        aisle=Outside(name="aisle", temperature="30 degC"),
        mat=Filter(name="mat", on="fan.roof", area="200 cm2",
                   velocity_drop={"velocity": "0.5 2 m/s", "drop": "10 60 Pa"}),
        hatch=Vent(name="hatch", from_="upper", to="outside.aisle", area="50 cm2", loss=2.5),
        mix=Exchange(name="mix", between=["lower", "upper"], flow="0.002 m3/s"),
    )  # fmt: skip
    flows = {**FLOWS, "fan.roof": 0.025, "vent.hatch": 0.005}
    return solved(made, flows=flows, branches={"filter.mat": {"velocity": 1.0}})


def vacuum() -> Solution:
    """Nothing solved: every number is missing."""
    nothing = dict.fromkeys(("mass_flow", "volume_flow", "velocity", "drop", "heat", "density",
                             "reynolds", "outlet_temperature"), float("nan"))  # fmt: skip
    missing = dict.fromkeys(
        ("rise", "speed_ratio", "air_temperature", "power", "noise", "life"), float("nan")
    )
    return solved(
        flows={}, warm={}, branches=dict.fromkeys(FLOWS, nothing),
        fans={"fan.roof": {**missing, "region": -1}},
        parts={"drive": dict.fromkeys(("heat", "air_temperature", "temperature"), float("nan"))},
        heat=float("nan"), volume_flow=float("nan"), noise=float("nan"),
    )  # fmt: skip
