"""Which fan type serves at a place: every candidate accepted, or excluded with each reason."""

from __future__ import annotations

import dataclasses
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import FanType
from flownet.enclosure.outages import REST_UP
from flownet.results.solution import Solution, extra
from flownet.results.tables import html_table
from flownet.schema import quantities as q
from flownet.schema.component import convert, keys, nearest
from flownet.schema.errors import CaseError
from flownet.schema.quantities import Quantity
from flownet.solve import Progress, broken_in_layers
from flownet.studies.choice.eligibility import KINDS, Places, Reason, unfit
from flownet.studies.choice.fan_remarks import remarks
from flownet.studies.choice.fan_solved import SHOWN, UNKNOWN, Numbers, Solved
from flownet.studies.compare import expanded, scenarios_of
from flownet.studies.runs import Setup, solve_pairs
from flownet.studies.verdicts import Closeness, divided

Changes = Mapping[str, Any]
BEST = {  # what ranks -> the number, and what is said of the first
    "temperature": "margin", "noise": "noise", "power": "power", "price": "price", "life": "life",
}  # fmt: skip
ALIKE = 6  # decimals that rank; the rest is round-off
FRAME = keys(FanType)["frame"].role


@dataclass(frozen=True)
class Candidate:
    """One fan type at the place."""

    type: str
    rank: int  # 1 for the best; 0 where it is excluded
    reasons: tuple[Reason, ...]  # why it is excluded; empty where it is not
    remarks: tuple[Reason, ...]  # what is worth a word where it is not
    numbers: Numbers  # over all scenarios; NaN where it was not solved in each
    solved: bool  # whether it was solved in every scenario
    unjudged: bool = False  # a limit has no value somewhere, so that nobody knows whether it holds
    off: Closeness | None = None  # None where it has no solution in any scenario

    @property
    def accepted(self) -> bool:
        """Whether nothing excludes it."""
        return not self.reasons

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        return {
            "type": self.type, "rank": self.rank or None, "accepted": self.accepted,
            **self.numbers.to_dict(), "reasons": [item.to_dict() for item in self.reasons],
            "remarks": [item.to_dict() for item in self.remarks],
        }  # fmt: skip


