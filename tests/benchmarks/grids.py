"""Large enclosures (invented data): a two-dimensional grid, and random ones of near neighbours."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from flownet.enclosure.branches import Opening
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside

STRONG = FanType(name="t", curve=((0.0, 400.0), (0.5, 300.0), (1.0, 0.0)), flow_area=0.05)


def grid(size: int) -> Enclosure:
    """About `size` compartments in a square, air from below to fans above."""
    side = round(size**0.5)
    things: list[Any] = [Outside(temperature=303.15), STRONG]
    for i in range(side):
        for j in range(side):
            things += _cell(i, j)
        things.append(Opening(name=f"in{i}", from_="outside", to=f"c{i}-0", area=0.01))
    for i in range(0, side, 4):
        things.append(Fan(name=f"f{i}", from_=f"c{i}-{side - 1}", to="outside", type="t"))
    return Enclosure.of(*things, title="grid, invented data")


def _cell(i: int, j: int) -> list[Any]:
    name = f"c{i}-{j}"
    made: list[Any] = [Compartment(name=name, outline=(0.1 * i, 0.1 * j, 0.1, 0.1))]
    if (7 * i + j) % 3 == 0:
        made.append(Part(name=f"p{i}-{j}", in_=name, power=5.0))
    if i:
        made.append(Opening(name=f"x{i}-{j}", from_=f"c{i - 1}-{j}", to=name,
                            area=0.004 + 0.001 * ((i * j) % 5)))  # fmt: skip
    if j:
        made.append(Opening(name=f"y{i}-{j}", from_=f"c{i}-{j - 1}", to=name,
                            area=0.006 + 0.001 * ((i + j) % 5)))  # fmt: skip
    return made


def neighbours(size: int, seed: int = 3) -> Enclosure:
    """`size` compartments at random places, each joined to its nearest, 3 to 4 branches each."""
    rng = np.random.default_rng(seed)
    places = rng.uniform(0, (size**0.5) / 10, (size, 2))
    near = cKDTree(places).query(places, 4)[1][:, 1:]
    pairs = {tuple(sorted((i, int(k)))) for i in range(size) for k in near[i]}
    ends = np.array(sorted(pairs)).T
    clusters = connected_components(coo_matrix((np.ones(ends.shape[1]), ends), (size, size)))[1]
    first = set(np.unique(clusters, return_index=True)[1].tolist())  # none without an opening
    main = np.argmax(np.bincount(clusters))
    things: list[Any] = [Outside(temperature=303.15), STRONG]
    for i, (x, y) in enumerate(places):
        things.append(Compartment(name=f"c{i}", outline=(x, y, 0.1, 0.1)))
        if i % 10 == 0 and clusters[i] == main:
            things.append(Part(name=f"p{i}", in_=f"c{i}", power=5.0))
        if i % 10 == 0 or i in first:
            things.append(Opening(name=f"in{i}", from_="outside", to=f"c{i}", area=0.01))
        if i % 100 == 0:
            things.append(Fan(name=f"f{i}", from_=f"c{i}", to="outside", type="t"))
    for k, (a, b) in enumerate(sorted(pairs)):
        area = float(10 ** rng.uniform(-2.4, -1.8))
        things.append(Opening(name=f"b{k}", from_=f"c{a}", to=f"c{b}", area=area))
    return Enclosure.of(*things, title="near neighbours, invented data")
