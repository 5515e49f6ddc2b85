"""Choosing over everything that a case leaves open in a `[choice.NAME]`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from functools import partial

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.assessment import THERMAL, UNSOLVED
from flownet.judging.voids import WORDS as VOID
from flownet.pages.page import spaced
from flownet.schema import argument_checks
from flownet.schema.arrays import Array, Integers
from flownet.schema.errors import CaseError
from flownet.schema.fields import given
from flownet.solving.solve import Progress
from flownet.studies.choice.axes import Catalogue, named, objectives, space_of, with_catalogue
from flownet.studies.choice.evaluate import Evaluation
from flownet.studies.choice.option import Excluded, Option
from flownet.studies.choice.order import MEASURES
from flownet.studies.choice.result import Counts, OptionChoice
from flownet.studies.choice.search import finer, generations
from flownet.studies.compare import scenarios_of

MOST_TRIED = 200_000  # combinations that are all tried
LEVELS = 9  # values on an axis without a list
LEAST_LEVELS = 3
DESIGNS_SEARCHED = 20_000  # combinations that a search sees
RANKED_KEPT = 100  # ranked combinations that are kept
CLOSEST_KEPT = 12
LACKING = 10  # of what fails, that tell what they lack
UNPROVED = "best found, not proved"


def choose_options(
    case: Enclosure, name: str | None = None, *, best: Sequence[str] | str | None = None,
    scenarios: Sequence[str] | None = None, catalogue: Catalogue = (), most: int = MOST_TRIED,
    levels: int = LEVELS, searched: int = DESIGNS_SEARCHED, prune: bool = True, seed: int = 0,
    executor: Executor | None = None, progress: Progress | None = None,
) -> OptionChoice:  # fmt: skip
    """The combination of a `[choice]` that keeps every limit and is best by one or two measures.

    Up to `most` combinations all are tried, scenario by scenario, what broke a limit not again:
    the order is proved. A value without a list is first one of `levels` values; then it is moved
    by exact derivatives (sequential quadratic programming) from the best of them: best found.
    Beyond `most`, differential evolution looks at `searched` combinations: best found.

    Parameters
    ----------
    name : str, optional
        Which choice of the case; needed where there are several.
    best : str or two of them, optional
        "noise", "power", "temperature", "price", as `OptionChoice` says. Default as the case says.
    scenarios, executor, progress : as for `compare`
        Where limits must hold; an outage applies where its fan runs in the combination.
    catalogue : mapping or iterable of FanType, optional
        Types beside those of the case, for "any".
    prune : bool
        False solves every combination in every scenario; the answer is the same.
    seed : int
        Of the search, and of the sample that tells the hardest scenario.

    Raises
    ------
    CaseError
        No such choice, several and no name, an unknown scenario or measure, a measure that nothing
        has a value of, a case without limits.
    """
    check_counts(most=(most, 1), levels=(levels, 2), searched=(searched, 1), seed=(seed, 0))
    _check_asked(case, name, best, scenarios)
    wide = with_catalogue(case, catalogue)
    asked, chosen = scenarios_of(wide, scenarios), named(wide, name)
    every = Evaluation(space_of(wide, chosen, asked), asked, prune, seed, executor)
    return _tried(every, chosen, best, (most, levels, searched), progress)


def _tried(
    every: Evaluation, chosen: str, best: Sequence[str] | str | None, counts: tuple[int, int, int],
    progress: Progress | None,
) -> OptionChoice:  # fmt: skip
    """All of a grid, finer where values are free; else what a search looks at."""
    space, (most, levels, searched) = every.space, counts
    words = objectives(space.case.studies["choice"][chosen]["best"] if best is None else best)
    _check_stated(space.case, words)
    while levels > LEAST_LEVELS and space.free and space.count(levels) > most:
        levels -= 1
    count = space.count(levels)
    if count > most:
        generations(every, words, searched)
        if space.free:
            finer(every, words)
        how = (f"too many to try all: differential evolution (seed {every.seed}) looked at "
               f"{spaced(len(every.rows))} designs; {UNPROVED}")  # fmt: skip
        return _result(every, chosen, words, space.count(1), "search", how)
    every.run(every.add(space.merged(space.grid(levels))), progress=progress)
    if not space.free:
        how = f"every combination was tried, {spaced(count)}; the order is proved"
        return _result(every, chosen, words, count, "all", how)
    finer(every, words)
    paths = ", ".join(space.axes[i].path for i in space.free)
    how = f"{levels} values of {paths}, then moved by exact derivatives from the best; {UNPROVED}"
    return _result(every, chosen, words, count, "grid", how)


def check_counts(**numbers: tuple[int, int]) -> None:
    """CaseError for what is no whole number, or too small a one: name=(value, least)."""
    for name, (value, least) in numbers.items():
        if isinstance(value, bool) or not isinstance(value, (int, np.integer)) or value < least:
            raise CaseError(f"{name}: a whole number of at least {least} is wanted (got {value})")


def _check_asked(
    case: Enclosure, name: str | None, best: Sequence[str] | str | None,
    scenarios: Sequence[str] | None,
) -> None:  # fmt: skip
    argument_checks.check("choose_options", case, Enclosure)
    argument_checks.check_names("scenarios", scenarios)
    if not isinstance(best, str):
        argument_checks.check_names("best", best)
    if name is not None:
        argument_checks.check_text("name", name, "the name of a choice of the case is wanted")


def _check_stated(case: Enclosure, best: Sequence[str]) -> None:
    """CaseError for a measure that no fan type has a value of."""
    for name, key in (("price", "price"), ("noise", "noise_dBA")):
        types = case.things["fan_type"].values()
        if name in best and not any(given(getattr(item, key)) for item in types):
            raise CaseError(f"best: {name} is not known of any fan type; give fan_type.NAME.{key}")


def _result(
    every: Evaluation, name: str, best: Sequence[str], combinations: int, way: str, how: str
) -> OptionChoice:
    _check_limits(every, best)
    accepted = every.accepted
    holding, space = np.flatnonzero(accepted), every.space
    shown = every.best_first(best, holding)[:RANKED_KEPT].tolist() or _closest(every)
    measures = every.measures(np.arange(len(accepted)))
    pair = _pair(best, measures)
    rows, alike = every.trade_off(pair, holding)
    lacking = _lacking(every, [measures[n] for n in pair], rows)
    options = partial(_option, every, accepted, measures)
    front = [options(i)._replace(alike=count) for i, count in
             zip(rows.tolist(), alike.tolist(), strict=True)] if len(best) == 2 else []  # fmt: skip
    unknown = np.isnan([measures[n][holding] for n in best]).any(axis=0)
    return OptionChoice(
        space.case, name, tuple(best), space.axes, tuple(scene.name for scene in every.scenes),
        tuple(map(options, shown)), tuple(front), pair,
        _spots(measures, pair, holding), _spots(measures, pair, np.flatnonzero(~accepted)),
        tuple(map(options, lacking)),
        tuple(_excluded(every, len(accepted) if way == "search" else len(every.parts[0]))),
        tuple(every.reasons),
        Counts(combinations, len(accepted), len(holding), every.solved, every.skipped,
               int(unknown.sum())),
        way, how, space.unfit, space.notes,
    )  # fmt: skip


def _pair(best: Sequence[str], measures: Mapping[str, Array]) -> tuple[str, str]:
    """The two measures of a picture: those that rank, or one and another that has values."""
    if len(best) == 2:
        return best[0], best[1]
    others = [n for n, measure in MEASURES.items() if measure.of_option and n != best[0]]
    return best[0], next((n for n in others if np.isfinite(measures[n]).any()), others[0])


def _spots(
    measures: Mapping[str, Array], pair: Sequence[str], rows: Integers
) -> tuple[tuple[float, float], ...]:
    """Both measures of some, those that are known, each spot once."""
    found = np.column_stack([(-1.0 if name == "temperature" else 1.0) * measures[name][rows]
                             for name in pair])  # fmt: skip
    found = found[np.isfinite(found).all(axis=1)]
    return tuple(dict.fromkeys((float(x), float(y)) for x, y in found))


def _lacking(every: Evaluation, pair: Sequence[Array], best: Integers) -> list[int]:
    """Some of what fails and would be better in one measure than all that holds, nearest first."""
    a, b = pair
    beaten = ((a[best, None] <= a) & (b[best, None] <= b)).any(axis=0)
    near = np.flatnonzero(~every.accepted & ~beaten & np.isfinite(a) & np.isfinite(b))
    found: dict[tuple[float, float], int] = {}
    for i in near[np.argsort(-every.kept.score[near], kind="stable")].tolist():
        if len(found) < LACKING:
            found.setdefault((round(float(a[i]), 1), round(float(b[i]), 1)), i)
    return list(found.values())


def check_limits(every: Evaluation) -> set[str]:
    """The kinds of limits there are; CaseError for a case without any."""
    limits = {limit for limit, _ in every.limits} - set(VOID)
    if not limits and every.solved and (every.status[every.parts[0]] != UNSOLVED).all():
        raise CaseError(
            "limits: the case has none that could hold; give a compartment air_limit, a part "
            "limit, limits.noise_dBA or limits.fan_life_hours"
        )
    return limits


def _check_limits(every: Evaluation, best: Sequence[str]) -> None:
    """CaseError for a case without limits, or without one of a temperature where it ranks."""
    limits = check_limits(every)
    if "temperature" in best and limits and not limits & set(THERMAL):
        raise CaseError("best: temperature needs a limit of a part or an air_limit; there is none")


def _closest(every: Evaluation) -> list[int]:
    found = np.concatenate([every.complete(CLOSEST_KEPT, part) for part in every.parts])
    nearest: list[int] = every.nearest(np.sort(found))[:CLOSEST_KEPT].tolist()
    return nearest


def _option(
    every: Evaluation, accepted: Array, measures: Mapping[str, Array], row: int
) -> Option:  # fmt: skip
    kept, space, values = every.kept[row], every.space, every.rows[row]
    idle = space.idle(values[None])[0]
    return Option(
        space.changes(values),
        frozenset(axis.path for axis, rests in zip(space.axes, idle, strict=True) if rests),
        bool(accepted[row]), *every.worst(row), float(kept.warm), float(measures["noise"][row]),
        float(kept.power), float(measures["price"][row]),
    )  # fmt: skip


def _excluded(every: Evaluation, count: int) -> list[Excluded]:
    """Of the first so many."""
    counts = Counter(every.named(kept.out_limit, kept.out_scene)
                     for kept in every.kept[:count] if kept.out)  # fmt: skip
    return [Excluded(*key, count) for key, count in counts.most_common()]
