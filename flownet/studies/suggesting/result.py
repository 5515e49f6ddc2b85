"""What was proposed: which changes make a case hold, what was tried and was not enough."""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property, partial
from types import MappingProxyType
from typing import Any, NamedTuple

from flownet.enclosure.apply import covered, outlasts
from flownet.enclosure.changes import converted
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.scenarios import scenario_changes
from flownet.enclosure.toml_text import plain, settable
from flownet.pages.caption import Caption
from flownet.pages.page import counted, spaced
from flownet.pages.render import records
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.results.limits import Limit
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.studies.outcome import SOUND, margin_unit
from flownet.studies.suggesting.search import TriedChange
from flownet.studies.suggesting.steps import EFFORT_OF
from flownet.studies.verdicts import divided, number, stated

SHOWN = 3  # proposals in the first sentence, and printed as blocks
# what moves a margin [K, dB] or a flow [m3/h] by less does nothing; our own choice
MOVES_NOTHING = 0.05
HEARD = 0.5  # dB, likewise
WITHOUT_NUMBER = ("unsolved", "void")
LEFT_OUT = {  # why something that holds is not proposed
    "unfiltered": "the air would come in past the filter that is required",
    "turned": "the air would turn round where a recirculation, or a part at the end of its slot, "
    "is given for the way it goes now",
}
NUMBERS = ("no change", "one change", "two changes together", "three changes together")
AS_IT_IS = ("status", "limit", "margin", "margin_unit", "decides", "scenario")  # in JSON
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


