"""Many scenarios in many variants as one batch: the same as each by itself."""

from __future__ import annotations

import sys
from concurrent.futures import ProcessPoolExecutor
from types import SimpleNamespace

import numpy as np
import pytest

import flownet
from flownet.columns import Inputs
from flownet.enclosure.branches import Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Limits, Outside
from flownet.judging.assessment import OK, OVER, STATUSES, TIGHT, UNKNOWN, UNSOLVED
from flownet.schema.errors import CaseError, NoSolution
from flownet.studies import outcome, stacking
from flownet.studies.runs import Run, evaluate
from tests.every_kind import everything
from tests.test_batches import assert_same
from tests.test_cases import load

WEAK = ((0.0, 40.0), (0.02, 25.0), (0.04, 0.0))
CASE = everything(
    variants={
        "slow": {"fan.*.speed": 0.7}, "three-fans": {"fan.spare.state": "running"},
        "turned": {"fan.left.mounted": "reversed"}, "weak": {"fan_type.axial.curve": WEAK},
        "same": {"filter.mat.fouling": "1"},
    }
)  # fmt: skip
RUNS = [
    Run(scenario, variant)
    for variant in ("base", "slow", "three-fans", "turned", "weak", "same")
    for scenario in ("base", "hot+dirty", "fan.left-out", "fan.left-shut", "supply.mains-out")
]


@pytest.fixture(scope="module")
def found():
    return evaluate(CASE, RUNS)


def test_one_topology_is_one_batch_and_equal_pairs_are_solved_once(found):
    assert len(found.batches) == 1
    assert len(found) == len(RUNS)
    assert len(found.batches[0]) == len(RUNS) - 5  # `same` changes nothing
    base = [i for i, s in enumerate(RUNS) if s.variant == "base"]
    same = [i for i, s in enumerate(RUNS) if s.variant == "same"]
    for path in ("total.volume_flow", "part.drive.temperature", "fan.left.rise"):
        np.testing.assert_array_equal(found[path][base], found[path][same])


# every third; where both fans are out, which takes a march, one of two
SOLVED = [i for i in range(0, len(RUNS), 3) if RUNS[i][:2] != ("supply.mains-out", "slow")]


@pytest.mark.parametrize("pair", SOLVED, ids=lambda i: "-".join(RUNS[i][:2]))
def test_a_pair_is_what_a_solve_of_it_finds(found, pair):
    """Every result, to the promise of the solver."""
    setup = RUNS[pair]
    alone = flownet.solve(CASE, scenario=setup.scenario, variant=setup.variant)
    assert_same(found.batches[0], int(found.place[pair]), alone)
    one = found.select(pair)
    assert one.case == alone.case
    assert (one.scenario, one.variant) == (alone.scenario, alone.variant)
    assert one.case.applied == alone.case.applied


def test_arrays_in_a_setup_are_one_pair_each():
    speeds = np.array([1.0, 0.8, 0.6])
    made = evaluate(CASE, [Run("hot"), Run("hot", "base", {"fan.left.speed": speeds}),
                              Run("base", "slow", {"fan.right.speed": 0.5})])  # fmt: skip
    assert (len(made), made.run.tolist(), made.member.tolist()) == (
        5, [0, 1, 1, 1, 2], [0, 0, 1, 2, 0],
    )  # fmt: skip
    for pair, speed in enumerate(speeds, 1):
        alone = flownet.solve(CASE, scenario="hot", changes={"fan.left.speed": speed})
        assert made["total.volume_flow"][pair] == pytest.approx(alone["total.volume_flow"])
        assert made.case(pair)["fan.left.speed"] == speed
    last = flownet.solve(CASE, variant="slow", changes={"fan.right.speed": 0.5})
    assert made["total.volume_flow"][4] == pytest.approx(last["total.volume_flow"])