@dataclass(frozen=True, repr=False, eq=False)
class FanChoice:
    """Fan types for a place: those that serve in rank order, then the others."""

    case: Enclosure  # with all candidates, in the variant that was asked for
    fans: tuple[str, ...]  # whose type is chosen, by path
    in_place: tuple[str, ...]  # the types that are there now
    scenarios: tuple[str, ...]
    by: str  # what ranks
    candidates: tuple[Candidate, ...]  # in rank order
    excluded: tuple[Candidate, ...]  # those with a solution first, the nearest of them first
    solved: Solved | None  # None where no candidate came so far

    @property
    def best(self) -> Candidate | None:
        """The first of those that serve; None where none does."""
        return self.candidates[0] if self.candidates else None

    @property
    def alike(self) -> bool:
        """Whether every type, of several, is excluded by the very same one reason."""
        first = self.excluded[0].reasons if self.excluded else ()
        every = all(item.reasons == first for item in self.excluded)
        return not self.candidates and len(self.excluded) > 1 and len(first) == 1 and every

    def candidate(self, type_: str) -> Candidate:
        """One candidate by the name of its type; CaseError where it was none."""
        every = {item.type: item for item in (*self.candidates, *self.excluded)}
        if type_ not in every:
            raise CaseError(f'"{type_}": was no candidate{_meant(type_, list(every))}')
        return every[type_]

    def solution(self, type_: str, scenario: str) -> Solution:
        """The whole solution of a candidate in a scenario.

        CaseError for one that was not solved because a cheap reason excludes it; NoSolution.
        """
        self.candidate(type_)
        if self.solved is None or type_ not in self.solved.types:
            raise CaseError(f'"{type_}": is excluded without a solve')
        if scenario not in self.scenarios:
            names = ", ".join(self.scenarios)
            raise CaseError(f'scenario "{scenario}": was not solved; there are {names}')
        place = self.scenarios.index(scenario), self.solved.types.index(type_)
        return self.solved.pairs.select(int(self.solved.index[place]))

    @property
    def counts(self) -> dict[str, int]:
        """How many are excluded by each kind of reason; the first reason of each counts."""
        found = Counter(item.reasons[0].kind for item in self.excluded)
        return {kind: found[kind] for kind in KINDS if found[kind]}

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """What is found, in sentences: the best one first, then what stands there now."""
        return tuple(_sentences(self, units))

    @property
    def verdict(self) -> str:
        """The first of them."""
        return self.verdicts()[0]

    def __repr__(self) -> str:
        return f'<FanChoice "{self.case.title}" {", ".join(self.fans)}: {self.verdict}>'

    def _repr_html_(self) -> str:
        """Those that serve, then the others with their reasons, for notebooks."""
        heads = ("type", "rank", *SHOWN, "reasons")
        rows = [
            (item.type, str(item.rank or ""), *(
                _text(quantity, getattr(item.numbers, name), "metric")
                for name, quantity in SHOWN.items()
            ), "; ".join(reason.message() for reason in item.reasons))
            for item in (*self.candidates, *self.excluded)
        ]  # fmt: skip
        return html_table(repr(self), heads, rows)

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        return {
            "command": "choose", "verdict": list(self.verdicts()), "fans": list(self.fans),
            "in_place": list(self.in_place), "scenarios": list(self.scenarios), "best": self.by,
            "accepted": [item.to_dict() for item in self.candidates],
            "excluded": [item.to_dict() for item in self.excluded],
        }  # fmt: skip

    def rows(self) -> list[dict[str, Any]]:
        """One plain row a candidate, reasons and remarks in words."""
        found = []
        for item in (*self.candidates, *self.excluded):
            row = item.to_dict()
            for name in ("reasons", "remarks"):
                row[name] = "; ".join(each["message"] for each in row[name]) or None
            found.append(row)
        return found

    def to_frame(self) -> Any:
        """A pandas DataFrame, one row a candidate; ImportError without pandas, an extra."""
        return extra("pandas").DataFrame(self.rows())


def choose_fan(
    case: Enclosure, fan: str, *, scenarios: Sequence[str] | None = None,
    best: str = "temperature", variant: str = "base", changes: Changes | None = None,
    frame: Any = None, executor: Executor | None = None, progress: Progress | None = None,
) -> FanChoice:  # fmt: skip
    """Every fan type of a case at one place, or at several at once; see `flownet.choose`."""
    if best not in BEST:
        raise CaseError(f'best: one of {", ".join(BEST)} is wanted (got "{best}")'
                        f"{_meant(best, list(BEST))}")  # fmt: skip
    design = case.under(variant=variant)
    places = _places(design, fan, scenarios, changes or {}, frame)
    names = [name for name in design.things["fan_type"] if ".rating." not in name]
    barred = {name: unfit(places, name) for name in names}
    tried = tuple(name for name in names if not barred[name])
    solved = None
    if tried:
        solved = _solve(places, tried, changes or {}, executor, progress)
    good: list[Candidate] = []
    bad = [Candidate(n, 0, tuple(r), (), UNKNOWN, False) for n, r in barred.items() if r]
    for number, name in enumerate(tried):
        made = _judged(places, solved, number, name)
        (good if made.accepted else bad).append(made)
    good.sort(key=lambda item: _order(item, best))
    ranked = tuple(dataclasses.replace(item, rank=i) for i, item in enumerate(good, 1))
    bad.sort(key=_nearness)
    present = tuple(dict.fromkeys(each.type for each in places.fans))
    return FanChoice(places.design, places.paths, present, tuple(places.made), best, ranked,
                     tuple(bad), solved)  # fmt: skip


# --- where ----------------------------------------------------------------------------------------


