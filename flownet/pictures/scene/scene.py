"""A picture as plain geometry: shapes and words on a page, in the order they are painted.

Points (1/72 inch), x to the right, y upward. A drawing is painted with matplotlib at the end.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from itertools import accumulate, pairwise
from typing import NamedTuple

from matplotlib import pyplot
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from matplotlib.transforms import Transform

from flownet.pictures.scene import look
from flownet.pictures.scene.text_metrics import FAMILY, width, wrap

POINTS_AN_INCH = 72.0  # to the inch
Point = tuple[float, float]


class Rect(NamedTuple):
    """An upright rectangle by its corners."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def wide(self) -> float:
        return self.x1 - self.x0

    @property
    def tall(self) -> float:
        return self.y1 - self.y0

    @property
    def centre(self) -> Point:
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2

    @property
    def corners(self) -> tuple[Point, ...]:
        return (self.x0, self.y0), (self.x1, self.y0), (self.x1, self.y1), (self.x0, self.y1)

    def grown(self, by: float) -> Rect:
        return Rect(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)

    def meets(self, other: Rect) -> bool:
        """Whether both have inner points in common."""
        return (self.x0 < other.x1 and other.x0 < self.x1
                and self.y0 < other.y1 and other.y0 < self.y1)  # fmt: skip

    def holds(self, other: Rect) -> bool:
        return (self.x0 <= other.x0 and other.x1 <= self.x1
                and self.y0 <= other.y0 and other.y1 <= self.y1)  # fmt: skip

    def nearest(self, point: Point) -> Point:
        return min(max(point[0], self.x0), self.x1), min(max(point[1], self.y0), self.y1)

    def distance(self, point: Point) -> float:
        """From a point to the nearest point of the rectangle; 0 inside."""
        across = max(self.x0 - point[0], 0.0, point[0] - self.x1)
        along = max(self.y0 - point[1], 0.0, point[1] - self.y1)
        return float((across * across + along * along) ** 0.5)


def bounds(points: Iterable[Point]) -> Rect:
    xs, ys = zip(*points, strict=True)
    return Rect(min(xs), min(ys), max(xs), max(ys))


def around(rects: Iterable[Rect]) -> Rect:
    return bounds(corner for rect in rects for corner in (rect[:2], rect[2:]))


def square(at: Point, half: float) -> Rect:
    return Rect(*at, *at).grown(half)


def runs(points: Sequence[Point]) -> list[Rect]:
    """What the straight pieces of a thin line cover."""
    return [bounds(piece).grown(0.8) for piece in pairwise(points) if piece[0] != piece[1]]


class Shape(NamedTuple):
    """A filled area or a line through points."""

    points: tuple[Point, ...]
    fill: str | None = None
    edge: str | None = None
    width: float = look.FINE
    dash: tuple[float, ...] = ()
    closed: bool = True

    @property
    def rect(self) -> Rect:
        """Where it lies, line width included."""
        return bounds(self.points).grown(self.width / 2 if self.edge else 0.0)


class Letters(NamedTuple):
    """One line of text; `y` is its baseline."""

    x: float
    y: float
    text: str
    size: float = look.BODY
    bold: bool = False
    colour: str = look.INK
    align: str = "left"  # "right", "center"

    @property
    def wide(self) -> float:
        return width(self.text, self.size, self.bold)

    @property
    def rect(self) -> Rect:
        left = self.x - self.wide * {"left": 0.0, "center": 0.5, "right": 1.0}[self.align]
        return Rect(left, self.y - look.DESCENT * self.size,
                    left + self.wide, self.y + look.ASCENT * self.size)  # fmt: skip


Item = Shape | Letters


class Layer(IntEnum):
    """What lies over what, lowest first."""

    FILL = 0
    LEADER = 1
    WALL = 2
    MARK = 3
    ARROW = 4
    PLATE = 5
    LETTER = 6


@dataclass
class Drawing:
    """Items by layer, placed anywhere; the page lies around all of them with a margin."""

    title: str = ""
    margin: float = 0.0
    layers: dict[Layer, list[Item]] = field(default_factory=lambda: {key: [] for key in Layer})
    spots: dict[str, Rect] = field(default_factory=dict)  # where things lie, by path

    def add(self, layer: Layer, *items: Item) -> None:
        """Put items over what the layer has so far."""
        self.layers[layer].extend(items)

    def area(self, layer: Layer, rect: Rect, fill: str | None, **style: object) -> None:
        self.add(layer, Shape(rect.corners, fill, **style))  # type: ignore[arg-type]

    def write(self, lines: Sequence[Letters], x: float, top: float, align: str = "left") -> Rect:
        """Put lines of text one below the other from `top` down; where they lie."""
        placed, y = [], top
        for words in lines:
            placed.append(words._replace(x=x, y=y - look.ASCENT * words.size, align=align))
            y -= look.LINE_SPACING * words.size
        self.add(Layer.LETTER, *placed)
        return around(words.rect for words in placed)

    @property
    def items(self) -> list[Item]:
        return [item for layer in Layer for item in self.layers[layer]]

    @property
    def words(self) -> list[Letters]:
        return [item for item in self.items if isinstance(item, Letters)]

    @property
    def rect(self) -> Rect:
        return around(item.rect for item in self.items)

    @property
    def page(self) -> Rect:
        return self.rect.grown(self.margin)


