"""From the best of a grid to better values of what has no list."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from flownet.schema.arrays import Array
from flownet.studies.choice import dominance
from flownet.studies.choice.fine import Fine
from flownet.studies.choice.tables import Table, Work, order, table_of
from flownet.studies.choice.trial import Trial

STARTS = 6  # combinations of listed values whose free values are moved


def finer(work: Work, trials: Sequence[Trial]) -> list[Trial]:
    """Free values moved from the best combinations; solved again as any other."""
    table = table_of(trials)
    starts = _starts(work, table)
    rows = [moved for row in starts for moved in _moved(work, table.rows[row], table, row)]
    if not rows:
        return []
    trial = work._replace(progress=None).trial(work.space.merged(np.array(rows)))
    trial.run(prune=work.prune, seed=work.seed)
    return [trial]


def _starts(work: Work, table: Table) -> list[int]:
    """The best that hold, then the closest that do not: each listed combination once; with two
    measures all of the front besides."""
    holding = np.flatnonzero(table.accepted)
    ranked = [*order(work, table, holding)]
    ranked += [i for i in np.argsort(-table.score, kind="stable") if not table.accepted[i]]
    listed = [i for i, axis in enumerate(work.space.axes) if not axis.continuous]
    seen: dict[tuple[float, ...], int] = {}
    for row in ranked:
        seen.setdefault(tuple(table.rows[row, listed]), int(row))
    found = list(seen.values())[:STARTS]
    if len(work.best) == 2:
        front, _ = dominance.front(
            table.measures[work.best[0]][holding],
            table.measures[work.best[1]][holding],
            table.score[holding],
        )
        found += [int(holding[i]) for i in front]
    return list(dict.fromkeys(found))


def _moved(work: Work, row: Array, table: Table, place: int) -> Iterator[Array]:
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
