"""The choice of a fan: what ranks, what is said, what is asked wrongly, what is drawn."""

from __future__ import annotations

import dataclasses
import json
import sys
from collections import Counter
from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet import Compartment, Part
from flownet.enclosure.surroundings import Body
from flownet.pages import render
from flownet.pages.page import Page
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.studies.choice.eligibility import Reason
from flownet.studies.choice.fan_picture import fan_choice_curves
from flownet.studies.choice.order import MEASURES
from flownet.studies.choose import choose
from tests.studies.fan_boxes import air, kind, out
from tests.studies.test_choice import ANY, BOX
from tests.studies.test_fan_choice import BENCH, enclosure, law, made
from tests.test_cases import CASES, load
from tests.test_fan_catalogue import BASES, ROWS


@pytest.fixture(scope="module")
def bench():
    return made("bench-supply")


# --- order and words ----------------------------------------------------------------------------


def three(**limits):
    """Quiet and dear, loud and cheap, and one that says neither level nor price nor life."""
    life = {"at": "40 degC", "kind": "L10"}
    quiet = kind("quiet", law, 0.04, noise_dBA=30, price=40, power=5.0,
                 life={**life, "hours": 50000})  # fmt: skip
    loud = kind("loud", lambda x: 90 * (1 - x / 0.05), 0.05, noise_dBA=50, price=10, power=9.0,
                life={**life, "hours": 30000})  # fmt: skip
    mute = kind("mute", lambda x: 70 * (1 - x / 0.045), 0.045, power=1.0)
    long = kind("long", lambda x: 55 * (1 - x / 0.04), 0.04, noise_dBA=45, price=20, power=7.0,
                life={"at": "40 degC", "kind": "mean", "hours": 300000})  # fmt: skip
    part = Part(name="p", in_="box", power=100.0)
    return enclosure(quiet, loud, mute, long, parts=[part], limit="60 degC",
                     limits={"noise_dBA": 60.0, **limits})  # fmt: skip


ORDERS = {
    "temperature": ["loud", "quiet", "long", "mute"],  # the larger curve has the larger flow;
    # what may break the limit of noise, nobody knows, comes after what holds
    "noise": ["quiet", "long", "loud", "mute"],
    "price": ["loud", "long", "quiet", "mute"],
    "power": ["quiet", "long", "loud", "mute"],
    "life": ["quiet", "loud", "long", "mute"],  # L10 before a mean
}


def test_what_ranks():
    case = three()
    for best, types in ORDERS.items():
        choice = choose(case, "a", best=best)
        assert [item.type for item in choice.candidates] == types
        assert [item.rank for item in choice.candidates] == [1, 2, 3, 4]
        assert [row["rank"] for row in choice.rows()] == [1, 2, 3, 4]
        mute = [r.message() for r in choice.candidate("mute").remarks]
        assert "noise not stated: the limit of 60.0 dBA is not checked" in mute
        assert "price not stated" in mute
    assert set(ORDERS) == set(MEASURES)


def test_a_demo_is_in_order():
    choice = choose(load("telecom-shelf"), "fan.*", catalogue=ROWS, best="life")
    values = [item.numbers.life for item in choice.candidates]
    assert values == sorted(values, reverse=True)
    known = [name for name, row in BASES.items() if row.supply_text.text() == "48 V dc"]
    assert choice.counts["supply"] == len(BASES) - len(known)


def missed(solution, limit):
    """Share by which a limit is missed: of the allowed rise, of speed (50 log10), of hours."""
    if limit.limit == "noise":
        return 10 ** (-limit.margin / 50) - 1
    allowed = limit.bound - (0 if limit.limit == "life" else solution.case.outside.temperature)
    return -limit.margin / allowed


