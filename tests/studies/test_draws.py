"""Shapes and streams against a general statistics library."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

import flownet
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.heat import Part
from flownet.studies.samples import quantiles, uniform
from tests.studies.toleranced import QUANTILE, box, stated


def test_shapes_have_the_quantiles_of_a_statistics_library():
    share = np.linspace(0.001, 0.999, 101)
    normal, _ = quantiles("normal", 40.0, 4.0, share)
    assert normal == pytest.approx(stats.norm(40, 4 / QUANTILE).ppf(share), rel=1e-12)
    flat, _ = quantiles("uniform", 40.0, 4.0, share)
    assert flat == pytest.approx(stats.uniform(36, 8).ppf(share), rel=1e-12)
    skew, _ = quantiles("lognormal", 40.0, 12.0, share)
    wanted = stats.lognorm(np.log(1.3) / QUANTILE, scale=40.0)
    assert skew == pytest.approx(wanted.ppf(share), rel=1e-12)
    assert wanted.cdf([40 / 1.3, 40 * 1.3]) == pytest.approx([0.025, 0.975])


def test_a_shape_is_cut_at_the_range_of_its_key():
    """A truncated normal: an efficiency of 0.97 within 5 % cannot pass 1."""
    deviation = 0.05 * 0.97 / QUANTILE
    share = np.linspace(0.001, 0.999, 101)
    found, cut = quantiles("normal", 0.97, 0.05 * 0.97, share, 0.01, 1.0)
    ends = (0.01 - 0.97) / deviation, (1.0 - 0.97) / deviation
    wanted = stats.truncnorm(*ends, loc=0.97, scale=deviation)
    assert found == pytest.approx(wanted.ppf(share), rel=1e-9)
    assert found.max() < 1
    assert cut == pytest.approx(stats.norm(0.97, deviation).sf(1.0), rel=1e-9)
    above, lost = quantiles("normal", 1.1, 0.3, share, 1.0)  # cut below, as at clean for a fouling
    deviation = 0.3 / QUANTILE
    wanted = stats.truncnorm((1.0 - 1.1) / deviation, np.inf, loc=1.1, scale=deviation)
    assert above == pytest.approx(wanted.ppf(share), rel=1e-9)
    assert lost == pytest.approx(stats.norm(1.1, deviation).cdf(1.0), rel=1e-9)
    skew, lost = quantiles("lognormal", 1.5, 0.6, share, 1.0, 2.0)
    wanted = stats.lognorm(np.log(1.4) / QUANTILE, scale=1.5)
    below, over = wanted.cdf([1.0, 2.0])
    assert skew == pytest.approx(wanted.ppf(below + (over - below) * share), rel=1e-9)
    assert lost == pytest.approx(below + 1 - over, rel=1e-9)
    assert quantiles("lognormal", 1.5, 0.6, share, 0.0)[1] == pytest.approx(0.0, abs=1e-12)
    none, lost = quantiles("uniform", 3.0, 1.0, share, 1.0, 5.0)
    assert (none.min(), none.max(), lost) == pytest.approx((2.002, 3.998, 0.0))
    flat, lost = quantiles("uniform", 0.97, 0.05, share, 0.01, 1.0)
    assert flat == pytest.approx(stats.uniform(0.92, 0.08).ppf(share), rel=1e-12)
    assert lost == pytest.approx(0.2)


def test_what_is_cut_is_said():
    made = Enclosure.of(
        *(item for named in box({}).things.values() for item in named.values()
          if item.KIND != "part"),
        Part(name="a", in_="box", output=1000.0, efficiency=0.97),
    )  # fmt: skip
    made = stated(made, {"part.a.efficiency": "5 %"})
    found = flownet.uncertainty(made, samples=50, seed=1, defaults=False)
    assert found.drawn["part.a.efficiency"].max() <= 1.0
    (words,) = [text for text in found.verdicts() if "cut" in text]
    assert words.startswith("part.a.efficiency: 11 % of its tolerance lies outside")


def test_streams_are_even_and_do_not_follow_each_other():
    count = 5000
    columns = np.array([uniform(1, f"fan.f{i}.pressure_factor", count) for i in range(12)])
    assert all(stats.kstest(column, "uniform").pvalue > 1e-3 for column in columns)
    related = np.corrcoef(columns)[np.triu_indices(12, 1)]
    assert np.all(np.abs(related) < 4 / np.sqrt(count))
    assert columns.min() > 0
    assert columns.max() < 1


def test_the_first_and_the_last_step_lie_between_0_and_1(monkeypatch):
    """Whatever bits come: the middle of the lowest of 2^52 steps, and of the highest."""
    bits = np.array([0, 2**64 - 1], np.uint64)
    monkeypatch.setattr(np.random, "PCG64", lambda _: SimpleNamespace(random_raw=lambda n: bits))
    low, high = uniform(1, "x", 2)
    assert low == 0.5 / 2**52
    assert 1 - high == 0.5 / 2**52
