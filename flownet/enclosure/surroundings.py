"""Where the enclosure stands: outside air, supplies, its own outline, and what must hold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from flownet.physics.life import SLOPE
from flownet.schema import quantities as q
from flownet.schema.component import Thing, choice, number, numbers, thing, words
from flownet.schema.fields import TINY, given

MOST_LAYERS = 64
SUN_KEYS = ("latitude", "day", "hour", "clearness", "ground_reflectance")  # of [outside] alone
SINGLE = ("outside", "enclosure", "limits")  # kinds with one table that has no name


@thing
class Outside(Thing):
    """The air around. The one without a name is the reference of all gauge pressures."""

    KIND: ClassVar[str] = "outside"
    EXCLUSIVE = (
        ("altitude", "pressure"), ("relative_humidity", "dew_point"), ("sky", "sky_temperature"),
    )  # fmt: skip
    COMPARED = ("over_pressure",)

    temperature: float = number(
        q.TEMPERATURE, "outside air", 293.15, low=150, high=450, source="20 degC, room air"
    )
    altitude: float = number(
        q.ALTITUDE,
        "height above sea level; gives the site pressure (US Standard Atmosphere 1976)",
        None,
        low=-500,
        high=11000,
        typical="0 to 4000 m",
    )
    pressure: float = number(
        q.PRESSURE, "site pressure instead of altitude", None, low=2e4, high=2e5
    )
    relative_humidity: float = number(
        q.RATIO, "of the outside air; only for condensation", None, low=TINY, high=1
    )
    dew_point: float = number(
        q.TEMPERATURE, "instead of relative_humidity", None, low=200, high=373.15
    )
    over_pressure: float = number(
        q.PRESSURE, "of a further outside, against [outside] at the same height", 0.0,
        low=-5e3, high=5e3,
    )  # fmt: skip

    sky: str | None = choice(
        "clear", doc="a clear sky over walls with computed films, colder than the air (Swinbank)",
        optional=True,
    )  # fmt: skip
    sky_temperature: float = number(
        q.TEMPERATURE, "of the sky for thermal radiation, instead of sky", None, low=150, high=400
    )
    latitude: float = number(
        q.ANGLE, "north positive; with day and hour the sun of a clear sky", None, low=-90, high=90
    )
    day: float = number(q.COUNT, "of the year, for the sun", None, low=1, high=366)
    hour: float = number(q.RATIO, "solar time: highest sun at 12", None, low=0, high=24)
    clearness: float = number(
        q.RATIO, "multiplies the sun of a clear sky: haze, cloud, height; default 1", None, low=0,
        high=1.5,
    )  # fmt: skip
    ground_reflectance: float = number(
        q.RATIO, "share of the sun that the ground sends back; default 0.2", None, low=0, high=1,
        source="common practice, no source", typical="0.2 grass, soil; 0.7 fresh snow",
    )  # fmt: skip

    def faults(self) -> Iterator[str]:
        if self.name:
            for key in ("altitude", "pressure", *SUN_KEYS):
                if given(getattr(self, key)):
                    yield f"{key}: belongs to [outside], the reference of all surroundings"
        elif self.over_pressure:
            yield "over_pressure: [outside] is the reference; only [outside.NAME] may differ"
        missing = [key for key in SUN_KEYS[:3] if not given(getattr(self, key))]
        if 0 < len(missing) < 3:
            there = next(key for key in SUN_KEYS if key not in missing)
            yield f"{there}: the sun needs {' and '.join(missing)} beside it"


@thing
class Body(Thing):
    """The enclosure as a whole: its size and how its drawing is seen."""

    KIND: ClassVar[str] = "enclosure"

    size: tuple[float, float, float] | None = numbers(
        q.LENGTH, 3, "width x height x depth", None, low=TINY
    )
    view: str = choice("front", "side", "plan", doc="what the outlines show; a plan has no heights")
    up: str = choice(
        "top", "bottom", "left", "right", "front", "back", doc="which side of the view is up"
    )


@thing
class Supply(Thing):
    """An electrical supply; fans on one supply fail together."""

    KIND: ClassVar[str] = "supply"

    voltage: float = number(q.VOLTAGE, "nominal voltage", low=TINY, high=1000)
    frequency: float = number(
        q.FREQUENCY, "mains frequency; left out: direct current", None, low=TINY, high=1000
    )


@thing
class Compartment(Thing):
    """A space whose air is well mixed, or layers of such air one above the other."""

    KIND: ClassVar[str] = "compartment"
    COMPARED = ("outline.2", "outline.3", "layers")

    outline: tuple[float, float, float, float] | None = numbers(
        q.LENGTH, 4, "x, y, width, height in the view; left out: no place on the map", None
    )
    depth: float = number(
        q.LENGTH, "across the view; default that of the enclosure", None, low=TINY
    )
    air_limit: float = number(q.TEMPERATURE, "highest allowed air temperature", None, low=150)
    heat_capacity: float = number(q.HEAT_CAPACITY, "of what stands in its air", None, low=0)
    layers: float = number(
        q.COUNT, "equal layers one above the other, each well mixed; default 1", None, low=1,
        high=MOST_LAYERS,
    )  # fmt: skip

    def faults(self) -> Iterator[str]:
        if self.outline is not None and min(self.outline[2:]) <= 0:
            width, height = (f"{side * 1e3:.4g}" for side in self.outline[2:])
            yield (
                "outline: width and height must be above 0 "
                f"(got {width} and {height} mm); it holds x, y, width, height"
            )


@thing
class Limits(Thing):
    """What must hold beyond each part's and compartment's own limit."""

    KIND: ClassVar[str] = "limits"

    margin: float = number(
        q.DIFFERENCE, "less than this is called tight", 5.0, low=0,
        source="common practice, no source",
    )  # fmt: skip
    touch_limit: float = number(
        q.TEMPERATURE, "of the outer faces of walls to the outside that give none of their own",
        None, low=200, typical="60 degC bare metal, touched on purpose (common practice, no "
        "source)",
    )  # fmt: skip
    dew_margin: float = number(
        q.DIFFERENCE, "by which air, duct walls and inner faces of walls must stay above the dew "
        "point of the surroundings", None, low=TINY, typical="2 to 5 K (common practice, no "
        "source)",
    )  # fmt: skip
    noise_dBA: float = number(q.LEVEL, "sum of all fans, at noise_distance", None, low=0, high=200)  # noqa: N815
    noise_distance: float = number(q.DISTANCE, "where noise_dBA holds", None, low=TINY)
    noise_field: str = choice("sphere", "hemisphere", doc="how sound spreads from the enclosure")
    room_constant: float = number(
        q.AREA, "R = S a/(1 - a) of the room around, adds its reflected sound; none: free field",
        None, low=TINY, typical="20 to 200 m2 (common practice, no source)",
    )  # fmt: skip
    fan_life_hours: float = number(q.HOURS, "shortest allowed fan life", None, low=0)
    duty: str = choice("continuous", "intermittent", doc="how the fans run")
    running_share: float = number(
        q.RATIO, "share of the time that fans run when duty is intermittent; lives are hours of "
        "running, limits hours of service", None, low=0.01, high=1,
    )  # fmt: skip
    weibull_slope: float = number(
        q.RATIO, "of fan lives, for the first failure among several", SLOPE, low=0.3, high=10,
        source="common practice, no source", typical="1.0 to 3",
    )  # fmt: skip
    intake_filter: str | None = choice(
        "required", "none", doc="whether the intake must be filtered", optional=True
    )
    flow: float = number(
        q.VOLUME_FLOW, "least flow that must be drawn in from outside, in all; checked against the "
        "heat as well", None, low=TINY,
    )  # fmt: skip
    scenarios: tuple[str, ...] = words(doc="scenarios in which the limits must hold")
