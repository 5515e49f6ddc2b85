"""Which input matters most for one result: exact derivatives, largest effect first."""

from __future__ import annotations

import numbers
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet import doors
from flownet import quantities as q
from flownet.enclosure.whole import Enclosure, Place
from flownet.errors import CaseError
from flownet.inputs import Inputs
from flownet.network.coupled import STEP
from flownet.network.sensitivity import derivatives
from flownet.quantities import Quantity
from flownet.solution import Solution, _extra
from flownet.solve import attempted, solve
from flownet.tables import (
    BRANCH,
    COMPARTMENT,
    FAN,
    HEAT,
    PART,
    SITE,
    STATION,
    TOTALS,
    Field,
    html_table,
    plain,
)
from flownet.things import KINDS, Number, roles

FIXED = {q.TEMPERATURE: 1.0, q.LEVEL: 1.0, q.ALTITUDE: 100.0, q.COUNT: 1.0}  # K, dB, m, whole
SHIFT = 0.01  # m, of a position in the view
POSITIONS = ("at.0", "at.1", "outline.0", "outline.1")
NOTHING = 1e-12  # of the largest effect: what is below is round-off
EXAMPLE = "part.rectifier.temperature"
LISTED = 12  # rows in a notebook


class Effect(NamedTuple):
    """What one input does to the result, to first order; SI."""

    path: str
    value: float  # of the input
    derivative: float  # of the result to the input
    elasticity: float  # % of the result (a temperature: of its rise over outside) to 1 % of the
    # input; NaN where a share of either says nothing
    step: float  # change of the input
    change: float  # of the result by that step
    shift: bool  # moved by a fixed step, not by a share of its value
    quantity: Quantity  # of the input


class Words(NamedTuple):
    """An effect as it is read."""

    path: str
    value: str  # of the input
    step: str  # `+10 %`, less where its range ends; `+1.0 K`, `+100 m`, `+10 mm`
    change: str  # of the result
    elasticity: str


@dataclass(frozen=True, repr=False)
class Ranking:
    """Inputs by their effect on one result, largest first."""

    of: str
    value: float  # SI
    quantity: Quantity  # of the result
    share: float  # of each input, by which it is moved
    effects: tuple[Effect, ...]
    solution: Solution

    def __repr__(self) -> str:
        first = self.words(self.effects[0]) if self.effects else "no input matters"
        return f"<Ranking of {self.of}: {len(self.effects)} inputs, first {first}>"

    def _repr_html_(self) -> str:
        """The largest effects, for notebooks."""
        rows = [self.texts(effect) for effect in self.effects[:LISTED]]
        return html_table(repr(self), ("input", "value", "step", "effect", "elasticity"), rows)

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
        return (
            f"Inputs are moved by {100 * self.share:g} %, temperatures by {warm}, sound levels by "
            f"{level}, altitude by {height}, positions by {place}, counts by 1, one at a time; "
            "effects are exact to first order, large steps bend."
        )

    def texts(self, effect: Effect, units: str = "metric") -> Words:
        """An effect in the units of the reader."""
        known = not np.isnan(effect.elasticity)
        return Words(
            effect.path,
            effect.quantity.shown(units).text(effect.value),
            _moved(effect, units),
            difference(self.quantity).shown(units).text(effect.change, "+"),
            f"{effect.elasticity:+.3f}" if known else "",
        )

    def words(self, effect: Effect, units: str = "metric") -> str:
        """`+10 % on filter.intake.fouling: +0.8 K`."""
        texts = self.texts(effect, units)
        return f"{texts.step} on {texts.path}: {texts.change}"

    def to_dict(self) -> dict[str, Any]:
        """As in JSON: the result and its changes in the unit of their key, inputs in `unit`."""
        return {
            "command": "rank", "of": self.of, "scenario": self.solution.scenario,
            "variant": self.solution.variant,
            self.quantity.key("value"): plain(Field("", self.quantity), self.value),
            "effects": [self._row(effect) for effect in self.effects],
        }  # fmt: skip

    def _row(self, effect: Effect) -> dict[str, Any]:
        unit, change = effect.quantity.json, difference(self.quantity)
        slope = effect.derivative * change.json.factor / unit.factor
        return {
            "path": effect.path, "value": plain(Field("", effect.quantity), effect.value),
            "unit": unit.unit, "step": effect.step * unit.factor,
            change.key("change"): effect.change * change.json.factor,
            change.key("derivative"): slope,
            "elasticity": None if np.isnan(effect.elasticity) else effect.elasticity,
        }  # fmt: skip

    def to_frame(self) -> Any:
        """A pandas DataFrame, one row an input; ImportError without pandas, an extra."""
        return _extra("pandas").DataFrame(self.to_dict()["effects"])


