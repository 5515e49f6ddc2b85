"""What may be changed in a case: one table, kind -> effort and what yields its changes.

A kind yields single changes of single things. Things that are alike, so that the same change suits
all of them, are changed together as well.
"""

from __future__ import annotations

import dataclasses
import fnmatch
import itertools
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, listed, nearest
from flownet.schema.fields import NONE
from flownet.studies.choice.eligibility import stated
from flownet.studies.suggesting.steps import SingleChange, Site, singles

EFFORTS = ("setting", "filler", "mat", "hole", "place", "shutter", "fan", "second fan")
KINDS = {  # kind of change -> how it is done, one of EFFORTS
    "speed": "setting", "turn": "setting", "supply": "setting", "fan_off": "setting",
    "filler": "filler", "seal": "filler", "service": "mat", "mat": "mat", "area": "hole",
    "open_ratio": "hole", "unseal": "hole", "baffle": "hole", "clearance": "hole",
    "recirculation": "hole", "part_place": "place", "shutter": "shutter", "fan_type": "fan",
    "fan_move": "fan", "fan_add": "second fan",
}  # fmt: skip
ONE_BY_ONE = ("fan_off", "seal", "unseal", "fan_move", "fan_add")  # not for all that are alike
OF_ONE_SIZE = ("fan_type", "fan_move", "supply", "filler", "part_place")
THINGS_NAMED = 3  # things one by one


class ProposedChange(NamedTuple):
    """A change that is tried: of one thing, or the same of several."""

    kind: str
    things: tuple[str, ...]
    changes: Mapping[str, Any]  # ready for `with_changes`
    says: str
    degree: int = 0
    price: float = math.nan
    edits: Mapping[str, Any] = NONE  # what a variant cannot say: path in the file -> value
    case: Enclosure | None = None  # the case so edited

    @property
    def words(self) -> str:
        """`area of filter.intake x 1.5`."""
        return self.says.format(listed(self.things, THINGS_NAMED))

    @property
    def effort(self) -> tuple[float, ...]:
        """The less the sooner: how it is done, its price where that is known, how many, how far."""
        price = math.inf if math.isnan(self.price) else self.price
        return EFFORTS.index(KINDS[self.kind]), price, len(self.things), self.degree

    @property
    def group(self) -> tuple[Any, ...]:
        """Those that are sizes of one change."""
        path = "" if self.kind in OF_ONE_SIZE else next(iter(self.changes), "")
        return self.kind, self.things, path or self.says


# --- what no variant can say ----------------------------------------------------------------------


def _places(site: Site) -> Iterator[ProposedChange]:
    """Parts of a compartment in another one; what sits on them goes along."""
    case = site.case
    moving = [part for part in case.parts.values()
              if part.in_ in case.compartments and part.stream is None]  # fmt: skip
    for part, other in itertools.product(moving, case.compartments):
        if other != part.in_:
            parts = {**case.parts, part.name: dataclasses.replace(part, in_=other, at=None)}
            yield ProposedChange(
                "part_place", (part.path,), NONE,
                f"{{}} moved to compartment.{other}, if it can stand there",
                edits={f"{part.path}.in": other},
                case=dataclasses.replace(case, things={**case.things, "part": parts}),
            )  # fmt: skip


def _served(site: Site) -> Iterator[ProposedChange]:
    """Filters changed earlier, where it is a scenario that says how loaded they are."""
    case = site.case
    for name, entry in {part: whole for whole in site.asked for part in whole.split("+")}.items():
        changes, here = case.scenarios.get(name, NONE), site.made[stated(case, entry)]
        for path in (each for each in changes if each.endswith(".fouling")):
            places = case.places(path)
            now, *others = {here[place.path] for place in places}
            if others or now <= 1:
                continue
            less = 1 + (now - 1) / 2
            yield ProposedChange(
                "service", tuple(f"{place.kind}.{place.name}" for place in places), NONE,
                f"{{}} changed at {less:g} times the clean drop, not {now:g}",
                edits={f"scenario.{name}.{path}": less},
                case=dataclasses.replace(
                    case, scenarios={**case.scenarios, name: {**changes, path: less}}),
            )  # fmt: skip


EDITS: Mapping[str, Callable[[Site], Iterable[ProposedChange]]] = {
    "part_place": _places, "service": _served,
}  # fmt: skip


# --- all of them ----------------------------------------------------------------------------------


def candidates(
    case: Enclosure, asked: Sequence[str], keep: Sequence[str] = (), without: Sequence[str] = ()
) -> list[ProposedChange]:
    """Every change that is tried, least effort first.

    `keep`: things, keys of things or scenarios that stay, `*` in names; `without`: kinds that are
    left out. CaseError for names that are not known.
    """
    _check_kinds(without)
    locked = [part for path in keep for part in _locked(case, path)]
    plain = dict.fromkeys(stated(case, entry) for entry in asked)
    site = Site(case, {name: case.under(name) for name in plain}, asked)
    found: list[ProposedChange] = []
    for kind in KINDS.keys() - set(without):
        found += _joined(kind, singles(site, kind))
        found += EDITS[kind](site) if kind in EDITS else ()
    free = (each for each in found if not any(
        f"{path}.".startswith(f"{lock}.") for path in (*each.changes, *each.edits, *each.things)
        for lock in locked))  # fmt: skip
    return sorted(free, key=lambda each: (each.effort, each.things, each.words))


def _joined(kind: str, single: Iterable[SingleChange]) -> Iterator[ProposedChange]:
    """Single changes, and those that are alike at once."""
    groups: dict[str, list[SingleChange]] = {}
    for step in single:
        groups.setdefault(f"{step.says} {step.values}", []).append(step)
    for alike in groups.values():
        joint = len(alike) > 1 and kind not in ONE_BY_ONE
        for some in [[each] for each in alike] + [alike] * joint:
            yield ProposedChange(
                kind, tuple(step.about for step in some),
                {f"{step.about}{path}" if path.startswith(".") else path: value
                 for step in some for path, value in step.values.items()},
                some[0].says, some[0].degree, sum(step.price for step in some),
            )  # fmt: skip


def _check_kinds(without: Sequence[str]) -> None:
    for name in without:
        if name not in KINDS:
            hint = did_you_mean(nearest(name, list(KINDS)), f"known: {', '.join(KINDS)}")
            raise CaseError(Fault("without", f'no kind of change "{name}"', hint=hint))


def _locked(case: Enclosure, path: str) -> list[str]:
    """The paths that a path to be kept stands for; CaseError where it names nothing."""
    kind, _, name = path.partition(".")
    if kind == "scenario" and name.partition(".")[0] in case.scenarios:
        return [path]
    things = [thing for thing in case.things.get(kind, NONE) if fnmatch.fnmatchcase(thing, name)]
    return [f"{kind}.{thing}" for thing in things] or [place.path for place in case.places(path)]
