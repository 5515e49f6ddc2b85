"""The parts of a choice one by one, against their definitions and single solves."""

from __future__ import annotations

import dataclasses
import itertools
import math
import re
from functools import cmp_to_key
from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet.judging.assessment import Runs, assess
from flownet.judging.voids import STALL, Void
from flownet.results.limits import Limit
from flownet.schema.errors import CaseError
from flownet.schema.quantities import DIFFERENCE, HOURS, LEVEL_DIFFERENCE, TEMPERATURE
from flownet.studies.choice import evaluate
from flownet.studies.choice.axes import space_of
from flownet.studies.choice.evaluate import Evaluation
from flownet.studies.choice.option import best as best_table
from flownet.studies.choice.order import merit, ranked, score
from flownet.studies.choice.refine import KEPT_BY, Fine
from flownet.studies.choice.search import Fitness, _moved
from flownet.studies.choice.study import LACKING, _lacking, choose_options
from flownet.studies.verdicts import closeness
from tests.studies.test_choice import ANY, BOX, CLOSED


def space(case, name="c"):
    return space_of(case, name, ("base",))


# --- order ---------------------------------------------------------------------------------------


def test_the_order_is_that_of_a_comparison_of_two():
    """Less of the first measure, then of the second, then more score, then as they stand; what is
    nearer than half of 1e-6 is alike, and what is not known is last."""
    rng = np.random.default_rng(2)
    first, second, score = rng.integers(-2, 3, (3, 200)) / 2 + rng.choice([0.0, 3e-7], (3, 200))
    first[::17], second[::13] = np.nan, np.nan

    def before(i, j):
        for values, sign in ((first, 1), (second, 1), (score, -1)):
            a, b = values[i], values[j]
            if math.isnan(a) != math.isnan(b):
                return -1 if math.isnan(b) else 1
            if abs(a - b) > 1e-6:
                return sign if a > b else -sign
        return i - j

    wanted = sorted(range(200), key=cmp_to_key(before))
    assert ranked([first, second], score).tolist() == wanted
    assert ranked([np.array([2e-6, 0.0])], np.zeros(2)).tolist() == [1, 0]
    assert ranked([np.zeros(2)], np.array([0.0, 2e-6])).tolist() == [1, 0]


KINDS = {"part": (350.0, DIFFERENCE), "noise": (50.0, LEVEL_DIFFERENCE), "life": (4e4, HOURS)}


def stands(*runs):
    """How runs stand, each a dict of margins by kind of limit, `void` and `ok`."""
    limits = []
    for kind, (bound, by) in KINDS.items():
        margin = np.array([run.get(kind, np.nan) for run in runs])
        bounds = np.array([bound if kind in run else np.nan for run in runs])
        limits.append(Limit(kind, kind, 0.0, bounds, margin, TEMPERATURE, by))
    void = np.array([bool(run.get("void")) for run in runs])
    ok = np.array([run.get("ok", True) for run in runs])
    count = len(runs)
    return assess(Runs(tuple(limits), ok, np.full(count, 5.0), np.full(count, 300.0),
                       (Void(STALL, "fan.a", void),), np.zeros(count, bool)))  # fmt: skip


WORST_FIRST = [
    {"ok": False, "part": 9.0},
    {"part": -5.0, "void": True}, {"part": -2.0, "noise": -9.0, "void": True},
    {"noise": -10.0, "void": True}, {"noise": -5.0, "void": True},
    {"part": 0.5, "void": True}, {"part": 3.0, "void": True},
    {"part": -5.0}, {"part": -2.0, "noise": -20.0},
    {"life": -2e4}, {"noise": -10.0, "part": 9.0}, {"life": -4e3}, {"noise": -2.0},
    {}, {"part": 1.0}, {"part": 3.0, "noise": 1.0}, {"part": 200.0}, {"noise": 1.0},
    {"noise": 2.0}, {"life": 8e3},
]  # fmt: skip


