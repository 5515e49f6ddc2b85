"""What is drawn along the lines of a network: marks, arrows and words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from flownet.pictures.map.cells import Taken
from flownet.pictures.map.geometry import Spot
from flownet.pictures.network.links import Link
from flownet.pictures.network.routes import Line
from flownet.pictures.scene import look
from flownet.pictures.scene.scene import Drawing, Layer, Point, Rect, Shape, Words, bounds, line
from flownet.pictures.scene.symbols import DRAWN, Mark, shapes
from flownet.pictures.scene.text_metrics import width

# half the length across the line, and half the thickness along it
SIZES = {
    "opening": (6.0, 3.0), "vent": (9.0, 3.5), "filter": (9.0, 4.5), "fan": (13.0, 4.8),
    "baffle": (4.0, 2.5), "slot": (5.0, 9.0), "duct": (4.0, 9.0), "leak": (6.0, 2.2),
    "exchange": (9.0, 8.0),
}  # fmt: skip
LEAD = 40.0  # of a level line: its mark and its arrow
BEFORE = 17.0  # from the start of a level line to its mark
BESIDE = 17.0  # from a line to words at its side


def put_lines(
    drawing: Drawing, lines: Sequence[Line], boxes: Mapping[str, Rect], inner: Rect
) -> dict[int, Link]:
    """Draw all lines; returns, by number, those whose words found no room."""
    taken = Taken(list(boxes.values()))
    for one in lines:
        _stroke(drawing, one)
        for a, b in pairwise(one.points):
            taken.add(bounds([a, b]).grown(0.9))
    for one in lines:
        if one.straight and one.points[0][1] == one.points[1][1]:
            _level(drawing, one, taken)
        elif one.straight:
            _upright(drawing, one, taken)
    left: dict[int, Link] = {}
    for one in lines:
        if not one.straight:
            _bent(drawing, one, taken, inner, left)
    return left


def _stroke(drawing: Drawing, one: Line) -> None:
    """The line itself, with a white edge where it crosses others, and its arrow."""
    if not one.straight:
        drawing.add(Layer.LEADER, line(one.points, look.PAPER, 4.0))
    dash = (4.0, 2.5) if one.link.kind == "wall" else ()
    drawing.add(Layer.LEADER, line(one.points, look.INK, look.LINE, dash))
    way = _way(one)
    if way:
        points = one.points if way > 0 else one.points[::-1]
        _arrow(drawing, points[-2], points[-1], one.link.flow is not None)


def _way(one: Line) -> int:
    """Along the course (1) or against it (-1); 0: nothing moves, or both ways."""
    if one.link.kind == "exchange" or (one.link.kind == "wall" and one.link.flow is None):
        return 0
    flow = 1.0 if one.link.flow is None else one.link.flow
    sign = (flow > 0) - (flow < 0)
    return sign if one.forward else -sign


def _arrow(drawing: Drawing, start: Point, tip: Point, filled: bool) -> None:
    """Filled: the way the air goes; open: from `from` to `to`."""
    dx, dy = tip[0] - start[0], tip[1] - start[1]
    length = (dx * dx + dy * dy) ** 0.5 or 1.0
    dx, dy = dx / length, dy / length
    end = (tip[0] - 1.5 * dx, tip[1] - 1.5 * dy)
    back = (end[0] - 7.0 * dx, end[1] - 7.0 * dy)
    wings = (back[0] - 3.2 * dy, back[1] + 3.2 * dx), (back[0] + 3.2 * dy, back[1] - 3.2 * dx)
    if filled:
        drawing.add(Layer.ARROW, Shape((wings[0], end, wings[1]), look.INK))
    else:
        drawing.add(Layer.ARROW, line((wings[0], end, wings[1]), width=look.LINE))


def _mark(drawing: Drawing, one: Line, at: Point, along: Point, taken: Taken) -> None:
    """The mark of the link's kind across its line."""
    kind, item = one.link.kind, one.link.item
    if kind not in DRAWN:
        return
    half, deep = SIZES[kind]
    sign = 1.0 if one.forward else -1.0
    normal = (along[0] * sign, along[1] * sign)
    mark = Mark("", kind, item, at, normal, half, deep, Spot(at, normal), wall=(11.0, 11.0),
                letter=False, still=one.link.still)  # fmt: skip
    if kind in ("opening", "vent", "filter", "leak", "exchange"):
        drawing.add(Layer.MARK, *_stubs(mark))
    drawing.add(Layer.MARK, *shapes(mark))
    taken.add(mark.rect)


def _stubs(mark: Mark) -> Iterator[Shape]:
    """A little of the wall the mark sits in."""
    for sign in (-1.0, 1.0):
        ends = [mark.place(sign * mark.half, 0.0), mark.place(sign * (mark.half + 5.0), 0.0)]
        yield line(ends, width=look.WALL)


