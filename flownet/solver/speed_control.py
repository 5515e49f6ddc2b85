"""Steady states whose fans follow temperatures: speed and temperature that fit each other.

Unknown are the temperatures `T` of what is followed (sensors): they set all speeds, a solve at
these speeds gives the temperatures `R(T)`, and `h = R - T` must be zero. Faster fans cool what they
follow, so for one sensor `h` falls: its zero is kept between two bounds and found by Newton's
method with the exact slope, halving where that does not help. For several sensors Newton's step is
shortened until the largest `h` falls. What is found is solved once more and held to `FIT`.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.equations.assemble import assemble
from flownet.equations.residual import residual
from flownet.equations.state import Model, State, Steady
from flownet.equations.topology import Structure
from flownet.schema.arrays import Array, Integers
from flownet.solver import speeds, steady
from flownet.solver import tolerances as tol
from flownet.solver.jacobian import Pattern, System
from flownet.solver.speeds import Controls, readings


class Net(NamedTuple):
    """One topology."""

    structure: Structure
    pattern: Pattern


class Found(NamedTuple):
    """Inputs with the speeds that were found, their model, and where they end."""

    inputs: Inputs
    model: Model
    steady: Steady


class Trial(NamedTuple):
    """What a solve at the speeds of some sensor temperatures says; (..., variants)."""

    reading: Array  # (sensors, variants)
    slope: Array  # (sensors, sensors, variants) of readings to sensor temperatures
    status: tuple[str, ...]
    fits: Array  # bool


@dataclass
class Search:
    """Where each variant stands; (sensors, variants) where not said otherwise."""

    used: Array  # bool: an unknown of this variant
    here: Array  # tried last
    base: Array  # best so far, several sensors
    misfit: Array  # (variants,) of `base`
    step: Array  # Newton's, from `base`
    share: Array  # (variants,) of that step that is tried
    low: Array  # bounds of the one unknown; (variants,)
    high: Array
    width: Array  # (variants,) between the bounds when they were last halved
    slow: Array  # (variants,) rounds since then
    words: list[str]  # (variants) why it failed; empty where it did not
    open: Array  # (variants,) bool: neither found nor failed


def solve(inputs: Inputs, follow: Controls, net: Net) -> Found:
    """Every variant with the speeds that its temperatures ask for; what fails says so by name."""
    follow = _wide(follow, inputs.variants)
    warm, words = _balanced(inputs, follow, net)
    made = speeds.placed(inputs, follow.active, follow.held(warm))
    model = assemble(made, net.structure)
    found = steady.solve(model, net.pattern)
    status = list(found.status)
    for variant, failed in enumerate(words):
        if failed:
            status[variant] = failed
    left = [variant for variant, each in enumerate(status) if not each]
    reading = readings(made, model, found.state, follow.sensed)
    held = _held(made, follow)
    unfit = ~_fits(follow, held, warm, reading, tol.SPEED_FIT)
    for variant in left:
        if unfit[:, variant].any():
            status[variant] = _misfit(inputs, follow, held, reading, unfit, variant)
    return Found(made, model, dataclasses.replace(found, status=tuple(status)))


def placed(found: Found, inputs: Inputs, run: Integers, refused: list[str]) -> Found:
    """What was found for the variants in `run` in its place among those that are refused."""
    if len(run) == len(refused):
        return found
    fans = inputs.columns["fan"]
    wide = {}
    for key in ("speed", "rotation"):
        own = np.broadcast_to(fans[key], (len(fans[key]), len(refused))).copy()
        own[:, run] = found.inputs.columns["fan"][key]
        wide[key] = own
    columns = {**inputs.columns, "fan": {**fans, **wide}}
    made = dataclasses.replace(inputs, columns=columns)
    model = assemble(made, found.model.structure)
    return Found(made, model, steady.placed(found.steady, run, refused))


def taken(inputs: Inputs, variants: Integers) -> Inputs:
    """Only these variants of columns."""
    cut = {
        kind: {key: v[:, variants] if v.shape[1] > 1 else v for key, v in made.items()}
        for kind, made in inputs.columns.items()
    }
    return dataclasses.replace(inputs, columns=cut, variants=len(variants))


# --- the search ----------------------------------------------------------------------------------


def _balanced(inputs: Inputs, follow: Controls, net: Net) -> tuple[Array, list[str]]:
    """(sensors, variants) temperatures that fit the speeds they set, and why there are none."""
    search = _begun(inputs, follow)
    for _ in range(tol.SPEED_ROUNDS):
        run = np.flatnonzero(search.open)
        if not run.size:
            break
        part = taken(inputs, run)
        trial = _tried(part, follow.take(run), net, search.here[:, run])
        for place, variant in enumerate(run):
            _judged(search, inputs, follow, trial, place, int(variant))
    several = search.used.sum(axis=0) > 1
    return np.where(search.open & several, search.base, search.here), search.words


def _begun(inputs: Inputs, follow: Controls) -> Search:
    """The fastest speeds: every sensor as warm as the last point of what follows it."""
    count, width = len(follow.sensed), inputs.variants
    outside = speeds.fixed(follow.sensed)
    last = np.nanmax(np.where(np.isnan(follow.temperature), -np.inf, follow.temperature), axis=1)
    used, here = np.zeros((count, width), bool), np.full((count, width), 0.0)
    for sensor in range(count):
        own = speeds.followers(follow, sensor)
        used[sensor] = own.any(axis=0) & ~outside[sensor]
        here[sensor] = np.max(np.where(own, last, -np.inf), axis=0)
    here = np.where(outside, speeds.outside_readings(inputs, follow.sensed), here)
    here = np.where(used | outside, here, 0.0)
    return Search(
        used, here, here.copy(), np.full(width, np.inf), np.zeros((count, width)), np.ones(width),
        np.zeros(width), np.full(width, np.inf), np.full(width, np.inf), np.zeros(width, int),
        [""] * width, np.ones(width, bool),
    )  # fmt: skip


def _tried(inputs: Inputs, follow: Controls, net: Net, warm: Array) -> Trial:
    """One solve of all these variants at the speeds that their temperatures set."""
    made = speeds.placed(inputs, follow.active, follow.held(warm))
    model = assemble(made, net.structure)
    found = steady.solve(model, net.pattern)
    reading = readings(made, model, found.state, follow.sensed)
    count, width = warm.shape
    slope = np.zeros((count, count, width))
    fits = np.all(
        _fits(follow, _held(made, follow), warm, reading, tol.SPEED_AIM * tol.SPEED_FIT), axis=0
    )
    good = np.array([not words for words in found.status]) & ~fits
    if good.any():
        run = np.flatnonzero(good)
        part, state = taken(made, run), found.state.take(run)
        slope[:, :, run] = slopes(part, follow.take(run), net, state, warm[:, run])
    return Trial(reading, slope, found.status, np.asarray(fits))


def slopes(inputs: Inputs, follow: Controls, net: Net, state: State, warm: Array) -> Array:
    """(sensors, sensors, variants) exact derivatives of readings to the temperatures that set the
    speeds, at a solved state. `inputs` have these speeds."""
    model = assemble(inputs, net.structure)
    width = state.mass_flow.shape[1]
    system = System(model, net.pattern, state)
    held = _held(inputs, follow)
    found = np.zeros((len(warm), len(warm), width))
    for sensor in np.flatnonzero(~speeds.fixed(follow.sensed)[:, 0]):
        step = warm.astype(complex)
        step[sensor] += 1j * tol.STEP
        turned = held + 1j * follow.held(step).imag
        moved = speeds.placed(inputs, follow.active, turned)
        there = assemble(moved, net.structure)
        direct = residual(there, state)
        gap, energy, mix = (x.imag / tol.STEP for x in (direct.pressure, direct.energy, direct.mix))
        shape = np.zeros((len(model.structure.branches), width))
        answer = system.answer(shape + gap, shape, energy, mix)
        after = there.moved(state, answer, 1j * tol.STEP)
        found[:, sensor] = readings(moved, there, after, follow.sensed).imag / tol.STEP
    return found


def _judged(
    search: Search, inputs: Inputs, follow: Controls, trial: Trial, place: int, variant: int
) -> None:
    """What a trial says of one variant: it ends, or where it is tried next."""
    used, failed = search.used[:, variant], trial.status[place]
    first = not np.isfinite(search.misfit[variant])
    misfit = trial.reading[:, place] - search.here[:, variant]
    if failed and (first or not used.any()):
        search.words[variant] = failed
    elif not failed and (gone := _gone(inputs, follow, trial.reading[:, place], variant)):
        search.words[variant] = gone
    elif trial.fits[place] and not failed:
        search.open[variant] = False
        return
    if search.words[variant]:
        search.open[variant] = False
        return
    slope = trial.slope[:, :, place]
    if used.sum() == 1:
        row = int(np.flatnonzero(used)[0])
        _bounded(search, failed, float(misfit[row]), row, variant)
        if search.high[variant] - search.low[variant] > tol.SPEED_JUMP:
            newton = search.here[row, variant] + misfit[row] / (1 - slope[row, row])
            _between(search, follow, np.nan if failed else float(newton), row, variant)
            return
        search.open[variant] = False
        if failed or abs(misfit[row]) > tol.SPEED_FIT:
            search.words[variant] = _jump(inputs, follow, search, row, variant, failed)
    else:
        _shortened(search, failed, misfit, slope, used, variant)


# --- one sensor: between two bounds --------------------------------------------------------------


def _bounded(search: Search, failed: str, misfit: float, row: int, variant: int) -> None:
    """One of the bounds moves to where it was tried; a speed at which nothing is solved counts as
    too slow."""
    too_slow = bool(failed) or misfit > 0
    (search.low if too_slow else search.high)[variant] = search.here[row, variant]
    width = search.high[variant] - search.low[variant]
    fell = not failed and abs(misfit) <= search.misfit[variant] / 2
    search.slow[variant] += 1
    if fell or width <= search.width[variant] / 2:
        search.width[variant], search.slow[variant] = width, 0
    if not failed:
        search.misfit[variant] = abs(misfit)


def _between(search: Search, follow: Controls, newton: float, row: int, variant: int) -> None:
    """The next temperature to try: Newton's where it lies between the bounds, else the middle."""
    low, high = search.low[variant], search.high[variant]
    halved = search.slow[variant] > 1 or not low < newton < high
    search.here[row, variant] = _middle(follow, low, high, row, variant) if halved else newton


