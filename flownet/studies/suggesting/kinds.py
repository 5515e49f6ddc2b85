"""What may be changed in a case: one table, kind -> effort and what yields its changes.

A kind yields single changes of single things. Things that are alike, so that the same change suits
all of them, are changed together as well.
"""

from __future__ import annotations

import dataclasses
import fnmatch
import itertools
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from flownet.enclosure.enclosure import Enclosure
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, nearest
from flownet.schema.fields import NONE
from flownet.studies.choice.eligibility import stated
from flownet.studies.suggesting import steps
from flownet.studies.suggesting.steps import EFFORT_OF, NEVER_JOINT, ProposedChange, Site, change

LARGER, sized, state = steps.LARGER, steps.sized, steps.state

# --- what no variant can say ----------------------------------------------------------------------


def places(site: Site) -> Iterator[ProposedChange]:
    """Parts of a compartment in another one; what sits on them goes along."""
    case = site.case
    moving = [part for part in case.parts.values()
              if part.in_ in case.compartments and part.stream is None]  # fmt: skip
    for part, other in itertools.product(moving, case.compartments):
        if other != part.in_:
            parts = {**case.parts, part.name: dataclasses.replace(part, in_=other, at=None)}
            yield change(
                part.path, NONE,
                f"{{}} moved to compartment.{other}, if it can stand there",
                edits={f"{part.path}.in": other},
                case=dataclasses.replace(case, things={**case.things, "part": parts}),
            )  # fmt: skip


def served(site: Site) -> Iterator[ProposedChange]:
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
                tuple(f"{place.kind}.{place.name}" for place in places), NONE,
                f"{{}} changed at {less:g} times the clean drop, not {now:g}",
                edits={f"scenario.{name}.{path}": less},
                case=dataclasses.replace(
                    case, scenarios={**case.scenarios, name: {**changes, path: less}}),
            )  # fmt: skip


CHANGES: tuple[tuple[Any, ...], ...] = (
    ("speed", steps.speed), ("turn", steps.turn), ("supply", steps.supply),
    ("service", steps.clean), ("service", served), ("mat", steps.mat), ("baffle", steps.baffle),
    ("part_place", places), ("shutter", steps.shutter), ("fan_type", steps.fan_type),
    ("fan_move", steps.fan_move),
    # things, in which state, into which, in words
    ("fan_off", state, ("fan",), ("running",), "blanked", "{} left out, its hole closed"),
    ("filler", state, ("slot",), ("empty",), "filler", "a filler in {}"),
    ("filler", state, ("slot",), ("empty", "filler"), "blanked", "{} blanked"),
    ("service", state, ("filter",), ("removed",), "fitted", "{} fitted"),
    ("seal", state, ("leak", "opening", "vent", "duct"), ("open",), "blanked", "{} closed"),
    ("unseal", state, ("vent", "opening", "duct"), ("blanked",), "open", "{} opened"),
    ("fan_add", state, ("fan",), ("blanked",), "running", "a fan in the free place {}"),
    # things, key, sizes, in words, the most that it may be
    ("area", sized, ("filter", "vent", "opening"), "area", LARGER, "area of {}", Site.face),
    ("area", sized, ("duct",), "diameter", LARGER, "diameter of {}"),
    ("open_ratio", sized, ("vent",), "open_ratio", LARGER, "open share of {}", steps.most_open),
    ("baffle", sized, ("baffle",), "open_area", (*LARGER, *steps.SMALLER), "open area of {}",
     lambda site, item: item.cross_section),
    ("clearance", sized, ("fan",), "clearance.inlet", LARGER, "room before {}"),
    ("clearance", sized, ("fan",), "clearance.outlet", LARGER, "room behind {}"),
    ("clearance", sized, ("fan",), "clearance.opening", LARGER, "opening before {}"),
    ("clearance", sized, ("fan",), "clearance.clutter", (0.0,), "cables before {}"),
    ("recirculation", sized, ("recirculation",), "fraction", steps.LED_BACK,
     "exhaust that {} leads back to the intake"),
)  # fmt: skip


# --- all of them ----------------------------------------------------------------------------------


def candidates(
    case: Enclosure, asked: Sequence[str], keep: Sequence[str] = (), without: Sequence[str] = ()
) -> list[ProposedChange]:
    """Every change that is tried, least effort first.

    `keep`: things, keys of things or scenarios that stay, `*` in names; `without`: kinds that are
    left out. CaseError for names that are not known.
    """
    for name in without:
        if name not in EFFORT_OF:
            hint = did_you_mean(nearest(name, list(EFFORT_OF)), f"known: {', '.join(EFFORT_OF)}")
            raise CaseError(Fault("without", f'no kind of change "{name}"', hint=hint))
    locked = [part for path in keep for part in _locked(case, path)]
    plain = dict.fromkeys(stated(case, entry) for entry in asked)
    site = Site(case, {name: case.under(name) for name in plain}, asked)
    single = (one._replace(kind=kind) for kind, step, *row in CHANGES if kind not in without
              for one in step(site, *row))  # fmt: skip
    free = (each for each in _joined(single) if not any(
        f"{path}.".startswith(f"{lock}.") for path in (*each.changes, *each.edits, *each.things)
        for lock in locked))  # fmt: skip
    return sorted(free, key=lambda each: (each.effort, each.things, each.words))


def _joined(single: Iterable[ProposedChange]) -> Iterator[ProposedChange]:
    """Single changes, and those that are alike at once."""
    groups: dict[str, list[ProposedChange]] = {}
    for one in single:
        own = [(path.removeprefix(one.things[0]), value) for path, value in one.changes.items()]
        groups.setdefault(f"{one.kind} {one.says} {own or one.edits}", []).append(one)
    for alike in groups.values():
        yield from alike
        if len(alike) > 1 and alike[0].kind not in NEVER_JOINT:
            yield alike[0]._replace(
                things=tuple(name for one in alike for name in one.things),
                changes={path: value for one in alike for path, value in one.changes.items()},
                price=sum(one.price for one in alike),
            )


def _locked(case: Enclosure, path: str) -> list[str]:
    """The paths that a path to be kept stands for; CaseError where it names nothing."""
    kind, _, name = path.partition(".")
    if kind == "scenario" and name.partition(".")[0] in case.scenarios:
        return [path]
    things = [thing for thing in case.things.get(kind, NONE) if fnmatch.fnmatchcase(thing, name)]
    return [f"{kind}.{thing}" for thing in things] or [place.path for place in case.places(path)]
