"""Readings beside what is predicted: what lies outside, as a share of the rise, and why."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import as_text
from flownet.judging.voids import told
from flownet.pages.caption import Caption
from flownet.pages.page import MISSING, counted
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.results.solution import Solution
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.solving.attempt import changed
from flownet.studies.readings.explanations import Compared, Explanation, explanations
from flownet.studies.readings.file import Known, Readings, Source, data_columns, known_results, read
from flownet.studies.readings.fit import MISFIT, chance, most
from flownet.studies.readings.slopes import SolvedCase, drawn
from flownet.studies.samples import NORMAL_95
from flownet.studies.tolerances import Spread, difference, practice, spreads

LEAST_RISE = 0.5  # K from outside: a share of less says nothing
AS_GOOD = 2.0  # of chi-square and twice the count, within which explanations are as good


@dataclass(frozen=True, repr=False, eq=False)
class Deviations(Result):
    """Readings beside predictions; SI, (readings,) in the order of the file."""

    solution: Solution
    readings: Readings
    predicted: Array
    band: Array  # 95 % of what is predicted, either way, by the tolerances
    spreads: tuple[Spread, ...]
    stated: float  # chi-square of the case as it is
    explanations: tuple[Explanation, ...]  # of what lies outside, the best first

    def __repr__(self) -> str:
        return f'<Deviations "{self.solution.case.title}": {self.verdict}>'

    @property
    def read(self) -> Array:
        """What was read."""
        return np.array([row.value for row in self.readings.rows])

    @property
    def allowed(self) -> Array:
        """95 % of a difference: uncertainty of the reading and of what is predicted together."""
        return np.hypot([row.uncertainty for row in self.readings.rows], self.band)

    @property
    def outside(self) -> Array:
        """Which differ by more."""
        found: Array = np.abs(self.read - self.predicted) > self.allowed
        return found

    @property
    def shares(self) -> Array:
        """Difference over the rise above outside of a temperature, over the prediction of all else;
        NaN where that is next to nothing, and of levels."""
        kinds = [row.quantity for row in self.readings.rows]
        ambient = self.solution.site["temperature"]
        zero = {q.TEMPERATURE: ambient, q.LEVEL: math.nan}
        whole = self.predicted - np.array([zero.get(kind, 0.0) for kind in kinds])
        least = [LEAST_RISE if kind == q.TEMPERATURE else kind.metric.nought for kind in kinds]
        whole[np.abs(whole) <= least] = np.nan
        found: Array = (self.read - self.predicted) / np.abs(whole)
        return found

    @property
    def agrees(self) -> bool:
        """Whether all readings together differ by no more than chance (chi-square test at 5 %)."""
        return chance(self.stated, len(self.readings.rows)) >= MISFIT

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """How many lie outside, the largest deviation, what explains them."""
        return tuple(_sentences(self, units))

    @property
    def sheet(self) -> Sheet:
        """Readings, those outside first; explanations, the best first."""
        caption = Caption.of(self.solution, about=(("", self.readings.told),))
        notes = (Sentence("", partial(_meaning, self)),
                 Sentence("", partial(practice, self.spreads)))  # fmt: skip
        tables = [*_tables(self), *_explained(self)]
        return Sheet("readings", caption, self.verdicts, tables, notes, self._facts())

    def _facts(self) -> dict[str, Any]:
        case = self.solution.case
        return {
            "scenario": case.applied.scenario if case.applied.scenario != "base" else None,
            "variant": case.applied.variant if case.applied.variant != "base" else None,
            "verdict": list(self.verdicts()), "void": dict(self.solution.void),
            "readings": len(self.readings.rows), "left_out": self.readings.left_out,
            "outside": int(self.outside.sum()), "chi_square": self.stated, "agrees": self.agrees,
        }  # fmt: skip


def check_readings(
    case: Enclosure, readings: Source, *, scenario: str = "base", variant: str = "base",
    changes: Changes | None = None, defaults: bool = True,
) -> Deviations:  # fmt: skip
    """Readings beside predictions, which have the band of their tolerances, and what explains them.

    Parameters
    ----------
    case : Enclosure
    readings : path or list of mappings
        `point` (a result path), `reading`, `reading_unit`, `uncertainty` (95 of 100 lie within, in
        the unit of the reading); rows without a reading are left out, other keys are kept.
    scenario, variant, changes
        As for `solve`: the conditions of the test.
    defaults : bool
        Whether usual tolerances (common practice, no source) stand in where the case has none.

    Raises
    ------
    CaseError
        Faults of the readings, all at once, by their lines; what `solve` raises.
    NoSolution
        What `solve` raises.
    """
    argument_checks.check("check_readings", case, Enclosure)
    made = changed(case, scenario, variant, changes)
    solved = SolvedCase(made)
    batch = solved.batch
    known = known_results(batch)
    found = read(readings, made, known)
    moved = spreads(made, defaults)
    compared = _compared(solved, found, known, moved)
    band = NORMAL_95 * np.array([np.linalg.norm(compared.drawn[path]) for path in found.points])
    plain = Deviations(batch.select(0), found, compared.at(found.points), band, moved,
                       compared.stated, ())  # fmt: skip
    why = () if plain.agrees else tuple(explanations(made, compared))
    return replace(plain, explanations=why)


def _compared(
    solved: SolvedCase, found: Readings, known: Known, moved: tuple[Spread, ...]
) -> Compared:  # fmt: skip
    """With what one standard deviation of each tolerance does to every result of a quantity that is
    read: exact derivatives, linear."""
    kinds = {row.quantity for row in found.rows}
    every = {path: quantity for path, (quantity, value) in known.items()
             if quantity is not None and quantity in kinds and math.isfinite(value)}  # fmt: skip
    linear = drawn(solved, moved, [*every])
    return Compared(
        found.points, np.array([row.value for row in found.rows]),
        np.array([row.uncertainty for row in found.rows]) / NORMAL_95, every,
        dict(zip(every, linear.values.tolist(), strict=True)),
        dict(zip(every, linear.slopes, strict=True)),
    )  # fmt: skip


# --- words ----------------------------------------------------------------------------------------


def _sentences(found: Deviations, units: str) -> Iterator[str]:
    """The verdict; before it what makes the numbers void."""
    count, out = len(found.readings.rows), int(found.outside.sum())
    readings = counted(count, "reading")
    if found.solution.void:
        yield f"void: {told(found.solution.void, units)}; readings stand beside numbers on paper"
    within = "lies" if count == 1 else "all lie"
    first = f"{out} of {readings} {'lies' if out == 1 else 'lie'} outside" if out else \
        f"{readings}: {within} within"  # fmt: skip
    yield f"{first} the 95 % band; {_largest(found, units)}"
    test = f"chi-square {found.stated:.3g}, at most {most(count):.3g} in 95 of 100"
    if out and found.agrees:
        yield f"all together they differ no more than by chance ({test}): one in 20 lies outside"
    elif not out and not found.agrees:
        yield f"but together they differ by more than chance ({test})"
    if not found.agrees:
        yield from _why(found, units)


def _largest(found: Deviations, units: str) -> str:
    """What is farthest off, and the temperature that is by its share of the rise."""
    apart, rows = np.abs(found.read - found.predicted) / found.allowed, found.readings.rows
    far = int(np.argmax(apart))
    words = f"farthest off is {_off(found, far, units)}"
    warm = np.array([row.quantity == q.TEMPERATURE for row in rows])
    shares = np.where(warm, np.nan_to_num(np.abs(found.shares)), 0.0)
    warmest = int(np.argmax(shares))
    if shares[warmest] > 0 and warmest != far:
        words += f"; farthest of the temperatures {_off(found, warmest, units)}"
    return words


def _off(found: Deviations, i: int, units: str) -> str:
    """`part.controller.temperature, +25 % of its rise above outside (45.0 degC), +3.1 K`."""
    row, share = found.readings.rows[i], found.shares[i]
    shown = difference(row.quantity).shown(units)
    words = [row.point]
    if row.quantity == q.TEMPERATURE and not math.isnan(share):
        words += [f"{100 * share:+.0f} % of its rise above outside ({_ambient(found, units)})"]
    elif not math.isnan(share):
        words += [f"{100 * share:+.0f} % of what is predicted"]
    return ", ".join([*words, shown.text(float(found.read[i] - found.predicted[i]), "+")])


def _ambient(found: Deviations, units: str) -> str:
    return q.TEMPERATURE.shown(units).text(found.solution.site["temperature"])


def _why(found: Deviations, units: str) -> Iterator[str]:
    """What explains it, and what explains it as well; or that nothing alone does."""
    good = [each for each in found.explanations if each.explains]
    from_ = f"from {found.stated:.3g} as it is stated"
    if good:
        first, *others = good
        yield f"{first.words(units)} explains all (chi-square {first.chi_square:.3g}, {from_})"
        alike = [each.words(units) for each in others if each.rank - first.rank < AS_GOOD]
        if alike:
            yield f"the readings do not tell it from: {'; '.join(alike)}"
    elif len(found.readings.rows) < 2:
        yield "one reading tells no explanation from another"
    elif found.explanations:
        first = found.explanations[0]
        yield f"nothing that was tried alone explains it; nearest: {first.words(units)} " \
              f"(chi-square {first.chi_square:.3g}, {from_})"  # fmt: skip
    else:
        yield "nothing that was tried comes nearer than the case as it is stated"


def _tables(found: Deviations) -> Iterator[Listing]:
    """Those outside and those within, the farthest first; and all as data."""
    order = np.argsort(-np.abs(found.read - found.predicted) / found.allowed, kind="stable")
    kinds = [row.quantity for row in found.readings.rows]
    for word, here in (("Outside", found.outside), ("Within", ~found.outside)):
        picked = order[here[order]]
        shares = [MISSING if math.isnan(x) else f"{100 * x:+.1f} %" for x in found.shares[picked]]
        own = [kinds[i] for i in picked]
        columns = (
            Column(word, [found.readings.points[i] for i in picked]),
            Column("read", found.read[picked], own),
            Column("predicted", found.predicted[picked], own),
            Column("+/- 95 %", found.allowed[picked], [*map(difference, own)]),
            Column("share", shares, right=True),
        )
        if len(picked):
            yield Listing(word.lower(), columns, whole=word == "Outside")
    yield Listing("readings", tuple(data_columns(
        found.readings.rows, found.predicted, Column("low", found.predicted - found.band, kinds),
        Column("high", found.predicted + found.band, kinds),
        Column("share", found.shares, q.RATIO), Column("outside", found.outside.tolist()),
    )), "data")  # fmt: skip


def _explained(found: Deviations) -> Iterator[Listing]:
    some = found.explanations
    case = found.solution.case
    if some:
        yield Listing("explanations", (
            Column("Explanation", [each.words for each in some]),
            Column("chi-square", [f"{each.chi_square:.3g}" for each in some], right=True),
            Column("fitted", [str(each.counted) for each in some], right=True),
            Column("explains", ["all" if each.explains else "no" if each.freedom > 0 else MISSING
                                for each in some], right=True),
        ))  # fmt: skip
    yield Listing("explanations", (
        Column("words", [each.words() for each in some]),
        Column("changes", [{path: as_text(case, path, value) for path, value in
                            each.changes.items()} for each in some]),
        Column("chi_square", [each.chi_square for each in some], q.RATIO),
        Column("fitted", [each.counted for each in some]),
        Column("explains", [each.explains for each in some]),
    ), "json")  # fmt: skip


def _meaning(found: Deviations, units: str) -> str:
    return (
        f"share: of the rise above outside ({_ambient(found, units)}) for temperatures, of what is "
        "predicted for all else. +/- 95 %: uncertainty of the reading and tolerances of the case "
        "together, by exact derivatives (linear)."
    )