def test_one_number_orders_runs_from_the_worst_to_the_best():
    """Broken by kelvins, then by the share of the bound: 10 dB of 50 are 20 %, 4000 h of 40 000
    10 %; what has no limit is behind what breaks one; what has no temperature limit is ahead."""
    found = score(stands(*WORST_FIRST))
    assert (np.diff(found) > 0).all()
    assert found[0] == -math.inf
    assert found[8] - found[7] == pytest.approx(3.0)
    assert found[15] - found[14] == pytest.approx(2.0)
    assert found[2] - found[1] == pytest.approx(3.0)
    assert found[6] - found[5] == pytest.approx(2.5)
    assert found[10] - found[9] == pytest.approx(0.5 - 0.2)
    assert found[11] - found[10] == pytest.approx(0.2 - 0.1)
    assert found[14] == pytest.approx(1.0)


def test_one_number_without_any_limit():
    nothing = assess(Runs((), np.array([True, False]), np.full(2, 5.0), np.full(2, 300.0), (),
                          np.zeros(2, bool)))  # fmt: skip
    found = score(nothing)
    assert found[1] == -math.inf
    assert found[0] == score(stands({}))[0]


def test_merit_is_the_measure_of_what_holds_else_how_far_it_is_off():
    """Whatever holds is before whatever does not; no solution is last; not known is behind."""
    measure = np.array([3.0, -2.0, np.nan, -np.inf, 1.0, 1.0, 1.0])
    score = np.array([1.0, 1.0, 1.0, 1.0, -4.0, -9.0, -np.inf])
    holds = np.array([True, True, True, True, False, False, False])
    found = merit(measure, score, holds)
    assert np.isfinite(found).all()
    assert np.argsort(found).tolist() == [3, 1, 0, 2, 4, 5, 6]
    assert found[:2] == pytest.approx([3.0, -2.0])
    assert found[5] - found[4] == pytest.approx(5.0)


# --- the combinations ----------------------------------------------------------------------------

SPACE = (
    BOX
    + """
[fan.spare]
like = "left"
state = "blanked"
type = "mute"

[fan.still]
like = "left"
state = "stopped"

[fan_type.mute]
curve = { flow = "0 60 m3/h", rise = "80 0 Pa" }
flow_area = "60 cm2"
price = 7.0

[scenario.helped]
fan.spare.state = "running"

[choice.c]
fan.left.state = ["running", "stopped", "blanked"]
fan.right.type = ["mute", "small", "large"]
fan.right.state = ["blanked", "running"]
fan.left.type = ["small", "mute"]
fan.spare.type = ["large", "small"]
vent.low.area = ["60 cm2", "90 cm2"]
"""
)


def test_prices_noise_and_running_fans_of_every_combination(read):
    """Each against the case with its changes: sums over the fans that are not blanked."""
    case = read(SPACE)
    made = space(case)
    rows = made.grid(9)
    assert len(rows) == made.count(9) == 3 * 3 * 2 * 2 * 2 * 2
    designs = [case.with_changes(made.changes(row)) for row in rows]
    listed = [axis.values for axis in made.axes]
    assert [tuple(made.changes(row).values()) for row in rows] == list(itertools.product(*listed))
    for column, axis in zip(made.columns(rows).values(), made.axes, strict=True):
        assert column.tolist() == [made.changes(row)[axis.path] for row in rows]

    def fans(design):
        return [(f, design.things["fan_type"][f.type]) for f in design.fans.values()
                if f.state != "blanked"]  # fmt: skip

    assert made.prices(rows) == pytest.approx([sum(t.price for _, t in fans(d)) for d in designs])
    assert made.noisy(rows).tolist() == [
        not any(math.isnan(t.noise_dBA) for _, t in fans(d)) for d in designs
    ]
    running = [sum(f.state == "running" for f in d.fans.values()) for d in designs]
    assert made.running(rows).tolist() == running
    paths = [axis.path for axis in made.axes]
    for row, design in zip(made.idle(rows), designs, strict=True):
        shut = {n for n, f in design.fans.items() if f.state == "blanked"}
        told = {p for p, rests in zip(paths, row, strict=True) if rests}
        assert told == {p for p in paths if p.endswith("type") and p.split(".")[1] in shut}
    kept = made.merged(rows)
    assert len(kept) == (2 * 2 + 1) * (3 + 1) * 2
    assert (kept[made.idle(kept)] == 0).all()
    opened = space_of(case, "c", ("helped",))
    assert not opened.idle(rows)[:, paths.index("fan.spare.type")].any()
    assert opened.idle(rows)[:, paths.index("fan.left.type")].any()


