"""How many single faults the tests catch, each put into the code by itself.

    python -m tests.mutants                            100 faults, all areas
    python -m tests.mutants --area results --count 15 --seed 3

A fault is a constant, a sign, an operator or a comparison changed, two ends or arguments swapped,
a term dropped. Each is run with the test files of its area that call the function it stands in,
until one fails. Not asked are guards of our own output (`cases/*/expected.toml`), tests of pages
and pictures, and tests of how something is said. Printed are the faults that nothing noticed.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from random import Random
from typing import NamedTuple

from tests.mutants.faults import Fault, drawn, faults
from tests.mutants.runs import POLL, Child, Covered, covered, faulty, prepare

ROOT = Path(__file__).resolve().parents[2]
WANTED = 0.95


class Area(NamedTuple):
    """Part of the package, the test files that concern it, its share in a hundred faults."""

    code: tuple[str, ...]
    tests: tuple[str, ...]  # where no entry of NEARER fits
    share: int


AREAS = {
    "results": Area(
        ("equations/readout.py", "solver/acceptance.py", "results/limits.py", "pages/noise.py"),
        ("test_readout*.py", "test_solution.py", "test_noise_and_life.py", "test_physics.py",
         "test_promises.py", "network/test_layers.py", "test_slot_limit.py",
         "test_rounded_limit.py", "test_flow_limit.py", "test_moisture.py",
         "network/test_slow_fans.py"),
        20,
    ),
    "parts": Area(
        ("equations/component_temperatures.py",),
        ("test_readout*.py", "test_solution.py", "test_physics.py", "test_part_resistance.py",
         "studies/test_transient.py", "correlations/test_sinks.py"),
        15,
    ),
    "geometry": Area(
        ("equations/levels.py",),
        ("test_heights.py", "test_physics.py", "network/test_walls.py", "network/test_layers.py"),
        15,
    ),
    "findings": Area(
        ("findings/*.py", "results/streams.py"),
        ("findings/test_findings_*.py", "findings/test_returning.py"),
        15,
    ),
    "studies": Area(
        ("studies/**/*.py", "judging/assessment.py", "judging/voids.py", "judging/opposed.py",
         "enclosure/relative.py", "enclosure/overriding.py"),
        ("studies/test_*.py",),
        20,
    ),
    "laws": Area(
        ("equations/laws.py", "equations/curve_fits.py", "equations/tall_hole.py",
         "equations/neutral.py"),
        ("network/test_laws.py", "network/test_fits.py", "network/test_fan_*.py",
         "network/test_slow_fans.py", "network/test_kinds.py"),
        7,
    ),
    "model": Area(
        ("equations/state.py", "equations/branch.py", "equations/residual.py",
         "equations/assemble.py", "equations/walls.py", "equations/elements.py",
         "equations/layers.py", "equations/exposure.py", "equations/sinks.py",
         "solver/dividing.py", "judging/layered.py"),
        ("test_heights.py", "test_readout*.py", "test_physics.py", "test_promises.py"),
        8,
    ),
    "courses": Area(
        ("equations/stores.py", "solver/in_time.py", "solver/switching.py"),
        ("studies/test_transient.py", "correlations/test_sinks.py", "cli/test_studies.py"),
        5,
    ),
}  # fmt: skip
LAYERS = ("network/test_layers.py", "findings/test_findings_values.py")
VERDICTS = ("studies/test_assessment.py", "studies/test_compare.py", "studies/test_headroom.py")
TOLERANCES = (
    "studies/test_draws.py", "studies/test_tolerances.py", "studies/test_uncertainty.py",
)  # fmt: skip
COURSES = ("studies/test_transient.py",)
SUGGESTED = ("studies/test_suggest*.py", "findings/test_advice_tried.py")
NEARER = {
    "judging/assessment": VERDICTS,
    "judging/voids": (*VERDICTS, "network/test_slow_fans.py"),
    "judging/opposed": (*VERDICTS, "findings/test_findings_air.py",
                        "findings/test_findings_solved.py"),
    "results/streams": ("findings/test_returning.py", "findings/test_findings_*.py"),
    "judging/layered": LAYERS,
    "enclosure/": ("enclosure/test_relative.py", "findings/test_findings_conditions.py"),
    "equations/layers": LAYERS,
    "equations/residual": (*LAYERS, "test_heights.py", "test_readout*.py", "test_physics.py"),
    "solver/dividing": LAYERS,
    "equations/elements": ("network/test_kinds.py", "network/test_fan_kind.py", "test_readout*.py",
                      "correlations/test_installation.py", "test_physics.py"),
    "equations/tall_hole": ("network/test_draught.py", "network/test_laws.py"),
    "equations/neutral": ("network/test_draught.py", "findings/test_findings_air.py"),
    "equations/sinks": ("correlations/test_sinks.py", "findings/test_returning.py"),
    "equations/exposure": ("network/test_walls.py", "correlations/test_sun.py"),
    "equations/walls": ("network/test_walls.py", "test_readout*.py", "test_physics.py"),
    "studies/stacking": ("studies/test_pairs.py",),
    "studies/outcome": VERDICTS,
    "studies/choice/fan": ("studies/test_fan_choice*.py",),
    "studies/choice/eligibility": ("studies/test_fan_choice*.py", "studies/test_choice*.py"),
    "studies/choice/": ("studies/test_designs.py", "studies/test_useful.py",
                        "studies/test_choice*.py"),
    "studies/choose": ("studies/test_fan_choice*.py", "studies/test_choice*.py"),
    "studies/compare": ("studies/test_compare.py", "studies/test_assessment.py"),
    "studies/designs": ("studies/test_designs.py", "studies/test_sweep.py"),
    "studies/fans/": ("studies/test_curves.py", "studies/test_fan_curve.py"),
    "studies/headroom": ("studies/test_headroom.py",),
    "studies/levers": ("studies/test_levers.py",),
    "studies/outages": ("studies/test_dead_fan.py", "studies/test_compare.py"),
    "studies/course_notes": COURSES,
    "studies/ride_through": (*COURSES, "studies/test_compare.py"),
    "studies/searches": ("studies/test_headroom.py", "studies/test_dead_fan.py", *SUGGESTED),
    "studies/spell": COURSES,
    "studies/suggest": SUGGESTED,
    "studies/timeline": COURSES,
    "studies/transient": COURSES,
    "studies/runs": ("studies/test_pairs.py", *VERDICTS),
    "studies/rank": ("studies/test_rank.py", "studies/test_levers.py"),
    "studies/readings": ("studies/test_readings.py", "studies/test_calibrate.py",
                         "studies/test_fit.py"),
    "studies/size": ("studies/test_size.py", "cli/test_size.py"),
    "studies/sweep_stream": ("studies/test_sweep.py", "test_atomic.py"),
    "studies/sweep": ("studies/test_sweep.py", "studies/test_assessment.py"),
    "studies/uncertainty": TOLERANCES,
    "studies/tolerances": TOLERANCES,
    "studies/samples": TOLERANCES,
    "studies/chances": TOLERANCES,
    "studies/shares": TOLERANCES,
    "studies/effective_flow": ("studies/test_useful.py", "studies/test_compare.py"),
    "studies/verdicts": (*VERDICTS, "studies/test_fan_choice.py"),
}  # fmt: skip
PROSE = {"words.py", "explain.py", "entries.py", "keys.py", "fan_remarks.py",
         "__init__.py", "__main__.py"}  # fmt: skip


def main() -> int:
    """Exit code 1 where fewer than 95 of 100 faults are caught."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=100, help="faults in all (100)")
    parser.add_argument("--seed", type=int, default=1, help="of which faults are drawn (1)")
    parser.add_argument("--area", action="append", choices=AREAS, help="only this; repeatable")
    parser.add_argument("--jobs", type=int, default=1, help="processes at a time (1)")
    parser.add_argument("--list", action="store_true", help="say which faults, run nothing")
    given = parser.parse_args()
    prepare()
    caught, missed = 0, 0
    for name, count in shares(given.area or list(AREAS), given.count).items():
        chosen = drawn(all_faults(name), count, Random(f"{given.seed} {name}"))
        if given.list:
            print(*chosen, sep="\n")
            continue
        began = time.monotonic()
        survivors = list(survived(name, chosen, given.jobs))
        print(f"{name}: {len(chosen) - len(survivors)} of {len(chosen)} caught, "
              f"{time.monotonic() - began:.0f} s")  # fmt: skip
        caught, missed = caught + len(chosen) - len(survivors), missed + len(survivors)
    if not given.list:
        print(f"all: {caught} of {caught + missed} caught")
    return int(caught < WANTED * (caught + missed))


