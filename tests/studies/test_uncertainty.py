"""Bands, chances and shares against closed forms and a general statistics library."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

import flownet
from flownet.enclosure.branches import Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError, NoSolution
from flownet.studies import shares
from flownet.studies.chances import Band, Chance, limits_table, percent
from flownet.studies.samples import RUN
from flownet.studies.tolerances import spreads
from flownet.studies.uncertainty import _outweighs
from tests.studies.toleranced import (
    AIR,
    AREA,
    OUTSIDE,
    POWERS,
    QUANTILE,
    RESISTANCE,
    TOLERANCES,
    U_VALUE,
    box,
    fan_box,
    stated,
)

SAMPLES = 4000


def deviations(within_a=0.10, within_b=0.20):
    """Standard deviation of part a by each power: dT/dP_a = 1/(UA) + R, dT/dP_b = 1/(UA)."""
    warm = 1 / (U_VALUE * AREA)
    return np.array([
        (warm + RESISTANCE) * within_a * POWERS["a"], warm * within_b * POWERS["b"],
    ]) / QUANTILE  # fmt: skip


@pytest.fixture(scope="module")
def linear():
    return flownet.uncertainty(box(TOLERANCES), samples=SAMPLES, seed=7, defaults=False,
                               of="part.a.temperature")  # fmt: skip


# --- bands ---------------------------------------------------------------------------------------


def test_a_linear_case_matches_the_root_of_the_sum_of_squares(linear):
    """Error propagation; the sampling error of a standard deviation is sigma / sqrt(2 n)."""
    wanted = np.sqrt(np.sum(deviations() ** 2))
    assert linear.shares.deviation == pytest.approx(wanted, abs=3 * wanted / np.sqrt(2 * SAMPLES))
    assert linear.shares.linear_deviation == pytest.approx(wanted, rel=1e-3)
    band = linear.bands["part.a.temperature"]
    middle = AIR + RESISTANCE * POWERS["a"]
    ends = stats.norm(middle, wanted).ppf([0.05, 0.5, 0.95])
    density = stats.norm(middle, wanted).pdf(ends)
    error = np.sqrt(np.array([0.05, 0.5, 0.95]) * [0.95, 0.5, 0.05] / SAMPLES) / density
    assert np.all(np.abs(np.array(band[2:5]) - ends) < 3 * error)
    assert stats.kstest(linear["part.a.temperature"], stats.norm(middle, wanted).cdf).pvalue > 0.01


def test_shares_match_the_closed_form_and_leave_nothing(linear):
    wanted = deviations() ** 2 / np.sum(deviations() ** 2)
    found = {row.spread.path: row for row in linear.shares.rows}
    for path, share in zip(TOLERANCES, wanted, strict=True):
        assert found[path].share == pytest.approx(share, abs=0.03)
        assert found[path].linear == pytest.approx(share, abs=1e-6)
    assert sum(row.share for row in linear.shares.rows) == pytest.approx(1.0, abs=1e-9)
    assert linear.shares.left == pytest.approx(0.0, abs=1e-9)
    effect = found["part.b.power"].effect
    assert effect == pytest.approx(0.20 * POWERS["b"] / (U_VALUE * AREA), rel=1e-9)


def test_what_a_straight_line_does_not_explain_is_left():
    """T = T_out + R P with both off: V(RP) = R2 s_P2 + P2 s_R2 + s_P2 s_R2, the last is left."""
    off = {"within": "90 %", "shape": "uniform"}
    made = box({"part.a.load": off, "part.a.resistance_factor": off})
    made = made.with_changes({"wall.skin.area": 1e6, "part.b.power": 0.0})
    found = flownet.uncertainty(made, samples=SAMPLES, seed=5, defaults=False,
                                of="part.a.temperature").shares  # fmt: skip
    one = 0.9**2 / 3  # variance of a uniform distribution over its mean squared
    total = 2 * one + one**2
    assert found.left == pytest.approx(one**2 / total, abs=0.02)
    for row in found.rows:
        assert row.share == pytest.approx(one / total, abs=0.03)
        assert row.linear == pytest.approx(0.5, abs=1e-4)
    assert sum(row.share for row in found.rows) + found.left == pytest.approx(1.0, abs=1e-12)
    assert found.deviation == pytest.approx(6.0 * np.sqrt(total), rel=0.04)
    assert found.linear_deviation == pytest.approx(6.0 * np.sqrt(2 * one), rel=1e-3)


def test_together_adds_up_and_each_by_itself_adds_in_squares():
    """n equal parts: standard deviation n s where they go together, sqrt(n) s where not."""
    n, each = 9, 0.10 * POWERS["b"] / QUANTILE / (U_VALUE * AREA)

    def deviation(entry):
        made = box({"part.c-*.power": entry}, copies=n)
        found = flownet.uncertainty(made, samples=SAMPLES, seed=3, defaults=False,
                                    of="compartment.box.temperature")  # fmt: skip
        assert len(found.spreads) == (1 if isinstance(entry, dict) else n)
        return found.shares.deviation, found.shares.linear_deviation

    error = 3 / np.sqrt(2 * SAMPLES)
    own, own_linear = deviation("10 %")
    assert own == pytest.approx(np.sqrt(n) * each, rel=error)
    assert own_linear == pytest.approx(np.sqrt(n) * each, rel=1e-3)
    joint, joint_linear = deviation({"within": "10 %", "together": True})
    assert joint == pytest.approx(n * each, rel=error)
    assert joint_linear == pytest.approx(n * each, rel=1e-3)


# --- chances -------------------------------------------------------------------------------------


@pytest.mark.parametrize("wanted", [0.03, 0.9])
def test_chances_match_the_normal_distribution_within_their_interval(wanted):
    sigma = np.sqrt(np.sum(deviations() ** 2))
    limit = float(stats.norm(AIR + RESISTANCE * POWERS["a"], sigma).ppf(wanted))
    found = flownet.uncertainty(box(TOLERANCES, limit=limit), samples=SAMPLES, seed=11,
                                defaults=False)  # fmt: skip
    (item,) = found.limits
    assert item.subject == "part.a"
    assert item.chance.low < wanted < item.chance.high
    assert item.chance == found.all_hold
    assert item.to_dict()["holds"]["share"] == item.chance.held / SAMPLES
    assert item._replace(chance=None).to_dict()["holds"] is None
    marks = {0.49: "bad", 0.5: "doubtful", 0.94: "doubtful", 0.95: "", 1.0: ""}  # our own choice
    some = [item._replace(chance=item.chance._replace(held=int(100 * share), samples=100))
            for share in marks]  # fmt: skip
    assert limits_table(some).columns[0].styles == [*marks.values()]
    assert found.shares.of == "part.a.temperature"


@pytest.mark.parametrize(("held", "samples"), [(0, 10), (1, 10), (93, 100), (999, 1000), (7, 7)])
def test_the_interval_is_that_of_a_statistics_library(held, samples):
    wanted = stats.binomtest(held, samples).proportion_ci(0.95, method="exact")
    found = Chance.of(held, samples)
    assert found.share == pytest.approx(held / samples)
    assert (found.low, found.high) == pytest.approx((wanted.low, wanted.high), abs=1e-12)


def test_all_hold_counts_samples_in_which_every_limit_does():
    """Part a and the air share their heat: the chance of both is not that of either squared."""
    made = stated(Enclosure.of(
        *(item for named in box({}).things.values() for item in named.values()
          if item.KIND not in ("compartment", "part")),
        Compartment(name="box", air_limit=AIR + 1),
        Part(name="a", in_="box", power=60.0, resistance=0.1, limit=AIR + 7),
        Part(name="b", in_="box", power=80.0),
    ), TOLERANCES)  # fmt: skip
    found = flownet.uncertainty(made, samples=1000, seed=2, defaults=False)
    both = (found["compartment.box.temperature"] <= AIR + 1) & (found["part.a.temperature"]
                                                                <= AIR + 7)  # fmt: skip
    assert found.all_hold.held == both.sum()
    assert found.all_hold.held <= min(item.chance.held for item in found.limits)
    assert found.limits[0].chance.share == min(item.chance.share for item in found.limits)


@pytest.mark.parametrize(("share", "words"), [
    (0.0, "0"), (1.0, "100"), (0.5, "50"), (0.999, "99.9"), (0.99996, "99.996"), (0.004, "0.4"),
])  # fmt: skip
def test_percent_is_never_rounded_to_never_or_always(share, words):
    assert percent(share) == words


# --- the same numbers ----------------------------------------------------------------------------


def test_fewer_samples_are_the_first_of_more_across_runs():
    made = box(TOLERANCES)
    told = []
    more = flownet.uncertainty(made, samples=RUN + 50, seed=4, defaults=False,
                               progress=lambda *done: told.append(done))  # fmt: skip
    assert told[-1] == (RUN + 50, RUN + 50)
    assert [done for done, _ in told] == sorted({done for done, _ in told})
    less = flownet.uncertainty(made, samples=40, seed=4, defaults=False)
    path = "part.a.temperature"
    assert less[path] == pytest.approx(more[path][:40], rel=1e-12)
    one = flownet.solve(made, changes={p: column[-1] for p, column in more.drawn.items()})
    assert more[path][-1] == pytest.approx(one[path], rel=1e-12)


def test_an_input_more_and_samples_more_change_no_other_draw(linear):
    made = box({**TOLERANCES, "wall.skin.u_value": "5 %"})
    more = flownet.uncertainty(made, samples=100, seed=7, defaults=False)
    for path in TOLERANCES:
        assert np.array_equal(more.drawn[path], linear.drawn[path][:100])
    other = flownet.uncertainty(made, samples=100, seed=8, defaults=False)
    assert not np.array_equal(other.drawn["part.a.power"], more.drawn["part.a.power"])


# --- what is not solved --------------------------------------------------------------------------


def too_hot(power):
    """The air may be 500 K above the outside at most: 2500 W through the wall."""
    hole = Vent(name="hole", from_="outside", to="box", area=0.001, loss=2.5)  # one: no net flow
    return box({"part.a.power": "20 %"}, hole, limit=900.0).with_changes({
        "part.a.power": power - POWERS["b"],
    })  # fmt: skip


def test_samples_without_a_solution_count_as_not_holding_and_are_in_no_band():
    """Half of a normal distribution lies above its mean; binomial scatter of 400: 4 x 10."""
    found = flownet.uncertainty(too_hot(2500.0), samples=400, seed=1, defaults=False)
    failed = found.drawn["part.a.power"] + POWERS["b"] > 500.0 * U_VALUE * AREA
    assert found.failed == failed.sum()
    assert 160 < found.failed < 240
    assert np.array_equal(np.isnan(found["part.a.temperature"]), failed)
    (item,) = found.limits
    solved = found["compartment.box.temperature"][~failed]
    assert (solved > 423.15).all()  # 500 K above the outside, or a little less
    assert (item.chance.held, item.chance.samples) == (0, 400)
    assert found.results.voids["extreme-air"].sum() == 400 - found.failed
    known = found["part.a.temperature"][~failed]
    assert item.value.low == pytest.approx(np.percentile(known, 5))
    assert item.value.samples == known.size
    assert found.verdict.startswith(f"{found.failed} of 400 samples have no solution")
    assert "more than 500 K above the outside" in found.reason


def test_the_first_line_counts_the_samples_that_are_void():
    """Air above 423.15 K is void: U A (T - T_out) = P, two deviations above the mean power."""
    power = U_VALUE * AREA * (423.15 - OUTSIDE) / 1.2
    limit = OUTSIDE + power / (U_VALUE * AREA) + RESISTANCE * (power - POWERS["b"])
    hole = Vent(name="hole", from_="outside", to="box", area=0.001, loss=2.5)
    case = box({"part.a.power": "20 %"}, hole, limit=limit)
    made = case.with_changes({"part.a.power": power - POWERS["b"]})
    found = flownet.uncertainty(made, samples=300, seed=1, defaults=False)
    void = int((found.drawn["part.a.power"] + POWERS["b"] > 1.2 * power).sum())
    assert 0 < void < 30
    assert found.verdict.startswith("part.a stays within")
    assert f"{void} of them void" in found.verdict
    calm = flownet.uncertainty(box(TOLERANCES), samples=20, seed=1, defaults=False)
    assert "void" not in calm.verdict


def test_a_case_that_fails_itself_has_no_linear_shares():
    found = flownet.uncertainty(too_hot(2520.0), samples=100, seed=1, defaults=False)
    assert np.isnan(found.shares.linear_deviation)
    assert found.shares.rows[0].share == pytest.approx(1.0, abs=1e-6)


def test_where_nothing_is_solved_it_raises():
    with pytest.raises(NoSolution, match=r"none of 20 samples was solved: .* 500 K above"):
        flownet.uncertainty(too_hot(9000.0), samples=20, seed=1, defaults=False)


def test_too_few_samples_share_out_nothing():
    found = flownet.uncertainty(box(TOLERANCES), samples=3, seed=1, defaults=False,
                                of="part.a.temperature")  # fmt: skip
    assert np.isnan(found.shares.left)
    assert all(np.isnan(row.share) and row.linear > 0 for row in found.shares.rows)
    assert [row.spread.path for row in found.shares.rows] == ["part.b.power", "part.a.power"]
    assert found.shares.rows[0].linear > found.shares.rows[1].linear
    assert "too few" in found.verdict


# --- what is asked wrongly -----------------------------------------------------------------------


@pytest.mark.parametrize(("keys", "said"), [
    ({"samples": 0}, "samples: a whole number of 2 to 1 000 000 is wanted (got 0)"),
    ({"samples": 2_000_000}, "samples: a whole number of 2 to 1 000 000 is wanted"),
    ({"samples": 10.5}, "samples: a whole number of 2 to 1 000 000 is wanted (got 10.5)"),
    ({"seed": -1}, "seed: a whole number from 0 is wanted (got -1)"),
    ({"seed": True}, "seed: a whole number from 0 is wanted (got True)"),
    ({"scenario": "hto"}, 'no scenario "hto"'),
    ({"of": "part.aa.temperature"}, 'did you mean "part.a.temperature"?'),
    ({"of": ""}, "of: no number among the results"),
    ({"of": "part.b.limit"}, "part.b.limit: no number among the results"),
    ({"of": "total.noise"}, "total.noise: has no value in any sample"),
    ({"changes": {"part.q.power": 1.0}}, "part.q"),
])  # fmt: skip
def test_wrong_input_is_named(keys, said):
    with pytest.raises(CaseError) as caught:
        flownet.uncertainty(box(TOLERANCES), **{"seed": 1, "samples": 20, **keys})
    assert said in str(caught.value)


def test_a_result_that_is_none_is_told_before_all_are_solved():
    def progress(done, total):
        raise AssertionError(f"{done} of {total}")

    with pytest.raises(CaseError, match="did you mean"):
        flownet.uncertainty(box(TOLERANCES), seed=1, of="part.aa.temperature", progress=progress)


def test_bands_of_levels_that_are_silent_are_silent():
    """A level of no sound is minus infinity; of nine below one level the median is that too."""
    values = np.array([-np.inf] * 9 + [40.0, np.nan])
    band = Band.of("total.noise", q.LEVEL, values)
    assert (band.low, band.middle, band.high, band.samples) == (-np.inf, -np.inf, 40.0, 10)


def test_without_any_tolerance_it_says_what_to_write():
    with pytest.raises(CaseError, match=r"tolerance: nothing is off; write \[tolerance\]"):
        flownet.uncertainty(dataclasses.replace(box({}), studies={}), seed=1, defaults=False)
    with pytest.raises(TypeError, match="seed"):
        flownet.uncertainty(box(TOLERANCES))  # type: ignore[call-arg]
    aisle = Outside(name="aisle", temperature=300.0, over_pressure=-2.0)
    items = [item for named in fan_box().things.values() for item in named.values()]
    raw = {"outside.aisle.over_pressure": {"within": "10 %", "shape": "lognormal"}}
    made = stated(Enclosure.of(*items, aisle), raw)
    with pytest.raises(CaseError, match=r'"lognormal" goes with a value above 0'):
        spreads(made)


# --- the result as data --------------------------------------------------------------------------


def test_the_result_is_plain_data(linear):
    content = linear.to_dict()
    assert (content["command"], content["samples"], content["solved"]) == (
        "uncertainty", SAMPLES, SAMPLES)  # fmt: skip
    row = {row["result"]: row for row in content["results"]}["part.a.temperature"]
    assert row["unit"] == "degC"
    assert row["p50"] == pytest.approx(AIR + 6 - 273.15, abs=0.2)
    shares = {row["path"]: row for row in content["shares"]}
    assert shares["part.b.power"]["effect_K"] == pytest.approx(3.2)
    assert content["deviation_K"] == pytest.approx(linear.shares.deviation)
    assert repr(linear).startswith('<Uncertainty "invented data" 4000 samples: ')
    assert "<table>" in linear._repr_html_()
    assert len(linear) == SAMPLES


def test_bands_are_of_results_and_not_of_what_a_table_repeats_of_the_inputs():
    """Every number of one solve has its band, but for limits, heights and where noise is heard."""
    case = fan_box().with_changes({"limits.noise_distance": 2.0})
    alone = flownet.solve(case)
    wanted = {f"total.{name}" for name in ("heat", "mass_flow", "volume_flow", "air_rise",
                                           "fan_power", "worst_margin", "wall_heat")}  # fmt: skip
    found = flownet.uncertainty(case, samples=32, seed=1)
    assert {path for path in found.bands if path.startswith("total.")} == wanted
    for path in ("part.load.temperature", "fan.first.rise", "vent.hole.reynolds"):
        assert found.bands[path].low < alone[path] < found.bands[path].high
    assert not [path for path in found.bands if path.endswith((".limit", ".level"))]
    assert alone["total.noise_distance"] == 2.0


def test_noise_alone_leaves_everything_and_gives_no_share_below_zero():
    """Values that follow no input: the corrected rest may pass the whole, and is held there."""
    rng = np.random.default_rng(7)
    for _ in range(40):
        found, left = shares._regressed(rng.normal(size=(5, 12)), rng.normal(size=12))
        assert 0.0 <= left <= 1.0
        assert (found >= 0).all()
        assert found.sum() + left == pytest.approx(1.0)


def test_samples_count_what_layers_take_from_each():
    """What is taken from the case as stated stands for that of each sample: about what samples
    that are solved in layers say."""
    case, key = flownet.load_case("cases/drive-cabinet"), "compartment.{}.layers"
    mixed, layered = (
        flownet.uncertainty(case, samples=100, seed=2, scenario="hot+dirty", changes=changes)
        for changes in ({}, {key.format(name): 4 for name in ("lower", "upper")})
    )
    there = {item.subject: item.chance.share for item in layered.limits}
    told = {item.subject: item.chance.share for item in mixed.limits_in_layers}
    assert told == pytest.approx(there, abs=0.05)
    once = {item.subject: item.chance.share for item in mixed.limits}
    assert once["compartment.upper"] > there["compartment.upper"] + 0.05


@pytest.mark.parametrize(("lost", "held", "more"), [(3, 4, True), (2, 4, False), (0, 10, False)])
def test_samples_that_are_lost_outweigh_those_that_break_a_limit(lost, held, more):
    """Of ten, those that are sound and not held break it: 3 against 3, 2 against 4, none."""
    sound = np.arange(10) >= lost
    found = SimpleNamespace(results=SimpleNamespace(ok=np.ones(10, bool), sound=sound),
                            limits=[SimpleNamespace(chance=Chance.of(held, 10))])  # fmt: skip
    assert _outweighs(found) == more


def share_of(path, share, linear):
    return SimpleNamespace(spread=SimpleNamespace(path=path), share=share, linear=linear,
                           effect=1.0)  # fmt: skip


def test_what_moves_less_than_half_a_thousandth_is_not_shown():
    rows = [share_of("a", 0.6, 0.6), share_of("b", 0.0006, 0.0), share_of("c", 0.0, 0.0006),
            share_of("d", 0.0004, 0.0004)]  # fmt: skip
    found = SimpleNamespace(rows=rows, difference=q.DIFFERENCE, of="x")
    short, every, data = shares.shares_tables(found)
    assert (short.columns[0].values, every.columns[0].values) == (["a", "b", "c"], [*"abcd"])
    assert data.columns[1].values == [0.6, 0.0006, 0.0, 0.0004]
    assert short.columns[2].values == ["60.0 %", "0.1 %", "0.0 %"]


@pytest.mark.parametrize(("share", "told"), [(0.5, "most of"), (0.49, "the largest part of")])
def test_half_of_a_spread_is_most_of_it(share, told):
    rows = [share_of("a", share, share), share_of("b", 1 - share, 0.1)]
    found = SimpleNamespace(rows=rows, of="x", deviation=1.0)
    assert told in shares.origin(found, 100, own=True)
