"""Writing a case file that reads back to the same enclosure, never half of one; and a first one."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from pathlib import Path
from typing import Any

from flownet.casefile.document import FORMAT
from flownet.casefile.files import CASE_NAME
from flownet.casefile.tables import thing_class
from flownet.enclosure.contents import taken_back
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.ranges import role_at
from flownet.enclosure.toml_text import number, plain, written
from flownet.schema import argument_checks, atomic, units
from flownet.schema import quantities as q
from flownet.schema.component import Thing
from flownet.schema.errors import CaseError, placed
from flownet.schema.fields import REMARKS, Number, Role, attribute, given, keys

TEMPLATE = Path(__file__).with_name("starter.toml")
KIND_ORDER = (
    "enclosure", "outside", "supply", "compartment", "opening", "vent", "filter", "baffle", "slot",
    "duct", "leak", "fan", "exchange", "recirculation", "wall", "part", "sink_type",
)  # fmt: skip


def save_case(case: Enclosure, path: str | Path, *, overwrite: bool = False) -> None:
    """Write an enclosure to a case file that `load_case` reads back to an equal one.

    What `like`, `copies`, types of a catalogue and changes have made of it is written out; no
    catalogue is needed beside it. The file appears whole or not at all.

    Parameters
    ----------
    case : Enclosure
        As it was read, built or changed.
    path : str or Path
        A file, or a folder for a `case.toml` in it.
    overwrite : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    FileExistsError
        The file is there and `overwrite` is not set.
    CaseError
        The enclosure holds free data that TOML cannot.
    CannotWrite
        The system does not take the file; an OSError.
    """
    argument_checks.check("save_case", case, Enclosure)
    argument_checks.check_file("save_case", path)
    target = Path(path)
    target = (target / CASE_NAME if target.is_dir() else target).resolve()
    if not target.parent.is_dir():
        raise FileNotFoundError(f"{target.name}: there is no folder {target.parent}")
    if target.exists() and not overwrite:
        raise FileExistsError(f"{target.name}: exists already; pass overwrite=True to replace it")
    try:
        content = case_text(case).encode()
    except UnicodeEncodeError as error:
        raise CaseError(f"{target.name}: holds text that is not Unicode ({error.reason})") from None
    atomic.write(target, content)


def case_text(case: Enclosure) -> str:
    """The text of a case file; CaseError for free data that TOML cannot hold."""
    lines = [f"format = {FORMAT}", f"title = {plain(case.title)}"]
    if case.units != "metric":
        lines.append(f"units = {plain(case.units)}")
    for kind in KIND_ORDER:
        for item in case.things[kind].values():
            lines += _thing(case, item)
    for kind, named in case.types.items():
        for name, values in named.items():
            lines += ["", f"[{kind}.{name}]", *_type(kind, values)]
    for name, item in case.things["fan_type"].items():
        if ".rating." not in name:
            lines += _fan_type(case, item)
    lines += _thing(case, case.limits)
    for kind, changes in (("scenario", case.scenarios), ("variant", case.variants)):
        for name, values in changes.items():
            lines += ["", f"[{kind}.{name}]", *_remarks(case, f"{kind}.{name}")]
            write = _paths(values)
            lines += [f"{write(p)} = {change_text(case, p, v)}" for p, v in values.items()]
    return "\n".join([*lines, *_studies(case), ""])


def starter(title: str) -> str:
    """The text of a small case that solves, with `# CHANGE` where a user's own numbers belong."""
    return TEMPLATE.read_text(encoding="utf-8").replace('"TITLE"', plain(title), 1)


# --- as TOML ------------------------------------------------------------------------------------


def value_text(role: Role | None, value: Any) -> str:
    """One value of a thing as TOML; CaseError, without a place, for what TOML cannot hold."""
    return plain(written(role, value))


# --- things ------------------------------------------------------------------------------------


def _thing(case: Enclosure, item: Thing) -> Iterator[str]:
    types: Mapping[str, Any] = {}
    if item.type is not None and item.KIND != "fan":
        types = case.types.get(f"{item.KIND}_type", {}).get(item.type, {})
    chosen = _chosen(item, types)
    if chosen is None:
        types, chosen = {}, _chosen(item, {}) or []
    if not item.name and not chosen:
        return
    yield from ("", f"[{item.path}]")
    if types:
        yield f"type = {plain(item.type)}"
    for key in chosen:
        yield _line(item, key)


def _line(item: Thing, key: str) -> str:
    name = "speed" if key == "rotation" else key  # as people write it: speed = "2400 rpm"
    role = keys(type(item))[key].role
    with placed(f"{item.path}.{key}"):
        return f"{name} = {value_text(role, getattr(item, attribute(key)))}"