def _level(drawing: Drawing, one: Line, taken: Taken) -> None:
    """Mark near the left end, the name over the line, what flows below it."""
    (xa, y), (xb, _) = one.points
    low, high = min(xa, xb) + one.clear[0], max(xa, xb)
    half, deep = SIZES.get(one.link.kind, (1.0, 1.0))

    def words(at: float) -> list[Words]:
        below = y - 2.0 - look.ASCENT * look.SMALL
        return [Words(at + 13.0, y + 2.8, one.link.name, look.SMALL, True),
                Words(at + 13.0, below, one.link.note, look.SMALL)]  # fmt: skip

    def free(at: float) -> bool:
        mark = Rect(at - deep, y - half, at + deep, y + half)
        return _free_of_others([mark, *_rects(words(at))], one, taken)

    wide = max(rect.wide for rect in _rects(words(0.0)))
    tries = [low + BEFORE + 6.0 * k for k in range(int((high - low - wide - LEAD) / 6.0) + 1)]
    at = next((at for at in tries if free(at)), low + BEFORE)
    _mark(drawing, one, (at, y), ((1.0 if xb > xa else -1.0), 0.0), taken)
    _write(drawing, words(at), taken)


def _upright(drawing: Drawing, one: Line, taken: Taken) -> None:
    """Mark in the middle, words at its right; moved along the line where others cross it."""
    (x, ya), (_, yb) = one.points
    low, high = min(ya, yb) + one.clear[0], max(ya, yb) - one.clear[1]
    half, deep = SIZES.get(one.link.kind, (1.0, 1.0))

    def words(at: float) -> list[Words]:
        below = at - 2.0 - look.ASCENT * look.SMALL
        return [Words(x + BESIDE, at + 2.0, one.link.name, look.SMALL, True),
                Words(x + BESIDE, below, one.link.note, look.SMALL)]  # fmt: skip

    def free(at: float) -> bool:
        mark = Rect(x - half, at - deep, x + half, at + deep)
        return _free_of_others([mark, *_rects(words(at))], one, taken)

    middle = (low + high) / 2
    steps = range(int((high - low - 30.0) / 12.0) + 1)
    tries = [middle, *(middle + sign * 6.0 * k for k in steps for sign in (1, -1))]
    at = next((at for at in tries if free(at)), middle)
    _mark(drawing, one, (x, at), (0.0, (1.0 if yb > ya else -1.0)), taken)
    _write(drawing, words(at), taken)


def _rects(lines: Sequence[Words]) -> list[Rect]:
    return [words.rect for words in lines if words.text]


def _free_of_others(rects: Sequence[Rect], one: Line, taken: Taken) -> bool:
    """Whether rectangles touch nothing in use but the line they belong to."""
    own = bounds(one.points).grown(0.9)
    return all(not rect.meets(other) for rect in rects for other in taken.rects if other != own)


def _write(drawing: Drawing, lines: Sequence[Words], taken: Taken) -> None:
    for words in lines:
        if words.text:
            drawing.add(Layer.LETTER, words)
            taken.add(words.rect)


def _bent(drawing: Drawing, one: Line, taken: Taken, inner: Rect, left: dict[int, Link]) -> None:
    """Words where there is room over the longest level run; else a number, told below."""
    runs = [(a, b) for a, b in pairwise(one.points) if a[1] == b[1]]
    (xa, y), (xb, _) = max(runs, key=lambda run: abs(run[1][0] - run[0][0]))
    low, high = min(xa, xb), max(xa, xb)
    _mark_in_run(drawing, one, (low, high, y), (1.0 if xb > xa else -1.0), taken)
    text = "  ".join(part for part in (one.link.name, one.link.note) if part)
    words = _over_run(text, low, high, y, inner, taken)
    if words is None:
        number = len(left) + 1
        left[number] = one.link
        words = _over_run(str(number), low, high, y, inner, taken)
    if words is not None:
        _write(drawing, [words], taken)


def _mark_in_run(
    drawing: Drawing, one: Line, run: tuple[float, float, float], sign: float, taken: Taken
) -> None:
    """The mark at the first place on a level run that nothing crosses."""
    low, high, y = run
    half, deep = SIZES.get(one.link.kind, (1.0, 1.0))
    part = one._replace(points=((low, y), (high, y)))
    for place in range(8, int((high - low) / 4.0) - 2):
        x = low + 4.0 * place
        rect = Rect(x - deep, y - half, x + deep, y + half).grown(1.0)
        if _free_of_others([rect], part, taken):
            _mark(drawing, one, (x, y), (sign, 0.0), taken)
            return


def _over_run(
    text: str, low: float, high: float, y: float, inner: Rect, taken: Taken
) -> Words | None:
    """Words just over a level line, along it or a little beyond; None where there is no room."""
    wide = width(text, look.SMALL, True)
    tries = [low + 4.0 + 5.0 * k for k in range(int((high - low) / 5.0) + 1)]
    tries += [low - 5.0 * k for k in range(int(wide / 5.0))]
    for x in tries:
        words = Words(x, y + 1.2 + look.DESCENT * look.SMALL, text, look.SMALL, True)
        if inner.grown(-3.0).holds(words.rect) and taken.free(words.rect.wider(2.0)):
            return words
    return None
