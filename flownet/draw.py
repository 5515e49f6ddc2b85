"""Pictures of results, for scripts and notebooks.

Each function draws on `ax`, or on a new figure of the picture's size, and returns the axes; none
calls `show()`. `units`, "metric" or "us", says what is shown. Bare temperatures are in kelvin, as
everywhere in Python.

But for `map` and `network`, which are drawings, the axes are ordinary ones in the units they show:
`draw.curves(solution).plot(flow, pressure, "o")` puts measured points where they belong (m3/h and
Pa; CFM and inH2O with "us"). A new figure has title, table and notes around the chart; on `ax` it
stands alone, its title above. Each raises TypeError for anything but what it draws.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import FanType
from flownet.results.solution import Solution
from flownet.studies.choice.fan_result import FanChoice
from flownet.studies.choice.result import OptionChoice
from flownet.studies.compare import Comparison
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
    from flownet.pictures.map.axes import axes  # noqa: PLC0415 - loads matplotlib

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
    from flownet.pictures.network.axes import axes  # noqa: PLC0415 - loads matplotlib

    return axes(case_or_solution, ax, units=units)


def curves(
    solution: Solution, *, ax: Axes | None = None, units: str = "metric", fan: str | None = None
) -> Axes:
    """Fan curves, system curves clean and loaded, and where they meet: pressure over flow.

    Parameters
    ----------
    solution : Solution
        One solved enclosure; of a batch, `batch.select(i)`.
    ax : Axes, optional
    units : "metric" or "us"
        The opposite sides of the frame carry the other units.
    fan : str, optional
        One fan, the others being part of the network. Default those that work together and do
        most to the air.

    Raises
    ------
    CaseError, NoSolution
        As `flownet.fan_curves`.
    """
    _one_solution(solution, "curves")
    found = fan_curves(solution, fan=fan)
    from flownet.pictures.curves import curves as drawn  # noqa: PLC0415 - loads matplotlib

    return drawn(found, ax=ax, units=units)


def fan_curve(fan_type: FanType, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """One fan curve as it was read, to be held against the data sheet: pressure over flow.

    Parameters
    ----------
    fan_type : FanType
        Of a case, `case.things["fan_type"]["axial"]`, or of `flownet.load_fan_types`.
    ax : Axes, optional
    units : "metric" or "us"
        The opposite sides of the frame carry the other units.
    """
    _takes("fan_curve", fan_type, FanType)
    from flownet.pictures.fan_curve import fan_curve as drawn  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.fans.curve import fan_curve as made  # noqa: PLC0415 - rarely

    return drawn(made(fan_type), ax=ax, units=units)


def fan_choice(choice: FanChoice, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """The best few fan types for a place, up to five, against the system curve of the fan.

    Parameters
    ----------
    choice : FanChoice
        From `flownet.choose` with a fan. Where no type serves, those that come closest are drawn.
    ax : Axes, optional
    units : "metric" or "us"
        The opposite sides of the frame carry the other units.

    Raises
    ------
    CaseError
        Where no candidate was solved, or a fan that is chosen stands in every scenario.
    """
    _takes("fan_choice", choice, FanChoice)
    from flownet.pictures.fan_choice import fan_choice as drawn  # noqa: PLC0415 - loads matplotlib
    from flownet.studies.choice.fan_picture import fan_choice_curves  # noqa: PLC0415

    return drawn(fan_choice_curves(choice), ax=ax, units=units)


def front(choice: OptionChoice, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Designs by two measures: what holds as dots, what fails hollow, the trade-off as a line.

    Parameters
    ----------
    choice : OptionChoice
        From `flownet.choose_options`. Beside a measure that ranks alone another one is drawn;
        where no design holds, those that come closest are ringed.
    ax : Axes, optional
    units : "metric" or "us"

    Raises
    ------
    CaseError
        Where no design has a value of both measures.
    """
    _takes("front", choice, OptionChoice)
    from flownet.pictures.pareto import pareto as drawn  # noqa: PLC0415 - loads matplotlib

    return drawn(choice, ax=ax, units=units)


def headroom(found: Headroom, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """How far a key can go, close up: of every limit the share of today's margin that is left.

    Parameters
    ----------
    found : Headroom
        From `flownet.headroom`; values near the answer are solved for the picture.
    ax : Axes, optional
    units : "metric" or "us"

    Raises
    ------
    CaseError
        Where no limit has a margin today.
    """
    _takes("headroom", found, Headroom)
    from flownet.pictures.headroom import headroom as drawn  # noqa: PLC0415 - loads matplotlib

    return drawn(found, ax=ax, units=units)


def rank(ranking: Ranking, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """What moves a result, as bars from a zero line, the largest effect on top.

    Parameters
    ----------
    ranking : Ranking
        From `flownet.rank`.
    ax : Axes, optional
    units : "metric" or "us"
    """
    _takes("rank", ranking, Ranking)
    from flownet.pictures.rank import rank as drawn  # noqa: PLC0415 - loads matplotlib

    return drawn(ranking, ax=ax, units=units)


def matrix(comparison: Comparison, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Scenarios as rows, variants as columns, each cell with its margin and status.

    Parameters
    ----------
    comparison : Comparison
        From `flownet.compare`.
    ax : Axes, optional
        On a new figure more variants than fit stand below, on axes of their own; the first are
        returned.
    units : "metric" or "us"
    """
    _takes("matrix", comparison, Comparison)
    from flownet.pictures.matrix import matrix as drawn  # noqa: PLC0415 - loads matplotlib

    return drawn(comparison, ax=ax, units=units)


def uncertainty(found: Uncertainty, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Margins as bars from P5 to P95, as a share of what is allowed, and whose spread that is.

    Parameters
    ----------
    found : Uncertainty
        From `flownet.uncertainty`.
    ax : Axes, optional
        Then without the shares of the inputs.
    units : "metric" or "us"
    """
    _takes("uncertainty", found, Uncertainty)
    from flownet.pictures.uncertainty import uncertainty as drawn  # noqa: PLC0415

    return drawn(found, ax=ax, units=units)


def sweep(
    found: Sweep, *, of: str | None = None, ax: Axes | None = None, units: str = "metric"
) -> Axes:
    """A result over what was varied: lines, or lines of equal value; the limit is bold.

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
    units : "metric" or "us"

    Raises
    ------
    CaseError
        For what has no picture: other designs, more keys, a result that is a word or not kept.
    """
    _takes("sweep", found, Sweep)
    from flownet.pictures.sweep import sweep as drawn  # noqa: PLC0415 - loads matplotlib

    return drawn(found, of=of, ax=ax, units=units)


def _takes(name: str, given: object, wanted: type) -> None:
    if not isinstance(given, wanted):
        article = "an" if wanted.__name__[0] in "AEIOU" else "a"
        raise TypeError(f"draw.{name} takes {article} {wanted.__name__} "
                        f"(got {type(given).__name__})")  # fmt: skip


def _one_solution(solution: object, name: str) -> None:
    if not isinstance(solution, Solution):
        hint = "; of a batch, draw batch.select(i)" if hasattr(solution, "select") else ""
        raise TypeError(f"draw.{name} takes a Solution (got {type(solution).__name__}){hint}")