def test_the_verdict_says_what_the_tables_say(bench):
    own = load("bench-supply").things["fan_type"]
    every = {**BASES, **{name: row for name, row in own.items() if "." not in name}}
    fit = {name for name, row in every.items() if row.supply_text.text() == "12 V dc"}
    reasons, misses = Counter({"supply": len(every) - len(fit)}), {}
    for name in fit:
        solved = [bench.solution(name, scenario) for scenario in bench.scenarios]
        fails = sum(not all(item.holds for item in one.limits) for one in solved)
        misses[name] = fails, max(missed(one, item) for one in solved for item in one.limits)
        broken = {item.limit for one in solved for item in one.limits if not item.holds}
        reasons["part limit" if "part" in broken else "noise" if "noise" in broken else ""] += 1
    closest = min(misses, key=lambda name: misses[name])
    worst = min((bench.solution(closest, scenario).worst for scenario in bench.scenarios),
                key=lambda item: item.margin)  # fmt: skip
    said, _, counts = bench.verdict.rpartition("; ")
    assert said.startswith(f"no type holds everywhere; {closest} comes closest: {worst.subject}")
    told = dict(each.split(" ", 1)[::-1] for each in counts.partition(": ")[2].split(", "))
    assert told == {kind_: str(count) for kind_, count in reasons.items()}
    assert counts.startswith(f"{len(every)} of {len(every)} excluded")
    choice = choose(three(), "a", best="price")
    margin = choice.best.numbers.margin
    assert choice.verdict == f"loud holds in base with {margin:.1f} K margin at 50.0 dBA, " \
                             "price 10.00"  # fmt: skip
    assert choice.verdicts()[1] == "quiet, in place now, is number 3 by price"
    assert repr(choice) == f'<FanChoice "" fan.a: {choice.verdict}>'


def test_one_reason_for_every_type_is_told_once():
    """Heat in a room without a way out: no fan elsewhere helps."""
    shut, part = Compartment(name="shut"), Part(name="p", in_="shut", power=100.0)
    types = [kind("a", law, 0.04), kind("b", lambda x: 2 * law(x), 0.04)]
    choice = choose(enclosure(*types, shut, parts=[part]), "a")
    assert [item.reasons[0].kind for item in choice.excluded] == ["unsolved"] * 2
    assert choice.alike
    assert len(choice.verdicts()) == 1
    assert choice.verdict.count("compartment.shut") == 1
    lines = "\n".join(render.text(choice.sheet, Page(width=200)))
    assert lines.count("compartment.shut") == 1
    assert not choose(three(), "a").alike


BEARINGS = [
    ({}, {"bearing": "sleeve"}, "in continuous duty"),
    ({"duty": "intermittent"}, {"bearing": "sleeve"}, None),
    ({"duty": "intermittent", "noise_dBA": 40.0}, {"bearing": "ball"}, "would let a sleeve"),
    ({"noise_dBA": 40.0}, {"bearing": "ball"}, None),
]  # fmt: skip


def test_bearings_are_spoken_of():
    for limits, bearing, said in BEARINGS:
        type_ = kind("t", law, 0.04, noise_dBA=30, price=1, air_range=(250.0, 350.0), **bearing)
        fan = out("a", "t", from_="outside", to="box", direction="left")
        case = enclosure(type_, Body(view="front"), fans=[fan], limits=limits or {"margin": 3.0})
        told = [r.message() for r in choose(case, "a").best.remarks if r.kind == "bearing"]
        assert len(told) == (said is not None)
        if said:
            assert said in told[0]
            assert told[0].endswith("(common practice, no source)")
        hot = case.with_changes({"outside.temperature": 330.0})
        told = [r.message() for r in choose(hot, "a").best.remarks if r.kind == "bearing"]
        assert any("in air of 56.9 degC" in w for w in told) == (type_.bearing == "sleeve")


