"""Tables as lines of text: columns that line up, the first rows only, colour beside the words."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple, TypeVar

from flownet.schema.shown import Shown

ROWS = 12  # of a table, before `... 31 more (--all)`
SAVED = 3  # rows that are not worth a cut: the line that says so is one itself
INDENT = "  "

Row = TypeVar("Row")
Paint = Callable[[str, str], str]  # text, style -> text as the terminal takes it

_CODES = {"heading": "1", "bad": "1;31", "doubtful": "33", "good": "32", "quiet": "2"}


def plain(text: str, style: str) -> str:
    """Text without colour, for files and pipes."""
    return text


def coloured(text: str, style: str) -> str:
    """Text in the colour of its style, for terminals."""
    code = _CODES.get(style)
    return f"\x1b[{code}m{text}\x1b[0m" if code and text.strip() else text


class Figure(NamedTuple):
    """A number whose decimals its column decides."""

    shown: Shown
    value: float
    sign: str = ""
    bare: bool = False  # a given value: no more decimals than it takes


class Cell(NamedTuple):
    """One value of a table as it is shown."""

    text: str
    style: str = ""
    figure: Figure | None = None


class Head(NamedTuple):
    """A heading, and whether its cells are words or numbers (aligned at the unit)."""

    heading: str
    numbers: bool = False


def table(
    columns: Sequence[Head], rows: Sequence[Sequence[Cell]], *, width: int = 80,
    most: int | None = ROWS, least: int = 0, paint: Paint = plain,
) -> list[str]:  # fmt: skip
    """A heading line and one line a row.

    The first column holds names, `least` wide where that fits; a last column without a heading
    holds remarks. A name or a remark too long for `width` has a line of its own. The numbers of a
    column in one unit have one number of decimals. `most` rows are shown, and what is "bad", then
    how many more there are; all where that saves no more than `SAVED` rows, or with None.
    """
    shown = cut(list(rows), most, lambda row: any(cell.style == "bad" for cell in row))
    remarks = [row[-1] for row in shown] if not columns[-1].heading else []
    kept = columns[:-1] if remarks else columns
    blocks = [_block(column, [row[i] for row in shown]) for i, column in enumerate(kept)]
    sizes = [len(block[0].text) for block in blocks]
    gap, sizes[0] = _fitted(sizes, remarks, width, least)
    heads = [blocks[0][0].text.rstrip().ljust(sizes[0]), *(block[0].text for block in blocks[1:])]
    lines = [paint(gap.join(heads).rstrip(), "heading")]
    for index, row in enumerate(zip(*(block[1:] for block in blocks), strict=True)):
        lines += _row(row, remarks[index] if remarks else Cell(""), sizes[0], gap, width, paint)
    if len(rows) > len(shown):
        lines.append(f"{INDENT}... {len(rows) - len(shown)} more (--all)")
    return lines


def cut(rows: list[Row], most: int | None, kept: Callable[[Row], bool]) -> list[Row]:
    """The first rows and those to be kept, in order; all where a cut saves too little."""
    if most is None:
        return rows
    shown = [row for i, row in enumerate(rows) if i < most or kept(row)]
    return shown if len(rows) - len(shown) > SAVED else rows


def aligned(cells: Sequence[Cell]) -> list[Cell]:
    """The same cells, the numbers in one unit with one number of decimals."""
    groups: dict[tuple[Shown, bool], list[float]] = {}
    for cell in cells:
        if (figure := cell.figure) is not None:
            groups.setdefault((figure.shown, figure.bare), []).append(figure.value)
    places = {(shown, bare): (shown.whole if bare else shown.decimals)(values)
              for (shown, bare), values in groups.items()}  # fmt: skip
    return [
        cell if (at := cell.figure) is None
        else cell._replace(text=at.shown.text(at.value, at.sign, places[at.shown, at.bare]))
        for cell in cells
    ]  # fmt: skip


def _block(column: Head, cells: Sequence[Cell]) -> list[Cell]:
    """Heading and cells of a column in one width; numbers right, their units left."""
    cells = [Cell(column.heading), *aligned(cells)]
    texts = [cell.text for cell in cells]
    if column.numbers:
        split = [_split(text) for text in texts[1:]]
        before, after = (max((len(pair[i]) for pair in split), default=0) for i in (0, 1))
        texts[1:] = [f"{number:>{before}}{unit:<{after}}" for number, unit in split]
    size, pad = max(map(len, texts)), str.rjust if column.numbers else str.ljust
    return [cell._replace(text=pad(text, size)) for cell, text in zip(cells, texts, strict=True)]


def _split(text: str) -> tuple[str, str]:
    """`25 700 h` -> `25 700` and ` h`."""
    number, _, unit = text.rpartition(" ")
    return (number, " " + unit) if number and not unit.isdigit() else (text, "")


def _fitted(
    sizes: Sequence[int], remarks: Sequence[Cell], width: int, least: int
) -> tuple[str, int]:
    """The gap between columns and the width of the first: as many remarks fit as can be."""
    rest, natural = sum(sizes[1:]), sizes[0] + len(INDENT)
    gaps = len(sizes) - 1
    lengths = {len(remark.text) for remark in remarks} | {0}
    for length in sorted(lengths, reverse=True):
        for first in (max(least, natural), natural):
            for gap in (3, 2):
                room = width - rest - gap * gaps - (gap + length if length else 0)
                if first <= room:
                    return " " * gap, first
    return "  ", min(natural, max(width - rest - 2 * gaps, len(INDENT) + 8))


def _row(
    cells: Sequence[Cell], remark: Cell, first: int, gap: str, width: int, paint: Paint
) -> Iterator[str]:
    name = INDENT + cells[0].text.rstrip()
    if len(name) > first:
        yield paint(name, cells[0].style)
        name = ""
        if len(cells) == 1 and not remark.text:
            return
    length = first + sum(len(gap + cell.text) for cell in cells[1:])
    line = paint(name, cells[0].style) + " " * (first - len(name))
    line += "".join(gap + paint(cell.text, cell.style) for cell in cells[1:])
    fits = length + len(gap + remark.text) <= width
    yield (line + gap + paint(remark.text, remark.style) if fits else line).rstrip()
    if remark.text and not fits:
        yield paint(remark.text.rjust(width), remark.style)


def hanging(lead: Sequence[Cell], text: str, width: int, paint: Paint = plain) -> list[str]:
    """Cells, then words wrapped to the right of them."""
    before = "".join(cell.text for cell in lead)
    body = textwrap.wrap(
        text, max(width - len(before), 30), break_long_words=False, break_on_hyphens=False
    ) or [""]
    first = "".join(paint(cell.text, cell.style) for cell in lead) + body[0]
    return [first.rstrip(), *(" " * len(before) + line for line in body[1:])]


def both_sides(left: str, right: str, width: int) -> list[str]:
    """One line with words at both ends; two where they do not fit."""
    if not right:
        return [left]
    if len(left) + 2 + len(right) <= width:
        return [left + right.rjust(width - len(left))]
    return [left, right.rjust(width)]
