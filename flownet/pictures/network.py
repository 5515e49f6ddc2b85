"""The network: places as boxes and what joins them as lines, to check how a case hangs together.

Boxes keep the order of the outlines; `outside` runs around them all. A line runs straight between
neighbours in a row or column, in a lane of its own: level lanes lie within the height of a row,
upright ones within the width of a column, and words in the gaps between, so that nothing lies over
anything. Between places that are no neighbours a line stands at each of both, a flag at its end
with the name of the other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from matplotlib.axes import Axes

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures.caption import Units
from flownet.pictures.map.geometry import Spot
from flownet.pictures.network_grid import OUTSIDE, GridCell, Joint, cells, links
from flownet.pictures.scene import look, page, scene
from flownet.pictures.scene.scene import Drawing, Layer, Letters, Point, Rect, Shape
from flownet.pictures.scene.symbols import DRAWN, Mark, shapes
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.style import picture
from flownet.results.solution import Solution
from flownet.schema import quantities as q

MARGIN, LEAST_WIDE = 20.0, 380.0  # around all; of what stands above and below the drawing
BAND = 24.0  # the frame that stands for the outside
NAME_WIDE = 150.0  # of a name in a box, before it goes on in the next line
GAPS = (30.0, 26.0)  # between columns and between rows where nothing is written
PITCH, LEAD = 29.0, 46.0  # between level lanes; room for the mark and the arrow of one
BEFORE, BESIDE = 17.0, 17.0  # from the start of a level lane to its mark; from an upright to words
UPRIGHT, TALL = 38.0, 66.0  # of an upright lane beside its words; of a gap with words
SIDE_STEPS = {"left": (-1, 0), "right": (1, 0), "top": (0, 1), "bottom": (0, -1)}
OPPOSITE = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}
# half the length of a mark across its line, and half the thickness along it
SIZES = {
    "opening": (6.0, 3.0), "vent": (9.0, 3.5), "filter": (9.0, 4.5), "fan": (13.0, 4.8),
    "baffle": (4.0, 2.5), "slot": (5.0, 9.0), "duct": (4.0, 9.0), "leak": (6.0, 2.2),
    "exchange": (9.0, 8.0),
}  # fmt: skip


class Lane(NamedTuple):
    """A line on its way along a row (`level`) or a column."""

    link: Joint
    level: bool
    low: str  # the place at its left or lower end
    high: str  # the next place at its right or above
    flag: str = ""  # the place it leads to where that is no neighbour; it ends in the gap

    @property
    def forward(self) -> bool:
        """Whether it starts at the link's `from_`."""
        return self.link.from_ == self.low

    @property
    def told(self) -> float:
        """Width of what is written at it."""
        return max(width(self.link.name, look.SMALL, True), width(self.link.note, look.SMALL))

    @property
    def wide(self) -> float:
        """The same with its flag."""
        return self.told + (width(self.flag, look.SMALL, True) + 18.0 if self.flag else 0.0)


@picture(Solution, Enclosure)
def network(
    case_or_solution: Enclosure | Solution, *, ax: Axes | None = None, units: str = "metric"
) -> Axes:
    """The places and what joins them, to check that a case is put together as meant.

    Parameters
    ----------
    case_or_solution : Enclosure or Solution
        With a solution, flows with their direction and temperatures are shown too.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.

    Raises
    ------
    TypeError
        For anything else.
    """
    return scene.paint(network_scene(case_or_solution, units), ax)


def network_scene(of: Enclosure | Solution, units: str = "metric") -> Drawing:
    """The network of a case as a drawing; with a solution flows and temperatures too."""
    case = of if isinstance(of, Enclosure) else of.case
    drawing, text, places = Drawing(case.title, MARGIN), Units(units), cells(case)
    said = {name: _said(of, name, text) for name in places}
    boxes, inner, lines = plan(places, list(links(of, text)), said)
    frame = inner.grown(BAND)
    drawing.area(Layer.FILL, frame, look.GROUND, edge=look.QUIET, width=look.FINE)
    drawing.area(Layer.FILL, inner, look.WHITE, edge=look.INK, width=look.LINE)
    around, warm = _said(of, OUTSIDE, text)
    for one, x in ((around, 2.0), (warm, 12.0 + around.wide)):
        drawing.add(Layer.LETTER, one._replace(x=x, y=inner.y1 + 8.0))
    for name, rect in boxes.items():
        inside = name in case.compartments
        drawing.area(Layer.PLATE, rect, look.WHITE if inside else look.GROUND, edge=look.INK,
                     width=look.WALL if inside else look.FINE)  # fmt: skip
        top = rect.centre[1] + look.LINE_SPACING * look.HEAD * len(said[name]) / 2 - 1.0
        drawing.write(said[name], rect.centre[0], top, "center")
    for lane, start, end in lines:
        put(drawing, lane, start, end)
    wide = max(frame.wide, LEAST_WIDE)
    page.head(drawing, (frame.x0, frame.y1 + 12.0), wide, of, text)
    arrows = 'the way from "from" to "to"' if of is case else "the way the air goes"
    note = f"What joins what, not to scale. Arrows: {arrows}. Dashed: heat through a wall."
    if any(lane.flag for lane, *_ in lines):
        note += " A small box: the place at the other end of a line."
    page.foot(drawing, (frame.x0, frame.y0 - 12.0), wide, note, case)
    return drawing


