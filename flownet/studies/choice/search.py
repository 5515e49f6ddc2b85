"""Beyond what can all be tried: differential evolution in batches, and free values moved by slopes.

Each generation is one batch of combinations in every scenario. What breaks a limit counts worse
than anything that holds, what has no solution worse than anything that has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from flownet.schema.arrays import Array
from flownet.studies.choice.axes import BEST, Space
from flownet.studies.choice.evaluate import Evaluation, Task
from flownet.studies.choice.order import TrialTable, merit, table_of
from flownet.studies.choice.refine import Fine

PER_AXIS = 12  # members of a generation, an axis
MEMBERS = (24, 240)  # at least, at most
STARTS = 6  # combinations of listed values whose free values are moved


def generations(work: Task, most: int) -> list[Evaluation]:
    """Generations of combinations, by each measure; two measures also by the sum of their shares
    of what the first generation spans."""
    trials: list[Evaluation] = []
    known: dict[bytes, Array] = {}
    goals: list[tuple[str, ...]] = [(name,) for name in work.best]
    goals += [work.best] if len(work.best) == 2 else []
    for goal in goals:
        judge = Fitness(work, trials, known, goal)
        evolve(work.space, judge, most=most // len(goals), seed=work.seed)
    return trials + finer(work, trials) if work.space.free else trials


@dataclass(eq=False)
class Fitness:
    """Solves the combinations of a generation that were not seen before."""

    work: Task
    trials: list[Evaluation]
    known: dict[bytes, Array]  # combination -> score, whether accepted, every measure
    goal: tuple[str, ...]
    spans: dict[str, tuple[float, float]] = field(default_factory=dict)

    def __call__(self, rows: Array) -> Array:
        plain = self.work.space.plain(rows)
        unseen = {row.tobytes(): row for row in plain if row.tobytes() not in self.known}
        if unseen:
            trial = self.work._replace(progress=None).trial(np.array(list(unseen.values())))
            trial.run(prune=False)
            self.trials.append(trial)
            table = table_of([trial])
            measures = [table.measures[name] for name in BEST]
            told = np.column_stack([table.score, table.accepted, *measures])
            self.known.update(zip(unseen, told, strict=True))
        score, accepted, *found = np.array([self.known[row.tobytes()] for row in plain]).T
        values = {name: found[BEST.index(name)] for name in self.goal}
        if len(values) > 1:
            values = {name: self._share(name, each) for name, each in values.items()}
        return merit(np.asarray(sum(values.values())), score, accepted > 0)

    def _share(self, name: str, values: Array) -> Array:
        if name not in self.spans:
            known = values[np.isfinite(values)]
            low, high = (known.min(), known.max()) if len(known) else (0.0, 1.0)
            self.spans[name] = float(low), float(max(high - low, 1e-9))
        low, span = self.spans[name]
        return (values - low) / span


def evolve(
    space: Space, judge: Callable[[Array], Array], *, most: int, seed: int
) -> None:  # fmt: skip
    """Let `judge` see generation after generation, until they are alike or `most` were seen.

    Parameters
    ----------
    space : Space
        Axes with a list are whole numbers, the places in it; the others are values.
    judge : callable
        (combinations, axes) of a generation -> (combinations,) the less the better.
    most : int
        Combinations, over all generations.
    seed : int
    """
    from scipy import optimize  # noqa: PLC0415 - 0.3 s that only this needs

    axes = space.axes
    bounds = [(a.low, a.high) if a.continuous else (0, len(a.values) - 1) for a in axes]
    members = int(np.clip(PER_AXIS * len(axes), *MEMBERS))
    first = np.random.default_rng(seed)
    start = np.array([
        first.uniform(low, high, members) if axis.continuous
        else first.integers(0, len(axis.values), members)
        for axis, (low, high) in zip(axes, bounds, strict=True)
    ], float).T  # fmt: skip

    def values(columns: Array) -> Array:
        rows = np.atleast_2d(columns.T)
        whole = np.array([not axis.continuous for axis in axes])
        return judge(np.where(whole, np.round(rows), rows))

    optimize.differential_evolution(
        values, bounds, init=start, integrality=[not a.continuous for a in axes],
        maxiter=max(most // members - 1, 1), tol=1e-6, polish=False, vectorized=True,
        updating="deferred", rng=np.random.default_rng(seed),
    )  # fmt: skip


def finer(work: Task, trials: Sequence[Evaluation]) -> list[Evaluation]:
    """Free values moved from the best combinations; solved again as any other."""
    table = table_of(trials)
    starts = _starts(work, table)
    rows = [moved for row in starts for moved in _moved(work, table.rows[row], table, row)]
    if not rows:
        return []
    trial = work._replace(progress=None).trial(work.space.merged(np.array(rows)))
    trial.run(prune=work.prune, seed=work.seed)
    return [trial]


def _starts(work: Task, table: TrialTable) -> list[int]:
    """The best that hold, then the closest that do not: each listed combination once; with two
    measures all of the front besides."""
    holding = np.flatnonzero(table.accepted)
    ranked = [*table.order(work.best, holding)]
    ranked += [i for i in np.argsort(-table.score, kind="stable") if not table.accepted[i]]
    seen: dict[tuple[float, ...], int] = {}
    for row in ranked:
        seen.setdefault(tuple(np.delete(table.rows[row], work.space.free)), int(row))
    found = list(seen.values())[:STARTS]
    if len(work.best) == 2:
        found += table.front(work.best, holding)[0].tolist()
    return list(dict.fromkeys(found))


def _moved(work: Task, row: Array, table: TrialTable, place: int) -> Iterator[Array]:
    """The same listed values with better free ones, for each measure."""
    scenes = work.trial(row[None]).scenes
    base = Fine(work.space, row, [changes for scene in scenes for changes, _ in scene.groups], "")
    if not table.accepted[place]:
        nearer = base._replace(of="limits").moved()
        if nearer is None:
            return
        yield nearer
        base = base._replace(row=nearer)
        if base._replace(of="limits").least() > 0:
            return  # no values of these keep every limit, as far as slopes tell
    for name in dict.fromkeys(_by(base, name) for name in work.best):
        if (better := base._replace(of=name).moved()) is not None:
            yield better
    for name, other in zip(work.best, work.best[::-1], strict=True) if len(work.best) > 1 else ():
        if table.accepted[place] and "price" not in (name, other):
            most = float(table.measures[other][place])
            if (traded := base._replace(of=name, other=other, most=most).moved()) is not None:
                yield traded


def _by(fine: Fine, name: str) -> str:
    """A measure; the margin where the measure does not depend on these values."""
    flat = name == "price" or fine._replace(of=name).flat()
    return "temperature" if flat else name
