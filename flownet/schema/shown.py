"""How a number is shown to people: its unit, its digits, and what stands beside it in a column."""

from __future__ import annotations

import html
import math
import re
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

# Of the largest number of a column: what is less asks the others for no more decimals.
_SMALL, _SMALL_FIXED = 1e-4, 1e-2
_HALF = 0.499  # of a last place; a little less, so that round-off moves no round number
_LONGEST = 200  # signs of a title that are shown: two or three lines of a page
FORMULA = ("=", "+", "-", "@")  # how a text begins that a spreadsheet would work out


class Shown(NamedTuple):
    """A unit for people: shown value = internal value * factor + offset."""

    unit: str
    factor: float = 1.0
    offset: float = 0.0
    digits: str = ".3g"
    least: int = 0  # significant digits that a small number keeps, so that its sign and size show
    nought: float = 0.0  # internal value below which a number is shown as 0

    def number(self, value: float, sign: str = "", decimals: int | None = None) -> str:
        """The number alone, never as -0, exponents only below 1e-4; `sign="+"` marks gains.

        `decimals` are those of its column; without them it has the digits of its quantity.
        """
        shown = self._read(value)
        own = self._own_decimals(shown)
        if own is not None:
            decimals = max(own, decimals or 0)
        comma = "," if "," in self.digits else ""
        digits = self.digits if decimals is None else f"{comma}.{decimals}f"
        text = f"{shown:{sign}z{digits}}"
        if "e" in text and math.isfinite(shown) and abs(shown) >= 1:
            text = f"{shown:{sign}z.0f}"
        return text.replace(",", " ")

    def of(self, value: Any) -> Any:
        """Internal values, a number or an array, in this unit."""
        return value * self.factor + self.offset

    def past(self, value: float, side: int, decimals: int | None = None) -> float:
        """A value that `number` rounds up where side is 1, down where it is -1; else itself."""
        read = self._read(value)
        if not side or not read or not math.isfinite(read):
            return value
        own = self._own_decimals(read)
        last = own if own is not None else self._fixed
        if self._significant:
            last = _decimals(read, self._significant)
        if decimals is not None:
            last = max(own or 0, decimals)
        return value + side * _HALF * 10.0**-last / self.factor

    def exact(self, value: float, digits: int = 6) -> str:
        """Number and unit with every digit that matters, `0.0254 m`."""
        return f"{self.of(value):.{digits}g} {self.unit}".strip()

    def text(self, value: float, sign: str = "", decimals: int | None = None) -> str:
        """Number and unit, `43.2 degC`."""
        return f"{self.number(value, sign, decimals)} {self.unit}".rstrip()

    def decimals(self, values: Iterable[float]) -> int:
        """The one number of decimals in which a column of values is shown.

        Three digits of the largest, one decimal more where a smaller one has fewer, and so many
        that no value of `_SMALL` of the largest and above is shown as nothing. Fixed decimals
        grow with the smallest value above `_SMALL_FIXED` of the largest; a smaller one keeps its
        own `least` digits.
        """
        sizes = [abs(x) for x in map(self._read, values) if x and math.isfinite(x)]
        if not sizes:
            return 0 if self._significant else self._fixed
        largest = max(sizes)
        least = _SMALL if self._significant else _SMALL_FIXED
        smallest = min(size for size in sizes if size >= least * largest)
        if not self._significant:
            own = self._own_decimals(smallest)
            return self._fixed if own is None else max(own, self._fixed)
        base = max(_decimals(largest, self._significant), 0)
        finer = min(_decimals(smallest, self._significant), base + 1)
        return max(base, finer, _decimals(smallest, 1))

    def whole(self, values: Iterable[float]) -> int:
        """Decimals of a column of given values: no more than it takes to tell them all."""
        shown = [x for x in map(self._read, values) if math.isfinite(x)]
        most = self.decimals([]) if not self._significant else 6
        return next(
            (n for n in range(most) if all(round(x, n) == round(x, most) for x in shown)), most
        )

    def shares(self, total: float, parts: Sequence[float]) -> tuple[str, list[str]]:
        """A total and its parts as texts that add up as they are printed.

        Largest remainders are rounded up, so that each is off by less than one of its last place.
        """
        decimals = self.decimals([total])
        scale = 10.0**decimals
        units = round(self._read(total) * scale)
        exact = [self._read(part) * scale for part in parts]
        rounded = apportioned(units, exact)
        return self._scaled(units, decimals), [self._scaled(n, decimals) for n in rounded]

    def _scaled(self, units: int, decimals: int) -> str:
        return f"{units / 10.0**decimals:z.{decimals}f} {self.unit}".rstrip()

    def _read(self, value: float) -> float:
        return float(self.of(0.0 if abs(value) < self.nought else value))

    def _own_decimals(self, shown: float) -> int | None:
        """Decimals of a number too small for the usual ones; None for any other."""
        if not self.least or self._significant or not shown or not math.isfinite(shown):
            return None
        needed = _decimals(shown, self.least)
        return needed if needed > self._fixed else None

    @property
    def _significant(self) -> int:
        """Significant digits; 0 where decimals are fixed."""
        return int(self.digits.strip(",.g")) if self.digits.endswith("g") else 0

    @property
    def _fixed(self) -> int:
        return 0 if self._significant else int(self.digits.strip(",.f"))


def _decimals(shown: float, significant: int) -> int:
    """Decimals that a number has with so many significant digits; below zero for a large one."""
    return significant - 1 - math.floor(math.log10(abs(shown)))


def apportioned(total: int, parts: Sequence[float]) -> list[int]:
    """Whole numbers near the parts whose sum is the total, largest remainders rounded up."""
    whole = [math.floor(part) for part in parts]
    order = sorted(range(len(parts)), key=lambda i: whole[i] - parts[i])
    for i in order[: max(total - sum(whole), 0)]:
        whole[i] += 1
    return whole


def one_line(title: str) -> str:
    """A title as it can be shown: control signs as a space, too much of it as `...`."""
    shown = " ".join("".join(sign if sign.isprintable() else " " for sign in title).split())
    return shown if len(shown) <= _LONGEST else shown[: _LONGEST - 3].rstrip() + "..."


def html_table(title: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table for notebooks."""
    lines = ["".join(f"<th>{html.escape(word)}</th>" for word in heads)]
    lines += ["".join(f"<td>{html.escape(word)}</td>" for word in row) for row in rows]
    body = "".join(f"<tr>{line}</tr>" for line in lines)
    return f"<table><caption>{html.escape(title)}</caption>{body}</table>"


def sheet_line(text: str) -> str:
    """A line of words above a table with commas, in which no cell begins as a formula does."""
    return re.sub(r"""([,;])(?=["'=+@-])""", r"\1 ", one_line(text))


def sheet_cell(text: str) -> str:
    """Words of a cell that a spreadsheet shows and does not run; a number stays one.

    Before a text that begins like a formula stands an apostrophe, which says that it is text
    (common practice of exports to spreadsheets, no source).
    """
    text = "".join(sign if sign.isprintable() else " " for sign in text)
    return "'" + text if text.lstrip().startswith(FORMULA) and not _is_number(text) else text


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False