def _chosen(item: Thing, types: Mapping[str, Any]) -> list[str] | None:
    """Keys to write beside a type's; None where its values cannot be taken back."""
    cls, chosen, missing = type(item), [], []
    for key, declared in keys(cls).items():
        value = getattr(item, attribute(key))
        if key == "rating":
            continue
        if not given(value):
            missing += [key] if given(types.get(key)) else []
        elif key in (item.given or ()) or value != types.get(key, declared.default):
            chosen.append(key)
    if not taken_back(cls, chosen).keys() >= set(missing):
        return None
    return [k for k in chosen if k not in REMARKS] + [k for k in chosen if k in REMARKS]


def _type(kind: str, values: Mapping[str, Any]) -> Iterator[str]:
    declared = keys(thing_class(kind))
    for key, value in values.items():
        yield f"{key} = {value_text(declared[key].role, value)}"


def _fan_type(case: Enclosure, item: Any) -> Iterator[str]:
    yield from _thing(case, item)
    for rating, values in item.rating.items():
        yield from ("", f"[{item.path}.rating.{rating}]")
        yield from _type("fan_type", values)


# --- changes and studies -----------------------------------------------------------------------


def _paths(paths: Collection[str]) -> Callable[[str], str]:
    """How to write these paths: as TOML's own dotted keys where they allow it."""
    starts = {path[:end] for path in paths for end in range(len(path)) if path[end] == "."}
    quoted = bool(starts & set(paths))  # `at` and `at.0` would be a value and a table
    return lambda path: plain(path) if quoted or "*" in path else path


def change_text(case: Enclosure, path: str, value: Any) -> str:
    """The value of one change as TOML."""
    return value_text(case.places(path)[0].role, value)


def _remarks(case: Enclosure, table: str) -> Iterator[str]:
    for key, value in case.studies.get("remarks", {}).get(table, {}).items():
        yield f"{key} = {plain(value)}"


def _studies(case: Enclosure) -> Iterator[str]:
    for name, paths in case.studies.get("sweep", {}).items():
        yield from ("", f"[sweep.{name}]", *_remarks(case, f"sweep.{name}"))
        yield from (f"{plain(path)} = {_values(case, path, v)}" for path, v in paths.items())
    if "tolerance" in case.studies:
        yield from ("", "[tolerance]", *_remarks(case, "tolerance"))
        for path, spread in case.studies["tolerance"].items():
            yield f"{plain(path)} = {_spread(case, path, spread)}"
    for name, choice in case.studies.get("choice", {}).items():
        yield from ("", f"[choice.{name}]", *_remarks(case, f"choice.{name}"))
        yield f"best = {plain(choice['best'])}"
        for path, values in choice["vary"].items():
            yield f"{plain(path)} = {_values(case, path, values)}"
    for name, timeline in case.studies.get("timeline", {}).items():
        yield from ("", f"[timeline.{name}]", *_remarks(case, f"timeline.{name}"))
        yield from _timeline(case, timeline)


def _values(case: Enclosure, path: str, values: Any) -> str:
    if isinstance(values, str):
        return plain(values)
    if isinstance(values, Mapping):
        ends = [units.write(values[end], _quantity(case, path)) for end in ("low", "high")]
        return plain(" to ".join(ends))
    return f"[{', '.join(change_text(case, path, value) for value in values)}]"


def _quantity(case: Enclosure, path: str) -> q.Quantity:
    role = role_at(case, path)
    assert isinstance(role, Number)
    return role.quantity


def _spread(case: Enclosure, path: str, spread: Mapping[str, Any]) -> str:
    quantity = _quantity(case, path)
    quantity = q.DIFFERENCE if quantity == q.TEMPERATURE else quantity
    within = spread["within"]
    text = _share(within) if spread["relative"] else units.write(within, quantity)
    rest = {key: spread[key] for key in ("shape", "together")}
    return plain({"within": text, **rest})


def _share(value: float) -> str:
    """A share of 1 in per cent, `6 %`."""
    texts = [f"{100 * value:.{digits}g} %" for digits in (15, 16, 17)]
    return next((text for text in texts if units.parse(text, q.RATIO) == value), texts[-1])


def _timeline(case: Enclosure, timeline: Mapping[str, Any]) -> Iterator[str]:
    yield f"scenario = {plain(timeline['scenario'])}"
    yield f"start = {plain(timeline['start'])}"
    yield f"until = {plain(number(q.TIME, timeline['until']))}"
    if timeline["inputs_csv"]:
        yield f"inputs_csv = {plain(timeline['inputs_csv'])}"
    yield "events = ["
    for event in timeline["events"]:
        times = {key: number(q.TIME, event[key]) for key in ("after", "over")}
        changes = {p: written(case.places(p)[0].role, v) for p, v in event["set"].items()}
        yield f"  {plain({**times, 'set': changes})},"
    yield "]"
