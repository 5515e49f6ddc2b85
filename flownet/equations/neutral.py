"""What natural draught does: the level of equal pressures, air that passes a hole both ways."""

from __future__ import annotations

import numpy as np

from flownet.equations import layers
from flownet.equations.branch import BranchState, onward
from flownet.equations.state import Model, State
from flownet.physics import air
from flownet.schema.arrays import Array

LEAST_DIFFERENCE = 1e-3  # K between inside and outside, below which no level is told


def outside_flows(model: Model, state: State, here: BranchState) -> tuple[Array, ...]:
    """(variants,) all that is drawn in from outside [kg/s] and its volume, at its own density
    [m3/s]; how much warmer than the outside what is blown out is, by mass [K]: NaN without any.
    A tall hole may do both at once."""
    s, flow, outside = model.structure, state.mass_flow, model.outside_temperature[:1]
    start, end = (s.start >= s.inside)[:, None], (s.end >= s.inside)[:, None]
    (ahead, back), ends = _streams(model, state)
    densities = [air.density(each, model.site_pressure) for each in ends]
    drawn = np.where(start, ahead, 0), np.where(end, back, 0)
    blown = np.where(end, ahead, 0), np.where(start, back, 0)
    main = flow.real >= 0
    leaving = np.where(main, here.outlet, ends[0]), np.where(main, ends[1], here.outlet)
    warmth = blown[0] * (leaving[0] - outside) + blown[1] * (leaving[1] - outside)
    volume = drawn[0] / densities[0] + drawn[1] / densities[1]
    out = (blown[0] + blown[1]).sum(axis=0)
    with np.errstate(divide="ignore"):
        rise = np.where(out > 0, warmth.sum(axis=0) / out, np.nan)
    return (drawn[0] + drawn[1]).sum(axis=0), volume.sum(axis=0), rise


def counter_flow(model: Model, state: State) -> Array:
    """(branches, variants) kg/s against the net flow at the same time; NaN for what air passes one
    way only."""
    ahead, back = _streams(model, state)[0]
    return np.where(model.both_ways, np.where(state.mass_flow.real >= 0, back, ahead), np.nan)


def _streams(model: Model, state: State) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Mass from start to end and back, and the temperatures at both ends."""
    s, warm = model.structure, state.temperature
    ends = warm[s.warm_start], warm[s.warm_end]
    ahead = onward(model, state.mass_flow, *ends)
    return (ahead, ahead - state.mass_flow), ends


def neutral_levels(model: Model, state: State) -> Array:
    """(compartments, variants) height at which the pressure is that of the outside air [m].

    NaN where it lies beyond the openings of the compartment, whose pressure is then above or below
    that outside throughout.
    """
    s = model.structure
    warm, levels = state.temperature[: s.inside], model.levels
    excess = air.GRAVITY * (air.density(warm, model.site_pressure) - model.outside_density)
    unlike = abs((warm - model.outside_temperature[:1]).real) > LEAST_DIFFERENCE
    level = levels + state.pressure[: s.inside] / np.where(unlike, excess, 1.0)
    bottom, top = np.full(levels.shape, -np.inf), np.full(levels.shape, np.inf)
    if (d := s.division) is not None:
        between = ((levels[d.lower] + levels[d.lower + 1]) / 2).real
        top[d.lower], bottom[d.lower + 1] = between, between
    owner, (low, high) = s.owner, _reach(model)
    inside = (level.real >= bottom) & (level.real <= top) & (low < high)[owner]
    inside &= unlike & (level.real >= low[owner]) & (level.real <= high[owner])
    found = np.full((len(low), level.shape[1]), np.nan, level.dtype)
    for node in np.flatnonzero(inside.any(axis=1)):
        found[owner[node]] = np.where(inside[node], level[node], found[owner[node]])
    return found


def _reach(model: Model) -> tuple[Array, Array]:
    """(compartments, variants) lowest and highest edge of the open branches at each."""
    s, wide = model.structure, model.both_ways.shape
    given, half = wide[0] - len(layers.joints(s)), np.zeros(wide)
    for rows, law, tall in model.tall_holes:
        half[rows] = np.where(tall, law.height.real / 2, 0.0)
    low = np.full((int(s.owner.max()) + 1, wide[1]), np.inf)
    high = -low
    for nodes, levels in ((s.start, model.start_level), (s.end, model.end_level)):
        rows = np.flatnonzero(nodes[:given] < s.inside)
        at, open_ = s.owner[nodes[rows]], np.broadcast_to(model.open, wide)[rows]
        middle = np.broadcast_to(levels.real, wide)[rows]
        np.minimum.at(low, at, np.where(open_, middle - half[rows], np.inf))
        np.maximum.at(high, at, np.where(open_, middle + half[rows], -np.inf))
    return low, high
