"""What may be changed in a case: one table, kind -> effort and what yields its changes.

A kind yields single changes of single things. Things that are alike, so that the same change suits
all of them, are changed together as well.
"""

from __future__ import annotations

import dataclasses
import fnmatch
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from types import MappingProxyType
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import as_text
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, listed, nearest
from flownet.schema.fields import NONE
from flownet.studies.choice.eligibility import stated
from flownet.studies.suggesting import steps
from flownet.studies.suggesting.steps import SingleChange, Site

EFFORTS = ("setting", "filler", "mat", "hole", "place", "shutter", "fan", "second fan")
THINGS_NAMED = 3  # things one by one
PLACED, SERVED = "part_place", "service"  # the kinds that change what no variant can


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
        return EFFORTS.index(KINDS[self.kind].effort), price, len(self.things), self.degree

    @property
    def group(self) -> tuple[Any, ...]:
        """Those that are sizes of one change."""
        sized = self.kind not in ("fan_type", "fan_move", "supply", "filler", PLACED)
        what = next(iter(self.changes), self.says) if sized else self.says
        return self.kind, self.things, what


class Kind(NamedTuple):
    """A sort of change."""

    effort: str  # one of EFFORTS
    steps: tuple[Callable[[Site], Iterable[SingleChange]], ...] = ()
    joint: bool = True  # also for all that are alike


# --- what no variant can say ----------------------------------------------------------------------


def _places(site: Site) -> Iterator[ProposedChange]:
    """Parts of a compartment in another one; what sits on them goes along."""
    case = site.case
    for name, part in case.parts.items():
        if part.in_ not in case.compartments or part.stream is not None:
            continue
        for other in case.compartments:
            if other != part.in_:
                moved = dataclasses.replace(part, in_=other, at=None)
                parts = MappingProxyType({**case.parts, name: moved})
                things = MappingProxyType({**case.things, "part": parts})
                yield ProposedChange(
                    PLACED, (part.path,), NONE,
                    f"{{}} moved to compartment.{other}, if it can stand there",
                    edits={f"{part.path}.in": other},
                    case=dataclasses.replace(case, things=things),
                )  # fmt: skip


def _served(site: Site) -> Iterator[ProposedChange]:
    """Filters changed earlier, where it is a scenario that says how loaded they are."""
    case = site.case
    entries = {part: whole for whole in site.asked for part in whole.split("+")}
    for name, entry in entries.items():
        changes = case.scenarios.get(name, NONE)
        for path in (each for each in changes if each.endswith(".fouling")):
            places = case.places(path)
            made_so = site.made[stated(case, entry)]
            now = {made_so.things[at.kind][at.name].fouling for at in places}
            if len(now) != 1 or (value := now.pop()) <= 1:
                continue
            less = 1 + (value - 1) / 2
            made = {**case.scenarios, name: MappingProxyType({**changes, path: less})}
            things = tuple(f"{place.kind}.{place.name}" for place in places)
            yield ProposedChange(
                SERVED, things, NONE,
                f"{{}} changed at {less:g} times the clean drop, not {value:g}",
                edits={f"scenario.{name}.{path}": less},
                case=dataclasses.replace(case, scenarios=MappingProxyType(made)),
            )  # fmt: skip


EDITS: Mapping[str, Callable[[Site], Iterable[ProposedChange]]] = {PLACED: _places, SERVED: _served}
_larger = partial(steps.sized, factors=steps.LARGER)
_blanked = partial(steps.state, to="blanked")
KINDS = {
    "speed": Kind("setting", (steps.speed,)), "turn": Kind("setting", (steps.turn,)),
    "supply": Kind("setting", (steps.supply,)),
    "fan_off": Kind("setting", (partial(
        _blanked, kinds=("fan",), was=("running",), says="{} left out, its hole closed",
    ),), joint=False),
    "filler": Kind("filler", (
        partial(steps.state, kinds=("slot",), was=("empty",), to="filler", says="a filler in {}"),
        partial(_blanked, kinds=("slot",), was=("empty", "filler"), says="{} blanked"),
    )),
    "seal": Kind("filler", (partial(
        _blanked, kinds=("leak", "opening", "vent", "duct"), was=("open",), says="{} closed",
    ),), joint=False),
    SERVED: Kind("mat", (steps.clean,)), "mat": Kind("mat", (steps.mat,)),
    "area": Kind("hole", (
        partial(_larger, kinds=("filter", "vent", "opening"), key="area", what="area of {}",
                most=Site.face),
        partial(_larger, kinds=("duct",), key="diameter", what="diameter of {}"),
    )),
    "open_ratio": Kind("hole", (partial(
        _larger, kinds=("vent",), key="open_ratio", what="open share of {}", most=steps.most_open,
    ),)),
    "unseal": Kind("hole", (partial(
        steps.state, kinds=("vent", "opening", "duct"), was=("blanked",), to="open",
        says="{} opened",
    ),), joint=False),
    "baffle": Kind("hole", (steps.baffle, partial(
        steps.sized, kinds=("baffle",), key="open_area", factors=(*steps.LARGER, *steps.SMALLER),
        what="open area of {}", most=lambda site, item: item.cross_section,
    ))),
    "clearance": Kind("hole", (steps.clutter, *(
        partial(_larger, kinds=("fan",), key=f"clearance.{key}", what=f"{what} {{}}")
        for key, what in (("inlet", "room before"), ("outlet", "room behind"),
                          ("opening", "opening before"))
    ))),
    "recirculation": Kind("hole", (partial(
        steps.sized, kinds=("recirculation",), key="fraction", factors=steps.LED_BACK,
        what="exhaust that {} leads back to the intake",
    ),)),
    PLACED: Kind("place"), "shutter": Kind("shutter", (steps.shutter,)),
    "fan_type": Kind("fan", (steps.fan_type,)),
    "fan_move": Kind("fan", (steps.fan_move,), joint=False),
    "fan_add": Kind("second fan", (partial(
        steps.state, kinds=("fan",), was=("blanked",), to="running",
        says="a fan in the free place {}",
    ),), joint=False),
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
    for name in KINDS.keys() - set(without):
        each = (step for made in KINDS[name].steps for step in made(site))
        found += _joined(name, each, KINDS[name].joint)
        found += EDITS[name](site) if name in EDITS else ()
    free = (each for each in found if not any(
        f"{path}.".startswith(f"{lock}.") for path in (*each.changes, *each.edits, *each.things)
        for lock in locked))  # fmt: skip
    return sorted(free, key=lambda each: (each.effort, each.things, each.words))


def _joined(kind: str, single: Iterable[SingleChange], joint: bool) -> Iterator[ProposedChange]:
    """Single changes, and those that are alike at once."""
    groups: dict[str, list[SingleChange]] = {}
    for step in single:
        groups.setdefault(f"{step.says} {step.values}", []).append(step)
    for alike in groups.values():
        for some in [[each] for each in alike] + [alike] * (joint and len(alike) > 1):
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


def settable(case: Enclosure, changes: Mapping[str, Any]) -> dict[str, Any]:
    """Changes as `--set` and a case file take them."""
    return {path: value if isinstance(value, bool) else as_text(case, path, value)
            for path, value in changes.items()}  # fmt: skip
