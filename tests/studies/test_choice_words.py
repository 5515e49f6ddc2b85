"""What a choice says of its options, and what its tables hold, on options made by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from flownet.enclosure.contents import Place
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.studies.choice import option as options
from flownet.studies.choice.eligibility import Reason, Unfit, counted, kept, sentence, told_once
from flownet.studies.choice.fan_result import Candidate, FanChoice, excluded_tables
from flownet.studies.choice.fan_solved import NO_NUMBERS, Solved
from flownet.studies.choice.option import Excluded, Option
from flownet.studies.choice.result import Counts, OptionChoice
from flownet.studies.designs import Axis


def an(**said):
    words = {"changes": {}, "idle": frozenset(), "holds": True, "limit": "part",
             "subject": "part.p", "scenario": "hot", "worst_margin": 4.2,
             "margin_quantity": q.DIFFERENCE, "temperature_margin": 4.2, "noise": 46.13,
             "power": 12.0, "price": 31.0} | said  # fmt: skip
    return Option(**words)


@pytest.mark.parametrize(("option", "name", "told"), [
    (an(), "temperature", "+4.2 K"), (an(), "noise", "46.1 dBA"), (an(), "price", "31.00"),
    (an(noise=-math.inf), "noise", "silent"), (an(noise=math.nan), "noise", "-"),
    (an(price=math.nan), "price", "-"), (an(temperature_margin=-math.inf), "temperature", "-"),
])  # fmt: skip
def test_a_measure_by_its_word(option, name, told):
    assert option.measure(name) == told
    named = f"price {told}" if name == "price" and told != "-" else told
    assert option.named_measure(name) == named


@pytest.mark.parametrize(("option", "off", "decides"), [
    (an(worst_margin=-1.5), "is -1.5 K at part.p in hot", "part.p in hot"),
    (an(worst_margin=math.nan), "has no solution in hot", "part.p in hot"),
    (an(worst_margin=math.nan, scenario=""), "is unsound", "part.p"),
    (an(limit="stall", subject="fan.a", worst_margin=-2.0),
     "is void in hot (fan.a in stall, -2.0 K on paper)", "void: fan.a stall in hot"),
    (an(limit="stall", subject="fan.a"), "is void in hot (fan.a in stall)",
     "void: fan.a stall in hot"),
    (an(limit="stall", subject="fan.a", worst_margin=math.nan), "is void in hot (fan.a in stall)",
     "void: fan.a stall in hot"),
    (an(worst_margin=-1.5, alike=2), "is -1.5 K at part.p in hot", "part.p in hot; 1 more alike"),
])  # fmt: skip
def test_by_how_much_an_option_does_not_hold(option, off, decides):
    assert (option.off(), option.decides) == (off, decides)


def axis(path, quantity=None):
    kind, name, key = path.split(".")
    return Axis(path, ("a", "b"), places=(Place(kind, name, key),), quantity=quantity)


STATE, TYPE = axis("fan.a.state"), axis("fan.a.type")
AREA, PRESENT = axis("vent.v.area", q.AREA), axis("baffle.b.present")


@pytest.mark.parametrize(("axes", "values", "idle", "told"), [
    ([STATE, TYPE], ["running", "big"], [], "big"), ([STATE], ["running"], [], "running"),
    ([STATE, TYPE], ["blanked", "big"], ["fan.a.type"], "blanked"),
    ([STATE, TYPE], ["running", "big"], ["fan.a.type"], "-"), ([AREA], [0.009], [], "90 cm2"),
    ([AREA], ["* 2"], [], "* 2"), ([PRESENT], [True], [], "yes"), ([PRESENT], [False], [], "no"),
    ([TYPE], ["running"], [], "running"), ([TYPE, TYPE], ["open", "open"], [], "open, open"),
])  # fmt: skip
def test_what_an_option_has_at_a_thing(axes, values, idle, told):
    changes = dict(zip((one.path for one in axes), values, strict=True))
    assert an(changes=changes, idle=frozenset(idle)).text(axes) == told


@pytest.mark.parametrize(("some", "best_by", "front", "heads"), [
    ([an()], ("noise", "price"), True, ["Trade-off", "margin", "noise", "power", "price", ""]),
    ([an(power=math.nan)], ("price",), False, ["Best", "margin", "noise", "price", ""]),
    ([an(holds=False)], ("temperature",), False,
     ["Closest", "margin", "noise", "power", "temperature", "price", ""]),
    ([an(holds=False, limit="stall", price=math.nan), an(price=math.nan)], ("price",), False,
     ["Void", "margin", "noise", "power", "price", ""]),
])  # fmt: skip
def test_columns_of_the_best_are_what_ranks_and_what_is_known(some, best_by, front, heads):
    table = options.best(some, best_by, front, "all")
    assert [column.name for column in table.columns] == heads
    assert table.columns[1].styles == ["" if each.holds else "bad" for each in some]
    assert table.columns[0].values == [str(i + 1) for i in range(len(some))]
    told = {column.name: column.values for column in table.columns}
    for name in set(heads) & {"noise", "price", "temperature"}:
        assert [words() for words in told[name]] == [each.measure(name) for each in some]
    assert told.get("power", []) == [each.power for each in some] * ("power" in heads)


def test_what_excluded_the_others_with_three_reasons_of_two_lines_at_most():
    reasons = ["a\nb\nc", "d", "e\nf", "g"]
    some = [Excluded("part", "part.p", "hot", 1234), Excluded("stall", "fan.a", "", 2),
            Excluded("life", "fan.a", "hot", 1), Excluded("", "", "hot", 1)]  # fmt: skip
    (table,) = options.broken(some, reasons)
    assert [note.words for note in table.notes] == ["a", "b", "d", "e", "f"]
    assert [words("metric") for words in table.columns[0].values] == [
        "part.p", "fan.a in stall", "life of fan.a", "no solution"]  # fmt: skip
    assert table.columns[1].values == ["1 234", "2", "1", "1"]
    assert table.columns[2].values == ["hot", "in itself", "hot", "hot"]
    assert list(options.broken([], reasons)) == []


def test_data_of_options_have_the_unit_of_their_margin():
    some = [an(), an(limit="", subject="", scenario=""), an(limit="life", margin_quantity=q.HOURS)]
    made = {column.name: column.values for column in options.data(some)}
    assert made["margin_unit"] == ["K", None, "h"]
    assert (made["limit"], made["scenario"]) == (["part", None, "life"], ["hot", None, "hot"])
    assert [*made][-4:] == ["temperature_margin", "noise", "power", "price"]


def choice(**said):
    words = {"case": None, "name": "c", "best_by": ("noise", "price"), "axes": (STATE, TYPE, AREA),
             "scenarios": ("hot",), "ranked": (), "front": (), "measured": (), "cloud": (),
             "failing": (), "lacking": (), "excluded": (), "reasons": (),
             "counts": Counts(12, 9, 4, 20, 3, 0), "way": "all", "how": "all"} | said  # fmt: skip
    return OptionChoice(**words)


def of(state, type_, area, **said):
    return an(changes={"fan.a.state": state, "fan.a.type": type_, "vent.v.area": area}, **said)


def test_what_options_differ_in_thing_by_thing():
    made = choice()
    some = [of("running", "big", 0.009), of("running", "small", 0.009)]
    assert made.columns(some) == [("fan.a", ["big", "small"])]
    assert made.common(some) == ["vent.v.area 90 cm2"]
    assert made.columns(some[:1]) == [("fan.a", ["big"]), ("vent.v.area", ["90 cm2"])]
    assert made.common(some[:1]) == []
    alone = choice(axes=(STATE, AREA._replace(values=("a",))))
    assert [head for head, _ in alone._things()] == ["fan.a"]
    assert alone.varying == (STATE,)
    free = AREA._replace(values=(), low=1.0, high=2.0)
    assert choice(axes=(free,)).varying == (free,)


def test_rows_say_what_is_on_the_trade_off_where_there_is_one():
    some = [of("running", "big", 0.009, idle=frozenset({"vent.v.area", "fan.a.type"})),
            of("running", "small", 0.009)]  # fmt: skip
    for front, on in ((some[1:], [False, True]), ((), [None, None])):
        made = choice(ranked=tuple(some), front=tuple(front))
        object.__setattr__(made, "_written", lambda option: dict(option.changes))
        rows = {column.name: column.values for column in list(made._data())[-1].columns}
        assert rows["on_front"] == on
        assert list(rows["place"]) == [1, 2]
        assert rows["fan.a.type"] == ["big", "small"]
        assert rows["without_effect"] == ["fan.a.type; vent.v.area", None]


@pytest.mark.parametrize(("said", "told"), [
    ({}, "4 of 9 designs hold everywhere; quietest: 46.1 dBA, price 31.00, +4.2 K at part.p"),
    ({"counts": Counts(12, 9, 9, 1, 1, 0), "best_by": ("temperature",)},
     "all 9 designs hold everywhere; largest temperature margin: +4.2 K"),
    ({"counts": Counts(12, 9, 1, 1, 1, 0), "way": "search", "best_by": ("power",)},
     "1 of 9 designs holds everywhere; least fan power found: 12 W, +4.2 K at part.p"),
])  # fmt: skip
def test_the_first_is_told_with_what_ranks_it(said, told):
    made = choice(**said)
    assert made._first(an(), "metric").replace("12.0 W", "12 W") == told


def test_a_trade_off_is_told_by_its_ends():
    some = (an(), an(noise=50.0), an(noise=55.0, price=9.0))
    assert choice(front=some)._trade("metric") == (
        "3 are on the trade-off between noise and price, 46.1 dBA with price 31.00 to 55.0 dBA "
        "with price 9.00")  # fmt: skip
    assert choice(front=some[:1])._trade("metric") == (
        "it is best in price too: there is no trade-off")  # fmt: skip


def test_the_best_is_the_first_of_the_front_and_the_closest_where_none_holds():
    one, two, off = (an(changes={"x": i}, holds=i < 2) for i in range(3))
    made = choice(ranked=(one, two), front=(two,))
    assert (made.best, made.closest, made.exhaustive) == ({"x": 1}, None, True)
    bad = choice(ranked=(off,), way="grid")
    assert (bad.best, bad.closest, bad.exhaustive) == (None, off, False)
    assert choice().best is None
    for place in (2, -3):
        with pytest.raises(CaseError, match="option: 2 are ranked"):
            made.solution(place)


@pytest.mark.parametrize(("first", "told"), [
    (of("running", "big", 0.009, holds=False, worst_margin=-1.0),
     "none of 9 designs holds everywhere; the closest is -1.0 K at part.p in hot: fan.a big, "
     "vent.v.area 90 cm2"),
    (of("running", "big", 0.009, holds=False, limit="stall", subject="fan.a"),
     "none of 9 designs holds everywhere; nothing is close: the first is void in hot (fan.a in "
     "stall): fan.a big, vent.v.area 90 cm2"),
])  # fmt: skip
def test_where_none_holds_the_closest_is_told_and_a_void_one_is_not_close(first, told):
    assert list(choice(ranked=(first,))._holding("metric")) == [told]
    assert list(choice()._holding("metric")) == ["no design has a solution"]


# --- fans ----------------------------------------------------------------------------------------


def candidate(name, *reasons, rank=0, off=None, solved=True, **numbers):
    return Candidate(name, rank, reasons, (), NO_NUMBERS._replace(**numbers), solved, False, off)


def over(kind, subject, scenario, size):
    return Reason(kind, subject, scenario, "{subject} {over} over",
                  {"over": (q.DIFFERENCE, size)})  # fmt: skip


@pytest.mark.parametrize(("most", "told"), [
    (3, "part.c 9.0 K over in hot, part.a 4.0 K over, part.b 3.0 K over in base, 1 more over; "
        "loud"),
    (None, "part.c 9.0 K over in hot, part.a 4.0 K over, part.b 3.0 K over, part.d 1.0 K over in "
           "base; loud"),
    (1, "part.c 9.0 K over in hot, 3 more over; loud"),
])  # fmt: skip
def test_reasons_of_a_type_the_hottest_first_and_each_scenario_once(most, told):
    some = (over("part", "part.a", "base", 4.0), over("part", "part.b", "base", 3.0),
            over("air", "part.c", "hot", 9.0), over("part", "part.d", "base", 1.0),
            Reason("noise", "fan.a", "", "loud"))  # fmt: skip
    one = candidate("t", *some)
    assert one.excluded_by(most, "metric") == told
    assert one.told("metric") == "part.a 4.0 K over in base (and 4 more reasons)"
    assert candidate("t", *some[:2]).told("metric").endswith("in base (and 1 more reason)")
    assert candidate("t", *some[-1:]).told("metric") == "loud"


def test_of_excluded_types_twelve_are_shown_with_three_limits_of_each():
    some = [candidate(f"t{i}", *[over("part", f"part.{n}", "base", 5.0 - k) for k, n in
                                 enumerate("abcd")]) for i in range(20)]  # fmt: skip
    short, every = excluded_tables(some, alike=False)
    assert (short.use, every.use, len(every.notes)) == ("short", "all", 20)
    assert len(short.notes) == 13
    assert short.notes[-1].words == "... 8 more (--all)"
    assert "1 more over" in short.notes[0].words("metric")
    assert "more over" not in every.notes[0].words("metric")
    (alike, _) = excluded_tables(some[:2], alike=True)
    assert alike.notes[0].words == "t0, t1"
    assert list(excluded_tables([], alike=False)) == []


def places(candidates=(), excluded=(), fans=("fan.a",), solved=None, in_place=()):
    return FanChoice(None, fans, in_place, ("hot",), "noise", tuple(candidates), tuple(excluded),
                     solved)  # fmt: skip


def test_types_are_counted_by_their_first_reason_in_the_order_of_kinds():
    noise, life, supply = (Reason(kind, "fan.a", "", kind) for kind in ("noise", "life", "supply"))
    made = places([candidate("good", rank=1)], [candidate("x", noise, life), candidate("y", supply),
                                                candidate("z", noise)])  # fmt: skip
    assert list(made.counts.items()) == [("supply", 1), ("noise", 2)]
    assert made._counted() == "; 3 of 4 excluded: 1 supply, 2 noise"
    assert places([candidate("good", rank=1)])._counted() == ""
    assert not made.alike
    assert places((), [candidate("x", noise), candidate("y", noise)]).alike
    for bad in ([candidate("x", noise)], [candidate("x", noise), candidate("y", life)],
                [candidate("x", noise, life)] * 2):  # fmt: skip
        assert not places((), bad).alike
    assert not places([candidate("good", rank=1)], [candidate("x", noise)] * 2).alike
    assert [
        places(fans=("f",) * n)._legend().count(words)
        for n, words in ((1, "of the fan, "), (2, "of both fans, "), (3, "of all 3 fans, "))
    ] == [1, 1, 1]


@pytest.mark.parametrize(("best", "by", "unjudged", "told"), [
    ({"margin": 3.0, "noise": 40.0, "price": 9.0}, "price", False,
     "t holds in hot with 3.0 K margin at 40.0 dBA, price 9.00"),
    ({"margin": 3.0}, "noise", True,
     "t breaks no limit that has a value in hot with 3.0 K margin, noise not stated"),
    ({"noise": 40.0, "life": 5e4, "life_kind": "L10"}, "life", False,
     "t holds in hot at 40.0 dBA, L10 life 50 000 h"),
    ({}, "power", False, "t holds in hot, noise not stated, power not stated"),
])  # fmt: skip
def test_the_best_type_in_words(best, by, unjudged, told):
    one = Candidate("t", 1, (), (), NO_NUMBERS._replace(**best), True, unjudged)
    solved = SimpleNamespace(pairs=SimpleNamespace(limits=[1]))
    made = FanChoice(None, ("fan.a",), (), ("hot",), by, (one,), (), solved)
    assert made._first("in hot", "metric") == told
    bare = FanChoice(None, ("fan.a",), (), ("hot",), by, (one,), (), None)
    assert bare._first("in hot", "metric").startswith("t runs, without a limit to hold, in hot")


def test_why_there_is_no_solution_is_cut_at_120_letters():
    """Each reason once, in the scenario where it comes first, by its first line."""
    status = ["a" * 120, "", "b" * 121 + "\nmore", "a" * 120]
    solved = SimpleNamespace(
        scenarios=("s", "t", "u", "v"), index=np.array([[3], [1], [2], [0]]),
        pairs=SimpleNamespace(status=status), places=SimpleNamespace(paths=("fan.a",)))  # fmt: skip
    found = list(Solved._unsolved(solved, 0))
    assert [(each.scenario, each.values["why"][1]) for each in found] == [
        ("s", "a" * 120), ("u", "b" * 117 + "...")]  # fmt: skip


def test_reasons_for_several_places_are_told_once():
    def one(subject, value, scenario=""):
        return Reason("frame", subject, scenario, "x {value}", {"value": (q.LENGTH, value)})

    some = [one("fan.a", 0.1), one("fan.b", 0.1, "hot"), one("fan.c", 0.2)]
    assert told_once(some) == [some[0], some[2]]


def test_what_any_left_out_is_counted_by_place():
    def out(path, type_, *kinds):
        return Unfit(path, type_, tuple(Reason(kind, "fan.a", "", kind) for kind in kinds))

    some = [out("fan.a.type", "x", "supply", "shaft"), out("fan.a.type", "y", "shaft"),
            out("fan.b.type", "x", "supply"), out("fan.b.type", "y", "shaft"),
            out("fan.c.type", "x", "supply")]  # fmt: skip
    assert counted(some) == "3 supply, 2 shaft"
    assert sentence(some) == (
        "2 types are not tried at fan.a and fan.b (1 supply, 1 shaft); 1 type is not tried at "
        "fan.c (1 supply)")  # fmt: skip
    assert kept("x", ["x", "y", "z"], some[:2]) == ("z",)
    with pytest.raises(CaseError, match=r'x: "any" of 2 types, and none .*\(1 supply, 1 shaft\)'):
        kept("x", ["x", "y"], some[:2])
