"""Seeded random enclosures (invented data): for tests, and for surveys of thousands."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from flownet.columns import NUMBERED, Inputs
from flownet.enclosure.branches import Duct, Filter, Leak, Opening, Slot, Vent
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Exchange, Part, Wall
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.equations.assemble import assemble
from flownet.equations.topology import Structure
from flownet.solver import fixed_temperature

FALLING = ((0.0, 80.0), (0.02, 60.0), (0.035, 38.0), (0.05, 0.0))
DIPPED = ((0.0, 78.0), (0.012, 50.0), (0.018, 47.0), (0.024, 52.0), (0.034, 36.0), (0.047, 0.0))
STRONG = ((0.0, 420.0), (0.03, 350.0), (0.06, 220.0), (0.09, 0.0))
CURVES = {"falling": FALLING, "dipped": DIPPED, "strong": STRONG}
CP = 1006.0


def enclosure(seed: int) -> Enclosure:
    """A random enclosure whose heat fits its isothermal flow; the same for the same seed."""
    rng = np.random.default_rng(seed)
    cold = network(rng)
    return heated(cold, rng)


def network(rng: np.random.Generator) -> Enclosure:
    """2 to 60 compartments without heat; branches join near neighbours."""
    count = int(rng.integers(2, 61))
    buoyant = rng.random() < 0.7
    places = rng.uniform(0, 2, (count, 2))
    outline = lambda i: (places[i, 0], places[i, 1], 0.1, 0.1) if buoyant else None  # noqa: E731
    things: list[Any] = [Compartment(name=f"c{i}", outline=outline(i)) for i in range(count)]
    joins = [*_edges(rng, places), *(("outside", f"c{i}") for i in _rims(rng, count))]
    decades = rng.uniform(0.5, 4)
    things += [_branch(rng, f"b{k}", *ends, decades) for k, ends in enumerate(joins)]
    things += _fans(rng, count)
    if rng.random() < 0.3:
        things += _heat_paths(rng, count)
    temperature = float(rng.uniform(270, 320))
    return Enclosure.of(Outside(temperature=temperature, altitude=float(rng.uniform(0, 4000))),
                        *things, title="random, invented data")  # fmt: skip


def _edges(rng: np.random.Generator, places: Any) -> list[tuple[str, str]]:
    """A tree of near neighbours, and as many again as there are compartments, at most."""
    found = []
    for i in range(1, len(places)):
        distance = np.hypot(*(places[:i] - places[i]).T)
        found.append((f"c{int(np.argmin(distance))}", f"c{i}"))
    for _ in range(int(rng.integers(0, len(places) + 1))):
        i = int(rng.integers(len(places)))
        near = np.argsort(np.hypot(*(places - places[i]).T))[1:6]
        found.append((f"c{i}", f"c{int(rng.choice(near))}"))
    return found


def _rims(rng: np.random.Generator, count: int) -> list[int]:
    return [int(i) for i in rng.integers(0, count, int(rng.integers(2, 4 + count // 8)))]


def _branch(rng: np.random.Generator, name: str, a: str, b: str, decades: float) -> Any:
    """One of the passive kinds; its area over so many decades, its resistance over twice that."""
    if rng.random() < 0.5:
        a, b = b, a
    area = float(10 ** rng.uniform(-1.5 - decades, -1.5))
    kind = rng.choice(
        ["opening", "vent", "filter", "slot", "duct", "leak"], p=[0.4, 0.2, 0.1, 0.1, 0.1, 0.1]
    )
    ends = {"name": name, "from_": a, "to": b}
    if kind == "opening":
        return Opening(**ends, area=area)
    if kind == "vent":
        return Vent(**ends, area=area, open_ratio=float(rng.uniform(0.2, 0.8)))
    if kind == "filter":
        return Filter(**ends, area=area, velocity_drop=((0.5, 12.0), (1.0, 30.0), (2.0, 80.0)))
    if kind == "slot":
        gap = float(10 ** rng.uniform(-2.5, -1.5))
        return Slot(**ends, gap=gap, width=float(rng.uniform(2, 20)) * gap, length=0.2)
    if kind == "duct":
        side = area**0.5
        return Duct(**ends, length=10 * side, diameter=side, roughness=1e-3 * side)
    return Leak(**ends, flow_at=(area * 3, 10.0), exponent=float(rng.uniform(0.5, 1)))


def _fans(rng: np.random.Generator, count: int) -> list[Any]:
    things: list[Any] = [
        FanType(name=name, curve=curve, flow_area=0.0095, power=15.0, origin="invented data")
        for name, curve in CURVES.items()
    ]
    for k in range(int(rng.integers(0, 7))):
        a, b = (int(i) for i in rng.choice(count, 2, replace=False))
        ends = (f"c{a}", "outside" if rng.random() < 0.75 else f"c{b}")
        state = rng.choice(["running", "stopped", "blanked"], p=[0.8, 0.15, 0.05])
        things.append(Fan(
            name=f"f{k}", from_=ends[0], to=ends[1], type=str(rng.choice(list(CURVES), p=[.6, .2, .2])),  # noqa: E501
            state=str(state), mounted="reversed" if rng.random() < 0.15 else "forward",
            speed=float(rng.uniform(0.5, 1.1)),
        ))  # fmt: skip
    return things


def _heat_paths(rng: np.random.Generator, count: int) -> list[Any]:
    things: list[Any] = []
    for k in range(int(rng.integers(1, 4))):
        things.append(Wall(name=f"w{k}", from_=f"c{int(rng.integers(count))}", to="outside",
                           area=float(rng.uniform(0.05, 1)), u_value=5.0))  # fmt: skip
        a, b = (int(i) for i in rng.choice(count, 2, replace=False))
        things.append(Exchange(name=f"x{k}", between=(f"c{a}", f"c{b}"),
                               flow=float(10 ** rng.uniform(-5, -3))))  # fmt: skip
    return things


def heated(cold: Enclosure, rng: np.random.Generator) -> Enclosure:
    """Parts in 60 % of the ventilated compartments, for 0.3 to 20 K on the isothermal flow.

    Ventilated: more than 1e-4 of the largest through-flow. Where no fan runs, the flow is that of
    air 5 K warmer than outside everywhere.
    """
    inputs = Inputs.of(cold)
    structure = Structure.of(cold)
    model = assemble(inputs, structure)
    state = model.at_rest(1)
    if not any(fan.running for fan in cold.fans.values()):
        warm = model.unknown_temperatures(state) + 5.0
        state = model.state(state.mass_flow, state.pressure[: structure.inside], warm)
    size = abs(fixed_temperature.solve(model, state).mass_flow)
    through = (structure.into["start"] @ size + structure.into["end"] @ size)[:, 0] / 2
    parts = []
    for i, flow in enumerate(through):
        if flow > max(1e-4 * through.max(), 1e-8) and rng.random() < 0.6:
            power = CP * flow * float(rng.uniform(0.3, 20))
            parts.append(Part(name=f"p{i}", in_=f"c{i}", power=power))
    items = [item for named in cold.things.values() for item in named.values()]
    return Enclosure.of(*items, *parts, title=cold.title)


def shuffled(case: Enclosure, seed: int) -> Enclosure:
    """The same things in another order."""
    rng = np.random.default_rng(seed)
    things = {kind: list(named.items()) for kind, named in case.things.items()}
    for kind in NUMBERED[1:]:  # the first of the surroundings is the one without a name
        things[kind] = [things[kind][i] for i in rng.permutation(len(things[kind]))]
    return dataclasses.replace(case, things={kind: dict(named) for kind, named in things.items()})


def draught(seed: int) -> Enclosure:
    """A random enclosure whose fans stand: heat alone moves the air."""
    rng = np.random.default_rng(seed)
    cold = network(rng)
    stopped = {f"fan.{name}.state": "stopped" for name in cold.fans}
    return heated(cold.with_changes(stopped) if stopped else cold, rng)


def upright(seed: int) -> Enclosure:
    """The same with heights of its own for every branch, upright ducts, and three times the heat:
    air of a duct's own temperature holds the flow that brought it there."""
    rng, case = np.random.default_rng(seed), draught(seed)
    things = (item for named in case.things.values() for item in named.values())
    return Enclosure.of(*(_raised(item, rng) for item in things), title=case.title)


def _raised(item: Any, rng: np.random.Generator) -> Any:
    if isinstance(item, Duct | Opening) and rng.random() < 0.5:
        low, high = rng.uniform(0, 2, 2)
        side = float(10 ** rng.uniform(-1.5, -0.7))
        return Duct(
            name=f"{item.name}r", from_=item.from_, to=item.to, length=abs(high - low) + side,
            diameter=side, route=((1.25, float(low)), (1.25, float(high))),
        )  # fmt: skip
    if isinstance(item, Opening | Vent):
        return dataclasses.replace(item, at=(1.0, float(rng.uniform(0, 2))))
    if isinstance(item, Part):
        return dataclasses.replace(item, power=3 * item.power)
    return item
