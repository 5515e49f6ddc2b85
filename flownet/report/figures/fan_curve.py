"""One fan curve as it was read, as a figure."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.report.figures import painter
from flownet.report.scene_fan_curve import Curve, fan_curve_scene


def figure(curve: Curve, *, units: str = "metric") -> Figure:
    """The picture on a page of its own."""
    return painter.figure_of(fan_curve_scene(curve, units))


def axes(curve: Curve, ax: Axes | None, *, units: str = "metric") -> Axes:
    """The picture on given axes, or on a new figure."""
    return painter.axes_of(fan_curve_scene(curve, units), ax)
