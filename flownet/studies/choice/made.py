"""The result of a choice, from everything that was solved."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flownet.judging.assessment import THERMAL
from flownet.judging.voids import WORDS as VOID
from flownet.schema import quantities as q
from flownet.schema.arrays import Integers
from flownet.schema.errors import CaseError
from flownet.studies.choice import dominance
from flownet.studies.choice.result import Counts, Excluded, Option, OptionChoice
from flownet.studies.choice.tables import Table, Work, order, table_of
from flownet.studies.choice.trial import Trial

LISTED = 100  # ranked combinations that are kept
CLOSEST = 12
LACKING = 10  # of what fails, that tell what they lack
BESIDE = ("temperature", "noise", "power", "price")  # what is drawn beside one measure


def result_of(
    work: Work, name: str, trials: Sequence[Trial], combinations: int, way: str, how: str
) -> OptionChoice:
    table = table_of(trials)
    _check_limits(work, trials)
    holding = np.flatnonzero(table.accepted)
    shown = order(work, table, holding)[:LISTED].tolist()
    if not shown:
        shown = _closest(trials)
        table = table_of(trials)  # those that come closest were solved in further scenarios
    front: tuple[Option, ...] = ()
    pair = _pair(work.best, table)
    if len(work.best) == 2 and len(holding):
        a, b = (table.measures[n] for n in work.best)
        rows, alike = dominance.front(a[holding], b[holding], table.score[holding])
        front = tuple(_option(work, trials, table, int(holding[i]))._replace(alike=int(n))
                      for i, n in zip(rows, alike, strict=True))  # fmt: skip
    unknown = np.isnan([table.measures[n][holding] for n in work.best]).any(axis=0)
    first = trials[0]
    return OptionChoice(
        work.space.case, name, work.best, work.space.axes,
        tuple(dict.fromkeys(scene.name for trial in trials for scene in trial.scenes)),
        tuple(_option(work, trials, table, i) for i in shown), front, pair,
        _spots(table, pair, holding), _spots(table, pair, np.flatnonzero(~table.accepted)),
        tuple(_option(work, trials, table, i) for i in _lacking(table, pair)),
        tuple(_excluded([first] if way != "search" else trials)),
        tuple(dict.fromkeys(why for trial in trials for why in trial.reasons)),
        Counts(combinations, len(table.rows), len(holding), sum(t.solved for t in trials),
               sum(t.skipped for t in trials), int(unknown.sum())),
        way, how, work.space.unfit, work.space.notes,
    )  # fmt: skip


def _pair(best: Sequence[str], table: Table) -> tuple[str, str]:
    """The two measures of a picture: those that rank, or one and another that has values."""
    if len(best) == 2:
        return best[0], best[1]
    others = [n for n in BESIDE if n != best[0]]
    known = [n for n in others if np.isfinite(table.measures[n]).any()]
    return best[0], (known or others)[0]


def _spots(table: Table, pair: Sequence[str], rows: Integers) -> tuple[tuple[float, float], ...]:
    """Both measures of some, those that are known, each spot once."""
    found = np.column_stack([(-1.0 if name == "temperature" else 1.0) * table.measures[name][rows]
                             for name in pair])  # fmt: skip
    found = found[np.isfinite(found).all(axis=1)]
    return tuple(dict.fromkeys((float(x), float(y)) for x, y in found))


def _lacking(table: Table, pair: Sequence[str]) -> list[int]:
    """Some of what fails and would be better in one measure than all that holds, nearest first."""
    a, b = (table.measures[name] for name in pair)
    kept = np.flatnonzero(table.accepted)
    best = kept[dominance.front(a[kept], b[kept], table.score[kept])[0]]
    beaten = ((a[best, None] <= a) & (b[best, None] <= b)).any(axis=0)
    near = np.flatnonzero(~table.accepted & ~beaten & np.isfinite(a) & np.isfinite(b))
    found: dict[tuple[float, float], int] = {}
    for i in near[np.argsort(-table.score[near], kind="stable")].tolist():
        if len(found) < LACKING:
            found.setdefault((round(float(a[i]), 1), round(float(b[i]), 1)), i)
    return list(found.values())


def _check_limits(work: Work, trials: Sequence[Trial]) -> None:
    """CaseError for a case without limits, or without one of a temperature where it ranks."""
    limits = {item[0] for trial in trials for item in trial.limits} - set(VOID)
    if not limits and any(trial.solved for trial in trials) and not trials[0].reasons:
        raise CaseError(
            "limits: the case has none that could hold; give a compartment air_limit, a part "
            "limit, limits.noise_dBA or limits.fan_life_hours"
        )
    if "temperature" in work.best and limits and not limits & set(THERMAL):
        raise CaseError("best: temperature needs a limit of a part or an air_limit; there is none")


def _closest(trials: Sequence[Trial]) -> list[int]:
    found, start = [], 0
    for trial in trials:
        found += [(trial.closeness(i), start + int(i)) for i in trial.complete(CLOSEST)]
        start += len(trial.rows)
    return [i for _, i in sorted(found)[:CLOSEST]]


def _option(work: Work, trials: Sequence[Trial], table: Table, row: int) -> Option:
    place = row
    for trial in trials:
        if place < len(trial.rows):
            break
        place -= len(trial.rows)
    axes, values = work.space.axes, trial.rows[place]
    idle = work.space.idle(values[None])[0]
    number, scene = int(trial.limit[place]), int(trial.scene[place])
    limit, subject = trial.limits[number][:2] if number >= 0 else ("", "")
    of = int(trial.measured[place])
    quantity = trial.limits[of][2] if of >= 0 else q.DIFFERENCE
    return Option(
        work.space.changes(values),
        frozenset(axis.path for axis, rests in zip(axes, idle, strict=True) if rests),
        bool(table.accepted[row]), limit, subject, trial.scenes[scene].name if scene >= 0 else "",
        float(trial.margin[place]), quantity, float(trial.warm[place]),
        float(table.measures["noise"][row]), float(trial.power[place]),
        float(table.measures["price"][row]),
    )  # fmt: skip


def _excluded(trials: Sequence[Trial]) -> list[Excluded]:
    counts: dict[tuple[str, str, str], int] = {}
    for trial in trials:
        for row in np.flatnonzero(trial.out):
            number, scene = int(trial.out_limit[row]), int(trial.out_scene[row])
            limit, subject = trial.limits[number][:2] if number >= 0 else ("", "")
            key = limit, subject, trial.scenes[scene].name if scene >= 0 else ""
            counts[key] = counts.get(key, 0) + 1
    found = [Excluded(*key, count) for key, count in counts.items()]
    return sorted(found, key=lambda item: -item.designs)
