"""Pictures of results, for scripts and notebooks.

Each function draws on `ax`, or on a new figure, and returns the axes; none calls `show()`. Bare
temperatures are in kelvin, as everywhere in Python.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from flownet.enclosure.fans import FanType
from flownet.enclosure.whole import Enclosure
from flownet.errors import CaseError
from flownet.solution import Solution
from flownet.studies.choice.result import OptionChoice
from flownet.studies.compare import Comparison
from flownet.studies.fan_choice.study import FanChoice
from flownet.studies.fans.curves import fan_curves
from flownet.studies.headroom.result import Headroom
from flownet.studies.rank import Ranking
from flownet.studies.sweep_result import Sweep
from flownet.studies.uncertainty.study import Uncertainty

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "curves", "fan_choice", "fan_curve", "front", "headroom", "map", "matrix", "network",
    "rank", "sweep", "uncertainty",
]  # fmt: skip


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
        outside temperature to 5 K above the highest air limit, both of the case as it was before
        its variants, scenarios and changes: one range for all of them.

    Raises
    ------
    TypeError
        For anything but one solution.
    ValueError
        Where low is not below high, for anything but two temperatures, or for other units.
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


def curves(
    solution: Solution, *, ax: Axes | None = None, units: str = "metric", fan: str | None = None
) -> Axes:
    """Fan curves, what the network asks of the fans clean and loaded, and where they work.

    Parameters
    ----------
    solution : Solution
        One solved enclosure; of a batch, `batch.select(i)`.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown; the opposite sides of the frame carry the other units.
    fan : str, optional
        One fan, the others being part of the network. Default those that work together and do
        most to the air.

    Raises
    ------
    TypeError
        For anything but one solution.
    CaseError, NoSolution
        As `flownet.fan_curves`.
    """
    _one_solution(solution, "curves")
    found = fan_curves(solution, fan=fan)
    from flownet.report.figures.curves import axes  # noqa: PLC0415 - loads matplotlib

    return axes(found, ax, units=units)


def fan_curve(fan_type: FanType, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """One fan curve as it was read, to be held against the data sheet.

    Parameters
    ----------
    fan_type : FanType
        Of a case, `case.things["fan_type"]["axial"]`, or of `flownet.load_fan_types`.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown; the opposite sides of the frame carry the other units.

    Raises
    ------
    TypeError
        For anything but a fan type.
    """
    if not isinstance(fan_type, FanType):
        raise TypeError(f"draw.fan_curve takes a FanType (got {type(fan_type).__name__})")
    from flownet.report.figures.fan_curve import axes  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.fans.curve import fan_curve as made  # noqa: PLC0415 - rarely

    return axes(made(fan_type), ax, units=units)


def fan_choice(choice: FanChoice, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """The best few fan types for a place, up to five, against what the network asks of the fan.

    Parameters
    ----------
    choice : FanChoice
        From `flownet.choose` with a fan. Where no type serves, those that come closest are drawn.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown; the opposite sides of the frame carry the other units.

    Raises
    ------
    TypeError
        For anything but the choice of a fan.
    CaseError
        Where no candidate was solved, or a fan that is chosen stands in every scenario.
    """
    if not isinstance(choice, FanChoice):
        raise TypeError(f"draw.fan_choice takes a FanChoice (got {type(choice).__name__})")
    from flownet.report.figures.fan_choice import axes  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.fan_choice.curves import fan_choice_curves  # noqa: PLC0415

    return axes(fan_choice_curves(choice), ax, units=units)


def front(choice: OptionChoice, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """The trade-off between two measures: designs that hold as dots, the front as a line.

    Parameters
    ----------
    choice : OptionChoice
        From `flownet.choose_options` with two measures.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.

    Raises
    ------
    TypeError
        For anything but a choice over options.
    CaseError
        Where one measure ranks, or no design holds.
    """
    if not isinstance(choice, OptionChoice):
        raise TypeError(f"draw.front takes an OptionChoice (got {type(choice).__name__})")
    if not choice.front:
        raise CaseError(choice.no_front)
    from flownet.report.figures.front import axes  # noqa: PLC0415 - loads matplotlib

    return axes(choice, ax, units=units)


def headroom(found: Headroom, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Margins of the temperature limits over one key, today's value and where the first breaks.

    Parameters
    ----------
    found : Headroom
        From `flownet.headroom`. The six limits with the least room are drawn.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.

    Raises
    ------
    TypeError
        For anything but the headroom of a key.
    CaseError
        Where no temperature limit has a margin.
    """
    if not isinstance(found, Headroom):
        raise TypeError(f"draw.headroom takes a Headroom (got {type(found).__name__})")
    from flownet.report.figures.headroom import axes  # noqa: PLC0415 - loads matplotlib

    return axes(found, ax, units=units)


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


def matrix(comparison: Comparison, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Scenarios as rows, variants as columns, each cell with its margin and status.

    Parameters
    ----------
    comparison : Comparison
        From `flownet.compare`.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.

    Raises
    ------
    TypeError
        For anything but a comparison.
    """
    if not isinstance(comparison, Comparison):
        raise TypeError(f"draw.matrix takes a Comparison (got {type(comparison).__name__})")
    from flownet.report.figures.matrix import axes  # noqa: PLC0415 - loads matplotlib

    return axes(comparison, ax, units=units)


def uncertainty(found: Uncertainty, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Margins as bars from P5 to P95 against the zero line, and whose spread that is.

    Parameters
    ----------
    found : Uncertainty
        From `flownet.uncertainty`.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.

    Raises
    ------
    TypeError
        For anything but the uncertainty of a case.
    """
    if not isinstance(found, Uncertainty):
        raise TypeError(f"draw.uncertainty takes an Uncertainty (got {type(found).__name__})")
    from flownet.report.figures.uncertainty import axes  # noqa: PLC0415 - loads matplotlib

    return axes(found, ax, units=units)


def sweep(
    found: Sweep, *, of: str | None = None, ax: Axes | None = None, units: str = "metric"
) -> Axes:
    """A result over what was varied: lines, or lines of equal value; the limit is heavy.

    Parameters
    ----------
    found : Sweep
        From `flownet.sweep`, a grid of one or two keys (or samples of one), its rows in memory. A
        second key with up to six values, or words, has a line for each; two keys with more values
        make lines of equal value.
    of : str, optional
        A result that was kept, or a pattern of several, a line each. Default what was kept by
        name, else the worst margin.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.

    Raises
    ------
    TypeError
        For anything but a sweep.
    CaseError
        For what has no picture: other designs, more keys, a result that is a word or not kept.
    """
    if not isinstance(found, Sweep):
        raise TypeError(f"draw.sweep takes a Sweep (got {type(found).__name__})")
    from flownet.report.figures.sweep import axes  # noqa: PLC0415 - loads matplotlib

    return axes(found, ax, of=of, units=units)


def _one_solution(solution: object, name: str) -> None:
    if not isinstance(solution, Solution):
        hint = "; of a batch, draw batch.select(i)" if hasattr(solution, "select") else ""
        raise TypeError(f"draw.{name} takes a Solution (got {type(solution).__name__}){hint}")
