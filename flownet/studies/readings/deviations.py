"""Readings beside what is predicted: what lies outside, as a share of the rise, and why."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import settable
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
from flownet.studies.outcome import place_facts
from flownet.studies.readings.explanations import Compared, Explanation, explanations
from flownet.studies.readings.file import Readings, Source, data_columns, known_results, read
from flownet.studies.readings.fit import MISFIT, chance, most
from flownet.studies.readings.slopes import SolvedCase, drawn
from flownet.studies.samples import NORMAL_95
from flownet.studies.tolerances import Spread, difference, practice, spreads

LEAST_RISE = 0.5  # K from outside: a share of less says nothing
WORTH = 0.5  # of chi-square: what leaves more and does not explain is in JSON alone
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
    explanations: tuple[Explanation, ...]  # of what differs by more than chance, the best first

    def __repr__(self) -> str:
        return f'<Deviations "{self.solution.case.title}": {self.verdict}>'

    @cached_property
    def apart(self) -> Array:
        """What was read less what is predicted."""
        return self.readings.values - self.predicted

    @cached_property
    def allowed(self) -> Array:
        """95 % of a difference: uncertainty of the reading and of what is predicted together."""
        return np.hypot(self.readings.wide, self.band)

    @cached_property
    def outside(self) -> Array:
        """Which differ by more."""
        return np.asarray(np.abs(self.apart) > self.allowed)

    @cached_property
    def shares(self) -> Array:
        """Difference over the rise above outside of a temperature, over the prediction of all else;
        NaN where that is next to nothing, and of levels and margins."""
        zero = {q.TEMPERATURE: self.solution.site["temperature"], q.LEVEL: math.nan}
        bare = [math.nan if path.endswith("margin") else zero.get(kind, 0.0) for path, kind in
                zip(self.readings.points, self.readings.kinds, strict=True)]  # fmt: skip
        whole = self.predicted - np.array(bare)
        least = [LEAST_RISE if kind == q.TEMPERATURE else kind.metric.nought
                 for kind in self.readings.kinds]  # fmt: skip
        return self.apart / np.where(np.abs(whole) > least, np.abs(whole), np.nan)

    @property
    def agrees(self) -> bool:
        """Whether all readings together differ by no more than chance (chi-square test at 5 %)."""
        return chance(self.stated, len(self.predicted)) >= MISFIT

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """How many lie outside, the largest deviation, what explains them."""
        return tuple(_sentences(self, units))

    @property
    def sheet(self) -> Sheet:
        """Readings, those outside first; explanations, the best first."""
        caption = Caption.of(self.solution, about=(("", self.readings.told),))
        notes = (Sentence("", partial(_meaning, self)),
                 Sentence("", partial(practice, self.spreads)))  # fmt: skip
        facts = {
            **place_facts(self.solution.case), "verdict": list(self.verdicts()),
            "void": dict(self.solution.void), "readings": len(self.predicted),
            "left_out": self.readings.left_out, "outside": int(self.outside.sum()),
            "chi_square": self.stated, "agrees": self.agrees,
        }  # fmt: skip
        tables = [*_tables(self), *_explained(self)]
        return Sheet("readings", caption, self.verdicts, tables, notes, facts)


def check_readings(
    case: Enclosure, readings: Source, *, scenario: str = "base", variant: str = "base",
    changes: Changes | None = None, defaults: bool = True, units: str | None = None,
) -> Deviations:  # fmt: skip
    """Readings beside predictions, which have the band of their tolerances, and what explains them.

    Parameters
    ----------
    case : Enclosure
    readings : path, file open for bytes, or list of mappings
        `point` (a result path), `reading`, `reading_unit`, `uncertainty` (95 of 100 lie within, in
        the unit of the reading); rows without a reading are left out, other keys are kept.
    scenario, variant, changes
        As for `solve`: the conditions of the test.
    defaults : bool
        Whether usual tolerances (common practice, no source) stand in where the case has none.
    units : "metric" or "us", optional
        What a refusal speaks in. Default that of the case.

    Raises
    ------
    CaseError
        Faults of the readings, all at once, by their lines; what `solve` raises.
    NoSolution
        What `solve` raises.
    """
    argument_checks.check("check_readings", case, Enclosure)
    solved = SolvedCase(changed(case, scenario, variant, changes))
    known = known_results(batch := solved.batch)
    found = read(readings, solved.case, known, units or case.units)
    moved = spreads(solved.case, defaults)
    some = [path for path, (quantity, value) in known.items()
            if quantity in found.kinds and math.isfinite(value)]  # fmt: skip
    one_draw = dict(zip(some, drawn(solved, moved, some).slopes, strict=True))
    compared = Compared(found, known, one_draw)
    band = NORMAL_95 * np.array([np.linalg.norm(one_draw[path]) for path in found.points])
    plain = Deviations(batch.select(0), found, compared.at(found.points), band, moved,
                       compared.stated, ())  # fmt: skip
    why = () if plain.agrees else tuple(explanations(solved.case, compared))
    return replace(plain, explanations=why)


# --- words ----------------------------------------------------------------------------------------


def _sentences(found: Deviations, units: str) -> Iterator[str]:
    """The verdict; before it what makes the numbers void."""
    count, out = len(found.predicted), int(found.outside.sum())
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
    far = int(np.argmax(np.abs(found.apart) / found.allowed))
    warm = np.array([kind == q.TEMPERATURE for kind in found.readings.kinds])
    shares = np.where(warm, np.nan_to_num(np.abs(found.shares)), 0.0)
    words, warmest = f"farthest off is {_off(found, far, units)}", int(np.argmax(shares))
    if shares[warmest] > 0 and warmest != far:
        words += f"; farthest of the temperatures {_off(found, warmest, units)}"
    return words


def _off(found: Deviations, i: int, units: str) -> str:
    """`part.controller.temperature, +25 % of its rise above outside (45.0 degC), +3.1 K`."""
    kind, share = found.readings.kinds[i], found.shares[i]
    of = f"its rise above outside ({_ambient(found, units)})" if kind == q.TEMPERATURE else \
        "what is predicted"  # fmt: skip
    words = [found.readings.points[i], *([f"{100 * share:+.0f} % of {of}"] * (not np.isnan(share)))]
    return ", ".join([*words, difference(kind).shown(units).text(float(found.apart[i]), "+")])


def _ambient(found: Deviations, units: str) -> str:
    return q.TEMPERATURE.shown(units).text(found.solution.site["temperature"])


def _why(found: Deviations, units: str) -> Iterator[str]:
    """What explains it, and what explains it as well; or that nothing alone does."""
    good = [each for each in found.explanations if each.explains]
    from_ = f"from {found.stated:.3g} as it is stated"
    if good:
        first, *others = good
        left = f"(chi-square {first.chi_square:.3g}, {from_})"
        yield f"two causes together explain all {left}: {first.words(units)}" if first.both else \
              f"{first.words(units)} explains all {left}"  # fmt: skip
        alike = [each.words(units) for each in others if each.rank - first.rank < AS_GOOD]
        if alike:
            yield f"the readings do not tell it from: {'; '.join(alike)}"
    elif len(found.predicted) < 2:
        yield "one reading tells no explanation from another"
    elif found.explanations:
        first = found.explanations[0]
        tried = "alone" if len(found.predicted) <= 2 else "alone or in pairs"
        yield f"nothing that was tried {tried} explains it; nearest: {first.words(units)} " \
              f"(chi-square {first.chi_square:.3g}, {from_})"  # fmt: skip
    else:
        yield "nothing that was tried comes nearer than the case as it is stated"


def _tables(found: Deviations) -> Iterator[Listing]:
    """Those outside and those within, the farthest first; and all as data."""
    order = np.argsort(-np.abs(found.apart) / found.allowed, kind="stable")
    for word, here in (("Outside", found.outside), ("Within", ~found.outside)):
        picked = order[here[order]]
        some, shares = found.readings.take(picked), found.shares[picked]
        columns = (
            Column(word, some.points), Column("read", some.values, some.kinds),
            Column("predicted", found.predicted[picked], some.kinds),
            Column("+/- 95 %", found.allowed[picked], [*map(difference, some.kinds)]),
            Column("share", [MISSING if math.isnan(x) else f"{100 * x:+.1f} %" for x in shares],
                   right=True),
        )  # fmt: skip
        if len(picked):
            yield Listing(word.lower(), columns, whole=word == "Outside")
    low, high = found.predicted - found.band, found.predicted + found.band
    yield Listing("readings", tuple(data_columns(
        found.readings, found.predicted, Column("low", low, found.readings.kinds),
        Column("high", high, found.readings.kinds), Column("share", found.shares, q.RATIO),
        Column("outside", found.outside.tolist()),
    )), "data")  # fmt: skip


def _explained(found: Deviations) -> Iterator[Listing]:
    every, case = found.explanations, found.solution.case
    some = [each for each in every if each.explains or each.chi_square < WORTH * found.stated]
    if some:
        yield Listing("explanations", (
            Column("Explanation", [each.words for each in some]),
            Column("chi-square", [f"{each.chi_square:.3g}" for each in some], right=True),
            Column("fitted", [str(each.counted) for each in some], right=True),
            Column("explains", ["all" if each.explains else "no" if each.freedom > 0 else MISSING
                                for each in some], right=True),
        ))  # fmt: skip
    yield Listing("explanations", (
        Column("words", [each.words() for each in every]),
        Column("changes", [settable(case, each.changes) for each in every]),
        Column("chi_square", [each.chi_square for each in every], q.RATIO),
        Column("fitted", [each.counted for each in every]),
        Column("explains", [each.explains for each in every]),
    ), "json")  # fmt: skip


def _meaning(found: Deviations, units: str) -> str:
    return (
        f"share: of the rise above outside ({_ambient(found, units)}) for temperatures, of what is "
        "predicted for all else; - where neither says anything. +/- 95 %: uncertainty of the "
        "reading and tolerances of the case together, by exact derivatives (linear)."
    )
