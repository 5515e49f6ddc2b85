"""A choice against single solves, the definition of dominance, closed forms, a fine grid."""

from __future__ import annotations

import itertools
import json
import math
import re
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize

import flownet
from flownet.enclosure.scenarios import expand
from flownet.pages import render
from flownet.pages.page import Page
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.quantities import HOURS
from flownet.studies.choice.axes import space_of, with_catalogue
from flownet.studies.choice.order import front, ranked
from flownet.studies.choice.study import choose_options
from tests.casefile.small import load

BOX = """
format = 1
title = "Box with two places for a fan"

[outside]
temperature = "30 degC"

[compartment.inside]
air_limit = "55 degC"

[vent.low]
from = "outside"
to = "inside"
area = "90 cm2"
loss = 2.5

[fan.left]
from = "inside"
to = "outside"
type = "small"

[fan.right]
like = "left"

[leak.seams]
from = "outside"
to = "inside"
flow_at = ["4 m3/h", "10 Pa"]

[wall.sides]
from = "inside"
to = "outside"
area = "1.5 m2"
u_value = "5 W/(m2 K)"

[part.load]
in = "inside"
power = "420 W"
resistance = "0.05 K/W"
limit = "80 degC"

[fan_type.small]
curve = { flow = "0 30 60 m3/h", rise = "40 25 0 Pa" }
rated_speed = "2500 rpm"
flow_area = "60 cm2"
supply = "24 V dc"
power = "4 W"
noise_dBA = 38
noise = { kind = "pressure", distance = "1 m" }
price = 12.0

[fan_type.large]
curve = { flow = "0 60 110 m3/h", rise = "80 55 0 Pa" }
rated_speed = "2800 rpm"
flow_area = "60 cm2"
supply = "24 V dc"
power = "9 W"
noise_dBA = 45
noise = { kind = "pressure", distance = "1 m" }
price = 20.0

[limits]
noise_dBA = 47.5
noise_distance = "1 m"
scenarios = ["warm", "warm+each-fan-out"]

[scenario.warm]
outside.temperature = "35 degC"
"""
PLACES = """
[choice.places]
best = ["noise", "price"]
fan.left.state = ["running", "blanked"]
fan.right.state = ["running", "blanked"]
fan.left.type = ["small", "large"]
fan.right.type = "any"
vent.low.area = ["60 cm2", "140 cm2"]
"""


def combinations(vary):
    return [dict(zip(vary, values, strict=True)) for values in itertools.product(*vary.values())]


def brute(case, vary, asked):
    """Every combination solved alone: its worst margin by kind, noise, power and price."""
    found = []
    for changes in combinations(vary):
        design = case.with_changes(changes)
        names = [name for entry in asked for name in expand(design, entry)]
        margins, noise, power = [], [-math.inf], [0.0]
        try:
            for name in names:
                alone = flownet.solve(design, scenario=name)
                margins += [item.margin for item in alone.limits]
                noise.append(np.nan_to_num(alone.totals.noise, nan=-np.inf))
                power.append(alone.totals.fan_power)
        except (NoSolution, CaseError):
            margins = [-math.inf]
        price = sum(design.things["fan_type"][f.type].price for f in design.fans.values()
                    if f.state != "blanked")  # fmt: skip
        holds = bool(names) and min(margins) >= 0
        found.append((changes, holds, max(noise), max(power), price))
    return found


VARY = {
    "fan.left.state": ["running", "blanked"], "fan.right.state": ["running", "blanked"],
    "fan.left.type": ["small", "large"], "fan.right.type": ["small", "large"],
    "vent.low.area": [60e-4, 140e-4],
}  # fmt: skip


def key(changes):
    """A design without the types of blanked fans."""
    shown = dict(changes)
    for name in ("left", "right"):
        if shown.get(f"fan.{name}.state") == "blanked":
            shown.pop(f"fan.{name}.type", None)
    return tuple(sorted((p, round(v, 9) if isinstance(v, float) else v) for p, v in shown.items()))


