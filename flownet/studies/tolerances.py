"""Tolerances of a case as independent draws: which inputs are off, by how much, in what shape.

Usual ones, all of them common practice without a source, stand in for what nobody has measured yet,
and every answer that rests on them says so. Outside temperature, altitude and speed are conditions,
not tolerances: they belong into scenarios.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.changes import role_of
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure
from flownet.pages.page import counted
from flownet.physics.registry import COMMON_PRACTICE
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.schema.fields import Number, get, given
from flownet.schema.quantities import Quantity
from flownet.studies.chances import percent
from flownet.studies.samples import quantiles

NODES = 20_000  # of the midpoint rule over a shape
USUALLY = "*"  # behind a tolerance that the case does not state
CUT_SHARE = 0.001  # share of draws outside the range of a key that is worth a word
HEATS = ("power", "output")  # without one of them a load multiplies nothing


class Usual(NamedTuple):
    """How far inputs of a kind are off where a case says nothing about them."""

    kind: str
    key: str
    within: float  # share of the value where `relative`, else in SI
    shape: str
    about: tuple[str, ...]  # a tolerance of the case for one of these keys takes its place
    words: str
    relative: bool = True

    @property
    def pattern(self) -> str:
        """The paths that it stands for."""
        return f"{self.kind}.*.{self.key}"


_LOSS = ("loss", "discharge_coefficient", "open_ratio", "area", "velocity_drop", "hole")
_HEAT = ("power", "output", "efficiency", "load")

USUAL_SPREADS = (
    Usual("fan", "pressure_factor", 0.10, "normal",
          ("pressure_factor", "flow_factor", "speed", "rotation"),
          "rise of a fan of the series against its curve"),
    Usual("vent", "loss", 0.20, "lognormal", _LOSS, "loss coefficient of a grille"),
    Usual("vent", "area", 0.10, "normal", _LOSS,
          "where no loss is given: a drop goes with 1/area^2, so this is 20 % of it"),
    Usual("opening", "loss", 0.20, "lognormal", _LOSS, "loss coefficient of a hole"),
    Usual("opening", "area", 0.10, "normal", _LOSS, "where no loss is given, as above"),
    Usual("baffle", "open_area", 0.10, "normal", ("open_area", "cross_section"),
          "what cables and brackets leave open"),
    Usual("duct", "loss", 0.20, "lognormal", ("loss",), "bends, inlet and outlet of a duct"),
    Usual("slot", "gap", 0.05, "normal", ("gap",), "between cards and what stands on them"),
    Usual("slot", "loss", 0.20, "lognormal", ("area", "loss"), "loss of a measured card"),
    Usual("filter", "fouling", 0.15, "normal", ("fouling", "area", "velocity_drop", "loss"),
          "drop of a mat at its state"),
    Usual("leak", "flow_at.0", 0.50, "lognormal", ("flow_at", "exponent"), "cracks and seams"),
    Usual("exchange", "flow", 0.30, "lognormal", ("flow",), "air that changes places"),
    Usual("recirculation", "fraction", 0.30, "lognormal", ("fraction",),
          "air that is drawn in again"),
    Usual("part", "load", 0.10, "normal", _HEAT, "heat of a part"),
    Usual("slot", "load", 0.10, "normal", _HEAT, "heat of a card"),
    Usual("part", "resistance_factor", 0.15, "normal",
          ("resistance", "resistance_factor", "resistance_law", "chain"),
          "from a part to its air, joints included"),
    Usual("wall", "u_value", 0.20, "lognormal", ("u_value",), "heat through a wall"),
    Usual("fan_type", "noise_dBA", 3.0, "normal", ("noise_dBA", "noise_condition"),
          "level of a fan; one draw for all fans of its type", relative=False),
)  # fmt: skip


class Member(NamedTuple):
    """One number that a draw moves."""

    place: Place
    value: float  # before it is moved, SI
    low: float  # range of its key
    high: float


@dataclass(frozen=True)
class Spread:
    """One draw: a number that is off by itself, or several that are off together."""

    path: str  # of the number, or the pattern of those that go together
    members: tuple[Member, ...]
    within: float  # share of the value where `relative`, else in SI
    relative: bool
    shape: str
    quantity: Quantity
    stated: bool  # in the case; else usual

    def amount(self, member: Member) -> float:
        """How far off it may be [SI]."""
        return self.within * abs(member.value) if self.relative else self.within

    def drawn(self, member: Member, uniform: Array) -> Array:
        """Values of a member for uniform numbers between 0 and 1; kept within its range."""
        return quantiles(self.shape, member.value, self.amount(member), uniform,
                         member.low, member.high)[0]  # fmt: skip

    @property
    def leading(self) -> Member:
        """The member that is moved most, which a regression takes for all."""
        return max(self.members, key=self.amount)

    @property
    def cut(self) -> float:
        """Share of draws that would leave the range of a key, largest of its members."""
        middle = np.array([0.5])
        return max(quantiles(self.shape, m.value, self.amount(m), middle, m.low, m.high)[1]
                   for m in self.members)  # fmt: skip

    def deviation(self, member: Member) -> float:
        """Standard deviation of a member [SI], by the midpoint rule over its shape."""
        nodes = (np.arange(NODES) + 0.5) / NODES
        return float(np.std(self.drawn(member, nodes)))

    def words(self, units: str = "metric") -> str:
        """`8 %`, `2.0 K`, `20 % lognormal`."""
        shown = difference(self.quantity).shown(units)
        text = f"{100 * self.within:.3g} %" if self.relative else shown.text(self.within)
        return text if self.shape == "normal" else f"{text} {self.shape}"

    def marked(self, units: str = "metric") -> str:
        """The same, with a mark where the case does not say it."""
        return self.words(units) + ("" if self.stated else f" {USUALLY}")

    def to_dict(self) -> dict[str, Any]:
        """As in JSON; `within` a share, or in `unit`."""
        shown = difference(self.quantity).json
        return {
            "path": self.path, "within": self.within * (1 if self.relative else shown.factor),
            "unit": None if self.relative else shown.unit, "shape": self.shape,
            "together": len(self.members) > 1, "stated": self.stated,
            "source": "the case" if self.stated else COMMON_PRACTICE, "cut": self.cut,
            "moves": [member.place.path for member in self.members],
        }  # fmt: skip


def difference(quantity: Quantity) -> Quantity:
    """What a change of a quantity is measured in."""
    return {q.TEMPERATURE: q.DIFFERENCE, q.LEVEL: q.LEVEL_DIFFERENCE}.get(quantity, quantity)


def spreads(made: Enclosure, defaults: bool = True) -> tuple[Spread, ...]:
    """Every draw of a case, in its variant and scenario, changes applied: around these values.

    `defaults`: whether usual tolerances stand in where the case states none. CaseError for a
    lognormal tolerance around a value below zero.
    """
    inputs = Inputs.of(made)
    found = _stated(made, inputs)
    if defaults:
        taken = {member.place.path for spread in found for member in spread.members}
        for usual in USUAL_SPREADS:
            for spread in _usual(made, usual, inputs, taken):
                found.append(spread)
                taken |= {member.place.path for member in spread.members}
    return tuple(found)


def without_value(made: Enclosure) -> tuple[str, ...]:
    """Paths in `[tolerance]` that name no number which is given here."""
    inputs = Inputs.of(made)
    return tuple(path for path in made.studies.get("tolerance", {})
                 if all(_member(inputs, place) is None for place in made.places(path)))  # fmt: skip


def _member(inputs: Inputs, place: Place) -> Member | None:
    """None where no number is given; of a fan's speed in rpm the rotation that it stands for."""
    role = role_of(place)
    if not isinstance(role, Number):
        return None
    value = float(inputs.row(place.path)[0].real)
    if np.isnan(value):
        return _member(inputs, place._replace(key=role.otherwise)) if role.otherwise else None
    return Member(place, value, role.low, role.high)


