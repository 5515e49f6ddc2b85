"""Drawings of the fitting sheet in millimetres of paper: one unit of each viewBox is one of them.

The template is full size; its rulers say whether the print is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from markupsafe import Markup, escape

from flownet.handover.expected import Expected
from flownet.results.streams import is_outside

RULER = 100.0  # mm, of each ruler of a template
RULER_ABOVE = 62.0  # mm: a larger half of a frame has room for a ruler in its cutout
A4_FRAME, A3_FRAME = 178.0, 262.0  # mm: the largest that paper takes, margins and ruler included
TILE = (170.0, 225.0, 10.0)  # mm: width, height, overlap of the tiles of a larger template
PLAN_WIDE, PLAN_TALL, VIEW_WIDE, VIEW_TALL = 90.0, 45.0, 62.0, 110.0  # mm on paper
SCALES = (1, 2, 2.5, 4, 5, 8, 10, 15, 20, 25, 40, 50, 100)  # 1 : so much


NAME_BESIDE = 11  # letters of a name beside its outline
STEPS = {"left": (-1, 0), "right": (1, 0), "up": (0, -1), "down": (0, 1)}  # on paper
BACKWARDS = {"left": "right", "right": "left", "up": "down", "down": "up"}
INSIDE = ("compartment", "part")  # kinds of points that are not on an edge


class Mount(NamedTuple):
    """What a fan type is fixed by; mm, NaN where the case does not say."""

    type: str
    frame: float
    pitch: float
    cutout: float
    depth: float = math.nan


class FanPlace(NamedTuple):
    """A fan in the plane that it sits in; mm from the left and from the lower edge."""

    name: str
    x: float
    y: float  # NaN: the case does not say
    mount: Mount


class _Pen:
    """Marks of one drawing."""

    def __init__(self) -> None:
        self.marks: list[str] = []

    def line(self, *points: tuple[float, float], style: str = "ln") -> None:
        path = "L".join(f"{x:.3f} {y:.3f}" for x, y in points)
        self.marks.append(f'<path class="{style}" d="M{path}"/>')

    def rect(self, x: float, y: float, wide: float, tall: float, style: str = "ln") -> None:
        self.marks.append(f'<rect class="{style}" x="{x:.3f}" y="{y:.3f}" width="{wide:.3f}" '
                          f'height="{tall:.3f}"/>')  # fmt: skip

    def circle(self, x: float, y: float, radius: float, style: str = "ln") -> None:
        self.marks.append(f'<circle class="{style}" cx="{x:.3f}" cy="{y:.3f}" r="{radius:.3f}"/>')

    def text(
        self, x: float, y: float, words: str, size: float = 2.7, anchor: str = "middle",
        style: str = "", turned: bool = False,
    ) -> None:  # fmt: skip
        turn = f' transform="rotate(-90 {x:.3f} {y:.3f})"' if turned else ""
        self.marks.append(f'<text class="t {style}" x="{x:.3f}" y="{y:.3f}" font-size="{size:g}" '
                          f'text-anchor="{anchor}"{turn}>{escape(words)}</text>')  # fmt: skip

    def cross(self, x: float, y: float, arm: float = 3.0) -> None:
        self.line((x - arm, y), (x + arm, y), style="fine")
        self.line((x, y - arm), (x, y + arm), style="fine")

    def across(self, x0: float, x1: float, y: float, words: str) -> None:
        """A dimension along the paper."""
        self.line((x0, y), (x1, y), style="fine")
        for x in (x0, x1):
            self.line((x, y - 1.2), (x, y + 1.2), style="fine")
        self.text((x0 + x1) / 2, y - 1, words, 2.6, style="h")

    def down(self, x: float, y0: float, y1: float, words: str) -> None:
        """A dimension across it."""
        self.line((x, y0), (x, y1), style="fine")
        for y in (y0, y1):
            self.line((x - 1.2, y), (x + 1.2, y), style="fine")
        self.text(x - 1, (y0 + y1) / 2, words, 2.6, style="h", turned=True)

    def arrow(self, x: float, y: float, way: str, size: float = 1.0) -> None:
        """A block arrow that starts here."""
        turn = {"up": 0, "right": 90, "down": 180, "left": 270}[way]
        self.marks.append(f'<path class="ink" transform="translate({x:.3f} {y:.3f}) '
                          f'rotate({turn}) scale({size:g})" '
                          'd="M-1 0v-5h-1.6l2.6-4l2.6 4h-1.6v5z"/>')  # fmt: skip

    def svg(self, box: Sequence[float], label: str) -> Markup:
        """The drawing, as wide on paper as its box."""
        view = " ".join(f"{value:.3f}" for value in box)
        return Markup(  # every text in it is escaped
            f'<svg xmlns="http://www.w3.org/2000/svg" style="width:{box[2]:.3f}mm" '
            f'viewBox="{view}" role="img" aria-label="{escape(label)}">{"".join(self.marks)}</svg>'
        )


def _mm(value: float) -> str:
    return f"{value:.4g}"


def scale_of(wide: float, tall: float, room: tuple[float, float]) -> float:
    """1 : so much, so that it fits."""
    needed = max(wide / room[0], tall / room[1])
    return next((each for each in SCALES if each >= needed), math.ceil(needed))


# --- where the fans sit ---------------------------------------------------------------------------


def plan(
    places: Sequence[FanPlace], size: tuple[float, float], edges: tuple[str, str, str]
) -> tuple[Markup, float]:
    """The plane the fans sit in, and its scale; mm. `edges`: what lies above, below, and what the
    height of the drawing is, where the case does not say where along it a fan sits."""
    scale = scale_of(*size, (PLAN_WIDE, PLAN_TALL))
    wide, tall = (side / scale for side in size)
    pen, known = _Pen(), not any(math.isnan(each.y) for each in places)
    pen.rect(0, 0, wide, tall, "heavy")
    pen.text(wide - 1.5, 3.6, edges[0], anchor="end", style="q")
    pen.text(wide - 1.5, tall - 1.4, edges[1], anchor="end", style="q")
    for number, each in enumerate(places):
        x, y = each.x / scale, tall - each.y / scale if known else tall / 2
        frame, cutout = (side / scale / 2 for side in (each.mount.frame, each.mount.cutout))
        if frame > 0:
            pen.rect(x - frame, y - frame, 2 * frame, 2 * frame, "dash")
        if cutout > 0:
            pen.circle(x, y, cutout)
        pen.cross(x, y, 2)
        under = max(frame if frame > 0 else 2, 2) + 3.6 + 3.2 * (number % 2) * (len(places) > 4)
        pen.text(x, y + under, each.name, 2.7, style="b h")
    stops = [0.0, *sorted({each.x for each in places}), size[0]]
    for a, b in pairwise(stops):
        if b - a > size[0] / 100:
            pen.across(a / scale, b / scale, -3.5, _mm(b - a))
    steps = sorted({0.0, size[1], *(each.y for each in places)}) if known else [0.0, 1.0]
    if not known:
        pen.down(-4, tall / 2, tall, "")
        pen.text(0, tall + 4.5, f"{edges[2]}, not in the case: ______ mm", 2.6, "start")
    for a, b in pairwise(steps) if known else ():
        if b - a > size[1] / 100:
            pen.down(-4, tall - b / scale, tall - a / scale, _mm(b - a))
    return pen.svg((-9, -8, wide + 14, tall + 10 + 5 * (not known)), "Where the fans sit"), scale


# --- one fan in its sheet -------------------------------------------------------------------------


def section(mount: Mount, ends: tuple[str, str], label: str, guard: str) -> tuple[Markup, float]:
    """A fan in its sheet with the air upwards, and its scale. `ends`: the places below and above;
    `label`: `outlet`, `inlet` or empty; `guard`: the same, the side that it covers."""
    frame, depth = mount.frame, mount.depth if mount.depth > 0 else mount.frame / 3
    scale = scale_of(frame, depth, (61.0, 20.0))
    half, deep = frame / 2 / scale, depth / scale
    hole = (mount.cutout if mount.cutout > 0 else 0.94 * frame) / 2 / scale
    pen, top = _Pen(), 1.0
    for side in (-1, 1):
        pen.rect(-half - 24 if side < 0 else hole, 0, half + 24 - hole, 1, "ink")
        edge = side * half
        pen.line((edge, top), (edge, top + deep), (edge - side * 3, top + deep),
                 (edge - side * 3, top), (edge, top))  # fmt: skip
        pen.line((side * 0.3 * half, top + 0.3 * deep), (side * 0.9 * half, top + 0.8 * deep),
                 style="heavy")  # fmt: skip
        pen.arrow(side * 0.5 * half, -3.5, "up")
    pen.rect(-0.3 * half, top + 0.1 * deep, 0.6 * half, 0.85 * deep)
    pen.line((0, -3), (0, top + deep + 4), style="axis")
    outlet = top + 0.1 * deep
    if label:
        y = outlet if label == "outlet" else top + 0.95 * deep - 1.4
        pen.rect(-0.24 * half, y, 0.48 * half, 1.4, "ink")
        pen.line((0.2 * half, y + 0.7), (half + 4, y + 3.5), style="fine")
        pen.text(half + 5, y + 4.4, f"label, towards {ends[label == 'outlet']}", anchor="start")
    if guard:
        y = -1.6 if guard == "outlet" else top + deep + 1.2
        pen.line((-half, y), (half, y))
        for i in range(11):
            pen.circle(-half + i * half / 5, y, 0.6, "white")
        pen.text(half + 5, y + (-2.2 if guard == "outlet" else 2.4), "guard", anchor="start")
    pen.text(0, -5.5, "air", 2.9, style="b h")
    pen.text(-half - 24, -2, ends[1], anchor="start", style="q")
    pen.text(-half - 24, 4.6, ends[0], anchor="start", style="q")
    pen.text(half + 23.6, -1, "sheet", anchor="end", style="q")
    return pen.svg((-half - 25, -14, 2 * half + 95, deep + 20), "Section through a fan"), scale


# --- the template ---------------------------------------------------------------------------------


def template(mount: Mount, paper: str = "a4") -> tuple[str, list[Markup]]:
    """Full size: `a4`, `a3` or `tiles`, and the drawing of each sheet of paper, with two rulers."""
    half = max(mount.frame, mount.pitch, mount.cutout) / 2
    large = half > RULER_ABOVE
    around = half + 1.0 if large else max(half, RULER / 2) + 22
    box = (-around, -half - 6, 2 * around, 2 * half + 34)
    pen, label = _mounting(mount, half), f"Drilling template, {mount.type}"
    if mount.frame > A4_FRAME and (paper == "a4" or mount.frame > A3_FRAME):
        return "tiles", _tiles(pen, (*box[:3], 2 * half + 18), label)
    _ruler(pen, -half / 2 if large else -max(half, RULER / 2) - 14, RULER / 2, up=True)
    _ruler(pen, -RULER / 2, half + 16, up=False)
    return "a4" if mount.frame <= A4_FRAME else "a3", [pen.svg(box, label)]


def _mounting(mount: Mount, half: float) -> _Pen:
    """Frame, cutout and holes around 0, 0."""
    pen, apart, radius = _Pen(), mount.pitch / 2, mount.cutout / 2
    pen.rect(-mount.frame / 2, -mount.frame / 2, mount.frame, mount.frame, "dash")
    pen.circle(0, 0, radius, "heavy")
    pen.line((-half - 2, 0), (half + 2, 0), style="axis")
    pen.line((0, -half - 2), (0, half + 2), style="axis")
    for x, y in ((0, 0), *((x, y) for x in (-apart, apart) for y in (-apart, apart))):
        pen.circle(x, y, 1)
        pen.cross(x, y, 4)
    pen.across(-apart, apart, half + 6, _mm(mount.pitch))
    if half <= RULER_ABOVE:
        pen.down(half + 8, -apart, apart, _mm(mount.pitch))
    size = min(3.6, mount.cutout / 27)
    told = (f"cutout, diameter {_mm(mount.cutout)}",
            f"four holes at {_mm(mount.pitch)} x {_mm(mount.pitch)}, diameter ____")  # fmt: skip
    for line, words in enumerate(told):
        pen.text(0, -radius / 2 + 1.4 * size * line, words, size, style="h")
    pen.text(0, radius / 2, f"frame {_mm(mount.frame)} x {_mm(mount.frame)}, dashed", size * 0.85,
             style="q h")  # fmt: skip
    return pen


def _ruler(pen: _Pen, x: float, y: float, *, up: bool) -> None:
    """0 to 100 mm from here; its ends are the middles of its end lines."""
    end = (x, y - RULER) if up else (x + RULER, y)
    pen.line((x, y), end, style="rule")
    for step in range(int(RULER) + 1):
        long = 4.0 if step % 10 == 0 else 2.8 if step % 5 == 0 else 1.8
        here = (x, y - step) if up else (x + step, y)
        pen.line(here, (x + long, y - step) if up else (x + step, y - long), style="rule")
        if step % 10 == 0:
            pen.text(here[0] + (6.5 if up else 0), here[1] + (0.8 if up else -5), str(step), 2.4,
                     "start" if up else "middle", "h")  # fmt: skip
    if not up:
        pen.text(x + RULER / 2, y + 4.5, "Lay a steel rule on both lines: 0 to 100 must be 100 mm, "
                 "within 0.3 mm", 2.8, style="b h")  # fmt: skip


def _tiles(pen: _Pen, box: tuple[float, float, float, float], label: str) -> list[Markup]:
    """The drawing in parts that overlap, each with crosses in the middle of what it shares, and
    rulers of its own."""
    wide, tall, overlap = TILE
    columns = math.ceil((box[2] - overlap) / (wide - overlap))
    rows = math.ceil((box[3] - overlap) / (tall - overlap))
    corners = [(box[0] + column * (wide - overlap), box[1] + row * (tall - overlap))
               for row in range(rows + 1) for column in range(columns + 1)]  # fmt: skip
    for x, y in corners:
        pen.cross(x + overlap / 2, y + overlap / 2, 4)
    found = []
    for number, (x, y) in enumerate(corners):
        row, column = divmod(number, columns + 1)
        if row < rows and column < columns:
            own = _Pen()
            own.marks = [*pen.marks]
            own.rect(x, y, wide, tall, "fine")
            own.text(x + 12, y + 4, f"row {row + 1} of {rows}, column {column + 1} of {columns}",
                     2.6, "start", "q h")  # fmt: skip
            _ruler(own, x + 40, y + tall - 10, up=False)
            _ruler(own, x + 14, y + tall - 30, up=True)
            found.append(own.svg((x, y, wide, tall), label))
    return found


# --- where the points are -------------------------------------------------------------------------


def points_view(found: Expected) -> Markup | None:
    """The compartments in the view with the points that have a place there; None without one."""
    outlines = {name: item.outline for name, item in found.case.compartments.items()
                if item.outline is not None}  # fmt: skip
    if not outlines:
        return None
    x0, y0 = (min(each[i] for each in outlines.values()) for i in (0, 1))
    x1, y1 = (max(each[i] + each[i + 2] for each in outlines.values()) for i in (0, 1))
    scale = max((x1 - x0) / VIEW_WIDE, (y1 - y0) / VIEW_TALL)
    pen = _Pen()

    def on_paper(x: float, y: float) -> tuple[float, float]:
        return (x - x0) / scale, (y1 - y) / scale

    for name, (x, y, wide, tall) in outlines.items():
        left, top = on_paper(x, y + tall)
        pen.rect(left, top, wide / scale, tall / scale, "heavy")
        told = name if len(name) <= NAME_BESIDE else f"{name[: NAME_BESIDE - 1]}…"
        where = (left + 2, top + 4) if left > 0 else (left - 1.5, top + 3)
        pen.text(*where, told, 2.7, "start" if left > 0 else "end", "q")
    ends = on_paper(x1, y0)
    for path, item in found.case.branches.items():
        flow, at = found.solution.branches[path].mass_flow, getattr(item, "at", None)
        if at is None or not abs(flow) > 0 or getattr(item, "on", None) is not None:
            continue
        inner = [not is_outside(place or "") for place in (item.from_, item.to)]
        if inner[0] != inner[1]:
            _air(pen, on_paper(*at), ends, out=inner[0] == (flow > 0))
    placed, labels = list[tuple[float, float]](), _Pen()
    for each in found.points:
        if each.place is not None and each.kind in "VPT":
            at = on_paper(*each.place)
            way = edge_of(at, ends) if each.path.partition(".")[0] not in INSIDE else None
            far = 13.0 if each.path == "site.temperature" else -6.0
            move = (0, 0) if way is None else [far * part for part in STEPS[way]]
            _label(pen, labels, each.name, (at[0] + move[0], at[1] + move[1]), placed)
    pen.marks += labels.marks  # above every line
    return pen.svg((-18, -18, ends[0] + 36, ends[1] + 36), "Where the points are, in the view")


def edge_of(at: tuple[float, float], ends: tuple[float, float]) -> str:
    """The edge of the drawing that a place is next to, as the way outwards."""
    apart = {"left": at[0], "right": ends[0] - at[0], "up": at[1], "down": ends[1] - at[1]}
    return min(apart, key=lambda way: abs(apart[way]))


def _air(pen: _Pen, at: tuple[float, float], ends: tuple[float, float], *, out: bool) -> None:
    """An arrow through the edge, the way the air goes there."""
    way = edge_of(at, ends)
    start = 1.0 if out else 8.2
    x, y = (place + start * part for place, part in zip(at, STEPS[way], strict=True))
    pen.circle(*at, 0.8, "ink")
    pen.arrow(x, y, way if out else BACKWARDS[way], 0.8)


def _label(
    pen: _Pen, labels: _Pen, name: str, at: tuple[float, float],
    placed: list[tuple[float, float]],
) -> None:  # fmt: skip
    """The name of a point in a box, moved clear of the others; a line to where it is."""
    x, y = at
    while any(abs(x - a) < 7.4 and abs(y - b) < 5 for a, b in placed):
        y += 5.2
    placed.append((x, y))
    if y != at[1]:
        pen.line(at, (x, y), style="fine")
    labels.rect(x - 3.5, y - 2.2, 7, 4.4, "white")
    labels.text(x, y + 1, name, 2.7, style="b")
