"""Which changes make a case hold: all that can be made by itself are solved, least effort first."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.assessment import OK, STATUSES
from flownet.results.solution import Solution
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError
from flownet.solving.solve import Progress, again, broken_in_layers
from flownet.studies.choice.study import check_limits
from flownet.studies.compare import scenarios_of
from flownet.studies.suggesting.kinds import candidates
from flownet.studies.suggesting.result import SHOWN, WITHOUT_NUMBER, Suggestions, TriedCounts
from flownet.studies.suggesting.search import ChangeSearch
from flownet.studies.suggesting.trial import PAST_FILTER, TURNED, TriedChange, astray, watched

MOST_PROPOSED = 12  # proposals that are kept
MOST_HELD = 48  # changes that hold and are counted


def suggest(
    case: Enclosure, *, scenarios: Sequence[str] | None = None, keep: Sequence[str] = (),
    without: Sequence[str] = (), deep: int = 2, executor: Executor | None = None,
    progress: Progress | None = None,
) -> Suggestions:  # fmt: skip
    """Changes that make a case hold, solved one by one in every scenario, least effort first.

    Where no single change does, pairs of the twenty that bring most are solved, then the best five
    of these with a third, and so on up to `deep` changes. A case that holds with its margin gets no
    proposal; one that is tight gets those that give it its margin.

    Parameters
    ----------
    case : Enclosure
        As it was read, or in a variant: `case.under(variant="no-shelf")`.
    scenarios, executor, progress : as for `compare`
    keep : sequence of str
        What stays as it is: things (`filter.intake`, `fan.*`), keys of them (`fan.left.type`),
        scenarios (`scenario.dirty`).
    without : sequence of str
        Kinds of change that are left out, such as `fan_type`.
    deep : int
        The most changes that are made together.

    Raises
    ------
    CaseError
        A name that is not known; a case without limits, or without a scenario it is sound in.
    """
    argument_checks.check("suggest", case, Enclosure)
    for name, value in (("keep", keep), ("without", without)):
        argument_checks.check_names(name, value)
    if isinstance(deep, bool) or not isinstance(deep, int) or deep < 1:
        raise CaseError(f"deep: a whole number of at least 1 is wanted (got {deep})")
    asked = scenarios_of(case, scenarios)
    search = ChangeSearch(case, candidates(case, asked, keep, without), asked, executor, progress)
    check_limits(search.trial)
    return _result(search, *_deepened(search, deep))


def _deepened(
    search: ChangeSearch, deep: int
) -> tuple[list[TriedChange], list[TriedChange], list[str]]:
    """Single changes; what holds, of one change or else of more; why others were left out."""
    if not search.wanted.failing:
        return [], [], []
    singles = search.singles()
    good, out = _sound(search, singles)
    for _ in range(1, deep):
        if good or not (found := search.larger()):
            break
        good, more = _sound(search, found)
        out += more
    return singles, good, out


def _sound(
    search: ChangeSearch, found: Sequence[TriedChange]
) -> tuple[list[TriedChange], list[str]]:
    """What holds, least effort first, of sizes of one change the smallest that has its margin, else
    that holds, nothing with more than another that holds; and why others were left out."""
    holding = sorted((each for each in found if each.holds), key=lambda x: (x.effort, -x.margin))
    sizes = dict[object, TriedChange]()
    for each in holding:
        own, size = each.changes.items(), tuple(one.group for one in each.made)
        before, full = sizes.get(size), each.status == STATUSES[OK]
        less = any(other.changes.items() < own and not (full and other.status != each.status)
                   for other in holding if not other.edits)  # fmt: skip
        if not less and (before is None or (full and before.status != each.status)):
            sizes[size] = each
    kept = sorted(sizes.values(), key=lambda each: each.rank)[:MOST_HELD]
    if not watched(case := search.case):
        return kept, []
    now = solved(case, search.base) if search.base.status not in WITHOUT_NUMBER else ""
    why = [astray(now, solved(case, each), any(one.kind == "turn" for one in each.made))
           for each in kept]  # fmt: skip
    good = [each for each, word in zip(kept, why, strict=True) if not word]
    return good, [word for word in why if word]


def solved(case: Enclosure, each: TriedChange) -> Solution | str:
    """A change solved where it decides; or why there is no solution."""
    made = case
    for one in each.made:
        made = one.case or made
    made = made.with_changes(each.changes) if each.changes else made
    return again(made.under(each.scenario or "base"))


def _result(
    search: ChangeSearch, singles: Sequence[TriedChange], good: Sequence[TriedChange],
    out: Sequence[str],
) -> Suggestions:  # fmt: skip
    together = [each for each in search.sets if len(each[0]) > 1]
    near = [] if good else search.closest()
    closest = [each for each in near if each.status != "unsolved" and not each.holds]
    left = sorted((each for each in singles if not each.holds), key=lambda each: -each.score)
    trial = search.trial
    scenes = tuple(scene.name for scene in trial.scenes)
    shown = list(good[:SHOWN]) or [search.base] * (not search.wanted.failing)
    layers = [broken_in_layers(made) if isinstance(made := solved(search.case, each), Solution)
              else () for each in shown]  # fmt: skip
    counts = TriedCounts(len(search.some), len(together), search.solved, len(good),
                         out.count(PAST_FILTER), out.count(TURNED))  # fmt: skip
    return Suggestions(
        search.case, search.base, tuple(good[:MOST_PROPOSED]), tuple(closest), tuple(left), counts,
        scenes, tuple(layers), tuple(trial.reasons), tuple(search.unknown),
    )  # fmt: skip
