"""What a picture says in words: numbers with their units, one short line each."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from flownet.physics.air import HEAT_CAPACITY
from flownet.pictures.map.geometry import Ends, host
from flownet.pictures.map.groups import Copies, number
from flownet.results.limits import broken
from flownet.results.solution import Solution
from flownet.results.streams import is_still
from flownet.results.tables import Row
from flownet.schema import quantities as q
from flownet.schema.quantities import Quantity

_SIGNS = (
    ("degC", "°C"), ("degF", "°F"), ("inH2O", "inH₂O"), ("m3", "m³"), ("m2", "m²"), ("ft3", "ft³"),
)  # fmt: skip
OPEN_STATES = ("open", "fitted", "running", None)
EACH = 12  # copies of a slot that are told one by one
REGION_WORDS = {"stall": "in stall", "past-free-delivery": "past free delivery"}


def pretty(text: str) -> str:
    """Units as they are printed: °C, m³/h."""
    for plain, sign in _SIGNS:
        text = text.replace(plain, sign)
    return text


class Units(NamedTuple):
    """How the reader sees quantities: "metric" or "us"."""

    system: str

    def text(self, quantity: Quantity, value: float, sign: str = "") -> str:
        """A value with its unit."""
        return pretty(quantity.shown(self.system).text(float(value), sign))

    def round(self, quantity: Quantity, value: float) -> str:
        """A given value without idle zeros: `55 °C`."""
        number, _, unit = self.text(quantity, value).rpartition(" ")
        return f"{number.removesuffix('.0')} {unit}"

    def span(self, quantity: Quantity, values: Sequence[float]) -> str:
        """`4.1 to 5.0 m³/h`, or one value where all read the same."""
        shown = quantity.shown(self.system)
        if shown.digits == ".3g":
            largest = max(abs(shown.of(value)) for value in values)
            places = 2 - math.floor(math.log10(largest)) if largest > 0 else 0
            shown = shown._replace(digits=f".{min(max(places, 0), 6)}f")
        low, high = shown.number(min(values)), shown.number(max(values))
        return pretty(f"{high if low == high else f'{low} to {high}'} {shown.unit}")


def known(value: float | None) -> bool:
    """Whether there is a value."""
    return value is not None and not math.isnan(value)


def moves(solution: Solution, path: str) -> bool:
    """Whether air passes a branch that is worth a number."""
    flow = solution.branches[path].volume_flow
    return known(flow) and flow != 0 and not is_still(solution, path)


def mass_flow(solution: Solution | None, path: str) -> float:
    """Of a branch; 0 where none is known, or next to none passes."""
    if solution is None or path not in solution.branches or not moves(solution, path):
        return 0.0
    return float(solution.branches[path].mass_flow)


# --- compartments and parts --------------------------------------------------------------------


def margin(row: Row, tight: float, units: Units) -> str:
    """`1.4 K over`, `3.2 K left, tight`, `8.8 K left`; empty without a limit."""
    return room(row.margin, tight, units)


def room(kept: float, tight: float, units: Units) -> str:
    """The same of a margin [K]."""
    if not known(kept):
        return ""
    amount = units.text(q.DIFFERENCE, abs(kept))
    if broken("air", kept):
        return f"{amount} over"
    return f"{amount} left, tight" if kept < tight else f"{amount} left"


def limit(row: Row, units: Units) -> str:
    """`limit 55 °C`; empty without one."""
    return f"limit {units.round(q.TEMPERATURE, row.limit)}" if known(row.limit) else ""


def part(name: str, row: Row, tight: float, units: Units) -> str:
    """`controller  61.5 °C, 1.5 K over`."""
    words = f"{name}  {units.text(q.TEMPERATURE, row.temperature)}"
    left = margin(row, tight, units)
    return f"{words}, {left}" if left else words


def parts(group: Copies, rows: Sequence[Row], tight: float, units: Units) -> str:
    """Copies of a part: `cpu-1…6  61.0 to 75.2 °C, least 5.1 K left`."""
    words = f"{group.name}  {units.span(q.TEMPERATURE, [row.temperature for row in rows])}"
    held = [row for row in rows if known(row.margin)]
    if not held:
        return words
    return f"{words}, least {margin(min(held, key=lambda row: row.margin), tight, units)}"


# --- branches ----------------------------------------------------------------------------------


class Told(NamedTuple):
    """The lines of a branch label: its name, what it is like, what flows."""

    name: str
    state: str
    lines: tuple[str, ...]


def branch(solution: Solution, ends: Ends, units: Units) -> Told:
    """The label of one branch."""
    row, item = solution.branches[ends.path], ends.item
    state = ", ".join(_states(solution, ends.path, item))
    name = f"{ends.path}  {item.tag}" if item.tag else ends.path
    lines = [_flow(solution, ends, row, units), *_drawn_back(solution, ends.path)]
    if item.KIND == "slot" and through_slot(solution, ends.path) is not None:
        left = _left(solution, [ends.path], units)
        if row.heat or left:
            warm = units.text(q.TEMPERATURE, row.outlet_temperature)
            lines.append(f"leaving at {warm}{left}")
    return Told(name, state, tuple(lines))


def group(solution: Solution, members: Copies, ends: Ends, units: Units) -> Told:
    """One label for copies side by side."""
    rows = [solution.branches[path] for path in members.paths]
    state = ", ".join(_states(solution, members.paths[0], ends.item))
    if not any(moves(solution, path) for path in members.paths):
        return Told(members.name, state, ("no air",))
    flows = units.span(q.VOLUME_FLOW, [abs(row.volume_flow) for row in rows])
    way = way_words(solution, ends, rows[0].mass_flow)
    lines = [" ".join(word for word in (flows, "each", way) if word)]
    if known(rows[0].drop) and ends.item.KIND != "fan":
        lines[0] += "   " + units.span(q.PRESSURE, [abs(row.drop) for row in rows])
    heated = [r.outlet_temperature for r in rows if r.heat and known(r.outlet_temperature)]
    if heated and len(rows) <= EACH:
        own = ["   ".join((str(number(path)), *_air(row, units))) + _left(solution, [path], units)
               for path, row in zip(members.paths, rows, strict=True)]  # fmt: skip
        return Told(members.name, state, (*lines[:1], *own))
    if heated:
        left = _left(solution, members.paths, units)
        lines.append(f"leaving at {units.span(q.TEMPERATURE, heated)}{left}")
    return Told(members.name, state, tuple(lines))


def _air(row: Row, units: Units) -> Iterator[str]:
    """Flow and outlet temperature of one slot."""
    yield units.text(q.VOLUME_FLOW, abs(row.volume_flow))
    if known(row.outlet_temperature):
        yield units.text(q.TEMPERATURE, row.outlet_temperature)


def through_slot(solution: Solution, path: str) -> tuple[float, float] | None:
    """Air temperatures of a slot at its `from` and its `to` end; None where no air passes."""
    row = solution.branches[path]
    if not known(row.outlet_temperature) or row.mass_flow == 0:
        return None
    inlet = row.outlet_temperature - row.heat / (HEAT_CAPACITY * abs(row.mass_flow))
    found = inlet, row.outlet_temperature
    return found if row.mass_flow > 0 else found[::-1]


def _left(solution: Solution, paths: Sequence[str], units: Units) -> str:
    """`, 3.2 K left` of the air that leaves slots, the least of several; empty without a limit."""
    held = [item.margin for item in solution.limits if item.subject in paths
            and item.limit == "air" and known(item.margin)]  # fmt: skip
    if not held:
        return ""
    words = room(min(held), solution.case.limits.margin, units)
    return f", least {words}" if len(held) > 1 else f", {words}"


def series(solution: Solution, path: str, units: Units) -> Told:
    """The label of an element in another branch's air."""
    row, item = solution.branches[path], solution.case.branches[path]
    drop = units.text(q.PRESSURE, abs(row.drop)) if known(row.drop) else ""
    state = ", ".join(_states(solution, path, item))
    return Told(path, state, (f"on {host(item)}   {drop}".strip(),))


