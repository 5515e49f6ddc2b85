"""Text to SI: a closed table of units and one grammar, `number unit`; nothing is evaluated."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, NoReturn, overload

from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean
from flownet.schema.quantities import (
    DIFFERENCE,
    FREQUENCY,
    QUANTITIES,
    RATIO,
    TEMPERATURE,
    UNITS,
    VOLTAGE,
    Quantity,
    Unit,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

LONGEST_QUANTITY = 80
LONGEST_LIST = 4000
_LONG = 2**63
_ANY = 'a number with a unit is wanted, such as "40 degC"'


class SupplyText(NamedTuple):
    """An electrical supply: volts and hertz, 0 Hz for direct current."""

    voltage: float
    frequency: float

    def text(self) -> str:
        """As `parse_supply` reads it: `230 V 50 Hz`, `24 V dc`."""
        current = f"{self.frequency:.15g} Hz" if self.frequency else "dc"
        return f"{self.voltage:.15g} V {current}"


# Other spellings with one possible meaning.
_SPELLINGS = {"L/s": "l/s", "L/min": "l/min", "dB(A)": "dBA", "W/(m2K)": "W/(m2 K)"}
_SIGNS = str.maketrans({"²": "2", "³": "3", "°": "deg", "℃": "degC", "℉": "degF", "·": " "})
# Refused, because they mean something else or nothing in the table; what was probably meant.
_MEANT_TEXT = """
c=degC|deg c=degC|celsius=degC|f=degF|deg f=degF|fahrenheit=degF|kelvin=K|degk=K|"=in|inch=in
inches=in|'=ft|foot=ft|feet=ft|m3h=m3/h|cbm/h=m3/h|cmh=m3/h|lps=l/s|ft3/min=CFM|fpm=ft/min
mps=m/s|m/sec=m/s|mmwg=mmH2O|mmwc=mmH2O|mmaq=mmH2O|mmh20=mmH2O|in wg=inH2O|inwc=inH2O|iwg=inH2O
in h2o=inH2O|inh20=inH2O|w/mk=W/(m K)|c/w=degC/W|watt=W|watts=W|sec=s|seconds=s|minutes=min|hr=h
hrs=h|hour=h|hours=h|r/min=rpm|min-1=rpm|percent=%|degrees=deg|volt=V|volts=V|vac=V|vdc=V|amp=A|amps=A
"""
_MEANT = dict(pair.split("=") for pair in _MEANT_TEXT.strip().replace("\n", "|").split("|"))

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_BETWEEN = re.compile(r"(?:\s*[x×]\s*|\s+)(?=[-+.0-9])")
_UNIT = re.compile(r"[A-Za-z%'\"][A-Za-z0-9%/() '\".-]*")
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)\b", re.IGNORECASE)
_SUPPLY = re.compile(rf"V\s*(?:(dc|DC)|({_NUMBER.pattern}\s*Hz))")


def parse(text: str, quantity: Quantity) -> float:
    """The value of `text` in the internal unit of `quantity`: SI, unless it says otherwise.

    A number and a unit of the closed table, `40 degC` or `50degC`; the number alone where the
    quantity is bare. K, degC, degF are absolute where a temperature is wanted and differences
    where a difference is wanted. CaseError, without a place, says what to write.
    """
    number, unit = _one(text, quantity.wanted)
    return _checked(_number(number, text), _lookup(unit, quantity, text), quantity, text)


def parse_list(text: str, quantity: Quantity, count: int | None = None) -> tuple[float, ...]:
    """Numbers with one unit at the end: `0 0 800 900 mm`, `119 x 38 mm`, `-20 70 degC`.

    Separated by blanks or ` x `; exactly `count` of them if given. Values and errors as `parse`.
    """
    numbers, unit = _scan(text, quantity.wanted, LONGEST_LIST)
    found = _lookup(unit, quantity, text)
    if count is not None and len(numbers) != count:
        held = f"{len(numbers)} number{'' if len(numbers) == 1 else 's'}"
        end = f', then the unit "{_spelled(unit)}" once' if unit else ""
        raise _refused(text, f"holds {held}", f"{count} are wanted{end}")
    return tuple(_checked(_number(number, text), found, quantity, text) for number in numbers)


def parse_supply(text: str) -> SupplyText:
    """A voltage, then a frequency or `dc`: `230 V 50 Hz`, `24 V dc`."""
    wanted = 'a supply is wanted, such as "230 V 50 Hz" or "24 V dc"'
    numbers, rest = _scan(text, wanted)
    match = _SUPPLY.fullmatch(rest)
    if len(numbers) == 1 and numbers[0].startswith("-") and rest[:1] == "V":
        positive = text.strip().replace("−", "-")[1:] if match else f"{numbers[0][1:]} V dc"
        hint = f'write "{positive}", which of the two poles is earthed changes nothing'
        raise _refused(text, "must have a voltage above 0", hint)
    if len(numbers) > 1 or match is None:
        bare = rest.lower() in ("v", "vac", "v ac")
        fault = "has no frequency" if bare else "is not a voltage, then a frequency or dc"
        raise _refused(text, fault, wanted)
    voltage = _checked(_number(numbers[0], text), UNITS["V"], VOLTAGE, text)
    if voltage <= 0:
        raise _refused(text, "must have a voltage above 0", wanted)
    if match[1]:
        return SupplyText(voltage, 0.0)
    frequency = parse(match[2], FREQUENCY)
    if frequency <= 0:
        raise _refused(text, "has no frequency", f'write "{numbers[0]} V dc"')
    return SupplyText(voltage, frequency)


def write(value: float, quantity: Quantity) -> str:
    """Text that `parse` reads as the same float; in the metric unit where that is possible."""
    tries = [quantity.metric.exact(value, digits) for digits in (15, 16, 17)]
    tries += [f"{value!r} {name}" for name in measuring(quantity) if UNITS[name].is_base]
    return next((text for text in tries if parse(text, quantity) == value), tries[-1])


def split(text: str) -> tuple[float, str]:
    """The number and the unit of `text`; the unit as the table spells it, or "" without one.

    CaseError as for `parse`, also for a unit that is not in the table.
    """
    number, unit = _one(text, _ANY)
    if unit:
        unit_of(unit)
    return _number(number, text), _spelled(unit)


def unit_of(text: str) -> Quantity:
    """The quantity that the unit `text` measures: `CFM` a volume flow; `K` a temperature."""
    unit = _spelled(text)
    if unit not in UNITS:
        hint = did_you_mean(_meant(unit, [*UNITS]), f"units are {', '.join(UNITS)}")
        raise _refused(text, "is not a unit that is known", hint)
    return QUANTITIES[UNITS[unit].dimension]


def convert(value: Any, unit: str, quantity: Quantity) -> Any:
    """Numbers that are in `unit`, in the internal unit of `quantity`: a float or an array.

    Any shape, real or complex, all finite; `unit` of the closed table, or "" for a bare quantity.
    CaseError where the unit does not measure `quantity`, or a value is not a finite number.
    """
    found = _lookup(unit, quantity, unit)
    if isinstance(value, float) or (type(value) is int and abs(value) < _LONG):
        return _checked(float(value), found, quantity, f"{value} {unit}".strip())
    return _convert_array(value, found, quantity, unit)


@overload
def si(value: str, unit: None = None) -> float: ...
@overload
def si(value: float, unit: str) -> float: ...
@overload
def si(value: Sequence[float] | NDArray[Any], unit: str) -> Array: ...
def si(value: Any, unit: str | None = None) -> Any:
    """A quantity as flownet's Python functions take it: `si("40 degC")` is 313.15.

    Parameters
    ----------
    value : str, float or array_like
        Text with its unit, or numbers that are in `unit`.
    unit : str, optional
        A unit of the closed table, with numbers only.

    Returns
    -------
    float or ndarray
        SI, shape of `value`. degC and degF are read as absolute temperatures. Angles stay in
        degrees, as everywhere in flownet.

    Raises
    ------
    CaseError
        As `parse` and `convert`.
    """
    if isinstance(value, str):
        if unit is not None:
            raise CaseError(f"{_quoted(value)} is text and carries its own unit (got {unit!r} too)")
        number, unit = split(value)
        return convert(number, unit, unit_of(unit)) if unit else number
    if unit is None:
        raise CaseError(f'{value} has no unit; write si("40 degC") or si(40, "degC")')
    return convert(value, unit, unit_of(unit))


def _one(text: str, wanted: str) -> tuple[str, str]:
    """One number, still as text, and what follows it."""
    numbers, unit = _scan(text, wanted)
    if len(numbers) > 1:
        raise _refused(text, f"holds {len(numbers)} numbers", wanted)
    return numbers[0], unit


def _scan(text: str, wanted: str, longest: int = LONGEST_QUANTITY) -> tuple[list[str], str]:
    """The numbers at the start of `text`, still as text, and what follows them."""
    if len(text) > longest:
        hint = f"at most {longest} are read; {wanted}"
        raise _refused(text, f"has {len(text)} characters", hint)
    line = text.strip().replace("−", "-")
    numbers, end = [], 0
    match = _NUMBER.match(line)
    while match is not None:
        numbers.append(match[0])
        end = match.end()
        between = _BETWEEN.match(line, end)
        match = _NUMBER.match(line, between.end()) if between else None
    unit = line[end:].strip()
    if not numbers or (unit and not _UNIT.fullmatch(_spelled(unit))):
        _refuse(text, line, wanted)
    return numbers, unit


def _refuse(text: str, line: str, wanted: str) -> NoReturn:
    decimal = re.fullmatch(r"([-+]?[0-9]+),([0-9]{1,2}|[0-9]{4,})(?![0-9])([^,]*)", line)
    if not line:
        fault = "is empty"
    elif _NOT_FINITE.match(line):
        fault = "is not a finite number"
    elif decimal:
        fault = f'has a comma; write "{decimal[1]}.{decimal[2]}{decimal[3]}"'
    elif "," in line:
        fault = "has a comma; decimals take a point, thousands no mark, lists blanks"
    elif wanted.startswith(RATIO.article):
        fault = "is not a number"
    else:
        fault = "is not a number followed by a unit"
    raise _refused(text, fault, wanted)


def _lookup(written: str, quantity: Quantity, text: str) -> Unit:
    """The unit as `quantity` reads it, or why not."""
    name = _spelled(written)
    if not name:
        if quantity.bare:
            return Unit(quantity.dimension, quantity.internal)
        raise _refused(text, "has no unit", quantity.wanted)
    unit = UNITS.get(name)
    if unit is None:
        _refuse_unit(written, quantity, text)
    if unit.dimension == quantity.dimension:
        return unit
    if unit.dimension == "temperature" and quantity.dimension == DIFFERENCE.dimension:
        return unit._replace(offset=0.0)
    is_a = "a percentage" if name == "%" else QUANTITIES[unit.dimension].article
    raise _refused(text, f"is {is_a}", quantity.wanted)


def _refuse_unit(written: str, quantity: Quantity, text: str) -> NoReturn:
    known = measuring(TEMPERATURE if quantity == DIFFERENCE else quantity)
    near = _meant(_spelled(written), known)
    first = written.split(maxsplit=1)[0]
    fault = f"has the unknown unit {_quoted(written)}"
    if near:
        hint = did_you_mean(_quoted(text.strip().removesuffix(written) + near), quote="")
    elif _spelled(first) in UNITS:
        fault = f'has more after its unit "{first}"'
        hint = f"the unit stands once, at the end; {quantity.wanted}"
    elif known and not quantity.bare:
        hint = f"{quantity.article} is wanted, in {', '.join(known)}"
    else:
        hint = quantity.wanted
    raise _refused(text, fault, hint)


def measuring(quantity: Quantity) -> list[str]:
    """The units of a quantity that are read."""
    return [name for name, unit in UNITS.items() if unit.dimension == quantity.dimension]


def _meant(unit: str, known: list[str]) -> str:
    """What was probably meant: a common other name, or wrong capitals.

    Units that only look alike are no hint: `mm` and `m`, or `m3/h` and `m3/s`, differ in size.
    """
    meant = _MEANT.get(unit.lower(), "")
    alike = [name for name in known if name.lower() == unit.lower()]
    return meant if meant in known else "".join(alike[:1])


def _spelled(unit: str) -> str:
    """The unit as the table spells it, if it is one of the other spellings that are allowed."""
    name = " ".join(unit.translate(_SIGNS).split())
    name = re.sub(r" ?/ ?", "/", re.sub(r"\^(?=[23])", "", name))
    return _SPELLINGS.get(name, name)


def _number(number: str, text: str) -> float:
    value = float(number)
    if not math.isfinite(value):
        raise _refused(text, "is too large")
    if value == 0 and re.match(r"[+-]?[0.]*[1-9]", number):
        raise _refused(text, "is too small", "write 0")
    return value


def _checked(value: float, unit: Unit, quantity: Quantity, text: str) -> float:
    result: float = _internal(value, unit, quantity)
    if not math.isfinite(result):
        fault = "is too large" if math.isfinite(value) else "is not a finite number"
        raise _refused(text, fault, quantity.wanted)
    if result < 0 and quantity.dimension == TEMPERATURE.dimension:
        raise _refused(text, "is below absolute zero", quantity.wanted)
    return result


def _convert_array(value: Any, unit: Unit, quantity: Quantity, written: str) -> Any:
    import numpy as np  # noqa: PLC0415 - reading text needs no arrays

    array = np.asarray(value)  # an integer too long for a float becomes an object: refused
    if array.dtype.kind not in "iufc":
        raise _refused(str(value), "is not numbers", quantity.wanted)
    result = _internal(array, unit, quantity)
    if not np.isfinite(result).all():
        raise CaseError(f"an array in {_quoted(written)} holds values that are not finite")
    if quantity.dimension == TEMPERATURE.dimension and (result.real < 0).any():
        raise CaseError(f"an array in {_quoted(written)} goes below absolute zero")
    return result


def _internal(value: Any, unit: Unit, quantity: Quantity) -> Any:
    if quantity.internal != 1:
        return value * (unit.factor / quantity.internal)
    return (value + unit.offset) * unit.times / unit.per


def _quoted(text: str) -> str:
    """The user's words on one line, not too many of them."""
    shown = "".join(sign if sign.isprintable() else " " for sign in text[:60])
    return f'"{shown}{"..." if len(text) > 60 else ""}"'


def _refused(text: str, what: str, hint: str = "") -> CaseError:
    return CaseError(Fault("", f"{_quoted(text)} {what}", hint=hint))
