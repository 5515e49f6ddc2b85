"""What samples say of a probability, of a spread, and of each limit; with the error of sampling."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from flownet.judging.assessment import THERMAL
from flownet.pages.page import MISSING, spaced
from flownet.pages.sheet import Column, Listing
from flownet.results.limits import AT_LEAST, Limit
from flownet.results.tables import Field, plain
from flownet.schema.arrays import Array
from flownet.schema.quantities import Quantity
from flownet.studies.samples import Samples
from flownet.studies.verdicts import bound

CONFIDENCE = 0.95
PERCENTILES = (5.0, 50.0, 95.0)
ENDS = tuple(f"P{percentile:g}" for percentile in PERCENTILES)
RARE, LIKELY = 0.5, 0.95  # chances below which a limit is marked
VALUES = {
    "part": ".temperature", "air": ".temperature", "touch": ".outside_temperature", "flow": "",
    "noise": "", "life": ".life", "dew": "",
}  # fmt: skip


class Chance(NamedTuple):
    """How often something held among samples, and between what its probability lies."""

    held: int
    samples: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The estimate: how often it held."""
        return self.held / self.samples

    @classmethod
    def of(cls, held: int, samples: int) -> Chance:
        """With the interval that holds the probability in at least 95 of 100 studies.

        The exact interval of the binomial distribution: C. J. Clopper, E. S. Pearson, The use of
        confidence or fiducial limits illustrated in the case of the binomial, Biometrika 26 (1934)
        404-413 (cited from memory), as quantiles of the beta distribution.
        """
        from scipy.special import betaincinv  # noqa: PLC0415 - heavy

        tail, missed = (1 - CONFIDENCE) / 2, samples - held
        low = float(betaincinv(held, missed + 1, tail)) if held else 0.0
        high = float(betaincinv(held + 1, missed, 1 - tail)) if missed else 1.0
        return cls(held, samples, low, high)

    @property
    def interval(self) -> str:
        """`91 to 95 %`, rounded outwards."""
        return f"{_outward(self.low, math.floor)} to {_outward(self.high, math.ceil)} %"

    def words(self) -> str:
        """`93 % (91 to 95 %)`."""
        return f"{percent(self.share)} % ({self.interval})"

    def to_dict(self) -> dict[str, float]:
        """As in JSON."""
        return {"share": self.share, "low": self.low, "high": self.high, "held": self.held,
                "samples": self.samples}  # fmt: skip


def _outward(share: float, rounded: Callable[[float], int]) -> str:
    """An end of an interval in percent, with one digit near 0 and 100."""
    if 0.01 < share < 0.99:
        return f"{rounded(100 * share)}"
    return f"{rounded(1000 * share) / 10:g}"


def percent(share: float) -> str:
    """Percent in few digits; 0 and 100 only where it is exactly that."""
    if 0 < share < 0.01 or 0.99 < share < 1:
        for digits in range(1, 8):
            text = f"{100 * share:.{digits}f}"
            if float(text) not in (0.0, 100.0):
                return text
    return f"{100 * share:.0f}"


class Band(NamedTuple):
    """One result over the samples that were solved and give it a value; SI."""

    path: str
    quantity: Quantity
    low: float  # 5 of 100 lie below
    middle: float
    high: float  # 5 of 100 lie above
    samples: int

    @property
    def ends(self) -> tuple[float, float, float]:
        """At the percentiles."""
        return self.low, self.middle, self.high

    @classmethod
    def of(cls, path: str, quantity: Quantity, values: Array) -> Band:
        """Percentiles by linear interpolation between the ordered values; NaN without any."""
        known = values[~np.isnan(values)]
        low, middle, high = map(float, _percentiles(known) if known.size else np.full(3, np.nan))
        return cls(path, quantity, low, middle, high, int(known.size))

    def to_dict(self, name: str) -> dict[str, Any]:
        """Its percentiles, named so in JSON: `value_p5_degC`."""
        return {self.quantity.key(f"{name}_p{percentile:g}"): plain(Field("", self.quantity), value)
                for percentile, value in zip(PERCENTILES, self.ends, strict=True)}  # fmt: skip


def _percentiles(known: Array) -> Array:
    """Of these; an infinite value (the level of what is silent) is not interpolated with."""
    if np.isfinite(known).all():
        found: Array = np.percentile(known, PERCENTILES)
        return found
    ordered = np.sort(known)
    nearest: Array = ordered[np.rint(np.array(PERCENTILES) / 100 * (len(known) - 1)).astype(int)]
    return nearest


