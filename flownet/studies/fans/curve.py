"""One fan curve as it is read: its points, the line through them, its dip; to be looked at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np

from flownet.enclosure.fans import FanType
from flownet.equations import curve_fits
from flownet.physics.air import STANDARD_DENSITY
from flownet.schema.arrays import Array
from flownet.schema.fields import given

DIP_SAMPLES = 400
FILED = {  # what a file of a curve need not state; it knows no flow area
    "curve_pressure": "static", "reference_density": np.nan, "rated_speed": np.nan,
    "flow_area": np.nan, "supply": None, "origin": None,
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class FanCurve:
    """A curve at its own speed and density; SI, flows the way the fan blows."""

    name: str  # of the type, or of the file
    points: tuple[tuple[float, float], ...]  # as read: flow, rise
    total: bool  # what is read is total pressure
    static: bool  # what is drawn is static; False for total pressure without a known flow area
    density: float
    density_given: bool
    rotation: float  # [1/s]; NaN where not known
    supply: str | None
    origin: str | None
    flow: Array  # of the line [m3/s]
    rise: Array  # of the line [Pa]
    fitted: tuple[tuple[float, float], ...]  # points of the line: static wherever that is known
    peak: float  # flow of the last peak of a curve with a dip, else NaN

    @property
    def lowest(self) -> tuple[float, float]:
        """The bottom of the dip; NaN without one."""
        before = self.flow <= self.peak
        if not before.any():
            return np.nan, np.nan
        where = int(np.argmin(self.rise[before]))
        return float(self.flow[where]), float(self.rise[where])

    @property
    def dip(self) -> tuple[float, float] | None:
        """Flows between which one pressure belongs to several; None without a dip."""
        before = self.flow <= self.peak
        return dip(self.flow[before], self.rise[before]) if before.any() else None

    def at(self, flow: float) -> float:
        """Rise of the line [Pa]."""
        return float(np.interp(flow, self.flow, self.rise))


def dip(flow: Array, rise: Array) -> tuple[float, float]:
    """From where a curve, given up to its last peak, is as high as that peak, to the peak."""
    before = np.flatnonzero(rise[: int(np.argmin(rise)) + 1] >= rise[-1])
    return (float(flow[before[-1]]) if len(before) else 0.0), float(flow[-1])


def fan_curve(row: FanType | SimpleNamespace, name: str | None = None) -> FanCurve:
    """The curve of a fan type, as the solver takes it.

    The line goes through every point and is monotone between two points (slopes of Fritsch and
    Butland 1984, see `fits.curve`): no dip appears that the points do not have. A total curve is
    made static by `- rho (Q/A)^2/2` with the flow area.

    Parameters
    ----------
    row : FanType
        Of a case or a catalogue; a rating is a type of its own.
    name : str, optional
        Default the name of the type.
    """
    total, known = row.curve_pressure == "total", given(row.reference_density)
    density = row.reference_density if known else STANDARD_DENSITY
    fitted = row.curve
    if total and given(row.flow_area):
        fitted = tuple((flow, rise - density * (flow / row.flow_area) ** 2 / 2)
                       for flow, rise in row.curve)  # fmt: skip
    flow, rise, peak = _line(fitted)
    return FanCurve(
        name or row.name, row.curve, total, not total or given(row.flow_area), density, known,
        row.rated_speed, row.supply, row.origin, flow, rise, fitted, peak,
    )  # fmt: skip


def curve_of_file(values: Mapping[str, Any], name: str) -> FanCurve:
    """The curve of a file, by what `casefile.curve_file` reads from it: total pressure stays."""
    return fan_curve(SimpleNamespace(**FILED | dict(values)), name)


def _line(points: tuple[tuple[float, float], ...]) -> tuple[Array, Array, float]:
    """The line through points as the solver draws it, and the last peak of one with a dip."""
    given_flow, given_rise = (
        np.array(column)[None, :, None] for column in zip(*points, strict=True)
    )
    made = curve_fits.curve(given_flow, given_rise, np.array([[len(points)]]))
    last = points[-1][0]
    flow = np.unique(np.concatenate([np.linspace(0.0, last, DIP_SAMPLES), given_flow[0, :, 0]]))
    starts, cubic = made.starts[0, :, 0], made.cubic[0, :, :, 0]
    piece = np.sum(flow[:, None] >= starts[None, 1:], axis=1)
    x, c = flow - starts[piece], cubic[piece]
    rise = ((c[:, 0] * x + c[:, 1]) * x + c[:, 2]) * x + c[:, 3]
    return flow, rise, float(made.stall[0, 0])
