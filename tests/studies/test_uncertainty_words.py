"""Chances, bands and what is said of them, on samples by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from flownet.results.limits import Limit
from flownet.schema import quantities as q
from flownet.studies import uncertainty
from flownet.studies.chances import (
    Band,
    Chance,
    LimitChance,
    _bare,
    all_hold,
    bands_data,
    limit_chances,
    limits_table,
)
from flownet.studies.samples import Samples


@pytest.mark.parametrize(("low", "high", "told"), [
    (0.123, 0.876, "12 to 88 %"), (0.12, 0.88, "12 to 88 %"), (0.0051, 0.9949, "0.5 to 99.5 %"),
    (0.0, 1.0, "0 to 100 %"), (0.0099, 0.9901, "0.9 to 99.1 %"), (0.0101, 0.9899, "1 to 99 %"),
])  # fmt: skip
def test_an_interval_is_rounded_outwards(low, high, told):
    assert Chance(5, 10, low, high).interval == told


def limit(kind, subject, margins, bound=350.0):
    margins = np.array(margins, float)
    of = q.LEVEL if kind == "noise" else q.TEMPERATURE
    by = q.LEVEL_DIFFERENCE if kind == "noise" else q.DIFFERENCE
    bounds = np.where(np.isnan(margins), bound, bound + 0 * margins)
    return Limit(kind, subject, bounds - margins, bounds, margins, of, by)


def samples(*limits, voids=None, status=None):
    count = len(limits[0].margin)
    return Samples({}, {}, limits, status or ("",) * count, voids or {})


def test_limits_come_by_their_chance_then_temperatures_then_the_least_margin():
    """Of four samples, of which one is void; what was not solved holds nothing; without a value
    last."""
    some = samples(
        limit("noise", "total.noise", [1, 1, -1, 1]), limit("part", "a", [1, 5, -1, 1]),
        limit("part", "b", [0.5, 5, -1, 1]), limit("part", "c", [-1, -1, 5, 5]),
        limit("part", "d", [math.nan] * 4), limit("part", "e", [1, 1, 1, math.nan]),
        voids={"stall": np.array([0, 0, 0, 1], bool)},
    )  # fmt: skip
    found = limit_chances(some)
    assert [item.subject for item in found] == ["c", "b", "a", "total.noise", "e", "d"]
    held = {item.subject: item.chance and item.chance.held for item in found}
    assert held == {"c": 1, "b": 2, "a": 2, "total.noise": 2, "e": 3, "d": None}
    assert {item.chance.samples for item in found if item.chance} == {4}
    bare = samples(limit("part", "a", [1, 1])._replace(bound=np.full(2, np.nan)))
    assert limit_chances(bare) == ()
    less = limit_chances(some, {("part", "e"): 0.9, ("part", "a"): 1.5})
    assert {item.subject: item.chance and item.chance.held for item in less} == held | {"a": 1}
    (e,) = [item for item in less if item.subject == "e"]
    assert e.margin.middle == pytest.approx(0.1)
    both = all_hold(some)
    assert (both.held, both.samples) == (0, 4)
    assert all_hold(samples(*some.limits[:3])).held == 3
    assert all_hold(samples(limit("part", "d", [math.nan] * 2))) is None


@pytest.mark.parametrize(("values", "ends", "known"), [
    ([math.nan] * 3, (math.nan,) * 3, 0), (range(101), (5.0, 50.0, 95.0), 101),
    ([1.0, math.nan, 3.0], (1.1, 2.0, 2.9), 2),
    # not interpolated with what is silent: of 11 the first, the sixth and the last but one or last
    ([-math.inf, *range(10)], (-math.inf, 4.0, 9.0), 11),
])  # fmt: skip
def test_a_band_has_the_percentiles_of_what_is_known(values, ends, known):
    band = Band.of("x", q.RATIO, np.array([*values], float))
    assert band.ends == pytest.approx(ends, nan_ok=True)
    assert band.samples == known


@pytest.mark.parametrize(("quantity", "value", "told"), [
    (q.HOURS, 41234.0, "41 234"), (q.TEMPERATURE, 331.15, "58.0"), (q.TEMPERATURE, math.nan, "-"),
])  # fmt: skip
def test_a_bare_value_stands_beside_its_unit(quantity, value, told):
    assert _bare(quantity, value, "metric") == told


def chance(held, count=100):
    return Chance.of(held, count)


def held(subject="part.a", share=0.9, kind="part"):
    band = Band(subject, q.TEMPERATURE, 300.0, 310.0, 320.0, 100)
    return LimitChance(kind, subject, 333.15, band, band._replace(quantity=q.DIFFERENCE),
                       None if share is None else chance(round(100 * share)))  # fmt: skip


def test_columns_of_limits_are_what_they_are_of():
    table = limits_table([held(), held("part.b", None), held("part.c", 0.3)])
    columns = {column.name: column for column in table.columns}
    assert [*columns] == ["Limit", "P5", "P50", "P95", "limit", "holds", "95 % sure"]
    assert [columns[name].values[0]("metric") for name in ("P5", "P50", "P95")] == [
        "26.9", "36.9", "46.9"]  # fmt: skip
    assert columns["holds"].values == ["90 %", "no value", "30 %"]
    assert columns["95 % sure"].values[1] == "-"
    assert columns["Limit"].styles == ["doubtful", "doubtful", "bad"]
    data = bands_data([Band("x", q.TEMPERATURE, 1.0, 2.0, 3.0, 7)])
    assert [(column.name, column.values) for column in data.columns] == [
        ("result", ["x"]), ("unit", ["degC"]), ("p5", (1.0,)), ("p50", (2.0,)), ("p95", (3.0,)),
        ("samples", [7])]  # fmt: skip


# --- in layers -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("first", "lost", "broken", "told"), [
    (held(share=0.8), 2.0, (), "in 80 %, if they take 2.0 K from each sample"),
    (held("part.b", 0.8), 2.0, (), "part.b stays within 60 degC in 80 %"),
    (held(share=0.9), 2.0, (), "it has 2.0 K less margin than the samples say"),
    (held(share=0.9), 1.0, (), "it has 1.0 K less margin than the samples say"),
    (held(share=0.9), 0.95, (), None), (held("part.b", 0.9), 2.0, (), None),
    (held(share=0.9), 0.5, (limit("part", "part.q", -3.0),), "as it is stated part.q 3.0 K over"),
    (held(share=0.95), 2.0, (), "it has 2.0 K less"), (held(share=None), 2.0, (), "it has 2.0 K"),
])  # fmt: skip
def test_what_layers_say_against_mixed_samples(first, lost, broken, told):
    """From 1 K on it is worth a word."""
    found = SimpleNamespace(limits=[held()], limits_in_layers=[first], steadily_broken=broken,
                            lost_in_layers={("part", first.subject): lost})  # fmt: skip
    words = list(uncertainty._layers(found, "metric"))
    assert len(words) == (told is not None)
    assert told is None or told in words[0]


def results(void=0, failed=0, count=20):
    sound = np.arange(count) >= void
    status = tuple("no way out" if i >= count - failed else "" for i in range(count))
    voids = {"stall": ~sound, "backflow": np.zeros(count, bool)}
    return Samples({}, {}, (), status, voids)


@pytest.mark.parametrize(("void", "failed", "few", "lost"), [
    (0, 0, "", []),
    (3, 0, ", 3 of them void", ["15 % of 20 samples are void (stall in 15 %): they"]),
    (0, 2, ", 2 without a solution", ["2 of 20 samples have no solution: they"]),
    (3, 2, ", 3 of them void, 2 without a solution",
     ["2 of 20 samples have no solution: they",
      "15 % of 20 samples are void (stall in 15 %): they"]),
])  # fmt: skip
def test_samples_that_hold_no_limit_are_counted(void, failed, few, lost):
    made = results(void, failed)
    found = SimpleNamespace(results=made, failed=int((~made.ok).sum()), reason="no way out")
    assert uncertainty._few(found) == few
    told = list(uncertainty._lost(found, "20"))
    assert [text.startswith(start) for text, start in zip(told, lost, strict=True)] == [
        True] * len(lost)  # fmt: skip
