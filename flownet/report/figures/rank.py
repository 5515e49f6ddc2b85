"""What moves a result, as a figure."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flownet.report.figures import painter
from flownet.report.scene_rank import Ranked, rank_scene


def figure(ranking: Ranked, *, units: str = "metric", changed: Sequence[str] = ()) -> Figure:
    """The bars on a page of their own."""
    return painter.figure_of(rank_scene(ranking, units, changed))


def axes(ranking: Ranked, ax: Axes | None, *, units: str = "metric") -> Axes:
    """The bars on given axes, or on a new figure."""
    return painter.axes_of(rank_scene(ranking, units), ax)
