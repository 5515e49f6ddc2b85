"""The result of a choice, from everything that was solved."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flownet import quantities as q
from flownet.assessment import THERMAL
from flownet.errors import CaseError
from flownet.studies.choice import dominance
from flownet.studies.choice.result import Counts, Excluded, Option, OptionChoice
from flownet.studies.choice.tables import Table, Work, order, table_of
from flownet.studies.choice.trial import Trial
from flownet.voids import WORDS as VOID

LISTED = 100  # ranked combinations that are kept
CLOSEST = 12


def result_of(
    work: Work, name: str, trials: Sequence[Trial], combinations: int, way: str, how: str
) -> OptionChoice:
    table = table_of(trials)
    _check_limits(work, trials)
    holding = np.flatnonzero(table.accepted)
    ranked = order(work, table, holding)
    front: tuple[Option, ...] = ()
    cloud: tuple[tuple[float, float], ...] = ()
    if len(work.best) == 2 and len(holding):
        a, b = (table.measures[n] for n in work.best)
        rows, alike = dominance.front(a[holding], b[holding], table.score[holding])
        front = tuple(_option(work, trials, table, int(holding[i]))._replace(alike=int(n))
                      for i, n in zip(rows, alike, strict=True))  # fmt: skip
        known = np.isfinite(a[holding]) & np.isfinite(b[holding])
        signs = [-1.0 if n == "temperature" else 1.0 for n in work.best]
        cloud = tuple(dict.fromkeys(
            (float(signs[0] * x), float(signs[1] * y))
            for x, y in zip(a[holding][known], b[holding][known], strict=True)
        ))  # fmt: skip
    shown = [int(i) for i in ranked[:LISTED]] or _closest(trials)
    unknown = np.isnan([table.measures[n][holding] for n in work.best]).any(axis=0)
    first = trials[0]
    return OptionChoice(
        work.space.case, name, work.best, work.space.axes,
        tuple(dict.fromkeys(scene.name for trial in trials for scene in trial.scenes)),
        tuple(_option(work, trials, table, i) for i in shown), front, cloud,
        tuple(_excluded([first] if way != "search" else trials)),
        tuple(dict.fromkeys(why for trial in trials for why in trial.reasons)),
        Counts(combinations, len(table.rows), len(holding), sum(t.solved for t in trials),
               sum(t.skipped for t in trials), int(unknown.sum())),
        way, how, work.space.unfit, work.space.notes,
    )  # fmt: skip


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
