"""Beyond what can all be tried: differential evolution in batches, and free values moved by slopes.

Each generation is one batch of combinations in every scenario. What breaks a limit counts worse
than anything that holds, what has no solution worse than anything that has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from flownet.schema.arrays import Array
from flownet.studies.choice.axes import Space
from flownet.studies.choice.evaluate import Evaluation
from flownet.studies.choice.order import merit
from flownet.studies.choice.refine import Fine

PER_AXIS = 12  # members of a generation, an axis
MEMBERS = (24, 240)  # at least, at most
FREE_STARTS = 6  # combinations of listed values whose free values are moved


def generations(every: Evaluation, best: Sequence[str], most: int) -> None:
    """Generations of combinations, by each measure; two measures also by the sum of their shares
    of what the first generation spans."""
    known: dict[bytes, int] = {}
    goals: list[tuple[str, ...]] = [(name,) for name in best]
    goals += [tuple(best)] if len(best) == 2 else []
    for goal in goals:
        judge = Fitness(every, known, goal)
        evolve(every.space, judge, most=most // len(goals), seed=every.seed)


@dataclass(eq=False)
class Fitness:
    """Solves the combinations of a generation that were not seen before."""

    every: Evaluation
    known: dict[bytes, int]  # combination -> its number
    goal: tuple[str, ...]
    spans: dict[str, tuple[float, float]] = field(default_factory=dict)

    def __call__(self, rows: Array) -> Array:
        plain = self.every.space.plain(rows)
        unseen = {row.tobytes(): row for row in plain if row.tobytes() not in self.known}
        if unseen:
            some = self.every.add(np.array(list(unseen.values())))
            self.every.run(some, prune=False)
            self.known.update(zip(unseen, some.tolist(), strict=True))
        here = np.array([self.known[row.tobytes()] for row in plain])
        measures = self.every.measures(here)
        values = [measures[name] for name in self.goal]
        if len(values) > 1:
            values = [self._share(*each) for each in zip(self.goal, values, strict=True)]
        return merit(np.asarray(sum(values)), self.every.kept.score[here],
                     self.every.accepted[here])  # fmt: skip

    def _share(self, name: str, values: Array) -> Array:
        if name not in self.spans:
            known = values[np.isfinite(values)]
            low, high = (known.min(), known.max()) if len(known) else (0.0, 1.0)
            self.spans[name] = float(low), float(max(high - low, 1e-9))
        low, span = self.spans[name]
        return (values - low) / span


def evolve(space: Space, judge: Callable[[Array], Array], *, most: int, seed: int) -> None:
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
    first, whole = np.random.default_rng(seed), np.array([not axis.continuous for axis in axes])
    start = np.array([
        first.uniform(low, high, members) if axis.continuous
        else first.integers(0, len(axis.values), members)
        for axis, (low, high) in zip(axes, bounds, strict=True)
    ], float).T  # fmt: skip

    def values(columns: Array) -> Array:
        rows = np.atleast_2d(columns.T)
        return judge(np.where(whole, np.round(rows), rows))

    optimize.differential_evolution(
        values, bounds, init=start, integrality=whole, maxiter=max(most // members - 1, 1),
        tol=1e-6, polish=False, vectorized=True, updating="deferred",
        rng=np.random.default_rng(seed),
    )  # fmt: skip


def finer(every: Evaluation, best: Sequence[str]) -> None:
    """Free values moved from the best combinations; solved again as any other."""
    rows = [moved for place in _starts(every, best) for moved in _moved(every, best, place)]
    if rows:
        every.run(every.add(every.space.merged(np.array(rows))))


def _starts(every: Evaluation, best: Sequence[str]) -> list[int]:
    """The best that hold, then the closest that do not: each listed combination once; with two
    measures all of the front besides."""
    accepted = every.accepted
    holding = np.flatnonzero(accepted)
    ranked = [*every.best_first(best, holding)]
    ranked += [i for i in np.argsort(-every.kept.score, kind="stable") if not accepted[i]]
    seen: dict[tuple[float, ...], int] = {}
    for row in ranked:
        seen.setdefault(tuple(np.delete(every.rows[row], every.space.free)), int(row))
    found = list(seen.values())[:FREE_STARTS]
    if len(best) == 2:
        found += every.trade_off(best, holding)[0].tolist()
    return list(dict.fromkeys(found))


def _moved(every: Evaluation, best: Sequence[str], place: int) -> Iterator[Array]:
    """The same listed values with better free ones, for each measure."""
    changes = [made for scene in every.scenes for made, _ in scene.among(np.array([place]))]
    base, holds = Fine(every.space, every.rows[place], changes, ""), every.accepted[place]
    if not holds:
        nearer = base._replace(of="limits").moved()
        if nearer is None:
            return
        yield nearer
        base = base._replace(row=nearer)
        if base._replace(of="limits").least() > 0:
            return  # no values of these keep every limit, as far as slopes tell
    for name in dict.fromkeys(_by(base, name) for name in best):
        if (better := base._replace(of=name).moved()) is not None:
            yield better
    if not holds or len(best) < 2 or "price" in best:
        return
    measures = every.measures(np.array([place]))
    for name, other in zip(best, best[::-1], strict=True):
        most = float(measures[other][0])
        if (traded := base._replace(of=name, other=other, most=most).moved()) is not None:
            yield traded


def _by(fine: Fine, name: str) -> str:
    """A measure; the margin where the measure does not depend on these values."""
    flat = name == "price" or fine._replace(of=name).flat()
    return "temperature" if flat else name