def test_what_is_no_column_makes_a_batch_of_its_own():
    """Other stations in a chain are other rows of the results."""
    text = (("junction", 0.1), ("plate", 0.2))
    part = next(name for name, item in CASE.parts.items() if item.chain)
    other = everything(variants={"plate": {f"part.{part}.chain": text}})
    made = evaluate(other, [Run(), Run("base", "plate"), Run("hot", "plate")])
    assert len(made.batches) == 2
    assert made.ok.all()
    path = f"part.{part}.plate.temperature"
    assert np.isnan(made[path][0])
    alone = flownet.solve(other, scenario="hot", variant="plate")
    assert made[path][2] == pytest.approx(alone[path])
    assert made.select(2)[path] == made[path][2]
    with pytest.raises(CaseError, match="nobody"):
        made["part.nobody.temperature"]


def test_other_processes_and_narrow_blocks_give_the_same_numbers(monkeypatch):
    some = [run for run in RUNS if run.scenario != "supply.mains-out"][:7]
    found = evaluate(CASE, some)
    with ProcessPoolExecutor(1) as executor:
        other = evaluate(CASE, some, executor=executor)
    for path in ("total.volume_flow", "total.worst_margin", "fan.left.rise"):
        np.testing.assert_array_equal(found[path], other[path])
    monkeypatch.setattr(sys.modules["flownet.solving.solve"], "BLOCK", 4)
    told = []
    narrow = evaluate(CASE, some, progress=lambda done, total: told.append((done, total)))
    np.testing.assert_allclose(narrow["total.volume_flow"], found["total.volume_flow"], rtol=1e-7)
    assert told == [(4, 7), (7, 7)]


def test_names_that_are_not_known_raise_and_what_does_not_fit_keeps_its_place():
    for setup in (Run("nowhere"), Run("base", "nobody"), Run("each-fan-out"),
                  Run("base", "base", {"fan.nobody.speed": 1.0})):  # fmt: skip
        with pytest.raises(CaseError):
            evaluate(CASE, [Run(), setup])
    case = load("telecom-shelf")
    made = evaluate(case, [Run("hot"), Run("hot", "base", {"slot.card-3.state": "blanked"}),
                              Run("hot", "base", {"fan.left.speed": 9.0})])  # fmt: skip
    assert made.ok.tolist()[0::2] == [True, False]
    assert "must be from 0 to 2 (got 9)" in made.status[2]
    assert (made.made(0), made.made(2)) == (True, False)
    assert np.isnan(made["total.volume_flow"][2])
    with pytest.raises(NoSolution, match="must be from 0 to 2"):
        made.select(2)
    none = evaluate(case, [Run(changes={"fan.left.speed": 9.0})])
    assert (len(none.batches), np.isnan(none["total.volume_flow"]).tolist()) == (0, [True])


# --- which limit decides -------------------------------------------------------------------------


def box(**limits):
    life = {"hours": 20000.0, "at": "60 degC"}
    axial = FanType(
        name="small", curve=[(0.0, 40.0), (0.02, 0.0)], flow_area=0.004, power=4.0,
        noise_dBA=40.0, noise={"kind": "pressure", "distance": "1 m"}, life=life,
    )  # fmt: skip
    air_limit = limits.pop("air_limit", None)
    return Enclosure.of(
        Outside(temperature="40 degC"), Compartment(name="box", air_limit=air_limit), axial,
        Vent(name="low", from_="outside", to="box", area=0.008, loss=2.5),
        Fan(name="out", from_="box", to="outside", type="small"),
        Part(name="board", in_="box", power=100.0, resistance=0.1), Limits(**limits),
        title="box, invented data", variants={"closed": {"vent.low.state": "blanked"}},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("limits", "status", "limit"),
    [
        ({}, UNKNOWN, None),
        ({"air_limit": "90 degC"}, OK, "air"),
        ({"air_limit": "90 degC", "margin": "60 K"}, TIGHT, "air"),
        ({"air_limit": "41 degC"}, OVER, "air"),
        ({"air_limit": "90 degC", "noise_dBA": 60}, OK, "air"),
        ({"air_limit": "90 degC", "noise_dBA": 35}, OVER, "noise"),
        ({"air_limit": "41 degC", "noise_dBA": 35}, OVER, "air"),
        ({"air_limit": "90 degC", "fan_life_hours": 90000}, OVER, "life"),
        ({"noise_dBA": 60}, OK, "noise"),
        # 5 dB of 35 dBA are a smaller share than what is missing of 90,000 h
        ({"air_limit": "90 degC", "fan_life_hours": 90000, "noise_dBA": 35}, OVER, "life"),
    ],
)  # fmt: skip
def test_the_limit_that_decides(limits, status, limit):
    stand = evaluate(box(**limits), [Run()]).stand
    assert STATUSES[stand.status[0]] == STATUSES[status]
    assert (stand.limits[stand.row[0]].limit if stand.row[0] >= 0 else None) == limit
    if limit is not None:
        assert stand.margin[0] == stand.limits[stand.row[0]].margin[0]


