"""What every picture says of its case: title, state, what was changed, the site, the inputs."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

import flownet
from flownet.enclosure.enclosure import Enclosure
from flownet.pages.heading import titled
from flownet.pictures.scene.words import Units, known
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.shown import one_line

_CHANGED: ContextVar[Sequence[str]] = ContextVar("changed", default=())


@contextmanager
def changed(texts: Sequence[str]) -> Iterator[None]:
    """Pictures made within say what was changed beside scenario and variant: `vent.v.area = 2`."""
    token = _CHANGED.set(texts)
    try:
        yield
    finally:
        _CHANGED.reset(token)


def changes() -> list[str]:
    """`with vent.v.area = 2`, a line for each."""
    return [f"with {one_line(text)}" for text in _CHANGED.get()]


def caption(of: Solution | Enclosure, units: str, *, state: str = "", site: str = "") -> list[str]:
    """Title and `scenario | variant`, what was changed, the site; version, inputs and date."""
    case, applied = (of.case, of) if isinstance(of, Solution) else (of, of.applied)
    if not site and isinstance(of, Solution):
        site = surroundings(of, Units(units))
    site = site or f"outside {Units(units).round(q.TEMPERATURE, case.outside.temperature)}"
    state = state or f"{applied.scenario} | {applied.variant}"
    return [f"{titled(case)}     {state}", *changes(), site, signed(signature(case))]


def signature(case: Enclosure) -> str:
    """Version and the beginning of the input digest."""
    return f"flownet {flownet.__version__}   inputs {case.digest[:19]}"


def signed(about: str = f"flownet {flownet.__version__}") -> str:
    """Version, and the day, or that of SOURCE_DATE_EPOCH, so that a picture can be made again."""
    told = os.environ.get("SOURCE_DATE_EPOCH", "")
    seconds = int(told) if told.isdigit() else None
    return f"{about}   {time.strftime('%Y-%m-%d', time.gmtime(seconds))}"


def surroundings(solution: Solution, units: Units) -> str:
    """`outside 50 °C, 900 m, 91.0 kPa, 0.981 kg/m³   230 V 50 Hz`."""
    case, site = solution.case, solution.site
    words = [f"outside {units.round(q.TEMPERATURE, site['temperature'])}"]
    if known(case.outside.altitude):
        words.append(units.text(q.ALTITUDE, case.outside.altitude))
    words.append(units.text(q.SITE_PRESSURE, site["pressure"]))
    words.append(units.text(q.DENSITY, site["density"]))
    aisles = [f"{name} {units.round(q.TEMPERATURE, item.temperature)}"
              for name, item in case.things["outside"].items() if name]  # fmt: skip
    supplies = [_supply(item, units) for item in case.things["supply"].values()]
    return "   ".join([", ".join(words), *aisles, *dict.fromkeys(supplies)])


def _supply(item: Any, units: Units) -> str:
    voltage = units.text(q.VOLTAGE, item.voltage)
    if not known(item.frequency):
        return f"{voltage} dc"
    return f"{voltage} {units.text(q.FREQUENCY, item.frequency)}"
