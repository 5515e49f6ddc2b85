"""The ranking: what it does to inputs, its order, its words and its JSON. That the derivatives are
right is shown in tests/network/test_sensitivity.py."""

from __future__ import annotations

import math
from itertools import pairwise
from types import SimpleNamespace

import pytest

import flownet
from flownet.enclosure.enclosure import Compartment, Enclosure, Outside, Part, Wall
from flownet.pages.table import ROWS
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.studies import rank as module
from flownet.studies.rank import rank
from tests.studies.fan_boxes import box, kind, out
from tests.test_cases import load

OF = "part.controller.temperature"


@pytest.fixture(scope="module")
def ranking():
    return rank(load("drive-cabinet"), OF, scenario="hot")


def effect(found, path):
    return next(e for e in found.effects if e.path == path)


def test_the_largest_effect_comes_first(ranking):
    sizes = [abs(e.change) for e in ranking.effects]
    assert all(first >= 0.999999 * then for first, then in pairwise(sizes))  # but for ties
    assert min(sizes) > 1e-12 * max(sizes)
    assert len({e.path for e in ranking.effects}) == len(sizes)


def test_an_effect_is_what_solving_again_gives(ranking):
    """A small step solved anew; to 1 % for a step of 1 % (curvature)."""
    case = load("drive-cabinet")
    small = rank(case, OF, scenario="hot", step=0.01)
    for path in ("filter.intake.fouling", "vent.side.area"):
        one = effect(small, path)
        again = flownet.solve(case, scenario="hot", changes={path: one.value + one.step})
        assert again[OF] - small.value == pytest.approx(one.change, rel=0.01)
        assert one.step == pytest.approx(0.01 * one.value)
        assert effect(ranking, path).change == pytest.approx(10 * one.change)


def test_zero_points_of_convention_are_moved_by_a_fixed_step(ranking):
    """Ten percent of 308 K, of a height above sea level or of a place in the view says nothing."""
    assert effect(ranking, "outside.temperature").step == 1.0
    assert effect(ranking, "outside.altitude").step == 100.0
    assert effect(ranking, "filter.intake.at.1").step == pytest.approx(0.01)
    assert math.isnan(effect(ranking, "outside.temperature").elasticity)
    assert effect(ranking, "compartment.upper.outline.3").step == pytest.approx(0.1)  # a height
    noise = rank(load("drive-cabinet"), "total.noise")
    level = next(e for e in noise.effects if e.path.endswith(".noise_dBA"))
    assert level.step == 1.0
    assert level.change == pytest.approx(1.0)  # all fans that run are of that type


def test_where_the_sun_stands_and_a_wall_looks_is_moved_by_a_fixed_step():
    """Nor does ten percent of 14:30 or of a compass bearing; north is 0. Against a second solve."""
    case = Enclosure.of(
        Outside(temperature="30 degC", latitude="-44 deg", day=190, hour=14.5),
        Compartment(name="box"), Part(name="radio", in_="box", power="65 W"),
        Wall(name="door", from_="box", to="outside", area="1 m2", thickness="2 mm",
             material="steel", azimuth=0, sun={"absorptance": 0.4}),
    )  # fmt: skip
    of = "compartment.box.temperature"
    found = rank(case, of)
    moved = {"outside.hour": 1.0, "outside.latitude": 10.0, "wall.door.azimuth": 10.0}
    for path, step in moved.items():
        one = effect(found, path)
        assert one.step == step
        ends = [flownet.solve(case, changes={path: one.value + d * step})[of]
                for d in (1e-3, -1e-3)]  # fmt: skip
        assert one.change == pytest.approx((ends[0] - ends[1]) / 2e-3, rel=1e-3)
    assert "angles by 10 deg, the hour by 1" in found.steps


def test_a_number_at_the_end_of_its_range_is_moved_down():
    """A part at the outlet of its slot cannot sit further on."""
    case = load("telecom-shelf")
    found = rank(case.with_changes({"part.processor.position": 0.97}), "part.processor.temperature")
    place = effect(found, "part.processor.position")
    assert place.step == pytest.approx(-0.097)
    assert found.texts(place).step == "-10 %"
    assert place.change == pytest.approx(place.step * place.derivative)


def test_elasticity_of_a_temperature_is_that_of_its_rise(ranking):
    """Of its own heat over a fixed resistance and its share in the air: below 1."""
    own = effect(ranking, "part.controller.power").elasticity
    assert 0 < own < 1
    one = effect(ranking, "part.controller.power")
    rise = ranking.value - ranking.solution.site["temperature"]
    assert own == pytest.approx(one.derivative * one.value / rise)


def test_all_heat_together_has_an_elasticity_of_one():
    """A closed box: its rise is proportional to its heat, and to its resistance the other way."""
    case = flownet.Enclosure.of(
        flownet.Outside(temperature=298.15), flownet.Compartment(name="box"),
        flownet.Part(name="p", in_="box", power=110.0),
        flownet.Wall(name="w", from_="box", to="outside", area=2.0, u_value=5.5),
    )  # fmt: skip
    found = rank(case, "compartment.box.temperature")
    assert effect(found, "part.p.power").elasticity == pytest.approx(1.0)
    assert effect(found, "wall.w.area").elasticity == pytest.approx(-1.0)
    assert effect(found, "part.p.power").change == pytest.approx(1.0)  # 10 % of a rise of 10 K


