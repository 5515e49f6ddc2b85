"""Heat through panels: closed forms, textbook plates, and the balance of both faces."""

from __future__ import annotations

from typing import Any

import ht
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.constants import Stefan_Boltzmann
from scipy.optimize import brentq

from flownet import air
from flownet.enclosure import whole as w
from flownet.errors import CaseError
from flownet.inputs import Inputs
from flownet.network import walls
from tests.published import rows

PRESSURE = np.array([[101325.0]])
STEP = 1e-30
COMPUTED = {"area": 1.4, "thickness": 0.05, "conductivity": 0.04}


def column(*values: float) -> np.ndarray:
    return np.array(values)[:, None]


def inputs(*items: w.Wall) -> Inputs:
    inside = w.Compartment(name="a", outline=(0.0, 0.0, 0.8, 0.9), depth=0.4)
    return Inputs.of(w.Enclosure.of(inside, w.Compartment(name="b"), *items))


def law(*items: w.Wall, faces: float = np.nan) -> walls.Walls:
    return walls.wall_law(inputs(*items), np.full((len(items), 1), faces))


def wall(to: str = "outside", **keys: Any) -> w.Wall:
    return w.Wall(**{"name": "x", "from_": "a", "to": to} | keys)


def heat(made: walls.Walls, inside: float, other: float) -> float:
    return made.heat(column(inside), column(other), PRESSURE).item()


def film(surface: float, still: float, height: float, pressure: float = 101325.0) -> float:
    """Film coefficient by ht's Churchill and Chu for all Rayleigh numbers, W/(m2 K)."""
    mean = (surface + still) / 2
    kinematic = air.viscosity(mean) / air.density(mean, pressure)
    grashof = 9.80665 / mean * abs(surface - still) * height**3 / kinematic**2
    nusselt = ht.Nu_vertical_plate_Churchill(air.prandtl(mean), grashof)
    return float(nusselt * air.conductivity(mean) / height)


def balanced(inside: float, other: float, panel: float, height: float, emissivity: float,
             sun: float) -> tuple[float, float, float]:  # fmt: skip
    """Flux and faces of one wall by nested bracketing: a slow and plain oracle."""

    def outer_of(flux: float) -> float:
        def missing(face: float) -> float:
            glow = emissivity * Stefan_Boltzmann * (face**4 - other**4)
            return film(face, other, height) * (face - other) + glow - flux - sun

        return brentq(missing, 150.0, 900.0, xtol=1e-12, rtol=1e-14)

    def missing(inner: float) -> float:
        flux = film(inner, inside, height) * (inside - inner)
        return inner - flux / panel - outer_of(flux)

    low, high = sorted((inside, max(other, inside) + 200.0 if sun else other))
    inner = brentq(missing, low + 1e-6, high, xtol=1e-12, rtol=1e-14)
    flux = film(inner, inside, height) * (inside - inner)
    return flux, inner, outer_of(flux)


# --- given U -------------------------------------------------------------------------------------


def test_given_u_value():
    """U A (T_i - T_0), to the outside or another compartment."""
    for to in ("outside", "b"):
        assert heat(law(wall(to, area=1.4, u_value=5.5)), 323.15, 313.15) == pytest.approx(77.0)


@pytest.mark.parametrize(
    "sun", [{"solar": 210.0}, {"sun": {"irradiance": 600.0, "absorptance": 0.35}}]
)
def test_sun_on_a_given_u_value(sun):
    """The outside counts as warmer by the absorbed sun over the outside film."""
    lit = law(wall(area=1.4, u_value=5.5, outside_film=20.0, **sun))
    assert heat(lit, 323.15, 313.15) == pytest.approx(5.5 * 1.4 * (10.0 - 210.0 / 20.0))


def test_the_sun_does_not_shine_inside():
    """A wall between compartments has none, whatever a change says."""
    lit = inputs(wall("b", area=1.4, u_value=5.5)).changed({"wall.x.solar": 100.0})
    made = walls.wall_law(lit, np.full((1, 1), np.nan))
    assert heat(made, 323.15, 313.15) == pytest.approx(77.0)


def test_faces_of_a_given_u_value_are_not_known():
    """Nothing is invented for them."""
    inner, outer = law(wall(area=1.4, u_value=5.5)).surfaces(column(320.0), column(300.0), PRESSURE)
    assert np.isnan(inner).all()
    assert np.isnan(outer).all()


def test_area_comes_from_the_faces_unless_given():
    """What the caller has from outline and depth."""
    assert law(wall(faces=["front"], u_value=2.0), faces=0.7).area.item() == 0.7
    assert law(wall(area=1.4, u_value=2.0), faces=0.7).area.item() == 1.4