@dataclasses.dataclass(frozen=True, repr=False, eq=False)
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
        return self.base.everywhere and self.base.status in SOUND

    @property
    def enough(self) -> bool:
        """Whether it holds with its margin."""
        return self.holds and self.base.status == "ok"

    # --- as variants ------------------------------------------------------------------------------

    @cached_property
    def variants(self) -> dict[str, Mapping[str, Any]]:
        """The changes of each proposal by the name of a variant, with those that the case had
        already; not of one that no variant can say."""
        whole = self.case.source or self.case
        names = (f"suggested-{number}" for number in itertools.count(1))
        free = (name for name in names if name not in whole.variants)
        before = self.case.applied.changes if self.case.source is not None else {}
        return {name: MappingProxyType({
            path: converted(whole, path, value)
            for path, value in covered(whole, before, each.changes).items()
        }) for name, each in zip(free, self.proposals, strict=False) if not each.edits}  # fmt: skip

    @property
    def with_variants(self) -> Enclosure:
        """The case as it was read, with a variant for each proposal."""
        whole = self.case.source or self.case
        every = MappingProxyType({**whole.variants, **self.variants})
        return dataclasses.replace(whole, variants=every)

    def blocks(self) -> Iterator[tuple[str, list[str]]]:
        """Each proposal as lines of a case file, by their heading."""
        variants = iter(self.variants.items())
        for each in self.proposals:
            for path, value in each.edits.items():
                kind, name, key = path.split(".", 2)
                yield f"# in the table [{kind}.{name}] that is there", [
                    f"# {plain(key)} = {plain(value)}"]  # fmt: skip
            if not each.edits:
                name, changes = next(variants)
                lines = settable(self.case, changes, joined=True).items()
                yield f"[variant.{name}]", [f"{plain(path)} = {plain(value)}"
                                            for path, value in lines]  # fmt: skip

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
        for word, why in LEFT_OUT.items():
            if out := getattr(self.counts, word):
                yield f"left out: {counted(out, 'change')} that would do, since {why}"

    def _first(self, units: str) -> str:
        some, counts = self.proposals, self.counts
        verb, rest = ("give", "it its margin") if self.holds else ("make", "it hold")
        if some:
            many = len(some[0].made)
            lead = NUMBERS[many] if many < len(NUMBERS) else f"{many} changes together"
            alone = "no single change does; " * (many > 1)
            said = "; ".join(f"{each.words} ({self._told(each, units)})" for each in some[:SHOWN])
            also = f"; {more} more do" if (more := counts.holding - SHOWN) > 0 else ""
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

    def _told(self, each: TriedChange, units: str) -> str:
        """`2.1 K margin at part.drive in hot+dirty, tight, +3 dB, price 31`."""
        margin = each.margin_quantity.shown(units).text(each.margin)
        louder = each.noise - self.base.noise
        noise = f", {q.LEVEL_DIFFERENCE.shown(units).text(louder, '+')}" * (abs(louder) >= HEARD)
        cost = f", price {each.price:.4g}" if each.price > 0 else ""
        tight = ", tight" * (each.status == "tight")
        return f"{margin} margin at {each.subject} in {each.scenario}{tight}{noise}{cost}"

    def gain(self, each: TriedChange) -> float:
        """By how much the margin that decides is larger; NaN where it is of another sort, or one
        of both has none that counts."""
        lost = {each.status, self.base.status}.intersection(WITHOUT_NUMBER)
        other = each.margin_quantity != self.base.margin_quantity
        return math.nan if lost or other else each.margin - self.base.margin

    def _brings(self, each: TriedChange, units: str) -> str:
        """What a change that is not enough does, and why."""
        gain, base = self.gain(each), self.base
        more = (each.air - base.air) * 3600
        way, gets = ("less" if change < 0 else "more" for change in (more, gain))
        if each.status in WITHOUT_NUMBER:
            why = stands(each, units)
        elif (each.scenario, each.subject) != (base.scenario, base.subject) or math.isnan(gain):
            why = f"then {each.subject} in {each.scenario} decides"
        elif abs(gain) < MOVES_NOTHING:
            made = scenario_changes(self.case, base.scenario or "base")
            idle = each.changes and not any(outlasts(self.case, p, made) for p in each.changes)
            why = f"{base.scenario} sets it anew" if idle else "next to nothing changes there"
        elif abs(more) < MOVES_NOTHING:
            return each.words
        else:
            flow = q.VOLUME_FLOW.shown(units).text(abs(each.air - base.air))
            why = f"{flow} {way} comes in" + f", but {gets} of it gets there" * (way != gets)
        return f"{each.words}: {why}"

    # --- as tables --------------------------------------------------------------------------------

    @property
    def sheet(self) -> Sheet:
        """The answer, proposals as blocks for the case file, what was not enough, data."""
        size = f"{counted(self.counts.changes, 'change')} in " \
               f"{counted(len(self.scenarios), 'scenario')}"  # fmt: skip
        best = list({each.made[0].group: each for each in self.tried[::-1]}.values())[::-1]
        tables = [
            *filter(len, [self._listed(self.proposals or self.closest)]),
            *(Listing("block", (Column(head, lines),), "page" if place < SHOWN else "all",
                      whole=True) for place, (head, lines) in enumerate(self.blocks())),
            *filter(len, [self._alone(best)]),
            self._data("proposals", self.proposals or self.closest, "data"),
            self._data("tried", self.tried, "json"),
        ]  # fmt: skip
        (base,) = records(self._data("", [self.base], ""))
        facts = {
            "verdict": list(self.verdicts()), "holds": self.holds, "enough": self.enough,
            "as_it_is": {key: base[key] for key in AS_IT_IS} | {"unknown": list(self.unknown)},
            "scenarios": list(self.scenarios), **self.counts._asdict(),
        }  # fmt: skip
        return Sheet("suggest", Caption.of(self.case, size), self.verdicts, tables,
                     (Sentence("", HOW_IT_COUNTS),), facts)  # fmt: skip

    def _listed(self, some: Sequence[TriedChange]) -> Listing:
        head = "Proposal" if self.proposals else "Closest"
        return Listing("words", (
            Column(head, [str(place) for place in range(1, len(some) + 1)]),
            Column("margin", [partial(_margin, each) for each in some], right=True,
                   styles=["" if each.holds else "bad" for each in some]),
            Column("noise", [each.noise for each in some], q.LEVEL),
            Column("effort", [_effort(each) for each in some]),
            Column("", [each.words for each in some]),
        ), hang=True)  # fmt: skip

    def _alone(self, some: Sequence[TriedChange]) -> Listing:
        """Single changes that are not enough, of sizes of one change the best."""
        return Listing("alone", (
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
            *(Column(head, [getattr(each, key) or None for each in some]) for head, key in
              (("limit", "limit"), ("decides", "subject"), ("scenario", "scenario"))),
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
    told = each.status == "void" or (each.holds and each.status == "tight")
    return f"{number(each, units)}{f' {each.status}' * told}"


def _effort(each: TriedChange) -> str:
    """`second fan and hole`."""
    return listed(dict.fromkeys(EFFORT_OF[one.kind] for one in each.made))
