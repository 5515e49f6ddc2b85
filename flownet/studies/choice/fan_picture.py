"""The best few candidates as curves, against what the network asks of the fan at its place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet.findings.facts import running_fans
from flownet.judging.assessment import first_least
from flownet.results.solution import Solution
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.studies.choice.fan_result import Candidate, FanChoice
from flownet.studies.fans import lines
from flownet.studies.fans.curves import fan_point, system_line
from flownet.studies.fans.groups import FanGroup, rise_of
from flownet.studies.fans.lines import FanLine
from flownet.studies.fans.results import FanPoint

MOST_CANDIDATES = 5  # candidates in one picture


class DrawnType(NamedTuple):
    """A candidate as it works in the scenario of the picture; one of several equal fans."""

    candidate: Candidate
    line: FanLine  # at its speed, in the air it draws
    works: FanPoint  # flow and rise: the mean of several; region: the worst of them


@dataclass(frozen=True)
class FanChoiceCurves:
    """What the picture of a choice shows."""

    choice: FanChoice
    solution: Solution  # of the first candidate, in the scenario that is drawn
    drawn: tuple[DrawnType, ...]  # in rank order
    flow: Array  # along the system curve: through each fan [m3/s]
    rise: Array  # what it asks of each [Pa]


def fan_choice_curves(choice: FanChoice, *, most: int = MOST_CANDIDATES) -> FanChoiceCurves:
    """Curves and operating points of the best candidates in the scenario that decides.

    That is where the first has its least temperature margin, among those in which all fans that
    are chosen run. Where no type serves, those that come closest are shown. The system curve
    is that of `fan_curves`, of the first candidate; the heat of another motor moves it a little.

    Parameters
    ----------
    choice : FanChoice
    most : int
        How many candidates, at least 1.

    Raises
    ------
    CaseError
        Where no candidate was solved in every scenario, or one of the fans stands in all of them.
    """
    shown = choice.candidates or tuple(item for item in choice.excluded if item.solved)
    if not shown:
        raise CaseError(
            "choose: no candidate was solved in every scenario; there is nothing to draw"
        )
    scenario = _scenario(choice, shown[0])
    solutions = [choice.solution(item.type, scenario) for item in shown[:most]]
    groups = [_group(solution, choice) for solution in solutions]
    drawn = tuple(map(_drawn, shown, solutions, groups))
    reach = max(item.line.flow.max() for item in drawn) * len(choice.fans)
    flow, rise = system_line(solutions[0], (groups[0],), float(reach))
    return FanChoiceCurves(choice, solutions[0], drawn, flow / len(choice.fans), rise)


def _scenario(choice: FanChoice, first: Candidate) -> str:
    solved = choice.solved
    assert solved is not None  # a candidate that is shown was solved
    number = solved.types.index(first.type)
    running = np.array([solved.running(path)[:, number] for path in choice.fans]).all(axis=0)
    if not running.any():
        raise CaseError("choose: one of the fans stands in every scenario; draw one by one")
    margins = solved.result("total.worst_margin")[:, number]
    return choice.scenarios[int(first_least(np.where(running, np.nan_to_num(margins), np.inf)))]


def _group(solution: Solution, choice: FanChoice) -> FanGroup:
    """The fans that are chosen, taken as side by side: each is given the mean."""
    return FanGroup(tuple(fan for fan in running_fans(solution) if fan.path in choice.fans))


def _drawn(item: Candidate, solution: Solution, group: FanGroup) -> DrawnType:
    first = group.fans[0]
    curve = lines.curves(solution, (group,))[first.path]
    flow = group.flow / len(group.fans)
    line = lines.line(curve, (first.path,), (min(flow, 0.0), 1.1 * flow))
    region: Any = next((fan.region for fan in group.fans if fan.region != "normal"), "normal")
    works = fan_point(solution, first)._replace(flow=flow, rise=rise_of((group,)), region=region)
    return DrawnType(item, line, works)
