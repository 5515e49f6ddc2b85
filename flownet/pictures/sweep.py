"""A sweep as a picture: lines over one varied key, or lines of equal value over two.

One varied key, or a second with few values: a line for each of these, named at its end; several
results of one key, `part.*.temperature`, are a line each too. Two keys with many values: lines of
equal value. The limit is a bold line, what breaks it hatched.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from matplotlib.ticker import MaxNLocator

from flownet.pictures import style
from flownet.pictures.labels import AtEnd, AxesRoom, at_ends
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.style import Axes
from flownet.pictures.swept import OF, Swept, taken
from flownet.schema.arrays import Array
from flownet.studies.sweep_result import Sweep

MARKED = 30  # points up to which each has a dot
TOLD = 9  # points up to which each has its value beside it
LIMIT_REACH = 0.5  # of the span of the values: how far off a limit is still drawn
CURVES = 9  # lines of equal value
NOBODY = {"", "None"}
NAME_SPOTS = 16  # points about the middle of a region that its name may stand at
LEAST_LABELLED = 80.0  # points: a shorter line of equal value has no label
SHARE = 0.04  # of the frame: a smaller region in which a limit decides is not named


@style.picture(Sweep)
def sweep(
    found: Sweep, *, of: str | None = None, ax: Axes | None = None, units: str = "metric"
) -> Axes:
    """A result over what was varied: lines, or lines of equal value; the limit is bold.

    Parameters
    ----------
    found : Sweep
        From `flownet.sweep`, a grid of one or two keys (or samples of one), its rows in memory. A
        second key with up to six values, or words, has a line for each; two keys with more values
        make lines of equal value.
    of : str, optional
        A result that was kept, or a pattern of several, a line each. Default what was kept by
        name, else the worst margin.
    ax : Axes, optional
        The varied key to the right; a result, or a second key, upwards; in the units shown.
    units : "metric" or "us"

    Raises
    ------
    CaseError
        For what has no picture: other designs, more keys, a result that is a word or not kept.
    """
    drawn, applied = taken(found, of, units), found.case.applied
    state = f"{applied.scenario} | {applied.variant}     {found.design.words}"
    told = style.caption(found.case, units, state=", ".join((state, *drawn.fixed)))
    paper = style.Paper(ax, found.verdicts(units)[0], told, 90.0, _notes(found, drawn, units))
    named = drawn.other is not None and not drawn.contours
    ax = paper.chart(15.0, 7.0, 115.0 if named else 150.0, 70.0)
    x = style.shown(drawn.x.quantity, drawn.x.values, units)
    ax.set_xlabel(style.named(drawn.x.path, drawn.x.quantity, units))
    (_contours if drawn.contours else _lines)(ax, drawn, x, units)
    return ax


# --- lines ---------------------------------------------------------------------------------------


def _lines(ax: Axes, drawn: Swept, x: Array, units: str) -> None:
    """A line for each result or value of the second key; words along the bottom have points."""
    values = style.shown(drawn.quantity, drawn.values, units)
    low, high, bound = _span(drawn, units)
    pad = 0.5 if not drawn.x.numeric else 0.03 * (x[-1] - x[0])
    ax.set(xlim=(x[0] - pad, x[-1] + pad), ylim=(low, high),
           ylabel=style.named(drawn.of, drawn.quantity, units))  # fmt: skip
    style.grid(ax)
    if not drawn.x.numeric:
        ax.set_xticks(x, drawn.x.texts)
    room, void = AxesRoom(ax), np.broadcast_to(drawn.void, values.shape)
    for number, (y, lost) in enumerate(zip(values.T, void.T, strict=True)):
        if drawn.x.numeric:
            ax.plot(x, y, color=style.INK, linewidth=1.6 if values.shape[1] == 1 else 1.2, zorder=5,
                    linestyle=style.DASHES[number % len(style.DASHES)])  # fmt: skip
            room.line(x, y)
        if len(x) <= MARKED or not drawn.x.numeric:
            style.points(ax, x[~lost], y[~lost])
            style.points(ax, x[lost], y[lost], marker="X")
            room.keep(x, y)
    if bound is not None:
        style.limit(ax, bound, high if drawn.above else low)
        _limit_names(room, drawn, bound, units)
    if drawn.other is not None:
        shown = [AtEnd(float(y[np.isfinite(y)][-1]), [text])
                 for y, text in zip(values.T, drawn.other.texts, strict=True)
                 if np.isfinite(y).any()]  # fmt: skip
        at_ends(ax, shown, [(6.0, "left")], 9.0)
        if not drawn.several:
            style.beside(ax, drawn.other.path, (1, 1), (6.0 / style.POINT, 6))
        return
    _decides(ax, drawn, x)
    for at, value, own in zip(x, values[:, 0], drawn.values[:, 0], strict=True):
        if np.isfinite(value) and len(x) <= TOLD:
            sign = "" if drawn.above else "+"
            text = style.pretty(drawn.quantity.shown(units).text(own, sign))
            room.name(at, value, text, size=style.LEGIBLE, tone=style.QUIET, lines=True)


def _limit_names(room: AxesRoom, drawn: Swept, bound: float, units: str) -> None:
    """`limit 55 °C` on one side of the line, `over the limit` on the other."""
    across, given = np.linspace(*room.ax.get_xlim(), 40), drawn.bound or 0.0
    room.line(across, np.full(len(across), bound))
    held = f"limit {style.Units(units).round(drawn.quantity, given)}"
    held = held if given or drawn.above else "limit"
    for text, up in ((held, not drawn.above), ("over the limit", drawn.above)):
        room.name(across[1:-1], np.full(len(across) - 2, bound), text, up=up)


def _span(drawn: Swept, units: str) -> tuple[float, float, float | None]:
    """Ends of the frame, and the limit where it lies near."""
    low, high = drawn.ends
    span, bound = high - low or max(abs(high), 1.0) * 0.1, drawn.bound
    if bound is None or not low - LIMIT_REACH * span <= bound <= high + LIMIT_REACH * span:
        bound = None
    else:
        low, high = min(low, bound), max(high, bound)
    ends = style.shown(drawn.quantity, (low - 0.1 * span, high + 0.22 * span), units)
    shown = None if bound is None else float(style.shown(drawn.quantity, bound, units))
    return float(ends[0]), float(ends[1]), shown


def _decides(ax: Axes, drawn: Swept, x: Array) -> None:
    """Which limit decides over each stretch, at the top of the frame."""
    if drawn.of != OF or not drawn.x.numeric:
        return
    who = drawn.decides[:, 0].astype(str)
    cuts = np.flatnonzero(who[1:] != who[:-1])
    edges = [x[0], *((x[cuts] + x[cuts + 1]) / 2), x[-1]]
    scale, across = style.extent(ax)[0] / np.ptp(ax.get_xlim()), ax.get_xaxis_transform()
    mark = {"arrowstyle": "|-|,widthA=0.2,widthB=0.2", "lw": 0.7, "color": style.INK,
            "shrinkA": 1, "shrinkB": 1}  # fmt: skip
    for a, b, name in zip(edges[:-1], edges[1:], [who[0], *who[cuts + 1]], strict=True):
        text = f"{name} decides"
        if name not in NOBODY and width(text, style.MEDIUM, True) < (b - a) * scale:
            ax.annotate("", (a, 0.93), (b, 0.93), xycoords=across, arrowprops=mark)
            ax.annotate(text, ((a + b) / 2, 0.945), xycoords=across, ha="center", weight="bold")


# --- lines of equal value ------------------------------------------------------------------------


def _contours(ax: Axes, drawn: Swept, x: Array, units: str) -> None:
    """Lines of equal value, the limit bold, hatched where it is broken, in dots what was solved."""
    assert drawn.other is not None
    y = style.shown(drawn.other.quantity, drawn.other.values, units)
    values = np.ma.masked_invalid(style.shown(drawn.quantity, drawn.values, units).T)
    low, high = float(values.min()), float(values.max())
    ax.set(xlim=(x[0], x[-1]), ylim=(y[0], y[-1]),
           ylabel=style.named(drawn.other.path, drawn.other.quantity, units))  # fmt: skip
    bound = None if drawn.bound is None else float(style.shown(drawn.quantity, drawn.bound, units))
    unit = style.pretty(drawn.quantity.shown(units).unit)
    ax.plot(*(grid.ravel() for grid in np.meshgrid(x, y)), ".", ms=1.2, color=style.PALE, zorder=1)
    if bound is not None and low < bound < high:
        beyond = [bound, high + 1.0] if drawn.above else [low - 1.0, bound]
        broken = ax.contourf(x, y, values, beyond, colors="none", hatches=["////"], zorder=0.4)
        broken.set(edgecolor=style.PALE, linewidth=0.0)
        edge = ax.contour(x, y, values, [bound], colors=style.OVER, linewidths=2.4, zorder=4)
        ax.clabel(edge, fmt=lambda _: "limit", fontsize=style.MEDIUM, inline_spacing=3)
    levels = [level for level in MaxNLocator(CURVES).tick_values(low, high)
              if low < level < high and level != bound]  # fmt: skip
    if levels:
        lines = ax.contour(x, y, values, levels, colors=style.INK, linewidths=0.8, zorder=3)
        sign = "" if drawn.above else "+"
        ax.clabel(lines, _long(ax, lines), fmt=lambda v: f"{v:{sign}g} {unit}".strip(),
                  fontsize=style.LEGIBLE, inline_spacing=3)  # fmt: skip
    if drawn.of == OF:
        _regions(ax, drawn, x, y)


def _long(ax: Axes, lines: Any) -> list[float]:
    """The levels whose lines have room for a label."""
    scale = 72 / ax.figure.dpi
    return [level for level, parts in zip(lines.levels, lines.allsegs, strict=True) if any(
        scale * np.hypot(*np.diff(ax.transData.transform(part), axis=0).T).sum() > LEAST_LABELLED
        for part in parts if len(part) > 1)]  # fmt: skip


def _regions(ax: Axes, drawn: Swept, x: Array, y: Array) -> None:
    """The limit that decides, in the middle of where it does."""
    names, room = drawn.decides.astype(str), AxesRoom(ax)
    for path in (path for lines in ax.collections for path in lines.get_paths()):
        for part in path.to_polygons(closed_only=False):
            room.line(*np.transpose(part))
    for name in sorted(set(names.ravel().tolist()) - NOBODY):
        here = np.argwhere(names == name)
        if len(here) >= SHARE * names.size:
            near = here[np.abs(here - here.mean(axis=0)).sum(axis=1).argsort()[:NAME_SPOTS]]
            room.name(x[near[:, 0]], y[near[:, 1]], f"{name} decides", bold=True, lines=True)


# --- words ---------------------------------------------------------------------------------------


def _notes(found: Sweep, drawn: Swept, units: str) -> Iterator[str]:
    yield from map(style.sentence, found.verdicts(units)[1:])
    (low, high), shown, bound = drawn.ends, style.Units(units), drawn.bound
    if bound is None:
        yield "Limits differ between these results, or there is none, and are not drawn." \
            if drawn.several else "No one limit belongs to it."  # fmt: skip
    elif not low < bound < high if drawn.contours else _span(drawn, units)[2] is None:
        broken, text = (low > bound) == drawn.above, shown.round(drawn.quantity, bound)
        yield f"The limit, {text}, is {'broken' if broken else 'kept'} everywhere."
    if drawn.contours:
        yield (f"Lines of equal {drawn.of}, from {shown.text(drawn.quantity, low)} to "
               f"{shown.text(drawn.quantity, high)}; dots: what was solved. Hatched: over the "
               "limit.")  # fmt: skip
    missing = int((~np.isfinite(drawn.values)).sum())
    if missing:
        yield f"{missing} without a value: a gap."
    if drawn.void.any():
        yield f"Crosses: {int(drawn.void.sum())} void, whose margin counts for nothing."
    rows = (found["status"] == "over") & (found[OF] >= 0.0) if drawn.of == OF else np.zeros(1, bool)
    if rows.any():
        names = dict.fromkeys(map(str, found["decides"][rows]))
        many = f"{int(rows.sum())} value{'s break' if rows.sum() > 1 else ' breaks'}"
        yield f"{many} a limit that is no temperature and is not drawn: {', '.join(names)}."
