"""The trade-off between two measures, as a figure."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.report.figures import painter
from flownet.report.option_choice import Options
from flownet.report.scene_front import front_scene


def figure(found: Options, *, units: str = "metric", changed: Sequence[str] = ()) -> Figure:
    """The picture on a page of its own."""
    return painter.figure_of(front_scene(found, units, changed))


def axes(found: Options, ax: Axes | None, *, units: str = "metric") -> Axes:
    """The picture on given axes, or on a new figure."""
    return painter.axes_of(front_scene(found, units), ax)