# --- computed films ------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("heat", "H3"), ids=str)
def test_a_sunlit_plate_reaches_the_textbook_temperature(row):
    """A plate that loses nothing inwards, lit by what the textbook says it convects and radiates
    at 90 degC, is at 90 degC."""
    g, e = row.given, row.expected
    area = g["height"] * g["width"]
    plate = law(
        wall(area=area, height=g["height"], thickness=1.0, conductivity=1e-9, emissivity=1.0,
             solar=(e["vertical"] + e["radiation"]) / area)
    )  # fmt: skip
    around = column(273.15 + g["air_temperature"])
    outer = plate.surfaces(around, around, np.array([[g["pressure"]]]))[1].item()
    rise = outer - around.item()
    assert rise == pytest.approx(g["surface_temperature"] - g["air_temperature"], rel=0.01)


@pytest.mark.parametrize(
    ("inside", "other", "panel", "height", "emissivity", "sun"),
    [
        (323.15, 303.15, 0.8, 1.2, 0.9, 0.0),
        (323.15, 303.15, 33000.0, 0.3, 0.9, 0.0),
        (303.15, 323.15, 33000.0, 2.0, 0.1, 0.0),
        (313.15, 313.05, 100.0, 1.0, 0.9, 0.0),
        (313.15, 303.15, 5.0, 1.0, 0.3, 700.0),
        (303.15, 303.15, 33000.0, 1.0, 0.0, 300.0),
        (273.15, 243.15, 2.0, 0.5, 1.0, 0.0),
    ],
)
def test_films_and_panel_balance(inside, other, panel, height, emissivity, sun):
    """Flux and both faces are those of an independent search with ht's films."""
    made = law(wall(area=2.0, thickness=0.01, conductivity=panel * 0.01, height=height,
                    emissivity=emissivity, solar=sun))  # fmt: skip
    faces = made.evaluate(column(inside), column(other), PRESSURE)
    flux, inner, outer = balanced(inside, other, panel, height, emissivity, sun)
    assert faces.heat.item() == pytest.approx(2.0 * flux, rel=1e-4, abs=1e-5)
    assert faces.inner.item() == pytest.approx(inner, abs=1e-4)
    assert faces.outer.item() == pytest.approx(outer, abs=1e-4)


@given(
    inside=st.floats(230.0, 420.0), other=st.floats(230.0, 330.0),
    panel=st.floats(-1.0, 5.0).map(lambda x: 10.0**x), height=st.floats(0.02, 3.0),
    emissivity=st.floats(0.0, 1.0), sun=st.floats(0.0, 1200.0), pressure=st.floats(4e4, 1.05e5),
)  # fmt: skip
@settings(max_examples=150, deadline=None, derandomize=True)
def test_heat_is_conserved_at_both_faces(inside, other, panel, height, emissivity, sun, pressure):
    """What the inside gives the panel carries; and with the sun it leaves outside."""
    films = walls.Films(*(column(x) for x in (panel, height, emissivity)))
    around = (column(inside), column(other), column(pressure), column(sun))
    flux, _, inner, outer = (x.item() for x in films.balance(*around))
    size = abs(flux) + sun + 1e-6
    given_ = film(inner, inside, height, pressure) * (inside - inner)
    left = film(outer, other, height, pressure) * (outer - other)
    left += emissivity * Stefan_Boltzmann * (outer**4 - other**4)
    assert given_ == pytest.approx(flux, abs=2e-4 * size + 2e-3)  # ht's film has no rounding
    assert left == pytest.approx(flux + sun, abs=2e-4 * size + 2e-3)
    assert panel * (inner - outer) == pytest.approx(flux, abs=1e-9 * size + 1e-11 * panel)


def test_no_difference_no_heat():
    """Equal temperatures without sun: nothing flows, and the faces are as warm as the air."""
    faces = law(wall(**COMPUTED)).evaluate(column(300.0), column(300.0), PRESSURE)
    assert faces.heat.item() == pytest.approx(0.0, abs=1e-9)
    assert faces.inner.item() == pytest.approx(300.0, abs=1e-9)


def test_between_compartments_heat_turns_with_the_difference():
    """Same films on both faces, no radiation: exchanging the airs exchanges the sign."""
    made = law(wall("b", **COMPUTED, emissivity=0.9))
    there, back = heat(made, 330.0, 300.0), heat(made, 300.0, 330.0)
    assert there > 0
    assert there == pytest.approx(-back, rel=1e-10)