def test_equal_to_one_solve_at_a_time(read):
    """Which combinations hold, their measures, the order and the front, from plain solves."""
    case = read(BOX + PLACES)
    asked = case.limits.scenarios
    alone = brute(case, VARY, asked)
    held = {key(c): (noise, price) for c, holds, noise, _, price in alone if holds}
    found = choose_options(case)
    assert 0 < len(held) < len({key(c) for c, *_ in alone})
    assert found.counts.combinations == 32
    assert found.counts.different == len({key(c) for c, *_ in alone})
    assert found.counts.accepted == len(held) == len(found.ranked)
    assert {key(o.changes) for o in found.ranked} == set(held)
    for option in found.ranked:
        noise, price = held[key(option.changes)]
        assert option.noise == pytest.approx(noise, abs=1e-6)
        assert option.price == price
    best = [(round(o.noise, 6), o.price) for o in found.ranked]
    assert best == sorted(best)
    points = {(round(n, 6), p) for n, p in held.values()}
    shown = {(round(o.noise, 6), o.price) for o in found.front}
    assert shown == {a for a in points if not any(_dominates(b, a) for b in points)}
    assert sum(item.designs for item in found.excluded) == found.counts.different - len(held)
    assert found.exhaustive


def _dominates(a, b):
    return a[0] <= b[0] and a[1] <= b[1] and (a[0] < b[0] or a[1] < b[1])


def test_pruning_and_processes_change_nothing_but_the_work(read):
    case = read(BOX + PLACES)
    short, long = (choose_options(case, prune=prune, best="power") for prune in (True, False))
    with ProcessPoolExecutor(2) as pool:
        shared = choose_options(case, best="power", executor=pool)
    assert short.ranked == long.ranked == shared.ranked
    assert short.front == long.front
    assert short.excluded == long.excluded
    assert short.counts.skipped > 0 == long.counts.skipped
    assert short.counts.solved < long.counts.solved
    powers = [option.power for option in short.ranked]
    assert powers == sorted(powers)
    design = case.with_changes(short.best)
    for name in (name for entry in case.limits.scenarios for name in expand(design, entry)):
        assert all(item.holds for item in flownet.solve(design, scenario=name).limits)


def test_the_hardest_scenario_first_finds_the_same(read):
    """Beyond a few hundred designs a sample orders the scenarios."""
    many = PLACES.replace('["60 cm2", "140 cm2"]', '"60 to 140 cm2 in 60"')
    case = read(BOX + many)
    found = choose_options(case)
    assert found.counts.different == 9 * 60
    reverse = choose_options(case, scenarios=case.limits.scenarios[::-1], seed=5)
    assert {key(o.changes) for o in found.front} == {key(o.changes) for o in reverse.front}
    assert found.counts.accepted == reverse.counts.accepted


def test_an_outage_belongs_to_fans_that_run_in_the_combination(read):
    """With one fan blanked only the other fails, and a scenario wins over the choice."""
    case = read(BOX.replace('limit = "80 degC"', 'limit = "400 degC"')
                .replace('air_limit = "55 degC"', 'air_limit = "400 degC"')
                .replace("noise_dBA = 47.5", "noise_dBA = 90") + PLACES)  # fmt: skip
    found = choose_options(case, scenarios=["each-fan-out"])
    assert set(found.scenarios) == {"fan.left-out", "fan.right-out"}
    none = [o for o in found.ranked if o.changes["fan.left.state"] == "blanked"
            and o.changes["fan.right.state"] == "blanked"]  # fmt: skip
    assert none == []  # nothing that could fail: not shown to hold
    both = next(o for o in found.ranked if {o.changes["fan.left.state"],
                o.changes["fan.right.state"]} == {"running"})  # fmt: skip
    alone = flownet.solve(case.with_changes(both.changes), scenario=both.scenario)
    assert alone.totals.worst_margin == pytest.approx(both.temperature_margin, abs=1e-5)


