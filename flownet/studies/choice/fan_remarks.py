"""What is said beside a fan type that is not excluded: what is not known, and its bearings."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.surroundings import Limits
from flownet.findings.fan_data import shaft_of
from flownet.physics.registry import COMMON_PRACTICE
from flownet.schema import quantities as q
from flownet.schema.fields import given
from flownet.studies.choice.eligibility import FanPlaces, Reason, permits, supply_words, told_once
from flownet.studies.choice.fan_solved import FanNumbers

HOT_FOR_SLEEVES = 323.15  # K: air in which a sleeve bearing ages soon; common practice, no source
SLEEVE = "sleeve bearing {why}: wears and gets loud early, ball bearings last"
BALL = "ball bearings, where quiet and intermittent duty in cool air would let a sleeve bearing do"


def remarks(places: FanPlaces, type_: str, numbers: FanNumbers) -> list[Reason]:
    """Everything worth a word about a type that serves."""
    rating = places.design.things["fan_type"][type_]
    found = [*_unknown(places, rating, numbers)]
    for fan in places.fans:
        found += _fed(places, type_, fan)
        found += _size(places, fan, rating)
        found += bearing(rating, fan.path, shaft_of(places.design, fan), numbers.air,
                         places.design.limits)  # fmt: skip
    return told_once(found)


def _unknown(places: FanPlaces, rating: FanType, numbers: FanNumbers) -> Iterator[Reason]:
    first, limits = places.paths[0], places.design.limits
    if math.isnan(numbers.noise):
        held = ": the limit of {bound} is not checked" if given(limits.noise_dBA) else ""
        yield Reason("noise", first, "", "noise not stated" + held,
                     {"bound": (q.LEVEL, limits.noise_dBA)})  # fmt: skip
    if math.isnan(numbers.life) and given(limits.fan_life_hours):
        yield Reason("life", first, "", "life not stated: the limit of {bound} is not checked",
                     {"bound": (q.HOURS, limits.fan_life_hours)})  # fmt: skip
    elif numbers.life_kind == "mean":
        yield Reason("life", first, "", "life is a mean, which says less than L10")
    if math.isnan(numbers.price):
        yield Reason("price", first, "", "price not stated")
    if rating.air_range is None:
        yield Reason("air-range", first, "", "no range of air temperature stated")


def _fed(places: FanPlaces, type_: str, fan: Fan) -> Iterator[Reason]:
    """Data for a supply that is not quite that of the place."""
    for scenario, case in places.made.items():
        data = places.fed(type_, fan.name, scenario)
        if data.how == "unknown":
            yield Reason("supply", fan.path, "", "its supply is not compared: "
                         + ("it states none" if fan.supply else "the place has none"))  # fmt: skip
        elif permits(data) or data.how == "near":
            words = "data for {own} used on {here}"
            words += ", scaled with the voltage" if data.how == "voltage" else ""
            yield Reason("supply", fan.path, "", words, supply_words(case, case.fans[fan.name],
                                                                     data))  # fmt: skip


def _size(places: FanPlaces, fan: Fan, rating: FanType) -> Iterator[Reason]:
    own = places.design.rating(fan)
    if rating.frame is None:
        if places.frame != "any":
            yield Reason("frame", fan.path, "", "frame not stated: it is not compared")
        return
    if own.frame is None:
        return
    more = rating.frame[1] - own.frame[1]
    if more > 1e-3:
        yield Reason("frame", fan.path, "", "{value} deeper than the type in place",
                     {"value": (q.LENGTH, more)})  # fmt: skip


def bearing(rating: FanType, path: str, shaft: str, air: float, limits: Limits) -> Iterator[Reason]:
    """What is common practice about sleeve and ball bearings; no source says how much it is."""
    if rating.bearing == "sleeve":
        reasons = [
            *(["with its shaft upright"] if shaft == "vertical" else []),
            *([f"in air of {q.TEMPERATURE.metric.text(air)}"] if air > HOT_FOR_SLEEVES else []),
            *(["in continuous duty"] if limits.duty == "continuous" else []),
        ]  # fmt: skip
        if reasons:
            yield Reason("bearing", path, "", f"{SLEEVE} ({COMMON_PRACTICE})",
                         {"why": (None, ", ".join(reasons))})  # fmt: skip
    gentle = limits.duty == "intermittent" and given(limits.noise_dBA) and air <= HOT_FOR_SLEEVES
    if rating.bearing == "ball" and gentle and shaft != "vertical":
        yield Reason("bearing", path, "", f"{BALL} ({COMMON_PRACTICE})")