def _middle(follow: Controls, low: float, high: float, row: int, variant: int) -> float:
    """Half-way between bounds, or between the ends of the points where there are none yet."""
    own = np.broadcast_to(speeds.followers(follow, row), follow.active.shape)[:, variant]
    points = follow.temperature[own, :, variant]
    ends = np.nanmin(points) - 1.0, np.nanmax(points) + 1.0
    low = low if low > 0 else min(float(ends[0]), high - 1.0)
    high = high if np.isfinite(high) else max(float(ends[1]), low + 1.0)
    return (low + high) / 2


# --- several sensors: shortened steps ------------------------------------------------------------


def _shortened(
    search: Search, failed: str, misfit: Array, slope: Array, used: Array, variant: int
) -> None:
    """Newton's step on all sensors, shortened until the largest misfit falls; the shortest is
    taken in any case, so that a kink does not hold it up."""
    size = np.inf if failed else float(np.max(abs(misfit[used])))
    share, before = search.share[variant], search.misfit[variant]
    enough = size <= (1 - tol.LEAST_FALL * share) * before or (
        share <= tol.SHORTEST_SHARE and not failed
    )
    if enough or not np.isfinite(before):
        matrix = np.eye(len(used)) - np.where(used[:, None] & used[None, :], slope, 0.0)
        search.base[:, variant] = search.here[:, variant]
        search.step[:, variant] = np.linalg.solve(matrix, np.where(used, misfit, 0.0))
        search.misfit[variant] = size
        search.share[variant] = min(1.0, 2 * share)
    else:
        search.share[variant] = share / 2
    moved = search.share[variant] * search.step[:, variant]
    search.here[:, variant] = search.base[:, variant] + moved


