"""What a map and a network say in words: one short line each."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any, NamedTuple

from flownet.pages.origins import LEAST_NEWS, intakes
from flownet.physics.air import HEAT_CAPACITY
from flownet.pictures.caption import Units, known
from flownet.pictures.map.geometry import Ends, host
from flownet.results.limits import broken
from flownet.results.solution import Solution
from flownet.results.streams import each_way, is_still
from flownet.results.tables import AT_REST, Row
from flownet.schema import quantities as q

OPEN_STATES = ("open", "fitted", "running", None)
EACH = 12  # copies of a slot that are told one by one
REGION_WORDS = {"stall": "in stall", "past-free-delivery": "past free delivery"}
BETWEEN = "   "  # what is said in one line; where it is too long, it breaks here first
_COPY = re.compile(r"(.*)-(\d+)\Z")
Copies = tuple[str, ...]  # paths (or names) that are told together; one alone is a group of one


def moves(solution: Solution, path: str) -> bool:
    """Whether air passes a branch that is worth a number."""
    flow = solution.branches[path].volume_flow
    return known(flow) and flow != 0 and not is_still(solution, path)


def mass_flow(solution: Solution | None, path: str) -> float:
    """Of a branch; 0 where none is known, or next to none passes."""
    if solution is None or path not in solution.branches or not moves(solution, path):
        return 0.0
    return float(solution.branches[path].mass_flow)


def _joined(*texts: str, by: str = BETWEEN) -> str:
    return by.join(filter(None, texts))


# --- compartments and parts --------------------------------------------------------------------


def margin(kept: float, tight: float, units: Units) -> str:
    """`1.4 K over`, `3.2 K margin, tight`, `8.8 K margin`; empty without one."""
    if not known(kept):
        return ""
    word = "over" if broken("air", kept) else "margin, tight" if kept < tight else "margin"
    return f"{units.text(q.DIFFERENCE, abs(kept))} {word}"


def limit(row: Row, units: Units) -> str:
    """`limit 55 °C`; empty without one."""
    return f"limit {units.round(q.TEMPERATURE, row.limit)}" if known(row.limit) else ""


def origins(solution: Solution, name: str, units: Units) -> Iterator[str]:
    """Where the air of a compartment comes from, a line each; its age, what was there before."""
    air, row = solution.origins, solution.origins.compartments[name]
    yield from intakes(air.shares(name)).split(", ")
    if known(row.age):
        yield f"{units.text(q.TIME, row.age)} old"
    if row.returned_share >= LEAST_NEWS:
        yield f"{100 * row.returned_share:.0f} % there before"


def again(solution: Solution, paths: Copies) -> Iterator[str]:
    """Of fans: `24 % of it has been through before`, the most of several; nothing of others."""
    shares = [solution.origins.fans[path].returned_share for path in paths
              if path in solution.fans]  # fmt: skip
    if (share := max(filter(known, shares), default=0.0)) >= LEAST_NEWS:
        yield f"{100 * share:.0f} % of it has been through before"


def parts(names: Copies, rows: Sequence[Row], tight: float, units: Units) -> str:
    """`controller  61.5 °C, 1.5 K over`; of copies `cpu-1…6  61 to 75 °C, least 5.1 K margin`."""
    temperatures = units.span(q.TEMPERATURE, [row.temperature for row in rows])
    held = [row.margin for row in rows if known(row.margin)]
    least = margin(min(held, default=math.nan), tight, units)
    if len(rows) > 1 and held:
        least = f"least {least}"
    return _joined(f"{copies_name(names)}  {temperatures}", least, by=", ")


# --- branches ----------------------------------------------------------------------------------


class Told(NamedTuple):
    """The lines of a branch label: its name, what it is like, what flows."""

    name: str
    state: str
    lines: tuple[str, ...]


def branch(solution: Solution, ends: Ends, units: Units) -> Told:
    row, item = solution.branches[ends.path], ends.item
    name = _joined(ends.path, item.tag or "", by="  ")
    lines = [_flow(solution, ends, row, units)]
    lines += [f"{100 * back.fraction:.3g} % of it from {back.from_}"  # drawn in again
              for back in solution.case.things["recirculation"].values()
              if back.to == ends.path]  # fmt: skip
    if item.KIND == "slot" and through_slot(solution, ends.path) is not None:
        left = _left(solution, [ends.path], units)
        if row.heat or left:
            lines.append(f"leaving at {units.text(q.TEMPERATURE, row.outlet_temperature)}{left}")
    return Told(name, _states(solution, ends.path, item), tuple(lines))


def group(solution: Solution, paths: Copies, ends: Ends, units: Units) -> Told:
    """One label for copies side by side."""
    rows, name = [solution.branches[path] for path in paths], copies_name(paths)
    state = _states(solution, paths[0], ends.item)
    if not any(moves(solution, path) for path in paths):
        return Told(name, state, ("no air",))
    flows = units.span(q.VOLUME_FLOW, [abs(row.volume_flow) for row in rows])
    line = _joined(flows, "each", way_words(solution, ends, rows[0].mass_flow), by=" ")
    if known(rows[0].drop) and ends.item.KIND != "fan":
        line += BETWEEN + units.span(q.PRESSURE, [abs(row.drop) for row in rows])
    heated = [r.outlet_temperature for r in rows if r.heat and known(r.outlet_temperature)]
    if heated and len(rows) <= EACH:
        own = [_joined(str(number(path)), units.text(q.VOLUME_FLOW, abs(row.volume_flow)),
                       units.text(q.TEMPERATURE, row.outlet_temperature)
                       if known(row.outlet_temperature) else "") + _left(solution, [path], units)
               for path, row in zip(paths, rows, strict=True)]  # fmt: skip
    else:
        left = _left(solution, paths, units)
        own = [f"leaving at {units.span(q.TEMPERATURE, heated)}{left}"] if heated else []
    return Told(name, state, (line, *own))


def through_slot(solution: Solution, path: str) -> tuple[float, float] | None:
    """Air temperatures of a slot at its `from` and its `to` end; None where no air passes."""
    row = solution.branches[path]
    if not known(row.outlet_temperature) or row.mass_flow == 0:
        return None
    inlet = row.outlet_temperature - row.heat / (HEAT_CAPACITY * abs(row.mass_flow))
    found = inlet, row.outlet_temperature
    return found if row.mass_flow > 0 else found[::-1]


def _left(solution: Solution, paths: Sequence[str], units: Units) -> str:
    """`, 3.2 K margin` of air that leaves slots, the least of several; empty without a limit."""
    held = [item.margin for item in solution.limits if item.subject in paths
            and item.limit == "air" and known(item.margin)]  # fmt: skip
    if not held:
        return ""
    least = "least " if len(held) > 1 else ""
    return f", {least}{margin(min(held), solution.case.limits.margin, units)}"


def series(solution: Solution, path: str, units: Units) -> Told:
    """The label of an element in another branch's air."""
    row, item = solution.branches[path], solution.case.branches[path]
    drop = units.text(q.PRESSURE, abs(row.drop)) if known(row.drop) else ""
    return Told(path, _states(solution, path, item), (_joined(f"on {host(item)}", drop),))


