"""Samples of air that comes back: round inside, or through a fan that stands. Invented data."""

from __future__ import annotations

from flownet.enclosure.branches import Leak, Opening, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan
from flownet.enclosure.surroundings import Compartment, Limits
from flownet.results.solution import Solution
from tests.findings.build import FLOWS, axial, solved, things
from tests.findings.samples import FLAP, fires, roof, silent, two_fans


def stirred(back: float, fresh: float = 0.03, above: float = 0.0) -> Solution:
    """A fan that lifts the air from below to above; so much comes back through the shelf.

    `above` enters there through a seal.
    """
    seal = Leak(name="seal", from_="outside", to="upper", flow_at=["5 m3/h", "10 Pa"])
    made = things(
        stir=Fan(name="stir", from_="lower", to="upper", type="axial", supply="mains"), seal=seal,
        limits=Limits(scenarios=["base", "dirty"], intake_filter="none"),
    )  # fmt: skip
    flows = {"filter.intake": fresh, "fan.roof": fresh + above, "fan.stir": fresh + back,
             "leak.seal": above}  # fmt: skip
    return solved(made, flows={**FLOWS, **flows, "baffle.shelf": -back})


fires("air-returns-inside", lambda: stirred(0.02))
silent("air-returns-inside", lambda: stirred(0.003))  # 9 %
silent("air-returns-inside", lambda: stirred(0.02, fresh=0.0))  # sealed
silent("air-returns-inside", solved)


def standing(flow: float, **changed: object) -> Solution:
    """A fan that stands beside the running one, with this flow the way it would blow."""
    fan = roof(name="weak", type="small", state="stopped", **changed)
    return two_fans(fan, flow=flow, region="stopped")


fires("fan-out", lambda: standing(-0.008))
fires("fan-out", lambda: standing(-0.008, shutter=FLAP))
silent("fan-out", lambda: standing(-0.001))
silent("fan-out", lambda: standing(0.008))
silent("fan-out", two_fans)  # it runs, and is driven back


def rack(gap: str = "200 cm2", gap_state: str = "open") -> Enclosure:
    """Two fans behind servers; a gap leads from the warm side back to the cold one."""
    fans = [Fan(name=name, from_="mid", to="rear", type="axial") for name in ("a", "b")]
    curve = {"flow": "0 200 400 m3/h", "rise": "80 60 0 Pa"}
    return Enclosure.of(
        Compartment(name="front", air_limit="35 degC"), Compartment(name="mid"),
        Compartment(name="rear"), axial(curve=curve, power="0 W"), *fans,
        Vent(name="door", from_="outside", to="front", area="150 cm2", loss=2.5),
        Vent(name="out", from_="rear", to="outside", area="150 cm2", loss=2.5),
        Opening(name="gap", from_="rear", to="front", area=gap, state=gap_state),
        Opening(name="edge", from_="rear", to="front", area="20 cm2", state=gap_state),
        Slot(name="servers", from_="front", to="mid", area="400 cm2", loss=2, power="1500 W"),
        Limits(margin="5 K"),
    )  # fmt: skip
