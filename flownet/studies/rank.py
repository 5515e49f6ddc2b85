"""Which input matters most for one result: exact derivatives, largest effect first."""

from __future__ import annotations

import numbers
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.surroundings import SUN_KEYS
from flownet.judging.voids import told
from flownet.pages.caption import Caption
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.results import tables
from flownet.results.solution import Solution
from flownet.results.tables import Field, plain
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.fault import listed
from flownet.schema.quantities import Quantity
from flownet.solving.attempt import attempted
from flownet.solving.solve import solve
from flownet.studies.levers import FIXED, SHIFT, SHIFTED, Effect, Levers, levers, slopes
from flownet.studies.tolerances import difference

NO_EFFECT = 1e-6  # of the largest effect: what is below does not act, or is round-off
RANKED_EXAMPLE = "part.rectifier.temperature"


class EffectText(NamedTuple):
    """An effect as it is read."""

    path: str  # its name: `fan.left and fan.right: speed`, `part.q1.power or load`
    value: str  # of the input, of an efficiency its loss
    step: str  # `+10 %`, `-10 %` where its range ends; `+1.0 K`, `+100 m`, `+10 mm`
    change: str  # of the result
    elasticity: str


@dataclass(frozen=True, repr=False)
class Ranking(Result):
    """Inputs by their effect on one result, largest first."""

    of: str
    value: float  # SI
    quantity: Quantity  # of the result
    share: float  # of each input, by which it is moved
    effects: tuple[Effect, ...]
    solution: Solution
    idle: int = 0  # inputs that do not act on the result
    zeros: tuple[str, ...] = ()  # inputs that would, but a share of 0 is nothing

    def __repr__(self) -> str:
        first = self.words(self.effects[0]) if self.effects else "no input matters"
        first += f", void: {told(self.solution.void)}" if self.solution.void else ""
        return f"<Ranking of {self.of}: {len(self.effects)} inputs, first {first}>"

    def head(self, units: str = "metric") -> str:
        """What is ranked, in a sentence; first what makes its numbers void."""
        value = self.quantity.shown(units).text(self.value)
        if self.solution.void:
            return f"void: {told(self.solution.void, units)}; {self.of} is {value} on paper; " \
                   "what moves that, largest first"  # fmt: skip
        return f"{self.of} is {value}; what moves it, largest first"

    @property
    def steps(self) -> str:
        """By how much inputs are moved, in a sentence."""
        return self.steps_in("metric")

    def steps_in(self, units: str) -> str:
        """The same in the units of the reader."""
        warm, level, height, place = (
            quantity.shown(units).text(step) for quantity, step in (
                (q.DIFFERENCE, FIXED[q.TEMPERATURE]), (q.LEVEL_DIFFERENCE, FIXED[q.LEVEL]),
                (q.ALTITUDE, FIXED[q.ALTITUDE]), (q.LENGTH, SHIFT),
            )
        )  # fmt: skip
        share = f"{100 * self.share:g} %"
        return (
            f"Inputs are moved by {share}, efficiencies by {share} of their loss, temperatures by "
            f"{warm}, sound levels by {level}, altitude by {height}, positions by {place}, counts "
            f"by 1{self._sunward}, one lever at a time; effects are exact to first order, large "
            f"steps bend. {self.left_out}"
        )

    @property
    def _sunward(self) -> str:
        """What else is moved by a fixed step, where the sun is computed."""
        sun = any((each.shift and each.places[0].key in SUN_KEYS) or each.quantity == q.ANGLE
                  for each in self.effects)  # fmt: skip
        return f", angles by {FIXED[q.ANGLE]:g} deg, the hour by {SHIFTED['hour']:g}" if sun else ""

    @property
    def left_out(self) -> str:
        """How many inputs are not in the list, in a sentence."""
        words = f"{self.idle} input{'' if self.idle == 1 else 's'} without effect on it"
        if self.zeros:
            words += f", and {len(self.zeros)} of which a share is nothing, being 0 " \
                     f"({listed(self.zeros)})"  # fmt: skip
        return f"Left out: {words}."

    def texts(self, effect: Effect, units: str = "metric") -> EffectText:
        """An effect in the units of the reader."""
        return EffectText(
            effect.name,
            effect.quantity.shown(units).text(effect.base),
            _moved(effect, units),
            difference(self.quantity).shown(units).text(effect.change, "+"),
            _elasticity(effect),
        )

    def words(self, effect: Effect, units: str = "metric") -> str:
        """`+10 % on filter.intake.fouling: +0.8 K`."""
        texts = self.texts(effect, units)
        return f"{texts.step} on {texts.path}: {texts.change}"

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """What is void first; then what moves the result most, and what it is; what is ranked."""
        value = self.quantity.shown(units).text(self.value)
        void = f"Void: {told(self.solution.void, units)}; on paper " if self.solution.void else ""
        if not self.effects:
            return f"{void}no input moves {self.of}, {value}", self.head(units)
        most = self.texts(self.effects[0], units)
        return (f"{void}{most.path} moves {self.of} most: {most.step} gives {most.change}, "
                f"from {value}", self.head(units))  # fmt: skip

    @property
    def sheet(self) -> Sheet:
        """Inputs with their effects, the largest first."""
        solution, some = self.solution, self.effects
        facts = {
            "of": self.of, "scenario": solution.scenario, "variant": solution.variant,
            self.quantity.key("value"): plain(Field("", self.quantity), self.value),
            "void": solution.void, "without_effect": self.idle, "zero": list(self.zeros),
        }  # fmt: skip
        caption = Caption.of(solution, f"{solution.variant} | {solution.scenario}")
        table = Listing("effects", (
            Column("Input", [each.name for each in some]),
            Column("value", [each.value for each in some], [each.quantity for each in some],
                   form="bound"),
            Column("step", [partial(_moved, each) for each in some], right=True),
            Column("effect", [each.change for each in some], difference(self.quantity), form="+"),
            Column("elasticity", [_elasticity(each) for each in some], right=True),
        ))  # fmt: skip
        return Sheet("rank", caption, lambda units: [Sentence("", self.head(units))],
                     (table, self._data()), (Sentence("", self.steps_in),), facts)  # fmt: skip

    def _data(self) -> Listing:
        some, change = self.effects, difference(self.quantity)
        factors = [each.quantity.json.factor for each in some]
        return Listing("effects", (
            Column("path", [each.path for each in some]),
            Column("value", [each.value for each in some], [each.quantity for each in some]),
            Column("unit", [each.quantity.json.unit for each in some]),
            Column("step", [each.step * factor
                            for each, factor in zip(some, factors, strict=True)]),
            Column(change.key("change"), [each.change for each in some]),
            Column(change.key("derivative"), [each.derivative / factor
                                              for each, factor in zip(some, factors, strict=True)]),
            Column("elasticity", [each.elasticity for each in some], q.RATIO),
            Column("loss", [each.base if each.loss else None for each in some]),
            Column("paths", [[place.path for place in each.places] for each in some]),
            *(Column(key, [[twin.path for twin in each.twins if twin.inverse == inverse]
                           for each in some])
              for key, inverse in (("twins", False), ("inverse_twins", True))),
        ), "data")  # fmt: skip


