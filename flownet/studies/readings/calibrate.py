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
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.fault import listed
from flownet.schema.quantities import Quantity
from flownet.solving.attempt import changed
from flownet.studies.readings.file import (
    Known,
    Readings,
    Source,
    kept_columns,
    known_results,
    read,
)
from flownet.studies.readings.fit import Fit, fit, most
from flownet.studies.readings.separate import by_unknown, inseparable, weakness
from flownet.studies.readings.slopes import SolvedCase
from flownet.studies.readings.unknowns import FIT_SPAN, Unknown, unknowns
from flownet.studies.samples import NORMAL_95
from flownet.studies.tolerances import difference

MEASURED_VARIANT = "as-measured"
FAR = f" (of the fit, which looks no further than {FIT_SPAN:g} times, and a part of, what is stated)"
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
    free: tuple[Unknown, ...]
    fit: Fit
    predicted: Array  # (readings,) at the values

    def __repr__(self) -> str:
        return f'<Calibration "{self.case.title}": {self.verdict}>'

    @property
    def values(self) -> dict[str, float]:
        """Of each path; of numbers that differ today a factor on each."""
        return {each.path: each.value(float(x))
                for each, x in zip(self.free, self.fit.values, strict=True)}  # fmt: skip

    @property
    def intervals(self) -> dict[str, tuple[float, float]]:
        """95 % of each path; NaN of one that is at a bound."""
        found, half = {}, self.fit.half_widths(self.fit.fits)
        for each, x, wide, end in zip(self.free, self.fit.values, half, self.fit.at_bound,
                                      strict=True):  # fmt: skip
            ends = (each.value(float(x - wide)), each.value(float(x + wide)))
            found[each.path] = (math.nan, math.nan) if end else ends
        return found

    @property
    def changes(self) -> dict[str, float]:
        """What makes a case as measured: for `with_changes`."""
        return {path: value for each in self.free
                for path, value in each.changes(self.values[each.path]).items()}  # fmt: skip

    @property
    def block(self) -> list[str]:
        """The same as lines of a case file."""
        like = self.case.applied.variant
        lines = [] if like == "base" else [f"like = {json.dumps(like.split('+'))}"]
        return lines + [f"{json.dumps(path)} = {json.dumps(text)}" for each in self.free
                        for path, text in each.written(self.values[each.path]).items()]  # fmt: skip

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """Whether it fits, what is at a bound, what hangs together."""
        return tuple(_sentences(self, units))

    @property
    def sheet(self) -> Sheet:
        """Values with intervals, the block for the case file, what is left of each reading."""
        caption = Caption.of(self.case, about=(("", self.readings.told),))
        tables = [_values(self), _block(self), _pairs(self), *_left(self)]
        return Sheet("calibrate", caption, self.verdicts, [t for t in tables if t is not None],
                     (Sentence("", CONVENTIONS),), self._facts())  # fmt: skip

    def _facts(self) -> dict[str, Any]:
        paths, found = [each.path for each in self.free], self.fit.correlations()
        return {
            "scenario": _named(self.case.applied.scenario),
            "variant": _named(self.case.applied.variant), "verdict": list(self.verdicts()),
            "readings": len(self.readings.rows), "left_out": self.readings.left_out,
            "values": {each.path: self._value(each, end) for each, end in
                       zip(self.free, self.fit.at_bound, strict=True)},
            "correlations": {a: {b: _number(found[i, j]) for j, b in enumerate(paths)}
                             for i, a in enumerate(paths)},
            "chi_square": self.fit.chi_square, "degrees_of_freedom": self.fit.freedom,
            "fits": self.fit.fits, "block": "\n".join([f"[variant.{MEASURED_VARIANT}]", *self.block]),
        }  # fmt: skip

    def _value(self, each: Unknown, end: int) -> dict[str, Any]:
        field, ends = Field("", each.quantity), self.intervals[each.path]
        numbers = zip(("value", "low", "high", "stated"),
                      (self.values[each.path], *ends, each.subject.present),
                      strict=True)  # fmt: skip
        return {**{key: plain(field, value) for key, value in numbers},
                "unit": each.quantity.json.unit,
                "at_bound": {-1: "low", 1: "high"}.get(int(end))}  # fmt: skip


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
    paths = [free] if isinstance(free, str) else list(free)
    if not paths:
        raise CaseError("free: nothing is free; name inputs, such as filter.intake.fouling")
    made = changed(case, scenario, variant, changes)
    some = unknowns(made, paths)
    bench = SolvedCase(made)
    known = known_results(bench.batch)
    found = _Fitting(bench, some, read(readings, made, known), known)
    return found.made()


