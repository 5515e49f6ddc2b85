"""Where the air of compartments comes from: which intake, what comes back, how long it is inside.

Every compartment is mixed, one in layers as a whole. What enters brings the air it had where it
came from, so that in compartment i, with the mass flows m that enter it,

    x_i sum_in m = sum_in m x_up                    share of an intake: 1 there, 0 at all others
    tau_i sum_in m = sum_in m tau_up + rho_i V_i    mean age since it came in, 0 outside

Air that is blown out and drawn in again (recirculation) keeps both; what swaps places (exchange)
goes both ways; branches hold no air (assumption). A passive tracer in mixed places: P. V.
Danckwerts, Continuous flow systems, Chemical Engineering Science 2 (1953) 1-13 (from memory). What
has been somewhere before follows the flows of branches alone: an exchange is no way back.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.physics.air import density
from flownet.results.tables import AT_REST, OF_AIR, REGIONS, Table
from flownet.schema.arrays import Array, Booleans, Integers, added, stacked

NOUGHT = 1e-6  # of the largest flow: what is less counts as no flow
NOUGHT_FLOW = 1e-8  # kg/s, likewise
FED = 0.5  # sum of the shares, 1 but for round-off; below it no outside air gets there
TRACED = 64  # compartments whose air is followed together
MAINLY = 0.9  # of the air of a place: what brings as much is where it comes from; our own choice
DRIVEN = [*map(REGIONS.index, (*AT_REST, "backflow"))]  # fans that move no air themselves


class Ways(NamedTuple):
    """Ways of air between compartments by number, -1 outside; `flow` >= 0 goes to the target."""

    source: Integers  # (ways,)
    target: Integers  # (ways,)
    flow: Array  # (ways, variants) [kg/s]
    places: int  # compartments

    def entering(self) -> Array:
        """(compartments, variants) mass flow that enters each [kg/s]."""
        return added(self.target, self.flow, self.places)

    def mixed(self, floor: Array | float = 0.0) -> Callable[[Array], Array]:
        """What finds x of `x_i (sum_in m + floor) - sum_in m x_up = given`, all variants and all
        `given` (compartments, variants, columns) by one factorization."""
        from scipy import sparse  # noqa: PLC0415 - only where somebody asks
        from scipy.sparse.linalg import splu  # noqa: PLC0415

        wide, inner = self.flow.shape[1], (self.source >= 0) & (self.target >= 0)
        rows, columns = (end[inner, None] * wide + np.arange(wide)
                         for end in (self.target, self.source))  # fmt: skip
        every = np.arange(self.places * wide)
        held = (self.entering() + floor).ravel()
        matrix = sparse.csc_matrix((
            np.r_[held, -self.flow[inner].ravel()],
            (np.r_[every, rows.ravel()], np.r_[every, columns.ravel()]),
        ), (len(every), len(every)))  # fmt: skip
        solve = splu(matrix).solve

        def found(given: Array) -> Array:
            flat = given.reshape(len(every), -1).astype(held.dtype)
            answer: Array = solve(flat).reshape(given.shape)
            return answer

        return found

    def circles(self) -> Integers:
        """(compartments, variants) a number, the same where air can come round to again."""
        from scipy import sparse  # noqa: PLC0415 - likewise
        from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

        inner, wide = (self.source >= 0) & (self.target >= 0), self.flow.shape[1]
        way, variant = np.nonzero((self.flow.real > 0) & inner[:, None])
        ends = self.source[way] * wide + variant, self.target[way] * wide + variant
        graph = sparse.csr_array((np.ones(len(way)), ends), (self.places * wide,) * 2)
        _, labels = connected_components(graph, directed=True, connection="strong")
        return np.asarray(labels, int).reshape(self.places, wide)

    def been_before(self, solve: Callable[[Array], Array], floor: Array | float = 0.0) -> Array:
        """(compartments, variants) share of what enters each that has been in it before.

        Of the air of i a share r comes back, of that r again: the mean count of visits 1/(1 - r)
        is `sum_in m` times the entry i, i of the inverse.
        """
        entering, visits = self.entering() + floor, np.ones((self.places, self.flow.shape[1]))
        visits = visits.astype(entering.dtype)
        labels = self.circles()
        again = np.flatnonzero((np.bincount(labels.ravel())[labels] > 1).any(axis=1))
        for first in range(0, len(again), TRACED):
            rows = again[first : first + TRACED]
            place = np.arange(len(rows))
            given = np.zeros((*entering.shape, len(rows)))
            given[rows, :, place] = 1.0
            visits[rows] = entering[rows] * solve(given)[rows, :, place]
        return 1 - 1 / visits


class Origins(NamedTuple):
    """What is known of the air: (rows, variants), of a solution (rows,)."""

    compartments: Table  # age, and what of their air has been there before
    fans: Table  # what of the air that each moves has been through before
    intakes: tuple[str, ...]  # branches, and exchanges, with one end outside
    share: Array  # (compartments, variants, intakes), (compartments, intakes); NaN: no fresh air

    def of(self, compartment: str, intake: str) -> Any:
        """The share of an intake; KeyError without either."""
        if intake not in self.intakes:
            known = ", ".join(self.intakes) or "none"
            raise KeyError(f'"{intake}" is no intake of outside air; there are: {known}')
        return self.share[self.compartments.places[compartment]][..., self.intakes.index(intake)]

    def shares(self, compartment: str) -> dict[str, float] | None:
        """The intakes whose air is in a compartment of a solution; None without outside air."""
        row = self.share[self.compartments.places[compartment]]
        return {self.intakes[i]: float(row[i]) for i in np.flatnonzero(row > NOUGHT)} or None


class Stages(NamedTuple):
    """Fans that stand side by side, and what of what they move comes round to them again."""

    beside: Array  # (fans, fans, variants) which move air of one place, or to one place
    inside: Array  # (fans, variants) of what they and those beside move, what these have moved
    again: Array  # (fans, variants) of what each moves; what was blown out and drawn in counts


def traced(results: Any) -> Origins:
    """Of a batch, or of one solution; real or complex."""
    air = _air(results)
    share, age = _followed(air, air.weight * volumes(results.columns_of_case))
    ways, fresh = air.through_branches()
    solve = ways.mixed(air.floor)
    fed = solve(fresh[..., None])[..., 0].real > FED
    before = np.where(fed, ways.been_before(solve, air.floor), np.nan)
    made = [
        Table(OF_AIR[:2], results.compartments.names, {"age": age, "returned_share": before}),
        Table(OF_AIR[1:2], results.fans.names, {"returned_share": results.stages.again}),
    ]
    if results.branches.columns["mass_flow"].ndim == 1:
        made, share = [table.map(lambda x: x[..., 0]) for table in made], share[:, 0]
    return Origins(made[0], made[1], tuple(air.names[way] for way in air.intakes), share)


class _Air(NamedTuple):
    """All ways of the air: branches one way, then the other, recirculations, exchanges."""

    ways: Ways  # from an outside only what was not blown out before
    moved: Array  # (ways of branches, variants) what goes there, drawn in again or not [kg/s]
    names: list[str]  # of each; none of a recirculation
    loops: slice  # which of them are recirculations
    drawing: Integers  # (recirculations,) the way in of each
    intakes: Integers  # ways that may bring air from outside
    weight: Array  # (compartments, variants) density [kg/m3]
    floor: Array  # (variants,) what keeps places without air solvable [kg/s]

    def through_branches(self) -> tuple[Ways, Array]:
        """Without exchanges, what is drawn in again as from outside; and (compartments, variants)
        what is marked there if all that comes from outside is."""
        flow, source = self.ways.flow.copy(), self.ways.source.copy()
        flow[self.loops.stop :], source[self.loops] = 0.0, -1
        fresh = np.where((source < 0)[:, None], flow, 0.0)
        return (self.ways._replace(flow=flow, source=source),
                added(self.ways.target, fresh, self.ways.places))  # fmt: skip


def _columns(table: Table, name: str) -> Array:
    """(rows, variants), of a solution too."""
    values = np.asarray(table.columns[name])
    return values if values.ndim > 1 else values[:, None]


def _alone(inputs: Inputs) -> dict[str, Any]:
    """Branches between two places, by path."""
    return {path: item for path, item in inputs.enclosure.branches.items()
            if getattr(item, "on", None) is None}  # fmt: skip


def _air(results: Any) -> _Air:
    inputs, branches, pressure = results.columns_of_case, results.branches, results.site["pressure"]
    alone = _alone(inputs)
    flow = _columns(branches, "mass_flow")[[branches.places[path] for path in alone]]
    flow = np.where(np.isnan(flow.real), 0.0, flow)
    least = np.maximum(NOUGHT_FLOW, NOUGHT * np.max(np.abs(flow.real), axis=0, initial=0.0))
    moved = np.concatenate([np.where(way.real > least, way, 0.0) for way in (flow, -flow)])
    weight = density(_columns(results.compartments, "mean_temperature"), pressure)
    return _ways(inputs, alone, moved, weight, pressure)._replace(floor=NOUGHT * least)


def _ways(
    inputs: Inputs, alone: dict[str, Any], moved: Array, weight: Array, pressure: Any
) -> _Air:  # fmt: skip
    """Who joins what, and how much goes there [kg/s]; nothing where a variant failed."""
    case, count = inputs.enclosure, len(inputs.enclosure.compartments)
    outsides = (f"outside.{name}" if name else "outside" for name in case.things["outside"])
    node = {name: i for i, name in enumerate([*case.compartments, *outsides])}
    pairs = [(item.from_, item.to) for item in alone.values()]
    swapped = list(case.things["exchange"].values())
    ends, places = (np.array([[node[a], node[b]] for a, b in each], int).reshape(-1, 2)
                    for each in (pairs, [item.between for item in swapped]))  # fmt: skip
    source, target = np.r_[ends[:, 0], ends[:, 1]], np.r_[ends[:, 1], ends[:, 0]]
    loops = list(case.things["recirculation"].values())
    blown, drawn = (np.array([[*alone].index(getattr(loop, key)) for loop in loops], int)
                    for key in ("from_", "to"))  # fmt: skip
    out = blown + len(alone) * (ends[blown, 1] < count)
    into = drawn + len(alone) * (ends[drawn, 0] < count)
    fraction = inputs.columns["recirculation"].get("fraction", np.zeros((0, 1)))
    again = fraction * moved[into] * (moved[out].real > 0)
    air = stacked([weight, density(inputs.columns["outside"]["temperature"], pressure)])
    each_way = inputs.columns["exchange"].get("flow", np.zeros((0, 1)))
    swaps = each_way * air[places].sum(axis=1) / 2
    swaps = np.where(np.isnan(swaps.real), 0.0, swaps)
    flow = stacked([moved - added(into, again, len(moved)), again, swaps, swaps])
    source = np.r_[source, source[out], places[:, 0], places[:, 1]]
    target = np.r_[target, target[into], places[:, 1], places[:, 0]]
    source, target = (np.where(end < count, end, -1) for end in (source, target))
    ways = Ways(source, target, flow, count)
    names = [*alone, *alone, *[""] * len(loops), *[item.path for item in swapped] * 2]
    intakes = np.flatnonzero((source < 0) & (target >= 0))
    own = slice(len(moved), len(moved) + len(loops))
    return _Air(ways, moved, names, own, into, intakes, weight, np.zeros(1))


def _followed(air: _Air, held: Array) -> tuple[Array, Array]:
    """(compartments, variants, intakes) shares and (compartments, variants) age [s], from the mass
    of the air held; NaN where no outside air gets, of an age also behind a place of which no
    volume is known."""
    ways, rows, unknown = air.ways, air.intakes, np.isnan(held.real)
    given = np.zeros((*held.shape, len(rows) + 2), np.result_type(ways.flow, held))
    given[ways.target[rows], :, np.arange(len(rows))] = ways.flow[rows]
    given[..., -2], given[..., -1] = np.where(unknown, 0.0, held), unknown
    found = ways.mixed(air.floor)(given)
    total = found[..., :-2].sum(axis=-1)
    fed = total.real > FED
    share = np.where(fed[..., None], found[..., :-2] / np.where(fed, total, 1.0)[..., None], np.nan)
    return share, np.where(fed & (found[..., -1].real <= 0), found[..., -2], np.nan)


def staged(results: Any) -> Stages:
    """What comes round to fans, of a batch or of one solution; real or complex."""
    air, fans, paths = _air(results), results.fans, [*_alone(results.columns_of_case)]
    (ways, fresh), rows = air.through_branches(), [paths.index(fan) for fan in fans.names]
    every = np.arange(fresh.shape[1])
    way = np.array(rows, int)[:, None] + len(paths) * (air.moved[rows].real <= 0)
    start, end = ways.source[way], ways.target[way]
    speed = air.moved[way, every] * ~np.isin(_columns(fans, "region"), DRIVEN)
    runs, given = speed.real > 0, np.zeros((*fresh.shape, len(rows) + 2), ways.flow.dtype)
    for fan, to in enumerate(end):
        given[to[to >= 0], every[to >= 0], fan] = speed[fan, to >= 0]
    given[..., -2] = added(ways.target[air.loops], ways.flow[air.loops], ways.places)
    given[..., -1] = fresh
    seen = ways.mixed(air.floor)(given)[start, every]
    seen = np.where((runs & (start >= 0))[..., None], seen, 0.0)
    drawn = added(air.drawing, ways.flow[air.loops], len(air.moved))[way, every]
    before = np.where(start < 0, drawn / np.where(runs, speed, 1.0), seen[..., -2])
    beside = _beside(ways, way, runs, start, end)
    known = runs & ((start < 0) | (seen[..., -1].real > FED))
    shares = _counted_once(seen[..., :-2], before, beside, speed)
    return Stages(beside, *(np.where(known, share, np.nan) for share in shares))


def _beside(
    ways: Ways, way: Integers, runs: Booleans, start: Integers, end: Integers
) -> Booleans:  # fmt: skip
    """(fans, fans, variants) whether two that run stand side by side: nearly all that they draw
    comes from one compartment past no other fan, or nearly all that they blow goes to one."""
    every, same = np.arange(ways.flow.shape[1]), np.zeros((len(start), *start.shape), bool)
    calm = ways.flow.real.copy()
    calm[way, every] *= ~runs
    for here, there, ends in ((ways.target, ways.source, start), (ways.source, ways.target, end)):
        whole, inner = added(here, ways.flow.real, ways.places), (here >= 0) & (there >= 0)
        pairs, pair = np.unique(here[inner] * ways.places + there[inner], return_inverse=True)
        most, own = added(pair, calm[inner], len(pairs)), pairs // ways.places
        row, variant = np.nonzero((most > 0) & (most >= MAINLY * whole[own]))
        root = np.repeat(np.arange(ways.places)[:, None], len(every), axis=1)
        root[own[row], variant] = pairs[row] % ways.places
        for _ in range(ways.places.bit_length()):  # twice as far each time
            root = root[root, every]
        last = np.where(ends >= 0, root[ends, every], -1 - np.arange(len(ends))[:, None])
        same = same | (last[:, None] == last)
    found: Booleans = same & runs & runs[:, None]
    return found


def _counted_once(
    seen: Array, before: Array, beside: Booleans, speed: Array
) -> tuple[Array, Array]:  # fmt: skip
    """(fans, variants) of what the stage of each fan moves, what the stage has moved before; and of
    what each moves, that and what came round outside, `before`.

    `seen`: (fans, variants, fans) S_ij, what of the air of i would be marked if all that j moves
    were so behind it, mixed everywhere. Behind the stage all counts as 1, so that its air has
    y_i = before_i + sum_j S_ij (1 - y_j). One fan: r/(1 + r), r = S, without `before`.
    """
    inside, again = np.zeros_like(before), np.zeros_like(before)
    if not len(seen):
        return inside, again
    kinds, kind = np.unique(beside.reshape(len(beside), -1), axis=0, return_inverse=True)
    for number, stage in enumerate(kinds.reshape(-1, *speed.shape)):
        own, rows = stage.T, kind.ravel() == number
        marks = np.where(own[:, :, None] & own[:, None], np.moveaxis(seen, 1, 0), 0.0)
        made = marks.sum(axis=2)[..., None] + np.stack([0 * before.T, before.T], axis=2)
        found = np.linalg.solve(np.eye(len(seen)) + marks, made)
        moved = speed * stage
        total = moved.sum(axis=0)
        mean = (moved * found[..., 0].T).sum(axis=0) / np.where(total.real > 0, total, 1.0)
        inside[rows], again[rows] = mean, found[..., 1].T[rows]
    return inside, again


def depths(inputs: Inputs) -> Array:
    """(compartments, variants) extent across the view: its own, else that of the enclosure [m]."""
    own, body = inputs.columns["compartment"]["depth"], inputs.columns["enclosure"]
    across = body["size.2"], body["size.0"], body["size.1"]  # of a front, a side view, a plan
    whole = np.choose(body["view"].real.astype(int), across)
    found: Array = np.where(np.isnan(own.real), whole, own)
    return found


def volumes(inputs: Inputs) -> Array:
    """(compartments, variants) of the outline and the depth [m3]; NaN where one is not given."""
    columns = inputs.columns["compartment"]
    found: Array = columns["outline.2"] * columns["outline.3"] * depths(inputs)
    return found
