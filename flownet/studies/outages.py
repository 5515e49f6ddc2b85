"""One fan out at a time: what flows back through it, and what would help."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, fields
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import EACH, REST_UP, WAYS, Each, Outage, outage
from flownet.enclosure.scenarios import scenario_changes, variant_changes
from flownet.pages import render
from flownet.pages.caption import Caption, told
from flownet.pages.page import counted
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.fault import listed
from flownet.schema.fields import NONE
from flownet.solving.solve import Progress
from flownet.studies.compare import scenarios_of
from flownet.studies.outcome import PairOutcome, cells, pairs_table, style_of, unsolved
from flownet.studies.runs import Run
from flownet.studies.searches import Search, found_by
from flownet.studies.verdicts import dips, number, stated

REMEDIES = {  # what could be done about a dead fan -> the ending of its scenario
    "shut": "-shut", "blanked": "-blanked", "rest_up": f"-out{REST_UP}",
}  # fmt: skip
WAYS_SHOWN = {  # of a failure -> as headings
    "before": "none out", "out": "open", "shut": "shutter", "blanked": "blanked",
    "rest_up": "rest up",
}  # fmt: skip
OWN = ("name", "tag", "at", "supply")  # in which fans may differ that are alike
OUTAGES_LEGEND = Sentence(
    "",
    "its flow: through the dead fan, the way it blows; below zero it comes back. open: it stands "
    "in its hole. shutter: behind its own, else the usual one. rest up: open, and what runs is at "
    "the top of its speed range. A margin below zero: a limit is broken.",
)
HELP = {"shut": "a shutter", "blanked": "blanking its hole", "rest_up": "speeding up the others"}


class Failure(NamedTuple):
    """One fan or supply out, in a scenario of a variant, and what would help."""

    variant: str
    scenario: str  # the conditions, without the outage
    failed: str  # fan.left, supply.mains
    flow: float  # through what stands, the way it blows [m3/s]; below zero: back
    before: PairOutcome  # nothing out
    out: PairOutcome  # standing in its open hole
    shut: PairOutcome | None  # behind a shutter; None for a supply
    blanked: PairOutcome | None
    rest_up: PairOutcome  # open hole, what still runs at the top of its speed range


@dataclass(frozen=True, repr=False, eq=False)
class Outages(Result):
    """Every fan out in turn, by variant and scenario."""

    case: Enclosure
    failures: tuple[Failure, ...]
    changes: Changes = field(default_factory=lambda: NONE)  # made last in every one

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """One sentence a variant: whether it holds with any one out, and what would be enough."""
        names = dict.fromkeys(item.variant for item in self.failures)
        return tuple(
            _sentence(name, [f for f in self.failures if f.variant == name], units)
            for name in names
        ) or ("no fan runs that could fail",)

    def __repr__(self) -> str:
        return f'<Outages "{self.case.title}" {len(self.failures)} failures: {self.verdicts()[0]}>'

    @property
    def sheet(self) -> Sheet:
        """Every failure with what would help, a table for each variant and scenario."""
        groups: dict[tuple[str, str], list[Failure]] = {}
        for item in self.failures:
            groups.setdefault((item.variant, item.scenario), []).append(item)
        ways = [getattr(item, way) for item in self.failures for way in WAYS_SHOWN]
        tables = [*(self._failures(*key, some) for key, some in groups.items()),
                  *unsolved([cell for cell in ways if cell is not None]),
                  *self._data()]  # fmt: skip
        count = counted(len(self.failures), "outage")
        caption = Caption.of(self.case, count, changes=told(self.case, self.changes))
        return Sheet("compare", caption, self.verdicts, tables, (OUTAGES_LEGEND,),
                     facts={"verdict": list(self.verdicts())})  # fmt: skip

    def _failures(self, variant: str, scenario: str, some: Sequence[Failure]) -> Listing:
        columns = [Column("Worst margin", [item.failed for item in some]),
                   Column("its flow", [item.flow for item in some], q.VOLUME_FLOW,
                          form="+")]  # fmt: skip
        for way, head in WAYS_SHOWN.items():
            here = [getattr(item, way) for item in some]
            columns.append(Column(head, [partial(_margin, cell) for cell in here], right=True,
                                  styles=[*map(style_of, here)]))  # fmt: skip
        alike = [_alike(item.failed, self.case) for item in some]
        return Listing("failures", tuple(columns), whole=True, alike=alike,
                       title=Sentence("", f"{variant} | {scenario}", "heading"))  # fmt: skip

    def _data(self) -> Iterator[Listing]:
        """Each way with all that a comparison says of it, and beside each other in rows."""
        some = self.failures
        named = [Column(key, [getattr(item, key) for item in some])
                 for key in ("variant", "scenario", "failed")]  # fmt: skip
        flow = Column("volume_flow", [item.flow for item in some], q.VOLUME_FLOW)
        ways = {way: [_entry(getattr(item, way)) for item in some]
                for way in ("before", "out", *REMEDIES)}  # fmt: skip
        flat = [
            Column(f"{way}_{key}", [(entry or {}).get(key) for entry in entries])
            for way, entries in ways.items()
            for key in ("margin", "margin_unit", "status", "subject")
        ]
        nested = [Column(way, entries) for way, entries in ways.items()]
        yield Listing("outages", (*named, flow, *nested), "json")
        yield Listing("outages", (*named, flow, *flat), "rows")


def _margin(cell: PairOutcome | None, units: str) -> str:
    if cell is not None and cell.status == "unsolved":
        return "unsolved"
    return number(cell, units) + (" void" if cell is not None and cell.void else "")


def _entry(cell: PairOutcome | None) -> dict[str, Any] | None:
    return None if cell is None else render.named(pairs_table("", [cell]))[0]


def _alike(failed: str, case: Enclosure) -> str:
    """What fans that are alike have in common: all but name, feed and place at one height."""
    fan = case.fans.get(failed.removeprefix("fan."))
    if fan is None:
        return failed
    own = {each.name: getattr(fan, each.name) for each in fields(fan)}
    kept = {name: value for name, value in own.items() if name not in OWN}
    return f"{kept} {fan.at and fan.at[1]} {case.rating(fan)}"


def outages(
    case: Enclosure, *, variants: Sequence[str] | None = None,
    scenarios: Sequence[str] | None = None, changes: Changes | None = None,
    executor: Executor | None = None, progress: Progress | None = None,
) -> Outages:  # fmt: skip
    """Every fan that runs out in turn, with its hole open, shut or blanked, or the rest sped up.

    Parameters
    ----------
    scenarios : sequence of str, optional
        Conditions; outages in their names are left out, `each-supply-out` adds supplies. Default
        those of `limits.scenarios` that name an outage; without any, all of `limits.scenarios`,
        else `base` and all scenarios of the case.
    variants, changes, executor, progress : as for `compare`

    Raises
    ------
    CaseError
        A scenario or variant that is not known.
    """
    argument_checks.check("outages", case, Enclosure)
    argument_checks.check_names("variants", variants)
    if changes is not None:
        argument_checks.check_changes(changes)
    looks = looked_for(case, variants, scenarios, changes)
    return found_by(looks, executor, progress)


def looked_for(
    case: Enclosure, variants: Sequence[str] | None, scenarios: Sequence[str] | None,
    changes: Changes | None,
) -> Search[Outages]:  # fmt: skip
    """The search for outages; arguments as there."""
    columns = tuple(dict.fromkeys(variants or ("base", *case.variants)))
    conditions, kinds = _conditions(case, scenarios_of(case, scenarios))
    failing = [
        (column, condition, item)
        for column in columns for condition in conditions
        for item in _failing(case, column, condition, kinds)
    ]  # fmt: skip
    if not failing:
        return Outages(case, (), changes or NONE)
    names = [(name, column) for column, condition, item in failing
             for name in (condition, *_ways(condition, item).values())]  # fmt: skip
    (pairs,) = yield [[Run(*name, changes or NONE, case) for name in dict.fromkeys(names)]]
    found = {(cell.scenario, cell.variant): cell for cell in cells(pairs)}
    return Outages(case, tuple(_failure(found, *each) for each in failing), changes or NONE)


def _conditions(case: Enclosure, asked: Sequence[str]) -> tuple[list[str], set[str]]:
    """The conditions without what fails in them, and which kinds of things fail."""
    split = [(entry, [n for n in entry.split("+") if _outage(case, n) is None]) for entry in asked]
    named = [each for each in split if len(each[1]) < len(each[0].split("+"))]
    kinds = {
        found.kind for entry, _ in split for n in entry.split("+")
        if (found := _outage(case, n)) is not None
    }  # fmt: skip
    chosen = named or split
    conditions = dict.fromkeys("+".join(left) or "base" for _, left in chosen)
    return list(conditions), {"fan"} | kinds


def _outage(case: Enclosure, name: str) -> Outage | Each | None:
    return EACH.get(name) or outage(case, name)


def _failing(case: Enclosure, column: str, condition: str, kinds: set[str]) -> Iterator[Outage]:
    """What runs in a variant under these conditions; CaseError where a name is not known."""
    variant_changes(case, column)
    design = case.under(variant=column)
    scenario_changes(design, condition)
    try:
        now = design.under(condition)
    except CaseError:  # told by the pairs themselves
        now = design
    for kind in WAYS:
        if kind in kinds:
            yield from EACH[f"each-{kind}-out"].each(now)


def _ways(condition: str, item: Outage) -> dict[str, str]:
    """Scenarios of the ways that this kind can fail: `hot+fan.left-shut`."""
    before = "" if condition == "base" else f"{condition}+"
    known = {"out": "-out"} | {
        name: ending
        for name, ending in REMEDIES.items()
        if ending.removesuffix(REST_UP)[1:] in WAYS[item.kind]
    }
    return {name: f"{before}{item.kind}.{item.target}{ending}" for name, ending in known.items()}


def _failure(
    found: Mapping[tuple[str, str], PairOutcome], variant: str, scenario: str, item: Outage
) -> Failure:
    path = f"{item.kind}.{item.target}"
    way = {name: found[each, variant] for name, each in _ways(scenario, item).items()}
    out, rest_up = way["out"], way["rest_up"]
    fans = [path] if item.kind == "fan" else list(out.standing)
    flow = sum(out.standing.get(fan, np.nan) for fan in fans) if fans else np.nan
    return Failure(variant, scenario, path, float(flow), found[scenario, variant], out,
                   way.get("shut"), way.get("blanked"), rest_up)  # fmt: skip


def _sentence(variant: str, failures: Sequence[Failure], units: str) -> str:
    """`base breaks with fan.left out; a shutter would be enough`."""
    bad = [item for item in failures if not item.out.holds]
    lacking = [item.before for item in failures if not item.before.holds]
    if lacking and (not bad or len(lacking) == len(failures)):
        least = stated(min(lacking, key=lambda cell: cell.order), units)
        return f"{variant} does not hold even with nothing out ({least})"
    if not bad:
        return f"{variant} holds with any one out{dips([item.out for item in failures], units)}"
    worst = min(bad, key=lambda item: item.out.order)
    names = listed(dict.fromkeys(item.failed for item in bad), last=" or ", more=" or ")
    told = f"{variant} does not hold with {names} out ({stated(worst.out, units)} at worst)"
    if worst.out.status == "unsolved":
        told = f"{variant} has no solution with {worst.failed} out"
    changing = [name for name in REMEDIES if any(_changes(item, name) for item in bad)]
    enough = [HELP[name] for name in changing if all(_helps(item, name) for item in bad)]
    if enough:
        return f"{told}; {listed(enough, last=' or ', more=' or ')} would be enough"
    gains = [f"{HELP[name]} {stated(getattr(worst, name), units)}" for name in changing]
    return f"{told}; not enough alone: {', '.join(gains)}" if gains else told


def _changes(item: Failure, name: str) -> bool:
    """Whether there is anything to change: a shutter it has not, a speed that can rise."""
    cell = getattr(item, name)
    return cell is not None and (cell.margin, cell.status) != (item.out.margin, item.out.status)


def _helps(item: Failure, name: str) -> bool:
    cell = getattr(item, name)
    return cell is not None and cell.holds
