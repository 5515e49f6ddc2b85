"""What a scenario takes from a variant or a choice: set anew, designs look alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from flownet.enclosure.changes import Assignment, steps
from flownet.enclosure.contents import Changes, Place, ratings
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import FanType
from flownet.enclosure.outages import EACH, outage
from flownet.enclosure.relative import is_relative
from flownet.enclosure.scenarios import scenario_changes, variant_changes
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.fault import listed
from flownet.schema.fields import NONE, Number, get, given, roles

PATHS_NAMED = 2  # paths named one by one
BY_HAND = "--set"  # stands for changes beside scenario and variant
VARIANT = "variant"
UNITS = {q.TEMPERATURE: "K", q.LEVEL: "dB"}  # of what has no factor


class Overridden(NamedTuple):
    """Values of a variant, or that a choice varies, which a scenario sets anew."""

    scenario: str  # the one that does it, not joined; `--set` for changes beside them
    kind: str  # variant, choice
    name: str
    sets: tuple[str, ...]  # paths that the scenario sets
    lost: tuple[str, ...]  # for each the path that is lost
    instead: str = ""  # a relative change that does the same to the case; empty where none does

    @property
    def message(self) -> str:
        """Who takes what from whom."""
        who = self.scenario if self.scenario == BY_HAND else f"scenario {self.scenario}"
        has = "has set" if self.kind == VARIANT else "varies"
        values = f"value{'s are' if len(set(self.lost)) > 1 else ' is'} lost there"
        if self.kind != VARIANT:
            values = "values do not act there"
        if self.sets == self.lost:
            return (
                f"{who} sets {_few(self.sets)} absolutely, which {self.kind} {self.name} {has}: "
                f"the {self.kind}'s {values}"
            )
        return (
            f"{who} sets {_few(self.sets)}, which takes back {_few(self.lost)} that {self.kind} "
            f"{self.name} {has}: the {self.kind}'s {values}"
        )

    @property
    def hint(self) -> str:
        """What to write instead."""
        if not self.instead:
            where = self.scenario if self.scenario == BY_HAND else "the scenario"
            return f"leave it out of {where}, or set it in a scenario of its own"
        return f'write it relative, such as {self.sets[0]} = "{self.instead}"'


def _few(paths: Sequence[str]) -> str:
    return listed(dict.fromkeys(paths), PATHS_NAMED, last=", ")


def _instead(case: Enclosure, step: Assignment) -> str:
    """The relative change that makes of the value of the case what a scenario sets."""
    role, after = step.role, step.value
    if not isinstance(role, Number) or not isinstance(after, float):
        return ""
    before = get(case.things[step.place.kind][step.place.name], step.place.key)
    if not given(before):
        return ""
    if role.quantity in UNITS:
        more = after - before
        return f"{'-' if more < 0 else '+'} {abs(more):.4g} {UNITS[role.quantity]}" if more else ""
    return f"* {after / before:.4g}" if before and after and after != before else ""


def overridden(
    case: Enclosure, scenario: str, variant: str, changes: Changes = NONE
) -> list[Overridden]:
    """Which values of a variant are lost in a scenario, and in changes after it.

    Relative changes take nothing away, nor do outages: what they stop, the variant let run. Looks
    at single values: `*` is worked out, keys that exclude one another and `type` count.
    """
    return next(of_pairs(case, [(scenario, variant)], changes))


def of_pairs(
    case: Enclosure, pairs: Iterable[tuple[str, str]], changes: Changes = NONE
) -> Iterator[list[Overridden]]:
    """What `overridden` says of each scenario and variant; each variant is made once."""
    designs: dict[str, tuple[Enclosure, dict[Place, list[Any]]]] = {}
    for scenario, variant in pairs:
        if variant not in designs:
            design = variant_changes(case, variant)
            sets = {step.place: [step.value] for step in steps(case, design) if _sets(step.value)}
            designs[variant] = case.with_changes(design) if design else case, sets
        made, own = designs[variant]
        found: list[Overridden] = []
        for name, values in (*_written(made, scenario).items(), (BY_HAND, changes)) if own else ():
            found += _taken((case, made), own, (name, VARIANT, variant), values)
        yield found


def of_choice(
    case: Enclosure, name: str, varied: Mapping[str, Sequence[Any]], scenarios: Iterable[str]
) -> tuple[str, ...]:
    """A sentence for everything that scenarios take from a choice; `varied`: path -> values."""
    own: dict[Place, list[Any]] = {}
    for path, values in varied.items():
        for value in values:
            for step in steps(case, {path: value}):
                if _sets(step.value):
                    own.setdefault(step.place, []).append(step.value)
    written: dict[str, Changes] = {}
    for scenario in scenarios:
        written |= _written(case, scenario)
    found = (each for one, changes in written.items()
             for each in _taken((case, case), own, (one, "choice", name), changes))  # fmt: skip
    return tuple(f"{each.message}; {each.hint}" for each in found)


def _written(case: Enclosure, scenario: str) -> dict[str, Changes]:
    """What the parts of a scenario that are no outages change, each by itself."""
    return {
        name: scenario_changes(case, name) for name in map(str.strip, scenario.split("+"))
        if name not in EACH and outage(case, name) is None
    }  # fmt: skip


def _sets(value: Any) -> bool:
    return not isinstance(value, float) or given(value)


def _taken(
    cases: tuple[Enclosure, Enclosure], own: Mapping[Place, Sequence[Any]],
    names: tuple[str, str, str], changes: Changes,
) -> Iterator[Overridden]:  # fmt: skip
    """What single changes of one scenario take, a line for each path of it.

    `cases`: without the values that can be lost, and with them.
    """
    before, case = cases
    for path, value in changes.items():
        if is_relative(value):
            continue
        done = list(steps(case, {path: value}))
        first = next((step for step in done if _sets(step.value)), None)
        lost = [step.place.path for step in done if step.place in own
                and not all(_kept(one, step.value) for one in own[step.place])]  # fmt: skip
        if not lost:
            lost = [place.path for place in _unused(case, done, own)]
        if not lost or first is None:
            continue
        written = [place.path for place in case.places(path)]
        itself = all(any(f"{p}.".startswith(f"{here}.") for here in written) for p in lost)
        sets = lost if itself else [path]
        instead = _instead(before, first) if itself else ""
        yield Overridden(*names, tuple(sets), tuple(lost), instead)


def _unused(
    case: Enclosure, done: Sequence[Assignment], own: Mapping[Place, Any]
) -> Iterator[Place]:  # fmt: skip
    """Those of fan types that no fan has any more once types are set anew."""
    types = {s.place.name: s.value for s in done if s.place.kind == "fan" and s.place.key == "type"}
    left = {types.get(name, fan.type) for name, fan in case.fans.items()}
    for name in {case.fans[fan].type for fan in types} - left:
        names = [rating.name for rating in ratings(case.things["fan_type"], name)]
        for key in roles(FanType):
            yield from [p for p in (Place("fan_type", n, key) for n in names) if p in own][:1]


def _kept(before: Any, value: Any) -> bool:
    """Whether nothing is lost: the same again, or a fan that the variant runs is stopped."""
    stops = before == "running" and value in ("stopped", "freewheeling")
    return bool(stops or (type(before) is type(value) and before == value))


def alike(case: Enclosure, scenario: str, variant: str) -> bool:
    """Whether a variant is base in a scenario; not where one of them cannot be made."""
    try:
        return case.under(scenario, variant).things == case.under(scenario).things
    except CaseError:
        return False


def notes(
    case: Enclosure, scenarios: Iterable[str], variants: Iterable[str], changes: Changes = NONE
) -> tuple[str, ...]:
    """A sentence for everything that scenarios take from variants, each once."""
    found: dict[Overridden, str] = {}
    pairs = []
    seen: set[tuple[str, str]] = set()
    for scenario, variant in ((row, column) for column in variants for row in scenarios):
        parts = {(name.strip(), variant) for name in scenario.split("+")}
        if not parts <= seen:
            pairs.append((scenario, variant))
        seen |= parts
    for (scenario, _), lost in zip(pairs, of_pairs(case, pairs, changes), strict=True):
        for each in lost:
            found.setdefault(each, scenario)
    return tuple(_sentence(case, each, scenario) for each, scenario in found.items())


def _sentence(case: Enclosure, each: Overridden, scenario: str) -> str:
    same = each.scenario != BY_HAND and alike(case, scenario, each.name)
    base = f", and {each.name} is base in {scenario}" if same else ""
    return f"{each.message}{base}; {each.hint}"
