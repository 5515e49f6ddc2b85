"""What is proposed could be built, is true, and keeps the air where it should come in."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet.judging.assessment import OK, OVER, TIGHT, UNKNOWN, UNSOLVED, VOID
from flownet.solving.solve import again
from flownet.studies.suggesting.advice import _margins, advised
from flownet.studies.suggesting.kinds import candidates
from flownet.studies.suggesting.search import ChangeSearch, _together, shortfall
from flownet.studies.suggesting.steps import EFFORT_OF, SLOWED
from tests.casefile.small import load
from tests.studies.planted import MISPLACED, RACK

FAN = """
curve = { flow = "0 30 60 90 110 130 150 172 m3/h", rise = "84 70 58 52 46 36 21 0 Pa" }
reference_density = "1.2 kg/m3"
flow_area = "79 cm2"
"""
BOX = f"""
title = "Box with one fan"
[enclosure]
size = "400 x 700 x 250 mm"
[outside]
temperature = "38 degC"
[supply.low]
voltage = "24 V"
[supply.high]
voltage = "48 V"
[compartment.box]
outline = "0 0 400 700 mm"
air_limit = "50 degC"
[vent.base]
from = "outside"
to = "box"
area = "60 cm2"
open_ratio = 0.6
at = "200 0 mm"
[fan.top]
from = "box"
to = "outside"
type = "small"
supply = "low"
at = "200 700 mm"
[recirculation.round]
from = "fan.top"
to = "vent.base"
fraction = 0.0
[part.load]
in = "box"
power = "520 W"
resistance = "0.05 K/W"
limit = "90 degC"
[limits]
margin = "2 K"
scenarios = ["base"]
[fan_type.small]
supply = "24 V dc"
frame = "119 x 38 mm"
{FAN}
[fan_type.strong]
supply = "48 V dc"
frame = "119 x 38 mm"
{FAN.replace("84 70 58 52 46 36 21 0", "168 140 116 104 92 72 42 0")}
[fan_type.bare]
supply = "24 V dc"
{FAN}
"""
OPPOSED = f"""
title = "Push and pull, one the wrong way round"
[outside]
temperature = "40 degC"
[compartment.low]
[compartment.high]
air_limit = "60 degC"
[fan.push]
from = "outside"
to = "low"
mounted = "reversed"
type = "small"
[filter.mat]
on = "fan.push"
area = "300 cm2"
velocity_drop = {{ velocity = "0.5 1 2 m/s", drop = "13 29 70 Pa" }}
[leak.door]
from = "outside"
to = "low"
flow_at = ["6 m3/h", "10 Pa"]
[opening.shelf]
from = "low"
to = "high"
area = "150 cm2"
[fan.pull]
from = "high"
to = "outside"
type = "small"
[part.drive]
in = "high"
power = "300 W"
[limits]
intake_filter = "required"
scenarios = ["base"]
[fan_type.small]
{FAN}
"""


DRAWER = f"""
title = "Drawer with one card"
[outside]
temperature = "30 degC"
[compartment.front]
[compartment.rear]
[vent.front]
from = "outside"
to = "front"
area = "100 cm2"
open_ratio = 0.6
[slot.card]
from = "front"
to = "rear"
area = "30 cm2"
loss = 3.0
power = "150 W"
[fan.back]
from = "rear"
to = "outside"
type = "small"
[part.chip]
in = "slot.card"
power = "50 W"
resistance = "0.2 K/W"
limit = "48 degC"
[limits]
scenarios = ["base"]
[fan_type.small]
{FAN}
"""


@pytest.fixture(scope="module", name="box")
def loaded(tmp_path_factory):
    return load(tmp_path_factory.mktemp("box"), BOX)


@pytest.fixture(scope="module", name="opposed")
def reversed_(tmp_path_factory):
    return load(tmp_path_factory.mktemp("opposed"), OPPOSED)


def only(*kinds):
    return [kind for kind in EFFORT_OF if kind not in kinds]


def test_no_proposal_draws_all_air_in_past_a_required_filter(opposed):
    """Either fan may be turned to end the fight; the wrong one lets all air in through its own
    hole, which the flows themselves show."""
    found = flownet.suggest(opposed, deep=1)
    assert "fan.push and another fan blowing against each other" in found.verdicts()[1]
    assert {"fan.push.mounted": "forward"} in [each.changes for each in found.proposals]
    assert found.counts.unfiltered == 1
    wrong = again(opposed, {"fan.pull.mounted": "reversed"})
    assert wrong.volume_flow("fan.pull") < 0 < -wrong.volume_flow("fan.push")
    for each in found.proposals:
        then = again(opposed, each.changes)
        assert then.volume_flow("fan.push") > then.volume_flow("leak.door")
        assert then.volume_flow("fan.pull") >= 0


def test_advice_while_fans_fight_is_to_turn_the_right_one(opposed):
    found = advised(again(opposed))
    assert {each.finding.rule for each in found} >= {"limit-air", "fans-opposed"}
    for each in found:
        if each.helps and not each.void:
            assert each.changes == {"fan.push.mounted": "forward"}, each.words()
        if each.finding.rule.startswith("limit-"):
            assert each.helps


def test_a_fan_is_not_turned_to_be_rid_of_a_recirculation(box):
    """The gain is that of the fraction, which no longer acts: outlet and intake stay as near."""
    near = box.with_changes({"recirculation.round.fraction": 0.3, "vent.base.area": "120 cm2"})
    found = flownet.suggest(near, deep=1)
    assert not found.holds
    assert found.counts.turned == 1
    assert not [each for each in found.proposals if "fan.top.mounted" in each.changes]
    apart = flownet.suggest(near.with_changes({"recirculation.round.fraction": 0.0}), deep=1)
    assert apart.holds


def test_a_fan_is_not_turned_to_bring_a_part_to_the_cold_end_of_its_slot(tmp_path):
    """A part without a position counts as sitting where the air leaves; turned round, where it
    comes in, so that the heat of its slot warms it no more. Where its position is stated, nine
    tenths along, the gain is real: warmed by a tenth of the heat, no more by nine."""
    drawer = load(tmp_path, DRAWER)
    for position, out in ((1.0, True), (0.9, False)):
        case = drawer.with_changes({"part.chip.position": position})
        found = flownet.suggest(case, deep=1, without=only("turn"))
        then = again(case, {"fan.back.mounted": "reversed"})
        assert then.volume_flow("slot.card") < 0
        now = [made["compartment.rear.temperature"] for made in (again(case), then)]
        assert now[0] - now[1] > 10.0
        assert then.totals.worst_margin > 0 > again(case).totals.worst_margin
        assert (found.counts.turned, len(found.proposals)) == (out, not out)


def test_names_of_variants_that_are_taken_are_passed_over(box):
    case = dataclasses.replace(box, variants={"suggested-2": {}})
    found = flownet.suggest(case.with_changes({"vent.base.area": "50 cm2"}), deep=1)
    assert len(found.proposals) > 1
    names = [f"suggested-{i}" for i in (1, *range(3, 20))][: len(found.proposals)]
    assert list(found.variants) == names
    assert {*found.with_variants.variants} == {"suggested-2", *names}


def test_speeds_lead_to_the_top_of_the_range_and_down_where_noise_is_limited(box):
    """Of 0.5 to 1.0 from 0.6: half the way is 0.8; of 2400 rpm, 1440, 1920 and 2400 rpm."""
    rated = {"fan_type.small.speed_range": "0.5 1.0", "fan_type.small.rated_speed": "2400 rpm"}
    for more, wanted in (
        ({"fan.top.speed": 0.6}, [0.8, 1.0]),
        ({"fan.top.speed": "1440 rpm"}, ["1920 rpm", "2400 rpm"]),
        ({"fan.top.speed": 1.0}, []),
        ({"fan.top.speed": 1.0, "limits.noise_dBA": 50.0}, [*SLOWED]),
    ):  # fmt: skip
        some = candidates(box.with_changes({**rated, **more}), ["base"], without=only("speed"))
        assert [each.changes["fan.top.speed"] for each in some] == wanted


def test_changes_of_what_is_closed_are_not_made_together():
    def change(**changes):
        return SimpleNamespace(changes={path.replace("_", "."): v for path, v in changes.items()})

    shut, area, seal = change(vent_a_state="blanked"), change(vent_a_area=1), change(leak_a_area=1)
    open_, fan = change(vent_a_state="open"), change(vent_ab_area=1)
    for one, other, both in ((shut, area, False), (shut, seal, True), (open_, area, True),
                             (shut, fan, True), (area, change(vent_a_area=2), False)):  # fmt: skip
        assert _together(one, other) == _together(other, one) == both


def test_a_row_stands_by_what_it_was_solved_for_of_the_scenarios_it_applies_in():
    """The worst of them, those to come left out; where it applies in none there is no solution."""
    for applies, status, least in (
        ([1, 0], [OK, VOID], OK), ([1, 1], [OK, VOID], VOID), ([1, 1], [VOID, -1], VOID),
        ([1, 1], [-1, -1], OK), ([0, 0], [OK, OK], UNSOLVED),
    ):  # fmt: skip
        rows = SimpleNamespace(applies=np.array([applies], bool), status=np.array([status]))
        assert ChangeSearch.least(rows, 0) == least


def test_what_is_short_adds_up_by_hand():
    """Of a part 5 of 10 K, and 5 + 2 K of its margin a thousandth each; a quarter of a flow of
    0.02 m3/s; a limit without a value counts 1, a void run 100, a stall during an outage 0.001."""

    def item(limit, bound, *margins):
        return SimpleNamespace(limit=limit, bound=bound, margin=np.array(margins))

    stand = SimpleNamespace(
        limits=[item("part", 350.0, -5.0, 1.5, 4.0, np.nan, 4.0),
                item("flow", -0.02, -0.005, 0.005, 0.0, 0.01, -9.0)],
        each=np.array([[OVER, TIGHT, OK, UNKNOWN, OK], [OVER, OK, OK, OK, OVER]]),
        voids=[SimpleNamespace(runs=np.array([0, 0, 1, 0, 0], bool))],
        dips=[SimpleNamespace(runs=np.array([0, 1, 0, 0, 0], bool))],
        status=np.array([OVER, TIGHT, VOID, UNKNOWN, UNSOLVED]),
    )  # fmt: skip
    for limit, short in (("air", 0.5 + 0.007), ("noise", 5 / 3)):  # 10 K, 3 dB
        alone = SimpleNamespace(limits=[item(limit, 50.0, -5.0)], each=np.array([[OVER]]), voids=[],
                                dips=[], status=np.array([OVER]))  # fmt: skip
        assert shortfall(alone, np.array([2.0])) == pytest.approx([short])
    short = shortfall(stand, np.full(5, 2.0))
    assert short == pytest.approx([0.75 + 0.007, 0.0005 + 0.001, 100.0, 1.0, 1000.0])


def test_advice_is_measured_by_the_margin_of_the_limit_it_is_about():
    limits = [SimpleNamespace(limit=limit, subject=subject, margin=i, margin_quantity=None)
              for i, (limit, subject) in enumerate((("part", "part.a"), ("air", "part.b"),
                                                    ("part", "part.b")))]  # fmt: skip
    finding = SimpleNamespace(rule="limit-part", subject="part.b")
    assert _margins(finding, SimpleNamespace(limits=limits)) == (2, None, "at part.b")


def test_a_hole_is_no_larger_than_its_face_nor_a_grille_all_hole(box):
    """The floor is 400 x 250 mm = 1000 cm2; the front, 400 x 700 mm, 2800 cm2."""
    places = {"200 0 mm": (0.09, 0.1), "200 700 mm": (0.09, 0.1), "200 350 mm": (0.2, 0.28),
              "0 350 mm": (0.09, 0.175), "400 350 mm": (0.09, 0.175),
              None: (0.09, 9.0)}  # fmt: skip
    for at, (now, face) in places.items():
        wide = box.with_changes({"vent.base.area": now, "vent.base.at": at})
        areas = [each.changes["vent.base.area"] for each in candidates(wide, ["base"])
                 if each.kind == "area"]  # fmt: skip
        assert max(areas) == pytest.approx(min(2 * now, face))
    shares = [each.changes["vent.base.open_ratio"] for each in candidates(box, ["base"])
              if each.kind == "open_ratio"]  # fmt: skip
    assert shares == [0.75, 0.8]


def test_the_only_fan_that_runs_is_not_blanked(box):
    other = {**box.things["fan"], "side": dataclasses.replace(box.fans["top"], name="side")}
    two = dataclasses.replace(box, things={**box.things, "fan": other})
    for case, wanted in ((box, 0), (two, 2), (two.with_changes({"fan.side.state": "stopped"}), 0)):
        assert len(candidates(case, ["base"], without=only("fan_off"))) == wanted


def test_fans_are_tried_only_on_supplies_that_feed_them(box):
    some = candidates(box, ["base"], without=only("supply", "fan_type"))
    assert [(each.words, each.changes) for each in some] == [
        ("fan.top: bare, if its frame fits", {"fan.top.type": "bare"}),
        ("fan.top: strong on supply.high",
         {"fan.top.type": "strong", "fan.top.supply": "high"}),
    ]  # fmt: skip
    strong = box.with_changes({"fan.top.type": "strong"})
    (back,) = candidates(strong, ["base"], without=only("supply"))
    assert back.changes == {"fan.top.supply": "high"}


def test_of_sizes_the_smallest_that_has_its_margin_is_proposed(box):
    """Each size solved by itself: -0.6, 0.2 and 1.1 K."""
    margins = {factor: again(box, {"vent.base.area": 0.006 * factor}).totals.worst_margin
               for factor in (1.25, 1.5, 2.0)}  # fmt: skip
    for asked in (1.0, 2.0):
        case = box.with_changes({"limits.margin": f"{asked} K"})
        (one,) = (found := flownet.suggest(case, without=only("area"))).proposals
        full = [factor for factor, margin in margins.items() if margin >= asked]
        held = [factor for factor, margin in margins.items() if margin >= 0]
        assert one.changes == {"vent.base.area": pytest.approx(0.006 * min(full or held))}
        assert (", tight)" in found.verdict) == (not full)
    assert full != held != []


def test_a_limit_without_a_value_is_said_first(box):
    bare = box.with_changes({"limits.fan_life_hours": 60000, "vent.base.area": "200 cm2"})
    found = flownet.suggest(bare, without=only("area", "turn"))
    assert found.verdict == (
        "nothing can be said to hold: fan.top has a limit, and no value to hold against it"
    )
    assert found.to_dict()["as_it_is"]["unknown"] == ["fan.top"]
    with_life = bare.with_changes(
        {"fan_type.small.life": {"hours": 90000, "at": "40 degC", "kind": "L10"}}
    )
    assert flownet.suggest(with_life, deep=1).unknown == ()


def test_what_the_scenario_sets_is_said_and_is_not_close(tmp_path):
    text = BOX.replace('["base"]', '["hot"]') + '\n[scenario.hot]\nvent.base.area = "60 cm2"\n'
    found = flownet.suggest(load(tmp_path, text), without=only("area"))
    assert found.closest == ()
    assert "; the closest" not in found.verdict
    assert "hot sets it anew" in found._repr_html_()


def test_closest_is_what_leaves_least_short(box):
    hopeless = box.with_changes({"compartment.box.air_limit": "39 degC"})
    found = flownet.suggest(hopeless, deep=1)
    assert not found.proposals
    margins = [each.margin for each in found.closest]
    assert margins == sorted(margins, reverse=True)
    assert margins[0] == pytest.approx(max(
        each.margin for each in found.tried if each.status == "over"), abs=1e-9)  # fmt: skip
    assert min(margins) > found.base.margin


def test_pasted_blocks_load_though_a_part_is_moved(tmp_path):
    case = load(tmp_path, MISPLACED)
    found = flownet.suggest(case, scenarios=["fan.left-out"], deep=1)
    assert "part.heater.in" in {path for each in found.proposals for path in each.edits}
    blocks = [(head, line) for head, lines in found.blocks() for line in lines]
    assert ("# in the table [part.heater] that is there", '# "in" = "high"') in blocks
    pasted = "\n".join("\n".join(["", head, *lines]) for head, lines in found.blocks())
    assert load(tmp_path, MISPLACED + pasted).variants.keys() == found.variants.keys()


@pytest.mark.parametrize(("limit", "barred"), [
    ({"part.probe.limit": "30 degC"}, [("part.heater.in", "middle")]),
    ({"compartment.middle.air_limit": "30 degC"},
     [("part.heater.in", "middle")]),
    ({"compartment.low.air_limit": "30 degC"},
     [("part.heater.in", "low"), ("part.probe.in", "low")]),
    ({"limits.flow": "500 m3/h"}, []),
])  # fmt: skip
def test_no_heat_is_moved_to_what_is_too_hot(limit, barred, tmp_path):
    """The outside is at 40 degC, so that only the place of what has its limit at 30 decides."""
    probe = '[part.probe]\nin = "middle"\npower = "1 W"\n'
    case = load(tmp_path, RACK + probe).with_changes({"part.*.limit": None})
    some = candidates(case.with_changes(limit), ["base"], without=only("part_place"))
    every = {edit for each in some for edit in each.edits.items()}
    assert len(every) == 4  # two parts, each to two other places
    left = ChangeSearch(case.with_changes(limit), some, ["base"]).some
    assert every - {edit for each in left for edit in each.edits.items()} == {*barred}


def test_what_fails_where_the_case_fails_is_solved_nowhere_else(tmp_path):
    """Asked with the scenario that holds first: only what holds in the other is solved in both."""
    text = f'{RACK}[scenario.cold]\noutside.temperature = "20 degC"\n'
    case = load(tmp_path, text).with_changes({"vent.front.area": "40 cm2"})
    some = candidates(case, ["base"], without=only("area", "filler", "turn"))
    told = []
    search = ChangeSearch(case, some, ["cold", "base"],
                          progress=lambda *counts: told.append(counts))  # fmt: skip
    found = search.singles()
    margins = [again(case, each.changes).totals.worst_margin for each in some]
    assert [each.everywhere for each in found] == [margin >= 0 for margin in margins]
    more = len(some) + sum(margin >= 0 for margin in margins)
    assert search.solved == 2 + more
    assert told[-1] == (more, more)
    assert [done for done, _ in told] == sorted(done for done, _ in told)


def test_a_filter_that_is_kept_is_not_changed_earlier_either(tmp_path):
    text = OPPOSED.replace('["base"]', '["dirty"]') + "\n[scenario.dirty]\nfilter.mat.fouling = 3.0"
    case = load(tmp_path, text)
    assert [each.kind for each in candidates(case, ["dirty"]) if each.kind == "service"]
    kept = candidates(case, ["dirty"], keep=["filter.*"])
    assert not [each for each in kept if "filter.mat" in each.things]


def test_a_filter_is_changed_earlier_though_the_scenario_is_relative_or_like_another(tmp_path):
    """3 times the clean drop in either case; half the way back to 1 is 2."""
    written = '"filter.*.fouling" = "* 3"', "filter.mat.fouling = 3.0"
    for number, line in enumerate(written):
        text = OPPOSED.replace('["base"]', '["worst"]') + f"\n[scenario.dirty]\n{line}\n"
        (tmp_path / str(number)).mkdir()
        case = load(tmp_path / str(number), text + '[scenario.worst]\nlike = "dirty"\n')
        (one,) = [each for each in candidates(case, ["worst"]) if each.kind == "service"]
        assert list(one.edits.values()) == [2.0]
        assert one.case.under("worst").things["filter"]["mat"].fouling == 2.0