def _places(
    design: Enclosure, fan: str, scenarios: Sequence[str] | None, changes: Changes, frame: Any
) -> Places:
    names = _named(design, fan)
    given = {place.path for path in changes for place in design.places(path)}
    if taken := [name for name in names if f"fan.{name}.type" in given]:
        raise CaseError(f"fan.{taken[0]}.type: is what is chosen; leave it as it is")
    rows, asked = expanded(design, scenarios_of(design, scenarios), ["base"])
    made = {}
    for name in rows:
        here = design.under(name)
        made[name] = here.with_changes(changes) if changes else here
        if other := [n for n in names if here.fans[n].type != design.fans[n].type]:
            raise CaseError(
                f'scenario "{name}": sets fan.{other[0]}.type, which is what is chosen; name '
                "others with scenarios (-s)"
            )
    changed = design.with_changes(changes) if changes else design
    fans = tuple(changed.fans[name] for name in names if changed.fans[name].state != "blanked")
    if not fans:
        raise CaseError(f"{_path(fan)}: is blanked; choose for a fan that runs, or name the "
                        "variant in which it does")  # fmt: skip
    return Places(changed, fans, MappingProxyType(made), _frame(frame),
                  tuple(asked["base"][name] for name in rows))  # fmt: skip


def _path(fan: str) -> str:
    return fan if fan.startswith("fan.") else f"fan.{fan}"


def _named(design: Enclosure, fan: str) -> list[str]:
    """The fans that a path or a pattern means."""
    path = _path(fan)
    if not design.fans:
        raise CaseError(f"{path}: the case has no fan")
    if "*" in path:
        return [place.name for place in design.places(f"{path}.type")]
    name = path.removeprefix("fan.")
    if name not in design.fans:
        said = fan if "." in fan else path
        raise CaseError(f"{said}: no such fan{_meant(name, list(design.fans))}")
    return [name]


def _meant(word: str, known: list[str]) -> str:
    close = nearest(word, known)
    return f'; did you mean "{close}"?' if close else f"; there are {', '.join(known)}"


def _frame(frame: Any) -> tuple[float, float] | str | None:
    if frame is None or frame == "any":
        return frame  # type: ignore[no-any-return]  # one of the two
    try:
        size, depth = convert(FRAME, frame)
    except CaseError as error:
        hint = '"any", or size and depth such as "119 x 38 mm"'
        raise CaseError(f"frame: {error}; {hint}") from None
    return size, depth


# --- solving --------------------------------------------------------------------------------------


def _solve(
    places: Places, types: tuple[str, ...], changes: Changes, executor: Executor | None,
    progress: Progress | None,
) -> Solved:  # fmt: skip
    """All candidates in all scenarios as one batch.

    The type is a column. Where what a scenario does depends on the type (others go to the top of
    its range), each candidate is a variant of its own.
    """
    own = {path: MappingProxyType({f"{p}.type": path for p in places.paths}) for path in types}
    source = dataclasses.replace(places.design, variants=MappingProxyType(own))
    setups = [setup for name in places.made for setup in _setups(places, types, name, changes)]
    found = solve_pairs(source, setups, executor=executor, progress=progress)
    index = np.arange(len(found)).reshape(len(places.made), len(types))
    return Solved(places, types, found, index, places.asked)


def _setups(places: Places, types: tuple[str, ...], scenario: str, changes: Changes) -> list[Setup]:
    if REST_UP in scenario:
        return [Setup(scenario, name, changes) for name in types]
    column = np.array(types, object)
    return [Setup(scenario, "base", {**changes, **{f"{p}.type": column for p in places.paths}})]


def _judged(places: Places, solved: Solved | None, number: int, name: str) -> Candidate:
    assert solved is not None  # only candidates that were solved are judged
    reasons = solved.reasons(number)
    whole = bool(solved.ok[:, number].all())
    numbers = solved.numbers(number) if whole else UNKNOWN
    said = () if reasons else (*solved.dips(number), *remarks(places, name, numbers))
    off = solved.closeness(number, reasons) if solved.ok[:, number].any() else None
    order = list(KINDS)
    reasons.sort(key=lambda reason: order.index(reason.kind))
    return Candidate(name, 0, tuple(reasons), said, numbers, whole, solved.unjudged(number), off)


