"""Pressure laws: one contract for all of them, then each against what is known outside."""

from __future__ import annotations

import inspect
from typing import Any

import fluids
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from flownet.equations import laws, tall_hole
from flownet.physics import air as properties
from flownet.physics.air import Air
from tests.each import each, every, named
from tests.network.law_samples import LAWS, MADE, air, column
from tests.published import rows

STEP = 1e-30
SIZES = np.logspace(-12, 1, 105)
FLOWS = np.concatenate([-SIZES[::-1], [0.0], SIZES])
LOSSES = [name for name in LAWS if not name.startswith("FanRise")]
SYMMETRIC = [name for name in LOSSES if name != "FlapLaw"]
RISING = [n for n in LOSSES if n not in ("Square of nothing", "Viscous", "FlapLaw", "Only")]


def swept(law: Any, flows: np.ndarray = FLOWS) -> tuple[np.ndarray, np.ndarray]:
    """(flows, elements, variants) drop and slope."""
    found = [law(np.full((1, 2), flow), air(width=2)) for flow in flows]
    return tuple(np.array([np.broadcast_arrays(*pair)[i] for pair in found]) for i in (0, 1))


def cut(tree: Any, variant: int) -> Any:
    """One variant of a law, by the rule that every array has the variants last."""
    if isinstance(tree, tuple):
        return type(tree)(*(cut(x, variant) for x in tree))
    wide = isinstance(tree, np.ndarray) and tree.shape[-1] > 1
    return tree[..., variant : variant + 1] if wide else tree


def test_every_law_is_under_contract():
    """A new law cannot stay out of the tests below."""
    classes = {n for module in (laws, tall_hole)
               for n, cls in inspect.getmembers(module, inspect.isclass)
               if hasattr(cls, "_fields")}  # fmt: skip
    assert classes - {"Air"} == {name.partition(",")[0] for name in LAWS if " of " not in name}


@each(named(LAWS))
def test_slope_is_exact(name):
    """The slope is the derivative to round-off (complex step), at rest and over 13 decades."""
    for flow in FLOWS:
        here = np.full((1, 2), flow)
        drop, slope = LAWS[name](here, air(width=2))
        stepped, _ = LAWS[name](here + STEP * 1j, air(width=2))
        assert drop.dtype == slope.dtype == np.float64
        np.testing.assert_allclose(stepped.real, drop, rtol=1e-13, atol=1e-50)
        scale = 1e-13 * np.abs(slope).max() if name in SYMMETRIC else 2e-12 * (1 + abs(slope).max())
        np.testing.assert_allclose(stepped.imag / STEP, slope, rtol=1e-12, atol=scale)


@each(named(LAWS))
def test_slope_does_not_jump_at_rest(name):
    """From either side the slope at zero flow is the same, and the drop is nought for a loss."""
    law, few = LAWS[name], air(width=2)
    at_rest = law(np.zeros((1, 2)), few)
    for side in (-1e-13, 1e-13):
        near = law(np.full((1, 2), side), few)
        scale = 1e-9 * np.abs(at_rest[1]).max() if name not in LOSSES else 0
        np.testing.assert_allclose(near[1], at_rest[1], rtol=1e-4, atol=scale)
    if name in LOSSES:
        assert not at_rest[0].any()


@each(named(SYMMETRIC))
def test_drop_is_odd(name):
    """Backwards the same pressure is lost."""
    drop, slope = swept(LAWS[name])
    np.testing.assert_array_equal(drop, -drop[::-1])
    np.testing.assert_array_equal(slope, slope[::-1])


@each(named(LOSSES))
def test_drop_never_falls(name):
    """More flow never loses less pressure."""
    drop, slope = swept(LAWS[name])
    assert (np.diff(drop, axis=0) >= 0).all()
    assert (slope >= 0).all()


@each(named(RISING))
def test_drop_rises_strictly(name):
    """More flow always loses more pressure: one flow belongs to each pressure."""
    drop, slope = swept(LAWS[name])
    assert (np.diff(drop, axis=0) > 0).all()
    assert (slope > 0).all()


@each(named(LAWS))
def test_extreme_flows_stay_finite(name):
    """No overflow, no warning, at rest or in a hurricane."""
    for flow in (0.0, 1e-300, -1e-300, 1e-20, 1e4, -1e4):
        drop, slope = LAWS[name](np.full((1, 2), flow), air(width=2))
        assert np.isfinite([*np.broadcast_arrays(drop, slope)]).all(), flow


