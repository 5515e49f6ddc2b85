"""Scenarios against variants, as a figure."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.report.comparison import Compared
from flownet.report.figures import painter
from flownet.report.scene_matrix import matrix_scene


def figure(comparison: Compared, *, units: str = "metric", changed: Sequence[str] = ()) -> Figure:
    """The matrix on a page of its own."""
    return painter.figure_of(matrix_scene(comparison, units, changed))


def axes(comparison: Compared, ax: Axes | None, *, units: str = "metric") -> Axes:
    """The matrix on given axes, or on a new figure."""
    return painter.axes_of(matrix_scene(comparison, units), ax)
