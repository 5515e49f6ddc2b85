"""Which fan types "any" stands for at a place: those that its supply and its shaft allow.

Frames are not compared: where the design is open, a hole may be cut anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from types import MappingProxyType
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure, Place
from flownet.schema.errors import CaseError
from flownet.schema.fault import listed
from flownet.studies.fan_choice.reasons import KINDS, Places, Reason, unfit

LOOKED_AT = {"supply": ("supply",), "shaft": ("direction",)}  # reason -> keys of a fan it rests on


class Unfit(NamedTuple):
    """A type that a place of "any" cannot use, so that it was not tried."""

    path: str
    type: str
    reasons: tuple[Reason, ...]

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        return {"path": self.path, "type": self.type,
                "reasons": [reason.to_dict() for reason in self.reasons]}  # fmt: skip


class Fitting:
    """What every "any" of a choice goes by: the case, its scenarios, and what varies besides."""

    def __init__(self, case: Enclosure, varied: Iterable[Place], asked: Sequence[str]) -> None:
        self.case, self.varied = case, frozenset(varied)
        names = dict.fromkeys(stated(case, entry) for entry in asked)
        self.made = MappingProxyType({name: case.under(name) for name in names or ("base",)})

    def unfit(self, path: str, names: Sequence[str]) -> Iterator[Unfit]:
        """Types that a fan of this path could not use where it runs, each with every reason."""
        fans = [place.name for place in self.case.places(path) if self._runs(place.name)]
        for type_ in names:
            found: list[Reason] = []
            for name in fans:
                place = Places(self.case, (self.case.fans[name],), self.made, "any")
                kinds = self._kinds(name)
                found += [each for each in unfit(place, type_) if each.kind in kinds]
            if found:
                yield Unfit(path, type_, tuple(found))

    def _runs(self, name: str) -> bool:
        """Whether a fan can run in some combination or scenario."""
        cases = (self.case, *self.made.values())
        return Place("fan", name, "state") in self.varied or any(
            each.fans[name].state != "blanked" for each in cases)  # fmt: skip

    def _kinds(self, name: str) -> set[str]:
        """The reasons that do not rest on what the choice varies as well."""
        fed = any(place.kind == "supply" for place in self.varied)
        return {
            kind for kind, keys in LOOKED_AT.items()
            if not (kind == "supply" and fed)
            and not any(Place("fan", name, key) in self.varied for key in keys)
        }  # fmt: skip


def kept(where: str, names: Sequence[str], out: Sequence[Unfit]) -> tuple[str, ...]:
    """The types that are left; CaseError where there are none."""
    barred = {item.type for item in out}
    found = tuple(name for name in names if name not in barred)
    if not found:
        raise CaseError(
            f'{where}: "any" of {len(names)} types, and none can be used there '
            f"({counted(out)}); such as {out[0].type}: {out[0].reasons[0].message()}; give a "
            "catalogue with types for this supply and shaft, or list the types"
        )
    return found


def counted(out: Sequence[Unfit]) -> str:
    """`39 supply, 1 shaft`: by the first reason of each."""
    kinds = [item.reasons[0].kind for item in out]
    return ", ".join(f"{kinds.count(kind)} {KINDS[kind]}" for kind in KINDS if kind in kinds)


def sentence(out: Sequence[Unfit]) -> str:
    """What was not tried, of all places that are alike in it."""
    groups: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for path in dict.fromkeys(item.path for item in out):
        own = [item for item in out if item.path == path]
        key = tuple((item.type, item.reasons[0].kind) for item in own)
        groups.setdefault(key, []).append(path.removesuffix(".type"))
    told = []
    for key, paths in groups.items():
        own = [item for item in out if item.path == f"{paths[0]}.type"]
        verb = "s are" if len(key) > 1 else " is"
        told.append(f"{len(key)} type{verb} not tried at {listed(paths)} ({counted(own)})")
    return "; ".join(told)


def stated(case: Enclosure, entry: str) -> str:
    """A scenario without its outages, which change no supply that is there."""
    parts = [part.strip() for part in entry.split("+")]
    return "+".join(part for part in parts if part in case.scenarios) or "base"
