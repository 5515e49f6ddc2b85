"""What is kept of a combination, and in which order scenarios are tried, on numbers by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from flownet.judging.assessment import OK, OVER, TIGHT, UNKNOWN, UNSOLVED, VOID
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.studies.choice import evaluate
from flownet.studies.choice.axes import space_of
from flownet.studies.choice.evaluate import KEPT_FIELDS, UNTRIED, Evaluation
from flownet.studies.choice.search import Fitness, _by, _starts
from flownet.studies.choice.study import (
    _pair,
    _spots,
    check_counts,
    check_limits,
    choose_options,
)
from tests.studies.test_choice import BOX, PLACES


def fresh(count):
    return np.repeat(np.array([tuple(UNTRIED.values())], KEPT_FIELDS), count).view(np.recarray)


def test_what_was_not_tried_has_no_limit_and_no_scenario(read):
    trial = Evaluation(space_of(read(BOX + PLACES), "places", ("warm",)), ("warm",))
    (row,) = trial.add(trial.space.grid(2)[:1])
    kept = trial.kept[row]
    for limit, scene in ((kept.limit, kept.scene), (kept.out_limit, kept.out_scene)):
        assert trial.named(limit, scene) == ("", "", "")
    assert trial.worst(row)[:3] == ("", "", "")
    assert trial.worst(row)[4] == q.DIFFERENCE
    assert (kept.score, kept.miss, kept.out) == (math.inf, -math.inf, False)
    assert (trial.status[row] == evaluate.NOT_TRIED).all()
    assert np.isnan([kept.margin, kept.noise, kept.power, kept.warm]).all()


def test_what_cannot_be_made_is_out_and_last_before_it_is_solved(read, monkeypatch):
    made = evaluate.add_scenes
    monkeypatch.setattr(evaluate, "add_scenes", lambda *given: made(*given) | {1: "rated_speed"})
    trial = Evaluation(space_of(read(BOX + PLACES), "places", ("warm",)), ("warm",))
    rows = trial.add(trial.space.grid(2)[:3])
    assert trial.kept.out[rows].tolist() == [False, True, False]
    assert trial.kept.score[rows].tolist() == [math.inf, -math.inf, math.inf]
    assert (trial.status[1] == UNSOLVED).all()
    assert (trial.status[[0, 2]] == evaluate.NOT_TRIED).all()
    assert list(trial.reasons) == ["rated_speed"]


class Keeping:
    """Two combinations, of which each scenario says what a test says."""

    keep, named = Evaluation.keep, Evaluation.named

    def __init__(self):
        self.kept, self.status = fresh(2), np.full((2, 3), evaluate.NOT_TRIED)

    def _limits(self, stand):
        return stand.limit, stand.limit + 10

    def told(self, k, **said):
        count = 2
        words = {"score": [5.0, 5.0], "margin": [1.0, 2.0], "status": [OK, OK],
                 "miss": [-1.0, -1.0], "noise": [40.0, 40.0], "power": [3.0, 3.0],
                 "warm": [9.0, 9.0]} | said  # fmt: skip
        stand = SimpleNamespace(**{key: np.array(value) for key, value in words.items()},
                                limit=np.full(count, k))  # fmt: skip
        stand.holds = np.isin(stand.status, (OK, TIGHT))
        pairs = {"total.noise": stand.noise, "total.fan_power": stand.power,
                 "total.worst_margin": stand.warm}  # fmt: skip
        self.keep(k, np.arange(count), pairs, stand)
        return self.kept


@pytest.fixture
def keeping(monkeypatch):
    monkeypatch.setattr(evaluate, "score", lambda stand: stand.score)
    return Keeping()


def test_the_first_cause_decides_and_what_was_not_solved_has_no_limit():
    """Three limits of which a pair may have none; a void pair keeps the limit of its margin."""
    limits = [SimpleNamespace(limit="part", subject=f"part.{n}", margin_quantity=q.DIFFERENCE)
              for n in "abc"]  # fmt: skip
    voids = [SimpleNamespace(word=word, subject="fan.a", runs=np.array([False, False, True, False]))
             for word in ("backflow", "stall")]  # fmt: skip
    stand = SimpleNamespace(limits=limits, voids=voids, row=np.array([2, 3, 1, 0]),
                            status=np.array([OK, UNKNOWN, VOID, UNSOLVED]))  # fmt: skip
    trial = SimpleNamespace(limits={})
    found, measured = Evaluation._limits(trial, stand)
    assert list(trial.limits)[found[2]] == ("backflow", "fan.a")
    assert (found[[0, 1, 3]].tolist(), measured.tolist()) == ([2, -1, -1], [2, -1, 1, -1])


@pytest.mark.parametrize(("scores", "scenes"), [
    ([5.0, 5.0, 5.0], (0, 0)), ([5.0, 5.0 - 4e-7, 5.0 + 4e-7], (0, 0)),
    ([5.0, 5.0 - 2e-6, 5.0], (2, 2)), ([5.0, 5.0, 4.0], (1, 1)), ([4.0, 5.0, 5.0], (0, 0)),
])  # fmt: skip
def test_the_worst_scenario_is_kept_of_equal_ones_the_first_that_is_listed(scores, scenes, keeping):
    """Tried in the order 0, 2, 1; equal to a millionth."""
    for k, score in zip((0, 2, 1), scores, strict=True):
        kept = keeping.told(k, score=[score] * 2, margin=[float(k)] * 2)
    assert tuple(kept.scene) == scenes
    assert kept.limit.tolist() == kept.scene.tolist()
    assert kept.measured.tolist() == [10 + k for k in scenes]
    assert kept.margin.tolist() == [float(k) for k in scenes]


def test_what_breaks_a_limit_is_out_by_the_first_and_misses_by_the_most(keeping):
    keeping.told(1, status=[OVER, OK], miss=[0.2, -0.5], score=[3.0, 5.0])
    keeping.told(2, status=[OVER, UNKNOWN], miss=[0.1, math.inf], score=[4.0, 5.0])
    kept = keeping.told(0, status=[VOID, UNSOLVED], miss=[math.inf] * 2, score=[2.0, 1.0])
    assert (kept.out.tolist(), kept.out_scene.tolist()) == ([True, True], [1, 2])
    assert kept.out_limit.tolist() == [1, 2]
    assert kept.miss.tolist() == [0.2, math.inf]  # what is void or not solved says no number
    assert keeping.status.tolist() == [[VOID, OVER, OVER], [UNSOLVED, OK, UNKNOWN]]


def test_the_most_noise_and_power_and_the_least_margin_are_kept(keeping):
    keeping.told(0, noise=[40.0, np.nan], power=[3.0, 8.0], warm=[np.nan, 4.0])
    kept = keeping.told(1, noise=[38.0, 41.0], power=[np.nan, 9.0], warm=[5.0, 2.0])
    assert kept.noise.tolist() == [40.0, 41.0]
    assert kept.power.tolist() == [3.0, 9.0]
    assert kept.warm.tolist() == [5.0, 2.0]


def test_the_nearest_fails_least_often_then_by_causes_misses_and_score():
    """Two entries of three scenarios, the outages of both fans being one; one without any scenario
    fails in all."""
    n = evaluate.NOT_TRIED
    rows = [  # status in each scenario, where it applies, miss, score
        ([OK, OVER, OVER], [1, 1, 1], 0.3, 1.0), ([OVER, OVER, OK], [1, 1, 1], 0.1, 9.0),
        ([OK, OVER, n], [1, 1, 0], 0.3, 2.0), ([UNSOLVED, OK, OK], [1, 1, 1], -math.inf, 0.0),
        ([VOID, OK, OK], [1, 1, 1], -math.inf, 0.0), ([OVER, n, n], [1, 1, 1], 0.3, 2.5),
        ([OK, OK, OVER], [1, 1, 1], 0.2, -7.0), ([n, n, n], [0, 0, 0], -math.inf, math.inf),
        ([OVER, n, n], [1, 0, 0], 0.0, 3.0), ([OK, TIGHT, n], [1, 1, 1], -0.1, 3.0),
    ]  # fmt: skip
    status, applies, miss, score = (np.array(column) for column in zip(*rows, strict=True))
    trial = SimpleNamespace(
        status=status, applies=applies.astype(bool), entries=["base", "each-fan-out"],
        scenes=[SimpleNamespace(asked=asked) for asked in ("base", *["each-fan-out"] * 2)],
        kept=SimpleNamespace(miss=miss, score=score))  # fmt: skip
    trial._in_entries = lambda pairs: Evaluation._in_entries(trial, pairs)
    trial.off = Evaluation.off.fget(trial)
    assert np.array(trial.off)[0].tolist() == [1, 2, 1, 1, 1, 1, 1, 2, 2, 0]
    assert np.array(trial.off)[1:3].tolist() == [
        [0, 0, 0, 1, 0, 0, 0, 0, 0, 0], [0, 0, 0, 0, 1, 0, 0, 0, 0, 0]]  # fmt: skip
    found = Evaluation.nearest(trial, np.arange(10))
    assert found.tolist() == [9, 6, 5, 2, 0, 4, 3, 7, 8, 1]


class Sampled:
    """Combinations that fail in scenarios as is said; all of them are the sample."""

    _order, seed = Evaluation._order, 0

    def __init__(self, fails, applies):
        self.fails, self.applies, self.scenes = fails, applies, [*range(fails.shape[1])]

    def solve(self, some):
        ((_, rows),) = some
        return [rows]

    def stand(self, k, rows, pairs):
        assert pairs.tolist() == rows.tolist()
        return SimpleNamespace(holds=~self.fails[rows, k])


def test_the_scenario_that_breaks_most_comes_first_then_most_of_the_rest(monkeypatch):
    rng = np.random.default_rng(4)
    fails, applies = rng.random((40, 5)) < (0.1, 0.5, 0.3, 0.45, 0.2), rng.random((40, 5)) < 0.8
    monkeypatch.setattr(evaluate, "SAMPLE", 40)
    monkeypatch.setattr(evaluate, "FEW", 39)
    alive, left, wanted = set(range(40)), list(range(5)), []
    while left:
        best = max(left, key=lambda k: (sum(fails[i, k] and applies[i, k] for i in alive), -k))
        wanted.append(best)
        left.remove(best)
        alive -= {i for i in alive if fails[i, best] and applies[i, best]}
    assert Sampled(fails, applies)._order(np.arange(40)) == wanted != [*range(5)]
    assert Sampled(fails, applies)._order(np.arange(39)) == [*range(5)]


def test_two_measures_of_a_picture_are_those_that_rank_or_another_that_is_known():
    """In the order margin, noise, power, price."""
    nan = np.array([np.nan, np.inf])
    known = {"temperature": nan, "noise": nan, "power": np.array([np.nan, 1.0]),
             "price": np.ones(2)}  # fmt: skip
    assert _pair(["price", "noise"], known) == ("price", "noise")
    assert _pair(["noise"], known) == ("noise", "power")
    assert _pair(["power"], known) == ("power", "price")
    assert _pair(["power"], dict.fromkeys(known, nan)) == ("power", "temperature")
    assert _pair(["temperature"], dict.fromkeys(known, nan)) == ("temperature", "noise")


def test_spots_of_a_picture_are_margins_and_figures_each_once():
    measures = {"temperature": np.array([-3.0, 1.0, -3.0, np.nan, -2.0]),
                "price": np.array([2.0, 4.0, 2.0, 1.0, np.inf])}  # fmt: skip
    assert _spots(measures, ("temperature", "price"), np.arange(5)) == ((3.0, 2.0), (-1.0, 4.0))
    assert _spots(measures, ("price", "temperature"), np.array([1])) == ((4.0, -1.0),)


def tried(limits, status, solved=3):
    return SimpleNamespace(limits=dict.fromkeys((kind, "x") for kind in limits), solved=solved,
                           status=np.array(status), parts=[np.arange(len(status))])  # fmt: skip


@pytest.mark.parametrize(("limits", "status", "solved", "refused"), [
    (["part"], [[OK]], 3, False), ([], [[UNKNOWN]], 3, True), (["stall"], [[VOID]], 3, True),
    ([], [[UNSOLVED]], 3, False), ([], [[UNKNOWN], [UNSOLVED]], 3, False), ([], [[OK]], 0, False),
    (["stall", "noise"], [[VOID]], 3, False),
])  # fmt: skip
def test_a_case_without_a_limit_is_refused_where_all_of_it_was_solved(
    limits, status, solved, refused
):
    if refused:
        with pytest.raises(CaseError, match="limits: the case has none"):
            check_limits(tried(limits, status, solved))
    else:
        assert check_limits(tried(limits, status, solved)) == {*limits} - {"stall"}


def test_counts_are_taken_from_their_least_on(read):
    case = read(BOX + PLACES)
    with pytest.raises(CaseError, match="nope"):  # which is looked at once counts are right
        choose_options(case, "nope", most=1, levels=2, searched=1, seed=0)
    for more in ({"most": 0}, {"levels": 1}, {"searched": 0}, {"seed": -1}, {"seed": True}):
        with pytest.raises(CaseError, match="a whole number of at least"):
            choose_options(case, "nope", **more)
    check_counts(n=(np.int64(3), 3))


def test_free_values_are_moved_from_the_best_of_each_listed_combination():
    """One axis is free: of each value of the other the best, holding ones first; six at most, with
    two measures those of the front besides."""
    rows = np.array([[kind, free] for kind in range(8) for free in (0.1, 0.2)])
    accepted = np.zeros(16, bool)
    accepted[[3, 5, 4]] = True
    every = SimpleNamespace(
        accepted=accepted, rows=rows, space=SimpleNamespace(free=[1]),
        kept=SimpleNamespace(score=-np.arange(16.0)), trade_off=lambda best, holding: (
            np.array([5, 4]), None), best_first=lambda best, holding: holding[::-1])  # fmt: skip
    assert _starts(every, ("noise",)) == [5, 3, 0, 6, 8, 10]
    assert _starts(every, ("noise", "price")) == [5, 3, 0, 6, 8, 10, 4]


def test_a_measure_that_does_not_feel_free_values_gives_way_to_the_margin():
    fine = SimpleNamespace(_replace=lambda of: SimpleNamespace(flat=lambda: of == "noise"))
    assert [_by(fine, name) for name in ("noise", "power", "price")] == [
        "temperature", "power", "temperature"]  # fmt: skip


def test_a_goal_of_two_measures_is_the_sum_of_their_shares():
    """Each combination is solved once; 0 and 1 at the ends of what the first generation spans."""
    added = []

    class Every:
        space = SimpleNamespace(plain=lambda rows: rows)
        accepted, kept = np.ones(4, bool), SimpleNamespace(score=np.zeros(4))

        def add(self, rows):
            added.append(len(rows))
            return np.arange(len(rows)) + sum(added[:-1])

        def run(self, some, prune):
            assert not prune

        def measures(self, here):
            return {"noise": np.array([30.0, 50.0, 40.0, 60.0])[here],
                    "price": np.array([5.0, 1.0, 3.0, 9.0])[here]}  # fmt: skip

    judge = Fitness(Every(), {}, ("noise", "price"))
    first = np.array([[0.0], [1.0], [0.0], [2.0]])
    assert judge(first).tolist() == [1.0, 1.0, 1.0, 1.0]
    assert judge(np.array([[3.0], [1.0]])).tolist() == [1.5 + 2.0, 1.0]
    assert added == [3, 1]
    added.clear()
    assert Fitness(Every(), {}, ("price",))(first).tolist() == [5.0, 1.0, 5.0, 3.0]


def test_without_a_fan_that_runs_a_design_is_silent_and_with_one_of_no_level_it_is_unknown():
    kept = np.zeros(4, KEPT_FIELDS)
    kept["noise"], running = [math.nan, math.nan, 40.0, 40.0], np.array([0, 2, 2, 1])
    space = SimpleNamespace(running=running.__getitem__, noisy=lambda rows: rows != 3,
                            prices=lambda rows: 10.0 * rows)  # fmt: skip
    kept_by = SimpleNamespace(rows=np.arange(4), kept=kept, space=space)
    found = Evaluation.measures(kept_by, np.array([0, 1, 2, 3]))
    np.testing.assert_array_equal(found["noise"], [-math.inf, math.nan, 40.0, math.nan])
    assert found["price"].tolist() == [0.0, 10.0, 20.0, 30.0]
