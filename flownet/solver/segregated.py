"""The quick way: flow and heat by turns, all variants of a block side by side.

Each pass makes one Newton step of the flow and then carries the heat with the new flow; what the
temperatures do to the flow is seen in the next pass. That settles where draught is small beside the
fans, and costs two batched eliminations a pass, until flows move so little that the factors of an
earlier pass do: balances are those of the moment, only the steps are those of older slopes. What
does not settle soon, has a fan with a dip, or turns a large branch against its isothermal flow goes
the long way (`steady`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.equations.branch import (
    CP,
    STILL,
    buoyancy,
    carried,
    flowing,
    heated,
    onward,
    pressure_drop,
)  # fmt: skip
from flownet.equations.residual import heat_balance, mixed, overturned
from flownet.equations.state import Model, State, Step
from flownet.physics import air
from flownet.schema.arrays import Array, Booleans, summed, taken
from flownet.solver import acceptance
from flownet.solver import tolerances as tol
from flownet.solver.active import Active, Ended, put
from flownet.solver.elimination import Factor
from flownet.solver.fixed_temperature import fans, nominal_flow
from flownet.solver.flow_balance import (
    Conductances,
    Drive,
    FlowState,
    along,
    conductances,
    drive,
    largest_pressure,
    turned,
)
from flownet.solver.network import solver
from flownet.solver.tolerances import flow_scale, largest


class Passed(NamedTuple):
    """Where the passes ended, of all variants."""

    state: State
    settled: Booleans
    calm: Booleans  # each of the last passes left less than half of the change before it
    step: Step  # what is expected to be left of the last one; infinite where not settled
    rounds: Array


class Factors(NamedTuple):
    """Factors that serve while no flow moves far from those they were made for."""

    flow: Conductances | None = None
    heat: Factor | None = None
    flow_moved: Array = np.zeros(1)  # (variants,) of the largest flow, in all since then
    heat_moved: Array = np.zeros(1)
    near: float = 0.0  # so far they serve


class Going(NamedTuple):
    """What changes from pass to pass; variants last."""

    flow: Array
    pressure: Array
    warm: Array  # compartments, then mixtures
    cold_flow: Array  # before temperatures acted on it
    change: Array  # (compartments, variants) last change that the heat balance asked for
    share: Array  # (variants,) of it that is taken
    quiet: Array  # (variants,) passes in a row that left less than CALM of the change before
    flow_step: Array  # last ones
    warm_step: Array
    flow_left: Array  # (variants,) of the last step of flows: so much is expected to be left
    gap: Array  # (variants,) largest imbalance of pressure before the last step, relative
    gap_left: Array  # (variants,) of it: what is expected after that step


def alternate(model: Model, rest: State) -> Passed:
    """Passes from rest, at most `PASSES`, or `LAYERED`."""
    width = rest.mass_flow.shape[1]
    dipped, free_flow = fans(model, width)
    run = np.flatnonzero(~dipped.any(axis=0))
    ended = Ended(_begin(model, rest), np.zeros(width, bool), np.zeros(width, np.intp))
    if run.size:
        part = model.take(run) if len(run) < width else model
        put(ended, run, _passes(part, taken(ended.state, run), free_flow[:, run]))
    going: Going = ended.state
    step = Step(going.flow_step * going.flow_left, np.zeros_like(going.pressure), going.warm_step)
    state = model.state(going.flow, going.pressure, going.warm)
    return Passed(state, ended.done, ended.done & (going.quiet >= 2), step, ended.rounds)


def _passes(model: Model, going: Going, free_flow: Array) -> Ended:
    """Of variants without a fan with a dip. Each is kept as it is when it is done, whatever its
    neighbours do."""
    width, s = free_flow.shape[1], model.structure
    active, none = Active(going, width), np.zeros(width)
    steep = _steepness(model, free_flow)
    floor, outside = acceptance.pressure_floor(model), model.outside_pressure
    acting = drive(s.network, 0.0, outside, 0.0, model.open, floor, free_flow)
    kept = Factors(None, None, none, none, tol.NEAR if s.inside < tol.FACTORS_KEPT else 0.0)
    for count in range(1, (tol.PASSES if s.division is None else tol.LAYERED) + 1):
        with np.errstate(all="ignore"):
            going, kept = _one_pass(
                model, acting, going, steep if count == 1 else None, kept, count
            )
        failed = np.zeros(len(active), bool)
        good = _ready(model, going) if count >= tol.WATCHED else failed
        going, model, acting, kept = active.settle(
            going, good, failed, model, acting, kept, thin=tol.THIN
        )
        if not len(active):
            break
    return active.ended(going)


def _begin(model: Model, rest: State) -> Going:
    flow, inside = rest.mass_flow, model.structure.inside
    warm, width = model.unknown_temperatures(rest), rest.mass_flow.shape[1]
    none = np.zeros(width)
    return Going(
        flow, rest.pressure[:inside].copy(), warm, flow.copy(), np.zeros((inside, width)), none + 1,
        none.copy(), np.full(flow.shape, np.inf), np.full(warm.shape, np.inf), none + 1,
        none + np.inf, none + 1,
    )  # fmt: skip


def _steepness(model: Model, free_flow: Array) -> Array:
    """Slopes at nominal flows: the first step starts from rest, where slopes are far too small."""
    rest, s = model.at_rest(free_flow.shape[1]), model.structure
    warm = rest.temperature
    flow = nominal_flow(model, free_flow)
    here = flowing(model, flow, warm[s.warm_start], warm[s.warm_end])
    return pressure_drop(model, flow, here.air)[1]


def _one_pass(
    model: Model, acting: Drive, going: Going, steep: Array | None, kept: Factors, count: int
) -> tuple[Going, Factors]:
    s = model.structure
    warm = model.state(going.flow, going.pressure, going.warm).temperature
    start, end = warm[s.warm_start], warm[s.warm_end]
    own = flowing(model, going.flow, start, end).air
    going, kept = _flow_step(model, acting, going, own, steep, kept, count)
    if count <= tol.COLD_PASSES + 1:
        going = going._replace(cold_flow=going.flow)
    if count <= tol.COLD_PASSES:
        return going, kept
    flow = going.flow
    # conductances change with temperatures too
    turning = s.division is not None or bool(model.tall_holes)
    worn = _worn(kept.heat_moved, kept.near, count)
    if kept.heat is None or turning or worn.any():
        if kept.heat is None or turning or worn.all():
            heat, worn = _heat_matrix(model, flow, warm), np.ones(len(worn), bool)
        else:
            fresh = _heat_matrix(model.take(np.flatnonzero(worn)), flow[:, worn], warm[:, worn])
            heat = kept.heat.put(worn, fresh)
        kept = kept._replace(heat=heat, heat_moved=np.where(worn, 0.0, kept.heat_moved))
    assert kept.heat is not None
    upstream = np.where(flow >= 0, start, end)
    warmed = heated(model, flow, upstream, own.at_start, own.at_end)
    energy = heat_balance(model, warm, *carried(model, flow, start, end, warmed))
    return _warmer(model, going, kept.heat.solve(energy)), kept


def _worn(moved: Array, near: float, count: int) -> Booleans:
    """(variants,) whether factors must be made anew; also where a flow is no number."""
    found: Booleans = ~(moved <= near) | (count > tol.FRESH) | (count <= tol.EARLY)
    return found


def _flow_step(
    model: Model, acting: Drive, going: Going, own: air.Air, steep: Array | None,
    kept: Factors, count: int,
) -> tuple[Going, Factors]:  # fmt: skip
    """One step of Newton's method for the flow at the temperatures of the moment."""
    network, watched, gap = model.structure.network, count >= tol.WATCHED, going.gap
    drop, slope = pressure_drop(model, going.flow, own)
    push = buoyancy(model, own) - drop + acting.push
    here = FlowState(going.flow, drop, slope, going.pressure, going.quiet)
    scale = largest_pressure(acting, here)
    rough = not watched and kept.near > 0
    if watched:
        gap = np.where(acting.open, push + network.fall @ going.pressure, 0.0)
        gap = largest(gap) / scale
    worn = _worn(kept.flow_moved, kept.near, count)
    if kept.flow is None or worn.any():
        slope = slope if steep is None else np.maximum(slope, steep)
        slope = np.maximum(slope, tol.FLAT_HEAT * scale / flow_scale(going.flow))
        if kept.flow is None or worn.all():
            made, worn = conductances(acting, slope), np.ones(len(worn), bool)
        else:
            some = taken(acting, worn)
            made = kept.flow.put(worn, conductances(some, slope[:, worn]))
        kept = kept._replace(flow=made, flow_moved=np.where(worn, 0.0, kept.flow_moved))
    assert kept.flow is not None
    step, pressure = along(acting, kept.flow, going.flow, push, rough)
    flow, size = going.flow + step, largest(step)
    moved = size / flow_scale(flow)
    rate = size / np.maximum(largest(going.flow_step), tol.TINY)
    going = going._replace(
        flow=flow, pressure=pressure, flow_step=step, gap=gap, gap_left=rate,
        flow_left=np.clip(rate / (1 - np.minimum(rate, 0.5)), tol.LEAST_LEFT, 1.0),
    )  # fmt: skip
    return going, kept._replace(
        flow_moved=kept.flow_moved + moved, heat_moved=kept.heat_moved + moved
    )