# --- what is known of them -----------------------------------------------------------------------

TRIED = (
    BOX.replace('air_limit = "55 degC"', 'air_limit = "50 degC"')
    + """
[fan_type.hump]
curve = { flow = "0 30 55 75 90 110 140 182 m3/h", rise = "112 84 62 64 66 60 38 0 Pa" }
flow_area = "60 cm2"
power = "6 W"
noise_dBA = 41
noise = { kind = "pressure", distance = "1 m" }
price = 15.0

[scenario.fast]
fan.right.speed = "2400 rpm"

[choice.c]
fan.left.state = ["running", "stopped"]
fan.right.type = ["small", "hump"]
part.load.power = ["60 W", "200 W", "600 W"]
vent.low.area = ["15 cm2", "90 cm2"]
"""
)


def compared(read, asked):
    """The space, and of each combination the cells of a comparison that has it as a variant."""
    case = read(TRIED)
    made = space_of(case, "c", ("base",))
    rows = made.grid(2)
    units = {"part.load.power": " W", "vent.low.area": " m2"}
    text = TRIED + "".join(
        f"[variant.v{n}]\n" + "".join(f'{p} = "{v}{units.get(p, "")}"\n' for p, v in
                                     made.changes(row).items()) for n, row in enumerate(rows)
    )  # fmt: skip
    names = [f"v{n}" for n in range(len(rows))]
    found = flownet.compare(read(text), variants=names, scenarios=asked)
    return case, made, [found.column(name) for name in names]


def test_what_a_trial_keeps_is_what_a_comparison_of_its_designs_says(read):
    """Every combination as a variant: where it fails and why, how far, noise, power, margins."""
    asked = ("warm", "each-fan-out", "fast")
    _, made, columns = compared(read, asked)
    trial = Evaluation(made, asked)
    some = trial.add(made.grid(2))
    trial.run(some, prune=False)
    assert trial.entries == list(asked)
    off = np.array(trial.off).T
    for row, cells in enumerate(columns):
        kept, wanted = trial.kept[row], closeness(cells)
        assert trial.applies[row].sum() == len(cells)
        fails = len(asked) if wanted[0] == math.inf else wanted[0]
        assert off[row, :4] == pytest.approx([fails, *wanted[1:]], abs=1e-5)
        failing = [cell for cell in cells if not cell.holds]
        assert kept.out == bool(failing)
        if failing:
            first = failing[0]
            word = next(iter(first.void), first.limit)
            told = word, first.void[word][0] if first.void else first.subject
            told = ("", "") if first.status == "unsolved" else told
            assert trial.named(kept.out_limit, kept.out_scene) == (*told, first.scenario)
        worst = min(cells, key=lambda cell: cell.order)
        assert trial.scenes[kept.scene].name == worst.scenario
        for mine, name, most in (("noise", "noise", max), ("power", "fan_power", max),
                                 ("warm", "worst_margin", min)):  # fmt: skip
            known = [v for cell in cells if not math.isnan(v := getattr(cell, name))]
            wanted = most(known, default=math.nan)
            assert kept[mine] == pytest.approx(wanted, abs=1e-5, nan_ok=True)
    assert {cell.status for cells in columns for cell in cells} >= {
        "unsolved", "void", "over", "ok"}  # fmt: skip
    wanted = sorted(some.tolist(), key=lambda row: tuple(off[row]))
    assert trial.nearest(some).tolist() == wanted
    assert trial.complete(5, some).tolist() == wanted[:5]