def exchange(solution: Solution, path: str, ends: Ends, units: Units) -> Told:
    """The label of equal and opposite flows."""
    flow, name = units.text(q.VOLUME_FLOW, ends.item.flow), path.partition(".")[2]
    heat = solution.exchanges[name].heat if name in solution.exchanges else math.nan
    to = ends.to if heat > 0 else ends.from_
    warm = [f"{units.text(q.POWER, abs(heat))} to {to}"] if known(heat) and heat else []
    return Told(path, "", (f"{flow} each way", *warm))


def _states(solution: Solution, path: str, item: Any) -> str:
    """Words beside the name where a branch is not as it usually is."""
    told = list(_fan_states(solution, path, item)) if item.KIND == "fan" else []
    if item.KIND == "baffle":
        told += [] if item.present else ["taken out"]
    elif item.KIND != "fan" and item.state not in OPEN_STATES:
        told.append(item.state)
    if getattr(item, "fouling", 1) != 1 and item.state in ("fitted", "open"):
        told.append(f"fouling {item.fouling:.3g}")
    if item.KIND == "slot" and item.count > 1:
        told.append(f"{item.count:.0f} channels")
    return ", ".join(told)


def _fan_states(solution: Solution, path: str, item: Any) -> Iterator[str]:
    row = solution.fans[path]
    turns = item.running and row.region not in AT_REST  # a speed by temperature may be 0
    yield "stopped" if item.state == "running" and not turns else item.state
    if item.mounted == "reversed":
        yield "reversed"
    if turns:
        if row.region in REGION_WORDS:
            yield REGION_WORDS[row.region]
        if known(row.speed_ratio) and abs(row.speed_ratio - 1) > 0.005:
            yield f"speed {100 * row.speed_ratio:.0f} %"


