"""The map as a figure."""

from __future__ import annotations

from io import StringIO

from matplotlib import pyplot
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.pages.caption import Caption
from flownet.pictures.map.map import map_scene
from flownet.pictures.scene import painter
from flownet.results.solution import Solution


def figure(
    solution: Solution, *, units: str = "metric", temperatures: tuple[float, float] | None = None,
    caption: Caption | None = None,
) -> Figure:  # fmt: skip
    """The map of one solution on a page of its own."""
    return painter.figure_of(map_scene(solution, units, temperatures, caption))


def svg(solution: Solution) -> str:
    """The map as a drawing within a page."""
    stream, made = StringIO(), figure(solution)
    made.savefig(stream, format="svg")
    pyplot.close(made)
    text = stream.getvalue()
    return text[text.index("<svg") :]


def axes(
    solution: Solution,
    ax: Axes | None,
    *,
    units: str = "metric",
    temperatures: tuple[float, float] | None = None,
) -> Axes:
    """The map of one solution on given axes, or on a new figure."""
    return painter.axes_of(map_scene(solution, units, temperatures), ax)
