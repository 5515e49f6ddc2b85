"""What tolerances do to margins, as a figure."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.report.figures import painter
from flownet.report.scene_uncertainty import Sampled, uncertainty_scene


def figure(found: Sampled, *, units: str = "metric", changed: Sequence[str] = ()) -> Figure:
    """The bars on a page of their own."""
    return painter.figure_of(uncertainty_scene(found, units, changed))


def axes(found: Sampled, ax: Axes | None, *, units: str = "metric") -> Axes:
    """The bars on given axes, or on a new figure."""
    return painter.axes_of(uncertainty_scene(found, units), ax)