def test_a_pruned_trial_completes_the_closest_alike(read):
    """Nothing is solved twice, and the closest are those of a trial without pruning; what is added
    later is judged as if it had been there from the start."""
    made = space_of(read(TRIED), "c", ("base",))
    asked = ("warm", "each-fan-out", "base")
    whole, short = Evaluation(made, asked), Evaluation(made, asked)
    rows = made.grid(2)
    some = whole.add(rows)
    whole.run(some, prune=False)
    for part in (rows[:10], rows[10:]):
        short.run(short.add(part))
    assert (whole.skipped, whole.solved) == (0, int(whole.applies.sum()))
    assert short.skipped > 0
    assert short.solved + short.skipped == whole.solved
    assert short.kept.out.tolist() == whole.kept.out.tolist()
    for count in (1, 4, 30):
        assert short.complete(count, some).tolist() == whole.complete(count, some).tolist()
    assert short.skipped == 0
    assert short.kept.score == pytest.approx(whole.kept.score)
    holding = np.flatnonzero(whole.accepted)
    noise, better = whole.kept.noise[holding], -whole.kept.score[holding]
    wanted = holding[np.lexsort((better, noise.round(6)))]
    assert whole.best_first(["noise"], holding).tolist() == wanted.tolist()


class Pruned:
    """30 combinations in 3 scenarios, of which each was tried up to the first that it fails."""

    complete, finish, _finished = Evaluation.complete, Evaluation.finish, Evaluation._finished

    def __init__(self):
        self.fails = np.random.default_rng(3).random((30, 3)) < 0.4
        self.applies = np.ones((30, 3), bool)
        before = np.cumsum(self.fails, axis=1) - self.fails
        self.status = np.where(before > 0, evaluate.NOT_TRIED, self.fails)
        self.skipped = int((before > 0).sum())

    def nearest(self, among):
        known = np.where(self.status == evaluate.NOT_TRIED, 0, self.status).sum(axis=1)
        return among[np.lexsort([among, known[among]])]

    def take(self, some):
        for scene, rows in some:
            self.status[rows, scene] = self.fails[rows, scene]


@pytest.mark.parametrize("next_", [1, 50])
def test_the_closest_are_found_without_what_stays_behind_them(next_, monkeypatch):
    """By sorting all by what they fail; with one at a time only what was once ahead is solved."""
    monkeypatch.setattr(evaluate, "COMPLETED_NEXT", next_)
    every = np.arange(30)
    wanted = np.argsort(Pruned().fails.sum(axis=1), kind="stable")
    for count in range(1, 31):
        trial = Pruned()
        found = trial.complete(count, every)
        assert found.tolist() == wanted[:count].tolist()
        behind = trial.nearest(every)[count:]
        assert set(np.flatnonzero(~trial._finished)) <= set(behind)
        assert trial.skipped == (trial.status == evaluate.NOT_TRIED).sum()
        assert count > 5 or trial.skipped


def test_what_lacks_little_is_better_in_one_measure_than_all_that_holds():
    """By loops over all; of those that look alike in both measures the one with the best score."""
    rng = np.random.default_rng(5)
    a, b = rng.integers(0, 6, (2, 60)) / 2 + rng.choice([0.0, 0.01], (2, 60))
    a[::9], b[::11] = np.nan, np.nan
    holds, score = rng.random(60) < 0.3, rng.integers(-9, 3, 60).astype(float)
    best = [i for i in range(60) if holds[i] and a[i] + b[i] > 2.5]
    wanted: dict[tuple[float, float], int] = {}
    for i in sorted(range(60), key=lambda i: -score[i]):
        known = not (holds[i] or math.isnan(a[i]) or math.isnan(b[i]))
        if known and not any(a[j] <= a[i] and b[j] <= b[i] for j in best):
            wanted.setdefault((round(a[i], 1), round(b[i], 1)), i)
    every = SimpleNamespace(accepted=holds, kept=SimpleNamespace(score=score))
    assert _lacking(every, (a, b), np.array(best)) == list(wanted.values())[:LACKING]


def test_the_bar_of_a_choice_never_falls_and_ends_full(read):
    """Where nothing breaks, so that nothing is passed over: 12 designs in 1 + 2 scenarios, less 6
    outages of a fan that stands."""
    seen = []
    text = TRIED.replace('"50 degC"', '"300 degC"').replace('limit = "80 degC"', "")
    text = text.replace('"small", "hump"', '"small"').replace("noise_dBA = 47.5", "")
    choose_options(read(text), scenarios=["warm", "each-fan-out"], best="noise",
                   progress=lambda done, total: seen.append((done, total)))  # fmt: skip
    done, totals = zip(*seen, strict=True)
    assert set(totals) == {12 + 6 + 12}
    assert list(done) == sorted(done)
    assert done[-1] == 30


