"""Choosing: a fan type for a place, or values for what the case leaves open."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from typing import Any, overload

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.schema import argument_checks
from flownet.schema.errors import CaseError
from flownet.solve import Progress
from flownet.studies.choice.axes import Catalogue, with_catalogue
from flownet.studies.choice.fan import choose_fan
from flownet.studies.choice.fan_result import FanChoice
from flownet.studies.choice.result import OptionChoice
from flownet.studies.choice.study import choose_options

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

    What needs no solve comes first and is not solved: a rating for the supply of the place, the
    frame against the hole, the shaft against the bearing, a given speed against the speed range.
    All others are put into the case and solved in every scenario that decides, as one batch. They
    are excluded by a limit that is broken (temperature, noise, life, `limits.flow`), by stall or
    backflow of any fan, by air beyond their range, or where there is no solution.

    Without a fan it is what a `[choice.NAME]` of the case leaves open that is chosen: see
    `choose_options`.

    Parameters
    ----------
    case : Enclosure
    fan : str, optional
        A fan by path or name, or a pattern such as `fan.*`: all that match get the same type;
        blanked ones have no say.
    catalogue : mapping or iterable of FanType, optional
        Types beside those of the case, as `load_fan_types` reads them.
    scenarios : sequence of str, optional
        Those that decide. Default `limits.scenarios`, else `base` and all of the case; `a+b`
        joins, `each-fan-out` is one a fan.
    best : str or several, optional
        What ranks: "temperature" (largest least margin, the default for a fan), "noise", "power",
        "price" (least) or "life" (longest, L10 before means). What is not stated comes last. For a
        fan it is one of them, for a choice one or two of all but life, by default its own.
    name : str, optional
        Without a fan: which choice of the case.
    variant : str
        The design in which it is chosen.
    changes : mapping, optional
        Input path -> one value, applied last.
    frame : optional
        Size and depth that the place takes, such as "119 x 38 mm"; "any" compares no frames.
        Default that of the type in place: hole pitch, else frame; a cut-out that is large enough;
        depth within the clearances where both are given.
    executor : concurrent.futures.Executor, optional
        Solves blocks; every executor returns the same numbers.
    progress : callable(done, total), optional

    Raises
    ------
    CaseError
        An unknown fan, scenario, variant or `best`; a fan that is blanked; a catalogue type that is
        not the one of the same name in the case.
    """
    argument_checks.check("choose", case, Enclosure)
    if not isinstance(best, str):
        argument_checks.check_names("best", best)
    if fan is None:
        if frame is not None:
            raise CaseError("frame: belongs to the choice of a fan; name one, such as fan.NAME")
        design = case.under(variant=variant)
        return choose_options(
            design.with_changes(changes) if changes else design, name, best=best,
            scenarios=scenarios, catalogue=catalogue, executor=executor, progress=progress,
        )  # fmt: skip
    if name is not None:
        raise CaseError(f'name: a fan is chosen, or a choice of this name (got "{name}" and {fan})')
    argument_checks.check_text("fan", fan, 'a fan is wanted by its name, such as "left"')
    words = [best] if isinstance(best, str) else list(best or ["temperature"])
    if len(words) > 1:
        raise CaseError(f"best: one word ranks the types of a fan (got {', '.join(words)})")
    return choose_fan(
        with_catalogue(case, catalogue), fan, scenarios=scenarios, best=words[0],
        variant=variant, changes=changes, frame=frame, executor=executor, progress=progress,
    )  # fmt: skip
