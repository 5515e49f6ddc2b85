"""Least squares against published fits, and what a fit tells of its unknowns."""

from __future__ import annotations

import numpy as np
import pytest

from flownet.studies.readings.fit import fit, weakest
from tests.published import rows

LAWS = {  # value, and its derivative to each unknown
    "power": lambda b, x: (b[0] * x ** b[1], (x ** b[1], b[0] * x ** b[1] * np.log(x))),
    "saturation": lambda b, x: (b[0] * (1 - np.exp(-b[1] * x)),
                                (1 - np.exp(-b[1] * x), b[0] * x * np.exp(-b[1] * x))),
    "squared saturation": lambda b, x: (b[0] * (1 - (1 + b[1] * x / 2) ** -2),
                                        (1 - (1 + b[1] * x / 2) ** -2,
                                         b[0] * x * (1 + b[1] * x / 2) ** -3)),
    "line": lambda b, x: (b[0] * x, (x,)),
    "line with intercept": lambda b, x: (b[0] + b[1] * x, (np.ones(len(x)), x)),
}  # fmt: skip


def fitted(law, x, y, start, weights=1.0, low=-np.inf, high=np.inf):
    def function(b):
        value, slopes = LAWS[law](b, x)
        return (value - y) * weights, np.column_stack(slopes) * np.reshape(weights, (-1, 1))

    size = len(start)
    return fit(function, np.array(start, float), np.full(size, low), np.full(size, high))


@pytest.mark.parametrize("row", rows("fits"), ids=str)
def test_published_fits_from_every_start(row):
    x, y = (np.array(row.given[key]) for key in "xy")
    for start in row.given["start"]:
        found = fitted(row.given["model"], x, y, start)
        every = {"value": found.values, "sum_of_squares": found.chi_square,
                 "deviation": np.sqrt(np.diag(found.covariance(known=False)))}  # fmt: skip
        row.check(**{name: every[name] for name in row.expected})


def test_intervals_use_students_t_where_the_spread_is_estimated():
    """DanWood, 4 degrees of freedom: t = 2.7764 (any table of Student's t), so +-.14362 on b2; the
    correlation follows from the certified values (worked by hand from the normal equations)."""
    (row,) = rows("fits", "G1")
    found = fitted("power", *(np.array(row.given[key]) for key in "xy"), row.given["start"][0])
    assert found.freedom == 4
    assert found.half_widths(known=False)[1] == pytest.approx(2.776445 * 0.051726610913, rel=1e-6)
    assert found.correlations()[0, 1] == pytest.approx(-0.99077, abs=1e-5)
    assert found.half_widths()[0] == pytest.approx(  # known: 1.96 standard deviations of 1
        1.959964 * np.sqrt(np.linalg.inv(found.slopes.T @ found.slopes)[0, 0]), rel=1e-6
    )


def test_a_weight_stands_for_points_taken_as_often():
    """Normal equations of repeated points: y = .0425 + 1.9825 x."""
    x, y = np.array([1.0, 2, 3, 4]), np.array([2.1, 3.9, 6.2, 7.8])
    times = np.array([1, 3, 2, 1])
    found = fitted("line with intercept", x, y, [0.0, 0.0], np.sqrt(times))
    often = np.polyfit(np.repeat(x, times), np.repeat(y, times), 1)
    assert found.values == pytest.approx(often[::-1], rel=1e-9)
    assert found.values == pytest.approx([0.0425, 1.9825], abs=5e-5)


def test_two_resistances_in_series_need_the_pressure_between_them():
    """From the total drop alone they cannot be told (singular value 0, they trade one for one);
    with the drop of one the condition is the golden ratio squared: matrix [[1, 1], [1, 0]]."""
    told, way = weakest(np.array([[1.0, 1.0]]))
    assert told == 0
    assert way[0] == pytest.approx(-way[1])
    told, _ = weakest(np.array([[1.0, 1.0], [1.0, 0.0]]))
    golden = (1 + np.sqrt(5)) / 2
    assert golden / told == pytest.approx(2.618034, rel=1e-6)  # largest over smallest


def test_what_ends_at_a_bound_is_exactly_there_and_has_no_interval():
    x = np.arange(5.0)
    found = fitted("line with intercept", x, 3 - 2 * x, [1.0, 1.0], low=-1.0)
    assert found.at_bound.tolist() == [0, -1]
    assert found.values[1] == -1.0
    assert found.values[0] == pytest.approx(np.mean(3 - 2 * x + x))  # mean of y + x
    assert found.covariance()[1, 1] == 0
    assert found.freedom == 4


def test_where_there_is_nothing_to_be_had_the_step_is_shortened():
    """Newton's first step for ln b = 0 from 5 leads to 5 - 5 ln 5 < 0, where there is no ln."""

    def function(b):
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.log(b), np.array([[1 / b[0]]])

    assert not np.isfinite(function(np.array([5 - 5 * np.log(5)]))[0])
    found = fit(function, np.array([5.0]), np.array([-np.inf]), np.array([np.inf]))
    assert found.settled
    assert found.values[0] == pytest.approx(1.0, abs=1e-8)
