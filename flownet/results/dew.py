"""Where water would settle: the dew point around, and everything that may be colder.

No water comes or goes inside, so that all air has the vapour of the dampest surroundings.
"""

from __future__ import annotations

import numpy as np

from flownet.columns import Inputs
from flownet.physics import air
from flownet.results.batch import single
from flownet.results.solution import Solution
from flownet.results.tables import Table
from flownet.schema.arrays import Array, highest

BLANKED = 1  # place of the word among the states of a duct


def dew_point(inputs: Inputs, width: int) -> Array:
    """(variants,) of the dampest surroundings [K]; NaN where none states its own."""
    o = inputs.columns["outside"]
    share = np.where(np.isnan(o["relative_humidity"]), 1.0, o["relative_humidity"])
    found = np.where(np.isnan(o["relative_humidity"]), o["dew_point"],
                     air.dew_point(o["temperature"], share))  # fmt: skip
    return highest(np.broadcast_to(found, (len(found), width)))


def margin(dew: Array, inputs: Inputs, *tables: Table) -> Array:
    """(variants,) by how much the coldest of `cold_places` is above the dew point [K]; NaN where
    that is not known."""
    places = cold_places(inputs, *tables).values()
    return -highest(-np.array([np.broadcast_to(each, len(dew)) for each in places])) - dew


def cold_places(
    inputs: Inputs, compartments: Table, layers: Table, walls: Table
) -> dict[str, Array]:
    """Temperatures that dew is judged by, by path; (variants,) each [K], NaN where it is not there.

    Air of compartments (its coldest layer), walls of ducts, inner faces of walls with computed
    films; of a wall with a given U, whose face is not known, what lies beyond it, on the safe side.
    """
    found = {f"compartment.{name}": warm for name, warm in zip(
        compartments.names, compartments.columns["temperature"], strict=True)}  # fmt: skip
    for name, layer in zip(layers.names, layers.columns.get("temperature", ()), strict=True):
        path = f"compartment.{name.rpartition('.')[0]}"
        found[path] = np.where(layer.real < found[path].real, layer, found[path])
    beyond = {path.removeprefix("compartment."): warm for path, warm in found.items()}
    outside = zip(inputs.names("outside"), inputs.columns["outside"]["temperature"], strict=True)
    beyond |= {f"outside.{name}".rstrip("."): warm for name, warm in outside}
    for row, name in enumerate(inputs.names("duct")):
        shut, own = (inputs.columns["duct"][key][row] for key in ("state", "wall_temperature"))
        found[f"duct.{name}"] = np.where(shut.real == BLANKED, np.nan, own)
    for row, name in enumerate(inputs.names("wall")):
        face = walls.columns["inside_temperature"][walls.places[name]]
        u_value, far = inputs.columns["wall"]["u_value"][row], inputs.enclosure.walls[name].to
        found[f"wall.{name}"] = np.where(np.isnan(u_value), face, beyond[far])
    return found


def coldest_first(solution: Solution) -> dict[str, float]:
    """The places of one solution that are there [K]."""
    one = single(solution)
    found = cold_places(one.inputs_, one.compartments, one.layers, one.walls)
    known = {path: float(warm.real[0]) for path, warm in found.items() if warm[0] == warm[0]}
    return dict(sorted(known.items(), key=lambda item: item[1]))
