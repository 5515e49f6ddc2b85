"""Inputs of a case by what was measured on it: weighted least squares with exact derivatives."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.changes import steps
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.scenarios import scenario_changes
from flownet.judging.voids import told
from flownet.pages.caption import Caption
from flownet.pages.page import MISSING, counted
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.results.solution import Solution
from flownet.results.tables import Field, plain
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.fault import listed
from flownet.solving.attempt import changed
from flownet.studies.outcome import place_facts
from flownet.studies.readings.file import Known, Readings, Source, data_columns, known_results, read
from flownet.studies.readings.fit import Fit, fit, most
from flownet.studies.readings.separate import COARSEST, inseparable, weakness
from flownet.studies.readings.slopes import FIT_SPAN, Unknown, Unknowns, unknowns
from flownet.studies.samples import NORMAL_95

MEASURED_VARIANT = "as-measured"
FAR = f" (of the search, which ends at {FIT_SPAN:g} times what is stated, or that part of it)"
CORRELATED = 0.9  # from which on two values are named together
CONVENTIONS = (
    "95 % of a reading are 1.96 standard deviations. All other inputs are taken as the case has "
    "them: what is wrong with them is not in the intervals."
)


class Fitted(NamedTuple):
    """What became of one unknown; SI."""

    one: Unknown
    value: float  # of numbers that differ today a factor on each
    low: float  # 95 %; NaN of one that is at a bound
    high: float
    bound: str  # lower, upper, or empty

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        kind = self.one.quantity
        numbers = {"value": self.value, "low": self.low, "high": self.high,
                   "stated": self.one.subject.present}  # fmt: skip
        return {**{key: plain(Field("", kind), value) for key, value in numbers.items()},
                "unit": kind.json.unit, "at_bound": self.bound or None}  # fmt: skip

    def range(self, units: str) -> str:
        """`3.35 to 11.3 m3/h`."""
        shown = self.one.quantity.shown(units)
        return MISSING if self.bound else f"{shown.number(self.low)} to {shown.text(self.high)}"


@dataclass(frozen=True, repr=False, eq=False)
class Calibration(Result):
    """Values of what was free that fit readings best; SI."""

    case: Enclosure  # in its variant and scenario, as it is stated
    readings: Readings
    free: Unknowns
    fit: Fit
    solution: Solution  # at the values

    def __repr__(self) -> str:
        return f'<Calibration "{self.case.title}": {self.verdict}>'

    @cached_property
    def every(self) -> tuple[Fitted, ...]:
        """Every unknown, in the order in which they were asked for."""
        half = self.fit.half_widths(self.fit.fits)
        half[self.fit.at_bound != 0] = np.nan
        columns = (self.free.values(self.fit.values + sign * half) for sign in (-1, 1))
        bounds = [("", "upper", "lower")[end] for end in self.fit.at_bound]
        return tuple(map(Fitted, self.free.each, self.free.values(self.fit.values), *columns,
                         bounds))  # fmt: skip

    @property
    def values(self) -> dict[str, float]:
        """Of each path; of numbers that differ today a factor on each."""
        return {each.one.path: each.value for each in self.every}

    @property
    def intervals(self) -> dict[str, tuple[float, float]]:
        """95 % of each path; NaN of one that is at a bound."""
        return {each.one.path: (each.low, each.high) for each in self.every}

    @property
    def changes(self) -> dict[str, float]:
        """What makes a case as measured: for `with_changes`."""
        return self.free.changes(self.fit.values)

    @property
    def block(self) -> list[str]:
        """The same as lines of a case file; none where the search found no end of any value."""
        if all(each.bound and each.one.searched[each.bound == "upper"] for each in self.every):
            return []
        like = self.case.applied.variant
        lines = [] if like == "base" else [f"like = {json.dumps(like.split('+'))}"]
        return lines + [f"{json.dumps(path)} = {json.dumps(text)}" for each in self.every
                        for path, text in each.one.written(each.value).items()]  # fmt: skip

    @property
    def set_again(self) -> list[str]:
        """What the scenario sets after any variant, so that the block is lost or scaled there."""
        applied = self.case.applied
        design = (self.case.source or self.case).under(variant=applied.variant)
        conditions = scenario_changes(design, applied.scenario)
        sets = {step.place for step in steps(design, conditions)}
        return [each.one.path for each in self.every if sets.intersection(each.one.places)]

    @property
    def correlations(self) -> dict[tuple[str, str], float]:
        """Of each two, as they were asked for; not of one that is at a bound."""
        wide, paths = self.fit.correlations(), [*self.values]
        return {(paths[j], paths[i]): float(wide[i, j]) for i in range(len(paths))
                for j in range(i) if not math.isnan(wide[i, j])}  # fmt: skip

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """Whether it fits, what is at a bound, what hangs together."""
        return tuple(_sentences(self, units))

    @property
    def sheet(self) -> Sheet:
        """Values with intervals, the block for the case file, what is left of each reading."""
        caption = Caption.of(self.case, about=(("", self.readings.told),))
        rows = zip(self.values, self.fit.correlations(), strict=True)
        facts = {
            **place_facts(self.case), "verdict": list(self.verdicts()),
            "void": dict(self.solution.void), "readings": len(self.readings.points),
            "left_out": self.readings.left_out,
            "values": {each.one.path: each.to_dict() for each in self.every},
            "correlations": {path: {other: plain(Field("", q.RATIO), r) for other, r in
                                    zip(self.values, row, strict=True)} for path, row in rows},
            "chi_square": self.fit.chi_square, "degrees_of_freedom": self.fit.freedom,
            "fits": self.fit.fits,
            "block": "\n".join([f"[variant.{MEASURED_VARIANT}]"] * bool(self.block) + self.block),
        }  # fmt: skip
        return Sheet("calibrate", caption, self.verdicts, [*_tables(self)],
                     (Sentence("", CONVENTIONS),), facts)  # fmt: skip


def calibrate(
    case: Enclosure, readings: Source, *, free: Sequence[str] | str, scenario: str = "base",
    variant: str = "base", changes: Changes | None = None, units: str | None = None,
) -> Calibration:  # fmt: skip
    """Values of some inputs that fit readings best, with intervals of 95 %; the case stays.

    Parameters
    ----------
    case, readings, scenario, variant, changes, units
        As for `check_readings`.
    free : str or list of str
        Input paths of numbers, `*` for several that are moved together.

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
    made = changed(case, scenario, variant, changes)
    some = unknowns(made, list(paths))
    known = known_results(some.state(np.zeros(len(paths))).batch)
    speaks = units or made.units
    found = read(readings, made, known, speaks)
    ended = fitted(some, found, known, speaks)
    return Calibration(made, found, some, ended, some.state(ended.values).batch.select(0))