class LimitChance(NamedTuple):
    """One limit over the samples."""

    limit: str  # part, air, flow, noise, life
    subject: str
    bound: float  # median, where it is off itself
    value: Band
    margin: Band  # in K, dB or h; positive: it holds
    chance: Chance | None  # None: no sample gives it a value

    @property
    def quantity(self) -> Quantity:
        """Of the value and the bound."""
        return self.value.quantity

    def stays(self, units: str) -> str:
        """`part.controller stays within 60 degC`."""
        way = "above" if self.limit in AT_LEAST else "within"
        name = f"the life of {self.subject}" if self.limit == "life" else self.subject
        return f"{name} stays {way} {bound(self, units)}"

    def to_dict(self) -> dict[str, Any]:
        """JSON; units in the keys of the bands."""
        quantity = self.value.quantity
        return {
            "limit": self.limit, "subject": self.subject,
            quantity.key("bound"): plain(Field("", quantity), self.bound),
            **self.value.to_dict("value"), **self.margin.to_dict("margin"),
            "holds": self.chance.to_dict() if self.chance else None,
        }  # fmt: skip


def limit_chances(
    found: Samples, lost: Mapping[tuple[str, str], float] | None = None
) -> tuple[LimitChance, ...]:  # fmt: skip
    """Every limit, the least likely to hold first; of equals the one with the least margin.
    `lost`: by limit and subject, what is taken from the margin of every sample."""
    less = [item._replace(margin=item.margin - (lost or {}).get((item.limit, item.subject), 0.0))
            for item in found.limits if not np.isnan(item.bound).all()]  # fmt: skip
    rows = [_limit(item, found.sound) for item in less]
    return tuple(sorted(rows, key=lambda row: (
        row.chance.share if row.chance else 2.0, row.limit not in THERMAL,
        round(float(np.nan_to_num(row.margin.low)), 6))))  # fmt: skip


def _limit(item: Limit, sound: Array) -> LimitChance:
    name = ".outlet_temperature" if item.subject.startswith("slot.") else VALUES[item.limit]
    path = item.subject + name
    value = Band.of(path, item.quantity, item.value)
    margin = Band.of(path, item.margin_quantity, item.margin)
    held = int((item.holds & sound).sum())  # NaN, of what was not solved, holds nothing
    chance = Chance.of(held, len(item.margin)) if margin.samples else None
    return LimitChance(item.limit, item.subject, float(np.nanmedian(item.bound)), value, margin,
                       chance)  # fmt: skip


def all_hold(found: Samples) -> Chance | None:
    """How often every limit that ever has a value holds."""
    known = [i for i in found.limits if not np.isnan(i.margin).all()]
    if not known:
        return None
    held = np.logical_and.reduce([found.sound, *(i.holds for i in known)])
    return Chance.of(int(held.sum()), len(held))


# --- tables ---------------------------------------------------------------------------------------


def limits_table(limits: Sequence[LimitChance]) -> Listing:
    shares = [item.chance.share if item.chance else RARE for item in limits]
    styles = ["bad" if share < RARE else "doubtful" if share < LIKELY else "" for share in shares]
    ends = ((name, [partial(_bare, item.quantity, item.value.ends[place]) for item in limits])
            for place, name in enumerate(ENDS))  # fmt: skip
    return Listing("limits_held", (
        Column("Limit", [item.subject for item in limits], styles=styles),
        *(Column(name, texts, right=True) for name, texts in ends),
        Column("limit", [item.bound for item in limits], [item.quantity for item in limits],
               form="bound"),
        Column("holds", [f"{percent(item.chance.share)} %" if item.chance else "no value"
                         for item in limits], styles=styles, right=True),
        Column("95 % sure", [item.chance.interval if item.chance else MISSING for item in limits],
               right=True),
    ))  # fmt: skip


def _bare(quantity: Quantity, value: float, units: str) -> str:
    """Without its unit, which stands beside the limit."""
    if np.isnan(value):
        return MISSING
    text = quantity.shown(units).number(value)
    return spaced(int(text)) if text.isdigit() else text


def bands_table(bands: Sequence[Band], use: str) -> Listing:
    ends = zip(ENDS, zip(*(band.ends for band in bands), strict=True), strict=True)
    return Listing("bands", (
        Column("Result", [band.path for band in bands]),
        *(Column(name, values, [band.quantity for band in bands]) for name, values in ends),
    ), use)  # fmt: skip


def bands_data(bands: Sequence[Band]) -> Listing:
    """One row a result in the unit of its JSON key."""
    ends = zip(ENDS, zip(*(band.ends for band in bands), strict=True), strict=True)
    return Listing("results", (
        Column("result", [band.path for band in bands]),
        Column("unit", [band.quantity.json.unit or None for band in bands]),
        *(Column(name.lower(), values, [band.quantity for band in bands]) for name, values in ends),
        Column("samples", [band.samples for band in bands]),
    ), "data")  # fmt: skip
