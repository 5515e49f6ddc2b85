"""Limits as arrays: value, bound and margin of every one, over all variants."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple, TypeVar

import numpy as np

from flownet.columns import Inputs
from flownet.results.tables import AT_REST, REGIONS, STATES, Field, Table, plain
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.quantities import Quantity

T = TypeVar("T")
FITTED = STATES.index("fitted")
IDLE = [REGIONS.index(region) for region in AT_REST]
QUANTITIES = {  # of value and bound, and of the margin
    "part": (q.TEMPERATURE, q.DIFFERENCE), "air": (q.TEMPERATURE, q.DIFFERENCE),
    "flow": (q.VOLUME_FLOW, q.VOLUME_FLOW), "noise": (q.LEVEL, q.LEVEL_DIFFERENCE),
    "life": (q.HOURS, q.HOURS), "touch": (q.TEMPERATURE, q.DIFFERENCE),
    "dew": (q.DIFFERENCE, q.DIFFERENCE),
}  # fmt: skip
THERMAL: tuple[str, ...] = ("part", "air", "touch")  # kept by cooling
AT_LEAST = ("flow", "life", "dew")  # limits that a value must reach; the others it must not pass
HELD_TO = dict.fromkeys(THERMAL, 1e-3)  # K by which equations are rounded: heat shared near rest


def broken(limit: str, margin: Any) -> Any:
    """Whether a margin of this kind of limit is below zero by more than rounding."""
    return margin.real < -HELD_TO.get(limit, 0.0)


class Limit(NamedTuple):
    """One limit held against its value; margin positive, or below zero by rounding: it holds."""

    limit: str  # part, air, touch, flow, noise, life, dew
    subject: str  # the result path it is about
    value: Any
    bound: Any
    margin: Any
    quantity: Quantity  # of value and bound
    margin_quantity: Quantity

    def __repr__(self) -> str:
        if any(map(np.ndim, (self.value, self.bound, self.margin))):
            return f"<Limit {self.subject}: {np.size(self.margin)} variants>"
        value, bound = (self.quantity.metric.text(x) for x in (self.value, self.bound))
        margin = self.margin_quantity.metric.text(self.margin, "+")
        return f"<Limit {self.subject}: {value}, limit {bound}, margin {margin}>"

    @property
    def at_least(self) -> bool:
        """Whether the bound is the least that is allowed."""
        return self.limit in AT_LEAST

    @property
    def holds(self) -> Any:
        """Whether the value keeps within the bound."""
        return self.margin.real >= -HELD_TO.get(self.limit, 0.0)

    @property
    def broken(self) -> Any:
        """Whether it does not; of a margin that is not known neither is true."""
        return broken(self.limit, self.margin)

    def map(self, function: Callable[[Any], Any]) -> Limit:
        """The same with a function applied to value, bound and margin."""
        value, bound, margin = map(function, (self.value, self.bound, self.margin))
        return self._replace(value=value, bound=bound, margin=margin)

    def to_dict(self) -> dict[str, Any]:
        """As in JSON; the margin in K, dB, h or m3/s."""
        unit = self.quantity.json.unit
        value, bound = (plain(Field("", self.quantity), x) for x in (self.value, self.bound))
        return {
            "limit": self.limit, "subject": self.subject, "value": value, "bound": bound,
            "margin": plain(Field("", self.margin_quantity), self.margin),
            "unit": "h" if unit == "hours" else unit, "holds": bool(self.holds),
        }  # fmt: skip


class Listed(tuple[T, ...]):
    """What a result holds several of; says itself in one line."""

    def __repr__(self) -> str:
        if not self:
            return "()"
        named = ", ".join(getattr(item, "subject", "") for item in self[:3])
        of = type(self[0]).__name__
        return f"<{len(self)} {of}: {named}{', ...' if len(self) > 3 else ''}>"


def held(
    inputs: Inputs, compartments: Table, branches: Table, parts: Table, fans: Table, walls: Table,
    totals: Mapping[str, Array],
) -> tuple[Limit, ...]:  # fmt: skip
    """Every limit that is given, against its value; margin positive: it holds.

    A fan that does not run, or a part or card that is not there, has no limit: its bound is NaN. A
    margin is NaN where the value is not known; the noise of fans of which one that runs has no
    level can break a limit, but not hold it.
    """
    found = [*_temperatures("part", "part", parts)]
    found += [*_temperatures("air", "compartment", compartments), *_leaving(inputs, branches)]
    columns = (walls.columns[key] for key in ("outside_temperature", "limit", "margin"))
    for name, value, bound, margin in zip(walls.names, *columns, strict=True):
        if _is_given(bound):
            found.append(_limit("touch", f"wall.{name}", value, bound, margin))
    given, flow, noise = inputs.columns["limits"], totals["volume_flow"], totals["noise"]
    keys = ("flow", "noise_dBA", "fan_life_hours", "dew_margin")
    least, bound, hours, dry = (np.broadcast_to(given[key][0], noise.shape) for key in keys)
    if _is_given(least):
        found.append(_limit("flow", "total.volume_flow", flow, least, flow - least))
    if _is_given(bound):
        margin = bound - np.where(np.isnan(noise), -np.inf, noise)
        margin = np.where(_unheard(fans) & (margin.real >= 0), np.nan, margin)
        found.append(_limit("noise", "total.noise", noise, bound, margin))
    if _is_given(hours):
        share = np.where(np.isnan(given["running_share"].real), 1.0, given["running_share"])
        lives = fans.columns["life"] / np.where(given["duty"].real == 1, share, 1.0)[0]
        idle = np.isin(fans.columns["region"], IDLE)
        for path, value, out in zip(fans.names, lives, idle, strict=True):
            bound = np.where(out, np.nan, hours)
            found.append(_limit("life", path, value, bound, value - bound))
    if _is_given(dry):
        above = totals["dew_margin"]
        found.append(_limit("dew", "total.dew_margin", above, dry, above - dry))
    return Listed(found)


def _is_given(bound: Array) -> bool:
    return not np.isnan(bound.real).all()


def _limit(limit: str, subject: str, value: Array, bound: Array, margin: Array) -> Limit:
    return Limit(limit, subject, value, bound, margin, *QUANTITIES[limit])


def _unheard(fans: Table) -> Array:
    """(variants,) whether a fan runs whose level is not known; False without fans."""
    silent = np.isnan(fans.columns["noise"].real) & ~np.isin(fans.columns["region"], IDLE)
    return np.asarray(silent.any(axis=0))


def _temperatures(limit: str, kind: str, table: Table) -> Iterator[Limit]:
    columns = (table.columns[key] for key in ("temperature", "limit", "margin"))
    for name, value, bound, margin in zip(table.names, *columns, strict=True):
        if _is_given(bound):
            there = np.where(np.isnan(value.real), np.nan, bound)
            yield _limit(limit, f"{kind}.{name}", value, there, margin)


def _leaving(inputs: Inputs, branches: Table) -> Iterator[Limit]:
    """The air that leaves each slot, whichever way; none where no card is fitted."""
    bounds = inputs.columns["slot"].get("air_limit", ())
    for name, bound in zip(inputs.names("slot"), bounds, strict=True):
        if _is_given(bound):
            row = branches.places[f"slot.{name}"]
            value = branches.columns["outlet_temperature"][row]
            there = (branches.columns["state"][row] == FITTED) & ~np.isnan(value.real)
            held_to = np.where(there, bound, np.nan)
            yield _limit("air", f"slot.{name}", value, held_to, held_to - value)


def worst(limits: tuple[Limit, ...], variants: int) -> Array:
    """(variants,) smallest margin of all temperature limits [K]; NaN without any."""
    margins = [item.margin for item in limits if item.limit in THERMAL]
    if not margins:
        return np.full(variants, np.nan)
    stack = np.array(np.broadcast_arrays(*margins))
    missing = np.isnan(stack.real)
    row = np.argmin(np.where(missing, np.inf, stack.real), axis=0)  # the derivative is that of
    lowest: Array = np.take_along_axis(stack, row[None], axis=0)[0]  # the limit that is worst
    return np.where(missing.all(axis=0), np.nan, lowest)


def put(into: dict[tuple[str, str], Limit], item: Limit, here: Any, count: int) -> None:
    """Values of a limit to their places among `count`, by its kind and subject; NaN elsewhere."""
    key = item.limit, item.subject
    if key not in into:
        value, bound, margin = (np.full(count, np.nan) for _ in range(3))
        into[key] = item._replace(value=value, bound=bound, margin=margin)
    for name in ("value", "bound", "margin"):
        getattr(into[key], name)[here] = getattr(item, name)
