"""What an enclosure is made of: its things by kind and name, views of them, and paths.

The class that users build stands above, in `whole`; what works on one takes its `Contents`.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple, Self, cast

from flownet.enclosure.branches import Baffle, Duct, Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import BRANCHES, Part, Wall
from flownet.enclosure.supply_match import Fed, fed
from flownet.enclosure.surroundings import SINGLE, Body, Compartment, Limits, Outside
from flownet.enclosure.synonyms import hint as near
from flownet.enclosure.synonyms import meant_key, meant_kind
from flownet.schema import argument_checks
from flownet.schema.component import KINDS, Thing
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean
from flownet.schema.fields import NONE, Key, Role, get, given, keys, roles
from flownet.schema.shown import html_table

if TYPE_CHECKING:
    import networkx

Changes = Mapping[str, Any]
COMPANIONS = {  # what goes with a key that is taken back
    "area": ("loss", "velocity_drop"),
    "output": ("efficiency",),
    "mass": ("material",),
}
Branch = Opening | Vent | Filter | Baffle | Slot | Duct | Leak | Fan


class Place(NamedTuple):
    """A path taken apart: `fan.left.guard.loss` -> fan, left, guard.loss."""

    kind: str
    name: str
    key: str

    @property
    def path(self) -> str:
        """The path as it is written."""
        return ".".join(step for step in self if step)

    @property
    def role(self) -> Role | None:
        """How its value is declared; None for the type of a kind that declares none."""
        cls = KINDS[self.kind]
        declared = keys(cls).get(self.key)
        return roles(cls).get(self.key) or (declared.role if declared is not None else None)


class Applied(NamedTuple):
    """What has been applied to the case that was read."""

    scenario: str = "base"
    variant: str = "base"
    changes: Changes = NONE
    failed: frozenset[str] = frozenset()  # fans that run in the design; the scenario stops them

    @property
    def words(self) -> str:
        """`scenario hot, variant open`; what is base goes unnamed."""
        names = ("scenario", self.scenario), ("variant", self.variant)
        return ", ".join(f"{kind} {name}" for kind, name in names if name != "base")


@dataclass(frozen=True, repr=False)
class Contents:
    """`things[kind][name]`, and the scenarios, variants and studies of an enclosure."""

    things: Mapping[str, Mapping[str, Any]]
    title: str = ""
    units: str = "metric"  # what is printed: "metric" or "us"
    types: Mapping[str, Mapping[str, Mapping[str, Any]]] = field(default_factory=lambda: NONE)
    scenarios: Mapping[str, Changes] = field(default_factory=lambda: NONE)
    variants: Mapping[str, Changes] = field(default_factory=lambda: NONE)
    # sweep, tolerance, choice, timeline, remarks: checked plain data in SI
    studies: Mapping[str, Mapping[str, Any]] = field(default_factory=lambda: NONE)
    applied: Applied = field(default=Applied(), compare=False)
    origin: str = field(default="", compare=False)  # name of the file it was read from
    # where a value is written, if not at its own path: `fan.right.from` -> `fan.left.from`
    written: Mapping[str, str] = field(default_factory=lambda: NONE, compare=False)
    # what `under` was called on: that of all variants and scenarios of a case
    source: Self | None = field(default=None, compare=False)

    def __hash__(self) -> int:
        return hash(
            (self.title, *(item for named in self.things.values() for item in named.values()))
        )

    def __repr__(self) -> str:
        counts = f"{len(self.compartments)} compartments, {len(self.branches)} branches"
        return f'<Enclosure "{self.title}": {counts}, {len(self.fans)} fans>'

    def _repr_html_(self) -> str:
        """What it consists of, its scenarios and variants, for notebooks."""
        kinds = {kind: [name for name in named if name] for kind, named in self.things.items()}
        kinds |= {"scenario": list(self.scenarios), "variant": list(self.variants)}
        rows = [(kind, str(len(names)), ", ".join(names)) for kind, names in kinds.items() if names]
        return html_table(repr(self), ("kind", "count", "names"), rows)

    # --- views -------------------------------------------------------------------------------

    @property
    def where(self) -> str:
        """`box.toml: scenario hot, variant open`: what is in front of why it is not solved."""
        return ": ".join(filter(None, (self.origin, self.applied.words)))

    @property
    def outside(self) -> Outside:
        """The outside air that all gauge pressures refer to."""
        return cast(Outside, self.things["outside"][""])

    @property
    def body(self) -> Body:
        """Size and view of the enclosure."""
        return cast(Body, self.things["enclosure"][""])

    @property
    def limits(self) -> Limits:
        """What must hold beyond each part's own limit."""
        return cast(Limits, self.things["limits"][""])

    @property
    def compartments(self) -> Mapping[str, Compartment]:
        """Compartments by name."""
        return self.things["compartment"]

    @property
    def fans(self) -> Mapping[str, Fan]:
        """Fans by name."""
        return self.things["fan"]

    @property
    def parts(self) -> Mapping[str, Part]:
        """Parts by name."""
        return self.things["part"]

    @property
    def walls(self) -> Mapping[str, Wall]:
        """Walls by name."""
        return self.things["wall"]

    @cached_property
    def branches(self) -> Mapping[str, Branch]:
        """Everything air passes, by path: `filter.intake`; elements `on` another branch too."""
        return {f"{k}.{n}": item for k in BRANCHES for n, item in self.things[k].items()}

    @cached_property
    def roots(self) -> Mapping[str, Part]:
        """Of each part the one at the bottom of the stack it belongs to."""
        found = dict(self.parts)
        while above := {name: found[part.in_[5:]] for name, part in found.items()
                        if part.in_.startswith("part.")}:  # fmt: skip
            found |= above  # half as far from it as before
        return found

    @property
    def graph(self) -> networkx.MultiDiGraph:
        """The network: places as nodes, branches as edges (key = path), walls and exchanges too."""
        import networkx as nx  # noqa: PLC0415 - 80 ms that most commands do not need

        graph = nx.MultiDiGraph(title=self.title)
        graph.add_nodes_from(self.compartments, kind="compartment")
        for name in self.things["outside"]:
            graph.add_node(f"outside.{name}" if name else "outside", kind="outside")
        for path, item in self.branches.items():
            if item.KIND == "fan" or getattr(item, "on", None) is None:
                graph.add_edge(item.from_, item.to, key=path, kind=item.KIND)
        for name, wall in self.walls.items():
            graph.add_edge(wall.from_, wall.to, key=f"wall.{name}", kind="wall")
        for name, exchange in self.things["exchange"].items():
            graph.add_edge(*exchange.between, key=f"exchange.{name}", kind="exchange")
        return graph

    @property
    def digest(self) -> str:
        """SHA-256 of the resolved inputs, catalogues included."""
        content = {kind: dict(named) for kind, named in self.things.items() if named}
        text = json.dumps(content, default=_plain, sort_keys=True)
        return "sha256:" + hashlib.sha256(text.encode()).hexdigest()

    def rating(self, fan: Fan) -> FanType:
        """The data of a fan's type on its supply, those nearest to it where none are for it."""
        return self.fed(fan).rating

    def fed(self, fan: Fan) -> Fed:
        """The data of a fan's type on its supply, and what the supply makes of its speed."""
        rows = ratings(self.things["fan_type"], fan.type)
        return fed(rows, self.things["supply"].get(fan.supply or ""))

    # --- paths -------------------------------------------------------------------------------

    def __getitem__(self, path: str) -> Any:
        """The value of an input path (SI, or a word)."""
        argument_checks.check_path("Enclosure[...]", path, "fan.left.speed")
        place = self.place(path)
        return get(self.things[place.kind][place.name], place.key)

    def keys(self, pattern: str = "*") -> tuple[str, ...]:
        """Input paths of values that are given; `*` stands for any run of characters."""
        argument_checks.check_path("Enclosure.keys", pattern, "fan.*.speed")
        rule = _pattern(pattern, anything=True)
        rule_below = _pattern(pattern + ".*", anything=True)
        found = []
        for kind, named in self.things.items():
            for name, item in named.items():
                for key in roles(type(item)):
                    path = Place(kind, name, key).path
                    if given(get(item, key)) and (rule.match(path) or rule_below.match(path)):
                        found.append(path)
        return tuple(found)

    def place(self, path: str) -> Place:
        """The kind, name and key of an input path; CaseError where there is none such."""
        kind, _, rest = path.partition(".")
        if kind not in KINDS:
            hint = meant_kind(kind, list(KINDS))
            raise CaseError(_no(path, f'no kind "{kind}"', hint))
        named = self.things[kind]
        name = max((n for n in named if rest == n or rest.startswith(n + ".")), key=len, default="")
        key = rest[len(name) :].lstrip(".") if name else rest
        if name not in named or (name == "" and kind not in SINGLE):
            wrong = rest.partition(".")[0]
            hint = near(wrong, list(named))
            raise CaseError(Fault(path, f'no {kind} "{wrong}"', hint=hint))
        if not key:
            raise CaseError(
                f"{path}: names a whole {kind}; add one of its keys (flownet explain {kind} "
                "lists them)"
            )
        allowed = roles(KINDS[kind])
        if key not in allowed and key not in keys(KINDS[kind]) and key != "type":
            hint = meant_key(key, list(allowed))
            raise CaseError(_no(path, f'{kind} has no key "{key}"', hint))
        if (kind, key) == ("part", "type") and not self.types.get("part_type"):
            key = "sink" if self.things["sink_type"] else key
        return Place(kind, name, key)

    def declared(self, place: Place) -> Key | None:
        """The declaration of the key a place belongs to; None for `type`."""
        return keys(KINDS[place.kind]).get(place.key.partition(".")[0])

    def places(self, path: str) -> list[Place]:
        """Every place a path with `*` in its name stands for; at least one."""
        if "*" not in path:
            return [self.place(path)]
        kind, _, rest = path.partition(".")
        named = self.things.get(kind, NONE)
        found = []
        for name in named:
            for end in range(len(rest), 0, -1):
                whole = name and "." not in rest[:end] and (end == len(rest) or rest[end] == ".")
                if whole and _pattern(rest[:end]).match(name):
                    found.append(self.place(f"{kind}.{name}{rest[end:]}"))
                    break
        if not found and kind not in KINDS:
            raise CaseError(_no(path, f'no kind "{kind}"', meant_kind(kind, list(KINDS))))
        if not found:
            raise CaseError(_no(path, f'"*" matches no {kind}', ""))
        return found


