"""Limits as arrays: value, bound and margin of every one, over all variants."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from flownet.columns import Inputs
from flownet.results.solution import Limit
from flownet.results.tables import REGIONS, STATES, Table
from flownet.schema import quantities as q
from flownet.schema.arrays import Array

FITTED = STATES.index("fitted")
IDLE = [REGIONS.index(region) for region in ("stopped", "blanked")]


def held(
    inputs: Inputs, compartments: Table, branches: Table, parts: Table, fans: Table,
    totals: Mapping[str, Array],
) -> tuple[Limit, ...]:  # fmt: skip
    """Every limit that is given, against its value; margin positive: it holds.

    A fan that does not run, or a part or card that is not there, has no limit: its bound is NaN. A
    margin is NaN where the value is not known; the noise of fans of which one that runs has no
    level can break a limit, but not hold it.
    """
    found = [*_temperatures("part", parts), *_temperatures("air", compartments)]
    found += _leaving(inputs, branches)
    given, noise = inputs.columns["limits"], totals["noise"]
    least = np.broadcast_to(given["flow"][0], noise.shape)
    if not np.isnan(least.real).all():
        flow = totals["volume_flow"]
        found.append(Limit("flow", "total.volume_flow", flow, least, flow - least, q.VOLUME_FLOW,
                           q.VOLUME_FLOW))  # fmt: skip
    bound = np.broadcast_to(given["noise_dBA"][0], noise.shape)
    if not np.isnan(bound.real).all():
        margin = bound - np.where(np.isnan(noise), -np.inf, noise)
        unknown = _unheard(fans) & (margin.real >= 0)
        margin = np.where(unknown, np.nan, margin)
        found.append(Limit("noise", "total.noise", noise, bound, margin, q.LEVEL,
                           q.LEVEL_DIFFERENCE))  # fmt: skip
    share = np.where(np.isnan(given["running_share"].real), 1.0, given["running_share"])
    share = np.where(given["duty"].real == 1, share, 1.0)[0]
    hours = np.broadcast_to(given["fan_life_hours"][0], noise.shape)
    if not np.isnan(hours.real).all():
        for row, path in enumerate(fans.names):
            value = fans.columns["life"][row] / share
            bound = np.where(np.isin(fans.columns["region"][row], IDLE), np.nan, hours)
            found.append(Limit("life", path, value, bound, value - bound, q.HOURS, q.HOURS))
    return tuple(found)


def _unheard(fans: Table) -> Array:
    """(variants,) whether a fan runs whose level is not known; False without fans."""
    silent = np.isnan(fans.columns["noise"].real) & ~np.isin(fans.columns["region"], IDLE)
    return np.asarray(silent.any(axis=0))


def _temperatures(kind: str, table: Table) -> list[Limit]:
    prefix = "part" if kind == "part" else "compartment"
    found = []
    for row, name in enumerate(table.names):
        bound = table.columns["limit"][row]
        if not np.isnan(bound.real).all():
            value, margin = table.columns["temperature"][row], table.columns["margin"][row]
            bound = np.where(np.isnan(value.real), np.nan, bound)
            path = f"{prefix}.{name}"
            found.append(Limit(kind, path, value, bound, margin, q.TEMPERATURE, q.DIFFERENCE))
    return found


def _leaving(inputs: Inputs, branches: Table) -> list[Limit]:
    """The air that leaves each slot, whichever way; none where no card is fitted."""
    found, given = [], inputs.columns["slot"].get("air_limit", ())
    for name, bound in zip(inputs.names("slot"), given, strict=True):
        if np.isnan(bound.real).all():
            continue
        row = branches.names.index(f"slot.{name}")
        value = branches.columns["outlet_temperature"][row]
        there = (branches.columns["state"][row] == FITTED) & ~np.isnan(value.real)
        held = np.where(there, bound, np.nan)
        found.append(Limit("air", f"slot.{name}", value, held, held - value, q.TEMPERATURE,
                           q.DIFFERENCE))  # fmt: skip
    return found


def worst(limits: tuple[Limit, ...], variants: int) -> Array:
    """(variants,) smallest margin of all temperature limits [K]; NaN without any."""
    margins = [item.margin for item in limits if item.limit in ("part", "air")]
    if not margins:
        return np.full(variants, np.nan)
    stack = np.array(np.broadcast_arrays(*margins))
    missing = np.isnan(stack.real)
    row = np.argmin(np.where(missing, np.inf, stack.real), axis=0)  # the derivative is that of
    lowest: Array = np.take_along_axis(stack, row[None], axis=0)[0]  # the limit that is worst
    return np.where(missing.all(axis=0), np.nan, lowest)
