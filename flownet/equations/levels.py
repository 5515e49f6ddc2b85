"""Heights and face areas: where each compartment and each end of a branch stands.

A height is the outline's coordinate along `up`. A plan view, and things without an outline, have
height 0.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs, take_rows
from flownet.enclosure.branches import DIRECTIONS
from flownet.enclosure.heat import FACES
from flownet.physics.films import MOUNTINGS, effective_area
from flownet.results.origins import depths
from flownet.schema.arrays import Array, Integers
from flownet.schema.component import words_of

# right-hand and upward share of each `up` and of each direction in the view
UP = {"top": (0, 1), "bottom": (0, -1), "left": (-1, 0), "right": (1, 0)}
FLAT_DIRECTION = {"up": (0, 1), "down": (0, -1), "left": (-1, 0), "right": (1, 0)}
SIDE_DIRECTION = FLAT_DIRECTION | {
    "left": (0, 0),
    "right": (0, 0),
    "front": (-1, 0),
    "back": (1, 0),
}

# deg from lying, within which a face has the film of a horizontal plate; the upright film is known
# to within 30 deg of it (F. P. Incropera et al., section 9.6.2, from memory)
FLAT = 30.0

# what the sides of a view are in the room; in a front view they are the faces of that name
SEEN: dict[str, dict[str, str]] = {
    "side": {"left": "front", "right": "back", "front": "right", "back": "left"},
    "plan": dict.fromkeys(("top", "bottom", "left", "right", "front", "back"), "top"),
}


def up_shares(inputs: Inputs) -> tuple[Array, Array]:
    """How much one metre to the right, and one metre up in the view, add to a height."""
    ups = np.array([UP.get(str(w), (0, 0)) for w in words_of("enclosure", "up")], float)
    right, above = np.where(_seen(inputs, "plan"), 0.0, ups.T[:, _word(inputs, "up")])
    return right, above


def upright(inputs: Inputs) -> Array:
    """(1, variants) 1 where what is upright in the view is upright in the room, else 0: laid down,
    or seen in plan."""
    return abs(up_shares(inputs)[1])


def compartment_levels(inputs: Inputs) -> Array:
    """(compartments, variants) height of each outline's centre; 0 without an outline."""
    right, above = up_shares(inputs)
    x, y, width, height = (inputs.columns["compartment"][f"outline.{i}"] for i in range(4))
    level = right * (x + width / 2) + above * (y + height / 2)
    return np.where(np.isnan(level.real), 0.0, level)


def branch_levels(
    inputs: Inputs, kind: str, levels: Array, start: Array, end: Array
) -> tuple[Array, Array]:
    """(things, variants) heights of both ends of the branches of a kind.

    `levels` has a row for each node, `start` and `end` name them; outsides, at level 0, are the
    rows from the number of compartments on.
    """
    right, above = up_shares(inputs)
    columns, inside = inputs.columns[kind], len(inputs.names("compartment"))
    ends = 1.0 + ((start < inside) & (end < inside))[:, None]
    middle = (levels[start] + levels[end]) / ends
    at = right * columns["at.0"] + above * columns["at.1"]
    middle = np.where(np.isnan(at.real), middle, at)
    below = above_end = middle
    if "length" in columns:
        half = _climb(inputs, kind) * _length(inputs, kind) / 2
        half = np.where(np.isnan(half.real), 0.0, half)
        below, above_end = middle - half, middle + half
    if inputs.tables.get((kind, "route")):
        given = columns["route"].real >= 0
        first, last = _route_ends(inputs, kind, right, above)
        below, above_end = np.where(given, first, below), np.where(given, last, above_end)
    return below, above_end


def _length(inputs: Inputs, kind: str) -> Array:
    """Along the air; that of a sink where it stands for the slot."""
    length, sink = inputs.columns[kind]["length"], inputs.kind(kind, {}).sink
    if not sink.given.any():
        return length
    return np.where(np.isnan(length.real) & sink.given, sink.base[1], length)


def _climb(inputs: Inputs, kind: str) -> Array:
    """Height gained along one metre from `from` to `to`."""
    right, above = up_shares(inputs)
    code = inputs.columns[kind]["direction"].real.astype(int)
    flat, deep = (np.array([ways.get(w, (0, 0)) for w in (*DIRECTIONS, "")], float).T[:, code]
                  for ways in (FLAT_DIRECTION, SIDE_DIRECTION))  # fmt: skip
    share = np.where(_seen(inputs, "side"), deep, flat)
    climb: Array = right * share[0] + above * share[1]
    return climb


def _route_ends(inputs: Inputs, kind: str, right: Array, above: Array) -> tuple[Array, Array]:
    index = np.maximum(inputs.columns[kind]["route"].real.astype(int), 0)
    ends = []
    for point in (0, -1):
        points = np.array([route[point] for route in inputs.tables[kind, "route"]], float)
        picked = take_rows(points, index)  # (things, 2, variants)
        ends.append(right * picked[:, 0] + above * picked[:, 1])
    return ends[0], ends[1]


class WallFaces(NamedTuple):
    """The faces that each wall names of its compartment, by the way they look; (walls, variants),
    NaN for walls that name none."""

    upright: Array  # area [m2]
    up: Array
    down: Array
    height: Array  # of the upright ones [m]
    length: Array  # area over perimeter of a horizontal one [m]

    @property
    def area(self) -> Array:
        """Of all of them."""
        found: Array = self.upright + self.up + self.down
        return found