def test_json_rows_frame_and_notebook(bench, monkeypatch):
    text = json.dumps(bench.to_dict(), allow_nan=False)
    entry = json.loads(text)["excluded"][0]
    assert entry["type"] == "axial-92-q"
    assert entry["rank"] is None
    assert [(item["kind"], item["unit"]) for item in entry["reasons"]] == [
        ("part", "degC"), ("part", "degC"), ("life", "h")]  # fmt: skip
    assert entry["reasons"][-1]["value"] == pytest.approx(entry["life_hours"])
    assert (entry["life_kind"], entry["worst_subject"], entry["worst_scenario"]) == (
        "L10", *(entry["reasons"][0][key] for key in ("subject", "scenario")))  # fmt: skip
    rows = bench.rows()
    assert len(rows) == 50
    assert "fan.rear: L10 life" in rows[0]["reasons"]
    monkeypatch.setitem(sys.modules, "pandas", SimpleNamespace(DataFrame=list))
    assert bench.to_frame() == rows
    shown = bench._repr_html_()
    assert all(item.type in shown for item in bench.excluded[:12])


def test_numbers_are_explained_where_there_are_some():
    served, barred = choose(three(), "a"), choose(three(), "a", frame="92 x 38 mm")
    assert len(served.sheet.notes) == 1
    hot = choose(three().with_changes({"compartment.box.air_limit": "15 degC"}), "a")
    assert (hot.candidates, hot.sheet.notes) == ((), ())
    assert barred.candidates
    types, *_ = served.sheet.of("page")
    names = ["Accepted", "margin", "flow", "noise", "power", "life", "price", ""]
    assert [column.name for column in types.columns] == names
    tight = three(margin=90.0)
    (types, *_) = choose(tight, "a").sheet.of("page")
    assert set(types.columns[1].styles) == {"doubtful"}
    assert [text.split(",")[0] for text in types.columns[-1].values] == ["tight"] * 3 + ["unknown"]


def test_a_picture_has_five_at_most():
    types = [kind(name, lambda x, k=k: k * law(x), 0.04) for k, name in enumerate("abcdef", 1)]
    found = choose(enclosure(*types), "a")
    assert len(found.candidates) == 6
    drawn = fan_choice_curves(found).drawn
    assert [item.candidate for item in drawn] == list(found.candidates[:5])
    assert [item.candidate for item in fan_choice_curves(found, most=2).drawn] == list(
        found.candidates[:2])  # fmt: skip


# --- what is asked wrongly ----------------------------------------------------------------------


WRONG = [
    ({"fan": "raer"}, 'fan.raer: no such fan; did you mean "rear"'),
    ({"fan": "part.drive"}, "^part.drive: no such fan"),
    ({"fan": "fan.x*"}, r'"\*" matches no fan'),
    ({"best": "nois"}, 'best: one of temperature, noise.* did you mean "noise"'),
    ({"scenarios": ["hto"]}, 'did you mean "hot"'),
    ({"variant": "larger-fna"}, 'did you mean "larger-fan"'),
    ({"frame": "92 mm"}, "frame: .*119 x 38 mm"),
    ({"changes": {"fan.rear.type": "axial-80-b"}}, "fan.rear.type: is what is chosen"),
    ({"changes": {"fan.*.state": "blanked"}}, "fan.rear: is blanked"),
    ({"name": "quiet"}, "name: a fan is chosen"),
    ({"best": ["noise", "price"]}, "best: one word ranks"),
    ({"fan": None, "frame": "any"}, "frame: belongs to the choice of a fan"),
]  # fmt: skip


def test_what_is_not_known_is_said():
    case = load("bench-supply")
    for words, said in WRONG:
        with pytest.raises(CaseError, match=said):
            choose(case, **{"fan": "rear", **words})


def test_a_case_without_fans_and_a_scenario_that_chooses_itself():
    bare = flownet.Enclosure.of(air(), Compartment(name="box"))
    with pytest.raises(CaseError, match="the case has no fan"):
        choose(bare, "a")
    case = enclosure(kind("t", law, 0.04), kind("u", law, 0.04),
                     scenarios={"other": {"fan.a.type": "u"}})  # fmt: skip
    with pytest.raises(CaseError, match=r'scenario "other": sets fan\.a\.type'):
        choose(case, "a")
    assert choose(case, "a", scenarios=["base"]).best.rank == 1


def test_without_a_fan_it_is_a_choice_of_the_case(read):
    case = read(BOX + ANY)
    found = choose(case, name="any", scenarios=["warm"], catalogue=())
    assert type(found).__name__ == "OptionChoice"
    assert found.to_dict() == flownet.choose_options(case, "any", scenarios=["warm"]).to_dict()


