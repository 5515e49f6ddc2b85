"""Samples on both sides of the thresholds that the page of the findings states. Invented data."""

from __future__ import annotations

from collections.abc import Callable

from flownet.enclosure.branches import Duct, Opening
from flownet.enclosure.fans import Fan
from flownet.results.solution import Solution
from tests.findings import samples as s
from tests.findings import samples_drawing as drawing
from tests.findings import samples_use as use
from tests.findings.build import FLOWS, GAS, SEA_LEVEL, WARM, ZERO, things


def bounded(
    rule: str,
    sample: Callable[..., Solution],
    fires: tuple[object, ...],
    silent: tuple[object, ...],
) -> None:
    """The rule speaks of the first values and not of the others."""
    for value in fires:
        s.fires(rule, lambda value=value: sample(value))
    for value in silent:
        s.silent(rule, lambda value=value: sample(value))


# 0.02 of 110 m3/h beside 55 m3/h; 0.5 K beside the 31.6 degC of the upper compartment
bounded("other-operating-point", lambda flow: s.beside(s.elsewhere("normal", flow)),
        (52.7, 57.3), (52.9, 57.1))  # fmt: skip
bounded("other-operating-point",
        lambda warm: s.beside(s.elsewhere("normal", 55.0, warm={"lower": 25.0, "upper": warm})),
        (31.0, 32.2), (31.2, 32.0))  # fmt: skip
# (rho(25 degC) - rho(65 degC)) g 1.8 m = 2.472 Pa over 0.2
bounded("draught-against-fan", lambda rise: s.downward(65.0, rise), (12.2,), (12.5,))
bounded("exhaust-near-intake", lambda x: s.same_face(f"{x} 270 mm"), (17.9,), (18.1,))
bounded("loss-area-suspect", lambda loss: s.vented(loss=loss), (101.0, 0.0499), (99.0, 0.0501))
bounded("tiny-flow", lambda reynolds: s.vented(reynolds=reynolds), (0.1, 299.9), (300.1,))
bounded("filter-bypass", s.leaky, (0.0501, 0.9), (0.0499,))
required = s.limits(intake_filter="required")
bounded("filter-missing", lambda share: s.leaky(share, limits=required), (0.9991,), (0.9989,))
# 79501 Pa and 25 degC: 0.9289 kg/m3, over 1.2 it is 0.7741, within 3 %
bounded("altitude-counted-twice", s.derated, (0.7971, 0.7511), (0.7976, 0.7505))
# pressure at 500 m: 95461 Pa (US Standard Atmosphere 1976)
bounded("thin-air", lambda pressure: s.site(pressure=pressure), (95.4e3,), (95.52e3,))
# 35 degC and 40 %: 19.38 degC, see the table of check values
bounded("condensation", lambda cold: s.damp(cold=cold), (19.33,), (19.43,))
bounded("range-of-validity", s.face, (2.11,), (2.09,))
# 50 W and 10 K: 8.776 CFM at 1.2 kg/m3, 8.895 at the site; x 1.8 and / 1.9, within 5 %
bounded("flow-degree-mix", lambda flow: s.required(f"{flow} CFM"),
        (15.1, 16.7, 4.45, 4.85), (14.9, 16.95, 4.35, 4.95))  # fmt: skip
bounded("rise-looks-absolute", lambda margin: s.solved(things(limits=s.limits(margin=margin))),
        (100.1,), (99.9,))  # fmt: skip
# 1.699 x 160 m3/h within 3 %
bounded("flow-unit-suspect", lambda flow: s.sibling(flow=f"0 136 {flow} m3/h"),
        (264.5, 279.5), (262.0, 281.5))  # fmt: skip
bounded("area-unit-suspect", lambda area: s.vented(area=f"{area} mm2", loss=2.5), (0.49,), (0.51,))
bounded("wall-thickness-suspect", drawing.panel, ("0.49e-4 m", "0.51 m"), ("0.051 mm", "490 mm"))
bounded("beyond-enclosure", lambda x: drawing.drawn(f"{x} 900 800 900 mm"), (-1.1, 1.1),
        (-0.9, 0.9))  # fmt: skip


def drop_of(area: float, flow: float, temperature: float) -> float:
    """Drop [Pa] of a mass flow in a sharp-edged hole [cm2]: (m/(0.61 A))^2/(2 rho)."""
    density = SEA_LEVEL / (GAS * (temperature + ZERO))
    return (flow / (0.61e-4 * area)) ** 2 / (2 * density)


# two fans of 95 cm2: half of that, and a third of 2 x 160 m3/h at 25 degC, 0.0351 kg/s
bounded("outlet-missing", lambda hole: s.blown_in(flow=0.02, drop=drop_of(hole, 0.02, 31.6)),
        (94.0,), (96.0,))  # fmt: skip
bounded("outlet-missing", lambda flow: s.blown_in("12 cm2", flow), (0.0346,), (0.0356,))
# 0.5, 1, 1.5 within 2 %; 95 cm2, or the 142 cm2 of the frame's square, within 20 %
bounded("loss-counted-twice", lambda loss: use.on_fan(0.0, use.mouth(loss, "95 cm2")),
        (0.491, 0.509, 1.019, 1.529), (0.489, 0.511, 1.021, 1.531))  # fmt: skip
bounded("loss-counted-twice", lambda area: use.on_fan(0.0, use.mouth(1.0, f"{area} cm2")),
        (169.0,), (178.0,))  # fmt: skip
bounded("loss-counted-twice", use.on_fan, (0.99, 1.01, 1.49, 1.51), (0.97, 1.03, 1.46, 1.54))

# a duct of 76 cm2: the least within 20 % of the flow area
bounded("loss-counted-twice", lambda d: use.on_fan(0.0, use.stack(f"{d} mm")), (99.0,), (97.5,))


def flat(roughness: float) -> Solution:
    """A duct of 60 x 120 mm beside the fan: hydraulic diameter 4 A/U = 80 mm."""
    duct = Duct(name="pipe", from_="upper", to="outside", length="1 m", section="60 x 120 mm",
                roughness=f"{roughness} mm")  # fmt: skip
    return s.solved(things(pipe=duct), flows={**FLOWS, "fan.roof": 0.02, "duct.pipe": 0.01})


bounded("range-of-validity", flat, (4.1,), (3.9,))


def between(hole: float) -> Solution:
    """Two fans head on, and a hole beside them: a tenth of both flow areas are 19 cm2."""
    gap = Opening(name="gap", from_="lower", to="outside", area="20 cm2")
    front = Fan(name="front", from_="outside", to="lower", type="axial", supply="mains")
    made = things(intake=None, front=front, roof=s.roof(mounted="reversed"), gap=gap)
    flows = {"fan.front": 0.001, "baffle.shelf": -0.001, "fan.roof": -0.001, "opening.gap": 0.002}
    branches = {"opening.gap": {"drop": drop_of(hole, 0.002, WARM["lower"])}}
    return s.solved(made, flows=flows, scenarios={}, branches=branches)


bounded("fans-opposed", between, (18.8,), (19.2,))


# a scenario counts from the case as it was read: 1.5 x 1.0, though 1.5 x 0.5 in this scenario
HALF = {"half": {"filter.*.fouling": 0.5}}
s.silent("loaded-filter-not-tried", lambda: s.solved(
    scenario="half", scenarios={**HALF, "worse": {"filter.*.fouling": "* 1.5"}}))  # fmt: skip
s.fires("loaded-filter-not-tried", lambda: s.solved(
    scenario="half", scenarios={**HALF, "worse": {"filter.*.fouling": "* 0.9"}}))  # fmt: skip
