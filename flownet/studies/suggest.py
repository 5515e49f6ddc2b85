"""Which changes make a case hold: all that can be made by itself are solved, least effort first."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor

from flownet.enclosure.enclosure import Enclosure
from flownet.findings import RULES
from flownet.judging.assessment import OK, STATUSES
from flownet.results.solution import Solution
from flownet.results.streams import is_outside, streams
from flownet.schema import argument_checks
from flownet.solving.solve import Progress, again, broken_in_layers
from flownet.studies.choice.study import check_counts, check_limits
from flownet.studies.compare import scenarios_of
from flownet.studies.suggesting.kinds import candidates
from flownet.studies.suggesting.result import LEFT_OUT, SHOWN, Suggestions, TriedCounts
from flownet.studies.suggesting.search import ChangeSearch, TriedChange

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
    check_counts(deep=(deep, 1))
    asked = scenarios_of(case, scenarios)
    search = ChangeSearch(case, candidates(case, asked, keep, without), asked, executor, progress)
    check_limits(search)
    return _result(search, deep)


def _result(search: ChangeSearch, deep: int) -> Suggestions:
    """Single changes, then several together; what is proposed, or else what comes closest."""
    case, singles = search.space.case, search.singles() if search.failing else []
    good = sound(search, singles)
    for _ in range(1, deep):
        if good or not (found := search.larger()):
            break
        good = sound(search, found)
    closest = [] if good else search.closest()
    left = sorted((each for each in singles if not each.holds), key=lambda each: -each.score)
    shown = good[:SHOWN] or [search.base] * (not search.failing)
    layers = [broken_in_layers(made) if isinstance(made := solved(case, each), Solution) else ()
              for each in shown]  # fmt: skip
    some, sets = len(search.some), sum(len(made) > 1 for made in search.sets)
    return Suggestions(
        case, search.base, tuple(good[:MOST_PROPOSED]), tuple(closest), tuple(left),
        TriedCounts(some, sets, search.solved, len(good), *map(search.left_out.count, LEFT_OUT)),
        tuple(scene.name for scene in search.scenes), tuple(layers), tuple(search.reasons),
        tuple(search.unknown),
    )  # fmt: skip


def sound(search: ChangeSearch, found: Sequence[TriedChange]) -> list[TriedChange]:
    """What holds, least effort first, of sizes of one change the smallest that has its margin, else
    that holds, nothing with more than another that holds; why others are left out is noted."""
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
    case, base = search.space.case, search.base
    asked = bool(kept) and case.limits.intake_filter == "required"
    now = solved(case, base) if asked and base.status not in ("unsolved", "void") else ""
    turned = [any(one.kind == "turn" for one in each.made) for each in kept]
    why = [astray(now, solved(case, each), turn) if turn or asked else ""
           for each, turn in zip(kept, turned, strict=True)]  # fmt: skip
    search.left_out += filter(None, why)
    return [each for each, word in zip(kept, why, strict=True) if not word]


def solved(case: Enclosure, each: TriedChange) -> Solution | str:
    """A change solved where it decides; or why there is no solution."""
    made = next((one.case for one in each.made if one.case), case)
    made = made.with_changes(each.changes) if each.changes else made
    return again(made.under(each.scenario or "base"))


def astray(now: Solution | str, then: Solution | str, turned: bool) -> str:
    """Why a state is none to propose, a word of `LEFT_OUT`; empty: nothing against it.

    now : Solution or str
        The case as it is; what it has already, where it is sound, is no reason. Text: it is not.
    turned : bool
        Whether a fan is turned round for it: then outlets and intakes that stay where they are
        change their parts, which a given recirculation does not follow; and a part that is taken to
        sit where the air leaves its slot, as one is without a position, would sit where it enters.
    """
    missing = RULES["filter-missing"]
    if isinstance(then, str):
        return ""
    if any(missing(then)) and (isinstance(now, str) or not any(missing(now))):
        return "unfiltered"
    if not turned:
        return ""
    loops = [loop for loop in then.case.things["recirculation"].values() if loop.fraction > 0]
    outlets, intakes = {loop.from_ for loop in loops}, {loop.to for loop in loops}
    last = {part.in_ for part in then.case.parts.values() if part.position == 1}
    back = any((is_outside(each.source) and each.path in outlets)
               or (is_outside(each.target) and each.path in intakes)
               or (each.path in last and each.target == each.item.from_)
               for each in streams(then))  # fmt: skip
    return "turned" if back else ""
