"""What a choice found: combinations in order, the trade-off, and why the others are out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import as_text
from flownet.judging.voids import WORDS as VOID
from flownet.results.solution import Solution, extra
from flownet.results.tables import Field, html_table, plain
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.quantities import Quantity
from flownet.solve import solve
from flownet.studies.choice import words
from flownet.studies.choice.axes import BEST
from flownet.studies.choice.eligibility import Unfit
from flownet.studies.designs import Axis

LISTED = 12  # rows in a notebook


class Option(NamedTuple):
    """One combination; SI, NaN where there is no value."""

    changes: Mapping[str, Any]  # ready for `with_changes`
    idle: frozenset[str]  # paths whose value does nothing here: blanked, or set by every scenario
    holds: bool  # every limit, in every scenario
    limit: str  # part, air, flow, noise, life, or why void: of the worst pair; empty: it has none
    subject: str
    scenario: str
    worst_margin: float  # of that limit, in its own unit; of a void pair, on paper
    margin_quantity: Quantity
    temperature_margin: float  # the least of all scenarios [K]
    noise: float  # the most of all scenarios [dBA]; minus infinity where no fan runs
    power: float  # of all fans, the most of all scenarios [W]
    price: float  # of the fans that are not blanked
    alike: int = 1  # how many combinations have the same two measures

    @property
    def void(self) -> bool:
        """Whether its worst pair is void, for the reason `limit`."""
        return self.limit in VOID

    def value(self, name: str) -> float:
        """What ranks by its word."""
        return float(self.temperature_margin if name == "temperature" else getattr(self, name))

    def to_dict(self, case: Enclosure) -> dict[str, Any]:
        """As in JSON: changes as a case writes them, None where there is no value."""
        shown = self.margin_quantity.json
        numbers = {"temperature_margin": q.DIFFERENCE, "noise": q.LEVEL, "power": q.POWER}
        return {
            "changes": {p: as_text(case, p, v) if not isinstance(v, bool) else v
                        for p, v in self.changes.items()},
            "without_effect": sorted(self.idle), "holds": self.holds,
            "limit": self.limit or None, "subject": self.subject or None,
            "scenario": None if self.scenario in ("", "base") else self.scenario,
            "worst_margin": plain(Field("", self.margin_quantity), self.worst_margin),
            "margin_unit": ("h" if shown.unit == "hours" else shown.unit) if self.limit else None,
            **{quantity.key(name): plain(Field("", quantity), getattr(self, name))
               for name, quantity in numbers.items()},
            "price": plain(Field("", q.PRICE), self.price), "alike": self.alike,
        }  # fmt: skip


class Excluded(NamedTuple):
    """Combinations that broke one limit in one scenario before any other."""

    limit: str  # as of `Option`; empty where there was no solution or no value
    subject: str
    scenario: str
    designs: int

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        return {"limit": self.limit or None, "subject": self.subject or None,
                "scenario": self.scenario or None, "designs": self.designs}  # fmt: skip


class Counts(NamedTuple):
    """How much was tried."""

    combinations: int
    different: int  # designs among them that differ in what they do
    accepted: int
    solved: int  # pairs of a design and a scenario
    skipped: int  # pairs that were left out, a limit being broken in another scenario
    unpriced: int  # accepted designs that a measure that ranks is not known of


@dataclass(frozen=True, repr=False, eq=False)
class OptionChoice:
    """Combinations of a choice, the best first; the trade-off where two measures rank."""

    case: Enclosure
    name: str
    best_by: tuple[str, ...]
    axes: tuple[Axis, ...]
    scenarios: tuple[str, ...]  # in the order they were solved
    ranked: tuple[Option, ...]  # those that hold, the best first; else the closest, first
    front: tuple[Option, ...]  # none of all is better in both; by the first measure
    measured: tuple[str, str]  # what ranks, and beside a measure that ranks alone another one
    cloud: tuple[tuple[float, float], ...]  # both of everything that holds
    failing: tuple[tuple[float, float], ...]  # of all else, by the scenarios solved until it failed
    lacking: tuple[Option, ...]  # some of it that would be better in one: what it lacks so far
    excluded: tuple[Excluded, ...]  # most frequent first
    reasons: tuple[str, ...]  # why something has no solution
    counts: Counts
    way: str  # "all", "grid", "search"
    how: str  # the same in a sentence
    unfit: tuple[Unfit, ...] = ()  # types that "any" left out, with the reasons
    notes: tuple[str, ...] = ()  # what scenarios take from the choice, so that values do not act

    @property
    def best(self) -> dict[str, Any] | None:
        """The changes of the first that holds; None where none does."""
        first = self.front[0] if self.front else next(iter(self.ranked), None)
        return dict(first.changes) if first is not None and first.holds else None

    @property
    def closest(self) -> Option | None:
        """Where none holds: the one that comes closest."""
        return self.ranked[0] if self.ranked and not self.ranked[0].holds else None

    @property
    def exhaustive(self) -> bool:
        """Whether every combination was tried, so that the order is proved."""
        return self.way == "all"

    def solution(self, option: int = 0, scenario: str = "base") -> Solution:
        """One of `ranked` solved in a scenario; NoSolution and CaseError as `solve`."""
        if not -len(self.ranked) <= option < len(self.ranked):
            raise CaseError(f"option: {len(self.ranked)} are ranked, from 0 (got {option})")
        return solve(self.case.with_changes(self.ranked[option].changes), scenario=scenario)

    @property
    def varying(self) -> tuple[Axis, ...]:
        """Axes with more than one value."""
        return tuple(axis for axis in self.axes if axis.continuous or len(axis.values) > 1)

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """In sentences: how many hold and which is best, then the trade-off."""
        return tuple(words.sentences(self, units))

    @property
    def verdict(self) -> str:
        """The first of them."""
        return self.verdicts()[0]

    def columns(
        self, options: Sequence[Option], units: str = "metric"
    ) -> list[tuple[str, list[str]]]:
        """What these options differ in, thing by thing: a heading and a text for each."""
        return [column for column in words.columns(self, options, units)
                if len(set(column[1])) > 1 or len(options) == 1]  # fmt: skip

    def common(self, options: Sequence[Option], units: str = "metric") -> list[str]:
        """What has the same value in all of them, `vent.side open`."""
        return [f"{head} {texts[0]}" for head, texts in words.columns(self, options, units)
                if len(set(texts)) == 1 and len(options) > 1]  # fmt: skip

    def margin(self, option: Option, units: str = "metric") -> str:
        """`+4.2 K`; `-` where there is none."""
        return words.margin_text(option, units)

    def measure(self, name: str, option: Option, units: str = "metric") -> str:
        """What ranks, by its word: `46.1 dBA`; `-` where it is not known."""
        return words.measure_text(name, option, units)

    def __repr__(self) -> str:
        return f'<OptionChoice "{self.case.title}" {self.name}: {self.verdict}>'

    def _repr_html_(self) -> str:
        """The best, for notebooks."""
        shown = (self.front or self.ranked)[:LISTED]
        columns = self.columns(shown)
        heads = [*(head for head, _ in columns), "margin", "decides", *BEST]
        rows = [
            [*(texts[i] for _, texts in columns), self.margin(option),
             f"{option.subject} in {option.scenario}",
             *(self.measure(name, option) for name in BEST)]
            for i, option in enumerate(shown)
        ]  # fmt: skip
        return html_table(repr(self), heads, rows)

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        return {
            "command": "choose", "choice": self.name, "best": list(self.best_by),
            "verdict": list(self.verdicts()), "notes": list(self.notes), "way": self.way,
            "exhaustive": self.exhaustive, "scenarios": list(self.scenarios),
            **self.counts._asdict(),
            "ranked": [option.to_dict(self.case) for option in self.ranked],
            "front": [option.to_dict(self.case) for option in self.front],
            "excluded": [item.to_dict() for item in self.excluded],
            "reasons": list(self.reasons),
            "not_tried": [item.to_dict() for item in self.unfit],
        }  # fmt: skip

    def rows(self) -> list[dict[str, Any]]:
        """The ranked combinations as plain rows, a column each path."""
        found = []
        on_front = {tuple(option.changes.values()) for option in self.front}
        for place, option in enumerate(self.ranked, 1):
            row = option.to_dict(self.case)
            changes, idle = row.pop("changes"), row.pop("without_effect")
            row.pop("alike")
            front = tuple(option.changes.values()) in on_front if self.front else None
            row["scenario"] = option.scenario or None
            found.append({"place": place, **changes, **row, "on_front": front,
                          "without_effect": "; ".join(idle) or None})  # fmt: skip
        return found

    def to_frame(self) -> Any:
        """A pandas DataFrame, one row a ranked combination; ImportError without pandas."""
        return extra("pandas").DataFrame(self.rows())