def test_a_cloud_has_both_measures_of_all_that_holds(read):
    """Noise and margin of each, from a comparison."""
    case, _, columns = compared(read, ("warm",))
    found = choose_options(case, best=["noise", "temperature"], scenarios=["warm"])
    wanted = {(round(c.noise, 4), round(c.worst_margin, 3)) for (c,) in columns if c.holds}
    assert {(round(a, 4), round(b, 3)) for a, b in found.cloud} == wanted
    assert len(wanted) == found.counts.accepted > 2
    assert found.counts.unpriced == 0
    designs = [item.designs for item in found.excluded]
    assert designs == sorted(designs, reverse=True)
    assert len(designs) > 1


# --- values without a list -----------------------------------------------------------------------

FREE = (
    CLOSED.replace('air_limit = "45 degC"', 'air_limit = "60 degC"')
    + """
[part.chip]
in = "inside"
power = "20 W"
resistance = "0.4 K/W"
limit = "60 degC"

[limits]
noise_dBA = 38
noise_distance = "1 m"

[scenario.full]
part.load.power = "* 1.3"
opening.low.area = "* 0.8"

[choice.c]
best = "noise"
opening.low.area = "20 to 60 cm2"
fan.out.speed = "0.5 to 0.8"
"""
)
CHANGES = {"part.load.power": "* 1.3", "opening.low.area": "* 0.8"}


@pytest.mark.parametrize("of", ["noise", "power", "temperature", "limits"])
def test_a_point_is_two_solves_and_its_slopes_are_their_differences(read, of):
    """Values against solves of the case; every slope against a central difference of points."""
    case = read(FREE)
    made = space(case)
    row = np.array([30e-4, 0.6])
    fine = Fine(made, row, [{}, CHANGES], of, "noise")
    share = fine.shares
    assert share == pytest.approx([0.25, 1 / 3])
    assert fine.at(share) == pytest.approx(row)
    at = fine._point(share)
    wanted, margins, noise = [], [], []
    for name in ("base", "full"):
        alone = flownet.solve(case.with_changes(made.changes(row)), scenario=name)
        margins += [item.margin for item in alone.limits]
        noise.append(alone.totals.noise)
        wanted += {
            "noise": [alone.totals.noise], "power": [alone.totals.fan_power],
            "temperature": [-i.margin for i in alone.limits if i.limit in ("part", "air")],
            "limits": [-i.margin / (i.bound if i.limit == "noise" else 10.0)
                       for i in alone.limits],
        }[of]  # fmt: skip
    assert at.measure == pytest.approx(wanted, abs=1e-5)
    assert at.margin == pytest.approx([] if of == "limits" else margins, abs=1e-5)
    assert at.other == pytest.approx(noise)
    assert fine.least() == pytest.approx(max(wanted), abs=1e-5)
    assert not fine.flat()
    step = 1e-4
    for i in range(2):
        ahead, back = (fine._point(share + s * step * np.eye(2)[i]) for s in (1, -1))
        for kind in ("measure", "margin", "other"):
            slope = (getattr(ahead, kind) - getattr(back, kind)) / (2 * step)
            exact = getattr(at, f"{kind}_slope")[:, i]
            assert exact == pytest.approx(slope, rel=1e-3, abs=1e-3)
    z = np.append(share, 12.0)
    values, slopes = fine._replace(most=40.0)._kept(at, z)
    wanted = [*(12.0 - at.measure), *(at.margin - KEPT_BY), *(40.0 - at.other)]
    assert values == pytest.approx(wanted)
    free = np.vstack([-at.measure_slope, at.margin_slope, -at.other_slope])
    last = np.arange(len(free)) < len(at.measure)
    assert slopes == pytest.approx(np.c_[free, last])
    none, flat = fine._kept(None, z)
    assert (none < 0).all()
    assert flat.shape == (1, 3)