def rank(
    case: Enclosure, of: str, *, scenario: str = "base", variant: str = "base", step: float = 0.10
) -> Ranking:
    """Every number of the case by what a share of it does to one result.

    Derivatives are exact (complex steps and one solve of the coupled Jacobian), so the effect is
    that of a small step, scaled up; at a point of a curve it is that of one side.

    Parameters
    ----------
    of : str
        Result path, such as `part.rectifier.temperature` or `total.volume_flow`.
    scenario, variant : as for `solve`
    step : float
        Share by which each input is moved. A share of a temperature, a sound level, an altitude
        or a position says nothing, and a count is whole: they are moved by 1 K, 1 dB, 100 m, 10 mm
        and 1, angles by 10 deg, the hour by 1. Another number that is zero stays.

    Raises
    ------
    CaseError
        An unknown result path, one without value in this solution, a share not above zero.
    CaseError, NoSolution
        What `solve` raises.
    """
    argument_checks.check("rank", case, Enclosure)
    argument_checks.check_path("rank: of", of, RANKED_EXAMPLE)
    if not isinstance(step, numbers.Real) or not 0 < step <= 1:
        raise CaseError(f"step: a share above 0, at most 1, is wanted, such as 0.1 (got {step})")
    if of.startswith("balance."):
        raise CaseError(f"{of}: says how well a solution balances, no result of the enclosure")
    solution = solve(case, scenario=scenario, variant=variant)
    value, quantity = solution[of], _quantity(of)
    if not np.isfinite(value):
        raise CaseError(f"{of}: has no value here (a fan that stands, a limit that is not given)")
    acting = _acting(solution, of, _base(solution, float(value), quantity), step)
    listed = sorted(acting.effects, key=lambda e: (-float(f"{abs(e.change):.6e}"), e.path))
    return Ranking(of, float(value), quantity, step, tuple(listed), solution, acting.idle,
                   acting.zeros)  # fmt: skip


def _acting(solution: Solution, of: str, base: float, step: float) -> Levers:
    """What acts on a result of the case as it was solved."""
    tried = attempted(Inputs.of(solution.case), check=True)
    inputs = tried.inputs.as_given()
    return levers(inputs, slopes(tried, inputs.number_places(), of), base, step, NO_EFFECT)


def _base(solution: Solution, value: float, quantity: Quantity) -> float:
    """What a relative change of the result refers to; NaN where there is no such thing."""
    if quantity == q.TEMPERATURE:
        value -= solution.site["temperature"]
    return value if value and quantity != q.LEVEL else np.nan


def _moved(effect: Effect, units: str) -> str:
    if effect.shift:
        return difference(effect.quantity).shown(units).text(effect.step, "+")
    return f"{100 * (-effect.step if effect.loss else effect.step) / abs(effect.base):+.3g} %"


def _elasticity(effect: Effect) -> str:
    return "" if np.isnan(effect.elasticity) else f"{effect.elasticity:+z.3f}"


def _quantity(path: str) -> Quantity:
    """The quantity of a result path; CaseError where it is no number."""
    kind, name = path.partition(".")[0], path.rpartition(".")[2]
    fields = {
        "total": tables.TOTALS, "compartment": tables.COMPARTMENT + tables.OF_AIR,
        "part": tables.PART + tables.STATION, "wall": tables.WALL, "exchange": tables.HEAT,
        "site": tables.SITE,
    }.get(kind, tables.BRANCH + tables.FAN + tables.OF_AIR[1:2] * (kind == "fan"))  # fmt: skip
    for field in fields:
        if field.name == name and field.quantity is not None:
            return field.quantity
    numbers = ", ".join(f.name for f in fields if f.quantity is not None)
    raise CaseError(f"{path}: no number of this name among the results; there are {numbers}")
