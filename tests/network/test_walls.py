"""Heat through panels: closed forms, textbook plates, and the balance of both faces."""

from __future__ import annotations

from typing import Any

import ht
import numpy as np
import pytest
from scipy.constants import Stefan_Boltzmann
from scipy.optimize import brentq

import flownet
from flownet.columns import Inputs
from flownet.enclosure import enclosure as w
from flownet.enclosure.heat import FACES
from flownet.equations import levels, walls
from flownet.physics import air, films
from flownet.schema.errors import CaseError
from tests.each import every
from tests.published import rows

PRESSURE = np.array([[101325.0]])
STEP = 1e-30
COMPUTED = {"area": 1.4, "thickness": 0.05, "conductivity": 0.04}


def column(*values: float) -> np.ndarray:
    return np.array(values)[:, None]


def inputs(*items: w.Wall) -> Inputs:
    inside = w.Compartment(name="a", outline=(0.0, 0.0, 0.8, 0.9), depth=0.4)
    return Inputs.of(w.Enclosure.of(inside, w.Compartment(name="b"), *items))


def law(*items: w.Wall) -> walls.Walls:
    return made_of(inputs(*items))


def made_of(given_: Inputs) -> walls.Walls:
    return walls.wall_law(given_)


def wall(to: str = "outside", **keys: Any) -> w.Wall:
    return w.Wall(**{"name": "x", "from_": "a", "to": to} | keys)


def heat(made: walls.Walls, inside: float, other: float) -> float:
    return made.heat(column(inside), column(other), PRESSURE).item()


def film(surface: float, still: float, length: float, pressure: float = 101325.0,
         looks: int = 0) -> float:  # fmt: skip
    """Film coefficient by ht, W/(m2 K): Churchill and Chu for upright faces, McAdams for those that
    look up (1) or down (-1)."""
    mean = (surface + still) / 2
    kinematic = air.viscosity(mean) / air.density(mean, pressure)
    grashof = 9.80665 / mean * abs(surface - still) * length**3 / kinematic**2
    prandtl = air.prandtl(mean)
    if not looks:
        nusselt = ht.Nu_vertical_plate_Churchill(prandtl, grashof)
    else:
        rises = (surface > still) == (looks > 0)
        nusselt = ht.Nu_horizontal_plate_McAdams(prandtl, grashof, buoyancy=rises)
    return float(nusselt * air.conductivity(mean) / length)


def balanced(
    inside: float, other: float, panel: float, height: float, emissivity: float, sun: float,
    within: float, looks: int,
) -> tuple[float, float, float]:  # fmt: skip
    """Flux and faces of one wall by nested bracketing: a slow and plain oracle. `height` is area
    over perimeter of one that looks up or down."""

    def outer_of(flux: float) -> float:
        def missing(face: float) -> float:
            glow = emissivity * Stefan_Boltzmann * (face**4 - other**4)
            return film(face, other, height, looks=looks) * (face - other) + glow - flux - sun

        return brentq(missing, 150.0, 900.0, xtol=1e-12, rtol=1e-14)

    def missing(inner: float) -> float:
        flux = into(inner)
        return inner - flux / panel - outer_of(flux)

    def into(inner: float) -> float:
        shone = within * Stefan_Boltzmann * (inside**4 - inner**4)
        return film(inner, inside, height, looks=-looks) * (inside - inner) + shone

    low, high = sorted((inside, max(other, inside) + 100.0 if sun else other))
    inner = brentq(missing, low + 1e-6, high, xtol=1e-12, rtol=1e-14)
    return into(inner), inner, outer_of(into(inner))


# --- given U -------------------------------------------------------------------------------------


def test_given_u_value():
    """U A (T_i - T_0), to the outside or another compartment."""
    for to in ("outside", "b"):
        assert heat(law(wall(to, area=1.4, u_value=5.5)), 323.15, 313.15) == pytest.approx(77.0)


@every("sun", [{"solar": 210.0}, {"sun": {"irradiance": 600.0, "absorptance": 0.35}}])
def test_sun_on_a_given_u_value(sun):
    """The outside counts as warmer by the absorbed sun over the outside film."""
    lit = law(wall(area=1.4, u_value=5.5, outside_film=20.0, **sun))
    assert heat(lit, 323.15, 313.15) == pytest.approx(5.5 * 1.4 * (10.0 - 210.0 / 20.0))


