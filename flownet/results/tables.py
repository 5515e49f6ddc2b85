"""Tables of results: named rows whose fields declare their quantity once.

JSON keys, headings and units follow from that declaration. An attribute is SI; a name with a suffix
(`temperature_degC`) is in that unit.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.synonyms import hint
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.fault import Fault
from flownet.schema.quantities import Quantity
from flownet.schema.shown import html_table as html_table  # noqa: PLC0414 - used beside tables

REGIONS = ("normal", "stall", "backflow", "past-free-delivery", "stopped", "blanked")
AT_REST = ("stopped", "blanked")  # regions of a fan that does not turn, or moves no air
STATES = (
    "open", "blanked", "fitted", "removed", "filler", "empty", "running", "stopped", "freewheeling",
)  # fmt: skip


class OfCase:
    """What was found for one case as it stands."""

    case: Enclosure

    @property
    def scenario(self) -> str:
        """The scenario it was solved in."""
        return self.case.applied.scenario

    @property
    def variant(self) -> str:
        """The variant it was solved in."""
        return self.case.applied.variant


class Field(NamedTuple):
    """One column of results: a quantity, or words by their index (-1: none)."""

    name: str
    quantity: Quantity | None = None
    words: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """Its key in JSON, unit included."""
        return self.quantity.key(self.name) if self.quantity else self.name


COMPARTMENT = (
    Field("temperature", q.TEMPERATURE),
    Field("pressure", q.PRESSURE),
    Field("limit", q.TEMPERATURE),
    Field("margin", q.DIFFERENCE),
    Field("level", q.LENGTH),
    Field("mean_temperature", q.TEMPERATURE),
    Field("neutral_level", q.LENGTH),
)
LAYER = (Field("temperature", q.TEMPERATURE), Field("level", q.LENGTH))
BRANCH = (
    Field("state", None, STATES),
    Field("mass_flow", q.MASS_FLOW),
    Field("volume_flow", q.VOLUME_FLOW),
    Field("velocity", q.VELOCITY),
    Field("drop", q.PRESSURE),
    Field("heat", q.POWER),
    Field("density", q.DENSITY),
    Field("reynolds", q.RATIO),
    Field("outlet_temperature", q.TEMPERATURE),
    Field("counter_flow", q.MASS_FLOW),
)
FAN = (
    Field("rise", q.PRESSURE),
    Field("region", None, REGIONS),
    Field("speed_ratio", q.RATIO),
    Field("air_temperature", q.TEMPERATURE),
    Field("power", q.POWER),
    Field("noise", q.LEVEL),
    Field("noise_share", q.RATIO),
    Field("noise_power", q.LEVEL),
    Field("blade_pass", q.FREQUENCY),
    Field("life", q.HOURS),
    Field("life_kind", None, ("L10", "mean")),
)
OF_AIR = (Field("age", q.TIME), Field("returned_share", q.RATIO), Field("share", q.RATIO))
PART = (
    Field("heat", q.POWER),
    Field("air_temperature", q.TEMPERATURE),
    Field("temperature", q.TEMPERATURE),
    Field("limit", q.TEMPERATURE),
    Field("margin", q.DIFFERENCE),
    Field("velocity", q.VELOCITY),  # of the air past it; not in the JSON
    Field("resistance", q.THERMAL_RESISTANCE),
    Field("volume_flow", q.VOLUME_FLOW),
)
STATION = (Field("temperature", q.TEMPERATURE),)
HEAT = (Field("heat", q.POWER),)
WALL = (
    *HEAT,
    Field("inside_temperature", q.TEMPERATURE),
    Field("outside_temperature", q.TEMPERATURE),
    Field("absorbed_sun", q.POWER),
    Field("limit", q.TEMPERATURE),
    Field("margin", q.DIFFERENCE),
)
SITE = (
    Field("pressure", q.PRESSURE),
    Field("temperature", q.TEMPERATURE),
    Field("density", q.DENSITY),
    Field("dew_point", q.TEMPERATURE),
)
TOTALS = (
    Field("heat", q.POWER),
    Field("wall_heat", q.POWER),
    Field("volume_flow", q.VOLUME_FLOW),
    Field("mass_flow", q.MASS_FLOW),
    Field("air_rise", q.DIFFERENCE),
    Field("fan_power", q.POWER),
    Field("noise", q.LEVEL),
    Field("noise_distance", q.DISTANCE),
    Field("first_failure", q.HOURS),
    Field("worst_margin", q.DIFFERENCE),
    Field("dew_margin", q.DIFFERENCE),
)
BALANCE = (
    Field("mass_residual", q.RATIO),
    Field("pressure_residual", q.RATIO),
    Field("energy_residual", q.RATIO),
    Field("temperature_step", q.DIFFERENCE),
    Field("flow_step", q.RATIO),
    Field("iterations", q.COUNT),
    Field("stable", q.RATIO),
)


class Row:
    """One named row of results, or a group such as the totals: `row.temperature`, SI.

    `row.temperature_degC` is in that unit; the suffixes are those of the JSON and of the screen.
    """

    def __init__(self, fields: Sequence[Field], values: Mapping[str, Any]) -> None:
        self.__dict__["_fields"] = {field.name: field for field in fields}
        self.__dict__["_values"] = dict(values)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):  # what copy and pickle ask for before there are any values
            raise AttributeError(name)
        values, fields = self.__dict__["_values"], self.__dict__["_fields"]
        if name in values:
            return values[name]
        stem = max((f for f in fields if name.startswith(f + "_")), key=len, default=None)
        if stem is not None and (quantity := fields[stem].quantity) is not None:
            for shown in (quantity.json, quantity.metric, quantity.us):
                if name[len(stem) + 1 :] == shown.unit.replace("/", "_"):
                    return shown.of(values[stem])
        raise AttributeError(f'no result "{name}"; there are {", ".join(values)}')

    def __setattr__(self, name: str, value: Any) -> None:
        raise AttributeError("results are frozen")

    def __or__(self, other: Row) -> Row:
        fields = [*self._fields.values(), *other._fields.values()]
        return Row(fields, {**self._values, **other._values})

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Row) or list(self._values) != list(other._values):
            return NotImplemented
        return all(_alike(v, other._values[name]) for name, v in self._values.items())

    __hash__ = None  # type: ignore[assignment]  # values may be arrays

    def __dir__(self) -> list[str]:
        units = ((f, f.quantity.json.unit) for f in self._fields.values() if f.quantity)
        return [*self._values, *(f.key for f, unit in units if unit), "to_dict"]

    def __repr__(self) -> str:
        told = (f"{k}=<{np.size(v)} values>" if np.ndim(v) else f"{k}={v!r}"
                for k, v in self._values.items())  # fmt: skip
        return f"Row({', '.join(told)})"

    def to_dict(self) -> dict[str, Any]:
        """JSON keys with their unit; None where there is no value."""
        return {f.key: plain(f, self._values[f.name]) for f in self._fields.values()}


def _alike(value: Any, other: Any) -> bool:
    """Equal, where NaN is like NaN; numbers, words or arrays."""
    first, second = np.asarray(value), np.asarray(other)
    same: Any = (first == second) | ((first != first) & (second != second))  # noqa: PLR0124
    return first.shape == second.shape and bool(np.all(same))


def plain(field: Field, value: Any) -> Any:
    """A value as JSON has it: in the unit of its key, None where there is no finite number."""
    if field.quantity is None:
        return value
    if value is None or not np.isfinite(value):
        return None
    return field.quantity.json.of(float(value))


def unnamed(words: Mapping[str, Any]) -> dict[str, Any]:
    """The same with None for the scenario and the variant that every case has: they are no names
    in JSON."""
    return {key: None if key in ("scenario", "variant") and value == "base" else value
            for key, value in words.items()}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Table(Mapping[str, Row]):
    """Named rows; columns are (rows, variants) in a batch, (rows,) in a solution."""

    fields: tuple[Field, ...]
    names: tuple[str, ...]
    columns: Mapping[str, Array]

    @cached_property
    def places(self) -> Mapping[str, int]:
        """Which row a name has."""
        return {name: row for row, name in enumerate(self.names)}

    def __contains__(self, name: object) -> bool:
        return name in self.places

    @cached_property
    def _rows(self) -> dict[str, Row]:
        """Those that were asked for."""
        return {}

    def __getitem__(self, name: str) -> Row:
        if name not in self._rows:
            row = self.places.get(name)
            if row is None:
                raise KeyError(Fault("", f'no "{name}"', hint=hint(name, self.names)))
            values = {f.name: self._value(f, self.columns[f.name][row]) for f in self.fields}
            self._rows[name] = Row(self.fields, values)
        return self._rows[name]

    def _value(self, field: Field, value: Any) -> Any:
        if field.quantity is not None:
            return value.item() if np.ndim(value) == 0 else value
        if np.ndim(value) == 0:
            return field.words[int(value)] if value >= 0 else None
        return np.array([field.words[int(v)] if v >= 0 else None for v in value], object)

    def __iter__(self) -> Iterator[str]:
        return iter(self.names)

    def __len__(self) -> int:
        return len(self.names)

    def known(self) -> Table:
        """Only the rows of one variant that have a value."""
        keep = ~np.isnan(self.columns[self.fields[0].name].real)
        names = tuple(name for name, there in zip(self.names, keep, strict=True) if there)
        return Table(self.fields, names, {k: v[keep] for k, v in self.columns.items()})

    def ordered(self, names: Iterable[str]) -> Table:
        """The same rows in the order of these names."""
        if self.names == (wanted := tuple(names)):
            return self
        rows = np.array([self.places[name] for name in wanted], int)
        return Table(self.fields, wanted, {key: v[rows] for key, v in self.columns.items()})

    def map(self, function: Callable[[Array], Array]) -> Table:
        """The same table with a function applied to every column."""
        return Table(self.fields, self.names, {k: function(v) for k, v in self.columns.items()})

    def to_dict(self) -> dict[str, dict[str, Any]]:
        """Rows with JSON keys."""
        return {name: self[name].to_dict() for name in self.names}

    def __repr__(self) -> str:
        named = ", ".join(self.names[:3]) + (", ..." if len(self.names) > 3 else "")
        return f"<Table of {len(self.names)}: {named}>"

    def _repr_html_(self) -> str:
        """Every row, for notebooks; of a batch, how many variants there are."""
        if any(np.ndim(column) > 1 for column in self.columns.values()):
            count = next(iter(self.columns.values())).shape[1]
            return html_table(f"{count} variants", ("row",), [(name,) for name in self.names])
        rows = [(name, *map(_shown, self.fields, self[name]._values.values())) for name in self]
        return html_table("", ("", *(field.name for field in self.fields)), rows)


def _shown(field: Field, value: Any) -> str:
    if value is None or (field.quantity is not None and not np.isfinite(value)):
        return ""
    return field.quantity.metric.text(value) if field.quantity is not None else str(value)


def extra(name: str) -> Any:
    """A library that is used only where somebody asks for its kind of table."""
    try:
        return importlib.import_module(name)
    except ImportError:
        raise ImportError(
            f"this table needs {name}, which is not installed; python -m pip install {name}"
        ) from None