def test_values_without_a_solution_or_a_slope_are_not_moved(read):
    """A closed box with heat in it has none; a price has no slope, nor noise to an opening."""
    made = space(read(FREE))
    shut = {"opening.low.state": "blanked", "fan.out.state": "blanked"}
    none = Fine(made, np.array([30e-4, 0.6]), [{}, shut], "noise")
    assert (none.moved(), none.least(), none.flat()) == (None, math.inf, True)
    dear = none._replace(scenarios=[{}], of="price")
    assert (dear.moved(), dear.flat()) == (None, True)
    hole = space(read(FREE.replace('fan.out.speed = "0.5 to 0.8"', "")))
    fine = Fine(hole, np.array([30e-4]), [{}], "noise")
    assert fine.flat()
    assert not fine._replace(of="temperature").flat()


def test_what_breaks_a_limit_is_first_moved_to_where_none_is(read):
    """Nearer, then the best by each measure from there; one measure is traded for another only
    from what holds. The smallest hole is too hot."""
    trial, best = Evaluation(space(read(FREE)), ("base",)), ("noise", "power")
    trial.run(trial.add(np.array([[20e-4, 0.5], [60e-4, 0.62]])))
    assert trial.accepted.tolist() == [False, True]
    nearer, *better = _moved(trial, best, 0)
    assert len(better) == 2
    assert len(list(_moved(trial, best, 1))) == 4
    moved = trial.add(np.array([nearer, *better]))
    trial.run(moved)
    assert not trial.kept.out[moved].any()


def test_free_values_are_moved_to_where_every_limit_just_holds(read):
    """From values that break both limits: the quietest that hold are at one of them."""
    found = choose_options(read(FREE), scenarios=["base", "full"], levels=2)
    first = found.ranked[0]
    assert first.holds
    assert first.changes["opening.low.area"] == pytest.approx(60e-4)
    assert 0 <= first.temperature_margin < 1e-3
    one = choose_options(read(FREE.replace('"0.5 to 0.8"', "[0.7]")), levels=2)
    assert [axis.path for axis in one.varying] == ["opening.low.area"]


# --- what is kept in the end ---------------------------------------------------------------------

EASY = TRIED.replace('"50 degC"', '"300 degC"').replace('limit = "80 degC"', 'limit = "400 degC"')
SILENT = EASY.replace('["running", "stopped"]', '["running", "blanked"]').replace(
    'fan.right.type = ["small", "hump"]', 'fan.right.state = ["running", "blanked"]'
)


def test_a_design_without_a_fan_is_the_quietest(read):
    """No fan that runs makes no noise: a level of minus infinity, before any other."""
    found = choose_options(read(SILENT), best="noise", scenarios=["warm"])
    first = found.ranked[0]
    assert (first.noise, first.price) == (-math.inf, 0.0)
    assert {first.changes[f"fan.{n}.state"] for n in ("left", "right")} == {"blanked"}
    levels = [option.noise for option in found.ranked]
    assert levels == sorted(levels)
    assert max(levels) > 0
    both = choose_options(read(SILENT.replace(
        "[choice.c]", '[choice.c]\nfan.right.type = ["small", "large"]'
    )), best=["noise", "price"], scenarios=["warm"])  # fmt: skip
    assert np.isfinite(both.cloud).all()
    assert both.best == dict(both.front[0].changes)
    for row, option in zip(both.rows(), both.ranked, strict=True):
        shut = option.changes["fan.right.state"] == "blanked"
        assert row["without_effect"] == ("fan.right.type" if shut else None)
    none = dataclasses.replace(both, ranked=(), front=())
    assert (none.best, none.closest) == (None, None)


def test_what_is_ranked_says_whether_something_holds(read):
    held = choose_options(read(EASY), best="price", scenarios=["warm"])
    assert held.closest is None
    assert held.best == dict(held.ranked[0].changes)
    assert [row["place"] for row in held.rows()] == list(range(1, len(held.ranked) + 1))
    differ = held.columns(held.ranked[:2])
    assert [len(set(texts)) for _, texts in differ] == [2] * len(differ) != []
    assert held.columns(held.ranked[:1])
    table = best_table(held.ranked, ("price",), front=False, use="page")
    heads = {column.name for column in table.columns}
    assert {"margin", "price", "noise"} <= heads
    assert "temperature" not in heads  # which is the margin
    with pytest.raises(CaseError, match="option"):
        held.solution(len(held.ranked))
    last = held.solution(-1, "warm")
    assert last.totals.worst_margin == pytest.approx(held.ranked[-1].temperature_margin, abs=1e-5)