def test_the_sun_does_not_shine_inside():
    """A wall between compartments has none, whatever a change says."""
    lit = inputs(wall("b", area=1.4, u_value=5.5)).changed({"wall.x.solar": 100.0})
    made = made_of(lit)
    assert heat(made, 323.15, 313.15) == pytest.approx(77.0)


def test_faces_of_a_given_u_value_are_not_known():
    """Nothing is invented for them."""
    inner, outer = law(wall(area=1.4, u_value=5.5)).surfaces(column(320.0), column(300.0), PRESSURE)
    assert np.isnan(inner).all()
    assert np.isnan(outer).all()


def test_area_comes_from_the_faces_unless_given():
    """Of the outline 0.8 x 0.9 m and the depth 0.4 m."""
    assert law(wall(faces=["front"], u_value=2.0)).area.item() == pytest.approx(0.72)
    assert law(wall(area=1.4, u_value=2.0)).area.item() == 1.4
    both = law(wall(faces=["front", "top", "bottom"], u_value=2.0))
    assert heat(both, 310.0, 300.0) == pytest.approx(20.0 * (0.72 + 0.32 + 0.32))


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


@pytest.mark.parametrize(("inside", "other", "panel", "height", "emissivity", "sun", "within"), [
    (323.15, 303.15, 0.8, 1.2, 0.9, 0.0, 0.9),
    (323.15, 303.15, 33000.0, 0.3, 0.9, 0.0, 0.0),
    (303.15, 323.15, 33000.0, 2.0, 0.1, 0.0, 0.9),
    (313.15, 313.05, 100.0, 1.0, 0.9, 0.0, 0.3),
    (313.15, 303.15, 5.0, 1.0, 0.3, 700.0, 0.9),
    (303.15, 303.15, 33000.0, 1.0, 0.0, 300.0, 0.0),
    (273.15, 243.15, 2.0, 0.5, 1.0, 0.0, 1.0),
])  # fmt: skip
@pytest.mark.parametrize("facing", [None, "up", "down"])
def test_films_and_panel_balance(inside, other, panel, height, emissivity, sun, within, facing):
    """Flux and both faces are those of an independent search with ht's films."""
    made = law(wall(area=height**2, thickness=0.01, conductivity=panel * 0.01, facing=facing,
                    emissivity=emissivity, inside_emissivity=within, solar=sun))  # fmt: skip
    around = column(inside), column(other), PRESSURE
    looks = {None: 0, "up": 1, "down": -1}[facing]
    length = height / 4 if looks else height  # area over perimeter of a square
    wanted = balanced(inside, other, panel, length, emissivity, sun, within, looks)
    size = height**2
    # between 4.7e6 and 1e7 ht still takes the fourth root, which is up to 6 % less
    near = 0.06 if looks else 1e-4
    assert made.heat(*around).item() == pytest.approx(size * wanted[0], rel=near, abs=2e-4)
    for found, other_ in zip(made.surfaces(*around), wanted[1:], strict=True):
        assert found.item() == pytest.approx(other_, abs=2.0 if looks else 1e-4)


