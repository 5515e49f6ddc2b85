"""A sweep as a picture: lines over one varied key, or lines of equal value over two.

One varied key, or a second with few values: a line for each of these, named at its end; several
results of one key, `part.*.temperature`, are a line each too. Two keys with many values: a map of
lines of equal value. The limit is a heavy line, what breaks it hatched.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any, NamedTuple, Protocol

import flownet
from flownet.enclosure.whole import Enclosure
from flownet.errors import CaseError
from flownet.quantities import Quantity
from flownet.report import look, scene_page, scene_words
from flownet.report.heading import titled
from flownet.report.scene import Drawing, Layer, Rect, Scene, Words, line, stacked
from flownet.report.scene_letters import wrap
from flownet.report.scene_page import round_values
from flownet.report.scene_plot import GRID, TICK, Plot
from flownet.report.scene_plot import Axis as Scale
from flownet.report.scene_words import Units, pretty

MARGIN = 20.0
FRAME = Rect(0.0, 0.0, 400.0, 270.0)
OF = "total.worst_margin"
LINES = 6  # that can be told apart in one frame
RESULTS = 12  # lines of several results, each named at its end
Numbers = Sequence[float]


class Swept(Protocol):
    """Rows of a design in memory."""

    @property
    def case(self) -> Enclosure:
        """In its scenario and variant."""

    @property
    def design(self) -> Any:
        """With `sort`, `axes`, `shape` and `words`."""

    @property
    def layout(self) -> Any:
        """With the columns of the `axes` and those `kept`, each with its `quantity`, and whether
        these were `asked` for."""

    def __getitem__(self, path: str) -> Any:
        """A column, SI."""

    def column(self, path: str) -> Any:
        """With its `quantity`."""

    def bound(self, path: str) -> float | None:
        """The limit of a result."""

    def texts(self, row: Any, units: str = "metric") -> Sequence[str]:
        """Varied values as text."""


class Key(NamedTuple):
    """A varied key: numbers in SI, or words at 0, 1, 2, ..."""

    path: str
    quantity: Quantity | None
    values: Numbers
    texts: tuple[str, ...]  # of each value, in the reader's units

    @property
    def numeric(self) -> bool:
        """Whether its values are numbers."""
        return self.quantity is not None


class Drawn(NamedTuple):
    """What is drawn: a result over one key, or over two."""

    of: str
    quantity: Quantity
    x: Key
    other: Key | None  # lines of one key have none
    values: Sequence[Numbers]  # [value of x][value of other], SI
    bound: float | None  # a limit
    above: bool  # whether what lies above it breaks it
    fixed: tuple[str, ...]  # keys with one value, in words

    @property
    def several(self) -> bool:
        """Whether its lines are results, not values of a second key."""
        return self.other is not None and self.other.path == self.of


def sweep_scene(
    found: Swept, of: str | None = None, units: str = "metric", changed: Sequence[str] = ()
) -> Scene:
    """The picture as a scene; CaseError for what has none."""
    from flownet.report.scene_contour import contour  # noqa: PLC0415 - both build on this
    from flownet.report.scene_sweep_lines import graphs  # noqa: PLC0415

    drawn = taken(found, of or _usual(found), units)
    drawing = Drawing(changed=changed)
    many = drawn.other is not None and drawn.other.numeric and len(drawn.other.values) > LINES
    notes = (contour if many else graphs)(drawing, drawn, Units(units))
    _around(drawing, found, drawn, [*notes, *_elsewhere(found, drawn)])
    return drawing.scene(MARGIN, found.case.title)


# --- what is drawn --------------------------------------------------------------------------------


def taken(found: Swept, of: str, units: str) -> Drawn:
    """The result, or those of a pattern, and the keys over which they are drawn."""
    results = _results(found, of)
    if found.design.sort != "grid" and len(found.design.axes) > 1:
        raise CaseError(f"a {found.design.sort} design of several keys has no picture; take a grid")
    keys = [_key(found, number, units) for number in range(len(found.design.axes))]
    wide = [key for key in keys if len(set(key.values)) > 1]
    fixed = tuple(f"{key.path} {key.texts[0]}" for key in keys if key not in wide)
    if not 1 <= len(wide) <= 2:
        raise CaseError(f"one or two varied keys have a picture (got {len(wide)})")
    sizes = [len(key.values) for key in wide]
    if len(wide) == 2 and len(results) > 1:
        raise CaseError(f"{of}: {len(results)} results over two varied keys have no picture; name "
                        "one result, or vary one key")  # fmt: skip
    values = found[results[0]].reshape(sizes)
    if len(wide) == 1:
        order = sorted(range(sizes[0]), key=lambda i: wide[0].values[i])
        x = wide[0]._replace(values=[wide[0].values[i] for i in order],
                             texts=tuple(wide[0].texts[i] for i in order))  # fmt: skip
        rows = [[float(found[path][i]) for path in results] for i in order]
        return _drawn(found, of, x, _lines(of, results), rows, fixed, results)
    first, second = wide
    if _turned(first, second):
        first, second, values = second, first, values.T
    if len(second.values) > LINES and not (first.numeric and second.numeric):
        raise CaseError(f"{second.path}: {len(second.values)} lines are too many; at most {LINES}")
    return _drawn(found, of, first, second, values.tolist(), fixed, results)


def _usual(found: Swept) -> str:
    """What is drawn where no result is named: what was kept by name, else the worst margin."""
    paths = [column.path for column in found.layout.kept if column.quantity is not None]
    if not found.layout.asked or not paths:
        return OF
    pattern, *others = (re.sub(r"\..*\.", ".*.", path) for path in paths)
    return pattern if pattern in others and len(found.design.axes) == 1 else paths[0]


def _results(found: Swept, of: str) -> list[str]:
    """The columns that a path or a pattern stands for; CaseError where they have no picture."""
    rule = re.compile(".*".join(map(re.escape, of.split("*"))))
    matching = [column for column in found.layout.kept if rule.fullmatch(column.path)]
    columns = matching if "*" in of and matching else [found.column(of)]
    if any(column.quantity is None for column in columns):
        raise CaseError(f"{of}: is a word and has no picture; a number is wanted")
    if len({column.quantity for column in columns}) > 1:
        raise CaseError(f"{of}: results of several quantities have no picture together")
    if len(columns) > RESULTS:
        raise CaseError(f"{of}: {len(columns)} lines are too many; at most {RESULTS}")
    return [column.path for column in columns]


def _lines(of: str, results: Sequence[str]) -> Key | None:
    """Several results as the values of a second key; None for one."""
    if len(results) == 1:
        return None
    begin, _, end = of.partition("*")
    names = [path.removeprefix(begin).removesuffix(end.rpartition("*")[2]) for path in results]
    return Key(of, None, [float(i) for i in range(len(names))], tuple(names))


def _drawn(
    found: Swept, of: str, x: Key, other: Key | None, values: Sequence[Numbers],
    fixed: tuple[str, ...], results: Sequence[str],
) -> Drawn:  # fmt: skip
    bounds = {found.bound(path) for path in results}
    bound = bounds.pop() if len(bounds) == 1 else None
    margin = of.rpartition(".")[2] in ("margin", "worst_margin")
    quantity = found.column(results[0]).quantity
    if not any(math.isfinite(value) for row in values for value in row):
        raise CaseError(f"{of}: has no value in any row")
    return Drawn(of, quantity, x, other, values, bound, not margin, fixed)


def _key(found: Swept, number: int, units: str) -> Key:
    axis, column = found.design.axes[number], found.layout.axes[number]
    raw = found[axis.path] if found.design.sort != "grid" else axis.values
    if column.quantity is not None:
        shown = column.quantity.shown(units)
        values = [float(value) for value in raw]
        return Key(axis.path, column.quantity, values, tuple(pretty(shown.text(v)) for v in values))
    return Key(axis.path, None, [float(i) for i in range(len(raw))], tuple(map(str, raw)))


def _turned(first: Key, second: Key) -> bool:
    """Whether the second key goes along the bottom: the numeric one, the one with more values."""
    if first.numeric != second.numeric:
        return second.numeric
    many = min(len(first.values), len(second.values)) > LINES
    return not many and len(second.values) > len(first.values)


# --- frame ----------------------------------------------------------------------------------------


def scale(key_or_of: str, quantity: Quantity | None, low: float, high: float) -> Scale:
    """A side of the frame."""
    return Scale(quantity or flownet.quantities.RATIO, key_or_of, low, high)


def ticks(axis: Scale, units: Units, most: int) -> list[tuple[float, str]]:
    """Round numbers of the reader: value in SI, text."""
    shown = axis.quantity.shown(units.system)
    low, high = (value * shown.factor + shown.offset for value in (axis.low, axis.high))
    return [((value - shown.offset) / shown.factor, f"{value:g}")
            for value in round_values(low, high, most)]  # fmt: skip


def title(axis: Scale, units: Units) -> str:
    """`outside.temperature, °C`."""
    unit = axis.quantity.shown(units.system).unit
    return pretty(f"{axis.name}, {unit}" if unit else axis.name)


def sides(
    drawing: Drawing, plot: Plot, units: Units, words: Sequence[str] = (), *, grid: bool = True
) -> None:
    """Frame, numbers (or words) below and at the left, and what they are."""
    rect = plot.rect
    across = [(float(i), text) for i, text in enumerate(words)] or ticks(plot.across, units, 8)
    for value, text in across:
        x = plot.at(value, plot.up.low)[0]
        if grid:
            drawing.add(Layer.FILL, line([(x, rect.y0), (x, rect.y1)], GRID, look.HAIR))
        drawing.add(Layer.MARK, line([(x, rect.y0), (x, rect.y0 - TICK)]))
        drawing.add(Layer.LETTER, Words(x, rect.y0 - TICK - 8.0, text, look.SMALL,
                                        colour=look.QUIET, align="centre"))  # fmt: skip
    for value, text in ticks(plot.up, units, 7):
        y = plot.at(plot.across.low, value)[1]
        if grid:
            drawing.add(Layer.FILL, line([(rect.x0, y), (rect.x1, y)], GRID, look.HAIR))
        drawing.add(Layer.MARK, line([(rect.x0, y), (rect.x0 - TICK, y)]))
        drawing.add(Layer.LETTER, Words(rect.x0 - TICK - 2.0, y - 2.5, text, look.SMALL,
                                        colour=look.QUIET, align="right"))  # fmt: skip
    drawing.area(Layer.WALL, rect, None, edge=look.INK, width=look.THIN)
    below = plot.across.name if words else title(plot.across, units)
    drawing.add(
        Layer.LETTER,
        Words(rect.centre[0], rect.y0 - TICK - 22.0, below, look.BODY, align="centre"),
        Words(rect.x0 - 24.0, rect.y1 + 8.0, title(plot.up, units), look.BODY),
    )


def _elsewhere(found: Swept, drawn: Drawn) -> list[str]:
    """Rows where the worst margin, which is of temperatures, holds and another limit does not;
    limits of several results."""
    if drawn.several and drawn.bound is None:
        return ["Limits differ between these results, or there is none, and are not drawn."]
    if drawn.of != OF:
        return []
    rows = (found["status"] == "over") & (found[OF] >= 0.0)
    count, names = int(rows.sum()), dict.fromkeys(map(str, found["decides"][rows]))
    if not count:
        return []
    many = "1 value breaks" if count == 1 else f"{count} values break"
    return [f"{many} a limit that is no temperature and is not drawn: {', '.join(names)}."]


def _around(drawing: Drawing, found: Swept, drawn: Drawn, notes: Sequence[str]) -> None:
    """Head lines above; what is fixed, notes and the signature below."""
    case, applied = found.case, found.case.applied
    over = drawn.x.path
    if drawn.other is not None and not drawn.several:
        over += f" and {drawn.other.path}"
    wide = max(drawing.rect.x1 + 24.0, FRAME.wide)
    heads = [
        (f"{drawn.of} over {over}", look.TITLE, True, look.INK),
        (titled(case), look.HEAD, True, look.INK),
        (f"{applied.variant} | {applied.scenario}", look.HEAD, True, look.INK),
        (", ".join((found.design.words, *drawn.fixed)), look.BODY, False, look.QUIET),
    ]
    scene_page.head(drawing, (-24.0, FRAME.y1 + 26.0), wide, heads)
    rows = [Words(0, 0, text, look.SMALL, False, look.QUIET)
            for words in (*notes, scene_words.signature(case, flownet.__version__))
            for text in wrap(words, look.SMALL, False, wide)]  # fmt: skip
    placed, _ = stacked(rows, -24.0, FRAME.y0 - 36.0)
    drawing.add(Layer.LETTER, *placed)
