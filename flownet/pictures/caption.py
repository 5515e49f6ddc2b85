"""What every picture says of its case: title, state, what was changed, the site, the inputs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.caption import Caption
from flownet.pictures.scene.words import Units, pretty
from flownet.results.solution import Solution
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


def made(of: Solution | Enclosure) -> Caption:
    """The caption of what is drawn, with the changes that are told, else those of the case."""
    return Caption.of(of, changes=_CHANGED.get() or None)


def caption(of: Solution | Enclosure, units: str, *, state: str = "") -> list[str]:
    """Title and `scenario | variant`, what was changed, the site; version, inputs and date."""
    words = made(of)
    *heads, site = words.heads(units, state)
    return [*heads, pretty(site), words.foot()]


def signature(case: Enclosure) -> str:
    """Version and the beginning of the input digest."""
    return Caption.of(case, changes=()).foot(dated=False)


def signed() -> str:
    """Version and day, of what has no case."""
    return Caption().foot()


def surroundings(solution: Solution, units: Units) -> str:
    """`outside 50 °C, 900 m, 91.0 kPa, 0.981 kg/m³   230 V 50 Hz`."""
    return pretty(Caption.of(solution, changes=()).surroundings(units.system))
