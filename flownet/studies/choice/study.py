"""Choosing over everything that a case leaves open in a `[choice.NAME]`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import FanType
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError
from flownet.schema.fields import given
from flownet.solve import Progress
from flownet.studies.choice.generations import generations
from flownet.studies.choice.made import result_of
from flownet.studies.choice.moves import finer
from flownet.studies.choice.result import OptionChoice
from flownet.studies.choice.space import Space, named, objectives, space_of
from flownet.studies.choice.tables import Work
from flownet.studies.choice.words import spaced
from flownet.studies.compare import scenarios_of
from flownet.studies.fan_choice.study import with_catalogue

MOST = 200_000  # combinations that are all tried
LEVELS = 9  # values on an axis without a list
LEAST_LEVELS = 3
SEARCHED = 20_000  # combinations that a search sees


def choose_options(
    case: Enclosure, name: str | None = None, *, best: Sequence[str] | str | None = None,
    scenarios: Sequence[str] | None = None,
    catalogue: Mapping[str, FanType] | Iterable[FanType] = (), most: int = MOST,
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
    wide = with_catalogue(case, _types(catalogue))
    chosen = named(wide, name)
    asked = scenarios_of(wide, scenarios)
    space = space_of(wide, chosen, asked)
    words = objectives(wide.studies["choice"][chosen]["best"] if best is None else best)
    _check_stated(wide, words)
    work = Work(space, words, asked, prune, seed, executor, progress)
    while levels > LEAST_LEVELS and space.free and space.count(levels) > most:
        levels -= 1
    if space.count(levels) > most:
        trials, listed = generations(work, searched), space.count(1)
        seen = sum(len(trial.rows) for trial in trials)
        return result_of(work, chosen, trials, listed, "search", _how_search(seen, seed))
    rows = space.grid(levels)
    trial = work.trial(space.merged(rows))
    trial.run(prune=prune, seed=seed)
    if not space.free:
        return result_of(work, chosen, [trial], len(rows), "all", _how_all(len(rows)))
    more = finer(work, [trial])
    return result_of(work, chosen, [trial, *more], len(rows), "grid", _how_grid(space, levels))


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


def _types(catalogue: Mapping[str, FanType] | Iterable[FanType]) -> dict[str, FanType]:
    items = list(catalogue.values() if isinstance(catalogue, Mapping) else catalogue)
    if isinstance(catalogue, str) or not all(isinstance(item, FanType) for item in items):
        raise TypeError(
            "catalogue: fan types are wanted, such as flownet.load_fan_types(path) "
            f"(got {catalogue!r:.60})"
        )
    return {item.name: item for item in items}


def _how_all(count: int) -> str:
    return f"every combination was tried, {spaced(count)}; the order is proved"


def _how_grid(space: Space, levels: int) -> str:
    paths = ", ".join(space.axes[i].path for i in space.free)
    return (
        f"{levels} values of {paths}, then moved by exact derivatives from the best; best found, "
        "not proved"
    )


def _how_search(count: int, seed: int) -> str:
    return (
        f"too many to try all: differential evolution (seed {seed}) looked at "
        f"{spaced(count)} designs; best found, not proved"
    )