@each(named(LAWS))
def test_one_variant_can_be_cut_out(name):
    """Every array of a law has its variants last: a cut law gives the same bits."""
    for flow in (-0.02, 0.0, 3e-4, 0.05):
        whole = LAWS[name](np.full((1, 2), flow), air(width=2))
        for variant in (0, 1):
            part = cut(LAWS[name], variant)(np.full((1, 1), flow), air())
            for both, one in zip(whole, part, strict=True):
                wanted = both[:, variant:][:, :1] if both.shape[1] > 1 else both
                np.testing.assert_array_equal(np.broadcast_to(one, wanted.shape), wanted)


FIELDS = [
    (name, field)
    for name, law in LAWS.items()
    for field in (MADE[name][1] if name in MADE else law._fields)
    if field not in ("sign", "running", "starts", "last", "stall", "law", "mask")
]


@each(named(FIELDS))
def test_every_input_can_be_derived(name, field):
    """A complex step in a constant of a law gives the derivative of drop and slope by it."""
    law, flow, few = LAWS[name], np.full((1, 2), 0.0213), air(width=2)
    of, given = MADE.get(name, (type(law), dict(zip(law._fields, law, strict=True))))
    value = np.asarray(given[field], float)

    def moved(by):
        return of(**{**given, field: value + by})(flow, few)

    size = 1e-6 * np.where(value == 0, 1.0, np.abs(value))
    stepped, above, below = moved(STEP * 1j), moved(size), moved(-size)
    if value.ndim == 4:  # pieces of curves: all are moved together
        size = 1e-4 * size.max(axis=(1, 2))  # beyond its end a curve enters as a quotient
        above, below = (moved(s * size[:, None, None]) for s in (1, -1))
    for exact, high, low in zip(stepped, above, below, strict=True):
        wanted = (high - low) / (2 * size)
        scale = np.abs(high).max() / np.min(np.broadcast_to(size, high.shape))
        np.testing.assert_allclose(exact.imag / STEP, wanted, rtol=2e-5, atol=1e-9 * scale)


@given(
    flow=st.floats(-15.0, 0.0).map(lambda x: 10.0**x), loss=st.floats(1e-3, 1e4),
    area=st.floats(1e-6, 10.0), turning=st.floats(1e-6, 10.0),
)  # fmt: skip
@settings(max_examples=50, deadline=None, derandomize=True)
def test_square_is_between_its_two_limits(flow, loss, area, turning):
    """K rho v^2 / 2 when fast; never less than it, nor more than it and the linear law together."""
    law, here = laws.Square.of(column(loss), column(area), turning), air()
    drop = law(column(flow), here)[0].item()
    density, viscosity = here.density.item(), here.viscosity.item()
    velocity = flow / (density * area)
    turn = turning * 30 * viscosity / (density * np.sqrt(4 * area / np.pi))
    fast = loss * density * velocity**2 / 2
    slow = loss * density * velocity * turn / 2
    assert fast * (1 - 1e-12) <= drop <= (fast + slow) * (1 + 1e-12)


@pytest.mark.parametrize("row", rows("losses", "L12"), ids=str)
def test_square_of_a_sharp_edged_hole(row):
    """C = 0.61: the drop over rho v^2 / 2 is 1/C^2 at a high Reynolds number."""
    law = laws.Square.of(column(row.given["coefficient"] ** -2.0), column(0.01))
    here = air()
    velocity = 1.0 / (here.density * 0.01)
    row.check(loss=(law(column(1.0), here)[0] / (here.density * velocity**2 / 2)).item())


def test_square_at_rest_is_the_linear_law():
    """At rest the slope is that of K rho v v_t / 2 with v_t = 30 mu / (rho D), by hand."""
    here, area = air(), 0.01
    round_hole = np.sqrt(4 * area / np.pi)
    wanted = 2.0 / 2 * 30 * here.viscosity / (here.density * area * round_hole)
    slope = laws.Square.of(column(2.0), column(area))(column(0.0), here)[1]
    np.testing.assert_allclose(slope, wanted, rtol=1e-14)


