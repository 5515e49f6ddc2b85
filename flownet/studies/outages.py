"""One fan out at a time: what flows back through it, and what would help."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Changes, Enclosure
from flownet.enclosure.outages import EACH, REST_UP, WAYS, Each, Outage, outage
from flownet.enclosure.scenarios import scenario_changes, variant_changes
from flownet.results.solution import extra
from flownet.results.tables import Field, html_table, plain
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.fault import listed
from flownet.schema.fields import NONE
from flownet.solve import Progress
from flownet.studies.compare import scenarios_of
from flownet.studies.outcome import Cell, cells
from flownet.studies.runs import Setup, solve_pairs
from flownet.studies.verdicts import dips, short, stated

REMEDIES = {  # what could be done about a dead fan -> the ending of its scenario
    "shut": "-shut", "blanked": "-blanked", "rest_up": f"-out{REST_UP}",
}  # fmt: skip
WORDS = {"shut": "a shutter", "blanked": "blanking its hole", "rest_up": "speeding up the others"}


class Failure(NamedTuple):
    """One fan or supply out, in a scenario of a variant, and what would help."""

    variant: str
    scenario: str  # the conditions, without the outage
    failed: str  # fan.left, supply.mains
    flow: float  # through what stands, the way it blows [m3/s]; below zero: back
    before: Cell  # nothing out
    out: Cell  # standing in its open hole
    shut: Cell | None  # behind a shutter; None for a supply
    blanked: Cell | None
    rest_up: Cell  # open hole, what still runs at the top of its speed range

    def to_dict(self) -> dict[str, Any]:
        """JSON keys with their unit."""
        ways = {name: getattr(self, name) for name in ("before", "out", *REMEDIES)}
        return {
            "variant": None if self.variant == "base" else self.variant,
            "scenario": None if self.scenario == "base" else self.scenario, "failed": self.failed,
            q.VOLUME_FLOW.key("volume_flow"): plain(Field("", q.VOLUME_FLOW), self.flow),
            **{name: None if cell is None else cell.to_dict() for name, cell in ways.items()},
        }  # fmt: skip


@dataclass(frozen=True, repr=False, eq=False)
class Outages:
    """Every fan out in turn, by variant and scenario."""

    case: Enclosure
    failures: tuple[Failure, ...]

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """One sentence a variant: whether it holds with any one out, and what would be enough."""
        names = dict.fromkeys(item.variant for item in self.failures)
        return tuple(
            _sentence(name, [f for f in self.failures if f.variant == name], units)
            for name in names
        ) or ("no fan runs that could fail",)

    def __repr__(self) -> str:
        return f'<Outages "{self.case.title}" {len(self.failures)} failures: {self.verdicts()[0]}>'

    def _repr_html_(self) -> str:
        """One row a failure, for notebooks."""
        heads = ("variant", "scenario", "failed", "flow", "before", "out", *REMEDIES)
        rows = [
            (f.variant, f.scenario, f.failed, q.VOLUME_FLOW.metric.text(f.flow, "+"),
             *(short(getattr(f, name)) for name in ("before", "out", *REMEDIES)))
            for f in self.failures
        ]  # fmt: skip
        return html_table(repr(self), heads, rows)

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        return {
            "command": "compare", "verdict": list(self.verdicts()),
            "outages": [item.to_dict() for item in self.failures],
        }  # fmt: skip

    def to_frame(self) -> Any:
        """A pandas DataFrame, one row a failure; ImportError without pandas, an extra."""
        return extra("pandas").DataFrame(self.rows())

    def rows(self) -> list[dict[str, Any]]:
        """Names, flow and the margin and status of each way, as plain rows."""
        found = []
        for item in self.failures:
            row = item.to_dict() | {"variant": item.variant, "scenario": item.scenario}
            for name in ("before", "out", *REMEDIES):
                cell = row.pop(name)
                for key in ("margin", "margin_unit", "status", "subject"):
                    row[f"{name}_{key}"] = None if cell is None else cell[key]
            found.append(row)
        return found


def outages(
    case: Enclosure, *, variants: Sequence[str] | None = None,
    scenarios: Sequence[str] | None = None, changes: Changes | None = None,
    executor: Executor | None = None, progress: Progress | None = None,
) -> Outages:  # fmt: skip
    """Every fan that runs out in turn, with its hole open, shut or blanked, or the rest sped up.

    Parameters
    ----------
    case : Enclosure
    variants : sequence of str, optional
        Default `base` and all variants of the case.
    scenarios : sequence of str, optional
        Conditions; outages in their names are left out, `each-supply-out` adds supplies. Default
        those of `limits.scenarios` that name an outage; without any, all of `limits.scenarios`,
        else `base` and all scenarios of the case.
    changes, executor, progress
        As for `compare`.

    Raises
    ------
    CaseError
        A scenario or variant that is not known.
    """
    argument_checks.check("outages", case, Enclosure)
    argument_checks.check_names("variants", variants)
    if changes is not None:
        argument_checks.check_changes(changes)
    columns = tuple(dict.fromkeys(variants or ("base", *case.variants)))
    conditions, kinds = _conditions(case, scenarios_of(case, scenarios))
    failing = [
        (column, condition, item)
        for column in columns for condition in conditions
        for item in _failing(case, column, condition, kinds)
    ]  # fmt: skip
    names = [
        (condition if ending is None else _with(condition, f"{item.kind}.{item.target}{ending}"),
         column)
        for column, condition, item in failing for ending in _endings(item)
    ]  # fmt: skip
    setups = [Setup(*name, changes or NONE) for name in dict.fromkeys(names)]
    pairs = solve_pairs(case, setups, executor=executor, progress=progress)
    found = {(cell.scenario, cell.variant): cell for cell in cells(pairs)}
    return Outages(case, tuple(_failure(found, *each) for each in failing))


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


def _endings(item: Outage) -> list[str | None]:
    """None for nothing out, then the endings of the ways that this kind can fail."""
    remedies = [e for e in REMEDIES.values() if e.removesuffix(REST_UP)[1:] in WAYS[item.kind]]
    return [None, "-out", *remedies]


def _with(condition: str, name: str) -> str:
    return name if condition == "base" else f"{condition}+{name}"


def _failure(
    found: Mapping[tuple[str, str], Cell], variant: str, scenario: str, item: Outage
) -> Failure:
    path = f"{item.kind}.{item.target}"
    way = {
        name: found.get((_with(scenario, path + ending), variant))
        for name, ending in {"out": "-out", **REMEDIES}.items()
    }
    out = way.pop("out")
    assert out is not None
    fans = [path] if item.kind == "fan" else list(out.standing)
    flow = sum(out.standing.get(fan, np.nan) for fan in fans) if fans else np.nan
    return Failure(variant, scenario, path, float(flow), found[scenario, variant], out, **way)  # type: ignore[arg-type]


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
    enough = [WORDS[name] for name in changing if all(_helps(item, name) for item in bad)]
    if enough:
        return f"{told}; {listed(enough, last=' or ', more=' or ')} would be enough"
    gains = [f"{WORDS[name]} {stated(getattr(worst, name), units)}" for name in changing]
    return f"{told}; not enough alone: {', '.join(gains)}" if gains else told


def _changes(item: Failure, name: str) -> bool:
    """Whether there is anything to change: a shutter it has not, a speed that can rise."""
    cell = getattr(item, name)
    return cell is not None and (cell.margin, cell.status) != (item.out.margin, item.out.status)


def _helps(item: Failure, name: str) -> bool:
    cell = getattr(item, name)
    return cell is not None and cell.holds
