"""The sheet for fitting and commissioning: one file that needs nothing else, and one of blanks."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

from flownet import __version__
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.handover.expected import Expected, expected
from flownet.schema import argument_checks
from flownet.solving.attempt import changed

READING_COLUMNS = ("point", "predicted", "low", "high", "unit", "reading", "reading_unit",
                   "uncertainty", "note")  # fmt: skip
CSV_MARK = "# Readings of the test, flownet "  # the first line of each file of ours


@dataclass(frozen=True, repr=False, eq=False)
class Commissioning(Expected):
    """The sheet, solved at the state of the test."""

    def __repr__(self) -> str:
        return f'<Commissioning "{self.case.title}": {len(self.points)} points>'

    def html(self, units: str | None = None, *, paper: str = "a4") -> str:
        """The sheet; `paper` of templates that A4 does not hold: "a4" in parts, or "a3"."""
        from flownet.handover.fitting import sheet  # noqa: PLC0415 - jinja2, as for `review`

        return sheet(self, units or self.case.units, paper)

    def csv(self, units: str | None = None) -> str:
        """The points with blanks for readings, as `readings` takes them once they are filled in."""
        return "".join(self._lines(units or self.case.units))

    def _lines(self, units: str) -> Iterator[str]:
        """Remarks, headings, a row a point; figures of data sheets, which no result is, remarks."""
        yield f"{CSV_MARK}{__version__}, inputs {self.case.digest.removeprefix('sha256:')[:16]}\n"
        yield ("# Fill in reading and uncertainty (95 of 100 lie within, in its unit); air that "
               "goes the other way than the case says is minus.\n")  # fmt: skip
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(READING_COLUMNS)
        for each in self.points:
            shown = each.quantity.shown(units)
            numbers = [f"{shown.of(value):.6g}" for value in (each.predicted, each.low, each.high)]
            note = f"{each.name}: {each.what}; {each.where}{'; minus' * (each.sign < 0)}"
            if each.path:
                writer.writerow([each.path, *numbers, shown.unit, "", shown.unit, "", note])
            else:
                yield f"# {note}: {numbers[0]} {shown.unit}, {' to '.join(numbers[1:])}\n"
        yield text.getvalue()


def commission(
    case: Enclosure, *, scenario: str = "base", variant: str = "base",
    changes: Changes | None = None, defaults: bool = True,
) -> Commissioning:  # fmt: skip
    """Solve the state of the test: what is read where, within which band, and what a fault reads.

    Parameters
    ----------
    case : Enclosure
    scenario, variant, changes
        As for `solve`: the conditions of the test.
    defaults : bool
        Whether usual tolerances (common practice, no source) stand in where the case has none.

    Raises
    ------
    CaseError, NoSolution
        As `solve`. A fault that has no solution is no error: its row says so.
    """
    argument_checks.check("commission", case, Enclosure)
    made = changed(case, scenario, variant, changes)
    return Commissioning(**expected(made, defaults=defaults))
