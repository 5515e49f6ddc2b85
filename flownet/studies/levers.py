"""Numbers of a case that are one lever of a result: things alike, and factors of one product.

Things of a kind are alike where all their numbers and choices are equal, but for where they stand,
and so are their effects on the result: they are moved together, and the effect is that of all of
them. Two numbers of the same things are factors of one product where a share of either does the
same: any of them is meant. An efficiency stands for what it loses.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import takewhile
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.fault import listed
from flownet.schema.fields import Link, Number, roles
from flownet.schema.quantities import Quantity
from flownet.solver.sensitivity import derivatives
from flownet.solver.tolerances import STEP
from flownet.solving.attempt import Attempt

FIXED = {  # K, dB, m, whole, deg
    q.TEMPERATURE: 1.0, q.LEVEL: 1.0, q.ALTITUDE: 100.0, q.COUNT: 1.0, q.ANGLE: 10.0,
}  # fmt: skip
SHIFT = 0.01  # m, of a position in the view
POSITIONS = ("at.0", "at.1", "outline.0", "outline.1")
SHIFTED = {**dict.fromkeys(POSITIONS, SHIFT), "hour": 1.0}
EFFECTS_ALIKE = 0.01  # share of its largest effect by which those of a thing alike may differ
ONE_SHARE = 1e-6  # by which those of two factors may
NAMES_TOLD, NAME_LETTERS = 3, 50  # things whose names a lever spells out, and letters of these


class Effect(NamedTuple):
    """What one input, or several as one lever, do to the result, to first order; SI."""

    path: str  # of the input; of several that are moved together: their names and the key
    value: float  # of each input
    derivative: float  # of the result to the input, all moved together
    elasticity: float  # % of the result (a temperature: of its rise over outside) to 1 % of the
    # input, of an efficiency to 1 % of its loss; NaN where a share of either says nothing
    step: float  # change of each input
    change: float  # of the result by that step
    shift: bool  # moved by a fixed step, not by a share of its value
    quantity: Quantity  # of the input
    loss: bool = False  # an efficiency, moved by a share of what it loses
    places: tuple[Place, ...] = ()  # all that are moved together
    twins: tuple[Effect, ...] = ()  # any of which does the same instead: factors of one product
    inverse: bool = False  # as a twin: it divides the product

    @property
    def name(self) -> str:
        """As it is read: `part.q1.power or load`, `part.rectifier.efficiency (its loss)`."""
        mine = {(place.kind, place.name) for place in self.places}
        told = [self.path]
        for twin in self.twins:
            same = {(place.kind, place.name) for place in twin.places} == mine
            told.append("1/" * twin.inverse + "type." * (not same) + twin.places[0].key)
        return " or ".join(told) + " (its loss)" * self.loss

    @property
    def base(self) -> float:
        """What the step is a share of: the value, of an efficiency its loss."""
        return 1 - self.value if self.loss else self.value


class Levers(NamedTuple):
    """What acts on a result, and how many numbers do not."""

    effects: tuple[Effect, ...]
    idle: int  # numbers that do not act on it
    zeros: tuple[str, ...]  # numbers that would act, but of which a share is nothing


def slopes(tried: Attempt, places: Iterable[Place], of: str) -> dict[Place, float]:
    """The derivative of one result of a solved case to each of these numbers, exact [SI]."""
    found: dict[Place, float] = {}
    for some, moved in derivatives(tried.inputs, tried.model, tried.found, list(places)):
        here = np.broadcast_to(np.imag(moved.value(of)) / STEP, len(some))
        found |= dict(zip(some, here.tolist(), strict=True))
    return found


def levers(
    inputs: Inputs, slopes: Mapping[Place, float], base: float, share: float, nothing: float
) -> Levers:
    """Levers in the order of the inputs, which are of one variant.

    `slopes`: of the result to each number; `base`: what a relative change of the result refers to,
    NaN where there is no such thing; `share`: by which each number is moved; `nothing`: share of
    the largest change below which one is round-off.
    """
    single = {place: _effect(inputs, place, slope, base, share) for place, slope in slopes.items()}
    least = nothing * max((abs(each.change) for each in single.values()), default=0.0)
    zeros = [place for place, each in single.items()
             if each.step == 0 and abs(share * each.derivative) > least]  # fmt: skip
    acting = {place: each for place, each in single.items() if abs(each.change) > least}
    of_things: dict[str, dict[str, list[Effect]]] = {}
    for place, each in acting.items():
        of_things.setdefault(place.kind, {}).setdefault(place.name, []).append(each)
    found: list[Effect] = []
    for kind, named in of_things.items():
        for names in _alike(inputs, kind, named):
            some = [each for name in names for each in named[name]]
            found += _factors(list(_together(inputs.enclosure, some)))
    idle = len(single) - len(acting) - len(zeros)
    return Levers(tuple(_with_types(found)), idle, tuple(place.path for place in zeros))


def _effect(inputs: Inputs, place: Place, slope: float, base: float, share: float) -> Effect:
    """Of one number by itself."""
    role = roles(KINDS[place.kind])[place.key]
    assert isinstance(role, Number)
    value = float(inputs.row(place.path)[0].real)
    # where zero is a matter of convention; else a share of the value
    fixed = FIXED.get(role.quantity, SHIFTED.get(place.key))
    loss = place.key == "efficiency"
    if loss:  # 10 % more of an efficiency of 0.97 there cannot be; of 0.03 lost there can
        size, step = 1 - value, -share * (1 - value)
    else:
        size, step = value, share * abs(value) if fixed is None else fixed
        if value + step > role.high:
            step = -step
    elasticity = (-slope if loss else slope) * size / base if fixed is None else np.nan
    return Effect(place.path, value, slope, elasticity, step, slope * step, fixed is not None,
                  role.quantity, loss, (place,))  # fmt: skip


# --- things alike ---------------------------------------------------------------------------------


def _alike(
    inputs: Inputs, kind: str, named: Mapping[str, Sequence[Effect]]
) -> Iterator[Sequence[str]]:  # fmt: skip
    """Names of the things of a kind that act, those alike together."""
    rows = {name: row for row, name in enumerate(inputs.names(kind))}
    groups: dict[tuple[str, ...], list[list[str]]] = {}
    for name in named:
        same = groups.setdefault(_inputs(inputs, kind, rows[name]), [])
        group = next((group for group in same if _near(named[group[0]], named[name])), None)
        if group is None:
            same.append([name])
        else:
            group.append(name)
    for same in groups.values():
        yield from same


def _inputs(inputs: Inputs, kind: str, row: int) -> tuple[str, ...]:
    """What a thing is, wherever it stands: its numbers, choices, tables and type."""
    found = []
    for key, column in inputs.columns[kind].items():
        role = roles(KINDS[kind])[key]
        elsewhere = isinstance(role, Link) and not role.kinds[0].endswith("_type")
        if key not in POSITIONS and not elsewhere:
            found.append(f"{column[row, 0].real:.6g}")
    return tuple(found)


def _near(some: Sequence[Effect], others: Sequence[Effect]) -> bool:
    """Whether the effects of two things are those of things alike."""
    most = EFFECTS_ALIKE * max(abs(each.change) for each in some)
    there = {each.places[0].key: each.change for each in others}
    return all(abs(each.change - there.pop(each.places[0].key, 0.0)) <= most for each in some) \
        and all(abs(change) <= most for change in there.values())  # fmt: skip


def _together(case: Enclosure, effects: Sequence[Effect]) -> Iterator[Effect]:
    """Levers of things alike: each key of all of them, where its values are equal."""
    groups: dict[tuple[str, str], list[Effect]] = {}
    for each in effects:
        groups.setdefault((each.places[0].key, f"{each.value:.6g}"), []).append(each)
    for same in groups.values():
        places = tuple(each.places[0] for each in same)
        yield same[0]._replace(
            path=_path(case, places), places=places,
            derivative=sum(each.derivative for each in same),
            elasticity=sum(each.elasticity for each in same),
            change=sum(each.change for each in same),
        )  # fmt: skip


def _path(case: Enclosure, places: Sequence[Place]) -> str:
    """`fan.left.speed`, `fan.left and fan.right: speed`, `slot.card-*.gap`, with many others
    `slot.card-1 and 5 more: gap`."""
    kind, _, key = places[0]
    names = [place.name for place in places]
    if len(names) == 1:
        return places[0].path
    if len(names) > NAMES_TOLD and not any("." in name for name in names):
        start = _common(names)
        end = _common([name[len(start) :][::-1] for name in names])[::-1]
        pattern = f"{kind}.{start}*{end}.{key}"
        if {place.path for place in case.places(pattern)} == {place.path for place in places}:
            return pattern
    told = listed([f"{kind}.{name}" for name in names])
    if len(told) > NAME_LETTERS:
        told = listed([f"{kind}.{name}" for name in names], 1)
    return f"{told}: {key}"


def _common(names: Sequence[str]) -> str:
    """What they begin with."""
    columns = zip(*names, strict=False)
    return "".join(letters[0] for letters in takewhile(lambda some: len(set(some)) == 1, columns))


# --- factors of one product -----------------------------------------------------------------------


def _factors(effects: Sequence[Effect]) -> list[Effect]:
    """Numbers of the same things whose shares do the same as one: that with a unit stands for
    them."""
    found: list[Effect] = []
    for each in sorted(effects, key=lambda each: each.quantity == q.RATIO):
        place = next((i for i, first in enumerate(found) if _same(first, each)), None)
        if place is None:
            found.append(each)
        else:
            found[place] = _with_twin(found[place], each)
    return found


def _with_types(effects: Sequence[Effect]) -> list[Effect]:
    """A fan type whose number does what one of its fans' does, or the inverse of it, is no lever
    of its own."""
    found = [each for each in effects if each.places[0].kind != "fan_type"]
    for each in effects:
        if each.places[0].kind == "fan_type":
            place = next((i for i, other in enumerate(found) if other.places[0].kind == "fan"
                          and _same(other, each)), None)  # fmt: skip
            if place is None:
                found.append(each)
            else:
                found[place] = _with_twin(found[place], each)
    return found


def _same(one: Effect, other: Effect) -> bool:
    """Whether the same share of either does the same, or the contrary."""
    if one.shift or other.shift or one.loss or other.loss:
        return False
    sizes = abs(one.change), abs(other.change)
    alike = abs(sizes[0] - sizes[1]) <= ONE_SHARE * max(sizes)
    return alike and len(one.places) >= len(other.places)


def _with_twin(one: Effect, twin: Effect) -> Effect:
    inverse = one.derivative * one.value * twin.derivative * twin.value < 0
    return one._replace(twins=(*one.twins, twin._replace(inverse=inverse)))
