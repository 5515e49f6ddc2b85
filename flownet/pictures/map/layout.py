"""One solution laid out on the page: outlines, scale, flows, and the mark of every branch."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures.caption import Units, known
from flownet.pictures.map.geometry import Ends, MapPlaces, Spot, given_spot, host
from flownet.pictures.map.placement import spots
from flownet.pictures.scene import look, words
from flownet.pictures.scene.scene import Letters, Point, Rect, around, block_height, written
from flownet.pictures.scene.symbols import DEEP, LEAST_SIZES, LOADED_DEEPER, Mark
from flownet.pictures.scene.words import Copies, grouped
from flownet.results.solution import Solution
from flownet.results.tables import AT_REST, Row
from flownet.schema import quantities as q

USUAL_SIZE = (330.0, 430.0)  # the drawing fits this ...
LARGEST_SIZE = (540.0, 660.0)  # ... or grows to this, so that plates fit small compartments
SHEETS = 5.0  # between outlines that lie exactly one over another
PAD = 3.0  # white around words
PLATE_NAME_WIDE = 130.0  # of a name in a plate, before it goes on in the next line
FRAME = 1.15  # a fan's frame over the diameter of its flow area, where the frame is not given
NO_SCALE = 1.5  # of the least length, where nothing is to scale
UNKNOWN_SLOT = 0.3  # half the width of a slot without a gap, of the distance to the next
SERIES_GAP = 1.5  # between elements in one stream


class Plate(NamedTuple):
    """What is said of a compartment, from the fullest form to the shortest."""

    forms: tuple[tuple[Letters, ...], ...]
    values: tuple[Letters, ...]  # without the name


@dataclass(frozen=True)
class MapLayout:
    """One solution in the view: everything that is known before anything is drawn."""

    solution: Solution
    units: Units
    fits: tuple[tuple[float, float], tuple[float, float]] = (USUAL_SIZE, LARGEST_SIZE)
    shares: bool = False  # whether plates tell where the air comes from

    @cached_property
    def places(self) -> MapPlaces:
        return MapPlaces(self.solution.case)

    @cached_property
    def scale(self) -> float:
        whole = self.places.whole
        usual, largest = (min(wide / whole.wide, tall / whole.tall)
                          for wide, tall in self.fits)  # fmt: skip
        for name, outline in self.places.outlines.items():
            wide, tall = block_size(self.plates[name].forms[0])
            need = max((wide + 14) / outline.wide, (tall + 30) / outline.tall)
            usual = max(usual, min(need, largest))
        return usual

    def page(self, point: Point) -> Point:
        whole = self.places.whole
        return (point[0] - whole.x0) * self.scale, (point[1] - whole.y0) * self.scale

    def rect(self, rect: Rect) -> Rect:
        return Rect(*self.page(rect[:2]), *self.page(rect[2:]))

    @cached_property
    def rects(self) -> dict[str, Rect]:
        """Outlines on the page; those exactly one over another are set like sheets."""
        found: dict[str, Rect] = {}
        for name, outline in self.places.outlines.items():
            rect = self.rect(outline)
            same = sum(1 for other in found.values() if rect.grown(2.0).holds(other)
                       and other.grown(SHEETS * 3 + 2.0).holds(rect))  # fmt: skip
            found[name] = rect.grown(-SHEETS * same) if same else rect
        return found

    @cached_property
    def body(self) -> Rect:
        return around([*self.rects.values(), self.rect(self.places.whole)])

    @cached_property
    def plates(self) -> dict[str, Plate]:
        tight, rows = self.solution.case.limits.margin, self.solution.compartments.items()
        return {name: _plate(name, row, tight, self.units, words.origins(
                    self.solution, name, self.units) if self.shares else ())
                for name, row in rows}  # fmt: skip

    @cached_property
    def flows(self) -> dict[str, float]:
        """Mass flow of each branch; 0 where none is known, or next to none passes."""
        return {path: words.mass_flow(self.solution, path) for path in self.places.ends}

    @cached_property
    def groups(self) -> list[Copies]:
        """Branches that share a label: three copies and more, five fans and more."""
        solution, every = self.solution, self.places.ends

        def alike(path: str) -> Any:
            ends, flow = every[path], self.flows[path]
            region = solution.fans[path].region if path in solution.fans else ""
            state = getattr(ends.item, "state", None)
            return ends.from_, ends.to, state, region, (flow > 0) - (flow < 0)

        fans = [path for path in every if path.startswith("fan.")]
        others = [path for path in every if not path.startswith(("fan.", "exchange."))]
        single = [(path,) for path in every if path.startswith("exchange.")]
        return [*grouped(others, alike, 3), *grouped(fans, alike, 5), *single]


def _plate(
    name: str, row: Row, tight: float, units: Units, origins: Iterable[str] = ()
) -> Plate:  # fmt: skip
    """Name, large temperature, limit and margin, in three forms; below where its air is from."""
    temperature = units.text(q.TEMPERATURE, row.temperature)
    told = [text for text in (words.limit(row, units), words.margin(row.margin, tight, units))
            if text]  # fmt: skip
    over = bool(told) and told[-1].endswith("over")
    kept = [Letters(0, 0, "   ".join(told), look.BODY, over)] if told else []
    small = [Letters(0, 0, text, look.SMALL, over) for text in told]
    head = written(name, look.HEAD, False, PLATE_NAME_WIDE)
    large, middle = (Letters(0, 0, temperature, size, True) for size in (look.NUMBER, look.HEAD))
    short = Letters(0, 0, f"{name}  {temperature}", look.SMALL, True)
    below = [line for text in origins
             for line in written(text, look.SMALL, False, PLATE_NAME_WIDE)]  # fmt: skip
    forms = ((*head, large, *kept, *below),
             (*(line._replace(size=look.BODY) for line in head), middle, *small, *below),
             (short, *small[-1:], *below))  # fmt: skip
    return Plate(forms, (middle, *kept, *below))


def block_size(lines: Iterable[Letters]) -> tuple[float, float]:
    """Width and height of lines on a plate."""
    return max(w.wide for w in lines) + 2 * PAD, block_height([*lines]) + 2 * PAD


# --- marks ---------------------------------------------------------------------------------------


def marks(layout: MapLayout) -> dict[str, Mark]:
    """Every mark on the page: branches, exchanges, and what stands in series with a branch."""
    found = {path: _mark(layout, layout.places.ends[path], spot)
             for path, spot in spots(layout.places).items()}  # fmt: skip
    found = {path: _kept_apart(mark, found.values()) for path, mark in found.items()}
    for path, item in layout.solution.case.branches.items():
        if (on := host(item)) is not None:
            found[path], found[on] = _in_series(layout, path, item, found[on])
    return found


def _mark(layout: MapLayout, ends: Ends, spot: Spot) -> Mark:
    item, kind, scale = ends.item, ends.item.KIND, layout.scale
    half = max(scale * size_along(layout.solution.case, item) / 2, LEAST_SIZES[kind] / 2)
    joined = {ends.from_, ends.to} & layout.places.outlines.keys()
    if not joined <= layout.places.given.keys():
        half = NO_SCALE * LEAST_SIZES[kind] / 2
    still = kind == "fan" and layout.solution.fans[ends.path].region in AT_REST
    mark = Mark(ends.path, kind, item, layout.page(spot.point), spot.normal, half,
                _deep(item, scale), spot, still=still)  # fmt: skip
    if route := getattr(item, "route", None):
        course = tuple(layout.page((p[0], p[1])) for p in route)
        mark = mark._replace(route=course, half=min(half, 8.0))
    if spot.edge is None:
        return mark._replace(wall=(half * 2, half * 2))
    return _within_wall(mark, layout.page(spot.edge.start), layout.page(spot.edge.end))


def _within_wall(mark: Mark, start: Point, end: Point) -> Mark:
    """No longer than the wall; a baffle as long as it, its gap moved inside."""
    axis = 0 if mark.normal[0] == 0 else 1
    before, after = abs(mark.at[axis] - start[axis]), abs(end[axis] - mark.at[axis])
    length, item = before + after, mark.item
    if mark.kind == "baffle":
        share = item.open_area / item.cross_section if item.present else 1.0
        half = max(share * length / 2, min(LEAST_SIZES["baffle"] / 2, length / 4))
        half = min(half, length / 2)
        shift = max(half - before, 0.0) - max(half - after, 0.0)
        at = mark.place(shift, 0.0)
        return mark._replace(at=at, half=half, wall=(before + shift, after - shift))
    if mark.kind == "slot":
        return mark
    return mark._replace(half=min(mark.half, max(length / 2 - 1.0, 3.0)))


def size_along(case: Enclosure, item: Any) -> float:
    """Length of a mark along its wall in metres; 0 where nothing gives one.

    A fan's frame; a slot's gap (its width in a side view) or its sinks; a duct's diameter; else the
    side of a square of the area, as no case gives more.
    """
    if item.KIND == "fan":
        rating = case.rating(item)
        frame = rating.frame
        return float(frame[0]) if frame else FRAME * math.sqrt(rating.flow_area * 4 / math.pi)
    if item.KIND == "slot":
        side, fins = case.body.view == "side", case.things["sink_type"].get(item.sink)
        if fins is not None:
            return float(fins.fin[0] if side else fins.base[0] * item.count)
        across = item.width if side else item.gap * item.count
        return float(across) if known(across) else math.sqrt(item.area)
    if item.KIND == "duct":
        return float(item.diameter if known(item.diameter) else min(item.section))
    return math.sqrt(item.area) if item.KIND in ("opening", "vent", "filter") else 0.0


def _deep(item: Any, scale: float) -> float:
    """Half the thickness of a mark across its wall; a slot's length is to scale."""
    deep = DEEP[item.KIND]
    if item.KIND == "filter" and item.fouling > 1:
        return deep + LOADED_DEEPER
    if item.KIND == "slot" and known(item.length):
        return float(max(item.length * scale / 2, 5.0))
    return deep


