"""Which inputs of a case are off, by how much, and what stands in where it does not say."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet.enclosure.branches import Vent
from flownet.enclosure.contents import Place
from flownet.physics.registry import COMMON_PRACTICE
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fields import Number, roles
from flownet.studies.shares import _regressed
from flownet.studies.tolerances import (
    USUAL_SPREADS,
    Member,
    Spread,
    cut_words,
    practice,
    spreads,
    without_value,
)
from tests.studies.toleranced import QUANTILE, TOLERANCES, box, fan_box, rated_fan, stated
from tests.test_cases import load


def test_the_more_exact_path_counts_and_amounts_are_in_kelvin():
    raw = {"part.*.power": {"within": "10 %", "together": True}, "part.b.power": "1 %",
           "outside.temperature": {"within": "2 K", "shape": "uniform"}}  # fmt: skip
    found = {item.path: item for item in spreads(box(raw), defaults=False)}
    assert [m.place.path for m in found["part.*.power"].members] == ["part.a.power"]
    assert found["part.b.power"].within == 0.01
    drawn = found["outside.temperature"].drawn(
        found["outside.temperature"].members[0], np.array([1e-9, 0.5, 1 - 1e-9])
    )
    assert drawn == pytest.approx([298.0, 300.0, 302.0])
    assert found["outside.temperature"].words() == "2.0 K uniform"
    assert found["part.b.power"].words() == "1 %"


def test_usual_tolerances_stand_in_are_marked_and_can_be_left_out():
    made = box({"part.a.power": "5 %"}, limit=340.0)
    usual = [item for item in spreads(made) if not item.stated]
    paths = {item.path for item in usual}
    assert paths == {"part.b.load", "part.a.resistance_factor", "part.b.resistance_factor",
                     "wall.skin.u_value"}  # fmt: skip
    assert all(item.to_dict()["source"] == COMMON_PRACTICE for item in usual)
    assert [item.path for item in spreads(made, defaults=False)] == ["part.a.power"]
    quiet = box({"part.*.load": "0 %", "wall.skin.u_value": "0 %"})
    assert {i.path for i in spreads(quiet) if not i.stated} == {
        "part.a.resistance_factor", "part.b.resistance_factor",
    }  # fmt: skip


def test_usual_tolerances_are_about_numbers_and_no_conditions():
    for usual in USUAL_SPREADS:
        role = roles(KINDS[usual.kind])[usual.key]
        assert isinstance(role, Number)
        assert usual.relative or usual.shape != "lognormal"
        assert usual.key.partition(".")[0] in usual.about
    assert not {usual.kind for usual in USUAL_SPREADS} & {"outside", "supply", "compartment"}
    within = {(usual.kind, usual.key): usual.within for usual in USUAL_SPREADS}
    for kind in ("vent", "opening"):  # a drop goes with the loss, and with 1/area^2
        assert within[kind, "loss"] == pytest.approx(2 * within[kind, "area"])
    assert len({(usual.kind, usual.key) for usual in USUAL_SPREADS}) == len(USUAL_SPREADS)


def test_a_usual_tolerance_is_of_what_is_there():
    """Not of heat that is none, of what is blanked, of a type that no fan has."""
    found = {item.path for item in spreads(load("drive-cabinet")) if not item.stated}
    assert "fan_type.axial-119-b.noise_dBA" in found
    assert not [path for path in found if path.startswith("fan_type.axial-92")]
    assert "vent.side.area" in found
    shut = load("drive-cabinet").with_changes({"vent.side.state": "blanked"})
    assert "vent.side.area" not in {item.path for item in spreads(shut)}
    idle = box({}).with_changes({"part.b.power": 0.0})
    assert "part.b.load" not in {item.path for item in spreads(idle)}


def test_a_speed_in_rpm_is_off_by_its_rotation():
    made = fan_box(speed="2000 rpm")
    (item,) = spreads(stated(made, {"fan.first.speed": "5 %"}), defaults=False)
    assert item.members[0].place.key == "rotation"
    found = flownet.uncertainty(stated(made, {"fan.first.speed": "5 %"}), samples=20, seed=1,
                                defaults=False)  # fmt: skip
    ratio = found.drawn["fan.first.rotation"] / item.members[0].value * 0.8
    assert found["fan.first.speed_ratio"] == pytest.approx(ratio, rel=1e-9)


def test_changes_come_first_and_what_is_not_given_is_said():
    made = box({**TOLERANCES, "part.b.resistance": "10 %"})
    found = flownet.uncertainty(made, samples=400, seed=1, defaults=False,
                                changes={"part.a.power": 120.0})  # fmt: skip
    assert found.drawn["part.a.power"].mean() == pytest.approx(120.0, rel=0.01)
    assert found.unused == ("part.b.resistance",)
    assert "tolerances of what is not given here: part.b.resistance" in found.verdicts()


@pytest.mark.parametrize("rating", [{}, {"noise_dBA": 48.0}])
def test_levels_of_ratings_are_off_once_with_their_type_or_by_themselves(rating):
    """One fan alone: the sum is its own level, off by the same decibels."""
    made = rated_fan(**rating)
    name = "fan_type.axial.rating.sixty.noise_dBA" if rating else "fan_type.axial.noise_dBA"
    usual = {i.path for i in spreads(made) if i.path.endswith("noise_dBA")}
    assert name in usual
    assert len(usual) == 1 + len(rating)
    found = flownet.uncertainty(made, samples=400, seed=1, of="total.noise")
    first = found.shares.rows[0]
    assert first.spread.path == name
    assert first.share == pytest.approx(first.linear, abs=0.02)
    assert first.effect == pytest.approx(3.0)
    assert found.shares.linear_deviation == pytest.approx(3.0 / QUANTILE, rel=1e-3)


def test_one_that_is_zero_does_not_hide_those_it_goes_with():
    made = box({"part.*.power": {"within": "10 %", "together": True}})
    made = made.with_changes({"part.a.power": 0.0})
    found = flownet.uncertainty(made, samples=200, seed=1, defaults=False,
                                of="compartment.box.temperature")  # fmt: skip
    assert found.shares.rows[0].share == pytest.approx(1.0, abs=1e-6)
    assert np.all(found.drawn["part.a.power"] == 0)


def test_a_speed_and_its_rotation_are_one_number():
    raw = {"fan.first.speed": "5 %", "fan.first.rotation": "2 %"}
    (item,) = spreads(stated(fan_box(speed="2000 rpm"), raw), defaults=False)
    assert item.within == 0.02


def test_numbers_that_a_case_refuses_together_are_named():
    hole = Vent(name="grille", from_="outside", to="box", area=0.001, open_ratio=0.69,
                construction="round-edged")  # fmt: skip
    made = box({"vent.grille.open_ratio": "10 %"}, hole)
    with pytest.raises(CaseError, match=r"vent.grille.open_ratio: round-edged grilles are known"):
        flownet.uncertainty(made, samples=50, seed=1, defaults=False)


@pytest.mark.parametrize(
    ("quantity", "relative", "within", "unit"),
    [(q.SPEED, False, 30.0, "rpm"), (q.SPEED, True, 0.5, None), (q.TEMPERATURE, False, 0.5, "K")],
)  # fmt: skip
def test_a_tolerance_in_json_is_in_its_unit(quantity, relative, within, unit):
    """Half a turn a second is 30 rpm; of a share there is no unit."""
    place = Place("fan", "a", "rotation")
    spread = Spread("x", (Member(place, 40.0, -np.inf, np.inf),), 0.5, relative, "normal",
                    quantity, True)  # fmt: skip
    made = spread.to_dict()
    assert (made["within"], made["unit"]) == (pytest.approx(within), unit)
    assert spread.amount(spread.members[0]) == (20.0 if relative else 0.5)


@pytest.mark.parametrize("samples", [6, 9, 40])
def test_what_a_straight_line_leaves_is_by_adjusted_r2(samples):
    """1 - (1 - R2)(n - 1)/(n - k - 1), any textbook of regression; R2 by numpy's least squares."""
    rng = np.random.default_rng(samples)
    inputs, noise = rng.normal(size=(3, samples)), rng.normal(size=samples)
    values = 3 * inputs[0] - inputs[1] + 0.3 * noise
    design = np.vstack([inputs, np.ones(samples)]).T
    fit = design @ np.linalg.lstsq(design, values, rcond=None)[0]
    missed = np.sum((values - fit) ** 2) / np.sum((values - values.mean()) ** 2)
    wanted = min(missed * (samples - 1) / (samples - 3 - 1), 1.0)
    found, left = _regressed(inputs, values)
    assert left == pytest.approx(wanted)
    assert found.sum() == pytest.approx(1 - wanted)
    assert found[0] > found[1] > found[2]
    still, nothing = _regressed(inputs, np.full(samples, 7.0))
    assert (still.tolist(), nothing) == ([0.0] * 3, 0.0)
    few, unknown = _regressed(inputs[:, :4], values[:4])
    assert np.isnan(few).all()
    assert np.isnan(unknown)


