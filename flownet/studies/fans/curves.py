"""Fans against the network: their curves, what the network asks of them, where they work."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import FanType
from flownet.findings.facts import Working
from flownet.results.solution import Solution
from flownet.schema import argument_checks
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.schema.fields import NONE
from flownet.solving.attempt import attempt_at
from flownet.solving.solve import solved_alone
from flownet.studies.fans import lines
from flownet.studies.fans.groups import Chain, again, chain_of, members, rise_of
from flownet.studies.fans.lines import FanLine
from flownet.studies.fans.results import FanCurves, FanPoint, Gain, SystemLine
from flownet.studies.runs import Outcomes, Run
from flownet.studies.searches import Search, found_by, solved

LINE_STEPS = 48  # solves along a system line
STIFF = 1e3  # shut-off pressure of a fan that holds a flow, over that of the fan in its place
ABSENT_RISE = 1e-6  # Pa, of a fan that is not there while its hole is
FREE_PASSAGE = 1e3  # m3/s, up to which such a fan passes everything
TWICE = 2.0  # fouling of a loaded filter where no scenario says it


def fan_curves(
    solution: Solution, *, fan: str | None = None, steps: int = LINE_STEPS, gain: bool = True
) -> FanCurves:
    """Fan curves, the system curve, and where both meet.

    A fan's curve is the one the solver uses: at its speed and the density of the air it draws. The
    system curve is what fans have to give where the whole case is solved at flows imposed on them,
    those that work together in the proportion of their flows. Each point has its own temperatures,
    so draught is in it; motors give the heat they give in this solution. What stands on a fan, its
    guard and its shutter belong to the network.

    Parameters
    ----------
    fan : str, optional
        One fan by its path or name: its curve, against the network in which the others run.
        Default those that do most to the air together.
    steps, gain : int, bool
        Solves along each system curve; whether each fan is solved alone too, to say what is gained.

    Raises
    ------
    CaseError, NoSolution
        No fan runs, or not the one named; none with clean or loaded filters.
    """
    return found_by(looked_for(solution, fan, steps, gain))


def looked_for(
    solution: Solution, fan: str | None = None, steps: int = LINE_STEPS, gain: bool = True
) -> Search[FanCurves]:
    """The search for it; arguments as those of `fan_curves`."""
    chain = _chain("fan_curves", solution, fan)
    known = lines.curves(solution, chain)
    wanted = list(_states(solution))
    found = yield [[Run(changes=changes, of=solution.case)] * bool(changes)
                    for *_, changes in wanted]  # fmt: skip
    states = [(loaded, words, made := pairs.select(0) if changes else solution, again(made, chain))
              for (loaded, words, changes), pairs in zip(wanted, found, strict=True)]  # fmt: skip
    paths, whole = tuple(known), lines.together(solution, chain, known)
    imposed = [_imposed(made, one, whole.flow.max(), steps) for *_, made, one in states]
    held = yield [[run] for run in imposed]
    still = [_undriven(made, one) for *_, made, one in states]
    return FanCurves(
        solution=solution, fans=paths, lines=_lines(
            solution, chain, known, [fan for *_, one in states for fan in members(one)]),
        together=whole if len(paths) > 1 else None,
        systems=tuple(SystemLine(loaded, words, *_asked(pairs, one, alone))
                      for (loaded, words, _, one), pairs, alone in
                      zip(states, held, still, strict=True)),
        points=tuple(p for loaded, _, state, one in states for p in _points(state, one, loaded)),
        gain=_gain(solution, chain) if gain and len(paths) > 1 else None,
        others=tuple(path for path, row in solution.fans.items() if path not in paths
                     and row.region not in ("stopped", "blanked")),
        about={fan.path: fan_point(solution, fan) for fan in members(chain)},
    )  # fmt: skip


def combined(solution: Solution, *, fan: str | None = None) -> Gain:
    """What fans that work together do beside the best of them alone.

    Alone in parallel: the holes of the others are closed. Alone in series: the others are not
    there, their holes and what stands in them are. The rule of thumb adds flows in parallel and
    pressures in series (common practice, no source); it holds only without, or against a whole
    load of, resistance.

    Raises
    ------
    CaseError
        Where fewer than two fans work together, or `fan` names one: it then stands alone.
    NoSolution
        Where there is none with one fan alone.
    """
    chain = _chain("combined", solution, fan)
    if sum(len(group.fans) for group in chain) < 2:
        raise CaseError(f"curves: {chain[0].paths[0]} works with no other fan; nothing is combined")
    return _gain(solution, chain)


def _chain(door: str, solution: Solution, fan: str | None) -> Chain:
    """The fans that are meant; TypeError for what is no solution, or no name of a fan."""
    argument_checks.check(door, solution, Solution)
    if fan is not None:
        argument_checks.check_text("fan", fan, 'a fan is wanted by its name, such as "left"')
    return chain_of(solution, fan)


# --- states of the filters ----------------------------------------------------------------------


def _states(solution: Solution) -> Iterator[tuple[bool, str, Changes]]:
    """(loaded, words, what differs from the solution): filters clean, then loaded; as they are
    where there is none."""
    case = solution.case
    now = {f"filter.{n}.fouling": f.fouling for n, f in case.things["filter"].items()
           if f.state == "fitted"}  # fmt: skip
    if not now:
        yield False, "", NONE
        return
    clean = dict.fromkeys(now, 1.0)
    yield False, "filters clean", NONE if now == clean else clean
    words, loaded = _loaded(case, now)
    yield True, words, NONE if now == loaded else loaded


def _loaded(case: Enclosure, now: Mapping[str, float]) -> tuple[str, dict[str, float]]:
    """How loaded filters are: as solved, as a scenario says, or twice as much."""
    if any(value > 1 for value in now.values()):
        return f"filters loaded as solved, {_fouling(now.values())}", dict(now)
    for name in case.scenarios:
        changes = {path: value for path, value in case.scenarios[name].items()
                   if path.endswith(".fouling")}  # fmt: skip
        made = case.with_changes(changes) if changes else case
        loaded = {path: float(made[path]) for path in now}
        if any(value > 1 for value in loaded.values()):
            changed = [value for path, value in loaded.items() if value != now[path]]
            return f'filters loaded as in scenario "{name}", {_fouling(changed)}', loaded
    return "filters loaded: fouling 2, no scenario says it", dict.fromkeys(now, TWICE)


def _fouling(values: Any) -> str:
    low, high = min(values), max(values)
    return f"fouling {low:g}" if low == high else f"fouling {low:g} to {high:g}"


# --- the system curve --------------------------------------------------------------------


def system_line(
    solution: Solution, chain: Chain, reach: float, steps: int = LINE_STEPS
) -> tuple[Array, Array]:
    """Flow [m3/s] through the first group of a chain, and the rise the network asks for [Pa]."""
    (pairs,) = solved([[_imposed(solution, chain, reach, steps)]])
    return _asked(pairs, chain)


def _imposed(solution: Solution, chain: Chain, reach: float, steps: int) -> Run:
    """Flows up to `reach` imposed on a chain, and that of the solution. A fan of it that is driven
    backwards beside one that blows keeps its own curve."""
    working = members(chain)
    forward = [fan for fan in working if fan.flow > 0]
    aim = {fan.path: fan.flow for fan in forward} or {f.path: f.last_flow for f in working}
    held = [fan for fan in working if fan.path in aim]
    made = _with_types(solution.case, {fan.path: _stiff(solution.case, fan, aim[fan.path])
                                       for fan in held})  # fmt: skip
    first = sum(aim[fan.path] for fan in chain[0].fans if fan.path in aim)
    places = np.linspace(1 / steps, 1.0, steps) * reach / first
    factors = np.sort(np.append(places, 1.0))  # the flow of the solution is one of them
    return Run(changes={f"{path}.flow_factor": factors for path in aim}, of=made)


def _asked(pairs: Outcomes, chain: Chain, alone: bool = False) -> tuple[Array, Array]:
    """What was solved of flows that are imposed on a chain; `alone`: nothing else moves air, so
    that no flow asks for no pressure."""
    flow = sum(_blown(pairs, fan) for fan in chain[0].fans)
    rise = sum(weight * pairs[f"{fan.path}.rise"] for group in chain
               for weight, fan in zip(group.weights, group.fans, strict=True))  # fmt: skip
    both = np.array([flow, rise])[:, pairs.ok]
    flow, rise = np.insert(both, 0, 0.0, axis=1) if alone else both
    return flow, rise


def _undriven(solution: Solution, chain: Chain) -> bool:
    """Whether no draught, no wind and no fan but these can move air, however warm it gets."""
    model = attempt_at(solution).model
    own = {fan.path for fan in members(chain)}
    columns = (*model.columns_of_air, model.climb, model.outside_pressure)
    return not any(column.any() for column in columns) and all(
        path in own or row.region in ("stopped", "blanked") for path, row in solution.fans.items()
    )


def _blown(pairs: Outcomes, fan: Working) -> Array:
    flow = pairs[f"{fan.path}.volume_flow"]
    return -flow if fan.item.mounted == "reversed" else flow


def _stiff(case: Enclosure, fan: Working, flow: float) -> FanType:
    """A fan that passes about `flow` whatever is asked of it; its motor stays as it is.

    Its loss past that flow is large enough for the steep end slope not to fade there.
    """
    row = case.rating(fan.item)
    top, free = STIFF * max(rise for _, rise in row.curve), flow / fan.speed
    return dataclasses.replace(
        row, name=f"{fan.item.name}-held", rating=NONE, curve_pressure="static",
        windmill_loss=10 * top * (row.flow_area / free) ** 2, curve=((0.0, top), (free, 0.0)),
    )  # fmt: skip


def _absent(case: Enclosure, fan: Working) -> FanType:
    """A hole as wide as the fan's, without resistance, rise or heat of its own."""
    return dataclasses.replace(
        case.rating(fan.item), name=f"{fan.item.name}-idle", rating=NONE, power=0.0,
        curve_pressure="static", backflow_loss=0.0, curve=((0.0, ABSENT_RISE), (FREE_PASSAGE, 0.0)),
    )  # fmt: skip


