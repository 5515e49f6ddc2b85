"""Names of operating conditions and designs -> their changes: `hot+fan.left-out`, `no-shelf`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flownet.enclosure.outages import EACH, outage, outage_names
from flownet.enclosure.relative import is_relative, joined, members, settled
from flownet.enclosure.values import objects
from flownet.enclosure.whole import Changes, Enclosure
from flownet.errors import CaseError
from flownet.things import KINDS, Role, nearest, roles


def expand(case: Enclosure, scenario: str) -> list[str]:
    """`hot+each-fan-out` as one name per fan that runs then; other names as themselves.

    Unknown names are not refused here but by `scenario_changes`.
    """
    found = [""]
    for name in map(str.strip, scenario.split("+")):
        found = [f"{a}+{b}" if a else b for a in found for b in _options(case, a, name)]
    return found


def _options(case: Enclosure, before: str, name: str) -> list[str]:
    if name not in EACH:
        return [name]
    try:
        now = _after(case, before, scenario_changes(case, before or "base"))
    except CaseError:  # its own fault, told by whoever applies it
        now = case
    return [item.name for item in EACH[name].each(now)]


def scenario_changes(case: Enclosure, scenario: str) -> dict[str, Any]:
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


def variant_changes(case: Enclosure, variant: str) -> Mapping[str, Any]:
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
        raise CaseError(f'variant "{variant}": no such variant{hint}')
    return case.variants[variant]


def covered(case: Enclosure, first: Changes, then: Changes) -> dict[str, Any]:
    """Changes followed by others, without those that have no effect any more.

    A relative change acts on what was set before it. CaseError where that leads out of a range.
    """
    kept = dict(first)
    for path, value in then.items():
        if is_relative(value) and is_relative(value, _role(case, path)):
            kept = _followed(case, kept, path, value)
            continue
        kept = {old: v for old, v in kept.items() if not _covers(case, path, old)}
        kept[path] = value
    return kept


def outlasts(case: Enclosure, path: str, then: Changes) -> bool:
    """Whether anything of a change at a path is left after these."""
    return not any(_covers(case, p, path) for p, value in then.items() if not is_relative(value))


def _role(case: Enclosure, path: str) -> Role | None:
    place = case.places(path)[0]
    return roles(KINDS[place.kind]).get(place.key)


def _followed(case: Enclosure, kept: dict[str, Any], path: str, text: str) -> dict[str, Any]:
    """Changes and then a relative one: by a path of its own, or worked into what it acts on."""
    if path not in kept:
        return {**kept, path: text}
    here = {place.path for place in case.places(path)}
    later = list(kept)[list(kept).index(path) + 1 :]
    between = {old for old in later if here & {place.path for place in case.places(old)}}
    if not between:
        return {**kept, path: _worked_in(case, path, kept[path], text)}
    single: dict[str, Any] = {}  # thing by thing, in their order
    for old, value in (*kept.items(), (path, text)):
        apart = old == path or old in between
        paths = [place.path for place in case.places(old)] if apart else [old]
        single = covered(case, single, dict.fromkeys(paths, value))
    return single


def _worked_in(case: Enclosure, path: str, before: Any, text: str) -> Any:
    """One value for both: of a change, and of a relative one after it."""
    if is_relative(before):
        return joined(before, text)
    if any(map(is_relative, each := members(before))):
        return objects([_worked_in(case, path, value, text) for value in each])
    from flownet.enclosure.changes import role_of, steps  # noqa: PLC0415 - it needs this module

    place = case.places(path)[0]
    now = {step.place: step.value for step in steps(case, {place.path: before})}
    return settled(case, place, role_of(place), text, now)


def _covers(case: Enclosure, path: str, old: str) -> bool:
    """Whether a change at `path` leaves nothing of one at `old`."""
    if path == old or old.startswith(path + "."):
        return True
    if "*" not in path:
        return False
    wide = [place.path for place in case.places(path)]
    return all(
        any(place.path == here or place.path.startswith(here + ".") for here in wide)
        for place in case.places(old)
    )


def _one(case: Enclosure, place: int, whole: str, before: Changes) -> Mapping[str, Any]:
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
    where = f'scenario "{whole}": ' if whole != name else ""
    raise CaseError(f'{where}no scenario "{name}"{_hint(name, near, ["base", *known])}')


def _after(case: Enclosure, scenario: str, changes: Changes) -> Enclosure:
    """The case in a scenario of these changes, as far as they can matter for what fails.

    The last one is kept: one outage after the other is asked for in it.
    """
    if not any(path.startswith(("fan.", "fan_type.", "supply.")) for path in changes):
        return case
    for known, name, made in _LAST:
        if known is case and name == scenario:
            return made
    made = case.with_changes(changes)
    _LAST[:] = [(case, scenario, made)]
    return made


_LAST: list[tuple[Enclosure, str, Enclosure]] = []  # a case, a scenario, the case in it


def _hint(word: str, near: list[str], known: list[str]) -> str:
    close = nearest(word, near)
    return f'; did you mean "{close}"?' if close else f"; known: {', '.join(known)}"
