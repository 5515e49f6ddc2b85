"""Which input matters most for one result: exact derivatives, largest effect first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet import quantities as q
from flownet.enclosure.whole import Enclosure
from flownet.errors import CaseError, NoSolution
from flownet.inputs import Inputs
from flownet.network import steady
from flownet.network.coupled import STEP, Pattern
from flownet.network.model import Model
from flownet.network.sensitivity import derivatives
from flownet.network.structure import Structure
from flownet.quantities import Quantity
from flownet.solution import Solution
from flownet.solve import solve
from flownet.tables import BRANCH, COMPARTMENT, FAN, HEAT, PART, STATION, TOTALS
from flownet.things import KINDS, Number, roles

KELVIN = 1.0  # K: temperatures are moved by this, a share of an absolute temperature says nothing


class Effect(NamedTuple):
    """What one input does to the result, to first order."""

    path: str
    value: float  # of the input, SI
    derivative: float  # of the result to the input, SI
    step: float  # change of the input, SI
    change: float  # of the result by that step, SI
    elasticity: float  # relative change of the result to relative change of the input
    quantity: Quantity  # of the input


@dataclass(frozen=True, repr=False)
class Ranking:
    """Inputs by their effect on one result, largest first."""

    of: str
    value: float
    quantity: Quantity  # of the result
    share: float  # of each input, by which it is moved
    effects: tuple[Effect, ...]
    solution: Solution

    def __repr__(self) -> str:
        first = self.effects[0].path if self.effects else "nothing"
        return f"<Ranking of {self.of}: {len(self.effects)} inputs, first {first}>"

    def moved(self, effect: Effect, units: str = "metric") -> str:
        """By how much its input is moved: `+10 %`, or less where its range ends; `+1.0 K`."""
        if effect.quantity is q.TEMPERATURE:
            return q.DIFFERENCE.shown(units).text(effect.step, "+")
        return f"{100 * effect.step / abs(effect.value):+.3g} %"

    def words(self, effect: Effect, units: str = "metric") -> str:
        """`+10 % on filter.intake.fouling: +0.8 K`."""
        by = self.moved(effect, units)
        change = _difference(self.quantity).shown(units).text(effect.change, "+")
        return f"{by} on {effect.path}: {change}"

    def to_dict(self) -> dict[str, Any]:
        """JSON: changes in the unit of their key."""
        change = _difference(self.quantity)
        rows = [
            {"path": e.path, "value": e.value, "derivative": e.derivative, "step": e.step,
             change.key("change"): e.change * change.json.factor, "elasticity": e.elasticity}
            for e in self.effects
        ]  # fmt: skip
        return {"command": "rank", "of": self.of, "value": self.value, "effects": rows}

    def to_frame(self) -> Any:
        """A pandas DataFrame, one row an input (needs pandas)."""
        import pandas  # noqa: PLC0415 - an extra

        return pandas.DataFrame(self.to_dict()["effects"])


def rank(
    case: Enclosure, of: str, *, scenario: str = "base", variant: str = "base", step: float = 0.10
) -> Ranking:
    """Every number of the case by what a share of it does to one result.

    Parameters
    ----------
    of : result path, such as `part.rectifier.temperature` or `total.volume_flow`
    step : share of each input; temperatures are moved by 1 K instead

    Raises
    ------
    CaseError
        An unknown result path; what `solve` raises.
    NoSolution
        What `solve` raises.
    """
    solution = solve(case, scenario=scenario, variant=variant)
    value, quantity = solution[of], _quantity(of)
    inputs = Inputs.of(solution.case)
    structure = Structure.of(solution.case)
    model = Model.of(inputs, structure)
    found = steady.solve(model, Pattern(structure))
    if found.status[0]:
        raise NoSolution(found.status[0])
    effects = []
    for paths, moved in derivatives(inputs, model, found, list(inputs.numbers())):
        slopes = np.broadcast_to(np.imag(moved.value(of)) / STEP, len(paths))
        effects += list(_effects(inputs, dict(zip(paths, slopes, strict=True)), value, step))
    effects.sort(key=lambda e: (-abs(e.change), e.path))
    return Ranking(of, value, quantity, step, tuple(effects), solution)


def _effects(
    inputs: Inputs, slopes: Mapping[str, float], value: float, share: float
) -> Iterator[Effect]:
    for path, slope in slopes.items():
        place = inputs.enclosure.place(path)
        role = roles(KINDS[place.kind])[place.key]
        assert isinstance(role, Number)
        here = float(inputs.row(path)[0])
        step = KELVIN if role.quantity is q.TEMPERATURE else share * abs(here)
        if here + step > role.high:  # an efficiency of 0.97 cannot grow by 10 %
            step = role.high - here if role.high > here else -step
        if slope != 0 and step != 0:
            elasticity = slope * here / value if value else np.nan
            yield Effect(path, here, float(slope), step, float(slope * step), float(elasticity),
                         role.quantity)  # fmt: skip


def _difference(quantity: Quantity) -> Quantity:
    """What a change of a quantity is measured in."""
    return {q.TEMPERATURE: q.DIFFERENCE, q.LEVEL: q.LEVEL_DIFFERENCE}.get(quantity, quantity)


def _quantity(path: str) -> Quantity:
    """The quantity of a result path; CaseError where it is no number."""
    kind, name = path.partition(".")[0], path.rpartition(".")[2]
    fields = {
        "total": TOTALS, "compartment": COMPARTMENT, "part": PART + STATION, "wall": HEAT,
        "exchange": HEAT,
    }.get(kind, BRANCH + FAN)  # fmt: skip
    for field in fields:
        if field.name == name and field.quantity is not None:
            return field.quantity
    numbers = ", ".join(f.name for f in fields if f.quantity is not None)
    raise CaseError(f"{path}: no number of this name among the results; there are {numbers}")
