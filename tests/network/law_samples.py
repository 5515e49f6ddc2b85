"""Laws of all kinds with rows of unlike size, for every test that speaks of all laws."""

from __future__ import annotations

from typing import Any

import numpy as np

from flownet.equations import curve_fits, laws
from flownet.equations.tall_hole import TallHole
from flownet.physics import air as properties
from flownet.physics.air import Air

CURVES = (  # m3/s, Pa: a dip; two points; many points; rising first; a steep dip, no free end
    [(0.0, 78.0), (0.0167, 52.0), (0.03, 55.0), (0.04, 31.0), (0.0472, 0.0)],
    [(0.0, 78.0), (0.0472, 0.0)],
    [
        (0.0, 90.0),
        (0.01, 89.0),
        (0.02, 70.0),
        (0.021, 70.0),
        (0.03, 60.0),
        (0.05, 1.0),
        (0.06, 0.0),
    ],
    [(0.0, 60.0), (0.01, 66.0), (0.03, 0.0)],
    [(0.0, 60.0), (0.02, 59.0), (0.024, 70.0), (0.03, 12.0)],
)


def column(*values: float) -> np.ndarray:
    """(elements, 1)"""
    return np.array(values)[:, None]


def air(cold: float = 293.15, warm: float = 313.15, width: int = 1) -> Air:
    """Air of the site pressure at two ends; that which flows is in between."""
    density = [properties.density(np.full((1, width), t), 101325.0) for t in (303.15, cold, warm)]
    return Air(density[0], properties.viscosity(np.full((1, width), 303.15)), *density[1:])


def fan(
    tables: Any = CURVES, speed: Any = 1.0, flow_factor: Any = 1.0, pressure: Any = 1.0,
    sign: Any = 1.0, running: Any = True, area: Any = 0.0095, **losses: float,
) -> laws.FanRise:  # fmt: skip
    """Fans of curves at 1.2 kg/m3, padded to one length."""
    points = curve_fits.FITS["fan_type", "curve"](tables)
    made = curve_fits.curve(
        points["flow"][..., None], points["rise"][..., None], points["count"][:, None]
    )
    full = np.ones((len(tables), 1))
    turning = full * running > 0
    return laws.FanRise(
        sign=full * sign, running=turning,
        flow_scale=np.where(turning, full * speed * flow_factor, 1.0),
        pressure_scale=np.where(turning, full * speed * speed * pressure / 1.2, 0.0),
        area=full * area, backflow_loss=full * losses.get("backflow", 10.0),
        windmill_loss=full * losses.get("windmill", 10.0), **made._asdict(),
    )  # fmt: skip


MASK = np.array([[True, False], [False, True], [True, True]])
MADE: dict[str, Any] = {  # how some are made, and of what
    "Square": (laws.Square.of, {
        "loss": column(2.69, 0.5, 300.0), "area": np.array([[1e-4, 1e-4], [0.01, 0.02], [1, 1]]),
        "turning": 1.0, "count": 1.0,
    }),
    "Square, channels": (laws.Square.of, {
        "loss": column(1.5, 2.0), "area": column(1e-3, 1e-2), "turning": 3.0,
        "count": column(1.0, 12.0),
    }),
    "Square of nothing": (laws.Square.of, {"loss": column(0.0, 1.0), "area": column(0.01, 0.01)}),
    "Split": (laws.Split.of, {
        "linear": column(30.0, 0.0, 12.0), "quadratic": column(6.0, 21.0, 0.0),
        "area": column(0.045, 1e-3, 0.2), "count": 1.0,
    }),
    "TallHole": (TallHole.of, {
        "loss": column(2.69, 300.0), "area": np.array([[0.4, 0.02], [1e-3, 1e-3]]),
        "height": column(1.0, 0.05),
    }),
    "FlapLaw": (laws.FlapLaw.of, {
        "open_loss": column(0.5, 10.6, 0.0, 1e-3), "closed_loss": column(26874.0, 10.6, 0.0, 2.69),
        "area": column(0.0095, 0.01, 0.01, 0.01),
        "sign": np.array([[1.0, -1.0], [1.0, 1.0], [1.0, 1.0], [1.0, 1.0]]),
    }),
}  # fmt: skip
LAWS: dict[str, Any] = {  # rows of unlike size; the middle one varies from variant to variant
    **{name: of(**given) for name, (of, given) in MADE.items()},
    "Viscous": laws.Viscous(column(1e4, 0.0, 300.0), column(0.01, 0.01, 1e-4)),
    "WireScreen": laws.WireScreen(
        column(0.3, 0.6), column(1e-3, 1e-4), np.array([[0.01, 0.03], [0.1, 0.1]])
    ),
    "SlotFriction": laws.SlotFriction(
        column(0.16, 0.3, 10.0), column(0.0281, 0.0039, 0.02), column(0.0033, 4e-4, 4e-4),
        column(0.068, 0.02, 1.0), np.array([[1.0, 6.0], [20.0, 20.0], [1.0, 1.0]]),
    ),
    "DuctFriction": laws.DuctFriction(
        column(1.6, 30.0, 0.1), column(0.08, 0.2, 0.01), column(0.005, 0.0314, 7.8e-5),
        np.array([[0.0, 2e-3], [7e-4, 7e-4], [0.05, 0.05]]), column(64.0, 64.0, 57.0),
    ),
    "PowerLaw": laws.PowerLaw(
        column(5.6e-4, 1e-3, 1e-2), column(10.0, 4.0, 50.0), column(0.65, 0.5, 1.0)
    ),
    "FanRise": fan(speed=np.array([[1.0, 0.5]]), flow_factor=1.1, pressure=0.9),
    "FanRise, mounted backwards": fan(sign=-1.0),
    "FanRise, some stopped": fan(running=column(1, 0, 1, 0, 1)),
    "Only": laws.Only(laws.Square.of(column(2.0, 3.0, 4.0), column(0.01, 0.02, 0.03)), MASK),
}  # fmt: skip
