"""Scenarios as rows, variants as columns: how far the limits are kept, the verdict on top.

Each cell has the margin of the limit that decides, a word, a mark and a fill, so that none depends
on colour; a heavy frame is round the worst of each variant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from matplotlib.patches import Rectangle

from flownet.pages.page import counted
from flownet.pictures import style
from flownet.pictures.scene.text_metrics import width, wrap
from flownet.pictures.style import Axes
from flownet.studies.compare import Comparison
from flownet.studies.outcome import PairOutcome
from flownet.studies.verdicts import number

FILLS = {"ok": style.OK, "tight": style.TIGHT, "over": style.OVER, "unknown": "white",
         "void": "#D8DBD9", "unsolved": "white"}  # fmt: skip
MARKS: dict[str, dict[str, Any]] = {  # at the left edge of a cell
    "over": {"facecolor": style.OVER, "edgecolor": "white", "hatch": "//////"},
    "tight": {"facecolor": style.INK},
    "void": {"facecolor": "#D8DBD9", "edgecolor": style.INK, "hatch": "xxxxx"},
    "unsolved": {"facecolor": "white", "edgecolor": style.INK, "hatch": "xxxxx"},
}
WORDS = {
    "ok": "ok: every limit holds", "tight": "tight: holds with little margin",
    "over": "over: a limit is broken", "unknown": "no limit, or one without a value",
    "void": "void: the margin counts for nothing", "unsolved": "no solution",
}  # fmt: skip
BROAD, ROW_TALL = 180.0, 10.5  # mm: of the page, of a row
LEAST_COLUMN, MOST_COLUMN, NAME = 15.5, 38.0, 34.0  # mm, of a column; the widest name of a scenario
ABOVE, KEY = 13.0, 6.0
SAID = 5  # verdicts in the notes


@style.picture(Comparison)
def matrix(comparison: Comparison, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Scenarios as rows, variants as columns, each cell with its margin and status.

    Parameters
    ----------
    comparison : Comparison
        From `flownet.compare`.
    ax : Axes, optional
        Variants to the right, one unit each, scenarios downwards. On a new figure more variants
        than fit stand below, on axes of their own; the first are returned.
    units : "metric" or "us"
    """
    found = comparison
    names = max(width(name, style.MEDIUM) for name in found.scenarios) * style.POINT
    left, count = min(names, NAME) + 4.0, len(found.variants)
    room = max(int((BROAD - left - style.PAGE_EDGE) / LEAST_COLUMN), 1) if ax is None else count
    room = math.ceil(count / math.ceil(count / room))  # as many in every block
    blocks = [found.variants[i : i + room] for i in range(0, count, room)]
    step = min((BROAD - left - style.PAGE_EDGE) / room, MOST_COLUMN)
    tall = ROW_TALL * len(found.scenarios)
    size = f"{counted(len(found.scenarios), 'scenario')}, {counted(count, 'variant')}"
    told = style.caption(found.case, units, state=size)
    told[-2] += " as the case has it"
    paper = style.Paper(ax, found.verdicts(units)[0], told,
                        (ABOVE + tall) * len(blocks) + KEY + 4.0, _notes(found, units),
                        BROAD)  # fmt: skip
    panels = [paper.chart(left, ABOVE + (ABOVE + tall) * i, step * len(block), tall)
              for i, block in enumerate(blocks)]  # fmt: skip
    for panel, block in zip(panels, blocks, strict=True):
        _draw(panel, found, block, left, units)
    if paper.ax is None:
        _key(paper, found, (ABOVE + tall) * len(blocks) + 3.0)
    return panels[0]


