"""The parts of a course in time, each on numbers worked by hand."""

from __future__ import annotations

import math
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from flownet.equations.state import State
from flownet.results.limits import Limit
from flownet.schema import quantities as q
from flownet.schema.errors import NoSolution
from flownet.solver.in_time import Leg, LostError
from flownet.studies import spell as spells
from flownet.studies.spell import Spell
from flownet.studies.transient_result import Crossing, VoidSpell


def bare(**known):
    """A stretch of which only so much is known."""
    made = Spell.__new__(Spell)
    made.__dict__.update(known)
    return made


def limit(margin, bound=300.0, kind="part", subject="part.p"):
    margin = np.asarray(margin, float)
    bound = np.broadcast_to(np.asarray(bound, float), margin.shape)
    return Limit(kind, subject, bound - margin, bound, margin, q.TEMPERATURE, q.DIFFERENCE)


@pytest.mark.parametrize(("steps", "end", "wanted"), [
    ((0, 3, 3.1199, 3.13, 3.2, 3.45, 3.55), 3.55, [0, 1, 2, 3, 3.13, 3.45, 3.55]),
    ((0, 0.5, 0.75, 1.0), 1.05, [0, 0.5, 0.75, 1.05]), ((0, 0.5, 0.75, 0.985), 1.05,
                                                        [0, 0.5, 0.75, 0.985, 1.05]),
    ((0, 0.5, 0.75, 1.0), 0.9, [0, 0.5, 0.75, 0.9]), ((2, 2.05), 2.05, [2, 2.05]),
])  # fmt: skip
def test_times_of_a_stretch(steps, end, wanted):
    """Of 120 s: a step is divided so that no piece is longer than 1 s; of two nearer than 0.12 s
    the first stays, and the end is one of them, with nothing within 0.06 s before it."""
    legs = [Leg(a, b, None, None) for a, b in pairwise(steps)]
    found = bare(stage=SimpleNamespace(begin=steps[0]), until=120.0, legs=legs, end=end).times
    assert found == pytest.approx(wanted)


def test_a_stretch_ends_with_its_last_step_and_goes_on_from_there():
    """What fans feel goes on too; without any step it is the end that was planned."""
    for legs, felt, wanted in (([Leg(0, 4, 0, 0), Leg(4, 7, 0, 0)], [1.0], (7, [1.0])),
                               ([], [], (9, "before"))):  # fmt: skip
        stretch = SimpleNamespace(
            begun=lambda *given: given, last="flows", follow=None,
            run=lambda begin, end, y, enough, legs=legs: (legs, np.array([begin, end])),
            split=lambda y, felt=felt: (y[:, 0].tolist(), felt))  # fmt: skip
        made = bare(stretch=stretch, stage=SimpleNamespace(begin=2, end=9), to_first=False)
        now = made.run(spells.Now("warm", "before", "at rest"))
        assert (made.end, now.felt) == wanted
        assert (now.warmth, now.state, made.switches) == ([2, 9], "flows", [])


def test_only_a_course_to_its_first_limit_ends_at_one():
    """Looked for after the first step, then ever more rarely: not after the second."""
    legs = [Leg(0, 1, None, None), Leg(1, 3, None, None)]
    for to_first, count, margin, wanted in (
        (True, 1, -1.0, True), (False, 1, -1.0, False), (True, 2, -1.0, False),
        (True, 1, 1.0, False),
    ):  # fmt: skip
        asked = []
        made = bare(to_first=to_first, decided=False, at=lambda t, m=margin, a=asked: a.append(
            t.tolist()) or SimpleNamespace(limits=[limit([m])], __len__=None))  # fmt: skip
        spells_momentary, spells.momentary = spells.momentary, lambda batch: batch.limits
        try:
            assert made._enough(legs[:count]) == wanted
        finally:
            spells.momentary = spells_momentary
        assert asked == [[1]] * (to_first and count == 1)


def within(monkeypatch, margin, times, bound=(100.0, 200.0, 300.0)):
    """A stretch whose one limit has a margin by a function of time."""
    monkeypatch.setattr(spells, "momentary", lambda batch: batch)

    def at(now):
        return [limit(np.broadcast_to(margin(now), now.shape))]

    times = np.array(times, float)
    return bare(times=times, batch=[limit(margin(times), bound)], at=at)


