"""A choice over options as lines of text: the verdict, the best designs, why others are out."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, Protocol

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.voids import WORDS as WORDS_OF_VOID
from flownet.judging.voids import told
from flownet.pages.heading import changed_lines, head_lines, titled, variant_lines
from flownet.pages.page import Page, counted, spaced
from flownet.pages.render import spoken as said
from flownet.pages.sheet import Sentence
from flownet.pages.table import Cell, Head, cut, hanging
from flownet.schema import quantities as q

WORDS = ("noise", "power", "temperature", "price")
GAP = 3  # between columns of a table


class Options(Protocol):
    """Designs in order, the best first."""

    @property
    def case(self) -> Enclosure:
        """The case with all candidates."""

    @property
    def name(self) -> str:
        """Of the choice."""

    @property
    def best_by(self) -> Sequence[str]:
        """One or two measures."""

    @property
    def scenarios(self) -> Sequence[str]:
        """Those that decide."""

    @property
    def ranked(self) -> Sequence[Any]:
        """Each with `holds`, `subject`, `scenario` and its numbers."""

    @property
    def front(self) -> Sequence[Any]:
        """Those of the trade-off, by the first measure."""

    @property
    def excluded(self) -> Sequence[Any]:
        """Each with `limit`, `subject`, `scenario` and `designs`."""

    @property
    def reasons(self) -> Sequence[str]:
        """Why something has no solution."""

    @property
    def counts(self) -> Any:
        """Of combinations, designs and pairs."""

    @property
    def notes(self) -> Sequence[str]:
        """What scenarios take from the choice."""

    @property
    def how(self) -> str:
        """How it was looked for, in a sentence."""

    def verdicts(self, units: str = "metric") -> Sequence[str]:
        """In words, the most important first."""

    def columns(
        self, options: Sequence[Any], units: str = "metric"
    ) -> Sequence[tuple[str, Sequence[str]]]:
        """What they differ in."""

    def common(self, options: Sequence[Any], units: str = "metric") -> Sequence[str]:
        """What they have in common."""

    def margin(self, option: Any, units: str = "metric") -> str:
        """Of the limit that decides."""

    def measure(self, name: str, option: Any, units: str = "metric") -> str:
        """What ranks, by its word."""


def option_choice_lines(found: Options, page: Page, changed: Sequence[str] = ()) -> Iterator[str]:
    """The verdict first, then the best designs, then what excluded the others."""
    size = f"{spaced(found.counts.different)} design{'' if found.counts.different == 1 else 's'}"
    size += f" in {counted(len(found.scenarios), 'scenario')}"
    yield from head_lines(titled(found.case), size, page)
    yield from hanging([Cell("choice  ")], f"{found.name}, best by {' and '.join(found.best_by)}",
                       page.width)  # fmt: skip
    yield from variant_lines(found.case)
    yield from changed_lines(changed)
    yield ""
    yield from said(found.verdicts(page.units), page)
    yield from said([Sentence("  note: ", words) for words in found.notes], page)
    options = found.front or found.ranked
    shown = cut(list(options), page.most, lambda option: False)
    if shown:
        yield ""
        yield from _numbers(found, shown, page)
        yield from _designs(found, shown, page)
        if len(options) > len(shown):
            yield f"  ... {len(options) - len(shown)} more (--all)"
    yield from _excluded(found, page)
    yield ""
    yield from textwrap.wrap(how(found), page.width, break_on_hyphens=False)


def how(found: Options) -> str:
    """What was tried and what the numbers are."""
    counts = found.counts
    pairs = f"{spaced(counts.solved)} pairs of a design and a scenario solved"
    if counts.skipped:
        pairs += f", {spaced(counts.skipped)} left out, their design having broken a limit before"
    first = found.how[0].upper() + found.how[1:]
    return (
        f"{first}. {pairs}. Noise and power: the most of all scenarios; temperature: the least "
        "margin; price: fans that are not blanked. Solve the design you take and read its findings."
    )


def _numbers(found: Options, shown: Sequence[Any], page: Page) -> Iterator[str]:
    words = [w for w in WORDS if w in found.best_by or (any(
        found.measure(w, option) != "-" for option in shown) and w != "temperature")]  # fmt: skip
    rows = [
        [Cell(f"{place}"), Cell(found.margin(option, page.units), "" if option.holds else "bad"),
         *(_measure(found, word, option, page) for word in words),
         Cell(_decides(option))]
        for place, option in enumerate(shown, 1)
    ]  # fmt: skip
    lacking = "Void" if shown[0].void else "Closest"
    head = "Trade-off" if found.front else "Best" if shown[0].holds else lacking
    columns = [Head(head), Head("margin", True), *(Head(word, True) for word in words),
               Head("")]  # fmt: skip
    yield from _all(page, columns, rows)


def _measure(found: Options, word: str, option: Any, page: Page) -> Cell:
    if word == "power":
        return page.cell(q.POWER, option.power)
    return Cell(found.measure(word, option, page.units).removeprefix("price "))


def _decides(option: Any) -> str:
    subject = f"void: {option.subject} {option.limit}" if option.void else option.subject
    words = " in ".join(word for word in (subject, option.scenario) if word)
    return f"{words}; {option.alike - 1} more alike" if option.alike > 1 else words


def _designs(found: Options, shown: Sequence[Any], page: Page) -> Iterator[str]:
    """Values beside the numbers of the first table, in runs that fit the page."""
    run: list[tuple[str, Sequence[str]]] = []
    used, head = 0, len("Design") + 2
    for column in found.columns(shown, page.units):
        wide = max(map(len, (column[0], *column[1]))) + GAP
        if run and head + used + wide > page.width:
            yield from _run(run, page)
            run, used = [], 0
        run.append(column)
        used += wide
    if run:
        yield from _run(run, page)
    if common := found.common(shown, page.units):
        yield ""
        yield from hanging([Cell("all     ")], ", ".join(common), page.width)


def _run(run: Sequence[tuple[str, Sequence[str]]], page: Page) -> Iterator[str]:
    yield ""
    columns = [Head("Design"), *(Head(name) for name, _ in run)]
    rows = [[Cell(str(i + 1)), *(Cell(texts[i]) for _, texts in run)]
            for i in range(len(run[0][1]))]  # fmt: skip
    yield from _all(page, columns, rows)


def _all(page: Page, columns: Sequence[Head], rows: Sequence[Sequence[Cell]]) -> list[str]:
    return replace(page, everything=True).table(columns, rows)


def _excluded(found: Options, page: Page) -> Iterator[str]:
    """Which limit, in which scenario, the others broke first."""
    if not found.excluded:
        return
    yield ""
    rows = []
    for item in found.excluded:
        what = item.subject or "no solution"
        if item.limit == "life":
            what = f"life of {what}"
        elif item.limit in WORDS_OF_VOID:
            what = told({item.limit: [what]}, page.units)
        rows.append([Cell(what), Cell(spaced(item.designs)), Cell(item.scenario or "in itself")])
    columns = [Head("Excluded first by"), Head("designs", True), Head("in")]
    yield from page.table(columns, rows)
    for why in found.reasons[:3]:
        for fault in why.splitlines()[:2]:
            yield from hanging([Cell("  not solved  ")], fault, page.width)
