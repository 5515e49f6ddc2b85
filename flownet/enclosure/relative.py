"""Relative changes, `* 0.9` and `+ 5 K`: of the value that stands there before.

They stay text until they meet that value. A blank stands behind + and -, so that `-5 degC` is a
temperature and `- 5 K` a change of one. Several in a row are joined by `then`, from left to right.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from flownet.enclosure.contents import Contents, Place, rivals
from flownet.schema import fields, units
from flownet.schema import quantities as q
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fields import Role, get, given, keys, roles, violation
from flownet.schema.quantities import Quantity

THEN = " then "
TABLES = {  # numbers beside a table that scale it
    "curve": "pressure_factor and flow_factor of its fans scale it",
    "velocity_drop": "fouling scales it",
    "resistance_over_velocity": "resistance_factor scales it",
}
_SIGN = re.compile(r"\s*(?:[*/×]|[-+−](?=\s))")
_STEP = re.compile(r"\s*([-+−*/×])\s*(.+?)\s*")
_NO_BLANK = re.compile(r"\s*\+[\d.]")
Standing = list[tuple[Role, Any]]
DEFAULT = re.compile(r"\bdefault ([^;,]+)")
_NO_FACTOR = {
    q.TEMPERATURE.dimension: "of a temperature has no meaning, because its zero is not the same "
    'in K, degC and degF; write a difference, such as "+ 5 K"',
    q.LEVEL.dimension: 'of a sound level has no meaning; write a difference, such as "+ 3 dB"',
}


# --- as text ------------------------------------------------------------------------------------


def is_relative(raw: Any, role: Role | None = None) -> bool:
    """Whether a value is text such as `* 0.9` or `+ 5 K`; where text is only kept, none is."""
    return (
        isinstance(raw, str) and _SIGN.match(raw) is not None and not isinstance(role, fields.Text)
    )


def checked(path: str, place: Place, role: Role, raw: str) -> str:
    """A relative change as it is kept; CaseError, after the path, where it has no meaning."""
    faults: list[list[str]] = []
    for read in _readings(place, role).values():
        try:
            return _of_role(place.key, read, raw)
        except CaseError as error:
            faults.append([f"{path}: {what}" for what in error.faults])
    raise CaseError(faults[0])


def refuse_unclear(path: str, role: Role, raw: Any) -> None:
    """CaseError, after the path, for `+5 K`, which may be meant either way."""
    if isinstance(role, fields.Number) and isinstance(raw, str) and _NO_BLANK.match(raw):
        number = raw.strip()[1:]
        raise CaseError(
            f'{path}: "{raw}" may mean two things; write "+ {number}" for so much more than what '
            f'stands there, "{number}" for the value itself'
        )


def joined(first: str, then: str) -> str:
    """Two relative changes one after the other."""
    return first + THEN + then


def unordered(case: Contents, changes: Mapping[str, Any]) -> Iterator[str]:
    """Faults of relative changes in one table, whose lines have no order, of what it sets too."""
    seen: dict[Place, str] = {}
    for path, value in changes.items():
        for place in case.places(path):
            other = seen.setdefault(place, path)
            if other != path and is_relative(value):
                yield (
                    f"{path}: {other} changes {place.path} as well, and which is first is not "
                    "said; give it once"
                )
                break


def spread(
    case: Contents, path: str, role: fields.Number, ends: tuple[str, str], count: int
) -> tuple[str, ...]:
    """Equal steps between two relative changes: `* 0.8` to `* 1.2`, `- 5 K` to `+ 5 K`.

    The sign may stand at the first end only. CaseError, after the path, for what is no such range.
    """
    sign = "*" if ends[0].strip()[0] in "*×" else "+"
    (low, first), (high, unit) = (_signed(path, text, sign) for text in ends)
    if first not in ("", unit):
        raise CaseError(f'{path}: both ends of a range are in one unit (got "{" to ".join(ends)}")')
    if not low < high:
        raise CaseError(f'{path}: a range goes from low to high (got "{" to ".join(ends)}")')
    values = [low + (high - low) * step / (count - 1) for step in range(count)]
    texts = [f"{'-' if v < 0 else sign} {abs(v):.12g} {unit}".strip() for v in values]
    for place in case.places(path)[:1]:
        checked(path, place, role, texts[0])
    return tuple(texts)


def _signed(path: str, text: str, sign: str) -> tuple[float, str]:
    """The number of one end of a range with its sign, and its unit."""
    own, number = (text.strip()[0], text.strip()[1:]) if is_relative(text) else (sign, text)
    if (own in "*×") != (sign == "*") or own == "/":
        raise CaseError(f'{path}: a range has two factors or two amounts (got "{text}")')
    value, unit = units.split(number)
    return (-value if own in "-−" else value), unit


def _of_role(key: str, role: Role, raw: str) -> str:
    if isinstance(role, fields.Number):
        steps(role.quantity, raw)
        return " ".join(raw.split())
    if isinstance(role, fields.Rows):
        raise CaseError(f'"{raw}" of a table has no meaning; {TABLES.get(key, "write it anew")}')
    if isinstance(role, (fields.Numbers, fields.Pair, fields.Group)):
        raise CaseError(f'"{raw}" of several values has no meaning; name one, such as {key}.0')
    raise CaseError(f'"{raw}" changes a number; none stands here')


def _readings(place: Place, role: Role) -> dict[str, Role]:
    """What can stand at a place, by key: the ratio of a speed, or the rpm instead."""
    found = {place.key: role}
    if isinstance(role, fields.Number) and role.otherwise:
        found[role.otherwise] = keys(KINDS[place.kind])[role.otherwise].role
    return found


@functools.lru_cache(maxsize=1024)
def steps(quantity: Quantity, text: str) -> tuple[tuple[float, float], ...]:
    """The factors and amounts [SI] of a relative change; CaseError for one without a meaning."""
    return tuple(_step(quantity, part, text) for part in text.split(THEN))


def _step(quantity: Quantity, part: str, text: str) -> tuple[float, float]:
    match = _STEP.fullmatch(part) if is_relative(part) else None
    if match is None:
        raise CaseError(f'"{text}" is not * or /, or + or - and a blank, with a number behind')
    sign, number = match[1].replace("−", "-").replace("×", "*"), match[2]
    if sign in "+-":
        amount = _amount(quantity, number, part)
        return 1.0, amount if sign == "+" else -amount
    if why := _NO_FACTOR.get(quantity.dimension):
        raise CaseError(f'"{part}" {why}')
    factor = units.parse(number, q.RATIO)
    if sign == "/" and factor == 0:
        raise CaseError(f'"{part}" divides by 0')
    return (factor if sign == "*" else 1 / factor), 0.0


def _amount(quantity: Quantity, number: str, part: str) -> float:
    """What is added, SI: of a temperature a difference, whatever its degrees."""
    if number.endswith("%"):
        share = units.parse(number, q.RATIO) * (-1 if part.strip()[0] != "+" else 1)
        raise CaseError(f'"{part}" may mean two things; write "* {1 + share:.6g}"')
    if quantity.dimension == q.TEMPERATURE.dimension:
        quantity = q.DIFFERENCE
    elif quantity.dimension == q.LEVEL.dimension and number.endswith("dB"):
        quantity = q.LEVEL_DIFFERENCE
    return units.parse(number, quantity)


# --- on what stands there -----------------------------------------------------------------------


def settled(
    case: Contents, place: Place, role: Role, raw: Any, now: Mapping[Place, Any], variant: int = 0
) -> Any:
    """A single value; a relative change worked out on what stands there in a variant.

    `now`: what was set before in the same changes. CaseError, after the path, where no number
    stands there, or the change leads out of its range.
    """
    if not is_relative(raw, role):
        return raw
    checked(place.path, place, role, raw)
    before = [(read, v[variant if len(v) > 1 else 0] if isinstance(v, np.ndarray) else v)
              for read, v in _standing(case, place, role, now)]  # fmt: skip
    return _after(case, place, raw, before)


def width(case: Contents, place: Place, role: Role, now: Mapping[Place, Any]) -> int:
    """How many values, one a variant, stand at a place; 0 for a single one."""
    before = _standing(case, place, role, now)
    return max((len(v) for _, v in before if isinstance(v, np.ndarray)), default=0)


def weights(case: Contents, changes: Mapping[str, Any]) -> dict[Place, float]:
    """How much of a value set before is left where changes touch it: 0 where they set it."""
    found: dict[Place, float] = {}
    for path, value in changes.items():
        for place in case.places(path):
            left, role = 0.0, roles(KINDS[place.kind]).get(place.key)
            if is_relative(value, role) and isinstance(role, fields.Number):
                left = math.prod(factor for factor, _ in steps(role.quantity, value))
            found[place] = found.get(place, 1.0) * left
    return found


def _standing(case: Contents, place: Place, role: Role, now: Mapping[Place, Any]) -> Standing:
    """What can stand at a place, each with its value, or one a variant."""
    item, found = case.things[place.kind][place.name], []
    for key, read in _readings(place, role).items():
        here = place._replace(key=key)
        found.append((read, now[here] if here in now else get(item, key)))
    return found


def _after(case: Contents, place: Place, raw: str, standing: Standing) -> Any:
    """What a relative change makes of the number that stands there; in rpm as text."""
    found = [(read, v) for read, v in standing if isinstance(read, fields.Number) and given(v)]
    if not found:
        raise _missing(case, place, raw)
    (read, before), value = found[0], found[0][1]
    try:
        for factor, amount in steps(read.quantity, raw):
            value = value * factor + amount
    except CaseError as error:
        stands = f"; {_shown(read.quantity, before)} stands there"
        raise CaseError([f"{place.path}: {what}{stands}" for what in error.faults]) from None
    if not np.iscomplexobj(value):
        value = float(f"{value:.15g}")  # 0.81, not 0.81000000000000005
        if what := violation(read, value):
            raise CaseError(f'{place.path}: "{raw}" of {_shown(read.quantity, before)} {what}')
    return units.write(value, read.quantity) if read.quantity == q.SPEED else value


def _shown(quantity: Quantity, value: Any) -> str:
    return units.write(float(value.real), quantity)


def _missing(case: Contents, place: Place, raw: str) -> CaseError:
    """The fault of a relative change of what is not given."""
    cls, item = KINDS[place.kind], case.things[place.kind][place.name]
    own = place.key.partition(".")[0]
    instead = [key for key in keys(cls) if key in rivals(cls, own) and given(get(item, key))]
    declared = case.declared(place)
    default = DEFAULT.search(f"{declared.doc}; {declared.source}") if declared else None
    hint = "give it first, or write the value itself"
    if instead:
        hint = f"{' and '.join(instead)} stands there instead"
    elif default:
        hint = f"its default is {default[1].strip()}; write the value itself"
    if place.kind == "part" and own in ("power", "output"):
        hint += "; load scales the heat of every part"
    return CaseError(f'{place.path}: "{raw}" of a value that is not given; {hint}')
