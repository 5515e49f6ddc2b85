"""The choice of a fan as lines of text: the verdict, types that serve, the others with reasons."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, Protocol

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.heading import changed_lines, head_lines, titled, variant_lines
from flownet.pages.page import Page, counted
from flownet.pages.render import JOINT, joined
from flownet.pages.render import spoken as said
from flownet.pages.table import Cell, Head, cut, hanging
from flownet.schema import quantities as q

COLUMNS = (
    Head("Accepted"), Head("margin", True), Head("flow", True), Head("noise", True),
    Head("power", True), Head("life", True), Head("price", True), Head(""),
)  # fmt: skip
LIMITS = ("part", "air")
MOST = 3  # temperature limits of an excluded type that are told one by one
NARROW = 26  # signs of a name, before its reasons
MISSING = "-"


class Chosen(Protocol):
    """Types that serve in rank order, then the others."""

    @property
    def case(self) -> Enclosure:
        """The case with all candidates."""

    @property
    def fans(self) -> Sequence[str]:
        """Whose type is chosen."""

    @property
    def scenarios(self) -> Sequence[str]:
        """Those that decide."""

    @property
    def candidates(self) -> Sequence[Any]:
        """Each with `type`, `rank`, `numbers` and `remarks`."""

    @property
    def excluded(self) -> Sequence[Any]:
        """Each with `type` and `reasons`."""

    @property
    def alike(self) -> bool:
        """Whether every type is excluded by the very same one reason, which the verdict tells."""

    def verdicts(self, units: str = "metric") -> Sequence[str]:
        """In words, the most important first."""


def fan_choice_lines(found: Chosen, page: Page, changed: Sequence[str] = ()) -> Iterator[str]:
    """The verdict first, then both tables, then what the numbers are."""
    count = len(found.candidates) + len(found.excluded)
    size = f"{counted(count, 'type')} in {counted(len(found.scenarios), 'scenario')}"
    yield from head_lines(titled(found.case), size, page)
    yield from hanging([Cell("for     ")], ", ".join(found.fans), page.width)
    yield from variant_lines(found.case)
    yield from changed_lines(changed)
    yield ""
    yield from said(found.verdicts(page.units), page)
    if found.candidates:
        yield ""
        yield from _accepted(found, page)
    if found.excluded:
        yield ""
        yield from _excluded(found, page)
    if found.candidates:
        yield ""
        yield from textwrap.wrap(_legend(found), page.width)


def _accepted(found: Chosen, page: Page) -> Iterator[str]:
    shown = cut(list(found.candidates), page.most, lambda item: False)
    yield from replace(page, names=0).table(COLUMNS, [_row(c, page) for c in found.candidates])
    told = [(c.type, remark) for c in shown for remark in c.remarks]
    if told:
        yield ""
        yield page.paint("Remarks", "heading")
        yield from _told([(name, remark.message(page.units), "") for name, remark in told], page)


def _row(item: Any, page: Page) -> list[Cell]:
    own = item.numbers
    decides = " in ".join(word for word in (own.subject, own.scenario) if word)
    status = "unknown" if item.unjudged else "tight" if own.tight else "ok"
    return [
        Cell(f"{item.rank} {item.type}"),
        page.cell(q.DIFFERENCE, own.margin, "+", "doubtful" if own.tight else "good"),
        page.cell(q.VOLUME_FLOW, own.volume_flow), page.cell(q.LEVEL, own.noise),
        page.cell(q.POWER, own.power), page.cell(q.HOURS, own.life),
        page.cell(q.PRICE, own.price),
        Cell(", ".join(word for word in (status, decides, own.life_kind and
                                         f"life {own.life_kind}") if word)),
    ]  # fmt: skip


def _excluded(found: Chosen, page: Page) -> Iterator[str]:
    yield page.paint("Excluded", "heading")
    shown = cut(list(found.excluded), page.most, lambda item: False)
    if found.alike:
        yield from hanging([Cell("  all     ")], ", ".join(item.type for item in shown), page.width)
    else:
        rows = [(c.type, "; ".join(_reasons(c.reasons, page)), "bad") for c in shown]
        yield from _told(rows, page)
    if more := len(found.excluded) - len(shown):
        yield f"  ... {more} more (--all)"


def _told(rows: Sequence[tuple[str, str, str]], page: Page) -> Iterator[str]:
    """Names, and words to the right of them; a name that comes again is not repeated."""
    width = min(max(len(name) for name, _, _ in rows), NARROW) + 4
    before = ""
    for name, words, _ in rows:
        head = f"  {name}" if name != before else ""
        before = name
        if len(head) + 2 > width:
            yield head
            head = ""
        for line in hanging([Cell(head.ljust(width))], joined(words), page.width):
            yield line.replace(JOINT, " ")


def _reasons(reasons: Sequence[Any], page: Page) -> Iterator[str]:
    """All of them; of many temperature limits the worst, unless all rows are asked for."""
    hot = [reason for reason in reasons if reason.kind in LIMITS]
    hot.sort(key=lambda reason: -reason.values["over"][1])
    most = len(hot) if page.everything else MOST
    told = False
    for reason in reasons:
        if reason.kind not in LIMITS:
            yield reason.message(page.units)
        elif not told:
            told = True
            yield _limits(hot, most, page)


def _limits(hot: Sequence[Any], most: int, page: Page) -> str:
    """Those that are broken in the same scenario name it once."""
    shown, words = hot[:most], []
    for index, reason in enumerate(shown):
        last = index + 1 == len(shown) or shown[index + 1].scenario != reason.scenario
        words.append((reason if last else reason._replace(scenario="")).message(page.units))
    more = len(hot) - len(shown)
    return ", ".join([*words, *([f"{more} more over"] if more else [])])


def _legend(found: Chosen) -> str:
    count = len(found.fans)
    own = "the fan" if count == 1 else "both fans" if count == 2 else f"all {count} fans"
    return (
        f"The worst of {counted(len(found.scenarios), 'scenario')}: least temperature margin and "
        f"where, least flow drawn in, most noise, most power and price of {own}, shortest life in "
        "service, at the fan's own air."
    )
