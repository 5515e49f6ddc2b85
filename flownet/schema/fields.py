"""What a key can be - number, choice, link, table, group - and which keys a class declares."""

from __future__ import annotations

import copyreg
import dataclasses
import math
from collections.abc import Callable, Mapping
from functools import cache
from operator import attrgetter
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from flownet.schema.fault import Fault, did_you_mean, word
from flownet.schema.quantities import COUNT, VOLTAGE, Quantity

TINY = 1e-12  # lower bound of what must be above zero
REMARKS = ("tag", "note", "data")  # keys kept and exported, of a thing itself, not of its type
NONE: Mapping[str, Any] = MappingProxyType({})


def _read_only(content: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(content)


# read-only mappings travel to other processes like the dictionaries behind them
copyreg.pickle(MappingProxyType, lambda mapping: (_read_only, (dict(mapping),)))


class Number(NamedTuple):
    """A number: differentiable, may vary from variant to variant. NaN means "not given"."""

    quantity: Quantity
    low: float = -math.inf
    high: float = math.inf
    optional: bool = False
    otherwise: str = ""  # key that takes text of another quantity: `speed = "2400 rpm"` -> rotation
    hint: str = ""  # what to write instead of a value out of range


class Numbers(NamedTuple):
    """A count of numbers of one quantity, `at = "200 1800 mm"`: `at.0` and `at.1`."""

    quantity: Quantity
    count: int  # type: ignore[assignment]  # hides the method that tuples have
    low: float = -math.inf
    high: float = math.inf
    optional: bool = False
    most: int = 0  # 0: exactly `count`, else `count` or more, up to this

    @property
    def places(self) -> int:
        """How many there can be."""
        return max(self.count, self.most)


class Pair(NamedTuple):
    """Two numbers of two quantities, `flow_at = ["2 m3/h", "10 Pa"]`; addressed as `.0`, `.1`."""

    quantities: tuple[Quantity, Quantity]
    low: float = TINY
    optional: bool = False


class Choice(NamedTuple):
    """One of a few words (or true/false): may vary from variant to variant, kept as its index."""

    words: tuple[str | bool, ...]
    optional: bool = False


class WordList(NamedTuple):
    """A list of words out of a few, or any words where `words` is empty."""

    words: tuple[str, ...] = ()


class Link(NamedTuple):
    """The name of another thing. `varies`: an index that may vary; else it shapes the network."""

    kinds: tuple[str, ...]
    varies: bool = False
    optional: bool = False


class Rows(NamedTuple):
    """Rows of measured values, one name and quantity a column; the first may be a word (None).

    `cls`, where numbers stand beside the columns: what the value is, with its `rows` and these
    numbers as keys, addressed as `table.number`.
    """

    names: tuple[str, ...]
    quantities: tuple[Quantity | None, ...]
    minimum: int = 1
    optional: bool = False
    cls: type[Any] | None = None


class Group(NamedTuple):
    """A sub-table such as `guard = { loss = 0.6 }`; its keys are addressed as `guard.loss`."""

    cls: type[Any]
    optional: bool = False


class Text(NamedTuple):
    """Words for people: kept, never computed with. `free`: a table of anything."""

    optional: bool = True
    free: bool = False


class Subtables(NamedTuple):
    """Named sub-tables that repeat keys of the thing itself: the ratings of a fan type."""


Role = Number | Numbers | Pair | Choice | WordList | Link | Rows | Group | Text | Subtables


class Key(NamedTuple):
    """One key as its class declares it."""

    role: Role
    doc: str
    default: Any  # dataclasses.MISSING where it must be given
    source: str  # of the default
    typical: str


_KEYS: dict[type[Any], Mapping[str, Key]] = {}
_ROLES: dict[type[Any], Mapping[str, Role]] = {}


def keys(cls: type[Any]) -> Mapping[str, Key]:
    """Every key as it is written, `guard`, `from`, `at`: trailing underscores are Python's."""
    if cls not in _KEYS:
        declared = {f.name.rstrip("_"): f.metadata.get("key") for f in dataclasses.fields(cls)}
        _KEYS[cls] = MappingProxyType({n: key for n, key in declared.items() if key is not None})
    return _KEYS[cls]


def roles(cls: type[Any]) -> Mapping[str, Role]:
    """Every single value by its dotted path within the thing: `guard.loss`, `at.1`, `area`."""
    if cls not in _ROLES:
        found: dict[str, Role] = {}
        for name, key in keys(cls).items():
            found |= _single(name, key.role)
        _ROLES[cls] = MappingProxyType(found)
    return _ROLES[cls]


def _single(path: str, role: Role) -> dict[str, Role]:
    if isinstance(role, (Group, Rows)):
        inner = roles(role.cls) if role.cls is not None else {}
        itself = {path: role} if isinstance(role, Rows) else {}
        return itself | {f"{path}.{name}": item for name, item in inner.items()}
    if isinstance(role, Numbers):
        wanted = Number(role.quantity, role.low, role.high, role.optional)
        more = wanted._replace(optional=True)
        every = [wanted] * role.count + [more] * (role.places - role.count)
        return {f"{path}.{i}": one for i, one in enumerate(every)}
    if isinstance(role, Pair):
        each = (Number(q, role.low, math.inf, role.optional) for q in role.quantities)
        return {f"{path}.{i}": item for i, item in enumerate(each)}
    return {path: role}


def attribute(key: str) -> str:
    """The Python name of a key: `from` -> `from_`."""
    return key + "_" if key in ("from", "in") else key


def get(item: Any, path: str) -> Any:
    """The value at a dotted path; NaN or None where an optional group or list is not given."""
    return getter(path)(item)


@cache
def getter(path: str) -> Callable[[Any], Any]:
    """`get` for one path and many things."""
    if "." not in path:
        return attrgetter(attribute(path))
    steps = [int(step) if step.isdigit() else attribute(step) for step in path.split(".")]

    def value(item: Any) -> Any:
        for step in steps:
            if item is None:
                return None
            if isinstance(step, int):
                item = item[step] if step < len(item) else None
            else:
                item = getattr(item, step)
        return item

    return value


def given(value: Any) -> bool:
    """Whether an optional value is there."""
    if isinstance(value, float):
        return not math.isnan(value)
    if isinstance(value, (tuple, list, Mapping)):
        return len(value) > 0
    return value is not None


# --- what is allowed -----------------------------------------------------------------------------


def violation(role: Role, value: Any) -> Fault | None:
    """What is wrong with a converted value, one or an array over variants."""
    if isinstance(role, Number):
        return _out_of_range(role, value)
    if isinstance(role, Choice):
        allowed = {*role.words, *([None] if role.optional else [])}
        wrong = [v for v in np.asarray(value, object).ravel() if v not in allowed]
        if wrong:
            return Fault("", f"must be one of {', '.join(map(word, role.words))}", word(wrong[0]))
    return None


def _out_of_range(role: Number, value: Any) -> Fault | None:
    counts = role.quantity.dimension == COUNT.dimension
    if type(value) is float and role.low <= value <= role.high and not counts:  # in most cases
        return None if math.isfinite(value) else _beyond(role, value)
    values = np.asarray(value, float)
    missing = np.isnan(values)
    bad = ~((values >= role.low) & (values <= role.high) & np.isfinite(values))
    bad &= ~(missing & role.optional)
    if bad.any():
        return _beyond(role, float(values[bad].flat[0]))
    broken = values[(values != np.floor(values)) & ~missing & counts]
    return Fault("", "must be a whole number", f"{broken.flat[0]:g}") if broken.size else None


def _beyond(role: Number, value: float) -> Fault:
    quantity, got = role.quantity, role.quantity.metric.exact(value)
    if role.low == TINY and 0 < value < TINY:
        return Fault("", f"must be at least {quantity.metric.exact(TINY)}", got)
    hint = role.hint
    if quantity.bare and role.high <= 1 and 2 <= value <= 100:  # percent, probably
        hint = did_you_mean(f"{value / 100:g}", quote="")
    elif quantity == VOLTAGE and -role.high <= value < 0:
        hint = f"write {quantity.metric.exact(-value)}, the sign changes nothing"
    return Fault("", f"must be {_range(role)}", got, hint)


def _range(role: Number) -> str:
    low, high = (role.quantity.metric.exact(end) for end in (role.low, role.high))
    if role.high == math.inf:
        least = f"at least {low}" if role.low > -math.inf else "finite"
        return "above 0" if role.low == TINY else least
    return f"{'above 0' if role.low == TINY else f'from {low}'} to {high}"
