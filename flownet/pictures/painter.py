"""Paints drawings with matplotlib: the map and the network."""

from __future__ import annotations

from matplotlib import pyplot
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from flownet.pictures.scene.scene import Drawing, Item, Words
from flownet.pictures.scene.text_metrics import FAMILY

POINTS = 72.0  # to the inch


def paint(drawing: Drawing, ax: Axes | None) -> Axes:
    """Every item of a drawing on given axes, made to fit; without, on a new figure of its size.

    Letters and lines shrink or grow with the axes.
    """
    page = drawing.page
    if ax is None:
        size = (page.wide / POINTS, page.tall / POINTS)
        figure = pyplot.figure(figsize=size, facecolor="white", label=drawing.title)
        ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    whole = ax.get_figure(root=True)
    assert whole is not None  # axes always have one
    box = ax.get_position()
    wide, tall = (float(size) * POINTS for size in whole.get_size_inches())
    factor = min(box.width * wide / page.wide, box.height * tall / page.tall)
    ax.set(xlim=(page.x0, page.x1), ylim=(page.y0, page.y1))
    ax.set_aspect("equal", adjustable="box")
    ax.set_axis_off()
    for order, item in enumerate(drawing.items, 1):
        _put(ax, item, factor, order)
    return ax


def _put(ax: Axes, item: Item, factor: float, order: int) -> None:
    if isinstance(item, Words):
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
    ))  # fmt: skip
