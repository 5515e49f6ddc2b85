"""Around the drawing: head lines, the colour bar with its limits, scale bar and signature."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures.scene import look
from flownet.pictures.scene.labels import push_apart
from flownet.pictures.scene.look import Temperatures
from flownet.pictures.scene.scene import (
    Drawing,
    Layer,
    Point,
    Rect,
    Shape,
    Words,
    line,
    stacked,
    written,
)
from flownet.pictures.scene.symbols import ring
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.scene.words import Units, known, pretty
from flownet.schema import quantities as q

BAR_WIDE, BAR_TALL = 250.0, 11.0
BANDS = 64
LIMITS_NAMED = 3  # limits that differ and are still named one by one


def temperature_range(case: Enclosure, hottest: Iterable[float] = ()) -> Temperatures:
    """One range for all variants and scenarios of a case.

    From the outside temperature of the case as it was read to 5 K above its highest air limit;
    without any limit, to 5 K above `hottest` and at least 20 K.
    """
    low = min(item.temperature for item in case.things["outside"].values())
    limits = [c.air_limit for c in case.compartments.values() if c.air_limit == c.air_limit]
    if limits:
        return Temperatures(low, max(max(limits) + 5.0, low + 10.0))
    given = [value for value in hottest if known(value)]
    return Temperatures(low, max([low + 20.0, *(value + 5.0 for value in given)]))


def hatch(rect: Rect, step: float = 9.0) -> Iterator[Shape]:
    """White diagonal lines over a rectangle."""
    first = math.ceil((rect.x0 - rect.y1) / step)
    for k in range(first, math.ceil((rect.x1 - rect.y0) / step)):
        low, high = max(rect.x0, rect.y0 + k * step), min(rect.x1, rect.y1 + k * step)
        if high > low:
            yield line([(low, low - k * step), (high, high - k * step)], look.PAPER, look.LINE)


# --- head --------------------------------------------------------------------------------------


def head(
    drawing: Drawing, at: Point, wide: float, lines: Sequence[tuple[str, float, bool, str]],
    changed: Sequence[str],
) -> float:  # fmt: skip
    """Lines of text from `at` upward, the last one lowest; returns the height of their top.

    What was changed beside scenario and variant stands below the large lines, which name these.
    """
    large = sum(size >= look.HEAD for _, size, _, _ in lines)
    changes = [(text, look.BODY, True, look.INK) for text in changed]
    wrapped = [line for text, size, bold, colour in (*lines[:large], *changes, *lines[large:])
               if text for line in written(text, size, bold, wide, colour)]  # fmt: skip
    total = sum(look.LINE_SPACING * words.size for words in wrapped)
    placed, _ = stacked(wrapped, at[0], at[1] + total)
    drawing.add(Layer.LETTER, *placed)
    return at[1] + total


# --- colour bar --------------------------------------------------------------------------------


def colour_bar(
    drawing: Drawing, at: Point, scale: Temperatures, limits: Mapping[str, float],
    found: Iterable[float], units: Units,
) -> float:  # fmt: skip
    """The temperature ramp with its numbers and limits, lower left corner at `at`; its top."""
    x, y = at[0], at[1] + 13.0
    rect = Rect(x, y, x + BAR_WIDE, y + BAR_TALL)
    step = rect.wide / BANDS
    for band in range(BANDS):
        left, overlap = x + band * step, 0.3 if band + 1 < BANDS else 0.0
        piece = rect._replace(x0=left, x1=left + step + overlap)
        drawing.area(Layer.FILL, piece, look.ramp((band + 0.5) / BANDS))
    values = sorted({round(value, 3) for value in limits.values() if known(value)})
    if len(values) == 1 and scale.low < values[0] < scale.high:
        left = x + BAR_WIDE * scale.share(values[0])
        drawing.add(Layer.MARK, *hatch(rect._replace(x0=left), 7.0))
    drawing.area(Layer.MARK, rect, None, edge=look.INK, width=look.THIN)
    _ticks(drawing, rect, scale, units)
    _beyond(drawing, rect, scale, [value for value in found if known(value)], units)
    inside = [value for value in values if scale.low <= value <= scale.high]
    _limit_ticks(drawing, rect, scale, limits, inside, units)
    text = f"air temperature, {pretty(q.TEMPERATURE.shown(units.system).unit)}"
    text += "; hatched: over its limit"
    top = rect.y1 + (14.0 if inside else 0.0)
    drawing.add(Layer.LETTER, Words(x, top + 3.0, text, look.SMALL, colour=look.QUIET))
    return top + 13.0


def _ticks(drawing: Drawing, rect: Rect, scale: Temperatures, units: Units) -> None:
    """Round temperatures below the bar."""
    shown = q.TEMPERATURE.shown(units.system)
    low, high = map(shown.of, scale)
    for value in round_values(low, high, 7):
        x = rect.x0 + rect.wide * (value - low) / (high - low)
        drawing.add(Layer.MARK, line([(x, rect.y0 - 3), (x, rect.y0)]))
        drawing.add(Layer.LETTER, Words(x, rect.y0 - 11, f"{value:g}", look.SMALL, align="centre"))


def round_values(low: float, high: float, most: int) -> list[float]:
    """Round numbers from low to high, at most about `most`."""
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * m for m in (1, 2, 2.5, 5, 10) if power * m >= rough)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(k * step, 9) + 0.0 for k in range(first, last + 1)]


def _limit_ticks(
    drawing: Drawing, rect: Rect, scale: Temperatures, limits: Mapping[str, float],
    inside: Sequence[float], units: Units,
) -> None:  # fmt: skip
    """Thick ticks at the air limits, named above the bar."""
    places = [rect.x0 + rect.wide * scale.share(value) for value in inside]
    for x in places:
        drawing.add(Layer.MARK, line([(x, rect.y0 - 1), (x, rect.y1 + 3)], width=look.WALL))
    texts = [_limit_text(limits, value, len(inside), units) for value in inside]
    if len(inside) > LIMITS_NAMED:
        texts, places = ["limits"], [sum(places) / len(places)]
    centres = push_apart(places, [width(text, look.SMALL, True) for text in texts], 12.0)
    for text, x in zip(texts, centres, strict=True):
        drawing.add(Layer.LETTER, Words(x, rect.y1 + 6, text, look.SMALL, True, align="centre"))


def _limit_text(limits: Mapping[str, float], value: float, count: int, units: Units) -> str:
    text = f"limit {units.round(q.TEMPERATURE, value)}"
    names = [name for name, own in limits.items() if abs(own - value) < 1e-3]
    more = f" +{len(names) - 1}" if len(names) > 1 else ""
    return text if count == 1 or len(names[0]) >= 20 else f"{text} {names[0]}{more}"


def _beyond(
    drawing: Drawing, rect: Rect, scale: Temperatures, found: Sequence[float], units: Units
) -> None:
    """Pointed ends where the air is colder or hotter than the range."""
    x, y = rect.x1 + 4.0, rect.centre[1]
    ends = (
        (max(found, default=scale.high) > scale.high + 0.05, rect.x1, 9.0, -1, "up to"),
        (min(found, default=scale.low) < scale.low - 0.05, rect.x0, -9.0, 0, "down to"),
    )
    for beyond, edge, tip, end, word in ends:
        if beyond:
            corners = ((edge, rect.y0), (edge + tip, y), (edge, rect.y1))
            drawing.add(Layer.MARK, Shape(corners, look.RAMP[end], look.INK, look.THIN))
            x += max(tip, 0.0)
            text = f"{word} {units.text(q.TEMPERATURE, sorted(found)[end])}"
            words = Words(x, y - 2.5, text, look.SMALL)
            drawing.add(Layer.LETTER, words)
            x += words.wide + 6.0


# --- foot --------------------------------------------------------------------------------------


def foot(drawing: Drawing, at: Point, wide: float, texts: Iterable[str]) -> None:
    """Small lines of text from `at` down."""
    lines = [line for text in texts for line in written(text, look.SMALL, False, wide, look.QUIET)]
    drawing.add(Layer.LETTER, *stacked(lines, *at)[0])


def scale_bar(drawing: Drawing, at: Point, scale: float, units: Units) -> None:
    """A ruled length of the drawing, `at` its left end; `scale` is points per metre."""
    shown = q.LENGTH.shown(units.system)
    longest = 150.0 / scale * shown.factor
    power = 10.0 ** math.floor(math.log10(longest))
    length = max(power * m for m in (1, 2, 5) if power * m <= longest)
    wide = length / shown.factor * scale
    x, y = at
    drawing.add(Layer.MARK, line([(x, y), (x + wide, y)], width=look.LINE))
    for share, size in ((0.0, 3.5), (0.5, 2.2), (1.0, 3.5)):
        end = x + share * wide
        drawing.add(Layer.MARK, line([(end, y - size), (end, y + size)], width=look.LINE))
    text = f"{length:g} {shown.unit}"
    drawing.add(Layer.LETTER, Words(x + wide + 5.0, y - 3.0, text, look.BODY))


def up_arrow(drawing: Drawing, at: Point, up: str) -> None:
    """A small arrow that says which side is up, where that is not the top of the picture."""
    x, y = at
    ways = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "bottom": (0.0, -1.0)}
    if up in ways:
        dx, dy = ways[up]

        def point(along: float, off: float) -> Point:
            return x + along * dx - off * dy, y + along * dy - off * dx

        drawing.add(Layer.MARK, line([point(-9, 0), point(9, 0)], width=look.BOLD))
        head = (point(12, 0), point(6, 4), point(6, -4))
        drawing.add(Layer.MARK, Shape(head, look.INK))
    else:
        drawing.add(Layer.MARK, *ring(at, 6.0, up == "front"))
    drawing.add(Layer.LETTER, Words(x, y - 22.0, "up", look.BODY, True, align="centre"))
