"""What alone would explain readings: each a change of the case that is solved, or of a sensor.

A state that is switched counts as one number that is fitted, a sensor elsewhere as two; ranked by
chi-square and twice that count (H. Akaike, IEEE Transactions on Automatic Control 19(6), 1974,
716-723, cited from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.schema.fields import get, given
from flownet.schema.quantities import Quantity
from flownet.studies.headroom_subject import Subject, subject
from flownet.studies.readings.fit import MISFIT, chance
from flownet.studies.readings.unknowns import CLEAN_MAT
from flownet.studies.runs import Outcomes, Run, evaluate

TRIED_VALUES = 17  # at a time of a number that is fitted
CLOSER_LOOKS = 3  # times, each between the neighbours of the best value
REFINED = 6  # explanations whose number is looked for more closely
COUNTED, ELSEWHERE = 1, 2  # numbers that an explanation fits
MAINS = (50.0, 60.0)  # Hz
SWITCHED = {  # kind -> from which state to which other, in words
    "fan": ("running", "stopped", "stands still"), "filter": ("fitted", "removed", "not fitted"),
    "vent": ("open", "blanked", "covered"), "opening": ("open", "blanked", "covered"),
    "duct": ("open", "blanked", "covered"),
}  # fmt: skip
LOOKED_FOR = {  # kind -> key, in which state, between which shares of today's value, in words
    "filter": ("fouling", "fitted", 1.0, 20.0, "loaded otherwise"),
    "vent": ("fouling", "open", 1.0, 20.0, "loaded otherwise"),
    "opening": ("area", "open", 0.1, 10.0, "larger or smaller"),
    "leak": ("flow_at.0", "open", 0.1, 100.0, "leaks more or less"),
}


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

    what: str
    number: tuple[Subject, float] | None  # that was looked for, and its best value
    changes: Changes  # empty where only a sensor is elsewhere
    chi_square: float
    counted: int  # numbers that were fitted for it
    readings: int

    def words(self, units: str = "metric") -> str:
        """`filter.intake loaded otherwise: fouling 1.83`."""
        if self.number is None:
            return self.what
        of, value = self.number
        return f"{self.what}: {of.key} {of.text(value, units)}"

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
    return sorted(better, key=lambda each: (round(each.rank, 6), each.what))


# --- changes of the case --------------------------------------------------------------------------


def _changes(case: Enclosure, readings: Compared) -> Iterator[Explanation]:
    """Every state and number that is tried, a number at its best value."""
    tried = list(_tried(case, readings))
    best = _best(case, readings, tried)
    for _ in range(1, CLOSER_LOOKS):
        order = sorted((i for i in best if len(tried[i].values) > 1), key=lambda i: best[i][0])
        closer = order[:REFINED]
        near = [tried[i]._replace(values=_between(tried[i].values, best[i][1])) for i in closer]
        for i, one, (chi_square, at) in zip(closer, near, _best(case, readings, near).values(),
                                            strict=True):  # fmt: skip
            tried[i], best[i] = one, (chi_square, at)
    for i, (chi_square, at) in best.items():
        one, value = tried[i], tried[i].values[at]
        number, changes = None, dict[str, Any]({one.path: value})
        if not isinstance(value, str):
            number = subject(case, one.path), float(value)
            changes = {p: float(v) for p, v in number[0].changes(np.array(value)).items()}
        yield Explanation(one.words, number, changes, chi_square, COUNTED, len(readings.points))


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
    low, high = values[max(at - 1, 0)], values[min(at + 1, len(values) - 1)]
    return np.linspace(low, high, TRIED_VALUES)


def _tried(case: Enclosure, readings: Compared) -> Iterator[_Tried]:
    """What is looked at, in the order of the case."""
    for name, fan in case.fans.items():
        if fan.running:
            other = "forward" if fan.mounted == "reversed" else "reversed"
            yield _Tried(f"fan.{name} blows the other way", f"fan.{name}.mounted", [other])
    for path, branch in case.branches.items():
        kind, state = path.partition(".")[0], getattr(branch, "state", "")
        if state == SWITCHED.get(kind, "-")[0]:
            _, other, words = SWITCHED[kind]
            yield _Tried(f"{path} {words}", f"{path}.state", [other])
        if kind in LOOKED_FOR and state == LOOKED_FOR[kind][1]:
            key, _, low, high, words = LOOKED_FOR[kind]
            today = get(branch, key)
            low = min(low, CLEAN_MAT / today) if key == "fouling" else low
            values = today * np.geomspace(low, high, TRIED_VALUES)
            yield _Tried(f"{path} {words}", f"{path}.{key}", values)
    yield from _fed(case)
    yield from _heated(case, readings)
    warm = case.outside.temperature + np.linspace(-15.0, 15.0, TRIED_VALUES)
    yield _Tried("outside air warmer or cooler", "outside.temperature", warm)


def _fed(case: Enclosure) -> Iterator[_Tried]:
    """Supplies of running fans: another frequency that there are data for, another voltage."""
    for name, supply in case.things["supply"].items():
        fed = {fan.type for fan in case.fans.values() if fan.supply == name and fan.running}
        for other in other_mains(case, name):
            yield _Tried(f"supply.{name} on {other:g} Hz", f"supply.{name}.frequency",
                         [f"{other:g} Hz"])  # fmt: skip
        if fed:
            volts = supply.voltage * np.linspace(0.7, 1.2, TRIED_VALUES)
            yield _Tried(f"supply.{name} at another voltage", f"supply.{name}.voltage", volts)


def other_mains(case: Enclosure, name: str) -> list[float]:
    """Mains frequencies, other than its own, that running fans on a supply have data for [Hz]."""
    own = case.things["supply"][name].frequency
    fed = {fan.type for fan in case.fans.values() if fan.supply == name and fan.running}
    rated = {row.supply_text.frequency for kind, row in case.things["fan_type"].items()
             if kind.partition(".rating.")[0] in fed and row.supply_text}  # fmt: skip
    return sorted(rated.intersection(MAINS) - {own}) if given(own) else []


def _heated(case: Enclosure, readings: Compared) -> Iterator[_Tried]:
    """All heat of parts, and that of each part or slot with a reading."""
    named = {path.rpartition(".")[0] for path in readings.points}
    some = [item for kind in ("part", "slot") for item in case.things[kind].values()
            if any(getattr(item, key, 0.0) > 0 for key in ("power", "output"))]  # fmt: skip
    paths = ["part.*"] if sum(item.KIND == "part" for item in some) > 1 else []
    for path in [*paths, *(item.path for item in some if item.path in named)]:
        loads = subject(case, f"{path}.load").present * np.linspace(0.0, 2.0, TRIED_VALUES)
        yield _Tried(f"{path} more or less heat", f"{path}.load", loads)


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
    return Explanation(words, None, {}, chi_square, ELSEWHERE, len(points))
