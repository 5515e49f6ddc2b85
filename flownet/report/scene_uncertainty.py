"""Margins of all limits as bars from P5 to P95 against the zero line, and whose spread that is.

Each kind of limit has a scale of its own and shares the zero line: what lies left of it is broken.
Beside the bars stands how likely each limit holds, and which input makes the spread.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple, Protocol

import flownet
from flownet.enclosure.whole import Enclosure
from flownet.report import look, scene_page, scene_words
from flownet.report.heading import titled
from flownet.report.page import spaced
from flownet.report.scene import Drawing, Layer, Rect, Scene, Words, line, stacked
from flownet.report.scene_letters import width, wrap
from flownet.report.scene_words import pretty

MARGIN = 20.0
ROW, BAR = 19.0, 9.5  # heights
GAP = 14.0  # between columns
FIELD = 230.0  # in which the bars of a group lie
NAME = 170.0  # the widest name before it is broken
BESIDE = 4.0  # between the end of a bar and its number
SHARE = 110.0  # a share of all
LISTED = 15  # limits
INPUTS = 12
LEAST = 0.0005  # share that is drawn
RARE, LIKELY = 0.5, 0.95  # chances below which a bar is marked
GROUPS = {
    "thermal": "temperature margin", "flow": "flow margin", "noise": "noise margin",
    "life": "life margin",
}  # fmt: skip


class Sampled(Protocol):
    """Bands, chances and shares over samples."""

    @property
    def case(self) -> Enclosure:
        """As it is stated, in its variant and scenario."""

    @property
    def seed(self) -> int:
        """Of the draws."""

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


class Scale(NamedTuple):
    """Where margins of a group lie: the zero line is that of all groups."""

    zero: float
    length: float  # of one unit

    def at(self, margin: float) -> float:
        """The place of a margin."""
        return self.zero + margin * self.length


def uncertainty_scene(found: Sampled, units: str = "metric", changed: Sequence[str] = ()) -> Scene:
    """The least likely limits and the largest shares as a scene."""
    drawing = Drawing(changed=changed)
    rows = [item for item in found.limits if item.chance is not None][:LISTED]
    right, bottom = _margins(drawing, rows, units) if rows else (0.0, 0.0)
    wide, low = _shares(drawing, found, right + 2 * GAP if rows else 0.0, units)
    _around(drawing, found, wide, min(bottom, low), units)
    return drawing.scene(MARGIN, found.case.title)


# --- margins -------------------------------------------------------------------------------------


def _margins(drawing: Drawing, rows: Sequence[Any], units: str) -> tuple[float, float]:
    """Bars group by group; returns the right and the lower end."""
    name = min(max(width(pretty(i.subject), look.BODY) for i in rows), NAME)
    bound = max(width(_bound(i, units), look.BODY) for i in rows)
    edge = name + GAP + bound
    left, bottom = edge + GAP + 34.0, 0.0
    groups = _groups(rows)
    share = max(_reach(group)[0] for group in groups.values())
    zero = left + FIELD * share
    chances = left + FIELD + 34.0 + GAP
    for title, group in groups.items():
        top = bottom
        words = f"{title} {_unit(group, units)}"
        drawing.add(Layer.LETTER, Words(0.0, top - 8.0, words, look.SMALL, colour=look.QUIET))
        scale, bottom = _scale(group, zero, left), top - 14.0
        for item in group:
            bottom = _row(drawing, item, (edge, chances), scale, bottom, units)
        drawing.add(Layer.WALL, line([(zero, top - 12.0), (zero, bottom)], width=look.LINE))
        bottom -= 8.0
    drawing.add(
        Layer.LETTER, Words(zero, -8.0, "limit", look.SMALL, align="centre"),
        Words(chances, -8.0, "holds in", look.SMALL, colour=look.QUIET),
    )  # fmt: skip
    right = chances + max(width(item.chance.words(), look.BODY) for item in rows)
    return right, bottom


def _groups(rows: Sequence[Any]) -> Mapping[str, list[Any]]:
    """Limits by what their margins are measured in."""
    found: dict[str, list[Any]] = {}
    for key, title in GROUPS.items():
        own = [i for i in rows if (i.limit if i.limit in GROUPS else "thermal") == key]
        if own:
            found[title] = own
    return found


def _reach(group: Sequence[Any]) -> tuple[float, float]:
    """Share of the width that a group needs left of zero, and its whole extent."""
    low = min(0.0, *(item.margin.low for item in group))
    high = max(0.0, *(item.margin.high for item in group))
    extent = high - low or 1.0
    return -low / extent, extent


def _scale(group: Sequence[Any], zero: float, left: float) -> Scale:
    """The largest scale at which the group fits on both sides of zero."""
    low = max(0.0, *(-item.margin.low for item in group))
    high = max(0.0, *(item.margin.high for item in group))
    rooms = [(zero - left) / low if low else None, (left + FIELD - zero) / high if high else None]
    return Scale(zero, min([room for room in rooms if room is not None], default=1.0))


def _row(
    drawing: Drawing, item: Any, edges: tuple[float, float], scale: Scale, top: float, units: str
) -> float:
    """A limit with its bar, from `top` down; returns its lower end."""
    lines = wrap(pretty(item.subject), look.BODY, False, NAME)
    spacing = look.LINE_SPACING * look.BODY
    tall = ROW + spacing * (len(lines) - 1)
    middle = top - tall / 2
    base = middle - 0.36 * look.BODY
    highest = base + spacing * (len(lines) - 1) / 2
    names = (Words(0.0, highest - i * spacing, text, look.BODY) for i, text in enumerate(lines))
    drawing.add(Layer.LETTER, *names)
    drawing.add(
        Layer.LETTER, Words(edges[0], base, _bound(item, units), look.BODY, align="right"),
        Words(edges[1], base, item.chance.words(), look.BODY),
    )  # fmt: skip
    _bar(drawing, item, scale, middle, units)
    return top - tall


def _bar(drawing: Drawing, item: Any, scale: Scale, middle: float, units: str) -> None:
    """From P5 to P95 with a bold mark at P50, a number at each end."""
    low, centre, high = (scale.at(value) for value in item.margin[2:5])
    fill = look.OVER if item.chance.share < RARE else look.TIGHT
    fill = fill if item.chance.share < LIKELY else look.OK
    rect = Rect(low, middle - BAR / 2, high, middle + BAR / 2)
    drawing.area(Layer.MARK, rect, fill, edge=look.INK, width=look.THIN)
    mark = look.PAPER if fill == look.OVER and high - low > 4 * look.BOLD else look.INK
    drawing.add(Layer.ARROW, line([(centre, middle - BAR / 2), (centre, middle + BAR / 2)],
                                  mark, look.BOLD))  # fmt: skip
    base, shown = middle - 0.36 * look.SMALL, item.margin.quantity.shown(units)
    for x, value, align in ((low - BESIDE, item.margin.low, "right"),
                            (high + BESIDE, item.margin.high, "left")):  # fmt: skip
        words = Words(x, base, pretty(shown.number(value, "+")), look.SMALL, align=align)
        drawing.area(Layer.PLATE, words.rect.wider(2.0), look.PAPER)
        drawing.add(Layer.LETTER, words)


def _bound(item: Any, units: str) -> str:
    text: str = item.value.quantity.shown(units).text(item.bound)
    number, _, unit = text.rpartition(" ")
    return pretty(f"{number.removesuffix('.0')} {unit}")


def _unit(group: Sequence[Any], units: str) -> str:
    return f"[{pretty(group[0].margin.quantity.shown(units).unit)}]"


# --- shares --------------------------------------------------------------------------------------


def _shares(drawing: Drawing, found: Sampled, left: float, units: str) -> tuple[float, float]:
    """Whose spread it is, as bars of one length for all of it; the right and the lower end."""
    rows = [row for row in found.shares.rows if row.share >= LEAST][:INPUTS]
    edge = left + max([width(pretty(row.spread.path), look.BODY) for row in rows] or [0.0]) + GAP
    edge += max([width(_tolerance(row, units), look.BODY) for row in rows] or [0.0])
    start, bottom = edge + GAP, -26.0
    title = f"spread of {pretty(found.shares.of)} (standard deviation {_deviation(found, units)})"
    band = _percentiles(found.bands[found.shares.of], units)
    drawing.add(Layer.LETTER, Words(left, -8.0, title, look.SMALL, colour=look.QUIET),
                Words(left, -20.0, band, look.SMALL, colour=look.QUIET))  # fmt: skip
    for row in rows:
        base = bottom - ROW / 2 - 0.36 * look.BODY
        rect = Rect(start, bottom - ROW / 2 - BAR / 2, start + SHARE * row.share,
                    bottom - ROW / 2 + BAR / 2)  # fmt: skip
        fill = look.INK if row.spread.stated else look.PAPER
        drawing.area(Layer.MARK, rect, fill, edge=look.INK, width=look.THIN)
        drawing.add(
            Layer.LETTER, Words(left, base, pretty(row.spread.path), look.BODY),
            Words(edge, base, _tolerance(row, units), look.BODY, align="right"),
            Words(rect.x1 + BESIDE, base, _percent(row.share), look.BODY),
        )  # fmt: skip
        bottom -= ROW
    drawing.add(Layer.WALL, line([(start, -24.0), (start, bottom)], width=look.LINE))
    if found.shares.left == found.shares.left:
        text = f"{_percent(found.shares.left)} unexplained: bends, inputs that act together"
        drawing.add(Layer.LETTER, Words(left, bottom - 9.0, text, look.SMALL, colour=look.QUIET))
    wide = max(start + SHARE + 34.0, left + max(width(text, look.SMALL) for text in (title, band)))
    return wide, bottom - 14.0


def _percentiles(band: Any, units: str) -> str:
    """`P5 187 m3/h, P50 197 m3/h, P95 206 m3/h`."""
    shown = band.quantity.shown(units)
    named = zip(("P5", "P50", "P95"), band[2:5], strict=True)
    return pretty(", ".join(f"{name} {shown.text(value)}" for name, value in named))


def _tolerance(row: Any, units: str) -> str:
    return pretty(row.spread.words(units))


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"


def _deviation(found: Sampled, units: str) -> str:
    """In the unit of the result, a difference where it is a temperature or a level."""
    text: str = found.shares.difference.shown(units).text(found.shares.deviation)
    return pretty(text)


# --- around --------------------------------------------------------------------------------------


def _around(drawing: Drawing, found: Sampled, wide: float, bottom: float, units: str) -> None:
    """The verdict above, how to read it and the signature below."""
    case, applied = found.case, found.case.applied
    variant = f"   variant {applied.variant}"
    count = f"{spaced(len(found))} samples, seed {found.seed}"
    heads = [
        (pretty(found.verdicts(units)[0]), look.TITLE, True, look.INK),
        (titled(case), look.HEAD, True, look.INK),
        (f"scenario {applied.scenario}{variant}   {count}", look.HEAD, True, look.INK),
    ]
    scene_page.head(drawing, (0.0, 20.0), wide, heads)
    rows = [
        Words(0, 0, text, look.SMALL, False, look.QUIET)
        for words in _notes(found)
        for text in wrap(words, look.SMALL, False, wide)
    ]
    placed, _ = stacked(rows, 0.0, bottom - 8.0)
    drawing.add(Layer.LETTER, *placed)


def _notes(found: Sampled) -> Iterator[str]:
    yield ("Bars go from P5 to P95 of the margin, with a mark at P50; what lies left of the limit "
           "is broken. Dark: less likely than not to hold; ochre: less than 95 %. In brackets: "
           "between what the chance lies, 95 % sure.")  # fmt: skip
    if len(found.limits) > LISTED:
        yield f"{len(found.limits) - LISTED} limits that are more likely to hold are not drawn."
    if any(not row.spread.stated for row in found.shares.rows):
        yield ("Hollow shares: usual tolerances that the case does not state (common practice, no "
               "source).")  # fmt: skip
    yield scene_words.signature(found.case, flownet.__version__)
