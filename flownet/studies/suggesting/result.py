"""What was proposed: which changes make a case hold, what was tried and was not enough."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from types import MappingProxyType
from typing import Any, NamedTuple

from flownet.enclosure.apply import covered, outlasts
from flownet.enclosure.changes import converted
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.scenarios import scenario_changes
from flownet.enclosure.toml_text import plain, settable
from flownet.judging.assessment import OK, STATUSES, TIGHT
from flownet.pages.caption import Caption
from flownet.pages.page import counted, spaced
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.results.limits import Limit
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.studies.outcome import margin_unit
from flownet.studies.suggesting.kinds import KINDS
from flownet.studies.suggesting.search import TriedChange
from flownet.studies.suggesting.sound import PAST_FILTER, TURNED, WITHOUT_NUMBER
from flownet.studies.verdicts import divided, number, stated

SHOWN = 3  # proposals in the first sentence, and printed as blocks
MOVES_NOTHING = (
    0.05  # K, dB, m3/h: what moves a margin or a flow by less does nothing; our own choice
)
HEARD = 0.5  # dB, likewise
NUMBERS = ("no change", "one change", "two changes together", "three changes together")
HOW_IT_COUNTS = (
    "What holds was solved in every scenario, outages included; a void state never counts. Least "
    "effort first: a setting, a filler or seal, a mat, a hole, a part elsewhere, a shutter, a fan, "
    "a second fan; then what has its margin, the lower price, the smaller change, the larger "
    "margin. Whether a change can be built is for you to say: solve the one you take and read its "
    "findings."
)


class TriedCounts(NamedTuple):
    """How much was tried."""

    changes: int  # one at a time
    sets: int  # several together
    solved: int  # pairs of a change, or several, and a scenario
    holding: int  # that hold, of those with the fewest changes
    unfiltered: int  # that would, but draw in air past the filter that is required
    turned: int  # that would, but turn the air round where a recirculation is given


@dataclass(frozen=True, repr=False, eq=False)
class Suggestions(Result):
    """Changes that make a case hold, least effort first; else those that come closest."""

    case: Enclosure
    base: TriedChange  # the case as it is
    proposals: tuple[TriedChange, ...]  # all hold
    closest: tuple[TriedChange, ...]  # where none does, solved in every scenario
    tried: tuple[TriedChange, ...]  # single changes that are not enough, the nearest first
    counts: TriedCounts
    scenarios: tuple[str, ...]
    in_layers: tuple[tuple[Limit, ...], ...]  # of the first proposals: what breaks in layers
    reasons: tuple[str, ...]  # why something has no solution
    unknown: tuple[str, ...]  # what has a limit and no value in the case as it is

    def __repr__(self) -> str:
        return f'<Suggestions "{self.case.title}": {self.verdict}>'

    @property
    def holds(self) -> bool:
        """Whether the case holds as it is, be it tight."""
        return self.base.everywhere and self.base.status in STATUSES[TIGHT:]

    @property
    def enough(self) -> bool:
        """Whether it holds with its margin."""
        return self.holds and self.base.status == STATUSES[OK]

    # --- as variants ------------------------------------------------------------------------------

    @cached_property
    def variants(self) -> dict[str, Mapping[str, Any]]:
        """The changes of each proposal by the name of a variant, with those that the case had
        already; not of one that no variant can say."""
        whole, start = self.case.source or self.case, 1
        while f"suggested-{start}" in whole.variants:
            start += 1
        before = self.case.applied.changes if self.case.source is not None else {}
        return {
            f"suggested-{place}": covered(whole, before, each.changes)
            for place, each in enumerate(self.proposals, start) if not each.edits
        }  # fmt: skip

    @property
    def with_variants(self) -> Enclosure:
        """The case as it was read, with a variant for each proposal."""
        whole = self.case.source or self.case
        made = {name: MappingProxyType({path: converted(whole, path, value)
                                        for path, value in changes.items()})
                for name, changes in self.variants.items()}  # fmt: skip
        every = MappingProxyType({**whole.variants, **made})
        return dataclasses.replace(whole, variants=every)

    def blocks(self) -> Iterator[tuple[str, list[str]]]:
        """Each proposal as lines of a case file, by their heading."""
        for name, changes in self.variants.items():
            lines = settable(self.case, changes, joined=True)
            yield f"[variant.{name}]", [f"{plain(path)} = {plain(value)}"
                                        for path, value in lines.items()]  # fmt: skip
        for path, value in (pair for each in self.proposals for pair in each.edits.items()):
            kind, name, key = path.split(".", 2)
            yield f"# in the table [{kind}.{name}] that is there", [
                f"# {plain(key)} = {plain(value)}"]  # fmt: skip

    # --- in words ---------------------------------------------------------------------------------

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """In sentences: what makes it hold, how it stands now, what breaks in layers."""
        return tuple(self._sentences(units))

    def _sentences(self, units: str) -> Iterator[str]:
        now = stands(self.base, units)
        if self.unknown and not self.proposals:
            yield f"nothing can be said to hold: {listed(self.unknown, SHOWN)} " \
                  f"{'has' if len(self.unknown) == 1 else 'have'} a limit, and no value to hold " \
                  "against it"  # fmt: skip
        if self.enough:
            yield f"holds everywhere with its margin ({now}): nothing is proposed"
        else:
            yield self._first(units)
            yield f"as it is: {'it holds, but tight: ' * self.holds}{now}"
        for place, lost in enumerate(self.in_layers, 1):
            yield from divided(lost, units, f"{place}: " if self.proposals else "")
        for out, why in ((self.counts.unfiltered, PAST_FILTER), (self.counts.turned, TURNED)):
            if out:
                yield f"{counted(out, 'change')} that would do left out: {why}"

    def _first(self, units: str) -> str:
        some, counts = self.proposals, self.counts
        verb, rest = ("give", "it its margin") if self.holds else ("make", "it hold")
        if some:
            many = len(some[0].made)
            lead = NUMBERS[many] if many < len(NUMBERS) else f"{many} changes together"
            alone = "no single change does; " * (many > 1)
            said = "; ".join(f"{each.words} ({self._left(each, units)})" for each in some[:SHOWN])
            more = counts.holding - len(some[:SHOWN])
            also = f"; {more} more do" * (more > 0)
            return f"{alone}{lead} {verb}{'s' * (many == 1)} {rest}: {said}{also}"
        if not counts.changes:
            return "nothing is left that may be changed"
        those = f"any of {spaced(counts.sets)} sets" if counts.sets > 1 else "the one set"
        sets = f", nor does {those} of them" * bool(counts.sets)
        near = "".join(f"; the closest: {each.words} ({stands(each, units)})"
                       for each in self.closest[:1])  # fmt: skip
        none = f"none of {counted(counts.changes, 'change')} {verb}s" if counts.changes > 1 else \
            f"the one change that can be made does not {verb}"  # fmt: skip
        return f"{none} {rest}{sets}{near}"

    def _left(self, each: TriedChange, units: str) -> str:
        """`2.1 K left at part.drive in hot+dirty, tight, +3 dB, price 31`."""
        margin = each.margin_quantity.shown(units).text(each.margin)
        louder = each.noise - self.base.noise
        noise = f", {q.LEVEL_DIFFERENCE.shown(units).text(louder, '+')}" * (abs(louder) >= HEARD)
        cost = f", price {each.price:.4g}" if each.price > 0 else ""
        tight = ", tight" * (each.status == "tight")
        return f"{margin} left at {each.subject} in {each.scenario}{tight}{noise}{cost}"

    def gain(self, each: TriedChange) -> float:
        """By how much the margin that decides is larger; NaN where it is of another sort, or one
        of both has none that counts."""
        lost = each.status in WITHOUT_NUMBER or self.base.status in WITHOUT_NUMBER
        same = each.margin_quantity == self.base.margin_quantity
        return each.margin - self.base.margin if same and not lost else math.nan

    def _brings(self, each: TriedChange, units: str) -> str:
        """What a change that is not enough does, and why."""
        gain, base = self.gain(each), self.base
        if each.status in WITHOUT_NUMBER:
            return f"{each.words}: {stands(each, units)}"
        if (each.scenario, each.subject) != (base.scenario, base.subject) or math.isnan(gain):
            return f"{each.words}: then {each.subject} in {each.scenario} decides"
        more = (each.air - base.air) * 3600
        flow = q.VOLUME_FLOW.shown(units).text(abs(each.air - base.air))
        why = (
            f"{flow} {'less' if more < 0 else 'more'} comes in"
            if abs(more) >= MOVES_NOTHING
            else ""
        )
        if why and (gain < 0) != (more < 0):
            why += f", but {'less' if gain < 0 else 'more'} of it gets there"
        nothing = "next to nothing changes there"
        made = scenario_changes(self.case, base.scenario or "base")
        if each.changes and not any(outlasts(self.case, path, made) for path in each.changes):
            nothing = f"{base.scenario} sets it anew"
        return f"{each.words}: {why if abs(gain) >= MOVES_NOTHING else nothing}".removesuffix(": ")

    # --- as tables --------------------------------------------------------------------------------

    @property
    def sheet(self) -> Sheet:
        """The answer, proposals as blocks for the case file, what was not enough, data."""
        size = f"{counted(self.counts.changes, 'change')} in " \
               f"{counted(len(self.scenarios), 'scenario')}"  # fmt: skip
        best = list({each.made[0].group: each for each in self.tried[::-1]}.values())[::-1]
        tables = [
            *self._listed("Proposal" if self.proposals else "Closest"),
            *(Listing("block", (Column(head, lines),), "page" if place < SHOWN else "all",
                      whole=True) for place, (head, lines) in enumerate(self.blocks())),
            *self._alone(best),
            self._data("proposals", self.proposals or self.closest, "data"),
            self._data("tried", self.tried, "json"),
        ]  # fmt: skip
        base = self.base
        facts = {
            "verdict": list(self.verdicts()), "holds": self.holds, "enough": self.enough,
            "as_it_is": {"status": base.status, "limit": base.limit or None,
                         "margin": None if math.isnan(base.margin) else base.margin,
                         "margin_unit": margin_unit(base.margin_quantity),
                         "decides": base.subject or None, "scenario": base.scenario or None,
                         "unknown": list(self.unknown)},
            "scenarios": list(self.scenarios), **self.counts._asdict(),
        }  # fmt: skip
        return Sheet("suggest", Caption.of(self.case, size), self.verdicts, tables,
                     (Sentence("", HOW_IT_COUNTS),), facts)  # fmt: skip

    def _listed(self, head: str) -> Iterator[Listing]:
        if some := self.proposals or self.closest:
            yield Listing("words", (
                Column(head, [str(place) for place in range(1, len(some) + 1)]),
                Column("margin", [partial(_margin, each) for each in some], right=True,
                       styles=["" if each.holds else "bad" for each in some]),
                Column("noise", [each.noise for each in some], q.LEVEL),
                Column("effort", [_effort(each) for each in some]),
                Column("", [each.words for each in some]),
            ), hang=True)  # fmt: skip

    def _alone(self, some: Sequence[TriedChange]) -> Iterator[Listing]:
        """Single changes that are not enough, of sizes of one change the best."""
        if some:
            yield Listing("alone", (
                Column("Not enough", [partial(_margin, each) for each in some]),
                Column("more", [self.gain(each) for each in some], self.base.margin_quantity,
                       form="+"),
                Column("", [partial(self._brings, each) for each in some]),
            ), hang=True)  # fmt: skip

    def _data(self, name: str, some: Sequence[TriedChange], use: str) -> Listing:
        quantities = [each.margin_quantity for each in some]
        return Listing(name, (
            Column("changes", [settable(self.case, each.changes) for each in some]),
            Column("edits", [each.edits for each in some]),
            *(Column(key, [getattr(each, key) for each in some])
              for key in ("words", "holds", "everywhere", "status")),
            Column("margin", [each.margin for each in some], quantities),
            Column("margin_unit", [margin_unit(each) for each in quantities]),
            Column("limit", [each.limit or None for each in some]),
            Column("decides", [each.subject or None for each in some]),
            Column("scenario", [each.scenario or None for each in some]),
            Column("effort", [_effort(each) for each in some]),
            Column("noise", [each.noise for each in some], q.LEVEL),
            Column("price", [each.price if each.price > 0 else None for each in some]),
        ), use)  # fmt: skip


def stands(each: TriedChange, units: str) -> str:
    """`-14.5 K at part.drive in hot`, `void: fan.left in stall in hot`."""
    about = "" if each.status in WITHOUT_NUMBER else f" at {each.subject}"
    where = f" in {each.scenario}" * bool(each.scenario)
    return f"{stated(each, units)}{about}{where}"


def _margin(each: TriedChange, units: str) -> str:
    if each.status == "unsolved":
        return each.status
    paper = f" {each.status}" * (each.status == "void" or (each.holds and each.status == "tight"))
    return number(each, units) + paper


def _effort(each: TriedChange) -> str:
    """`second fan and hole`."""
    return listed(dict.fromkeys(KINDS[one.kind] for one in each.made))