def test_heat_is_conserved_at_both_faces_over_the_whole_range():
    """What the inside gives the panel carries; and with the sun it leaves outside. At random, with
    equal airs, hardly different ones, no emissivity, thin panels and strong sun among them."""
    rng, count, compared = np.random.default_rng(3), 40_000, 1500

    def some(low: float, high: float, zero: float = 0.0) -> np.ndarray:
        return np.where(rng.random((1, count)) < zero, 0.0, rng.uniform(low, high, (1, count)))

    inside, apart = some(230.0, 330.0), rng.normal(0, 1, (1, count)) * 10 ** some(-5.0, 1.9)
    other, sun = inside + np.where(rng.random((1, count)) < 0.1, 0.0, apart), some(0, 1300, 0.4)
    panel, looks = 10 ** some(-1.0, 5.3), rng.choice([-1.0, 0.0, 1.0], (1, count))
    length = 10 ** np.where(looks == 0, some(-2.0, 0.6), some(-2.5, 0.0))
    films = walls.Films(panel, length, looks, some(0, 1, 0.2), some(0, 1, 0.2))
    around = (inside, other, some(2e4, 1.1e5), sun)
    flux, _, inner, outer = (x[0] for x in films.balance(*around))
    size = np.abs(flux) + sun[0] + 1e-3
    for k in range(compared):
        length, looks, within, emissivity = (x[0, k] for x in films[1:])
        warm, cold, pressure = (x[0, k] for x in around[:3])
        given_ = film(inner[k], warm, length, pressure, -looks)
        left = film(outer[k], cold, length, pressure, looks)
        given_ = given_ * (warm - inner[k]) + within * Stefan_Boltzmann * (warm**4 - inner[k] ** 4)
        left = left * (outer[k] - cold) + emissivity * Stefan_Boltzmann * (outer[k] ** 4 - cold**4)
        near = 0.062 if looks else 2e-4  # see test_films_and_panel_balance
        assert given_ == pytest.approx(flux[k], abs=near * size[k] + 2e-3)
        assert left == pytest.approx(flux[k] + sun[0, k], abs=near * size[k] + 2e-3)
    within, without = films.sides(*around[:3]).given(np.array([inner[None], outer[None]]))[0]
    for found in (within, -without - sun, films.panel * (inner - outer)):
        assert np.all(np.abs(found - flux) < 1e-8 * size + 1e-12 * films.panel)


def test_no_difference_no_heat():
    """Equal temperatures without sun: nothing flows, and the faces are as warm as the air."""
    made = law(wall(**COMPUTED))
    assert heat(made, 300.0, 300.0) == pytest.approx(0.0, abs=1e-9)
    faces = made.surfaces(column(300.0), column(300.0), PRESSURE)
    assert [face.item() for face in faces] == pytest.approx([300.0, 300.0], abs=1e-9)


def test_between_compartments_heat_turns_with_the_difference():
    """Same films and emissivities on both faces: exchanging the airs exchanges the sign."""
    made = law(wall("b", **COMPUTED, emissivity=0.9))
    there, back = heat(made, 330.0, 300.0), heat(made, 300.0, 330.0)
    assert there > 0
    assert there == pytest.approx(-back, rel=1e-10)


def test_height_is_the_root_of_the_area_unless_given():
    """A square panel."""
    assert heat(law(wall(**COMPUTED)), 330.0, 300.0) == pytest.approx(
        heat(law(wall(**COMPUTED, height=1.4**0.5)), 330.0, 300.0), rel=1e-14
    )


def test_a_wall_of_several_faces_is_each_face_by_itself():
    """Upright, up and down: the sum of walls of their own with the sizes of the outline, 0.8 x 0.9
    x 0.4 m; `height` gives one that is given by its area the two sides of a rectangle."""
    panel = {"thickness": 0.002, "conductivity": 50.0, "solar": 90.0}
    whole = law(wall(faces=["front", "left", "top", "bottom"], **panel))
    sides = law(
        wall(area=0.72 + 0.36, height=0.9, **panel),
        wall(name="top", area=0.32, height=0.8, facing="up", **panel),
        wall(name="bottom", area=0.32, height=0.8, facing="down", **panel),
    )
    for inside, other in ((330.0, 300.0), (290.0, 300.0)):
        each = sides.heat(np.full((3, 1), inside), np.full((3, 1), other), PRESSURE)
        assert heat(whole, inside, other) == pytest.approx(each.sum(), rel=1e-12)
        assert each[1].item() != pytest.approx(each[2].item(), rel=0.01)


@every(
    ("view", "up", "above", "below"),
    [
        ("front", "top", "top", "bottom"), ("front", "bottom", "bottom", "top"),
        ("front", "left", "left", "right"), ("front", "front", "front", "back"),
        ("side", "left", "front", "back"), ("side", "front", "right", "left"),
        ("side", "top", "top", "bottom"), ("plan", "left", "top", "bottom"),
    ],
)  # fmt: skip
def test_a_laid_enclosure_has_other_faces_up(view, up, above, below):
    """In a side view the front is on the left; a plan is seen from above."""
    for face in FACES:
        room = w.Compartment(name="a", outline=(0.0, 0.0, 0.8, 0.9), depth=0.4)
        body = w.Body(view=view, up=up)
        case = w.Enclosure.of(body, room, wall(faces=[face], u_value=1.0))
        found = levels.wall_faces(Inputs.of(case))
        areas = [found.up.item(), found.down.item(), found.upright.item()]
        wanted = [face == above, face == below, face not in (above, below)]
        assert [area > 0 for area in areas] == wanted
        if face == above:
            sides = {"left": (0.4, 0.9), "right": (0.4, 0.9), "front": (0.8, 0.9)}
            a, b = sides.get(face, (0.8, 0.4)) if view == "front" else (None, None)
            if a is not None:
                assert areas[0] == pytest.approx(a * b)
                assert found.length.item() == pytest.approx(a * b / (2 * (a + b)))
                assert found.height.item() == pytest.approx(0.8 * 0.9 * 0.4 / (a * b))


