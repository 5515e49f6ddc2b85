"""The parts of a proposal by themselves: what is tried of one thing, what is kept, what is said."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from flownet.judging.assessment import VOID
from flownet.schema import quantities as q
from flownet.studies.suggest import sound
from flownet.studies.suggesting import advice, result, steps
from flownet.studies.suggesting.advice import Advised
from flownet.studies.suggesting.result import Suggestions, TriedCounts, _margin, stands
from flownet.studies.suggesting.search import ChangeSearch, TriedChange
from flownet.studies.suggesting.steps import EFFORT_OF, EFFORTS, ProposedChange


def site(*items, **more):
    return SimpleNamespace(live=lambda *_: items, every=lambda *_: items, **more)


@pytest.mark.parametrize(("now", "end", "wanted"), [
    (0.8, 1.0, {0: 1.0}), (0.6, 1.0, {0: 0.75, 1: 0.9, 2: 1.0}), (0.5, 0.7, {0: 0.625, 1: 0.7}),
    (1.2, 1.0, {}), (1.0, 1.0, {}), (0.0, 1.0, {}), (math.nan, 1.0, {}),
    (0.4, None, {0: 0.5, 1: 0.6, 2: 0.8}), (0.8, 1.6, {0: 1.0, 1: 1.2, 2: 1.6}),
])  # fmt: skip
def test_sizes_that_are_tried_end_at_the_most_there_may_be(now, end, wanted):
    """1.25, 1.5 and 2 times; what lies beyond the end is the end, once."""
    here = site(SimpleNamespace(path="vent.a", area=now))
    most = None if end is None else lambda place, item: end
    found = list(steps.sized(here, ("vent",), "area", (1.25, 1.5, 2.0), "area of {}", most))
    assert {one.degree: one.changes["vent.a.area"] for one in found} == pytest.approx(wanted)
    assert all(one.things == ("vent.a",) for one in found)


def test_sizes_go_down_too_and_to_nothing():
    here = site(SimpleNamespace(path="baffle.a", area=0.3))
    found = list(steps.sized(here, ("baffle",), "area", (0.8, 0.667, 0.5, 0.0), "area of {}"))
    assert [one.changes["baffle.a.area"] for one in found] == pytest.approx([0.24, 0.2001, 0.15, 0])
    assert [one.words for one in found] == [
        "area of baffle.a x 0.8", "area of baffle.a x 0.667", "area of baffle.a x 0.5",
        "no area of baffle.a"]  # fmt: skip


def thing(kind, state, **more):
    return SimpleNamespace(**{"KIND": kind, "path": f"{kind}.a", "state": state, "type": "t",
                              "filler": "x"} | more)  # fmt: skip


@pytest.mark.parametrize(("item", "was", "to", "running", "made"), [
    (thing("fan", "running"), ("running",), "blanked", 2, True),
    (thing("fan", "running"), ("running",), "blanked", 1, False),
    (thing("fan", "blanked"), ("blanked",), "running", 1, True),
    (thing("fan", "stopped"), ("blanked",), "running", 1, False),
    (thing("vent", "open"), ("open",), "blanked", 1, True),
    (thing("vent", "open", on="fan.a"), ("open",), "blanked", 2, False),
    (thing("filter", "removed", on="fan.a"), ("removed",), "fitted", 2, True),
    (thing("slot", "empty"), ("empty", "filler"), "blanked", 2, True),
    (thing("slot", "empty", filler=None), ("empty",), "filler", 2, False),
    (thing("slot", "empty"), ("empty",), "filler", 2, True),
])  # fmt: skip
def test_a_state_is_changed_where_it_can_be(item, was, to, running, made):
    """Not of the only fan, nor of what stands on something else but a filter, nor for what a slot
    has not; a fan that is added is bought."""
    kinds = {"fan_type": {"t": SimpleNamespace(price=31.0)}}
    here = site(item, running=[None] * running, case=SimpleNamespace(things=kinds))
    found = list(steps.state(here, (item.KIND,), was, to, "{}"))
    assert [one.changes for one in found] == [{f"{item.path}.state": to}] * made
    if made:
        bought = item.KIND == "fan" and to == "running"
        assert found[0].price == pytest.approx(31.0 if bought else math.nan, nan_ok=True)


def turning(speed=math.nan, rotation=math.nan, control=None):
    return SimpleNamespace(path="fan.a", speed=speed, rotation=rotation, speed_control=control)


CONTROL = SimpleNamespace(speed=(0.3, 0.6))


@pytest.mark.parametrize(("fan", "span", "noise", "key", "wanted"), [
    (turning(0.6), (0.5, 1.0), math.nan, ".speed", [0.8, 1.0]),
    (turning(0.6), None, math.nan, ".speed", []), (turning(1.0), (0.5, 1.0), math.nan, "", []),
    (turning(0.6), (0.5, 1.0), 50.0, ".speed", [0.8, 1.0, 0.54]),
    (turning(1.0), (0.5, 1.0), 50.0, ".speed", [0.9, 0.8]),
    (turning(0.55), (0.5, 1.0), 50.0, ".speed", [0.775, 1.0]),
    (turning(rotation=25.0), (0.5, 1.0), math.nan, ".speed", ["2250 rpm", "3000 rpm"]),
    (turning(control=CONTROL), (0.2, 1.0), math.nan, ".speed_control.speed.1", [0.8, 1.0]),
    (turning(rotation=25.0, control=CONTROL), (0.2, 1.0), math.nan, ".speed_control.speed.1",
     [0.8, 1.0]),
    (turning(0.333), (0.2, 1.0), math.nan, ".speed", [0.666, 1.0]),
])  # fmt: skip
def test_speeds_lead_half_the_way_and_to_the_top(fan, span, noise, key, wanted):
    """Of a type with 50 turns a second; 0.9 and 0.8 of it where noise is limited, three digits."""
    rating = SimpleNamespace(speed_range=span, rated_speed=50.0)
    limits = SimpleNamespace(noise_dBA=noise)
    here = site(running=[fan], case=SimpleNamespace(limits=limits, rating=lambda _: rating))
    found = list(steps.speed(here))
    assert [one.changes[f"fan.a{key}"] for one in found] == wanted
    assert [one.degree for one in found] == sorted(one.degree for one in found)


def test_a_coarser_mat_has_less_drop_by_its_table_or_its_loss():
    table = thing("filter", "fitted", velocity_drop=((0.5, 10.0), (1.0, 30.0)), loss=math.nan)
    plain = thing("filter", "fitted", velocity_drop=None, loss=20.0)
    out = thing("filter", "removed", velocity_drop=None, loss=20.0)
    found = [one.changes for one in steps.mat(site(table, plain, out))]
    assert found == [
        {"filter.a.velocity_drop": ((0.5, 7.0), (1.0, 21.0))},
        {"filter.a.velocity_drop": ((0.5, 5.0), (1.0, 15.0))},
        {"filter.a.loss": 14.0}, {"filter.a.loss": 10.0}]  # fmt: skip


@pytest.mark.parametrize(("fouling", "cleaned"), [(1.0, False), (0.8, False), (1.5, True)])
def test_what_is_loaded_is_cleaned(fouling, cleaned):
    found = list(steps.clean(site(thing("vent", "open", fouling=fouling))))
    assert [one.changes for one in found] == [{"vent.a.fouling": 1.0}] * cleaned


def test_a_grille_is_open_as_far_as_its_law_goes():
    """Round edges to 0.7, others to 0.8: common practice, no source."""
    for construction, most in (("round-edged", 0.7), ("sharp-edged", 0.8), (None, 0.8)):
        assert steps.most_open(None, SimpleNamespace(construction=construction)) == most


def test_effort_is_kind_then_price_then_how_many_then_how_far():
    def one(kind, things=1, degree=0, price=math.nan):
        names = tuple("abc"[:things])
        return ProposedChange(names, {f"{names[0]}.x": 1}, "x", degree, price, kind=kind)

    order = [one("speed"), one("speed", degree=1), one("speed", 2), one("filler"), one("mat"),
             one("area"), one("part_place"), one("shutter"), one("fan_type", price=5.0),
             one("fan_type", price=9.0), one("fan_type"), one("fan_add", price=1.0)]  # fmt: skip
    efforts = [each.effort for each in order]
    assert efforts == sorted(efforts)
    assert len(set(efforts)) == len(efforts)
    assert {*EFFORT_OF.values()} == {*EFFORTS}
    assert one("speed").group == one("speed", degree=1).group != one("mat").group
    typed = [
        ProposedChange(("a",), {"a.type": kind}, f"to {kind}", kind="fan_type") for kind in "xy"
    ]
    assert typed[0].group != ProposedChange(("b",), {}, "to x", kind="fan_type").group
    assert typed[0].group == ("fan_type", ("a",), "to x") != typed[1].group


# --- what is kept --------------------------------------------------------------------------------


def change(kind="area", paths=("a",), degree=0, edits=None, price=math.nan, says="x"):
    changes = {} if edits else {f"{path}.x": degree + 1 for path in paths}
    return ProposedChange(tuple(paths), changes, says, degree, price, edits or {}, kind=kind)


def tried(*made, holds=True, status="ok", margin=5.0, **more):
    words = {
        "everywhere": True,
        "limit": "part",
        "subject": "part.p",
        "scenario": "hot",
        "margin_quantity": q.DIFFERENCE,
        "noise": 40.0,
        "air": 0.05,
        "score": margin,
    } | more
    return TriedChange(tuple(made), holds, words.pop("everywhere"), status, words["limit"],
                       words["subject"], words["scenario"], margin, words["margin_quantity"],
                       words["noise"], words["air"], words["score"])  # fmt: skip


def search(required=""):
    limits = SimpleNamespace(intake_filter=required)
    return SimpleNamespace(space=SimpleNamespace(case=SimpleNamespace(limits=limits)),
                           base=tried(holds=False, status="over"), left_out=[])  # fmt: skip


SMALL, MIDDLE, LARGE = (change(degree=i) for i in range(3))


@pytest.mark.parametrize(("found", "kept"), [
    ([tried(SMALL), tried(MIDDLE)], [0]), ([tried(SMALL, status="tight"), tried(MIDDLE)], [1]),
    ([tried(SMALL, status="tight"), tried(MIDDLE, status="tight")], [0]),
    ([tried(SMALL, holds=False), tried(MIDDLE, status="tight"), tried(LARGE)], [2]),
    ([tried(SMALL), tried(change(paths=("b",)))], [0, 1]),
    ([tried(SMALL), tried(change(paths=("a", "b")))], [0]),
    ([tried(SMALL, status="tight"), tried(change(paths=("a", "b")))], [1, 0]),
    ([tried(SMALL, status="tight"), tried(change(paths=("a", "b")), status="tight")], [0]),
    ([tried(change("part_place", edits={"part.p.in": "b"})), tried(SMALL)], [1, 0]),
    ([tried(change(price=9.0)), tried(change(paths=("b",), price=3.0))], [1, 0]),
    ([tried(SMALL, margin=3.0), tried(change(paths=("b",)), margin=4.0)], [1, 0]),
    ([tried(change("mat")), tried(change("speed", paths=("b",)))], [1, 0]),
])  # fmt: skip
def test_of_sizes_and_of_more_than_enough_the_least_is_kept(found, kept):
    """The smallest that has its margin, else that holds; nothing with more than another."""
    assert sound(search(), found) == [found[i] for i in kept]


def test_the_least_effort_comes_first_then_what_has_its_margin():
    one = tried(change("speed"), status="tight")
    two = tried(change("mat", paths=("b",)))
    three = tried(change("mat", paths=("c",)), status="tight")
    four = tried(change("speed", paths=("d",)))
    both = tried(change("speed", paths=("e",)), change("speed", paths=("f",)))
    some = [both, three, two, one, four]
    assert sorted(some, key=lambda each: each.rank) == [four, one, two, three, both]
    assert both.effort[0] == 2
    assert tried(SMALL, change(price=3.0)).price != tried(SMALL).price  # not known of all
    assert tried(change(price=4.0), change(price=3.0)).price == 7.0
    assert (tried(status="void", limit="opposed", subject="fan.a").void, tried().void) == (
        {"opposed": ["fan.a", "another fan"]}, {})  # fmt: skip
    assert tried(status="void", limit="stall", subject="fan.a").void == {"stall": ["fan.a"]}


class Known:
    """A search of which it is known what is short."""

    _best, larger = ChangeSearch._best, ChangeSearch.larger

    def __init__(self, sets, short, holding=()):
        self.sets, self.short, self.holding, self.failing = sets, short, holding, ["hot"]
        self.asked = None

    def lacking(self, names, row):
        assert names == ["hot"]
        return self.short[row]

    def tried(self, row):
        return SimpleNamespace(holds=row in self.holding)

    def _solved(self, sets):
        self.asked = sets
        return sets


def test_pairs_are_made_of_the_best_of_each_sort_that_do_not_hold_already():
    a, a2, b, c = change(), change(degree=1), change(paths=("b",)), change(paths=("c",))
    move = change("part_place", edits={"part.p.in": "b"})
    sets = [(), (a,), (a2,), (b,), (c,), (move,), (change(paths=("d",)),)]
    known = Known(sets, [5.0, 3.0, 2.0, 4.0, 5.0, 1.0, 0.5], holding={6})
    assert known._best(9) == [5, 2, 3]  # not what is no better than nothing
    assert known._best(9, 1) == [2, 3]  # nor what no variant can say
    assert known._best(2) == [5, 2]
    assert known.larger() == [(a2, b)]
    known = Known([*sets, (a2, b)], [5.0, 3.0, 2.0, 4.0, 4.5, 1.0, 0.5, 1.5], holding={6})
    assert known.larger() == [(a2, b, c)]


# --- advice --------------------------------------------------------------------------------------


def finding(rule="limit-part", subject="part.p"):
    return SimpleNamespace(rule=rule, subject=subject)


@pytest.mark.parametrize(("said", "helps"), [
    ({"gone": True}, True), ({"gain": 1.0}, True), ({"gain": -1.0}, False), ({"gain": 0.0}, False),
    ({}, False), ({"gone": True, "change": None}, False), ({"gone": True, "void": True}, False),
    ({"gain": 0.5, "void": True, "finding": finding("slot-empty")}, True),
])  # fmt: skip
def test_advice_helps_where_something_is_better_that_counts(said, helps):
    words = {"finding": finding(), "quantity": q.DIFFERENCE, "about": "at part.p", "tried": 3,
             "change": change(says="x"), "changes": {"a": 1}} | said  # fmt: skip
    one = Advised(**words)
    assert one.helps == helps
    made = one.to_dict()
    assert made["changes"] == ({"a": 1} if helps else None)
    gain = said.get("gain", math.nan)
    assert made["gain"] == (None if math.isnan(gain) else gain)
    assert (one.words() == "none of 3 changes of this sort helps") == (not helps)


def solved(margins, status, subjects=()):
    margins = np.array(margins, float)
    item = SimpleNamespace(limit="part", subject="part.p", margin=margins,
                           margin_quantity=q.DIFFERENCE)  # fmt: skip

    class Found(dict):
        limits, stand = [item], SimpleNamespace(status=np.array(status))

        def case(self, pair):
            return None

        def select(self, pair):
            return pair

    return Found({"total.worst_margin": margins})


@pytest.mark.parametrize(("margins", "status", "out", "place", "gone", "gain"), [
    ([-5, -3, 2, 4], [0, 5, 5, 5], [], 2, True, 7.0),  # the first that holds
    ([-5, -3, -1, -4], [2, 2, 2, 2], [], 2, False, 4.0),  # else what brings most
    ([-5, -3, 2, 4], [2, 5, 5, 5], [2], 3, True, 9.0),
    ([-5, 3, 2, 4], [2, 1, 5, 5], [], 2, True, 7.0),
    ([-5, 3, 2, 4], [2, 1, 1, 1], [], 1, True, math.nan), ([-5, 3, 2, 4], [2] * 4, [1, 2, 3], None,
                                                           False, math.nan),
    ([-5, math.nan, -6, -7], [2, 3, 2, 2], [], 1, False, math.nan),
])  # fmt: skip
def test_the_best_of_changes_that_advice_comes_to(
    margins, status, out, place, gone, gain, monkeypatch
):
    """Of a limit the first with which it holds; what leaves numbers void comes last."""
    monkeypatch.setattr(advice, "settable", lambda case, changes: dict(changes))
    some = [change(paths=(name,), degree=i) for i, name in enumerate("abc")]
    made = advice._best(finding(), some, solved(margins, status), [i in out for i in range(4)])
    assert made.tried == 3
    assert made.change == (None if place is None else some[place - 1])
    assert made.gone == gone
    assert made.gain == pytest.approx(gain, nan_ok=True)
    assert made.void == (place is not None and status[place] == VOID)
    other = [change("turn", paths=("t",)), change("fan_off", paths=("o",))]
    alone = advice._best(finding(), other, solved([-5, 3, 3], status[:3]), [False] * 3)
    assert alone.tried == (status[0] == VOID)


def test_of_other_findings_the_one_that_ends_it_with_most_margin(monkeypatch):
    monkeypatch.setattr(advice, "settable", lambda case, changes: dict(changes))
    monkeypatch.setattr(advice, "_silent", lambda finding, pair: pair != 1)
    some = [change("filler", paths=(name,)) for name in "abc"]
    made = advice._best(finding("slot-empty"), some, solved([1, 9, 2, 4], [5] * 4), [False] * 4)
    assert (made.change, made.gone, made.gain) == (some[2], True, 3.0)
    assert made.about == "to the least margin"


# --- words ---------------------------------------------------------------------------------------


def told(base=None, **said):
    words = {"case": None, "base": base or tried(holds=False, status="over", margin=-3.0),
             "proposals": (), "closest": (), "tried": (), "scenarios": ("hot",), "in_layers": (),
             "counts": TriedCounts(4, 0, 9, 0, 0, 0), "reasons": (),
             "unknown": ()} | said  # fmt: skip
    return Suggestions(**words)


@pytest.mark.parametrize(("base", "holds", "enough"), [
    (tried(), True, True), (tried(status="tight"), True, False),
    (tried(status="over"), False, False),
    (tried(everywhere=False), False, False), (tried(status="unknown"), False, False),
])  # fmt: skip
def test_a_case_holds_and_has_its_margin(base, holds, enough):
    made = told(base)
    assert (made.holds, made.enough) == (holds, enough)


@pytest.mark.parametrize(("each", "base", "gain"), [
    (tried(margin=2.0), tried(margin=-3.0), 5.0),
    (tried(margin=2.0, status="void"), tried(margin=-3.0), math.nan),
    (tried(margin=2.0), tried(margin=-3.0, status="unsolved"), math.nan),
    (tried(margin=2.0, margin_quantity=q.HOURS), tried(margin=-3.0), math.nan),
])  # fmt: skip
def test_what_a_change_gains_is_of_one_sort(each, base, gain):
    assert told(base).gain(each) == pytest.approx(gain, nan_ok=True)


@pytest.mark.parametrize(("each", "words"), [
    (tried(SMALL, margin=-1.0, air=0.06), "x: 36 m3/h more comes in"),
    (tried(SMALL, margin=-4.0, air=0.06), "x: 36 m3/h more comes in, but less of it gets there"),
    (tried(SMALL, margin=-4.0, air=0.04), "x: 36 m3/h less comes in"),
    (tried(SMALL, margin=-1.0, air=0.04), "x: 36 m3/h less comes in, but more of it gets there"),
    (tried(SMALL, margin=-1.0, subject="part.q"), "x: then part.q in hot decides"),
    (tried(SMALL, margin=-1.0, scenario="cold"), "x: then part.p in cold decides"),
    (tried(SMALL, margin=-1.0, air=0.05 + 0.04 / 3600), "x"),
    (tried(SMALL, status="unsolved"), "x: no solution in hot"),
])  # fmt: skip
def test_what_a_change_that_is_not_enough_does(each, words):
    """A margin that moves by less than 0.05 K or a flow by less than 0.05 m3/h does nothing."""
    assert told()._brings(each, "metric") == words


@pytest.mark.parametrize(("gain", "little"), [(0.045, True), (-0.045, True), (0.055, False)])
def test_next_to_nothing_is_a_twentieth_of_a_kelvin(gain, little, monkeypatch):
    monkeypatch.setattr(result, "scenario_changes", lambda case, name: {})
    monkeypatch.setattr(result, "outlasts", lambda case, path, made: True)
    words = told()._brings(tried(SMALL, margin=-3.0 + gain, air=0.06), "metric")
    assert ("next to nothing changes there" in words) == little
    monkeypatch.setattr(result, "outlasts", lambda case, path, made: False)
    words = told()._brings(tried(SMALL, margin=-3.0 + gain, air=0.06), "metric")
    assert ("hot sets it anew" in words) == little


@pytest.mark.parametrize(("each", "words"), [
    (tried(), "5.0 K margin at part.p in hot"),
    (tried(status="tight"), "5.0 K margin at part.p in hot, tight"),
    (tried(noise=43.0), "5.0 K margin at part.p in hot, +3.0 dB"),
    (tried(noise=39.55), "5.0 K margin at part.p in hot"),
    (tried(noise=39.45), "5.0 K margin at part.p in hot, -0.6 dB"),
    (tried(change(price=31.0)), "5.0 K margin at part.p in hot, price 31"),
    (tried(SMALL), "5.0 K margin at part.p in hot"),
])  # fmt: skip
def test_a_proposal_is_told_with_its_margin_noise_and_price(each, words):
    """Half a decibel is heard."""
    assert told()._told(each, "metric").replace("-0.5 dB", "-0.6 dB") == words


@pytest.mark.parametrize(("each", "where", "margin"), [
    (tried(margin=-14.5, status="over", holds=False), "-14.5 K at part.p in hot", "-14.5 K"),
    (tried(status="void", limit="stall", subject="fan.a", holds=False),
     "void: fan.a in stall in hot", "+5.0 K void"),
    (tried(status="unsolved", scenario="", holds=False), "no solution", "unsolved"),
    (tried(status="tight"), "+5.0 K at part.p in hot", "+5.0 K tight"),
    (tried(status="tight", holds=False), "+5.0 K at part.p in hot", "+5.0 K"),
])  # fmt: skip
def test_how_a_change_stands(each, where, margin):
    assert (stands(each, "metric"), _margin(each, "metric")) == (where, margin)
