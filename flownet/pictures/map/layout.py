"""One solution laid out on the page: outlines, scale, flows, and branches that share a label."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from flownet.pictures.map.geometry import Ends, MapPlaces, joined, outlines
from flownet.pictures.map.groups import Copies, grouped
from flownet.pictures.map.plates import Plate, block_size, plate
from flownet.pictures.scene import words
from flownet.pictures.scene.scene import Point, Rect, around
from flownet.pictures.scene.words import Units
from flownet.results.solution import Solution

USUAL = (330.0, 430.0)  # the drawing fits this ...
LARGEST = (540.0, 660.0)  # ... or grows to this, so that plates fit small compartments
SHEETS = 5.0  # between outlines that lie exactly one over another


@dataclass(frozen=True)
class MapLayout:
    """One solution in the view: everything that is known before a mark is drawn."""

    solution: Solution
    units: Units

    @cached_property
    def places(self) -> MapPlaces:
        """Outlines in metres."""
        return MapPlaces(self.solution.case, outlines(self.solution.case))

    @cached_property
    def scale(self) -> float:
        """Points per metre."""
        whole = self.places.whole
        usual = min(USUAL[0] / whole.wide, USUAL[1] / whole.tall)
        largest = min(LARGEST[0] / whole.wide, LARGEST[1] / whole.tall)
        wanted = usual
        for name, outline in self.places.outlines.items():
            wide, tall = block_size(self.plates[name].forms[0])
            need = max((wide + 14) / outline.rect.wide, (tall + 30) / outline.rect.tall)
            wanted = max(wanted, min(need, largest))
        return wanted

    def page(self, point: Point) -> Point:
        """A point of the view on the page."""
        whole = self.places.whole
        return (point[0] - whole.x0) * self.scale, (point[1] - whole.y0) * self.scale

    @cached_property
    def rects(self) -> dict[str, Rect]:
        """Outlines on the page; those exactly one over another are set like sheets."""
        found: dict[str, Rect] = {}
        for name, outline in self.places.outlines.items():
            low, high = (self.page(p) for p in (outline.rect[:2], outline.rect[2:]))
            rect = Rect(*low, *high)
            same = sum(1 for other in found.values() if rect.grown(2.0).holds(other)
                       and other.grown(SHEETS * 3 + 2.0).holds(rect))  # fmt: skip
            found[name] = rect.grown(-SHEETS * same) if same else rect
        return found

    @cached_property
    def body(self) -> Rect:
        """Around all outlines on the page."""
        whole = self.places.whole
        corners = self.page((whole.x0, whole.y0)), self.page((whole.x1, whole.y1))
        return around([*self.rects.values(), Rect(*corners[0], *corners[1])])

    @cached_property
    def plates(self) -> dict[str, Plate]:
        """What is said of each compartment."""
        tight = self.solution.case.limits.margin
        return {name: plate(name, row, tight, self.units)
                for name, row in self.solution.compartments.items()}  # fmt: skip

    @cached_property
    def ends(self) -> dict[str, Ends]:
        """Branches with ends of their own, and exchanges, by path."""
        return {
            ends.path: ends._replace(through=self.places.through(ends.from_, ends.to))
            for ends in joined(self.solution.case)
        }

    @cached_property
    def flows(self) -> dict[str, float]:
        """Mass flow of each branch; 0 where none is known, or next to none passes."""
        return {path: words.mass_flow(self.solution, path) for path in self.ends}

    @cached_property
    def groups(self) -> list[Copies]:
        """Branches that share a label: three copies and more, five fans and more."""

        def alike(path: str) -> Any:
            ends, item = self.ends[path], self.ends[path].item
            flow = self.flows[path]
            region = self.solution.fans[path].region if item.KIND == "fan" else ""
            state = getattr(item, "state", None)
            return ends.from_, ends.to, state, region, (flow > 0) - (flow < 0)

        fans = [path for path in self.ends if path.startswith("fan.")]
        others = [path for path in self.ends if not path.startswith(("fan.", "exchange."))]
        single = [Copies((path,)) for path in self.ends if path.startswith("exchange.")]
        return [*grouped(others, alike, 3), *grouped(fans, alike, 5), *single]