@pytest.mark.parametrize(("margin", "row", "time", "rising"), [
    (lambda t: np.exp(-t) - 0.5, 1, math.log(2), True),
    (lambda t: 0.5 - np.exp(-t), 1, math.log(2), False),
    # the first of three
    (lambda t: (1 - t) * (t - 5) * (t - 7.5), 1, 1.0, True),
    # it begins or ends at 4: between 3.984375 and 4.00390625, pieces of 10/8^3
    (lambda t: np.where(t <= 4, np.inf, -2.0), 1, 3.994140625, True),
    (lambda t: np.where(t <= 4, -2.0, np.inf), 1, 3.994140625, False),
    # held by rounding alone: in the middle of the first piece, or where it would be zero beyond
    (lambda t: np.where(t < 9.9, -1e-12, -5.0), 1, 5 / 512, True),
    (lambda t: np.where(t < 9.9, 1e-12 * t - 1e-10, -5.0), 1, 10 / 512, True),
    (lambda t: 4.5 - t, 0, 4.5, True),
])  # fmt: skip
def test_a_limit_is_passed_where_its_margin_is_zero(margin, row, time, rising, monkeypatch):
    made = within(monkeypatch, margin, [0, 10, 20] if row == 0 else [-10, 0, 10])
    found = made._between(0, row)
    assert found == Crossing("part.p", "part", (100.0, 200.0)[row], pytest.approx(time, abs=2e-4),
                             rising)  # fmt: skip
    if time in (5 / 512, 3.994140625, 10 / 512):
        assert found.time == pytest.approx(time, abs=1e-12)


def test_limits_are_passed_between_times_at_which_both_margins_are_known(monkeypatch):
    """Without end is a margin too; not known is none."""
    monkeypatch.setattr(spells, "momentary", lambda batch: batch)
    one = limit([1, -1, np.nan, -1, -2, 3, np.inf, -1, np.nan, 1, np.nan], subject="a")
    other = limit([2, 2, 2, 2, 2, -2, -2, -2, -2, -2, -2], subject="b")
    made = bare(batch=[one, other])
    assert list(made._brackets()) == [(0, 0), (0, 4), (0, 6), (1, 4)]
    made._between = lambda place, row: None if row == 4 else (place, row)
    assert made.crossings == [(0, 0), (0, 6)]


def test_what_happens_at_once_may_pass_a_limit():
    """Of stretches with 2, 3 and 2 times: the last of one beside the first of the next."""
    some = [SimpleNamespace(times=range(n), stage=SimpleNamespace(begin=b))
            for n, b in ((2, 0.0), (3, 7.0), (2, 9.0))]  # fmt: skip
    limits = [
        limit([-1, 2, -1, 5, -2, 3, 3], np.arange(7.0), subject="a"),
        limit([1, np.nan, -1, -1, -1, np.nan, 4], subject="b"),
        limit([1, 2, 2, -2, -2, -3, 4], subject="c"),
    ]
    assert list(spells._jumps(some, limits)) == [
        Crossing("a", "part", 2.0, 7.0, True), Crossing("a", "part", 5.0, 9.0, False)]  # fmt: skip
    assert [here for here, _ in spells._spans(some)] == [slice(0, 2), slice(2, 5), slice(5, 7)]


def test_flows_of_some_times_are_those_of_their_step_or_of_the_next():
    """From the step that a time is in; where flows end within it, from the one after; of the last
    there is none after. Unknowns are those of the step's own curve."""

    def state(number):
        return State(*(np.full((rows, 1), float(number)) for rows in (2, 1, 3)))

    legs = [Leg(0, 1, lambda t: np.array([t, 10 + t]), state(1)),
            Leg(1, 3, lambda t: np.array([t, 20 + t]), state(2)),
            Leg(3, 4, lambda t: np.array([t, 30 + t]), state(3))]  # fmt: skip
    times, asked = np.array([0.5, 1.0, 2.0, 3.5, 4.1]), []
    for lost in (0, 1, 2):
        asked.clear()

        def moments(times, y, guess, lost=lost):
            asked.append((y, guess))
            if len(asked) <= lost:
                raise LostError(3.5)
            return "found"

        made = bare(legs=legs, stretch=SimpleNamespace(moments=moments))
        if lost == 2:
            with pytest.raises(NoSolution, match=r"no flows found at 3\.5 s"):
                made._moment(times)
        else:
            assert made._moment(times) == "found"
        for (y, guess), wanted in zip(asked, ([1, 1, 2, 3, 3], [2, 2, 3, 3, 3]), strict=False):
            assert y.tolist() == [[0.5, 1.0, 2.0, 3.5, 4.1], [10.5, 11.0, 22.0, 33.5, 34.1]]
            assert [part.shape for part in guess] == [(2, 5), (1, 5), (3, 5)]
            assert all((part == wanted).all() for part in guess)