# --- order ----------------------------------------------------------------------------------------


def _order(item: Candidate, best: str) -> tuple[Any, ...]:
    """What may break a limit comes last; L10 before a mean; then by temperature."""
    value = float(getattr(item.numbers, BEST[best]))
    more = best in ("temperature", "life")
    missing = math.isnan(value)
    rank = 0.0 if missing else round(-value if more else value, ALIKE)
    mean = best == "life" and item.numbers.life_kind == "mean"
    margin = item.numbers.margin
    second = math.inf if math.isnan(margin) else -round(margin, ALIKE)
    return item.unjudged, missing, mean, rank, second, item.type


def _nearness(item: Candidate) -> tuple[Any, ...]:
    """Those with a solution before others, as a comparison orders variants."""
    kinds = {reason.kind for reason in item.reasons}
    first = 0 if item.off else list(KINDS).index(item.reasons[0].kind)
    margin = item.numbers.margin
    far = math.inf if math.isnan(margin) else -round(margin, ALIKE)
    return item.off is None, *(item.off or ()), len(kinds), first, far, item.type


# --- in words -------------------------------------------------------------------------------------


def _sentences(found: FanChoice, units: str) -> Any:
    if found.alike:
        why = f"all {len(found.excluded)} for one reason: {_told(found.excluded[0], units)}"
        yield f"no type holds {_where(found)}, {why}"
        return
    yield f"{_first(found, units)}{_counted(found)}"
    if found.best is not None:
        every = (
            broken_in_layers(found.solution(found.best.type, name)) for name in found.scenarios
        )
        broken = [item for items in every for item in items[:1]]
        yield from divided(sorted(broken, key=lambda item: item.margin)[:1], units)
    for name in found.in_place:
        item = found.candidate(name)
        if item.reasons:
            yield f"{name}, in place now, is excluded: {_told(item, units)}"
        elif item is not found.best:
            yield f"{name}, in place now, is number {item.rank} by {found.by}"


def _first(found: FanChoice, units: str) -> str:
    best, where = found.best, _where(found)
    if best is not None:
        words = f"{best.type} {_holds(found, best)} {where}{_spare(best.numbers, units)}"
        name = BEST[found.by]
        if name not in ("margin", "noise"):
            value = getattr(best.numbers, name)
            known = not math.isnan(value)
            kind = f"{best.numbers.life_kind} life" if name == "life" else name
            words += f", {kind} " + (_text(SHOWN[name], value, units) if known else "not stated")
        return words
    near = [item for item in found.excluded if item.off]
    if not near:
        return f"no type holds {where}, none could be {'tried' if not found.solved else 'solved'}"
    return f"no type holds {where}; {near[0].type} comes closest: {_told(near[0], units)}"


def _where(found: FanChoice) -> str:
    return "everywhere" if len(found.scenarios) > 1 else f"in {found.scenarios[0]}"


def _holds(found: FanChoice, item: Candidate) -> str:
    assert found.solved is not None
    if not found.solved.pairs.limits:
        return "runs, without a limit to hold,"
    return "breaks no limit that has a value" if item.unjudged else "holds"


def _spare(numbers: Numbers, units: str) -> str:
    margin = _text(q.DIFFERENCE, numbers.margin, units)
    words = f" with {margin} to spare" if margin else ""
    noise = _text(q.LEVEL, numbers.noise, units)
    return words + (f" at {noise}" if noise else ", noise not stated")


def _told(item: Candidate, units: str) -> str:
    more = len(item.reasons) - 1
    words = f" (and {more} more reason{'s' if more > 1 else ''})" if more else ""
    return item.reasons[0].message(units) + words


def _counted(found: FanChoice) -> str:
    if not found.excluded:
        return ""
    whole = len(found.candidates) + len(found.excluded)
    counts = ", ".join(f"{count} {KINDS[kind]}" for kind, count in found.counts.items())
    return f"; {len(found.excluded)} of {whole} excluded: {counts}"


def _text(quantity: Quantity, value: float, units: str) -> str:
    return "" if math.isnan(value) else quantity.shown(units).text(value)