def test_front_is_the_definition_of_dominance():
    """O(n^2) by the definition, ties and unknown values included."""
    values = np.random.default_rng(3).integers(0, 12, (2, 300)) / 4
    values[0, 7] = values[1, 11] = np.nan
    score = np.arange(300.0)
    rows, alike = front(values[0], values[1], score)
    points = [tuple(p) for p in values.T if not np.isnan(p).any()]
    wanted = {a for a in points if not any(_dominates(b, a) for b in points)}
    assert [tuple(values[:, i]) for i in rows] == sorted(wanted)
    assert [points.count(tuple(values[:, i])) for i in rows] == list(alike)
    for i in rows:
        same = [j for j in range(300) if tuple(values[:, j]) == tuple(values[:, i])]
        assert score[i] == max(score[j] for j in same)
    assert ranked([values[0]], score)[-1] == 7
    one = front(np.array([np.nan, 1.0, 2.0]), np.array([0.0, 2.0, np.nan]), np.zeros(3))
    assert [found.tolist() for found in one] == [[1], [1]]
    assert [len(found) for found in front(np.full(2, np.nan), np.zeros(2), np.zeros(2))] == [0, 0]


# --- values without a list ---------------------------------------------------------------------

CLOSED = """
format = 1

[outside]
temperature = "30 degC"

[compartment.inside]
air_limit = "45 degC"

[opening.low]
from = "outside"
to = "inside"
area = "40 cm2"

[fan.out]
from = "inside"
to = "outside"
type = "axial"
speed = 0.9

[part.load]
in = "inside"
power = "200 W"

[fan_type.axial]
curve = { flow = "0 50 100 m3/h", rise = "60 45 0 Pa" }
reference_density = "1.2 kg/m3"
rated_speed = "2500 rpm"
speed_range = "0.3 1.0"
flow_area = "60 cm2"
power = "5 W"
motor_in_air = false
noise_dBA = 40
noise = { kind = "pressure", distance = "1 m" }
price = 9.0
"""


def test_smallest_speed_that_holds_an_air_limit(read):
    """The quietest is the slowest; at it the limit is reached exactly (complementary slackness).

    Closed form: what the air carries, heat over heat capacity and allowed rise, is the flow that
    the limit needs; the noise then follows from the speed at which the fan moves it, found here by
    bisection of plain solves.
    """
    case = read(CLOSED + '\n[choice.speed]\nbest = "noise"\nfan.out.speed = "0.3 to 1.0"\n')
    found = choose_options(case, scenarios=["base"])
    assert not found.exhaustive
    best = flownet.solve(case.with_changes(found.best))
    allowed = case["compartment.inside.air_limit"] - case["outside.temperature"]
    needed = 200.0 / (1006.0 * allowed)  # heat capacity of dry air, rounded, J/(kg K)
    assert best.totals.mass_flow == pytest.approx(needed, rel=2e-3)
    assert 0 <= best.totals.worst_margin < 1e-3

    def margin(speed):
        return flownet.solve(case.with_changes({"fan.out.speed": speed})).totals.worst_margin

    slowest = optimize.brentq(margin, 0.3, 1.0, xtol=1e-10)
    assert found.best["fan.out.speed"] == pytest.approx(slowest, abs=1e-5)


