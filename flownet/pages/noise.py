"""Which fan is heard: the levels of a solution fan by fan, and what each adds to the sum."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

import numpy as np

from flownet.pages.caption import Caption
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sentence, Sheet, Tabled
from flownet.physics import sound
from flownet.results.solution import Solution
from flownet.results.tables import AT_REST, Field, plain
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.shown import apportioned

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


FIELDS = (
    Field("level", q.LEVEL), Field("share", q.RATIO), Field("power", q.LEVEL),
    Field("tone", q.FREQUENCY), Field("without", q.LEVEL), Field("slower", q.LEVEL),
)  # fmt: skip


@dataclass(frozen=True, repr=False)
class NoiseBudget(Result):
    """The fans that are heard, the loudest first."""

    fans: tuple[FanNoise, ...]
    total: float  # of all of them [dBA]; NaN without one
    distance: float  # where the levels hold [m]
    silent: tuple[str, ...]  # fans that run and whose level is not known

    def __repr__(self) -> str:
        return f"<NoiseBudget{' ' if self.fans else ': '}{self.verdicts()[0]}>"

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """Who is heard most."""
        if not self.fans:
            return ("no level of a running fan is known",)
        first = self.fans[0]
        return (f"{self.total:.1f} dBA at {self.distance:g} m: {first.fan} {first.level:.1f} dBA, "
                f"{100 * first.share:.0f} % of the energy",)  # fmt: skip

    @property
    def sheet(self) -> Sheet:
        """One row a fan, the loudest first."""
        numbers = [Column(f.name, [getattr(row, f.name) for row in self.fans], f.quantity)
                   for f in FIELDS]  # fmt: skip
        fan = Column("fan", [row.fan for row in self.fans])
        given = Column("given", [row.given for row in self.fans])
        facts = {"total_dBA": plain(Field("total", q.LEVEL), self.total),
                 "distance_m": self.distance, "fans": (), "silent": list(self.silent)}  # fmt: skip
        tables = partial(_levels, self, "page"), Listing("fans", (fan, *numbers, given), "data")
        return Sheet("", Caption(title="Noise"), self.verdicts, tables, facts=facts)


def _levels(found: NoiseBudget, use: str, units: str) -> Listing:
    """Levels, shares, and what it would give to do without a fan; nothing where none is known."""
    fans, distance = found.fans, q.DISTANCE.shown(units).text(found.distance)
    percents = apportioned(100, [100 * row.share for row in fans])
    return Listing("noise", (
        Column(f"Noise at {distance}", [row.fan for row in fans]),
        Column("level", [row.level for row in fans], q.LEVEL, "low"),
        Column("share", [f"{percent} %" for percent in percents], right=True),
        Column("blade pass", [row.tone for row in fans], q.FREQUENCY),
        Column("without", ["silent" if math.isinf(row.without) else row.without for row in fans],
               q.LEVEL),
        Column("10 % slower", [row.slower for row in fans], q.LEVEL),
        Column("", [""] * len(fans)),
    ) if fans else (), use)  # fmt: skip


def fan_set(solution: Solution) -> tuple[Tabled, ...]:
    """Fans taken together, for the long page: who is heard, and when the first one fails."""
    hours, count = solution.totals.first_failure, len(_running(solution))

    def first(units: str) -> str:
        shown = q.HOURS.shown(units).text(hours)
        return f"  of {count} fans the first fails within {shown} with one chance in ten"

    told = (
        Sentence("Life", first, "heading"),
        Sentence("      ", "(hours of running; Weibull slope "
                 f"{solution.case.limits.weibull_slope:.3g})"),
    ) if count > 1 and not math.isnan(hours) else ()  # fmt: skip
    levels = partial(_levels, noise_budget(solution), "all")
    return levels, Listing("life", (), "all", told)


def _running(solution: Solution) -> list[str]:
    return [path for path, row in solution.fans.items() if row.region not in AT_REST]


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
    silent = tuple(path for path in _running(solution) if path not in heard)
    totals = solution.totals
    return NoiseBudget(tuple(found), float(totals.noise), float(totals.noise_distance), silent)


def _given(solution: Solution, path: str) -> str:
    """What the data sheet of a fan says its level is."""
    rating = solution.case.rating(solution.case.fans[path.removeprefix("fan.")])
    words, noise = MEASURED[""], rating.noise
    if noise is not None and (noise.kind == "power" or not math.isnan(noise.distance)):
        words = MEASURED[noise.kind].format(distance=q.DISTANCE.metric.text(noise.distance))
    return f"{words}, {rating.noise_condition}" if rating.noise_condition else words
