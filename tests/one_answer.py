"""One case has one answer, whatever the order of its tables and its neighbours.

For tests, and `python -m tests.one_answer WHICH COUNT [FIRST_SEED] [MOST]`, a survey of random
enclosures of at most MOST compartments: `permuted`; `upright`, those with upright ducts and three
times the heat; `batches` against one by one; `timed`, the upright ones that need a march from rest
against an integrator.
"""

from __future__ import annotations

import sys
import time
from unittest import mock

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import null_space

import flownet
from flownet.columns import Inputs
from flownet.equations.assemble import assemble
from flownet.equations.residual import residual
from flownet.equations.topology import Structure
from flownet.results.solution import TABLE_NAMES
from flownet.schema.errors import FlownetError
from flownet.solver import pseudo_transient
from tests.random_enclosures import enclosure, shuffled, upright


def bits(found):
    """Every number of a solution by name, as bytes."""
    rows = {
        (table, name, key): column[row]
        for table in TABLE_NAMES
        for row, name in enumerate(getattr(found, table).names)
        for key, column in getattr(found, table).columns.items()
    }
    rows |= {("margin", item.limit, item.subject): item.margin for item in found.limits}
    rows |= {("all", key): value for key, value in {**found.totals_, **found.balance_}.items()}
    return {key: np.asarray(value).tobytes() for key, value in rows.items()}


def ended(case):
    """The bits of a solve, or why there are none."""
    try:
        return bits(flownet.solve(case))
    except FlownetError as error:
        return str(error)


def varied(case, seed, width=4):
    """Changes of every power, the outside and the fans' states."""
    rng = np.random.default_rng(seed)
    changes = {"outside.temperature": rng.uniform(270, 320, width)}
    for name, part in case.parts.items():
        changes[f"part.{name}.power"] = part.power * rng.uniform(0, 3, width)
    for name in case.fans:
        states = rng.choice(["running", "stopped", "blanked"], width, p=[0.7, 0.2, 0.1])
        changes[f"fan.{name}.state"] = [str(word) for word in states]
    return changes


def parted(case, changes, variant, batch):
    """What differs between a variant of a batch and the same alone; empty where nothing does."""
    alone = flownet.solve_many(case, {path: [each[variant]] for path, each in changes.items()})
    if alone.status[0] != batch.status[variant]:
        return f"{alone.status[0]!r} alone, {batch.status[variant]!r} in a batch"
    told = [("branches", "mass_flow"), ("compartments", "temperature")] * bool(alone.ok[0])
    apart = [
        np.max(
            abs(
                getattr(alone, table).columns[key][:, 0]
                - getattr(batch, table).columns[key][:, variant]
            )
        )
        for table, key in told
    ]
    apart += [abs(alone.balance_[key][0] * 1 - batch.balance_[key][variant] * 1)
              for key in ("iterations", "stable")]  # fmt: skip
    return "" if not any(apart) else f"flows, temperatures, rounds: {apart} apart"


INERTANCE, CAPACITY = 40.0, 5.0  # 1/m of every branch, J/K of every compartment: solver.md
LATE = 1e10  # s: ends reached only by the exchange of still air (2e-6 W/K) have settled by then
EVALUATIONS = 20_000  # of the rates, after which a march is given up


def in_time(case, tolerance=1e-6):
    """LSODA from rest on the flow round every loop and the heat of every compartment.

    Flows round loops conserve mass, so that pressures drop out and nothing drifts. The Jacobian is
    a complex step of the same rates. Returns K above the outside by compartment, and how far the
    worst is from balance in the end [W]: infinite where given up. No recirculation.
    """
    s = Structure.of(case)
    model, count, left = assemble(Inputs.of(case), s), len(s.branches), iter(range(EVALUATIONS))
    rows = np.flatnonzero(np.broadcast_to(model.open, (count, 1))[:, 0])
    loops, base = null_space(s.network.outflow.toarray()[:, rows]), case.outside.temperature
    size = loops.shape[1]

    def rates(values):  # (unknowns, columns)
        flow = np.zeros((count, values.shape[1]), values.dtype)
        flow[rows] = loops @ values[:size]
        still = np.zeros((s.inside, values.shape[1]))
        found = residual(model, model.state(flow, still, values[size:] + base))
        moved = loops.T @ found.pressure[rows]
        return np.concatenate([moved / INERTANCE, found.energy / CAPACITY])

    def rate(_, at):
        next(left)
        return rates(at[:, None])[:, 0]

    def slopes(_, at):
        return rates(at[:, None] + 1e-30j * np.eye(len(at))).imag / 1e-30

    begin, least = np.zeros(size + s.inside), np.repeat([1e-4, 10.0], [size, s.inside])
    bounds = {"rtol": tolerance, "atol": tolerance * least}  # kg/s, K
    try:
        path = solve_ivp(rate, (0, LATE), begin, "LSODA", jac=slopes, first_step=1e-4, **bounds)
    except StopIteration:
        return {}, np.inf
    end = path.y[:, -1]
    unbalanced = np.max(abs(rates(end[:, None])[size:])) * CAPACITY if path.success else np.inf
    return dict(zip(s.compartments, end[size:], strict=True)), unbalanced


def _of_time(case, _):
    """Of what is solved by a march from rest, and by nothing simpler."""
    with mock.patch.object(pseudo_transient, "march", wraps=pseudo_transient.march) as march:
        found = ended(case)
    if isinstance(found, str) or not march.called:
        return None
    warm, unbalanced = in_time(case)
    if unbalanced > 1e-8:  # W: 5 mK of still air
        return f"given up, {unbalanced:.2g} W out of balance"
    goal = b"".join(found["compartments", name, "temperature"] for name in warm)
    apart = np.max(abs(np.frombuffer(goal) - case.outside.temperature - [*warm.values()]))
    return "" if apart < 0.01 else f"{apart:.2g} K apart"


def _of_order(case, seed):
    return "" if ended(shuffled(case, seed)) == ended(case) else "another answer in another order"


def _of_neighbours(case, seed):
    changes = varied(case, seed, 2)
    batch = flownet.solve_many(case, changes)
    return "; ".join(filter(None, (parted(case, changes, v, batch) for v in range(2))))


SURVEYS = {
    "permuted": (enclosure, _of_order), "upright": (upright, _of_order),
    "batches": (enclosure, _of_neighbours), "timed": (upright, _of_time),
}  # fmt: skip


def main(which, count, first=0, most=60):
    make, check = SURVEYS[which]
    began, checked, wrong = time.time(), 0, 0
    for seed in range(first, first + count):
        case = make(seed)
        if len(case.compartments) > most:
            continue
        words = check(case, seed)
        if words is None:  # not solved, or solved by simpler means
            continue
        checked, wrong = checked + 1, wrong + bool(words)
        if words:
            print(f"seed {seed}: {words}")
        if checked % 5 == 0 or words:
            print(f"{checked} checked, {wrong} differ, {time.time() - began:.0f} s", flush=True)
    print(f"{which}: {checked} checked, {wrong} differ, {time.time() - began:.0f} s")
    return wrong


if __name__ == "__main__":
    sys.exit(bool(main(sys.argv[1], *map(int, sys.argv[2:]))))
