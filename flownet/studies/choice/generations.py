"""A choice with too many combinations: what a search has seen, generation by generation."""

from __future__ import annotations

import dataclasses

import numpy as np

from flownet.schema.arrays import Array
from flownet.studies.choice import search
from flownet.studies.choice.moves import finer
from flownet.studies.choice.tables import Work, table_of
from flownet.studies.choice.trial import Trial


def generations(work: Work, most: int) -> list[Trial]:
    """Generations of combinations, by each measure; two measures also by the sum of their shares
    of what the first generation spans."""
    trials: list[Trial] = []
    known: dict[bytes, tuple[int, int]] = {}
    goals: list[tuple[str, ...]] = [(name,) for name in work.best]
    goals += [work.best] if len(work.best) == 2 else []
    for goal in goals:
        judge = _Judge(work, trials, known, goal)
        search.search(work.space, judge, most=most // len(goals), seed=work.seed)
    return trials + finer(work, trials) if work.space.free else trials


@dataclasses.dataclass(eq=False)
class _Judge:
    """Solves the combinations of a generation that were not seen before."""

    work: Work
    trials: list[Trial]
    known: dict[bytes, tuple[int, int]]
    goal: tuple[str, ...]
    spans: dict[str, tuple[float, float]] = dataclasses.field(default_factory=dict)

    def __call__(self, rows: Array) -> Array:
        space = self.work.space
        first = np.array([axis.low if axis.continuous else 0.0 for axis in space.axes])
        plain = np.where(space.idle(rows), first, rows)
        unseen = {row.tobytes(): row for row in plain if row.tobytes() not in self.known}
        if unseen:
            trial = self.work._replace(progress=None).trial(np.array(list(unseen.values())))
            trial.run(prune=False)
            self.known |= {key: (len(self.trials), i) for i, key in enumerate(unseen)}
            self.trials.append(trial)
        where = [self.known[row.tobytes()] for row in plain]
        tables = {k: table_of([self.trials[k]]) for k in {k for k, _ in where}}
        score = np.array([tables[k].score[i] for k, i in where])
        accepted = np.array([tables[k].accepted[i] for k, i in where])
        names = self.goal
        values = {n: np.array([tables[k].measures[n][i] for k, i in where]) for n in names}
        measure = sum(self._share(n, v) if len(names) > 1 else v for n, v in values.items())
        return search.merit(np.asarray(measure), score, accepted)

    def _share(self, name: str, values: Array) -> Array:
        if name not in self.spans:
            known = values[np.isfinite(values)]
            low, high = (known.min(), known.max()) if len(known) else (0.0, 1.0)
            self.spans[name] = float(low), float(max(high - low, 1e-9))
        low, span = self.spans[name]
        return (values - low) / span
