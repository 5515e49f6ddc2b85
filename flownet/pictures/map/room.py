"""Free room on a map: what is in use, where more fits; labels in two columns with their leaders.

Labels are sorted by the height of what they belong to and pushed apart in one dimension, so that
none overlaps another; leaders bend only in the channel between drawing and column, where sorted
ends keep them from crossing. Inside the drawing they run where they cross least.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np

from flownet.pictures.scene import look, scene
from flownet.pictures.scene.scene import Drawing, Layer, Letters, Point, Rect, line

COLUMN = 190.0  # widest label
CHANNEL = 30.0  # between drawing and column
LABEL_GAP = 5.0  # between labels
JOG = 7.0  # between leaders that run side by side
SEARCH_STEP = 5.0  # of the search for room
OFFSETS = (0.0, *(step * JOG for k in range(1, 12) for step in (k, -k)))  # of a leader's height
CROSSING = 60.0  # as bad as a leader so far off its mark
BAR = (44.0, 4.0)  # share of the allowed rise
UNDER = BAR[1] + 2.5  # what a bar adds to the lines over it


class Label(NamedTuple):
    """A label on its way to a column; `anchor` is where its leader ends."""

    lines: Sequence[Letters]
    anchor: Point
    level: float  # height at which the leader runs inside the drawing
    side: str  # "left", "right"
    share: float | None = None  # of the allowed rise: a bar under the lines
    over: bool = False
    layer: Layer = Layer.LEADER  # of its leader: one to a part in a slot lies over the slot

    @property
    def tall(self) -> float:
        return scene.block_height(self.lines) + (UNDER if self.share is not None else 0.0)

    def course(self, body: Rect) -> list[Point]:
        """Its leader inside the drawing: from the border to the mark."""
        border = min(body.x0, self.anchor[0]), max(body.x1, self.anchor[0])
        points = [(border[self.side == "right"], self.level), (self.anchor[0], self.level)]
        return points if self.level == self.anchor[1] else [*points, self.anchor]


class Room:
    """Rectangles that are in use on a drawing, and the leaders that run out of it to its columns.

    `clear` is what stands out of the drawing (`body`) each side; leaders should cross nothing in
    use, but for what is `light`. Each side has heights of its own.
    """

    def __init__(self, body: Rect, rects: Sequence[Rect] = ()) -> None:
        self.body, self.rects, self.light = body, list(rects), set[Rect]()
        self.clear = {"left": 0.0, "right": 0.0}
        self.levels: list[tuple[str, float]] = []  # of leaders, by side
        self.runs: list[Rect] = []  # straight pieces of leaders
        self.heights = {"left": 0.0, "right": 0.0}  # of the labels in each column

    def add(self, *rects: Rect) -> None:
        self.rects.extend(rects)

    def line(self, start: Point, stop: Point) -> None:
        self.rects += [scene.square(point, 0.8) for point in _along(start, stop)]

    def free(self, rect: Rect) -> bool:
        """Whether nothing in use is touched."""
        return not any(rect.meets(other) for other in self.rects)

    def crossed(self, start: Point, stop: Point) -> bool:
        """Whether a line crosses anything in use that does not hold its start."""
        others = [rect for rect in self.rects if rect.distance(start) > 0]
        points = _along(start, stop)
        return any(rect.distance(point) == 0 for rect in others for point in points)

    def place(
        self, wide: float, tall: float, within: Rect, near: Point,
        fit: Callable[[Rect], bool] = lambda rect: True,
    ) -> Rect | None:  # fmt: skip
        """The free place inside `within` whose upper left corner is nearest to `near`.

        `fit` may refuse a place for other reasons.
        """
        across, down = within.wide - wide, within.tall - tall
        if across < 0 or down < 0:
            return None
        xs = within.x0 + SEARCH_STEP * np.arange(int(across / SEARCH_STEP) + 1)
        ys = (within.y1 - SEARCH_STEP * np.arange(int(down / SEARCH_STEP) + 1))[:, None]
        x0, y0, x1, y1 = np.array(self.rects, float).reshape(-1, 4).T
        beside = (xs[:, None] < x1) & (x0 < xs[:, None] + wide)
        above = (ys - tall < y1) & (y0 < ys)
        free = above.astype(np.float32) @ beside.T.astype(np.float32) == 0  # `Rect.meets` none
        far = np.abs(xs - near[0]) + np.abs(ys - near[1])
        order = np.argsort(far[free], kind="stable")
        rows, columns = (found[order] for found in np.nonzero(free))
        tries = zip(xs[columns].tolist(), ys[rows, 0].tolist(), strict=True)
        rects = (Rect(x, y - tall, x + wide, y) for x, y in tries)
        return next((rect for rect in rects if fit(rect)), None)

    # --- leaders -------------------------------------------------------------------------------

    def column(self, x: float, lines: Sequence[Letters], near: float | None = None) -> str:
        """The column for lines about something at `x`: from `near` its middle the shorter one."""
        off = x - self.body.centre[0]
        where = "left" if off < 0 else "right"
        if abs(off) < (0.25 * self.body.wide if near is None else near):
            where = "left" if self.heights["left"] <= self.heights["right"] else "right"
        self.heights[where] += scene.block_height(lines) + LABEL_GAP
        return where

    def label(
        self, lines: Sequence[Letters], anchor: Point, where: str, way: float = -1.0,
        off: float = 0.0, **more: Any,
    ) -> Label:  # fmt: skip
        """A label whose leader runs at the height of its anchor, `off` it in the direction `way`,
        or near by where it crosses less; heights of others on this side are kept clear."""
        free = [
            level for level in (anchor[1] + way * (off + offset) for offset in OFFSETS)
            if self.apart(level, where, JOG - 0.5)
        ] or [max(t for s, t in self.levels if s == where) + JOG]  # fmt: skip
        others = [r for r in self.rects if r.distance(anchor) > 1.5 and r not in self.light]
        others += self.runs
        left, clear = where == "left", self.clear[where]
        edge = self.body.x0 - clear if left else self.body.x1 + clear

        def course(level: float) -> list[Rect]:
            return scene.runs([(edge, level), (anchor[0], level), anchor])

        def cost(level: float) -> float:
            """Of everything in use and other leaders that it would cross, of its distance."""
            own = course(level)
            crossings = sum(any(run.meets(other) for run in own) for other in others)
            return CROSSING * crossings + abs(level - anchor[1])

        best = free[0] if cost(free[0]) < CROSSING else min(free, key=cost)
        self.levels.append((where, best))
        self.runs += course(best)
        return Label(lines, anchor, best, where, **more)

    def apart(self, level: float, where: str, gap: float = JOG) -> bool:
        """Whether a leader at this height keeps clear of the others on its side."""
        return all(side != where or abs(level - other) >= gap for side, other in self.levels)


def _along(start: Point, stop: Point) -> list[Point]:
    """Points close together from start to stop."""
    (xa, ya), (xb, yb) = start, stop
    count = max(int((abs(xb - xa) + abs(yb - ya)) / 2.0), 1)
    return [(xa + (xb - xa) * k / count, ya + (yb - ya) * k / count) for k in range(count)]


# --- columns -------------------------------------------------------------------------------------


def bar(drawing: Drawing, share: float, at: Point, over: bool) -> None:
    """How much of the allowed rise a part uses; full and bold beyond it."""
    (wide, tall), (x, y), extra = BAR, at, 0.8 if over else 0.0
    whole = Rect(x, y, x + wide, y + tall)
    drawing.area(Layer.LETTER, whole, look.WHITE, edge=look.INK, width=look.HAIR)
    filled = whole._replace(y0=y - extra, x1=x + wide * min(max(share, 0.0), 1.0),
                            y1=whole.y1 + extra)  # fmt: skip
    drawing.area(Layer.LETTER, filled, look.INK)


def columns(drawing: Drawing, labels: Sequence[Label], body: Rect, clear: dict[str, float]) -> Rect:
    """Set both columns with their leaders; `clear` is what stands out of the drawing each side."""
    covered = [body]
    for where, sign, edge in (("left", -1.0, body.x0), ("right", 1.0, body.x1)):
        own = sorted((one for one in labels if one.side == where), key=lambda one: one.level)
        heights = scene.push_apart([one.level for one in own], [one.tall for one in own], LABEL_GAP)
        x = edge + sign * (clear[where] + CHANNEL)
        bend = edge + sign * (clear[where] + 3.0)
        for label, y in zip(own, heights, strict=True):
            covered.append(drawing.write(label.lines, x, y + label.tall / 2,
                                         "right" if where == "left" else "left"))  # fmt: skip
            if label.share is not None:
                left = x - BAR[0] if where == "left" else x
                bar(drawing, label.share, (left, y - label.tall / 2), label.over)
            points = [(x - sign * 4.0, y), (x - sign * 9.0, y), (bend, label.level),
                      *label.course(body)]  # fmt: skip
            drawing.add(label.layer, line(points, look.WHITE, 2.0),
                        line(points, look.QUIET, look.HAIR))  # fmt: skip
    return scene.around(covered)
