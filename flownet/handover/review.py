"""The review page: everything a design review asks of a case, as one file that needs nothing else.

What is shown was solved before: two selects choose among pairs of scenario and variant, a slider
among positions of one key; the page computes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from flownet.casefile import case_text
from flownet.enclosure.branches import Filter
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import outage
from flownet.pictures.scene.page import temperature_range
from flownet.results.solution import Solution
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError, NoSolution
from flownet.studies.compare import Comparison, compare
from flownet.studies.headroom import headroom
from flownet.studies.headroom_result import Headroom
from flownet.studies.outages import Outages, outages
from flownet.studies.uncertainty import Uncertainty, uncertainty
from flownet.studies.verdicts import closeness

MOST_VARIANTS, MOST_SCENARIOS = 3, 4  # that can be shown; each pair takes about 70 kB
SAMPLED = 1000


class Pair(NamedTuple):
    """A scenario in a variant."""

    scenario: str
    variant: str

    @property
    def key(self) -> str:
        return f"{self.scenario}|{self.variant}"


@dataclass(frozen=True, repr=False, eq=False)
class Review:
    """What stands on the page, solved."""

    case: Enclosure
    comparison: Comparison
    proposal: str  # the variant that is looked at closely
    pairs: tuple[Pair, ...]  # that can be shown, the decisive one first
    solutions: dict[str, Solution]  # of them, by key; those without a solution are not there
    failures: Outages | None  # one fan out at a time; None: no fan runs
    slid: tuple[Headroom, ...]  # of the key of the slider: the condition, then with a fan out
    sure: Uncertainty | None  # of the decisive pair; None: nothing is off

    def __repr__(self) -> str:
        return f'<Review "{self.case.title}" {len(self.pairs)} pairs: {self.comparison.verdict}>'

    @property
    def decisive(self) -> Pair:
        """The worst scenario of the proposal."""
        return self.pairs[0]

    @property
    def condition(self) -> str:
        """The decisive scenario without what fails in it."""
        return without_outages(self.case, self.decisive.scenario)

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

    @cached_property
    def source(self) -> str:
        """The case file that is embedded: whole, without a catalogue beside it."""
        return case_text(self.case)

    def html(self, units: str | None = None) -> str:
        """The page."""
        from flownet.handover.web import rendered  # noqa: PLC0415 - jinja2, where a page is made

        return rendered(self, units or self.case.units)


def review(
    case: Enclosure, *, variant: str | None = None, scenarios: Sequence[str] | None = None,
    key: str | None = None, samples: int = SAMPLED, seed: int = 1,
    changes: Changes | None = None, executor: Executor | None = None,
) -> Review:  # fmt: skip
    """Solve what a design review asks: every variant in every scenario, outages, the room for one
    key, tolerances.

    Parameters
    ----------
    case : Enclosure
    variant : str, optional
        The proposal. Default the one that comes closest to holding everywhere.
    scenarios : sequence of str, optional
        As for `compare`.
    key : str, optional
        What the slider moves. Default the fouling of the filter that passes most air, else the
        outside temperature.
    samples, seed : int
        Of the tolerances; 0 samples leave them out.
    changes, executor
        As for `compare`.

    Raises
    ------
    CaseError
        Unknown names, a key that cannot move.
    NoSolution
        Where no pair is solved.
    """
    argument_checks.check("review", case, Enclosure)
    made = case.with_changes(changes) if changes else case
    found = compare(made, scenarios=scenarios, executor=executor)
    proposal = variant or closest(found)
    pairs = shown(found, proposal)
    solved = {}
    for pair in pairs:
        try:
            solved[pair.key] = found.solution(*pair)
        except NoSolution:
            continue
    if not solved:
        raise NoSolution("review: no pair of scenario and variant has a solution")
    decisive = pairs[0]
    condition = without_outages(made, decisive.scenario)
    failing = outages(made, variants=_both(proposal), scenarios=[condition], executor=executor)
    moved = key or _usual_key(solved.get(decisive.key) or next(iter(solved.values())))
    sure = None
    if samples and decisive.key in solved:
        sure = uncertainty(made, samples=samples, seed=seed, scenario=decisive.scenario,
                           variant=proposal, executor=executor)  # fmt: skip
    return Review(
        made, found, proposal, pairs, solved, failing if failing.failures else None,
        _slid(made, moved, (condition, decisive.scenario), proposal), sure,
    )  # fmt: skip


def closest(found: Comparison) -> str:
    """The variant that comes closest to holding everywhere; the base of several alike."""
    return min(found.variants, key=lambda name: (
        closeness(found.column(name)),
        -(worst.order if (worst := found.worst(name)) is not None else 0),
    ))  # fmt: skip


def shown(found: Comparison, proposal: str) -> tuple[Pair, ...]:
    """The pairs that can be shown: base, the proposal and the next closest, each in the worst
    scenarios of the proposal and in one where every fan runs."""
    if proposal not in found.variants:
        found.cell(found.scenarios[0], proposal)  # says that there is none such
    ranked = sorted(found.variants, key=lambda name: closeness(found.column(name)))
    variants = list(dict.fromkeys(_both(proposal) + ranked))[:MOST_VARIANTS]
    column = sorted(found.column(proposal), key=lambda cell: cell.order)
    if not column:
        raise CaseError(f'variant "{proposal}": no scenario applies')
    calm = [cell for cell in column if without_outages(found.case, cell.scenario) == cell.scenario]
    firsts = {cell.asked: cell for cell in reversed(column)}  # the worst of each that was asked for
    each = [cell for cell in column if cell is firsts[cell.asked]]
    several = dict.fromkeys(cell.scenario for cell in [column[0], *calm[:1], *each, *column])
    return tuple(
        Pair(scenario, name) for scenario in list(several)[:MOST_SCENARIOS]
        for name in sorted(variants, key=lambda name: name != proposal)
        if found.cell(scenario, name) is not None
    )  # fmt: skip


def _both(proposal: str) -> list[str]:
    return list(dict.fromkeys(["base", proposal]))


def without_outages(case: Enclosure, scenario: str) -> str:
    """`hot+dirty` of `hot+dirty+fan.left-out`."""
    kept = [name for name in scenario.split("+") if outage(case, name) is None]
    return "+".join(kept) or "base"


def _usual_key(solution: Solution) -> str:
    flows = {path: abs(solution.branches[path].mass_flow)
             for path, item in solution.case.branches.items()
             if isinstance(item, Filter) and item.state == "fitted"}  # fmt: skip
    best = max(flows, key=lambda path: flows[path], default="")
    return f"{best}.fouling" if best and flows[best] > 0 else "outside.temperature"


def _slid(
    case: Enclosure, key: str, scenarios: Sequence[str], variant: str
) -> tuple[Headroom, ...]:
    """The room for the key in the condition, and with a fan out; those that cannot be searched are
    not there."""
    found = []
    for scenario in dict.fromkeys(scenarios):
        try:
            found.append(headroom(case, key, scenario=scenario, variant=variant))
        except NoSolution:
            continue
    return tuple(found)