def test_a_count_is_moved_by_one():
    found = rank(load("telecom-shelf"), "site.density")
    assert {e.path for e in found.effects} == {"outside.temperature", "outside.altitude"}
    found = rank(load("telecom-shelf"), "total.volume_flow")
    one = effect(found, "slot.card-1.count")
    assert (one.step, found.texts(one).step) == (1.0, "+1")
    assert "temperatures by 1.8 degF" in found.steps_in("us")
    assert "temperatures by 1.0 K" in found.steps


def test_it_is_said_in_words(ranking):
    warm = effect(ranking, "outside.temperature")
    assert ranking.words(warm) == "+1.0 K on outside.temperature: +1.0 K"
    assert ranking.words(warm, "us") == "+1.8 degF on outside.temperature: +1.8 degF"
    for path, step in (("outside.altitude", "+100 m"), ("filter.intake.at.1", "+10 mm"),
                       ("filter.intake.fouling", "+10 %")):  # fmt: skip
        assert ranking.words(effect(ranking, path)).startswith(f"{step} on {path}: ")
    assert repr(ranking).startswith(f"<Ranking of {OF}: {len(ranking.effects)} inputs, first +")
    assert ranking._repr_html_().count("<tr>") == 1 + ROWS + 1  # and how many there are more


@pytest.mark.parametrize("of", ["total.worst_margin", "fan.left.life", "wall.upper.heat"])
def test_every_sort_of_result_can_be_ranked(of):
    found = rank(load("drive-cabinet"), of)
    assert found.value == flownet.solve(load("drive-cabinet"))[of]
    assert len(found.effects) > 10


@pytest.mark.parametrize(("path", "quantity"), [
    ("fan.left.returned_share", q.RATIO), ("fan.left.speed_ratio", q.RATIO),
    ("fan.left.age", None), ("vent.side.returned_share", None), ("vent.side.drop", q.PRESSURE),
    ("compartment.upper.age", q.TIME), ("part.choke.age", None), ("total.noise", q.LEVEL),
])  # fmt: skip
def test_air_that_comes_back_is_known_of_fans_and_its_age_of_compartments(path, quantity):
    if quantity is None:
        with pytest.raises(CaseError, match="no number of this name"):
            module._quantity(path)
    else:
        assert module._quantity(path) == quantity


def test_a_result_that_is_not_there_is_named():
    case = load("drive-cabinet")
    with pytest.raises(CaseError, match="did you mean"):
        rank(case, "part.controler.temperature")
    with pytest.raises(CaseError, match=r"region: no number of this name.* speed_ratio"):
        rank(case, "fan.left.region")
    with pytest.raises(CaseError, match=r"balance\.flow_step: says how well a solution balances"):
        rank(case, "balance.flow_step")
    with pytest.raises(CaseError, match=r"fan\.left\.life: has no value here"):
        rank(case, "fan.left.life", scenario="fan.left-out")


@pytest.mark.parametrize("step", [0, -0.1, 2.0, math.inf, math.nan, "0.1"])
def test_a_step_that_is_no_share(step):
    with pytest.raises(CaseError, match="step: a share above 0"):
        rank(load("bench-supply"), "part.q1.temperature", step=step)


@pytest.mark.parametrize(
    ("value", "quantity", "base"),
    [(3.0, q.POWER, 3.0), (0.0, q.POWER, math.nan), (3.0, q.LEVEL, math.nan),
     (0.0, q.LEVEL, math.nan), (340.0, q.TEMPERATURE, 340.0 - 293.0)],
)  # fmt: skip
def test_a_share_of_a_result_refers_to_it_or_to_the_rise(value, quantity, base):
    site = SimpleNamespace(site={"temperature": 293.0})
    assert module._base(site, value, quantity) == pytest.approx(base, nan_ok=True)


def test_json_has_steps_in_the_unit_of_the_input():
    """1 rev/s is 60 rpm by definition: the slope is the change over the step."""
    line = kind("line", lambda x: 100 * (1 - x / 0.05), 0.05)
    found = rank(
        box(3e4, line, out("a", "line", rotation="2400 rpm")), "fan.a.volume_flow", step=0.2
    )
    rows = {row["path"]: row for row in found.to_dict()["effects"]}
    assert len(rows) == len(found.effects) > 1
    for row in rows.values():
        change, slope = row["change_m3_s"], row["derivative_m3_s"]
        assert slope * row["step"] == pytest.approx(change)
    turned = rows["fan.a.rotation"]
    assert (turned["value"], turned["unit"], turned["step"]) == pytest.approx((2400, "rpm", 480))
    assert turned["elasticity"] == pytest.approx(1.0)  # fan law, on a square law
    assert turned["change_m3_s"] == pytest.approx(0.2 * found.value)
