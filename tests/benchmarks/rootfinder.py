"""The same equations given to `scipy.optimize.root`, one variant at a time."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.optimize import root

from flownet.equations.residual import residual
from flownet.equations.state import Model
from flownet.solver import fixed_temperature
from flownet.solver.jacobian import linearised


class Equations:
    """Pressure, mass and heat balance of one variant as F(x) = 0, x in units of its own size."""

    def __init__(self, model: Model) -> None:
        s = model.structure
        self.model, self.branches, self.nodes = model, len(s.branches), s.inside
        b, n = self.branches, self.nodes
        self.size = np.r_[np.full(b, 0.01), np.full(n, 10.0), np.full(n, 10.0)]
        self.weight = np.r_[np.full(b, 10.0), np.full(n, 0.01), np.full(n, 100.0)]

    def state(self, x: Any) -> Any:
        m, p, t = np.split(x * self.size, [self.branches, self.branches + self.nodes])
        return self.model.state(m[:, None], p[:, None], t[:, None] + 300.0)

    def __call__(self, x: Any) -> Any:
        left = residual(self.model, self.state(x))
        return np.concatenate([left.pressure, left.mass, left.energy])[:, 0] / self.weight

    def jacobian(self, x: Any) -> Any:
        """Analytic: slopes of the laws and of what each branch carries."""
        s, (b, n) = self.model.structure, (self.branches, self.nodes)
        _, slopes = linearised(self.model, self.state(x))
        full = np.zeros((b + 2 * n, b + 2 * n))
        full[:b, :b] = np.diag(slopes.gap[0][:, 0])
        full[:b, b : b + n] = s.network.fall.toarray()
        full[b : b + n, :b] = s.network.outflow.toarray()
        ends = s.into["start"].toarray(), s.into["end"].toarray()
        heat = full[b + n :]
        for which, end in enumerate(ends):
            full[:b, b + n :] += slopes.gap[1 + which] * end.T
            energies = slopes.to_start, slopes.to_end
            for into, energy in zip(ends, energies, strict=True):
                heat[:, b + n :] += into @ (energy[1 + which] * end.T)
        for into, energy in zip(ends, (slopes.to_start, slopes.to_end), strict=True):
            heat[:, :b] += into * energy[0][:, 0]
        for name, pair in (("wall", slopes.wall), ("exchange", slopes.exchange)):
            sides = s.into[f"{name}_start"].toarray(), s.into[f"{name}_end"].toarray()
            for which, slope in enumerate(pair):
                passed = slope * sides[which].T
                heat[:, b + n :] += (sides[1] - sides[0]) @ passed
        return full * self.size / self.weight[:, None]


def solve(model: Model) -> tuple[bool, Any]:
    """`hybr` from the isothermal flow, air 5 K warm; whether it ended at a solution, and x."""
    made, rest = Equations(model), model.at_rest(1)
    found = fixed_temperature.solve(model, rest)
    warm = float(model.outside_temperature[0, 0]) + 5.0 - 300.0
    start = np.r_[found.mass_flow[:, 0], found.pressure[: made.nodes, 0],
                  np.full(made.nodes, warm)] / made.size  # fmt: skip
    answer = root(made, start, jac=made.jacobian, method="hybr", tol=1e-12)
    return bool(np.max(abs(made(answer.x))) < 1e-7), made.state(answer.x)