STATED = {  # as the manual's table has them: common practice, no source
    ("fan", "pressure_factor"): (0.1, "normal"), ("vent", "loss"): (0.2, "lognormal"),
    ("vent", "area"): (0.1, "normal"), ("opening", "loss"): (0.2, "lognormal"),
    ("opening", "area"): (0.1, "normal"), ("baffle", "open_area"): (0.1, "normal"),
    ("duct", "loss"): (0.2, "lognormal"), ("slot", "gap"): (0.05, "normal"),
    ("slot", "loss"): (0.2, "lognormal"), ("filter", "fouling"): (0.15, "normal"),
    ("leak", "flow_at.0"): (0.5, "lognormal"), ("exchange", "flow"): (0.3, "lognormal"),
    ("recirculation", "fraction"): (0.3, "lognormal"), ("part", "load"): (0.1, "normal"),
    ("slot", "load"): (0.1, "normal"), ("part", "resistance_factor"): (0.15, "normal"),
    ("wall", "u_value"): (0.2, "lognormal"), ("fan_type", "noise_dBA"): (3.0, "normal"),
}  # fmt: skip


def test_usual_tolerances_are_those_that_are_stated():
    found = {(usual.kind, usual.key): (usual.within, usual.shape) for usual in USUAL_SPREADS}
    assert found == STATED


