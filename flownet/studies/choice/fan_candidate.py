"""One fan type at a place: its numbers, how it reads, and tables of several of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import zip_longest
from typing import NamedTuple

import numpy as np

from flownet.pages.sheet import Column, Listing, Sentence
from flownet.pages.table import ROWS, cut
from flownet.schema import quantities as q
from flownet.studies.choice.eligibility import Reason
from flownet.studies.verdicts import Closeness

MOST = 3  # temperature limits of an excluded type that are told one by one
NARROW = 26  # letters of a name, before its reasons
LIMITS = ("part", "air")
SHOWN = {
    "margin": q.DIFFERENCE, "volume_flow": q.VOLUME_FLOW, "noise": q.LEVEL, "power": q.POWER,
    "life": q.HOURS, "air": q.TEMPERATURE, "price": q.PRICE,
}  # fmt: skip
HEADS = {"volume_flow": "flow"}


class Numbers(NamedTuple):
    """A candidate over all scenarios: the worst of each; SI, NaN where there is no value."""

    margin: float = np.nan  # least temperature margin [K]
    subject: str = ""  # of it
    scenario: str = ""  # where it is
    tight: bool = False  # less than `limits.margin`
    volume_flow: float = np.nan  # least flow drawn in from outside [m3/s]
    noise: float = np.nan  # most, of all fans, at `noise_distance` [dBA]; NaN: its own not known
    power: float = np.nan  # most electrical input of the fans that are chosen [W]
    life: float = np.nan  # shortest of the fans that are chosen, at their own air, in service [h]
    life_kind: str = ""  # L10, mean; empty without one
    air: float = np.nan  # warmest air that enters one of them [K]
    price: float = np.nan  # of all of them


UNKNOWN = Numbers()


@dataclass(frozen=True)
class Candidate:
    """One fan type at the place."""

    type: str
    rank: int  # 1 for the best; 0 where it is excluded
    reasons: tuple[Reason, ...]  # why it is excluded; empty where it is not
    remarks: tuple[Reason, ...]  # what is worth a word where it is not
    numbers: Numbers  # over all scenarios; NaN where it was not solved in each
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
        hot = [reason for reason in self.reasons if reason.kind in LIMITS]
        hot.sort(key=lambda reason: -reason.values["over"][1])
        shown, told = hot[:most], []
        for reason, then in zip_longest(shown, shown[1:]):
            last = then is None or then.scenario != reason.scenario
            told.append((reason if last else reason._replace(scenario="")).message(units))
        more = len(hot) - len(shown)
        limits = ", ".join([*told, *([f"{more} more over"] if more else [])])
        words = dict.fromkeys(limits if reason.kind in LIMITS else reason.message(units)
                              for reason in self.reasons)  # fmt: skip
        return "; ".join(words)


def accepted(items: Sequence[Candidate]) -> Iterator[Listing]:
    """Their numbers, then what is worth a word of those that are shown."""
    if not items:
        return
    own = [item.numbers for item in items]
    styles = ["doubtful" if each.tight else "good" for each in own]
    margin = Column("margin", [each.margin for each in own], q.DIFFERENCE, "high", "+", styles)
    yield Listing("types", (
        Column("Accepted", [f"{item.rank} {item.type}" for item in items]), margin,
        *(Column(HEADS.get(name, name), [getattr(each, name) for each in own], quantity)
          for name, quantity in SHOWN.items() if name not in ("margin", "air")),
        Column("", [item.decides for item in items]),
    ))  # fmt: skip
    for use, some in _shown(items):
        told = [(item.type, remark.message) for item in some for remark in item.remarks]
        if told:
            title = Sentence("", "Remarks", "heading")
            yield Listing("remarks", (), use, tuple(_beside(told)), title)


def excluded(items: Sequence[Candidate], alike: bool) -> Iterator[Listing]:
    """Why others are not; their names alone where all have one reason, which the verdict tells."""
    for use, some in _shown(items):
        told = [Sentence("  all     ", ", ".join(item.type for item in some))] if alike else [
            *_beside((item.type, partial(item.excluded_by, MOST if use != "all" else None))
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
    width = min(max(len(name) for name, _ in listed), NARROW) + 4
    before = ""
    for name, words in listed:
        lead = f"  {name}" if name != before else ""
        before = name
        if len(lead) + 2 > width:
            yield Sentence(lead, "")
            lead = ""
        yield Sentence(lead.ljust(width), words)


def data(items: Sequence[Candidate]) -> Iterator[Column]:
    """What JSON and CSV say of each, beside its reasons."""
    own = [item.numbers for item in items]
    yield Column("type", [item.type for item in items])
    yield Column("rank", [item.rank or None for item in items])
    yield Column("accepted", [item.accepted for item in items])
    for name, quantity in SHOWN.items():
        yield Column(name, [getattr(each, name) for each in own], quantity)
    for key, name in (("life_kind", "life_kind"), ("worst_subject", "subject"),
                      ("worst_scenario", "scenario")):  # fmt: skip
        yield Column(key, [getattr(each, name) or None for each in own])
