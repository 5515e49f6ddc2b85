"""The network as a figure."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.caption import Caption
from flownet.pictures.network.network import network_scene
from flownet.pictures.scene import painter
from flownet.pictures.scene.scene import Scene
from flownet.results.solution import Solution


def figure(
    case_or_solution: Enclosure | Solution, *, units: str = "metric", caption: Caption | None = None
) -> Figure:
    """The network on a page of its own; with a solution, its flows too."""
    return painter.figure_of(_scene(case_or_solution, units, caption))


def axes(case_or_solution: Enclosure | Solution, ax: Axes | None, *, units: str = "metric") -> Axes:
    """The network on given axes, or on a new figure."""
    return painter.axes_of(_scene(case_or_solution, units), ax)


def _scene(
    case_or_solution: Enclosure | Solution, units: str, caption: Caption | None = None
) -> Scene:
    if isinstance(case_or_solution, Enclosure):
        return network_scene(case_or_solution, None, units, caption)
    return network_scene(case_or_solution.case, case_or_solution, units, caption)