@pytest.mark.parametrize(("most", "way"), [(9, "grid"), (8, "search")])
def test_levels_give_way_before_a_choice_is_searched(read, most, way):
    """Two free values of at least three levels each are nine combinations."""
    found = choose_options(read(FREE), levels=5, most=most, searched=24, scenarios=["base"])
    assert found.way == way
    assert found.counts.combinations == (9 if way == "grid" else 1)


def test_a_search_by_two_measures_weighs_their_shares_of_what_the_first_spans():
    judge = Fitness(None, {}, ("noise", "price"))
    assert judge._share("noise", np.array([30.0, 50.0, np.nan, -np.inf]))[:2].tolist() == [0, 1]
    assert judge._share("noise", np.array([40.0, 60.0])).tolist() == [0.5, 1.5]
    assert judge._share("price", np.array([np.nan, np.inf]))[1] == math.inf
    assert judge._share("price", np.array([0.25])).tolist() == [0.25]
    assert judge._share("power", np.array([2.0, 2.0])).tolist() == [0.0, 0.0]


def test_a_search_of_two_measures_of_free_values_holds_and_trades(read):
    found = choose_options(read(FREE), best=["noise", "power"], most=4, searched=90,
                           scenarios=["base"])  # fmt: skip
    assert found.way == "search"
    for option in found.ranked:
        assert 20e-4 <= option.changes["opening.low.area"] <= 60e-4
        assert 0.5 <= option.changes["fan.out.speed"] <= 0.8
    grid = choose_options(read(FREE), best=["noise", "power"], levels=4, scenarios=["base"])
    assert found.ranked[0].noise == pytest.approx(grid.ranked[0].noise, abs=0.01)
    # 24 members and one more generation for each of two measures and their sum
    assert 24 < found.counts.different <= 3 * 48 + 40


def test_only_what_was_solved_everywhere_is_accepted(read):
    trial = Evaluation(space_of(read(EASY), "c", ("base",)), ("warm", "base"))
    some = trial.add(trial.space.grid(2))
    trial.take([(0, some)])
    assert not trial.accepted.any()
    trial.take([(1, some)])
    assert trial.accepted.tolist() == (~trial.kept.out).tolist()
    assert trial.accepted.any()


NIGHT = (
    EASY
    + """
[scenario.night]
fan.left.state = "stopped"
"""
)


def test_a_fan_is_out_where_the_scenario_stops_one_that_runs(read):
    made = space_of(read(NIGHT), "c", ("base",))
    rows = made.grid(2)
    asked = ("warm", "night", "fan.right-out", "base")
    trial = Evaluation(made, asked)
    trial.add(rows)
    left_runs = [made.changes(row)["fan.left.state"] == "running" for row in rows]
    wanted = {"warm": [False] * 24, "night": left_runs, "fan.right-out": [True] * 24,
              "base": [False] * 24}  # fmt: skip
    for k, scene in enumerate(trial.scenes):
        some = np.arange(24)[::-1]
        assert trial._out(k, some).tolist() == wanted[scene.name][::-1]


def test_what_has_no_value_of_a_measure_is_in_no_cloud(read):
    dear = EASY.replace("price = 15.0", "")
    found = choose_options(read(dear), best=["noise", "price"], scenarios=["warm"])
    assert len(found.cloud) > 0
    assert np.isfinite(found.cloud).all()
    unknown = [option.changes for option in found.ranked if math.isnan(option.price)]
    assert found.counts.unpriced == len(unknown) > 0
    assert {changes["fan.right.type"] for changes in unknown} == {"hump"}
    assert all(math.isfinite(option.price) for option in found.front)


