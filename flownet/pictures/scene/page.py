"""Around the drawing: head lines, the colour bar with its limits, scale bar and signature."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.caption import Caption
from flownet.pictures.scene import look
from flownet.pictures.scene.labels import push_apart
from flownet.pictures.scene.look import Temperatures
from flownet.pictures.scene.scene import Drawing, Layer, Point, Rect, Shape, Words, line, stacked
from flownet.pictures.scene.symbols import ring
from flownet.pictures.scene.text_metrics import width, wrap
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
    start = math.ceil((rect.x0 - rect.y1) / step) * step
    offset = start
    while offset < rect.x1 - rect.y0:
        low = max(rect.x0, rect.y0 + offset)
        high = min(rect.x1, rect.y1 + offset)
        if high > low:
            points = [(low, low - offset), (high, high - offset)]
            yield line(points, look.PAPER, look.LINE)
        offset += step


# --- head --------------------------------------------------------------------------------------


def head(
    drawing: Drawing, at: Point, wide: float, lines: Sequence[tuple[str, float, bool, str]]
) -> float:
    """Lines of text from `at` upward, the last one lowest; returns the height of their top."""
    wrapped = [
        Words(0, 0, text, size, bold, colour)
        for words, size, bold, colour in lines
        if words
        for text in wrap(words, size, bold, wide)
    ]
    total = sum(look.LINE_SPACING * words.size for words in wrapped)
    placed, _ = stacked(wrapped, at[0], at[1] + total)
    drawing.add(Layer.LETTER, *placed)
    return at[1] + total


def captioned(made: Caption, units: Units) -> list[tuple[str, float, bool, str]]:
    """Title, scenario and variant, what was changed, the site; of a case its title alone."""
    lines = [(made.heading, look.TITLE, True, look.INK)]
    if made.site:
        state = f"scenario {made.scenario}   variant {made.variant}"
        lines.append((state, look.HEAD, True, look.INK))
    lines += [(text, look.BODY, True, look.INK) for text in made.changed]
    if made.site:
        site = pretty(made.surroundings(units.system))
        lines.append((site, look.BODY, False, look.QUIET))
    return lines


# --- colour bar --------------------------------------------------------------------------------


def colour_bar(
    drawing: Drawing,
    at: Point,
    scale: Temperatures,
    limits: Mapping[str, float],
    found: Iterable[float],
    units: Units,
) -> float:
    """The temperature ramp with its numbers and limits, lower left corner at `at`; its top."""
    x, y = at[0], at[1] + 13.0
    rect = Rect(x, y, x + BAR_WIDE, y + BAR_TALL)
    _bands(drawing, rect)
    values = sorted({round(value, 3) for value in limits.values() if known(value)})
    hatched = len(values) == 1 and scale.low < values[0] < scale.high
    if hatched:
        left = x + BAR_WIDE * scale.share(values[0])
        drawing.add(Layer.MARK, *hatch(Rect(left, y, rect.x1, rect.y1), 7.0))
    drawing.area(Layer.MARK, rect, None, edge=look.INK, width=look.THIN)
    _ticks(drawing, rect, scale, units)
    _beyond(drawing, rect, scale, [value for value in found if known(value)], units)
    top = _limit_ticks(drawing, rect, scale, limits, values, units)
    text = f"air temperature, {pretty(q.TEMPERATURE.shown(units.system).unit)}"
    text += "; hatched: over its limit"
    drawing.add(Layer.LETTER, Words(x, top + 3.0, text, look.SMALL, colour=look.QUIET))
    return top + 13.0


def _bands(drawing: Drawing, rect: Rect) -> None:
    step = rect.wide / BANDS
    for band in range(BANDS):
        left = rect.x0 + band * step
        fill = look.ramp((band + 0.5) / BANDS)
        overlap = 0.3 if band + 1 < BANDS else 0.0
        drawing.area(Layer.FILL, Rect(left, rect.y0, left + step + overlap, rect.y1), fill)


def _ticks(drawing: Drawing, rect: Rect, scale: Temperatures, units: Units) -> None:
    """Round temperatures below the bar."""
    shown = q.TEMPERATURE.shown(units.system)
    low, high = (value * shown.factor + shown.offset for value in scale)
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
    drawing: Drawing,
    rect: Rect,
    scale: Temperatures,
    limits: Mapping[str, float],
    values: Sequence[float],
    units: Units,
) -> float:
    """Thick ticks at the air limits, named above the bar; returns the top."""
    inside = [value for value in values if scale.low <= value <= scale.high]
    places = [rect.x0 + rect.wide * scale.share(value) for value in inside]
    for x in places:
        drawing.add(Layer.MARK, line([(x, rect.y0 - 1), (x, rect.y1 + 3)], width=look.WALL))
    if not inside:
        return rect.y1
    texts = [_limit_text(limits, value, len(inside), units) for value in inside]
    if len(inside) > LIMITS_NAMED:
        texts, places = ["limits"], [sum(places) / len(places)]
    sizes = [width(text, look.SMALL, True) for text in texts]
    centres = push_apart(places, sizes, 12.0)
    for text, x in zip(texts, centres, strict=True):
        drawing.add(Layer.LETTER, Words(x, rect.y1 + 6, text, look.SMALL, True, align="centre"))
    return rect.y1 + 14.0


def _limit_text(limits: Mapping[str, float], value: float, count: int, units: Units) -> str:
    text = f"limit {units.round(q.TEMPERATURE, value)}"
    if count == 1:
        return text
    names = [name for name, own in limits.items() if abs(own - value) < 1e-3]
    more = f" +{len(names) - 1}" if len(names) > 1 else ""
    return f"{text} {names[0]}{more}" if len(names[0]) < 20 else text


def _beyond(
    drawing: Drawing, rect: Rect, scale: Temperatures, found: Sequence[float], units: Units
) -> None:
    """Pointed ends where the air is colder or hotter than the range."""
    x = rect.x1 + 4.0
    if found and max(found) > scale.high + 0.05:
        tip = (rect.x1 + 9.0, rect.centre[1])
        corners = ((rect.x1, rect.y0), tip, (rect.x1, rect.y1))
        drawing.add(Layer.MARK, Shape(corners, look.RAMP[-1], look.INK, look.THIN))
        x += 9.0
        text = f"up to {units.text(q.TEMPERATURE, max(found))}"
        words = Words(x, rect.centre[1] - 2.5, text, look.SMALL)
        drawing.add(Layer.LETTER, words)
        x += words.wide + 6.0
    if found and min(found) < scale.low - 0.05:
        tip = (rect.x0 - 9.0, rect.centre[1])
        corners = ((rect.x0, rect.y0), tip, (rect.x0, rect.y1))
        drawing.add(Layer.MARK, Shape(corners, look.RAMP[0], look.INK, look.THIN))
        text = f"down to {units.text(q.TEMPERATURE, min(found))}"
        drawing.add(Layer.LETTER, Words(x, rect.centre[1] - 2.5, text, look.SMALL))


# --- foot --------------------------------------------------------------------------------------


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
        tail, tip = (x - 9 * dx, y - 9 * dy), (x + 9 * dx, y + 9 * dy)
        drawing.add(Layer.MARK, line([tail, tip], width=look.BOLD))
        corners = (
            (tip[0] + 3 * dx, tip[1] + 3 * dy),
            (tip[0] - 3 * dx - 4 * dy, tip[1] - 3 * dy - 4 * dx),
            (tip[0] - 3 * dx + 4 * dy, tip[1] - 3 * dy + 4 * dx),
        )
        drawing.add(Layer.MARK, Shape(corners, look.INK))
    else:
        drawing.add(Layer.MARK, *ring(at, 6.0, up == "front"))
    drawing.add(Layer.LETTER, Words(x, y - 22.0, "up", look.BODY, True, align="centre"))