def rank(
    case: Enclosure, of: str, *, scenario: str = "base", variant: str = "base", step: float = 0.10
) -> Ranking:
    """Every number of the case by what a share of it does to one result.

    Derivatives are exact (complex steps and one solve of the coupled Jacobian), so the effect is
    that of a small step, scaled up; at a point of a curve it is that of one side.

    Parameters
    ----------
    case : Enclosure
    of : str
        Result path, such as `part.rectifier.temperature` or `total.volume_flow`.
    scenario, variant : str
        Names in the case, as for `solve`.
    step : float
        Share by which each input is moved. A share of a temperature, a sound level, an altitude
        or a position says nothing, and a count is whole: they are moved by 1 K, 1 dB, 100 m, 10 mm
        and 1. A number that is zero stays.

    Raises
    ------
    CaseError
        An unknown result path, one that has no value in this solution, a share that is not above
        zero; what `solve` raises.
    NoSolution
        What `solve` raises.
    """
    doors.check("rank", case, Enclosure)
    doors.check_path("rank: of", of, EXAMPLE)
    if not isinstance(step, numbers.Real) or not 0 < step < np.inf:
        raise CaseError(f"step: a share above 0 is wanted, such as 0.1 (got {step})")
    if of.startswith("balance."):
        raise CaseError(f"{of}: says how well a solution balances, no result of the enclosure")
    solution = solve(case, scenario=scenario, variant=variant)
    value, quantity = solution[of], _quantity(of)
    if not np.isfinite(value):
        raise CaseError(f"{of}: has no value here (a fan that stands, a limit that is not given)")
    model, _, found, inputs = attempted(Inputs.of(solution.case), check=True)
    base = _base(solution, float(value), quantity)
    effects = []
    for places, moved in derivatives(inputs, model, found, list(inputs.number_places())):
        slopes = np.broadcast_to(np.imag(moved.value(of)) / STEP, len(places))
        effects += list(_effects(inputs, dict(zip(places, slopes, strict=True)), base, step))
    least = NOTHING * max((abs(e.change) for e in effects), default=0.0)
    listed = sorted(effects, key=lambda e: (-float(f"{abs(e.change):.6e}"), e.path))
    return Ranking(
        of,
        float(value),
        quantity,
        step,
        tuple(e for e in listed if abs(e.change) > least),
        solution,
    )


def _base(solution: Solution, value: float, quantity: Quantity) -> float:
    """What a relative change of the result refers to; NaN where there is no such thing."""
    if quantity is q.TEMPERATURE:
        value -= solution.site["temperature"]
    return value if value and quantity is not q.LEVEL else np.nan


def _effects(
    inputs: Inputs, slopes: Mapping[Place, float], base: float, share: float
) -> Iterator[Effect]:
    for place, slope in slopes.items():
        role = roles(KINDS[place.kind])[place.key]
        assert isinstance(role, Number)
        here = float(inputs.row(place.path)[0])
        fixed = _fixed_step(place, role.quantity)
        step = share * abs(here) if fixed is None else fixed
        if here + step > role.high:  # an efficiency of 0.97 cannot grow by 10 %
            step = role.high - here if role.high > here else -step
        if slope == 0 or step == 0:
            continue
        elasticity = float(slope * here / base) if fixed is None else np.nan
        yield Effect(place.path, here, float(slope), elasticity, step, float(slope * step),
                     fixed is not None, role.quantity)  # fmt: skip


def _fixed_step(place: Place, quantity: Quantity) -> float | None:
    """The step of an input whose zero is a matter of convention; None: a share of its value."""
    return FIXED.get(quantity, SHIFT if place.key in POSITIONS else None)


def _moved(effect: Effect, units: str) -> str:
    if effect.shift:
        return difference(effect.quantity).shown(units).text(effect.step, "+")
    return f"{100 * effect.step / abs(effect.value):+.3g} %"


def difference(quantity: Quantity) -> Quantity:
    """What a change of a quantity is measured in."""
    return {q.TEMPERATURE: q.DIFFERENCE, q.LEVEL: q.LEVEL_DIFFERENCE}.get(quantity, quantity)


def _quantity(path: str) -> Quantity:
    """The quantity of a result path; CaseError where it is no number."""
    kind, name = path.partition(".")[0], path.rpartition(".")[2]
    fields = {
        "total": TOTALS, "compartment": COMPARTMENT, "part": PART + STATION, "wall": HEAT,
        "exchange": HEAT, "site": SITE,
    }.get(kind, BRANCH + FAN)  # fmt: skip
    for field in fields:
        if field.name == name and field.quantity is not None:
            return field.quantity
    numbers = ", ".join(f.name for f in fields if f.quantity is not None)
    raise CaseError(f"{path}: no number of this name among the results; there are {numbers}")
