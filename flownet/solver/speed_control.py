"""Steady states whose fans follow temperatures: speed and temperature that fit each other.

Unknown are the temperatures `T` of what is followed (sensors): they set all speeds, a solve at
these speeds gives the temperatures `R(T)`, and `h = R - T` must be zero. Faster fans cool what they
follow, so for one sensor `h` falls: its zero is kept between two bounds and found by Newton's
method with the exact slope, halving where that does not help. For several sensors Newton's step is
shortened until the largest `h` falls. What is found is solved once more and held to `FIT`.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.equations.assemble import assemble
from flownet.equations.residual import residual
from flownet.equations.state import Model, State, Steady
from flownet.schema.arrays import Array, Booleans, Integers
from flownet.solver import speeds, steady
from flownet.solver import tolerances as tol
from flownet.solver.active import Active, either
from flownet.solver.jacobian import Pattern, System
from flownet.solver.speeds import Controls, followers, readings
from flownet.solver.tolerances import largest


class Followed(NamedTuple):
    """Inputs with the speeds that were found, their model, and where they end."""

    inputs: Inputs
    model: Model
    steady: Steady


class _Search(NamedTuple):
    """Where each variant stands; (variants,) where not said otherwise."""

    used: Booleans  # (sensors, variants) an unknown of this variant
    here: Array  # (sensors, variants) tried last
    base: Array  # (sensors, variants) best so far, several sensors
    step: Array  # (sensors, variants) Newton's, from `base`
    share: Array  # of that step that is tried
    misfit: Array  # of `base`, or of what one sensor was last solved at
    low: Array  # bounds of the one unknown
    high: Array
    first: Array  # lowest and highest point that its fans follow, and a bit more
    last: Array
    width: Array  # between the bounds when they were last halved
    slow: Array  # rounds since then


class _Tried(NamedTuple):
    """What a solve at the speeds of some sensor temperatures says; (..., variants)."""

    reading: Array  # (sensors, variants)
    slope: Array  # (sensors, sensors, variants) of readings to sensor temperatures
    status: tuple[str, ...]
    failed: Booleans
    fits: Booleans


def solve(inputs: Inputs, follow: Controls, pattern: Pattern) -> Followed:
    """Every variant with the speeds that its temperatures ask for; what fails says so by name."""
    follow = _wide(follow, inputs.variants)
    warm, words = _balanced(inputs, follow, pattern)
    found, reading = _solved(inputs, follow, pattern, warm)
    status = [own or failed for own, failed in zip(words, found.steady.status, strict=True)]
    held = _held(found.inputs, follow)
    unfit = ~_fits(follow, held, warm, reading, tol.SPEED_FIT)
    for variant, failed in enumerate(status):
        if not failed and unfit[:, variant].any():
            status[variant] = _misfit(inputs, follow, held, reading, unfit, variant)
    return found._replace(steady=dataclasses.replace(found.steady, status=tuple(status)))


def placed(found: Followed, inputs: Inputs, run: Integers, refused: list[str]) -> Followed:
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
    return Followed(made, model, steady.placed(found.steady, run, refused))


# --- the search ----------------------------------------------------------------------------------


def _balanced(inputs: Inputs, follow: Controls, pattern: Pattern) -> tuple[Array, list[str]]:
    """(sensors, variants) temperatures that fit the speeds they set, and why there are none."""
    search = _begun(inputs, follow)
    active, words = Active(search, inputs.variants), [""] * inputs.variants
    for _ in range(tol.SPEED_ROUNDS):
        trial, told = _tried(inputs, follow, pattern, search)
        ended = trial.fits & ~trial.failed
        one = search.used.sum(axis=0) == 1
        left = np.array([not each for each in told]) & ~ended
        with np.errstate(all="ignore"):
            search = either(
                left, either(one, _between(search, trial), _shortened(search, trial, left & ~one)),
                search,
            )  # fmt: skip
        near = left & one & ~(search.high - search.low > tol.SPEED_JUMP)
        for place in np.flatnonzero(near & (trial.failed | (search.misfit > tol.SPEED_FIT))):
            told[place] = _jump(inputs, follow, search, int(place), trial.status[place])
        failed = np.array([bool(each) for each in told])
        for variant, each in zip(active.numbers, told, strict=True):
            words[variant] = each
        search, inputs, follow = active.settle(search, ended | near, failed, inputs, follow)
        if not len(active):
            break
    found = active.ended(search)
    whole: _Search = found.state
    several = ~found.done & (whole.used.sum(axis=0) > 1)
    return np.where(several, whole.base, whole.here), words


def _begun(inputs: Inputs, follow: Controls) -> _Search:
    """The fastest speeds: every sensor as warm as the last point of what follows it."""
    count, width = len(follow.sensed), inputs.variants
    outside = speeds.fixed(follow.sensed)
    there = ~np.isnan(follow.temperature)
    hot = np.max(np.where(there, follow.temperature, -np.inf), axis=1)
    cold = np.min(np.where(there, follow.temperature, np.inf), axis=1)
    used, here = np.zeros((count, width), bool), np.zeros((count, width))
    first, last = np.full(width, np.inf), np.full(width, -np.inf)
    for sensor in range(count):
        own = followers(follow, sensor)
        used[sensor] = own.any(axis=0) & ~outside[sensor]
        here[sensor] = np.max(np.where(own, hot, -np.inf), axis=0)
        if not outside[sensor]:
            first = np.minimum(first, np.min(np.where(own, cold, np.inf), axis=0))
            last = np.maximum(last, here[sensor])
    here = np.where(outside, speeds.outside_readings(inputs, follow.sensed), here)
    here = np.where(used | outside, here, 0.0)
    far, none = np.full(width, np.inf), np.zeros(width)
    return _Search(
        used, here, here.copy(), np.zeros((count, width)), none + 1, far, none, far, first - 1,
        last + 1, far, none,
    )  # fmt: skip


def _solved(
    inputs: Inputs, follow: Controls, pattern: Pattern, warm: Array
) -> tuple[Followed, Array]:
    """All variants at the speeds that these temperatures set, and what sensors read there."""
    made = speeds.placed(inputs, follow.active, follow.held(warm))
    model = assemble(made, pattern.structure)
    found = steady.solve(model, pattern)
    return Followed(made, model, found), readings(made, model, found.state, follow.sensed)


def _tried(
    inputs: Inputs, follow: Controls, pattern: Pattern, search: _Search
) -> tuple[_Tried, list[str]]:
    """One solve of all these variants, and why some of them end."""
    warm, count = search.here, len(search.here)
    (made, _, found), reading = _solved(inputs, follow, pattern, warm)
    held = _held(made, follow)
    fits = np.all(_fits(follow, held, warm, reading, tol.SPEED_AIM * tol.SPEED_FIT), axis=0)
    failed = np.array([bool(words) for words in found.status])
    slope = np.zeros((count, count, inputs.variants))
    if (run := np.flatnonzero(~failed & ~fits)).size:
        part = made.take(run), follow.take(run)
        slope[:, :, run] = slopes(*part, pattern, found.state.take(run), warm[:, run])
    fatal = ~np.isfinite(search.misfit) | ~search.used.any(axis=0)
    told = [
        (words if fatal[place] else "") if words else _gone(inputs, follow, reading, place)
        for place, words in enumerate(found.status)
    ]
    return _Tried(reading, slope, found.status, failed, np.asarray(fits)), told


def slopes(inputs: Inputs, follow: Controls, pattern: Pattern, state: State, warm: Array) -> Array:
    """(sensors, sensors, variants) exact derivatives of readings to the temperatures that set the
    speeds, at a solved state. `inputs` have these speeds."""
    model = assemble(inputs, pattern.structure)
    width = state.mass_flow.shape[1]
    system = System(model, pattern, state)
    held = _held(inputs, follow)
    found = np.zeros((len(warm), len(warm), width))
    for sensor in np.flatnonzero(~speeds.fixed(follow.sensed)[:, 0]):
        step = warm.astype(complex)
        step[sensor] += 1j * tol.STEP
        turned = held + 1j * follow.held(step).imag
        moved = speeds.placed(inputs, follow.active, turned)
        there = assemble(moved, pattern.structure)
        direct = residual(there, state)
        gap, energy, mix = (x.imag / tol.STEP for x in (direct.pressure, direct.energy, direct.mix))
        shape = np.zeros((len(model.structure.branches), width))
        answer = system.answer(shape + gap, shape, energy, mix)
        after = there.moved(state, answer, 1j * tol.STEP)
        found[:, sensor] = readings(moved, there, after, follow.sensed).imag / tol.STEP
    return found


def _between(search: _Search, trial: _Tried) -> _Search:
    """One sensor: a bound moves to where it was tried; a speed at which nothing is solved counts
    as too slow. Next is Newton's temperature where it lies between the bounds and they shrink,
    else the middle, or that between the ends of the points where there are no bounds yet."""
    at = np.argmax(search.used, axis=0), np.arange(len(search.low))
    here, failed = search.here[at], trial.failed
    misfit = trial.reading[at] - here
    warmer = failed | (misfit > 0)
    low, high = np.where(warmer, here, search.low), np.where(warmer, search.high, here)
    shrunk = high - low <= search.width / 2
    shrunk |= ~failed & (abs(misfit) <= search.misfit / 2)
    slow = np.where(shrunk, 0, search.slow + 1)
    newton = np.where(failed, np.nan, here + misfit / (1 - trial.slope[at[0], at[0], at[1]]))
    inner = (slow <= 1) & (low < newton) & (newton < high)
    least = np.where(low > 0, low, np.minimum(search.first, high - 1))
    most = np.where(np.isfinite(high), high, np.maximum(search.last, least + 1))
    after = search.here.copy()
    after[at] = np.where(inner, newton, (least + most) / 2)
    return search._replace(
        here=after, low=low, high=high, slow=slow,
        width=np.where(shrunk, high - low, search.width),
        misfit=np.where(failed, search.misfit, abs(misfit)),
    )  # fmt: skip


def _shortened(search: _Search, trial: _Tried, chosen: Booleans) -> _Search:
    """Several sensors: Newton's step on all, shortened until the largest misfit falls; the shortest
    is taken in any case, so that a kink does not hold it up."""
    used, before = search.used, search.misfit
    misfit = np.where(used, trial.reading - search.here, 0.0)
    size = np.where(trial.failed, np.inf, largest(misfit))
    enough = size <= (1 - tol.LEAST_FALL * search.share) * before
    enough |= (search.share <= tol.SHORTEST_SHARE) & ~trial.failed | ~np.isfinite(before)
    step = search.step.copy()
    if (run := np.flatnonzero(enough & chosen)).size:
        both = used[:, None] & used[None, :]
        matrix = np.eye(len(used)) - np.moveaxis(np.where(both, trial.slope, 0.0), -1, 0)[run]
        step[:, run] = np.linalg.solve(matrix, misfit.T[run][..., None])[..., 0].T
    base = np.where(enough, search.here, search.base)
    share = np.where(enough, np.minimum(1.0, 2 * search.share), search.share / 2)
    return search._replace(
        base=base, step=step, share=share, misfit=np.where(enough, size, before),
        here=base + share * step,
    )  # fmt: skip


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
        own = followers(follow, row)[:, variant]
        if np.isnan(reading[row, variant]) and own.any():
            name = inputs.names("fan")[int(np.flatnonzero(own)[0])]
            return (
                f"fan.{name}.speed_control.by: {path} is not there (its slot is not fitted), so "
                "nothing sets the speed; follow another temperature, or set speed"
            )
    return ""


def _jump(inputs: Inputs, follow: Controls, search: _Search, place: int, failed: str) -> str:
    """No speed fits: at one it is too warm, at the next too cold."""
    row = int(np.argmax(search.used[:, place]))
    one, count = follow.take(np.array([place])), len(follow.sensed)
    ends = [one.held(np.full((count, 1), t)) for t in (search.low[place], search.high[place])]
    told = []
    for fan in np.flatnonzero(followers(one, row)[:, 0]):
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
