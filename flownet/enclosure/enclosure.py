"""The whole enclosure: immutable, checked, addressed by paths, changed by one mechanism."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

from flownet.enclosure import checks
from flownet.enclosure.apply import applied
from flownet.enclosure.branches import Baffle, Duct, Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.changes import converted
from flownet.enclosure.contents import Branch, Changes, Contents, Place, ratings
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Exchange, Part, Recirculation, Wall
from flownet.enclosure.scenarios import scenario_changes, variant_changes
from flownet.enclosure.surroundings import SINGLE, Body, Compartment, Limits, Outside, Supply
from flownet.schema import argument_checks
from flownet.schema.component import KINDS, Thing
from flownet.schema.convert import by_key
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import Fault
from flownet.schema.fields import NONE, attribute, keys

__all__ = [
    "SINGLE", "Baffle", "Body", "Branch", "Changes", "Compartment", "Duct", "Enclosure", "Exchange",
    "Fan", "FanType", "Filter", "Leak", "Limits", "Opening", "Outside", "Part", "Place",
    "Recirculation", "Slot", "Supply", "Vent", "Wall", "ratings",
]  # fmt: skip


@dataclasses.dataclass(frozen=True, repr=False, eq=False)
class Enclosure(Contents):
    """An enclosure: `things[kind][name]`, its scenarios, variants and studies.

    Built with `Enclosure.of`, or read from a file with `flownet.load_case`.
    """

    @classmethod
    def of(
        cls,
        *items: Thing,
        title: str = "",
        scenarios: Mapping[str, Changes] = NONE,
        variants: Mapping[str, Changes] = NONE,
        types: Mapping[str, Mapping[str, Mapping[str, Any]]] = NONE,
        **rest: Any,
    ) -> Enclosure:
        """An enclosure from its things; every link must lead somewhere.

        Parameters
        ----------
        scenarios, variants : mapping
            Name -> changes.
        types : mapping
            `{"slot_type": {"line": {"gap": "15 mm", ...}}}`: what a change of `type` brings.

        Raises
        ------
        CaseError
            With every fault found: unknown links, names twice or reserved, circles.
        """
        if strange := [item for item in items if not isinstance(item, Thing)]:
            raise CaseError(
                f"Enclosure.of takes things such as Compartment(...) (got {strange[0]!r:.60})"
            )
        made, faults = assemble(items, title=title, types=_checked_types(types), **rest)
        if made.units not in ("metric", "us"):
            faults.append(f'units: must be "metric" or "us" (got "{made.units}")')
        if faults:
            raise CaseError(faults)
        found = _checked(made, scenario=scenarios, variant=variants)
        return dataclasses.replace(made, scenarios=found["scenario"], variants=found["variant"])

    def with_changes(self, changes: Changes) -> Enclosure:
        """A new enclosure with other values, checked; the old one stays.

        Parameters
        ----------
        changes : mapping
            Input path -> value: SI numbers, words, or text with a unit; `*` in names.
        """
        argument_checks.check_changes(changes)
        return applied(self, changes)

    def under(self, scenario: str = "base", variant: str = "base") -> Enclosure:
        """The enclosure in a variant and then in a scenario (`a+b` joins scenarios).

        Outages are those of the fans that run in the variant. CaseError for a name that is not
        known, and for one that stands for several scenarios.
        """
        argument_checks.check_text("scenario", scenario, 'a name is wanted, several as "a+b"')
        argument_checks.check_text("variant", variant, "a name is wanted")
        made = self
        if own := variant_changes(self, variant):
            made = made.with_changes(own)
        made = made.in_scenario(scenario, scenario_changes(made, scenario))
        applied = made.applied._replace(variant=_joined(self.applied.variant, variant))
        return dataclasses.replace(made, applied=applied, source=self.source or self)

    def in_scenario(self, name: str, conditions: Changes) -> Enclosure:
        """The enclosure with the changes of a scenario, noted under its name."""
        made = self.with_changes(conditions) if conditions else self
        applied = made.applied._replace(
            scenario=_joined(self.applied.scenario, name),
            failed=self.applied.failed | _stopped(self, made),
        )
        return dataclasses.replace(made, applied=applied, source=self.source or self)


def _stopped(design: Enclosure, made: Enclosure) -> frozenset[str]:
    """Fans that run in one and not in the other."""
    return frozenset(
        name for name, fan in design.fans.items() if fan.running and not made.fans[name].running
    )


def _joined(*names: str) -> str:
    """`hot` and `dirty` as `hot+dirty`; what is base adds nothing."""
    single = [name.strip() for joined in names for name in joined.split("+")]
    return "+".join(name for name in single if name != "base") or "base"


def _checked(case: Contents, **tables: Mapping[str, Changes]) -> dict[str, Mapping[str, Changes]]:
    """Scenarios and variants, by kind, with every value converted; CaseError with all faults."""
    found: dict[str, dict[str, Changes]] = {kind: {} for kind in tables}
    faults: list[Fault] = []
    for kind, name in ((kind, name) for kind, named in tables.items() for name in named):
        if what := checks.name_fault(kind, name):
            faults.append(Fault(f"{kind}.{name}", what))
        values = {}
        for path, raw in tables[kind][name].items():
            with placed(f"{kind}.{name}", ".", faults):
                values[path] = converted(case, path, raw)
        found[kind][name] = MappingProxyType(values)
    if faults:
        raise CaseError(faults)
    return {kind: MappingProxyType(named) for kind, named in found.items()}


def _checked_types(
    types: Mapping[str, Mapping[str, Mapping[str, Any]]],
) -> Mapping[str, Mapping[str, Mapping[str, Any]]]:
    """Types by kind and name with every value converted; CaseError with all faults."""
    made: dict[str, Mapping[str, Any]] = {}
    faults: list[str] = []
    for kind, named in types.items():
        cls = KINDS.get(kind.removesuffix("_type"))
        if cls is None or not kind.endswith("_type") or kind == "fan_type":
            faults.append(
                f"types.{kind}: no such types; write slot_type for types of slots, and fan types "
                "as things of their own"
            )
            continue
        read = {n: by_key(cls, v, list(keys(cls)), file=False) for n, v in named.items()}
        made[kind] = MappingProxyType({n: MappingProxyType(v) for n, (v, _) in read.items()})
        faults += [f"{kind}.{n}.{fault}" for n, (_, wrong) in read.items() for fault in wrong]
    if faults:
        raise CaseError(faults)
    return MappingProxyType(made)


def assemble(items: Iterable[Thing], **rest: Any) -> tuple[Enclosure, list[str]]:
    """An enclosure from its things, and every fault between them."""
    things: dict[str, dict[str, Any]] = {kind: {} for kind in KINDS}
    faults = []
    for item in items:
        if item.name in things[item.KIND]:
            faults.append(f"{item.path}: stands twice")
        things[item.KIND][item.name] = item
    for kind in SINGLE:
        things[kind].setdefault("", KINDS[kind]())
        things[kind] = {"": things[kind][""]} | things[kind]
    things["fan_type"] = with_ratings(things["fan_type"])
    made = Enclosure(_frozen(things), **rest)
    return made, faults + checks.all_faults(made)


def with_ratings(types: Mapping[str, FanType]) -> dict[str, FanType]:
    """Each type followed by its ratings as types of their own: `axial.rating.sixty`."""
    found: dict[str, FanType] = {}
    for name, base in types.items():
        if ".rating." in name:
            continue
        found[name] = base
        for rating, values in base.rating.items():
            own = frozenset(values)
            row = dataclasses.replace(
                base, name=f"{name}.rating.{rating}", rating=NONE, given=own,
                **{attribute(key): value for key, value in values.items()},
            )  # fmt: skip
            found[row.name] = row
    return found


def _frozen(things: Mapping[str, dict[str, Any]]) -> Mapping[str, Mapping[str, Any]]:
    return MappingProxyType({kind: MappingProxyType(named) for kind, named in things.items()})