def _warmer(model: Model, going: Going, change: Array) -> Going:
    """The change that the heat balance asks for, scaled by what the last one did."""
    s, inside = model.structure, model.structure.inside
    moved = change - going.change
    share = -going.share * summed(going.change * moved) / summed(moved * moved)
    share = np.clip(np.nan_to_num(share, nan=1.0), tol.LEAST_SHARE, tol.MOST_SHARE)
    first = ~going.change.any(axis=0)
    share = np.where(first, 1.0, share)
    before, after = largest(going.change), largest(change)
    quiet = np.where(~first & (after < tol.CALM * before), going.quiet + 1, 0)
    quiet = np.where(after < 1e-9, going.quiet, quiet)
    new = going.warm.copy()
    new[:inside] += share * change
    outside = model.outside_temperature[:1]
    new[:inside] = np.clip(new[:inside], outside - tol.COLDER, outside + tol.HOTTEST)
    if s.mixes:
        new[inside:] = mixed(model, model.state(going.flow, going.pressure, new))
    step = new - going.warm
    rate = largest(step) / np.maximum(largest(going.warm_step), tol.LEAST_STEP)
    return going._replace(
        warm=new, change=change, share=share, quiet=quiet, warm_step=step,
        gap_left=np.clip(np.maximum(going.gap_left, rate), tol.LEAST_GAP_LEFT, 1.0),
    )  # fmt: skip


