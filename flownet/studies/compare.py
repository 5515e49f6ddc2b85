"""Every variant of a case in every scenario its limits must hold in, side by side."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from functools import cached_property, partial

import numpy as np

from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.overriding import notes
from flownet.enclosure.scenarios import expand, scenario_changes, variant_changes
from flownet.judging import layered
from flownet.pages.caption import Caption, told
from flownet.pages.page import counted
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.results.limits import Limit
from flownet.results.solution import Layered, Solution
from flownet.schema import argument_checks
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.schema.fields import NONE
from flownet.solving.solve import Progress, again, completed
from flownet.studies import verdicts
from flownet.studies.outcome import PairOutcome, cells, details, pairs_table, style_of, unsolved
from flownet.studies.ride_through import Ride, rides, rides_tables
from flownet.studies.ride_through import told as ride_told
from flownet.studies.runs import Outcomes, Run, evaluate

STAR = "*"  # behind the worst of a variant
DIVIDED = ("layered", "finer")  # of a solution: what layers say of it
MATRIX_LEGEND = (
    Sentence("", f"{STAR} worst of its variant; -: does not apply, the fan does not run there."),
    Sentence("", "A void pair: its numbers do not count, so the margin before it is one on paper."),
)


@dataclass(frozen=True, repr=False, eq=False)
class Comparison(Result):
    """Scenarios as rows, variants as columns.

    `margins` holds the margins of the limits that decide; a cell is None where a scenario does not
    apply: the fan that would fail does not run in that variant.
    """

    case: Enclosure
    scenarios: tuple[str, ...]
    variants: tuple[str, ...]
    cells: tuple[tuple[PairOutcome | None, ...], ...]  # [scenario][variant]
    pairs: Outcomes
    notes: tuple[str, ...] = ()  # what scenarios take from variants, so that designs look alike
    changes: Changes = field(default_factory=lambda: NONE)  # made last in every pair
    rides: tuple[Ride, ...] | None = None  # how long each rides through each outage; not asked

    def cell(self, scenario: str, variant: str = "base") -> PairOutcome | None:
        """One cell; CaseError where it is not among those compared."""
        for name, known in ((scenario, self._rows), (variant, self.variants)):
            if name not in known:
                raise CaseError(f'"{name}": was not compared; there are {", ".join(known)}')
        return self.cells[self._rows[scenario]][self.variants.index(variant)]

    def solution(self, scenario: str, variant: str = "base") -> Solution:
        """The whole solution behind a cell, with all that `solve` finds of it.

        CaseError for a cell that is not there; NoSolution where it was not solved.
        """
        cell = self.cell(scenario, variant)
        if cell is None:
            raise CaseError(f'scenario "{scenario}": does not apply to variant "{variant}"')
        made = completed(self.pairs.select(cell.pair))
        divided, finer = (self._divided.get((cell.pair, key)) for key in DIVIDED)
        return replace(made, layered=divided or made.layered, finer=finer or made.finer)

    def prepare(self, cells: Sequence[PairOutcome], keys: Sequence[str] = DIVIDED) -> None:
        """Solve as one batch what layers say of some pairs, where that is worth a look: `solution`
        knows it then, with the same numbers."""
        asked = []
        for cell in (cell for cell in cells if cell.status != "unsolved"):
            plain = layered.beside(self.pairs.select(cell.pair), again)
            new = [(cell, key, item) for key in keys if (cell.pair, key) not in self._divided
                   and (item := getattr(plain, key)) is not None]  # fmt: skip
            if layered.has_tall(plain.case):  # another network in layers: each is solved alone
                self._divided.update({(cell.pair, key): item for _, key, item in new})
            else:
                asked += new
        runs = [Run(cell.scenario, cell.variant, {**self.changes, **item.changes})
                for cell, _, item in asked]  # fmt: skip
        found = evaluate(self.case, runs)
        for i, (words, (cell, key, item)) in enumerate(zip(found.status, asked, strict=True)):
            # one without a solution is solved again when it is asked for: it says why
            self._divided[cell.pair, key] = item if words else item.known(found.select(i))

    @cached_property
    def _divided(self) -> dict[tuple[int, str], Layered]:
        """What layers say of a pair, by its number, as far as it was asked for."""
        return {}

    @cached_property
    def _rows(self) -> dict[str, int]:
        """The row of each scenario: there may be ten thousands."""
        return {name: row for row, name in enumerate(self.scenarios)}

    def column(self, variant: str) -> tuple[PairOutcome, ...]:
        """The cells of one variant that apply."""
        at = self.variants.index(variant)
        return tuple(cell for row in self.cells if (cell := row[at]) is not None)

    def worst(self, variant: str) -> PairOutcome | None:
        """The worst cell of a variant: not solved, void, broken, then the least margin."""
        return min(self.column(variant), key=lambda cell: cell.order, default=None)

    @cached_property
    def margins(self) -> Array:
        """(scenarios, variants) margin of the limit that decides; -inf: not solved, or void; NaN
        where nothing applies."""
        lost = ("unsolved", "void")
        return np.array([
            [np.nan if cell is None else -np.inf if cell.status in lost else cell.margin
             for cell in row] for row in self.cells
        ])  # fmt: skip

    def verdicts(self, units: str = "metric", brief: bool = False) -> tuple[str, ...]:
        """What the table says, in sentences: the first says which variants hold; `brief`: without
        what makes pairs void."""
        said = verdicts.sentences(self._columns, units, self.in_layers, brief)
        return (*said, *filter(None, [ride_told(self.rides)]))

    @property
    def _columns(self) -> dict[str, tuple[PairOutcome, ...]]:
        return {name: self.column(name) for name in self.variants}

    @cached_property
    def in_layers(self) -> dict[str, tuple[str, Limit]]:
        """Of the variants that hold, those that do not in layers: the scenario, and the limit that
        breaks farthest there. Looked at where walls or buoyancy matter, as `solve` does."""
        found: dict[str, tuple[str, Limit]] = {}
        sound = {name: cells for name, cells in self._columns.items() if verdicts.sound(cells)}
        self.prepare([cell for cells in sound.values() for cell in cells], DIVIDED[:1])
        for name, column in sound.items():
            every = ((cell, self._divided.get((cell.pair, DIVIDED[0]))) for cell in column)
            broken = [(cell.scenario, limit) for cell, made in every if made is not None
                      for limit in made.broken]  # fmt: skip
            if broken:
                found[name] = min(broken, key=lambda pair: pair[1].margin)
        return found

    def __repr__(self) -> str:
        size = f"{len(self.scenarios)} x {len(self.variants)} pairs"
        return f'<Comparison "{self.case.title}" {size}: {self.verdict}>'

    @property
    def sheet(self) -> Sheet:
        """The matrix, the worst of each variant, where all is asked for all pairs; data."""
        size = [counted(len(self.scenarios), "scenario"), counted(len(self.variants), "variant")]
        columns = self._columns
        every = [cell for column in columns.values() for cell in column]
        worst = [cell for name in self.variants if (cell := self.worst(name)) is not None]
        tables = [
            self._matrix(any(cell.void for cell in every)),
            details("Worst of each", worst, [cell.variant for cell in worst], where=True),
            *(details(name, cells, [cell.scenario for cell in cells], "all")
              for name, cells in columns.items()),
            *unsolved(every), pairs_table("pairs", every),
        ]  # fmt: skip
        if self.rides:
            tables[1:1] = rides_tables(self.rides, self.variants)
        facts = {"verdict": list(self.verdicts()), "notes": list(self.notes),
                 "scenarios": list(self.scenarios), "variants": list(self.variants)}  # fmt: skip
        caption = Caption.of(self.case, " x ".join(size), changes=told(self.case, self.changes))
        said = [Sentence("  note: ", words) for words in self.notes]
        return Sheet("compare", caption, lambda units: [*self.verdicts(units), *said], tables,
                     facts=facts)  # fmt: skip

    def _matrix(self, void: bool) -> Listing:
        columns = [Column("Worst margin", self.scenarios)]
        for place, name in enumerate(self.variants):
            least, cells = self.worst(name), [row[place] for row in self.cells]
            texts = [partial(verdicts.short, cell, mark=STAR * (cell is least)) for cell in cells]
            columns.append(Column(name, texts, right=True, styles=[*map(style_of, cells)]))
        return Listing("matrix", tuple(columns), notes=MATRIX_LEGEND[: 1 + void], fit=True)


def compare(
    case: Enclosure, *, variants: Sequence[str] | None = None,
    scenarios: Sequence[str] | None = None, changes: Changes | None = None,
    ride_through: bool = False, executor: Executor | None = None, progress: Progress | None = None,
) -> Comparison:  # fmt: skip
    """Every variant in every scenario, solved as one batch.

    Parameters
    ----------
    variants : sequence of str, optional
        Default `base` and all variants of the case.
    scenarios : sequence of str, optional
        `a+b` joins; `each-fan-out` and its kind are those of the fans that run in each variant.
        Default `limits.scenarios`, else `base` and all scenarios of the case.
    changes : mapping, optional
        Input path -> one value, applied last in every pair.
    ride_through : whether to follow each outage in time, to the first limit
    executor, progress : as for `solve_many`, of pairs

    Raises
    ------
    CaseError
        A scenario or variant that is not known, or a scenario in which nothing can fail anywhere.
    """
    argument_checks.check("compare", case, Enclosure)
    argument_checks.check_names("variants", variants)
    if changes is not None:
        argument_checks.check_changes(changes)
    columns = tuple(dict.fromkeys(variants or ("base", *case.variants)))
    asked = scenarios_of(case, scenarios)
    rows, applying = expanded(case, asked, columns)
    setups = [Run(row, column, changes or NONE) for row in rows for column in columns
              if row in applying[column]]  # fmt: skip
    pairs = evaluate(case, setups, executor=executor, progress=progress)
    found = cells(pairs, [applying[setup.variant][setup.scenario] for setup in setups])
    cell_of = {(cell.scenario, cell.variant): cell for cell in found}
    table = tuple(tuple(cell_of.get((row, column)) for column in columns) for row in rows)
    taken = notes(case, rows, columns, changes or NONE)
    ridden = rides(case, found, changes or NONE) if ride_through else None
    return Comparison(case, rows, columns, table, pairs, taken, changes or NONE, ridden)


def scenarios_of(case: Enclosure, names: Sequence[str] | None) -> tuple[str, ...]:
    """Those asked for, else those in which the limits must hold, else all of the case."""
    argument_checks.check_names("scenarios", names)
    if names:
        return tuple("+".join(part.strip() for part in name.split("+")) for name in names)
    return case.limits.scenarios or ("base", *case.scenarios)


def expanded(
    case: Enclosure, asked: Sequence[str], columns: Sequence[str]
) -> tuple[tuple[str, ...], dict[str, dict[str, str]]]:
    """Scenarios one by one; and of each variant those that apply, with the entry each comes from.

    CaseError for unknown ones.
    """
    for column in columns:
        variant_changes(case, column)
    faults: list[str] = []
    rows: dict[str, None] = {}
    applying: dict[str, dict[str, str]] = {column: {} for column in columns}
    for name in asked:
        some = False
        for column in columns:
            design = case.under(variant=column)
            for one in expand(design, name):
                try:
                    scenario_changes(design, one)
                except CaseError as error:
                    faults += error.faults
                rows[one] = None
                applying[column].setdefault(one, name)
                some = True
        if not some:
            faults.append(f'scenario "{name}": nothing runs that could fail')
    if faults:
        raise CaseError(list(dict.fromkeys(faults)))
    return tuple(rows), applying
