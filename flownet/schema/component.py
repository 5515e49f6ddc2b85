"""How a thing declares its keys.

One declaration per key serves checks, reading, changes, columns, derivatives, help and docs.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, TypeVar, dataclass_transform

from flownet.schema import fields
from flownet.schema.convert import convert_key, plain
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, brief
from flownet.schema.fields import NONE, Choice, Role, attribute, given, keys, roles
from flownet.schema.quantities import Quantity

# --- declaring a key -----------------------------------------------------------------------------


def _field(role: Role, doc: str, default: Any, source: str = "", typical: str = "") -> Any:
    metadata = {"key": fields.Key(role, doc, default, source, typical)}
    if default is dataclasses.MISSING:
        return field(metadata=metadata)
    if isinstance(default, Mapping):
        return field(default_factory=lambda: default, metadata=metadata)
    return field(default=default, metadata=metadata)


def number(
    quantity: Quantity, doc: str, default: Any = dataclasses.MISSING, *,
    source: str = "", typical: str = "", **role: Any,
) -> Any:  # fmt: skip
    """Declare a number, with the limits and hints of its `role`; default None: may be left out."""
    optional = default is None
    made = fields.Number(quantity, optional=optional, **role)
    return _field(made, doc, math.nan if optional else default, source, typical)


def numbers(
    quantity: Quantity, count: int, doc: str, default: Any = dataclasses.MISSING, *,
    source: str = "", **role: Any,
) -> Any:  # fmt: skip
    """Declare a count of numbers, `count` to `most` where that is given; None: may be left out."""
    made = fields.Numbers(quantity, count, optional=default is None, **role)
    return _field(made, doc, default, source)


def pair(first: Quantity, second: Quantity, doc: str) -> Any:
    """Declare two numbers of two quantities."""
    return _field(fields.Pair((first, second)), doc, dataclasses.MISSING)


def choice(*words: str | bool, doc: str, optional: bool = False, source: str = "") -> Any:
    """Declare a choice; the first word is the default unless it may be left out."""
    return _field(fields.Choice(words, optional), doc, None if optional else words[0], source)


def words(*allowed: str, doc: str) -> Any:
    """Declare a list of words."""
    return _field(fields.WordList(allowed), doc, ())


def link(*kinds: str, doc: str, varies: bool = False, optional: bool = False) -> Any:
    """Declare a link to another thing."""
    default = None if optional else dataclasses.MISSING
    return _field(fields.Link(kinds, varies, optional), doc, default)


def table(
    doc: str, *, minimum: int = 1, optional: bool = False, cls: type[Any] | None = None,
    source: str = "", **columns: Quantity | None,
) -> Any:  # fmt: skip
    """Declare a table by its columns; `cls` holds the rows with the numbers beside them."""
    role = fields.Rows(tuple(columns), tuple(columns.values()), minimum, optional, cls)
    return _field(role, doc, None if optional else dataclasses.MISSING, source)


def group(cls: type[Any], doc: str, *, optional: bool = False) -> Any:
    """Declare a sub-table; one that is not optional has its own defaults."""
    return _field(fields.Group(cls, optional), doc, None if optional else cls())


def text(doc: str) -> Any:
    """Declare words that are only kept."""
    return _field(fields.Text(), doc, None)


def subtables(doc: str) -> Any:
    """Declare named sub-tables."""
    return _field(fields.Subtables(), doc, NONE)


# --- things --------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, eq=False)
class Thing:
    """Base of everything a case file has a table for; checked and turned into SI when built."""

    KIND: ClassVar[str] = ""
    EXCLUSIVE: ClassVar[tuple[tuple[str, ...], ...]] = ()  # keys of which one at most is given
    REQUIRED: ClassVar[tuple[tuple[str, ...], ...]] = ()  # sets of which one at least is given
    COMPARED: ClassVar[tuple[str, ...]] = ()  # numbers whose size, not presence, `faults` judges

    name: str = ""
    tag: str | None = _field(fields.Text(), "drawing designation, such as -M3", None)
    note: str | None = _field(fields.Text(), "a remark, kept and exported", None)
    data: Mapping[str, Any] = _field(
        fields.Text(free=True), "free data, kept and exported, never read", NONE
    )
    type: str | None = None
    # keys given by the thing itself, not by its type: where a value stands, not what it is
    given: frozenset[str] | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        faults: list[str] = [*_normalised(self)]
        if not isinstance(self.name, str):
            faults.append(Fault("name", "takes text", brief(self.name)))
        if not faults:
            named = {name for names in (*self.EXCLUSIVE, *self.REQUIRED) for name in names}
            here = {name for name in named if given(getattr(self, attribute(name)))}
            faults = [*exclusions(type(self), here), *self.faults()]
        if faults:
            raise CaseError([f"{self.path}.{fault}" for fault in faults])

    @property
    def path(self) -> str:
        """`fan.left`, or the kind alone where there is only one."""
        return f"{self.KIND}.{self.name}" if self.name else self.KIND

    def faults(self) -> Iterator[str]:
        """Faults that concern several keys; each starts with the key it stands at."""
        yield from ()


@functools.cache
def _compared(cls: type[Any]) -> tuple[str, ...]:
    return tuple(f.name for f in dataclasses.fields(cls) if f.compare)


def _content(value: Any) -> Any:
    """A value as it is compared: NaN, which means "not given", is like NaN."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return tuple(_content(getattr(value, name)) for name in _compared(type(value)))
    if isinstance(value, Mapping):
        return frozenset((key, _content(item)) for key, item in value.items())
    if isinstance(value, tuple):
        return tuple(map(_content, value))
    return None if isinstance(value, float) and math.isnan(value) else value


