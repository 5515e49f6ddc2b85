"""A picture as plain geometry: shapes and words on a page, in the order they are painted.

Points (1/72 inch), x to the right, y upward. A painter turns a scene into a file or a page.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from typing import NamedTuple

from flownet.pictures.scene import look
from flownet.pictures.scene.text_metrics import width

Point = tuple[float, float]


class Rect(NamedTuple):
    """An upright rectangle by its corners."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def wide(self) -> float:
        """Extent to the right."""
        return self.x1 - self.x0

    @property
    def tall(self) -> float:
        """Extent upward."""
        return self.y1 - self.y0

    @property
    def centre(self) -> Point:
        """Its middle."""
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2

    @property
    def corners(self) -> tuple[Point, ...]:
        """Its four corners, around."""
        return (self.x0, self.y0), (self.x1, self.y0), (self.x1, self.y1), (self.x0, self.y1)

    def grown(self, by: float) -> Rect:
        """The same with more (or less) on every side."""
        return Rect(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)

    def wider(self, by: float) -> Rect:
        """The same with more at the left and the right."""
        return Rect(self.x0 - by, self.y0, self.x1 + by, self.y1)

    def meets(self, other: Rect) -> bool:
        """Whether both have inner points in common."""
        return (
            self.x0 < other.x1 and other.x0 < self.x1
            and self.y0 < other.y1 and other.y0 < self.y1
        )  # fmt: skip

    def holds(self, other: Rect) -> bool:
        """Whether the other lies inside."""
        return (
            self.x0 <= other.x0 and other.x1 <= self.x1
            and self.y0 <= other.y0 and other.y1 <= self.y1
        )  # fmt: skip

    def distance(self, point: Point) -> float:
        """From a point to the nearest point of the rectangle; 0 inside."""
        across = max(self.x0 - point[0], 0.0, point[0] - self.x1)
        along = max(self.y0 - point[1], 0.0, point[1] - self.y1)
        return float((across * across + along * along) ** 0.5)


def bounds(points: Iterable[Point]) -> Rect:
    """The smallest rectangle around points."""
    listed = list(points)
    xs, ys = [p[0] for p in listed], [p[1] for p in listed]
    return Rect(min(xs), min(ys), max(xs), max(ys))


def around(rects: Iterable[Rect]) -> Rect:
    """The smallest rectangle around rectangles."""
    return bounds(corner for rect in rects for corner in rect.corners)


class Shape(NamedTuple):
    """A filled area or a line through points."""

    points: tuple[Point, ...]
    fill: str | None = None
    edge: str | None = None
    width: float = look.THIN
    dash: tuple[float, ...] = ()
    closed: bool = True

    @property
    def rect(self) -> Rect:
        """Where it lies, line width included."""
        return bounds(self.points).grown(self.width / 2 if self.edge else 0.0)

    def moved(self, by: Point) -> Shape:
        """The same elsewhere."""
        return self._replace(points=tuple((x + by[0], y + by[1]) for x, y in self.points))


class Words(NamedTuple):
    """One line of text; `y` is its baseline."""

    x: float
    y: float
    text: str
    size: float = look.BODY
    bold: bool = False
    colour: str = look.INK
    align: str = "left"  # "right", "centre"

    @property
    def wide(self) -> float:
        """Its width."""
        return width(self.text, self.size, self.bold)

    @property
    def rect(self) -> Rect:
        """Where it lies."""
        left = self.x - self.wide * {"left": 0.0, "centre": 0.5, "right": 1.0}[self.align]
        return Rect(
            left, self.y - look.DESCENT * self.size,
            left + self.wide, self.y + look.ASCENT * self.size,
        )  # fmt: skip

    def moved(self, by: Point) -> Words:
        """The same elsewhere."""
        return self._replace(x=self.x + by[0], y=self.y + by[1])


Item = Shape | Words


class Layer(IntEnum):
    """What lies over what, lowest first."""

    FILL = 0
    LEADER = 1
    WALL = 2
    MARK = 3
    ARROW = 4
    PLATE = 5
    LETTER = 6


class Scene(NamedTuple):
    """A finished picture; the page is `wide` x `tall`, its lower left corner (0, 0)."""

    wide: float
    tall: float
    items: tuple[Item, ...]
    title: str = ""

    @property
    def words(self) -> tuple[Words, ...]:
        """Every line of text on it."""
        return tuple(item for item in self.items if isinstance(item, Words))


@dataclass
class Drawing:
    """A picture while it is made: items by layer, placed anywhere."""

    layers: dict[Layer, list[Item]] = field(default_factory=lambda: {key: [] for key in Layer})

    def add(self, layer: Layer, *items: Item) -> None:
        """Put items over what the layer has so far."""
        self.layers[layer].extend(items)

    def area(self, layer: Layer, rect: Rect, fill: str | None, **style: object) -> None:
        """Put a rectangle."""
        self.add(layer, Shape(rect.corners, fill, **style))  # type: ignore[arg-type]

    @property
    def items(self) -> list[Item]:
        """All items, lowest first."""
        return [item for layer in Layer for item in self.layers[layer]]

    @property
    def rect(self) -> Rect:
        """What it covers."""
        return around(item.rect for item in self.items)

    def scene(self, margin: float, title: str = "") -> Scene:
        """The finished picture, with a margin all around."""
        rect = self.rect.grown(margin)
        moved = tuple(item.moved((-rect.x0, -rect.y0)) for item in self.items)
        return Scene(rect.wide, rect.tall, moved, title)


def line(
    points: Sequence[Point], edge: str = look.INK, width: float = look.THIN,
    dash: tuple[float, ...] = (),
) -> Shape:  # fmt: skip
    """An open line."""
    return Shape(tuple(points), None, edge, width, dash, closed=False)


def stacked(
    lines: Sequence[Words], x: float, top: float, align: str = "left"
) -> tuple[list[Words], Rect]:
    """Lines of text one below the other from `top` down, and where they lie."""
    placed, y = [], top
    for words in lines:
        baseline = y - look.ASCENT * words.size
        placed.append(words._replace(x=x, y=baseline, align=align))
        y -= look.LINE_SPACING * words.size
    return placed, around(words.rect for words in placed)