def shares(names: list[str], count: int) -> dict[str, int]:
    """So many faults of each area, by its share."""
    whole = sum(AREAS[name].share for name in names)
    steps = [round(count * sum(AREAS[n].share for n in names[:i]) / whole)
             for i in range(len(names) + 1)]  # fmt: skip
    return {name: steps[i + 1] - steps[i] for i, name in enumerate(names)}


def all_faults(area: str) -> list[Fault]:
    """Every fault that could be put into an area."""
    files = _files("flownet", AREAS[area].code)
    return [f for file in files if Path(file).name not in PROSE for f in faults(ROOT, file)]


def survived(area: str, chosen: list[Fault], jobs: int) -> Iterator[Fault]:
    """The faults that no test notices, as they are found; each is printed."""
    waiting, running = list(chosen), list[tuple[Fault, Child]]()
    while waiting or running:
        while waiting and len(running) < jobs:
            fault = waiting.pop(0)
            if (child := _started(fault, tests_of(area, fault.file))) is None:
                print(f"  nothing calls it: {fault}", flush=True)
                yield fault
            else:
                running.append((fault, child))
        for fault, child in [pair for pair in running if pair[1].poll()]:
            running.remove((fault, child))
            if child.code == 0:
                print(f"  survived: {fault}", flush=True)
                yield fault
        time.sleep(POLL)


def tests_of(area: str, file: str) -> list[str]:
    """The test files that concern a file of an area."""
    near = (tests for start, tests in NEARER.items() if file.startswith(f"flownet/{start}"))
    return _files("tests", next(near, AREAS[area].tests))


@cache
def _known(file: str) -> Covered:
    return covered(ROOT, file)


def _started(fault: Fault, files: list[str]) -> Child | None:
    """The tests that call the function of a fault, the fastest file first."""
    place = fault.file, fault.function
    known = [_known(file) for file in files]
    useful = [c for c in known if not fault.function or place in c.functions]
    if not useful:
        return None
    ordered = sorted(useful, key=lambda c: c.seconds)
    module = fault.file.removesuffix(".py").replace("/", ".")
    limit = 60.0 + 4 * sum(c.seconds for c in ordered)
    return faulty([c.file for c in ordered], module, fault.source(ROOT), limit)


def _files(folder: str, patterns: tuple[str, ...]) -> list[str]:
    """Files below the root, each once, in the order of the patterns."""
    found = Counter(str(path.relative_to(ROOT)) for pattern in patterns
                    for path in sorted((ROOT / folder).glob(pattern)))  # fmt: skip
    return list(found)


if __name__ == "__main__":
    sys.exit(main())