def _heat_matrix(model: Model, flow: Array, warm: Array) -> Factor:
    """Air that each end receives, walls and exchanges: upwind, so no pivoting is needed."""
    s = model.structure
    ahead = onward(model, flow, warm[s.warm_start], warm[s.warm_end])
    aside = model.open * STILL
    if model.tall_holes:  # what passes both ways grows with the difference
        aside = aside + 0.5 * np.minimum(ahead, ahead - flow)
    forward, backward = CP * (ahead + aside), CP * (ahead - flow + aside)
    if len(s.wall_start) + len(s.exchange_start):
        both = np.concatenate([_wall_conductance(model, warm), _exchange_conductance(model, warm)])
        forward, backward = (np.concatenate([side, both]) for side in (forward, backward))
    touched = s.warm_network.touch @ (forward + backward)
    lonely = np.where(touched[: s.inside] == 0, 1.0, 0.0)
    return solver(s.warm_network).factor(forward, backward, lonely if lonely.any() else None)


def _wall_conductance(model: Model, warm: Array) -> Array:
    s = model.structure
    ends = warm[s.wall_start], warm[s.wall_end]
    found = model.walls.conductance(*ends, model.site_pressure)
    return np.broadcast_to(found, (len(s.wall_start), warm.shape[1]))


def _exchange_conductance(model: Model, warm: Array) -> Array:
    s = model.structure
    ends = warm[s.exchange_start], warm[s.exchange_end]
    flow = model.exchange + 1.5 * overturned(model, *ends)  # it grows with the difference
    found: Array = CP * flow * sum(air.density(end, model.site_pressure) for end in ends) / 2
    return found


def _ready(model: Model, going: Going) -> Booleans:
    """Whether nothing moves any more, nothing turned, and nothing is too hot."""
    still: Booleans = going.gap * going.gap_left <= tol.GAP
    still &= largest(going.warm_step) <= tol.PASS_WARM
    if not still.any():
        return still
    flow = flow_scale(going.flow)
    still &= largest(going.flow_step) * going.flow_left <= tol.PASS_FLOW * flow
    rise = going.warm - model.outside_temperature[:1]
    still &= ((rise < tol.HOTTEST - tol.CUT) & (rise > tol.CUT - tol.COLDER)).all(axis=0)
    return still & ~turned(going.cold_flow, going.flow)
