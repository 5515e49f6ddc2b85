"""Pictures of a page: the map by its own painter, charts of two sizes as SVG with real text."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from html import escape
from itertools import count
from typing import Any

import matplotlib as mpl
from matplotlib import pyplot

from flownet.handover.document import PageBlock
from flownet.pictures import save
from flownet.pictures.caption import Units, pretty
from flownet.pictures.map.layout import MapLayout
from flownet.pictures.map.map import map_scene, narrow_scene
from flownet.pictures.scene import look, words
from flownet.pictures.scene.scene import POINTS_AN_INCH
from flownet.pictures.scene.svg import Hotspot, svg
from flownet.pictures.style import LOOK, POINT
from flownet.results.solution import Solution
from flownet.schema import quantities as q

WIDE, SLIM = (138.0, 78.0), (82.0, 74.0)  # mm: letters of 7 points are 12 pixels on the screen
CHART_SIDE, CHART_UNDER = 34.0, 32.0  # points beside and below the axes of a chart, above them too
AT_TOP = ("axes fraction", (0, 1))  # where a chart has its caption
LEAST_LETTERS = 8.2  # pixels: 6 points and a little
NARROWEST = 358  # pixels: a page on these
PAGE_COLUMN, WIDEST_MAP = 660, 740  # pixels: of the page; what a map may take of a window of 800
_IDS = count(1)
_NAMED = re.compile(r'\b(id="|xlink:href="#|href="#|url\(#)')
_HEAD = re.compile(r'<metadata>.*?</metadata>|<style.*?</style>|'  # the page has its own style
                   r'(?<=<svg )(.*?)width="[^"]*" height="[^"]*"', re.DOTALL)  # fmt: skip
_DIGITS = re.compile(r"(\.\d\d)\d+")


def map_block(
    solution: Solution, units: str, when: str, title: str, scale: tuple[float, float]
) -> PageBlock:
    """The map with the sentences of its marks, and a second one for small screens whose numbers
    are told in a list."""
    drawing = map_scene(solution, units, scale, bare=True)
    told = dict(_sentences(solution, units))
    spots = [Hotspot(path, rect, told[path]) for path, rect in drawing.spots.items()
             if path in told]  # fmt: skip
    small, names = narrow_scene(solution, units, scale)
    wide = max(drawing.page.wide * LEAST_LETTERS / look.SMALL, PAGE_COLUMN)
    return PageBlock(
        title, when.replace("|", ", "), when, wide=svg(drawing, title, spots, look.SMALL),
        narrow=svg(small, title, least=LEAST_LETTERS * small.page.wide / NARROWEST),
        key=[told.get(path, path) for path in names],
        data={"classes": "map broad" if wide > WIDEST_MAP else "map", "wide": round(wide)},
    )  # fmt: skip


def _sentences(solution: Solution, units: str) -> Iterator[tuple[str, str]]:
    """What is said of everything on the map, in one line each."""
    show = Units(units)
    layout = MapLayout(solution, show)
    for path, ends in layout.places.ends.items():
        told = words.exchange(solution, path, ends, show) if ends.item.KIND == "exchange" else \
            words.branch(solution, ends, show)  # fmt: skip
        yield path, _line(told.name, told.state, *told.lines)
    for path in solution.case.branches.keys() - layout.places.ends.keys():
        told = words.series(solution, path, show)
        yield path, _line(told.name, told.state, *told.lines)
    tight = solution.case.limits.margin
    for name, row in solution.parts.items():
        yield f"part.{name}", _line(f"part.{name}", words.parts((name,), [row], tight, show)
                                    .removeprefix(name).strip())  # fmt: skip
    for name, row in solution.compartments.items():
        yield f"compartment.{name}", _line(
            f"compartment.{name}", show.text(q.TEMPERATURE, row.temperature),
            words.limit(row, show), words.margin(row.margin, tight, show),
        )  # fmt: skip


def _line(name: str, *texts: str) -> str:
    rest = ", ".join(re.sub(r" {2,}", ", ", text) for text in texts if text)
    return pretty(f"{name}: {rest}" if rest else name)


def picture(
    draw: Callable[..., Any], solution: Solution, units: str, words: tuple[str, str],
    sides: tuple[float, float], height: Callable[[Solution, float], float] | None = None,
    under: float = 24.0,
) -> PageBlock:  # fmt: skip
    """A picture of one solution in two sizes, as high as it wants to be; `words`: title and about,
    `sides`, `under`: points beside and below its axes."""
    drawn = []
    for wide, usual in (WIDE, SLIM):
        tall = height(solution, wide - POINT * sum(sides)) if height is not None else usual
        drawn.append(chart(draw, solution, units, (wide, tall), words[0], 4.0, under,
                           sides))  # fmt: skip
    return PageBlock(*words, wide=drawn[0], narrow=drawn[1])


def chart(
    draw: Callable[..., Any], found: Any, units: str, size: tuple[float, float], title: str,
    above: float = CHART_UNDER, under: float = CHART_UNDER,
    sides: tuple[float, float] = (CHART_SIDE, CHART_SIDE),
) -> str:  # fmt: skip
    """One chart as an SVG element, its ids its own on the page; its title is told, not drawn."""
    wide, tall = (length / POINT for length in size)
    inner = (sides[0] / wide, under / tall, 1 - sum(sides) / wide, 1 - (under + above) / tall)
    with mpl.rc_context(LOOK):
        figure = pyplot.figure(figsize=(wide / POINTS_AN_INCH, tall / POINTS_AN_INCH))
        ax = figure.add_axes(inner)
        draw(found, ax=ax, units=units)
        ax.set_title("", loc="left")
        for text in [each for each in ax.texts if getattr(each, "xycoords", "") == AT_TOP[0]
                     and getattr(each, "xy", None) == AT_TOP[1]]:  # fmt: skip
            text.remove()  # its caption: the page has one of its own
        made = save.encoded(figure, "svg").decode()
    save.close(figure)
    made = _HEAD.sub(lambda found: found[1] or "", made[made.index("<svg") :])
    made = made.replace("<svg ", f'<svg role="img" aria-label="{escape(title)}" ', 1)
    return _DIGITS.sub(r"\1", _NAMED.sub(rf"\1p{next(_IDS)}-", made))
