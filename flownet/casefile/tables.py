"""One table of a case file: its keys converted, each remembered with the place it stands at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, NamedTuple

from flownet.casefile.curves import FREE_FLOW, read_curve
from flownet.casefile.document import NAMELESS, OWN_TYPES, TOP, TYPES, Section
from flownet.enclosure import checks
from flownet.enclosure.fans import RATING_KEYS
from flownet.enclosure.synonyms import meant_key
from flownet.schema import quantities as q
from flownet.schema.component import KINDS, Thing
from flownet.schema.convert import convert, convert_key
from flownet.schema.errors import CaseError, placed
from flownet.schema.fault import brief, did_you_mean
from flownet.schema.fields import Numbers, keys

MOST_COPIES = 1000
FREE_KEYS = ("free_flow", "free_air_flow", "max_flow", "flow", "volume_flow", "airflow", "air_flow")


class Faulty:
    """Stands for a value that could not be read; its fault is noted."""


FAULTY = Faulty()


class Entry(NamedTuple):
    """A converted value and where it is written."""

    value: Any
    label: str  # of the file
    path: str  # slot_type.line.gap


@dataclass
class Own:
    """What one table itself says."""

    section: Section
    entries: dict[str, Entry] = field(default_factory=dict)
    like: str | None = None
    copies: int | None = None
    pitch: tuple[float, float] | None = None
    hosts: tuple[str, ...] = ()  # of a part in several places
    broken: bool = False  # what it is like, or where it is, could not be read
    uncounted: bool = False  # its number of copies could not be read

    @property
    def several(self) -> bool:
        """Whether the table stands for copies of itself."""
        return self.copies is not None or bool(self.hosts)


def thing_class(kind: str) -> type[Thing]:
    """The class of a kind, or of what a type is a type of."""
    return KINDS[TYPES.get(kind, kind)]


def read_table(section: Section, faults: list[str]) -> Own:
    """The keys of a table, converted; faults are added, each after its file and place."""
    made = Own(section)
    found: list[str] = []
    for name, raw in section.raw.items():
        try:
            _key(made, name, raw)
        except CaseError as error:
            found += error.faults
    found += _combinations(made)
    faults += [f"{section.label}: {section.path}.{fault}" for fault in found]
    return made


def _key(made: Own, name: str, raw: Any) -> None:
    section = made.section
    cls = thing_class(section.kind)
    typed = section.kind not in (*TYPES, *OWN_TYPES)
    if name == "like" and section.kind not in NAMELESS:
        made.broken = True
        made.like = _name(name, raw)
        made.broken = False
    elif name in ("copies", "pitch") and typed and section.kind not in NAMELESS:
        _copies(made, name, raw)
    elif name == "type" and f"{section.kind}_type" in TYPES:
        _put(made, name, _name(name, raw))
    elif name == "in" and section.kind == "part" and isinstance(raw, (list, tuple)):
        _put(made, name, FAULTY)
        made.hosts = _hosts(raw)
        del made.entries[name]
    elif name == "curve_csv" and cls is KINDS["fan_type"]:
        if "curve" not in section.raw:
            _put(made, "curve", FAULTY)
        for key, value in read_curve(raw, section.folder).items():
            _from_csv(made, key, value)
    elif name == "rating" and cls is KINDS["fan_type"]:
        _put(made, name, FAULTY)
        _put(made, name, _ratings(raw, section))
    elif name in keys(cls):
        _declared(made, cls, name, raw)
    else:
        meant = meant_key(name, keys(cls))
        if meant and meant not in section.raw and meant not in made.entries:
            _put(made, meant, FAULTY)  # so that it is not called missing as well
        raise CaseError(f"{name}: {unknown(cls, name, section)}")


def _put(made: Own, name: str, value: Any) -> None:
    section = made.section
    made.entries[name] = Entry(value, section.label, f"{section.path}.{name}")


def _declared(made: Own, cls: type[Thing], name: str, raw: Any) -> None:
    _put(made, name, FAULTY)
    if name == "curve" and cls is KINDS["fan_type"]:
        _not_free_flow_alone(raw)
    target, value = convert_key(cls, name, raw, file=True)
    if target != name:
        del made.entries[name]  # speed = "2400 rpm" is a rotation
    _put(made, target, value)


def _not_free_flow_alone(raw: Any) -> None:
    rows = raw
    if isinstance(raw, Mapping) and isinstance(raw.get("flow"), str):
        words = raw["flow"].replace("x", " ").split()
        rows = words[:-1] if words and words[-1][0].isalpha() else words
    elif isinstance(raw, Mapping):
        rows = raw.get("flow")
    if isinstance(rows, Sequence) and not isinstance(rows, str) and len(rows) == 1:
        raise CaseError(f"curve: has one point only; {FREE_FLOW}")


def _from_csv(made: Own, key: str, value: Any) -> None:
    if key not in made.section.raw:
        _put(made, key, value)
    else:
        _agree(key, made.section.raw[key], value)


def _agree(key: str, raw: Any, value: Any) -> None:
    """CaseError where a table says something else than its curve file."""
    if key == "curve":
        raise CaseError("curve_csv: cannot stand together with curve; give one of the two")
    try:
        same = convert(keys(KINDS["fan_type"])[key].role, raw, file=True) == value
    except CaseError:
        return  # said at its own key
    if not same:
        raise CaseError(f"curve_csv: its file says another {key}; give it once")


def _name(key: str, raw: Any) -> str:
    if not isinstance(raw, str) or not raw:
        raise CaseError(f"{key}: takes the name of one table (got {brief(raw)})")
    return raw


def _copies(made: Own, name: str, raw: Any) -> None:
    if name == "pitch":
        with placed("pitch"):
            made.pitch = convert(Numbers(q.LENGTH, 2), raw, file=True)
    elif type(raw) is not int or not 1 <= raw <= MOST_COPIES:
        made.uncounted = True
        many = f"must be a whole number from 1 to {MOST_COPIES}"
        raise CaseError(f"copies: {many} (got {brief(raw)})")
    else:
        made.copies = raw


def _hosts(raw: Sequence[Any]) -> tuple[str, ...]:
    if not raw or not all(isinstance(host, str) and host for host in raw):
        raise CaseError(f"in: takes a name or a list of names (got {brief(raw)})")
    return tuple(raw)


def _ratings(raw: Any, section: Section) -> Mapping[str, Any]:
    """The sub-tables of a fan type for other supplies, converted."""
    cls = KINDS["fan_type"]
    if not isinstance(raw, Mapping) or not all(isinstance(v, Mapping) for v in raw.values()):
        raise CaseError(f"rating: is a table; write [fan_type.{section.name}.rating.NAME]")
    made, faults = {}, []
    for name, inner in raw.items():
        if what := checks.name_fault("rating", name):
            faults.append(f'rating."{name}": {what}')
            continue
        values: dict[str, Any] = {}
        for key, value in inner.items():
            try:
                values |= _rated(cls, key, value, inner, section)
            except CaseError as error:
                faults += [f"rating.{name}.{fault}" for fault in error.faults]
        made[name] = MappingProxyType(values)
    if faults:
        raise CaseError(faults)
    return MappingProxyType(made)


def _rated(
    cls: type[Thing], key: str, raw: Any, inner: Mapping[str, Any], section: Section
) -> dict[str, Any]:
    if key == "curve_csv":
        found = read_curve(raw, section.folder)
        for name in found:
            if name in inner:
                _agree(name, inner[name], found[name])
        return {name: value for name, value in found.items() if name not in inner}
    if key not in RATING_KEYS:
        known = key in keys(cls)
        hint = "a rating has none" if known else unknown(cls, key, section)
        raise CaseError(f"{key}: {hint}")
    if key == "curve":
        _not_free_flow_alone(raw)
    target, value = convert_key(cls, key, raw, file=True)
    return {target: value}


def _combinations(made: Own) -> Iterator[str]:
    """Faults of keys that only reading knows."""
    if made.hosts and made.copies is not None and made.copies != len(made.hosts):
        yield f"copies: {made.copies}, but in names {len(made.hosts)} places; leave copies out"
    free = [name for name in FREE_KEYS if name in made.section.raw]
    curve = "curve" in made.section.raw or "curve_csv" in made.section.raw
    if made.section.kind == "fan_type" and free and not curve and made.like is None:
        yield f"curve: must be given; {FREE_FLOW}"
        _put(made, "curve", FAULTY)


def _specials(section: Section) -> tuple[str, ...]:
    """Keys that are worked out when a table of this kind is read."""
    if section.kind in NAMELESS:
        return ()
    if section.kind == "fan_type":
        return ("like", "curve_csv")
    return ("like",) if section.kind in (*TYPES, *OWN_TYPES) else ("like", "copies", "pitch")


def unknown(cls: type[Thing], name: str, section: Section) -> str:
    """What is said of a key that its table does not know."""
    if name in TOP:
        return (
            f"unknown key; {name} belongs at the top of the file, above the first table "
            f"(here it is read as a key of [{section.path}])"
        )
    known = [*keys(cls), *_specials(section)]
    if cls is KINDS["fan_type"] and name in FREE_KEYS:
        return "unknown key; the flow of a fan follows from its curve and what resists it"
    if meant := meant_key(name, known):
        return f"unknown key; {did_you_mean(meant)}"
    owners = [kind for kind, other in KINDS.items() if name in keys(other)]
    if owners:
        return f"unknown key; it is a key of {', '.join(owners[:4])}"
    listed = ", ".join(key for key in keys(cls) if key not in ("tag", "note", "data"))
    return f"unknown key; the keys of {section.kind} are {listed}"
