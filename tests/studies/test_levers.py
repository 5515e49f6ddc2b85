"""Levers of a ranking: what belongs together is moved together, as second solves confirm."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet.columns import Inputs
from flownet.enclosure.contents import Place
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.fields import roles
from flownet.studies import levers
from flownet.studies.levers import Effect
from flownet.studies.rank import rank
from tests.every_kind import everything
from tests.test_cases import load

DEMOS = {
    "drive-cabinet": ("part.controller.temperature", "hot"),
    "telecom-shelf": ("part.processor.temperature", "base"),
    "bench-supply": ("part.q1.temperature", "base"),
}


@pytest.fixture(scope="module", params=DEMOS)
def ranking(request):
    of, scenario = DEMOS[request.param]
    return rank(load(request.param), of, scenario=scenario)


def lever(found, name):
    return next(effect for effect in found.effects if effect.name == name)


def again(found, changes):
    """The change of the result in a second solve of each variant."""
    batch = flownet.solve_many(found.solution.case, changes)
    assert set(batch.status) == {""}
    return batch[found.of] - found.value


def moved(effects, scale):
    """One variant an effect, with all its inputs moved by this many steps."""
    changes = {}
    for variant, effect in enumerate(effects):
        for place in effect.places:
            row = changes.setdefault(place.path, np.full(len(effects), effect.value))
            row[variant] += scale * effect.step
    return changes


def test_a_lever_does_what_a_second_solve_of_the_whole_case_says(ranking):
    """Differences to both sides at 1 % of the step, to 1e-4 (their error is of second order, and
    that of a solve); the whole step to 30 %, which is how far a curve bends on it."""
    most = abs(ranking.effects[0].change)
    some = [e for e in ranking.effects if abs(e.change) > 1e-3 * most and e.quantity != q.COUNT]
    expected = np.array([effect.change for effect in some])
    up, down = (again(ranking, moved(some, scale)) for scale in (0.01, -0.01))
    assert (up - down) / 0.02 == pytest.approx(expected, rel=1e-4, abs=1e-6 * most)
    assert again(ranking, moved(some, 1.0)) == pytest.approx(expected, rel=0.3)
    counts = [effect for effect in ranking.effects if effect.quantity == q.COUNT]
    if counts:  # whole ones: no small step
        signs = np.sign([effect.change for effect in counts])
        assert np.sign(again(ranking, moved(counts, 1.0))).tolist() == signs.tolist()


def test_data_name_twins_by_the_way_they_act():
    """A rise goes with the factor and against the density of its curve; both heat a part alike."""
    found = flownet.rank(load("drive-cabinet"), "part.controller.temperature", scenario="hot")
    rows = found.to_dict()["effects"]
    direct, inverse = ({path for row in rows for path in row[key]}
                       for key in ("twins", "inverse_twins"))  # fmt: skip
    assert "fan_type.axial-119-b.reference_density" in inverse
    assert {"part.controller.resistance_factor", "part.controller.load"} & direct
    assert not direct & inverse


def test_a_twin_moved_instead_does_the_same(ranking):
    pairs = [(effect, twin) for effect in ranking.effects for twin in effect.twins]
    assert pairs
    own = again(ranking, moved([effect for effect, _ in pairs], 1.0))
    changes = {}
    for variant, (effect, twin) in enumerate(pairs):
        share = 1 + effect.step / effect.value
        for place in twin.places:
            row = changes.setdefault(place.path, np.full(len(pairs), twin.value))
            row[variant] = twin.value / share if twin.inverse else twin.value * share
    most = abs(ranking.effects[0].change)
    assert again(ranking, changes) == pytest.approx(own, rel=1e-4, abs=1e-5 * most)


def test_what_is_left_out_does_not_act(ranking):
    """Each of them moved alone; a solve is good to a billionth of the temperatures."""
    inputs = Inputs.of(ranking.solution.case)
    every = [each for effect in ranking.effects for each in (effect, *effect.twins)]
    acting = {place.path for each in every for place in each.places}
    left = [path for path in inputs.numbers() if path not in {*acting, *ranking.zeros}]
    assert len(left) == ranking.idle
    changes = {}
    for variant, path in enumerate(left):
        value = float(inputs.row(path)[0])
        step = 1e-3 * abs(value) if value != int(value) or abs(value) > 1e3 else 0.0
        changes[path] = np.full(len(left), value)
        changes[path][variant] += -step if path.endswith(("temperature", "limit")) else step
    assert abs(again(ranking, changes)).max() < 1e-5 * abs(ranking.effects[0].change)


@pytest.mark.parametrize(
    ("demo", "of", "names"),
    [
        ("drive-cabinet", "part.controller.temperature",
         ["fan.left and fan.right: speed", "part.controller.power or load",
          "part.controller.resistance or resistance_factor",
          "part.rectifier.efficiency (its loss)", "part.rectifier.output or load",
          "fan.left and fan.right: pressure_factor or 1/type.reference_density"]),
        ("telecom-shelf", "part.processor.temperature",  # its own card is no copy of the others
         ["slot.card-1.count", "slot.card-2, slot.card-3, slot.card-4 and 2 more: count",
          "fan.left, fan.middle and fan.right: speed"]),
        ("bench-supply", "part.q1.temperature",  # equal transistors, one of which it is about
         ["part.q1.power or load", "part.q2.power or load", "vent.left and vent.right: area"]),
        ("outdoor-cabinet", "compartment.battery.temperature",
         ["wall.roof.sun.irradiance or sun.absorptance", "wall.behind-shield.area or u_value"]),
    ],
)  # fmt: skip
def test_what_belongs_together_is_one_lever(demo, of, names):
    found = rank(load(demo), of)
    for name in names:
        assert lever(found, name).change != 0
    paths = [place.path for effect in found.effects for place in effect.places]
    assert len(paths) == len(set(paths))


def box(*fans):
    """A box with an opening and these fans; all invented."""
    typed = flownet.FanType(
        name="a", curve=((0.0, 60.0), (0.05, 0.0)), flow_area=0.008, rated_speed=50.0
    )
    return flownet.Enclosure.of(
        flownet.Outside(temperature=298.15), flownet.Compartment(name="box"), typed,
        flownet.Opening(name="in", from_="outside", to="box", area=0.02),
        flownet.Part(name="p", in_="box", output=2000.0, efficiency=0.9), *fans,
    )  # fmt: skip


def fan(name, **more):
    return flownet.Fan(name=name, from_="box", to="outside", type="a", **more)


def test_many_copies_are_named_by_their_pattern_and_one_that_differs_by_itself():
    found = rank(box(*(fan(f"tray-{i}") for i in range(6)), fan("aside", speed=0.9)),
                 "total.volume_flow")  # fmt: skip
    six = lever(found, "fan.tray-*.speed")
    assert (six.path, len(six.places)) == ("fan.tray-*.speed", 6)
    assert lever(found, "fan.aside.speed").value == 0.9
    changes = {"fan.tray-*.speed": 1.001}
    again = flownet.solve(found.solution.case, changes=changes)[found.of] - found.value
    assert again == pytest.approx(0.01 * six.change, rel=1e-2)
    same = rank(box(fan("tray-1"), fan("tray-2")), "total.volume_flow")
    assert len(lever(same, "fan.tray-1 and fan.tray-2: speed").places) == 2


def test_an_efficiency_stands_for_its_loss():
    """Heat = output (1 - e)/e: its logarithm has the slope 1/e to that of the loss 1 - e."""
    found = rank(box(fan("one")), "total.heat")
    loss = lever(found, "part.p.efficiency (its loss)")
    assert (loss.value, loss.base) == (0.9, pytest.approx(0.1))
    assert loss.elasticity == pytest.approx(1 / 0.9)
    assert loss.change == pytest.approx(found.value * 0.1 / 0.9)
    words = found.texts(loss)
    assert (words.value, words.step) == ("0.1", "+10 %")
    row = next(row for row in found.to_dict()["effects"] if row["loss"] is not None)
    assert (row["path"], row["value"], row["loss"]) == ("part.p.efficiency", 0.9, loss.base)
    assert row["step"] == pytest.approx(-0.01)
    assert row["change_W"] == pytest.approx(row["derivative_W"] * row["step"])


def test_a_number_at_its_upper_end_is_moved_down():
    """An open share is at most 1."""
    wide = {"area": 0.01, "open_ratio": 0.95}
    mouth = flownet.Vent(name="mouth", from_="outside", to="box", **wide)
    found = rank(box(fan("one"), mouth), "total.volume_flow")
    one = lever(found, "vent.mouth.open_ratio")
    assert one.step == pytest.approx(-0.095)
    assert one.change < 0 < one.derivative


def test_numbers_that_are_zero_are_told_apart_from_those_that_do_nothing():
    found = rank(box(fan("one")), "total.volume_flow")
    assert found.zeros == ("fan.one.guard.loss",)
    levers = [each for effect in found.effects for each in (effect, *effect.twins)]
    every = len(list(Inputs.of(found.solution.case).numbers()))
    assert found.idle == every - len(found.zeros) - len(levers) > 0
    assert "1 of which a share is nothing, being 0 (fan.one.guard.loss)" in found.left_out


def an(key, change, *, kind="slot", name="a", **more):
    """An effect of a number, of this size."""
    places = more.pop("places", (Place(kind, name, key),))
    words = {"value": 1.0, "derivative": change, "elasticity": 1.0, "step": 1.0, "shift": False,
             "quantity": q.RATIO}  # fmt: skip
    return Effect(places[0].path, change=change, places=places, **{**words, **more})


@pytest.mark.parametrize(
    ("others", "near"),
    [
        ([("a", 1.0), ("b", 0.5)], True), ([("a", 1.0 + 1e-9), ("b", 0.5)], True),
        ([("a", 1.1), ("b", 0.5)], False), ([("a", -1.0), ("b", 0.5)], False),
        ([("a", 1.0)], False), ([("a", 1.0), ("b", 0.5), ("c", 0.3)], False),
        ([("a", 1.0), ("b", 0.5), ("c", -0.3)], False),
        ([("a", 1.0), ("b", 0.5), ("c", 1e-12)], True),
    ],
)  # fmt: skip
def test_things_are_alike_where_all_their_effects_are(others, near):
    some = [an("a", 1.0), an("b", 0.5)]
    assert levers._near(some, [an(key, change, name="o") for key, change in others]) == near


TWO = (Place("slot", "a", "gap"), Place("slot", "b", "gap"))


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ({}, {}, True), ({}, {"change": -1.0}, True), ({}, {"change": 1.01}, False),
        ({}, {"change": 0.99}, False), ({"shift": True}, {}, False), ({}, {"shift": True}, False),
        ({"loss": True}, {}, False), ({}, {"loss": True}, False), ({"places": TWO}, {}, True),
        ({}, {"places": TWO}, False),
    ],
)  # fmt: skip
def test_numbers_are_factors_of_one_product_where_a_share_does_the_same(one, other, same):
    first, second = (an("gap", **{"change": 1.0, **more}) for more in (one, other))
    assert levers._same(first, second) == same


def test_a_fan_type_is_a_twin_of_fans_only():
    fan, slot, own, odd = (an("speed", change, kind=kind) for kind, change in (
        ("fan", 1.0), ("slot", 2.0), ("fan_type", 1.0), ("fan_type", 2.0)))  # fmt: skip
    found = levers._with_types([slot, fan, own, odd])
    assert [(e.places[0].kind, len(e.twins)) for e in found] == [
        ("slot", 0), ("fan", 1), ("fan_type", 0)]  # fmt: skip
    assert not found[1].twins[0].inverse
    assert levers._with_twin(fan, own._replace(derivative=-1.0)).twins[0].inverse


STEPS = {  # where zero is a matter of convention: K, dB, m, whole ones, deg
    q.TEMPERATURE: 1.0, q.LEVEL: 1.0, q.ALTITUDE: 100.0, q.COUNT: 1.0, q.ANGLE: 10.0,
}  # fmt: skip


def test_every_number_is_moved_by_a_share_or_by_its_own_step():
    """Positions by 1 cm and the hour by 1 besides; down where the range of the key ends."""
    inputs = Inputs.of(everything())
    seen = set()
    for path in inputs.numbers():
        place = inputs.enclosure.place(path)
        role, value = roles(KINDS[place.kind])[place.key], float(inputs.row(path)[0].real)
        one = levers._effect(inputs, place, 2.0, 40.0, 0.1)
        fixed = STEPS.get(role.quantity)
        if place.key in ("at.0", "at.1", "outline.0", "outline.1"):
            fixed = 0.01
        fixed = 1.0 if place.key == "hour" else fixed
        if place.key == "efficiency":
            wanted = -0.1 * (1 - value)
        else:
            wanted = 0.1 * abs(value) if fixed is None else fixed
            wanted = -wanted if value + wanted > role.high else wanted
        assert one.step == pytest.approx(wanted, rel=1e-12), path
        assert one.change == pytest.approx(2.0 * wanted), path
        assert one.shift == (fixed is not None), path
        seen.add(fixed)
    assert seen == {None, 0.01, 1.0, 100.0}


@pytest.mark.parametrize(("names", "told"), [
    (["a-1", "a-2", "b-3"], "fan.a-1, fan.a-2 and fan.b-3: speed"),
    (["a-1", "a-2", "b-3", "c"], "fan.a-1, fan.a-2, fan.b-3 and 1 more: speed"),
    (["a-1", "a-2", "a-3", "a-4"], "fan.a-*.speed"),
    (["a" * 17, "b" * 17], f"fan.{'a' * 17} and fan.{'b' * 17}: speed"),  # 47 letters
    (["a" * 19, "b" * 19], f"fan.{'a' * 19} and 1 more: speed"),  # 51
])  # fmt: skip
def test_things_that_are_moved_together_are_named(names, told):
    places = [Place("fan", name, "speed") for name in names]
    every = [*places, Place("fan", "aside", "speed")]

    def matching(pattern):
        start, _, end = pattern.removeprefix("fan.").removesuffix(".speed").partition("*")
        return [each for each in every if each.name.startswith(start) and each.name.endswith(end)]

    assert levers._path(SimpleNamespace(places=matching), places) == told


@pytest.mark.parametrize(("change", "near"), [(1.009, True), (1.0115, False)])
def test_effects_of_things_alike_differ_by_a_hundredth_at_most(change, near):
    assert levers._near([an("a", 1.0)], [an("a", change, name="o")]) == near


@pytest.mark.parametrize(("change", "same"), [(1 + 5e-7, True), (1 + 2e-6, False)])
def test_shares_of_factors_do_the_same_to_a_millionth(change, same):
    assert levers._same(an("gap", 1.0), an("load", change)) == same


def test_what_does_next_to_nothing_is_idle():
    """Changes of 1000, 11, 9 and 0 by a tenth of each value; a hundredth of the largest is 10."""
    inputs = Inputs.of(load("drive-cabinet"))
    paths = ("part.choke.power", "vent.side.area", "wall.upper.u_value", "fan.left.speed")
    slopes = {}
    for path, change in zip(paths, (1000.0, 11.0, -9.0, 0.0), strict=True):
        slopes[inputs.enclosure.place(path)] = change / (0.1 * float(inputs.row(path)[0].real))
    found = levers.levers(inputs, slopes, 40.0, 0.1, 0.01)
    assert [(each.path, each.change) for each in found.effects] == [
        ("part.choke.power", pytest.approx(1000.0)),
        ("vent.side.area", pytest.approx(11.0)),
    ]
    assert (found.idle, found.zeros) == (2, ())
    still = Inputs.of(load("drive-cabinet").with_changes({"part.choke.power": 0.0}))
    for slope, zeros in ((2000.0, ("part.choke.power",)), (90.0, ())):  # by 0.1: 200, 9
        slopes[still.enclosure.place("part.choke.power")] = slope
        slopes[still.enclosure.place("vent.side.area")] = 1000.0 / (0.1 * 0.006)
        found = levers.levers(still, slopes, 40.0, 0.1, 0.01)
        assert found.zeros == zeros
        assert found.idle == 3 - len(zeros)
