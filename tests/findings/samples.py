"""Cabinets in the states that rules speak of. Invented data throughout."""

from __future__ import annotations

import dataclasses
from typing import Any

from flownet.enclosure.branches import Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.fans import Fan
from flownet.enclosure.heat import Exchange, Part, Recirculation, SinkType, Sun, Wall
from flownet.enclosure.surroundings import Compartment, Limits, Outside
from flownet.results.solution import Solution
from flownet.schema.component import Thing
from tests.findings.build import (
    DIRTY,
    FLOWS,
    HUMP,
    WARM,
    ZERO,
    axial,
    dew_limit,
    panel,
    part_limit,
    solved,
    things,
)


def roof(**changed: Any) -> Fan:
    """The fan in the roof."""
    given = {"from_": "upper", "to": "outside", "type": "axial", "supply": "mains"}
    return Fan(**{"name": "roof", **given, **changed})


def limits(**given: Any) -> Limits:
    """Limits that hold in base and with a dirty filter."""
    return Limits(**{"scenarios": ["base", "dirty"], **given})


# --- limits -------------------------------------------------------------------------------------


# --- fans ---------------------------------------------------------------------------------------


def humped(region: str, flow: float, **more: Any) -> Solution:
    """The roof fan on a curve with a dip, passing so many m3/h."""
    made = things(type=axial(curve=HUMP))
    return solved(
        made, branches={"fan.roof": {"volume_flow": flow / 3600}},
        fans={"fan.roof": {"region": region, "rise": 44.0}}, **more,
    )  # fmt: skip


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


FLAP = {"open_loss": 0.5, "closed_leak": 0.01}


def head_on(**second: Any) -> Solution:
    """An inlet fan and a roof fan; by default the roof fan is mounted the wrong way round."""
    made = things(
        intake=None, front=roof(name="front", from_="outside", to="lower"),
        roof=roof(**{"mounted": "reversed", **second}),
        seam=Leak(name="seam", from_="upper", to="outside", flow_at=["2 m3/h", "10 Pa"]),
    )  # fmt: skip
    flows = {"fan.front": 0.002, "baffle.shelf": 0.002, "fan.roof": 0.0015, "leak.seam": 0.0005}
    return solved(made, flows=flows, scenarios={})


def beside_turned(**turned: Any) -> Solution:
    """Two fans in the roof; by default the second is mounted the wrong way round."""
    made = things(turned=roof(**{"name": "turned", "mounted": "reversed", **turned}))
    flows = {"filter.intake": 0.01, "baffle.shelf": 0.01, "fan.roof": 0.035, "fan.turned": -0.025}
    return solved(made, flows=flows, scenarios={})


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


def covered(state: str, gauge: float = -30.0) -> Solution:
    """A second fan that a scenario puts into a state."""
    made = things(second=roof(name="second"))
    flows = {"filter.intake": 0.03, "baffle.shelf": 0.03, "fan.roof": 0.03, "fan.second": 0.0}
    return solved(
        made, flows=flows, gauge={"upper": gauge}, scenario="one-closed",
        scenarios={**DIRTY, "one-closed": {"fan.second.state": state}},
    )  # fmt: skip


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


def hunting(stable: bool) -> Solution:
    """A state that does, or does not, hold by itself."""
    found = downward(65.0, 13.0)
    return dataclasses.replace(found, balance_={**found.balance_, "stable": stable})


# --- ways of the air ----------------------------------------------------------------------------


def sealed(**more: Any) -> Solution:
    """A compartment with a wall and no opening."""
    made = things(
        box=Compartment(name="box"), heat=Part(name="heat", in_="box", power="30 W"),
        side=panel(name="side", from_="box"), **more,
    )  # fmt: skip
    flows = {**FLOWS, "vent.in": 0.01, "vent.out": 0.01, "vent.only": 0.0}
    return solved(made, flows=flows, warm={**WARM, "box": 52.0})


def same_face(at: str, *loops: Recirculation) -> Solution:
    """The exhaust fan moved to `at`; the intake is low on the left face."""
    return solved(things(roof=roof(at=at), **{loop.name: loop for loop in loops}))


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


def vented(flow: float = 0.005, reynolds: float = 5000.0, **vent: Any) -> Solution:
    """A vent beside the roof fan, letting air out."""
    given = {"name": "side", "from_": "upper", "to": "outside", "area": "50 cm2"}
    made = things(side=Vent(**{**given, **(vent or {"loss": 2.5})}))
    flows = {**FLOWS, "fan.roof": 0.03 - flow, "vent.side": flow}
    return solved(made, flows=flows, branches={"vent.side": {"reynolds": reynolds}})


# --- filters ------------------------------------------------------------------------------------


def unfiltered() -> Solution:
    """A vent where a filter is required."""
    intake = Vent(name="open", from_="outside", to="lower", area="450 cm2", loss=2.5)
    made = things(limits=limits(intake_filter="required"), intake=intake)
    flows = {"vent.open": 0.03, "baffle.shelf": 0.03, "fan.roof": 0.03}
    return solved(made, flows=flows, scenarios={})


def leaky(share: float, **more: Any) -> Solution:
    """A door seal that lets in this share of the air."""
    made = things(
        seal=Leak(name="seal", from_="outside", to="upper", flow_at=["5 m3/h", "10 Pa"]), **more
    )
    flows = {"leak.seal": 0.03 * share, "filter.intake": 0.03 * (1 - share),
             "baffle.shelf": 0.03 * (1 - share), "fan.roof": 0.03}  # fmt: skip
    return solved(made, flows=flows)


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


COMB = SinkType(name="comb", base="81 x 100 mm", fins=21, fin="25 x 1 mm", material="aluminium")