def test_a_panel_cooled_from_above_has_the_strong_film_inside():
    """A roof over warm air: its inner face is a cold one that looks down, which rolls as a warm one
    that looks up does; a floor over cold air lies still on both sides."""
    keys = {"area": 1.0, "thickness": 0.001, "conductivity": 50.0, "emissivity": 0.0,
            "inside_emissivity": 0.0}  # fmt: skip
    roof, floor = (heat(law(wall(facing=f, **keys)), 330.0, 300.0) for f in ("up", "down"))
    film_up = film(315.0, 300.0, 0.25, looks=1)
    assert roof == pytest.approx(15.0 * film_up, rel=0.02)
    assert floor == pytest.approx(15.0 * film(315.0, 300.0, 0.25, looks=-1), rel=0.02)


BOX = {"thickness": 0.0015, "material": "steel", "height": 1.0}
LOAD, SURFACE, TRADE = 242.0, 4.4, 5.5  # W, m2, W/(m2 K): painted sheet steel, trade notes


def rise_of(**keys: Any) -> float:
    """How much warmer than 25 degC outside the air in a box of 4.4 m2 gets with 242 W."""
    made = law(wall(area=SURFACE, **BOX, **keys))
    return brentq(lambda rise: heat(made, 298.15 + rise, 298.15) - LOAD, 0.1, 90.0)


def test_the_trade_value_lies_between_no_and_full_inner_radiation_with_stirred_air():
    """Common practice: 5.5 W/(m2 K) for a painted steel box in still air, so 10 K. The computed box
    gets 22 K without inner radiation (U 2.5) and 13 K with all of it (U 4.3); air inside that is
    stirred until the inner face is as warm as it is would leave 6.6 K (U 8.4)."""
    usual, none = rise_of(), rise_of(inside_emissivity=0.0)

    def left(face: float) -> float:
        still = film(face, 298.15, 1.0) * (face - 298.15)
        return still + 0.9 * Stefan_Boltzmann * (face**4 - 298.15**4) - LOAD / SURFACE

    stirred = brentq(left, 298.2, 340.0) - 298.15
    trade = LOAD / SURFACE / TRADE
    assert trade == pytest.approx(10.0)
    assert stirred < trade < usual < none
    assert [stirred, usual, none] == pytest.approx([6.6, 12.9, 22.1], abs=0.1)  # as stated


@pytest.mark.parametrize("row", rows("heat", "H4"), ids=str)
def test_a_sealed_painted_box(row):
    """Inner radiation and films of both faces, worked by another law of the same films."""
    given_ = row.given
    made = law(wall(area=given_["area"], height=given_["height"], thickness=0.001,
                    material="copper"))  # fmt: skip
    dark = law(wall(area=given_["area"], height=given_["height"], thickness=0.001,
                    material="copper", inside_emissivity=0.0))  # fmt: skip
    cold = given_["outside_temperature"] + 273.15
    found = [brentq(lambda t, m=m: heat(m, cold + t, cold) - given_["heat"], 0.1, 90.0)
             for m in (made, dark)]  # fmt: skip
    face = made.surfaces(column(cold + found[0]), column(cold), PRESSURE)[1].item() - cold
    row.check(rise=found[0], rise_without=found[1], face=face)


def test_material_gives_the_conductivity():
    """Mineral wool is 0.04 W/(m K) in the table of materials."""
    named = law(wall(area=1.4, thickness=0.05, material="mineral wool"))
    assert heat(named, 330.0, 300.0) == heat(law(wall(**COMPUTED)), 330.0, 300.0)


