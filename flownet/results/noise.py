"""Which fan is heard: the levels of a solution fan by fan, and what each adds to the sum."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet.physics import sound
from flownet.results.solution import Solution, extra
from flownet.results.tables import Field, html_table, plain
from flownet.schema import argument_checks
from flownet.schema import quantities as q

SLOWER = 0.9  # of its speed
MEASURED = {
    "pressure": "sound pressure at {distance}", "power": "sound power",
    "": "taken as sound pressure at 1 m",
}  # fmt: skip


class FanNoise(NamedTuple):
    """What one running fan adds to the noise; levels in dBA."""

    fan: str  # its path
    level: float  # its own, at the distance of the budget
    share: float  # of the sound energy of all fans
    power: float  # its sound power level
    tone: float  # frequency of its blade-pass tone [Hz]; NaN where it is not known
    without: float  # all fans but this one; minus infinity where there is no other
    slower: float  # all fans, this one at 0.9 times its speed
    given: str  # what its data sheet gives

    def to_dict(self) -> dict[str, Any]:
        """With JSON keys; None where there is no value."""
        made = {field.key: plain(field, getattr(self, field.name)) for field in FIELDS}
        return {"fan": self.fan, **made, "given": self.given}


FIELDS = (
    Field("level", q.LEVEL), Field("share", q.RATIO), Field("power", q.LEVEL),
    Field("tone", q.FREQUENCY), Field("without", q.LEVEL), Field("slower", q.LEVEL),
)  # fmt: skip


@dataclass(frozen=True, repr=False)
class NoiseBudget:
    """The fans that are heard, the loudest first."""

    fans: tuple[FanNoise, ...]
    total: float  # of all of them [dBA]; NaN without one
    distance: float  # where the levels hold [m]
    silent: tuple[str, ...]  # fans that run and whose level is not known

    def to_dict(self) -> dict[str, Any]:
        """With JSON keys."""
        return {
            "total_dBA": plain(Field("total", q.LEVEL), self.total), "distance_m": self.distance,
            "fans": [row.to_dict() for row in self.fans], "silent": list(self.silent),
        }  # fmt: skip

    def to_frame(self) -> Any:
        """One row a fan as a pandas DataFrame; ImportError without pandas, an extra."""
        return extra("pandas").DataFrame([row.to_dict() for row in self.fans])

    def __repr__(self) -> str:
        if not self.fans:
            return "<NoiseBudget: no level of a running fan is known>"
        first = self.fans[0]
        return (
            f"<NoiseBudget {self.total:.1f} dBA at {self.distance:g} m: {first.fan} "
            f"{first.level:.1f} dBA, {100 * first.share:.0f} % of the energy>"
        )

    def _repr_html_(self) -> str:
        rows = [
            (row.fan, *(field.quantity.metric.text(getattr(row, field.name))  # type: ignore[union-attr]
                        if np.isfinite(getattr(row, field.name)) else "" for field in FIELDS))
            for row in self.fans
        ]  # fmt: skip
        return html_table(repr(self), ("fan", *(field.name for field in FIELDS)), rows)


def noise_budget(solution: Solution) -> NoiseBudget:
    """What each running fan adds to the noise, and what it would give to do without it.

    `without` and `slower` change one level and leave the others: what the air then does, and so
    whether the others must turn faster, is a solve of its own.

    Parameters
    ----------
    solution : Solution
        Of any scenario.

    Returns
    -------
    NoiseBudget
        Fans with a known level, the loudest first.
    """
    argument_checks.check("noise_budget", solution, Solution)
    heard = {path: row for path, row in solution.fans.items() if not math.isnan(row.noise)}
    every = np.array([row.noise for row in heard.values()])
    found = []
    for place, (path, row) in enumerate(heard.items()):
        others, slower = every.copy(), every.copy()
        others[place] = sound.SILENCE
        slower[place] += float(sound.speed_change(SLOWER))
        found.append(FanNoise(
            path, row.noise, row.noise_share, row.noise_power, row.blade_pass,
            float(sound.add_levels(others)), float(sound.add_levels(slower)),
            _given(solution, path),
        ))  # fmt: skip
    found.sort(key=lambda each: -each.level)
    running = [path for path, row in solution.fans.items()
               if row.region not in ("stopped", "blanked")]  # fmt: skip
    return NoiseBudget(
        tuple(found), float(solution.totals.noise), float(solution.totals.noise_distance),
        tuple(path for path in running if path not in heard),
    )  # fmt: skip


def _given(solution: Solution, path: str) -> str:
    """What the data sheet of a fan says its level is."""
    rating = solution.case.rating(solution.case.fans[path.removeprefix("fan.")])
    words, noise = MEASURED[""], rating.noise
    if noise is not None and (noise.kind == "power" or not math.isnan(noise.distance)):
        words = MEASURED[noise.kind].format(distance=q.DISTANCE.metric.text(noise.distance))
    return f"{words}, {rating.noise_condition}" if rating.noise_condition else words
