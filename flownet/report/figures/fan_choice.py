"""The best few fan types for a place, as a figure."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.report.figures import painter
from flownet.report.scene_fan_choice import Curves, fan_choice_scene


def figure(curves: Curves, *, units: str = "metric", changed: Sequence[str] = ()) -> Figure:
    """The picture on a page of its own."""
    return painter.figure_of(fan_choice_scene(curves, units, changed))


def axes(curves: Curves, ax: Axes | None, *, units: str = "metric") -> Axes:
    """The picture on given axes, or on a new figure."""
    return painter.axes_of(fan_choice_scene(curves, units), ax)
