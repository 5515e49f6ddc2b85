"""Pictures of results, for scripts and notebooks.

Each function draws on `ax`, or on a new figure, and returns the axes; none calls `show()`. Bare
temperatures are in kelvin, as everywhere in Python.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from flownet.enclosure.whole import Enclosure
from flownet.solution import Solution
from flownet.studies.rank import Ranking

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["map", "network", "rank"]


def map(
    solution: Solution,
    *,
    ax: Axes | None = None,
    units: str = "metric",
    temperatures: tuple[float, float] | None = None,
) -> Axes:
    """An enclosure to scale, filled by air temperature, with every flow.

    Parameters
    ----------
    solution : Solution
        One solved enclosure; of a batch, `batch.select(i)`.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.
    temperatures : (low, high), optional
        The range of the colours [K], the same for all that is to be compared. Default from the
        outside temperature to 5 K above the highest air limit.

    Raises
    ------
    TypeError
        For anything but one solution.
    ValueError
        Where low is not below high, or for other units.
    """
    _one_solution(solution, "map")
    from flownet.report.figures.map import axes  # noqa: PLC0415 - loads matplotlib

    return axes(solution, ax, units=units, temperatures=temperatures)


def network(
    case_or_solution: Enclosure | Solution, *, ax: Axes | None = None, units: str = "metric"
) -> Axes:
    """The places and what joins them, to check that a case is put together as meant.

    Parameters
    ----------
    case_or_solution : Enclosure or Solution
        With a solution, flows with their direction and temperatures are shown too.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.

    Raises
    ------
    TypeError
        For anything else.
    """
    if not isinstance(case_or_solution, Enclosure):
        _one_solution(case_or_solution, "network")
    from flownet.report.figures.network import axes  # noqa: PLC0415 - loads matplotlib

    return axes(case_or_solution, ax, units=units)


def rank(ranking: Ranking, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """What moves a result, as bars from a zero line, the largest effect on top.

    Parameters
    ----------
    ranking : Ranking
        From `flownet.rank`.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.

    Raises
    ------
    TypeError
        For anything but a ranking.
    """
    if not isinstance(ranking, Ranking):
        raise TypeError(f"draw.rank takes a Ranking (got {type(ranking).__name__})")
    from flownet.report.figures.rank import axes  # noqa: PLC0415 - loads matplotlib

    return axes(ranking, ax, units=units)


def _one_solution(solution: object, name: str) -> None:
    if not isinstance(solution, Solution):
        hint = "; of a batch, draw batch.select(i)" if hasattr(solution, "select") else ""
        raise TypeError(f"draw.{name} takes a Solution (got {type(solution).__name__}){hint}")
