"""What a sweep finds: rows in memory or in a file, and what is to be said of all of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.pages import render
from flownet.pages.caption import Caption
from flownet.pages.page import MISSING, STYLES, Page, spaced
from flownet.pages.sheet import Column, Listing, Sentence, Sheet
from flownet.pages.table import ROWS, SAVED, aligned
from flownet.results.tables import Field, extra, plain
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError
from flownet.schema.fault import Fault, did_you_mean, nearest
from flownet.schema.fields import given
from flownet.schema.quantities import Quantity
from flownet.schema.shown import one_line
from flownet.solving.solve import again, broken_in_layers
from flownet.studies.designs import Design
from flownet.studies.outcome import SOUND, place_facts
from flownet.studies.sweep_rows import SweepLayout, in_unit, word
from flownet.studies.sweep_tally import Row, Tally, row_at
from flownet.studies.verdicts import divided, margin_text

MARGINS = {"K": q.DIFFERENCE, "dB": q.LEVEL_DIFFERENCE, "h": q.HOURS, "m3_s": q.VOLUME_FLOW}
NAMES_ROOM = 30  # letters for the paths that were varied
ROW_FIGURES: Sequence[tuple[str, str, Quantity]] = (  # two of them that differ
    ("total.volume_flow", "flow", q.VOLUME_FLOW), ("total.noise", "noise", q.LEVEL),
    ("hottest_air", "hottest air", q.TEMPERATURE),
)  # fmt: skip


@dataclass(frozen=True, repr=False, eq=False)
class Sweep:
    """Rows of a design, in order. `found["total.volume_flow"]` is an array over them, SI."""

    case: Enclosure  # in its scenario and variant
    design: Design
    layout: SweepLayout
    tally: Tally
    table: Mapping[str, Array]  # columns by path, SI; empty where the rows are in a file
    path: Path | None = None  # the file

    def __len__(self) -> int:
        return self.design.size

    def __repr__(self) -> str:
        return f'<Sweep "{self.case.title}" {self.design.words}: {self.verdicts()[0]}>'

    def _repr_html_(self) -> str:
        """Verdict and some rows, for notebooks."""
        return render.html(self.sheet)

    def __getitem__(self, path: str) -> Array:
        """(rows,) a column by its path, SI or words, NaN where there is no value."""
        if self.path is not None:
            raise CaseError(f"{path}: the rows of this sweep are in {self.path}, not in memory")
        if path not in self.table:
            hint = did_you_mean(nearest(path, self.table), "keep=[...] says what is kept")
            raise CaseError(Fault(path, "not kept", hint=hint))
        return self.table[path]

    @property
    def ok(self) -> Array:
        """(rows,) which were solved."""
        return np.asarray(self["status"] != "unsolved")

    @property
    def holds(self) -> Array:
        """(rows,) in which every limit holds."""
        return np.isin(self["status"].astype(str), SOUND)

    def column(self, path: str) -> Field:
        """What a column is."""
        found = {column.name: column for column in self.layout.columns}
        if path not in found:
            self[path]  # says what is near
        return found[path]

    def changes(self, row: int) -> dict[str, Any]:
        """What makes a row of the case."""
        return {path: own[0] for path, own in self.design.block(row, row + 1).items()}

    # --- words ------------------------------------------------------------------------------------

    @property
    def about(self) -> str:
        """One line that tells this sweep."""
        applied = self.case.applied
        title = one_line(self.caption.title) or "untitled"
        return f"{title}, {applied.variant}, {applied.scenario}, sweep, {self.design.words}"

    def words(self, row: Row, units: str = "metric") -> str:
        """The varied values of a row: `fan.*.speed 0.5, outside.altitude 2000 m`."""
        return ", ".join(
            f"{axis.name} " + (axis.quantity.shown(units).text(row[axis.name]) if axis.quantity
                               else word(self.case, axis.name, row[axis.name]))
            for axis in self.layout.axes
        )  # fmt: skip

    def margin(self, row: Row, units: str = "metric") -> str:
        """The margin of the limit that decides, `+6.2 K`; `-` where there is none."""
        return margin_text(row["margin"], MARGINS.get(row["margin_unit"]), units)

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """How many hold, the best and the worst combination."""
        return self.tally.words, *self._layers(units), *self._ends(units)

    def _layers(self, units: str) -> Iterator[str]:
        """What the worst row says in layers where all hold, else the best."""
        ends = ((self.tally.worst[0], "the worst"), (self.tally.best, "the best"))
        held = [(row, name) for row, name in ends if row is not None and row["status"] in SOUND]
        for row, name in held[:1]:
            found = again(self.case, self.changes(row["row"]))
            if not isinstance(found, str):
                yield from divided(broken_in_layers(found), units, f"{name} of them: ")

    def _ends(self, units: str) -> Iterator[str]:
        """The best and the worst combination; once where they stand alike."""
        best, worst = self.tally.best, self.tally.worst[0]
        if best is not None and best["order"] == worst["order"]:
            alike = self.tally.rows > 1
            yield f"all alike: {self._why(best, units)}" if alike else self._sentence(best, units)
            return
        if best is not None and best["status"] != "void":
            close = "" if best["status"] != "over" else " (comes closest)"
            yield f"best{close}: {self._sentence(best, units)}"
        if self.tally.rows > 1:
            yield f"worst: {self._sentence(worst, units)}"

    def _sentence(self, row: Row, units: str) -> str:
        return f"{self.words(row, units)}: {self._why(row, units)}"

    def _why(self, row: Row, units: str) -> str:
        if row["status"] == "unsolved":
            return f"no solution: {row['why']}"
        why = f"{self.margin(row, units)} at {self.decides(row)}" if row["decides"] else "no limit"
        if row["status"] == "void":
            why = f"void: {row['why']}" + (f", {why} on paper" if row["decides"] else "")
        return why

    def decides(self, row: Row) -> str:
        """What the limit that decides is about: `part.controller`, `life of fan.left`."""
        about = str(row["decides"] or "")
        return f"life of {about}" if row["limit"] == "life" else about

    # --- page -------------------------------------------------------------------------------------

    @property
    def sheet(self) -> Sheet:
        """Some rows of a page; all of them are in `to_dict`, `rows` and `to_frame`."""
        return self.shown(everything=False)

    def shown(self, *, everything: bool) -> Sheet:
        """Rows in order, all where they fit or are asked for, else the worst."""
        count, fits = len(self), everything or len(self) <= ROWS + SAVED
        every = self.path is None and fits
        rows = [self.row(i) for i in range(count)] if every else list(self.tally.worst)
        left = count - len(rows)
        title: Sentence | None = None
        more: tuple[Sentence, ...] = ()
        if left:
            where = f"in {self.path}" if self.path is not None else "--all"
            title = Sentence("", f"The worst {len(rows)} of {spaced(count)}")
            more = (Sentence("  ", f"... {spaced(left)} more ({where})"),)
        groups = [(title, self._standing(rows)), *self._kept(rows)]
        last = len(groups) - 1
        tables = [
            partial(self._table, rows, columns, title=title, notes=more if number == last else (),
                    apart=False, whole=True, fit=number > 0)
            for number, (title, columns) in enumerate(groups)
        ]  # fmt: skip
        return Sheet("sweep", self.caption, self.verdicts, tables, facts=self.head())

    @property
    def caption(self) -> Caption:
        """What it is about."""
        return Caption.of(self.case, about=(("", self.design.words),))

    def _table(
        self, rows: Sequence[Row], columns: Sequence[Column], units: str, **look: Any
    ) -> Listing:  # fmt: skip
        """Columns behind what was varied in each row, under the paths, or their last words where
        they are long."""
        paths = [axis.path for axis in self.design.axes]
        whole, last = (", ".join(some) for some in (
            paths, [path.rpartition(".")[2] for path in paths]))  # fmt: skip
        varied = [self._varied(axis, [row[axis.name] for row in rows], Page(units))
                  for axis in self.layout.axes]  # fmt: skip
        widths = [max(map(len, texts)) for texts in varied]
        names = ["  ".join(text.rjust(wide) for text, wide in zip(texts, widths, strict=True))
                 for texts in zip(*varied, strict=True)]  # fmt: skip
        head = whole if len(whole) <= NAMES_ROOM else last
        return Listing("rows", (Column(head, names), *columns), **look)

    def _varied(self, axis: Field, values: Sequence[Any], page: Page) -> list[str]:
        """Values of one key; numbers with one number of decimals."""
        if axis.quantity is None:
            return [word(self.case, axis.name, value) for value in values]
        cells = [page.cell(axis.quantity, value, bare=True) for value in values]
        return [cell.text for cell in aligned(cells)]

    def _standing(self, rows: Sequence[Row]) -> list[Column]:
        usual = () if self.layout.asked else ROW_FIGURES
        figures = [each for each in usual if _differ(rows, each[0])]
        return [
            Column("margin", [partial(self.margin, row) for row in rows], right=True),
            Column("status", [row["status"] for row in rows],
                   styles=[STYLES.get(row["status"], "") for row in rows]),
            *(Column(words, [row[path] for row in rows], quantity)
              for path, words, quantity in figures[:2]),
            Column("decides", [self.decides(row) or MISSING for row in rows]),
        ]  # fmt: skip

    def _kept(self, rows: Sequence[Row]) -> Iterator[tuple[Sentence | None, list[Column]]]:
        """The results that were asked for; those of one key stand together under their pattern,
        `part.*.temperature`, each with its name alone; those without a like under none."""
        groups: dict[str, list[tuple[str, Field]]] = {"": []}
        for column in self.layout.kept if self.layout.asked else ():
            kind, _, rest = column.name.partition(".")
            name, _, key = rest.rpartition(".")
            title = f"{kind}.*.{key}" if name else ""
            groups.setdefault(title, []).append((name or column.name, column))
        single = [title for title, some in groups.items() if title and len(some) == 1]
        groups[""] += [(column.name, column) for title in single for _, column in groups.pop(title)]
        for title, some in groups.items():
            if some:
                yield Sentence("", title) if title else None, [
                    Column(name, [row[key.name] if key.quantity else row[key.name] or MISSING
                                  for row in rows], key.quantity, right=True)
                    for name, key in some
                ]  # fmt: skip

    # --- tables -----------------------------------------------------------------------------------

    def row(self, number: int) -> Row:
        """One row: path -> SI number or word, None where there is none."""
        return {"row": number, **row_at(self.case, self.layout, self.table, number)}

    def rows(self) -> Iterator[dict[str, Any]]:
        """Every row with units in its keys, None where there is no value."""
        for number in range(len(self)):
            yield self._plain(self.row(number))

    def _plain(self, row: Row) -> dict[str, Any]:
        found = {}
        for column in self.layout.columns:
            value = row[column.name]
            if column.quantity is None:
                value = word(self.case, column.name, value) or None
            found[column.key] = plain(column, value)
        return found

    def head(self) -> dict[str, Any]:
        """What there is to say of all rows, as in JSON."""
        case, design, tally = self.case, self.design, self.tally
        best = None if tally.best is None else self._plain(tally.best)
        return {
            **self.caption.to_dict(), "command": "sweep",
            **place_facts(case), "input_digest": case.digest,
            "design": {"sort": design.sort, "size": design.size, "seed": design.seed,
                       "asked": design.asked},
            "vary": {column.key: self._axis(i) for i, column in enumerate(self.layout.axes)},
            "counts": dict(tally.counts), "holds": tally.holds, "best": best,
            "worst": [self._plain(row) for row in tally.worst],
        }  # fmt: skip

    def _axis(self, number: int) -> Any:
        """The values of a key, or the ends between which they lie."""
        axis, column = self.design.axes[number], self.layout.axes[number]
        if axis.continuous:
            return {"low": plain(column, axis.low), "high": plain(column, axis.high)}
        if column.quantity is not None:
            return [plain(column, value) for value in axis.values]
        return [word(self.case, axis.path, value) or None for value in axis.values]

    def to_dict(self) -> dict[str, Any]:
        """As in JSON: what there is to say of all rows, and the rows where they are in memory."""
        return self.head() | {"rows": list(self.rows()) if self.path is None else None}

    def to_frame(self) -> Any:
        """A pandas DataFrame, one row a combination; ImportError without pandas, an extra."""
        return extra("pandas").DataFrame(self._wide())

    def to_xarray(self) -> Any:
        """An xarray Dataset: a dimension for each key of a grid, `row` for samples.

        ImportError without xarray, an extra.
        """
        wide, axes = self._wide(), self.layout.axes
        dataset = extra("xarray").Dataset
        if self.design.sort != "grid":
            return dataset({key: ("row", values) for key, values in wide.items()})
        names = [column.key for column in axes]
        shape = self.design.shape
        coords = {name: (name, self._axis(i)) for i, name in enumerate(names)}
        rest = {key: (names, v.reshape(shape)) for key, v in wide.items() if key not in names}
        return dataset(rest, coords=coords)

    def _wide(self) -> dict[str, Array]:
        found = {}
        for column in self.layout.columns:
            values = self[column.name]
            if column.quantity is not None:
                values = in_unit(column.quantity, values)
            found[column.key] = values
        return found

    # --- limits -----------------------------------------------------------------------------------

    def bound(self, path: str) -> float | None:
        """The limit of a result, where it is one for all rows: 0 of a margin, else a bound."""
        kind, _, rest = path.partition(".")
        name, _, key = rest.rpartition(".")
        if key == "margin" or path in ("total.worst_margin", "margin"):
            return 0.0
        if any(_moves_limits(axis.path) for axis in self.design.axes):
            return None
        case, found = self.case, np.nan
        if kind == "part" and name in case.parts and key == "temperature":
            found = case.parts[name].limit
        elif kind == "compartment" and key == "temperature":
            found = case.compartments[name].air_limit
        elif kind == "slot" and key == "outlet_temperature":
            found = case.things["slot"][name].air_limit
        elif path == "total.noise":
            found = case.limits.noise_dBA
        return float(found) if given(found) else None


def _moves_limits(path: str) -> bool:
    key = path.rpartition(".")[2]
    return key in ("limit", "air_limit", "noise_dBA", "type") and not path.startswith("fan.")


def _differ(rows: Sequence[Row], path: str) -> bool:
    """Whether a result is there, and is not the same in all rows."""
    found = {f"{row[path]:.4g}" for row in rows if row.get(path) is not None}
    return len(found) > 1 or (len(found) == 1 == len(rows))
