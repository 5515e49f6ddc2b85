"""How a page of text is printed: units, width, how many rows, colour."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

from flownet.pages.table import ROWS, Cell, Figure, Paint, aligned, plain
from flownet.results.tables import unnamed
from flownet.schema.quantities import Quantity

MISSING = "-"
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

    def cell(
        self, quantity: Quantity, value: Any, sign: str = "", style: str = "", *, bare: bool = False
    ) -> Cell:
        """A value in a table, with the decimals of its column; `-` where there is none.

        `bare`: as people write a limit, 60 degC, not 60.0 degC.
        """
        if value is None or not math.isfinite(value):
            return Cell(MISSING, style)
        figure = Figure(quantity.shown(self.units), float(value), sign, bare)
        return aligned([Cell("", style, figure)])[0]


class Unsolved(NamedTuple):
    """A scenario that has no result, and why."""

    title: str
    scenario: str
    variant: str
    kind: str  # "no-solution", or "case" where the input is at fault
    faults: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """What JSON has in the place of a solution."""
        names = unnamed({"variant": self.variant, "scenario": self.scenario})
        why = {"kind": self.kind, "message": "\n".join(self.faults)}
        return {"case": self.title, **names, "error": why}


def counted(number: int, what: str) -> str:
    """`1 limit`, `2 limits`."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def spaced(number: int) -> str:
    """`22 500`."""
    return f"{number:,}".replace(",", " ")
