"""Whose spread makes the spread of a result: from the samples, and from exact derivatives."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np

from flownet.enclosure.changes import steps
from flownet.enclosure.enclosure import Enclosure
from flownet.pages.page import MISSING
from flownet.pages.sheet import Column, Listing, Sentence
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.fields import Number
from flownet.schema.quantities import Quantity
from flownet.solving.attempt import Attempt
from flownet.studies.chances import percent
from flownet.studies.levers import slopes
from flownet.studies.tolerances import Spread, difference

LEAST_SHOWN = 0.0005  # share that is shown as 0.1 %
MOSTLY = 0.5  # share from which on one input makes most of a spread
NO_SPREAD = 1e-9  # of a result's size: a spread below it is round-off


class Share(NamedTuple):
    """What one draw does to one result."""

    spread: Spread
    share: float  # of the variance among the samples; NaN where there are too few
    linear: float  # of the variance by exact derivatives; NaN without a solution of the case
    effect: float  # change of the result where the input is off by all of its tolerance [SI]


class SpreadShares(NamedTuple):
    """All draws by their share, largest first, and what they leave unexplained."""

    of: str
    difference: Quantity  # what a change of the result is measured in
    rows: tuple[Share, ...]
    left: float  # of the variance: curvature, and inputs that act together; NaN: too few samples
    deviation: float  # standard deviation among the samples [SI]
    linear_deviation: float  # root of the sum of squares by exact derivatives [SI]


def shares(
    made: Enclosure, spreads: Sequence[Spread], drawn: Mapping[str, Array], of: str,
    quantity: Quantity, values: Array, tried: Attempt | None,
) -> SpreadShares:  # fmt: skip
    """Shares of the variance of one result, `of`, in the draws around a case.

    From the samples: squared standardized regression coefficients, scaled to add up to the part
    of the variance that a straight line in all inputs explains (adjusted R2). For independent
    inputs they do so by themselves, but for chance: A. Saltelli et al., Global Sensitivity
    Analysis: The Primer (Wiley 2008), chapter 1 (cited from memory). From derivatives: (slope *
    deviation)^2 over the sum of all, exact where the result is a straight line in its inputs.

    `drawn`: (samples,) values of every number that is moved, by its path; `values`: (samples,) of
    the result, NaN where a sample has none; `tried`: the case itself, None without a solution.
    """
    known = ~np.isnan(values)
    columns = np.array([drawn[spread.leading.place.path] for spread in spreads])
    found, left = _regressed(columns[:, known], values[known])
    effects, deviations = _linear(made, spreads, of, tried)
    total = float(np.sum(deviations**2))
    linear = deviations**2 / total if total else deviations
    figures = zip(*(column.tolist() for column in (found, linear, effects)), strict=True)
    rows = [Share(spread, *each) for spread, each in zip(spreads, figures, strict=True)]
    rows.sort(key=lambda row: (-_number(row.share), -_number(row.linear), row.spread.path))
    deviation = float(np.std(values[known])) if known.any() else float(np.nan)
    return SpreadShares(of, difference(quantity), tuple(rows), left, deviation, total**0.5)


def _number(share: float) -> float:
    return float(np.nan_to_num(round(share, 9)))


def _regressed(columns: Array, values: Array) -> tuple[Array, float]:
    """(draws,) shares, and what they leave; NaN where samples are fewer than draws."""
    count, samples = columns.shape
    spread, size = np.std(values), np.max(np.abs(values), initial=0.0)
    if samples <= count + 1:
        return np.full(count, np.nan), float(np.nan)
    if spread <= NO_SPREAD * size:
        return np.zeros(count), 0.0
    deviations = np.std(columns, axis=1)
    moves = deviations > 0
    units = (columns[moves] - columns[moves].mean(axis=1)[:, None]) / deviations[moves][:, None]
    slopes, *_ = np.linalg.lstsq(units.T, (values - values.mean()) / spread, rcond=None)
    rest = float(np.mean(((values - values.mean()) / spread - slopes @ units) ** 2))
    left = min(rest * (samples - 1) / (samples - count - 1), 1.0)
    found = np.zeros(count)
    found[moves] = (1 - left) * slopes**2 / np.sum(slopes**2)
    return found, left


def _linear(
    made: Enclosure, spreads: Sequence[Spread], of: str, tried: Attempt | None
) -> tuple[Array, Array]:
    """(draws,) change by the whole tolerance, and standard deviation, to first order."""
    slope = _slopes(made, spreads, of, tried)
    pairs = [
        [(slope[m.place.path] * spread.amount(m), slope[m.place.path] * spread.deviation(m))
         for m in spread.members]
        for spread in spreads
    ]  # fmt: skip
    sums = np.array([np.sum(each, axis=0) for each in pairs])
    return sums[:, 0], sums[:, 1]


def _slopes(
    made: Enclosure, spreads: Sequence[Spread], of: str, tried: Attempt | None
) -> dict[str, float]:
    """Derivatives of the result to every number; NaN where the case itself has no solution."""
    reached = {  # of a fan type its ratings too
        member.place.path: [
            step.place for step in steps(made, {member.place.path: member.value})
            if isinstance(step.role, Number) and not np.isnan(step.value)
        ]
        for spread in spreads for member in spread.members
    }  # fmt: skip
    if tried is None:
        return dict.fromkeys(reached, float(np.nan))
    found = slopes(tried, dict.fromkeys(place for each in reached.values() for place in each), of)
    return {path: sum(found[place] for place in each) for path, each in reached.items()}


# --- words ----------------------------------------------------------------------------------------


def shares_tables(shares: SpreadShares) -> Iterator[Listing]:
    """Those that are worth a line, or all; and as in JSON."""
    rows = shares.rows
    worth = [row for row in rows if row.share >= LEAST_SHOWN or row.linear >= LEAST_SHOWN]
    yield _table(shares, worth, "short")
    yield _table(shares, rows, "all")
    yield Listing("shares", (
        Column("path", [row.spread.path for row in rows]),
        Column("share", [row.share for row in rows], q.RATIO),
        Column("linear_share", [row.linear for row in rows], q.RATIO),
        Column("effect", [row.effect for row in rows], shares.difference),
    ), "json")  # fmt: skip


def _table(shares: SpreadShares, rows: Sequence[Share], use: str) -> Listing:
    columns = (
        Column("Input", [row.spread.path for row in rows]),
        Column("tolerance", [partial(Spread.marked, row.spread) for row in rows]),
        Column("share", [_tenths(row.share) for row in rows], right=True),
        Column("linear", [_tenths(row.linear) for row in rows], right=True),
        Column("effect", [row.effect for row in rows], shares.difference, form="+"),
    )
    notes = (Sentence("", partial(_deviations, shares)),)
    return Listing("spread", columns if rows else (), use, notes,
                   Sentence("", f"Spread of {shares.of}"), apart=False)  # fmt: skip


def _tenths(share: float) -> str:
    return MISSING if np.isnan(share) else f"{100 * share:.1f} %"


def _deviations(shares: SpreadShares, units: str) -> str:
    """The spread itself, and what of it nothing explains."""
    shown = shares.difference.shown(units)
    words = f"Standard deviation {shown.text(shares.deviation)} among the samples"
    if not np.isnan(shares.linear_deviation):
        words += f", {shown.text(shares.linear_deviation)} by exact derivatives (linear)"
    words += "."
    if not np.isnan(shares.left):
        words += f" {_tenths(shares.left)} of the variance is left unexplained: curves that " \
                 "bend, inputs that act together."  # fmt: skip
    return words


def origin(shares: SpreadShares, samples: int, own: bool) -> str:
    """Where the spread of the result comes from; `own`: of what is spoken of just before."""
    rows, of = shares.rows, shares.of
    its = "its spread" if own else f"the spread of {of}"
    if not shares.deviation > 0:
        return f"{of} has no spread"
    if not rows[0].share > 0:
        return f"{samples} samples are too few to share out {its} among {len(rows)} inputs"
    part = "most" if rows[0].share >= MOSTLY else "the largest part"
    return f"{part} of {its} ({percent(rows[0].share)} %) comes from {rows[0].spread.path}"
