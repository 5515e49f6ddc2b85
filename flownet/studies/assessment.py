"""How pairs stand: what `flownet.judging.assessment` judges by, gathered from their batches."""

from __future__ import annotations

import numpy as np

from flownet.judging.assessment import Assessment, Runs, assess
from flownet.judging.voids import STALL, Void, fan_out, voids
from flownet.schema.arrays import Array
from flownet.studies.runs import Pairs


def assess_pairs(pairs: Pairs, out: Array | None = None) -> Assessment:
    """How every pair stands.

    `out`: (pairs,) whether a fan that runs in the design is out; by default what the scenarios of
    the pairs stop, and what does not run.
    """
    found = _voids(pairs)
    stalls = any(item.word == STALL for item in found)
    if out is None:
        out = _out(pairs) if stalls else np.zeros(len(pairs), bool)
    outside = pairs.per_pair(lambda batch: batch.site["temperature"].real)
    return assess(Runs(pairs.limits, pairs.ok, pairs.tight, outside, tuple(found), out))


def _voids(pairs: Pairs) -> list[Void]:
    """Those of all batches, over pairs."""
    found: dict[tuple[str, str], Array] = {}
    for number, batch in enumerate(pairs.batches):
        here = pairs.batch == number
        for word, subject, runs in voids(batch):
            mask = found.setdefault((word, subject), np.zeros(len(pairs), bool))
            mask[here] = runs[pairs.place[here]]
    return [Void(*key, runs) for key, runs in found.items()]


def _out(pairs: Pairs) -> Array:
    """(pairs,) whether a fan that the scenario stops does not run."""
    found = np.zeros(len(pairs), bool)
    for setup, made in enumerate(pairs.cases):
        failed = made.applied.failed if made is not None else ()
        here = pairs.setup == setup
        if failed and here.any():
            batch = pairs.batches[pairs.batch[here][0]]
            found[here] = fan_out(batch, failed)[pairs.place[here]]
    return found
