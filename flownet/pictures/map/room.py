"""Free room on a map: what is in use, where more fits, at which heights leaders run."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from flownet.pictures.scene.labels import GAP, JOG, block_height
from flownet.pictures.scene.scene import Point, Rect, Words, runs

STEP = 5.0  # of the search for room
OFFSETS = (0.0, *(step * JOG for k in range(1, 12) for step in (k, -k)))  # of a leader's height
CROSSING = 60.0  # as bad as a leader so far off its mark


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
        """Put rectangles in use."""
        self.rects.extend(rects)

    def line(self, start: Point, stop: Point) -> None:
        """Put a thin line in use."""
        self.rects += [Rect(x, y, x, y).grown(0.8) for x, y in _along(start, stop)]

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
        best: tuple[float, Rect] | None = None
        if wide > within.wide or tall > within.tall:
            return None
        for top in _steps(within.y1, within.y0 + tall):
            for left in _steps(within.x0, within.x1 - wide):
                distance = abs(left - near[0]) + abs(top - near[1])
                rect = Rect(left, top - tall, left + wide, top)
                if (best is None or distance < best[0]) and self.free(rect) and fit(rect):
                    best = distance, rect
        return best[1] if best is not None else None

    # --- leaders -------------------------------------------------------------------------------

    def column(self, x: float, lines: Sequence[Words]) -> str:
        """The column for further lines about something at `x`: from its middle the shorter one."""
        middle = self.body.centre[0]
        where = "left" if x < middle else "right"
        if abs(x - middle) < 0.25 * self.body.wide:
            where = self.side(middle)
        self.heights[where] += block_height(lines) + GAP
        return where

    def side(self, x: float) -> str:
        """The column a mark belongs to; from near the middle the shorter one."""
        middle = self.body.centre[0]
        if abs(x - middle) < 1.0:
            return "left" if self.heights["left"] <= self.heights["right"] else "right"
        return "left" if x < middle else "right"

    def level(self, anchor: Point, where: str, way: float, off: float = 0.0) -> float:
        """The height of an anchor, `off` it in the direction `way`, or one near by where the leader
        crosses less; heights of others on this side are kept clear."""
        free = [
            level for level in (anchor[1] + way * (off + offset) for offset in OFFSETS)
            if self.apart(level, where, JOG - 0.5)
        ] or [max(t for s, t in self.levels if s == where) + JOG]  # fmt: skip

        def cost(level: float) -> float:
            return CROSSING * self._crossings(anchor, level, where) + abs(level - anchor[1])

        best = free[0] if cost(free[0]) < CROSSING else min(free, key=cost)
        self.levels.append((where, best))
        self.runs += self._runs(anchor, best, where)
        return best

    def apart(self, level: float, where: str, gap: float = JOG) -> bool:
        """Whether a leader at this height keeps clear of the others on its side."""
        return all(side != where or abs(level - other) >= gap for side, other in self.levels)

    def _crossings(self, anchor: Point, level: float, where: str) -> int:
        """How many things in use and other leaders a leader at this height would cross."""
        own = self._runs(anchor, level, where)
        others = [r for r in self.rects if r.distance(anchor) > 1.5 and r not in self.light]
        return sum(any(run.meets(other) for run in own) for other in (*others, *self.runs))

    def _runs(self, anchor: Point, level: float, where: str) -> list[Rect]:
        """The straight pieces of a leader, from where the channel begins."""
        edge = self.body.x0 - self.clear["left"]
        if where == "right":
            edge = self.body.x1 + self.clear["right"]
        return runs([(edge, level), (anchor[0], level), anchor])


def _along(start: Point, stop: Point) -> list[Point]:
    """Points close together from start to stop."""
    (xa, ya), (xb, yb) = start, stop
    count = max(int((abs(xb - xa) + abs(yb - ya)) / 2.0), 1)
    return [(xa + (xb - xa) * k / count, ya + (yb - ya) * k / count) for k in range(count)]


def _steps(start: float, stop: float) -> Iterator[float]:
    """From start to stop, which may lie below."""
    sign = 1.0 if stop >= start else -1.0
    count = int(abs(stop - start) / STEP)
    yield from (start + sign * STEP * k for k in range(count + 1))
