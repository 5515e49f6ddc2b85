"""The sheet for fitting and commissioning: one file that needs nothing else, and one of blanks."""

from __future__ import annotations

from dataclasses import dataclass

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.handover.expected import Expected, expected
from flownet.schema import argument_checks
from flownet.solving.attempt import changed


@dataclass(frozen=True, repr=False, eq=False)
class Commissioning(Expected):
    """The sheet, solved at the state of the test."""

    def __repr__(self) -> str:
        return f'<Commissioning "{self.case.title}": {len(self.points)} points>'

    def html(self, units: str | None = None, *, paper: str = "a4") -> str:
        """The sheet; `paper` of templates that A4 does not hold: "a4" in parts, or "a3"."""
        from flownet.handover.fitting import rendered  # noqa: PLC0415 - jinja2, as for `review`

        return rendered(self, units or self.case.units, paper)


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
