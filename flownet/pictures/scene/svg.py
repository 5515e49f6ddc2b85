"""A drawing as SVG for a page of the web: real text, and marks that can be pointed at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import NamedTuple

from flownet.pictures.scene import look
from flownet.pictures.scene.scene import Drawing, Letters, Point, Rect, Shape
from flownet.pictures.scene.text_metrics import FAMILY

TARGET = 26.0  # points: the least that a finger meets (24 CSS pixels and a little)
ANCHOR = {"left": "start", "right": "end", "center": "middle"}
SPEAKS = f"'{FAMILY}', Verdana, sans-serif"  # and what is about as wide


class Hotspot(NamedTuple):
    """A thing on a drawing: where it lies, and what is said of it."""

    path: str
    rect: Rect
    words: str


def svg(drawing: Drawing, name: str, spots: Sequence[Hotspot] = (), least: float = 0.0) -> str:
    """The drawing as one SVG element; `name` is its title, no letters are smaller than `least`.

    Its marks are reached by one tab stop: the first `spot` has tabindex 0, the others -1, and a
    script moves that along. Each has its sentence as `aria-label` and `data-words`.
    """
    page = drawing.page
    told = escape(name)
    box = f"0 0 {page.wide:.1f} {page.tall:.1f}"
    return "".join([
        f'<svg viewBox="{box}" role="group" aria-label="{told}" ',
        f'font-family="{SPEAKS}" fill="{look.INK}" xml:space="preserve"><title>{told}</title>',
        '<g aria-hidden="true">', *_items(drawing, page, least), "</g>",
        *_spots(spots, page), "</svg>",
    ])  # fmt: skip


def _items(drawing: Drawing, page: Rect, least: float) -> Iterator[str]:
    for item in drawing.items:
        if isinstance(item, Letters):
            yield _letters(item._replace(size=max(item.size, least)), page)
        else:
            yield _shape(item, page)


def _at(point: Point, page: Rect) -> str:
    return f"{point[0] - page.x0:.1f} {page.y1 - point[1]:.1f}"


def _attributes(values: Mapping[str, str | None]) -> str:
    return "".join(f' {key}="{value}"' for key, value in values.items() if value is not None)


def _shape(item: Shape, page: Rect) -> str:
    course = "L".join(_at(point, page) for point in item.points)
    stroke = {"stroke": item.edge, "stroke-width": f"{item.width:g}"} if item.edge else {}
    dash = {"stroke-dasharray": " ".join(f"{part:g}" for part in item.dash)} if item.dash else {}
    told = _attributes({"fill": item.fill or "none", **stroke, **dash})
    return f'<path d="M{course}{"Z" * item.closed}"{told}/>'


def _letters(item: Letters, page: Rect) -> str:
    text = "".join(sign if sign.isprintable() else " " for sign in item.text)
    x, y = _at((item.x, item.y), page).split()
    told = _attributes({
        "font-size": f"{item.size:g}", "font-weight": "bold" if item.bold else None,
        "fill": None if item.colour == look.INK else item.colour,
        "text-anchor": None if item.align == "left" else ANCHOR[item.align],
    })  # fmt: skip
    return f'<text x="{x}" y="{y}"{told}>{escape(text)}</text>'


def _spots(spots: Sequence[Hotspot], page: Rect) -> Iterator[str]:
    """Large ones first, so that none hides what lies in it."""
    for spot in sorted(spots, key=lambda one: -one.rect.wide * one.rect.tall):
        (x, y), rect = spot.rect.centre, spot.rect
        wide, tall = max(rect.wide, TARGET), max(rect.tall, TARGET)
        left, top = x - wide / 2 - page.x0, page.y1 - y - tall / 2
        words, path = escape(spot.words), escape(spot.path)
        first = "0" if spot is spots[0] else "-1"
        yield (f'<g class="mk" tabindex="{first}" role="img" data-name="{path}" '
               f'aria-label="{words}"><rect class="ring" x="{left:.1f}" y="{top:.1f}" '
               f'width="{wide:.1f}" height="{tall:.1f}"/></g>')  # fmt: skip
