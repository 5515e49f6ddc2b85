"""Paints a scene with matplotlib."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon

from flownet.pictures.scene.scene import Item, Scene, Shape, Words
from flownet.pictures.scene.text_metrics import FAMILY

POINTS = 72.0  # to the inch


def figure_of(scene: Scene) -> Figure:
    """A figure as large as the scene's page, known to no window and no list of figures."""
    figure = Figure(figsize=(scene.wide / POINTS, scene.tall / POINTS), facecolor="white")
    figure.set_label(scene.title)
    paint(scene, figure.add_axes((0.0, 0.0, 1.0, 1.0)))
    return figure


def axes_of(scene: Scene, ax: Axes | None) -> Axes:
    """The scene on given axes, made to fit them; without, on a new figure of its size."""
    if ax is None:
        from matplotlib import pyplot  # noqa: PLC0415 - only here a window may come of it

        size = (scene.wide / POINTS, scene.tall / POINTS)
        ax = pyplot.figure(figsize=size, facecolor="white").add_axes((0.0, 0.0, 1.0, 1.0))
    paint(scene, ax)
    return ax


def paint(scene: Scene, ax: Axes) -> None:
    """Draw every item; letters and lines shrink or grow with the axes."""
    figure = ax.get_figure(root=True)
    assert figure is not None  # axes always have one
    box = ax.get_position()
    wide, tall = (float(size) * POINTS for size in figure.get_size_inches())
    factor = min(box.width * wide / scene.wide, box.height * tall / scene.tall)
    ax.set_xlim(0.0, scene.wide)
    ax.set_ylim(0.0, scene.tall)
    ax.set_aspect("equal", adjustable="box")
    ax.set_axis_off()
    for order, item in enumerate(scene.items, 1):
        _put(ax, item, factor, order)


def _put(ax: Axes, item: Item, factor: float, order: int) -> None:
    if isinstance(item, Words):
        _letters(ax, item, factor, order)
    elif item.closed:
        ax.add_patch(_area(item, factor, order))
    else:
        ax.add_line(_line(item, factor, order))


def _letters(ax: Axes, words: Words, factor: float, order: int) -> None:
    ax.text(
        words.x, words.y, _drawable(words.text), fontsize=words.size * factor, family=FAMILY,
        weight="bold" if words.bold else "normal", style="normal", color=words.colour,
        ha={"centre": "center"}.get(words.align, words.align), va="baseline", zorder=order,
        parse_math=False, clip_on=False,
    )  # fmt: skip


def _drawable(text: str) -> str:
    """Control signs of a file's own text as a space: no typeface has them."""
    return "".join(sign if sign.isprintable() else " " for sign in text)


def _area(shape: Shape, factor: float, order: int) -> Polygon:
    return Polygon(
        shape.points, closed=True, facecolor=shape.fill or "none", edgecolor=shape.edge or "none",
        linewidth=shape.width * factor if shape.edge else 0.0, linestyle=_dash(shape),
        joinstyle="miter", zorder=order, clip_on=False,
    )  # fmt: skip


def _line(shape: Shape, factor: float, order: int) -> Line2D:
    xs, ys = zip(*shape.points, strict=True)
    return Line2D(
        xs, ys, color=shape.edge, linewidth=shape.width * factor, linestyle=_dash(shape),
        solid_capstyle="butt", dash_capstyle="butt", solid_joinstyle="miter", zorder=order,
        clip_on=False,
    )  # fmt: skip


def _dash(shape: Shape) -> Any:
    """Dashes are given in points; matplotlib counts them in line widths."""
    if not shape.dash:
        return "solid"
    return 0, tuple(length / max(shape.width, 1e-6) for length in shape.dash)