def test_free_values_are_as_good_as_a_fine_grid(read):
    """Two free values, the least margin of two scenarios with opposite wishes: a fine grid never
    beats the result, and comes close to it."""
    text = CLOSED.replace("[part.load]", """[opening.past]
from = "outside"
to = "inside"
area = "10 cm2"

[part.chip]
in = "inside"
stream = "opening.low"
flow_area = "40 cm2"
power = "20 W"
resistance_law = { a = "0.2 K/W", b = "0.8 K/W", n = 0.8, velocity = "1 m/s" }
limit = "60 degC"

[part.load]""")  # fmt: skip
    choice = """
[scenario.covered]
opening.low.area = "25 cm2"
[choice.areas]
best = "temperature"
opening.past.area = "1 to 60 cm2"
fan.out.speed = "0.5 to 0.8"
"""
    case = read(text + choice)
    found = choose_options(case, scenarios=["base", "covered"], levels=5)
    best = found.ranked[0]
    assert best.holds
    areas, speeds = np.meshgrid(np.linspace(1e-4, 60e-4, 60), np.linspace(0.5, 0.8, 16))
    grid = {"opening.past.area": areas.ravel(), "fan.out.speed": speeds.ravel()}
    worst = np.min([
        flownet.solve_many(case, grid)["total.worst_margin"],
        flownet.solve_many(case, grid, scenario="covered")["total.worst_margin"],
    ], axis=0)  # fmt: skip
    assert best.temperature_margin >= worst.max() - 1e-4
    assert best.temperature_margin <= worst.max() + 0.2
    coarse = [o.temperature_margin for o in found.ranked]
    assert coarse == sorted(coarse, reverse=True)


def test_two_measures_of_a_free_value(read):
    """Noise against margin over the speed is a curve: no point of the front beats another, and
    its ends are the slowest speed that holds and the fastest."""
    case = read(CLOSED + '\n[choice.speed]\nbest = ["noise", "temperature"]\n'
                'fan.out.speed = "0.3 to 1.0"\n')  # fmt: skip
    found = choose_options(case, scenarios=["base"], levels=5)
    noise = [o.noise for o in found.front]
    margin = [o.temperature_margin for o in found.front]
    assert noise == sorted(noise)
    assert margin == sorted(margin)
    assert 0 <= margin[0] < 1e-3
    assert found.front[-1].changes["fan.out.speed"] == pytest.approx(1.0)
    assert len(found.cloud) >= len(found.front) > 3


def test_a_space_too_large_is_searched(read):
    """Evolution finds what exhaustive search proves to be the best, and says it is not proved."""
    many = PLACES.replace('["60 cm2", "140 cm2"]', '"60 to 140 cm2 in 5"').replace(
        'best = ["noise", "price"]', 'best = "price"'
    )
    case = read(BOX + many)
    proved = choose_options(case)
    found = choose_options(case, most=50, searched=600, seed=1)
    again = choose_options(case, most=50, searched=600, seed=1)
    assert found.way == "search"
    assert not found.exhaustive
    assert "found" in found.verdict
    assert "not proved" in found.how
    assert found.ranked[0].price == proved.ranked[0].price
    assert found.ranked == again.ranked


# --- what cannot be asked, and what is printed --------------------------------------------------


ANY = """
[choice.any]
"fan.*.type" = "any"
"""
TWICE = ANY + 'fan.left.type = ["small"]\n'
BOTH = '[choice.both]\n"fan.*.speed" = [0.5, 1.0]\nfan.left.rotation = ["2000 rpm"]\n'


WRONG = [
    ("", {}, "choice: the case has none"),
    (PLACES, {"name": "place"}, 'did you mean "places"'),
    (PLACES + '[choice.second]\n"fan.*.type" = "any"\n', {}, "there are places, second"),
    (PLACES, {"best": "beauty"}, "best: takes one or two of"),
    (PLACES, {"best": ["noise", "noise"]}, "best: takes one or two of"),
    (PLACES, {"best": []}, "best: takes one or two of"),
    (PLACES, {"scenarios": ["cold"]}, 'no scenario "cold"'),
    (PLACES, {"most": 0}, "most: a whole number of at least 1"),
    (PLACES, {"levels": 2.0}, "levels: a whole number of at least 2"),
    (PLACES, {"most": True}, "most"), (PLACES, {"searched": 0}, "searched"),
    ("[choice.empty]\nfan.left.type = []\n", {}, "choice.empty"),
    (PLACES, {"seed": -1}, "seed: a whole number of at least 0"),
    (TWICE, {}, "fan.left.type: the same number of fan.left as fan.*.type; vary one"),
    (BOTH, {}, "fan.left.rotation: keys that exclude each other of fan.left as fan.*.speed"),
    (PLACES, {"catalogue": ["x"]}, "catalogue: fan types"),
    (PLACES, {"catalogue": "x"}, "catalogue: fan types"),
]  # fmt: skip


