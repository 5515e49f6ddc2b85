"""Networks and operating points that others have worked out: the solver with laws of their own.

Each row of `published/networks.toml` names its source and how its numbers were seen; only those
marked as published stand in a document. The units are those of the row.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import fluids
import numpy as np
import pytest

from flownet.equations.topology import Network
from flownet.solver import flow, flow_startup
from flownet.solver.elimination import Elimination, SparseElimination
from flownet.solver.flow_balance import Law
from flownet.solver.network import flow_stable
from tests.published import Row, rows

TINY = 1e-12  # flow below which a square law is linear
GRAVITY = 9.80665
Branch = Callable[[Any], tuple[Any, Any]]


def published(name: str, file: str = "networks") -> Any:
    return pytest.mark.parametrize("row", rows(file, name), ids=str)


def square(resistance: Any, linear: float = 0.0) -> Branch:
    """drop = linear Q + resistance Q |Q|."""

    def law(q: Any) -> tuple[Any, Any]:
        size = np.sqrt(q * q + TINY**2)
        slope = linear + resistance * (size + q * q / size)
        return linear * q + resistance * q * size, slope

    return law


def curve(rise: Callable[[Any], Any], step: float) -> Branch:
    """A machine: minus its rise, and the slope of that by differences."""

    def law(q: Any) -> tuple[Any, Any]:
        return -rise(q), (rise(q - step) - rise(q + step)) / (2 * step)

    return law


def table(flows: Any, heads: Any) -> Callable[[Any], Any]:
    """Straight lines between the points, the last one carried on."""
    flows, heads = np.asarray(flows, float), np.asarray(heads, float)
    slope = (heads[-1] - heads[-2]) / (flows[-1] - flows[-2])

    def rise(q: Any) -> Any:
        return np.interp(q, flows, heads) + slope * np.where(q > flows[-1], q - flows[-1], 0.0)

    return rise


def laws(*branches: Branch) -> flow.Law:
    def law(mass_flow: Any) -> tuple[Any, Any]:
        pairs = [branch(q) for branch, q in zip(branches, mass_flow, strict=True)]
        return np.array([p[0] for p in pairs]), np.array([p[1] for p in pairs])

    return law


def net(start: Any, end: Any, nodes: int) -> Network:
    return Network(np.array(start), np.array(end), nodes)


def column(values: Any) -> Any:
    return np.reshape(np.asarray(values, float), (-1, 1))


def solved(network: Network, law: Law, **given: Any) -> tuple[Any, Any]:
    """Flows and potentials of one variant that converged and conserves at every free node."""
    result = flow.solve(network, law, **given)
    assert result.converged.all(), result
    flows, potentials = result.mass_flow[:, 0], result.pressure[:, 0]
    left = np.zeros(network.nodes + network.fixed)
    np.add.at(left, network.start, flows)
    np.add.at(left, network.end, -flows)
    left[: network.nodes] -= np.ravel(given.get("injection", np.zeros(network.nodes)))
    np.testing.assert_allclose(left[: network.nodes], 0.0, atol=1e-9 * max(abs(flows)))
    return flows, potentials


def pipes(row: Row) -> tuple[Network, Any]:
    """The ten pipes of N1 and N2, and what their first flows bring to each node but the last."""
    network = net(row.given["start"], row.given["end"], 7)
    first, brought = np.array(row.given["first_flow"]), np.zeros(8)
    np.add.at(brought, network.start, first)
    np.add.at(brought, network.end, -first)
    return network, column(brought[:7])


@published("N1")
def test_ten_pipes_with_fixed_friction(row):
    """The flows of a looped network."""
    network, injection = pipes(row)
    law = laws(*map(square, row.given["resistance"]))
    row.check(flow=solved(network, law, injection=injection)[0])


@published("N2")
def test_ten_pipes_with_colebrook(row):
    """The same where the resistance depends on the flow."""
    g = row.given

    def pipe(diameter: float, length: float) -> Branch:
        def drop(q: Any) -> Any:
            reynolds = 4 * abs(q) / (np.pi * diameter * g["kinematic_viscosity"])
            factor = np.vectorize(fluids.friction.Colebrook)(
                np.maximum(reynolds, 10.0), g["roughness"] / diameter
            )
            return 8 * factor * length / (np.pi**2 * GRAVITY * diameter**5) * q * abs(q)

        return lambda q: (drop(q), (drop(q + 1e-7) - drop(q - 1e-7)) / 2e-7)

    network, injection = pipes(row)
    law = laws(*map(pipe, g["diameter"], g["length"]))
    flows, _ = solved(network, law, injection=injection)
    row.check(flow=flows)


@published("N3")
def test_seven_pipes_between_two_sources(row):
    """Four withdrawals, two given heads."""
    g = row.given
    flows, heads = solved(
        net(g["start"], g["end"], 4),
        laws(*map(square, g["resistance"])),
        injection=-column(g["withdrawal"]),
        fixed=column(g["head"]),
        nominal=np.ones((7, 1)),
    )
    row.check(flow=flows[[1, 3, 2]], head_12=heads[0] - heads[1])


@published("N4s")
def test_mine_network(row):
    """A small cross flow between two large ones."""
    g = row.given
    flows, pressures = solved(
        net(g["start"], g["end"], 3),
        laws(*map(square, g["resistance"])),
        injection=column([g["flow"], 0, 0]),
        nominal=np.full((5, 1), 10.0),
    )
    row.check(flow=flows, drop=pressures[0])


@pytest.mark.parametrize("kind", [Elimination, SparseElimination])
@published("N5")
def test_newton_step_of_three_loops(row, kind):
    """Loops as nodes, what two loops share as an edge, the rest on the diagonal."""
    matrix = np.array(row.given["matrix"])
    start, end = np.triu_indices(3, 1)
    weight = -column(matrix[start, end])
    factor = kind(3, start, end).factor(weight, weight, column(matrix.sum(axis=1)))
    row.check(step=factor.solve(column(row.given["right_side"])).ravel())


@published("N6")
def test_three_reservoirs(row):
    """One junction, three given heads."""
    g = row.given
    resistance = 8 * g["friction_factor"] * np.array(g["length"]) / np.pi**2
    resistance = resistance / (g["gravity"] * g["diameter"] ** 5)
    flows, _ = solved(
        net([1, 0, 0], [0, 2, 3], 1),
        laws(*map(square, resistance)),
        fixed=column(g["head"]),
        nominal=np.ones((3, 1)),
    )
    row.check(flow=flows)


def fanning(row: Row, length: Any, diameter: Any) -> Any:
    """Resistance by Fanning's f as the book rounds it, h = f l Q^2/(3 d^5)."""
    return row.given["fanning"] * np.array(length) / (3 * np.array(diameter) ** 5)


