"""Headroom, as a figure."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.report.figures import painter
from flownet.report.scene_headroom import Found, headroom_scene


def figure(found: Found, *, units: str = "metric", changed: Sequence[str] = ()) -> Figure:
    """Margins over the key, on a page of their own."""
    return painter.figure_of(headroom_scene(found, units, changed))


def axes(found: Found, ax: Axes | None, *, units: str = "metric") -> Axes:
    """The same on given axes, or on a new figure."""
    return painter.axes_of(headroom_scene(found, units), ax)