def test_channels_share_the_flow():
    """Six channels with six times the flow lose what one loses: for every law that counts."""
    one, here = column(1.0), air()
    made = {
        laws.Square.of: (column(2.0), column(0.003), 1.0),
        laws.Split.of: (column(30.0), column(6.0), column(0.003)),
        laws.SlotFriction: (column(0.2), column(0.02), column(0.003), column(0.1)),
    }
    for cls, constants in made.items():
        for flow in (1e-7, 1e-3, 0.1):
            alone = cls(*constants, one)(column(flow), here)[0]
            together = cls(*constants, 6 * one)(column(6 * flow), here)[0]
            np.testing.assert_allclose(together, alone, rtol=1e-13, err_msg=str(cls))


# --- friction ----------------------------------------------------------------------------------


@pytest.mark.parametrize("reynolds", [1.0, 300.0, 2100.0, 3500.0, 1e4, 1e6])
@pytest.mark.parametrize("roughness", [0.0, 1e-3])
def test_round_duct_is_churchill(reynolds, roughness):
    """f L/D rho v^2/2 with f of fluids.friction.Churchill_1977; exact, it is the same equation."""
    here, diameter, length = air(), 0.08, 3.0
    area = np.pi / 4 * diameter**2
    flow = reynolds * here.viscosity * area / diameter
    law = laws.DuctFriction(
        column(length), column(diameter), column(area), column(roughness), column(64.0)
    )
    velocity = flow / (here.density * area)
    factor = fluids.friction.Churchill_1977(reynolds, roughness)
    wanted = factor * length / diameter * here.density * velocity**2 / 2
    np.testing.assert_allclose(law(flow, here)[0], wanted, rtol=1e-9)


@pytest.mark.parametrize("row", rows("losses", "L7d"), ids=str)
def test_water_pipe(row):
    """A textbook's pressure drop of a steel pipe."""
    g = row.given
    water = Air(*(column(g[key]) for key in ("density", "viscosity", "density", "density")))
    area = np.pi / 4 * g["diameter"] ** 2
    law = laws.DuctFriction(
        column(g["length"]), column(g["diameter"]), column(area),
        column(g["roughness"] / g["diameter"]), column(64.0),
    )  # fmt: skip
    row.check(drop=law(column(g["density"] * g["flow"]), water)[0].item())


@pytest.mark.parametrize("row", rows("losses", "L7f"), ids=str)
def test_size_of_a_smooth_air_duct(row):
    """The diameter at which 150 m of duct lose 20 m of head, as a textbook finds it."""
    g, density = row.given, 1.146
    here = Air(*(column(x) for x in (density, g["viscosity"] * density, density, density)))

    def missing(diameter):
        area = np.pi / 4 * diameter**2
        law = laws.DuctFriction(
            column(g["length"]), column(diameter), column(area), column(0.0), column(64.0)
        )
        drop = law(column(density * g["flow"]), here)[0].item()
        return drop - density * properties.GRAVITY * g["head"]

    row.check(diameter=brentq(missing, 0.05, 1.0))


def slot(gap: float, width: float, length: float) -> laws.SlotFriction:
    return laws.SlotFriction(
        column(length), column(2 * gap * width / (gap + width)), column(gap * width),
        column(min(gap, width) / max(gap, width)), column(1.0),
    )  # fmt: skip


def fanning_product(law: laws.SlotFriction, reynolds: float) -> float:
    """Fanning f Re of a law's drop at a Reynolds number on D_h."""
    here, diameter = air(), law.diameter.item()
    velocity = reynolds * here.viscosity / (here.density * diameter)
    drop = law(velocity * here.density * law.area, here)[0]
    head = here.density * velocity**2 / 2
    return (drop / head * diameter / law.length / 4 * reynolds).item()


@pytest.mark.parametrize("row", rows("losses", "L8"), ids=str)
def test_long_slot_is_fully_developed(row):
    """In a very long slot, slow: f Re of Shah and London's rectangles; to 0.1 %."""
    found = [
        fanning_product(slot(0.01, 0.01 / max(c, 1e-9), 1e6), 1.0)
        for c in row.given["aspect_ratio"]
    ]
    row.check(product=found)


