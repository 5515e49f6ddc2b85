"""The reference cabinet: 5 x 10 compartments, about 105 branches, 5 fans (invented data)."""

from __future__ import annotations

from typing import Any

import numpy as np

from flownet.enclosure.branches import Filter, Opening, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part, Wall
from flownet.enclosure.surroundings import Compartment, Outside

CURVE = ((0.0, 78.0), (0.0167, 52.0), (0.0306, 44.0), (0.0472, 0.0))
MAT = ((0.5, 18.0), (1.0, 42.0), (2.0, 108.0))


def cabinet(columns: int = 5, rows: int = 10, fans: int = 5, seed: int = 0) -> Enclosure:
    """Columns side by side, air from filters below to fans above, heat and buoyancy everywhere."""
    rng = np.random.default_rng(seed)

    def area() -> float:
        return float(10 ** rng.uniform(-2.5, -1.7))

    things: list[Any] = [Outside(temperature=313.15, altitude=900.0)]
    for i in range(columns):
        for j in range(rows):
            things.append(Compartment(name=_name(i, j), outline=(0.2 * i, 0.18 * j, 0.2, 0.18)))
            if i + 1 < columns:
                things.append(Opening(name=f"x{i}-{j}", from_=_name(i, j), to=_name(i + 1, j),
                                      area=area()))  # fmt: skip
            if j + 1 < rows:
                ratio = float(rng.uniform(0.3, 0.7))
                things.append(Vent(name=f"y{i}-{j}", from_=_name(i, j), to=_name(i, j + 1),
                                   area=2 * area(), open_ratio=ratio))  # fmt: skip
            things.append(Part(name=f"p{i}-{j}", in_=_name(i, j), limit=358.15, resistance=0.3,
                               power=float(rng.uniform(2, 40))))  # fmt: skip
        things += _edge(i, columns, rows)
    things.append(FanType(name="a", curve=CURVE, flow_area=0.0095, power=19.0))
    for k in range(fans):
        things.append(Fan(name=f"f{k}", from_=_name(k % columns, rows - 1), to="outside", type="a",
                          guard={"loss": 0.6}))  # fmt: skip
    return Enclosure.of(*things, title="reference cabinet, invented data")


def _name(i: int, j: int) -> str:
    return f"c{i}-{j}"


def _edge(i: int, columns: int, rows: int) -> list[Any]:
    """What joins a column to the outside, and walls."""
    return [
        Filter(name=f"in{i}", from_="outside", to=_name(i, 0), area=0.03, velocity_drop=MAT),
        Opening(name=f"gap{i}", from_=_name(i, rows // 2), to="outside", area=5e-4),
        Wall(name=f"w{i}", from_=_name(i, rows - 1), to="outside", area=0.3, u_value=5.5),
        Wall(name=f"iw{i}", from_=_name(i, rows // 4), area=0.05, u_value=3.0,
             to=_name((i + 1) % columns, rows // 2)),
    ]  # fmt: skip


def variations(count: int, seed: int = 1) -> dict[str, Any]:
    """Speeds, fouling, outside air, every part's power: one value a variant."""
    rng = np.random.default_rng(seed)
    changes: dict[str, Any] = {f"fan.f{k}.speed": rng.uniform(0.6, 1.1, count) for k in range(5)}
    changes |= {f"filter.in{k}.fouling": rng.uniform(1, 3, count) for k in range(5)}
    changes["outside.temperature"] = rng.uniform(290, 320, count)
    changes["outside.altitude"] = rng.uniform(0, 3000, count)
    for i in range(5):
        for j in range(10):
            changes[f"part.p{i}-{j}.power"] = rng.uniform(2, 40, count)
    return changes
