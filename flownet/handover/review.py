"""The review page: what a design review asks of a case, as one file that needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.handover.reviewed import SAMPLED, Reviewed, reviewed
from flownet.schema import argument_checks


@dataclass(frozen=True, repr=False, eq=False)
class Review(Reviewed):
    """What stands on the page, solved; the page shows it and computes nothing."""

    def __repr__(self) -> str:
        return f'<Review "{self.case.title}" {len(self.pairs)} pairs: {self.comparison.verdict}>'

    def html(self, units: str | None = None) -> str:
        """The page."""
        from flownet.handover.answers import page  # noqa: PLC0415 - jinja2, where a page is made

        return page(self, units or self.case.units)


def review(
    case: Enclosure, *, variant: str | None = None, scenarios: Sequence[str] | None = None,
    key: str | None = None, samples: int = SAMPLED, seed: int = 1,
    changes: Changes | None = None, executor: Executor | None = None,
) -> Review:  # fmt: skip
    """Solve what a design review asks: every variant in every scenario, outages, the room for one
    key, tolerances.

    Parameters
    ----------
    variant : str, optional
        The proposal. Default the one that comes closest to holding everywhere, and takes no filter
        out.
    scenarios, changes, executor : as for `compare`
    key : str, optional
        What the slider moves. Default the fouling of the filter that passes most air, else the
        outside temperature.
    samples, seed : int
        Of the tolerances; 0 samples leave them out.

    Raises
    ------
    CaseError
        Unknown names, a key that cannot move.
    NoSolution
        Where no pair is solved.
    """
    argument_checks.check("review", case, Enclosure)
    return Review(**reviewed(case, variant, scenarios, key, (samples, seed), changes, executor))
