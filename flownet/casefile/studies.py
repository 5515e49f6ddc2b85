"""Scenarios, variants and studies of a case file: read, checked against the enclosure, frozen.

`Enclosure.studies` holds plain data: SI numbers, words, tuples and mappings.

- `sweep`: name -> {path: values, or {"low", "high"} for a range without a count}
- `tolerance`: path -> {"within", "relative", "shape", "together"}
- `choice`: name -> {"best": words, "vary": {path: values, {"low", "high"} or "any"}}
- `timeline`: name -> {"scenario", "start", "until", "inputs_csv", "events": (...)}
- `remarks`: table (`scenario.hot`) -> its tag, note and data
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import Any

from flownet.casefile.document import CHANGES, Document
from flownet.enclosure.apply import covered
from flownet.enclosure.changes import converted
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import outage_names
from flownet.enclosure.ranges import TOLERANCE, alternatives, tolerance
from flownet.enclosure.relative import unordered
from flownet.enclosure.scenarios import expand, scenario_changes
from flownet.enclosure.surroundings import SINGLE
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, brief, did_you_mean, nearest
from flownet.schema.fields import REMARKS, Group, Number, Numbers, Rows, Text, keys
from flownet.studies.choice.order import RANKING
from flownet.studies.timeline import STARTS, Happening, happenings, read_inputs

TIMELINE = ("scenario", "start", "until", "events", "inputs_csv")
EVENTS = 'such as events = [{ after = "60 s", set = { "fan.left.state" = "stopped" } }]'
Raw = Mapping[str, Any]  # as it is written


def read_studies(case: Enclosure, made: Document) -> Enclosure:
    """The enclosure with what the file says of scenarios, variants and studies.

    Faults are added to those of the document, each after its file and table.
    """
    reading = _Reading(case, made.folder)
    named = {kind: reading.changes(kind, made, sound=not made.faults) for kind in CHANGES}
    case = dataclasses.replace(case, scenarios=named["scenario"], variants=named["variant"])
    reading.case = case
    studies: dict[str, Raw] = {
        kind: reading.study(kind, made.studies[kind])
        for kind in ("sweep", "tolerance", "choice", "timeline")
        if kind in made.studies
    }
    for scenario in case.limits.scenarios:
        reading.check_scenario("limits.scenarios", scenario)
    made.faults += [f"{made.label}: {fault}" for fault in reading.faults]
    if reading.remarks:
        studies["remarks"] = MappingProxyType(reading.remarks)
    return dataclasses.replace(case, studies=MappingProxyType(studies))


class _Reading:
    """Reads tables of changes and studies; faults are noted, each after its table."""

    def __init__(self, case: Enclosure, folder: Path) -> None:
        self.case, self.folder = case, folder
        self.faults: list[str] = []
        self.remarks: dict[str, Raw] = {}

    @contextmanager
    def at(self, where: str, joint: str = ".") -> Iterator[None]:
        """Note what is refused in a block, after a place."""
        try:
            yield
        except CaseError as error:
            self.faults += [f"{where}{joint}{fault}" for fault in error.faults]

    def fault(self, where: str, text: str) -> None:
        """Note a fault at a place."""
        self.faults.append(f"{where}: {text}")

    def study(self, kind: str, raw: Raw) -> Raw:
        """All tables of a kind of study."""
        if kind == "tolerance":
            plain = self.without_remarks("", {kind: raw})[kind]
            return self.each(kind, plain, lambda path, value: tolerance(self.case, path, value))
        reader = {"sweep": self.sweep, "choice": self.choice, "timeline": self.timeline}[kind]
        named = self.without_remarks(kind, raw)
        return MappingProxyType({n: reader(f"{kind}.{n}", table) for n, table in named.items()})

    def without_remarks(self, kind: str, named: Raw) -> dict[str, dict[str, Any]]:
        """The tables without their tag, note and data, which are kept apart."""
        for name, table in named.items():
            where, said = f"{kind}.{name}" if kind else name, {}
            for key in (key for key in REMARKS if key in table):
                with self.at(f"{where}.{key}", ": "):
                    said[key] = convert(Text(free=key == "data"), table[key], file=True)
            if said:
                self.remarks[where] = MappingProxyType(said)
        return {
            name: {key: value for key, value in table.items() if key not in REMARKS}
            for name, table in named.items()
        }

    def each(self, where: str, table: Raw, read: Callable[[str, Any], Any]) -> Raw:
        """A function on every path and value of a table."""
        made: dict[str, Any] = {}
        with self.at(where):
            for path, raw in flattened(table).items():
                with self.at(where):
                    made[path] = read(path, raw)
        return MappingProxyType(made)

    def unknown(self, where: str, table: Raw, known: tuple[str, ...]) -> None:
        """Faults of keys that a table does not know."""
        for key in (key for key in table if key not in known):
            hint = did_you_mean(nearest(key, known), f"the keys are {', '.join(known)}")
            self.fault(f"{where}.{key}", f"unknown key; {hint}")

    # --- changes ---------------------------------------------------------------------------------

    def changes(self, kind: str, made: Document, *, sound: bool) -> Mapping[str, Changes]:
        """Scenarios or variants with `like` worked out and every value converted.

        `sound`: the rest of the file is, so that each can be tried by itself.
        """
        raw = self.without_remarks(kind, made.studies.get(kind, {}))
        found = _Alike(self, kind, raw).joined()
        if sound and not self.faults:
            for name, changes in found.items():
                with self.at(f"{kind}.{name}", ": "):
                    self.case.with_changes(changes)
        return found

    def converted(self, where: str, table: Raw) -> Changes:
        """Changes with every value converted."""
        return self.each(where, table, lambda p, raw: converted(self.case, p, raw, file=True))

    def check_scenario(self, where: str, scenario: str) -> None:
        """Note what is wrong with the name of a scenario."""
        with self.at(where, ": "):
            for name in expand(self.case, scenario):
                scenario_changes(self.case, name)  # the first that fails says enough

    # --- studies ---------------------------------------------------------------------------------

    def sweep(self, where: str, table: Raw) -> Raw:
        """Paths and the values to try."""
        if not table:
            self.fault(where, "names no path to vary")
        return self.each(where, table, lambda path, raw: alternatives(self.case, path, raw))

    def choice(self, where: str, table: Raw) -> Raw:
        """What counts, and paths with the values to choose from."""
        raw = table.get("best", "temperature")
        best = (raw,) if isinstance(raw, str) else raw
        if (
            not isinstance(best, (list, tuple))
            or not 1 <= len(best) <= 2
            or any(word not in RANKING for word in best)
            or len(set(best)) < len(best)
        ):
            words = ", ".join(f'"{word}"' for word in RANKING)
            self.fault(f"{where}.best", f"takes one or two of {words} (got {brief(raw)})")
            best = ()
        plain = {key: value for key, value in table.items() if key != "best"}
        if not plain:
            self.fault(where, "names no path to choose for")
        vary = self.each(
            where, plain, lambda path, raw: alternatives(self.case, path, raw, catalogue=True)
        )
        return MappingProxyType({"best": tuple(best), "vary": vary})

    def timeline(self, where: str, table: Raw) -> Raw:
        """What happens when, in a scenario."""
        self.unknown(where, table, TIMELINE)
        scenario, start = table.get("scenario", "base"), table.get("start", STARTS[0])
        place = f"{where}.scenario"
        if not isinstance(scenario, str):
            self.fault(place, f"takes the name of a scenario (got {brief(scenario)})")
        else:
            self.check_scenario(place, scenario)
            if len(expand(self.case, scenario)) > 1:
                self.fault(place, f'"{scenario}" stands for several; a timeline has one')
        if start not in STARTS:
            self.fault(f"{where}.start", f'must be one of "steady", "cold" (got {brief(start)})')
        file, until = self.inputs(f"{where}.inputs_csv", table.get("inputs_csv", ""))
        if "until" not in table and not file:
            self.fault(f"{where}.until", 'must be given; when the time ends, such as "30 min"')
        until = self.time(where, "until", table["until"]) if "until" in table else until
        events = table.get("events", ())
        if not isinstance(events, (list, tuple)) or not all(isinstance(e, Mapping) for e in events):
            self.fault(f"{where}.events", f"takes a list, {EVENTS}")
            events = ()
        made, plain = list[Happening](), list(events)
        for i, event in enumerate(events):
            if isinstance(event.get("set"), Mapping):
                with self.at(f"{where}.events.{i}.set"):
                    plain[i] = {**event, "set": flattened(event["set"])}
        with self.at(where):
            made += happenings(self.case, plain, until, file=True)
        return MappingProxyType({
            "scenario": scenario, "start": start, "until": until, "inputs_csv": file,
            "events": tuple(MappingProxyType(each._asdict()) for each in made),
        })  # fmt: skip

    def inputs(self, where: str, name: Any) -> tuple[str, float]:
        """A file of courses beside the case, read to find its faults, and its last time [s]."""
        if not isinstance(name, str):
            self.fault(where, f'takes the name of a file, such as "day.csv" (got {brief(name)})')
        elif name:
            file = str((self.folder / name).absolute())
            with self.at(where, ": "):
                read = read_inputs(self.case, file)
                return file, max((times[-1] for times, _ in read.values()), default=math.nan)
            return file, math.nan
        return "", math.nan

    def time(self, where: str, key: str, raw: Any) -> float:
        """A time in s; NaN, which compares with nothing, where it cannot be read."""
        with self.at(f"{where}.{key}", ": "):
            return float(convert(Number(q.TIME, low=0.0), raw, file=True))
        return math.nan


class _Alike:
    """Scenarios or variants, each with the changes of those it is like."""

    def __init__(self, reading: _Reading, kind: str, named: Mapping[str, Raw]) -> None:
        self.reading, self.kind = reading, kind
        self.own: dict[str, Changes] = {}
        self.likes: dict[str, tuple[str, ...]] = {}
        self.done: dict[str, Changes] = {}
        for name, table in named.items():
            where = f"{kind}.{name}"
            self.likes[name] = self._like(where, table)
            plain = {key: value for key, value in table.items() if key != "like"}
            self.own[name] = reading.converted(where, plain)
            clashes = unordered(reading.case, self.own[name])
            reading.faults += [f"{where}.{fault}" for fault in clashes]

    def joined(self) -> Mapping[str, Changes]:
        """The changes of each; where a relative one leads out of a range, its own."""
        for name in self.own:
            with self.reading.at(f"{self.kind}.{name}"):
                self._joined(name, [])
            self.done.setdefault(name, self.own[name])
        return MappingProxyType({n: MappingProxyType(dict(self.done[n])) for n in self.own})

    def _like(self, where: str, table: Raw) -> tuple[str, ...]:
        raw = table.get("like", ())
        listed = (raw,) if isinstance(raw, str) else raw
        if not isinstance(listed, (list, tuple)) or not all(isinstance(n, str) for n in listed):
            what = f"takes a name or a list of names (got {brief(raw)})"
            self.reading.fault(f"{where}.like", what)
            return ()
        return tuple(step for name in listed for step in map(str.strip, name.split("+")))

    def _joined(self, name: str, walked: list[str]) -> Changes:
        """The changes of those it is like, left to right, then its own; later wins."""
        if name in self.done:
            return self.done[name]
        if name in walked:
            circle = " -> ".join([*walked[walked.index(name) :], name])
            self.reading.fault(f"{self.kind}.{name}.like", f"a circle: {circle}")
            return {}
        made: Changes = {}
        for other in self.likes[name]:
            known = other in self.own
            more = self._joined(other, [*walked, name]) if known else self._outage(name, other)
            made = covered(self.reading.case, made, more)
        self.done[name] = covered(self.reading.case, made, self.own[name])
        return self.done[name]

    def _outage(self, name: str, other: str) -> Changes:
        """The changes of `fan.left-out`, which needs no table of its own."""
        outages = outage_names(self.reading.case)
        if self.kind == "scenario" and other in outages:
            return scenario_changes(self.reading.case, other)
        hint = did_you_mean(nearest(other, [*self.own, *outages]))
        what = Fault(f"{self.kind}.{name}.like", f'no {self.kind} "{other}"', hint=hint)
        self.reading.faults.append(what)
        return {}


# --- paths that TOML nests -----------------------------------------------------------------------


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
    if isinstance(role, Rows):  # only numbers beside its columns are values of their own
        return role.cls is None or not value.keys() <= keys(role.cls).keys()
    if isinstance(role, Group):  # a list has no path of its own; other keys have: `guard.loss`
        inner = keys(role.cls)
        return any(isinstance(inner[name].role, Numbers) for name in value if name in inner)
    return any(key in value for key in TOLERANCE)
