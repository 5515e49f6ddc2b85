"""Temperatures in time: a start, events, and when which limit is reached.

Flows are those of the temperatures of each moment, `solver.in_time`; a stretch in which nothing
jumps is integrated as one, and read out as a batch of which the variants are times.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.equations.assemble import assemble
from flownet.equations.stores import Stores
from flownet.pages.duration import duration
from flownet.results.solution import Solution
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault, did_you_mean, nearest
from flownet.solver import fixed_temperature
from flownet.solver.dividing import structure_of
from flownet.solving.attempt import attempt_of, changed, judged
from flownet.studies.spell import Now, Plan, Spell, course, felt
from flownet.studies.timeline import (
    Happening,
    Moving,
    curves,
    happenings,
    read_inputs,
    seconds,
    stages,
)
from flownet.studies.transient_result import Event, Transient

STARTS = ("steady", "cold")


def transient(
    case: Enclosure, events: str | Sequence[Mapping[str, Any]] = (), *, until: Any = None,
    scenario: str | None = None, variant: str = "base", changes: Changes | None = None,
    start: str | None = None, inputs: Mapping[str, Any] | str | Path | None = None,
) -> Transient:  # fmt: skip
    """What becomes of all temperatures in time, and when which limit is reached.

    Parameters
    ----------
    events : str or sequence of mappings
        Name of a `[timeline]` of the case, whose scenario, start and end are the defaults; or
        events such as `{"after": "60 s", "set": {"fan.left.state": "stopped"}}`, with
        `"over": "2 min"` for numbers that go to their value in a straight line.
    until : float or str
        When it ends: s, or text with a unit.
    scenario, variant, changes : as for `solve`; they hold from the start
    start : "steady", what `solve` finds before any event; "cold", all at outside temperature
    inputs : mapping, or path of a file with commas, optional
        Courses of numbers, input path -> (times [s], values SI), straight between points; a file
        begins with a line such as `time[h],outside.temperature[degC],part.psu.load`.

    Raises
    ------
    CaseError
        Unknown names or paths, values out of range, no `until`.
    NoSolution
        No steady start, or flows that turn to and fro.
    """
    argument_checks.check("transient", case, Enclosure)
    name = events if isinstance(events, str) else None
    plan: Mapping[str, Any] = timeline(case, name) if name is not None else {}
    made = changed(case, scenario or plan.get("scenario", "base"), variant, changes)
    begin, end = _ends(plan, start, until)
    own = read_inputs(made, inputs) if isinstance(inputs, (str, Path)) else inputs or {}
    if isinstance(events, str):
        happens = tuple(Happening(*(e[k] for k in Happening._fields)) for e in plan["events"])
    else:
        happens = _within(end, happenings(made, events))
    with placed(made.where):
        return march(made, happens, curves(made, own), end, begin, name)


def _within(until: float, happens: tuple[Happening, ...]) -> tuple[Happening, ...]:
    """The same; CaseError where something is asked for that would never happen."""
    what = f"must not be after the end, {duration(until)}"
    if late := [each.after for each in happens if each.after > until]:
        raise CaseError([Fault("after", what, duration(time)) for time in late])
    return happens


def _ends(plan: Mapping[str, Any], start: str | None, until: Any) -> tuple[str, float]:
    """How it starts and when it ends [s]; CaseError for what is none."""
    begin = start or plan.get("start", STARTS[0])
    if begin not in STARTS:
        raise CaseError(Fault("start", 'must be "steady" or "cold"', repr(begin)))
    if until is None and not plan:
        raise CaseError('until: must be given; when the time ends, such as "30 min"')
    end = plan["until"] if until is None else seconds(until, "until")
    if not end > 0:
        raise CaseError(Fault("until", "must be above 0 s", f"{end:g} s"))
    return begin, end


def timeline(case: Enclosure, name: str) -> Mapping[str, Any]:
    """A timeline of a case; CaseError where there is none of that name."""
    known: Mapping[str, Any] = case.studies.get("timeline", {})
    if name not in known:
        hint = f"known: {', '.join(known)}" if known else "the case has none; give events"
        raise CaseError(Fault(f"timeline.{name}", "no such timeline", hint=did_you_mean(
            nearest(name, list(known)), hint)))  # fmt: skip
    found: Mapping[str, Any] = known[name]
    return found


def march(
    case: Enclosure, events: Sequence[Happening], given: Sequence[Moving], until: float, start: str,
    name: str | None,
) -> Transient:  # fmt: skip
    """The course of a case as it is."""
    at_first = {each.path: float(each.at(np.zeros(1))[0]) for each in given}
    first, now = _begun(case.with_changes(at_first) if at_first else case, start)
    told: list[Event] = []
    spells: list[Spell] = []
    for stage in stages(case, sorted(events, key=lambda each: each.after), given, until):
        spells.append(Spell(stage, until))
        now = spells[-1].run(now)
        told += [Event(stage.begin, *each) for each in stage.told]
    return course(case, Plan(name, until, start != STARTS[0]), first, spells, told)


def _begun(case: Enclosure, start: str) -> tuple[Solution | None, Now]:
    """A steady start as `solve` finds it, or a cold one with the flows of fans that just began."""
    if start == STARTS[0]:
        model, _, found, inputs = attempt_of(case)
        stores = Stores.of(inputs, model)
        warmth, first = stores.steady(found.state), judged(inputs, model, found).select(0)
        return first, Now(warmth, felt(inputs, model, found.state), found.state)
    inputs = Inputs.of(case).by_name()
    model = assemble(inputs, structure_of(inputs))
    state = fixed_temperature.flow(model, model.at_rest(1))
    return None, Now(Stores.of(inputs, model).cold(state), felt(inputs, model, state), state)
