"""What a solve finds: a batch holds arrays over variants, a solution is one of them."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

from flownet import __version__
from flownet.columns import Inputs
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.heat import BRANCHES
from flownet.enclosure.toml_text import relative_made, settable
from flownet.results.finding import Finding
from flownet.results.limits import THERMAL, Limit, Listed
from flownet.results.origins import Origins, Stages, staged, traced
from flownet.results.tables import (
    BALANCE,
    LAYER,
    OF_AIR,
    SITE,
    TOTALS,
    Field,
    OfCase,
    Row,
    Table,
    extra,
    plain,
    unnamed,
)
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError
from flownet.schema.quantities import TEMPERATURE

PREFIXES = {  # table -> what stands before the names of its rows in result paths
    "compartments": "compartment.", "branches": "", "fans": "", "parts": "part.",
    "stations": "part.", "walls": "wall.", "exchanges": "exchange.", "layers": "compartment.",
}  # fmt: skip
TABLE_NAMES = tuple(PREFIXES)
AIR_WORDS = [field.name for field in OF_AIR]  # worked out when they are asked for
PATH = "part.rectifier.temperature"
EXAMPLE = f"{PATH}, fan.left.volume_flow, total.noise"


class SpeedSource(NamedTuple):
    """What a fan's speed follows."""

    by: str  # part.NAME, compartment.NAME, outside or outside.NAME
    temperature: float  # [K]


@dataclass(frozen=True, repr=False, eq=False)
class Tables:
    """Everything a solve finds: arrays over variants in a batch, numbers in a solution."""

    compartments: Table
    branches: Table
    fans: Table  # rows by path: fan.left
    parts: Table
    stations: Table  # rows part.station
    walls: Table
    exchanges: Table
    site: Mapping[str, Any]
    totals_: Mapping[str, Any]
    balance_: Mapping[str, Any]
    limits: tuple[Limit, ...]
    # rows compartment.number, of divided compartments, from the lowest layer
    layers: Table = dataclasses.field(default_factory=lambda: Table(LAYER, (), {}), kw_only=True)

    @property
    def totals(self) -> Row:
        """Sums over the whole enclosure."""
        return Row(TOTALS, self.totals_)

    @property
    def balance(self) -> Row:
        """How well the equations are met; ratios where not said otherwise."""
        return Row(BALANCE, self.balance_)

    @property
    def columns_of_case(self) -> Inputs:
        """What was solved, as columns."""
        raise NotImplementedError

    @cached_property
    def origins(self) -> Origins:
        """Where the air of compartments comes from; worked out when it is first asked for."""
        return traced(self)

    @cached_property
    def stages(self) -> Stages:
        """Fans side by side, and what comes round to them; likewise."""
        return staged(self)

    def value(self, path: str) -> Any:
        """A result by its path, `part.rectifier.temperature` (SI); CaseError if there is none."""
        try:
            return self._value(path)
        except (KeyError, AttributeError) as error:  # no such row, or no such quantity
            raise CaseError(f"{path}: {error.args[0]}") from None

    def _value(self, path: str) -> Any:
        kind, _, rest = path.partition(".")
        groups = {"total": self.totals, "site": Row(SITE, self.site), "balance": self.balance}
        if kind in groups:
            return getattr(groups[kind], rest)
        name, _, field = rest.rpartition(".")
        if not name:
            raise CaseError(f"{path}: a result is a kind, a name and a quantity: {EXAMPLE}")
        if kind in ("compartment", "fan") and field.removesuffix("_s") in AIR_WORDS:
            if field == "share":
                return self.origins.of(*name.partition(".")[::2])
            air = self.origins.fans if kind == "fan" else self.origins.compartments
            return getattr(air[f"fan.{name}" if kind == "fan" else name], field)
        tables = {"compartment": self.compartments, "wall": self.walls, "exchange": self.exchanges}
        if "." in name:
            tables |= {"part": self.stations, "compartment": self.layers}
        else:
            tables["part"] = self.parts
        if kind in tables:
            return getattr(tables[kind][name], field)
        if kind not in BRANCHES:
            raise CaseError(f'{path}: no results of "{kind}"; results are such as {EXAMPLE}')
        branch = f"{kind}.{name}"
        row = self.branches[branch]
        return getattr(row | self.fans[branch] if branch in self.fans else row, field)


PICTURES: dict[str, Callable[[Any], str]] = {}  # of a solution in a notebook, as SVG: handed in


