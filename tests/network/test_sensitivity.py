"""Exact derivatives: against differences of whole solves, conservation laws and closed forms."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

import flownet
from flownet.columns import Inputs
from flownet.enclosure.branches import Slot
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.heat import Part, Wall
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.equations.assemble import assemble
from flownet.equations.topology import Structure
from flownet.physics.air import HEAT_CAPACITY
from flownet.solver import jacobian, sensitivity, steady, tolerances
from flownet.solver.jacobian import Pattern
from flownet.solver.tolerances import STEP
from tests.derivatives import check, numbers
from tests.every_kind import everything
from tests.test_cases import DEMOS, load

HEATED = ("part.q1.power", "fan.rear.speed", "wall.cover.u_value", "outside.temperature")
KINKED = 0.01  # largest share of pairs that may be left out


def derived(case):
    """Places of all numbers, names of all results, derivatives (results, numbers)."""
    inputs, structure = Inputs.of(case), Structure.of(case)
    model = assemble(inputs, structure)
    found = steady.solve(model, Pattern(structure))
    assert found.status == ("",)
    places = list(inputs.number_places())
    parts, names = [], []
    for _, batch in sensitivity.derivatives(inputs, model, found, places):
        names, table = numbers(batch)
        parts.append(np.imag(table) / STEP)
    return places, names, np.concatenate(parts, axis=1)


@cache
def of_all_kinds():
    return derived(everything())


def column(found, path):
    places, names, slopes = found
    k = [place.path for place in places].index(path)
    return dict(zip(names, slopes[:, k], strict=True))


# --- against differences of whole solves ---------------------------------------------------------


def first_of_each(demo):
    """The first number of each kind and key that no demo before this one has, and the air outside;
    `python -m tests.derivatives` takes all."""
    before = DEMOS[: DEMOS.index(demo)]
    seen = {(p.kind, p.key) for d in before for p in Inputs.of(load(d)).number_places()}
    first = {}
    for place in Inputs.of(load(demo)).number_places():
        first.setdefault((place.kind, place.key), place.path)
    return {path for key, path in first.items() if key not in seen} | {"outside.temperature"}


@pytest.mark.parametrize("demo", DEMOS)
def test_every_result_of_a_demo_to_a_number_of_each_kind(demo):
    """To 1e-6; what is left out because a kink is within a step is counted, see the module."""
    numbers = first_of_each(demo)
    found = check(load(demo), numbers)
    assert found.wrong == ()
    assert found.unsolved == 0
    assert found.left_out < KINKED
    assert found.faint < 0.25 * found.held
    assert found.held > 20 * len(numbers)


def test_every_result_of_every_kind_of_thing_to_every_number():
    found = check(everything())
    assert found.wrong == ()
    assert found.unsolved == 0
    assert found.left_out < KINKED
    assert found.held > 8000


def test_a_wrong_derivative_is_found(monkeypatch):
    """The check can fail: here the state answers three millionths too much to heat."""
    case, fine = load("bench-supply"), jacobian.System.answer

    def answer(self, gap, flow, energy, mix):
        return fine(self, gap, flow, energy * (1 + 3e-6), mix)

    monkeypatch.setattr(sensitivity.System, "answer", answer)
    assert len(check(case, ["part.q1.power"]).wrong) > 10


def test_a_number_that_is_zero_has_its_effect():
    """Heat in a slot that has none yet warms what comes after it."""
    found = check(everything(), ["slot.c.power"])
    assert found.held > 10
    assert found.wrong == ()
    assert column(of_all_kinds(), "slot.c.power")["slot.c.outlet_temperature"] > 0.1


# --- conservation and closed forms ---------------------------------------------------------------


@pytest.mark.parametrize("case", [load("telecom-shelf"), everything()], ids=["shelf", "all kinds"])
def test_flows_that_answer_conserve_mass(case):
    """Whatever is moved, the changes of flow add up to nothing in each compartment."""
    _, names, slopes = of_all_kinds() if case == everything() else derived(case)
    rows = {name: slopes[i] for i, name in enumerate(names)}
    for place in case.compartments:
        own = [
            (rows[f"{path}.mass_flow"], 1 if b.to == place else -1)
            for path, b in case.branches.items()
            if place in (b.from_, b.to) and getattr(b, "on", None) is None
        ]
        size = sum(abs(flow) for flow, _ in own)
        assert np.all(abs(sum(flow * sign for flow, sign in own)) <= 1e-11 * size + 1e-20), place


@pytest.mark.parametrize("path", HEATED)
def test_heat_that_is_put_in_goes_out(path):
    """First law: what more comes from parts and motors leaves by air and through walls."""
    case = load("bench-supply")
    now, more = flownet.solve(case).totals, column(derived(case), path)
    carried = now.mass_flow * more["total.air_rise"] + more["total.mass_flow"] * now.air_rise
    out = HEAT_CAPACITY * carried + more["total.wall_heat"]
    size = abs(HEAT_CAPACITY * now.mass_flow * more["total.air_rise"]) + abs(more["total.heat"])
    assert out == pytest.approx(more["total.heat"], abs=1e-5 * size)


def test_a_sealed_box_in_closed_form():
    """T = T0 + P/(U A)."""
    case = Enclosure.of(
        Outside(temperature=298.15), Compartment(name="box"),
        Part(name="p", in_="box", power=110.0, resistance=0.2),
        Wall(name="w", from_="box", to="outside", area=2.0, u_value=5.5),
    )  # fmt: skip
    found = derived(case)
    heat = column(found, "part.p.power")
    assert heat["compartment.box.temperature"] == pytest.approx(1 / 11.0, rel=1e-12)
    assert heat["part.p.temperature"] == pytest.approx(1 / 11.0 + 0.2, rel=1e-12)
    area, outside = column(found, "wall.w.area"), column(found, "outside.temperature")
    assert area["compartment.box.temperature"] == pytest.approx(-110 / (5.5 * 4), rel=1e-12)
    assert outside["compartment.box.temperature"] == pytest.approx(1.0, rel=1e-12)
    assert outside["part.p.temperature"] == pytest.approx(1.0, rel=1e-12)


# --- how it is computed --------------------------------------------------------------------------


def test_one_factorisation_serves_all_numbers(monkeypatch):
    made, fine = [], jacobian._solver
    case = load("telecom-shelf")
    inputs, structure = Inputs.of(case), Structure.of(case)
    model = assemble(inputs, structure)
    found = steady.solve(model, Pattern(structure))

    def solver(pattern, values):
        made.append(values.shape)
        return fine(pattern, values)

    monkeypatch.setattr(jacobian, "_solver", solver)
    places = list(inputs.number_places())
    chunks = list(sensitivity.derivatives(inputs, model, found, places))
    assert len(chunks) > 1
    assert len(made) == 1
    assert made[0][1] == 1


def test_chunks_and_sparse_matrices_give_the_same(monkeypatch):
    _, names, whole = of_all_kinds()
    monkeypatch.setattr(sensitivity, "ENTRIES", 500)  # some twenty numbers in each
    monkeypatch.setattr(tolerances, "DENSE", 0)
    _, again, one = derived(everything())
    assert again == names
    size = np.nanmax(abs(whole), axis=0) + 1e-12
    assert np.nanmax(abs(one - whole) / size) < 1e-7


def test_chunks_shrink_as_networks_grow(monkeypatch):
    monkeypatch.setattr(sensitivity, "ENTRIES", 300)
    case = load("bench-supply")
    inputs, structure = Inputs.of(case), Structure.of(case)
    model = assemble(inputs, structure)
    found = steady.solve(model, Pattern(structure))
    places = list(inputs.number_places())
    chunks = [part for part, _ in sensitivity.derivatives(inputs, model, found, places)]
    assert [place for part in chunks for place in part] == places
    assert 1 < max(map(len, chunks)) * len(structure.branches) <= 300


def test_ranges_do_not_stop_an_imaginary_step():
    """An efficiency of 1 is the end of its range and has a derivative all the same."""
    case = Enclosure.of(
        Compartment(name="box"), Wall(name="w", from_="box", to="outside", area=1.0, u_value=5.0),
        Part(name="p", in_="box", output=200.0, efficiency=1.0),
        Slot(name="s", from_="outside", to="box", area=1e-3, loss=2.0),
        Slot(name="t", from_="box", to="outside", area=1e-3, loss=2.0),
    )  # fmt: skip
    moved = sensitivity.stepped(Inputs.of(case), [Place("part", "p", "efficiency")])
    assert moved.columns["part"]["efficiency"][0, 0] == 1.0 + 1j * STEP
    assert column(derived(case), "part.p.efficiency")["part.p.heat"] == pytest.approx(-200.0)