def fitted(free: Unknowns, readings: Readings, known: Known, units: str = "metric") -> Fit:
    """Where readings fit best; NoSolution, in these units, where it does not settle, or readings
    cannot tell the unknowns. `known`: every result of the case as it is."""
    weight = NORMAL_95 / readings.wide

    def residuals(x: Array) -> tuple[Array, Array]:
        """Predicted less read in standard deviations, and slopes; NaN where there is no such
        enclosure, or no solution."""
        try:
            found = free.at(x, readings.points)
        except (CaseError, NoSolution):
            return np.full(len(weight), np.nan), np.zeros((len(weight), len(x)))
        return (found.values - readings.values) * weight, found.slopes * weight[:, None]

    start = np.zeros(len(free.each))
    found = fit(residuals, start, *free.ends, scaled=True)
    if (weak := weakness(found.slopes, found.at_bound)) is not None:
        # best said of where it began, if it is so there: an end that nothing holds may lie anywhere
        first = found._replace(values=start, slopes=found.begun, at_bound=0 * found.at_bound)
        begun = weakness(first.slopes, first.at_bound)
        at = found if begun is None else first
        raise NoSolution(inseparable(free, at, begun or weak, known, readings.points, units))
    if not found.settled:
        raise NoSolution(f"the fit has not settled after {found.solves} solves; chi-square "
                         f"{found.chi_square:.4g} is left")  # fmt: skip
    return found


# --- words ----------------------------------------------------------------------------------------


