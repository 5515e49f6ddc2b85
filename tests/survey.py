"""Surveys of thousands of random enclosures, outside the test suite.

`python -m tests.survey [COUNT] [FIRST_SEED] [MARCHED]`: each meets the promise or is refused by
name; what fails is printed with its seed. Not asked for is what `solve` looks for beside (other
states, the same without air that returns), which costs half as much again. Of the solved the first
MARCHED (default 5 % of COUNT, at most 200) that can be are checked by a march in time with
`scipy.integrate`.
"""

from __future__ import annotations

import collections
import sys
import time
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from flownet.columns import Inputs
from flownet.equations.assemble import assemble
from flownet.equations.branch import STILL
from flownet.equations.residual import residual
from flownet.equations.topology import Structure
from flownet.schema.errors import CaseError, NoSolution
from flownet.solver import fixed_temperature
from flownet.solving.solve import solved_alone
from tests.random_enclosures import enclosure

CHECKED_BY_TIME, MOST_CHECKED = 0.05, 200  # of those asked for
STIFF = 5000  # evaluations of a march in time, after which it is given up and counted


def outcome(seed: int) -> tuple[str, Any, Any]:
    """How one ends: word, enclosure, solution or message."""
    case = enclosure(seed)
    try:
        return "solved", case, solved_alone(case)
    except CaseError as error:
        return "refused before", case, str(error)
    except NoSolution as error:
        words = str(error)
        return ("refused after" if "nowhere to go" in words else "failed"), case, words


def by_time(case: Any, solution: Any) -> float:
    """Largest temperature difference [K] between a solution and where a march in time ends.

    The energy balance as a differential equation (1 J/K in every compartment), flows solved afresh
    at every temperature, until long after the slowest exchange of heat has settled; started 2 % of
    each rise away, it must come back. NaN where that takes more than `STIFF` evaluations.
    """
    structure = Structure.of(case)
    model = assemble(Inputs.of(case), structure)
    goal = np.array([solution.compartments[c].temperature for c in structure.compartments])
    outside = float(model.outside_temperature[0, 0])

    left = iter(range(STIFF))

    def rate(_: float, warm: Any) -> Any:
        next(left)
        state = model.at_rest(1)
        state = model.state(state.mass_flow, state.pressure[: structure.inside], warm[:, None])
        found = fixed_temperature.solve(model, state)
        state = model.state(found.mass_flow, found.pressure[: structure.inside], warm[:, None])
        return residual(model, state).energy[:, 0]

    start = outside + (goal - outside) * 0.98
    settled = 30.0 * len(goal) / (2 * STILL * 1006.0)
    try:
        found = solve_ivp(rate, (0.0, settled), start, method="LSODA", rtol=1e-8, atol=1e-7)
    except StopIteration:
        return float("nan")
    return float(np.max(abs(found.y[:, -1] - goal))) if found.success else float("inf")


def can_be_marched(case: Any) -> bool:
    """Small, and no fan with a dip, whose flow needs a path of its own."""
    falling = all(fan.type != "dipped" for fan in case.fans.values())
    return len(case.compartments) <= 25 and falling


def main(count: int, first: int, marched: int) -> int:
    tally: collections.Counter[str] = collections.Counter()
    started, failed, checked = time.time(), [], []
    for seed in range(first, first + count):
        word, case, found = outcome(seed)
        tally[word] += 1
        if word == "failed":
            failed.append(seed)
            print(f"seed {seed}: {len(case.compartments)} compartments: {found[:160]}")
        if word == "solved":
            tally["unstable"] += not found.stable
            tally["dipped"] += any(f.type == "dipped" and f.running for f in case.fans.values())
            if len(checked) < marched and can_be_marched(case):
                checked.append((seed, by_time(case, found)))
        if (seed + 1 - first) % 100 == 0:
            print(f"to seed {seed}: {dict(tally)}, {time.time() - started:.0f} s", flush=True)
    print(dict(tally), f"{time.time() - started:.0f} s")
    ended = [pair for pair in checked if pair[1] == pair[1]]
    if checked:
        print(f"{len(ended)} marched in time, {len(checked) - len(ended)} given up as too stiff")
    if ended:
        worst = max(ended, key=lambda pair: pair[1])
        print(f"farthest from the solution {worst[1]:.2g} K, seed {worst[0]}")
    return len(failed)


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    asked, begun = (numbers + [1000, 0][len(numbers) :])[:2]
    usual = min(MOST_CHECKED, round(CHECKED_BY_TIME * asked))
    sys.exit(bool(main(asked, begun, numbers[2] if len(numbers) > 2 else usual)))
