"""Names of operating conditions and designs -> their changes: `hot+fan.left-out`, `no-shelf`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flownet.enclosure.apply import applied, covered
from flownet.enclosure.contents import Changes, Contents
from flownet.enclosure.outages import EACH, outage, outage_names
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, nearest


def expand(case: Contents, scenario: str) -> list[str]:
    """`hot+each-fan-out` as one name per fan that runs then; other names as themselves.

    Unknown names are not refused here but by `scenario_changes`.
    """
    found = [""]
    for name in map(str.strip, scenario.split("+")):
        found = [f"{a}+{b}" if a else b for a in found for b in _options(case, a, name)]
    return found


def _options(case: Contents, before: str, name: str) -> list[str]:
    if name not in EACH:
        return [name]
    try:
        now = _after(case, before, scenario_changes(case, before or "base"))
    except CaseError:  # its own fault, told by whoever applies it
        now = case
    return [item.name for item in EACH[name].each(now)]


def scenario_changes(case: Contents, scenario: str) -> dict[str, Any]:
    """The changes of a scenario; `a+b` joins from left to right, later wins.

    Raises
    ------
    CaseError
        For a name that is not known or stands twice, and for one that stands for several
        scenarios.
    """
    changes: dict[str, Any] = {}
    names = [name.strip() for name in scenario.split("+")]
    for place, name in enumerate(names):
        if name in names[:place]:
            raise CaseError(f'scenario "{scenario}": {name} stands twice; name it once')
        changes = covered(case, changes, _one(case, place, scenario, changes))
    return changes


def variant_changes(case: Contents, variant: str) -> Mapping[str, Any]:
    """The changes of a variant; CaseError for a name that is not known."""
    if variant == "base":
        return {}
    if variant not in case.variants:
        parts = [name.strip() for name in variant.split("+")]
        if len(parts) > 1 and all(name in ("base", *case.variants) for name in parts):
            raise CaseError(
                f'variant "{variant}": variants are not joined by +, as scenarios are; name one, '
                "or write a variant with the changes of both"
            )
        hint = _hint(variant, list(case.variants), ["base", *case.variants])
        raise CaseError(Fault(f'variant "{variant}"', "no such variant", hint=hint))
    return case.variants[variant]


def _one(case: Contents, place: int, whole: str, before: Changes) -> Mapping[str, Any]:
    """The changes of the name at a place of a scenario, after those before it."""
    name = whole.split("+")[place].strip()
    if name == "base":
        return {}
    if name in case.scenarios:
        return case.scenarios[name]
    if name in EACH:
        raise CaseError(
            f'scenario "{whole}": {name} stands for several scenarios; '
            "name one of them here, compare takes many"
        )
    if (failed := outage(case, name)) is not None:
        prefix = "+".join(whole.split("+")[:place])
        return failed.changes(_after(case, prefix, before))
    known = [*case.scenarios, *(item for item in outage_names(case) if item.endswith("-out"))]
    near = [*case.scenarios, *outage_names(case), *EACH]
    where = f'scenario "{whole}"' if whole != name else ""
    hint = _hint(name, near, ["base", *known])
    raise CaseError(Fault(where, f'no scenario "{name}"', hint=hint))


def _after(case: Contents, scenario: str, changes: Changes) -> Contents:
    """The case in a scenario of these changes, as far as they can matter for what fails.

    The last one is kept: one outage after the other is asked for in it.
    """
    if not any(path.startswith(("fan.", "fan_type.", "supply.")) for path in changes):
        return case
    for known, name, made in _LAST:
        if known is case and name == scenario:
            return made
    made = applied(case, changes)
    _LAST[:] = [(case, scenario, made)]
    return made


_LAST: list[tuple[Contents, str, Contents]] = []  # a case, a scenario, the case in it


def _hint(word: str, near: list[str], known: list[str]) -> str:
    return did_you_mean(nearest(word, near), f"known: {', '.join(known)}")
