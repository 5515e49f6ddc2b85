"""Results that charts are drawn of: demos, and small boxes at the edges of what there is."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np

import flownet
from flownet import Fan, FanType, Part, solve
from flownet.studies.fans.curve import curve_of_file, fan_curve
from flownet.studies.fans.curves import fan_curves
from flownet.studies.transient_result import Crossing, Event
from tests.pictures import air_boxes, sample
from tests.studies.fan_boxes import hole, out, path
from tests.studies.test_pairs import box
from tests.test_cases import load
from tests.test_fan_catalogue import ROWS

BIG = FanType(name="big", curve={"flow": "0 60 120 m3/h", "rise": "60 40 0 Pa"},
              flow_area="79 cm2", rated_speed="2700 rpm")  # fmt: skip
SMALL = FanType(name="small", curve={"flow": "0 40 90 m3/h", "rise": "35 22 0 Pa"},
                flow_area="79 cm2")  # fmt: skip
HUMP = FanType(name="hump", flow_area="79 cm2", rated_speed="2700 rpm", curve={
    "flow": "0 30 55 75 90 110 140 182 m3/h", "rise": "112 84 62 64 66 60 38 0 Pa"})  # fmt: skip
TOTAL = FanType(name="total", flow_area="0.0079 m2", curve_pressure="total",
                curve={"flow": "0 60 110 170 m3/h", "rise": "78 60 40 22 Pa"})  # fmt: skip
MANY = {"curve": tuple((i / 1800, 90.0 - 2 * i) for i in range(46))}
SPEED, PART = "fan.*.speed", "part.rectifier.temperature"


def _unlike(factor: float) -> Any:
    """Unlike fans side by side; a large factor drives the small one backwards."""
    return path(factor, hole("in", "outside", "mid", 1e4), BIG, SMALL, out("big", "big"),
                out("small", "small", guard={"loss": 0.5}))  # fmt: skip


def _behind(first: str, factor: float, **second: Any) -> Any:
    push = Fan(name="push", from_="outside", to="mid", type=first)
    return path(factor, BIG, SMALL, HUMP, push, out("pull", "small", **second),
                Part(name="p", in_="box", power="100 W"))  # fmt: skip


def _solved(case: str, scenario: str, variant: str = "base") -> Callable[[], Any]:
    return lambda: solve(load(case), scenario=scenario, variant=variant)


def _curves(case: str, scenario: str, variant: str = "base") -> Callable[[], Any]:
    return lambda: fan_curves(solve(load(case), scenario=scenario, variant=variant))


def _sweep(vary: dict[str, Any], **more: Any) -> Callable[[], Any]:
    return lambda: flownet.sweep(load("drive-cabinet"), vary, scenario="hot", **more)


def _long_names() -> Any:
    found = made("rank")
    first = found.effects[0]._replace(path="slot." + "a-very-long-name-" * 6 + "x.resistance")
    return dataclasses.replace(found, effects=(first, *found.effects[1:5]))


def _long_matrix() -> Any:
    names = ("a-variant-with-quite-a-long-name-indeed", "closed")
    return dataclasses.replace(
        flownet.compare(box(air_limit="41 degC")), variants=names,
        scenarios=("hot+dirty+very-long-scenario+fan.exhaust-upper-left-out-rest-up",),
    )  # fmt: skip


def _unsure() -> Any:
    found = flownet.uncertainty(load("telecom-shelf"), samples=100, seed=1)
    long = found.limits[0]._replace(subject="part." + "a-very-long-name-" * 4 + "x")
    return dataclasses.replace(found, limits=(long, *found.limits))


def _headroom(key: str, scenario: str) -> Callable[[], Any]:
    return lambda: flownet.headroom(load("drive-cabinet"), key, scenario=scenario)


def _choice(case: str, name: str, **more: Any) -> Callable[[], Any]:
    return lambda: flownet.choose_options(load(case), name, **more)


def _fans(**more: Any) -> Callable[[], Any]:
    return lambda: flownet.choose(load("drive-cabinet"), "fan.*", catalogue=ROWS, **more)


def _day() -> Any:
    """A course over a day, of the numbers of half an hour: for where things stand."""
    found = made("time")
    share = found.times / found.until
    air = 306.15 - 8.0 * np.cos(2 * np.pi * share)
    limits = tuple(item.map(lambda x: x)._replace(margin=item.margin - air + 318.15)
                   for item in found.limits)  # fmt: skip
    courses = {**found.courses, "outside.temperature": air}
    return dataclasses.replace(found, times=24 * 3600 * share, until=24 * 3600.0, events=(),
                               crossings=(), courses=courses, limits=limits)  # fmt: skip


def _busy() -> Any:
    """Many limits with long names, events all at once and late, limits passed to and fro."""
    found = made("time")
    limits = tuple(
        item._replace(subject=f"part.{'long-name-' * (i % 4)}{i}", margin=item.margin + i / 9)
        for i in range(20) for item in found.limits[:1]
    )  # fmt: skip
    texts = [(60.0, "fan.left stops"), (60.0, "fan.right stops"), (62.0, "a " * 60),
             *((1790.0 + i, f"event {i} of these") for i in range(10))]  # fmt: skip
    crossings = tuple(Crossing(limits[0].subject, "part", 398.15, 70.0 * i + 50.0, i % 2 == 0)
                      for i in range(12))  # fmt: skip
    events = tuple(Event(time, 0.0, text) for time, text in texts)
    return dataclasses.replace(found, limits=limits, events=events, crossings=crossings)


SAMPLES: dict[str, Callable[[], Any]] = {
    "curves": _curves("drive-cabinet", "hot"),
    "curves dirty": _curves("drive-cabinet", "hot+dirty", "strong-fans"),
    "curves one": _curves("bench-supply", "hot"),
    "curves backwards": lambda: fan_curves(solve(_unlike(2e6))),
    "curves series": lambda: fan_curves(solve(_behind("hump", 6e4, speed=0.6))),
    "curves in-dip": lambda: fan_curves(solve(path(
        2e5, hole("in", "outside", "mid", 1e4), HUMP, out("a", "hump"), out("b", "hump")))),
    "fan_curve": lambda: fan_curve(ROWS["axial-119x38-230v"]),
    "fan_curve total": lambda: fan_curve(TOTAL),
    "fan_curve many": lambda: curve_of_file(MANY, "many.csv"),
    "fan_choice": _fans(scenarios=["hot+dirty"]),
    "fan_choice none": _fans(),
    "rank": lambda: flownet.rank(load("drive-cabinet"), "part.controller.temperature"),
    "rank long": _long_names,
    "rank none": lambda: dataclasses.replace(made("rank"), effects=()),
    "headroom": _headroom("filter.intake.fouling", "hot"),
    "headroom down": _headroom("fan.*.speed", "hot"),
    "headroom nothing": _headroom("outside.altitude", "base"),
    "headroom broken": _headroom("outside.temperature", "hot+dirty"),
    "matrix": lambda: flownet.compare(load("telecom-shelf"), scenarios=["hot", "hot+dirty"]),
    "matrix wide": lambda: flownet.compare(load("drive-cabinet"), scenarios=["hot", "worst-day"]),
    "matrix unsolved": lambda: flownet.compare(box(air_limit="41 degC")),
    "matrix long": _long_matrix,
    "uncertainty": lambda: flownet.uncertainty(load("drive-cabinet"), samples=200, seed=1,
                                               scenario="hot+dirty"),
    "uncertainty long": _unsure,
    "margins": _solved("drive-cabinet", "hot+dirty+fan.left-out"),
    "margins void": _solved("telecom-shelf", "hot", "middle-reversed"),
    "margins long": sample.names,
    "margins none": lambda: solve(air_boxes.loop()),
    "split": _solved("drive-cabinet", "hot+dirty+fan.left-out"),
    "split strips": lambda: solve(air_boxes.chain(12)),
    "split loop": lambda: solve(air_boxes.loop()),
    "split closed": lambda: solve(air_boxes.closed()),
    "split odd": sample.cabinet_odd,
    "path": _solved("drive-cabinet", "hot+dirty"),
    "path closed": lambda: solve(air_boxes.closed()),
    "path many": lambda: solve(air_boxes.chain(12)),
    "path void": _solved("telecom-shelf", "hot", "middle-reversed"),
    "slot": _solved("telecom-shelf", "hot+dirty+fan.left-out"),
    "slot many": lambda: solve(air_boxes.rack(26)),
    "slot reversed": lambda: solve(air_boxes.rack(3, mounted="reversed")),
    "slot shelf": sample.shelf,
    "sweep": _sweep({SPEED: "0.5 to 1.0 in 9"}),
    "sweep several": _sweep({SPEED: "0.5 to 1.0 in 5"}, keep=["part.*.temperature"]),
    "sweep lines": _sweep({SPEED: "0.5 to 1.0 in 9", "filter.intake.fouling": [1.0, 1.1, 4.0]}),
    "sweep map": _sweep({SPEED: "0.5 to 1.0 in 9", "outside.temperature": "25 to 50 degC in 8"}),
    "sweep words": _sweep({"fan.*.type": ["axial-119-s", "axial-92-a"],
                           "fan.left.state": ["running", "stopped", "blanked"]}),
    "time": lambda: flownet.transient(load("drive-cabinet"), "fan-stop"),
    "time day": _day,
    "time busy": _busy,
    "time none": lambda: dataclasses.replace(made("time"), limits=(), crossings=(), events=()),
    "front": _choice("drive-cabinet", "places"),
    "front none": _choice("drive-cabinet", "exhaust"),
    "front single": _choice("telecom-shelf", "tray", best="noise", scenarios=["hot"]),
}  # fmt: skip


@cache
def made(name: str) -> Any:
    """The result of a sample."""
    return SAMPLES[name]()
