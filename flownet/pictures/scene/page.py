"""Around the drawing: head lines, the colour bar with its limits, scale bar and signature."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from matplotlib.ticker import MaxNLocator

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures import caption
from flownet.pictures.caption import Units, known, pretty
from flownet.pictures.scene import look, scene, words
from flownet.pictures.scene.look import Temperatures
from flownet.pictures.scene.scene import Drawing, Layer, Letters, Point, Rect, Shape, line
from flownet.pictures.scene.symbols import ring
from flownet.pictures.scene.text_metrics import width
from flownet.results.solution import Solution
from flownet.schema import quantities as q

BAR_WIDE, BAR_TALL = 250.0, 11.0
RAMP_BANDS = 64
LIMITS_NAMED = 3  # limits that differ and are still named one by one
ROUND = MaxNLocator(7, steps=[1, 2, 2.5, 5, 10])  # temperatures at the bar


def temperature_range(case: Enclosure, hottest: Iterable[float] = ()) -> Temperatures:
    """One range for all variants and scenarios of a case.

    From the outside temperature of the case as it was read to 5 K above its highest air limit;
    without any limit, to 5 K above `hottest` and at least 20 K.
    """
    low = min(item.temperature for item in case.things["outside"].values())
    limits = [c.air_limit for c in case.compartments.values() if known(c.air_limit)]
    highest = limits or filter(known, hottest)
    return Temperatures(low, max([low + (10.0 if limits else 20.0), *(v + 5.0 for v in highest)]))


def hatch(rect: Rect, step: float = 9.0) -> Iterator[Shape]:
    """White diagonal lines over a rectangle."""
    first = math.ceil((rect.x0 - rect.y1) / step)
    for k in range(first, math.ceil((rect.x1 - rect.y0) / step)):
        low, high = max(rect.x0, rect.y0 + k * step), min(rect.x1, rect.y1 + k * step)
        if high > low:
            yield line([(low, low - k * step), (high, high - k * step)], look.WHITE, look.LINE)


# --- head and foot -------------------------------------------------------------------------------


def head(
    drawing: Drawing, at: Point, wide: float, of: Solution | Enclosure, units: Units,
    more: Iterable[tuple[str, bool, str]] = (),
) -> None:  # fmt: skip
    """What is drawn, in lines from `at` upward, `more` (words, bold, colour) the lowest."""
    told = caption.made(of)
    lines = [(told.heading, look.HEADLINE, True, look.INK)]
    if isinstance(of, Solution):
        lines.append((words.state(of), look.HEAD, True, look.INK))
    lines += [(text, look.BODY, True, look.INK) for text in told.changed]
    if isinstance(of, Solution):
        around = pretty(told.surroundings(units.system))
        lines.append((around, look.BODY, False, look.QUIET))
    lines += [(text, look.BODY, bold, colour) for text, bold, colour in more if text]
    wrapped = [line for text, size, bold, colour in lines
               for line in scene.written(text, size, bold, wide, colour)]  # fmt: skip
    drawing.write(wrapped, at[0], at[1] + sum(look.LINE_SPACING * line.size for line in wrapped))


def foot(drawing: Drawing, at: Point, wide: float, note: str, of: Solution | Enclosure) -> None:
    """Notes and the signature in small lines from `at` down."""
    texts = note, caption.made(of).foot(dated=False)
    lines = [
        line for text in texts for line in scene.written(text, look.SMALL, False, wide, look.QUIET)
    ]
    drawing.write(lines, *at)


# --- colour bar --------------------------------------------------------------------------------


def colour_bar(
    drawing: Drawing, at: Point, scale: Temperatures, limits: Mapping[str, float],
    found: Iterable[float], units: Units,
) -> float:  # fmt: skip
    """The temperature ramp with its numbers and limits, lower left corner at `at`; its top."""
    x, y = at[0], at[1] + 13.0
    rect = Rect(x, y, x + BAR_WIDE, y + BAR_TALL)
    for band in range(RAMP_BANDS):
        left, right = (x + BAR_WIDE * k / RAMP_BANDS for k in (band, band + 1))
        piece = rect._replace(x0=left, x1=min(right + 0.3, rect.x1))
        drawing.area(Layer.FILL, piece, look.ramp((band + 0.5) / RAMP_BANDS))
    values = sorted({round(value, 3) for value in limits.values() if known(value)})
    if len(values) == 1 and scale.low < values[0] < scale.high:
        left = x + BAR_WIDE * scale.share(values[0])
        drawing.add(Layer.MARK, *hatch(rect._replace(x0=left), 7.0))
    drawing.area(Layer.MARK, rect, None, edge=look.INK, width=look.FINE)
    shown = q.TEMPERATURE.shown(units.system)
    low, high = map(shown.of, scale)
    for value in ROUND.tick_values(low, high):  # round temperatures below it
        if low <= value <= high:
            at_ = x + BAR_WIDE * (value - low) / (high - low)
            drawing.add(Layer.MARK, line([(at_, y - 3), (at_, y)]))
            drawing.add(
                Layer.LETTER, Letters(at_, y - 11, f"{value:g}", look.SMALL, align="center")
            )
    _beyond(drawing, rect, scale, sorted(filter(known, found)), units)
    inside = [value for value in values if scale.low <= value <= scale.high]
    _limit_ticks(drawing, rect, scale, limits, inside, units)
    text = f"air temperature, {pretty(shown.unit)}; hatched: over its limit"
    top = rect.y1 + (14.0 if inside else 0.0)
    drawing.add(Layer.LETTER, Letters(x, top + 3.0, text, look.SMALL, colour=look.QUIET))
    return top + 13.0


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
    centres = scene.push_apart(places, [width(text, look.SMALL, True) for text in texts], 12.0)
    for text, x in zip(texts, centres, strict=True):
        drawing.add(Layer.LETTER, Letters(x, rect.y1 + 6, text, look.SMALL, True, align="center"))


def _limit_text(limits: Mapping[str, float], value: float, count: int, units: Units) -> str:
    text = f"limit {units.round(q.TEMPERATURE, value)}"
    names = [name for name, own in limits.items() if abs(own - value) < 1e-3]
    more = f" +{len(names) - 1}" if len(names) > 1 else ""
    return text if count == 1 or len(names[0]) >= 20 else f"{text} {names[0]}{more}"


def _beyond(
    drawing: Drawing, rect: Rect, scale: Temperatures, found: Sequence[float], units: Units
) -> None:
    """Pointed ends where the air, from the coldest on, is colder or hotter than the range."""
    x, y = rect.x1 + 4.0, rect.centre[1]
    coldest, hottest = (found[0], found[-1]) if found else scale
    for beyond, warm, end, edge, tip, word in (
        (hottest - scale.high, hottest, -1, rect.x1, 9.0, "up to"),
        (scale.low - coldest, coldest, 0, rect.x0, -9.0, "down to"),
    ):
        if beyond > 0.05:
            corners = ((edge, rect.y0), (edge + tip, y), (edge, rect.y1))
            drawing.add(Layer.MARK, Shape(corners, look.RAMP[end], look.INK, look.FINE))
            text = f"{word} {units.text(q.TEMPERATURE, warm)}"
            told = Letters(x + max(tip, 0.0), y - 2.5, text, look.SMALL)
            drawing.add(Layer.LETTER, told)
            x = told.x + told.wide + 6.0


# --- below ---------------------------------------------------------------------------------------


def scale_bar(drawing: Drawing, at: Point, scale: float, units: Units) -> None:
    """A ruled length of the drawing, `at` its left end; `scale` is points per metre."""
    shown, (x, y) = q.LENGTH.shown(units.system), at
    longest = 150.0 / scale * shown.factor
    power = 10.0 ** math.floor(math.log10(longest))
    length = max(power * m for m in (1, 2, 5) if power * m <= longest)
    wide = length / shown.factor * scale
    drawing.add(Layer.MARK, line([at, (x + wide, y)], width=look.LINE))
    for share, size in ((0.0, 3.5), (0.5, 2.2), (1.0, 3.5)):
        end = x + share * wide
        drawing.add(Layer.MARK, line([(end, y - size), (end, y + size)], width=look.LINE))
    text = f"{length:g} {shown.unit}"
    drawing.add(Layer.LETTER, Letters(x + wide + 5.0, y - 3.0, text, look.BODY))


def up_arrow(drawing: Drawing, at: Point, up: str) -> None:
    """A small arrow that says which side is up, where that is not the top of the picture."""
    x, y = at
    ways = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "bottom": (0.0, -1.0)}
    if up in ways:
        dx, dy = ways[up]
        points = [(x + along * dx - off * dy, y + along * dy - off * dx)
                  for along, off in ((-9, 0), (9, 0), (12, 0), (6, 4), (6, -4))]  # fmt: skip
        drawing.add(Layer.MARK, line(points[:2], width=look.BOLD))
        drawing.add(Layer.MARK, Shape(tuple(points[2:]), look.INK))
    else:
        drawing.add(Layer.MARK, *ring(at, 6.0, up == "front"))
    drawing.add(Layer.LETTER, Letters(x, y - 22.0, "up", look.BODY, True, align="center"))
