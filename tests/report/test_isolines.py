"""Lines of equal value, on surfaces whose lines are known."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from flownet.report.isolines import between, isolines

XS = [0.0, 1.0, 2.5, 3.0, 5.0]
YS = [-1.0, 0.0, 0.5, 2.0]


def sampled(function, xs=XS, ys=YS):
    return [[function(x, y) for y in ys] for x in xs]


def test_of_a_plane_they_are_straight_and_reach_from_side_to_side():
    lines = isolines(XS, YS, sampled(lambda x, y: 2 * x + y), 4.0)
    assert len(lines) == 1
    assert all(2 * x + y == pytest.approx(4.0) for x, y in lines[0])
    ends = sorted([lines[0][0], lines[0][-1]])
    assert ends == [pytest.approx((1.0, 2.0)), pytest.approx((2.5, -1.0))]


def test_of_a_hill_they_are_rings_that_close():
    along = np.linspace(-1.0, 1.0, 81).tolist()
    (ring,) = isolines(along, along, sampled(lambda x, y: x * x + y * y, along, along), 0.49)
    assert ring[0] == ring[-1]
    assert [math.hypot(x, y) for x, y in ring] == pytest.approx([0.7] * len(ring), abs=1e-3)
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring)) / 2
    assert abs(area) == pytest.approx(math.pi * 0.49, rel=1e-3)


@pytest.mark.parametrize("middle", [0.3, 0.7])
def test_at_a_saddle_two_lines_pass_without_crossing(middle):
    """Corners 1 and 0 by turns: the mean, 0.5, says which corners are cut off."""
    lines = isolines([0.0, 1.0], [0.0, 1.0], [[1.0, 0.0], [0.0, 1.0]], middle)
    assert len(lines) == 2
    for line in lines:  # both ends at the two edges of one corner, which is on the other side
        (xa, ya), (xb, yb) = line
        corner = (round(xa), round(ya)) if {xa, ya} & {0.0, 1.0} else None
        assert corner is not None
        cut = [(x, y) for x in (0.0, 1.0) for y in (0.0, 1.0)
               if math.dist((x, y), line[0]) < 1 and math.dist((x, y), line[1]) < 1
               and (x in (xa, xb)) and (y in (ya, yb))]  # fmt: skip
        value = 1.0 if cut[0][0] == cut[0][1] else 0.0
        assert (value >= middle) != (middle <= 0.5)


def test_cells_without_a_value_have_no_line():
    values = sampled(lambda x, y: x)
    values[2][1] = math.nan
    lines = isolines(XS, YS, values, 2.0)
    assert len(lines) == 1
    assert [y for _, y in lines[0]] == [0.5, 2.0]


def test_no_line_where_all_is_above_or_below():
    assert isolines(XS, YS, sampled(lambda x, y: x + y), 100.0) == []


def test_between_values_it_is_linear_in_both_directions():
    values = sampled(lambda x, y: 1 + 2 * x + 3 * y)
    for x, y in ((0.0, -1.0), (5.0, 2.0), (2.7, 0.1), (4.9, 1.9)):
        assert between(XS, YS, values, (x, y)) == pytest.approx(1 + 2 * x + 3 * y)
