"""Constants of measured tables, padded to one length."""

from __future__ import annotations

import fluids
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import lsq_linear

from flownet.equations import curve_fits

STEP = 1e-30


@given(
    points=st.lists(
        st.tuples(st.floats(0.05, 3.0), st.floats(1.0, 500.0)), min_size=2, max_size=6,
        unique_by=lambda p: round(p[0], 1),
    )
)  # fmt: skip
@settings(max_examples=60, deadline=None, derandomize=True)
def test_split_is_the_bounded_least_squares(points):
    """The two constants through measured points are those of a general bounded solver.

    Not `nnls`: that of scipy 1.15.0 misses one case in seven.
    """
    velocity, drop = np.array(points).T
    columns = np.column_stack((velocity, velocity**2))
    wanted = lsq_linear(columns, drop, (0, np.inf), method="bvls", tol=1e-14).x
    np.testing.assert_allclose(curve_fits.split(points), wanted, rtol=1e-7, atol=1e-7 * drop.max())


def test_one_point_gives_the_square_alone():
    """With a single measured point all of it is inertial."""
    assert curve_fits.split([(3.0, 108.0)]) == (0.0, 12.0)


TABLES = (
    [(0.0, 3.0), (1.0, 0.5), (2.0, 0.4)], [(1.0, 0.5), (2.0, 0.36), (3.0, 0.3)], [(2.0, 0.1)],
    [(0.5, 0.2), (2.0, 0.8)],
)  # fmt: skip


def test_power_lines_agree_with_numpy_in_logarithms_on_padded_tables():
    """numpy.interp of log(value) over log(x), row by row; the ends are held. From 0 to the next
    point over x itself. A table may have one row, or rise."""
    table = curve_fits.FITS["part", "resistance_over_velocity"](TABLES)
    points, values = table["velocity"][..., None], table["resistance"][..., None]
    for x in (0.0, 1e-9, 0.3, 0.5, 1.0, 1.5, 2.0, 2.7, 3.0, 9.0):
        wanted = []
        for rows in TABLES:
            at, of = np.array(rows).T
            straight = (lambda v: v) if at[0] == 0 and x < at[1] else np.log
            begin = 1 if at[0] == 0 and x >= at[1] else 0
            with np.errstate(divide="ignore"):
                here = np.exp(np.interp(straight(x), straight(at[begin:]), np.log(of[begin:])))
            wanted.append(here)
        found = curve_fits.power_lines(np.full((4, 1), x), points, values)
        np.testing.assert_allclose(found[:, 0], wanted, rtol=1e-13)
    for x in (0.0, 0.3, 1.5):
        stepped = curve_fits.power_lines(np.full((4, 1), x + STEP * 1j), points, values)
        around = [
            curve_fits.power_lines(np.full((4, 1), x + d), points, values) for d in (1e-7, 0.0)
        ]
        wanted = (around[0] - around[1]) / 1e-7
        np.testing.assert_allclose(stepped.imag / STEP, wanted, rtol=1e-5, atol=1e-12)


def test_a_power_law_is_read_exactly():
    """R = 0.3 v^-0.8, as turbulent convection has it, from three of its points."""
    law = tuple((v, 0.3 * v**-0.8) for v in (0.5, 1.7, 4.0))
    table = curve_fits.FITS["part", "resistance_over_velocity"]([law])
    v = np.linspace(0.5, 4.0, 30)[None]
    found = curve_fits.power_lines(v, table["velocity"][..., None], table["resistance"][..., None])
    np.testing.assert_allclose(found, 0.3 * v**-0.8, rtol=1e-12)


def test_chain_is_padded_with_nothing():
    """Stations that a shorter chain does not have resist nothing."""
    chain = curve_fits.FITS["part", "chain"](
        [(("junction", 0.4), ("case", 0.25)), (("coil", 1.0),)]
    )
    np.testing.assert_array_equal(chain["resistance"], [[0.4, 0.25], [1.0, 0.0]])


def test_bends_add_up():
    """A duct's bends are the sum of fluids.fittings.bend_rounded, whatever its diameter and
    friction."""
    found = curve_fits.FITS["duct", "bends"]([((90.0, 1.5), (45.0, 1.0)), ((180.0, 3.0),)])
    for diameter, friction in ((0.05, 0.018), (0.4, 0.06)):
        one, two, three = (
            fluids.bend_rounded(diameter, angle=a, rc=r * diameter, fd=friction, method="Rennels")
            for a, r in ((90.0, 1.5), (45.0, 1.0), (180.0, 3.0))
        )
        lost = found["loss"] + friction * found["diameters"]
        np.testing.assert_allclose(lost, [one + two, three], rtol=1e-9)


def test_a_curve_of_two_points_is_a_straight_line_beside_longer_ones():
    """Whatever it is padded with; one that only falls has no stall, one that rises has its top."""
    table = curve_fits.FITS["fan_type", "curve"](
        [((0.0, 50.0), (2.0, 10.0)),
         ((0.0, 50.0), (0.5, 40.0), (1.0, 45.0), (1.5, 20.0), (2.0, 0.0))]
    )  # fmt: skip
    points = (table[key][..., None] for key in ("flow", "rise", "count"))
    made = curve_fits.curve(*points)
    np.testing.assert_allclose(made.cubic[0, 1, :, 0], [0.0, 0.0, -20.0, 50.0], atol=1e-12)
    np.testing.assert_array_equal(made.last[:, 0], [2.0, 2.0])
    np.testing.assert_array_equal(made.stall[:, 0], [np.nan, 1.0])
    np.testing.assert_allclose(made.cubic[0, 2, 2:, 0], [-20.0, 10.0])  # beyond its last point
