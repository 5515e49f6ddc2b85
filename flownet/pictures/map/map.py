"""The map: an enclosure drawn to scale, filled by air temperature, with every flow."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from matplotlib.axes import Axes

from flownet.pages.verdict import verdict
from flownet.pictures.caption import Units, pretty
from flownet.pictures.map import arrows as scene_arrows
from flownet.pictures.map.callouts import branch_labels, compartment_label
from flownet.pictures.map.layout import PLATE_NAME_WIDE, MapLayout, Plate
from flownet.pictures.map.layout import marks as all_marks
from flownet.pictures.map.parts import (
    DIAMOND,
    Chip,
    bands,
    chips,
    diamond,
    diamonds,
    put_layers,
    put_parts,
    put_plate,
)
from flownet.pictures.map.room import Room, columns
from flownet.pictures.map.walls import put_walls
from flownet.pictures.scene import look, page, scene, symbols
from flownet.pictures.scene import words as scene_words
from flownet.pictures.scene.look import Temperatures
from flownet.pictures.scene.scene import Drawing, Layer, Letters, Point, Rect
from flownet.pictures.scene.symbols import Mark
from flownet.pictures.scene.text_metrics import width
from flownet.pictures.style import picture
from flownet.results.limits import broken
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fields import NONE

MAP_MARGIN = 22.0  # around the page
SLOT_BANDS = 8  # of temperature along a slot
CORNER = 10.0  # arms of the angles that show the size of the enclosure
MAP_LEAST_WIDE = 400.0  # of what stands above and below the drawing
NARROW_BODY = (300.0, 420.0)  # the drawing on a small screen
TAG_PLACES = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1))
NO_OUTLINES = "No outlines are given: compartments in the order of the case, not to scale."
SOME_OUTLINES = "Dashed compartments have no outline; they stand beside the drawing, not to scale."
VIEWS = {
    "front": "Seen from the front.",
    "side": "Seen from the side, the front at the left.",
    "plan": "Seen from above, the front at the bottom.",
}


@picture(Solution)
def map(
    solution: Solution, *, ax: Axes | None = None, units: str = "metric",
    temperatures: tuple[float, float] | None = None, shares: bool = False,
) -> Axes:  # fmt: skip
    """An enclosure to scale, filled by air temperature, with every flow.

    Parameters
    ----------
    solution : Solution
        One solved enclosure; of a batch, `batch.select(i)`.
    ax : Axes, optional
        Where to draw; the picture is made to fit. Default a new figure of the picture's size.
    units : "metric" or "us"
        What is shown.
    temperatures : (low, high), optional
        The range of the colours [K], the same for all that is to be compared. Default from the
        outside temperature to 5 K above the highest air limit, both of the case as it was before
        its variants, scenarios and changes: one range for all of them. Air beyond it has the
        colour of the end and is marked at the bar.
    shares : bool
        Whether compartments and fans tell where their air comes from.

    Raises
    ------
    TypeError
        For anything but one solution.
    ValueError
        Where low is not below high, for anything but two temperatures, or for other units.
    """
    return scene.paint(map_scene(solution, units, temperatures, shares=shares), ax)


def map_scene(
    solution: Solution, units: str = "metric", temperatures: tuple[float, float] | None = None,
    *, bare: bool = False, shares: bool = False,
) -> Drawing:  # fmt: skip
    """The map of one solution as a drawing, as of `map`; `bare`: without its head and foot."""
    layout = MapLayout(solution, Units(units), shares=shares)
    drawing = Drawing(solution.case.title, MAP_MARGIN)
    room, scale = Room(layout.body), _range(solution, temperatures)
    marks = all_marks(layout)
    _compartments(drawing, layout, scale)
    _marks(drawing, room, layout, _filled(layout, marks, scale))
    arrows = _arrows(drawing, room, layout, marks)
    parts = chips(layout, marks)
    room.add(*diamonds(parts))
    room.light = {rect for mark in marks.values() if mark.kind == "slot" for rect in _covered(mark)}
    room.clear = _clear(drawing.rect, layout.body)
    labels = branch_labels(drawing, room, layout, marks, arrows, diamonds(parts))
    for label in labels:
        room.add(*scene.runs(label.course(layout.body)))
    walls = put_walls(drawing, layout, room)
    clear = _clear(drawing.rect, layout.body)
    small = [name for name, rect in layout.rects.items()
             if not put_plate(drawing, layout.plates[name], rect, room)]  # fmt: skip
    labels += walls
    labels += [compartment_label(drawing, layout, name, room) for name in small]
    labels += put_parts(drawing, layout, parts, room)
    for label in labels:
        room.add(*scene.runs(label.course(layout.body)))
    put_layers(drawing, layout, room)
    covered = columns(drawing, labels, layout.body, clear)
    _around(drawing, layout, scale, covered, walls=bool(walls), bare=bare)
    drawing.spots.update(_spots(layout, marks, parts))
    return drawing


def narrow_scene(
    solution: Solution, units: str = "metric", temperatures: tuple[float, float] | None = None,
    tags: Mapping[str, str] = NONE,
) -> tuple[Drawing, tuple[str, ...]]:  # fmt: skip
    """The map for a small screen: numbers in place of labels; what they stand for, in order.

    With `tags` by path these stand there instead, and nothing is said of temperatures."""
    layout = MapLayout(solution, Units(units), (NARROW_BODY, NARROW_BODY))
    drawing, room = Drawing(solution.case.title, 4.0), Room(layout.body)
    scale, marks = _range(solution, temperatures), all_marks(layout)
    _compartments(drawing, layout, scale)
    _marks(drawing, room, layout, _filled(layout, marks, scale))
    _arrows(drawing, room, layout, marks)
    parts = chips(layout, marks)
    drawing.add(Layer.ARROW, *(diamond(at, chip.over) for chip in parts for at in chip.points))
    room.add(*diamonds(parts))
    plates = {name: _tagged(name, tags) for name in layout.rects} if tags else layout.plates
    small = [f"compartment.{name}" for name, rect in layout.rects.items()
             if not put_plate(drawing, plates[name], rect, room)]  # fmt: skip
    drawing.spots.update(_spots(layout, marks, parts))
    told = tuple(path for path in tags or drawing.spots if path in drawing.spots
                 and (path in small or not path.startswith("compartment.")))  # fmt: skip
    for number, path in enumerate(told, 1):
        _tag(drawing, room, tags.get(path, str(number)), drawing.spots[path])
    if tags:
        drawing.layers[Layer.FILL].clear()
        return drawing, told
    limits = {name: row.limit for name, row in solution.compartments.items()}
    found = [row.temperature for row in solution.compartments.values()]
    rect = drawing.rect
    page.colour_bar(drawing, (rect.x0, rect.y1 + 12.0), scale, limits, found, layout.units)
    return drawing, told


def _tagged(name: str, tags: Mapping[str, str]) -> Plate:
    """A plate with the name of a compartment and its tag."""
    tag = tags.get(f"compartment.{name}", "")
    lines = (*scene.written(name, look.BODY, False, PLATE_NAME_WIDE)[:2],
             *([Letters(0, 0, tag, look.HEAD, True)] if tag else []))  # fmt: skip
    return Plate((lines,), lines)


def _tag(drawing: Drawing, room: Room, number: str, at: Rect) -> None:
    """A number beside what it stands for, where it covers least."""
    wide, tall = width(number, look.BODY, True) + 4.0, look.BODY + 3.0
    x, y = at.centre
    across, along = at.wide / 2 + wide / 2 + 2.0, at.tall / 2 + tall / 2 + 2.0
    offs = [(dx * across * far, dy * along * far)
            for far in (1.0, 1.6, 2.4) for dx, dy in TAG_PLACES]  # fmt: skip
    tries = [Rect(x + dx - wide / 2, y + dy - tall / 2, x + dx + wide / 2, y + dy + tall / 2)
             for dx, dy in offs]  # fmt: skip
    rect = next((one for one in tries if room.free(one)), tries[0])
    room.add(rect)
    drawing.area(Layer.PLATE, rect, look.WHITE, edge=look.QUIET, width=look.HAIR)
    drawing.add(Layer.LETTER, Letters(rect.centre[0], rect.y0 + 3.2, number, look.BODY, True,
                                      align="center"))  # fmt: skip


def _spots(
    layout: MapLayout, marks: dict[str, Mark], parts: Sequence[Chip]
) -> Iterator[tuple[str, Rect]]:
    """Where everything of the case lies."""
    yield from ((f"compartment.{name}", rect) for name, rect in layout.rects.items())
    yield from ((path, mark.rect) for path, mark in marks.items())
    yield from ((f"part.{name}", scene.square(at, DIAMOND)) for chip in parts
                for name, at in zip(chip.names, chip.points, strict=False))  # fmt: skip


def _range(solution: Solution, temperatures: tuple[float, float] | None) -> Temperatures:
    if temperatures is None:
        hottest = [row.temperature for row in solution.compartments.values()]
        return page.temperature_range(solution.case.source or solution.case, hottest)
    if not isinstance(temperatures, (tuple, list)) or len(temperatures) != 2:
        raise ValueError(f"temperatures: (low, high) in K is wanted (got {temperatures!r:.60})")
    low, high = temperatures
    if not low < high:
        raise ValueError(f"temperatures: low must be below high (got {low:g} K, {high:g} K)")
    return Temperatures(low, high)


# --- compartments, marks, arrows ---------------------------------------------------------------


def _compartments(drawing: Drawing, layout: MapLayout, scale: Temperatures) -> None:
    """Fill, hatch and outline; larger ones first, so that none hides a smaller one."""
    if layout.places.shell is not None:
        shell = layout.rect(layout.places.shell)
        for x, y in shell.corners:  # a short angle at each: an extent, not a wall
            along, up = (CORNER if a == b else -CORNER for a, b in ((x, shell.x0), (y, shell.y0)))
            angle = [(x + along, y), (x, y), (x, y + up)]
            drawing.add(Layer.FILL, scene.line(angle, look.QUIET, look.FINE))
    for name, rect in sorted(layout.rects.items(), key=lambda one: -one[1].wide * one[1].tall):
        for part, temperature in bands(layout.solution, name, rect):
            drawing.area(Layer.FILL, part, scale.colour(temperature))
        if broken("air", layout.solution.compartments[name].margin):
            drawing.add(Layer.FILL, *page.hatch(rect))
        dash = () if name in layout.places.given else (4.0, 3.0)
        drawing.area(Layer.WALL, rect, None, edge=look.INK, width=look.WALL, dash=dash)


def _filled(layout: MapLayout, marks: dict[str, Mark], scale: Temperatures) -> Iterator[Mark]:
    """Slots filled by the temperature of the air on its way through them."""
    for path, mark in marks.items():
        ends = scene_words.through_slot(layout.solution, path) if mark.kind == "slot" else None
        shares = [(band + 0.5) / SLOT_BANDS for band in range(SLOT_BANDS)] if ends else []
        fills = (scale.colour(ends[0] + share * (ends[1] - ends[0])) for share in shares if ends)
        yield mark._replace(fills=tuple(fills))


def _marks(drawing: Drawing, room: Room, layout: MapLayout, marks: Iterator[Mark]) -> None:
    """Baffles and ducts lie under the other marks; of letters in one place the first is drawn."""
    letters = Room(layout.body)
    for mark in marks:
        shown = mark._replace(letter=letters.free(mark.letter_rect)) if mark.lettered else mark
        letters.add(*([mark.letter_rect] if mark.lettered else []))
        layer = Layer.WALL if mark.kind in ("baffle", "duct") else Layer.MARK
        drawing.add(layer, *symbols.shapes(shown))
        for tie in mark.spot.ties:
            course = [layout.page(point) for point in tie]
            drawing.add(Layer.LEADER, scene.line(course, look.INK, look.FINE, (3.0, 2.0)))
        room.add(*_covered(shown))


def _covered(mark: Mark) -> Iterator[Rect]:
    if mark.kind == "baffle":
        low, high = mark.place(-mark.wall[0], 0), mark.place(mark.wall[1], 0)
        yield Rect(*low, *high).grown(look.PLATE / 2 + 0.5)
    elif not mark.route:
        yield mark.rect
    for (x0, y0), (x1, y1) in pairwise(mark.route):
        pieces = max(int((abs(x1 - x0) + abs(y1 - y0)) / 8.0), 1)
        for k in range(pieces + 1):
            at = x0 + (x1 - x0) * k / pieces, y0 + (y1 - y0) * k / pieces
            yield scene.square(at, mark.half + 2.0)


def _arrows(
    drawing: Drawing, room: Room, layout: MapLayout, marks: dict[str, Mark]
) -> dict[str, scene_arrows.Arrow]:
    found = {}
    for path, wide in scene_arrows.widths(layout.flows, marks).items():
        ends, flow, mark = layout.places.ends[path], layout.flows[path], marks[path]
        if not wide:
            continue
        name = ends.to if flow > 0 else ends.from_
        long = scene_arrows.room(mark, flow, layout.rects.get(name))
        back = ends.item.KIND == "fan" and scene_words.driven_back(ends.item, flow)
        found[path] = scene_arrows.arrow(mark, flow, wide, long, back, name not in layout.rects)
        drawing.add(Layer.ARROW, *scene_arrows.shapes(found[path]))
        room.add(found[path].rect.grown(1.0))
    return found


def _clear(covered: Rect, body: Rect) -> dict[str, float]:
    """How far marks and arrows stand out of the drawing on either side."""
    return {"left": max(body.x0 - covered.x0, 0.0), "right": max(covered.x1 - body.x1, 0.0)}


# --- around the drawing ------------------------------------------------------------------------


def _around(
    drawing: Drawing, layout: MapLayout, scale: Temperatures, covered: Rect, *, walls: bool,
    bare: bool,
) -> None:  # fmt: skip
    """Head lines and colour bar above, scale bar and signature below."""
    rect = drawing.rect
    left, wide = min(rect.x0, covered.x0), max(rect.wide, MAP_LEAST_WIDE)
    solution, units = layout.solution, layout.units
    limits = {name: row.limit for name, row in solution.compartments.items()}
    found = [row.temperature for row in solution.compartments.values()]
    top = page.colour_bar(drawing, (left, rect.y1 + 16.0), scale, limits, found, units)
    if bare:
        if layout.places.given:
            page.scale_bar(drawing, (left, rect.y0 - 24.0), layout.scale, units)
        return
    bad = bool(solution.void) or any(limit.broken for limit in solution.limits)
    told = ". ".join(each.plain(units.system) for each in verdict(solution, units.system))
    more = [(scene_words.sums(solution, units), False, look.QUIET), (pretty(told), bad, look.INK)]
    page.head(drawing, (left, top + 6.0), wide, solution, units, more)
    _foot(drawing, layout, (left, rect.y0 - 24.0), wide, walls=walls)


def _foot(drawing: Drawing, layout: MapLayout, at: Point, wide: float, *, walls: bool) -> None:
    case, places, (left, y) = layout.solution.case, layout.places, at
    notes = [VIEWS[case.body.view]] if places.given else [NO_OUTLINES]
    if places.given:
        page.scale_bar(drawing, at, layout.scale, layout.units)
        notes += [] if len(places.given) == len(places.outlines) else [SOME_OUTLINES]
    if case.body.up != "top" and case.body.view != "plan":
        page.up_arrow(drawing, (left + wide - 20.0, y + 4.0), case.body.up)
        y -= 10.0
    if layout.shares:
        notes.append("Shares of the intakes in the air of each compartment, taken as mixed, and "
                     "how long it has been inside.")  # fmt: skip
    if layout.solution.layers:
        notes.append("Bands: layers; the large figure is that of the hottest.")
    if largest := max((abs(flow) for flow in layout.flows.values()), default=0.0):
        shown = layout.units.text(q.MASS_FLOW, largest)
        notes.append(f"Arrows are as wide as the mass that flows, the widest {shown}.")
    if walls:
        notes.append("Double arrows: heat through walls.")
    if places.shell is not None:
        notes.append("Angles: the size of the enclosure.")
    if case.parts:
        notes.append("Bars of parts: share of the rise that is allowed above the outside air.")
    page.foot(drawing, (left, y - 12.0), wide, " ".join(notes), case)
