"""Values to try at an input path: a list, or a range such as `0.5 to 1.0 in 11`; and tolerances."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from flownet.enclosure.changes import converted
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.relative import is_relative, spread
from flownet.schema import quantities as q
from flownet.schema import units
from flownet.schema.component import KINDS
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault, brief
from flownet.schema.fields import Choice, Link, Number, Role, Rows, keys, roles
from flownet.schema.quantities import Quantity

MOST_VALUES = 100_000
SHAPES = ("normal", "lognormal", "uniform")
TOLERANCE = ("within", "shape", "together")
_RANGE = re.compile(r"\s*(.+?)\s+to\s+(.+?)(?:\s+in\s+(\S+))?\s*")
Values = tuple[Any, ...] | Mapping[str, float] | str


def alternatives(
    case: Enclosure, path: str, raw: Any, *, catalogue: bool = False, file: bool = True
) -> Values:
    """Values to try at a path: a list, or a range such as `0.5 to 1.0 in 11`.

    `catalogue`: "any" may stand for every type there is; `file`: it stands in a case file, in
    Python bare numbers are SI. Values in SI or words; `{"low", "high"}` for a range without a
    count; or "any". CaseError with each line after the path.
    """
    role = role_at(case, path)
    if raw == "any" and catalogue and _is_type(case, path):
        return "any"
    if isinstance(raw, str) and isinstance(role, Number):
        if match := _RANGE.fullmatch(raw):
            return _range(case, path, role, match)
        raw = _listed(path, raw, role.quantity)
    if not isinstance(raw, (list, tuple)) or not raw:
        wanted = "a list of values"
        if isinstance(role, Number):
            wanted += f', or a range such as "{_example(role.quantity)}"'
        raise CaseError(f"{path}: takes {wanted} (got {brief(raw)})")
    if len(raw) > MOST_VALUES:
        raise CaseError(f"{path}: holds {len(raw)} values; at most {MOST_VALUES}")
    made: list[Any] = []
    faults: list[Fault] = []
    for item in raw:
        with placed(faults=faults):
            made.append(converted(case, path, item, file=file))
    if faults:
        raise CaseError(list(dict.fromkeys(faults)))
    return tuple(made)


def role_at(case: Enclosure, path: str) -> Role | None:
    """How the single value at a path is declared; None for a type of a kind other than fan.

    CaseError, after the path, for a path that holds several values.
    """
    place = case.places(path)[0]
    cls = KINDS[place.kind]
    role = roles(cls).get(place.key)
    if role is None and place.key in keys(cls):
        inner = [key for key in roles(cls) if key.startswith(place.key + ".")]
        raise CaseError(f"{path}: holds several values; name one, such as {path}.{_last(inner[0])}")
    if role is not None and not isinstance(role, (Number, Choice, Link, Rows)):
        raise CaseError(f"{path}: cannot be varied")
    return role


def _last(key: str) -> str:
    return key.partition(".")[2]


def _is_type(case: Enclosure, path: str) -> bool:
    return all(place.key == "type" for place in case.places(path))


def _count(path: str, text: str) -> int:
    number = int(text) if text.isdecimal() and len(text) < 8 else 0
    if not 2 <= number <= MOST_VALUES:
        raise CaseError(f"{path}: a range has 2 to {MOST_VALUES} values (got {text})")
    return number


def _example(quantity: Quantity) -> str:
    number, _, unit = quantity.example.partition(" ")
    return f"{number} to {2 * float(number):g} {unit}".strip() + " in 5"


def _listed(path: str, raw: str, quantity: Quantity) -> Any:
    """`0 2000 4000 m` as a list of texts; other text as it is, to be refused."""
    unit = _unit(raw)
    numbers = re.split(r"[\sx×]+", raw[: len(raw) - len(unit)].strip())
    if len(numbers) < 2:
        return raw
    with placed(path):
        units.parse_list(raw, quantity)
    return [f"{number} {unit}" for number in numbers]


def _unit(text: str) -> str:
    """What follows the numbers at the start of a text."""
    return re.sub(r"^[-+0-9.eEx×\s]*", "", text)


def _range(case: Enclosure, path: str, role: Number, match: re.Match[str]) -> Values:
    """Both ends of a range, or the values between them."""
    first, last, count = match[1], match[2], match[3]
    if is_relative(first) or is_relative(last):
        if count is None:
            raise CaseError(f'{path}: a relative range needs its count, such as "... in 5"')
        return spread(case, path, role, (first, last), _count(path, count))
    if not _unit(first):
        first = f"{first} {_unit(last)}"
    ends = [converted(case, path, text.strip(), file=True) for text in (first, last)]
    texts = any(isinstance(end, str) for end in ends)  # speed = "1000 to 2800 rpm"
    if texts:
        ends = [units.parse(text, q.SPEED) for text in (first, last)]
    low, high = ends
    if not low < high:
        raise CaseError(f'{path}: a range goes from low to high (got "{match[0].strip()}")')
    if count is None:
        if texts:
            raise CaseError(f'{path}: a range of speeds in rpm needs its count, such as "... in 5"')
        return MappingProxyType({"low": low, "high": high})
    number = _count(path, count)
    values = [low + (high - low) * step / (number - 1) for step in range(number - 1)] + [high]
    return tuple(units.write(value, q.SPEED) for value in values) if texts else tuple(values)


# --- how far a value may be off -----------------------------------------------------------------


def tolerance(case: Enclosure, path: str, raw: Any) -> Mapping[str, Any]:
    """How far a value may be off: `6 %` of it, or an amount such as `2 K`.

    A mapping of `within` (share of the value where `relative`, else in SI), `relative`, `shape` and
    `together`; CaseError with each line after the path.
    """
    role = role_at(case, path)
    if not isinstance(role, Number):
        raise CaseError(f"{path}: is no number and has no tolerance")
    table = raw if isinstance(raw, Mapping) else {"within": raw}
    faults = [
        f"{path}.{key}: unknown key; the keys are {', '.join(TOLERANCE)}"
        for key in table
        if key not in TOLERANCE
    ]
    shape, together = table.get("shape", SHAPES[0]), table.get("together", False)
    if shape not in SHAPES:
        faults.append(f"{path}.shape: must be one of {', '.join(SHAPES)} (got {brief(shape)})")
    if not isinstance(together, bool):
        faults.append(f"{path}.together: must be true or false (got {brief(together)})")
    within, relative = 0.0, True
    try:
        within, relative = _within(role.quantity, table.get("within"))
    except CaseError as error:
        faults += [f"{path}: {fault}" for fault in error.faults]
    if shape == "lognormal" and not relative:
        faults.append(f'{path}.shape: "lognormal" goes with a share, such as within = "20 %"')
    if faults:
        raise CaseError(faults)
    return MappingProxyType(
        {"within": within, "relative": relative, "shape": shape, "together": together}
    )


def _within(quantity: Quantity, raw: Any) -> tuple[float, bool]:
    absolute = q.DIFFERENCE if quantity == q.TEMPERATURE else quantity
    by_share = 'a share of the value is wanted, such as "6 %"'
    if quantity == q.TEMPERATURE:
        by_share = 'a difference is wanted, such as "2 K"'
    elif not quantity.bare:
        by_share += f', or an amount, such as "{quantity.example}"'
    if not isinstance(raw, str):
        raise CaseError(f"{by_share} (got {brief(raw)})")
    share = raw.strip().endswith("%")
    if share and quantity == q.TEMPERATURE:
        raise CaseError(f'"{raw}" of a temperature has no meaning; {by_share}')
    if not share and absolute == q.RATIO:
        raise CaseError(f'"{raw}" has no %; {by_share}')
    value = float(convert(Number(q.RATIO if share else absolute, 0.0), raw, file=True))
    if share and value >= 1:
        raise CaseError(f'must be below 100 % (got "{raw}")')
    return value, share
