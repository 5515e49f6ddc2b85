"""Random networks with branch laws of their own, for tests of the solver. All data are invented."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flownet.equations.topology import Network
from flownet.schema.arrays import Array, Integers


class Laws(NamedTuple):
    """drop = linear m + square m sqrt(m^2 + small^2) - a fan's rise, each (branches, variants)."""

    linear: Array
    square: Array
    shut_off: Array  # fan: rise at no flow, 0 for no fan
    bend: Array  # fan: of the falling curve
    dip: Array  # fan: depth of the dip, of the rise at no flow
    scale: Array  # fan: its last flow
    small: Array  # kg/s: below, a square law is linear

    def __call__(self, flow: Array) -> tuple[Array, Array]:
        size = np.sqrt(flow * flow + self.small**2)
        drop = self.linear * flow + self.square * flow * size
        slope = self.linear + self.square * (size + flow * flow / size)
        x = flow / self.scale
        spread = np.sqrt(x * x + 1e-6)
        curve = 1 - (1 - self.bend) * x - self.bend * x * spread
        fall = 1 - self.bend + self.bend * (spread + x * x / spread)
        hollow = self.dip * np.exp(-(((x - 0.35) / 0.12) ** 2))
        drop = drop - self.shut_off * (curve - hollow)
        steeper = fall - hollow * 2 * (x - 0.35) / 0.12**2
        return drop, slope + self.shut_off * steeper / self.scale

    def select(self, chosen: Integers) -> Laws:
        return Laws(*(part[:, chosen] for part in self))


class Example(NamedTuple):
    network: Network
    laws: Laws
    push: Array
    fixed: Array
    injection: Array
    open: np.ndarray

    @property
    def given(self) -> dict[str, Array]:
        return {
            "push": self.push,
            "fixed": self.fixed,
            "injection": self.injection,
            "open": self.open,
        }


def graph(rng: np.random.Generator, nodes: int) -> Network:
    """Neighbours joined to a tree, some near ones besides, and a few ways to the fixed nodes."""
    tree = [(k, int(rng.integers(max(0, k - 4), k))) for k in range(1, nodes)]
    more = rng.integers(0, nodes, (int(rng.integers(0, nodes + 1)), 1))
    near = np.clip(more + rng.integers(-6, 7, more.shape), 0, nodes - 1)
    loops = [(a, b) for a, b in np.hstack([more, near]).tolist() if a != b]
    count = int(rng.integers(2, 3 + nodes // 4))
    out = [(int(rng.integers(nodes)), nodes + int(rng.integers(2))) for _ in range(count)]
    pairs = np.array(tree + loops + out)
    turned = rng.random(len(pairs)) < 0.5
    pairs[turned] = pairs[turned][:, ::-1]
    return Network(pairs[:, 0].copy(), pairs[:, 1].copy(), nodes)


def laws(
    rng: np.random.Generator, branches: int, variants: int, decades: float, dips: bool = False
) -> Laws:
    """Square and linear resistances over some decades, and fans from 1 to 1000 Pa."""
    shape = (branches, variants)
    kind = rng.random((branches, 1))
    resistance = 10 ** rng.uniform(5 - decades / 2, 5 + decades / 2, shape)
    fan = kind < 0.12
    shut_off = np.where(fan, 10 ** rng.uniform(0, 3, shape), 0.0)
    scale = np.where(fan, 10 ** rng.uniform(-3, 0, shape), 1.0)
    depth = rng.uniform(0.2, 0.6, shape) * (rng.random((branches, 1)) < 0.7)
    return Laws(
        linear=np.where(~fan & (kind > 0.8), resistance / 100, 0.0),
        square=np.where(~fan & (kind <= 0.85), resistance, 0.0),
        shut_off=shut_off,
        bend=np.where(fan, rng.uniform(0, 0.95, shape), 0.0),
        dip=np.where(fan & dips, depth, 0.0),
        scale=scale,
        small=np.full(shape, 1e-6),
    )


def example(
    rng: np.random.Generator,
    nodes: int,
    variants: int = 1,
    decades: float = 9.0,
    closed: float = 0.0,
    dips: bool = False,
) -> Example:
    """One topology and its variants, pushed by fans, buoyancy, given pressures or injections."""
    network = graph(rng, nodes)
    branches = len(network.start)
    shape = (branches, variants)
    given = rng.random(3) < (0.8, 0.3, 0.3)
    pressure = 10 ** rng.uniform(-2, 3, (network.fixed, variants))
    inflow = rng.normal(size=(nodes, variants)) * 10 ** rng.uniform(-4, -1, (nodes, variants))
    is_open = rng.random(shape) >= closed
    return Example(
        network=network,
        laws=laws(rng, branches, variants, decades, dips),
        push=given[0] * rng.normal(size=shape) * 10 ** rng.uniform(-2, 1, shape),
        fixed=given[1] * pressure,
        injection=given[2] * inflow * (rng.random((nodes, 1)) < 0.2) * (closed == 0),
        open=is_open,
    )


def spread(rng: np.random.Generator, nodes: int, variants: int) -> Example:
    """Some resistances up to 1e24 times larger, so that flows lie many decades apart."""
    made = example(rng, nodes, variants, decades=8.0)
    some = rng.random((len(made.push), 1)) < 0.3
    laws = made.laws
    laws = laws._replace(
        square=laws.square * 10 ** (some * rng.uniform(0, 24, made.push.shape)),
        linear=laws.linear * 10 ** (some * rng.uniform(0, 12, made.push.shape)),
        small=np.full(made.push.shape, 1e-16),
    )
    return made._replace(laws=laws, injection=np.zeros(made.injection.shape))