def _draw(
    ax: Axes, found: Comparison, variants: Sequence[str], left: float, units: str
) -> None:  # fmt: skip
    ax.set(xlim=(0, len(variants)), ylim=(len(found.scenarios), 0))
    step = style.extent(ax)[0] / len(variants)
    heads = ["\n".join(wrap(name, style.MEDIUM, True, step - 2.0)) for name in variants]
    rows = ["\n".join(wrap(name, style.MEDIUM, False, (left - 3.0) / style.POINT))
            for name in found.scenarios]  # fmt: skip
    ax.xaxis.tick_top()
    ax.tick_params(length=0, labelsize=style.MEDIUM)
    ax.tick_params(axis="x", pad=11.0)
    ax.set_xticks([i + 0.5 for i in range(len(variants))], heads, weight="bold")
    ax.set_yticks([i + 0.5 for i in range(len(rows))], rows)
    ax.spines[:].set_visible(False)
    for x, name in enumerate(variants):
        cells = found.column(name)
        broken = sum(not cell.holds for cell in cells)
        count = f"fails in {broken} of {len(cells)}" if broken else "holds"
        style.beside(ax, count, (x + 0.5, 1), (0, 3), "x", ha="center", color=style.INK)
        worst, column = found.worst(name), found.variants.index(name)
        for y, row in enumerate(found.cells):
            if (cell := row[column]) is None:
                ax.text(x + 0.5, y + 0.5, "–", ha="center", va="center", color=style.QUIET)
            else:
                _cell(ax, x, y, cell, cell is worst, step, units)


def _cell(
    ax: Axes, x: int, y: int, cell: PairOutcome, worst: bool, step: float, units: str
) -> None:
    """Its fill, the mark of its status at the left, two lines of words."""
    ink = "white" if cell.status == "over" else style.INK
    _fill(ax, cell.status, x, y)
    if worst:
        _box(ax, x, y, 0.95, facecolor="none", edgecolor=style.INK, linewidth=2.2, zorder=5)
    for at, text, size in zip((0.27, 0.54, 0.77), _texts(cell, 0.84 * step, units), (8.0, 6.0, 6.0),
                              strict=True):  # fmt: skip
        ax.text(x + 0.54, y + at, text, ha="center", va="center", size=size, color=ink, zorder=6,
                weight="bold" if at < 0.3 else "normal")  # fmt: skip


def _fill(ax: Axes, status: str, x: float, y: float) -> None:
    """Fill and mark of a status."""
    edge = style.QUIET if FILLS[status] == "white" else "none"
    _box(ax, x, y, 0.95, facecolor=FILLS[status], edgecolor=edge, linewidth=0.5, zorder=1.55)
    if status in MARKS:
        wide = 0.04 if status == "tight" else 0.1
        _box(ax, x, y, wide, linewidth=0, zorder=2.5, **MARKS[status])


def _box(ax: Axes, x: float, y: float, wide: float, **look: Any) -> None:
    ax.add_patch(Rectangle((x + 0.025, y + 0.05), wide, 0.9, **look))


def _texts(cell: PairOutcome, room: float, units: str) -> tuple[str, str, str]:
    """The margin, its word, and what it is about, each in a line."""
    if cell.status == "unsolved":
        return "–", "no solution", ""
    amount = "" if math.isnan(cell.margin) else style.pretty(number(cell, units))
    if cell.void:
        word, _, reason = cell.word.partition(": ")
        paper = f"{amount} on paper" if cell.subject else ""
        return word, reason, paper if width(paper, style.LEGIBLE) < 0.95 * room else f"({amount})"
    if not cell.subject:
        return "–", "no limit", ""
    first, *more = wrap(cell.subject.removeprefix("part."), style.LEGIBLE, False, room)
    return amount, cell.word, f"{first}…" if more else first


def _key(paper: style.Paper, found: Comparison, top: float) -> None:
    """What fills and marks mean, in a row."""
    there = {cell.status for row in found.cells for cell in row if cell is not None}
    ax = paper.panel(0.0, top, paper.wide, KEY)
    ax.set(xlim=(0, paper.wide / 7.0), ylim=(1.0, 0.0))
    ax.axis("off")
    x = 0.3
    for status in (name for name in FILLS if name in there):
        _fill(ax, status, x, 0.0)
        ax.text(x + 1.2, 0.5, WORDS[status], va="center", size=style.LEGIBLE)
        x += 1.2 + (width(WORDS[status], style.LEGIBLE) * style.POINT + 4.0) / 7.0


def _notes(found: Comparison, units: str) -> Iterator[str]:
    rest = found.verdicts(units)[1:]
    yield from (f"{words}." for words in rest[:SAID])
    if len(rest) > SAID:
        yield f"{len(rest) - SAID} more in the text of the comparison."
    yield from (f"Note: {words}." for words in found.notes)
    yield ("Number: margin of the limit that decides, with its part or place; a broken temperature "
           "limit comes first. Heavy frame: the worst of its variant. Dash: the fan does not run "
           "there.")  # fmt: skip
