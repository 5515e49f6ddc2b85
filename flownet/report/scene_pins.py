"""From marks to labels: which column, where the leader ends, what is written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise

from flownet.report import look, scene_words
from flownet.report.scene import Drawing, Layer, Point, Rect, Shape, Words
from flownet.report.scene_arrows import Arrow
from flownet.report.scene_groups import Group, number
from flownet.report.scene_inside import Taken
from flownet.report.scene_labels import COLUMN, Label, Leaders, inner_leader, side, worded
from flownet.report.scene_layout import Layout
from flownet.report.scene_letters import width, wrap
from flownet.report.scene_marks import Mark
from flownet.report.scene_words import Told

NUMBER_PAD = 1.2  # white around the number of a copy


class Pin:
    """A label before its leader has a height."""

    def __init__(self, told: Told, mark: Mark, where: str) -> None:
        self.told, self.mark, self.where = told, mark, where


def branch_labels(
    drawing: Drawing,
    taken: Taken,
    layout: Layout,
    marks: Mapping[str, Mark],
    arrows: Mapping[str, Arrow],
    leaders: Leaders,
) -> list[Label]:
    """Labels of all branches, exchanges and elements in series; copies are numbered on the map."""
    pins = list(_pins(layout, marks))
    for group in layout.groups:
        if len(group.paths) > 1:
            _number(drawing, taken, [marks[path] for path in group.paths])
    body, found = layout.body, []
    for pin in sorted(pins, key=lambda pin: _depth(pin, body)):
        anchor = _anchor(pin, arrows.get(pin.mark.path))
        way = -1.0 if pin.mark.at[1] < body.y0 + 2.0 else 1.0
        level = leaders.level(anchor[1] + way * _off_wall(pin.mark), pin.where, way)
        found.append(Label(worded(pin.told), anchor, level, pin.where))
    return found


def _pins(layout: Layout, marks: Mapping[str, Mark]) -> Iterator[Pin]:
    counts, middle = {"left": 0, "right": 0}, layout.body.centre[0]
    for told, members in _told(layout, marks):
        near = {
            "left": min(members, key=lambda mark: mark.at[0]),
            "right": max(members, key=lambda mark: mark.at[0]),
        }
        x = (near["left"].at[0] + near["right"].at[0]) / 2
        where = side(x, middle, counts)
        counts[where] += 1
        yield Pin(told, near[where], where)


def _told(layout: Layout, marks: Mapping[str, Mark]) -> Iterator[tuple[Told, list[Mark]]]:
    solution, units = layout.solution, layout.units
    for group in layout.groups:
        path = group.paths[0]
        ends = layout.ends[path]
        if ends.item.KIND == "exchange":
            told = scene_words.exchange(solution, path, ends, units)
        elif len(group.paths) > 1:
            told = scene_words.group(solution, group, ends, units)
        else:
            told = scene_words.branch(solution, ends, units)
        yield told, [marks[path] for path in group.paths]
    for path, mark in marks.items():
        if path not in layout.ends:
            yield scene_words.series(solution, path, units), [mark]


def _depth(pin: Pin, body: Rect) -> float:
    """Distance of a mark from the border its leader starts at."""
    x = pin.mark.at[0]
    return x - body.x0 if pin.where == "left" else body.x1 - x


def _anchor(pin: Pin, arrow: Arrow | None) -> Point:
    """The point of a mark its leader ends at, clear of an arrow that points the same way."""
    mark, sign = pin.mark, -1.0 if pin.where == "left" else 1.0
    x, y = mark.at
    if mark.route:
        return x + sign * mark.half, y
    if mark.kind == "baffle" and mark.normal[0] == 0:
        return mark.place(mark.wall[1] if sign > 0 else -mark.wall[0], 0.0)
    extra = 3.5 if mark.spot.framed else 0.0
    if mark.normal[0] == 0:
        return x + sign * (mark.half + extra), y
    if arrow is not None and arrow.way[0] * sign > 0 and not arrow.leaves:
        y -= min(arrow.half + 2.5, mark.half)
    return x + sign * (mark.deep + extra), y


def _off_wall(mark: Mark) -> float:
    """How far a leader keeps off the wall that a mark sits in, where both run level."""
    level = mark.spot.edge is not None and mark.normal[0] == 0
    return 6.0 if level and mark.kind not in ("baffle", "slot") else 0.0


def leader_rects(label: Label, body: Rect) -> Iterator[Rect]:
    """What a leader covers inside the drawing."""
    points = inner_leader(label, body)
    for (x0, y0), (x1, y1) in pairwise(points):
        yield Rect(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)).grown(0.8)


def _number(drawing: Drawing, taken: Taken, members: list[Mark]) -> None:
    """The number of each copy beside its mark, upstream; every second ... where they are close."""
    size = look.TINY
    gaps = [mark.room or 1e9 for mark in members]
    widest = max(width(str(number(mark.path)), size) for mark in members) + 2 * NUMBER_PAD
    level = members[0].normal[1] == 0
    step = max(int(-(-(8.0 if level else widest + 0.5) // min(gaps))), 1)
    for mark in members[::step]:
        text = str(number(mark.path))
        wide = width(text, size) + 2 * NUMBER_PAD
        off = mark.deep + mark.before + (wide / 2 if level else 4.6)
        x, y = mark.place(0.0, -off - 1.0)
        rect = Rect(x - wide / 2, y - 3.6, x + wide / 2, y + 3.6)
        drawing.area(Layer.PLATE, rect, look.PAPER)
        drawing.add(Layer.LETTER, Words(x, y - 2.2, text, size, align="centre"))
        taken.add(rect)


def compartment_label(drawing: Drawing, layout: Layout, name: str, leaders: Leaders) -> Label:
    """The plate of a compartment that is too small for it, in a column, a dot in its place."""
    rect = layout.rects[name]
    x, y = rect.centre
    where = "left" if x < layout.body.centre[0] else "right"
    level = leaders.level(y, where, -1.0)
    dot = Rect(x, y, x, y).grown(1.8)
    drawing.add(Layer.ARROW, Shape(dot.corners, look.INK, look.PAPER, look.THIN))
    lines = wrap(f"compartment.{name}", look.BODY, True, COLUMN)
    head = [Words(0, 0, text, look.BODY, True) for text in lines]
    return Label((*head, *layout.plates[name].values), (x, y), level, where)


__all__ = ["Group", "branch_labels", "compartment_label", "leader_rects"]
