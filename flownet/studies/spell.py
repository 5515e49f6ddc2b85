"""One stretch of a course in time, read out; and all of them put together.

The variants of its batch are times, so that limits, margins and what makes numbers void are those
of every other result. Limits that are passed between two times are narrowed down on the
integrator's own curve.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import chain
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.enclosure import Enclosure
from flownet.equations.branch import LEAST_FLOW
from flownet.equations.state import Model, State, Steady, Step
from flownet.equations.stores import Moment, Warmth
from flownet.judging.voids import STALL, fan_out, voids
from flownet.results.batch import SolutionBatch
from flownet.results.limits import Limit, put
from flownet.results.solution import PREFIXES, Solution
from flownet.results.tables import TOTALS
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import NoSolution
from flownet.schema.quantities import Quantity
from flownet.solver import acceptance, speeds
from flownet.solver import tolerances as tol
from flownet.solver.in_time import Leg, LostError, Stretch
from flownet.solver.network import flow_stable
from flownet.solver.switching import Switch
from flownet.solving.attempt import judged
from flownet.studies.course_notes import mean_speeds, stores_told
from flownet.studies.timeline import Stage
from flownet.studies.transient_result import Crossing, Event, Transient, VoidSpell

POINTS = 120  # of a course at least: our own choice
NEARER_THAN = 1000  # points are no closer together than this part of the whole, but where it jumps
SEEN = 1e-3  # of the largest flow: air whose turn is told
LIMITS_AFTER = {1, *(int(24 * 1.3**n) for n in range(30))}  # steps after which limits are looked at
NARROWED, SUBDIVIDED = 3, 8  # in which a crossing is narrowed down; pieces of each


class Now(NamedTuple):
    """Where things stand between two stretches."""

    warmth: Warmth
    felt: Array  # (fans, 1) temperatures that fans go by [K]
    state: State


def felt(inputs: Inputs, model: Model, state: State) -> Array:
    """(fans, 1) temperatures of what fans follow; 0 of those that follow nothing."""
    follow = speeds.controls(inputs)
    if follow is None:
        return np.zeros((len(inputs.names("fan")), 1))
    return follow.own(speeds.readings(inputs, model, state, follow.sensed))


class Spell:
    """One stretch, with its steps."""

    def __init__(self, stage: Stage, until: float, to_first: bool = False) -> None:
        """`to_first`: it is asked for the first limit alone, and ends once one is found broken."""
        self.stage, self.until, self.to_first = stage, until, to_first
        error = tol.RIDE_ERROR if to_first else tol.TIME_ERROR
        self.stretch = Stretch(stage.inputs(), not stage.moving, stage.longest, error)
        self.legs: list[Leg] = []
        self.end = stage.end  # earlier where a fan switches, or the first limit is reached
        self.decided = False  # it is, and that is all that is asked for

    def run(self, now: Now) -> Now:
        """Through the stretch."""
        stretch, begin = self.stretch, self.stage.begin
        y = stretch.begun(begin, now.warmth, now.felt, now.state)
        self.legs, y = stretch.run(begin, self.stage.end, y, self._enough)
        self.end = self.legs[-1].end if self.legs else self.stage.end
        assert stretch.last is not None
        warmth, warm = stretch.split(y[:, None])
        return Now(warmth, warm if len(warm) else now.felt, stretch.last)

    def _enough(self, legs: list[Leg]) -> bool:
        """Whether the first limit is reached; looked for now and then, at the end of a step."""
        self.legs = legs
        if self.to_first and len(legs) in LIMITS_AFTER:
            now = momentary(self.at(np.array([legs[-1].end])))
            self.decided = any(item.broken[0] for item in now)
        return self.decided

    @property
    def switches(self) -> list[Switch]:
        """Fans that switched at its beginning or end."""
        return self.stretch.follow.switches if self.stretch.follow is not None else []

    # --- read out --------------------------------------------------------------------------------

    @cached_property
    def times(self) -> Array:
        """Of the steps, those that are far apart divided."""
        found, apart = [self.stage.begin], self.until / NEARER_THAN
        for leg in self.legs:
            count = int(np.ceil((leg.end - leg.start) / (self.until / POINTS)))
            found += [t for t in np.linspace(leg.start, leg.end, count + 1)[1:]
                      if t - found[-1] >= apart]  # fmt: skip
        end = self.end
        return np.array([*(t for t in found if t < end - apart / 2 or t == found[0]), end])

    @cached_property
    def batch(self) -> SolutionBatch:
        """At all these times."""
        return self.at(self.times)

    def at(self, times: Array) -> SolutionBatch:
        """Everything at some times of the stretch, as variants."""
        moment = self._moment(times)
        stores, now, _, state = moment
        part = stores.parts(now, state, moment.here)
        return judged(stores.inputs, stores.shown(now, state), _as_steady(moment), part)

    def _moment(self, times: Array) -> Moment:
        """Flows of some times, from those of the step each is in."""
        ends = np.array([leg.end for leg in self.legs])
        which = np.minimum(np.searchsorted(ends, times), len(ends) - 1)
        y = np.concatenate(
            [self.legs[i].dense(times[which == i]) for i in np.unique(which)], axis=1
        )
        for later in (0, 1):  # where flows end within a step: from those after it
            states = [self.legs[min(i + later, len(ends) - 1)].state for i in which]
            guess = State(*(np.concatenate(parts, axis=1) for parts in zip(*states, strict=True)))
            try:
                return self.stretch.moments(times, y, guess)
            except LostError as lost:
                time = lost.time
        raise NoSolution(f"no flows found at {time:.4g} s, near those before and after it")

    # --- limits ----------------------------------------------------------------------------------

    @cached_property
    def crossings(self) -> list[Crossing]:
        """Limits that are passed within the stretch."""
        found = [self._between(place, row) for place, row in self._brackets()]
        return [each for each in found if each is not None]

    def _brackets(self) -> Iterator[tuple[int, int]]:
        """(limit, time) where one holds at a time and not at the next, or the other way."""
        for place, item in enumerate(momentary(self.batch)):
            known = ~np.isnan(item.margin)  # without end where no fan makes noise
            for row in np.flatnonzero((np.diff(item.holds) != 0) & known[1:] & known[:-1]):
                yield place, int(row)

    def _between(self, place: int, row: int) -> Crossing | None:
        """The time at which a margin is zero."""
        item = momentary(self.batch)[place]
        (low, high), (before, after) = (some[row : row + 2] for some in (self.times, item.margin))
        for _ in range(NARROWED):
            inner = np.linspace(low, high, SUBDIVIDED + 1)
            within = momentary(self.at(inner[1:-1]))[place].margin
            margins = np.array([before, *within, after])
            at = int(np.argmax((margins[1:] < 0) != (before < 0)))
            (low, high), (before, after) = (some[at : at + 2] for some in (inner, margins))
        fall = before - after
        share = before / fall if np.isfinite(fall) and fall else 0.5  # silent at one of them
        time = float(low + (high - low) * min(max(share, 0.0), 1.0))
        return Crossing(item.subject, item.limit, float(item.bound[row]), time, bool(after < 0))


def momentary(batch: SolutionBatch) -> list[Limit]:
    """Limits that a moment can pass, as arrays over times: not lives, which take years."""
    return [item.map(lambda values: np.broadcast_to(np.real(values), len(batch)))
            for item in batch.limits if item.limit != "life"]  # fmt: skip


def _as_steady(moment: Moment) -> Steady:
    """As a solution is: no balance is off, since heat that stays is what warms the stores."""
    model, state, width = moment.model, moment.state, moment.state.mass_flow.shape[1]
    none = Step(np.zeros(state.mass_flow.shape), *(np.zeros((1, width)) for _ in range(2)))
    figures = acceptance.measured(model, state, none)
    figures = figures._replace(energy=np.zeros(width), warm_step=np.zeros(width))
    stable = flow_stable(model.structure.network, moment.here.slope, model.open)
    return Steady(state, figures, ("",) * width, stable, np.zeros(width, int))


# --- all of it -----------------------------------------------------------------------------------


class Plan(NamedTuple):
    """What was asked for."""

    name: str | None
    until: float
    cold: bool


def course(
    case: Enclosure, plan: Plan, first: Solution | None, spells: Sequence[Spell],
    told: Sequence[Event], more: tuple[str, ...],
) -> Transient:  # fmt: skip
    """All stretches as one result."""
    times = np.concatenate([spell.times for spell in spells])
    limits, (courses, quantities) = _limits(spells, len(times)), _courses(spells)
    crossings = [*_jumps(spells, limits), *(each for spell in spells for each in spell.crossings)]
    last, largest = spells[-1], max(map(_largest, spells))
    return Transient(
        case=case, **plan._asdict(), times=times, courses=courses, quantities=quantities,
        events=tuple(told), crossings=tuple(sorted(crossings, key=lambda each: each.time)),
        highest=_highest(times, courses, limits), start=first or spells[0].batch.select(0),
        end=dataclasses.replace(last.batch.select(len(last.times) - 1), case=last.stage.at_end),
        limits=limits, void=_void(case, spells),
        notes=(*mean_speeds(first, courses), *more, *stores_told(case, spells[0].stretch)),
        turns=tuple(chain.from_iterable(_turns(spell, largest) for spell in spells)),
    )  # fmt: skip


def _limits(spells: Sequence[Spell], count: int) -> tuple[Limit, ...]:
    """Every limit over all times; NaN where it is not given."""
    found: dict[tuple[str, str], Limit] = {}
    for here, spell in _spans(spells):
        for item in momentary(spell.batch):
            put(found, item, here, count)
    return tuple(found.values())


def _spans(spells: Sequence[Spell]) -> Iterator[tuple[slice, Spell]]:
    """Where the times of each stand among those of all."""
    ends = np.cumsum([0, *(len(spell.times) for spell in spells)])
    for first, last, spell in zip(ends[:-1], ends[1:], spells, strict=True):
        yield slice(first, last), spell


def _jumps(spells: Sequence[Spell], limits: Sequence[Limit]) -> Iterator[Crossing]:
    """Limits that are passed by what happens at once, or from one bound to another."""
    for here, spell in list(_spans(spells))[1:]:
        for item in limits:
            before, after = item.margin[here.start - 1], item.margin[here.start]
            holds = item.holds
            known = not np.isnan(before) and not np.isnan(after)
            if known and holds[here.start] != holds[here.start - 1]:
                yield Crossing(item.subject, item.limit, float(item.bound[here.start]),
                               spell.stage.begin, bool(holds[here.start - 1]))  # fmt: skip


COURSES = {  # table of a batch -> what of it is told over time
    "compartments": ("temperature",), "parts": ("temperature",), "stations": ("temperature",),
    "branches": ("volume_flow", "outlet_temperature"), "fans": ("speed_ratio",),
}  # fmt: skip
TOTAL_COURSES = ("heat", "volume_flow", "noise")


def _courses(spells: Sequence[Spell]) -> tuple[dict[str, Array], dict[str, Quantity]]:
    """Result path -> values over all times, and what each is; of branches that warm their air their
    outlets too."""
    each: list[dict[str, Array]] = []
    quantities: dict[str, Quantity] = {"outside.temperature": q.TEMPERATURE}
    for spell in spells:
        batch, found = spell.batch, {"outside.temperature": spell.batch.site["temperature"]}
        for table, keys in COURSES.items():
            rows = getattr(batch, table)
            for field in (field for field in rows.fields if field.name in keys):
                for name, values in zip(rows.names, rows.columns[field.name], strict=True):
                    if field.name == "outlet_temperature" and not name.startswith("slot."):
                        continue
                    path = f"{PREFIXES[table]}{name}.{field.name}"
                    found[path], quantities[path] = values, field.quantity or q.RATIO
        for field in (field for field in TOTALS if field.name in TOTAL_COURSES):
            found[f"total.{field.name}"] = batch.totals_[field.name]
            quantities[f"total.{field.name}"] = field.quantity or q.RATIO
        each.append({path: np.broadcast_to(np.real(v), len(batch)) for path, v in found.items()})
    made = {path: np.concatenate([found[path] for found in each]) for path in each[0]}
    return made, {path: quantities[path] for path in made}


def _highest(
    times: Array, courses: dict[str, Array], limits: Sequence[Limit]
) -> dict[str, tuple[float, float]]:
    """Subject -> highest value and when: of what has a limit, of all parts and compartments."""
    values = {path.removesuffix(".temperature"): own for path, own in courses.items()
              if path.endswith(".temperature")}  # fmt: skip
    values |= {item.subject: item.value for item in limits}
    known = {name: own for name, own in values.items() if np.isfinite(own).any()}
    return {name: (float(np.nanmax(own)), float(times[np.nanargmax(own)]))
            for name, own in known.items()}  # fmt: skip


def _void(case: Enclosure, spells: Sequence[Spell]) -> tuple[VoidSpell, ...]:
    """What makes numbers void, from when to when; fans in stall while another is out apart."""
    found: dict[tuple[str, str, bool], VoidSpell] = {}
    for spell in spells:
        now = spell.stage.case
        out = case.applied.failed | {name for name, fan in case.fans.items()
                                     if fan.running and not now.fans[name].running}  # fmt: skip
        aside = fan_out(spell.batch, out)
        for word, subject, runs in voids(spell.batch):
            for dip in (False, True):
                here = spell.times[runs & (aside & (word == STALL) == dip)]
                if len(here):
                    first = found.get((word, subject, dip))
                    begin = first.begin if first else float(here[0])
                    made = VoidSpell(word, subject, begin, float(here[-1]), dip)
                    found[word, subject, dip] = made
    return tuple(found.values())


def _largest(spell: Spell) -> float:
    return float(abs(spell.batch.branches.columns["mass_flow"].real).max(initial=LEAST_FLOW))


def _turns(spell: Spell, largest: float) -> Iterator[tuple[float, str]]:
    """Where air turns round by itself, and where flows ended and others came."""
    for turn in spell.stretch.turns:
        yield turn.time, "the flows there were end, and the air comes to others"
    rows = spell.batch.branches
    flows = np.broadcast_to(rows.columns["mass_flow"].real, (len(rows), len(spell.times)))
    for name, flow in zip(rows.names, flows, strict=True):
        for at in np.flatnonzero(flow[:-1] * flow[1:] < 0):
            if min(abs(flow[: at + 1]).max(), abs(flow[at + 1 :]).max()) > SEEN * largest:
                yield float(spell.times[at]), f"the air in {name} turns round"