def test_height_is_the_root_of_the_area_unless_given():
    """A square panel."""
    assert heat(law(wall(**COMPUTED)), 330.0, 300.0) == pytest.approx(
        heat(law(wall(**COMPUTED, height=1.4**0.5)), 330.0, 300.0), rel=1e-14
    )


def test_material_gives_the_conductivity():
    """Mineral wool is 0.04 W/(m K) in the table of materials."""
    named = law(wall(area=1.4, thickness=0.05, material="mineral wool"))
    assert heat(named, 330.0, 300.0) == heat(law(wall(**COMPUTED)), 330.0, 300.0)


KINDS = (
    wall(name="u", area=1.4, u_value=5.5, solar=100.0),
    wall(name="steel", area=0.8, thickness=1.5e-3, material="steel", solar=300.0, emissivity=0.4),
    wall("b", name="between", area=0.3, thickness=0.02, conductivity=0.2, height=0.4),
)


@pytest.mark.parametrize("moved", ["inside", "other", "pressure"])
def test_heat_can_be_derived_by_what_is_around(moved):
    """A complex step against central differences, for each kind of wall at once."""
    made = law(*KINDS)
    around = {"inside": np.full((3, 1), 325.0), "other": np.full((3, 1), 301.0)}
    around["pressure"] = PRESSURE.copy()
    size = 1e-4 * around[moved]
    stepped = made.heat(**around | {moved: around[moved] + STEP * 1j}).imag / STEP
    above, below = (made.heat(**around | {moved: around[moved] + s * size}) for s in (1, -1))
    np.testing.assert_allclose(stepped, (above - below) / (2 * size), rtol=1e-6, atol=1e-12)
    if moved == "inside":
        np.testing.assert_allclose(made.evaluate(**around).conductance, stepped, rtol=0.1)


def test_heat_can_be_derived_by_every_number():
    """A complex step in any number of a wall that is given, against central differences."""
    base = inputs(*KINDS)
    around = (np.full((3, 1), 325.0), np.full((3, 1), 301.0), PRESSURE)
    nothing = np.full((3, 1), np.nan)
    tried = 0
    for path in base.numbers():
        if path.startswith("wall.") and (value := base.row(path)[0]) != 0:
            found = [
                walls.wall_law(base.changed({path: np.array([changed])}), nothing).heat(*around)
                for changed in (value + STEP * 1j, value * (1 + 1e-5), value * (1 - 1e-5))
            ]
            wanted = (found[1] - found[2]) / (2e-5 * value)
            scale = 1e-8 * np.abs(found[1]) / value
            np.testing.assert_allclose(found[0].imag / STEP, wanted, rtol=1e-6, atol=scale.max())
            tried += 1
    assert tried >= 12


def test_each_variant_may_be_another_kind_of_wall():
    """Computed in one variant, U given in another: each as alone."""
    base = inputs(wall(**COMPUTED), wall(name="y", area=1.0, u_value=2.0))
    changed = base.changed({"wall.x.u_value": 5.5})
    columns = {
        key: np.concatenate([column, changed.columns["wall"][key]], axis=1)
        for key, column in base.columns["wall"].items()
    }
    both = Inputs(base.enclosure, {**base.columns, "wall": columns}, base.tables, 2)
    airs = np.full((2, 2), 330.0), np.full((2, 2), 300.0), PRESSURE
    found = walls.wall_law(both, np.full((2, 1), np.nan)).evaluate(*airs)
    assert found.heat[0, 0] == pytest.approx(heat(law(wall(**COMPUTED)), 330.0, 300.0), rel=1e-14)
    assert found.heat[0, 1] == pytest.approx(5.5 * 1.4 * 30.0)
    assert found.heat[1] == pytest.approx([60.0, 60.0])
    np.testing.assert_array_equal(np.isnan(found.inner), [[False, True], [True, True]])


def test_an_enclosure_without_walls():
    """Nothing, of the right shape."""
    none = walls.wall_law(inputs(), np.zeros((0, 1)))
    assert none.heat(np.zeros((0, 1)), np.zeros((0, 1)), PRESSURE).shape == (0, 1)


def test_a_missing_value_is_named():
    """A change that asks for a value nobody gave does not solve as something else."""
    thin = inputs(wall(area=1.4, u_value=5.5)).changed({"wall.x.conductivity": 0.04})
    with pytest.raises(CaseError, match=r"wall\.x: give u_value, or thickness"):
        walls.wall_law(thin, np.full((1, 1), np.nan))
    with pytest.raises(CaseError, match=r"wall\.x: its area is missing"):
        law(wall(faces=["front"], u_value=2.0))