def exchange(solution: Solution, path: str, ends: Ends, units: Units) -> Told:
    """The label of equal and opposite flows."""
    flow = f"{units.text(q.VOLUME_FLOW, ends.item.flow)} each way"
    name = path.partition(".")[2]
    heat = solution.exchanges[name].heat if name in solution.exchanges else math.nan
    if not known(heat) or not heat:
        return Told(path, "", (flow,))
    to = ends.to if heat > 0 else ends.from_
    return Told(path, "", (flow, f"{units.text(q.POWER, abs(heat))} to {to}"))


def _states(solution: Solution, path: str, item: Any) -> Iterator[str]:
    """Words beside the name where a branch is not as it usually is."""
    if item.KIND == "fan":
        yield from _fan_states(solution, path, item)
    elif item.KIND == "baffle":
        if not item.present:
            yield "taken out"
    elif item.state not in OPEN_STATES:
        yield item.state
    if getattr(item, "fouling", 1) != 1 and item.state in ("fitted", "open"):
        yield f"fouling {item.fouling:.3g}"
    if item.KIND == "slot" and item.count > 1:
        yield f"{item.count:.0f} channels"


def _fan_states(solution: Solution, path: str, item: Any) -> Iterator[str]:
    row = solution.fans[path]
    turns = item.running and row.region != "stopped"  # a speed by temperature may be 0
    yield "stopped" if item.state == "running" and not turns else item.state
    if item.mounted == "reversed":
        yield "reversed"
    if turns:
        if row.region in REGION_WORDS:
            yield REGION_WORDS[row.region]
        if known(row.speed_ratio) and abs(row.speed_ratio - 1) > 0.005:
            yield f"speed {100 * row.speed_ratio:.0f} %"


def _flow(solution: Solution, ends: Ends, row: Row, units: Units) -> str:
    if not moves(solution, ends.path):
        return "no air"
    words = units.text(q.VOLUME_FLOW, abs(row.volume_flow))
    way = way_words(solution, ends, row.mass_flow)
    pressure = solution.fans[ends.path].rise if ends.item.KIND == "fan" else row.drop
    if ends.item.KIND == "fan" and solution.fans[ends.path].region == "stopped":
        pressure = row.drop
    shown = units.text(q.PRESSURE, abs(pressure)) if known(pressure) else ""
    return "   ".join(part for part in (f"{words} {way}".strip(), shown) if part)


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


def _drawn_back(solution: Solution, path: str) -> Iterator[str]:
    """Where a branch draws in what another blew out."""
    for item in solution.case.things["recirculation"].values():
        if item.to == path:
            yield f"{100 * item.fraction:.3g} % of it from {item.from_}"


# --- around the drawing ------------------------------------------------------------------------


def state(solution: Solution) -> str:
    """Scenario and variant."""
    return f"scenario {solution.scenario}   variant {solution.variant}"


def sums(solution: Solution, units: Units) -> str:
    """What goes in and out altogether."""
    totals = solution.totals
    words = []
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
        noise = units.text(q.LEVEL, totals.noise)
        words.append(f"{noise} at {units.round(q.DISTANCE, totals.noise_distance)}")
    return ", ".join(words)