class _Fitting:
    """Residuals and their derivatives, on the scales of the unknowns."""

    def __init__(
        self, bench: SolvedCase, some: Sequence[Unknown], readings: Readings, known: Known
    ) -> None:
        self.bench, self.some, self.readings, self.known = bench, some, readings, known
        self.places = [place for each in some for place, _ in each.reached]
        self.read = np.array([row.value for row in readings.rows])
        self.spread = np.array([row.uncertainty for row in readings.rows]) / NORMAL_95
        self.seen: dict[bytes, tuple[Array, Array]] = {}

    def made(self) -> Calibration:
        """NoSolution where it does not settle, or readings cannot tell the unknowns."""
        start = np.zeros(len(self.some))
        self.seen[start.tobytes()] = self.there(start)  # says what is wrong with it
        first = Fit(start, *self.residuals(start), np.zeros(len(start), int), True, 1)
        found = first
        if len(self.readings.rows) >= len(self.some):
            ends = np.array([[each.x(end) for end in each.ends] for each in self.some])
            found = fit(self.residuals, start, *ends.T)
        self._refuse_inseparable(found, first)
        if not found.settled:
            raise NoSolution(f"the fit has not settled after {found.solves} solves; chi-square "
                             f"{found.chi_square:.4g} is left")  # fmt: skip
        return Calibration(self.bench.case, self.readings, tuple(self.some), found,
                           self.read + found.residuals * self.spread)  # fmt: skip

    def _refuse_inseparable(self, found: Fit, first: Fit) -> None:
        """What cannot be told where a fit ended is best said where it began, if it is so there: an
        end that nothing holds may lie anywhere."""
        weak, at = weakness(found.slopes, found.at_bound), found
        if weak is None:
            return
        if (there := weakness(first.slopes, first.at_bound)) is not None:
            weak, at = there, first
        values = [each.value(float(x)) for each, x in zip(self.some, at.values, strict=True)]
        raise NoSolution(inseparable(self.bench, self.some, values, at, weak, self.known,
                                     self.readings.points))  # fmt: skip

    def there(self, x: Array) -> tuple[Array, Array]:
        """Residuals, predicted less read, in standard deviations; and their slopes."""
        values = [each.value(float(one)) for each, one in zip(self.some, x, strict=True)]
        changes = {path: v for each, value in zip(self.some, values, strict=True)
                   for path, v in each.changes(value).items()}  # fmt: skip
        linear = self.bench.changed(changes, self.places, self.readings.points)
        slopes = by_unknown(linear.slopes, self.some, values) / self.spread[:, None]
        return (linear.values - self.read) / self.spread, slopes

    def residuals(self, x: Array) -> tuple[Array, Array]:
        """The same; NaN where there is no such enclosure, or no solution."""
        if (key := x.tobytes()) not in self.seen:
            try:
                self.seen[key] = self.there(x)
            except (CaseError, NoSolution):
                count = len(self.read)
                self.seen[key] = np.full(count, np.nan), np.zeros((count, len(x)))
        return self.seen[key]


# --- words ----------------------------------------------------------------------------------------


def _sentences(found: Calibration, units: str) -> Iterator[str]:
    """Whether it fits first: no value is worth more than that."""
    fit_, rows = found.fit, found.readings.rows
    what = f"{counted(len(found.free), 'unknown')} from {counted(len(rows), 'reading')}"
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
    for each, end in zip(found.free, fit_.at_bound, strict=True):
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
    for i, one in enumerate(found.free):
        for j, other in enumerate(found.free[:i]):
            if not math.isnan(wide[i, j]):
                yield other.path, one.path, float(wide[i, j])


def _values(found: Calibration) -> Listing:
    kinds = [each.quantity for each in found.free]
    ends = [found.intervals[each.path] for each in found.free]
    side = [f"at its {_side(end)} bound" if end else "" for end in found.fit.at_bound]
    return Listing("free", (
        Column("Free", [each.path for each in found.free]),
        Column("stated", [each.subject.present for each in found.free], kinds, form="bound"),
        Column("fitted", [*found.values.values()], kinds),
        Column("95 %", [partial(_range, kind, *both) for kind, both in
                        zip(kinds, ends, strict=True)], right=True),
        Column("", side),
    ), whole=True)  # fmt: skip


def _side(end: int) -> str:
    return "lower" if end < 0 else "upper"


def _range(kind: Quantity, low: float, high: float, units: str) -> str:
    """`3.35 to 11.3 m3/h`."""
    shown = kind.shown(units)
    return MISSING if math.isnan(low) else f"{shown.number(low)} to {shown.text(high)}"


def _block(found: Calibration) -> Listing:
    return Listing("block", (Column(f"[variant.{MEASURED_VARIANT}]", found.block),), whole=True)


def _pairs(found: Calibration) -> Listing | None:
    every = sorted(_correlated(found), key=lambda each: -abs(each[2]))
    return Listing("pairs", (
        Column("Correlation", [f"{a}, {b}" for a, b, _ in every]),
        Column("", [f"{r:+.2f}" for *_, r in every]),
    )) if every else None  # fmt: skip


def _left(found: Calibration) -> Iterator[Listing]:
    rows = found.readings.rows
    order = np.argsort(-np.abs(found.fit.residuals), kind="stable")
    picked = [rows[i] for i in order]
    kinds = [row.quantity for row in picked]
    apart = [difference(kind) for kind in kinds]
    left = -found.fit.residuals[order] * np.array([row.uncertainty for row in picked]) / NORMAL_95
    common = (
        Column("reading", [row.value for row in picked], kinds),
        Column("predicted", found.predicted[order], kinds),
        Column("difference", left, apart, form="+"),
        Column("uncertainty", [row.uncertainty for row in picked], apart),
    )
    yield Listing("residuals", (Column("Reading of", [row.point for row in picked]), *(
        each._replace(name=name) for each, name in
        zip(common, ("read", "fitted", "left", "of 95 %"), strict=True))))  # fmt: skip
    data = [Column("point", [row.point for row in picked]), *common,
            Column("unit", [kind.json.unit for kind in kinds]),
            Column("standard_deviations", -found.fit.residuals[order])]  # fmt: skip
    yield Listing("residuals", (*data, *kept_columns(picked, data)), "data")


def _named(name: str) -> str | None:
    return None if name == "base" else name


def _number(value: float) -> float | None:
    return None if math.isnan(value) else float(value)
