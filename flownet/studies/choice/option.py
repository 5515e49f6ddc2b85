"""One combination of a choice: its numbers, how it reads, and tables of several of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

from flownet.judging.voids import WORDS as VOID
from flownet.judging.voids import told
from flownet.pages.page import spaced
from flownet.pages.sheet import Column, Listing, Sentence
from flownet.schema import quantities as q
from flownet.schema.quantities import Quantity
from flownet.studies.choice.order import MEASURES, RANKING
from flownet.studies.designs import Axis
from flownet.studies.verdicts import margin_text

USUAL_STATES = ("running", "open", "fitted")  # states that go without saying beside other values


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
        return float(getattr(self, MEASURES[name].of_option))

    def margin(self, units: str = "metric") -> str:
        """Of the limit that decides, `+4.2 K`; `-` where there is none."""
        return margin_text(self.worst_margin, self.margin_quantity, units)

    def measure(self, name: str, units: str = "metric") -> str:
        """What ranks, by its word: `46.1 dBA`; `-` where it is not known."""
        value = self.value(name)
        if name == "noise" and value == -math.inf:
            return "silent"
        if not math.isfinite(value):
            return "-"
        text: str = MEASURES[name].quantity.shown(units).text(value, "+" * (name == "temperature"))
        return text

    def named_measure(self, name: str, units: str = "metric") -> str:
        """The same where nothing else says what it is: `price 12.00`."""
        text = self.measure(name, units)
        return f"price {text}" if name == "price" and text != "-" else text

    def off(self, units: str = "metric") -> str:
        """By how much it does not hold."""
        if self.void:
            paper = self.margin(units)
            over = f", {paper} on paper" if paper.startswith("-") and paper != "-" else ""
            return f"is void in {self.scenario} ({told({self.limit: [self.subject]}, units)}{over})"
        if not math.isfinite(self.worst_margin):
            return f"has no solution in {self.scenario}" if self.scenario else "is unsound"
        return f"is {self.margin(units)} at {self.subject} in {self.scenario}"

    @property
    def decides(self) -> str:
        """`part.drive in hot; 2 more alike`."""
        subject = f"void: {self.subject} {self.limit}" if self.void else self.subject
        words = " in ".join(word for word in (subject, self.scenario) if word)
        return f"{words}; {self.alike - 1} more alike" if self.alike > 1 else words

    def text(self, axes: Sequence[Axis], units: str = "metric") -> str:
        """What it has at one thing: `axial-119-q`, `blanked`, `900 cm2`."""
        texts = []
        for axis in axes:
            value = self.changes[axis.path]
            if isinstance(value, bool):
                text = "yes" if value else "no"
            elif axis.quantity is None or isinstance(value, str):
                text = str(value)
            else:
                text = axis.quantity.shown(units).text(float(value))
            usual = axis.path.endswith(".state") and text in USUAL_STATES and len(axes) > 1
            if axis.path not in self.idle and not usual:
                texts.append(text)
        return ", ".join(texts) or "-"


class Excluded(NamedTuple):
    """Combinations that broke one limit in one scenario before any other."""

    limit: str  # as of `Option`; empty where there was no solution or no value
    subject: str
    scenario: str
    designs: int

    def what(self, units: str = "metric") -> str:
        """What they broke, `life of fan.left`, `fan.left in stall`."""
        if self.limit in VOID:
            return told({self.limit: [self.subject]}, units)
        return "life of " * (self.limit == "life") + (self.subject or "no solution")


def best(options: Sequence[Option], best_by: Sequence[str], front: bool, use: str) -> Listing:
    """The margin of each, its measures, and what decides it."""
    head = "Best" if options[0].holds else "Void" if options[0].void else "Closest"
    names = [name for name in RANKING if name in best_by or (
        name != "temperature" and any(each.measure(name) != "-" for each in options))]  # fmt: skip
    return Listing("best", (
        Column("Trade-off" if front else head, places(options)),
        Column("margin", [each.margin for each in options], right=True,
               styles=["" if each.holds else "bad" for each in options]),
        *(Column(name, [each.power for each in options], q.POWER) if name == "power" else
          Column(name, [partial(each.measure, name) for each in options], right=True)
          for name in names),
        Column("", [each.decides for each in options]),
    ), use, whole=True)  # fmt: skip


def places(options: Sequence[Option]) -> list[str]:
    """`1`, `2`: what names a row."""
    return [str(place) for place in range(1, len(options) + 1)]


def broken(excluded: Sequence[Excluded], reasons: Sequence[str]) -> Iterator[Listing]:
    """Which limit, in which scenario, the others broke first; why some have no solution."""
    if excluded:
        faults = [fault for why in reasons[:3] for fault in why.splitlines()[:2]]
        yield Listing("first", (
            Column("Excluded first by", [item.what for item in excluded]),
            Column("designs", [spaced(item.designs) for item in excluded], right=True),
            Column("in", [item.scenario or "in itself" for item in excluded]),
        ), notes=tuple(Sentence("  not solved  ", fault) for fault in faults),
            apart=False)  # fmt: skip


def data(options: Sequence[Option]) -> Iterator[Column]:
    """What JSON and CSV say of each, beside its values."""
    yield Column("holds", [each.holds for each in options])
    for name in ("limit", "subject", "scenario"):
        yield Column(name, [getattr(each, name) or None for each in options])
    quantities = [each.margin_quantity for each in options]
    yield Column("worst_margin", [each.worst_margin for each in options], quantities)
    units = [quantity.json.unit.replace("hours", "h") for quantity in quantities]
    yield Column("margin_unit", [unit if each.limit else None
                                 for unit, each in zip(units, options, strict=True)])  # fmt: skip
    for word in MEASURES.values():
        if name := word.of_option:
            yield Column(name, [getattr(each, name) for each in options], word.quantity)
