"""Catalogues: files of types, found beside the case or in the folders meant for them."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from flownet.casefile.build import Builder
from flownet.casefile.document import Document, Section, read_catalogue
from flownet.casefile.files import inside, neighbours
from flownet.casefile.inherit import Heirs
from flownet.casefile.tables import read_table
from flownet.enclosure.enclosure import with_ratings
from flownet.enclosure.fans import FanType
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError
from flownet.schema.fault import did_you_mean, nearest

VARIABLE = "FLOWNET_CATALOGUE"


def catalogues(made: Document, extra: Sequence[str | Path]) -> Iterator[Section]:
    """The types of every catalogue that the case names, then of files given in `extra`.

    `extra` holds folders to search, and catalogue files to read besides. Faults are added to those
    of the case.
    """
    files = [Path(item) for item in extra if Path(item).is_file()]
    folders = [made.folder, *_folders(extra, made)]
    seen: set[Path] = set()
    for path, label in [*_named(made, folders), *((path, path.name) for path in files)]:
        if path.resolve() in seen:
            continue
        seen.add(path.resolve())
        try:
            found = read_catalogue(path, label)
        except CaseError as error:
            made.faults += error.faults
            continue
        made.faults += found.faults
        yield from found.sections


def load_fan_types(path: str | Path) -> dict[str, FanType]:
    """The fan types of a catalogue by name, each followed by its ratings.

    Parameters
    ----------
    path : str or Path
        A catalogue; a rating is named `axial.rating.sixty`.

    Raises
    ------
    CaseError
        Every fault of the file, a line each, after its name.
    """
    argument_checks.check_file("load_fan_types", path)
    file = Path(path)
    if not file.is_file():
        raise CaseError(f"{file.name or file}: no such file")
    made = read_catalogue(file, file.name)
    tables = {(s.kind, s.name): read_table(s, made.faults) for s in made.sections}
    builder = Builder(made.faults)
    for final in Heirs(tables, made.faults).things():
        builder.add(final)
    if made.faults:
        raise CaseError(list(dict.fromkeys(made.faults)))
    return with_ratings({item.name: item for item in builder.items if isinstance(item, FanType)})


def _folders(extra: Sequence[str | Path], made: Document) -> Iterator[Path]:
    for item in extra:
        path = Path(item)
        if path.is_dir():
            yield path
        elif not path.is_file():
            made.fault(f'catalogue: no folder or file "{item}"')
    for item in os.environ.get(VARIABLE, "").split(os.pathsep):
        if item:
            yield Path(item)


def _named(made: Document, folders: list[Path]) -> Iterator[tuple[Path, str]]:
    for name in dict.fromkeys(made.catalogue):
        try:
            found = [path for folder in folders if (path := inside(folder, name)) is not None]
        except CaseError as error:
            made.faults += [f"{made.label}: catalogue: {fault}" for fault in error.faults]
            continue
        if found:
            yield found[0], name
            continue
        near = nearest(name, [n for n in neighbours(folders, ".toml") if n != made.label])
        looked = f"looked beside the case, in the folders of --catalogue and of {VARIABLE}"
        hint = did_you_mean(near, looked)
        made.fault(f'catalogue: no file "{name}"; {hint}')
