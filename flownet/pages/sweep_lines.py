"""A sweep as lines of text: the verdict, then some rows."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Protocol

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.heading import changed_lines, head_lines, titled
from flownet.pages.page import MISSING, STYLES, Page, spaced
from flownet.pages.table import SAVED, Cell, Head, aligned
from flownet.schema import quantities as q
from flownet.schema.quantities import Quantity

ROOM = 30  # letters for the values that were varied
GAP = 3  # between columns
FIGURES: Sequence[tuple[str, str, Quantity]] = (  # two of them that differ
    ("total.volume_flow", "flow", q.VOLUME_FLOW), ("total.noise", "noise", q.LEVEL),
    ("hottest_air", "hottest air", q.TEMPERATURE),
)  # fmt: skip
Row = Mapping[str, Any]


class Swept(Protocol):
    """Rows of a design, and what there is to say of them."""

    @property
    def case(self) -> Enclosure:
        """In its scenario and variant."""

    @property
    def design(self) -> Any:
        """With `words`, `axes` and `size`."""

    @property
    def layout(self) -> Any:
        """With `axes`, each with `path` and `quantity`, None of words; with the columns `kept`, and
        whether they were `asked` for."""

    @property
    def path(self) -> Path | None:
        """The file that has the rows."""

    @property
    def tally(self) -> Any:
        """With the `worst` rows."""

    def __len__(self) -> int: ...

    def row(self, number: int) -> Row:
        """One row."""

    def texts(self, row: Row, units: str = "metric") -> Sequence[str]:
        """Its varied values."""

    def margin(self, row: Row, units: str = "metric") -> str:
        """Of the limit that decides."""

    def decides(self, row: Row) -> str:
        """What that limit is about."""

    def verdicts(self, units: str = "metric") -> Sequence[str]:
        """In words."""


def sweep_lines(found: Swept, page: Page, changed: Sequence[str] = ()) -> Iterator[str]:
    """The verdict first, then rows: all where they fit or are asked for, else the worst."""
    applied = found.case.applied
    yield from head_lines(titled(found.case), f"{applied.variant} | {applied.scenario}", page)
    yield found.design.words
    yield from changed_lines(changed)
    yield ""
    yield from verdict_lines(found, page)
    yield ""
    yield from _table(found, page)


def verdict_lines(found: Swept, page: Page) -> Iterator[str]:
    """The first sentence as a heading, then the best and the worst combination."""
    first, *rest = found.verdicts(page.units)
    yield page.paint(first, "heading")
    for words in rest:
        yield from textwrap.wrap(words, page.width, initial_indent="  ", subsequent_indent="    ",
                                 break_on_hyphens=False, break_long_words=False)  # fmt: skip


def _table(found: Swept, page: Page) -> Iterator[str]:
    """In order where all fit on the page; else the worst first."""
    most, count = page.most, len(found)
    every = found.path is None and (most is None or count <= most + SAVED)
    rows = [found.row(i) for i in range(count)] if every else list(found.tally.worst)
    heads = [axis.path for axis in found.design.axes]
    texts = _varied(found, rows, page)
    widths = [max(map(len, column)) for column in zip(*texts, strict=True)]
    asked = found.layout.asked
    figures = [] if asked else [item for item in FIGURES if _differ(rows, item[0])][:2]
    columns = [Head(_heading(heads)), Head("margin", True), Head("status"),
               *(Head(words, True) for _, words, _ in figures), Head("")]  # fmt: skip
    lines = []
    for row, values in zip(rows, texts, strict=True):
        name = "  ".join(text.rjust(size) for text, size in zip(values, widths, strict=True))
        status = str(row["status"])
        cells = [Cell(name), Cell(found.margin(row, page.units)),
                 Cell(status, STYLES.get(status, ""))]  # fmt: skip
        cells += [page.cell(quantity, row[path]) for path, _, quantity in figures]
        lines.append([*cells, Cell(found.decides(row) or MISSING)])
    if not every and count > len(rows):
        yield f"The worst {len(rows)} of {spaced(count)}"
    whole = replace(page, everything=True)
    yield from whole.table(columns, lines)
    if asked:
        yield from _kept(found, rows, [line[0] for line in lines], columns[0], whole)
    if not every and count > len(rows):
        where = f"in {found.path}" if found.path is not None else "--all"
        yield f"  ... {spaced(count - len(rows))} more ({where})"


def _kept(
    found: Swept, rows: Sequence[Row], names: Sequence[Cell], heading: Head, page: Page
) -> Iterator[str]:
    """Tables of the results that were asked for, as many columns in each as fit; those of one key
    stand together under their pattern, each with its name alone."""
    room = page.width - max(len(heading.heading), *(len(name.text) + 2 for name in names))
    for title, columns in _groups(found.layout.kept).items():
        blocks = [
            [Head(word, True), *(_cell(column, row, page) for row in rows)]
            for word, column in columns.items()
        ]
        for some in _fitting(blocks, room):
            yield ""
            if title:
                yield title
            heads, *cells = zip(*some, strict=True)
            lines = [[name, *rest] for name, rest in zip(names, cells, strict=True)]
            yield from page.table([heading, *heads], lines)


def _groups(kept: Sequence[Any]) -> Mapping[str, Mapping[str, Any]]:
    """Columns by what they are headed by: `part.*.temperature` -> `controller`; those that have
    no like under no title."""
    found: dict[str, dict[str, Any]] = {"": {}}
    for column in kept:
        kind, _, rest = column.path.partition(".")
        name, _, key = rest.rpartition(".")
        found.setdefault(f"{kind}.*.{key}" if name else "", {})[name or column.path] = column
    for title in [title for title, columns in found.items() if title and len(columns) == 1]:
        column = next(iter(found.pop(title).values()))
        found[""][column.path] = column
    return {title: columns for title, columns in found.items() if columns}


def _fitting(blocks: Sequence[list[Any]], room: int) -> Iterator[list[list[Any]]]:
    """Runs of columns that fit side by side, at least one each."""
    run: list[list[Any]] = []
    used = 0
    for block in blocks:
        wide = GAP + max(len(block[0].heading), *(len(cell.text) for cell in block[1:]))
        if run and used + wide > room:
            yield run
            run, used = [], 0
        run.append(block)
        used += wide
    if run:
        yield run


def _cell(column: Any, row: Row, page: Page) -> Cell:
    value = row[column.path]
    if column.quantity is None:
        return Cell(str(value or MISSING))
    return page.cell(column.quantity, value)


def _varied(found: Swept, rows: Sequence[Row], page: Page) -> list[list[str]]:
    """What was varied in each row; the numbers of an axis with one number of decimals."""
    texts = [list(found.texts(row, page.units)) for row in rows]
    for at, axis in enumerate(found.layout.axes):
        if axis.quantity is not None:
            column = aligned([page.bound(axis.quantity, row[axis.path]) for row in rows])
            for text, cell in zip(texts, column, strict=True):
                text[at] = cell.text
    return texts


def _differ(rows: Sequence[Row], path: str) -> bool:
    """Whether a result is there, and is not the same in all rows."""
    found = {f"{row[path]:.4g}" for row in rows if row.get(path) is not None}
    return len(found) > 1 or (len(found) == 1 == len(rows))


def _heading(paths: Sequence[str]) -> str:
    """Paths of what is varied; only their last words where there is no room."""
    whole = ", ".join(paths)
    return whole if len(whole) <= ROOM else ", ".join(path.rpartition(".")[2] for path in paths)
