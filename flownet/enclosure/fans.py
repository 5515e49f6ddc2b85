"""Fans, and the fan types of catalogues."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any, ClassVar

import numpy as np

from flownet.enclosure.branches import DIRECTIONS
from flownet.schema import quantities as q
from flownet.schema.component import (
    Thing,
    choice,
    group,
    link,
    number,
    numbers,
    subtables,
    table,
    text,
    thing,
    words,
)
from flownet.schema.fields import TINY, given, keys
from flownet.schema.units import SupplyText, parse_supply


@thing
class Guard:
    """A finger guard."""

    loss: float = number(
        q.RATIO, "K on the fan's flow area", 0.0, low=0,
        typical="0.1 to 0.5 wire guard (common practice, no source)",
    )  # fmt: skip


@thing
class Shutter:
    """A back-draught shutter: passes the way its fan blows."""

    open_loss: float = number(q.RATIO, "K on the fan's flow area when open", low=TINY)
    closed_leak: float = number(
        q.RATIO, "open share of the area when closed, a sharp-edged hole",
        low=1e-4, high=1,
    )  # fmt: skip


@thing
class Clearance:
    """What stands close before and behind the fan; the losses are those of docs/installation."""

    inlet: float = number(
        q.LENGTH, "to the next object as large as the fan, on the suction side", None, low=0,
        typical="a third of the frame size or more (common practice, no source)",
        source="K = (D/4x)^2 on the flow area, D its diameter: common practice, no source",
    )  # fmt: skip
    outlet: float = number(
        q.LENGTH, "to the next object as large as the fan, on the blowing side", None, low=0,
        typical="a third of the frame size or more (common practice, no source)",
        source="K = (D/4x)^2 - 1 on the flow area, not below 0: common practice, no source",
    )  # fmt: skip
    opening: float = number(
        q.AREA, "hole right before the inlet that is no branch of its own", None, low=TINY,
        typical="twice the flow area or more (common practice, no source)",
        source="K = (A/opening)^2 - 1/4 on the flow area A, not below 0: common practice, no "
        "source",
    )  # fmt: skip
    clutter: float = number(
        q.RATIO, "share of the inlet that cables and brackets cover", None, low=0, high=0.9,
        typical="0.1 to 0.4 (common practice, no source)",
        source="K of a thin plate with the share left open (Idelchik 1994, diagram 4-14); that "
        "cables act like one: common practice, no source",
    )  # fmt: skip


MOST_POINTS = 12  # of a speed control
ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
    "eleventh", "twelfth",
)  # fmt: skip


@thing
class SpeedControl:
    """Speed by temperature, straight lines between points, ends held."""

    by: str = link(
        "part", "compartment", "outside", doc="whose temperature sets the speed", varies=True
    )
    temperature: tuple[float, ...] = numbers(
        q.TEMPERATURE, 2, "of the points, rising", low=150, most=MOST_POINTS
    )
    speed: tuple[float, ...] = numbers(
        q.RATIO, 2, "ratio at the points", low=0, high=2, most=MOST_POINTS
    )
    hysteresis: float = number(
        q.DIFFERENCE, "by which it must fall before the speed does; in time only", 0.0, low=0
    )

    def asked(self, temperature: float) -> float:
        """Speed ratio at a temperature [K], before the speed range of a type holds it."""
        return float(np.interp(temperature, self.temperature, self.speed))

    def faults(self) -> Iterator[str]:
        """What does not fit together; each begins with its key."""
        counts = len(self.temperature), len(self.speed)
        if counts[0] != counts[1]:
            yield f"speed: one for each temperature is wanted (got {counts[1]} for {counts[0]})"
        for name, values in (("temperature", self.temperature), ("speed", self.speed)):
            for place, (before, after) in enumerate(pairwise(values), 1):
                here, last = ORDINALS[place], ORDINALS[place - 1]
                if name == "temperature" and after <= before:
                    yield f"temperature: the {here} must be above the {last}"
                if name == "speed" and after < before and not self.by.startswith("outside"):
                    yield (
                        f"speed: the {here} must not be below the {last}; a fan that slows as "
                        "what it cools gets warmer has no one speed"
                    )


@thing
class Fan(Thing):
    """A fan in its place."""

    KIND: ClassVar[str] = "fan"
    EXCLUSIVE = (("speed", "rotation"),)
    COMPARED = tuple(
        f"speed_control.{key}.{i}" for key in ("temperature", "speed") for i in range(MOST_POINTS)
    )

    from_: str = link("compartment", "outside", doc="where the fan is mounted to draw from")
    to: str = link("compartment", "outside", doc="where it is mounted to blow to")
    type: str = link("fan_type", doc="its type, in the case or a catalogue", varies=True)
    supply: str | None = link(
        "supply", doc="fans on one supply fail together; chooses the type's rating", varies=True,
        optional=True,
    )  # fmt: skip
    speed: float = number(
        q.RATIO, "ratio to rated speed, or a speed in rpm; 0 is stopped; default 1", None, low=0,
        high=2, otherwise="rotation", hint='a speed in rpm is text, "2400 rpm"',
    )  # fmt: skip
    rotation: float = number(q.SPEED, "speed in rpm, instead of the ratio", None, low=0)
    pressure_factor: float = number(
        q.RATIO, "scales the curve's pressure (tolerance, calibration)", 1.0, low=TINY
    )
    flow_factor: float = number(
        q.RATIO, "scales the curve's flow (tolerance, calibration)", 1.0, low=TINY
    )
    state: str = choice(
        "running", "stopped", "freewheeling", "blanked",
        doc="stopped: its rotor is held; freewheeling: its motor is dead and the air turns the "
        "rotor, needs freewheel_loss of its type; blanked: its hole is closed",
    )  # fmt: skip
    mounted: str = choice("forward", "reversed", doc="reversed: blows from `to` to `from`")
    at: tuple[float, float] | None = numbers(
        q.LENGTH, 2, "where it sits in the view; default mean of its compartments' centres", None
    )
    direction: str | None = choice(
        *DIRECTIONS, doc="from `from` to `to`; gives the shaft", optional=True
    )
    guard: Guard = group(Guard, "a finger guard in its air")
    shutter: Shutter | None = group(Shutter, "a back-draught shutter", optional=True)
    clearance: Clearance | None = group(
        Clearance, "what stands close before and behind it", optional=True
    )
    installation: str = choice("on", "off", doc="off: the losses of clearance are left out")
    speed_control: SpeedControl | None = group(
        SpeedControl, "speed by temperature, replaces speed", optional=True
    )

    def faults(self) -> Iterator[str]:
        if self.speed_control is not None:
            yield from (f"speed_control.{fault}" for fault in self.speed_control.faults())

    def __post_init__(self) -> None:
        super().__post_init__()
        if not given(self.speed) and not given(self.rotation):
            object.__setattr__(self, "speed", 1.0)

    @property
    def running(self) -> bool:
        """Whether its motor turns, or may turn where its speed follows a temperature."""
        given_speed = self.speed != 0 and self.rotation != 0
        return self.state == "running" and (self.speed_control is not None or given_speed)


@thing
class NoiseCondition:
    """What noise_dBA of a type is."""

    kind: str = choice("pressure", "power", doc="sound pressure level, or sound power level")
    distance: float = number(q.LENGTH, "of a sound pressure level", None, low=TINY)


@thing
class Life:
    """A life figure with its condition."""

    hours: float = number(q.HOURS, "life", low=TINY)
    at: float = number(q.TEMPERATURE, "air temperature of the figure", low=150)
    kind: str = choice("L10", "mean", doc="L10: 10 % have failed; never compared with a mean")
    factor_per_10K: float = number(  # noqa: N815 - the unit is part of the key
        q.RATIO, "life ratio for 10 K cooler air; in all it gains at most a factor 2", 1.5, low=1,
        high=4,
        source="makers differ, 1.3 to 1.5",
    )  # fmt: skip


MONOTONE = (
    "slopes at the points: F. N. Fritsch and J. Butland, SIAM Journal on Scientific and "
    "Statistical Computing 5(2), 1984, 300-304; at the ends one-sided of three points, C. Moler, "
    "Numerical Computing with Matlab, 2004; both as scipy.interpolate.PchipInterpolator has them"
)
SAME_ROTOR = (
    "fan laws: a rotor whose speed goes to 0 is one that stands; its K: common practice, no source"
)


@thing
class FanType(Thing):
    """A fan of a catalogue: what its data sheet says."""

    KIND: ClassVar[str] = "fan_type"
    COMPARED = ("flow_area", "frame.0")

    origin: str | None = text("where the data come from")
    curve: tuple[tuple[float, float], ...] = table(
        "pressure rise over volume flow, from zero flow on; a monotone cubic through the points",
        minimum=2, source=MONOTONE, flow=q.VOLUME_FLOW, rise=q.PRESSURE,
    )  # fmt: skip
    curve_pressure: str = choice("static", "total", doc="total is turned into static")
    reference_density: float = number(
        q.DENSITY, "of the curve's air; default 1.2 kg/m3", None, low=0.05, high=5,
        source="standard air of fan testing, ISO 5801",
    )  # fmt: skip
    rated_speed: float = number(q.SPEED, "of the curve", None, low=TINY)
    speed_range: tuple[float, float] | None = numbers(
        q.RATIO, 2, "allowed ratios to rated speed", None, low=0, high=2
    )
    frame: tuple[float, float] | None = numbers(q.LENGTH, 2, "size x depth", None, low=TINY)
    flow_area: float = number(q.AREA, "between hub and frame", low=TINY)
    hole_pitch: float = number(q.LENGTH, "between mounting holes", None, low=TINY)
    cutout: float = number(q.LENGTH, "diameter of the panel hole", None, low=TINY)
    blades: float = number(q.COUNT, "count of blades", None, low=1, high=100)
    supply: str | None = text('such as "230 V 50 Hz" or "24 V dc"')
    voltage_range: tuple[float, float] | None = numbers(
        q.VOLTAGE, 2, "supply voltages it may work at", None, low=TINY
    )
    power: float = number(q.POWER, "electrical input at rated speed", 0.0, low=0)
    current: float = number(q.CURRENT, "input current", None, low=0)
    noise_dBA: float = number(q.LEVEL, "level in free air at rated speed", None, low=-20, high=200)  # noqa: N815
    noise: NoiseCondition | None = group(NoiseCondition, "what noise_dBA is", optional=True)
    noise_condition: str | None = choice(
        "free air", "loaded", doc="how noise_dBA was measured; loaded: against the pressure of use",
        optional=True,
    )  # fmt: skip
    bearing: str | None = choice("ball", "sleeve", doc="kind of bearing", optional=True)
    shaft: tuple[str, ...] = words("horizontal", "vertical", doc="permitted shaft positions")
    label_side: str | None = choice(
        "outlet", "inlet", doc="side that carries the label", optional=True
    )
    life: Life | None = group(Life, "life with its condition", optional=True)
    air_range: tuple[float, float] | None = numbers(
        q.TEMPERATURE, 2, "allowed air temperature", None, low=150
    )
    alarm: str | None = choice(
        "locked rotor", "tachometer", "none", doc="what reports a fault", optional=True
    )
    price: float = number(q.PRICE, "in the currency of the catalogue", None, low=0)
    stopped_loss: float = number(
        q.RATIO, "K of the rotor held still on flow_area, both ways", 10.0, low=TINY,
        source="common practice, no source",
    )  # fmt: skip
    backflow_loss: float = number(
        q.RATIO, "K of a running fan driven backwards; default stopped_loss, with any other value "
        "the flow jumps where the speed gets to 0", None, low=0, source=SAME_ROTOR,
    )  # fmt: skip
    windmill_loss: float = number(
        q.RATIO, "K of what flows past free delivery; default stopped_loss, as backflow_loss",
        None, low=0, source=SAME_ROTOR,
    )  # fmt: skip
    freewheel_loss: float = number(
        q.RATIO, "K of the rotor on flow_area, both ways, where the air turns it; needed for state "
        '= "freewheeling"', None, low=TINY, typical="less than stopped_loss; no source known",
    )  # fmt: skip
    motor_in_air: bool = choice(True, False, doc="true: all its power heats the air")
    rating: Mapping[str, Any] = subtables("what differs on another supply")

    @property
    def supply_text(self) -> SupplyText | None:
        """Voltage and frequency of its data; None where not given."""
        return parse_supply(self.supply) if self.supply is not None else None

    def faults(self) -> Iterator[str]:
        yield from _curve_faults(self.curve)
        if self.supply is not None:
            yield from _supply_faults(self.supply)
        if self.frame is not None and self.flow_area > self.frame[0] * self.frame[0]:
            yield "flow_area: must not be larger than the frame"


def _curve_faults(curve: tuple[tuple[float, float], ...]) -> Iterator[str]:
    flows = [flow for flow, _ in curve]
    if min(flows) < 0:
        yield "curve: a flow below zero belongs to no fan curve"
    elif flows[0] != 0:
        yield (
            "curve: the first point must be at zero flow, the shut-off pressure "
            f"(got {flows[0] * 3600:.4g} m3/h)"
        )
    for row, (a, b) in enumerate(pairwise(flows), 2):
        if b <= a:
            rises = f"with {curve[row - 2][1]:.4g} and {curve[row - 1][1]:.4g} Pa"
            same = f"appears twice {rises}" if a == b else "is below the row before"
            yield f"curve: row {row}: flow {b * 3600:.4g} m3/h {same}; flows must rise"
    if any(rise < 0 for _, rise in curve):
        yield "curve: a pressure rise below 0 Pa belongs to no fan curve; end it at 0 Pa"
    if curve[0][1] <= 0:
        yield "curve: the shut-off pressure (at zero flow) must be above 0 Pa"


def _supply_faults(supply: str) -> Iterator[str]:
    try:
        parse_supply(supply)
    except ValueError as error:
        yield f"supply: {error}"


RATING_KEYS = frozenset(keys(FanType)) - {"rating", "tag", "note", "data"}