def test_what_makes_numbers_void_from_when_to_when(monkeypatch):
    """A fan in stall while one that ran is out stands apart; nothing else does."""
    first, later = SimpleNamespace(name=0), SimpleNamespace(name=1)
    found = {0: [("stall", "fan.a", np.array([1, 1, 0, 1], bool)),
                 ("backflow", "fan.b", np.array([0, 1, 1, 0], bool))],
             1: [("stall", "fan.a", np.array([1, 1], bool)),
                 ("backflow", "fan.b", np.array([1, 0], bool))]}  # fmt: skip
    asked = []
    monkeypatch.setattr(spells, "voids", lambda batch: found[batch.name])
    monkeypatch.setattr(spells, "fan_out", lambda batch, out: asked.append(set(out)) or np.array(
        [0, 1, 1, 0] if batch is first else [0, 1], bool))  # fmt: skip

    def fans(**running):
        return {name: SimpleNamespace(running=runs) for name, runs in running.items()}

    case = SimpleNamespace(
        applied=SimpleNamespace(failed={"x"}), fans=fans(a=True, b=True, c=False)
    )
    some = [SimpleNamespace(batch=batch, times=np.array(times), stage=SimpleNamespace(
        case=SimpleNamespace(fans=fans(a=True, b=runs, c=False))))
        for batch, times, runs in ((first, [0.0, 1, 2, 3], True), (later, [3.0, 4], False))
    ]  # fmt: skip
    assert set(spells._void(case, some)) == {
        VoidSpell("stall", "fan.a", 0.0, 3.0, False), VoidSpell("stall", "fan.a", 1.0, 4.0, True),
        VoidSpell("backflow", "fan.b", 1.0, 3.0, False)}  # fmt: skip
    assert asked == [{"x"}, {"x", "b"}]


def test_air_turns_round_where_it_did_blow_and_does_blow():
    """Both by more than a thousandth of the largest flow anywhere, 1 kg/s here."""
    flows = {"a": [0.5, 0.2, -0.002, -0.3], "b": [0.0005, -0.5, -0.5, -0.5],
             "c": [0.5, 0.5, 0.5, -0.0005], "d": [0.0011, -0.0011, -0.0, 0.0],
             "e": [-0.5, -0.1, 0.0, 0.5], "f": [1.0, 0.5, -0.0009, -0.0005]}  # fmt: skip
    rows = SimpleNamespace(names=list(flows), columns={"mass_flow": np.array([*flows.values()])})
    made = SimpleNamespace(stretch=SimpleNamespace(turns=[SimpleNamespace(time=9.0)]),
                           batch=SimpleNamespace(branches=type("Rows", (), {
                               **vars(rows), "__len__": lambda _: 6})()),
                           times=np.array([0.0, 1, 2, 3]))  # fmt: skip
    (time, _), *turns = spells._turns(made, spells._largest(made))
    assert time == 9.0
    assert turns == [(1.0, "the air in a turns round"), (0.0, "the air in d turns round")]


def test_highest_is_of_parts_air_and_all_that_has_a_limit():
    times = np.array([0.0, 1.0, 2.0])
    courses = {"part.p.temperature": np.array([1.0, 5.0, 2.0]), "total.heat": times,
               "part.q.temperature": np.full(3, np.nan)}  # fmt: skip
    noise = limit([-1, -2, np.nan], 10.0, "noise", "total.noise")
    assert spells._highest(times, courses, [noise]) == {
        "part.p": (5.0, 1.0), "total.noise": (12.0, 1.0)}  # fmt: skip