@pytest.mark.parametrize(("cut", "told"), [(0.0009, False), (0.0011, True)])
def test_what_is_cut_is_worth_a_word_from_one_in_a_thousand(cut, told):
    some = [SimpleNamespace(cut=cut, path="a"), SimpleNamespace(cut=0.2, path="b")]
    words = [text.partition(":")[0] for text in cut_words(some)]
    assert words == ["b", *["a"] * told]


def of(within, shape="normal", *, relative=True, stated=True, quantity=q.POWER, values=(40.0,),
       ends=(-np.inf, np.inf), key="power"):  # fmt: skip
    members = [Member(Place("part", f"p{i}", key), v, *ends) for i, v in enumerate(values)]
    return Spread("x", tuple(members), within, relative, shape, quantity, stated)


@pytest.mark.parametrize(("spread", "told"), [
    (of(0.08), "8 %"), (of(0.2, "lognormal", stated=False), "20 % lognormal *"),
    (of(2.0, "uniform", relative=False, quantity=q.TEMPERATURE), "2.0 K uniform"),
    (of(0.0125, stated=False), "1.25 % *"),
])  # fmt: skip
def test_how_far_a_number_is_off_in_words(spread, told):
    assert spread.marked() == told
    assert spread.words() == told.removesuffix(" *")


def test_of_several_that_one_draw_moves_the_one_that_moves_most_leads():
    assert of(0.1, values=(3.0, -7.0, 5.0)).leading.value == -7.0
    assert of(0.1, relative=False, values=(3.0, 7.0)).leading.value == 3.0


@pytest.mark.parametrize(("shape", "wanted"), [
    ("normal", 4 / QUANTILE), ("uniform", 4 / np.sqrt(3)),
])  # fmt: skip
def test_a_standard_deviation_is_that_of_the_shape(shape, wanted):
    """95 of 100 of a normal one, all of a uniform one; half is cut where the value is the end."""
    spread = of(0.1, shape)
    assert spread.deviation(spread.leading) == pytest.approx(wanted, rel=1e-3)
    assert spread.cut == 0.0
    half = of(0.1, shape, values=(40.0, 90.0), ends=(40.0, 99.0))
    assert half.cut == pytest.approx(0.5, abs=1e-6)


def test_which_tolerances_the_case_does_not_state_itself():
    own, usual = of(0.08), of(0.1, stated=False)
    noise = of(3.0, stated=False, relative=False, quantity=q.LEVEL, key="noise")
    assert practice([own], "metric") == "Every tolerance is stated in the case."
    end = "(common practice, no source; --only-stated leaves them out): part.*.power 10 %"
    what = "* usual, for what the case does not state"
    assert practice([usual, usual], "metric") == f"The case states no tolerance. {what} {end}."
    for count, words in ((1, "1 input"), (2, "2 inputs")):
        told = practice([own] * count + [usual, noise], "metric")
        assert told == f"{words} with a tolerance of the case. {what} {end}, part.*.noise 3.0 dB."


def test_tolerances_of_what_is_not_given_are_named():
    made = box({"part.a.power": "5 %", "part.a.efficiency": "1 %", "part.*.power": "2 %"})
    assert without_value(made) == ("part.a.efficiency",)
