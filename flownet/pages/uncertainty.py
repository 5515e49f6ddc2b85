"""What tolerances do, as lines of text: the verdict, limits, shares, what is common practice."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, Protocol

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.heading import changed_lines, head_lines, titled
from flownet.pages.page import MISSING, Page, counted, spaced
from flownet.pages.render import JOINT, joined
from flownet.pages.render import spoken as said
from flownet.pages.table import Cell, Head
from flownet.schema.quantities import Quantity

LIMITS = (
    Head("Limit"), Head("P5", True), Head("P50", True), Head("P95", True),
    Head("limit", True), Head("holds", True), Head("95 % sure", True),
)  # fmt: skip
SHARES = (
    Head("Input"), Head("tolerance"), Head("share", True), Head("linear", True),
    Head("effect", True),
)  # fmt: skip
BANDS = (Head("Result"), Head("P5", True), Head("P50", True), Head("P95", True))
LEAST = 0.0005  # share that is shown as 0.1 %
USUAL = "*"  # behind a tolerance that the case does not state
RARE, LIKELY = 0.5, 0.95  # chances below which a limit is marked


class Sampled(Protocol):
    """Bands, chances and shares over samples."""

    @property
    def case(self) -> Enclosure:
        """As it is stated, in its variant and scenario."""

    @property
    def seed(self) -> int:
        """Of the draws."""

    @property
    def spreads(self) -> Sequence[Any]:
        """What is off."""

    @property
    def limits(self) -> Sequence[Any]:
        """The least likely to hold first."""

    @property
    def shares(self) -> Any:
        """Of the variance of one result."""

    @property
    def bands(self) -> Mapping[str, Any]:
        """Of every result."""

    def __len__(self) -> int:
        """How many samples."""

    def verdicts(self, units: str = "metric") -> Sequence[str]:
        """In sentences, the most important first."""


def uncertainty_lines(
    found: Sampled, page: Page, changed: Sequence[str] = ()
) -> Iterator[str]:  # fmt: skip
    """The verdict first, then limits, shares, and what is common practice; bands with `--all`."""
    yield from _head(found, page, changed)
    yield from said([_unbroken(words) for words in found.verdicts(page.units)], page)
    if found.limits:
        yield ""
        yield from page.table(LIMITS, [_limit(item, page) for item in found.limits])
    yield ""
    yield from _shared(found, page)
    yield ""
    yield from _wrapped(_practice(found, page), page)
    if page.everything:
        yield ""
        yield from page.table(BANDS, [_band(band, page) for band in found.bands.values()])


def _head(found: Sampled, page: Page, changed: Sequence[str]) -> Iterator[str]:
    case, applied = found.case, found.case.applied
    size = f"{spaced(len(found))} samples, seed {found.seed}"
    yield from head_lines(titled(case), size, page)
    yield f"scenario {applied.scenario}, variant {applied.variant}"
    yield from changed_lines(changed)
    yield ""


def _unbroken(words: str) -> str:
    """A number stays with its percent sign."""
    return words.replace(" %", f"{JOINT}%")


def _wrapped(words: str, page: Page) -> Iterator[str]:
    for line in textwrap.wrap(_unbroken(joined(words)), page.width, break_on_hyphens=False):
        yield line.replace(JOINT, " ")


def _limit(item: Any, page: Page) -> list[Cell]:
    quantity, chance = item.value.quantity, item.chance
    numbers = [_number(quantity, value, page) for value in item.value[2:5]]
    if chance is None:
        last, style = [Cell("no value", "doubtful"), Cell(MISSING)], "doubtful"
    else:
        share = chance.words().partition(" (")[0]
        style = "bad" if chance.share < RARE else "doubtful" if chance.share < LIKELY else ""
        last = [Cell(share, style), Cell(chance.interval)]
    return [Cell(item.subject, style), *map(Cell, numbers),
            page.bound(quantity, item.bound), *last]  # fmt: skip


def _number(quantity: Quantity, value: float, page: Page) -> str:
    """Without its unit, which stands beside the limit."""
    if value != value:  # noqa: PLR0124 - NaN
        return MISSING
    text = quantity.shown(page.units).number(value)
    return f"{spaced(int(text))}" if text.isdigit() else text


def _shared(found: Sampled, page: Page) -> Iterator[str]:
    shares = found.shares
    difference = shares.difference
    rows = [row for row in shares.rows if page.everything or _counts(row)]
    if not found.limits or shares.of != found.limits[0].value.path:  # that stands above
        yield from page.table(BANDS, [_band(found.bands[shares.of], page)])
        yield ""
    yield f"Spread of {shares.of}"
    if rows:
        yield from page.table(SHARES, [_share(row, difference, page) for row in rows])
    words = f"Standard deviation {page.text(difference, shares.deviation)} among the samples"
    if shares.linear_deviation == shares.linear_deviation:
        linear = page.text(difference, shares.linear_deviation)
        words += f", {linear} by exact derivatives (linear)"
    words += "."
    if shares.left == shares.left:
        words += f" {_percent(shares.left)} of the variance is left unexplained: curves that " \
                 "bend, inputs that act together."  # fmt: skip
    yield from _wrapped(words, page)


def _counts(row: Any) -> bool:
    """Whether its share is worth a line."""
    return bool(row.share >= LEAST or row.linear >= LEAST)


def _share(row: Any, quantity: Quantity, page: Page) -> list[Cell]:
    return [
        Cell(row.spread.path),
        Cell(row.spread.words(page.units) + ("" if row.spread.stated else f" {USUAL}")),
        Cell(_percent(row.share)), Cell(_percent(row.linear)),
        page.cell(quantity, row.effect, "+"),
    ]  # fmt: skip


def _percent(share: float) -> str:
    return MISSING if share != share else f"{100 * share:.1f} %"  # noqa: PLR0124 - NaN


def _practice(found: Sampled, page: Page) -> str:
    """Which tolerances the case does not state itself."""
    usual: dict[str, int] = {}
    for spread in found.spreads:
        if not spread.stated:
            place = spread.members[0].place
            text = f"{place.kind}.*.{place.key} {spread.words(page.units)}"
            usual[text] = usual.get(text, 0) + 1
    if not usual:
        return "Every tolerance is stated in the case."
    stated = sum(spread.stated for spread in found.spreads)
    return (
        f"{counted(stated, 'input')} with a tolerance of the case. {USUAL} usual, for what the "
        f"case does not state (common practice, no source; --only-stated leaves them out): "
        f"{', '.join(usual)}."
    )


def _band(band: Any, page: Page) -> list[Cell]:
    page = replace(page, everything=True)
    return [Cell(band.path), *(page.cell(band.quantity, value) for value in band[2:5])]