def rivals(cls: type[Thing], key: str) -> dict[str, None]:
    """The keys of which one at most is given beside a key, in order."""
    return {n: None for names in cls.EXCLUSIVE if key in names for n in names if n != key}


def taken_back(cls: type[Thing], above: Iterable[str]) -> dict[str, None]:
    """The keys that cannot stand beside these, in order: whoever sets these takes them back."""
    gone: dict[str, None] = {}
    for key in above:
        gone |= rivals(cls, key)
        if key in ("from", "to", "on"):
            gone |= dict.fromkeys(("on",) if key != "on" else ("from", "to"))
    return gone | {partner: None for key in gone for partner in COMPANIONS.get(key, ())}


def ratings(fan_types: Mapping[str, FanType], name: str) -> list[FanType]:
    """A fan type and its ratings, in their order."""
    prefix = f"{name}.rating."
    return [fan_types[name], *(t for n, t in fan_types.items() if n.startswith(prefix))]


def _pattern(text: str, anything: bool = False) -> re.Pattern[str]:
    run = ".*" if anything else "[^.]*"
    return re.compile(run.join(re.escape(piece) for piece in text.split("*")) + r"\Z")


def _no(path: str, what: str, hint: str) -> str:
    return Fault(path, what, hint=did_you_mean(hint))


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        # only what is, not where it was written: a type stands with its values
        written = ("given", "type") if getattr(value, "KIND", "fan") != "fan" else ("given",)
        names = (f.name for f in dataclasses.fields(value))
        return {name: getattr(value, name) for name in names if name not in written}
    if isinstance(value, (frozenset, set)):
        return sorted(value)
    return dict(value) if isinstance(value, Mapping) else str(value)