# --- whether it fits, and words ------------------------------------------------------------------


def _wide(follow: Controls, width: int) -> Controls:
    """All arrays with all variants."""
    cut = (np.broadcast_to(x, (*x.shape[:-1], width)) for x in follow[1:])
    return Controls(follow.sensed, *cut)


def _held(inputs: Inputs, follow: Controls) -> Array:
    """(fans, variants) speeds that fans are set to."""
    found: Array = np.broadcast_to(inputs.columns["fan"]["speed"].real, follow.active.shape)
    return found


def _fits(follow: Controls, held: Array, warm: Array, reading: Array, fit: float) -> Array:
    """(fans, variants) whether the speed is that of the reading, within `fit` of either."""
    with np.errstate(invalid="ignore"):
        same = abs(follow.held(reading) - held) <= fit * held
        near = abs(follow.own(reading) - follow.own(warm)) <= fit
    found: Array = ~follow.active | same | near
    return found


def _gone(inputs: Inputs, follow: Controls, reading: Array, variant: int) -> str:
    """A sensor that has no temperature in a variant."""
    for row, path in enumerate(follow.sensed):
        own = speeds.followers(follow, row)[:, variant]
        if np.isnan(reading[row]) and own.any():
            name = inputs.names("fan")[int(np.flatnonzero(own)[0])]
            return (
                f"fan.{name}.speed_control.by: {path} is not there (its slot is not fitted), so "
                "nothing sets the speed; follow another temperature, or set speed"
            )
    return ""


