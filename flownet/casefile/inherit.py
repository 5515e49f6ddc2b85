"""`like`, `copies`, lists in `in` and `type` worked out: every thing with all its keys."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from flownet.casefile.document import TYPES
from flownet.casefile.tables import FAULTY, Entry, Own, thing_class
from flownet.enclosure.contents import taken_back
from flownet.schema.component import Thing
from flownet.schema.fault import Fault, did_you_mean, nearest
from flownet.schema.fields import REMARKS, Group, Link, Role, WordList, keys

Entries = Mapping[str, Entry]
_COPY = re.compile(r"(.+)-([1-9][0-9]{0,3})")
_NOT_ALIKE = ("tag",)  # a drawing designation is unique


@dataclass(frozen=True)
class Whole:
    """A table with what it takes over."""

    entries: Entries
    copies: int | None = None
    pitch: tuple[float, float] | None = None
    hosts: tuple[str, ...] = ()
    broken: bool = False  # what it takes over is not there; its fault is noted

    @property
    def count(self) -> int | None:
        """How many copies it stands for; None for itself."""
        return len(self.hosts) or self.copies


@dataclass(frozen=True)
class Final:
    """A thing as it will be built: all its keys, and which of them its type gives."""

    kind: str
    name: str
    entries: Entries
    own: frozenset[str]
    label: str
    template: str = ""  # path of the table it is an unchanged copy of
    broken: bool = False  # keys may be missing because of a fault that is noted

    @property
    def path(self) -> str:
        """`fan.left`, or the kind alone where there is only one."""
        return f"{self.kind}.{self.name}" if self.name else self.kind

    def place(self, key: str) -> tuple[str, str]:
        """File and path at which a key is written, or would be."""
        entry = self.entries.get(key)
        if entry is not None:
            return entry.label, entry.path
        return self.label, f"{self.template or self.path}.{key}"


class Heirs:
    """Works out what tables take over from one another, once each; notes faults."""

    def __init__(self, tables: Mapping[tuple[str, str], Own], faults: list[str]) -> None:
        self._tables = tables
        self._faults = faults
        self._done: dict[tuple[str, str], Whole] = {}
        self._open: list[tuple[str, str]] = []  # being worked out, to find circles

    def things(self) -> Iterator[Final]:
        """Every thing, copies written out, in the order of the file."""
        for (kind, name), own in self._tables.items():
            if kind in TYPES or self._template(kind, name) is not None:
                continue
            whole = self._whole(kind, name)
            if whole.count is None:
                if own.pitch is not None:
                    self._fault(own, "pitch: moves copies; write copies = ... beside it")
                yield self._final(own, name, whole)
                continue
            for number in range(1, whole.count + 1):
                copy = f"{name}-{number}"
                changed = self._tables.get((kind, copy))
                template = "" if changed else own.section.path
                yield self._final(changed or own, copy, self._whole(kind, copy), template)

    def types(self) -> Iterator[tuple[Own, Entries]]:
        """Every type that is no fan type, with what it takes over."""
        for (kind, name), own in self._tables.items():
            if kind in TYPES:
                yield own, self._whole(kind, name).entries

    # --- one table -----------------------------------------------------------------------------

    def _final(self, own: Own, name: str, whole: Whole, template: str = "") -> Final:
        kind, entries, broken = own.section.kind, whole.entries, whole.broken
        typed = entries.get("type") if f"{kind}_type" in TYPES else None
        below = None if typed is None or typed.value is FAULTY else self._type(kind, typed)
        if below is not None:
            entries = overlaid(thing_class(kind), below, entries)
        broken = broken or (typed is not None and below is None)
        given = frozenset(whole.entries)
        return Final(kind, name, entries, given, own.section.label, template, broken)

    def _type(self, kind: str, typed: Entry) -> Entries | None:
        if (f"{kind}_type", typed.value) not in self._tables:
            kinds = (f"{kind}_type", *(("sink_type",) if kind == "part" else ()))
            known = [name for k, name in self._tables if k in kinds]
            hint = did_you_mean(nearest(typed.value, known), f"write [{kind}_type.{typed.value}]")
            what = f'no {kind} type "{typed.value}"'
            self._faults.append(Fault(f"{typed.label}: {typed.path}", what, hint=hint))
            return None
        found = self._whole(f"{kind}_type", typed.value).entries
        return {key: entry for key, entry in found.items() if key not in REMARKS}

    def _whole(self, kind: str, name: str) -> Whole:
        here = (kind, name)
        if here not in self._done:
            self._open.append(here)
            self._done[here] = self._worked_out(kind, name)
            self._open.pop()
        return self._done[here]

    def _worked_out(self, kind: str, name: str) -> Whole:
        template = self._template(kind, name)
        whole = self._merged(kind, name, template)
        if template is None:
            return whole
        return dataclasses.replace(whole, entries=self._paired(kind, template, whole.entries))

    def _merged(self, kind: str, name: str, template: tuple[str, int] | None) -> Whole:
        own = self._tables.get((kind, name))
        base = Whole({})
        if template is not None:
            base = self._copy(kind, *template)
        if own is None:
            return base
        if template is not None and own.several:
            self._fault(own, "copies: a copy has no copies of its own")
        if own.like is not None:
            other = self._like(own)
            alike = {key: e for key, e in other.entries.items() if key not in _NOT_ALIKE}
            merged = overlaid(thing_class(kind), base.entries, alike)
            base = dataclasses.replace(other, entries=merged, broken=other.broken or base.broken)
        entries = overlaid(thing_class(kind), base.entries, own.entries)
        copies = own.copies if own.copies is not None else base.copies
        hosts = own.hosts or (() if "in" in own.entries else base.hosts)
        broken = base.broken or own.broken
        if template is not None:
            return Whole(entries, broken=broken)
        return Whole(entries, copies, own.pitch or base.pitch, hosts, broken)

    def _like(self, own: Own) -> Whole:
        kind, name = own.section.kind, own.section.name
        target = (kind, str(own.like))
        if target in self._open:
            walked = [n for _, n in self._open[self._open.index(target) :]]
            first = walked.index(min(walked))
            circle = [*walked[first:], *walked[:first], min(walked)]
            where = self._tables.get((kind, circle[0]), own)
            self._fault(where, f"like: a circle: {' -> '.join(c or kind for c in circle)}")
            return Whole({}, broken=True)
        if target not in self._tables and self._template(*target) is None:
            known = [n for k, n in self._tables if k == kind and n != name]
            hint = did_you_mean(nearest(str(own.like), known))
            self._fault(own, Fault("like", f'no {kind} "{own.like}"', hint=hint))
            return Whole({}, broken=True)
        return self._whole(*target)

    def _template(self, kind: str, name: str) -> tuple[str, int] | None:
        """The table that a name is a copy of, and the number of the copy."""
        match = _COPY.fullmatch(name)
        if match is None or (kind, match[1]) not in self._tables or kind in TYPES:
            return None
        here = (kind, match[1])
        if here in self._open:  # it is asked for by what it takes over: only its own words count
            own = self._tables[here]
            count = len(own.hosts) or own.copies
        else:
            count = self._whole(*here).count
        return (match[1], int(match[2])) if int(match[2]) <= (count or 0) else None

    def _copy(self, kind: str, name: str, number: int) -> Whole:
        if (kind, name) in self._open:
            own = self._tables[kind, name]
            walked = [n for _, n in self._open[self._open.index((kind, name)) :]]
            self._fault(own, f"like: a circle: {' -> '.join([*walked, name])}")
            return Whole({}, broken=True)
        whole = self._whole(kind, name)
        entries = dict(whole.entries)
        if whole.pitch is not None:
            entries = moved(entries, number - 1, whole.pitch)
        if whole.hosts:
            section = self._tables[kind, name].section
            place = Entry(whole.hosts[number - 1], section.label, f"{section.path}.in")
            entries["in"] = place
        return Whole(entries, broken=whole.broken)

    def _paired(self, kind: str, template: tuple[str, int], entries: Entries) -> Entries:
        """Of a copy: what it refers to, if that has as many copies, is the copy of its number."""
        if (kind, template[0]) in self._open:
            return entries
        declared = keys(thing_class(kind))
        return {
            key: self._one_paired(kind, template, declared[key].role, entry)
            if key in declared and entry.value is not FAULTY else entry
            for key, entry in entries.items()
        }  # fmt: skip

    def _one_paired(self, kind: str, template: tuple[str, int], role: Role, entry: Entry) -> Entry:
        count, value = self._whole(kind, template[0]).count, entry.value
        for other in _named(role, value):
            place = other if "." in other else f"compartment.{other}"
            target = (place.partition(".")[0], place.partition(".")[2])
            if target not in self._tables or target[0] in TYPES:
                continue
            there = self._whole(*target).count
            if there is not None and there != count:
                what = (
                    f"{other} has {there} copies, {kind}.{template[0]} has {count}; give both the "
                    f"same number, or name one of them, such as {other}-1"
                )
                if (fault := f"{entry.label}: {entry.path}: {what}") not in self._faults:
                    self._faults.append(fault)
                return entry._replace(value=FAULTY)
            if there is not None:
                value = _renamed(role, value, other, f"{other}-{template[1]}")
        return entry._replace(value=value)

    def _fault(self, own: Own, text: str) -> None:
        self._faults.append(f"{own.section.label}: {own.section.path}.{text}")


def _named(role: Role, value: Any) -> tuple[str, ...]:
    """What a value refers to: paths, or names of compartments."""
    if isinstance(role, Link) and isinstance(value, str):
        single = role.kinds[0] if len(role.kinds) == 1 else ""
        return (value if not single or "." in value else f"{single}.{value}",)
    if isinstance(role, WordList) and not role.words:
        return tuple(value)
    return (value.by,) if isinstance(role, Group) and hasattr(value, "by") else ()


def _renamed(role: Role, value: Any, old: str, new: str) -> Any:
    if isinstance(role, WordList):
        return tuple(new if word == old else word for word in value)
    if isinstance(role, Group):
        return dataclasses.replace(value, by=new)
    return new if "." in value or "." not in new else new.partition(".")[2]


def overlaid(cls: type[Thing], below: Entries, above: Entries) -> dict[str, Entry]:
    """The keys of one table over those of another; a key takes back those it excludes."""
    gone = taken_back(cls, above)
    kept = {key: entry for key, entry in below.items() if key not in gone}
    return kept | dict(above)


def moved(entries: Entries, steps: int, pitch: tuple[float, float]) -> dict[str, Entry]:
    """The keys of a copy, `steps` times the pitch further."""
    across, along = steps * pitch[0], steps * pitch[1]

    def shift(value: Any) -> Any:
        return (value[0] + across, value[1] + along, *value[2:])

    made = dict(entries)
    for key in ("at", "outline", "route"):
        entry = made.get(key)
        if entry is not None and entry.value is not FAULTY and entry.value is not None:
            value = tuple(map(shift, entry.value)) if key == "route" else shift(entry.value)
            made[key] = entry._replace(value=value)
    return made
