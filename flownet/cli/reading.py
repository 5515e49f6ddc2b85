"""From words on the command line to a case, its scenarios and its changes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from flownet.casefile import load_case
from flownet.casefile.write import KIND_ORDER
from flownet.cli import faults
from flownet.cli.demos import CASE_FILE, catalogues, demos
from flownet.cli.settings import KeyValue
from flownet.enclosure.apply import covered
from flownet.enclosure.changes import converted
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.scenarios import expand, scenario_changes
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, nearest
from flownet.schema.text_file import written_value


def find(text: str) -> Path:
    """What CASE means: a file, a folder, or the name of a demo."""
    path = Path(text)
    try:
        if path.exists():
            return path
    except OSError:  # a folder that may not be read: reading says so
        return path
    if text in (known := demos()):
        return known[text]
    near = [item.name for item in path.parent.glob("*")
            if item.suffix == ".toml" or (item / CASE_FILE).is_file()]  # fmt: skip
    new = path.name.removesuffix(".toml")
    begin = "flownet new NAME" if new.startswith("-") else f"flownet new {new}"
    hint = did_you_mean(nearest(path.name, near), f"{begin} writes one to start from")
    raise CaseError(Fault(text, "no such file or folder", hint=hint))


def hides_demo(text: str) -> bool:
    """Whether a file or folder stands in front of the demo of its name."""
    try:
        own = demos().get(text)
        return own is not None and Path(text).exists() and not Path(text).samefile(own)
    except OSError:  # a folder that may not be read: reading says so
        return False


def load(text: str, catalogue: Sequence[Path]) -> Enclosure:
    """The case that CASE means; where a file or folder hides a demo of its name, a word of it."""
    path, context = find(text), click.get_current_context(silent=True)
    talks = context is not None and not (context.resilient_parsing or context.params.get("quiet"))
    if talks and hides_demo(text):
        faults.say(f"{text}: the one in this folder, not the demo of that name")
    return load_case(path, catalogue=[named_catalogue(path) for path in catalogue])


def named_catalogue(path: Path) -> Path:
    """A catalogue of the demos by its name; any other path as it is."""
    return path if path.exists() else catalogues().get(str(path), path)


def written_order(case: Enclosure) -> list[str]:
    """Kinds in the order in which a case is written."""
    return sorted(
        case.things, key=lambda k: KIND_ORDER.index(k) if k in KIND_ORDER else len(KIND_ORDER)
    )


def scenarios(
    case: Enclosure, names: Sequence[str], variant: str | None = None, *, idle: bool = False
) -> list[str]:
    """Scenarios one by one, `each-fan-out` worked out for the fans that run in a variant.

    CaseError where a name is unknown, and, unless `idle`, where nothing runs that could fail.
    """
    case = case.under(variant=variant or "base")
    found: list[str] = []
    faults: list[str] = []
    for name in names or ["base"]:
        expanded = expand(case, name)
        if not expanded and not idle:
            faults.append(f'scenario "{name}": nothing runs that could fail')
        for one in expanded:
            try:
                scenario_changes(case, one)
            except CaseError as error:
                faults += error.faults
        found += expanded
    if faults:
        raise CaseError(list(dict.fromkeys(faults)))
    return list(dict.fromkeys(found))


def changes(case: Enclosure, settings: Sequence[KeyValue]) -> dict[str, Any]:
    """Values of `--set`, read as in a case file; CaseError with every fault."""
    found: dict[str, Any] = {}
    faults: list[str] = []
    for setting in settings:
        try:
            value = converted(case, setting.key, _value(setting), file=True)
            found = covered(case, found, {setting.key: value})
        except CaseError as error:
            faults += [f"--set {fault}" for fault in error.faults]
    if faults:
        raise CaseError(faults)
    return found


def _value(setting: KeyValue) -> Any:
    try:
        return written_value(setting.value)
    except CaseError as error:
        raise error.at(setting.key) from None