KINDS = (
    wall(name="u", area=1.4, u_value=5.5, solar=100.0),
    wall(name="steel", area=0.8, thickness=1.5e-3, material="steel", solar=300.0, emissivity=0.4),
    wall("b", name="between", area=0.3, thickness=0.02, conductivity=0.2, height=0.4),
)


@every("moved", ["inside", "other", "pressure"])
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
        np.testing.assert_allclose(made.conductance(**around), stepped, rtol=0.1)


def test_heat_can_be_derived_by_every_number():
    """A complex step in any number of a wall that is given, against central differences."""
    base = inputs(*KINDS)
    around = (np.full((3, 1), 325.0), np.full((3, 1), 301.0), PRESSURE)
    tried = 0
    for path in base.numbers():
        if path.startswith("wall.") and (value := base.row(path)[0]) != 0:
            found = [
                made_of(base.changed({path: np.array([changed])})).heat(*around)
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
    made = made_of(both)
    found = made.heat(*airs)
    assert found[0, 0] == pytest.approx(heat(law(wall(**COMPUTED)), 330.0, 300.0), rel=1e-14)
    assert found[0, 1] == pytest.approx(5.5 * 1.4 * 30.0)
    assert found[1] == pytest.approx([60.0, 60.0])
    for face in made.surfaces(*airs):
        np.testing.assert_array_equal(np.isnan(face), [[False, True], [True, True]])


def test_walls_beside_others_are_those_alone():
    """Whatever their sort: U or films, one panel or several, lit, under a sky, within."""
    sunny, plate = {"sun": {"absorptance": 0.6}}, {"thickness": 0.002, "material": "steel"}
    things = [
        wall(name="p", faces=["front", "bottom"], azimuth=180.0, **plate, **sunny),
        wall(name="q", area=0.7, u_value=3.0, tilt=20.0, azimuth=90.0, **sunny),
        wall(name="r", faces=["left", "top"], u_value=2.0, outside_film=12.0, solar=100.0),
        wall(name="s", area=0.5, facing="down", height=0.4, **plate),
        wall(name="t", to="b", emissivity=0.3, **COMPUTED),
        wall(name="u", to="outside.far", area=0.6, emissivity=0.2, inside_emissivity=0.7, **plate),
        wall(name="v", area=0.9, **plate, sun={"irradiance": 500.0, "absorptance": 0.3}),
    ]  # fmt: skip

    def made(*items):
        around = w.Outside(temperature=295.0, sky_temperature=270.0, latitude=50.0, day=141.0,
                           hour=10.0)  # fmt: skip
        far = w.Outside(name="far", temperature=285.0, sky_temperature=260.0)
        inside = w.Compartment(name="a", outline=(0.0, 0.0, 0.8, 0.9), depth=0.4)
        return made_of(Inputs.of(w.Enclosure.of(
            around, far, inside, w.Compartment(name="b"), *items)))  # fmt: skip

    whole, airs = made(*things), np.linspace(300.0, 330.0, len(things))[:, None]
    beyond = airs - np.linspace(-5.0, 25.0, len(things))[:, None]
    for row, item in enumerate(things):
        one = made(item)
        together, apart = (
            [each.heat(*at), *each.surfaces(*at), each.absorbed_sun(), each.conductance(*at)]
            for each, at in ((whole, (airs, beyond, PRESSURE)),
                             (one, (airs[[row]], beyond[[row]], PRESSURE)))
        )  # fmt: skip
        for both, alone in zip(together, apart, strict=True):
            np.testing.assert_allclose(both[row], alone[0], rtol=1e-12)


@every("key", ["inside_emissivity", "emissivity"])
def test_variants_may_differ_in_one_face(key):
    """What varies is one emissivity alone: each as it is by itself."""
    values = [0.9, 0.1]
    both = made_of(inputs(wall(**COMPUTED)).changed({f"wall.x.{key}": values}, 2))
    found = both.heat(np.full((1, 2), 330.0), np.full((1, 2), 300.0), PRESSURE)
    alone = [heat(law(wall(**COMPUTED, **{key: one})), 330.0, 300.0) for one in values]
    assert found[0] == pytest.approx(alone, rel=1e-13)
    assert alone[0] > alone[1]


def test_an_enclosure_without_walls():
    """Nothing, of the right shape."""
    none = made_of(inputs())
    assert none.heat(np.zeros((0, 1)), np.zeros((0, 1)), PRESSURE).shape == (0, 1)


def test_a_missing_value_is_named():
    """A change that asks for a value nobody gave does not solve as something else."""
    thin = inputs(wall(area=1.4, u_value=5.5)).changed({"wall.x.conductivity": 0.04})
    with pytest.raises(CaseError, match=r"wall\.x: give u_value, or thickness"):
        made_of(thin)
    with pytest.raises(CaseError, match=r"wall\.x: its area is missing"):
        made_of(inputs(wall(area=1.0, u_value=2.0)).changed({"wall.x.area": None}))


# --- sun of a clear sky, sky, touch, mounting ----------------------------------------------------

SUNNY = {"sun": {"absorptance": 0.5}}
PLACE = {"latitude": 50.0, "day": 141.0}


def outdoors(outside: dict[str, Any], *items: w.Wall) -> Inputs:
    inside = w.Compartment(name="a", outline=(0.0, 0.0, 0.8, 0.9), depth=0.4)
    far = w.Outside(name="far", temperature=250.0)
    return Inputs.of(w.Enclosure.of(w.Outside(**outside), far, inside, *items))


def test_sun_of_a_clear_sky_by_the_way_a_wall_looks():
    """The published faces of a box (Y8) times the absorptance: by azimuth; the top by itself."""
    (row,) = rows("sun", "Y8")
    for i, hour in enumerate(row.given["hour"]):
        around = PLACE | {"hour": hour}
        found = {name: made_of(outdoors(around, wall(**COMPUTED, azimuth=azimuth, **SUNNY))).sun
                 for name, azimuth in
                 {"east": 90.0, "south": 180.0, "west": 270.0, "north": 0.0}.items()}  # fmt: skip
        for name, sun in found.items():
            assert sun.item() == pytest.approx(0.5 * row.expected[name][i], rel=1e-5)
        both = wall(faces=["front", "top"], thickness=0.002, material="steel", azimuth=180.0,
                    **SUNNY)  # fmt: skip
        shone = 2 * made_of(outdoors(around, both)).sun[:, 0]
        expected = [row.expected["south"][i], row.expected["horizontal"][i]]
        np.testing.assert_allclose(shone, expected, rtol=1e-5)


def test_a_top_that_is_laid_down_needs_an_azimuth():
    """Which way it then looks nobody but the user knows; lying it needs none."""
    top, lying = (
        wall(faces=["top"], thickness=0.002, material="steel", **SUNNY),
        outdoors(PLACE | {"hour": 12.0}),
    )
    for up, needs in {"top": False, "bottom": False, "left": True}.items():
        made = Inputs.of(w.Enclosure.of(*lying.enclosure.things["outside"].values(), w.Body(up=up),
                                        *lying.enclosure.compartments.values(), top))  # fmt: skip
        if needs:
            with pytest.raises(CaseError, match=r"wall\.x\.sun: .* azimuth"):
                made_of(made)
        else:
            assert made_of(made).sun.max() > 0


@every(("tilt", "looks"), [
    (0.0, 1), (25.0, 1), (60.0, 0), (90.0, 0), (120.0, 0), (155.0, -1), (180.0, -1)])  # fmt: skip
def test_outer_face_under_a_cold_sky(tilt, looks):
    """Its balance closes by films of ht and the fourth powers of what it sees, sky and ground; a
    face within 30 deg of lying has the film of a horizontal plate, on area over perimeter."""
    sky, around, inside = 250.0, 278.15, 280.0
    keys = {"area": 1.0, "thickness": 0.0015, "material": "steel", "tilt": tilt}
    made = made_of(outdoors({"temperature": around, "sky_temperature": sky}, wall(**keys)))
    at = column(inside), column(around), PRESSURE
    inner, outer = (face.item() for face in made.surfaces(*at))
    share = (1 + np.cos(np.radians(tilt))) / 2
    seen = share * sky**4 + (1 - share) * around**4
    lost = film(outer, around, 0.25 if looks else 1.0, looks=looks) * (outer - around)
    lost += 0.9 * Stefan_Boltzmann * (outer**4 - seen)
    assert heat(made, inside, around) == pytest.approx(lost, rel=1e-7)
    assert outer < inner < inside
    assert inner < around or tilt > 90


def test_a_face_sees_the_sky_over_its_own_surroundings():
    """An upright face loses e sigma (T^4 - T_sky^4) / 2 to it, by the air and sky of its own place;
    nothing where no sky is given."""
    steel = {"area": 1.0, "thickness": 0.0015, "material": "steel"}
    inside = w.Compartment(name="a", outline=(0.0, 0.0, 0.8, 0.9), depth=0.4)
    far = w.Outside(name="far", temperature=250.0, sky_temperature=220.0)
    made = made_of(Inputs.of(w.Enclosure.of(
        w.Outside(temperature=290.0), far, inside, wall(name="near", **steel),
        wall(to="outside.far", **steel),
    )))  # fmt: skip
    lost = 0.9 * Stefan_Boltzmann * (250.0**4 - 220.0**4) / 2
    assert made.sun.ravel() == pytest.approx([0.0, -lost], rel=1e-6)


def test_a_wall_that_lies_by_its_tilt_is_one_that_faces_so():
    """In layers too: the roof of the topmost, the floor of the lowest; sun needs no azimuth."""
    panel = {"area": 0.32, "thickness": 0.002, "material": "steel"}
    around = PLACE | {"hour": 12.0, "temperature": 290.0}
    for tilt, facing, layer in ((0.0, "up", 2), (180.0, "down", 0)):
        at = np.array([[301.0 + layer]]), column(290.0), PRESSURE
        found = [made_of(outdoors(around, wall(**panel, **how, **SUNNY))).heat(*at).item()
                 for how in ({"tilt": tilt}, {"facing": facing})]  # fmt: skip
        assert found[0] == pytest.approx(found[1], rel=1e-12)
        box = w.Compartment(name="a", outline=(0.0, 0.0, 0.8, 0.9), depth=0.4, layers=3.0)
        holes = [w.Opening(name=f"o{y:g}", from_="outside", to="a", area=0.01, at=(0.4, y / 10))
                 for y in (1, 8)]  # fmt: skip
        case = w.Enclosure.of(w.Outside(temperature=290.0), box, *holes,
                              w.Part(name="p", in_="a", power=60.0, at=(0.4, 0.45)),
                              wall(**panel, tilt=tilt))  # fmt: skip
        state = flownet.solve(case)
        alone = made_of(Inputs.of(case))
        warm = state[f"compartment.a.{layer + 1}.temperature"]
        assert state["wall.x.heat"] == pytest.approx(heat(alone, warm, 290.0), rel=1e-9)


@pytest.mark.parametrize(("tilt", "facing"), [(29, "up"), (31, None), (149, None), (151, "down")])
def test_within_30_deg_of_lying_a_wall_has_the_films_of_a_plate_that_lies(tilt, facing):
    """Without sun or sky the way it looks only chooses the film (F. P. Incropera et al., from
    memory)."""
    panel = {"area": 0.32, "thickness": 0.002, "material": "steel"}
    plain = {"facing": facing} if facing else {}
    leaning, other = (heat(made_of(outdoors({}, wall(**panel, **how))), 320.0, 290.0)
                      for how in ({"tilt": tilt}, plain))  # fmt: skip
    assert leaning == pytest.approx(other, rel=1e-12)


def test_sun_that_faces_take_up_is_a_result():
    """Absorptance times irradiance times area, of a given U too; of several faces and layers the
    sum; nothing between compartments."""
    lit = {"irradiance": 600.0, "absorptance": 0.35}
    box = w.Compartment(name="a", outline=(0.0, 0.0, 0.8, 0.9), depth=0.4, layers=3.0)
    case = w.Enclosure.of(
        w.Outside(temperature=290.0, sky="clear"), box, w.Compartment(name="b"),
        w.Opening(name="low", from_="outside", to="a", area=0.01, at=(0.4, 0.1)),
        w.Opening(name="high", from_="a", to="outside", area=0.01, at=(0.4, 0.8)),
        wall(name="faces", faces=["top", "left", "right"], thickness=0.002, material="steel",
             sun=lit), wall(name="u", area=0.5, u_value=5.5, solar=100.0),
        wall("b", name="between", area=0.3, u_value=2.0),
    )  # fmt: skip
    found = flownet.solve(case)
    area = 0.8 * 0.4 + 2 * 0.9 * 0.4
    wanted = {"faces": 0.35 * 600.0 * area, "u": 50.0, "between": 0.0}
    assert {name: row.absorbed_sun for name, row in found.walls.items()} == pytest.approx(wanted)
    assert found.to_dict()["walls"]["u"]["absorbed_sun_W"] == pytest.approx(50.0)


def test_a_roof_at_night_by_a_fixed_film(monkeypatch):
    """Colder than the air: example Y16, with nothing from below."""
    (row,) = rows("sun", "Y16")
    monkeypatch.setattr(films, "natural_film", lambda surface, *_: row.given["film"] + 0 * surface)
    roof = wall(area=1.0, facing="up", thickness=1.0, conductivity=1e-12)
    made = made_of(outdoors({"sky": "clear", "temperature": 278.15}, roof))
    _, outer = made.surfaces(column(278.15), column(278.15), PRESSURE)
    row.check(roof=outer.item() - 273.15)


def test_a_wall_with_a_given_u_value_sees_no_sky():
    """U holds its radiation, to surroundings as warm as the air."""
    given = wall(area=1.4, u_value=5.5)
    assert heat(made_of(outdoors({"sky_temperature": 200.0}, given)), 300.0, 290.0) == \
        pytest.approx(77.0)  # fmt: skip


def test_of_several_faces_the_hottest_outside_and_the_coldest_inside():
    """In the sun of noon the top of a box; each face as if it stood alone."""
    around = PLACE | {"hour": 12.0}
    panel = {"thickness": 0.05, "conductivity": 0.04, "azimuth": 0.0, **SUNNY}
    at = column(300.0), column(300.0), PRESSURE
    found = [made_of(outdoors(around, wall(faces=faces, **panel))).surfaces(*at)
             for faces in (["back"], ["top"], ["back", "top"])]  # fmt: skip
    (back, top, both) = ([face.item() for face in each] for each in found)
    assert both == [min(back[0], top[0]), max(back[1], top[1])]
    assert top[1] > back[1] + 10


@every("key", ["hour", "latitude", "clearness", "sky_temperature", "azimuth", "tilt"])
def test_sun_and_sky_have_exact_slopes(key):
    """A complex step against a central difference of the heat through the wall."""
    around = {**PLACE, "hour": 15.0, "sky_temperature": 260.0, "clearness": 0.9}
    lit = wall(**COMPUTED, azimuth=200.0, tilt=60.0, **SUNNY)
    path = f"wall.x.{key}" if key in ("azimuth", "tilt") else f"outside.{key}"
    made = outdoors(around, lit)
    value = float(made.row(path)[0].real)
    at = column(310.0), column(300.0), PRESSURE

    def flow(x: complex) -> Any:
        return made_of(made.changed({path: np.array([x])})).heat(*at).item()

    slope = flow(value + 1j * STEP).imag / STEP
    step = 1e-4 * value
    assert slope == pytest.approx((flow(value + step) - flow(value - step)) / (2 * step), rel=1e-5)
    assert slope != 0


def test_mounting_gives_the_effective_area_whichever_face_is_up():
    """A compartment 0.8 x 0.9 x 0.4 m by the makers' formulas; laid on its side 0.9 x 0.8 x 0.4."""
    made = inputs(wall(mounting="row-end", u_value=5.5))
    for up, (wide, high, deep) in {
        "top": (0.8, 0.9, 0.4), "left": (0.9, 0.8, 0.4), "back": (0.8, 0.4, 0.9),
    }.items():  # fmt: skip
        for mounting, area in {
            "row-end": 1.4 * deep * (high + wide) + 1.8 * wide * high,
            "free-standing": 1.8 * high * (wide + deep) + 1.4 * wide * deep,
        }.items():
            laid = made.changed({"enclosure.up": up, "wall.x.mounting": mounting})
            assert heat(made_of(laid), 310.0, 300.0) == pytest.approx(55.0 * area), (up, mounting)
    (row,) = rows("sun", "C10")
    g = row.given
    per_kelvin = heat(law(wall(area=g["area"], u_value=g["u_value"])), 301.0, 300.0)
    row.check(rise=g["power"] / per_kelvin)
