"""Fans against the network, as a figure."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.report.figures import painter
from flownet.report.scene_curves import Curves, curves_scene


def figure(curves: Curves, *, units: str = "metric", changed: Sequence[str] = ()) -> Figure:
    """The picture on a page of its own."""
    return painter.figure_of(curves_scene(curves, units, changed))


def axes(curves: Curves, ax: Axes | None, *, units: str = "metric") -> Axes:
    """The picture on given axes, or on a new figure."""
    return painter.axes_of(curves_scene(curves, units), ax)
