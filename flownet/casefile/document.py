"""A file taken apart: what stands at its top, its tables by kind and name, and its studies."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from flownet.casefile.syntax import parse
from flownet.enclosure import checks
from flownet.enclosure.surroundings import SINGLE
from flownet.enclosure.synonyms import meant_kind
from flownet.schema.component import KINDS
from flownet.schema.fault import brief, did_you_mean
from flownet.schema.fields import keys
from flownet.schema.text_file import read_text

FORMAT = 1
TOP = ("format", "title", "catalogue", "units")
CHANGES = ("scenario", "variant")  # tables of changes
STUDIES = ("sweep", "choice", "timeline")  # named tables; tolerance has no names
NAMELESS = ("enclosure", "limits")  # one table, without a name
OWN_TYPES = ("fan_type", "sink_type")  # kinds of their own, not keys for others
TYPES = {f"{k}_type": k for k in KINDS if k not in ("fan", *OWN_TYPES, *NAMELESS)}
KNOWN = (*KINDS, *TYPES, *CHANGES, *STUDIES, "tolerance")


class Section(NamedTuple):
    """One table of a thing or a type, as it is written."""

    kind: str
    name: str
    raw: Mapping[str, Any]
    label: str  # of its file, for messages
    folder: Path  # where files it names stand

    @property
    def path(self) -> str:
        """`fan.left`, or the kind alone where there is only one."""
        return f"{self.kind}.{self.name}" if self.name else self.kind


@dataclass
class Document:
    """One file: its tables, and the faults found so far."""

    label: str
    folder: Path
    title: str = ""
    units: str = "metric"
    catalogue: tuple[str, ...] = ()
    sections: list[Section] = field(default_factory=list)
    studies: dict[str, Any] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)

    def fault(self, text: str) -> None:
        """Note a fault of this file."""
        self.faults.append(f"{self.label}: {text}")


def read_case(path: Path) -> Document:
    """The case file at a path; CaseError where it cannot be read at all."""
    label = path.name
    made = Document(label, path.parent)
    raw = parse(read_text(path, label, "; `flownet new NAME` writes one to start from"), label)
    _top(made, raw)
    for kind, value in raw.items():
        if kind not in TOP:
            _kind(made, kind, value, raw)
    return made


def read_catalogue(path: Path, label: str) -> Document:
    """A catalogue, which holds types and nothing else."""
    made = Document(label, path.parent)
    raw = parse(read_text(path, label), label)
    if "catalogue" in raw or isinstance(raw.get("compartment"), Mapping):
        held = [kind for kind in ("catalogue", "compartment", "fan") if kind in raw]
        made.fault(
            f"is a case, not a catalogue: a catalogue holds types only, such as [fan_type.NAME] "
            f"(got {', '.join(held)}); move its types to a file of their own"
        )
        return made
    for kind, value in raw.items():
        if kind in ("title", "note"):
            continue
        if kind == "format":
            _format(made, value)
        elif kind in OWN_TYPES or kind in TYPES:
            _named(made, kind, value)
        elif isinstance(value, Mapping) and kind in KNOWN:
            made.fault(f"{kind}: a catalogue holds types only, such as [fan_type.NAME]")
        else:
            _unknown(made, kind, value, (*OWN_TYPES, *TYPES))
    return made


# --- top-level keys ----------------------------------------------------------------------------


def _top(made: Document, raw: Mapping[str, Any]) -> None:
    _format(made, raw.get("format", FORMAT))
    title = raw.get("title", made.folder.resolve().name if made.label == "case.toml" else "")
    made.title = title if isinstance(title, str) else ""
    if not isinstance(title, str):
        made.fault(f"title: takes text (got {brief(title)})")
    if not made.title and "title" not in raw:
        made.title = Path(made.label).stem
    units = raw.get("units", "metric")
    if units not in ("metric", "us"):
        made.fault(f'units: must be "metric" or "us" (got {brief(units)})')
    else:
        made.units = units
    names = raw.get("catalogue", ())
    names = [names] if isinstance(names, str) else names
    if isinstance(names, (list, tuple)) and all(isinstance(n, str) and n for n in names):
        made.catalogue = tuple(names)
    else:
        made.fault(f'catalogue: takes names of files, such as ["fans.toml"] (got {brief(names)})')


def _format(made: Document, value: Any) -> None:
    if type(value) is not int or value != FORMAT:
        made.fault(f"format: must be {FORMAT}, which this version reads (got {brief(value)})")


# --- tables ------------------------------------------------------------------------------------


def _kind(made: Document, kind: str, value: Any, whole: Mapping[str, Any]) -> None:
    if kind not in KNOWN:
        kind = _unknown(made, kind, value, KNOWN)
        there = whole.get(kind, {})
        if not kind or not isinstance(value, Mapping) or not isinstance(there, Mapping):
            return
        if there and (kind in SINGLE or kind == "tolerance"):
            return
        value = {n: raw for n, raw in value.items() if n not in there}  # links to them find them
    if kind in CHANGES or kind in STUDIES:
        made.studies.setdefault(kind, {}).update(_entries(made, kind, value))
    elif kind == "tolerance" or kind in SINGLE:
        if not isinstance(value, Mapping):
            made.fault(f"{kind}: is a table; write [{kind}] above its keys")
        elif kind == "tolerance":
            made.studies[kind] = value
        else:
            _single(made, kind, value)
    else:
        _named(made, kind, value)


def _unknown(made: Document, kind: str, value: Any, known: tuple[str, ...]) -> str:
    """The fault of an unknown kind or top-level key; what was probably meant."""
    is_list = isinstance(value, list) and any(isinstance(item, Mapping) for item in value)
    if isinstance(value, Mapping) or is_list:
        meant = meant_kind(kind, known)
        inner = [n for n, raw in value.items() if isinstance(raw, Mapping)] if not is_list else []
        where = f"{kind}.{inner[0]}" if inner else kind
        plain = [name for name in known if name not in TYPES or "fan" not in known]
        hint = did_you_mean(meant, f"kinds are {', '.join(plain)}")
        made.fault(f'{where}: no kind "{kind}"; {hint}')
        return meant
    meant = meant_kind(kind, TOP)
    hint = did_you_mean(meant, f"at the top stand {', '.join(TOP)}")
    if not meant and (owners := [k for k, cls in KINDS.items() if kind in keys(cls)]):
        hint = f"it belongs below a table, such as [{owners[0]}.NAME]"
    made.fault(f"{kind}: unknown key at the top of the file; {hint}")
    return ""


def _single(made: Document, kind: str, value: Mapping[str, Any]) -> None:
    """[outside] and its further ones, [enclosure], [limits]."""
    declared = keys(KINDS[kind])
    inner = {n: v for n, v in value.items() if isinstance(v, Mapping) and n not in declared}
    own = {n: v for n, v in value.items() if n not in inner}
    made.sections.append(Section(kind, "", own, made.label, made.folder))
    for name, raw in inner.items():
        if kind in NAMELESS:
            made.fault(f"{kind}.{name}: [{kind}] stands once, without a name")
        elif _name(made, kind, name):
            made.sections.append(Section(kind, name, raw, made.label, made.folder))


def _named(made: Document, kind: str, value: Any) -> None:
    """Tables [kind.name]."""
    for name, raw in _entries(made, kind, value):
        made.sections.append(Section(kind, name, raw, made.label, made.folder))


def _entries(made: Document, kind: str, value: Any) -> Iterator[tuple[str, Mapping[str, Any]]]:
    if isinstance(value, list) and value and all(isinstance(item, Mapping) for item in value):
        made.fault(f"{kind}: [[{kind}]] has no name; write [{kind}.NAME]")
        return
    if not isinstance(value, Mapping):
        made.fault(f"{kind}: is a table; write [{kind}.NAME] above its keys")
        return
    loose = [name for name, raw in value.items() if not isinstance(raw, Mapping)]
    if loose:
        where = f"{kind}.{loose[0]}"
        made.fault(f"{where}: belongs into a table with a name; write [{kind}.NAME] above it")
    known = keys(KINDS[TYPES.get(kind, kind)]) if loose and kind in (*KINDS, *TYPES) else {}
    for name, raw in value.items():
        if isinstance(raw, Mapping) and name not in known and _name(made, kind, name):
            yield name, raw


def _name(made: Document, kind: str, name: str) -> bool:
    """Whether a table can be read under its name; the fault of a name is noted."""
    fits = checks.NAME.match(name) is not None
    if kind in STUDIES and name.startswith("-"):  # named by itself on command lines
        made.fault(f"{kind}.{name}: begins with -, which begins an option of the command line")
    elif what := checks.name_fault(kind, name):
        shown = name if fits else f'"{name}"'
        made.fault(f"{kind}.{shown}: {what}")
    return fits