def _stated(made: Enclosure, inputs: Inputs) -> list[Spread]:
    """Those of the case; where several name a number, the last counts, which says most."""
    table: Mapping[str, Any] = made.studies.get("tolerance", {})
    named = {path: [m for place in made.places(path) if (m := _member(inputs, place)) is not None]
             for path in table}  # fmt: skip
    owner = {member.place: path for path, members in named.items() for member in members}
    found = []
    for path, entry in table.items():
        members = [member for member in named[path] if owner[member.place] == path]
        for member in members if entry["shape"] == "lognormal" else ():
            if member.value < 0:
                raise CaseError(
                    f'tolerance.{path}.shape: "lognormal" goes with a value above 0 '
                    f"(got {member.value:g} at {member.place.path})"
                )
        groups = [(path, members)] if entry["together"] else [(m.place.path, [m]) for m in members]
        found += [_spread(name, group, entry, stated=True) for name, group in groups if group]
    return found


def _spread(name: str, members: list[Member], entry: Mapping[str, Any], *, stated: bool) -> Spread:
    role = role_of(members[0].place)
    assert isinstance(role, Number)  # as in `member`
    return Spread(name, tuple(members), entry["within"], entry["relative"], entry["shape"],
                  role.quantity, stated)  # fmt: skip


def _usual(
    made: Enclosure, usual: Usual, inputs: Inputs, taken: set[str]
) -> Iterator[Spread]:  # fmt: skip
    for name, item in made.things.get(usual.kind, {}).items():
        start = f"{usual.kind}.{name}." if name else f"{usual.kind}."
        about = tuple(start + key for key in usual.about)
        if any(path == a or path.startswith(a + ".") for path in taken for a in about):
            continue
        if getattr(item, "state", "") == "blanked" or not _counts(made, usual, name, item):
            continue
        member = _member(inputs, Place(usual.kind, name, usual.key))
        if member is not None and (member.value or not usual.relative):
            entry = usual._asdict()
            yield _spread(member.place.path, [member], entry, stated=False)


