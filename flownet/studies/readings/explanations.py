"""What alone would explain readings: each tried as a change of the case, or of where sensors sit.

A state that is switched counts as one number that is fitted, a sensor elsewhere as two. Explanations
are ranked by chi-square and twice that count (H. Akaike, IEEE Transactions on Automatic Control
19(6), 1974, 716-723, cited from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import as_text
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.schema.fields import given
from flownet.schema.quantities import Quantity
from flownet.studies.headroom_subject import subject
from flownet.studies.readings.fit import MISFIT, chance
from flownet.studies.runs import Outcomes, Run, evaluate

VALUES, ROUNDS = 17, 3  # of a number that is fitted: values at a time, and how often closer ones
REFINED = 6  # explanations whose number is looked for more closely
COUNTED, ELSEWHERE = 1, 2  # numbers that an explanation fits
MAINS = (50.0, 60.0)  # Hz


class Compared(NamedTuple):
    """Readings beside a case as it is stated; SI."""

    points: Sequence[str]
    read: Array  # (readings,)
    spread: Array  # (readings,) standard deviations of the readings
    quantities: Mapping[str, Quantity]  # of every result that can be read
    values: Mapping[str, float]  # likewise
    drawn: Mapping[str, Array]  # likewise: change by one standard deviation of each tolerance

    def chi_square(self, apart: Array, points: Sequence[str]) -> float:
        """Of differences at these points, which tolerances of the case move together."""
        moved = np.array([self.drawn[path] for path in points])
        wide = np.diag(self.spread**2) + moved @ moved.T
        return float(apart @ np.linalg.solve(wide, apart)) if np.isfinite(apart).all() else np.inf

    @property
    def stated(self) -> float:
        """Chi-square of the case as it is."""
        return self.chi_square(self.read - self.at(self.points), self.points)

    def at(self, points: Sequence[str]) -> Array:
        """What is predicted there."""
        return np.array([self.values[path] for path in points])


class Explanation(NamedTuple):
    """Something that may be otherwise than the case says."""

    words: str
    changes: Changes  # empty where only a sensor is elsewhere
    chi_square: float
    counted: int  # numbers that were fitted for it
    readings: int

    @property
    def rank(self) -> float:
        """The less, the better."""
        return self.chi_square + 2 * self.counted

    @property
    def freedom(self) -> int:
        """Readings left to check it."""
        return self.readings - self.counted

    @property
    def explains(self) -> bool:
        """Whether what is left is no more than uncertainty and tolerances (chi-square, 5 %)."""
        return self.freedom > 0 and chance(self.chi_square, self.freedom) >= MISFIT


class _Tried(NamedTuple):
    """A change of the case: one state, or values of a number."""

    words: str
    path: str
    values: Sequence[Any] | Array  # along which a number is looked for; one word of a state


def explanations(case: Enclosure, readings: Compared) -> list[Explanation]:
    """All that come nearer than the case as it is stated, the best first."""
    found = [*_changes(case, readings), *_elsewhere(readings)]
    better = [each for each in found if each.rank < readings.stated]
    return sorted(better, key=lambda each: (round(each.rank, 6), each.words))


# --- changes of the case --------------------------------------------------------------------------


def _changes(case: Enclosure, readings: Compared) -> Iterator[Explanation]:
    """Every state and number that is tried, a number at its best value."""
    tried = list(_tried(case, readings))
    best = _best(case, readings, tried)
    for _ in range(1, ROUNDS):
        order = sorted((i for i in best if len(tried[i].values) > 1), key=lambda i: best[i][0])
        closer = order[:REFINED]
        near = [tried[i]._replace(values=_between(tried[i].values, best[i][1])) for i in closer]
        for i, one, (chi_square, at) in zip(closer, near, _best(case, readings, near).values(),
                                            strict=True):  # fmt: skip
            tried[i], best[i] = one, (chi_square, at)
    for i, (chi_square, at) in best.items():
        path, value = tried[i].path, tried[i].values[at]
        if np.isfinite(chi_square):
            changes = {path: value} if isinstance(value, str) else \
                {p: float(v) for p, v in subject(case, path).changes(np.float64(value)).items()}
            yield Explanation(_told(case, tried[i], value), changes, chi_square, COUNTED,
                              len(readings.points))  # fmt: skip


def _best(
    case: Enclosure, readings: Compared, tried: Sequence[_Tried]
) -> dict[int, tuple[float, int]]:
    """Of each: the least chi-square and the number of the value that has it, all in one batch."""
    runs = [Run(changes={one.path: one.values[0]} if isinstance(one.values[0], str) else
                subject(case, one.path).changes(np.asarray(one.values)))
            for one in tried]  # fmt: skip
    pairs = evaluate(case, runs)
    values = np.array([_values(pairs, path) for path in readings.points])
    found: dict[int, tuple[float, int]] = {}
    for pair, (run, member) in enumerate(zip(pairs.run, pairs.member, strict=True)):
        chi_square = readings.chi_square(readings.read - values[:, pair], readings.points)
        if run not in found or chi_square < found[run][0]:
            found[int(run)] = (chi_square, int(member))
    return found


def _values(pairs: Outcomes, path: str) -> Array:
    try:
        return pairs[path]
    except CaseError:  # no run of these has it
        return np.full(len(pairs), np.nan)


def _between(values: Sequence[Any] | Array, at: int) -> Array:
    """As many values between the neighbours of one."""
    found: Array = np.linspace(values[max(at - 1, 0)], values[min(at + 1, len(values) - 1)], VALUES)
    return found


def _told(case: Enclosure, tried: _Tried, value: Any) -> str:
    """`filter.intake loaded: fouling 1.83`."""
    if isinstance(value, str):
        return tried.words
    of = subject(case, tried.path)
    return f"{tried.words}: {of.key} {of.text(float(value))}"


def _tried(case: Enclosure, readings: Compared) -> Iterator[_Tried]:
    """What is looked at, in the order of the case."""
    for name, fan in case.fans.items():
        if fan.running:
            other = "forward" if fan.mounted == "reversed" else "reversed"
            yield _Tried(f"fan.{name} blows the other way", f"fan.{name}.mounted", [other])
            yield _Tried(f"fan.{name} stands still", f"fan.{name}.state", ["stopped"])
    for name, supply in case.things["supply"].items():
        yield from _fed(case, name, supply.voltage, supply.frequency)
    for path, branch in case.branches.items():
        kind, state = path.partition(".")[0], getattr(branch, "state", "")
        if kind in ("filter", "vent") and state in ("fitted", "open"):
            yield _Tried(f"{path} loaded", f"{path}.fouling", branch.fouling * _shares(1.0, 20.0))
        if kind == "filter" and state == "fitted":
            yield _Tried(f"{path} not fitted", f"{path}.state", ["removed"])
        if kind in ("vent", "opening", "duct") and state == "open":
            yield _Tried(f"{path} covered", f"{path}.state", ["blanked"])
        if kind == "opening" and state == "open":
            yield _Tried(f"{path} larger or smaller", f"{path}.area",
                         branch.area * _shares(0.1, 10.0))  # fmt: skip
        if kind == "leak" and state == "open":
            yield _Tried(f"{path} open", f"{path}.flow_at.0",
                         branch.flow_at[0] * _shares(0.1, 100.0))  # fmt: skip
    yield from _heat(case, readings)
    warm = case.outside.temperature
    yield _Tried("outside air warmer or cooler", "outside.temperature", warm + np.linspace(-15.0, 15.0, VALUES))


def _shares(low: float, high: float) -> Array:
    found: Array = np.geomspace(low, high, VALUES)
    return found


def _fed(case: Enclosure, name: str, volts: float, hertz: float) -> Iterator[_Tried]:
    """Another frequency that a fan has data for, another voltage."""
    fed = [fan for fan in case.fans.values() if fan.supply == name and fan.running]
    rows = [row for kind, row in case.things["fan_type"].items()
            if any(kind.partition(".rating.")[0] == fan.type for fan in fed)]  # fmt: skip
    rated = {row.supply_text.frequency for row in rows if row.supply_text is not None}
    for other in MAINS:
        if given(hertz) and other in rated and other != hertz:
            yield _Tried(f"supply.{name} on {other:g} Hz", f"supply.{name}.frequency",
                         [f"{other:g} Hz"])  # fmt: skip
    if fed:
        yield _Tried(f"supply.{name} at another voltage", f"supply.{name}.voltage",
                     volts * np.linspace(0.7, 1.2, VALUES))  # fmt: skip


def _heat(case: Enclosure, readings: Compared) -> Iterator[_Tried]:
    """All heat of parts, and that of each part or slot with a reading."""
    named = {path.rpartition(".")[0] for path in readings.points}
    heated = [item.path for kind in ("part", "slot") for item in case.things[kind].values()
              if any(given(getattr(item, key, None)) and getattr(item, key)
                     for key in ("power", "output"))]  # fmt: skip
    shares = np.linspace(0.0, 2.0, VALUES)
    if sum(path.startswith("part.") for path in heated) > 1:
        yield _Tried("all parts give more or less heat", "part.*.load", _load(case, "part.*", shares))
    for path in heated:
        if path in named:
            yield _Tried(f"{path} gives more or less heat", f"{path}.load",
                         _load(case, path, shares))  # fmt: skip


def _load(case: Enclosure, path: str, shares: Array) -> Array:
    """Shares of what it is today: the factor itself where loads differ."""
    return shares * subject(case, f"{path}.load").present


# --- sensors --------------------------------------------------------------------------------------


def _elsewhere(readings: Compared) -> Iterator[Explanation]:
    """Each sensor at the point that fits it best, and any two of one quantity in each other's
    place."""
    points, count = list(readings.points), len(readings.points)
    kinds = [readings.quantities[path] for path in points]
    for i, own in enumerate(points):
        others = [path for path, kind in readings.quantities.items()
                  if kind == kinds[i] and path != own]  # fmt: skip
        moved = [_sensors(readings, {i: path}, f"sensor of {own} sits at {path}")
                 for path in others]  # fmt: skip
        yield from sorted(moved, key=lambda each: each.chi_square)[:1]
        for j in range(i + 1, count):
            if kinds[j] == kinds[i]:
                words = f"sensors of {own} and {points[j]} are interchanged"
                yield _sensors(readings, {i: points[j], j: own}, words)


def _sensors(readings: Compared, where: Mapping[int, str], words: str) -> Explanation:
    points = [where.get(i, path) for i, path in enumerate(readings.points)]
    chi_square = readings.chi_square(readings.read - readings.at(points), points)
    return Explanation(words, {}, chi_square, ELSEWHERE, len(points))
