"""What would explain readings: each a change of the case that is solved, or of a sensor; where
nothing alone does, two changes together.

A state that is switched counts as one number that is fitted, a sensor elsewhere as two; ranked by
chi-square and twice that count (H. Akaike, IEEE Transactions on Automatic Control 19(6), 1974,
716-723, cited from memory). Two together must leave less than the best alone by more than chance
does for one number more, at 5 % over all pairs that are tried (S. S. Wilks, Annals of Mathematical
Statistics 9(1), 1938, 60-62; C. E. Bonferroni, 1936; both cited from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fnmatch import fnmatchcase
from itertools import combinations
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.schema.arrays import Array
from flownet.schema.fields import NONE, get, given
from flownet.studies.headroom_subject import Subject, subject
from flownet.studies.readings.file import USUALLY_READ, Known, Readings
from flownet.studies.readings.fit import MISFIT, chance
from flownet.studies.readings.slopes import CLEAN_MAT
from flownet.studies.runs import Run, evaluate
from flownet.studies.samples import NORMAL_95

TRIED_VALUES = 17  # at a time of a number that is fitted
CLOSER_LOOKS = (1000, 6)  # how many numbers each is for, between the neighbours of the best value
COUNTED, ELSEWHERE = 1, 2  # numbers that an explanation fits
PAIRED = 5  # that come nearest alone, of which any two are tried together
PAIR_VALUES = 5  # of each number of a pair at a time
PAIR_REACHES = (4.0, 2.0, 1.0, 0.5, 0.25)  # about the best, in steps of `TRIED_VALUES`
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

    readings: Readings
    known: Known
    drawn: Mapping[str, Array]  # of each result of a quantity that is read: its change by one
    # standard deviation of each tolerance

    def at(self, points: Sequence[str]) -> Array:
        """What is predicted there."""
        return np.array([self.known[path][1] for path in points])

    def chi_square(self, predicted: Array, points: Sequence[str]) -> Array:
        """(runs,) of predictions (readings, runs) at these points, with what tolerances of the
        case move together fitted too; infinite where there is no prediction."""
        scale = NORMAL_95 / self.readings.wide[:, None]
        moved = np.array([self.drawn[path] for path in points]) * scale
        drawn = np.eye(moved.shape[1])
        ways = np.linalg.qr(np.vstack([moved, drawn]))[0]
        apart = (self.readings.values[:, None] - predicted) * scale
        apart = np.vstack([apart, np.zeros((len(drawn), apart.shape[1]))])
        left = apart - ways @ (ways.T @ apart)
        found: Array = np.nan_to_num(np.sum(left**2, axis=0), nan=np.inf)
        return found

    @property
    def stated(self) -> float:
        """Chi-square of the case as it is."""
        points = self.readings.points
        return float(self.chi_square(self.at(points)[:, None], points)[0])


class Explanation(NamedTuple):
    """Something that may be otherwise than the case says."""

    what: str
    chi_square: float
    counted: int  # numbers that were fitted for it
    freedom: int  # readings left to check it
    changes: Changes = NONE  # empty where only a sensor is elsewhere
    number: tuple[Subject, float] | None = None  # that was looked for, and its best value
    both: tuple[Explanation, ...] = ()  # of two together

    def words(self, units: str = "metric") -> str:
        """`filter.intake loaded otherwise: fouling 1.83`."""
        if self.both:
            return " together with ".join(each.words(units) for each in self.both)
        if self.number is None:
            return self.what
        of, value = self.number
        return f"{self.what}: {of.key} {of.text(value, units)}"

    @property
    def rank(self) -> float:
        """The less, the better."""
        return self.chi_square + 2 * self.counted

    @property
    def explains(self) -> bool:
        """Whether what is left is no more than uncertainty and tolerances (chi-square, 5 %)."""
        return self.freedom > 0 and chance(self.chi_square, self.freedom) >= MISFIT


def explanations(case: Enclosure, compared: Compared) -> list[Explanation]:
    """All that come nearer than the case as it is stated, the best first; where none alone explains
    all, two together that do."""
    begun = [[one] for one in _tried(case, compared.readings)]
    wide = [one for (one,) in _solved(case, compared, begun)]
    found = [*_changes(case, compared, wide), *_elsewhere(compared)]
    if not any(each.explains for each in found):
        found += _pairs(case, compared, wide, min(each.chi_square for each in found))
    better = [each for each in found if each.rank < compared.stated]
    return sorted(better, key=lambda each: (round(each.rank, 6), each.what))


# --- changes of the case --------------------------------------------------------------------------


class _Tried(NamedTuple):
    """A change of the case: one word, or values along which a number is looked for."""

    words: str
    path: str
    values: Sequence[Any] | Array
    at: int = 0  # which of them is best
    chi_square: float = np.inf  # of that
    predicted: Array = np.array([])  # (readings, values)

    def closer(self, count: int) -> _Tried:
        """So many values between the neighbours of the best."""
        if len(self.values) == 1:
            return self
        low, high = self.values[max(self.at - 1, 0)], self.values[self.at + 1 :][:1]
        end = high[0] if len(high) else self.values[-1]
        return self._replace(values=np.linspace(low, end, count))

    def changes(self, case: Enclosure, at: Any) -> dict[str, Any]:
        """What sets it to the values of these numbers."""
        if isinstance(self.values[0], str):
            return {self.path: self.values[0]}
        return subject(case, self.path).changes(np.asarray(self.values)[at])

    def explained(self, case: Enclosure, freedom: int) -> Explanation:
        """With the best of its values."""
        one, value = self.changes(case, self.at), self.values[self.at]
        if isinstance(value, str):
            return Explanation(self.words, self.chi_square, COUNTED, freedom, one)
        made = {path: float(each) for path, each in one.items()}
        number = subject(case, self.path), float(value)
        return Explanation(self.words, self.chi_square, COUNTED, freedom, made, number)


def _changes(case: Enclosure, compared: Compared, wide: Sequence[_Tried]) -> Iterator[Explanation]:
    """Every state and number that is tried, a number at its best value."""
    tried = list(wide)
    for most in CLOSER_LOOKS:
        tried.sort(key=lambda each: each.chi_square)
        numbers = [i for i, each in enumerate(tried) if len(each.values) > 1][:most]
        closer = _solved(case, compared, [[tried[i].closer(TRIED_VALUES)] for i in numbers])
        for i, (each,) in zip(numbers, closer, strict=True):
            tried[i] = each
    yield from (one.explained(case, len(compared.readings.points) - COUNTED) for one in tried)


def _solved(
    case: Enclosure, compared: Compared, groups: Sequence[Sequence[_Tried]]
) -> list[list[_Tried]]:
    """Each group at all combinations of its values, with the best of them; all in one batch."""
    runs = []
    for group in groups:
        mesh = np.indices([len(one.values) for one in group]).reshape(len(group), -1)
        each = [one.changes(case, at) for one, at in zip(group, mesh, strict=True)]
        runs.append(Run(changes={path: value for own in each for path, value in own.items()}))
    pairs, points = evaluate(case, runs), compared.readings.points
    predicted = np.array([pairs[path] for path in points])
    left = compared.chi_square(predicted, points)
    every = [pairs.run == i for i in range(len(groups))]
    return [_best(group, left[here], predicted[:, here])
            for group, here in zip(groups, every, strict=True)]  # fmt: skip


def _best(group: Sequence[_Tried], left: Array, predicted: Array) -> list[_Tried]:
    """A group with the best of all combinations of its values."""
    best = np.unravel_index(int(left.argmin()), [len(one.values) for one in group])
    return [one._replace(at=int(at), chi_square=float(left.min()), predicted=predicted)
            for one, at in zip(group, best, strict=True)]  # fmt: skip


def _about(wide: _Tried, value: Any, reach: float) -> _Tried:
    """Values about one, so many steps of those that were tried first each way."""
    if isinstance(value, str):
        return wide
    steps, first = np.arange(len(wide.values)), np.asarray(wide.values)
    place = np.interp(value, first, steps)
    places = np.linspace(place - reach, place + reach, PAIR_VALUES)
    return wide._replace(values=np.interp(places, steps, first))


def _pairs(
    case: Enclosure, compared: Compared, wide: Sequence[_Tried], alone: float
) -> Iterator[Explanation]:
    """Any two of those that come nearest that explain all together, and better than the best
    `alone`: begun where what each does by itself adds up best, then solved ever closer."""
    points, zero = compared.readings.points, compared.at(compared.readings.points)
    near = [one for one in sorted(wide, key=lambda each: each.chi_square)[:PAIRED]
            if np.isfinite(one.chi_square)]  # fmt: skip
    groups, freedom = list[tuple[Sequence[_Tried], list[_Tried]]](), len(points) - 2 * COUNTED
    for pair in combinations(near, 2):
        a, b = (one.path.rpartition(".")[0] for one in pair)
        if freedom > 0 and not (fnmatchcase(a, b) or fnmatchcase(b, a)):  # of different things
            first, second = (one.predicted for one in pair)
            added = first[:, :, None] + second[:, None, :] - zero[:, None, None]
            added = added.reshape(len(points), -1)
            groups.append((pair, _best(pair, compared.chi_square(added, points), added)))
    tried = len(groups)
    for reach in PAIR_REACHES if tried else ():
        closer = [[_about(one, now.values[now.at], reach)
                   for one, now in zip(*each, strict=True)] for each in groups]  # fmt: skip
        pairs = [pair for pair, _ in groups]
        groups = list(zip(pairs, _solved(case, compared, closer), strict=True))
        groups = sorted(groups, key=lambda each: each[1][0].chi_square)[: max(2, tried // 2)]
    for _, group in groups:
        both = tuple(one.explained(case, freedom) for one in group)
        made = Explanation(
            " and ".join(each.what for each in both), both[0].chi_square, 2 * COUNTED, freedom,
            {path: value for each in both for path, value in each.changes.items()}, both=both,
        )  # fmt: skip
        if made.explains and chance(alone - made.chi_square, 1) < MISFIT / tried:
            yield made


def _tried(case: Enclosure, readings: Readings) -> Iterator[_Tried]:
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
    for name, supply in case.things["supply"].items():
        for hertz in other_mains(case, name):
            yield _Tried(f"supply.{name} on {hertz:g} Hz", f"supply.{name}.frequency",
                         [f"{hertz:g} Hz"])  # fmt: skip
        if _fed(case, name):
            volts = supply.voltage * np.linspace(0.7, 1.2, TRIED_VALUES)
            yield _Tried(f"supply.{name} at another voltage", f"supply.{name}.voltage", volts)
    for path in _heated(case, readings):
        loads = subject(case, f"{path}.load").present * np.linspace(0.0, 2.0, TRIED_VALUES)
        yield _Tried(f"{path} more or less heat", f"{path}.load", loads)
    warm = case.outside.temperature + np.linspace(-15.0, 15.0, TRIED_VALUES)
    yield _Tried("outside air warmer or cooler", "outside.temperature", warm)


def _fed(case: Enclosure, name: str) -> set[str]:
    """Types of running fans on a supply."""
    return {fan.type for fan in case.fans.values() if fan.supply == name and fan.running}


def other_mains(case: Enclosure, name: str) -> list[float]:
    """Mains frequencies, other than its own, that running fans on a supply have data for [Hz]."""
    own, fed = case.things["supply"][name].frequency, _fed(case, name)
    rated = {row.supply_text.frequency for kind, row in case.things["fan_type"].items()
             if kind.partition(".rating.")[0] in fed and row.supply_text}  # fmt: skip
    return sorted(rated.intersection(MAINS) - {own}) if given(own) else []


def _heated(case: Enclosure, readings: Readings) -> list[str]:
    """All parts where several give heat, and each part or slot that does and has a reading."""
    named = {path.rpartition(".")[0] for path in readings.points}
    some = [item for kind in ("part", "slot") for item in case.things[kind].values()
            if any(getattr(item, key, 0.0) > 0 for key in ("power", "output"))]  # fmt: skip
    whole = ["part.*"] * (sum(item.KIND == "part" for item in some) > 1)
    return [*whole, *(item.path for item in some if item.path in named)]


# --- sensors --------------------------------------------------------------------------------------


def _elsewhere(compared: Compared) -> Iterator[Explanation]:
    """Each sensor at the usual point that fits it best, and any two of one quantity in each other's
    place."""
    points, kinds = compared.readings.points, compared.readings.kinds
    for i, own in enumerate(points):
        others = [path for path in compared.drawn
                  if compared.known[path][0] == kinds[i] and path != own
                  and path.rpartition(".")[2] in USUALLY_READ]  # fmt: skip
        moved = [_sensors(compared, {i: path}, f"sensor of {own} sits at {path}")
                 for path in others]  # fmt: skip
        yield from sorted(moved, key=lambda each: each.chi_square)[:1]
        for j in range(i + 1, len(points)):
            if kinds[j] == kinds[i]:
                words = f"sensors of {own} and {points[j]} are interchanged"
                yield _sensors(compared, {i: points[j], j: own}, words)


def _sensors(compared: Compared, where: Mapping[int, str], words: str) -> Explanation:
    points = [where.get(i, path) for i, path in enumerate(compared.readings.points)]
    left = compared.chi_square(compared.at(points)[:, None], points)
    return Explanation(words, float(left[0]), ELSEWHERE, len(points) - ELSEWHERE)