def _counts(made: Enclosure, usual: Usual, name: str, item: Any) -> bool:
    """Whether it is there to be off: heat that is given, a type that a fan has."""
    if usual.key == "load":
        return any(given(get(item, key)) and get(item, key) for key in HEATS if hasattr(item, key))
    if usual.kind == "fan_type":
        if ".rating." in name and usual.key not in (item.given or ()):
            return False  # as its type says, and off with it
        types = {fan.type for fan in made.fans.values() if fan.state != "blanked"}
        return name.partition(".rating.")[0] in types
    return True


# --- words ----------------------------------------------------------------------------------------


def practice(spreads: Sequence[Spread], units: str) -> str:
    """Which tolerances the case does not state itself."""
    usual: dict[str, None] = {}
    for spread in spreads:
        if not spread.stated:
            place = spread.members[0].place
            usual[f"{place.kind}.*.{place.key} {spread.words(units)}"] = None
    if not usual:
        return "Every tolerance is stated in the case."
    count = sum(spread.stated for spread in spreads)
    stated = f"{counted(count, 'input')} with a tolerance of the case" if count else \
        "The case states no tolerance"  # fmt: skip
    return (
        f"{stated}. {USUALLY} usual, for what the case does not state "
        f"({COMMON_PRACTICE}; --only-stated leaves them out): {', '.join(usual)}."
    )


def cut_words(spreads: Sequence[Spread]) -> Iterator[str]:
    """Tolerances that reach beyond what their key may be, the largest part first."""
    cut = [(item.cut, item.path) for item in spreads if item.cut > CUT_SHARE]
    for share, path in sorted(cut, reverse=True):
        yield (
            f"{path}: {percent(share)} % of its tolerance lies outside what the key may be; the "
            "shape is cut there"
        )
