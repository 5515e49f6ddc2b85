"""What a review page shows, solved before there is a page."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

from flownet.enclosure.branches import Filter
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import outage
from flownet.pictures.scene.page import temperature_range
from flownet.results.solution import Solution
from flownet.schema.errors import CaseError, NoSolution, placed
from flownet.schema.fault import Fault
from flownet.solving.attempt import changed
from flownet.studies import outages
from flownet.studies.compare import Comparison, compare
from flownet.studies.headroom import looked_for
from flownet.studies.headroom_result import Headroom
from flownet.studies.headroom_subject import span, subject
from flownet.studies.outages import Outages
from flownet.studies.outcome import PairOutcome
from flownet.studies.searches import Search, found_by, together
from flownet.studies.suggesting.advice import Advised, tried
from flownet.studies.uncertainty import Uncertainty, around
from flownet.studies.verdicts import closeness

MOST_VARIANTS, MOST_SCENARIOS = 3, 3  # that can be shown
MOST_THINGS = 144  # branches, parts and compartments in all maps: about 1 MB, and seconds
MOST_LOADED = 4.0  # times the clean drop up to which a filter is looked at, if not twice today's
CROSSING_ROUNDS = 3  # that narrow a crossing down: to 1e-4 of a step of the scan
SAMPLED = 500


class ShownPair(NamedTuple):
    """A scenario in a variant."""

    scenario: str
    variant: str

    @property
    def key(self) -> str:
        return f"{self.scenario}|{self.variant}"

    @property
    def words(self) -> str:
        return f"{self.scenario}, {self.variant}"


class FilterAlarm(NamedTuple):
    """When to change a filter so that every limit holds, whatever is out."""

    path: str
    fouling: float  # beyond it a limit breaks, times the clean drop at the same flow
    drop: float  # across it while everything runs that runs in the condition [Pa]
    warm: float  # of the hottest compartment air there [K]
    warm_in: str  # the compartment
    out: tuple[str, ...]  # what is out where the limit breaks
    subject: str  # of that limit


@dataclass(frozen=True, repr=False, eq=False)
class Reviewed:
    """All that was solved."""

    case: Enclosure
    comparison: Comparison
    proposal: str  # the variant that is looked at closely
    passed_over: tuple[str, ...]  # variants that come closer, but take a filter out
    pairs: tuple[ShownPair, ...]  # that can be shown, the decisive one first
    solutions: dict[str, Solution]  # of them, by key; those without a solution are not there
    failures: Outages | None  # one fan out at a time; None: no fan runs
    slid: tuple[Headroom, ...]  # of the key of the slider: the condition, then with a fan out
    alarms: tuple[FilterAlarm, ...]  # of the same runs, where they end by a filter that loads
    sure: Uncertainty | None  # of the decisive pair; None: nothing is off
    advice: Mapping[tuple[str, str], Advised]  # by rule and subject: its findings' advice, tried

    @property
    def decisive(self) -> ShownPair:
        """The worst scenario of the proposal."""
        return self.pairs[0]

    @property
    def condition(self) -> str:
        """The decisive scenario without what fails in it."""
        return without_outages(self.case, self.decisive.scenario)

    @property
    def names(self) -> set[str]:
        """Of scenarios and variants: a sentence that begins with one begins as it is written."""
        return {*self.comparison.scenarios, *self.comparison.variants}

    @property
    def shown(self) -> Iterator[tuple[ShownPair, Solution]]:
        """The pairs that have a solution."""
        return ((pair, self.solutions[pair.key]) for pair in self.pairs
                if pair.key in self.solutions)  # fmt: skip

    @property
    def left_out(self) -> int:
        """Pairs of the comparison that cannot be shown."""
        every = sum(cell is not None for row in self.comparison.cells for cell in row)
        return every - len(self.pairs)

    @cached_property
    def scale(self) -> tuple[float, float]:
        """One range of temperatures for every map [K]."""
        hottest = [row.temperature for found in self.solutions.values()
                   for row in found.compartments.values()]  # fmt: skip
        found = temperature_range(self.case, hottest)
        return found.low, found.high


def reviewed(
    case: Enclosure, variant: str | None, scenarios: Sequence[str] | None, key: str | None,
    sampled: tuple[int, int], changes: Changes | None, executor: Executor | None,
) -> dict[str, Any]:  # fmt: skip
    """The fields of a `Reviewed`; arguments as those of `review`."""
    _known(case, variant, key)
    found = compare(case, scenarios=scenarios, changes=changes, executor=executor)
    passed_over = () if variant else tuple(_without_a_filter(found))
    proposal = variant or closest(found, passed_over)
    pairs = pairs_shown(found, proposal, passed_over)
    found.prepare([cell for pair in pairs if (cell := found.cell(*pair)) is not None])
    solved = {}
    for pair in pairs:
        try:
            solved[pair.key] = found.solution(*pair)
        except NoSolution:
            continue
    if not solved:
        raise NoSolution("review: no pair of scenario and variant has a solution")
    decisive, condition = pairs[0], without_outages(case, pairs[0].scenario)
    moved = key or _usual_key(solved.get(decisive.key) or next(iter(solved.values())))
    own = solved.get(decisive.key)
    searches: list[Search[Any]] = [
        outages.looked_for(case, _both(proposal), [condition], changes),
        together([*_slid(case, moved, (condition, decisive.scenario), proposal, changes)]),
        *([tried(own)] if own is not None else []),
    ]  # fmt: skip
    failing, slid, *advised = found_by(together(searches), executor)
    slid, sure = tuple(filter(None, slid)), None
    if sampled[0] and own is not None:
        sure = around(own, *sampled, executor)
    return {
        "case": case, "comparison": found, "proposal": proposal, "pairs": pairs,
        "passed_over": tuple(name for name in passed_over
                             if _distance(found, name) < _distance(found, proposal)),
        "solutions": solved, "failures": failing if failing.failures else None, "slid": slid,
        "alarms": tuple(_alarms(slid)), "sure": sure,
        "advice": {(each.finding.rule, each.finding.subject): each for some in advised
                   for each in some},
    }  # fmt: skip


def _known(case: Enclosure, variant: str | None, key: str | None) -> None:
    """CaseError for names that there are not, before all pairs are solved."""
    case.under(variant=variant or "base")
    with placed("key"):
        case.places(key or "outside.temperature")


# --- which variants and scenarios -----------------------------------------------------------------


def _without_a_filter(found: Comparison) -> Iterator[str]:
    """Variants in which a filter is taken out: its frame stays open, or it no longer stands on what
    it stood."""
    fitted = {path for path, item in _filters(found.case) if item.state == "fitted"}
    for name in found.variants:
        now = dict(_filters(found.case.under(variant=name)))
        if any(now[path].state == "removed" if path in now
               else getattr(found.case.branches[path], "on", None)
               for path in fitted):  # fmt: skip
            yield name


def _filters(case: Enclosure) -> Iterator[tuple[str, Filter]]:
    return ((path, item) for path, item in case.branches.items() if isinstance(item, Filter))


def _distance(found: Comparison, name: str) -> Any:
    """How far a variant is from holding everywhere; of those alike, how bad its worst is."""
    worst = found.worst(name)
    return closeness(found.column(name)), -(worst.order if worst is not None else 0)


def closest(found: Comparison, passed_over: Sequence[str] = ()) -> str:
    """The variant that comes closest to holding everywhere; the base of several alike."""
    left = [name for name in found.variants if name not in passed_over]
    return min(left or found.variants, key=lambda name: _distance(found, name))


def pairs_shown(
    found: Comparison, proposal: str, passed_over: Sequence[str] = ()
) -> tuple[ShownPair, ...]:
    """The proposal, base and the next closest, each in the worst scenario of the proposal, in one
    where every fan runs, and in the worst of each that was asked for; as many as a page holds."""
    if proposal not in found.variants:
        found.cell(found.scenarios[0], proposal)  # says that there is none such
    ranked = sorted(set(found.variants) - {*passed_over}, key=lambda name: (
        closeness(found.column(name)), found.variants.index(name)))  # fmt: skip
    variants = list(dict.fromkeys([proposal, *_both(proposal), *ranked]))[:MOST_VARIANTS]
    column = sorted(
        found.column(proposal), key=lambda cell: (cell.status in ("void", "unsolved"), cell.order)
    )  # a state that nobody believes comes last
    if not column:
        raise CaseError(f'variant "{proposal}": no scenario applies')
    calm = [cell for cell in column if without_outages(found.case, cell.scenario) == cell.scenario]
    firsts: dict[str, PairOutcome] = {}
    for cell in column:
        firsts.setdefault(cell.asked, cell)
    several = dict.fromkeys(cell.scenario for cell in [column[0], *calm[:1], *firsts.values(),
                                                       *column])  # fmt: skip
    every = [ShownPair(scenario, name) for scenario in list(several)[:MOST_SCENARIOS]
             for name in variants if found.cell(scenario, name) is not None]  # fmt: skip
    drawn = len(found.case.branches) + sum(
        len(found.case.things[kind]) for kind in ("part", "compartment"))  # fmt: skip
    return tuple(every[: max(1, MOST_THINGS // drawn)])


def _both(proposal: str) -> list[str]:
    return list(dict.fromkeys(["base", proposal]))


def without_outages(case: Enclosure, scenario: str) -> str:
    """`hot+dirty` of `hot+dirty+fan.left-out`."""
    kept = [name for name in scenario.split("+") if outage(case, name) is None]
    return "+".join(kept) or "base"


# --- the slider -----------------------------------------------------------------------------------


def _usual_key(solution: Solution) -> str:
    flows = {path: abs(solution.branches[path].mass_flow)
             for path, item in _filters(solution.case) if item.state == "fitted"}  # fmt: skip
    best = max(flows, key=lambda path: flows[path], default="")
    return f"{best}.fouling" if best and flows[best] > 0 else "outside.temperature"


def _slid(
    case: Enclosure, key: str, scenarios: Sequence[str], variant: str, changes: Changes | None
) -> Iterator[Search[Headroom | None]]:
    """The searches for the headroom of the key in the condition, and with a fan out."""
    for scenario in dict.fromkeys(scenarios):
        made = changed(case, scenario, variant, changes)
        moved = subject(made, key)
        try:
            low, high = span(moved, made, None)
        except CaseError:
            what = f"{key} is {moved.text(moved.present)} in {scenario}, which says no range for it"
            raise CaseError(Fault("key", what, hint="name another")) from None
        if moved.key == "fouling":
            high = min(high, max(MOST_LOADED, 2 * moved.present))
        yield _or_none(looked_for(made, moved, (low, high), CROSSING_ROUNDS))


def _or_none(search: Search[Headroom]) -> Search[Headroom | None]:
    """A search, or nothing where it cannot be made."""
    try:
        return (yield from search)
    except NoSolution:
        return None


def _alarms(slid: Sequence[Headroom]) -> Iterator[FilterAlarm]:
    """Of each run in which a filter that loads breaks a limit, the first to break first."""
    for item in slid:
        edge = item.first
        loads = edge is not None and (edge in item.up) == item.today.holds
        path = item.key.removesuffix(".fouling")
        if edge is None or not loads or path not in item.today.drops:
            continue
        bad = edge.after if edge.breaks else edge.before
        drop = item.gauge.get(path, math.nan)
        if not math.isnan(drop):
            out = tuple(f"fan.{name}" for name in sorted(item.case.applied.failed))
            there = item.there or bad
            yield FilterAlarm(path, item.value, drop, there.hottest_air, there.hottest_air_in,
                              out, bad.decides)  # fmt: skip
