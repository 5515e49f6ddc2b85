"""Every physical quantity flownet reads, computes or shows, once: units are chosen here."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from flownet.schema.shown import Shown

UnitSystem = Literal["metric", "us"]


class Quantity(NamedTuple):
    """What a number means.

    Values are kept in SI, except where `internal`, the SI value of one internal unit, is not 1:
    angles in degrees, working life in hours.
    """

    name: str  # for messages: "a pressure is wanted"
    dimension: str  # which units of the closed table can measure it
    json: Shown  # its unit is the suffix of the JSON key
    metric: Shown
    us: Shown
    example: str
    bare: bool = False  # whether a number without unit is understood
    internal: float = 1.0

    def __repr__(self) -> str:
        return f"<Quantity {self.name}>"

    @property
    def article(self) -> str:
        """The name with its article: `an area`."""
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"

    @property
    def wanted(self) -> str:
        """The end of a message: `an area is wanted, such as "450 cm2"`."""
        return f'{self.article} is wanted, such as "{self.example}"'

    def key(self, name: str) -> str:
        """The JSON key of a value called `name`: `temperature_degC`, or the name alone."""
        return f"{name}_{self.json.unit}" if self.json.unit else name

    def shown(self, units: str) -> Shown:
        """How people who chose `units` ("metric" or "us") read this quantity."""
        if units not in ("metric", "us"):
            raise ValueError(f'units must be "metric" or "us" (got {units!r})')
        return self.us if units == "us" else self.metric


def _quantity(
    name: str,
    dimension: str,
    example: str,
    json: Shown,
    metric: Shown,
    us: Shown | None = None,
    bare: bool = False,
    internal: float = 1.0,
    least: int = 0,
    nought: float = 0.0,
) -> Quantity:
    read = [x._replace(least=least, nought=nought) for x in (metric, us or metric)]
    return Quantity(name, dimension, json, read[0], read[1], example, bare, internal)


# Conventions of NIST Special Publication 811 (2008), appendix B, each an exact number: the
# international foot, inch and pound, conventional water, the international-table Btu.
_FOOT, _INCH, _POUND, _BTU = 0.3048, 0.0254, 0.45359237, 1055.05585262
_INCH_OF_WATER = 249.08891
_PSI = _POUND * 9.80665 / _INCH**2
_NONE = Shown("")

RATIO = _quantity("plain number", "plain number", "0.61", _NONE, _NONE, bare=True)
COUNT = _quantity("count", "count", "6", _NONE, Shown("", digits=".0f"), bare=True)
PRICE = _quantity("price", "price", "31.0", _NONE, Shown("", digits=".2f"), bare=True)
LENGTH = _quantity(
    "length",
    "length",
    "120 mm",
    Shown("m"),
    Shown("mm", 1e3, digits=".4g"),
    Shown("in", 1 / _INCH, digits=".2f"),
)
DISTANCE = _quantity(
    "distance", "length", "1 m", Shown("m"), Shown("m", digits=".3g"), Shown("ft", 1 / _FOOT)
)
ALTITUDE = _quantity(
    "altitude",
    "length",
    "900 m",
    Shown("m"),
    Shown("m", digits=".0f"),
    Shown("ft", 1 / _FOOT, digits=".0f"),
)
AREA = _quantity(
    "area",
    "area",
    "450 cm2",
    Shown("m2"),
    Shown("cm2", 1e4, digits=".4g"),
    Shown("in2", 1 / _INCH**2, digits=".4g"),
)
TEMPERATURE = _quantity(
    "temperature",
    "temperature",
    "40 degC",
    Shown("degC", 1.0, -273.15),
    Shown("degC", 1.0, -273.15, ".1f"),
    Shown("degF", 1.8, -459.67, ".1f"),
)
DIFFERENCE = _quantity(
    "temperature difference",
    "temperature difference",
    "15 K",
    Shown("K"),
    Shown("K", digits=".1f"),
    Shown("degF", 1.8, digits=".1f"),
    least=1,
    nought=1e-6,  # as near as a solve promises a temperature
)
PRESSURE = _quantity(
    "pressure",
    "pressure",
    "18 Pa",
    Shown("Pa"),
    Shown("Pa", digits=".1f"),
    Shown("inH2O", 1 / _INCH_OF_WATER, digits=".3f"),
    least=2,
    nought=1e-6,
)
SITE_PRESSURE = _quantity(
    "air pressure",
    "pressure",
    "91 kPa",
    Shown("Pa"),
    Shown("kPa", 1e-3, digits=".1f"),
    Shown("psi", 1 / _PSI, digits=".2f"),
)
VOLUME_FLOW = _quantity(
    "volume flow",
    "volume flow",
    "40 m3/h",
    Shown("m3_s"),
    Shown("m3/h", 3600.0),
    Shown("CFM", 60 / _FOOT**3),
    nought=1e-9,
)
MASS_FLOW = _quantity(
    "mass flow",
    "mass flow",
    "0.02 kg/s",
    Shown("kg_s"),
    Shown("kg/s"),
    Shown("lb/min", 60 / _POUND),
    nought=1e-9,
)
VELOCITY = _quantity(
    "velocity",
    "velocity",
    "1.5 m/s",
    Shown("m_s"),
    Shown("m/s", digits=".2f"),
    Shown("ft/min", 60 / _FOOT, digits=".0f"),
)
POWER = _quantity("power", "power", "96 W", Shown("W"), Shown("W"), nought=1e-9)
HEAT_FLUX = _quantity(
    "power per area",
    "power per area",
    "600 W/m2",
    Shown("W_m2"),
    Shown("W/m2"),
    Shown("BTU/(h ft2)", 3600 * _FOOT**2 / _BTU),
)
DENSITY = _quantity(
    "density",
    "density",
    "1.2 kg/m3",
    Shown("kg_m3"),
    Shown("kg/m3", digits=".3f"),
    Shown("lb/ft3", _FOOT**3 / _POUND, digits=".4f"),
)
U_VALUE = _quantity(
    "heat transfer coefficient",
    "heat transfer coefficient",
    "5.5 W/(m2 K)",
    Shown("W_m2K"),
    Shown("W/(m2 K)"),
    Shown("BTU/(h ft2 degF)", 3600 * _FOOT**2 / (1.8 * _BTU)),
)
CONDUCTIVITY = _quantity(
    "conductivity",
    "conductivity",
    "50 W/(m K)",
    Shown("W_mK"),
    Shown("W/(m K)"),
    Shown("BTU/(h ft degF)", 3600 * _FOOT / (1.8 * _BTU)),
)
THERMAL_RESISTANCE = _quantity(
    "thermal resistance",
    "thermal resistance",
    "0.28 K/W",
    Shown("K_W"),
    Shown("K/W"),
    Shown("degC/W"),  # electronic parts are specified so on both sides of the ocean
)
HEAT_CAPACITY = _quantity("heat capacity", "heat capacity", "450 J/K", Shown("J_K"), Shown("J/K"))
MASS = _quantity("mass", "mass", "2.5 kg", Shown("kg"), Shown("kg"), Shown("lb", 1 / _POUND))
ANGLE = _quantity(
    "angle", "angle", "90 deg", Shown("deg"), Shown("deg"), bare=True, internal=math.pi / 180
)
TIME = _quantity("time", "time", "60 s", Shown("s"), Shown("s"))
HOURS = _quantity(
    "number of hours",
    "time",
    "50000 h",
    Shown("hours"),
    Shown("h", digits=",.0f"),
    bare=True,
    internal=3600.0,
    least=1,
    nought=1e-6,
)
SPEED = _quantity(
    "speed of rotation",
    "speed of rotation",
    "2400 rpm",
    Shown("rpm", 60.0),
    Shown("rpm", 60.0, digits=".0f"),
)
VOLTAGE = _quantity("voltage", "voltage", "230 V", Shown("V"), Shown("V"))
FREQUENCY = _quantity("frequency", "frequency", "50 Hz", Shown("Hz"), Shown("Hz"))
CURRENT = _quantity("current", "current", "0.12 A", Shown("A"), Shown("A"))
LEVEL = _quantity(
    "sound level", "sound level", "44 dBA", Shown("dBA"), Shown("dBA", digits=".1f"), bare=True
)
LEVEL_DIFFERENCE = _quantity(
    "level difference",
    "level difference",
    "3 dB",
    Shown("dB"),
    Shown("dB", digits=".1f"),
    least=1,
    nought=1e-9,
)

QUANTITIES: dict[str, Quantity] = {
    quantity.name: quantity for quantity in tuple(globals().values()) if type(quantity) is Quantity
}
