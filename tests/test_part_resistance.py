"""Resistances over velocity in air of another density, and what their ends and limits do."""

from __future__ import annotations

import fluids
import ht
import numpy as np
import pytest

from flownet.enclosure.branches import Opening
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.physics import air
from flownet.schema.errors import CaseError
from flownet.solving.solve import solve, solve_many

LENGTH, AREA, HEAT = 0.1, 0.02, 60.0  # a plate of 0.1 m, invented
SPEEDS = np.geomspace(0.2, 6.0, 9)
NUSSELT = {
    "laminar": ht.Nu_horizontal_plate_laminar_Baehr,
    "turbulent": lambda reynolds, prandtl: 0.037 * reynolds**0.8 * prandtl ** (1 / 3),
}  # of a plate along the flow; the second as any textbook has it


def resistance(kind: str, speed: float, density: float, temperature: float) -> float:
    """1/(h A) of the plate by Nu(Re), film properties at air temperature."""
    reynolds = density * speed * LENGTH / air.viscosity(temperature)
    film = NUSSELT[kind](reynolds, air.prandtl(temperature)) * air.conductivity(temperature)
    return float(LENGTH / (film * AREA))


def plate(kind: str, reference: float, warm: float) -> dict[str, object]:
    """The same plate as a table and as a law, measured in air of a density."""
    rows = [(v, resistance(kind, v, reference, warm)) for v in SPEEDS]
    power = {"laminar": 0.5, "turbulent": 0.8}[kind]
    law = {"a": 0.0, "b": resistance(kind, 1.0, reference, warm), "n": power, "velocity": 1.0}
    columns = dict(zip(("velocity", "resistance"), zip(*rows, strict=True), strict=True))
    return {
        "resistance_over_velocity": columns | {"reference_density": reference},
        "resistance_law": law | {"reference_density": reference},
    }


def box(altitude: float = 0.0, place: str = "box", **keys: object) -> Enclosure:
    """A box with a fan, nothing heated but what is in the fan's own air (invented data)."""
    line = FanType(name="line", curve=((0.0, 100.0), (0.1, 0.0)), flow_area=0.01, origin="invented")
    where = {"stream": "fan.a", "flow_area": 0.012} if place == "box" else {}
    return Enclosure.of(
        Outside(temperature=303.15, altitude=altitude), Compartment(name="box"), line,
        Opening(name="inlet", from_="outside", to="box", area=0.01),
        Fan(name="a", from_="box", to="outside", type="line"),
        Part(**{"name": "p", "in_": place, "power": HEAT} | where | keys),
    )  # fmt: skip


@pytest.mark.parametrize("altitude", [0.0, 1500.0, 3000.0])
@pytest.mark.parametrize("key", ["resistance_over_velocity", "resistance_law"])
@pytest.mark.parametrize("kind", NUSSELT)
def test_a_plate_measured_at_sea_level_is_what_its_nusselt_number_says_in_thin_air(
    kind, key, altitude
):
    """A table of R(v) measured at sea level, against Nu(Re) worked in the air of the site (ht's
    laminar plate; Nu = 0.037 Re^0.8 Pr^(1/3)), the site's pressure from fluids."""
    first = solve(box(altitude, resistance=0.0))
    warm = first["part.p.air_temperature"]
    found = solve(box(altitude, **{key: plate(kind, 1.19, warm)[key]}))
    thin = fluids.ATMOSPHERE_1976(altitude).P / (287.05 * warm)
    wanted = resistance(kind, found["part.p.velocity"], thin, warm)
    own = found["part.p.temperature"] - found["part.p.air_temperature"]
    assert own / HEAT == pytest.approx(wanted, rel=1e-3)


def test_at_equal_volume_the_resistance_grows_with_the_density_ratio():
    """Closed form R (rho_0/rho)^n at 1500 and 3000 m, n 0.5 and 0.8, densities from fluids:
    1.0760, 1.1243, 1.1607, 1.2693."""
    for altitude, power, factor in ((1500.0, 0.5, 1.0760), (1500.0, 0.8, 1.1243),
                                    (3000.0, 0.5, 1.1607), (3000.0, 0.8, 1.2693)):  # fmt: skip
        ratio = fluids.ATMOSPHERE_1976(0.0).rho / fluids.ATMOSPHERE_1976(altitude).rho
        law = {"a": 0.0, "b": 1.0, "n": power, "velocity": 1.0}
        own = []
        for density in (1.2, 1.2 * ratio):  # the same air, measured in as much denser air
            found = solve(box(resistance_law=law | {"reference_density": density}))
            own.append(found["part.p.temperature"] - found["part.p.air_temperature"])
        assert own[1] / own[0] == pytest.approx(factor, abs=2e-4)