def test_what_cannot_be_asked(read):
    for extra, asked, words in WRONG:
        with pytest.raises((CaseError, TypeError), match=re.escape(words)):
            choose_options(read(BOX + extra), **asked)


def test_a_catalogue_adds_types_and_changes_none(read):
    case = read(BOX + PLACES)
    small = case.things["fan_type"]["small"]
    new = replace(small, name="new")
    added = with_catalogue(case, [small, new]).things["fan_type"]
    assert added == {**case.things["fan_type"], "new": new}
    with pytest.raises(CaseError, match=r"fan_type\.small: .* not the same") as told:
        with_catalogue(case, [replace(small, price=1e6), new])
    assert "new" not in str(told.value)


def test_a_case_without_limits(read):
    text = CLOSED.replace('air_limit = "45 degC"', "")
    choice = '[choice.speed]\nfan.out.speed = ["0.5", "0.8"]\n'.replace('"0.5", "0.8"', "0.5, 0.8")
    with pytest.raises(CaseError, match="limits: the case has none"):
        choose_options(read(text + choice), best="power", scenarios=["base"])


def test_lines_tell_what_the_result_holds(read):
    found = choose_options(read(BOX + PLACES))
    assert [head for head, _ in found._things()] == ["fan.left", "fan.right", "vent.low.area"]
    lines = list(render.text(found.sheet, Page()))
    text = "\n".join(lines)
    assert max(map(len, lines)) <= 80
    assert " ".join(text.split()).count(" ".join(found.verdict.split())) == 1
    for option in found.front:
        assert f"{option.noise:.1f} dBA" in text
    assert "Excluded first by" in text
    assert str(found.excluded[0].designs) in text
    made = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    assert made["ranked"][0]["changes"]["vent.low.area"].endswith("2")
    assert len(found.rows()) == found.counts.accepted
    assert found.verdict in repr(found)
    assert found._repr_html_().count("<tr>") > 1


NARROW = (
    BOX.replace('air_limit = "55 degC"', 'air_limit = "200 degC"').replace('"90 cm2"', '"25 cm2"')
    .replace('limit = "80 degC"', 'limit = "300 degC"').replace("47.5", "60")
    .replace('"warm+each-fan-out"', '"warm"')
)  # fmt: skip


def test_a_fan_that_is_blown_back_excludes_a_design_as_its_finding_is_an_error(read):
    """Against single solves: behind a narrow vent the weak fan's shut-off pressure is passed."""
    case = read(NARROW + '[choice.pair]\nbest = "price"\nfan.left.type = ["small", "large"]\n'
                'fan.right.type = ["small", "large"]\n')  # fmt: skip
    found = choose_options(case, "pair")
    regions = {}
    for left, right in itertools.product(("small", "large"), repeat=2):
        alone = flownet.solve(case, scenario="warm",
                              changes={"fan.left.type": left, "fan.right.type": right})  # fmt: skip
        assert all(item.holds for item in alone.limits)
        regions[left, right] = {row.region for row in alone.fans.values()}
    sound = {pair for pair, seen in regions.items() if not seen & {"stall", "backflow"}}
    assert ("small", "large") not in sound
    held = {tuple(option.changes.values()) for option in found.ranked if option.holds}
    assert held == sound
    assert {item.limit for item in found.excluded} == {"backflow"}
    assert " driven backwards" in "\n".join(render.text(found.sheet, Page()))


