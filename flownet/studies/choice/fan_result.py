"""What the choice of a fan found: the types that serve in rank order, then the others."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import zip_longest

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.assessment import THERMAL
from flownet.pages.caption import Caption
from flownet.pages.page import counted
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.pages.table import ROWS, cut
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.fault import did_you_mean, nearest
from flownet.solving.solve import broken_in_layers
from flownet.studies.choice.eligibility import REASON_KINDS, Reason
from flownet.studies.choice.fan_solved import FanNumbers, Solved
from flownet.studies.choice.order import MEASURES
from flownet.studies.verdicts import Closeness, divided

LIMITS_TOLD = 3  # temperature limits of an excluded type that are told one by one
NAME_BEFORE = 26  # letters of a name, before its reasons
FAN_FIGURES = {
    "margin": q.DIFFERENCE, "volume_flow": q.VOLUME_FLOW, "noise": q.LEVEL, "power": q.POWER,
    "life": q.HOURS, "air": q.TEMPERATURE, "price": q.PRICE,
}  # fmt: skip


@dataclass(frozen=True)
class Candidate:
    """One fan type at the place."""

    type: str
    rank: int  # 1 for the best; 0 where it is excluded
    reasons: tuple[Reason, ...]  # why it is excluded; empty where it is not
    remarks: tuple[Reason, ...]  # what is worth a word where it is not
    numbers: FanNumbers  # over all scenarios; NaN where it was not solved in each
    solved: bool  # whether it was solved in every scenario
    unjudged: bool = False  # a limit has no value somewhere, so that nobody knows whether it holds
    off: Closeness | None = None  # None where it has no solution in any scenario

    @property
    def accepted(self) -> bool:
        """Whether nothing excludes it."""
        return not self.reasons

    @property
    def decides(self) -> str:
        """`tight, part.drive in hot, life L10`."""
        own = self.numbers
        status = "unknown" if self.unjudged else "tight" if own.tight else "ok"
        where = " in ".join(word for word in (own.subject, own.scenario) if word)
        life = own.life_kind and f"life {own.life_kind}"
        return ", ".join(word for word in (status, where, life) if word)

    def told(self, units: str) -> str:
        """The first reason, and how many more there are."""
        more = len(self.reasons) - 1
        words = f" (and {more} more reason{'s' if more > 1 else ''})" if more else ""
        return self.reasons[0].message(units) + words

    def excluded_by(self, most: int | None, units: str) -> str:
        """All reasons; of temperature limits the worst, those broken in the same scenario name it
        once."""
        hot = [reason for reason in self.reasons if reason.kind in THERMAL]
        hot.sort(key=lambda reason: -reason.values["over"][1])
        shown, told = hot[:most], []
        for reason, then in zip_longest(shown, shown[1:]):
            last = then is None or then.scenario != reason.scenario
            told.append((reason if last else reason._replace(scenario="")).message(units))
        more = len(hot) - len(shown)
        limits = ", ".join([*told, *([f"{more} more over"] if more else [])])
        words = dict.fromkeys(limits if reason.kind in THERMAL else reason.message(units)
                              for reason in self.reasons)  # fmt: skip
        return "; ".join(words)


@dataclass(frozen=True, repr=False, eq=False)
class FanChoice(Result):
    """Fan types for a place: those that serve in rank order, then the others, with every reason.

    What needs no solve comes first and is not solved: a rating for the supply of the place, the
    frame against the hole (hole pitch, else frame; a cut-out that is large enough; depth within the
    clearances where both are given), the shaft against the bearing, a given speed against the speed
    range. All others are put into the case and solved in every scenario that decides. They are
    excluded by a limit that is broken (temperature, noise, life, `limits.flow`), by stall or
    backflow of any fan, by air beyond their range, or where there is no solution.
    """

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
    def _every(self) -> tuple[Candidate, ...]:
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
        every = {item.type: item for item in self._every}
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
        return {kind: found[kind] for kind in REASON_KINDS if found[kind]}

    def __repr__(self) -> str:
        return f'<FanChoice "{self.case.title}" {", ".join(self.fans)}: {self.verdict}>'

    @property
    def sheet(self) -> Sheet:
        """The verdict, types that serve with remarks, the others with reasons, what numbers are."""
        count, variant = len(self._every), self.case.applied.variant
        size = f"{counted(count, 'type')} in {counted(len(self.scenarios), 'scenario')}"
        about = [("for     ", ", ".join(self.fans))]
        about += [("", f"variant {variant}")] if variant != "base" else []
        facts = {
            "verdict": list(self.verdicts()), "fans": list(self.fans),
            "in_place": list(self.in_place), "scenarios": list(self.scenarios), "best": self.by,
        }  # fmt: skip
        return Sheet(
            "choose", Caption.of(self.case, size, about=tuple(about)), self.verdicts,
            [*accepted_tables(self.candidates), *excluded_tables(self.excluded, self.alike),
             *self._data()],
            (Sentence("", self._legend()),) if self.candidates else (), facts,
        )  # fmt: skip

    def _data(self) -> Iterator[Listing]:
        def joined(reasons: Sequence[Reason]) -> str | None:
            return "; ".join(each.message() for each in reasons) or None

        told = ("reasons", "remarks")
        for name, items in (("accepted", self.candidates), ("excluded", self.excluded)):
            nested = (Column(each, [[reason.to_dict() for reason in getattr(item, each)]
                                    for item in items]) for each in told)  # fmt: skip
            yield Listing(name, (*data_columns(items), *nested), "json")
        flat = (Column(each, [joined(getattr(item, each)) for item in self._every])
                for each in told)  # fmt: skip
        yield Listing("rows", (*data_columns(self._every), *flat), "rows")

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
        numbers, name = self.best.numbers, MEASURES[self.by].of_fan
        texts = {
            key: "" if math.isnan(value := getattr(numbers, key)) else
            quantity.shown(units).text(value) for key, quantity in FAN_FIGURES.items()
        }  # fmt: skip
        words = f"{self.best.type} {self._holds(self.best)} {where}"
        words += f" with {texts['margin']} margin" if texts["margin"] else ""
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
        counts = ", ".join(f"{count} {REASON_KINDS[kind]}" for kind, count in self.counts.items())
        return f"; {len(self.excluded)} of {len(self._every)} excluded: {counts}"


# --- tables ---------------------------------------------------------------------------------------


def accepted_tables(items: Sequence[Candidate]) -> Iterator[Listing]:
    """Their numbers, then what is worth a word of those that are shown."""
    if not items:
        return
    own = [item.numbers for item in items]
    styles = ["doubtful" if each.tight else "good" for each in own]
    margin = Column("margin", [each.margin for each in own], q.DIFFERENCE, "high", "+", styles)
    yield Listing("types", (
        Column("Accepted", [f"{item.rank} {item.type}" for item in items]), margin,
        *(Column(name.removeprefix("volume_"), [getattr(each, name) for each in own], quantity)
          for name, quantity in FAN_FIGURES.items() if name not in ("margin", "air")),
        Column("", [item.decides for item in items]),
    ))  # fmt: skip
    for use, some in _shown(items):
        told = [(item.type, remark.message) for item in some for remark in item.remarks]
        if told:
            title = Sentence("", "Remarks", "heading")
            yield Listing("remarks", (), use, tuple(_beside(told)), title)


def excluded_tables(items: Sequence[Candidate], alike: bool) -> Iterator[Listing]:
    """Why others are not; their names alone where all have one reason, which the verdict tells."""
    for use, some in _shown(items):
        told = [Sentence("  all     ", ", ".join(item.type for item in some))] if alike else [
            *_beside((item.type, partial(item.excluded_by, LIMITS_TOLD if use != "all" else None))
                     for item in some)]  # fmt: skip
        more = len(items) - len(some)
        told += [Sentence("  ", f"... {more} more (--all)")] if more else []
        yield Listing("reasons", (), use, tuple(told), Sentence("", "Excluded", "heading"))


def _shown(items: Sequence[Candidate]) -> Iterator[tuple[str, Sequence[Candidate]]]:
    """What a page shows that is not asked for all, and one that is."""
    if items:
        yield "short", cut(list(items), ROWS, lambda item: False)
        yield "all", items


def _beside(rows: Iterable[tuple[str, Callable[[str], str]]]) -> Iterator[Sentence]:
    """Names, and words to the right of them; a name that comes again is not repeated."""
    listed = list(rows)
    width = min(max(len(name) for name, _ in listed), NAME_BEFORE) + 4
    before = ""
    for name, words in listed:
        lead = f"  {name}" if name != before else ""
        before = name
        if len(lead) + 2 > width:
            yield Sentence(lead, "")
            lead = ""
        yield Sentence(lead.ljust(width), words)


def data_columns(items: Sequence[Candidate]) -> Iterator[Column]:
    """What JSON and CSV say of each, beside its reasons."""
    own = [item.numbers for item in items]
    yield Column("type", [item.type for item in items])
    yield Column("rank", [item.rank or None for item in items])
    yield Column("accepted", [item.accepted for item in items])
    for name, quantity in FAN_FIGURES.items():
        yield Column(name, [getattr(each, name) for each in own], quantity)
    for key, name in (("life_kind", "life_kind"), ("worst_subject", "subject"),
                      ("worst_scenario", "scenario")):  # fmt: skip
        yield Column(key, [getattr(each, name) or None for each in own])


def meant(word: str, known: list[str]) -> str:
    """`; did you mean "left"?`, or what there is."""
    return "; " + did_you_mean(nearest(word, known), f"there are {', '.join(known)}")
