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
from flownet.schema.arrays import Array, Integers, added, stacked

NOUGHT = 1e-6  # of the largest flow: what is less counts as no flow
NOUGHT_FLOW = 1e-8  # kg/s, likewise
FED = 0.5  # sum of the shares, 1 but for round-off; below it no outside air gets there
TRACED = 64  # compartments whose air is followed together
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


def traced(
    inputs: Inputs, compartments: Table, branches: Table, fans: Table, pressure: Any
) -> Origins:
    """Of a batch, or of one solution, from its inputs and tables; real or complex."""
    one, case = branches.columns["mass_flow"].ndim == 1, inputs.enclosure

    def column(table: Table, name: str) -> Array:
        values = np.asarray(table.columns[name])
        return values[:, None] if one else values

    alone: dict[str, Any] = {path: item for path, item in case.branches.items()
                             if getattr(item, "on", None) is None}  # fmt: skip
    flow = column(branches, "mass_flow")[[branches.places[path] for path in alone]]
    flow = np.where(np.isnan(flow.real), 0.0, flow)
    least = np.maximum(NOUGHT_FLOW, NOUGHT * np.max(np.abs(flow.real), axis=0, initial=0.0))
    moved = np.concatenate([np.where(way.real > least, way, 0.0) for way in (flow, -flow)])
    weight = density(column(compartments, "mean_temperature"), pressure)
    air = _ways(inputs, alone, moved, weight, pressure)
    share, age = _followed(air, weight * volumes(inputs), NOUGHT * least)
    place = {path: row for row, path in enumerate(alone)}
    rows = np.array([place[path] for path in fans.names], int)
    working = ~np.isin(column(fans, "region"), DRIVEN)
    before, again = _returned(air, moved, rows, working, NOUGHT * least)
    made = [
        Table(OF_AIR[:2], compartments.names, {"age": age, "returned_share": before}),
        Table(OF_AIR[1:2], fans.names, {"returned_share": again}),
    ]
    if one:
        made, share = [table.map(lambda x: x[..., 0]) for table in made], share[:, 0]
    return Origins(made[0], made[1], tuple(air.names[way] for way in air.intakes), share)


class _Air(NamedTuple):
    """All ways of the air: branches one way, then the other, recirculations, exchanges."""

    ways: Ways  # from an outside only what was not blown out before
    names: list[str]  # of each; none of a recirculation
    loops: slice  # which of them are recirculations
    drawing: Integers  # (recirculations,) the way in of each
    intakes: Integers  # ways that may bring air from outside


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
    return _Air(ways, names, slice(len(moved), len(moved) + len(loops)), into, intakes)


def _followed(air: _Air, held: Array, floor: Array) -> tuple[Array, Array]:
    """(compartments, variants, intakes) shares and (compartments, variants) age [s], from the mass
    of the air held; NaN where no outside air gets, of an age also behind a place of which no
    volume is known."""
    ways, rows, unknown = air.ways, air.intakes, np.isnan(held.real)
    given = np.zeros((*held.shape, len(rows) + 2), np.result_type(ways.flow, held))
    given[ways.target[rows], :, np.arange(len(rows))] = ways.flow[rows]
    given[..., -2], given[..., -1] = np.where(unknown, 0.0, held), unknown * floor
    found = ways.mixed(floor)(given)
    total = found[..., :-2].sum(axis=-1)
    fed = total.real > FED
    share = np.where(fed[..., None], found[..., :-2] / np.where(fed, total, 1.0)[..., None], np.nan)
    return share, np.where(fed & (found[..., -1].real <= 0), found[..., -2], np.nan)


def _returned(
    air: _Air, moved: Array, fans: Integers, working: Array, floor: Array
) -> tuple[Array, Array]:  # fmt: skip
    """(compartments, variants) what has been there before, and (fans, variants) what has passed
    each, or one side by side with it, before, or was blown out and drawn in again.

    With y the share of that where a fan draws, all of what it moves counts as 1 behind it:
    y = (y_0 + g)/(1 + g), y_0 what came round outside, g what its own air would make there.
    """
    ways, loops, every = air.ways, air.loops, np.arange(moved.shape[1])
    flow, source = ways.flow.copy(), ways.source.copy()
    flow[loops.stop :], source[loops] = 0.0, -1
    ways = ways._replace(flow=flow, source=source)
    way = fans[:, None] + len(moved) // 2 * (moved[fans].real <= 0)
    start, end, speed = source[way], ways.target[way], moved[way, every] * working
    beside = (start[:, None] == start) & (end[:, None] == end)
    given = np.zeros((ways.places, len(every), len(fans) + 2), flow.dtype)
    for fan, (to, whole) in enumerate(zip(end, (beside * speed).sum(axis=1), strict=True)):
        given[to[to >= 0], every[to >= 0], fan] = whole[to >= 0]
    given[..., -2] = added(ways.target[loops], flow[loops], ways.places)
    given[..., -1] = added(ways.target, np.where((source < 0)[:, None], flow, 0.0), ways.places)
    solve = ways.mixed(floor)
    found = solve(given)
    fed, own = found[..., -1].real > FED, found[start, every, np.arange(len(fans))[:, None]]
    inside = np.where(fed[start, every], (found[start, every, -2] + own) / (1 + own), np.nan)
    drawn = added(air.drawing, flow[loops], len(moved))[way, every]
    with np.errstate(invalid="ignore", divide="ignore"):
        again = np.where(speed.real > 0, np.where(start < 0, drawn / speed, inside), np.nan)
    return np.where(fed, ways.been_before(solve, floor), np.nan), again


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
