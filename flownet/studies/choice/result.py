"""What a choice found: combinations in order, the trade-off, and why the others are out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import settable
from flownet.pages.caption import Caption
from flownet.pages.page import counted, spaced
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet, Tabled
from flownet.pages.table import ROWS, cut
from flownet.results.solution import Solution
from flownet.schema.errors import CaseError
from flownet.solving.solve import again, broken_in_layers, solve
from flownet.studies.choice.eligibility import Unfit, sentence
from flownet.studies.choice.option import Excluded, Option, best, broken, data, places
from flownet.studies.choice.order import MEASURES
from flownet.studies.designs import Axis
from flownet.studies.verdicts import divided


class Counts(NamedTuple):
    """How much was tried."""

    combinations: int
    different: int  # designs among them that differ in what they do
    accepted: int
    solved: int  # pairs of a design and a scenario
    skipped: int  # pairs that were left out, a limit being broken in another scenario
    unpriced: int  # accepted designs that a measure that ranks is not known of


@dataclass(frozen=True, repr=False, eq=False)
class OptionChoice(Result):
    """Combinations of a choice, the best first; the trade-off where two measures rank.

    Measures: `noise` and `power` the most of all scenarios, `temperature` the least margin of all,
    `price` the sum over fans that are not blanked. What breaks a limit, or has no solution, is
    never ranked before what holds. With two measures the first ranks, and the front holds every
    combination that none is better than: not worse in both and better in one.
    """

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

    def _things(self) -> Iterator[tuple[str, list[Axis]]]:
        """What varies, thing by thing: a heading, and its axes."""
        groups: dict[str, list[Axis]] = {}
        for axis in self.varying:
            groups.setdefault(axis.path.removesuffix("." + axis.places[0].key), []).append(axis)
        for owner, axes in groups.items():
            plain = all(axis.path.endswith((".state", ".type")) for axis in axes)
            yield axes[0].path if len(axes) == 1 and not plain else owner, axes

    def columns(
        self, options: Sequence[Option], units: str = "metric"
    ) -> list[tuple[str, list[str]]]:
        """What these options differ in, thing by thing: a heading and a text for each."""
        return [column for column in self._texts(options, units)
                if len(set(column[1])) > 1 or len(options) == 1]  # fmt: skip

    def common(self, options: Sequence[Option], units: str = "metric") -> list[str]:
        """What has the same value in all of them, `vent.side open`."""
        return [f"{head} {texts[0]}" for head, texts in self._texts(options, units)
                if len(set(texts)) == 1 and len(options) > 1]  # fmt: skip

    def _texts(self, options: Sequence[Option], units: str) -> list[tuple[str, list[str]]]:
        return [(head, [option.text(axes, units) for option in options])
                for head, axes in self._things()]  # fmt: skip

    def __repr__(self) -> str:
        return f'<OptionChoice "{self.case.title}" {self.name}: {self.verdict}>'

    # --- in words --------------------------------------------------------------------------------

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """In sentences: how many hold and which is best, then the trade-off."""
        return *self._holding(units), *([sentence(self.unfit)] if self.unfit else [])

    def _holding(self, units: str) -> Iterator[str]:
        counts, first = self.counts, next(iter(self.front or self.ranked), None)
        if first is None:
            yield "no design has a solution"
            return
        told = ", ".join(f"{head} {texts[0]}" for head, texts in self._texts([first], units))
        if not first.holds:
            near = "nothing is close: the first" if first.void else "the closest"
            yield (
                f"none of {spaced(counts.different)} designs holds everywhere; {near} "
                f"{first.off(units)}: {told}"
            )
            return
        yield f"{self._first(first, units)} with {told}"
        yield from self.in_layers(first, units)
        if self.front:
            yield self._trade(units)
        if counts.unpriced:
            yield (
                f"{counts.unpriced} that hold come last: their {' or '.join(self.best_by)} is not "
                "known of every fan"
            )

    def in_layers(self, option: Option, units: str = "metric") -> Iterator[str]:
        """What a design that holds breaks in layers where it is worst, in words."""
        solution = again(self.case.with_changes(option.changes).under(option.scenario))
        if option.scenario and not isinstance(solution, str):
            yield from divided(broken_in_layers(solution), units, f"in {option.scenario} ")

    def _first(self, first: Option, units: str) -> str:
        counts, by = self.counts, self.best_by
        some = "all" if counts.accepted == counts.different else f"{spaced(counts.accepted)} of"
        hold = "holds" if counts.accepted == 1 else "hold"
        numbers = [first.measure(by[0], units), *(first.named_measure(n, units) for n in by[1:])]
        margin = first.margin(units)
        if margin not in (*numbers, "-"):
            numbers.append(f"{margin} at {first.subject}")
        best_ = MEASURES[by[0]].first + ("" if self.exhaustive else " found")
        every = f"{some} {spaced(counts.different)} designs {hold} everywhere"
        return f"{every}; {best_}: {', '.join(numbers)}"

    def _trade(self, units: str) -> str:
        a, b = self.best_by
        first, last = self.front[0], self.front[-1]
        if first is last:
            return f"it is best in {b} too: there is no trade-off"
        ends = [" with ".join(option.named_measure(name, units) for name in (a, b))
                for option in (first, last)]  # fmt: skip
        return f"{len(self.front)} are on the trade-off between {a} and {b}, {' to '.join(ends)}"

    @property
    def sheet(self) -> Sheet:
        """The verdict, the best designs with what they differ in, what excluded the others."""
        count, variant = self.counts.different, self.case.applied.variant
        size = f"{spaced(count)} design{'s' * (count != 1)} in "
        about = [("choice  ", f"{self.name}, best by {' and '.join(self.best_by)}")]
        about += [("", f"variant {variant}")] if variant != "base" else []
        options = self.front or self.ranked
        shown = cut(list(options), ROWS, lambda option: False)
        return Sheet(
            "choose", Caption.of(self.case, size + counted(len(self.scenarios), "scenario"),
                                 about=tuple(about)),
            self._said,
            [*self._best(shown, len(options) - len(shown), "short"),
             *self._best(options, 0, "all"), *broken(self.excluded, self.reasons), *self._data()],
            (Sentence("", self._how()),), self._facts(),
        )  # fmt: skip

    def _said(self, units: str) -> list[str | Sentence]:
        return [*self.verdicts(units), *(Sentence("  note: ", words) for words in self.notes)]

    def _best(self, options: Sequence[Option], more: int, use: str) -> Iterator[Tabled]:
        """Their numbers, and below them their values."""
        if options:
            yield best(options, self.best_by, bool(self.front), use)
            yield partial(self._designs, options, more, use)

    def _designs(self, options: Sequence[Option], more: int, use: str, units: str) -> Listing:
        """The values that they differ in, then those that all have."""
        common = ", ".join(self.common(options, units))
        told = [Sentence("all     ", common)] if common else []
        cut_off = [Sentence("  ", f"... {more} more (--all)")] if more else []
        return Listing("designs", (
            Column("Design", places(options)),
            *(Column(*column) for column in self.columns(options, units)),
        ), use, (*told, *cut_off), apart=bool(told), fit=True)  # fmt: skip

    def _data(self) -> Iterator[Listing]:
        for name, options in (("ranked", self.ranked), ("front", self.front)):
            yield Listing(name, (
                Column("changes", [*map(self._written, options)]),
                Column("without_effect", [sorted(each.idle) for each in options]), *data(options),
                Column("alike", [each.alike for each in options]),
            ), "json")  # fmt: skip
        on_front = {tuple(each.changes.values()) for each in self.front}
        changes = [*map(self._written, self.ranked)]
        yield Listing("ranked", (
            Column("place", range(1, len(changes) + 1)),
            *(Column(axis.path, [each[axis.path] for each in changes]) for axis in self.axes),
            *data(self.ranked),
            Column("on_front", [tuple(each.changes.values()) in on_front if on_front else None
                                for each in self.ranked]),
            Column("without_effect", ["; ".join(sorted(each.idle)) or None
                                      for each in self.ranked]),
        ), "rows")  # fmt: skip

    def _written(self, option: Option) -> dict[str, Any]:
        """Its changes as a case file has them."""
        return settable(self.case, option.changes)

    def _facts(self) -> dict[str, Any]:
        return {
            "choice": self.name, "best": list(self.best_by), "verdict": list(self.verdicts()),
            "notes": list(self.notes), "way": self.way, "exhaustive": self.exhaustive,
            "scenarios": list(self.scenarios), **self.counts._asdict(),
            **dict.fromkeys(("ranked", "front")),  # the tables, before what follows
            "excluded": [{key: value or None for key, value in item._asdict().items()}
                         for item in self.excluded],
            "reasons": list(self.reasons), "not_tried": [item.to_dict() for item in self.unfit],
        }  # fmt: skip

    def _how(self) -> str:
        """What was tried and what the numbers are."""
        counts = self.counts
        pairs = f"{spaced(counts.solved)} pairs of a design and a scenario solved"
        if counts.skipped:
            pairs += f", {spaced(counts.skipped)} left out, their design having broken a limit " \
                     "before"  # fmt: skip
        return (
            f"{self.how[0].upper()}{self.how[1:]}. {pairs}. Noise and power: the most of all "
            "scenarios; temperature: the least margin; price: fans that are not blanked. Solve the "
            "design you take and read its findings."
        )
