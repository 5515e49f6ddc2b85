"""Reading a case file: every fault of it in one error, or an enclosure that is sound."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Any

from flownet.casefile.build import Builder
from flownet.casefile.catalogue import catalogues
from flownet.casefile.document import Document, Section, read_case
from flownet.casefile.files import case_file
from flownet.casefile.inherit import Heirs
from flownet.casefile.studies import read_studies
from flownet.casefile.tables import FAULTY, MOST_COPIES, Own, read_table, thing_class
from flownet.enclosure.enclosure import Enclosure
from flownet.schema import argument_checks
from flownet.schema.component import excluded
from flownet.schema.errors import CaseError

LONGEST_FAULT = 400


def load_case(path: str | Path, *, catalogue: Sequence[str | Path] = ()) -> Enclosure:
    """The enclosure that a case file describes.

    Parameters
    ----------
    path : str or Path
        A `.toml` file, or a folder with `case.toml` in it.
    catalogue : sequence of str or Path
        Folders to search for the catalogues that the case names, after its own folder and before
        those of the environment variable FLOWNET_CATALOGUE; or catalogue files to read besides.

    Returns
    -------
    Enclosure
        Checked; every value in SI.

    Raises
    ------
    CaseError
        Every fault of the file and of its catalogues, a line each, after the file's name:
        `case.toml: filter.intake.area: "0.045 m" is a length; an area is wanted, ...`.
    """
    argument_checks.check_file("load_case", path)
    try:
        made = read_case(case_file(path))
        try:
            found = _read(made, [catalogue] if isinstance(catalogue, (str, Path)) else catalogue)
        except RecursionError:
            made.fault("tables follow one another too deep")
        if made.faults:
            raise CaseError(made.faults)
    except CaseError as error:
        raise CaseError(_lines(error.faults)) from None
    return found


def _lines(faults: Iterable[str]) -> list[str]:
    """Each fault on one line, once, not longer than can be read."""
    found: dict[str, None] = {}
    for fault in faults:
        line = "".join(sign if sign.isprintable() else " " for sign in fault)
        found[line if len(line) <= LONGEST_FAULT else line[: LONGEST_FAULT - 3] + "..."] = None
    return list(found)


def _read(made: Document, extra: Sequence[str | Path]) -> Enclosure:
    shared = list(catalogues(made, extra))
    tables = _tables(made, [*made.sections, *shared])
    _guess_copies(tables.values(), [made.studies, [(s.name, s.raw) for s in made.sections]])
    heirs, builder = Heirs(tables, made.faults), Builder(made.faults)
    for final in heirs.things():
        builder.add(final)
    types: dict[str, dict[str, Any]] = {}
    for own, entries in heirs.types():
        named = types.setdefault(own.section.kind, {})
        sound = {key: each.value for key, each in entries.items() if each.value is not FAULTY}
        named[own.section.name] = MappingProxyType(sound)
        for fault in excluded(thing_class(own.section.kind), own.entries):
            made.faults.append(f"{own.section.label}: {own.section.path}.{fault}")
    case = builder.enclosure(
        made.label,
        title=made.title,
        units=made.units,
        types=MappingProxyType({kind: MappingProxyType(named) for kind, named in types.items()}),
        origin=made.label,
    )
    case = read_studies(case, made)
    places = dict(builder.written()) | {section.path: section.label for section in shared}
    return dataclasses.replace(case, written=MappingProxyType(places))


def _tables(made: Document, sections: list[Section]) -> dict[tuple[str, str], Own]:
    """Every table converted; one that stands in two files is a fault."""
    tables: dict[tuple[str, str], Own] = {}
    for section in sections:
        first = tables.get((section.kind, section.name))
        if first is None:
            tables[section.kind, section.name] = read_table(section, made.faults)
        else:
            made.faults.append(
                f"{section.label}: {section.path}: stands in {first.section.label} too; "
                "rename one of them"
            )
    for (kind, _), own in tables.items():
        typed = own.entries.get("type") if kind == "part" else None
        kinds = [k for k in ("part_type", "sink_type") if typed and (k, typed.value) in tables]
        if typed and kinds == ["sink_type"]:
            own.entries["sink"] = typed._replace(path=f"{own.section.path}.sink")
            del own.entries["type"]
    return tables


# --- tables whose `copies` could not be read ----------------------------------------------------


def _guess_copies(tables: Iterable[Own], written: Any) -> None:
    """Count the copies that a file names wherever `copies` is faulty: the fault of that number is
    noted already, and what names a copy in `written`, mappings and lists, shall not be one more."""
    missing = [own for own in tables if own.uncounted]
    words = "\n".join(_texts(written)) if missing else ""
    for own in missing:
        named = re.findall(rf"(?<![\w-]){re.escape(own.section.name)}-([1-9]\d*|\*)", words)
        counts = [1 if number == "*" else int(number) for number in named]
        most = max((count for count in counts if count <= MOST_COPIES), default=0)
        own.copies = most or None
        if not own.several:
            own.pitch = None


def _texts(value: Any) -> Iterable[str]:
    """Every key and text in nested mappings and lists."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            yield str(key)
            yield from _texts(inner)
    elif isinstance(value, (list, tuple)):
        for inner in value:
            yield from _texts(inner)