def line(
    points: Iterable[Point], edge: str = look.INK, width: float = look.FINE,
    dash: tuple[float, ...] = (),
) -> Shape:  # fmt: skip
    return Shape(tuple(points), None, edge, width, dash, closed=False)


def written(
    text: str, size: float, bold: bool, most: float, colour: str = look.INK
) -> list[Letters]:
    """Lines of text no wider than `most`, not yet placed."""
    return [Letters(0, 0, line, size, bold, colour) for line in wrap(text, size, bold, most)]


def block_height(lines: Sequence[Letters]) -> float:
    """Height of lines of text set one below the other."""
    steps = sum(look.LINE_SPACING * words.size for words in lines[:-1])
    return steps + (look.ASCENT + look.DESCENT) * lines[-1].size


def push_apart(targets: Sequence[float], sizes: Sequence[float], gap: float) -> list[float]:
    """Centres as near to ascending targets as they can be without overlap.

    The least sum of squared shifts, by pooling neighbours that would overlap.
    """
    steps = (before / 2 + after / 2 + gap for before, after in pairwise(sizes))
    offsets = [*accumulate(steps, initial=0.0)]
    pools: list[list[float]] = []  # sum of free positions, count
    for target, offset in zip(targets, offsets, strict=False):
        pools.append([target - offset, 1.0])
        while len(pools) > 1 and pools[-2][0] / pools[-2][1] > pools[-1][0] / pools[-1][1]:
            last = pools.pop()
            pools[-1] = [pools[-1][0] + last[0], pools[-1][1] + last[1]]
    free = (pool[0] / pool[1] for pool in pools for _ in range(int(pool[1])))
    return [base + offset for base, offset in zip(free, offsets, strict=False)]


# --- painted -------------------------------------------------------------------------------------


def paint(drawing: Drawing, ax: Axes | None) -> Axes:
    """Every item of a drawing on given axes, made to fit; without, on a new figure of its size.

    Letters and lines shrink or grow with the axes.
    """
    page = drawing.page
    if ax is None:
        size = (page.wide / POINTS_AN_INCH, page.tall / POINTS_AN_INCH)
        figure = pyplot.figure(figsize=size, facecolor="white", label=drawing.title)
        ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    whole = ax.get_figure(root=True)
    assert whole is not None  # axes always have one
    box = ax.get_position()
    wide, tall = (float(size) * POINTS_AN_INCH for size in whole.get_size_inches())
    factor = min(box.width * wide / page.wide, box.height * tall / page.tall)
    ax.set(xlim=(page.x0, page.x1), ylim=(page.y0, page.y1))
    ax.set_aspect("equal", adjustable="box")
    ax.set_axis_off()
    for order, item in enumerate(drawing.items, 1):
        put(ax, item, factor, order)
    return ax


def put(ax: Axes, item: Item, factor: float, order: int, place: Transform | None = None) -> None:
    """One item; a shape at another place than its points have on the axes."""
    if isinstance(item, Letters):
        told = "".join(sign if sign.isprintable() else " " for sign in item.text)
        ax.text(
            item.x, item.y, told, fontsize=item.size * factor, family=FAMILY, style="normal",
            weight="bold" if item.bold else "normal", color=item.colour, ha=item.align,
            va="baseline", zorder=order, parse_math=False, clip_on=False,
        )  # fmt: skip
        return
    # dashes are given in points; matplotlib counts them in line widths
    dash = (0, tuple(part / max(item.width, 1e-6) for part in item.dash)) if item.dash else "solid"
    ax.add_patch(Polygon(
        item.points, closed=item.closed, facecolor=item.fill or "none", linestyle=dash,
        edgecolor=item.edge or "none", linewidth=item.width * factor if item.edge else 0.0,
        joinstyle="miter", capstyle="butt", zorder=order, clip_on=False,
        transform=place or ax.transData,
    ))  # fmt: skip