def _said(of: Enclosure | Solution, name: str, units: Units) -> list[Letters]:
    """The lines in a box: its name, its temperature where that is known."""
    case = of if isinstance(of, Enclosure) else of.case
    made = scene.written(name, look.HEAD, True, NAME_WIDE)
    if name not in case.compartments:
        value = case.things["outside"][name.partition(".")[2]].temperature
    elif isinstance(of, Solution):
        value = of.compartments[name].temperature
    else:
        return made
    return [*made, Letters(0, 0, units.text(q.TEMPERATURE, value), look.HEAD)]


# --- where everything stands ---------------------------------------------------------------------

Line = tuple[Lane, Point, Point]  # from its low end to its high one, or to its flag


def plan(
    places: Mapping[str, GridCell], found: Sequence[Joint], said: Mapping[str, Sequence[Letters]]
) -> tuple[dict[str, Rect], Rect, list[Line]]:
    """Every box on the page, the inner border of the frame, every line."""
    channels: dict[tuple[bool, str, str], list[Lane]] = {}
    for lane in (lane for link in found for lane in _lanes(link, places)):
        channels.setdefault((lane.level, lane.low, lane.high), []).append(lane)
    sizes = {name: _size(name, said[name], channels) for name in places}
    (columns, wide), (rows, tall) = (_middles(axis, places, sizes, channels) for axis in (0, 1))
    boxes = {}
    for name, (x, y) in sizes.items():
        column, row = columns[places[name].column], rows[places[name].row]
        boxes[name] = Rect(column - x / 2, row - y / 2, column + x / 2, row + y / 2)
    inner, lines = Rect(0.0, 0.0, wide, tall), []
    for (level, low, high), lanes in channels.items():
        x, y = boxes[low if low in boxes else high].centre
        start, end = (boxes.get(name, inner) for name in (low, high))
        x -= sum(lane.wide + UPRIGHT for lane in lanes) / 2 - 15.0
        for number, lane in enumerate(lanes):
            if level:
                at = y + PITCH * ((len(lanes) - 1) / 2 - number)
                left = start.x1 if low in boxes else inner.x0
                right = end.x0 if high in boxes else inner.x1
                stop = left + lane.told + LEAD if lane.flag else right
                lines.append((lane, (left, at), (stop, at)))
            else:
                lower = start.y1 if low in boxes else inner.y0
                lines.append((lane, (x, lower), (x, end.y0 if high in boxes else inner.y1)))
                x += lane.wide + UPRIGHT
    return boxes, inner, lines


def _lanes(link: Joint, places: Mapping[str, GridCell]) -> Iterator[Lane]:
    """Straight to a neighbour or the frame; else from both ends to a flag."""
    if OUTSIDE in (link.from_, link.to):
        near, usual = (link.to, "left") if link.from_ == OUTSIDE else (link.from_, "right")
        sides: tuple[str, ...] = (link.side or usual, usual, OPPOSITE[usual], "top", "bottom")
        far = OUTSIDE
    else:
        near, far, sides = link.from_, link.to, tuple(SIDE_STEPS)
    side = next((side for side in sides if _next(near, side, places) == far), "")
    if side:
        ends = (near, far) if side in ("right", "top") else (far, near)
        yield Lane(link, side in ("left", "right"), *ends)
        return
    for name, other in ((link.from_, link.to), (link.to, link.from_)):
        if name != OUTSIDE:
            yield Lane(link, True, name, _next(name, "right", places), other)


def _next(name: str, side: str, places: Mapping[str, GridCell]) -> str:
    """The place met first when one leaves another straight through a side."""
    own, (right, up) = places[name], SIDE_STEPS[side]
    met = [
        (abs(cell.column - own.column) + abs(cell.row - own.row), other)
        for other, cell in places.items()
        if (right and cell.row == own.row and (cell.column - own.column) * right > 0)
        or (up and cell.column == own.column and (cell.row - own.row) * up > 0)
    ]
    return min(met)[1] if met else OUTSIDE


