"""How many single faults the tests catch, each put into the code by itself.

    python -m tests.mutants                            100 faults, all areas
    python -m tests.mutants --area results --count 15 --seed 3

A fault is a constant, a sign, an operator or a comparison changed, two ends or arguments swapped,
a term dropped. Each is run with the tests of its area that call the function it stands in, then
with the rest of their files, until one fails; what none of these notices, with all other files that
call it. Not asked are guards of our own output (`cases/*/expected.toml`), tests of pages and
pictures, and tests of how something is said. Printed are the faults that nothing noticed, and how
many only the others did.

In no area: what of `solver` only seeks (a fault there ends at no answer, or at one that
`acceptance` and random networks hold against the equations), and `topology`, `batch`, `tables` and
`solution`, which carry numbers and make none. Not drawn from so far: `physics`, the rest of
`enclosure`, and of `solver` many states, stability, speeds that follow, and sensitivities.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import NamedTuple

from tests.mutants.faults import Fault, drawn, faults
from tests.mutants.runs import Child, Covered, covered, faulty, prepare, side_by_side

ROOT = Path(__file__).resolve().parents[2]
WANTED = 0.95


class Area(NamedTuple):
    """Part of the package, the test files that concern it, its share in a hundred faults."""

    code: tuple[str, ...]
    tests: tuple[str, ...]  # where no entry of NEARER fits
    share: int


AREAS = {
    "results": Area(
        ("equations/readout.py", "solver/acceptance.py", "results/limits.py", "results/origins.py",
         "pages/noise.py"),
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
        ("network/test_in_time.py", "studies/test_transient.py", "correlations/test_sinks.py"),
        5,
    ),
}  # fmt: skip
LAYERS = ("network/test_layers.py", "findings/test_findings_values.py")
VERDICTS = ("studies/test_assessment.py", "studies/test_compare.py", "studies/test_headroom.py")
TOLERANCES = (
    "studies/test_draws.py", "studies/test_tolerances.py", "studies/test_uncertainty*.py",
)  # fmt: skip
COURSES = ("studies/test_transient*.py",)
SUGGESTED = ("studies/test_suggest*.py", "findings/test_advice_tried.py")
NEARER = {
    "results/origins": ("test_origins.py", "findings/test_returning.py"),
    "judging/assessment": VERDICTS,
    "judging/voids": (*VERDICTS, "network/test_slow_fans.py"),
    "judging/opposed": (*VERDICTS, "findings/test_findings_air.py",
                        "findings/test_findings_solved.py"),
    "results/streams": ("findings/test_returning.py", "findings/test_findings_*.py"),
    "judging/layered": (*LAYERS, "network/test_draught.py"),
    "enclosure/": ("enclosure/test_relative.py", "findings/test_findings_conditions.py"),
    "equations/layers": LAYERS,
    "equations/residual": (*LAYERS, "network/test_branches.py", "test_heights.py",
                           "test_readout*.py", "test_physics.py"),
    "solver/dividing": LAYERS,
    "equations/elements": ("network/test_kinds.py", "network/test_fan_kind.py", "test_readout*.py",
                      "correlations/test_installation.py", "test_physics.py"),
    "equations/tall_hole": ("network/test_draught.py", "network/test_laws.py"),
    "equations/neutral": ("network/test_draught.py", "test_readout*.py", "test_physics.py"),
    "equations/sinks": ("correlations/test_sinks.py", "findings/test_returning.py"),
    "equations/exposure": ("network/test_walls.py", "correlations/test_sun.py"),
    "equations/walls": ("network/test_walls.py", "test_readout*.py", "test_physics.py",
                        "network/test_in_time.py"),
    "equations/branch": ("network/test_branches.py", "test_physics.py", "test_heights.py",
                         "network/test_draught.py", "network/test_layers.py", "test_readout*.py",
                         "test_promises.py"),
    "equations/state": ("test_physics.py", "test_heights.py", "network/test_draught.py",
                        "network/test_layers.py", "network/test_in_time.py", "test_readout*.py"),
    "studies/stacking": ("studies/test_pairs.py",),
    "studies/outcome": VERDICTS,
    "studies/choice/fan": ("studies/test_fan_choice*.py", "studies/test_choice_words.py"),
    "studies/choice/eligibility": ("studies/test_fan_choice*.py", "studies/test_choice*.py"),
    "studies/choice/axes": ("studies/test_choice.py", "studies/test_fan_choice.py"),
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
# Asked for no fault: the house, the text of pages, pictures, guards of our own output, and what
# runs otherwise here.
NEVER = ("browser/*", "cli/*", "pictures/*", "report/*", "casefile/test_mutants.py",
         "enclosure/test_wording.py", "findings/test_explain.py", "test_commission.py",
         "test_docs.py", "test_each.py", "test_house.py", "test_mutants.py", "test_odd_text.py",
         "test_review.py", "test_startup.py")  # fmt: skip
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
    counts = Counter[str]()
    for name, count in shares(given.area or list(AREAS), given.count).items():
        chosen = drawn(all_faults(name), count, Random(f"{given.seed} {name}"))
        if given.list:
            print(*chosen, sep="\n")
            continue
        began, own = time.monotonic(), found(name, chosen, given.jobs)
        print(f"{name}: {_said(own)}, {time.monotonic() - began:.0f} s", flush=True)
        counts += own
    if not given.list:
        print(f"all: {_said(counts)}")
    return int(counts["survived"] > (1 - WANTED) * counts.total())


def _said(counts: Counter[str]) -> str:
    whole = counts.total()
    return (f"{whole - counts['survived']} of {whole} caught, "
            f"{counts['elsewhere']} of them only by tests of other areas")  # fmt: skip


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


def found(area: str, chosen: list[Fault], jobs: int) -> Counter[str]:
    """How many are noticed near, only elsewhere, or survived; the last two are printed."""
    passed = unnoticed(chosen, lambda fault: nearest(area, fault.file), jobs)
    survived = unnoticed(passed, lambda fault: others(area, fault.file), jobs)
    for fault in passed:
        print(f"  {'survived' if fault in survived else 'noticed elsewhere'}: {fault}")
    far = len(passed) - len(survived)
    return Counter(near=len(chosen) - len(passed), elsewhere=far, survived=len(survived))


def unnoticed(chosen: list[Fault], asked: Callable[[Fault], list[str]], jobs: int) -> list[Fault]:
    """The faults that none of the tests asked notices, in their order."""
    files = list(dict.fromkeys(file for fault in chosen for file in asked(fault)))
    known = covered(ROOT, files, jobs)
    runs = {fault: _run(fault, [known[file] for file in asked(fault)]) for fault in chosen}
    called = ((fault, run) for fault, run in runs.items() if run is not None)
    noticed = {fault for fault, child in side_by_side(called, jobs) if child.code}
    return [fault for fault in chosen if fault not in noticed]


def nearest(area: str, file: str) -> list[str]:
    """The test files that concern a file of an area."""
    near = (tests for start, tests in NEARER.items() if file.startswith(f"flownet/{start}"))
    return _files("tests", next(near, AREAS[area].tests))


def others(area: str, file: str) -> list[str]:
    """All other test files."""
    left_out = {*nearest(area, file), *_files("tests", NEVER)}
    return [other for other in _files("tests", ("**/test_*.py",)) if other not in left_out]


def _run(fault: Fault, known: list[Covered]) -> Callable[[], Child] | None:
    """Starts the tests that call the function of a fault, the fastest file first."""
    place = fault.file, fault.function
    useful = [c for c in known if not fault.function or c.calling(place)]
    ordered = sorted(useful, key=lambda c: c.seconds)
    first = {test for c in ordered for test in c.calling(place)}
    module = fault.file.removesuffix(".py").replace("/", ".")
    limit = 60.0 + 4 * sum(c.seconds for c in ordered)
    files = [c.file for c in ordered]
    return (lambda: faulty(files, first, module, fault.source(ROOT), limit)) if files else None


def _files(folder: str, patterns: tuple[str, ...]) -> list[str]:
    """Files below the root, each once, in the order of the patterns."""
    found = Counter(str(path.relative_to(ROOT)) for pattern in patterns
                    for path in sorted((ROOT / folder).glob(pattern)))  # fmt: skip
    return list(found)


if __name__ == "__main__":
    sys.exit(main())
