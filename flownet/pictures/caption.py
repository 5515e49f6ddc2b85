"""What every picture says: of its case, and quantities as its reader sees them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.caption import Caption
from flownet.results.solution import Solution
from flownet.schema.quantities import Quantity

_SIGNS = (
    ("degC", "°C"), ("degF", "°F"), ("inH2O", "inH₂O"), ("m3", "m³"), ("m2", "m²"), ("ft3", "ft³"),
)  # fmt: skip
_CHANGED: ContextVar[Sequence[str]] = ContextVar("changed", default=())


@contextmanager
def changed(texts: Sequence[str]) -> Iterator[None]:
    """Pictures made within say what was changed beside scenario and variant: `vent.v.area = 2`."""
    token = _CHANGED.set(texts)
    try:
        yield
    finally:
        _CHANGED.reset(token)


def made(of: Solution | Enclosure | None = None) -> Caption:
    """The caption of what is drawn, with the changes that are told, else those of the case."""
    told = _CHANGED.get()
    return Caption(changes=tuple(told)) if of is None else Caption.of(of, changes=told or None)


def caption(of: Solution | Enclosure, units: str, *, state: str = "") -> list[str]:
    """Title and `scenario | variant`, what was changed, the site; version, inputs and date."""
    words = made(of)
    *heads, site = words.heads(units, state)
    return [*heads, pretty(site), words.foot()]


def pretty(text: str) -> str:
    """Units as they are printed: °C, m³/h."""
    for plain, sign in _SIGNS:
        text = text.replace(plain, sign)
    return text


def known(value: float | None) -> bool:
    return value is not None and not math.isnan(value)


class Units(NamedTuple):
    """How the reader sees quantities: "metric" or "us"."""

    system: str

    def text(self, quantity: Quantity, value: float, sign: str = "") -> str:
        return pretty(quantity.shown(self.system).text(float(value), sign))

    def round(self, quantity: Quantity, value: float) -> str:
        """A given value without idle zeros: `55 °C`."""
        number, _, unit = self.text(quantity, value).rpartition(" ")
        return f"{number.removesuffix('.0')} {unit}"

    def span(self, quantity: Quantity, values: Sequence[float]) -> str:
        """`4.1 to 5.0 m³/h`, or one value where all read the same."""
        shown = quantity.shown(self.system)
        if shown.digits == ".3g":
            largest = max(abs(shown.of(value)) for value in values)
            places = 2 - math.floor(math.log10(largest)) if largest > 0 else 0
            shown = shown._replace(digits=f".{min(max(places, 0), 6)}f")
        low, high = shown.number(min(values)), shown.number(max(values))
        return pretty(f"{high if low == high else f'{low} to {high}'} {shown.unit}")
