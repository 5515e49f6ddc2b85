"""How far a key is tried where nobody says it: one table, for the search and for the docs."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.studies.headroom.subject import Subject

Span = tuple[float, float]


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
