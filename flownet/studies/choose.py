"""Choosing: a fan type for a place, or values for what the case leaves open."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from concurrent.futures import Executor
from types import MappingProxyType
from typing import Any, overload

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import FanType
from flownet.enclosure.outages import REST_UP
from flownet.judging.assessment import ALIKE
from flownet.schema import argument_checks
from flownet.schema.convert import convert
from flownet.schema.errors import CaseError
from flownet.schema.fields import keys
from flownet.solving.solve import Progress
from flownet.studies.choice.axes import Catalogue, with_catalogue
from flownet.studies.choice.eligibility import REASON_KINDS, FanPlaces, unfit
from flownet.studies.choice.fan_remarks import remarks
from flownet.studies.choice.fan_result import Candidate, FanChoice, meant
from flownet.studies.choice.fan_solved import NO_NUMBERS, Solved
from flownet.studies.choice.order import MEASURES
from flownet.studies.choice.result import OptionChoice
from flownet.studies.choice.study import choose_options
from flownet.studies.compare import expanded, scenarios_of
from flownet.studies.runs import Run, evaluate

FRAME_ROLE = keys(FanType)["frame"].role
Best = str | Sequence[str] | None


@overload
def choose(
    case: Enclosure, fan: str, *, catalogue: Catalogue = ..., scenarios: Sequence[str] | None = ...,
    best: Best = ..., name: None = ..., variant: str = ..., changes: Changes | None = ...,
    frame: Any = ..., executor: Executor | None = ..., progress: Progress | None = ...,
) -> FanChoice: ...  # fmt: skip


@overload
def choose(
    case: Enclosure, fan: None = ..., *, catalogue: Catalogue = ...,
    scenarios: Sequence[str] | None = ..., best: Best = ..., name: str | None = ...,
    variant: str = ..., changes: Changes | None = ..., frame: None = ...,
    executor: Executor | None = ..., progress: Progress | None = ...,
) -> OptionChoice: ...  # fmt: skip


def choose(
    case: Enclosure, fan: str | None = None, *, catalogue: Catalogue = (),
    scenarios: Sequence[str] | None = None, best: Best = None, name: str | None = None,
    variant: str = "base", changes: Changes | None = None, frame: Any = None,
    executor: Executor | None = None, progress: Progress | None = None,
) -> FanChoice | OptionChoice:  # fmt: skip
    """Which fan type serves at a place: each accepted, or excluded with every reason and number.

    All that fit are solved in every scenario that decides; `FanChoice` says what excludes a type.
    Without a fan a `[choice.NAME]` of the case is chosen from: see `choose_options`.

    Parameters
    ----------
    fan : str, optional
        A fan by path or name, or a pattern such as `fan.*`: all that match get the same type;
        blanked ones have no say.
    catalogue : mapping or iterable of FanType, optional
        Types beside those of the case, as `load_fan_types` reads them.
    scenarios, changes, executor, progress : as for `compare`
    best : str or several, optional
        What ranks: "temperature" (largest least margin, the default for a fan), "noise", "power",
        "price" (least) or "life" (longest, L10 before means). What is not stated comes last. For a
        fan it is one of them, for a choice one or two of all but life, by default its own.
    name : str, optional; without a fan, which choice of the case
    variant : str, the design in which it is chosen
    frame : str or two numbers [m], optional
        Size and depth that the place takes, such as "119 x 38 mm"; "any" compares no frames.
        Default that of the type in place.

    Raises
    ------
    CaseError
        An unknown name or `best`; a fan that is blanked; a catalogue type unlike its namesake.
    """
    _check(case, best, frame if fan is None else None)
    if fan is not None:
        places, word = _asked(case, fan, catalogue, scenarios, best, name, variant, changes, frame)
        return _fan_choice(places, word, changes or {}, executor, progress)
    return choose_options(_design(case, variant, changes), name, best=best, scenarios=scenarios,
                          catalogue=catalogue, executor=executor, progress=progress)  # fmt: skip


def _check(case: Enclosure, best: Best, frame: Any) -> None:
    argument_checks.check("choose", case, Enclosure)
    if not isinstance(best, str):
        argument_checks.check_names("best", best)
    if frame is not None:
        raise CaseError("frame: belongs to the choice of a fan; name one, such as fan.NAME")


def _design(case: Enclosure, variant: str, changes: Changes | None) -> Enclosure:
    design = case.under(variant=variant)
    return design.with_changes(changes) if changes else design


def _asked(
    case: Enclosure, fan: str, catalogue: Catalogue, scenarios: Sequence[str] | None, best: Best,
    name: str | None, variant: str, changes: Changes | None, frame: Any,
) -> tuple[FanPlaces, str]:  # fmt: skip
    """Where a fan type is chosen, and what ranks; CaseError for what does not fit together."""
    if name is not None:
        raise CaseError(f'name: a fan is chosen, or a choice of this name (got "{name}" and {fan})')
    argument_checks.check_text("fan", fan, 'a fan is wanted by its name, such as "left"')
    words = [best] if isinstance(best, str) else list(best or ["temperature"])
    if len(words) > 1:
        raise CaseError(f"best: one word ranks the types of a fan (got {', '.join(words)})")
    design = with_catalogue(case, catalogue)
    if words[0] not in MEASURES:
        raise CaseError(f'best: one of {", ".join(MEASURES)} is wanted (got "{words[0]}")'
                        f"{meant(words[0], list(MEASURES))}")  # fmt: skip
    return _places(design.under(variant=variant), fan, scenarios, changes or {}, frame), words[0]


def _fan_choice(
    places: FanPlaces, best: str, changes: Changes, executor: Executor | None,
    progress: Progress | None,
) -> FanChoice:  # fmt: skip
    """Every fan type of a case at one place, or at several at once."""
    names = [name for name in places.design.things["fan_type"] if ".rating." not in name]
    barred = {name: unfit(places, name) for name in names}
    tried = tuple(name for name in names if not barred[name])
    solved = _solve(places, tried, changes, executor, progress) if tried else None
    made = [Candidate(n, 0, tuple(r), (), NO_NUMBERS, False) for n, r in barred.items() if r]
    if solved is not None:
        made += [_judged(places, solved, number, name) for number, name in enumerate(tried)]
    good = sorted((each for each in made if each.accepted), key=lambda item: _order(item, best))
    bad = sorted((each for each in made if not each.accepted), key=_nearness)
    ranked = tuple(dataclasses.replace(item, rank=i) for i, item in enumerate(good, 1))
    present = tuple(dict.fromkeys(each.type for each in places.fans))
    return FanChoice(places.design, places.paths, present, tuple(places.made), best, ranked,
                     tuple(bad), solved)  # fmt: skip


# --- where ----------------------------------------------------------------------------------------


def _places(
    design: Enclosure, fan: str, scenarios: Sequence[str] | None, changes: Changes, frame: Any
) -> FanPlaces:
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
    entries = tuple(asked["base"][name] for name in rows)
    return FanPlaces(changed, fans, MappingProxyType(made), _frame(frame), entries)


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
        raise CaseError(f"{said}: no such fan{meant(name, list(design.fans))}")
    return [name]


def _frame(frame: Any) -> tuple[float, float] | str | None:
    if frame is None or frame == "any":
        return frame  # type: ignore[no-any-return]  # one of the two
    try:
        size, depth = convert(FRAME_ROLE, frame)
    except CaseError as error:
        hint = '"any", or size and depth such as "119 x 38 mm"'
        raise CaseError(f"frame: {error}; {hint}") from None
    return size, depth


# --- solving --------------------------------------------------------------------------------------


def _solve(
    places: FanPlaces, types: tuple[str, ...], changes: Changes, executor: Executor | None,
    progress: Progress | None,
) -> Solved:  # fmt: skip
    """All candidates in all scenarios as one batch.

    The type is a column. Where what a scenario does depends on the type (others go to the top of
    its range), each candidate is a variant of its own.
    """
    own = {path: MappingProxyType({f"{p}.type": path for p in places.paths}) for path in types}
    source = dataclasses.replace(places.design, variants=MappingProxyType(own))
    column = np.array(types, object)
    changed = {**changes, **{f"{path}.type": column for path in places.paths}}
    setups = [
        setup for name in places.made for setup in (
            [Run(name, type_, changes) for type_ in types] if REST_UP in name
            else [Run(name, "base", changed)])
    ]  # fmt: skip
    found = evaluate(source, setups, executor=executor, progress=progress)
    index = np.arange(len(found)).reshape(len(places.made), len(types))
    return Solved(places, types, found, index, places.asked)


def _judged(places: FanPlaces, solved: Solved, number: int, name: str) -> Candidate:
    reasons = sorted(solved.reasons(number), key=lambda each: list(REASON_KINDS).index(each.kind))
    whole = bool(solved.ok[:, number].all())
    numbers = solved.numbers(number) if whole else NO_NUMBERS
    said = () if reasons else (*solved.dips(number), *remarks(places, name, numbers))
    off = solved.closeness(number, reasons) if solved.ok[:, number].any() else None
    return Candidate(name, 0, tuple(reasons), said, numbers, whole, solved.unjudged(number), off)


# --- order ----------------------------------------------------------------------------------------


def _order(item: Candidate, best: str) -> tuple[Any, ...]:
    """What may break a limit comes last; L10 before a mean; then by temperature."""
    value = getattr(item.numbers, MEASURES[best].of_fan)
    mean = best == "life" and item.numbers.life_kind == "mean"
    rank = _rank(value, more=best in ("temperature", "life"))
    margin = _rank(item.numbers.margin, more=True)
    return item.unjudged, math.isnan(value), mean, rank, margin, item.type


def _nearness(item: Candidate) -> tuple[Any, ...]:
    """Those with a solution before others, as a comparison orders variants."""
    kinds = {reason.kind for reason in item.reasons}
    first = 0 if item.off else list(REASON_KINDS).index(item.reasons[0].kind)
    margin = _rank(item.numbers.margin, more=True)
    return item.off is None, *(item.off or ()), len(kinds), first, margin, item.type


def _rank(value: float, *, more: bool) -> float:
    """Less is better; not known comes last."""
    return math.inf if math.isnan(value) else round(-value if more else value, ALIKE)
