"""Studies that ask for runs, side by side: what they ask at a time is solved as one batch."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from concurrent.futures import Executor
from itertools import islice, pairwise
from typing import Any, TypeVar

import numpy as np

from flownet.solving.solve import Progress
from flownet.studies.runs import Outcomes, Run, evaluate

Found = TypeVar("Found")
# Asks for lists of runs, each `of` a case, and is sent what was solved of each list.
Search = Generator[list[list[Run]], list[Outcomes], Found]


def together(some: Sequence[Search[Found]]) -> Search[list[Found]]:
    """Several searches as one: what they ask at a time is solved as one batch."""
    ended: dict[int, Found] = {}
    waiting: dict[int, Any] = dict.fromkeys(range(len(some)))
    while waiting:
        asked = {}
        for i, answer in waiting.items():
            try:
                asked[i] = some[i].send(answer)
            except StopIteration as end:
                ended[i] = end.value
        if not asked:
            break
        answers = iter((yield [runs for want in asked.values() for runs in want]))
        waiting = {i: [*islice(answers, len(want))] for i, want in asked.items()}
    return [ended[i] for i in range(len(some))]


def found_by(
    looks: Search[Found], executor: Executor | None = None, progress: Progress | None = None
) -> Found:
    """What a search comes to, each batch that it asks for solved; progress is that of the first."""
    try:
        wanted = next(looks)
        while True:
            wanted, progress = looks.send(solved(wanted, executor, progress)), None
    except StopIteration as end:
        found: Found = end.value
        return found


def solved(
    wanted: Sequence[Sequence[Run]], executor: Executor | None = None,
    progress: Progress | None = None,
) -> list[Outcomes]:  # fmt: skip
    """Several lists of runs as one batch, apart again."""
    runs = [run for some in wanted for run in some]
    case: Any = runs[0].of if runs else None
    pairs = evaluate(case, runs, executor=executor, progress=progress)
    ends = np.cumsum([0, *map(len, wanted)])
    return [pairs.taken(np.flatnonzero((pairs.run >= a) & (pairs.run < b)))
            for a, b in pairwise(ends)]  # fmt: skip