class Judge(NamedTuple):
    """What looks at a solution; functions of modules, so that it can go to another process."""

    find: Callable[[Solution], tuple[Finding, ...]]
    void: Callable[[Solution], Mapping[str, Sequence[str]]]
    sheet: Callable[[Any], Any]  # what a solution or a batch says (`flownet.pages.sheet.Sheet`)
    html: Callable[[Any], str]


@dataclass(frozen=True, repr=False, eq=False)
class Solution(OfCase, Tables):
    """One solved enclosure. `solution["part.rectifier.temperature"]` is SI."""

    case: Enclosure
    points: int | None = None  # operating points found; None: no search was made
    others: tuple[Solution, ...] = ()  # the other ones, without those beside them
    from_rest: bool = True  # a start from rest reaches it
    layered: Layered | None = None  # where walls or buoyancy matter and `solve` found it
    finer: Layered | None = None  # with twice the layers that are given, where any are
    closed: Solution | None = None  # the same with what carries air back inside closed
    parted: Solution | None = None  # the same with nothing drawn in again that was blown out
    judge: Judge = dataclasses.field(kw_only=True)

    @property
    def columns_of_case(self) -> Inputs:
        return Inputs.of(self.case)

    def __getitem__(self, path: str) -> Any:
        argument_checks.check_path("Solution[...]", path, PATH)
        return self.value(path)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What is worth a word, worst first; the rules are loaded when first asked for."""
        return Listed(self.judge.find(self))

    @cached_property
    def void(self) -> Mapping[str, Sequence[str]]:
        """What makes its numbers void: reason -> subjects, causes first; empty: nothing does."""
        return self.judge.void(self)

    @property
    def stable(self) -> bool:
        """Whether the state comes back after a small disturbance."""
        return bool(self.balance_["stable"])

    def layers_of(self, compartment: str) -> dict[str, Row]:
        """Its layers by number, "1" the lowest; none where it is not divided."""
        rows = ((name.rpartition("."), name) for name in self.layers)
        return {end: self.layers[name] for (of, _, end), name in rows if of == compartment}

    def mass_flow(self, branch: str) -> float:
        """Mass flow of a branch, positive from `from` to `to` [kg/s]."""
        return float(self.branches[branch].mass_flow)

    def volume_flow(self, branch: str) -> float:
        """Volume flow of a branch at the density of the air that flows [m3/s]."""
        return float(self.branches[branch].volume_flow)

    def followed(self, fan: str) -> SpeedSource | None:
        """What the speed of a fan follows, `fan.left`; None where it runs at a given speed, or not
        at all."""
        item = self.case.fans[fan.removeprefix("fan.")]
        if item.speed_control is None or item.state != "running":
            return None
        by = item.speed_control.by
        kind, _, name = by.partition(".")
        if kind == "outside":
            return SpeedSource(by, self.case.things["outside"][name].temperature)
        return SpeedSource(by, float(self.value(f"{by}.temperature")))

    @property
    def worst(self) -> Limit | None:
        """The temperature limit with the smallest margin."""
        thermal = [item for item in self.limits if item.limit in THERMAL]
        return min(thermal, key=lambda item: item.margin, default=None)

    def __repr__(self) -> str:
        words = [f'<Solution "{self.case.title}" {self.scenario}:']
        words += [f"void ({', '.join(self.void)}),"] if self.void else []
        if self.worst is not None:
            words.append(f"worst {self.worst.margin:+.1f} K ({self.worst.subject}),")
        words.append(f"{self.totals.volume_flow * 3600:.0f} m3/h,")
        counts = [sum(f.severity == s for f in self.findings) for s in ("error", "warning")]
        named = zip(counts, ("error", "warning"), strict=True)
        words.append(", ".join(f"{n} {word}{'' if n == 1 else 's'}" for n, word in named) + ">")
        return " ".join(words)

    @property
    def sheet(self) -> Any:
        """All that its page says, in SI and without layout: a `flownet.pages.sheet.Sheet`."""
        return self.judge.sheet(self)

    def _repr_html_(self) -> str:
        """Verdict, margins, air and findings, and its map, for notebooks."""
        return self.judge.html(self) + "".join(draw(self) for draw in PICTURES.values())

    def to_frame(self, table: str) -> Any:
        """One table as a pandas DataFrame, unit in each column's name.

        CaseError for a table that is not there; ImportError without pandas, an extra.
        """
        if table not in TABLE_NAMES:
            raise CaseError(f'to_frame: no table "{table}"; there are {", ".join(TABLE_NAMES)}')
        return extra("pandas").DataFrame.from_dict(getattr(self, table).to_dict(), orient="index")

    def to_dict(self) -> dict[str, Any]:
        """The JSON of one solution: keys carry their unit, None where there is no value."""
        applied, worst = self.case.applied, self.worst
        balance = Row(BALANCE, self.balance_).to_dict()
        del balance["stable"]
        balance["iterations"] = int(balance["iterations"])
        return {
            "flownet": __version__, "format": 1, "case": self.case.title or self.case.origin,
            **unnamed({"variant": applied.variant, "scenario": applied.scenario}),
            "changes": settable(self.case, applied.changes),
            "changed_to": relative_made(self.case),
            "input_digest": self.case.digest,
            "site": Row(SITE, self.site).to_dict(),
            "totals": self.totals.to_dict() | {"worst_subject": worst.subject if worst else None},
            "compartments": {name: self._compartment(name) for name in self.compartments},
            "branches": {path: self._branch(path) for path in self.branches},
            "fans": {path: self._fan(path) for path in self.fans},
            "parts": {name: self._part(name) for name in self.parts},
            "limits": [item.to_dict() for item in self.limits],
            "void": {word: list(subjects) for word, subjects in self.void.items()},
            "findings": [item.to_dict() for item in self.findings],
            "walls": self.walls.to_dict(), "exchanges": self.exchanges.to_dict(),
            "balance": balance,
            "operating_points": {"count": self.points, "stable": self.stable},
        }  # fmt: skip

    def _compartment(self, name: str) -> dict[str, Any]:
        layers = {number: row.to_dict() for number, row in self.layers_of(name).items()}
        air = {**self.origins.compartments[name].to_dict(), "shares": self.origins.shares(name)}
        return {**self.compartments[name].to_dict(), "layers": layers, **air}

    def _branch(self, path: str) -> dict[str, Any]:
        item = self.case.branches[path]
        on = getattr(item, "on", None)
        ends = self.case.branches[on] if on is not None else item
        return {"from": ends.from_, "to": ends.to, "state": self.branches[path].state, "on": on,
                **self.branches[path].to_dict()}  # fmt: skip

    def _fan(self, path: str) -> dict[str, Any]:
        follows = self.followed(path)
        warm = None if follows is None else plain(Field("", TEMPERATURE), follows.temperature)
        return {**self.fans[path].to_dict(), "speed_by": follows.by if follows else None,
                TEMPERATURE.key("speed_by_temperature"): warm,
                **self.origins.fans[path].to_dict()}  # fmt: skip

    def _part(self, name: str) -> dict[str, Any]:
        row, prefix = self.parts[name].to_dict(), f"{name}."
        del row["velocity_m_s"]
        stations = {n[len(prefix):]: self.stations[n].to_dict() for n in self.stations
                    if n.startswith(prefix)}  # fmt: skip
        return {"in": self.case.parts[name].in_, **row, "stations": stations}


@dataclass(frozen=True, repr=False, eq=False)
class Layered:
    """What dividing compartments otherwise says. It is solved when it is first asked for."""

    layers: Mapping[str, int]  # of each compartment that is divided otherwise
    aside: float  # share of the heat that walls and exchanges carry
    lifted: float  # of the power that moves the air, the share which buoyancy gives
    limits: tuple[Limit, ...]  # as the case has it
    solve: Callable[[Mapping[str, int]], Solution | str]  # with these changes, or why not

    @property
    def changes(self) -> dict[str, int]:
        """What divides the compartments so."""
        return {f"compartment.{name}.layers": count for name, count in self.layers.items()}

    def known(self, found: Solution) -> Layered:
        """The same where it is solved already."""
        vars(made := dataclasses.replace(self))["_found"] = found
        return made

    def __repr__(self) -> str:
        return f"<Layered {', '.join(f'{name}: {n}' for name, n in self.layers.items()):.150}>"

    @cached_property
    def _found(self) -> Solution | str:
        return self.solve(self.changes)

    @property
    def solution(self) -> Solution | None:
        """With the layers; None where it could not be solved."""
        return None if isinstance(self._found, str) else self._found

    @property
    def failure(self) -> str:
        """Why it could not be solved."""
        return self._found if isinstance(self._found, str) else ""

    @property
    def broken(self) -> tuple[Limit, ...]:
        """Limits that hold as the case has it and are broken so."""
        held = {(item.limit, item.subject) for item in self.limits if item.holds}
        there = () if self.solution is None else self.solution.limits
        return tuple(item for item in there if item.broken and (item.limit, item.subject) in held)

    @property
    def excess(self) -> dict[str, float]:
        """By how much the hottest layer of each compartment is above their mean [K]."""
        rows = {} if self.solution is None else self.solution.compartments
        return {name: row.temperature - row.mean_temperature for name, row in rows.items()}