@published("N10")
def test_head_behind_parallel_pipes(row):
    """Two side by side and a third in series, at the printed flow."""
    g = row.given
    _, heads = solved(
        net([2, 2, 0], [0, 0, 1], 2),
        laws(*map(square, fanning(row, g["length"], g["diameter"]))),
        fixed=column([g["head"]]),
        injection=column([0, -g["flow"]]),
    )
    row.check(junction_head=heads[1])


@published("N10s")
def test_parallel_and_series_pipes(row):
    """Between two reservoirs."""
    g = row.given
    flows, heads = solved(
        net([2, 2, 0, 1, 1], [0, 0, 1, 3, 3], 2),
        laws(*map(square, fanning(row, g["length"], g["diameter"]))),
        fixed=column(g["head"]),
    )
    row.check(flow=flows[2], junction_head=heads[1])


@published("N11")
def test_branching_pipe(row):
    """One pipe that feeds two reservoirs."""
    g = row.given
    length, diameter = np.array(g["length"]), np.array(g["diameter"])
    resistance = 32 * g["fanning"] * length / (np.pi**2 * g["gravity"] * diameter**5)
    flows, _ = solved(
        net([1, 0, 0], [0, 2, 3], 1), laws(*map(square, resistance)), fixed=column(g["head"])
    )
    row.check(flow=flows)