def test_a_combination_that_cannot_be_is_left_out_alone(read):
    """A speed in rpm needs a type with a rated speed: three of four combinations are solved, and
    come out as by themselves."""
    bare = '[choice.pair]\nbest = "price"\nfan.left.type = ["small", "large"]\n'
    bare += 'fan.left.speed = [1.0, "2400 rpm"]\n'
    text = BOX.replace('rated_speed = "2800 rpm"', "").replace("420 W", "150 W")
    case = read(text + bare)
    found = choose_options(case, "pair", scenarios=["base"])
    margins = {}
    for kind, speed in itertools.product(("small", "large"), (1.0, "2400 rpm")):
        change = {"fan.left.type": kind, "fan.left.speed": speed}
        if (kind, speed) == ("large", "2400 rpm"):
            with pytest.raises(CaseError, match="rated_speed"):
                flownet.solve(case, changes=change)
        else:
            alone = flownet.solve(case, changes=change)
            margins[kind, "rpm" in str(speed)] = alone.worst.margin
    made = {(option.changes["fan.left.type"], "rpm" in str(option.changes["fan.left.speed"])):
            option.temperature_margin for option in found.ranked}  # fmt: skip
    assert made == pytest.approx(margins, abs=1e-6)


SHUT = """
[scenario.shut]
"vent.*.state" = "blanked"
"leak.seams.state" = "blanked"
"fan.*.state" = "blanked"
"wall.*.u_value" = "0.0001 W/(m2 K)"

[variant.bad]
part.load.load = 1.2
[variant.good]
part.load.load = 0.7
[variant.best]
part.load.load = 0.65

[choice.pair]
best = "power"
"fan.*.type" = ["small", "large"]
part.load.load = [1.2, 0.65, 0.7]
"""


def test_one_scenario_without_a_solution_hides_no_order(read):
    """By the definition: all fail in the same scenarios, so the largest miss of the solved ones."""
    text = BOX.replace("420 W", "1500 W").replace('"warm", "warm+each-fan-out"', '"base", "shut"')
    case = read(text + SHUT)
    found = flownet.compare(case)
    assert {cell.status for row in found.cells[1:] for cell in row} == {"unsolved"}
    told = [line.split(" holds ")[0] for line in found.verdicts()[1:]]
    assert told == ["best", "good", "base", "bad"]
    types = flownet.choose(case, "fan.*")
    assert [item.type for item in types.excluded] == ["large", "small"]
    assert "; large comes closest: " in types.verdict
    designs = [tuple(option.changes.values()) for option in choose_options(case, "pair").ranked]
    assert designs == [(t, load) for t, load in sorted(designs, key=lambda d: (
        flownet.solve(case, changes=dict(zip(("fan.*.type", "part.load.load"), d, strict=True)))
        .totals.worst_margin), reverse=True)]  # fmt: skip
    assert len(designs) == 6


def test_the_margin_of_a_void_design_keeps_its_unit(read):
    """A life on paper is hours: the difference of life and limit of a single solve."""
    life = 'price = 12.0\nlife = { hours = 100, at = "40 degC", kind = "L10" }\n'
    text = NARROW.replace("price = 12.0\n", life)
    case = read(text.replace("[limits]", "[limits]\nfan_life_hours = 30000")
                + '[choice.one]\nbest = "price"\nfan.right.type = ["large"]\n')  # fmt: skip
    found = choose_options(case)
    (option,) = found.ranked
    assert (option.limit, option.margin_quantity.name) == ("backflow", HOURS.name)
    alone = flownet.solve(case, scenario="warm", changes=option.changes)
    short = min(item.margin for item in alone.limits if item.limit == "life")
    assert option.worst_margin == pytest.approx(short, rel=1e-6)
    assert found.rows()[0]["margin_unit"] == "h"


def test_values_that_every_scenario_sets_anew_are_one_design_and_are_told(read):
    """With the speed of the scenario; beside another scenario they act, and stay apart."""
    case = read(BOX.replace("420 W", "150 W") + """[scenario.full]
"fan.*.speed" = 1.0
[choice.pair]
best = "noise"
"fan.*.type" = ["small", "large"]
"fan.*.speed" = [0.8, 1.0]
""")  # fmt: skip
    found = choose_options(case, scenarios=["full"])
    assert (found.counts.combinations, found.counts.different) == (4, 2)
    assert found.ranked[0].idle == {"fan.*.speed"}
    assert "0.8" not in found.verdict
    assert len(found.notes) == 1
    assert found.to_dict()["notes"] == list(found.notes)
    assert "fan.left.speed" in found.notes[0]
    assert sum("note: " in line for line in render.text(found.sheet, Page())) == 1
    both = choose_options(case, scenarios=["full", "warm"])
    assert (both.counts.different, len(both.notes)) == (4, 1)
    assert choose_options(case, scenarios=["warm"]).notes == ()