def _flow(solution: Solution, ends: Ends, row: Row, units: Units) -> str:
    if both := each_way(solution, ends.path):
        aside = f"{units.text(q.VOLUME_FLOW, both)} each way"
        still = not moves(solution, ends.path)
        return aside if still else f"{_net(solution, ends, row, units)} + {aside}"
    return _net(solution, ends, row, units) if moves(solution, ends.path) else "no air"


def _net(solution: Solution, ends: Ends, row: Row, units: Units) -> str:
    flow = units.text(q.VOLUME_FLOW, abs(row.volume_flow))
    fan = solution.fans[ends.path] if ends.item.KIND == "fan" else None
    pressure = row.drop if fan is None or fan.region == "stopped" else fan.rise
    return _joined(_joined(flow, way_words(solution, ends, row.mass_flow), by=" "),
                   units.text(q.PRESSURE, abs(pressure)) if known(pressure) else "")  # fmt: skip


def way_words(solution: Solution, ends: Ends, flow: float) -> str:
    """`in`, `out to rear-aisle`, `back in`, `to lower`; empty where the mark says it."""
    fan = ends.item.KIND == "fan"
    back = fan and driven_back(ends.item, flow)
    start, stop = (ends.from_, ends.to) if flow > 0 else (ends.to, ends.from_)
    way = ""
    if stop not in solution.case.compartments:
        way = "out" if stop == "outside" else f"out to {stop.partition('.')[2]}"
    elif start not in solution.case.compartments:
        way = "in" if start == "outside" else f"in from {start.partition('.')[2]}"
    elif flow < 0 or ends.through:
        way = f"to {stop}"
    if fan and not back and way in ("in", "out"):
        way = ""
    return f"back {way}".strip() if back else way


def driven_back(fan: Any, flow: float) -> bool:
    """Whether air goes through a fan against the way it is mounted to blow."""
    return bool((flow < 0) == (fan.mounted != "reversed")) and flow != 0


# --- around the drawing ------------------------------------------------------------------------


def state(solution: Solution) -> str:
    return f"scenario {solution.scenario}   variant {solution.variant}"


def sums(solution: Solution, units: Units) -> str:
    """What goes in and out altogether."""
    totals, words = solution.totals, []
    if known(totals.volume_flow):
        words.append(f"air drawn in {units.text(q.VOLUME_FLOW, totals.volume_flow)}")
    if known(totals.air_rise):
        words.append(f"leaves {units.text(q.DIFFERENCE, totals.air_rise)} warmer")
    if known(totals.heat):
        words.append(f"heat {units.text(q.POWER, totals.heat)}")
    if known(totals.wall_heat) and totals.wall_heat:
        way = "out" if totals.wall_heat > 0 else "in"
        words.append(f"{units.text(q.POWER, abs(totals.wall_heat))} {way} through walls")
    if known(totals.noise):
        words.append(f"{units.text(q.LEVEL, totals.noise)} at "
                     f"{units.round(q.DISTANCE, totals.noise_distance)}")  # fmt: skip
    return ", ".join(words)


# --- copies ------------------------------------------------------------------------------------


def copies_name(paths: Sequence[str]) -> str:
    """`card-1…6`, `card-1, 2, 5…8`; the path itself where there is one."""
    return paths[0] if len(paths) == 1 else f"{base(paths[0])}-{runs(map(number, paths))}"


def base(path: str) -> str:
    return _COPY.sub(r"\1", path)


def number(path: str) -> int:
    """The number of a copy; 0 where there is none."""
    found = _COPY.match(path)
    return int(found.group(2)) if found else 0


def runs(numbers: Iterable[int]) -> str:
    """`1…3, 7`: runs of three and more are shortened."""
    words: list[str] = []
    for _, run in groupby(enumerate(sorted(numbers)), lambda pair: pair[1] - pair[0]):
        found = [str(value) for _, value in run]
        words += [f"{found[0]}…{found[-1]}"] if len(found) > 2 else found
    return ", ".join(words)


def grouped(paths: Iterable[str], alike: Callable[[str], Hashable], least: int) -> list[Copies]:
    """Copies that are alike, `least` or more of them, as groups; the rest one by one, in order."""
    sets: dict[Hashable, list[str]] = {}
    listed = list(paths)
    for path in listed:
        if _COPY.match(path):
            sets.setdefault((base(path), alike(path)), []).append(path)
    together = {p: tuple(same) for same in sets.values() if len(same) >= least for p in same}
    return list(dict.fromkeys(together.get(path, (path,)) for path in listed))
