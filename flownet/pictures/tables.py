"""Words beside and below charts: ringed tables, columns at rows, names at the ends of lines."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from flownet.pictures import style
from flownet.pictures.labels import ring
from flownet.pictures.scene.text_metrics import width, wrap
from flownet.pictures.style import Axes

ROW, NEXT = 4.6, 3.2  # mm: a row of a table, a further line in it


def table(
    paper: style.Paper, top: float, heads: Sequence[str], rows: Sequence[Sequence[str]],
    numbers: Sequence[str] = (), bold: Collection[int] = (), edge: str = style.INK,
) -> None:  # fmt: skip
    """Ringed rows in words, the first column its number; `numbers` name the columns that end right.

    A cell may have several lines. Nothing on axes of somebody else: they have no room for it.
    """
    if paper.ax is not None:
        return
    right, top = 3.0, paper.top + top + 3.0
    for i, head in enumerate(heads):
        texts = [row[i].split("\n") for row in rows]
        if not any(any(lines) for lines in texts):
            continue
        sizes = [width(line, style.BODY, row in bold) for row, t in enumerate(texts) for line in t]
        wide = max(width(head, style.SMALL), *sizes) * style.POINT + 4.5 if i else 8.0
        x, side = (right + wide - 4.5, "right") if head in numbers else (right, "left")
        right, y = right + wide, top
        paper.words(x, y, head, ha=side, size=style.SMALL, color=style.QUIET)
        for row, lines in enumerate(texts):
            y += ROW if row == 0 else _height(rows[row - 1])
            if i == 0:
                paper.words(x + 2.5, y - 0.8, lines[0], **ring(edge))
                continue
            for k, line in enumerate(lines):
                paper.words(x, y + NEXT * k, line, ha=side,
                            weight="bold" if row in bold else "normal")  # fmt: skip


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
        side, at = int(column.at > 0), (column.at / style.POINT, 0)
        ax.annotate(style.pretty(column.head), (side, 1), (at[0], 5), xycoords="axes fraction",
                    textcoords="offset points", ha=column.align, size=style.SMALL,
                    color=style.QUIET)  # fmt: skip
        for row, text in enumerate(column.texts):
            bold = row in column.bold
            lines = wrap(style.pretty(text), style.BODY, bold, column.wide / style.POINT)
            lines = [lines[0], f"{lines[1]}…"] if len(lines) > 2 else lines
            ax.annotate("\n".join(lines), (side, row), at, xycoords=ax.get_yaxis_transform(),
                        textcoords="offset points", ha=column.align, va="center", linespacing=1.0,
                        weight="bold" if bold else "normal")  # fmt: skip


def leader(
    ax: Axes, value: float, place: float, texts: Sequence[tuple[float, str, str]], *,
    bold: bool = False, tone: str = style.INK,
) -> None:  # fmt: skip
    """Words right of the axes at `place`, a thin line from them to a value at the right side.

    `texts`: each with its distance from the axes in mm, on which side it ends there, its words.
    """
    across, (low, high) = ax.get_yaxis_transform(), ax.get_ylim()
    rise = (place - value) / (high - low) * style.extent(ax)[1]
    arrow = {"arrowstyle": "-", "linewidth": 0.5, "color": style.QUIET, "shrinkA": 0, "shrinkB": 0}
    ax.annotate("", (1, value), (5.0 / style.POINT, rise), xycoords=across, arrowprops=arrow,
                textcoords="offset points")  # fmt: skip
    for at, side, text in texts:
        ax.annotate(style.pretty(text), (1, place), (at / style.POINT, 0), xycoords=across, ha=side,
                    textcoords="offset points", va="center", color=tone,
                    weight="bold" if bold else "normal")  # fmt: skip


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