def against_system(machine: Branch, push: float, static: float, resistance: float) -> Any:
    """Flow and head of one machine on a static head and a square resistance."""
    flows, heads = solved(
        net([1, 0], [0, 2], 1),
        laws(machine, square(resistance)),
        push=column([push, 0]),
        fixed=column([0, static]),
        nominal=np.full((2, 1), 10.0),
    )
    return flows[0], heads[0]


@published("F2")
def test_fitted_pump_curve(row):
    """Least squares h = a + c Q^2 through three points; gallons a minute to cubic feet a second."""
    g = row.given
    flow_squared = (np.array(g["pump_flow"]) * 231 / 1728 / 60) ** 2
    slope, shut_off = np.polyfit(flow_squared, g["pump_head"], 1)
    found = against_system(square(-slope), shut_off, g["static_head"], g["resistance"])
    row.check(flow=found[0], head=found[1])


@pytest.mark.parametrize("row", rows("networks", "F3", "F5"), ids=str)
def test_parabolic_pump(row):
    """h0 - c Q^2 on static head and friction."""
    g = row.given
    found = against_system(square(g["curve"]), g["shut_off"], g["static_head"], g["resistance"])
    row.check(flow=found[0], head=found[1])


def arrangements(machine: Branch, push: float, static: float, resistance: float) -> list[float]:
    """System flow of one machine, two in series, two in parallel."""
    system = square(resistance)
    networks = [
        (net([1, 0], [0, 2], 1), [machine, system]),
        (net([2, 0, 1], [0, 1, 3], 2), [machine, machine, system]),
        (net([1, 1, 0], [0, 0, 2], 1), [machine, machine, system]),
    ]
    found = []
    for network, branches in networks:
        flows, _ = solved(
            network,
            laws(*branches),
            push=column([*[push] * (len(branches) - 1), 0]),
            fixed=column([0, static]),
            nominal=np.full((len(branches), 1), 50.0),
        )
        found.append(flows[-1])
    return found


@published("F4")
def test_parabolic_pumps_in_series_and_in_parallel(row):
    """One pump, two in series, two in parallel."""
    g = row.given
    row.check(
        flow=arrangements(square(g["curve"]), g["shut_off"], g["static_head"], g["resistance"])
    )


@published("F10s")
def test_tabulated_pumps_in_series_and_in_parallel(row):
    """The same with straight lines between measured points."""
    g = row.given
    pump = curve(table(g["pump_flow"], g["pump_head"]), 1e-4)
    row.check(flow=arrangements(pump, 0.0, g["static_head"], g["resistance"]))


@published("F10")
def test_combined_tables_of_two_pumps(row):
    """Side by side the flows add at one head, one behind the other the heads at one flow."""
    g = row.given
    pump = curve(table(g["pump_flow"], g["pump_head"]), 1e-4)
    far = {"nominal": np.full((2, 1), 50.0)}
    beside, _ = solved(
        net([0, 0], [1, 1], 0), laws(pump, pump), fixed=column([0, g["parallel_head"]]), **far
    )
    behind, _ = solved(
        net([1, 0], [0, 2], 1), laws(pump, pump), fixed=column([0, g["series_head"]]), **far
    )
    row.check(parallel_flow=beside.sum(), series_flow=behind[0])


@published("F6")
def test_pump_table_against_pipe(row):
    """Gallons a minute and feet."""
    g = row.given
    gallon = 231 / 1728 / 60
    loss = g["friction_factor"] * g["length"] / g["diameter"] + g["losses"]
    area = np.pi / 4 * g["diameter"] ** 2
    resistance = loss * (gallon / area) ** 2 / (2 * g["gravity"])
    pump = curve(table(g["pump_flow"], g["pump_head"]), 1e-4)
    found = against_system(pump, 0.0, g["static_head"], resistance)
    row.check(flow=found[0], head=found[1])