def _same(item: Any, other: object) -> bool:
    if item is other:
        return True
    return type(item) is type(other) and bool(_content(item) == _content(other))


def _hashed(item: Any) -> int:
    return hash((type(item), _content(item)))


T = TypeVar("T")
KINDS: dict[str, type[Thing]] = {}  # kind, as it stands in a case file -> class


@dataclass_transform(
    eq_default=False,
    kw_only_default=True,
    frozen_default=True,
    field_specifiers=(
        number, numbers, pair, choice, words, link, table, group, text, subtables, field,
    ),
)  # fmt: skip
def thing(cls: type[T]) -> type[T]:
    """A frozen, keyword-only dataclass, compared by value; a `Thing` is known under its kind."""
    made: Any = dataclass(frozen=True, kw_only=True, eq=False)(cls)
    made.__eq__, made.__hash__ = _same, _hashed
    if issubclass(made, Thing):
        KINDS[made.KIND] = made
    return made  # type: ignore[no-any-return]  # dataclass() keeps the class


def _normalised(item: Thing) -> list[Fault]:
    """Turn every field into the form a thing holds, in place while it is built; all faults."""
    faults: list[Fault] = []
    for name, key in keys(type(item)).items():
        own = attribute(name)
        value = plain(getattr(item, own))
        if getattr(key.role, "optional", False) and not given(value):
            object.__setattr__(item, own, key.default)  # one form of "not given"
            continue
        try:
            target, made = convert_key(type(item), name, value, file=False)
        except CaseError as error:
            faults += error.faults
            continue
        object.__setattr__(item, attribute(target), made)
        if target != name:
            object.__setattr__(item, own, math.nan)
    return faults


def exclusions(cls: type[Thing], here: Collection[str]) -> Iterator[Fault]:
    """Faults of a thing that gives these keys: two that exclude each other, or none of several."""
    yield from excluded(cls, here)
    for names in cls.REQUIRED:
        if not any(name in here for name in names):
            others = f" (or {', '.join(names[1:])})" if names[1:] else ""
            yield Fault(names[0], f"must be given{others}")


def excluded(cls: type[Thing], here: Collection[str]) -> Iterator[Fault]:
    """Faults of keys that exclude each other."""
    for names in cls.EXCLUSIVE:
        both = [name for name in names if name in here]
        if len(both) > 1:
            hint = f"give one of {', '.join(names)}"
            yield Fault(both[1], f"cannot stand together with {both[0]}", hint=hint)


def words_of(kind: str, key: str) -> tuple[str | bool, ...]:
    """What a key that takes one of several words takes; a column has their places."""
    role = roles(KINDS[kind])[key]
    assert isinstance(role, Choice)
    return role.words
