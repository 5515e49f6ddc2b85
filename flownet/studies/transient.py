"""Temperatures in time: a start, events, and when which limit is reached.

Flows are those of the temperatures of each moment, `solver.in_time`; a stretch in which nothing
jumps is integrated as one, and read out as a batch of which the variants are times.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.equations.assemble import assemble
from flownet.equations.stores import Stores
from flownet.results.solution import Solution
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError, NoSolution, placed
from flownet.schema.fault import Fault, did_you_mean, listed, nearest
from flownet.solver import fixed_temperature
from flownet.solver.dividing import structure_of
from flownet.solver.switching import FAN_LAG
from flownet.solving.attempt import attempt_of, changed, judged
from flownet.studies.spell import Now, Plan, Spell, course, felt
from flownet.studies.timeline import (
    STARTS,
    STATE_WORDS,
    Happening,
    Moving,
    asides,
    curves,
    happenings,
    read_inputs,
    seconds,
    stages,
)
from flownet.studies.transient_result import Event, Transient

MOST_SWITCHES = 1000  # of fans in one course: our own choice
ENDLESS = (
    "no course found after {:.4g} s: fan.{} switches to and fro without end, by {}; give its "
    "speed_control a hysteresis, or what it follows a heat_capacity"
)


def transient(
    case: Enclosure, events: str | Sequence[Mapping[str, Any] | str] = (), *, until: Any = None,
    scenario: str | None = None, variant: str = "base", changes: Changes | None = None,
    start: str | None = None, inputs: Mapping[str, Any] | str | Path | None = None,
) -> Transient:  # fmt: skip
    """What becomes of all temperatures in time, and when which limit is reached.

    Parameters
    ----------
    events : str or sequence of mappings or str
        Name of a `[timeline]` of the case, whose scenario, start and end are the defaults; or
        events such as `{"after": "60 s", "set": {"fan.left.state": "stopped"}}`, with
        `"over": "2 min"` for numbers that go to their value in a straight line; or as text,
        `["60 s: fan.left.state=stopped"]`.
    until : float or str
        When it ends: s, or text with a unit. Default: as the timeline says, or where `inputs` end.
    scenario, variant, changes : as for `solve`; they hold from the start
    start : "steady", what `solve` finds before any event; "cold", all at outside temperature
    inputs : mapping, or path of a file with commas, optional
        Courses of numbers, input path -> (times [s], values SI), straight between points; a file
        begins with a line such as `time[h],outside.temperature[degC],part.psu.load`.

    Raises CaseError for unknown names or paths, values out of range, no `until`; NoSolution without
    a steady start, or where flows turn to and fro.
    """
    argument_checks.check("transient", case, Enclosure)
    name = events if isinstance(events, str) else None
    plan: Mapping[str, Any] = timeline(case, name) if name is not None else {}
    made = changed(case, scenario or plan.get("scenario", "base"), variant, changes)
    given = (plan.get("inputs_csv") or None) if inputs is None else inputs
    own = read_inputs(made, given) if isinstance(given, (str, Path)) else given or {}
    begin, end = _ends(plan, start, until, own)
    if isinstance(events, str):
        happens = tuple(Happening(**event) for event in plan["events"])
    else:
        happens = happenings(made, events, end)
    with placed(made.where):
        moving = curves(made, own)
    return march(made, happens, moving, end, begin, name)


def _ends(
    plan: Mapping[str, Any], start: str | None, until: Any, inputs: Mapping[str, Any]
) -> tuple[str, float]:
    """How it starts and when it ends [s]; CaseError for what is none."""
    begin = start or plan.get("start", STARTS[0])
    if begin not in STARTS:
        raise CaseError(Fault("start", 'must be "steady" or "cold"', repr(begin)))
    last = max((times[-1] for times, _ in inputs.values() if len(times)), default=None)
    until = plan.get("until", last) if until is None else until
    if until is None:
        raise CaseError('until: must be given; when the time ends, such as "30 min"')
    end = seconds(until, "until")
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
    """The course of a case as it is; errors name its file."""
    at_first = {each.path: float(each.at(np.zeros(1))[0]) for each in given}
    begin = _begun(case.with_changes(at_first) if at_first else case, start)
    return onward(case, begin, events, given, Plan(name, until, start != STARTS[0]))


def onward(
    case: Enclosure, start: tuple[Solution | None, Now], events: Sequence[Happening],
    given: Sequence[Moving], plan: Plan, to_first: bool = False,
) -> Transient:  # fmt: skip
    """The same from a start that is there. `to_first`: up to a limit that is broken."""
    (first, now), until = start, plan.until
    told: list[Event] = []
    spells, idle = list[Spell](), list[str]()
    with placed(case.where):
        for stage in stages(case, sorted(events, key=lambda each: each.after), given, until):
            told += [Event(stage.begin, *each) for each in stage.told]
            begin, idle = stage.begin, [*idle, *stage.idle]
            while begin < stage.end and not (spells and spells[-1].decided):
                spells.append(Spell(stage._replace(begin=begin), until, to_first))
                now = spells[-1].run(now)
                begin = spells[-1].end
                told += switched(spells)
    more = tuple(asides(case, events, given, until, idle))
    return course(case, plan, first, spells, told, more)


def switched(spells: Sequence[Spell]) -> Iterator[Event]:
    """`fan.rear starts as compartment.box asks`, of the last spell; NoSolution where a fan switches
    without end."""
    made: dict[tuple[float, str, str, str], list[str]] = {}
    for switch in spells[-1].switches:
        before = [each for spell in spells[-3:] for each in spell.switches
                  if each.fan == switch.fan and abs(switch.time - each.time) < FAN_LAG]  # fmt: skip
        if len({each.speeds for each in before}) > 1:
            raise NoSolution(ENDLESS.format(*switch[:3]))
        speed = switch.speeds[1]
        word = "stopped" if not speed else "" if switch.speeds[0] else "running"
        made.setdefault((switch.time, word, f"{speed:.3g}", switch.by), []).append(switch.fan)
    for (time, word, ratio, by), fans in made.items():
        names, several = listed([f"fan.{name}" for name in fans], 3), len(fans) > 1
        verb = STATE_WORDS[word][several] if word else f"go{'es' * (not several)} to speed {ratio}"
        yield Event(time, 0.0, f"{names} {verb} as {by} asks")
    if sum(len(spell.switches) for spell in spells) > MOST_SWITCHES:
        raise NoSolution(f"fans switch more than {MOST_SWITCHES} times; give their speed_control a "
                         "larger hysteresis, or look at a shorter time")  # fmt: skip


def _begun(case: Enclosure, start: str) -> tuple[Solution | None, Now]:
    """A steady start, or a cold one with the flows of fans that just began."""
    if start == STARTS[0]:
        return steady_start(case)
    inputs = Inputs.of(case).by_name()
    model = assemble(inputs, structure_of(inputs))
    state = fixed_temperature.flow(model, model.at_rest(1))
    return None, Now(Stores.of(inputs, model).cold(state), felt(inputs, model, state), state)


def steady_start(case: Enclosure) -> tuple[Solution, Now]:
    """As `solve` finds it."""
    try:
        model, _, found, inputs = attempt_of(case)
    except NoSolution as error:
        raise NoSolution(f'{error}; or start = "cold", which needs no steady state') from None
    warmth = Stores.of(inputs, model).steady(found.state)
    first = judged(inputs, model, found).select(0)
    return first, Now(warmth, felt(inputs, model, found.state), found.state)
