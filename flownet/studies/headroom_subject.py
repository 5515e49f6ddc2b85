"""What is moved: one number of the case, or several together, from today's value; and how far."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.changes import converted, role_of
from flownet.enclosure.contents import Place
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.relative import is_relative, settled
from flownet.results.limits import Limit
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.component import KINDS
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError
from flownet.schema.fields import NONE, Number, given, roles
from flownet.schema.quantities import Quantity

ABSENT = {  # what holds where neither the key nor the one that replaces it is given
    ("outside", "altitude"): (0.0, "pressure"),
    ("outside", "clearness"): (1.0, ""),
    ("part", "power"): (0.0, "output"),
    ("slot", "power"): (0.0, ""),
}
FINER_FORMS = tuple(f".{number}g" for number in range(4, 10))  # more and more of them
FINEST = 9  # decimals
SCAN_STEPS = 32  # of the scan
FEWEST_ASIDE = 8  # of them on either side of today's value, where there is one
Span = tuple[float, float]
CONVENTION = (q.TEMPERATURE, q.LEVEL, q.ALTITUDE, q.COUNT)  # a multiple of these says nothing


@dataclass(frozen=True)
class Subject:
    """A key whose values are tried.

    Where a path with `*` stands for numbers that differ today, what is tried is a factor on each of
    them, and `own` holds them; else one value for all.
    """

    path: str
    places: tuple[Place, ...]
    role: Number
    present: float  # SI; 1 of a factor
    own: Mapping[str, float] = field(default_factory=lambda: NONE)

    @property
    def factor(self) -> bool:
        """Whether values are factors on those of today."""
        return bool(self.own)

    @property
    def quantity(self) -> Quantity:
        """Of what is tried."""
        return q.RATIO if self.factor else self.role.quantity

    @property
    def whole(self) -> bool:
        """Whether only whole numbers make sense."""
        return self.quantity == q.COUNT

    @property
    def key(self) -> str:
        """The key within its thing: `fouling`, `guard.loss`."""
        return self.places[0].key

    @property
    def allowed(self) -> tuple[float, float]:
        """The declared range; of a factor, what keeps every number in it."""
        low, high = self.role.low, self.role.high
        if not self.factor:
            return low, high
        ends = [sorted((low / own, high / own)) for own in self.own.values() if own]
        return max(e[0] for e in ends), min(e[1] for e in ends)

    def changes(self, values: Array) -> dict[str, Any]:
        """Changes that try these values."""
        if not self.factor:
            return {self.path: values}
        return {path: own * values for path, own in self.own.items()}

    def read(self, raw: Any, case: Enclosure, *, file: bool = False) -> float:
        """A value as it is written, SI; CaseError where it is none of this key."""
        if self.factor:
            try:
                return float(convert(Number(q.RATIO, low=0.0), raw, file=file))
            except CaseError as error:
                why = f"the numbers of {self.path} differ, so it is a factor on each of them"
                raise CaseError([f"{fault} ({why})" for fault in error.faults]) from None
        value = converted(case, self.path, raw, file=file)
        if is_relative(value):
            value = settled(case, self.places[0], self.role, value, {})
        if isinstance(value, str):  # a speed in rpm
            raise CaseError(f'{self.path}: a ratio to rated speed is wanted (got "{raw}")')
        return float(value)

    def text(self, value: float, units: str = "metric") -> str:
        """A value in the units of the reader; `1.3 times` of a factor."""
        return self.apart(value, self.present, units)

    def texts(
        self, values: Sequence[float], units: str = "metric", sides: Sequence[int] | None = None
    ) -> list[str]:
        """A column of values, with as many decimals as tell them apart; rounded to `sides`."""
        shown, ways = self.quantity.shown(units), sides or [0] * len(values)
        decimals, count, times = shown.decimals(values), len(set(values)), " times" * self.factor
        while True:
            found = [shown.text(shown.past(value, side, decimals), "", decimals) + times
                     for value, side in zip(values, ways, strict=True)]  # fmt: skip
            if len(set(found)) >= count or decimals >= FINEST:
                return found
            decimals += 1

    def dries(self, value: str, limit: Limit | None, units: str) -> str:
        """Of the power of a part that lifts the coldest place above the dew point: that it does."""
        if limit is None or limit.limit != "dew" or self.key != "power" or self.factor:
            return ""
        above = limit.quantity.shown(units).text(float(limit.bound))
        return f": a heater of {value} keeps the coldest place {above} above the dew point"

    def apart(self, value: float, other: float, units: str = "metric", side: int = 0) -> str:
        """A value with as many digits as tell it from another; rounded down (-1), up (1)."""
        shown = self.quantity.shown(units)
        for digits in (shown.digits, *FINER_FORMS):
            finer = shown._replace(digits=digits)
            if finer.number(finer.past(value, side)) != finer.number(other):
                shown = finer
                break
        return shown.text(shown.past(value, side)) + " times" * bool(self.factor)


def subject(case: Enclosure, path: str) -> Subject:
    """What a path names; CaseError where it is no number that can be moved."""
    if not path.strip():
        raise CaseError(f'key: a key is wanted, such as outside.temperature (got "{path}")')
    places = tuple(case.places(path))
    role = _number(path, places[0])
    own = {place.path: _value(case, place) for place in places}
    missing = [p for p, value in own.items() if math.isnan(value)]
    if missing:
        raise CaseError(f"{path}: {missing[0]} has no value to start from{_instead(places[0])}")
    values = list(own.values())
    if all(value == values[0] for value in values):
        return Subject(path, places, role, values[0])
    if role.quantity in CONVENTION:
        low, high = (role.quantity.metric.text(v) for v in (min(values), max(values)))
        raise CaseError(f"{path}: stands for different values ({low} to {high}); name one")
    return Subject(path, places, role, 1.0, own)


def _number(path: str, place: Place) -> Number:
    if place.key == "type":
        raise CaseError(f"{path}: is a type; a number is wanted, such as outside.temperature")
    role = role_of(place)
    if isinstance(role, Number):
        return role
    inner = [key for key, each in roles(KINDS[place.kind]).items()
             if key.startswith(place.key + ".") and isinstance(each, Number)]  # fmt: skip
    if inner:
        head = path.removesuffix(place.key)
        raise CaseError(f"{path}: holds several values; name one, such as {head}{inner[0]}")
    raise CaseError(f"{path}: is no number; a number is wanted, such as outside.temperature")


def _value(case: Enclosure, place: Place) -> float:
    """The value today; NaN where there is none to start from."""
    item = case.things[place.kind][place.name]
    if (place.kind, place.key) == ("fan", "speed"):
        return _speed(case, place, item)
    value = case[place.path]
    if given(value):
        return float(value)
    value, other = ABSENT.get((place.kind, place.key), (math.nan, ""))
    return math.nan if other and given(getattr(item, other)) else value


def _speed(case: Enclosure, place: Place, fan: Any) -> float:
    """Ratio to rated speed, also of a fan whose speed is given in rpm."""
    if fan.speed_control is not None:
        raise CaseError(
            f"{place.path}: the fan follows a temperature (speed_control); its speed is no input"
        )
    if given(fan.speed):
        return float(fan.speed)
    return float(fan.rotation / case.rating(fan).rated_speed)


def _instead(place: Place) -> str:
    if (place.kind, place.key) == ("part", "power"):
        return "; its heat is given by output and efficiency: part.NAME.load scales any heat"
    if (place.kind, place.key) == ("outside", "altitude"):
        return "; outside.pressure is given instead"
    return "; name one that has, or give it a value first"


# --- how far it is tried --------------------------------------------------------------------------


class Range(NamedTuple):
    """One row: which keys, how far in words, and the ends."""

    keys: str
    words: str
    fits: Callable[[Subject], bool]
    ends: Callable[[Subject, Enclosure], Span]


def _speeds(subject: Subject, case: Enclosure) -> Span:
    """What the types of all fans allow."""
    fans = [case.fans[place.name] for place in subject.places]
    known = [span for fan in fans if (span := case.rating(fan).speed_range)]
    low, high = max((s[0] for s in known), default=0.1), min((s[1] for s in known), default=1.5)
    if not subject.factor:
        return low, high
    own = [value for value in subject.own.values() if value]
    return low / min(own), high / max(own)


def _shares(subject: Subject, case: Enclosure) -> Span:
    return 0.1 * subject.present, 5.0 * subject.present


def _is(*names: str) -> Callable[[Subject], bool]:
    return lambda subject: f"{subject.places[0].kind}.{subject.key}" in names


def _of(quantity: q.Quantity) -> Callable[[Subject], bool]:
    return lambda subject: subject.quantity == quantity


def _bounded(subject: Subject) -> bool:
    """A share, such as an open ratio or an efficiency."""
    return subject.role.quantity == q.RATIO and all(map(math.isfinite, subject.allowed))


RANGES = (  # the first that fits
    Range("`filter.NAME.fouling`, `vent.NAME.fouling`",
          "1 (clean) to 10, or to three times today's value",
          _is("filter.fouling", "vent.fouling"),
          lambda s, _: (min(1.0, s.present), max(10.0, 3.0 * s.present))),
    Range("`fan.NAME.speed`", "the `speed_range` of the fan type, else 0.1 to 1.5",
          _is("fan.speed"), _speeds),
    Range("temperatures", "60 K below to 60 K above today's value", _of(q.TEMPERATURE),
          lambda s, _: (s.present - 60.0, s.present + 60.0)),
    Range("`outside.altitude`", "0 to 5000 m", _of(q.ALTITUDE), lambda s, _: (0.0, 5000.0)),
    Range("sound levels", "20 dB below to 20 dB above today's value", _of(q.LEVEL),
          lambda s, _: (s.present - 20.0, s.present + 20.0)),
    Range("shares such as `open_ratio` and `efficiency`", "all that the key allows", _bounded,
          lambda s, _: s.allowed),
    Range("any other number, and factors on several", "a tenth to five times today's value",
          lambda s: True, _shares),
)  # fmt: skip


def span(subject: Subject, case: Enclosure, upto: Any, *, file: bool = False) -> Span:
    """Both ends of the range that is tried; with `upto` only from today's value to there.

    CaseError where `upto` is no other value of the key, or none is given and none is known.
    """
    here = subject.present
    if upto is not None:
        try:
            end = subject.read(upto, case, file=file)
        except CaseError as error:
            raise CaseError([f"upto: {fault}" for fault in error.faults]) from None
        if end == here or not math.isfinite(end):
            value = subject.text(end)
            raise CaseError(
                f"upto: a value other than today's is wanted, above or below it (got {value})"
            )
        return min(here, end), max(here, end)
    low, high = next(row for row in RANGES if row.fits(subject)).ends(subject, case)
    least, most = subject.allowed
    low, high = min(max(min(low, high), least), here), max(min(max(low, high), most), here)
    if not low < high:
        raise CaseError(
            f"{subject.path}: is {subject.text(here)} today, which says nothing about a range; "
            "say how far to go with upto"
        )
    return low, high


def grid(low: float, present: float, high: float, whole: bool = False) -> list[float]:
    """Values of the scan: evenly to both sides of today's value, which is one of them.

    Of a count, the whole numbers next to them, within the ends.
    """
    below = round(SCAN_STEPS * (present - low) / (high - low))
    if low < present < high:
        below = min(max(below, FEWEST_ASIDE), SCAN_STEPS - FEWEST_ASIDE)
    down = np.linspace(low, present, below + 1)[:-1] if below else np.array([])
    up = np.linspace(present, high, SCAN_STEPS - below + 1)
    values = [*down.tolist(), *(up.tolist() if high > present else [present])]
    if not whole:
        return values
    near = {float(round(value)) for value in values}
    return sorted({present, *(value for value in near if low <= value <= high)})
