"""Paints scenes with matplotlib: the map and the network."""

from __future__ import annotations

from typing import Any

from matplotlib import pyplot
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures.map.map import map_scene
from flownet.pictures.network import network_scene
from flownet.pictures.scene.scene import Item, Scene, Shape, Words
from flownet.pictures.scene.text_metrics import FAMILY
from flownet.pictures.style import picture
from flownet.results.solution import Solution

POINTS = 72.0  # to the inch


@picture(Solution)
def map(
    solution: Solution,
    *,
    ax: Axes | None = None,
    units: str = "metric",
    temperatures: tuple[float, float] | None = None,
) -> Axes:
    """An enclosure to scale, filled by air temperature, with every flow.

    Parameters
    ----------
    solution : Solution
        One solved enclosure; of a batch, `batch.select(i)`.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.
    temperatures : (low, high), optional
        The range of the colours [K], the same for all that is to be compared. Default from the
        outside temperature to 5 K above the highest air limit, both of the case as it was before
        its variants, scenarios and changes: one range for all of them.

    Raises
    ------
    TypeError
        For anything but one solution.
    ValueError
        Where low is not below high, for anything but two temperatures, or for other units.
    """
    return paint(map_scene(solution, units, temperatures), ax)


@picture(Solution, Enclosure)
def network(
    case_or_solution: Enclosure | Solution, *, ax: Axes | None = None, units: str = "metric"
) -> Axes:
    """The places and what joins them, to check that a case is put together as meant.

    Parameters
    ----------
    case_or_solution : Enclosure or Solution
        With a solution, flows with their direction and temperatures are shown too.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.

    Raises
    ------
    TypeError
        For anything else.
    """
    solution = case_or_solution if isinstance(case_or_solution, Solution) else None
    case = case_or_solution if isinstance(case_or_solution, Enclosure) else case_or_solution.case
    return paint(network_scene(case, solution, units), ax)


def paint(scene: Scene, ax: Axes | None) -> Axes:
    """Every item of a scene on given axes, made to fit them; without, on a new figure of its size.

    Letters and lines shrink or grow with the axes.
    """
    if ax is None:
        size = (scene.wide / POINTS, scene.tall / POINTS)
        figure = pyplot.figure(figsize=size, facecolor="white")
        figure.set_label(scene.title)
        ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    whole = ax.get_figure(root=True)
    assert whole is not None  # axes always have one
    box = ax.get_position()
    wide, tall = (float(size) * POINTS for size in whole.get_size_inches())
    factor = min(box.width * wide / scene.wide, box.height * tall / scene.tall)
    ax.set(xlim=(0.0, scene.wide), ylim=(0.0, scene.tall))
    ax.set_aspect("equal", adjustable="box")
    ax.set_axis_off()
    for order, item in enumerate(scene.items, 1):
        _put(ax, item, factor, order)
    return ax


def _put(ax: Axes, item: Item, factor: float, order: int) -> None:
    if isinstance(item, Words):
        told = "".join(sign if sign.isprintable() else " " for sign in item.text)
        ax.text(
            item.x, item.y, told, fontsize=item.size * factor, family=FAMILY,
            weight="bold" if item.bold else "normal", style="normal", color=item.colour,
            ha={"centre": "center"}.get(item.align, item.align), va="baseline", zorder=order,
            parse_math=False, clip_on=False,
        )  # fmt: skip
    elif item.closed:
        ax.add_patch(Polygon(
            item.points, closed=True, facecolor=item.fill or "none", edgecolor=item.edge or "none",
            linewidth=item.width * factor if item.edge else 0.0, linestyle=_dash(item),
            joinstyle="miter", zorder=order, clip_on=False,
        ))  # fmt: skip
    else:
        xs, ys = zip(*item.points, strict=True)
        ax.add_line(Line2D(
            xs, ys, color=item.edge, linewidth=item.width * factor, linestyle=_dash(item),
            solid_capstyle="butt", dash_capstyle="butt", solid_joinstyle="miter", zorder=order,
            clip_on=False,
        ))  # fmt: skip


def _dash(shape: Shape) -> Any:
    """Dashes are given in points; matplotlib counts them in line widths."""
    if not shape.dash:
        return "solid"
    return 0, tuple(length / max(shape.width, 1e-6) for length in shape.dash)
