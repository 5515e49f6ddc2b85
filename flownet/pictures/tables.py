"""Words beside and below charts: ringed tables, columns at rows, names at the ends of lines."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.pictures import style
from flownet.pictures.scene.scene import push_apart
from flownet.pictures.scene.text_metrics import width, wrap
from flownet.pictures.style import Axes

ROW, NEXT = 4.6, 3.2  # mm: a row of a table, a further line in it


def ring(edge: str = style.INK) -> dict[str, Any]:
    """How a number looks in a white ring."""
    box = {"boxstyle": "circle,pad=0.28", "fc": "white", "ec": edge, "lw": 1.1}
    return {"ha": "center", "va": "center", "size": 6.5, "weight": "bold", "bbox": box,
            "color": style.INK}  # fmt: skip


def _weight(bold: bool) -> str:
    return "bold" if bold else "normal"


def table(
    paper: style.Paper, top: float, heads: Sequence[str], rows: Sequence[Sequence[str]],
    numbers: Sequence[str] = (), bold: Collection[int] = (), edge: str = style.INK,
) -> None:  # fmt: skip
    """Ringed rows in words, the first column its number; `numbers` name the columns that end right.

    A cell may have several lines. Nothing on axes of somebody else: they have no room for it.
    """
    if paper.ax is not None:
        return
    right, heights = 3.0, np.cumsum([paper.top + top + 3.0 + ROW, *map(_height, rows)])
    for i, head in enumerate(heads):
        texts = [row[i].split("\n") for row in rows]
        if not any(any(lines) for lines in texts):
            continue
        sizes = [width(line, style.BODY, row in bold) for row, t in enumerate(texts) for line in t]
        wide = max(width(head, style.SMALL), *sizes) * style.POINT + 4.5 if i else 8.0
        x, side = (right + wide - 4.5, "right") if head in numbers else (right, "left")
        right += wide
        paper.words(x, heights[0] - ROW, head, ha=side, size=style.SMALL, color=style.QUIET)
        for row, (lines, y) in enumerate(zip(texts, heights, strict=False)):
            if i == 0:
                paper.words(x + 2.5, y - 0.8, lines[0], **ring(edge))
                continue
            for k, line in enumerate(lines):
                paper.words(x, y + NEXT * k, line, ha=side, weight=_weight(row in bold))


def table_tall(rows: Sequence[Sequence[str]]) -> float:
    """How much of a page a table takes."""
    return ROW + sum(map(_height, rows)) + 1.0


def _height(row: Sequence[str]) -> float:
    return ROW + NEXT * max(text.count("\n") for text in row)


class Column(NamedTuple):
    """Words beside the rows of a chart, at the height of each."""

    head: str
    at: float  # mm from the left side of the axes, or from its right side where above zero
    texts: Sequence[str]
    align: str = "left"
    bold: Collection[int] = ()
    wide: float = 1e3  # mm, where longer ones are broken


def columns(ax: Axes, paper: style.Paper, found: Sequence[Column]) -> None:
    """Columns that stay beside their rows; on axes of somebody else the first, as its ticks."""
    if paper.ax is not None:
        ax.set_yticks(range(len(found[0].texts)), [style.pretty(text) for text in found[0].texts])
        return
    ax.set_yticks([])
    for column in found:
        side, off = int(column.at > 0), column.at / style.POINT
        style.beside(ax, style.pretty(column.head), (side, 1), (off, 5), ha=column.align)
        for row, text in enumerate(column.texts):
            bold = row in column.bold
            lines = wrap(style.pretty(text), style.BODY, bold, column.wide / style.POINT)
            lines = [lines[0], f"{lines[1]}…"] if len(lines) > 2 else lines
            style.beside(ax, "\n".join(lines), (side, row), (off, 0), "y", ha=column.align,
                         va="center", linespacing=1.0, weight=_weight(bold), size=style.BODY,
                         color=style.INK)  # fmt: skip


class AtEnd(NamedTuple):
    """What stands at the right end of a line."""

    value: float  # of the line there
    texts: Sequence[str]
    bold: bool = False
    tone: str = style.INK


def at_ends(
    ax: Axes, found: Sequence[AtEnd], places: Sequence[tuple[float, str]], gap: float,
    above: float = 0.0,
) -> None:  # fmt: skip
    """Words right of the axes, each tied to the end of its line, pushed apart by `gap` points.

    `places` tell of each text how far from the axes it stands [mm], and which side ends there;
    `above` is kept free, as a share of the gap.
    """
    (low, high), tall = ax.get_ylim(), style.extent(ax)[1]
    step = gap / tall * (high - low)
    heights = spread([one.value for one in found], step, low, high - above * step)
    arrow = {"arrowstyle": "-", "linewidth": 0.5, "color": style.QUIET, "shrinkA": 0, "shrinkB": 0}
    for one, place in zip(found, heights.tolist(), strict=True):
        rise = (place - one.value) / (high - low) * tall
        style.beside(ax, "", (1, one.value), (5.0 / style.POINT, rise), "y", arrowprops=arrow)
        for (far, side), text in zip(places, one.texts, strict=False):
            style.beside(ax, style.pretty(text), (1, place), (far / style.POINT, 0), "y", ha=side,
                         va="center", color=one.tone, weight=_weight(one.bold),
                         size=style.BODY)  # fmt: skip


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> style.Array:
    """Places as near to those wanted as a least distance allows, in the same order."""
    order = np.argsort(wanted, kind="stable")
    gap = min(gap, (high - low) / max(len(order) - 1, 1))
    steps = gap * np.arange(len(order))
    apart = push_apart([wanted[i] for i in order], [0.0] * len(order), gap)
    found: style.Array = np.empty(len(order))
    found[order] = np.clip(apart - steps, low, high - steps[-1]) + steps
    return found


def ends(ax: Axes, values: Sequence[float], texts: Sequence[str]) -> tuple[float, float]:
    """Limits of axes that hold bars from zero, each with a text beyond its end."""
    room = style.extent(ax)[0]
    wide = [max([width(text, style.BODY) + 6.0 for value, text in zip(values, texts, strict=True)
                 if (value > 0) == up], default=0.0) for up in (False, True)]  # fmt: skip
    low, high = min([0.0, *values]), max([0.0, *values])
    if low == high:
        return -1.0, 1.0
    scale = (high - low) / max(room - sum(wide), 0.3 * room)
    return low - wide[0] * scale, high + wide[1] * scale
