"""One fan curve as it is read: its points, the line through them, its dip; to be looked at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from flownet.enclosure.fans import FanType
from flownet.equations import curve_fits
from flownet.physics.air import STANDARD_DENSITY
from flownet.results.solution import extra
from flownet.results.tables import Field, plain
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.fields import given

SAMPLES = 400


@dataclass(frozen=True, repr=False, eq=False)
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
        if np.isnan(self.peak):
            return None
        height = self.at(self.peak)
        first = (self.flow <= self.lowest[0]) & (self.rise >= height)
        start = float(self.flow[first][-1]) if first.any() else 0.0
        return start, self.peak

    def at(self, flow: float) -> float:
        """Rise of the line [Pa]."""
        return float(np.interp(flow, self.flow, self.rise))

    def __repr__(self) -> str:
        dip = f", dip to {self.lowest[1]:.3g} Pa" if self.dip else ""
        free = q.VOLUME_FLOW.metric.text(self.points[-1][0])
        return f"<FanCurve {self.name}: {len(self.points)} points to {free}{dip}>"

    def to_dict(self) -> dict[str, Any]:
        """As in JSON: points as read, and the line."""
        return {
            "name": self.name, "pressure": "total" if self.total else "static",
            "density_kg_m3": self.density, "speed_rpm": plain(Field("", q.SPEED), self.rotation),
            "supply": self.supply,
            "points": [{"flow_m3_s": flow, "rise_Pa": rise} for flow, rise in self.points],
            "line": [
                {"flow_m3_s": float(flow), "rise_Pa": float(rise)}
                for flow, rise in zip(self.flow, self.rise, strict=True)
            ],
            "dip_m3_s": list(self.dip) if self.dip else None,
        }  # fmt: skip

    def to_frame(self) -> Any:
        """A pandas DataFrame of the line; ImportError without pandas, an extra."""
        return extra("pandas").DataFrame(self.to_dict()["line"])


def fan_curve(row: FanType, name: str | None = None) -> FanCurve:
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
    area = row.flow_area
    return _curve(
        name or row.name, row.curve, row.curve_pressure == "total", area, row.reference_density,
        row.rated_speed, row.supply, row.origin,
    )  # fmt: skip


def curve_of_file(values: dict[str, Any], name: str) -> FanCurve:
    """The curve of a file, by what `casefile.curve_file` reads from it.

    A file knows no flow area: total pressure stays total in the picture.
    """
    return _curve(
        name, values["curve"], values.get("curve_pressure") == "total", np.nan,
        values.get("reference_density", np.nan), values.get("rated_speed", np.nan),
        values.get("supply"), values.get("origin"),
    )  # fmt: skip


def _curve(
    name: str, points: tuple[tuple[float, float], ...], total: bool, area: float, density: float,
    rotation: float, supply: str | None, origin: str | None,
) -> FanCurve:  # fmt: skip
    known = given(density)
    density = density if known else STANDARD_DENSITY
    fitted = points
    if total and given(area):
        fitted = tuple((flow, rise - density * (flow / area) ** 2 / 2) for flow, rise in points)
    flow, rise, peak = _line(fitted)
    return FanCurve(
        name, points, total, not total or given(area), density, known, rotation, supply, origin,
        flow, rise, fitted, peak,
    )  # fmt: skip


def _line(points: tuple[tuple[float, float], ...]) -> tuple[Array, Array, float]:
    """The line through points as the solver draws it, and the last peak of one with a dip."""
    given_flow, given_rise = (
        np.array(column)[None, :, None] for column in zip(*points, strict=True)
    )
    made = curve_fits.curve(given_flow, given_rise, np.array([[len(points)]]))
    last = points[-1][0]
    flow = np.unique(np.concatenate([np.linspace(0.0, last, SAMPLES), given_flow[0, :, 0]]))
    starts, cubic = made.starts[0, :, 0], made.cubic[0, :, :, 0]
    piece = np.sum(flow[:, None] >= starts[None, 1:], axis=1)
    x, c = flow - starts[piece], cubic[piece]
    rise = ((c[:, 0] * x + c[:, 1]) * x + c[:, 2]) * x + c[:, 3]
    return flow, rise, float(made.stall[0, 0])
