"""Which changes make a case hold: all that can be made by itself are solved, least effort first."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor

from flownet.enclosure.enclosure import Enclosure
from flownet.results.solution import Solution
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError
from flownet.solving.solve import Progress, broken_in_layers
from flownet.studies.choice.study import check_limits
from flownet.studies.compare import scenarios_of
from flownet.studies.suggesting.kinds import candidates
from flownet.studies.suggesting.result import SHOWN, Suggestions, TriedCounts
from flownet.studies.suggesting.search import ChangeSearch, TriedChange
from flownet.studies.suggesting.sound import PAST_FILTER, TURNED, solved, sound

MOST_PROPOSED = 12  # proposals that are kept


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
    check_limits(search)
    singles = search.singles() if search.failing else []
    good, out = sound(case, search.base, singles)
    for _ in range(1, deep):
        if good or not (found := search.larger()):
            break
        good, more = sound(case, search.base, found)
        out += more
    return _result(search, singles, good, out)


def _result(
    search: ChangeSearch, singles: Sequence[TriedChange], good: Sequence[TriedChange],
    out: Sequence[str],
) -> Suggestions:  # fmt: skip
    """`good`: what is proposed; `out`: why other changes that hold are not."""
    case, near = search.space.case, [] if good else search.closest()
    closest = [each for each in near if each.status != "unsolved" and not each.holds]
    left = sorted((each for each in singles if not each.holds), key=lambda each: -each.score)
    shown = list(good[:SHOWN]) or [search.base] * (not search.failing)
    layers = [broken_in_layers(made) if isinstance(made := solved(case, each), Solution) else ()
              for each in shown]  # fmt: skip
    counts = TriedCounts(
        len(search.some), sum(len(made) > 1 for made in search.sets), search.solved, len(good),
        out.count(PAST_FILTER), out.count(TURNED),
    )  # fmt: skip
    return Suggestions(
        case, search.base, tuple(good[:MOST_PROPOSED]), tuple(closest), tuple(left), counts,
        tuple(scene.name for scene in search.scenes), tuple(layers), tuple(search.reasons),
        tuple(search.unknown),
    )  # fmt: skip
