"""Choosing over everything that a case leaves open in a `[choice.NAME]`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from concurrent.futures import Executor

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.assessment import THERMAL
from flownet.judging.voids import WORDS as VOID
from flownet.pages.page import spaced
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.arrays import Integers
from flownet.schema.errors import CaseError
from flownet.schema.fields import given
from flownet.solving.solve import Progress
from flownet.studies.choice.axes import Catalogue, named, objectives, space_of, with_catalogue
from flownet.studies.choice.evaluate import Evaluation, Task
from flownet.studies.choice.option import Excluded, Option
from flownet.studies.choice.order import TrialTable, table_of
from flownet.studies.choice.result import Counts, OptionChoice
from flownet.studies.choice.search import finer, generations
from flownet.studies.compare import scenarios_of

MOST = 200_000  # combinations that are all tried
LEVELS = 9  # values on an axis without a list
LEAST_LEVELS = 3
SEARCHED = 20_000  # combinations that a search sees
LISTED = 100  # ranked combinations that are kept
CLOSEST = 12
LACKING = 10  # of what fails, that tell what they lack
UNPROVED = "best found, not proved"
BESIDE = ("temperature", "noise", "power", "price")  # what is drawn beside one measure


def choose_options(
    case: Enclosure, name: str | None = None, *, best: Sequence[str] | str | None = None,
    scenarios: Sequence[str] | None = None, catalogue: Catalogue = (), most: int = MOST,
    levels: int = LEVELS, searched: int = SEARCHED, prune: bool = True, seed: int = 0,
    executor: Executor | None = None, progress: Progress | None = None,
) -> OptionChoice:  # fmt: skip
    """The combination of a `[choice]` that keeps every limit and is best by one or two measures.

    Up to `most` combinations all are tried, scenario by scenario, what broke a limit not again:
    the order is proved. A value without a list is first one of `levels` values; then it is moved
    by exact derivatives (sequential quadratic programming) from the best of them: best found.
    Beyond `most`, differential evolution looks at `searched` combinations: best found.

    Measures: `noise` and `power` the most of all scenarios, `temperature` the least margin of all,
    `price` the sum over fans that are not blanked. What breaks a limit, or has no solution, is
    never ranked before what holds. With two measures the first ranks, and the front holds every
    combination that none is better than: not worse in both and better in one.

    Parameters
    ----------
    case : Enclosure
    name : str, optional
        Which choice of the case; needed where there are several.
    best : str or two of them, optional
        "noise", "power", "temperature", "price". Default as the case says.
    scenarios : sequence of str, optional
        Where limits must hold. Default `limits.scenarios`, else `base` and all of the case. An
        outage applies where its fan runs in the combination.
    catalogue : mapping or iterable of FanType, optional
        Types beside those of the case, for "any".
    most, levels, searched : int
        See above.
    prune : bool
        False solves every combination in every scenario; the answer is the same.
    seed : int
        Of the search, and of the sample that tells the hardest scenario.
    executor : concurrent.futures.Executor, optional
        Solves blocks; every executor returns the same numbers.
    progress : callable(done, total), optional

    Raises
    ------
    CaseError
        No such choice, several and no name, an unknown scenario or measure, a measure that nothing
        has a value of, a case without limits.
    """
    _check(most=(most, 1), levels=(levels, 2), searched=(searched, 1), seed=(seed, 0))
    argument_checks.check("choose_options", case, Enclosure)
    argument_checks.check_names("scenarios", scenarios)
    if not isinstance(best, str):
        argument_checks.check_names("best", best)
    if name is not None:
        argument_checks.check_text("name", name, "the name of a choice of the case is wanted")
    wide = with_catalogue(case, catalogue)
    chosen = named(wide, name)
    asked = scenarios_of(wide, scenarios)
    space = space_of(wide, chosen, asked)
    words = objectives(wide.studies["choice"][chosen]["best"] if best is None else best)
    _check_stated(wide, words)
    work = Task(space, words, asked, prune, seed, executor, progress)
    while levels > LEAST_LEVELS and space.free and space.count(levels) > most:
        levels -= 1
    if space.count(levels) > most:
        trials = generations(work, searched)
        seen = sum(len(trial.rows) for trial in trials)
        how = (f"too many to try all: differential evolution (seed {seed}) looked at "
               f"{spaced(seen)} designs; {UNPROVED}")  # fmt: skip
        return _result(work, chosen, trials, space.count(1), "search", how)
    trials = [work.trial(space.merged(space.grid(levels)))]
    trials[0].run(prune=prune, seed=seed)
    count = space.count(levels)
    if not space.free:
        how = f"every combination was tried, {spaced(count)}; the order is proved"
        return _result(work, chosen, trials, count, "all", how)
    paths = ", ".join(space.axes[i].path for i in space.free)
    how = f"{levels} values of {paths}, then moved by exact derivatives from the best; {UNPROVED}"
    return _result(work, chosen, trials + finer(work, trials), count, "grid", how)


def _check(**numbers: tuple[int, int]) -> None:
    for name, (value, least) in numbers.items():
        if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or value < least:
            raise CaseError(f"{name}: a whole number of at least {least} is wanted (got {value})")


def _check_stated(case: Enclosure, best: Sequence[str]) -> None:
    """CaseError for a measure that no fan type has a value of."""
    for name, key in (("price", "price"), ("noise", "noise_dBA")):
        types = case.things["fan_type"].values()
        if name in best and not any(given(getattr(item, key)) for item in types):
            raise CaseError(f"best: {name} is not known of any fan type; give fan_type.NAME.{key}")


def _result(
    work: Task, name: str, trials: Sequence[Evaluation], combinations: int, way: str, how: str
) -> OptionChoice:
    table = table_of(trials)
    _check_limits(work, trials)
    holding = np.flatnonzero(table.accepted)
    shown = table.order(work.best, holding)[:LISTED].tolist()
    if not shown:
        shown = _closest(trials)
        table = table_of(trials)  # those that come closest were solved in further scenarios
    pair = _pair(work.best, table)
    rows, alike = table.front(pair, holding)
    front = tuple(
        _option(work, trials, table, int(row))._replace(alike=int(count))
        for row, count in zip(rows, alike, strict=True)
    ) if len(work.best) == 2 else ()  # fmt: skip
    unknown = np.isnan([table.measures[n][holding] for n in work.best]).any(axis=0)
    return OptionChoice(
        work.space.case, name, work.best, work.space.axes,
        tuple(dict.fromkeys(scene.name for trial in trials for scene in trial.scenes)),
        tuple(_option(work, trials, table, i) for i in shown), front, pair,
        _spots(table, pair, holding), _spots(table, pair, np.flatnonzero(~table.accepted)),
        tuple(_option(work, trials, table, i) for i in _lacking(table, pair, rows)),
        tuple(_excluded(trials if way == "search" else trials[:1])),
        tuple(dict.fromkeys(why for trial in trials for why in trial.reasons)),
        Counts(combinations, len(table.rows), len(holding), sum(t.solved for t in trials),
               sum(t.skipped for t in trials), int(unknown.sum())),
        way, how, work.space.unfit, work.space.notes,
    )  # fmt: skip


def _pair(best: Sequence[str], table: TrialTable) -> tuple[str, str]:
    """The two measures of a picture: those that rank, or one and another that has values."""
    if len(best) == 2:
        return best[0], best[1]
    others = [n for n in BESIDE if n != best[0]]
    known = [n for n in others if np.isfinite(table.measures[n]).any()]
    return best[0], (known or others)[0]


def _spots(
    table: TrialTable, pair: Sequence[str], rows: Integers
) -> tuple[tuple[float, float], ...]:
    """Both measures of some, those that are known, each spot once."""
    found = np.column_stack([(-1.0 if name == "temperature" else 1.0) * table.measures[name][rows]
                             for name in pair])  # fmt: skip
    found = found[np.isfinite(found).all(axis=1)]
    return tuple(dict.fromkeys((float(x), float(y)) for x, y in found))


def _lacking(table: TrialTable, pair: Sequence[str], best: Integers) -> list[int]:
    """Some of what fails and would be better in one measure than all that holds, nearest first."""
    a, b = (table.measures[name] for name in pair)
    beaten = ((a[best, None] <= a) & (b[best, None] <= b)).any(axis=0)
    near = np.flatnonzero(~table.accepted & ~beaten & np.isfinite(a) & np.isfinite(b))
    found: dict[tuple[float, float], int] = {}
    for i in near[np.argsort(-table.score[near], kind="stable")].tolist():
        if len(found) < LACKING:
            found.setdefault((round(float(a[i]), 1), round(float(b[i]), 1)), i)
    return list(found.values())


def _check_limits(work: Task, trials: Sequence[Evaluation]) -> None:
    """CaseError for a case without limits, or without one of a temperature where it ranks."""
    limits = {item[0] for trial in trials for item in trial.limits} - set(VOID)
    if not limits and any(trial.solved for trial in trials) and not trials[0].reasons:
        raise CaseError(
            "limits: the case has none that could hold; give a compartment air_limit, a part "
            "limit, limits.noise_dBA or limits.fan_life_hours"
        )
    if "temperature" in work.best and limits and not limits & set(THERMAL):
        raise CaseError("best: temperature needs a limit of a part or an air_limit; there is none")


def _closest(trials: Sequence[Evaluation]) -> list[int]:
    found, start = [], 0
    for trial in trials:
        found += [(trial.closeness(i), start + int(i)) for i in trial.complete(CLOSEST)]
        start += len(trial.rows)
    return [i for _, i in sorted(found)[:CLOSEST]]


def _option(work: Task, trials: Sequence[Evaluation], table: TrialTable, row: int) -> Option:
    ends = np.cumsum([len(trial.rows) for trial in trials])
    number = int(np.searchsorted(ends, row, side="right"))
    trial = trials[number]
    place = row - int(ends[number]) + len(trial.rows)
    axes, values = work.space.axes, trial.rows[place]
    idle = work.space.idle(values[None])[0]
    of = int(trial.measured[place])
    quantity = trial.limits[of][2] if of >= 0 else q.DIFFERENCE
    return Option(
        work.space.changes(values),
        frozenset(axis.path for axis, rests in zip(axes, idle, strict=True) if rests),
        bool(table.accepted[row]), *trial.named(trial.limit[place], trial.scene[place]),
        float(trial.margin[place]), quantity, float(trial.warm[place]),
        float(table.measures["noise"][row]), float(trial.power[place]),
        float(table.measures["price"][row]),
    )  # fmt: skip


def _excluded(trials: Sequence[Evaluation]) -> list[Excluded]:
    counts = Counter(
        trial.named(trial.out_limit[row], trial.out_scene[row])
        for trial in trials for row in np.flatnonzero(trial.out)
    )  # fmt: skip
    return [Excluded(*key, count) for key, count in counts.most_common()]
