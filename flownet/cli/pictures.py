"""The pictures that `flownet draw` knows: what each needs, and the figures it makes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import flownet
from flownet.cli import reading
from flownet.cli.screen import Screen
from flownet.cli.solving import exit_code, outcomes
from flownet.enclosure.whole import Enclosure
from flownet.errors import CaseError, NoSolution
from flownet.solution import Solution

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Asked:
    """What the command line said."""

    case: Enclosure
    scenarios: Sequence[str]
    variant: str | None
    changes: dict[str, Any]
    units: str
    screen: Screen
    extra: Mapping[str, Any]  # options that only some pictures have, by name; None: not given

    @property
    def names(self) -> tuple[str, ...]:
        """The scenarios one by one, for pictures of one each."""
        return tuple(reading.scenarios(self.case, self.scenarios, self.variant))

    @property
    def design(self) -> str:
        return self.variant or "base"

    def made(self, scenario: str) -> Enclosure:
        """The case with everything that was asked for applied."""
        case = self.case.under(scenario, self.design)
        return case.with_changes(self.changes) if self.changes else case


class Drawn(NamedTuple):
    """The figures by the scenario that a file name tells, and the exit code."""

    figures: Mapping[str, Figure]
    code: int = 0


class Picture(NamedTuple):
    """A picture, the options that are its own (those in `needs` must be given)."""

    draw: Callable[[Asked], Drawn]
    each: bool = True  # a file for each scenario; else one for all
    needs: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()


def _map(asked: Asked) -> Drawn:
    """One range of colours for all: that of the case as it was read."""
    from flownet.report import scene_page  # noqa: PLC0415
    from flownet.report.figures import map as figures  # noqa: PLC0415 - loads matplotlib

    solved, code = _solved(asked)
    hottest = [row.temperature for item in solved for row in item.compartments.values()]
    colours = scene_page.temperature_range(asked.case, hottest)
    return Drawn({item.scenario: figures.figure(item, units=asked.units, temperatures=colours)
                  for item in solved}, code)  # fmt: skip


def _curves(asked: Asked) -> Drawn:
    """What several fans gain is told beside it."""
    from flownet.report.figures import curves  # noqa: PLC0415 - loads matplotlib

    def figure(solution: Solution) -> Figure:
        found = flownet.fan_curves(solution, fan=asked.extra["fan"])
        if found.gain is not None:
            asked.screen.note(found.gain.words(asked.units))
        return curves.figure(found, units=asked.units)

    solved, code = _solved(asked)
    return Drawn({item.scenario: figure(item) for item in solved}, code)


def _solved(asked: Asked) -> tuple[list[Solution], int]:
    found = list(outcomes(asked.case, asked.names, asked.design, asked.changes))
    return [item for item in found if isinstance(item, Solution)], exit_code(found)


def _network(asked: Asked) -> Drawn:
    """It helps most where nothing can be solved: then it is drawn without flows."""
    from flownet.report.figures import network  # noqa: PLC0415 - loads matplotlib

    def shown(name: str) -> Solution | Enclosure:
        try:
            return flownet.solve(asked.case, scenario=name, variant=asked.design,
                                 changes=asked.changes or None)  # fmt: skip
        except (CaseError, NoSolution) as error:
            asked.screen.note(f"drawn without flows, not solved: {error}")
            return asked.made(name)

    return Drawn({name: network.figure(shown(name), units=asked.units) for name in asked.names})


def _matrix(asked: Asked) -> Drawn:
    """Every variant, or the one asked for, where the limits must hold, or in these scenarios."""
    from flownet.report.figures import matrix  # noqa: PLC0415 - loads matplotlib

    found = flownet.compare(
        asked.case, variants=[asked.variant] if asked.variant else None,
        scenarios=asked.scenarios or None, changes=asked.changes or None,
    )  # fmt: skip
    return Drawn({"": matrix.figure(found, units=asked.units)})


def _rank(asked: Asked) -> Drawn:
    from flownet.report.figures import rank  # noqa: PLC0415 - loads matplotlib

    return Drawn({
        name: rank.figure(flownet.rank(asked.made(name), asked.extra["of"]), units=asked.units)
        for name in asked.names
    })  # fmt: skip


PICTURES = {
    "map": Picture(_map),
    "network": Picture(_network),
    "curves": Picture(_curves, takes=("fan",)),
    "matrix": Picture(_matrix, each=False),
    "rank": Picture(_rank, needs=("of",)),
}
OPTIONS = {  # what to write where a picture needs the option
    "of": "the result it is about, such as --of part.NAME.temperature",
    "fan": "a fan, such as --fan left",
}


def faults(picture: str, extra: Mapping[str, Any]) -> Iterator[str]:
    """Options that are missing, or belong to other pictures."""
    asked = PICTURES[picture]
    for name in asked.needs:
        if extra[name] is None:
            yield f"--{name}: {picture} needs {OPTIONS[name]}"
    for name, value in extra.items():
        if value is not None and name not in (*asked.needs, *asked.takes):
            owners = [p for p, it in PICTURES.items() if name in (*it.needs, *it.takes)]
            yield f"--{name}: only for {' and '.join(owners)} (got {picture})"
