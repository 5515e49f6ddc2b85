"""A sweep, as a figure."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.report.figures import painter
from flownet.report.scene_sweep import Swept, sweep_scene


def figure(
    found: Swept, *, of: str | None = None, units: str = "metric", changed: Sequence[str] = ()
) -> Figure:
    """Lines, or lines of equal value, on a page of their own."""
    return painter.figure_of(sweep_scene(found, of, units, changed))


def axes(found: Swept, ax: Axes | None, *, of: str | None = None, units: str = "metric") -> Axes:
    """The same on given axes, or on a new figure."""
    return painter.axes_of(sweep_scene(found, of, units), ax)
