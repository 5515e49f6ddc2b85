"""Loss coefficients against handbooks and the library, over the range of each."""

from __future__ import annotations

import fluids
import numpy as np
import pytest

from flownet.physics import losses
from tests.published import rows

STEP = 1e-30


@pytest.mark.parametrize("row", rows("losses", "L1"), ids=str)
def test_borda_carnot(row):
    row.check(loss=losses.borda_carnot(row.given["area_ratio"]))


def test_borda_carnot_agrees_with_the_library():
    ratio = np.linspace(0.01, 1.0, 50)
    library = [fluids.fittings.diffuser_sharp(np.sqrt(r), 1.0) for r in ratio]
    np.testing.assert_allclose(losses.borda_carnot(ratio), library, rtol=1e-10, atol=1e-14)


def test_contraction_is_near_the_curve_of_a_handbook():
    """Idelchik's 0.5 (1 - f)^0.75 lies above by 6 % of the entrance's half a velocity head at most;
    another author's is higher by a quarter still, at 0.4 of the diameter."""
    ratio = np.linspace(0.0, 1.0, 101)
    above = 0.5 * (1 - ratio) ** 0.75 - losses.contraction(ratio)
    assert above.min() >= 0.0
    assert above.max() < 0.06
    assert fluids.fittings.contraction_sharp(1.0, 0.4) / losses.contraction(0.16) < 1.27


def test_contraction_ends():
    """A sharp-edged entrance from a plenum loses half a velocity head, an even duct nothing."""
    assert losses.contraction(0.0) == 0.5
    assert losses.contraction(1.0) == 0.0


@pytest.mark.parametrize("row", rows("losses", "L3", "L13"), ids=str)
def test_thin_plate(row):
    row.check(loss=losses.idelchik_thin_plate(np.array(row.given["open_ratio"])))


@pytest.mark.parametrize("row", rows("losses", "L13t"), ids=str)
def test_the_table_beside_the_formula_is_lower(row):
    """What the manual says of the doubt about the thin plate."""
    ratio, table = (np.array(row.given[key]) for key in ("open_ratio", "table"))
    row.check(below=1 - table / losses.idelchik_thin_plate(ratio))


def test_thin_plate_is_a_jet_that_is_lost():
    """Nearly closed, K on the holes is (1 + sqrt(1/2))^2, the orifice of a thick wall."""
    ratio = 0.02
    on_holes = losses.idelchik_thin_plate(ratio) * ratio**2
    assert on_holes == pytest.approx((1 + np.sqrt(0.5)) ** 2, rel=0.04)
    assert losses.idelchik_thin_plate(1.0) == 0.0


@pytest.mark.parametrize("row", rows("losses", "L5"), ids=str)
def test_plate_in_creeping_flow(row):
    ratio, reynolds = (np.array(row.given[k]) for k in ("open_ratio", "reynolds_hole"))
    row.check(loss=losses.low_reynolds_plate(ratio, reynolds))
    row.check(loss=losses.low_reynolds_plate_product(ratio) / reynolds)


@pytest.mark.parametrize("row", rows("losses", "L10"), ids=str)
def test_wire_screen(row):
    row.check(loss=losses.round_edge_screen(**row.given))


def test_wire_screen_agrees_with_the_library_over_its_range():
    """Reynolds numbers beyond both ends of the table, and every one of its points."""
    points = [20.0, 30.0, 40.0, 60.0, 80.0, 100.0, 200.0, 400.0]
    reynolds = np.concatenate((np.geomspace(0.1, 1e5, 400), points))
    ratio = np.linspace(0.05, 0.8, 16)[:, None]
    library = [[fluids.filters.round_edge_screen(a, re) for re in reynolds] for a in ratio[:, 0]]
    np.testing.assert_allclose(losses.round_edge_screen(ratio, reynolds), library, rtol=1e-12)


def test_wire_screen_slope():
    """A complex step inside every piece; nothing changes beyond the ends."""
    reynolds = np.array([0.0, 19.0, 25.0, 35.0, 50.0, 70.0, 90.0, 150.0, 300.0, 400.0, 1e4])
    loss, slope = losses.round_edge_screen_and_slope(0.4, reynolds)
    stepped = losses.round_edge_screen(0.4, reynolds + 1j * STEP)
    np.testing.assert_allclose(stepped.imag / STEP, slope, rtol=1e-13)
    np.testing.assert_array_equal(slope[[0, 1, -1]], 0.0)
    assert (slope[2:-2] < 0).all()
    grows = 2 * loss + reynolds * slope  # of K v^2, over v
    assert (grows > 0).all()


@pytest.mark.parametrize("row", rows("losses", "L10g"), ids=str)
def test_rounded_grille(row):
    row.check(loss=losses.round_edge_grill(row.given["open_ratio"]))


def test_rounded_grille_agrees_with_the_library_over_its_range():
    ratio = np.linspace(0.3, 0.7, 401)
    library = [fluids.filters.round_edge_grill(a) for a in ratio]
    np.testing.assert_allclose(losses.round_edge_grill(ratio), library, rtol=1e-12)


def test_rounded_grille_passes_through_the_table_and_stays_positive():
    """Blevins' points, as the library prints them; the end values are held outside."""
    table = {0.3: 2.0, 0.4: 1.0, 0.5: 0.6, 0.6: 0.4, 0.7: 0.2}
    found = losses.round_edge_grill(np.array(list(table)))
    np.testing.assert_allclose(found, list(table.values()), rtol=1e-12)
    np.testing.assert_allclose(losses.round_edge_grill(np.array([0.1, 0.95])), [2.0, 0.2])


@pytest.mark.parametrize("row", rows("losses", "bend"), ids=str)
def test_bend(row):
    ratio = row.given["radius"] / row.given["diameter"]
    smooth = fluids.friction.Colebrook(1e5, 0.0)
    row.check(loss=losses.rennels_bend(row.given["angle"], ratio, smooth))


def test_bend_agrees_with_the_library_over_its_range():
    """A smooth duct at Re 1e5, the library's friction factor being Colebrook's."""
    angle = np.linspace(0.0, 180.0, 19)[:, None]
    ratio = np.geomspace(0.5, 20.0, 15)
    library = [
        [
            fluids.fittings.bend_rounded(Di=0.1, angle=a, rc=r * 0.1, Re=1e5, method="Rennels")
            for r in ratio
        ]
        for a in angle[:, 0]
    ]
    smooth = fluids.friction.Colebrook(1e5, 0.0)
    np.testing.assert_allclose(losses.rennels_bend(angle, ratio, smooth), library, rtol=1e-12)


@pytest.mark.parametrize("row", rows("losses", "L12"), ids=str)
def test_discharge_coefficient(row):
    loss = losses.loss_of_discharge(row.given["coefficient"])
    row.check(loss=loss)
    assert losses.discharge_of_loss(loss) == pytest.approx(row.given["coefficient"], rel=1e-15)