@published("D1")
def test_weaker_fan_is_driven_backwards(row):
    """Also with a flap on it, and with it closed: three variants of one network."""
    g = row.given
    network = net([1, 1, 0], [0, 0, 1], 1)
    closed_flap = 1e14  # backwards, in place of an ideal one

    def law(mass_flow: Any) -> tuple[Any, Any]:
        weak = g["curve"][1] + np.where(mass_flow[1] < 0, [0.0, closed_flap, 0.0], 0.0)
        fans = (square(g["curve"][0]), square(weak), square(g["resistance"]))
        return laws(*fans)(mass_flow)

    result = flow.solve(
        network,
        law,
        push=column([*g["shut_off"], 0]),
        open=np.array([[True] * 3, [True, True, False], [True] * 3]),
    )
    assert result.converged.all()
    row.check(flow=result.mass_flow[:, 0], pressure=result.pressure[0, 0])
    row.check(flow_with_flap=result.mass_flow[2, 2], pressure_with_flap=result.pressure[0, 2])
    assert result.mass_flow[1, 2] == 0
    leak = np.sqrt((80 - g["shut_off"][1]) / closed_flap)
    np.testing.assert_allclose(result.mass_flow[1, 1], -leak, rtol=1e-4)
    np.testing.assert_allclose(result.mass_flow[2, 1], row.expected["flow_with_flap"], atol=leak)


@published("D2")
def test_middle_of_a_balanced_bridge(row):
    """The slope of the middle branch vanishes with its flow."""
    g = row.given
    for middle in g["middle"]:
        branches = (*map(square, (*g["top"], *g["bottom"])), square(middle))
        flows, pressures = solved(
            net([2, 0, 2, 1, 0], [0, 3, 1, 3, 1], 2), laws(*branches), fixed=column([100, 0])
        )
        row.check(middle_pressure=pressures[0], top_flow=flows[0], bottom_flow=flows[3])
        row.check(middle_pressure=pressures[1], middle_flow=flows[4])


@published("D4")
def test_equal_slots_carry_equal_flows(row):
    """To round-off, and each what the closed form says."""
    g = row.given
    count = int(g["slots"])
    flows, _ = solved(
        net([1, *[0] * count], [0, *[1] * count], 1),
        laws(square(g["curve"]), *[square(g["resistance"])] * count),
        push=column([g["shut_off"], *[0] * count]),
    )
    row.check(flow=flows[1])
    np.testing.assert_allclose(flows[1:], flows[1], rtol=1e-14)


@published("D5")
def test_laminar_and_turbulent_in_series(row):
    """Between given pressures, and behind a fan."""
    g = row.given
    parts = square(0.0, g["linear"]), square(g["square"])
    between, _ = solved(net([1, 0], [0, 2], 1), laws(*parts), fixed=column([g["pressure"], 0]))
    behind, _ = solved(
        net([2, 0, 1], [0, 1, 2], 2),
        laws(square(g["curve"]), *parts),
        push=column([g["shut_off"], 0, 0]),
    )
    row.check(flow=between[0], flow_with_fan=behind[0])


@published("D7")
def test_curve_that_crosses_its_system_three_times(row):
    """From rest the first crossing is reached; the middle one cannot be held."""
    g = row.given
    network = net([1, 0], [0, 1], 1)
    rise = np.poly1d([g["resistance"], 0, 0]) - g["depth"] * np.poly1d([1, 2, 3], r=True)
    slope = rise.deriv()
    law = laws(lambda q: (-rise(q), -slope(q)), square(g["resistance"]))
    one = np.ones((2, 1))
    found = flow_startup.from_rest(network, law, dipped=column([1, 0]) > 0, flow_scale=3 * one)
    assert found.converged.all()
    assert found.stable.all()
    stable = flow_stable(network, law(one * np.array(g["crossings"]))[1], one > 0)
    row.check(flow_from_rest=found.mass_flow[0, 0], stable=stable)
