"""Tables with all their keys -> things; what cannot be built leaves a stand-in for its links."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Iterator
from typing import Any

from flownet.casefile.inherit import Entries, Final
from flownet.casefile.tables import FAULTY
from flownet.enclosure.branches import series
from flownet.enclosure.enclosure import Enclosure, assemble, with_ratings
from flownet.enclosure.fans import FanType
from flownet.schema.component import KINDS, Thing, excluded, exclusions
from flownet.schema.errors import CaseError
from flownet.schema.fields import Link, Number, WordList, attribute, keys

_KEY = re.compile(r"[A-Za-z0-9_]+")
_FAULT = re.compile(r"([a-z_]+)\.([A-Za-z0-9_-]+)(?:\.([A-Za-z_0-9]+))?([.:].*)", re.DOTALL)


class Builder:
    """Builds things one by one; every fault is noted once, at the place it is written."""

    def __init__(self, faults: list[str]) -> None:
        self._faults = faults
        self._finals: dict[tuple[str, str], Final] = {}
        self._known_bad: set[tuple[str, str, str]] = set()  # kind, name, key that has its fault
        self._unsound: set[tuple[str, str]] = set()  # kind and name of what is only a stand-in
        self.items: list[Thing] = []

    def add(self, final: Final) -> None:
        """Build one thing, or a stand-in with every fault that can be told."""
        cls = KINDS[final.kind]
        self._finals[final.kind, final.name] = final
        bad = {key for key, entry in final.entries.items() if entry.value is FAULTY}
        self._known_bad |= {(final.kind, final.name, key) for key in bad}
        faults = [] if final.broken else list(_missing(cls, final.entries))
        if final.broken:
            faults += excluded(cls, set(final.entries))
        elif bad or faults:
            faults += exclusions(cls, set(final.entries))
            faults += _ends(stand_in(cls, final), bad)
        else:
            try:
                self.items.append(_built(cls, final))
                return
            except CaseError as error:
                start = f"{final.path}."
                faults += [fault.removeprefix(start) for fault in error.faults]
        self._note(final, faults)
        self._unsound.add((final.kind, final.name))
        self.items.append(stand_in(cls, final))

    def _note(self, final: Final, faults: list[str]) -> None:
        for fault in faults:
            key = match[0] if (match := _KEY.match(fault)) else ""
            self._known_bad.add((final.kind, final.name, key))
            label, path = final.place(key)
            self._faults.append(f"{label}: {path}{fault[len(key) :]}")

    def enclosure(self, label: str, **rest: Any) -> Enclosure:
        """All things together; faults between them are noted where the links are written."""
        made, faults = assemble(self.items, **rest)
        self._faults += [line for fault in faults if (line := self._placed(fault, label))]
        return made

    def _placed(self, fault: str, label: str) -> str:
        match = _FAULT.fullmatch(fault)
        if match is not None:
            kind, name, key, rest = match.groups()
            final = self._finals.get((kind, name))
            if (kind, name, key) in self._known_bad:
                return ""
            if final and (kind, name) in self._unsound and key not in final.entries:
                return ""  # it is not there because of another fault
            if final is not None:
                where, path = final.place(key) if key else (final.label, final.path)
                return f"{where}: {path}{rest}"
        return f"{label}: {fault}"

    def written(self) -> Iterator[tuple[str, str]]:
        """Paths of values that stand elsewhere, and where: `fan.right.from`, `fan.left.from`."""
        for final in self._finals.values():
            for key, entry in final.entries.items():
                own = f"{final.path}.{key}"
                if entry.path != own:
                    yield own, entry.path


def _ends(item: Any, bad: set[str]) -> Iterator[str]:
    """Faults of from, to and on, which an element on another branch has not."""
    if hasattr(item, "on") and "on" not in bad:
        yield from (fault for fault in series(item) if _KEY.findall(fault)[0] not in bad)


def _built(cls: type[Thing], final: Final) -> Thing:
    item = cls(**_fields(final))
    if isinstance(item, FanType):
        with_ratings({item.name: item})  # each of them is a fan type and is checked as one
    return item


def _missing(cls: type[Thing], entries: Entries) -> Iterator[str]:
    for name, key in keys(cls).items():
        if key.default is dataclasses.MISSING and name not in entries:
            yield f"{name}: must be given; {key.doc}"


def _fields(final: Final) -> dict[str, Any]:
    """What the class of a thing is called with."""
    values = {attribute(key): entry.value for key, entry in final.entries.items()}
    given = final.own if "type" in keys(KINDS[final.kind]) else final.own - {"type"}
    return {"name": final.name, "given": given, **values}


def stand_in(cls: type[Thing], final: Final) -> Any:
    """An unchecked thing, so that links to it and from it can be checked all the same."""
    item = object.__new__(cls)
    for f in dataclasses.fields(cls):
        value = f.default
        if f.default_factory is not dataclasses.MISSING:
            value = f.default_factory()
        elif value is dataclasses.MISSING:
            value = _nothing(keys(cls)[f.name.rstrip("_")].role)
        object.__setattr__(item, f.name, value)
    object.__setattr__(item, "name", final.name)
    for key, entry in final.entries.items():
        if entry.value is not FAULTY and key != "rating":  # a rating would be built and checked
            object.__setattr__(item, attribute(key), entry.value)
    return item


def _nothing(role: Any) -> Any:
    if isinstance(role, Number):
        return math.nan
    if isinstance(role, WordList):
        return ()
    return "" if isinstance(role, Link) else None
