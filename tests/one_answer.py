"""One case has one answer, whatever the order of its tables and its neighbours.

For tests, and `python -m tests.one_answer permuted|upright|batches COUNT [FIRST_SEED] [MOST]`: a
survey of random enclosures of at most MOST compartments, of those with upright ducts and three
times the heat, or of random batches.
"""

from __future__ import annotations

import sys
import time

import numpy as np

import flownet
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
    if alone.ok[0] != batch.ok[variant]:
        return f"{alone.status[0]!r} alone, {batch.status[variant]!r} in a batch"
    if not alone.ok[0]:
        return ""
    warm = (x.compartments.columns["temperature"] for x in (alone, batch))
    apart = np.max(abs(next(warm)[:, 0] - next(warm)[:, variant]))
    stable = alone.balance_["stable"][0] == batch.balance_["stable"][variant]
    return "" if apart < 1e-4 and stable else f"{apart:.2g} K apart, stability alike: {stable}"


def _of_order(case, seed):
    return "" if ended(shuffled(case, seed)) == ended(case) else "another answer in another order"


def _of_neighbours(case, seed):
    changes = varied(case, seed)
    batch = flownet.solve_many(case, changes)
    return "; ".join(filter(None, (parted(case, changes, v, batch) for v in range(4))))


SURVEYS = {
    "permuted": (enclosure, _of_order), "upright": (upright, _of_order),
    "batches": (enclosure, _of_neighbours),
}  # fmt: skip


def main(which, count, first=0, most=60):
    make, check = SURVEYS[which]
    began, checked, wrong = time.time(), 0, 0
    for seed in range(first, first + count):
        case = make(seed)
        if len(case.compartments) > most:
            continue
        words = check(case, seed)
        checked, wrong = checked + 1, wrong + bool(words)
        if words:
            print(f"seed {seed}: {words}")
        if checked % 5 == 0 or words:
            print(f"{checked} checked, {wrong} differ, {time.time() - began:.0f} s", flush=True)
    print(f"{which}: {checked} checked, {wrong} differ, {time.time() - began:.0f} s")
    return wrong


if __name__ == "__main__":
    sys.exit(bool(main(sys.argv[1], *map(int, sys.argv[2:]))))