def _kept_apart(mark: Mark, others: Iterable[Mark]) -> Mark:
    """A mark that would touch its neighbour only because of its least length is made shorter."""
    axis = 0 if mark.normal[0] == 0 else 1
    gaps = [
        abs(mark.at[axis] - other.at[axis]) for other in others
        if other.path != mark.path and abs(mark.at[1 - axis] - other.at[1 - axis]) < 2.0
        and (other.normal[0] == 0) == (mark.normal[0] == 0)
    ]  # fmt: skip
    nearest = min([gap for gap in gaps if gap > 0.5], default=0.0)
    if not nearest:
        return mark
    if mark.kind == "slot":
        most = nearest / 2 - 0.8 if known(mark.item.gap) else UNKNOWN_SLOT * nearest
        return mark._replace(half=min(mark.half, max(most, 1.2)), room=nearest)
    least = mark.half <= LEAST_SIZES[mark.kind] / 2
    return mark._replace(half=min(mark.half, max(nearest / 2 - 0.8, 1.2))) if least else mark


def _in_series(layout: MapLayout, path: str, item: Any, main: Mark) -> tuple[Mark, Mark]:
    """An element in another branch's air: at its own `at`, else on the side its host is mounted to
    draw from, whichever way the air goes."""
    deep, least = _deep(item, layout.scale), LEAST_SIZES[item.KIND] / 2
    half = max(layout.scale * size_along(layout.solution.case, item) / 2, least)
    if item.at is not None:
        ends = layout.places.ends[main.path]._replace(path=path, item=item)
        spot = given_spot(layout.places, ends, item.at)
        (x, y), reach = layout.page(spot.point), main.half + main.deep
        if abs(x - main.at[0]) > reach or abs(y - main.at[1]) > reach:
            return Mark(path, item.KIND, item, (x, y), spot.normal, half, deep, spot), main
    front = 1.0 if getattr(main.item, "mounted", "") == "reversed" else -1.0
    stack = main.before if front < 0 else main.after
    at = main.place(0.0, front * (main.deep + stack + deep + SERIES_GAP))
    thicker = stack + 2 * deep + SERIES_GAP
    own = Mark(path, item.KIND, item, at, main.normal, min(half, max(main.half, least)), deep,
               main.spot._replace(framed=False, ties=()))  # fmt: skip
    return own, main._replace(before=thicker) if front < 0 else main._replace(after=thicker)
