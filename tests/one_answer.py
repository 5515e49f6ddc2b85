"""One case has one answer, whatever the order of its tables and its neighbours.

For tests, and `python -m tests.one_answer WHICH COUNT [FIRST_SEED] [MOST]`, a survey of random
enclosures of at most MOST compartments: `permuted`; `upright`, those with upright ducts and three
times the heat; `batches` against one by one; `timed`, the upright ones against an integrator.
"""

from __future__ import annotations

import sys
import time

import numpy as np
from scipy.integrate import solve_ivp

import flownet
from flownet.columns import Inputs
from flownet.equations.assemble import assemble
from flownet.equations.branch import branches
from flownet.equations.residual import residual
from flownet.equations.topology import Structure
from flownet.results.solution import TABLE_NAMES
from flownet.schema.errors import FlownetError
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


INERTANCE, CAPACITY = 40.0, 5.0  # 1/m of every branch, J/K of every compartment: theory.md, 8
EVALUATIONS = 60_000  # of the rates, after which a march counts as given up


def in_time(case, seconds=1e8, tolerance=1e-6):
    """LSODA from rest on the flow of every open branch and the heat of every compartment.

    Returns times, K above the outside (compartments, times), and whether the end was reached. Mass
    is conserved exactly: pressures are those by which it stays so.
    """
    s = Structure.of(case)
    model, count, left = assemble(Inputs.of(case), s), len(s.branches), [EVALUATIONS]
    rows = np.flatnonzero(np.broadcast_to(model.open, (count, 1))[:, 0])
    out = s.network.outflow.toarray()[:, rows]
    pressed, base = np.linalg.pinv(out @ out.T) @ out, model.outside_temperature[0, 0]

    def rates(_, values):
        left[0] -= 1
        if left[0] < 0:
            raise TimeoutError
        flow = np.zeros((count, 1))
        flow[rows, 0] = values[: len(rows)] * 1e-5
        state = model.state(flow, np.zeros((s.inside, 1)), values[len(rows) :, None] + base)
        here = branches(model, state)
        found = residual(model, state, here)
        gap = found.pressure[rows, 0]
        moved = (gap - out.T @ (pressed @ gap)) / INERTANCE / 1e-5
        return np.concatenate([moved, found.energy[:, 0] / CAPACITY])

    begin = np.zeros(len(rows) + s.inside)
    try:
        path = solve_ivp(rates, (0, seconds), begin, "LSODA", rtol=tolerance, atol=tolerance)
    except TimeoutError:
        return np.zeros(1), begin[len(rows) :, None], False
    return path.t, path.y[len(rows) :], path.success


def _of_time(case, _):
    if Structure.of(case).mixes or isinstance(found := ended(case), str):
        return None
    _, warm, reached = in_time(case)
    if not reached:
        return None
    goal = [found["compartments", name, "temperature"] for name in case.compartments]
    rise = np.frombuffer(b"".join(goal)) - case.outside.temperature
    apart = np.max(abs(rise - warm[:, -1]))
    return "" if apart < 0.01 else f"{apart:.2g} K apart"


def _of_order(case, seed):
    return "" if ended(shuffled(case, seed)) == ended(case) else "another answer in another order"


def _of_neighbours(case, seed):
    changes = varied(case, seed)
    batch = flownet.solve_many(case, changes)
    return "; ".join(filter(None, (parted(case, changes, v, batch) for v in range(4))))


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
        if words is None:  # not solved, not of this kind, or too stiff
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