def _with_types(case: Enclosure, types: Mapping[str, FanType]) -> Enclosure:
    """The case with other fans in these places."""
    named = {path.partition(".")[2]: row for path, row in types.items()}
    rows = dict(case.things["fan_type"]) | {row.name: row for row in named.values()}
    fans = {
        name: dataclasses.replace(fan, type=named[name].name) if name in named else fan
        for name, fan in case.fans.items()
    }
    new = {"fan_type": MappingProxyType(rows), "fan": MappingProxyType(fans)}
    return dataclasses.replace(case, things=MappingProxyType(dict(case.things) | new))


# --- where they work ----------------------------------------------------------------------------


def fan_point(solution: Solution, fan: Working, loaded: bool = False) -> FanPoint:
    """Where a fan works in a solution."""
    row = fan.rating
    return FanPoint(loaded, (fan.path,), fan.flow, fan.rise, fan.region or "", fan.speed,
                    row.rated_speed * fan.speed, row.name.partition(".")[0],
                    lines.density(solution, fan))  # fmt: skip


def _points(solution: Solution, chain: Chain, loaded: bool) -> Iterator[FanPoint]:
    """Each fan, then all together."""
    fans = members(chain)
    yield from (fan_point(solution, fan, loaded) for fan in fans)
    if len(fans) > 1:
        yield FanPoint(loaded, tuple(fan.path for fan in fans), chain[0].flow, rise_of(chain), "")