def test_a_catalogue_is_fan_types():
    case = load("bench-supply")
    other = dataclasses.replace(case.things["fan_type"]["axial-80-q"], price=99.0)
    with pytest.raises(CaseError, match="axial-80-q: stands in the case and in the catalogue"):
        choose(case, "rear", catalogue=[other])
    with pytest.raises(TypeError, match="load_fan_types"):
        choose(case, "rear", catalogue=str(CASES / "fan-catalogue"))  # type: ignore[arg-type]
    same = choose(case, "rear", catalogue=case.things["fan_type"], **BENCH)
    assert same.to_dict() == choose(case, "rear", **BENCH).to_dict()


# --- for the picture ----------------------------------------------------------------------------


def test_operating_points_lie_on_their_curves_and_the_best_on_the_line_of_the_network():
    choice = made("telecom-shelf")
    curves = fan_choice_curves(choice)
    assert curves.solution.scenario == "hot+dirty"
    assert [item.candidate for item in curves.drawn] == list(choice.candidates)
    for _, line, works in curves.drawn:
        assert np.interp(works.flow, line.flow, line.rise) == pytest.approx(works.rise, rel=0.01)
        asked = np.interp(works.flow, curves.flow, curves.rise)
        assert asked == pytest.approx(works.rise, rel=0.02)
    first = curves.drawn[0].works
    assert np.interp(first.flow, curves.flow, curves.rise) == pytest.approx(first.rise, rel=1e-3)


def test_the_line_of_the_network_goes_by_the_first_and_speeds_are_told():
    """A solve of the line is at its own flow, which the other type does not have; half of 50/s."""
    types = (kind("weak", law, 0.04), kind("strong", lambda x: 90 * (1 - x / 0.05), 0.05))
    part = Part(name="p", in_="box", power=50.0)
    fan = out("a", "weak", from_="outside", to="box", speed=0.5)
    case = enclosure(*types, fans=[fan], parts=[part], limit=400.0)
    curves = fan_choice_curves(choose(case, "a"))
    assert [item.candidate.type for item in curves.drawn] == ["strong", "weak"]
    own, other = (np.abs(curves.flow / item.works.flow - 1).min() for item in curves.drawn)
    assert own < 1e-3 < other
    assert [item.works.rotation for item in curves.drawn] == [pytest.approx(25.0)] * 2


def test_nothing_to_draw_is_said():
    case = enclosure(kind("t", law, 0.04, supply="24 V dc"),
                     fans=[out("a", "t", from_="outside", to="box", supply="mains")])  # fmt: skip
    barred = choose(case, "a")
    with pytest.raises(CaseError, match="nothing to draw"):
        fan_choice_curves(barred)
    with pytest.raises(CaseError, match="excluded without a solve"):
        barred.solution("t", "base")
    assert [row["rank"] for row in barred.rows()] == [None]
    still = enclosure(kind("t", law, 0.04), scenarios={"off": {"fan.a.state": "stopped"}},
                      limits={"scenarios": ["off"]})  # fmt: skip
    with pytest.raises(CaseError, match="stands in every scenario"):
        fan_choice_curves(choose(still, "a"))


def test_json_of_a_reason_has_its_scenario_and_numbers():
    values = {"value": (q.LENGTH, 0.1), "bound": (q.LENGTH, 0.2)}
    made = Reason("frame", "fan.a", "hot", "{value} {bound}", values).to_dict()
    assert (made["kind"], made["subject"], made["scenario"]) == ("frame", "fan.a", "hot")
    assert (made["value"], made["bound"], made["unit"]) == (
        pytest.approx(0.1 * q.LENGTH.json.factor), pytest.approx(0.2 * q.LENGTH.json.factor),
        q.LENGTH.json.unit)  # fmt: skip
    none = Reason("shaft", "fan.a", "", "x", {"value": (None, "up")}).to_dict()
    assert (none["scenario"], none["value"], none["bound"], none["unit"]) == (None,) * 4
