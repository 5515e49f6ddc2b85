"""How a page of text is printed: units, width, how many rows, colour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from flownet import quantities as q
from flownet.quantities import Quantity
from flownet.report.sheet import ROWS, Cell, Column, Paint, plain, table

MISSING = "-"
SMALLEST = 1e-3  # Pa: of pressures that are told from none
STYLES = {
    "void": "bad", "over": "bad", "short": "bad", "tight": "doubtful", "unknown": "doubtful",
    "ok": "good",
    "error": "bad", "warning": "doubtful", "note": "quiet",
}  # fmt: skip


@dataclass(frozen=True)
class Page:
    """How a page is printed."""

    units: str = "metric"
    width: int = 80
    everything: bool = False  # all rows of a table
    paint: Paint = plain
    names: int = 0  # width of the first column, so that tables line up

    @property
    def most(self) -> int | None:
        """Rows of a table that are shown; None: all."""
        return None if self.everything else ROWS

    def text(self, quantity: Quantity, value: Any, sign: str = "") -> str:
        """A value in the reader's units, `-` where there is none."""
        if value is None or not math.isfinite(value):
            return MISSING
        return quantity.shown(self.units).text(float(value), sign)

    def pressure(self, value: Any) -> str:
        """A pressure difference; with the digits it takes not to be shown as nothing."""
        text = self.text(q.PRESSURE, value)
        number, _, unit = text.partition(" ")
        if text == MISSING or float(number) or abs(value) < SMALLEST:
            return text
        shown = q.PRESSURE.shown(self.units)
        return f"{float(f'{value * shown.factor:.2g}'):g} {unit}"

    def bound(self, quantity: Quantity, value: Any) -> str:
        """A limit as people write it: 60 degC, not 60.0 degC."""
        number, _, unit = self.text(quantity, value).rpartition(" ")
        return f"{number.removesuffix('.0')} {unit}".strip()

    def table(self, columns: Sequence[Column], rows: Sequence[Sequence[Cell]]) -> list[str]:
        """A table that fits the page."""
        return table(
            columns, rows, width=self.width, most=self.most, least=self.names, paint=self.paint
        )


def counted(number: int, what: str) -> str:
    """`1 limit`, `2 limits`."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def spaced(number: int) -> str:
    """`22 500`."""
    return f"{number:,}".replace(",", " ")
