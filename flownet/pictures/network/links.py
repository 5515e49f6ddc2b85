"""Lines of a network: what joins two places, on which sides, in which lane."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from flownet.enclosure.enclosure import Enclosure
from flownet.pictures.map.geometry import Ends, Places, edges, given_point, host, joined, outlines
from flownet.pictures.map.groups import Group, grouped
from flownet.pictures.network.grid import Cell
from flownet.pictures.scene import words
from flownet.pictures.scene.words import Units
from flownet.results.solution import Solution
from flownet.schema import quantities as q

OUTSIDE = "outside"
SIDES = ("left", "right", "top", "bottom")
STEPS = {"left": (-1, 0), "right": (1, 0), "top": (0, 1), "bottom": (0, -1)}
OPPOSITE = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}


class Link(NamedTuple):
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


class Course(NamedTuple):
    """How a link runs: `near` is where it starts, always a place in the grid."""

    link: Link
    near: str
    side: str  # of `near`
    far: str  # a place, or OUTSIDE
    straight: bool  # along a row or column with nothing between


def links(case: Enclosure, solution: Solution | None, units: Units) -> list[Link]:
    """Branches, exchanges and walls; three copies and more as one line."""
    ends = {one.path: one for one in joined(case)}
    places = Places(case, outlines(case))

    def alike(path: str) -> Any:
        one = ends[path]
        flow = _flow(solution, path) or 0.0
        state = getattr(one.item, "state", None)
        return one.from_, one.to, state, (flow > 0) - (flow < 0), _still(solution, path)

    found = []
    for group in grouped(ends, alike, 3):
        one = ends[group.paths[0]]
        note = _note(solution, group, one, units) if solution is not None else ""
        flows = [_flow(solution, path) for path in group.paths]
        flow = None if solution is None else sum(value or 0.0 for value in flows)
        side = map_side(places, one)
        name = _name(case, group)
        found.append(Link(
            name, one.item.KIND, one.item, one.from_, one.to, note, flow, side,
            _still(solution, one.path),
        ))  # fmt: skip
    return [*found, *_walls(case, solution, units)]


def _name(case: Enclosure, group: Group) -> str:
    """The path, the count of copies, and what stands in series."""
    if len(group.paths) > 1:
        return f"{group.name} ({len(group.paths)})"
    turned = getattr(case.branches.get(group.paths[0]), "mounted", "") == "reversed"
    series = [path for path, item in case.branches.items() if host(item) == group.paths[0]]
    return " + ".join([group.name + (" (reversed)" if turned else ""), *series])


def _still(solution: Solution | None, path: str) -> bool:
    """Whether it is a fan that stands."""
    if solution is None or path not in solution.fans:
        return False
    return bool(solution.fans[path].region == "stopped")


def _flow(solution: Solution | None, path: str) -> float | None:
    if solution is None or path not in solution.branches:
        return None
    value = solution.branches[path].mass_flow
    known = words.known(value) and words.moves(solution, path)
    return float(value) if known else 0.0


def _note(solution: Solution, group: Group, ends: Ends, units: Units) -> str:
    if ends.item.KIND == "exchange":
        return words.exchange(solution, ends.path, ends, units).lines[-1]
    if len(group.paths) > 1:
        return words.group(solution, group, ends, units).lines[0]
    if not words.moves(solution, ends.path):
        return "no air"
    flow = solution.branches[ends.path].volume_flow
    back = " back" if ends.item.KIND == "fan" and words.driven_back(ends.item, flow) else ""
    return units.text(q.VOLUME_FLOW, abs(flow)) + back


def _walls(case: Enclosure, solution: Solution | None, units: Units) -> Iterator[Link]:
    for name, wall in case.walls.items():
        heat = solution.walls[name].heat if solution is not None else None
        known = words.known(heat)
        note = units.text(q.POWER, abs(heat)) if heat is not None and known else ""
        yield Link(wall.path, "wall", wall, wall.from_, wall.to, note, heat if known else None)


def map_side(places: Places, ends: Ends) -> str:
    """The side of its compartment a branch to the outside sits on; empty where none is near."""
    inner = [name for name in (ends.from_, ends.to) if name in places.outlines]
    point = given_point(ends.item)
    if len(inner) != 1 or point is None or not places.outlines[inner[0]].given:
        return ""
    walls = edges(places.outlines[inner[0]].rect)
    side = min(walls, key=lambda key: walls[key].distance(point))
    return side if walls[side].distance(point) <= places.near else ""


def course(link: Link, cells: Mapping[str, Cell]) -> Course:
    """On which sides a link leaves its places."""
    if OUTSIDE in (link.from_, link.to):
        near = link.to if link.from_ == OUTSIDE else link.from_
        usual = "left" if link.from_ == OUTSIDE else "right"
        tries = [link.side or usual, usual, OPPOSITE[usual], "top", "bottom"]
        for side in tries:
            if not blocked(near, side, cells):
                return Course(link, near, side, OUTSIDE, True)
        return Course(link, near, "top", OUTSIDE, False)
    a, b = cells[link.from_], cells[link.to]
    for side in SIDES:
        if first(link.from_, side, cells) == link.to:
            return Course(link, link.from_, side, link.to, True)
    side = "top" if b.row >= a.row else "bottom"
    return Course(link, link.from_, side, link.to, False)


class Detour(NamedTuple):
    """The gaps a link that goes round passes: below row `row_gap`, before column `column_gap`."""

    row_gap: int
    column_gap: int | None  # None: on to the frame
    left: bool  # it arrives at the left side of the far box


def detour(one: Course, cells: Mapping[str, Cell]) -> Detour:
    """Which gaps a link goes through that cannot run straight."""
    cell = cells[one.near]
    row_gap = cell.row + (one.side == "top")
    if one.far == OUTSIDE:
        return Detour(row_gap, None, False)
    target = cells[one.far]
    left = target.column > cell.column
    return Detour(row_gap, target.column + (not left), left)


def first(name: str, side: str, cells: Mapping[str, Cell]) -> str:
    """The first place met when one leaves another straight through a side; empty: none."""
    own, (right, up) = cells[name], STEPS[side]
    met = [
        (abs(cell.column - own.column) + abs(cell.row - own.row), other)
        for other, cell in cells.items()
        if (right and cell.row == own.row and (cell.column - own.column) * right > 0)
        or (up and cell.column == own.column and (cell.row - own.row) * up > 0)
    ]
    return min(met)[1] if met else ""


def blocked(name: str, side: str, cells: Mapping[str, Cell]) -> bool:
    """Whether a place stands between this one and the frame."""
    return first(name, side, cells) != ""
