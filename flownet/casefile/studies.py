"""Scenarios, variants and studies of a case file: read, checked against the enclosure, frozen.

`Enclosure.studies` holds plain data: SI numbers, words, tuples and mappings.

- `sweep`: name -> {path: values, or {"low", "high"} for a range without a count}
- `tolerance`: path -> {"within", "relative", "shape", "together"}
- `choice`: name -> {"best": words, "vary": {path: values, {"low", "high"} or "any"}}
- `timeline`: name -> {"scenario", "start", "until", "events": ({"after", "over", "set"}, ...)}
- `remarks`: table (`scenario.hot`) -> its tag, note and data
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType
from typing import Any

from flownet.casefile.document import Document
from flownet.casefile.ranges import TOLERANCE, alternatives, tolerance
from flownet.enclosure.apply import covered
from flownet.enclosure.changes import converted
from flownet.enclosure.enclosure import SINGLE, Changes, Enclosure
from flownet.enclosure.outages import outage_names
from flownet.enclosure.relative import unordered
from flownet.enclosure.scenarios import expand, scenario_changes
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError
from flownet.schema.fault import brief, nearest
from flownet.schema.fields import REMARKS, Group, Number, Numbers, Table, Text, keys, roles

BEST = ("noise", "power", "temperature", "price")
STARTS = ("steady", "cold")
TIMELINE = ("scenario", "start", "until", "events")
EVENT = ("after", "over", "set")
EXAMPLE = 'such as events = [{ after = "60 s", set = { "fan.left.state" = "stopped" } }]'
Faults = list[str]


def read_studies(case: Enclosure, made: Document) -> Enclosure:
    """The enclosure with what the file says of scenarios, variants and studies.

    Faults are added to those of the document, each after its file and table.
    """
    faults: Faults = []
    sound = not made.faults
    remarks: dict[str, Any] = {}
    named = {}
    for kind in ("scenario", "variant"):
        raw = _without_remarks(kind, made.studies.get(kind, {}), remarks, faults)
        named[kind] = _changes(case, kind, raw, faults)
        if sound and not faults:
            faults += _applied(case, kind, named[kind])
    case = dataclasses.replace(case, scenarios=named["scenario"], variants=named["variant"])
    studies: dict[str, Mapping[str, Any]] = {}
    for kind in ("sweep", "tolerance", "choice", "timeline"):
        if kind in made.studies:
            studies[kind] = _study(case, kind, made.studies[kind], remarks, faults)
    faults += _limit_scenarios(case)
    made.faults += [f"{made.label}: {fault}" for fault in faults]
    if remarks:
        studies["remarks"] = MappingProxyType(remarks)
    return dataclasses.replace(case, studies=MappingProxyType(studies))


def _study(
    case: Enclosure, kind: str, raw: Mapping[str, Any], remarks: dict[str, Any], faults: Faults
) -> Mapping[str, Any]:
    if kind == "tolerance":
        plain = _without_remarks("", {kind: raw}, remarks, faults)[kind]
        return _each(kind, plain, faults, lambda path, value: tolerance(case, path, value))
    reader = {"sweep": _sweep, "choice": _choice, "timeline": _timeline}[kind]
    named = _without_remarks(kind, raw, remarks, faults)
    return MappingProxyType(
        {name: reader(case, f"{kind}.{name}", table, faults) for name, table in named.items()}
    )


def _without_remarks(
    kind: str, named: Mapping[str, Any], remarks: dict[str, Any], faults: Faults
) -> dict[str, dict[str, Any]]:
    """The tables without their tag, note and data, which are kept apart."""
    plain = {}
    for name, table in named.items():
        where = f"{kind}.{name}" if kind else name
        said = {}
        for key in REMARKS:
            if key in table:
                try:
                    said[key] = convert(Text(free=key == "data"), table[key], file=True)
                except CaseError as error:
                    faults += [f"{where}.{key}: {fault}" for fault in error.faults]
        if said:
            remarks[where] = MappingProxyType(said)
        plain[name] = {key: value for key, value in table.items() if key not in REMARKS}
    return plain


# --- changes -----------------------------------------------------------------------------------


def flattened(table: Mapping[str, Any]) -> dict[str, Any]:
    """Input path -> value: what TOML nested by its dots is joined again.

    A path with `*` comes before one without, which says more; CaseError for a path twice.
    """
    found: dict[str, Any] = {}
    for path, value in _flat("", table):
        if path in found:
            raise CaseError(f"{path}: stands twice")
        found[path] = value
    return dict(sorted(found.items(), key=lambda pair: "*" not in pair[0]))


def _flat(start: str, table: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        path = f"{start}.{key}" if start else key
        if isinstance(value, Mapping) and value and not _is_value(path, value):
            yield from _flat(path, value)
        else:
            yield path, value


def _is_value(path: str, value: Mapping[str, Any]) -> bool:
    """Whether a table is a value itself: measured rows, a group with a list of points, or a
    tolerance."""
    kind, *steps = path.split(".")
    if kind not in KINDS or not steps:
        return False
    declared = keys(KINDS[kind])
    key = steps[0] if kind in SINGLE and steps[0] in declared else (steps[1:] or [""])[0]
    role = declared[key].role if key in declared else None
    if isinstance(role, Table):  # only numbers beside its columns are values of their own
        return role.cls is None or not value.keys() <= keys(role.cls).keys()
    if isinstance(role, Group):  # a list has no path of its own; other keys have: `guard.loss`
        inner = keys(role.cls)
        return any(isinstance(inner[name].role, Numbers) for name in value if name in inner)
    return any(key in value for key in TOLERANCE)


def _changes(
    case: Enclosure, kind: str, named: Mapping[str, Mapping[str, Any]], faults: Faults
) -> Mapping[str, Changes]:
    """Scenarios or variants with `like` worked out and every value converted."""
    own: dict[str, dict[str, Any]] = {}
    likes: dict[str, tuple[str, ...]] = {}
    for name, table in named.items():
        where = f"{kind}.{name}"
        likes[name] = _like(where, table, faults)
        plain = {key: value for key, value in table.items() if key != "like"}
        own[name] = dict(_converted(case, where, plain, faults))
        faults += [f"{where}.{fault}" for fault in unordered(case, own[name])]
    done: dict[str, dict[str, Any]] = {}
    for name in named:
        try:
            _joined(case, kind, name, own, likes, done, [], faults)
        except CaseError as error:  # a relative change that leads out of a range
            faults += [f"{kind}.{name}.{fault}" for fault in error.faults]
            done[name] = own[name]
    return MappingProxyType({name: MappingProxyType(done[name]) for name in named})


def _like(where: str, table: Mapping[str, Any], faults: Faults) -> tuple[str, ...]:
    raw = table.get("like", ())
    listed = (raw,) if isinstance(raw, str) else raw
    if not isinstance(listed, (list, tuple)) or not all(isinstance(n, str) for n in listed):
        faults.append(f"{where}.like: takes a name or a list of names (got {brief(raw)})")
        return ()
    return tuple(step for name in listed for step in map(str.strip, name.split("+")))


def _converted(
    case: Enclosure, where: str, table: Mapping[str, Any], faults: Faults
) -> Mapping[str, Any]:
    return _each(where, table, faults, lambda path, raw: converted(case, path, raw, file=True))


def _each(
    where: str, table: Mapping[str, Any], faults: Faults, read: Callable[[str, Any], Any]
) -> Mapping[str, Any]:
    """A function on every path and value of a table; faults are noted after `where`."""
    made: dict[str, Any] = {}
    try:
        flat = flattened(table)
    except CaseError as error:
        faults += [f"{where}.{fault}" for fault in error.faults]
        return made
    for path, raw in flat.items():
        try:
            made[path] = read(path, raw)
        except CaseError as error:
            faults += [f"{where}.{fault}" for fault in error.faults]
    return MappingProxyType(made)


def _joined(
    case: Enclosure,
    kind: str,
    name: str,
    own: Mapping[str, dict[str, Any]],
    likes: Mapping[str, tuple[str, ...]],
    done: dict[str, dict[str, Any]],
    walked: list[str],
    faults: Faults,
) -> dict[str, Any]:
    """The changes of those it is like, left to right, then its own; later wins."""
    if name in done:
        return done[name]
    if name in walked:
        circle = [*walked[walked.index(name) :], name]
        faults.append(f"{kind}.{name}.like: a circle: {' -> '.join(circle)}")
        return {}
    made: dict[str, Any] = {}
    for other in likes[name]:
        if other in own:
            more = _joined(case, kind, other, own, likes, done, [*walked, name], faults)
        else:
            more = _outage(case, kind, name, other, list(own), faults)
        made = covered(case, made, more)
    done[name] = covered(case, made, own[name])
    return done[name]


def _outage(
    case: Enclosure, kind: str, name: str, other: str, known: list[str], faults: Faults
) -> dict[str, Any]:
    """The changes of `fan.left-out`, which needs no table of its own."""
    outages = outage_names(case)
    if kind == "scenario" and other in outages:
        return scenario_changes(case, other)
    close = nearest(other, [*known, *outages])
    hint = f'; did you mean "{close}"?' if close else ""
    faults.append(f'{kind}.{name}.like: no {kind} "{other}"{hint}')
    return {}


def _applied(case: Enclosure, kind: str, named: Mapping[str, Changes]) -> Iterator[str]:
    """What goes wrong when a scenario or variant is applied by itself."""
    for name, changes in named.items():
        try:
            case.with_changes(changes)
        except CaseError as error:
            yield from (f"{kind}.{name}: {fault}" for fault in error.faults)


def _limit_scenarios(case: Enclosure) -> Iterator[str]:
    for scenario in case.limits.scenarios:
        yield from (f"limits.scenarios: {fault}" for fault in _scenario_faults(case, scenario))


def _scenario_faults(case: Enclosure, scenario: str) -> Iterator[str]:
    try:
        for name in expand(case, scenario):
            scenario_changes(case, name)  # the first that fails says enough
    except CaseError as error:
        yield from error.faults


# --- studies -----------------------------------------------------------------------------------


def _sweep(
    case: Enclosure, where: str, table: Mapping[str, Any], faults: Faults
) -> Mapping[str, Any]:
    if not table:
        faults.append(f"{where}: names no path to vary")
    return _each(where, table, faults, lambda path, raw: alternatives(case, path, raw))


def _choice(
    case: Enclosure, where: str, table: Mapping[str, Any], faults: Faults
) -> Mapping[str, Any]:
    raw = table.get("best", "temperature")
    best = (raw,) if isinstance(raw, str) else raw
    if (
        not isinstance(best, (list, tuple))
        or not 1 <= len(best) <= 2
        or any(word not in BEST for word in best)
        or len(set(best)) < len(best)
    ):
        words = ", ".join(f'"{word}"' for word in BEST)
        faults.append(f"{where}.best: takes one or two of {words} (got {brief(raw)})")
        best = ()
    plain = {key: value for key, value in table.items() if key != "best"}
    if not plain:
        faults.append(f"{where}: names no path to choose for")
    vary = _each(where, plain, faults, lambda path, v: alternatives(case, path, v, catalogue=True))
    return MappingProxyType({"best": tuple(best), "vary": vary})


def _timeline(
    case: Enclosure, where: str, table: Mapping[str, Any], faults: Faults
) -> Mapping[str, Any]:
    faults += _unknown(where, table, TIMELINE)
    scenario, start = table.get("scenario", "base"), table.get("start", STARTS[0])
    if not isinstance(scenario, str):
        faults.append(f"{where}.scenario: takes the name of a scenario (got {brief(scenario)})")
    else:
        faults += [f"{where}.scenario: {fault}" for fault in _scenario_faults(case, scenario)]
        if len(expand(case, scenario)) > 1:
            faults.append(f'{where}.scenario: "{scenario}" stands for several; a timeline has one')
    if start not in STARTS:
        faults.append(f'{where}.start: must be one of "steady", "cold" (got {brief(start)})')
    if "until" not in table:
        faults.append(f'{where}.until: must be given; when the time ends, such as "30 min"')
    until = _time(where, "until", table["until"], faults) if "until" in table else math.nan
    events = table.get("events", ())
    if not isinstance(events, (list, tuple)) or not all(isinstance(e, Mapping) for e in events):
        faults.append(f"{where}.events: takes a list, {EXAMPLE}")
        events = ()
    made = tuple(
        _event(case, f"{where}.events.{number}", event, until, faults)
        for number, event in enumerate(events)
    )
    return MappingProxyType({"scenario": scenario, "start": start, "until": until, "events": made})


def _event(
    case: Enclosure, where: str, event: Mapping[str, Any], until: float, faults: Faults
) -> Mapping[str, Any]:
    faults += _unknown(where, event, EVENT)
    if "after" not in event:
        faults.append(f'{where}.after: must be given; when it happens, such as "60 s"')
    after = _time(where, "after", event.get("after", "0 s"), faults)
    over = _time(where, "over", event.get("over", "0 s"), faults)
    if after > until:
        faults.append(f"{where}.after: comes after the end, {until:g} s (got {after:g} s)")
    changes = event.get("set", {})
    if not isinstance(changes, Mapping) or not changes:
        faults.append(f"{where}.set: takes paths and values; {EXAMPLE}")
        changes = {}
    made = _converted(case, f"{where}.set", changes, faults)
    for path in made if over > 0 else ():
        place = case.places(path)[0]
        if not isinstance(roles(KINDS[place.kind]).get(place.key), Number):
            faults.append(f"{where}.over: {path} is no number and cannot change gradually")
    return MappingProxyType({"after": after, "over": over, "set": made})


def _time(where: str, key: str, raw: Any, faults: Faults) -> float:
    """A time in s; NaN, which compares with nothing, where it cannot be read."""
    try:
        return float(convert(Number(q.TIME, low=0.0), raw, file=True))
    except CaseError as error:
        faults += [f"{where}.{key}: {fault}" for fault in error.faults]
        return math.nan


def _unknown(where: str, table: Mapping[str, Any], known: tuple[str, ...]) -> Iterator[str]:
    for key in table:
        if key not in known:
            close = nearest(key, list(known))
            hint = f'did you mean "{close}"?' if close else f"the keys are {', '.join(known)}"
            yield f"{where}.{key}: unknown key; {hint}"