@pytest.mark.parametrize("place", ["box", "opening.inlet", "fan.a"])
def test_both_ends_hold_their_values(place):
    """Beyond the last row its value; below the first its own, however slow."""
    ends = {"velocity": "1 2 m/s", "resistance": "2 1 K/W"}
    for speed, wanted in ((1.0, 1e-3), (0.02, 2e-3)):
        found = solve(box(place=place, power=1e-3, resistance_over_velocity=ends),
                      changes={"fan.a.speed": speed})  # fmt: skip
        own = found["part.p.temperature"] - found["part.p.air_temperature"]
        assert own == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize(("ratio", "read", "wanted"), [
    (0.0, 0.05, "held"), (1e-6, 0.05, "held"), (0.049, 0.05, "held"), (0.09, 0.09, "goes on"),
    (0.11, 0.11, ""), (9.9, 9.9, ""), (10.1, 10.1, "goes on"),
])  # fmt: skip
def test_a_law_is_held_near_rest_and_says_where_it_is_a_guess(ratio, read, wanted):
    """a + b (v/velocity)^-n at a twentieth of `velocity` below it (our own choice); the finding
    below a tenth and above ten times (common practice, no source)."""
    first = solve(box(resistance=0.0, power=1e-3))
    stream = first["part.p.velocity"] * first["fan.a.density"]  # rho v past the part
    law = {"a": 0.3, "b": 0.2, "n": 2.0, "velocity": stream / 1.2 / (ratio or 1.0)}
    found = solve(box(power=1e-3, resistance_law=law), changes={"fan.a.speed": float(ratio > 0)})
    own = (found["part.p.temperature"] - found["part.p.air_temperature"]) / 1e-3
    assert own == pytest.approx(0.3 + 0.2 * read**-2.0, rel=1e-6)
    said = [str(f.values["how"][1]) for f in found.findings if f.rule == "resistance-out-of-range"]
    assert bool(said) == bool(wanted)
    assert all(wanted in how for how in said)


def test_a_part_hotter_than_any_is_void():
    """T = T_air + P R, 1000 degC the bound (our own choice)."""
    for over in (-1.0, 1.0):
        air_is = solve(box(resistance=0.0))["part.p.air_temperature"]
        found = solve(box(resistance=(1273.15 + over - air_is) / HEAT))
        assert found.void == ({"extreme-part": ["part.p"]} if over > 0 else {})


def test_the_reference_density_is_a_number_like_others():
    """Swept side by side, and as enclosures of their own."""
    table = {"velocity": (0.5, 5.0), "resistance": (1.0, 0.2)}
    case, path = box(resistance_over_velocity=table), "part.p.resistance_over_velocity"
    batch = solve_many(case, {f"{path}.reference_density": [0.9, 1.2, 1.5]})
    for k, density in enumerate((0.9, 1.2, 1.5)):
        alone = solve(case.with_changes({path: table | {"reference_density": density}}))
        assert batch.parts["p"].temperature[k] == pytest.approx(alone["part.p.temperature"])
    assert np.all(np.diff(batch.parts["p"].temperature) > 0.5)
    with pytest.raises(CaseError, match="table that is not given"):
        box(resistance=0.1).with_changes({f"{path}.reference_density": 1.0})


@pytest.mark.parametrize(("columns", "fault"), [
    ({"velocity": (0.0, 1.0), "resistance": (1.0, 0.0)}, "must be above 0 K/W"),
    ({"velocity": (-0.1, 1.0), "resistance": (1.0, 0.5)}, "velocities must rise"),
    ({"velocity": (1.0, 1.0), "resistance": (1.0, 0.5)}, "velocities must rise"),
    ({"velocity": (1.0,), "resistance": (1.0,), "reference_density": 0.0}, "0.05 kg/m3"),
    ({"velocity": (1.0,), "resistance": (1.0,), "reference_densty": 1.0}, "did you mean"),
])  # fmt: skip
def test_what_cannot_be_read_in_logarithms_is_refused(columns, fault):
    with pytest.raises(CaseError, match=fault):
        box(resistance_over_velocity=columns)
