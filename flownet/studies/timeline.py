"""What happens when: events, ramps, given courses of inputs, as stretches in which nothing jumps.

An event sets inputs at a time, or takes numbers there in a straight line; of two that set the same,
the later one wins. A course of an input is a straight line between its points, the ends held.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.changes import converted
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import as_text
from flownet.pages.duration import duration
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault, brief, did_you_mean, listed, nearest
from flownet.schema.fields import Number
from flownet.schema.text_file import csv_lines, read_text, written_value

EVENT_KEYS = ("after", "over", "set")
STARTS = ("steady", "cold")
EVENT_TEXT = re.compile(
    r"\s*(?P<after>[^:]+?)(?:\s+over\s+(?P<over>[^:]+?))?\s*:\s*(?P<set>.+)", re.S
)
FORM = '"60 s: fan.left.state=stopped"'
STATE_WORDS = {  # of a state, of one thing and of several
    "stopped": ("stops", "stop"), "running": ("starts", "start"),
    "blanked": ("is closed", "are closed"), "open": ("is opened", "are opened"),
    "freewheeling": ("turns freely", "turn freely"), "removed": ("is taken out", "are taken out"),
}  # fmt: skip
ONE_BY_ONE_NAMED = 3  # things one by one
EXAMPLE = 'such as {"after": "60 s", "set": {"fan.left.state": "stopped"}}'
STEPPED = 50  # points of courses up to which each begins a stretch of its own


class Happening(NamedTuple):
    """Changes at a time."""

    after: float  # [s]
    over: float  # [s] in which they come about; 0: at once
    set: Changes


class Moving(NamedTuple):
    """A number that changes with time."""

    path: str
    times: Array  # (points,) s, rising
    values: Array  # SI

    def at(self, times: Array) -> Array:
        """Values at some times."""
        return np.interp(times, self.times, self.values)


class Stage(NamedTuple):
    """A stretch of time in which nothing jumps."""

    begin: float
    end: float
    case: Enclosure
    moving: tuple[Moving, ...]
    told: tuple[tuple[float, str], ...]  # what begins to happen at its beginning: over [s], words
    idle: tuple[str, ...] = ()  # what of that changes nothing

    def inputs(self) -> Any:
        """Times (k,) -> inputs of k variants, things by name."""
        base = Inputs.of(self.case).by_name()

        def at(times: Array) -> Inputs:
            if not self.moving:
                return base
            return base.changed({each.path: each.at(times) for each in self.moving}, len(times))

        return at

    @property
    def at_end(self) -> Enclosure:
        """The case as it is at the end."""
        now = {each.path: float(each.at(np.array(self.end))) for each in self.moving}
        return self.case.with_changes(now) if now else self.case

    @property
    def longest(self) -> float:
        """Of a step of the integrator, not to pass over what moves [s]."""
        gaps = [np.diff(each.times).min() for each in self.moving if len(each.times) > STEPPED]
        return float(min(gaps, default=np.inf))


def happenings(
    case: Enclosure, events: Sequence[Any], until: float, *, file: bool = False
) -> tuple[Happening, ...]:
    """Events as they are given in Python or in a `file`, or as text, checked; by time. CaseError
    with every fault."""
    made, faults = [], list[Fault]()
    for number, event in enumerate(events):
        with placed(f"events.{number}", ".", faults):
            made.append(happening(case, event, until, file=file))
    if faults := faults or list(_set_twice(case, made)):
        raise CaseError(faults)
    return tuple(sorted(made, key=lambda each: each.after))


def _set_twice(case: Enclosure, events: Sequence[Happening]) -> Iterator[Fault]:
    """Faults of what two events set at one time, whose order is not said."""
    seen: dict[tuple[float, str], int] = {}
    for number, event in enumerate(events):
        paths = [place.path for path in event.set for place in case.places(path)]
        for path in dict.fromkeys(paths):
            other = seen.setdefault((event.after, path), number)
            if other != number:
                what = f"{path} is set at {duration(event.after)} by events.{other} as well"
                yield Fault(f"events.{number}", what, hint="set it once, or at different times")


def happening(
    case: Enclosure, event: Any, until: float = math.inf, *, file: bool = False
) -> Happening:
    """One of them."""
    if isinstance(event, str):
        event, file = _taken_apart(event), True
    if not isinstance(event, Mapping):
        raise CaseError(f"takes a mapping, {EXAMPLE}, or text such as {FORM} (got {brief(event)})")
    hint = f"the keys are {', '.join(EVENT_KEYS)}"
    faults = [Fault(str(key), "unknown key", hint=did_you_mean(nearest(str(key), EVENT_KEYS), hint))
              for key in event if key not in EVENT_KEYS]  # fmt: skip
    times, changes = dict.fromkeys(EVENT_KEYS[:2], math.nan), event.get("set")
    if file and "after" not in event:
        faults.append(Fault("after", 'must be given; when it happens, such as "60 s"'))
    for key in times:
        with placed(faults=faults):
            times[key] = seconds(event.get(key, "0 s"), key, file=file)
    if times["after"] > until:
        after, end = duration(times["after"]), duration(until)
        faults.append(Fault("after", f"comes after the end, {end}", after))
    if not isinstance(changes, Mapping) or not changes:
        faults.append(Fault("set", f"takes paths and values, {EXAMPLE}"))
        changes = {}
    made: dict[str, Any] = {}
    for path, raw in changes.items():
        with placed("set", ".", faults):
            made[path] = converted(case, path, raw, file=file)
            for place in case.places(path) if times["over"] > 0 else ():
                _number(case, place.path)
    if faults:
        raise CaseError(faults)
    return Happening(**times, set=made)


def _taken_apart(text: str) -> dict[str, Any]:
    """`60 s: fan.left.state=stopped`, values as a case file has them."""
    found = EVENT_TEXT.fullmatch(text)
    pairs = [tuple(word.strip() for word in pair.partition("=")[::2])
             for pair in found["set"].split(";")] if found else []  # fmt: skip
    if found is None or not all(key and value for key, value in pairs):
        raise CaseError(f"a time and what is set then is wanted, such as {FORM} "
                        f"(got {text!r:.60})")  # fmt: skip
    paths = [path for path, _ in pairs]
    if twice := [path for path in paths if paths.count(path) > 1]:
        raise CaseError(f"{twice[0]}: stands twice")
    changes = {path: written_value(value) for path, value in pairs}
    return {"after": found["after"], "over": found["over"] or "0 s", "set": changes}


def seconds(raw: Any, where: str, *, file: bool = False) -> float:
    """A time [s], not below 0; CaseError after `where`."""
    with placed(where):
        return float(convert(Number(q.TIME, low=0.0), raw, file=file))
    raise AssertionError(where)


HEADING = re.compile(r"\s*([^\[\]]+?)\s*(?:\[\s*([^\]]*?)\s*\])?\s*")
INPUTS_HEADER = "time[h],outside.temperature[degC],part.NAME.load"


def read_inputs(case: Enclosure, file: str | Path) -> dict[str, tuple[list[float], list[float]]]:
    """Courses of inputs from a file with commas: the first column is the time, each other one an
    input path with its unit; CaseError, each fault after its line."""
    name, faults = Path(file).name, list[Fault]()
    text = read_text(Path(file), name)
    with placed(name):
        lines = [x for x in csv_lines(text) if not x.remark]
        heads = [HEADING.fullmatch(cell) for cell in lines[0].cells] if lines else []
        paths = [(found[1], found[2] or "") for found in heads if found is not None]
        if len(lines) < 2 or len(paths) < len(heads) or not heads or paths[0][0] != "time":
            raise CaseError(f"begins with a line such as {INPUTS_HEADER}, then rows of numbers")
        if twice := [path for path, _ in paths[1:] if [p for p, _ in paths].count(path) > 1]:
            raise CaseError(f"{twice[0]}: stands over two columns")
        for path, _ in paths[1:]:
            for place in case.places(path):
                _number(case, place.path)
    made: dict[str, tuple[list[float], list[float]]] = {path: ([], []) for path, _ in paths[1:]}
    for line in lines[1:]:
        with placed(f"{name}: line {line.number}", faults=faults):
            if len(line.cells) != len(paths):
                raise CaseError(f"{len(line.cells)} cells under {len(paths)} columns")
            texts = [f"{cell} {unit}".strip() for cell, (_, unit) in zip(
                line.cells, paths, strict=True)]  # fmt: skip
            time = seconds(texts[0], "time", file=True)
            if any(course[0] and not course[0][-1] < time for course in made.values()):
                raise CaseError("time: must rise from row to row")
            for (path, unit), text in zip(paths[1:], texts[1:], strict=True):
                bare = convert(Number(q.RATIO), text) if not unit else text
                made[path][0].append(time)
                made[path][1].append(float(converted(case, path, bare, file=True)))
    if faults:
        raise CaseError(faults)
    return made


def curves(case: Enclosure, given: Mapping[str, Any]) -> tuple[Moving, ...]:
    """Courses of inputs, path -> (times [s], values SI), checked; one for each path without `*`."""
    found: dict[str, Moving] = {}
    for path, (times, values) in given.items():
        with placed(path):
            when, what = (np.asarray(each, float) for each in (times, values))
            if when.shape != what.shape or when.ndim != 1 or not len(when):
                raise CaseError(f"takes as many values as times (got {what.size}, {when.size})")
            if not (np.diff(when) > 0).all():
                raise CaseError("times must rise from row to row")
        for place in case.places(path):
            _number(case, place.path)
            for value in (what.min(), what.max()):
                converted(case, place.path, float(value))
            found[place.path] = Moving(place.path, when, what)
    return tuple(found.values())


def asides(
    case: Enclosure, events: Sequence[Happening], given: Sequence[Moving], until: float,
    idle: Sequence[str],
) -> Iterator[str]:  # fmt: skip
    """What holds whatever the scenario says, what is left out, and what changes nothing."""
    courses = [f"{each.path} {_value(case, each.path, each.values.min())} to "
               f"{_value(case, each.path, each.values.max())}" for each in given]  # fmt: skip
    if courses:
        yield f"follows its course, whatever the scenario says of it: {listed(courses, 4)}"
    late = [words for event in events if event.after >= until for words in _told(case, event)]
    if late:
        yield f"comes at the end or later and is left out: {listed(late, 4)}"
    if idle:
        yield f"changes nothing, since it is so already: {listed(idle, 4)}"


def _number(case: Enclosure, path: str) -> None:
    if not isinstance(case.place(path).role, Number):
        raise CaseError(Fault(path, "is no number and cannot change gradually"))


def stages(
    case: Enclosure, events: Sequence[Happening], given: Sequence[Moving], until: float
) -> Iterator[Stage]:
    """The stretches one after the other, from 0 to `until`."""
    events = [event for event in events if event.after <= until]
    points = [t for each in given if len(each.times) <= STEPPED for t in each.times]
    ends = [t for event in events for t in (event.after, event.after + event.over)]
    breaks = sorted({0.0, until, *(t for t in (*ends, *points) if 0 < t < until)})
    moving = {each.path: each for each in given}
    for begin, end in pairwise(breaks):
        done = {each.path: float(each.values[-1]) for each in moving.values()
                if each.times[-1] <= begin}  # fmt: skip
        case = case.with_changes(done) if done else case
        moving = {path: each for path, each in moving.items() if path not in done}
        told, idle = [], list[str]()
        for event in (event for event in events if event.after == begin):
            told += [(event.over, words) for words in _told(case, event)]
            idle += _idle(case, event, moving)
            case, moving = _after(case, event, moving)
        yield Stage(begin, end, case, tuple(moving.values()), tuple(told), tuple(idle))


def _idle(case: Enclosure, event: Happening, moving: Mapping[str, Moving]) -> Iterator[str]:
    """What of an event sets what is so already."""
    after = case.with_changes(event.set)
    for path, value in event.set.items():
        paths = [each.path for each in case.places(path)]
        if not any(each in moving or as_text(case, each, case[each]) != as_text(
                after, each, after[each]) for each in paths):  # fmt: skip
            (words,) = _told(case, event._replace(set={path: value}))
            yield f"{words} after {duration(event.after)}"


def _after(
    case: Enclosure, event: Happening, moving: Mapping[str, Moving]
) -> tuple[Enclosure, dict[str, Moving]]:
    """The case, and what moves in it, once an event has begun."""
    now = {path: float(each.at(np.array(event.after))) for path, each in moving.items()}
    before = case.with_changes(now) if now else case
    after = before.with_changes(event.set)
    places = [place for path in event.set for place in case.places(path)]
    left = {path: each for path, each in moving.items()
            if path not in {place.path for place in places}}  # fmt: skip
    if not event.over:
        return after, left
    ends = np.array([event.after, event.after + event.over])
    for place in places:
        _number(case, place.path)
        values = np.array([before[place.path], after[place.path]], float)
        if np.isnan(values).any():
            raise CaseError(f"{place.path}: has no value from which it could change gradually")
        left[place.path] = Moving(place.path, ends, values)
    return before, left


def _told(case: Enclosure, event: Happening) -> Iterator[str]:
    """`fan.left stops`, `part.rectifier.load goes to 0.5 over 2 min`."""
    for path, value in event.set.items():
        names = [place.path.rpartition(".")[0] for place in case.places(path)]
        if path.endswith(".state") and str(value) in STATE_WORDS:
            yield f"{listed(names, ONE_BY_ONE_NAMED)} {STATE_WORDS[str(value)][len(names) > 1]}"
        elif event.over:
            yield f"{path} goes to {_value(case, path, value)} over {duration(event.over)}"
        else:
            yield f"{path} becomes {_value(case, path, value)}"


def _value(case: Enclosure, path: str, value: Any) -> str:
    return str(as_text(case, path, value)).removesuffix(".0")
