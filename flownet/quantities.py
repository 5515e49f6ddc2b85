"""Every physical quantity flownet reads, computes or shows, once: units are chosen here."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple

UnitSystem = Literal["metric", "us"]


# Of the largest number of a column: what is less asks the others for no more decimals.
SMALL, SMALL_FIXED = 1e-4, 1e-2


class Shown(NamedTuple):
    """A unit for people: shown value = internal value * factor + offset."""

    unit: str
    factor: float = 1.0
    offset: float = 0.0
    digits: str = ".3g"
    least: int = 0  # significant digits that a small number keeps, so that its sign and size show
    nought: float = 0.0  # internal value below which a number is shown as 0

    def number(self, value: float, sign: str = "", decimals: int | None = None) -> str:
        """The number alone, never as -0, exponents only below 1e-4; `sign="+"` marks gains.

        `decimals` are those of its column; without them it has the digits of its quantity.
        """
        shown = self._read(value)
        own = self._own_decimals(shown)
        if own is not None:
            decimals = max(own, decimals or 0)
        digits = self.digits if decimals is None else f"{self._comma}.{decimals}f"
        text = f"{shown:{sign}z{digits}}"
        if "e" in text and math.isfinite(shown) and abs(shown) >= 1:
            text = f"{shown:{sign}z.0f}"
        return text.replace(",", " ")

    def text(self, value: float, sign: str = "", decimals: int | None = None) -> str:
        """Number and unit, `43.2 degC`."""
        return f"{self.number(value, sign, decimals)} {self.unit}".rstrip()

    def decimals(self, values: Iterable[float]) -> int:
        """The one number of decimals in which a column of values is shown.

        Three digits of the largest, one decimal more where a smaller one has fewer, and so many
        that no value of `SMALL` of the largest and above is shown as nothing. Fixed decimals
        grow with the smallest value above `SMALL_FIXED` of the largest; a smaller one keeps its
        own `least` digits.
        """
        sizes = [abs(x) for x in map(self._read, values) if x and math.isfinite(x)]
        if not sizes:
            return 0 if self._significant else self._fixed
        largest = max(sizes)
        least = SMALL if self._significant else SMALL_FIXED
        smallest = min(size for size in sizes if size >= least * largest)
        if not self._significant:
            own = self._own_decimals(smallest)
            return self._fixed if own is None else max(own, self._fixed)
        base = max(_decimals(largest, self._significant), 0)
        finer = min(_decimals(smallest, self._significant), base + 1)
        return max(base, finer, _decimals(smallest, 1))

    def whole(self, values: Iterable[float]) -> int:
        """Decimals of a column of given values: no more than it takes to tell them all."""
        shown = [x for x in map(self._read, values) if math.isfinite(x)]
        most = self.decimals([]) if not self._significant else 6
        return next(
            (n for n in range(most) if all(round(x, n) == round(x, most) for x in shown)), most
        )

    def shares(self, total: float, parts: Sequence[float]) -> tuple[str, list[str]]:
        """A total and its parts as texts that add up as they are printed.

        Largest remainders are rounded up, so that each is off by less than one of its last place.
        """
        decimals = self.decimals([total])
        scale = 10.0**decimals
        units = round(self._read(total) * scale)
        exact = [self._read(part) * scale for part in parts]
        rounded = apportioned(units, exact)
        return self._scaled(units, decimals), [self._scaled(n, decimals) for n in rounded]

    def _scaled(self, units: int, decimals: int) -> str:
        return f"{units / 10.0**decimals:z.{decimals}f} {self.unit}".rstrip()

    def _read(self, value: float) -> float:
        return (0.0 if abs(value) < self.nought else value) * self.factor + self.offset

    def _own_decimals(self, shown: float) -> int | None:
        """Decimals of a number too small for the usual ones; None for any other."""
        if not self.least or self._significant or not shown or not math.isfinite(shown):
            return None
        needed = _decimals(shown, self.least)
        return needed if needed > self._fixed else None

    @property
    def _comma(self) -> str:
        return "," if "," in self.digits else ""

    @property
    def _significant(self) -> int:
        """Significant digits; 0 where decimals are fixed."""
        return int(self.digits.strip(",.g")) if self.digits.endswith("g") else 0

    @property
    def _fixed(self) -> int:
        return 0 if self._significant else int(self.digits.strip(",.f"))


def _decimals(shown: float, significant: int) -> int:
    """Decimals that a number has with so many significant digits; below zero for a large one."""
    return significant - 1 - math.floor(math.log10(abs(shown)))


def apportioned(total: int, parts: Sequence[float]) -> list[int]:
    """Whole numbers near the parts whose sum is the total, largest remainders rounded up."""
    whole = [math.floor(part) for part in parts]
    order = sorted(range(len(parts)), key=lambda i: whole[i] - parts[i])
    for i in order[: max(total - sum(whole), 0)]:
        whole[i] += 1
    return whole


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