def finned(velocity: float = 3.0, host: Any = None, **others: Thing | None) -> Solution:
    """A sink in a slot of its own, or elsewhere; without others all air goes that way."""
    host = host or Slot(name="fins", from_="lower", to="upper", sink="comb")
    base = Part(name="base", in_=host.path, sink="comb", power="20 W")
    made = things(**{"shelf": None, "comb": COMB, "host": host, "base": base, **others})
    flows = {"filter.intake": 0.03, host.path: 0.03, "fan.roof": 0.03}
    return solved(made, flows=flows, parts={"base": {"velocity": velocity}})


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


def damp(humidity: float = 0.4, cold: float = 20.0, **more: Any) -> Solution:
    """Damp air at 35 degC comes into a cold lower compartment."""
    outside = Outside(temperature="35 degC", relative_humidity=humidity)
    return solved(things(outside=outside, **more), warm={"lower": cold, "upper": 40.0})


def misted(above: float, outside: str = "12 degC", **more: Wall) -> Solution:
    """The lower compartment so far above a dew point of 10 degC, where 2 K are wanted."""
    around = Outside(temperature=outside, dew_point="10 degC")
    return solved(things(outside=around, **more), warm={"lower": 10.0 + above, "upper": 40.0},
                  limits=(dew_limit(above, 2.0),))  # fmt: skip


def sunny_height() -> Solution:
    """A roof in the sun of a clear sky, 2000 m up."""
    noon = Outside(temperature="25 degC", altitude="2000 m", latitude="45 deg", day=172, hour=12)
    lit = dataclasses.replace(faceless(), facing="up", sun=Sun(absorptance=0.5))
    return solved(things(outside=noon, roofing=lit))


def faceless() -> Wall:
    """A roof whose U is given."""
    return Wall(name="roof", from_="upper", to="outside", area="1 m2", u_value="5 W/(m2 K)")


def cold_face(inner: float) -> Solution:
    """A sheet of steel whose inner face is colder than the air on both sides, dew point 10 degC."""
    made = Wall(name="roof", from_="upper", to="outside", area="1 m2", thickness="1.5 mm",
                material="steel")  # fmt: skip
    outside = Outside(temperature="12 degC", dew_point="10 degC", sky="clear")
    return solved(things(outside=outside, roofing=made), warm={"lower": 12.0, "upper": 12.0},
                  walls={"roof": {"inside_temperature": inner + ZERO}})  # fmt: skip


# --- supplies and curves ------------------------------------------------------------------------


def derated(factor: float, altitude: str = "2000 m") -> Solution:
    """A pressure factor at a high site."""
    return solved(things(
        outside=Outside(temperature="25 degC", altitude=altitude), roof=roof(pressure_factor=factor)
    ))  # fmt: skip


def before(hole: float = 90.0, kind: str = "vent", **fan: Any) -> Solution:
    """Something of 95 cm2 on a fan that draws through an opening."""
    keys: dict[str, Any] = {"name": "grille", "on": "fan.roof", "area": "95 cm2"}
    made = {"vent": lambda: Vent(**keys, loss=2.2), "opening": lambda: Opening(**keys),
            "filter": lambda: Filter(**keys, velocity_drop=DROPS)}[kind]()  # fmt: skip
    return solved(things(grille=made, roof=roof(clearance={"opening": f"{hole} cm2"}, **fan)))


def close(frame: str | None = "120 x 38 mm", **clearance: Any) -> Solution:
    """The roof fan, of 120 mm and 75 cm2 flow area, with things close to it."""
    made = axial(frame=frame, flow_area="75 cm2")
    return solved(things(type=made, roof=roof(clearance=clearance)))


def close_off(**clearance: Any) -> Solution:
    """The roof fan with things close to it, not computed with."""
    return solved(things(roof=roof(clearance=clearance, installation="off")))


def sibling(flow: str = "0 80 160 m3/h", rise: str = "70 50 0 Pa", **changed: Any) -> Solution:
    """Another type of the same frame in the catalogue; the clean type has 70 Pa and 160 m3/h."""
    return solved(things(other=axial("other", curve={"flow": flow, "rise": rise}, **changed)))


# --- range of validity --------------------------------------------------------------------------


def face(velocity: float) -> Solution:
    """The intake filter, measured up to 2 m/s, at another velocity."""
    return solved(branches={"filter.intake": {"velocity": velocity}})


DROPS = {"velocity": "0.5 1 2 m/s", "drop": "18 42 108 Pa"}
SCREEN = {"construction": "wire screen", "hole": "2 mm"}

# --- fitted drops -------------------------------------------------------------------------------


def measured(drop: str, **given: Any) -> Solution:
    """The intake filter with these drops at 0.5, 1 and 2 m/s."""
    rows = {"velocity": "0.5 1 2 m/s", "drop": drop}
    return solved(things(intake=Filter(
        name="intake", from_="outside", to="lower", area="450 cm2", at="0 150 mm",
        velocity_drop=rows, **given,
    )))  # fmt: skip


# --- entries ------------------------------------------------------------------------------------


def required(flow: str, heat: float = 50.0, limit: str = "35 degC") -> Solution:
    """A stated flow for a heat and the rise from 25 degC to the lowest limit."""
    lower = Compartment(name="lower", outline="0 0 800 900 mm", air_limit=limit)
    upper = Compartment(name="upper", outline="0 900 800 900 mm", air_limit="70 degC")
    made = things(lower=lower, upper=upper, limits=limits(flow=flow))
    return solved(made, heat=heat)


def cooled(limit: str, **more: Any) -> Solution:
    """The drive with another limit."""
    drive = Part(name="drive", in_="upper", power="180 W", limit=limit)
    return solved(things(drive=drive, **more))


# --- whole cases --------------------------------------------------------------------------------


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
