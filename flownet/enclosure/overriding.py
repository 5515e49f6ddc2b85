"""What a scenario takes from a variant: where it sets a value anew, designs look alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from flownet import quantities as q
from flownet.enclosure.changes import scenario_changes, steps, variant_changes
from flownet.enclosure.outages import EACH, outage
from flownet.enclosure.relative import is_relative
from flownet.enclosure.whole import Changes, Enclosure, Place
from flownet.errors import CaseError
from flownet.things import NONE, Number, Role, given

NAMED = 2  # paths named one by one
BY_HAND = "--set"  # stands for changes beside scenario and variant


class Overridden(NamedTuple):
    """Values that a variant has set and a scenario sets anew."""

    scenario: str  # the one that does it, not joined; `--set` for changes beside them
    variant: str
    sets: tuple[str, ...]  # paths that the scenario sets
    lost: tuple[str, ...]  # for each the path that the variant has set
    role: Role  # of the first

    @property
    def message(self) -> str:
        """Who takes what from whom."""
        who = self.scenario if self.scenario == BY_HAND else f"scenario {self.scenario}"
        values = f"value{'s are' if len(set(self.lost)) > 1 else ' is'} lost there"
        if self.sets == self.lost:
            return (
                f"{who} sets {_few(self.sets)} absolutely, which variant {self.variant} has set: "
                f"the variant's {values}"
            )
        return (
            f"{who} sets {_few(self.sets)}, which takes back {_few(self.lost)} that variant "
            f"{self.variant} has set: the variant's {values}"
        )

    @property
    def hint(self) -> str:
        """What to write instead."""
        if not isinstance(self.role, Number) or self.sets != self.lost:
            return "leave it out of the scenario, or set it in a scenario of its own"
        return f'write it relative, such as {self.sets[0]} = "{_example(self.role)}"'


def _few(paths: Sequence[str]) -> str:
    paths = list(dict.fromkeys(paths))
    more = len(paths) - NAMED
    return ", ".join(paths[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _example(role: Number) -> str:
    if role.quantity == q.TEMPERATURE:
        return "+ 5 K"
    return "+ 3 dB" if role.quantity == q.LEVEL else "* 1.2"


def overridden(
    case: Enclosure, scenario: str, variant: str, changes: Changes = NONE
) -> list[Overridden]:
    """Which values of a variant are lost in a scenario, and in changes after it.

    Relative changes take nothing away, nor do outages: what they stop, the variant let run. Looks
    at single values: `*` is worked out, keys that exclude one another and `type` count.
    """
    design = variant_changes(case, variant)
    if not design:
        return []
    own = {step.place: step.value for step in steps(case, design) if _sets(step.value)}
    made = case.with_changes(design)
    found: list[Overridden] = []
    parts = [name.strip() for name in scenario.split("+")]
    written = {
        name: scenario_changes(made, name) for name in parts
        if name not in EACH and outage(made, name) is None
    }  # fmt: skip
    for name, values in (*written.items(), (BY_HAND, changes)):
        found += _taken(made, own, (name, variant), values)
    return found


def _sets(value: Any) -> bool:
    return not isinstance(value, float) or given(value)


def _taken(
    case: Enclosure, own: dict[Place, Any], names: tuple[str, str], changes: Changes
) -> Iterator[Overridden]:
    """What single changes of one scenario take, a line for each path of it."""
    for path, value in changes.items():
        if is_relative(value):
            continue
        done = list(steps(case, {path: value}))
        first = next((step for step in done if _sets(step.value)), None)
        lost = [step.place.path for step in done
                if step.place in own and not _kept(own[step.place], step.value)]  # fmt: skip
        if not lost or first is None:
            continue
        written = [place.path for place in case.places(path)]
        itself = all(any(f"{p}.".startswith(f"{here}.") for here in written) for p in lost)
        sets = lost if itself else [path]
        yield Overridden(*names, tuple(sets), tuple(lost), first.role)


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
    pairs = [(row, column) for column in variants for row in scenarios]
    seen: set[tuple[str, str]] = set()
    for scenario, variant in pairs:
        parts = {(name.strip(), variant) for name in scenario.split("+")}
        if parts <= seen:
            continue
        seen |= parts
        for each in overridden(case, scenario, variant, changes):
            found.setdefault(each, scenario)
    return tuple(_sentence(case, each, scenario) for each, scenario in found.items())


def _sentence(case: Enclosure, each: Overridden, scenario: str) -> str:
    same = each.scenario != BY_HAND and alike(case, scenario, each.variant)
    base = f", and {each.variant} is base in {scenario}" if same else ""
    return f"{each.message}{base}; {each.hint}"
