"""Measures everything side by side in one run, and writes the table of `docs/performance.md`.

`python -m tests.benchmarks [--quick]`: ratios with medians and spread; absolute times belong to the
machine they were taken on.
"""

from __future__ import annotations

import resource
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

import flownet
from flownet.columns import Inputs
from flownet.equations.assemble import assemble
from flownet.equations.topology import Structure
from flownet.solver import refusals, steady
from flownet.solver.jacobian import Pattern
from flownet.solving.attempt import judged
from tests.benchmarks import rootfinder
from tests.benchmarks.cabinet import cabinet, variations
from tests.benchmarks.grids import grid, neighbours

PAGE = Path(__file__).parents[2] / "docs" / "performance.md"
HEAD = """\
# Performance

Written by `python -m tests.benchmarks`: everything in one run on one core, medians of the rounds
with their spread. What counts are the ratios; the times are those of one machine.

What limits the batch: plain NumPy makes some 50 passes over arrays of branches and variants in each
of nine or ten rounds, so memory traffic and the calls themselves are the cost. Of the time a
quarter goes to the eliminations, half to laws and heat, a quarter to building and results. A
compiled kernel as an optional extra was weighed with numba: eliminations alone compiled make the
batch 1.25 times as fast; whole rounds compiled, tried with the laws of this cabinet only and
nothing checked, took 15 us a variant where NumPy takes some 130, so that the batch would be at
about 50 us. The price: 208 MB to install, some seconds of compiling in every
fresh process, and every law, wall film and heat balance written a second time, in loops, with tests
that both say the same. Nobody waits long at today's speed for what an engineer varies (10,000
variants: two seconds), and what cannot disagree need not be checked: it is not done.

One variant alone is eliminated number by number in plain Python, five times faster than by arrays
of length one. What is left of a single solve are thousands of calls of NumPy on arrays of a few
dozen numbers, each of which costs more than its arithmetic.

Random networks of near neighbours have no fan near most of their heat: draught decides there, and
the quick passes alone do not settle.

"""


def timed(work: Callable[[], Any], rounds: int) -> tuple[float, float, float]:
    """Median, least and most seconds."""
    found = []
    for _ in range(rounds):
        began = time.perf_counter()
        work()
        found.append(time.perf_counter() - began)
    return statistics.median(found), min(found), max(found)


def shown(seconds: tuple[float, float, float], count: int) -> str:
    each = [1e6 * value / count for value in seconds]
    return f"{each[0]:.0f} us ({each[1]:.0f} to {each[2]:.0f})"


def batch(count: int, rounds: int) -> list[str]:
    """Many variants of the reference cabinet: the batch, a loop of our own, SciPy's root finder."""
    case, changes = cabinet(), variations(count)
    flownet.solve(case)
    many = timed(lambda: flownet.solve_many(case, changes), rounds)
    few = max(8, count // 100)
    first = {path: value[:few] for path, value in changes.items()}
    one = timed(lambda: [flownet.solve(case, changes={p: v[i] for p, v in first.items()})
                         for i in range(few)], rounds)  # fmt: skip
    inputs, structure = Inputs.of(case).changed(first), Structure.of(case)
    model = assemble(inputs, structure)
    good: list[bool] = []

    def loop() -> None:
        good[:] = [rootfinder.solve(model.take([i]))[0] for i in range(few)]

    scipy = timed(loop, rounds)
    each = many[0] / count
    ok = flownet.solve_many(case, changes).ok
    rows = [
        ("`solve_many`, a variant", shown(many, count), "1", f"{int(ok.sum())} of {count} solved"),
        ("loop of `solve`", shown(one, few), f"{one[0] / few / each:.0f}", "building included"),
        ("`scipy.optimize.root`, hybr, analytic Jacobian", shown(scipy, few),
         f"{scipy[0] / few / each:.0f}", f"{sum(good)} of {few} solved; building not included"),
    ]  # fmt: skip
    title = f"## {count} variants of a cabinet with {len(case.compartments)} compartments, " \
            f"{len(case.branches)} branches, {len(case.fans)} fans"  # fmt: skip
    return [title, "", "Flow, heat and buoyancy, every result; 62 inputs varied.", "",
            "| way | each | ratio | |", "|---|---|---|---|",
            *("| " + " | ".join(row) + " |" for row in rows), ""]  # fmt: skip


def single(rounds: int) -> list[str]:
    """Where the time of one solve goes."""
    case = cabinet()
    structure, inputs = Structure.of(case), Inputs.of(case)
    model, pattern = assemble(inputs, structure), Pattern(structure)
    found = steady.solve(model, pattern)
    stages = {
        "columns of the inputs": lambda: Inputs.of(case),
        "model: arrays of all laws": lambda: assemble(inputs, structure),
        "what has no solution is looked for": lambda: refusals.refusals(model),
        "flow and heat": lambda: steady.solve(model, pattern),
        "results": lambda: judged(inputs, model, found).select(0),
        "`solve`, all of it": lambda: flownet.solve(case),
    }
    rows = [(name, 1e3 * timed(work, rounds)[0]) for name, work in stages.items()]
    whole = rows[-1][1]
    return ["## One solve of the same cabinet", "", "| stage | time | share |", "|---|---|---|",
            *(f"| {name} | {each:.1f} ms | {100 * each / whole:.0f} % |" for name, each in rows),
            ""]  # fmt: skip


def large(grids: list[int], random: list[int]) -> list[str]:
    """Time and memory of single large networks, and how they grow."""
    lines = ["## Large networks", "", "| network | compartments | making inputs and model | solve "
             "| memory of the process |", "|---|---|---|---|---|"]  # fmt: skip
    kinds = ("grid", grid, grids), ("random, near neighbours", neighbours, random)
    for name, make, sizes in kinds:
        times = []
        for size in sizes:
            case = make(size)
            began = time.perf_counter()
            assemble(Inputs.of(case), Structure.of(case))
            built = time.perf_counter() - began
            began = time.perf_counter()
            flownet.solve(case)
            times.append((len(case.compartments), time.perf_counter() - began))
            memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
            lines.append(f"| {name} | {times[-1][0]:,} | {built:.2f} s | {times[-1][1]:.2f} s "
                         f"| {memory:.2f} GB |")  # fmt: skip
        (n0, t0), (n1, t1) = times[0], times[-1]
        power = np.log(t1 / t0) / np.log(n1 / n0)
        lines.append(f"| {name} | growth from {n0:,} to {n1:,} | | n^{power:.2f} | |")
    return [*lines, ""]


def main(quick: bool) -> None:
    lines = batch(200 if quick else 10_000, 2 if quick else 5) + single(9 if quick else 101)
    if quick:
        lines += large([1_000, 4_000], [500, 1_000])
    else:
        lines += large([1_000, 10_000, 100_000], [1_000, 10_000, 100_000])
    text = HEAD + "\n".join(lines).rstrip() + "\n"
    print(text)
    if not quick:
        PAGE.write_text(text)


if __name__ == "__main__":
    main("--quick" in sys.argv)