def _lines(
    solution: Solution, chain: Chain, known: Mapping[str, lines.WorkingCurve],
    working: list[Working],
) -> tuple[FanLine, ...]:  # fmt: skip
    """One line for each sort of fan, as far as any of it works."""
    sorts: dict[tuple[Any, ...], list[str]] = {}
    for fan in members(chain):
        item, thick = fan.item, round(lines.density(solution, fan), 3)
        key = (fan.rating.path, fan.speed, item.pressure_factor, item.flow_factor, thick)
        sorts.setdefault(key, []).append(fan.path)
    found = []
    for paths in sorts.values():
        reached = [fan.flow for fan in working if fan.path in paths]
        ends = (1.1 * min(reached), 1.1 * max(reached))
        found.append(lines.line(known[paths[0]], tuple(paths), ends))
    return tuple(found)


# --- together and alone -------------------------------------------------------------------------


def _gain(solution: Solution, chain: Chain) -> Gain:
    fans = members(chain)
    alone = {fan.path: _alone(solution, chain, fan) for fan in fans}
    best = max(alone, key=lambda path: alone[path].flow)
    flow, rise, one = chain[0].flow, rise_of(chain), alone[best]
    if len(chain) == 1:
        sort, rule = "parallel", sum(each.flow for each in alone.values()) / one.flow - 1
    elif len(fans) == len(chain):
        sort, rule = "series", sum(each.rise for each in alone.values()) / one.rise - 1
    else:
        sort, rule = "both", np.nan
    return Gain(tuple(alone), sort, best, one.flow, flow, one.rise, rise, rule)


def _alone(solution: Solution, chain: Chain, fan: Working) -> Working:
    """A fan as it works without the others of its chain."""
    case, path = solution.case, fan.path
    beside = [other for group in chain if path in group.paths for other in group.fans
              if other.path != path]  # fmt: skip
    behind = [other for group in chain if path not in group.paths for other in group.fans]
    made = _with_types(case, {other.path: _absent(case, other) for other in behind})
    changes = {f"{other.path}.state": "blanked" for other in beside}
    alone = solved_alone(made, changes)
    return again(alone, chain_of(alone, path))[0].fans[0]
