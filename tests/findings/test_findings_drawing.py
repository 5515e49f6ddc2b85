"""What is said of outlines and positions, and how overlaps are found, against all pairs."""

from __future__ import annotations

import random

import pytest

import flownet
from flownet.enclosure import slips
from flownet.enclosure.branches import Opening, Vent
from flownet.enclosure.heat import Part
from flownet.enclosure.slips import overlaps
from flownet.enclosure.surroundings import Compartment
from tests.each import each, named
from tests.findings.build import about, solved, things

TOUCH = 1e-3


def every_pair(rectangles):
    """The definition: intervals that share more than the tolerance along both axes."""
    found = {}
    for i, (x, y, w, h) in enumerate(rectangles):
        for j, (u, v, b, t) in enumerate(rectangles[:i]):
            width, height = min(x + w, u + b) - max(x, u), min(y + h, v + t) - max(y, v)
            if width > TOUCH and height > TOUCH:
                found[j, i] = (width, height)
    return found


@each(named(range(40)))
def test_the_sweep_finds_what_comparing_all_pairs_finds(seed):
    draw = random.Random(seed)
    side = draw.choice([1.5, 4.0, 20.0])
    made = [
        (draw.uniform(0, side), draw.uniform(0, side), draw.uniform(0, 1.2), draw.uniform(0, 1.2))
        for _ in range(60)
    ]
    made += [(float(i), float(j), 1.0, 1.0) for i in range(3) for j in range(3)]
    found = {(o.first, o.second): (o.width, o.height) for o in overlaps(made, TOUCH, 10**6)}
    assert found == every_pair(made)


@each(named([316, 1, 100_000]))
def test_many_that_touch_do_not_overlap_and_of_many_that_do_a_hundred_are_told(across):
    made = [(i % across * 1.0, i // across * 1.0, 1.0, 1.0) for i in range(20_000)]
    assert overlaps(made, TOUCH) == []
    assert len(overlaps([(0.0, 0.0, 1.0, 1.0)] * 20_000, TOUCH)) == 100


def test_a_hundred_are_told_where_they_are_found_in_several_goes(monkeypatch):
    monkeypatch.setattr(slips, "CANDIDATES", 30)  # less than the pairs of each
    assert len(overlaps([(0.0, 0.0, 1.0, 1.0)] * 60, TOUCH)) == 100


def test_at_most_three_pairs_are_named_the_largest_first():
    extra = {f"c{i}": Compartment(name=f"c{i}", outline=f"0 1000 {100 * i} 100 mm")
             for i in range(1, 4)}  # fmt: skip
    (said,) = about(solved(things(**extra)), "outlines-overlap")
    words = said.message()
    assert words.startswith("outlines overlap: compartment.upper and c3 by 300 mm x 100 mm")
    assert words.endswith(" and 3 more")  # three with the upper one, three among themselves
    assert words.count(" by ") == 3


@each(named([("1e-9 m2", "0.001 mm2"), ("0.1 mm2", "0.1 mm2")]))
def test_an_area_that_lets_no_air_through_is_named_as_the_cause(area, text):
    """At 10 Pa, 1e-7 m2 x sqrt(2 x 10 / 1.2) m/s = 4e-7 m3/s: at 500 K it carries 0.25 W."""
    made = flownet.Enclosure.of(
        Compartment(name="box"),
        Vent(name="low", from_="outside", to="box", area=area, loss=2.5),
        Opening(name="high", from_="box", to="outside", area="50 cm2"),
        Part(name="board", in_="box", power="10 W"),
    )
    with pytest.raises((flownet.NoSolution, flownet.CaseError)) as caught:
        flownet.solve(made)
    assert str(caught.value).endswith(f"; vent.low.area is {text}: was another unit meant?")


def test_from_a_hundred_overlaps_on_they_are_not_counted():
    """15 places on each other are 105 pairs; 14 are 91."""
    for count, words in ((15, "at least 97 more"), (14, " and 88 more")):
        made = {f"c{i}": Compartment(name=f"c{i}", outline="0 0 100 100 mm") for i in range(count)}
        lone = {n: Compartment(name=n) for n in ("lower", "upper")}
        (said,) = about(solved(things(**lone, **made)), "outlines-overlap")
        assert said.message().endswith(words)
