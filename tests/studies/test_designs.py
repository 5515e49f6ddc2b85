"""Designs: a grid in the order of itertools, samples as scipy makes them, any block by itself."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.stats import qmc

import flownet
from flownet.schema.errors import CaseError
from flownet.studies.designs import Axis, design
from tests.test_cases import CASES

SPEED = Axis("fan.*.speed", (0.5, 0.7, 1.0))
STATE = Axis("fan.left.state", ("running", "stopped"))
AREA = Axis("vent.low.area", low=0.002, high=0.02)


def rows(made, step):
    """All rows, made in blocks of some size."""
    blocks = [made.block(start, start + step) for start in range(0, made.size, step)]
    columns = [np.concatenate([b[axis.path] for b in blocks]).tolist() for axis in made.axes]
    return list(zip(*columns, strict=True))


@pytest.mark.parametrize("step", [4, 100])
def test_a_grid_is_every_combination_in_the_order_of_itertools(step):
    altitude = Axis("outside.altitude", (0.0, 900.0))
    made = design([SPEED, STATE, altitude])
    assert made.size == 12
    assert made.words == "grid of 3 x 2 x 2"
    wanted = itertools.product(SPEED.values, STATE.values, altitude.values)
    assert rows(made, step) == list(wanted)


def test_a_block_far_into_a_large_grid_needs_not_those_before():
    axes = [Axis(name, tuple(map(float, range(100)))) for name in "abcd"]
    made = design(axes)
    assert made.size == 100**4
    block = made.block(12_345_678, 12_345_680)
    assert [block[name].tolist() for name in "abcd"] == [[12, 12], [34, 34], [56, 56], [78, 79]]


@pytest.mark.parametrize("step", [7, 1000])
def test_a_sobol_sequence_is_that_of_scipy_whatever_the_blocks(step):
    made = design([AREA, SPEED], "sobol", samples=100, seed=7)
    assert (made.size, made.asked) == (128, 100)
    assert made.words == "Sobol sequence of 128 (100 asked for: a power of two), seed 7"
    unit = qmc.Sobol(2, seed=np.random.default_rng(7)).random(128)
    area, speed = zip(*rows(made, step), strict=True)
    assert area == pytest.approx(qmc.scale(unit[:, :1], AREA.low, AREA.high)[:, 0], rel=1e-12)
    assert list(speed) == [SPEED.values[math.floor(3 * u)] for u in unit[:, 1]]


@pytest.mark.parametrize("step", [7, 1000])
def test_a_latin_hypercube_is_that_of_scipy_and_has_each_slice_once(step):
    assert design([AREA, STATE], "latin", samples=50).seed == 1
    made = design([AREA, STATE], "latin", samples=50, seed=3)
    unit = qmc.LatinHypercube(2, seed=np.random.default_rng(3)).random(50)
    area, state = zip(*rows(made, step), strict=True)
    assert area == pytest.approx(AREA.low + (AREA.high - AREA.low) * unit[:, 0], rel=1e-12)
    slices = np.floor((np.array(area) - AREA.low) / (AREA.high - AREA.low) * 50).astype(int)
    assert sorted(slices) == list(range(50))
    assert (state.count("running"), state.count("stopped")) == (25, 25)  # of equal weight


@pytest.mark.parametrize(
    ("asked", "size"), [(1, 1), (2, 2), (3, 4), (64, 64), (65, 128), (127, 128)]
)
def test_a_sobol_size_is_the_next_power_of_two(asked, size):
    made = design([AREA], "sobol", samples=asked)
    assert (made.asked, made.size) == (asked, size)
    assert ("asked" in made.words) == (asked != size)


def test_numbers_and_words_in_one_list_stay_as_they_are():
    mixed = Axis("fan.left.speed", (0.5, "1200 rpm"))
    assert not mixed.numeric
    assert mixed.picked(np.array([1, 0])).tolist() == ["1200 rpm", 0.5]


@pytest.mark.parametrize(("axes", "more", "said"), [
    ([], {}, "vary: at least one path"),
    ([SPEED, AREA], {}, r"vent\.low\.area: a grid needs a count"),
    ([SPEED], {"sort": "random"}, "must be one of grid, latin, sobol"),
    ([SPEED], {"samples": 5}, "samples: a grid has none"),
    ([SPEED], {"seed": 5}, "seed: a grid has none"),
    ([AREA], {"sort": "latin"}, "samples: how many"),
    ([AREA], {"sort": "sobol", "samples": 0}, r"samples: a whole number from 1 .*\(got 0\)"),
    ([AREA], {"sort": "sobol", "samples": 2.5}, "samples: a whole number"),
    ([AREA], {"sort": "latin", "samples": 4, "seed": -1}, "seed: a whole number"),
    ([Axis(str(i), (0.0,) * 1000) for i in range(4)], {}, "vary: 1000000000000 combinations"),
])  # fmt: skip
def test_what_does_not_fit_together_is_said(axes, more, said):
    with pytest.raises(CaseError, match=said):
        design(axes, **more)


@pytest.mark.parametrize("count", ["-4", "2.5", "x", "1", "100000000000"])
def test_a_range_says_what_is_wrong_with_its_count(count):
    case = flownet.load_case(CASES / "drive-cabinet")
    with pytest.raises(CaseError, match=rf"a range has 2 to 100000 values \(got {count}\)"):
        flownet.sweep(case, {"outside.altitude": f"0 to 3000 m in {count}"})
    length = {"slot.card-1.gap": f"0.5 to 0.6 in in {count}"}  # inches, then a count
    with pytest.raises(CaseError, match=r"2 to 100000"):
        flownet.sweep(flownet.load_case(CASES / "telecom-shelf"), length)


def test_a_plan_has_at_most_1000_keys_and_a_milliard_rows():
    """The project's own bounds, at them and one beyond."""
    axes = [Axis(str(number), low=0.0, high=1.0) for number in range(1001)]
    tens = [Axis(str(number), tuple(map(float, range(10)))) for number in range(9)]
    assert design(axes[:1000], "latin", 10**9).size == design(tens).size == 10**9
    for some, more in ((axes, ("sobol", 8)), (axes[:1], ("latin", 10**9 + 1)), (
            [*tens, STATE], ())):  # fmt: skip
        with pytest.raises(CaseError, match=r"at most|1000000000"):
            design(some, *more)
