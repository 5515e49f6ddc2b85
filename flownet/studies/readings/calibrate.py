"""Inputs of a case by what was measured on it: weighted least squares with exact derivatives."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.pages.caption import Caption
from flownet.pages.page import MISSING, counted
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.results.tables import Field, plain
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.fault import listed
from flownet.schema.quantities import Quantity
from flownet.solving.attempt import changed
from flownet.studies.readings.file import Known, Readings, Source, data_columns, known_results, read
from flownet.studies.readings.fit import Fit, fit, most
from flownet.studies.readings.separate import inseparable, weakness
from flownet.studies.readings.slopes import SolvedCase
from flownet.studies.readings.unknowns import FIT_SPAN, Unknown, Unknowns, unknowns
from flownet.studies.samples import NORMAL_95

MEASURED_VARIANT = "as-measured"
FAR = f" (of the search, which ends at {FIT_SPAN:g} times what is stated, or that part of it)"
CORRELATED = 0.9  # from which on two values are named together
CONVENTIONS = (
    "95 % of a reading are 1.96 standard deviations. All other inputs are taken as the case has "
    "them: what is wrong with them is not in the intervals."
)


@dataclass(frozen=True, repr=False, eq=False)
class Calibration(Result):
    """Values of what was free that fit readings best; SI."""

    case: Enclosure  # in its variant and scenario, as it is stated
    readings: Readings
    free: Unknowns
    fit: Fit
    predicted: Array  # (readings,) at the values

    def __repr__(self) -> str:
        return f'<Calibration "{self.case.title}": {self.verdict}>'

    @property
    def values(self) -> dict[str, float]:
        """Of each path; of numbers that differ today a factor on each."""
        return {one.path: value for one, value in
                zip(self.free.each, self.free.values(self.fit.values), strict=True)}  # fmt: skip

    @property
    def intervals(self) -> dict[str, tuple[float, float]]:
        """95 % of each path; NaN of one that is at a bound."""
        half = self.fit.half_widths(self.fit.fits)
        half[self.fit.at_bound != 0] = np.nan
        ends = (self.free.values(self.fit.values + sign * half) for sign in (-1, 1))
        return dict(zip(self.values, zip(*ends, strict=True), strict=True))

    @property
    def changes(self) -> dict[str, float]:
        """What makes a case as measured: for `with_changes`."""
        return self.free.changes(self.fit.values)

    @property
    def block(self) -> list[str]:
        """The same as lines of a case file."""
        like = self.case.applied.variant
        lines = [] if like == "base" else [f"like = {json.dumps(like.split('+'))}"]
        return lines + [f"{json.dumps(path)} = {json.dumps(text)}" for each in self.free.each
                        for path, text in each.written(self.values[each.path]).items()]  # fmt: skip

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """Whether it fits, what is at a bound, what hangs together."""
        return tuple(_sentences(self, units))

    @property
    def sheet(self) -> Sheet:
        """Values with intervals, the block for the case file, what is left of each reading."""
        caption = Caption.of(self.case, about=(("", self.readings.told),))
        return Sheet("calibrate", caption, self.verdicts, [*_tables(self)],
                     (Sentence("", CONVENTIONS),), self._facts())  # fmt: skip

    def _facts(self) -> dict[str, Any]:
        applied, wide = self.case.applied, self.fit.correlations()
        block = "\n".join([f"[variant.{MEASURED_VARIANT}]", *self.block])
        return {
            "scenario": None if applied.scenario == "base" else applied.scenario,
            "variant": None if applied.variant == "base" else applied.variant,
            "verdict": list(self.verdicts()), "readings": len(self.readings.rows),
            "left_out": self.readings.left_out,
            "values": {one.path: self._value(one, end) for one, end in
                       zip(self.free.each, self.fit.at_bound, strict=True)},
            "correlations": {path: {other: plain(Field("", q.RATIO), r) for other, r in
                                    zip(self.values, row, strict=True)}
                             for path, row in zip(self.values, wide, strict=True)},
            "chi_square": self.fit.chi_square, "degrees_of_freedom": self.fit.freedom,
            "fits": self.fit.fits, "block": block,
        }  # fmt: skip

    def _value(self, one: Unknown, end: int) -> dict[str, Any]:
        numbers = (self.values[one.path], *self.intervals[one.path], one.subject.present)
        made = {key: plain(Field("", one.quantity), value) for key, value in
                zip(("value", "low", "high", "stated"), numbers, strict=True)}  # fmt: skip
        return {**made, "unit": one.quantity.json.unit, "at_bound": _side(end) or None}


def calibrate(
    case: Enclosure, readings: Source, *, free: Sequence[str] | str, scenario: str = "base",
    variant: str = "base", changes: Changes | None = None,
) -> Calibration:  # fmt: skip
    """Values of some inputs that fit readings best, with intervals of 95 %.

    Parameters
    ----------
    case : Enclosure
        Stays as it is.
    readings : path or list of mappings
        `point` (a result path), `reading`, `reading_unit`, `uncertainty` (95 of 100 lie within, in
        the unit of the reading); rows without a reading are left out.
    free : str or list of str
        Input paths of numbers, `*` for several that are moved together.
    scenario, variant, changes
        As for `solve`: the conditions of the test.

    Raises
    ------
    CaseError
        Faults of the readings, all at once; paths that are no number, or stand in two others.
    NoSolution
        What `solve` raises; where the readings cannot separate the unknowns, with what would.
    """
    argument_checks.check("calibrate", case, Enclosure)
    paths = [free] if isinstance(free, str) else free
    argument_checks.check_names("calibrate: free", paths)
    if not paths:
        raise CaseError("free: nothing is free; name inputs, such as filter.intake.fouling")
    solved = SolvedCase(changed(case, scenario, variant, changes))
    some, known = unknowns(solved, list(paths)), known_results(solved.batch)
    found = read(readings, solved.case, known)
    ended = _fitted(some, found, known)
    spread = np.array([row.uncertainty for row in found.rows]) / NORMAL_95
    predicted = np.array([row.value for row in found.rows]) + ended.residuals * spread
    return Calibration(solved.case, found, some, ended, predicted)


def _fitted(free: Unknowns, readings: Readings, known: Known) -> Fit:
    """NoSolution where it does not settle, or readings cannot tell the unknowns."""
    value, wide = np.array([(row.value, row.uncertainty) for row in readings.rows]).T
    seen: dict[bytes, tuple[Array, Array]] = {}

    def there(x: Array) -> tuple[Array, Array]:
        """Predicted less read in standard deviations, and slopes."""
        found = free.at(x, readings.points)
        return (found.values - value) * NORMAL_95 / wide, found.slopes * (NORMAL_95 / wide)[:, None]

    def residuals(x: Array) -> tuple[Array, Array]:
        """The same; NaN where there is no such enclosure, or no solution."""
        if (key := x.tobytes()) not in seen:
            try:
                seen[key] = there(x)
            except (CaseError, NoSolution):
                seen[key] = np.full(len(value), np.nan), np.zeros((len(value), len(x)))
        return seen[key]

    start = np.zeros(len(free.each))
    seen[start.tobytes()] = there(start)  # says what is wrong with it
    first = Fit(start, *seen[start.tobytes()], np.zeros(len(start), int), True, 1)
    found = fit(residuals, start, *free.ends, scaled=True) if len(value) >= len(start) else first
    if (weak := weakness(found.slopes, found.at_bound)) is not None:
        # best said of where it began, if it is so there: an end that nothing holds may lie anywhere
        begun = weakness(first.slopes, first.at_bound)
        at = found if begun is None else first
        raise NoSolution(inseparable(free, at, begun or weak, known, readings.points))
    if not found.settled:
        raise NoSolution(f"the fit has not settled after {found.solves} solves; chi-square "
                         f"{found.chi_square:.4g} is left")  # fmt: skip
    return found


# --- words ----------------------------------------------------------------------------------------


def _sentences(found: Calibration, units: str) -> Iterator[str]:
    """Whether it fits first: no value is worth more than that."""
    fit_, rows = found.fit, found.readings.rows
    what = f"{counted(len(found.values), 'unknown')} from {counted(len(rows), 'reading')}"
    test = f"chi-square {fit_.chi_square:.3g} with {fit_.freedom} degrees of freedom"
    if not fit_.freedom > 0:
        yield f"{what}: no reading is left over to check the fit"
    elif fit_.fits:
        yield f"{what}; the readings fit within their uncertainty ({test}, at most " \
              f"{most(fit_.freedom):.3g} in 95 of 100)"  # fmt: skip
    else:
        worst = rows[int(np.argmax(np.abs(fit_.residuals)))].point
        wider = math.sqrt(fit_.chi_square / fit_.freedom)
        yield f"the readings do not fit the model within their uncertainty: {test}, where 95 of " \
              f"100 stay below {most(fit_.freedom):.3g}; worst {worst}"  # fmt: skip
        yield f"{what}; intervals are {wider:.2g} times as wide as the stated uncertainties make " \
              "them, with Student's t: the values are those of a model that something is wrong " \
              "with"  # fmt: skip
    for each, end in zip(found.free.each, fit_.at_bound, strict=True):
        if end:
            value = each.quantity.shown(units).text(found.values[each.path])
            yield f"{each.path} is at its {_side(end)} bound, {value}" \
                  f"{'' if each.own_end(end) else FAR}: it has no two-sided interval"  # fmt: skip
    close = [f"{a} and {b} ({r:+.2f})" for a, b, r in _correlated(found) if abs(r) >= CORRELATED]
    if close:
        yield f"hang together, each known with the other: {listed(close)}"
    if MEASURED_VARIANT in (found.case.source or found.case).variants:
        yield f"the case has a [variant.{MEASURED_VARIANT}] already: the block replaces it"


def _correlated(found: Calibration) -> Iterator[tuple[str, str, float]]:
    wide = found.fit.correlations()
    for i, one in enumerate(found.values):
        for j, other in enumerate([*found.values][:i]):
            if not math.isnan(wide[i, j]):
                yield other, one, float(wide[i, j])


def _values(found: Calibration) -> Listing:
    kinds = [each.quantity for each in found.free.each]
    ends = [partial(_range, kind, *both) for kind, both in
            zip(kinds, found.intervals.values(), strict=True)]  # fmt: skip
    return Listing("free", (
        Column("Free", [*found.values]),
        Column("stated", [each.subject.present for each in found.free.each], kinds, form="bound"),
        Column("fitted", [*found.values.values()], kinds), Column("95 %", ends, right=True),
        Column("", [f"at its {_side(end)} bound" if end else "" for end in found.fit.at_bound]),
    ), whole=True)  # fmt: skip


def _side(end: int) -> str:
    return {-1: "lower", 1: "upper"}.get(int(end), "")


def _range(kind: Quantity, low: float, high: float, units: str) -> str:
    """`3.35 to 11.3 m3/h`."""
    shown = kind.shown(units)
    return MISSING if math.isnan(low) else f"{shown.number(low)} to {shown.text(high)}"


def _tables(found: Calibration) -> Iterator[Listing]:
    """The block for the case file, correlations, what is left of each reading."""
    yield _values(found)
    yield Listing("block", (Column(f"[variant.{MEASURED_VARIANT}]", found.block),), whole=True)
    pairs = sorted(_correlated(found), key=lambda each: -abs(each[2]))
    if pairs:
        yield Listing("pairs", (Column("Correlation", [f"{a}, {b}" for a, b, _ in pairs]),
                                Column("", [f"{r:+.2f}" for *_, r in pairs])))  # fmt: skip
    order = np.argsort(-np.abs(found.fit.residuals), kind="stable")
    left = Column("standard_deviations", -found.fit.residuals[order])
    data = data_columns([found.readings.rows[i] for i in order], found.predicted[order], left)
    point, read_, wide, fitted, apart = data[:5]
    yield Listing("left", tuple(column._replace(name=name) for column, name in (
        (point, "Reading of"), (read_, "read"), (fitted, "fitted"), (apart, "left"),
        (wide, "of 95 %"))))  # fmt: skip
    yield Listing("residuals", tuple(data), "data")
