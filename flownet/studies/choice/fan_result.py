"""What the choice of a fan found: the types that serve in rank order, then the others."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.caption import Caption
from flownet.pages.page import counted
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.results.solution import Solution
from flownet.schema.component import nearest
from flownet.schema.errors import CaseError
from flownet.solve import broken_in_layers
from flownet.studies.choice.eligibility import KINDS, Reason
from flownet.studies.choice.fan_candidate import SHOWN, Candidate, accepted, data, excluded
from flownet.studies.choice.fan_solved import Solved
from flownet.studies.verdicts import divided

BEST = {  # what ranks -> the number, and what is said of the first
    "temperature": "margin", "noise": "noise", "power": "power", "price": "price", "life": "life",
}  # fmt: skip


@dataclass(frozen=True, repr=False, eq=False)
class FanChoice(Result):
    """Fan types for a place: those that serve in rank order, then the others."""

    case: Enclosure  # with all candidates, in the variant that was asked for
    fans: tuple[str, ...]  # whose type is chosen, by path
    in_place: tuple[str, ...]  # the types that are there now
    scenarios: tuple[str, ...]
    by: str  # what ranks
    candidates: tuple[Candidate, ...]  # in rank order
    excluded: tuple[Candidate, ...]  # those with a solution first, the nearest of them first
    solved: Solved | None  # None where no candidate came so far

    @property
    def best(self) -> Candidate | None:
        """The first of those that serve; None where none does."""
        return self.candidates[0] if self.candidates else None

    @property
    def every(self) -> tuple[Candidate, ...]:
        """Those that serve, then the others."""
        return *self.candidates, *self.excluded

    @property
    def alike(self) -> bool:
        """Whether every type, of several, is excluded by the very same one reason."""
        first = self.excluded[0].reasons if self.excluded else ()
        every = all(item.reasons == first for item in self.excluded)
        return not self.candidates and len(self.excluded) > 1 and len(first) == 1 and every

    def candidate(self, type_: str) -> Candidate:
        """One candidate by the name of its type; CaseError where it was none."""
        every = {item.type: item for item in self.every}
        if type_ not in every:
            raise CaseError(f'"{type_}": was no candidate{meant(type_, list(every))}')
        return every[type_]

    def solution(self, type_: str, scenario: str) -> Solution:
        """The whole solution of a candidate in a scenario.

        CaseError for one that was not solved because a cheap reason excludes it; NoSolution.
        """
        self.candidate(type_)
        if self.solved is None or type_ not in self.solved.types:
            raise CaseError(f'"{type_}": is excluded without a solve')
        if scenario not in self.scenarios:
            names = ", ".join(self.scenarios)
            raise CaseError(f'scenario "{scenario}": was not solved; there are {names}')
        place = self.scenarios.index(scenario), self.solved.types.index(type_)
        return self.solved.pairs.select(int(self.solved.index[place]))

    @property
    def counts(self) -> dict[str, int]:
        """How many are excluded by each kind of reason; the first reason of each counts."""
        found = Counter(item.reasons[0].kind for item in self.excluded)
        return {kind: found[kind] for kind in KINDS if found[kind]}

    def __repr__(self) -> str:
        return f'<FanChoice "{self.case.title}" {", ".join(self.fans)}: {self.verdict}>'

    @property
    def sheet(self) -> Sheet:
        """The verdict, types that serve with remarks, the others with reasons, what numbers are."""
        count, variant = len(self.every), self.case.applied.variant
        size = f"{counted(count, 'type')} in {counted(len(self.scenarios), 'scenario')}"
        about = [("for     ", ", ".join(self.fans))]
        about += [("", f"variant {variant}")] if variant != "base" else []
        facts = {
            "verdict": list(self.verdicts()), "fans": list(self.fans),
            "in_place": list(self.in_place), "scenarios": list(self.scenarios), "best": self.by,
        }  # fmt: skip
        return Sheet(
            "choose", Caption.of(self.case, size, about=tuple(about)), self.verdicts,
            [*accepted(self.candidates), *excluded(self.excluded, self.alike), *self._data()],
            (Sentence("", self._legend()),) if self.candidates else (), facts,
        )  # fmt: skip

    def _data(self) -> Iterator[Listing]:
        def joined(reasons: Sequence[Reason]) -> str | None:
            return "; ".join(each.message() for each in reasons) or None

        told = ("reasons", "remarks")
        for name, items in (("accepted", self.candidates), ("excluded", self.excluded)):
            nested = (Column(each, [[reason.to_dict() for reason in getattr(item, each)]
                                    for item in items]) for each in told)  # fmt: skip
            yield Listing(name, (*data(items), *nested), "json")
        flat = (Column(each, [joined(getattr(item, each)) for item in self.every]) for each in told)
        yield Listing("rows", (*data(self.every), *flat), "rows")

    def _legend(self) -> str:
        count = len(self.fans)
        own = "the fan" if count == 1 else "both fans" if count == 2 else f"all {count} fans"
        return (
            f"The worst of {counted(len(self.scenarios), 'scenario')}: least temperature margin "
            "and where, least flow drawn in, most noise, most power and price of "
            f"{own}, shortest life in service, at the fan's own air."
        )

    # --- in words --------------------------------------------------------------------------------

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """What is found, in sentences: the best one first, then what stands there now."""
        return tuple(self._sentences(units))

    def _sentences(self, units: str) -> Iterator[str]:
        where = "everywhere" if len(self.scenarios) > 1 else f"in {self.scenarios[0]}"
        if self.alike:
            why = f"all {len(self.excluded)} for one reason: {self.excluded[0].told(units)}"
            yield f"no type holds {where}, {why}"
            return
        yield f"{self._first(where, units)}{self._counted()}"
        if self.best is not None:
            every = (broken_in_layers(self.solution(self.best.type, n)) for n in self.scenarios)
            broken = [item for items in every for item in items[:1]]
            yield from divided(sorted(broken, key=lambda item: item.margin)[:1], units)
        for name in self.in_place:
            item = self.candidate(name)
            if item.reasons:
                yield f"{name}, in place now, is excluded: {item.told(units)}"
            elif item is not self.best:
                yield f"{name}, in place now, is number {item.rank} by {self.by}"

    def _first(self, where: str, units: str) -> str:
        near = [item for item in self.excluded if item.off]
        if self.best is None and near:
            return f"no type holds {where}; {near[0].type} comes closest: {near[0].told(units)}"
        if self.best is None:
            return f"no type holds {where}, none could be {'solved' if self.solved else 'tried'}"
        numbers, name = self.best.numbers, BEST[self.by]
        texts = {key: "" if math.isnan(value := getattr(numbers, key)) else
                 quantity.shown(units).text(value) for key, quantity in SHOWN.items()}  # fmt: skip
        words = f"{self.best.type} {self._holds(self.best)} {where}"
        words += f" with {texts['margin']} to spare" if texts["margin"] else ""
        words += f" at {texts['noise']}" if texts["noise"] else ", noise not stated"
        if name in ("margin", "noise"):
            return words
        kind = f"{numbers.life_kind} life" if name == "life" else name
        return f"{words}, {kind} {texts[name] or 'not stated'}"

    def _holds(self, item: Candidate) -> str:
        if self.solved is None or not self.solved.pairs.limits:
            return "runs, without a limit to hold,"
        return "breaks no limit that has a value" if item.unjudged else "holds"

    def _counted(self) -> str:
        if not self.excluded:
            return ""
        counts = ", ".join(f"{count} {KINDS[kind]}" for kind, count in self.counts.items())
        return f"; {len(self.excluded)} of {len(self.every)} excluded: {counts}"


def meant(word: str, known: list[str]) -> str:
    """`; did you mean "left"?`, or what there is."""
    close = nearest(word, known)
    return f'; did you mean "{close}"?' if close else f"; there are {', '.join(known)}"