def _jump(
    inputs: Inputs, follow: Controls, search: Search, row: int, variant: int, failed: str
) -> str:
    """No speed fits: at one it is too warm, at the next too cold."""
    low, high = search.low[variant], search.high[variant]
    ends = [follow.take(np.array([variant])).held(_all(follow, t)) for t in (low, high)]
    own = np.flatnonzero(speeds.followers(follow, row)[:, variant])
    told = []
    for fan in own:
        slow, fast = (float(end[fan, 0]) for end in ends)
        name = f"fan.{inputs.names('fan')[fan]}"
        told.append(
            f"{name} stands still and starts by turns (next speed {fast:.3g})"
            if slow == 0 else f"{name} hunts at a speed of {fast:.4g}"
        )  # fmt: skip
    why = f" ({failed})" if failed else ""
    return (
        f"no steady speed: by {follow.sensed[row]} {', '.join(told)}: slower it asks for more, "
        f"faster for less{why}; let the points of speed_control end at a speed that can be held, "
        "or set speed"
    )


def _all(follow: Controls, warm: float) -> Array:
    return np.full((len(follow.sensed), 1), warm)


def _misfit(
    inputs: Inputs, follow: Controls, held: Array, reading: Array, unfit: Array, variant: int
) -> str:
    """Which fan turns at another speed than it is asked for, and by how much."""
    asked = follow.held(reading)
    told = [
        f"fan.{inputs.names('fan')[fan]}.speed_control: speed {held[fan, variant]:.6g} where "
        f"{follow.sensed[int(follow.sensor[fan, variant])]} asks for {asked[fan, variant]:.6g}"
        for fan in np.flatnonzero(unfit[:, variant])
    ]
    return "no speed was found that fits its temperature: " + "; ".join(told)
