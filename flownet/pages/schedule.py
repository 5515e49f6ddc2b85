"""The fan schedule: what is bought, mounted and checked, one row for fans that are alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from flownet.enclosure.branches import DIRECTIONS
from flownet.enclosure.fans import Fan
from flownet.findings.facts import Working, working_fans
from flownet.pages.page import counted
from flownet.pages.sheet import Heads, Listing, Sentence, by_rows
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.units import SupplyText

TOLD_APART = ("fan", "tag")  # what tells fans that are alike apart
SCHEDULE: Heads = (
    ("fan", None), ("scenario", None), ("variant", None), ("tag", None), ("count", q.COUNT),
    ("type", None), ("size", q.LENGTH), ("depth", q.LENGTH), ("bearing", None), ("supply", None),
    ("rated_current", q.CURRENT), ("speed", q.SPEED), ("speed_ratio", q.RATIO), ("speed_by", None),
    ("flow", q.VOLUME_FLOW), ("rise", q.PRESSURE), ("region", None), ("power", q.POWER),
    ("noise", q.LEVEL), ("noise_distance", q.DISTANCE), ("air_in", q.TEMPERATURE),
    ("life", q.HOURS), ("life_kind", None), ("blows", None), ("direction", None),
    ("guard_loss", q.RATIO), ("shutter", None), ("alarm", None), ("state", None),
)  # fmt: skip


def fan_schedule(solutions: Sequence[Solution], use: str = "data") -> Listing:
    """One row for the fans of a solution that are alike: everything that is installed is the same,
    and every figure reads the same as it is printed; the figures are those of the first.

    `flow` and `rise` (fan static pressure) count the way the fan blows, at the density it draws;
    `speed` is in rpm, where the type states its rated speed; `rated_current` is that of the data
    sheet; `noise` is that of one fan at `noise_distance`; `life` is that at `air_in`. Places for
    fans that are blanked are no fans.
    """
    rows = [row for solution in solutions for row in _grouped(solution)]
    blanked = {fan.path for each in solutions for fan in each.case.fans.values()
               if fan.state == "blanked"}  # fmt: skip
    left_out = f"  {counted(len(blanked), 'blanked place')} left out: {', '.join(sorted(blanked))}"
    notes = (Sentence("", left_out),) if blanked else ()
    return by_rows("schedule", SCHEDULE, [list(row.values()) for row in rows], use, notes=notes,
                   title=Sentence("", "Fan schedule", "heading"), fit=True)  # fmt: skip


def _grouped(solution: Solution) -> Iterator[dict[str, Any]]:
    """The rows of one solution, in the order of the case."""
    groups: dict[tuple[str, ...], list[dict[str, Any]]] = {}
    for fan in working_fans(solution):
        row = _row(solution, fan)
        groups.setdefault(tuple(_read(row)), []).append(row)
    for first, *others in groups.values():
        for row in others:
            first["count"] += 1
            first |= {key: ", ".join(filter(None, (first[key], row[key]))) for key in TOLD_APART}
        yield first


def _read(row: dict[str, Any]) -> Iterator[str]:
    """A row as it is printed, without what tells fans apart."""
    for name, quantity in SCHEDULE:
        if name not in TOLD_APART:
            value = row[name]
            yield str(value) if quantity is None or value is None else quantity.metric.text(value)


def _row(solution: Solution, fan: Working) -> dict[str, Any]:
    item, rating, found = fan.item, fan.rating, solution.fans[fan.path]
    size, depth = rating.frame or (np.nan, np.nan)
    follows = solution.followed(fan.path)
    values = (
        item.name, solution.scenario, solution.variant, item.tag or "", 1, item.type, size, depth,
        rating.bearing, supply_of(solution, item) or rating.supply, rating.current,
        rating.rated_speed * fan.speed, fan.speed, follows.by if follows else None, fan.flow,
        fan.rise, fan.region, found.power, found.noise, solution.totals.noise_distance,
        found.air_temperature, found.life, found.life_kind, f"{fan.source} > {fan.target}",
        blown(item), item.guard.loss, _shutter(item), rating.alarm, item.state,
    )  # fmt: skip
    return {name: value for (name, _), value in zip(SCHEDULE, values, strict=True)}


def supply_of(solution: Solution, item: Fan) -> str:
    """`mains, 230 V 50 Hz`; nothing where the fan names none."""
    if item.supply is None:
        return ""
    fed = solution.case.things["supply"][item.supply]
    return f"{item.supply}, {SupplyText(fed.voltage, np.nan_to_num(fed.frequency)).text()}"


def blown(item: Fan) -> str | None:
    """The way it blows in the view; that of the drawing turned round where it is reversed."""
    if item.direction is None or item.mounted == "forward":
        return item.direction
    return DIRECTIONS[DIRECTIONS.index(item.direction) ^ 1]  # they stand in pairs


def _shutter(item: Fan) -> str:
    if item.shutter is None:
        return "none"
    return f"K {item.shutter.open_loss:g} open, {100 * item.shutter.closed_leak:g} % leak closed"