def test_a_measure_ranks_only_where_it_is_limited_or_stated(read):
    cold = EASY.replace('air_limit = "300 degC"', "").replace('limit = "400 degC"', "")
    assert choose_options(read(cold), best="noise", scenarios=["warm"]).counts.accepted > 0
    with pytest.raises(CaseError, match="temperature needs a limit"):
        choose_options(read(cold), best="temperature", scenarios=["warm"])
    free = re.sub(r"price = [0-9.]+", "", EASY)
    found = choose_options(read(free), best="noise", scenarios=["warm"])
    assert math.isnan(found.ranked[0].price)
    with pytest.raises(CaseError, match="price is not known"):
        choose_options(read(free), best="price", scenarios=["warm"])


# --- what "any" stands for -----------------------------------------------------------------------

OTHERS = """
[supply.s]
voltage = "24 V"

[fan_type.mains]
like = "large"
supply = "230 V 50 Hz"
noise_dBA = 20

[fan_type.sleeve]
like = "large"
bearing = "sleeve"
noise_dBA = 21
"""
FED = BOX.replace('type = "small"', 'type = "small"\nsupply = "s"\ndirection = "up"')


def test_any_leaves_out_what_supply_or_shaft_forbid(read):
    """What a 24 V feed or an upright shaft forbids is excluded by a choice for the place too."""
    case = read(FED + OTHERS + ANY)
    found = choose_options(case, best="noise")
    assert [axis.values for axis in found.axes] == [("small", "large")]
    told = {item.type: [reason.kind for reason in item.reasons] for item in found.unfit}
    assert {name: set(kinds) for name, kinds in told.items()} == {
        "mains": {"supply"}, "sleeve": {"shaft"},
    }  # fmt: skip
    place = flownet.choose(case, "fan.*")
    assert {item.type for item in place.excluded if not item.solved} == set(told)
    assert found.verdicts()[-1] == "2 types are not tried at fan.* (1 supply, 1 shaft)"
    assert {item["type"] for item in found.to_dict()["not_tried"]} == set(told)


def test_a_list_is_tried_as_it_stands_and_a_varied_supply_forbids_nothing(read):
    listed = ANY.replace('"any"', '["small", "mains"]')
    found = choose_options(read(FED + OTHERS + listed), best="noise")
    assert (found.axes[0].values, found.unfit) == (("small", "mains"), ())
    varied = ANY + 'supply.s.voltage = ["24 V", "230 V"]\n'
    found = choose_options(read(FED + OTHERS + varied), best="noise")
    assert [item.type for item in found.unfit] == ["sleeve"]


def test_no_type_for_the_supply_is_said(read):
    text = FED + OTHERS.replace('"24 V"', '"110 V"') + ANY
    with pytest.raises(CaseError, match=r"and none can be used there \(4 supply\); such as small"):
        choose_options(read(text))


def test_free_values_beside_a_blanked_fan_that_has_a_life(read):
    """A blanked fan has no life, so no limit of it counts: nothing else may be said of it."""
    life = 'life = { hours = 40000, at = "40 degC", kind = "L10", factor_per_10K = 1.5 }'
    text = BOX.replace("price = 12.0", f"price = 12.0\n{life}")
    text = text.replace("[limits]", "[limits]\nfan_life_hours = 39000")
    text += """
[choice.hole]
best = "noise"
fan.left.state = ["running", "blanked"]
vent.low.area = "60 to 140 cm2"
"""
    found = choose_options(read(text), scenarios=["warm"], levels=3)
    assert found.way == "grid"
    for option in found.ranked:
        alone = flownet.solve(found.case.with_changes(option.changes), scenario="warm")
        assert all(np.isnan(i.margin) or i.margin >= 0 for i in alone.limits) == option.holds


def test_any_leaves_out_types_of_a_fan_that_can_run(read):
    """Blanked in the case: looked at only where the choice or a scenario may open it."""
    text = FED.replace('type = "small"', 'type = "small"\nstate = "blanked"', 1) + OTHERS
    both = '[choice.c]\nfan.left.type = "any"\nfan.left.state = ["running", "blanked"]\n'
    alone = '[choice.c]\nfan.left.type = "any"\n'
    opened = alone + '[scenario.opened]\nfan.left.state = "running"\n'
    for more, asked, out in ((both, "base", 2), (alone, "base", 0), (opened, "opened", 2),
                             (opened, "base", 0)):  # fmt: skip
        made = space_of(read(text + more), "c", (asked,))
        assert len({item.type for item in made.unfit}) == out