def wall_faces(inputs: Inputs) -> WallFaces:
    """Areas and sizes of faces, from outline and depth; a laid enclosure has other faces up."""
    walls, names = inputs.enclosure.walls.values(), inputs.names("compartment")
    inside = np.array([names.index(wall.from_) for wall in walls], int)
    size = _size(inputs, inside)
    mounting = inputs.columns["wall"].get("mounting", np.zeros((0, 1))).real.astype(int)
    given = np.array([bool(wall.faces) for wall in walls], bool)[:, None] | (mounting >= 0)
    size = tuple(np.where(given, side, 1.0) for side in size)
    volume, around = size[0] * size[1] * size[2], size[0] + size[1] + size[2]
    top = face_up(inputs)
    tall: Any = sum(
        np.where(top // 2 == axis, side, 0.0) for axis, side in enumerate(_by_face(size))
    )
    areas: list[Any] = [0.0, 0.0, 0.0]  # upright, up, down
    for code, face in enumerate(FACES):
        count = np.array([wall.faces.count(face) for wall in walls], float)[:, None]
        own = count * volume / _by_face(size)[code // 2]
        looks = np.where(top == code, 1, np.where(top == (code ^ 1), 2, 0))
        areas = [total + np.where(looks == way, own, 0.0) for way, total in enumerate(areas)]
    areas[0] = np.where(mounting >= 0, _effective(size, top, mounting), areas[0])
    found = (*areas, tall, volume / tall / (2 * (around - tall)))
    return WallFaces(*(np.where(given, each, np.nan) for each in found))


def looks(inputs: Inputs) -> Integers:
    """(walls, variants) way the outer face of an `area` looks, as its `facing` or a `tilt` within
    `FLAT` of lying says: 0 up, 1 down, -1 upright or not given."""
    c = inputs.columns["wall"]
    if not c:
        return np.zeros((0, 1), int)
    facing, tilt = c["facing"].real.astype(int), np.where(np.isnan(c["area"]), 90.0, c["tilt"].real)
    lies = np.where(tilt <= FLAT, 0, np.where(tilt >= 180 - FLAT, 1, -1))
    return np.where(facing >= 0, facing, lies)


def _effective(size: tuple[Array, ...], top: Array, mounting: Integers) -> Array:
    """(walls, variants) effective area of compartments as they stand, whichever face is up."""
    wide, tall, deep = size
    aside, laid = top // 2 == 1, top // 2 == 0  # on its side, on its back
    width, depth = np.where(aside, tall, wide), np.where(laid, tall, deep)
    height = np.where(aside, wide, np.where(laid, deep, tall))
    covered = np.moveaxis(np.array([*MOUNTINGS.values()])[np.maximum(mounting, 0)], -1, 0)
    return effective_area(width, height, depth, *covered)


def _by_face(size: tuple[Array, ...]) -> tuple[Array, Array, Array]:
    """Depth, width and height: how far apart the two faces of each pair in FACES are."""
    wide, tall, deep = size
    return deep, wide, tall


def face_up(inputs: Inputs) -> Array:
    """(1, variants) the face that looks up, as its place in FACES."""
    ups, views = words_of("enclosure", "up"), words_of("enclosure", "view")
    codes = [[FACES.index(SEEN.get(str(v), {}).get(str(up), str(up))) for up in ups] for v in views]
    found: Array = np.array(codes)[_word(inputs, "view"), _word(inputs, "up")]
    return found


def face_area(inputs: Inputs, compartments: Integers, face: str) -> Array:
    """(compartments, variants) area of one face of these rows; NaN without an outline."""
    size = _size(inputs, compartments)
    area: Array = size[0] * size[1] * size[2] / _by_face(size)[FACES.index(face) // 2]
    return area


def heights(inputs: Inputs) -> tuple[Array, Array]:
    """(compartments, variants) lowest height of each outline, and how high it is; 0 without."""
    right, above = up_shares(inputs)
    width, height = (inputs.columns["compartment"][f"outline.{i}"] for i in (2, 3))
    tall = abs(right) * width + abs(above) * height
    tall = np.where(np.isnan(tall.real), 0.0, tall)
    return compartment_levels(inputs) - tall / 2, tall


def _size(inputs: Inputs, compartments: Integers) -> tuple[Array, ...]:
    """Width, height and depth of compartments as one stands before the enclosure."""
    columns = inputs.columns["compartment"]
    across, along = (columns[f"outline.{i}"][compartments] for i in (2, 3))
    through, side, plan = depths(inputs)[compartments], _seen(inputs, "side"), _seen(inputs, "plan")
    deep = np.where(side, across, np.where(plan, along, through))
    return np.where(side, through, across), np.where(plan, through, along), deep


def _seen(inputs: Inputs, view: str) -> Array:
    """(1, variants) whether this is the view."""
    found: Array = _word(inputs, "view") == words_of("enclosure", "view").index(view)
    return found


def _word(inputs: Inputs, key: str) -> Integers:
    """(1, variants) a word of the enclosure, by its place."""
    return inputs.columns["enclosure"][key].real.astype(int)
