"""What a network joins, and where its places stand: a grid that keeps the order of the outlines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import nan
from typing import Any, NamedTuple

import networkx as nx

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures.caption import Units, known
from flownet.pictures.map.geometry import Ends, MapPlaces, edges, given_point, host
from flownet.pictures.scene import words
from flownet.pictures.scene.scene import Rect
from flownet.pictures.scene.words import Copies, copies_name, grouped
from flownet.results.solution import Solution
from flownet.results.streams import each_way
from flownet.results.tables import AT_REST
from flownet.schema import quantities as q

OUTSIDE = "outside"
TOGETHER = 0.6  # of the narrower extent: with more in common, two outlines are in one line
ABREAST = 0.1  # of the lower one: with more heights in common, one column cannot hold both


class Joint(NamedTuple):
    """One line between two places; copies that are alike share one."""

    name: str
    kind: str
    item: Any
    from_: str
    to: str
    note: str = ""  # what flows
    flow: float | None = None  # mass flow from `from_` to `to`, or heat; None: not solved
    side: str = ""  # of the place that is not outside, where the map shows it
    still: bool = False  # a fan that stands, also where it is switched on and its speed is 0


def links(of: Enclosure | Solution, units: Units) -> Iterator[Joint]:
    """Branches, exchanges and walls; three copies and more as one line."""
    solution = of if isinstance(of, Solution) else None
    case = of if isinstance(of, Enclosure) else of.case
    places = MapPlaces(case)

    def still(path: str) -> bool:
        fans = {} if solution is None else solution.fans
        return path in fans and fans[path].region in AT_REST

    def alike(path: str) -> Any:
        one, flow = places.ends[path], words.mass_flow(solution, path)
        state = getattr(one.item, "state", None)
        return one.from_, one.to, state, (flow > 0) - (flow < 0), still(path)

    for paths in grouped(places.ends, alike, 3):
        one = places.ends[paths[0]]
        note = _note(solution, paths, one, units) if solution is not None else ""
        total = sum(words.mass_flow(solution, path) for path in paths)
        yield Joint(_name(case, paths), one.item.KIND, one.item, one.from_, one.to, note,
                    None if solution is None else total, _side(places, one),
                    still(one.path))  # fmt: skip
    for name, wall in case.walls.items():
        heat = solution.walls[name].heat if solution is not None else nan
        note = units.text(q.POWER, abs(heat)) if known(heat) else ""
        yield Joint(wall.path, "wall", wall, wall.from_, wall.to, note, heat if note else None)


def _name(case: Enclosure, paths: Copies) -> str:
    """The path, the count of copies, and what stands in series."""
    if len(paths) > 1:
        return f"{copies_name(paths)} ({len(paths)})"
    turned = getattr(case.branches.get(paths[0]), "mounted", "") == "reversed"
    series = [path for path, item in case.branches.items() if host(item) == paths[0]]
    return " + ".join([paths[0] + (" (reversed)" if turned else ""), *series])


def _note(solution: Solution, paths: Copies, ends: Ends, units: Units) -> str:
    if ends.item.KIND == "exchange":
        return words.exchange(solution, ends.path, ends, units).lines[-1]
    if len(paths) > 1:
        return words.group(solution, paths, ends, units).lines[0]
    if not words.moves(solution, ends.path):
        both = each_way(solution, ends.path)
        return f"{units.text(q.VOLUME_FLOW, both)} each way" if both else "no air"
    flow = solution.branches[ends.path].volume_flow
    back = " back" if ends.item.KIND == "fan" and words.driven_back(ends.item, flow) else ""
    return units.text(q.VOLUME_FLOW, abs(flow)) + back


def _side(places: MapPlaces, ends: Ends) -> str:
    """The side of its compartment a branch to the outside sits on; empty where none is near."""
    inner = [name for name in (ends.from_, ends.to) if name in places.outlines]
    point = given_point(ends.item)
    if len(inner) != 1 or point is None or inner[0] not in places.given:
        return ""
    walls = edges(places.given[inner[0]])
    side = min(walls, key=lambda key: walls[key].distance(point))
    return side if walls[side].distance(point) <= places.near else ""


# --- the grid ------------------------------------------------------------------------------------


class GridCell(NamedTuple):
    """A place in the grid: columns from the left, rows from the bottom."""

    column: int
    row: int


def cells(case: Enclosure) -> dict[str, GridCell]:
    """A cell for every compartment and every further surrounding; `outside` is around them all."""
    found: dict[str, tuple[float, float]] = {}

    def put(name: str, column: float, row: float, across: float = 0.0, up: float = 1.0) -> None:
        while (column, row) in found.values():
            column, row = column + across, row + up
        found[name] = column, row

    rects = MapPlaces(case).given
    columns, rows = _lines(rects, upright=True), _lines(rects, upright=False)
    for name in rects:
        put(name, columns[name], rows[name], 0.25, 0.0)
    last = max(columns.values(), default=-1) + 1
    away = {} if rects else _distances(case)
    for name in case.compartments:
        if name not in rects:
            put(name, away.get(name, last), 0)
    last = max((int(column) for column, _ in found.values()), default=0) + 1
    for name in (f"outside.{key}" for key in case.things["outside"] if key):
        near = [*case.graph.successors(name), *case.graph.predecessors(name)]
        row = next((found[other][1] for other in near if other in found), 0)
        put(name, -1 if case.graph.out_degree(name) else last, row)
    order = [sorted({cell[axis] for cell in found.values()}) for axis in (0, 1)]
    return {name: GridCell(order[0].index(column), order[1].index(row))
            for name, (column, row) in found.items()}  # fmt: skip


def _lines(rects: Mapping[str, Rect], *, upright: bool) -> dict[str, int]:
    """The column (or row) of each rectangle, in order of their middles.

    One joins the line before where it shares most of its width (or height) with all in it; in a
    column none stands beside another.
    """
    lines: list[list[str]] = []
    along, beside = (0, 2), (1, 3)
    if not upright:
        along, beside = beside, along
    for name in sorted(rects, key=lambda key: rects[key].centre[0 if upright else 1]):
        if lines and all(
            _overlap(rects[name], rects[other], along) > TOGETHER
            and not (upright and _overlap(rects[name], rects[other], beside) > ABREAST)
            for other in lines[-1]
        ):
            lines[-1].append(name)
        else:
            lines.append([name])
    return {name: number for number, line in enumerate(lines) for name in line}


def _overlap(a: Rect, b: Rect, span: tuple[int, int]) -> float:
    """Common part of two extents, as a share of the shorter."""
    (a0, a1), (b0, b1) = ((rect[span[0]], rect[span[1]]) for rect in (a, b))
    return (min(a1, b1) - max(a0, b0)) / min(a1 - a0, b1 - b0)


def _distances(case: Enclosure) -> dict[str, int]:
    """Fewest branches from a surrounding, the way they are given; one more where none leads."""
    sources = {f"outside.{name}" if name else OUTSIDE for name in case.things["outside"]}
    found = nx.multi_source_dijkstra_path_length(case.graph, sources)
    last = max(found.values()) + 1
    return {name: int(found.get(name, last)) for name in case.compartments}