def test_no_solution_is_worse_than_any_number():
    """An air-tight box whose fan blows nowhere has heat with nowhere to go."""
    case = box(air_limit="41 degC")
    more = Run("base", "base", {"part.board.power": 400.0})
    stand = evaluate(case, [Run(), Run("base", "closed"), more]).stand
    assert stand.status.tolist() == [OVER, UNSOLVED, OVER]
    assert stand.order.tolist() == [2, 0, 1]


def test_rows_alike_in_all_stay_one_column():
    one, nan = np.array([[1.0], [np.nan]]), np.array([[1.0], [np.nan]])
    two, other = np.array([[1.0, 1.0], [2.0, 3.0]]), np.array([[1.0], [5.0]])
    assert stacking._beside([one, nan], [1, 1]) is one
    assert stacking._beside([one, one], [1, 3]) is one
    for columns, widths in (([one, other], [2, 1]), ([two, two], [2, 2]), ([one, two], [1, 2]),
                            ([two, one], [2, 3])):  # fmt: skip
        made = stacking._beside(columns, widths)
        wide = [np.broadcast_to(c, (2, n)) for c, n in zip(columns, widths, strict=True)]
        np.testing.assert_array_equal(made, np.hstack(wide))


def test_tables_of_all_are_put_together_and_named_anew():
    """Each place keeps its own curve, and what has none keeps that."""
    made = [Inputs.of(CASE.under(variant=v)) for v in ("base", "turned", "weak", "three-fans")]
    some = [each for each in made if each.columns["fan"]["type"].shape == made[0].columns["fan"][
        "type"].shape]  # fmt: skip
    whole = stacking.stacked(some)
    assert len(some) > 1
    assert whole.variants == len(some)
    for (kind, key), pool in whole.tables.items():
        column = np.broadcast_to(whole.columns[kind][key], (
            len(whole.columns[kind][key]), len(some))).real.astype(int)  # fmt: skip
        for place, each in enumerate(some):
            own = each.columns[kind][key][:, 0].real.astype(int)
            mine = [each.tables[kind, key][i] if i >= 0 else None for i in own]
            assert [pool[i] if i >= 0 else None for i in column[:, place]] == mine
    assert stacking.stacked(some[:1]) is some[0]


def test_air_that_goes_back_alike_through_several_fans_is_told_once():
    """0.001 m3/s are 3.6 m3/h."""
    flows = {"fan.a": -0.001, "fan.b": -0.001, "fan.c": -0.002, "fan.d": 0.1}
    cell = SimpleNamespace(subject="part.p", standing=flows, void={}, in_dip={})
    assert outcome._beside(cell, "hot", "metric") == (
        "part.p in hot, 3.6 m3/h back through each of fan.a and fan.b, 7.2 m3/h back through fan.c"
    )


def test_why_pairs_have_no_solution_is_told_once_with_where_it_arises():
    some = [SimpleNamespace(status=status, why=why, variant=variant, scenario="hot")
            for status, why, variant in (
                ("ok", "", "base"), ("unsolved", "no way out\nat all", "a"),
                ("unsolved", "too hot", "b"), ("unsolved", "no way out\nat all", "c"))]  # fmt: skip
    found = list(outcome.unsolved(some))
    assert [[note.words for note in each.notes] for each in found] == [
        ["no way out", "at all"], ["too hot"]]  # fmt: skip
    assert [each.title.words for each in found] == [
        "not solved: a | hot, and 1 more", "not solved: b | hot"]  # fmt: skip
    assert [outcome.style_of(each) for each in (None, some[1])] == ["quiet", "bad"]