def _sentences(found: Calibration, units: str) -> Iterator[str]:
    """What is void, and whether it fits, first: no value is worth more than that."""
    if found.solution.void:
        yield f"void: {told(found.solution.void, units)}; values are fitted to numbers on paper"
    fit_, points = found.fit, found.readings.points
    what = f"{counted(len(found.values), 'unknown')} from {counted(len(points), 'reading')}"
    freedom = f"{counted(fit_.freedom, 'degree')} of freedom"
    test = f"chi-square {fit_.chi_square:.3g} with {freedom}"
    if not fit_.freedom > 0:
        yield f"{what}: no reading is left over to check the fit"
    elif fit_.fits:
        yield f"{what}; the readings fit within their uncertainty ({test}, at most " \
              f"{most(fit_.freedom):.3g} in 95 of 100)"  # fmt: skip
    else:
        worst = points[int(np.argmax(np.abs(fit_.residuals)))]
        wider = math.sqrt(fit_.chi_square / fit_.freedom)
        yield f"the readings do not fit the model within their uncertainty: {test}, where 95 of " \
              f"100 stay below {most(fit_.freedom):.3g}; worst {worst}"  # fmt: skip
        yield f"{what}; intervals are {wider:.2g} times as wide as the stated uncertainties make " \
              "them, with Student's t: the values are those of a model that something is wrong " \
              "with"  # fmt: skip
        half = fit_.half_widths(known=False)
        loose = [path for path, each in zip(found.values, half, strict=True) if each > COARSEST]
        if loose:
            yield f"known to no better than a tenth to ten times, so not known: {listed(loose)}"
    yield from _remarks(found, units)


def _remarks(found: Calibration, units: str) -> Iterator[str]:
    """What is at a bound, what hangs together, where the block does not hold."""
    for one, value, *_, bound in found.every:
        if bound:
            far = FAR * one.searched[bound == "upper"]
            others = ", and those of the others hold with it there" * (len(found.every) > 1)
            yield f"{one.path} is at its {bound} bound, {one.quantity.shown(units).text(value)}" \
                  f"{far}: it has no two-sided interval{others}"  # fmt: skip
    close = [f"{a} and {b} ({r:+.2f})" for (a, b), r in found.correlations.items()
             if abs(r) >= CORRELATED]  # fmt: skip
    if close:
        yield f"hang together, each known with the other: {listed(close)}"
    if again := found.set_again:
        yield f"scenario {found.case.applied.scenario} sets {listed(again)} after every variant: " \
              "the block does not hold there"  # fmt: skip
    if MEASURED_VARIANT in (found.case.source or found.case).variants:
        yield f"the case has a [variant.{MEASURED_VARIANT}] already: the block replaces it"


def _tables(found: Calibration) -> Iterator[Listing]:
    """Values, the block for the case file, correlations, what is left of each reading."""
    some, kinds = found.every, [each.one.quantity for each in found.every]
    yield Listing("free", (
        Column("Free", [*found.values]),
        Column("stated", [each.one.subject.present for each in some], kinds),
        Column("fitted", [each.value for each in some], kinds),
        Column("95 %", [each.range for each in some], right=True),
        Column("", [f"at its {each.bound} bound" * bool(each.bound) for each in some]),
    ), whole=True)  # fmt: skip
    if found.block:
        yield Listing("block", (Column(f"[variant.{MEASURED_VARIANT}]", found.block),), whole=True)
    pairs = sorted(found.correlations.items(), key=lambda each: -abs(each[1]))
    if pairs:
        yield Listing("pairs", (Column("Correlation", [", ".join(both) for both, _ in pairs]),
                                Column("", [f"{r:+.2f}" for _, r in pairs])))  # fmt: skip
    order = np.argsort(-np.abs(found.fit.residuals), kind="stable")
    rows = found.readings.take(order)
    left = Column("standard_deviations", -found.fit.residuals[order])
    data = data_columns(rows, np.array([found.solution[path] for path in rows.points]), left)
    point, read_, wide, fitted, apart = data[:5]
    yield Listing("left", tuple(column._replace(name=name) for column, name in (
        (point, "Reading of"), (read_, "read"), (fitted, "fitted"), (apart, "left"),
        (wide, "of 95 %"))))  # fmt: skip
    yield Listing("residuals", tuple(data), "data")
