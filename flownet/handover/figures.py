"""Pictures of a page: the map by its own painter, charts of two sizes as SVG with real text."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from itertools import count
from typing import Any

import matplotlib as mpl
from matplotlib import pyplot

from flownet.handover.document import Block
from flownet.pictures import save
from flownet.pictures.caption import Units, pretty
from flownet.pictures.map.layout import MapLayout
from flownet.pictures.map.map import map_scene, narrow_scene
from flownet.pictures.scene import words
from flownet.pictures.scene.svg import Hotspot, svg
from flownet.pictures.style import LOOK
from flownet.results.solution import Solution
from flownet.schema import quantities as q

WIDE, NARROW = (138.0, 78.0), (82.0, 74.0)  # mm: letters of 7 points are 12 pixels on the screen
INCH = 25.4
_IDS = count(1)
_NAMED = re.compile(r'\b(id="|xlink:href="#|href="#|url\(#)')


def map_block(
    solution: Solution, units: str, when: str, title: str, scale: tuple[float, float]
) -> Block:
    """The map with the sentences of its marks, and a second one for small screens whose numbers
    are told in a list."""
    drawing = map_scene(solution, units, scale, bare=True)
    told = dict(_sentences(solution, units))
    spots = [Hotspot(path, rect, told[path]) for path, rect in drawing.spots.items()
             if path in told]  # fmt: skip
    small, names = narrow_scene(solution, units, scale)
    return Block(
        "figure", title, when.replace("|", ", "), when, wide=svg(drawing, title, spots),
        narrow=svg(small, title), items=[(path, told.get(path, path)) for path in names],
        data="map",
    )  # fmt: skip


def _sentences(solution: Solution, units: str) -> Iterator[tuple[str, str]]:
    """What is said of everything on the map, in one line each."""
    show = Units(units)
    layout = MapLayout(solution, show)
    for path, ends in layout.places.ends.items():
        if ends.item.KIND == "exchange":
            told = words.exchange(solution, path, ends, show)
        else:
            told = words.branch(solution, ends, show)
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
            words.limit(row, show), words.room(row.margin, tight, show),
        )  # fmt: skip


def _line(name: str, *texts: str) -> str:
    rest = ", ".join(re.sub(r" {2,}", ", ", text) for text in texts if text)
    return pretty(f"{name}: {rest}" if rest else name)


def chart_block(
    draw: Callable[..., Any], found: Any, units: str, *, title: str, when: str = "",
    sizes: Sequence[tuple[float, float]] = (WIDE, NARROW), **more: Any,
) -> Block:  # fmt: skip
    """A chart on axes of two sizes; its title stands beside it on the page, not in it."""
    wide, narrow = (chart(draw, found, units, size, **more) for size in sizes)
    return Block("figure", title, when.replace("|", ", "), when, wide=wide, narrow=narrow)


def chart(
    draw: Callable[..., Any], found: Any, units: str, size: tuple[float, float], **more: Any
) -> str:
    """One chart as an SVG element, its ids its own on the page."""
    with mpl.rc_context(LOOK):
        figure = pyplot.figure(figsize=(size[0] / INCH, size[1] / INCH), layout="constrained")
        ax = figure.add_subplot()
        draw(found, ax=ax, units=units, **more)
        ax.set_title("", loc="left")
        for text in [each for each in ax.texts if "     " in each.get_text()]:
            text.remove()  # its caption: the page has one of its own
        made = save.encoded(figure, "svg").decode()
    save.close(figure)
    return inlined(made)


def inlined(text: str) -> str:
    """An SVG file as an element of a page: no head, a prefix of its own on every id."""
    made = text[text.index("<svg") :]
    made = re.sub(r"<metadata>.*?</metadata>", "", made, flags=re.DOTALL)
    made = re.sub(r'(<svg [^>]*?)width="[^"]*" ', r"\1", made, count=1)
    made = re.sub(r'(<svg [^>]*?)height="[^"]*" ', r"\1", made, count=1)
    return _NAMED.sub(rf"\1p{next(_IDS)}-", made)