def test_a_thing_is_reopened_by_a_scenario_that_sets_another_state(read):
    case = read(CLOSED + """
[scenario.night]
"fan.out.state" = "stopped"
[scenario.shut]
"opening.low.state" = "blanked"
[choice.c]
best = "noise"
fan.out.state = ["running", "blanked"]
fan.out.speed = "0.5 to 0.8"
""")  # fmt: skip
    for asked, reopened in (("base", set()), ("night", {("fan", "out")}), ("shut", set()),
                            ("shut+night", {("fan", "out")})):  # fmt: skip
        made = space_of(case, "c", (asked,))
        assert made.reopened == reopened
        idle = made.idle(np.array([[0.0, 0.6], [1.0, 0.6]]))
        assert idle[:, 1].tolist() == [False, not reopened]


@pytest.mark.parametrize("speed", [0.5, 0.65, 0.8])
def test_a_scenario_takes_a_free_value_at_its_ends_too(read, speed):
    case = read(CLOSED + f"""
[scenario.slow]
"fan.out.speed" = {speed}
[choice.c]
best = "noise"
fan.out.speed = "0.5 to 0.8"
""")  # fmt: skip
    (note,) = space_of(case, "c", ("slow", "base")).notes
    assert "fan.out.speed" in note
    assert space_of(case, "c", ("base",)).notes == ()


def test_where_nothing_holds_the_closest_comes_first(read):
    """By the worst margin of single solves."""
    case = read(BOX.replace("420 W", "1500 W") + """[choice.pair]
best = "price"
fan.left.type = ["small", "large"]
fan.right.speed = [0.6, 1.0]
""")  # fmt: skip
    found = choose_options(case, "pair", scenarios=["base"])
    alone = {}
    for kind, speed in itertools.product(("small", "large"), (0.6, 1.0)):
        change = {"fan.left.type": kind, "fan.right.speed": speed}
        alone[kind, speed] = flownet.solve(case, changes=change).worst.margin
    assert max(alone.values()) < 0
    made = [tuple(option.changes.values()) for option in found.ranked]
    assert made == sorted(alone, key=lambda pair: -alone[pair])[: len(made)]
    assert len(made) > 1
    assert not any(option.holds for option in found.ranked)
    assert (found.best, found.closest) == (None, found.ranked[0])
    assert "none of" in found.verdict
    assert f"{found.closest.worst_margin:.1f} K" in found.verdict


TALL = """
format = 1
title = "Tall box"
compartment.box = { outline = "0 0 400 1200 mm", depth = "300 mm" }
[wall.shell]
from = "box"
to = "outside"
u_value = "5 W/(m2 K)"
faces = ["front", "back", "left", "right", "top"]
[part.drive]
in = "box"
at = "200 1000 mm"
power = "100 W"
limit = "70 degC"
resistance = "0.2 K/W"
[choice.heat]
best = ["temperature", "power"]
part.drive.power = ["100 W", "105 W"]
"""


def test_a_design_that_breaks_only_in_layers_says_so_on_page_and_picture(tmp_path):
    """A tall sealed box with its heat at the top, against a solve with four layers."""
    found = choose_options(load(tmp_path, TALL))
    changes = {**found.front[0].changes, "compartment.box.layers": 4}
    (limit,) = flownet.solve(found.case, changes=changes).limits
    told = f"in base part.drive {-limit.margin:.1f} K over"
    assert limit.broken
    assert found.front[0].holds
    assert found.verdicts()[1].endswith(told)
    title, _, _ = flownet.draw.front(found).figure.get_label().partition("\n")
    assert title.endswith(told)