@pytest.mark.parametrize("row", rows("losses", "L8d"), ids=str)
def test_short_slot_is_developing(row):
    """f Re of laminar flow developing in a square channel."""
    places = row.given["position"]
    row.check(product=[fanning_product(slot(0.01, 0.01, x * 0.01 * 500.0), 500.0) for x in places])


@every("reynolds", [2e4, 1e5, 1e6])
def test_fast_slot_is_turbulent(reynolds):
    """A long slot at a high Reynolds number on D_h: the smooth Churchill factor of fluids."""
    wanted = fluids.friction.Churchill_1977(reynolds, 0.0) * reynolds / 4
    found = fanning_product(slot(0.01, 0.1, 1e4), reynolds)
    np.testing.assert_allclose(found, wanted, rtol=1e-3)


# --- mats, screens, leaks ----------------------------------------------------------------------


def test_split_scales_its_parts_apart():
    """Twice the viscosity doubles a v alone, twice the density b v^2 alone (model assumption)."""
    law = laws.Split.of(column(30.0), column(6.0), column(0.04))
    density, viscosity = laws.REFERENCE_DENSITY, laws.REFERENCE_VISCOSITY
    for thick, heavy in ((1, 1), (2, 1), (1, 2)):
        here = Air(*(column(x) for x in (heavy * density, thick * viscosity, density, density)))
        flow = column(3.0 * 0.04 * heavy * density)
        drop = law(flow, here)[0]
        np.testing.assert_allclose(drop, 30.0 * 3.0 * thick + 6.0 * 9.0 * heavy, rtol=1e-6)


def test_reference_air():
    """Air at 20 degC and 101325 Pa: 1.204 kg/m3 and 1.81e-5 Pa s, as in any table of dry air."""
    assert pytest.approx(1.204, abs=5e-4) == laws.REFERENCE_DENSITY
    assert pytest.approx(1.81e-5, abs=1e-7) == laws.REFERENCE_VISCOSITY


@every("reynolds", [5.0, 25.0, 50.0, 70.0, 150.0, 390.0, 1000.0])
def test_screen_is_blevins(reynolds):
    """K of fluids.filters.round_edge_screen at the Reynolds number of its openings."""
    here, hole, ratio, area = air(), 1e-3, 0.5, 1e4  # so large that no rounding is seen
    velocity = ratio * reynolds * here.viscosity / (here.density * hole)
    drop = laws.WireScreen(column(ratio), column(hole), column(area))(
        velocity * here.density * area, here
    )[0]
    wanted = fluids.filters.round_edge_screen(ratio, reynolds) * here.density * velocity**2 / 2
    np.testing.assert_allclose(drop, wanted, rtol=1e-6)


@every("exponent", [0.5, 0.65, 1.0])
def test_leak_passes_its_point_and_keeps_its_power(exponent):
    """dp = dp_ref at Q_ref, and flow grows with pressure to the exponent (crack-flow law)."""
    here = air()
    law = laws.PowerLaw(column(2 / 3600), column(10.0), column(exponent))
    flow = here.density * 2 / 3600
    np.testing.assert_allclose(law(flow, here)[0], 10.0, rtol=1e-6)
    np.testing.assert_allclose(law(8 * flow, here)[0] / 10.0, 8 ** (1 / exponent), rtol=1e-6)
    np.testing.assert_allclose(law(flow / 10, here)[0] / 10.0, 0.1 ** (1 / exponent), rtol=1e-4)


def test_shutter_has_two_losses_and_one_slope():
    """Each way its own K rho v^2/2 when fast; the same slope at rest from both sides."""
    here, area = air(), 0.0095
    law = laws.FlapLaw.of(column(1.1), column(2.7e4), column(area), column(1.0))
    for flow, loss in ((0.1, 1.1), (-0.1, 2.7e4)):
        velocity = flow / (here.density * area)
        wanted = np.sign(flow) * loss * here.density * velocity**2 / 2
        np.testing.assert_allclose(law(column(flow), here)[0], wanted, rtol=1e-4)
    sides = [law(column(side), here)[1].item() for side in (-1e-14, 0.0, 1e-14)]
    assert sides == pytest.approx([sides[1]] * 3, rel=1e-6)
    mirrored = law._replace(sign=column(-1.0))
    np.testing.assert_array_equal(mirrored(column(0.1), here)[0], -law(column(-0.1), here)[0])