def _size(
    name: str, said: Sequence[Letters], channels: Mapping[tuple[bool, str, str], Sequence[Lane]]
) -> tuple[float, float]:
    """Width and height a box needs for its words and its lanes."""
    wide = max(words.wide for words in said) + 18.0
    tall = look.LINE_SPACING * look.HEAD * len(said) + 14.0
    for (level, *ends), lanes in channels.items():
        if name in ends and level:
            tall = max(tall, PITCH * len(lanes) + 4.0)
        elif name in ends:
            wide = max(wide, sum(lane.wide + UPRIGHT for lane in lanes) + 8.0)
    return wide, tall


def _middles(
    axis: int, places: Mapping[str, GridCell], sizes: Mapping[str, tuple[float, float]],
    channels: Mapping[tuple[bool, str, str], Sequence[Lane]],
) -> tuple[list[float], float]:  # fmt: skip
    """The middle of each column (0) or row (1), and how far all of them reach."""
    count = max((cell[axis] for cell in places.values()), default=-1) + 1
    gaps, need = [GAPS[axis]] * (count + 1), [0.0] * count
    for (level, low, _), lanes in channels.items():
        if level == (axis == 0):
            at = places[low][axis] + 1 if low in places else 0
            words = max(lane.wide for lane in lanes) + LEAD if level else TALL
            gaps[at] = max(gaps[at], words)
    for name, cell in places.items():
        need[cell[axis]] = max(need[cell[axis]], sizes[name][axis])
    middles = [sum(gaps[: k + 1]) + sum(need[:k]) + need[k] / 2 for k in range(count)]
    return middles, sum(gaps) + sum(need)


# --- what is drawn -------------------------------------------------------------------------------


def put(drawing: Drawing, lane: Lane, start: Point, end: Point) -> None:
    """A line with its arrow, its mark across it, its words, its flag."""
    link, (x, y) = lane.link, start
    dash = (4.0, 2.5) if link.kind == "wall" else ()
    drawing.add(Layer.LEADER, scene.line([start, end], look.INK, look.LINE, dash))
    _arrow(drawing, lane, start, end)
    at = (x + BEFORE, y) if lane.level else (x, y + TALL / 2)
    beside = at[0] + (13.0 if lane.level else BESIDE)
    below = at[1] - 2.0 - look.ASCENT * look.SMALL
    for text, height, bold in ((link.name, at[1] + 2.5, True), (link.note, below, False)):
        if text:
            drawing.add(Layer.LETTER, Letters(beside, height, text, look.SMALL, bold))
    if lane.flag:
        words = Letters(end[0] + 4.0, end[1] - 2.5, lane.flag, look.SMALL, True)
        x0, y0, x1, y1 = words.rect
        drawing.area(Layer.PLATE, Rect(x0 - 4.0, y0 - 2.0, x1 + 4.0, y1 + 2.0), look.WHITE,
                     edge=look.INK, width=look.FINE)  # fmt: skip
        drawing.add(Layer.LETTER, words)
    if link.kind in DRAWN and (lane.forward or not lane.flag):
        half, deep = SIZES[link.kind]
        sign = 1.0 if lane.forward else -1.0
        normal = (sign, 0.0) if lane.level else (0.0, sign)
        mark = Mark("", link.kind, link.item, at, normal, half, deep, Spot(at, normal),
                    wall=(11.0, 11.0), letter=False, still=link.still)  # fmt: skip
        if link.kind in ("opening", "vent", "filter", "leak", "exchange"):
            for side in (-1.0, 1.0):  # a little of the wall the mark sits in
                ends = [mark.place(side * half, 0.0), mark.place(side * (half + 5.0), 0.0)]
                drawing.add(Layer.MARK, scene.line(ends, width=look.WALL))
        drawing.add(Layer.MARK, *shapes(mark))


def _arrow(drawing: Drawing, lane: Lane, start: Point, end: Point) -> None:
    """Filled: the way the air (or the heat) goes; open: from `from` to `to`."""
    link = lane.link
    if link.kind == "exchange" or link.flow == 0 or (link.kind == "wall" and link.flow is None):
        return
    forward = lane.forward == ((1.0 if link.flow is None else link.flow) > 0)
    (x, y), sign = (end, 1.0) if forward else (start, -1.0)
    dx, dy = (sign, 0.0) if lane.level else (0.0, sign)
    tip = (x - 1.5 * dx, y - 1.5 * dy)
    (x, y) = (tip[0] - 7.0 * dx, tip[1] - 7.0 * dy)
    wings = (x - 3.2 * dy, y + 3.2 * dx), (x + 3.2 * dy, y - 3.2 * dx)
    if link.flow is not None:
        drawing.add(Layer.ARROW, Shape((wings[0], tip, wings[1]), look.INK))
    else:
        drawing.add(Layer.ARROW, scene.line((wings[0], tip, wings[1]), width=look.LINE))
