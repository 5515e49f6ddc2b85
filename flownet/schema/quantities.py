"""Every unit and every physical quantity flownet reads, computes or shows, once."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from flownet.schema.fault import with_article
from flownet.schema.shown import Shown


class Unit(NamedTuple):
    """SI value = (number + offset) * times / per.

    Two factors, so that 119 mm and 0.119 m are the same float.
    """

    dimension: str
    times: float = 1.0
    per: float = 1.0
    offset: float = 0.0

    @property
    def factor(self) -> float:
        """SI value of one unit (of one degree, for a temperature)."""
        return self.times / self.per

    @property
    def is_base(self) -> bool:
        """Whether it is the SI unit itself."""
        return self.factor == 1.0 and self.offset == 0.0


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
        return with_article(self.name)

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


# --- units ---------------------------------------------------------------------------------------

# Conventions of NIST Special Publication 811 (2008), appendix B, each an exact number: the
# international foot, inch and pound; columns of conventional water, 1000 kg/m3 under standard
# gravity 9.80665 m/s2; the international-table Btu.
_FOOT, _INCH, _POUND, _BTU = 0.3048, 0.0254, 0.45359237, 1055.05585262
_CUBIC_FOOT = 0.028316846592
_Table = dict[str, dict[str, tuple[float, ...]]]
_READ: _Table = {  # times, per, offset
    "length": {"m": (), "mm": (1, 1000), "cm": (1, 100), "km": (1000,), "in": (254, 1e4),
               "ft": (3048, 1e4)},
    "area": {"m2": (), "cm2": (1, 1e4), "mm2": (1, 1e6), "in2": (64516, 1e8)},
    "temperature": {"degC": (1, 1, 273.15), "degF": (5, 9, 459.67), "K": ()},
    "volume flow": {"m3/h": (1, 3600), "m3/s": (), "l/s": (1, 1000), "l/min": (1, 60e3),
                    "CFM": (_CUBIC_FOOT, 60), "cfm": (_CUBIC_FOOT, 60)},
    "mass flow": {"kg/s": ()},
    "velocity": {"m/s": (), "ft/min": (_FOOT, 60), "LFM": (_FOOT, 60)},
    "pressure": {"Pa": (), "hPa": (100,), "kPa": (1000,), "mbar": (100,), "mmH2O": (9.80665,),
                 "inH2O": (249.08891,), "inWG": (249.08891,)},
    "power": {"W": (), "kW": (1000,), "BTU/h": (_BTU, 3600)},
    "power per area": {"W/m2": ()},
    "heat transfer coefficient": {"W/(m2 K)": (), "W/m2K": ()},
    "conductivity": {"W/(m K)": ()},
    "thermal resistance": {"K/W": (), "degC/W": ()},
    "heat capacity": {"J/K": (), "kJ/K": (1000,)},
    "mass": {"kg": (), "g": (1, 1000)},
    "density": {"kg/m3": ()},
    "time": {"s": (), "min": (60,), "h": (3600,)},
    "speed of rotation": {"rpm": (1, 60)},
    "angle": {"deg": (math.pi, 180)},
    "voltage": {"V": ()},
    "frequency": {"Hz": ()},
    "current": {"A": ()},
    "sound level": {"dBA": ()},
    "level difference": {"dB": ()},
    "plain number": {"%": (1, 100)},
}  # fmt: skip
_ONLY_SHOWN: _Table = {
    "": {"": ()},
    "mass flow": {"lb/min": (_POUND, 60)},
    "pressure": {"psi": (_POUND * 9.80665, _INCH**2)},
    "power per area": {"BTU/(h ft2)": (_BTU, 3600 * _FOOT**2)},
    "heat transfer coefficient": {"BTU/(h ft2 degF)": (1.8 * _BTU, 3600 * _FOOT**2)},
    "conductivity": {"BTU/(h ft degF)": (1.8 * _BTU, 3600 * _FOOT)},
    "mass": {"lb": (_POUND,)},
    "density": {"lb/ft3": (_POUND, _FOOT**3)},
    "time": {"hours": (3600,)},
}


def _by_name(table: _Table) -> Mapping[str, Unit]:
    return MappingProxyType(
        {name: Unit(dimension, *numbers)
         for dimension, units in table.items() for name, numbers in units.items()}
    )  # fmt: skip


UNITS = _by_name(_READ)
"""Every unit that is read, by its name; a case file, a change and `si` know no other."""

_SHOWN: Mapping[str, Unit] = {**UNITS, **_by_name(_ONLY_SHOWN)}


# --- quantities ----------------------------------------------------------------------------------

_DIFFERENCE = "temperature difference"  # in degrees, wherever their zero is


def _quantity(
    name: str,
    example: str,
    json: str,
    metric: str = "",
    us: str = "",
    *,
    dimension: str = "",
    bare: bool = False,
    internal: float = 1.0,
    least: int = 0,
    nought: float = 0.0,
) -> Quantity:
    """Units with their digits, `mm .4g`; metric as JSON, us as metric where they say nothing."""

    def shown(text: str) -> Shown:
        unit, digits = re.fullmatch(r"(.*?) ?(,?\.\d[fg])?", text).groups()  # type: ignore[union-attr]
        known = _SHOWN[unit]
        offset = 0.0 if dimension == _DIFFERENCE else 0.0 - known.offset
        factor = known.per / known.times if internal == 1 else internal / known.factor
        return Shown(unit, factor, offset, digits or ".3g", least, nought)

    dimension = dimension or name
    plain = shown(json)._replace(least=0, nought=0.0)
    suffix = re.sub(r"[() ]", "", json.replace("/", "_"))
    read = shown(metric or json)
    return Quantity(
        name, dimension, plain._replace(unit=suffix), read, shown(us) if us else read, example,
        bare, internal,
    )  # fmt: skip


RATIO = _quantity("plain number", "0.61", "", bare=True)
COUNT = _quantity("count", "6", "", ".0f", bare=True)
PRICE = _quantity("price", "31.0", "", ".2f", bare=True)
LENGTH = _quantity("length", "120 mm", "m", "mm .4g", "in .2f")
DISTANCE = _quantity("distance", "1 m", "m", "m", "ft", dimension="length")
ALTITUDE = _quantity("altitude", "900 m", "m", "m .0f", "ft .0f", dimension="length")
AREA = _quantity("area", "450 cm2", "m2", "cm2 .4g", "in2 .4g")
TEMPERATURE = _quantity("temperature", "40 degC", "degC", "degC .1f", "degF .1f")
DIFFERENCE = _quantity(
    _DIFFERENCE, "15 K", "K", "K .1f", "degF .1f",
    least=1, nought=1e-6,  # as near as a solve promises a temperature
)  # fmt: skip
PRESSURE = _quantity("pressure", "18 Pa", "Pa", "Pa .1f", "inH2O .3f", least=2, nought=1e-6)
SITE_PRESSURE = _quantity(
    "air pressure", "91 kPa", "Pa", "kPa .1f", "psi .2f", dimension="pressure"
)
VOLUME_FLOW = _quantity("volume flow", "40 m3/h", "m3/s", "m3/h", "CFM", nought=1e-9)
MASS_FLOW = _quantity("mass flow", "0.02 kg/s", "kg/s", "kg/s", "lb/min", nought=1e-9)
VELOCITY = _quantity("velocity", "1.5 m/s", "m/s", "m/s .2f", "ft/min .0f")
POWER = _quantity("power", "96 W", "W", nought=1e-9)
HEAT_FLUX = _quantity("power per area", "600 W/m2", "W/m2", "W/m2", "BTU/(h ft2)")
DENSITY = _quantity("density", "1.2 kg/m3", "kg/m3", "kg/m3 .3f", "lb/ft3 .4f")
U_VALUE = _quantity(
    "heat transfer coefficient", "5.5 W/(m2 K)", "W/(m2 K)", "W/(m2 K)", "BTU/(h ft2 degF)"
)
CONDUCTIVITY = _quantity("conductivity", "50 W/(m K)", "W/(m K)", "W/(m K)", "BTU/(h ft degF)")
THERMAL_RESISTANCE = _quantity(
    "thermal resistance", "0.28 K/W", "K/W", "K/W",
    "degC/W",  # electronic parts are specified so on both sides of the ocean
)  # fmt: skip
HEAT_CAPACITY = _quantity("heat capacity", "450 J/K", "J/K")
MASS = _quantity("mass", "2.5 kg", "kg", "kg", "lb")
ANGLE = _quantity("angle", "90 deg", "deg", bare=True, internal=math.pi / 180)
TIME = _quantity("time", "60 s", "s")
HOURS = _quantity(
    "number of hours", "50000 h", "hours", "h ,.0f",
    dimension="time", bare=True, internal=3600.0, least=1, nought=1e-6,
)  # fmt: skip
SPEED = _quantity("speed of rotation", "2400 rpm", "rpm", "rpm .0f")
VOLTAGE = _quantity("voltage", "230 V", "V")
FREQUENCY = _quantity("frequency", "50 Hz", "Hz")
CURRENT = _quantity("current", "0.12 A", "A")
LEVEL = _quantity("sound level", "44 dBA", "dBA", "dBA .1f", bare=True)
LEVEL_DIFFERENCE = _quantity("level difference", "3 dB", "dB", "dB .1f", least=1, nought=1e-9)

QUANTITIES: dict[str, Quantity] = {
    quantity.name: quantity for quantity in tuple(globals().values()) if type(quantity) is Quantity
}
